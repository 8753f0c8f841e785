"""Drawings: rooms as they were understood, patches of sun by the hour, a day's timeline."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from matplotlib import colormaps, rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, PathPatch, Polygon, Rectangle
from matplotlib.path import Path as Outline
from matplotlib.patheffects import withStroke

from ..errors import InputError
from ..location.geometry import block_corners, hole_corners
from ..location.lengths import FOOT_M, format_length
from ..location.model import Opening, Room, Setup, wall_index, wall_letter
from ..location.read import Location
from ..room.beam import FLOOR
from ..room.entry import Day
from ..room.frame import aim
from ..room.hourly import Look
from ..room.stretch import Stretch
from ..sun.calendar import day_span, to_local
from .words import clock
from .writing import replace

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK, SOFT, WALL, GLASS, CAMERA, LAMP = (
    "#1f1d1a", "#6d675e", "#4a463f", "#2f7f8f", "#8a3b62", "#a8641a",
)  # fmt: skip
FLOOR_FILL, MARK_FILL, BLOCK = "#f6f2ea", "#d8cfe6", "#dedbd4"
DASHES = ("-", (0, (4, 1.5)), (0, (1, 1)), (0, (6, 1, 1, 1)))  # of patches, by opening
DARK, DUSKY = "#c9ccd6", "#e3e4ea"
WALL_M = 0.1  # how thick a wall is drawn
LEAST_NAMED_M2 = 0.01  # a smaller patch carries no time
FORMATS = (".png", ".svg")
HOURS = colormaps["cividis"]
HALO = [withStroke(linewidth=2.0, foreground="white", alpha=0.8)]


class Labels:
    """Texts set beside their anchors so that none lies on another, where any place is free."""

    def __init__(self, axes: Axes) -> None:
        self._axes = axes
        self._wanted: list[tuple[str, tuple[float, float], float, float, dict[str, Any]]] = []
        self._taken: list[Any] = []

    def add(
        self,
        text: str,
        at: tuple[float, float],
        *,
        away: float = 6.0,
        toward_deg: float = 0.0,
        **style: Any,
    ) -> None:
        """A text `away` points from its anchor (data units), if it can be in this direction."""
        self._wanted.append((text, at, away, toward_deg, style))

    def keep_clear(self, artist: Any) -> None:
        """No text on this artist."""
        self._taken.append(artist)

    def place(self) -> None:
        """Set all texts; limits and layout must be final."""
        canvas = FigureCanvasAgg(self._axes.get_figure(root=True))
        renderer = canvas.get_renderer()  # type: ignore[no-untyped-call]
        frame = self._axes.get_window_extent(renderer)
        taken = [one.get_window_extent(renderer) for one in self._taken]
        for text, at, away, toward_deg, style in self._wanted:
            best: tuple[float, Any, Any] | None = None
            for reach in (1.0, 2.2, 3.6):
                for turn in (0, 180, 90, 270, 45, 135, 225, 315):
                    angle = math.radians(turn + toward_deg)
                    dx, dy = math.cos(angle), math.sin(angle)
                    made = self._axes.annotate(
                        text,
                        at,
                        xytext=(dx * away * reach, dy * away * reach),
                        textcoords="offset points",
                        ha="left" if dx > 0.3 else "right" if dx < -0.3 else "center",
                        va="bottom" if dy > 0.3 else "top" if dy < -0.3 else "center",
                        path_effects=HALO,
                        **style,
                    )
                    box = made.get_window_extent(renderer)
                    hidden = sum(_shared(box, other) for other in taken)
                    hidden += box.width * box.height - _shared(box, frame)
                    if best is None or hidden < best[0] - 1.0:
                        if best is not None:
                            best[1].remove()
                        best = (hidden, made, box)
                    else:
                        made.remove()
                if best is not None and best[0] < 1.0:
                    break
            assert best is not None
            taken.append(best[2])


def _shared(one: Any, other: Any) -> float:
    """Area that two boxes share, in pixels."""
    width = min(one.x1, other.x1) - max(one.x0, other.x0)
    height = min(one.y1, other.y1) - max(one.y0, other.y0)
    return float(max(width, 0.0) * max(height, 0.0))


def save(figure: Figure, path: Path, texts: Iterable[Labels] = ()) -> None:
    """Set the texts and write a drawing to a PNG or SVG, all or nothing."""
    if path.suffix.lower() not in FORMATS:
        raise InputError(f"{path}: a drawing's name must end in {' or '.join(FORMATS)}")
    figure.draw_without_rendering()
    figure.set_layout_engine("none")
    for labels in texts:
        labels.place()
    # Dates and random names stay out of the file: the same input gives the same drawing.
    meta = {"Date": None} if path.suffix.lower() == ".svg" else {}
    with replace(path) as beside, rc_context({"svg.hashsalt": "sunplan"}):
        figure.savefig(beside, format=path.suffix[1:].lower(), dpi=150, metadata=meta)


class Scale:
    """Metres to the units of a location file."""

    def __init__(self, location: Location) -> None:
        self.units = location.site.units
        self._unit_m = FOOT_M if self.units == "ft" else 1.0

    def __call__(self, metres: Any) -> Any:
        return np.asarray(metres) / self._unit_m


def draw_rooms(location: Location, path: Path) -> None:
    """All rooms as they were understood, one beside the other."""
    rooms = location.room
    panels = len(rooms) + bool(location.outside)
    columns = min(panels, 3) if panels != 4 else 2
    rows = math.ceil(panels / columns)
    figure = Figure(figsize=(5.2 * columns, 5.2 * rows), layout="constrained")
    figure.suptitle(location.site.name, color=INK)
    texts = [
        draw_plan(figure.add_subplot(rows, columns, index + 1), location, room)
        for index, room in enumerate(rooms)
    ]
    if location.outside:
        texts.append(draw_site(figure.add_subplot(rows, columns, panels), location))
    save(figure, path, texts)


def draw_plan(
    axes: Axes, location: Location, room: Room, *, seen: Sequence[Look] = (), setups: bool = True
) -> Labels:
    """One room's plan: walls by letter, openings, marks, practicals, cameras; patches below.

    Returns the texts that are still to be set.
    """
    scale = Scale(location)
    outline = np.array(room.outline)
    axes.set_aspect("equal")
    axes.add_patch(Polygon(scale(outline), facecolor=FLOOR_FILL, edgecolor="none"))
    solid = shapely.Polygon(outline).buffer(WALL_M, join_style="mitre")
    walls = solid.difference(shapely.Polygon(outline))
    axes.add_patch(_filled(walls, scale, facecolor=WALL, edgecolor="none"))
    labels = Labels(axes)
    _draw_patches(axes, scale, room, seen, FLOOR, labels, location.timezone)
    for index in range(len(outline)):
        labels.keep_clear(_letter(axes, scale, room, index))
    for opening in room.opening:
        _draw_opening(axes, scale, room, opening, labels)
    for mark in room.mark:
        circle = Circle(
            scale(mark.at), scale(mark.width / 2), facecolor=MARK_FILL, edgecolor=INK, lw=0.8
        )
        labels.keep_clear(axes.add_patch(circle))
        at = (mark.at[0], mark.at[1] - mark.width / 2)
        labels.add(mark.name, tuple(scale(at)), toward_deg=270.0, color=INK, fontsize=8)
    for practical in room.practical:
        (dot,) = axes.plot(*scale(practical.at), marker="s", ms=5, color=LAMP, ls="")
        labels.keep_clear(dot)
        labels.add(practical.name, tuple(scale(practical.at)), color=LAMP, fontsize=8)
    for setup in location.setup if setups else ():
        if setup.room == room.name:
            _draw_setup(axes, scale, room, setup, labels)
    _draw_blocks(axes, scale, location, None)
    span = scale(np.ptp(outline, axis=0))
    margin = 0.28 * float(span.max())
    low, high = scale(outline.min(axis=0)) - margin, scale(outline.max(axis=0)) + margin
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    axes.set_xlabel(f"{scale.units}, plan")
    axes.set_ylabel(scale.units)
    axes.tick_params(labelsize=7, color=SOFT)
    axes.set_title(room.name, fontsize=11, color=INK)
    for side in axes.spines.values():
        side.set_color("#d8d4cc")
    labels.keep_clear(_north(axes, location.site.plan_up, high - 0.55 * margin, 0.28 * margin))
    return labels


def _draw_blocks(axes: Axes, scale: Scale, location: Location, labels: Labels | None) -> None:
    """Outside blocks, with their names and heights where there are labels."""
    for block in location.outside:
        corners = np.array(block_corners(block))
        axes.add_patch(Polygon(scale(corners), facecolor=BLOCK, edgecolor=SOFT, lw=0.8, zorder=0.5))
        if labels is not None:
            low, high = (
                format_length(one, scale.units) for one in (block.base, block.base + block.size[2])
            )
            middle = scale(corners.mean(axis=0))
            labels.add(
                f"{block.name}\n{low} to {high} high",
                tuple(middle),
                away=0.5,
                color=SOFT,
                fontsize=7,
            )


def draw_site(axes: Axes, location: Location) -> Labels:
    """All rooms and blocks on one plan."""
    scale = Scale(location)
    axes.set_aspect("equal")
    labels = Labels(axes)
    _draw_blocks(axes, scale, location, labels)
    rings = [np.array(room.outline) for room in location.room]
    for room, ring in zip(location.room, rings, strict=True):
        axes.add_patch(Polygon(scale(ring), facecolor=(0, 0, 0, 0.04), edgecolor=WALL, lw=1.2))
        labels.add(room.name, tuple(scale(ring.mean(axis=0))), away=0.5, color=INK, fontsize=8)
    rings += [np.array(block_corners(block)) for block in location.outside]
    spots = np.concatenate(rings)
    margin = 0.15 * float(scale(np.ptp(spots, axis=0)).max())
    low, high = scale(spots.min(axis=0)) - margin, scale(spots.max(axis=0)) + margin
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    axes.set_title("site", fontsize=11, color=INK)
    axes.set_xlabel(f"{scale.units}, plan")
    axes.set_ylabel(scale.units)
    axes.tick_params(labelsize=7, color=SOFT)
    for side in axes.spines.values():
        side.set_color("#d8d4cc")
    labels.keep_clear(_north(axes, location.site.plan_up, high - 0.5 * margin, 0.3 * margin))
    return labels


def _filled(shape: shapely.geometry.base.BaseGeometry, scale: Scale, **style: Any) -> PathPatch:
    """A polygon with its holes as one artist."""
    rings = [
        ring
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon"
        for ring in (part.exterior, *part.interiors)
    ]
    path = Outline.make_compound_path(
        *(Outline(scale(np.array(ring.coords)[:, :2]), closed=True) for ring in rings)
    )
    return PathPatch(path, **style)


def _letter(axes: Axes, scale: Scale, room: Room, index: int) -> Any:
    """A wall's letter, inside the room, where no opening is."""
    first, second = (np.array(corner) for corner in room.wall(index))
    length = math.dist(first, second)
    way = (second - first) / length
    letter = wall_letter(index)
    spots = [np.array(one.at) - first for one in room.practical]
    busy = [
        (float(spot @ way) - 0.15, float(spot @ way) + 0.15)
        for spot in spots
        if abs(spot[0] * way[1] - spot[1] * way[0]) < 0.3
    ]
    busy += [
        (one.along or 0.0, (one.along or 0.0) + one.size[0])
        for one in room.opening
        if one.wall is not None and one.wall.strip().upper() == letter
    ]
    places = length * np.linspace(0.08, 0.92, 22)
    free = [min((max(a - at, at - b) for a, b in busy), default=length) for at in places]
    # The middle of the wall where it is free, else the freest place.
    at = places[int(np.argmax(np.minimum(free, 0.25) - abs(places / length - 0.5) * 0.1))]
    inward = np.array([-way[1], way[0]])
    spot = scale(first + at * way + 0.14 * inward)
    return axes.text(
        spot[0], spot[1], letter, ha="center", va="center", fontsize=8, weight="bold", color=SOFT
    )


def _draw_opening(axes: Axes, scale: Scale, room: Room, opening: Opening, labels: Labels) -> None:
    if opening.ceiling:
        corners = np.array(hole_corners(opening))
        hole = Polygon(scale(corners), facecolor="none", edgecolor=GLASS, lw=1.4, ls=(0, (4, 2)))
        axes.add_patch(hole)
        labels.add(opening.name, tuple(scale(corners.mean(axis=0))), color=GLASS, fontsize=8)
        return
    assert opening.wall is not None
    assert opening.along is not None
    first, way = (np.array(one) for one in room.wall_way(opening.wall))
    out = np.array([way[1], -way[0]])
    a, b = first + opening.along * way, first + (opening.along + opening.size[0]) * way
    gap = np.array([a, b, b + WALL_M * out, a + WALL_M * out])
    axes.add_patch(Polygon(scale(gap), facecolor="white", edgecolor="none"))
    # The glass stands at the end of the reveal.
    depth = max(opening.depth, WALL_M)
    for end in (a, b):
        axes.plot(*scale(np.array([end, end + depth * out])).T, color=WALL, lw=1.0)
    (glass,) = axes.plot(*scale(np.array([a, b]) + opening.depth * out).T, color=GLASS, lw=2.6)
    labels.keep_clear(glass)
    middle = (a + b) / 2 + (depth + 0.02) * out
    turn = math.degrees(math.atan2(out[1], out[0]))
    labels.add(opening.name, tuple(scale(middle)), toward_deg=turn, color=GLASS, fontsize=8)


def _draw_setup(axes: Axes, scale: Scale, room: Room, setup: Setup, labels: Labels) -> None:
    camera = setup.camera
    at, target = np.array(camera.at), np.array(aim(room, setup)[:2])
    turn = math.degrees(math.atan2(*(target - at)[::-1]))
    half = camera.view_deg[0] / 2
    reach = math.dist(at, target)
    turns = np.radians(np.linspace(turn - half, turn + half, 24))
    rim = at + reach * np.stack((np.cos(turns), np.sin(turns)), axis=-1)
    cone = shapely.Polygon([at, *rim]).intersection(shapely.Polygon(room.outline))
    field = _filled(cone, scale, facecolor=(*to_rgb(CAMERA), 0.08), edgecolor=CAMERA, lw=0.5)
    axes.add_patch(field)
    (dot,) = axes.plot(*scale(at), marker=(3, 0, turn - 90), ms=9, color=CAMERA, ls="")
    labels.keep_clear(dot)
    labels.add(f"camera: {setup.name}", tuple(scale(at)), color=CAMERA, fontsize=8)
    if setup.key is not None:
        (dot,) = axes.plot(*scale(setup.key.at), marker="h", ms=7, color=LAMP, ls="")
        labels.keep_clear(dot)
        labels.add(f"key: {setup.key.lamp}", tuple(scale(setup.key.at)), color=LAMP, fontsize=8)


def _north(axes: Axes, plan_up_deg: float, at: Any, size: float) -> Any:
    """An arrow to true north."""
    way = np.array([-math.sin(math.radians(plan_up_deg)), math.cos(math.radians(plan_up_deg))])
    axes.annotate(
        "", at + way * size, at - way * size, arrowprops={"arrowstyle": "-|>", "color": INK}
    )
    x, y = at + way * size * 1.5
    return axes.text(x, y, "N", ha="center", va="center", fontsize=8, color=INK)


def _colour(index: int, count: int) -> Any:
    return HOURS(0.08 + 0.84 * (index / (count - 1) if count > 1 else 0.5))


def _dash(room: Room, opening: str) -> Any:
    """The line of patches that one opening makes."""
    return DASHES[[one.name for one in room.opening].index(opening) % len(DASHES)]


def _draw_patches(
    axes: Axes,
    scale: Scale,
    room: Room,
    seen: Sequence[Look],
    surface: str,
    labels: Labels,
    timezone: str,
) -> None:
    for index, look in enumerate(seen):
        colour = _colour(index, len(seen))
        for patch in look.patches:
            if patch.surface == surface:
                drawn = _filled(
                    patch.shape, scale, facecolor=(*colour[:3], 0.35), edgecolor=colour,
                    ls=_dash(room, patch.opening), lw=1.2,
                )  # fmt: skip
                axes.add_patch(drawn)
                if patch.area_m2 < LEAST_NAMED_M2:
                    continue
                middle = patch.shape.representative_point()
                labels.add(
                    clock(look.moment_s, timezone),
                    (float(scale(middle.x)), float(scale(middle.y))),
                    away=1.0,
                    color=INK,
                    fontsize=7,
                    bbox={"facecolor": "white", "alpha": 0.7, "edgecolor": "none", "pad": 0.8},
                )


def draw_patches(
    location: Location, room: Room, day: Day, seen: Sequence[Look], path: Path
) -> None:
    """A room's plan with the floor's patches by the hour, beside it every wall that gets some."""
    scale = Scale(location)
    letters = [wall_letter(index) for index in range(len(room.outline))]
    lit = {patch.surface for look in seen for patch in look.patches}
    walls = [letter for letter in letters if letter in lit]
    rows = max(1, len(walls) if len(walls) < 3 else math.ceil(len(walls) / 2))
    across = math.ceil(len(walls) / rows)
    figure = Figure(figsize=(6.5 + 4.0 * across, 6.2), layout="constrained")
    lies = "where the sun lies" if seen else "no direct sun"
    figure.suptitle(f"{location.site.name}, {day.date.isoformat()}: {lies}", color=INK)
    grid = figure.add_gridspec(rows, 1 + across, width_ratios=[1.5, *[1.0] * across])
    plan = figure.add_subplot(grid[:, 0])
    texts = [draw_plan(plan, location, room, seen=seen, setups=False)]
    for index, letter in enumerate(walls):
        axes = figure.add_subplot(grid[index % rows, 1 + index // rows])
        texts.append(_draw_wall(axes, scale, room, letter, seen, location.timezone))
    through = {patch.opening for look in seen for patch in look.patches}
    if len(through) > 1:
        lines = [
            Line2D([], [], color=INK, ls=_dash(room, one.name), label=f"through {one.name}")
            for one in room.opening
            if one.name in through
        ]
        figure.legend(handles=lines, loc="outside lower center", ncols=3, fontsize=8, frameon=False)
    save(figure, path, texts)


def _draw_wall(
    axes: Axes, scale: Scale, room: Room, letter: str, seen: Sequence[Look], timezone: str
) -> Labels:
    """A wall as one sees it from inside: its first corner is on the right."""
    index = wall_index(letter, len(room.outline))
    assert index is not None
    length = math.dist(*room.wall(index))
    axes.set_aspect("equal")
    axes.add_patch(
        Rectangle((0, 0), scale(length), scale(room.height), facecolor=FLOOR_FILL, edgecolor=WALL)
    )
    labels = Labels(axes)
    for opening in room.opening:
        if opening.wall is not None and opening.wall.strip().upper() == letter:
            corner = (scale(opening.along), scale(opening.sill))
            axes.add_patch(
                Rectangle(corner, *scale(opening.size), facecolor="white", edgecolor=GLASS, lw=1.6)
            )
            labels.add(
                opening.name,
                (float(corner[0] + scale(opening.size[0] / 2)), float(corner[1])),
                color=GLASS,
                fontsize=7,
            )
    _draw_patches(axes, scale, room, seen, letter, labels, timezone)
    axes.set_xlim(scale(length + 0.1), scale(-0.1))
    axes.set_ylim(scale(-0.05), scale(room.height + 0.05))
    axes.set_title(f"wall {letter}, seen from inside", fontsize=9, color=INK)
    axes.tick_params(labelsize=7, color=SOFT)
    axes.set_xlabel(f"{scale.units} from its first corner", fontsize=7)
    axes.set_ylabel(f"{scale.units} above the floor", fontsize=7)
    for side in axes.spines.values():
        side.set_visible(False)
    return labels


def draw_day(location: Location, day: Day, path: Path) -> None:
    """Timeline of a day: sun through each opening, on each mark, daylight and twilight."""
    zone = location.timezone
    rows: list[tuple[str, Sequence[Stretch], str]] = []
    for room in location.room:
        for one in day.openings:
            if one.room == room.name:
                rows.append((f"{room.name}: {one.opening}", one.stretches, "#c98a1b"))
        for mark in room.mark:
            hits = [s for t in day.marks if (t.room, t.mark) == (room.name, mark.name)
                    for s in t.stretches]  # fmt: skip
            rows.append((f"{room.name}, mark: {mark.name}", hits, "#8a3b62"))
    figure = Figure(figsize=(11, 1.6 + 0.34 * len(rows)), layout="constrained")
    axes = figure.add_subplot()
    start, end = _hours_shown(day, zone)
    _shade(axes, day, start, end)
    for index, (_, stretches, colour) in enumerate(rows):
        for span in stretches:
            low, high = span.start_range_s[0], span.end_range_s[1]
            axes.barh(index, high - low, left=low, height=0.62, color=colour, alpha=0.3)
            width = span.end_s - span.start_s
            axes.barh(index, width, left=span.start_s, height=0.62, color=colour)
    ticks = _whole_hours(start, end, zone)
    axes.set_xticks(ticks, [clock(at, zone) for at in ticks], fontsize=8)
    axes.set_yticks(range(len(rows)), [name for name, _, _ in rows], fontsize=8)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(start, end)
    axes.set_xlabel(f"clock of {zone}", fontsize=8)
    axes.grid(axis="x", color="#ffffff", lw=0.8)
    axes.set_axisbelow(True)
    axes.set_title(
        f"{location.site.name}, {day.date:%A} {day.date.isoformat()}: direct sun through each "
        "opening (ochre) and on each mark (plum)\npale ends: what the plan's bearing leaves open; "
        "grey: sun down, darker from 6° and from 12° below the horizon",
        fontsize=9,
        color=INK,
    )
    save(figure, path)


def _whole_hours(start: float, end: float, zone: str) -> list[float]:
    first = to_local(start, zone).replace(minute=0, second=0)
    hours = (first + timedelta(hours=ahead) for ahead in range(30))
    return [at for at in map(datetime.timestamp, hours) if start <= at <= end]


def _hours_shown(day: Day, zone: str) -> tuple[float, float]:
    """From dawn to dark with half an hour to spare, the whole date in a polar summer or winter."""
    start, end = day_span(day.date, zone)
    at = day.sun
    low = at.nautical_dawn or at.civil_dawn or at.rise
    high = at.nautical_dusk or at.civil_dusk or at.set
    return (start if low is None else low - 1800.0, end if high is None else high + 1800.0)


def _shade(axes: Axes, day: Day, start: float, end: float) -> None:
    at = day.sun
    bands: Iterable[tuple[float | None, float | None, str]] = (
        (at.rise, at.set, "#f1eee7"),
        (at.civil_dawn, at.civil_dusk, "#e1e0e4"),
        (at.nautical_dawn, at.nautical_dusk, "#c6c8d4"),
        (start, end, "#aeb2c4"),
    )
    if at.always == "up":
        bands = ((start, end, "#f1eee7"),)
    for depth, (low, high, colour) in enumerate(bands):
        if low is not None or high is not None:
            low, high = start if low is None else low, end if high is None else high
            axes.axvspan(low, high, color=colour, lw=0, zorder=-10 - depth)
