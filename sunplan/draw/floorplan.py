"""A room from above: walls by letter, openings, marks, practicals, cameras, lamps."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.patches import Circle, PathPatch, Polygon
from matplotlib.path import Path as Outline
from numpy.typing import ArrayLike

from ..location.geometry import hole_corners
from ..location.lengths import FOOT_M
from ..location.model import Opening, Room, Setup, wall_index, wall_letter
from ..location.read import Location
from ..room.camera import aim, field, view
from ..sun.position import Floats
from .ink import CAMERA, FLOOR, GLASS, INK, LAMP, MARK, PAPER, SMALL, SOFT, TEXT, WALL
from .lettering import GROUND, Labels
from .panels import POINT_IN, extent_pt, wrapped
from .ruling import evenly

WALL_M = 0.1  # how thick a wall is drawn
BESIDE_IN, ABOVE_IN = 0.62, 0.36  # free round a plan, for names
NAME_IN = 1.05  # a longer name takes a second line
NORTH_PT = 32.0
CAMERA_SIGN = ((0.0, 0.0), (-1.0, 0.34), (-0.8, 0.0), (-1.0, -0.34))  # along its way, across
CAMERA_PT = 13.0  # long


class Scale:
    """Metres to the units of a location file."""

    def __init__(self, location: Location) -> None:
        self.units = location.site.units
        self._unit_m = FOOT_M if self.units == "ft" else 1.0

    def __call__(self, metres: Any) -> Any:
        return np.asarray(metres) / self._unit_m


def bounds(room: Room) -> Floats:
    """Lowest and highest x and y of a room with its windows' reveals, metres, (2, 2)."""
    spots = [np.array(room.outline)]
    for one in room.opening:
        if one.wall is not None:
            a, b, out = _ends(room, one)
            depth = max(one.depth, WALL_M)
            spots.append(np.array([a + depth * out, b + depth * out]))
    every = np.concatenate(spots)
    return np.array([every.min(axis=0) - WALL_M, every.max(axis=0) + WALL_M])


def wall_number(room: Room, letter: str) -> int:
    """The place of a wall in its room's outline."""
    index = wall_index(letter, len(room.outline))
    assert index is not None
    return index


def height_in(span: Floats, width: float, most: float) -> float:
    """How high a panel of this width must be for a plan between two corners (2, 2)."""
    wide, high = (span[1] - span[0]).tolist()
    needed = (width - 2 * BESIDE_IN) / wide * high + 2 * ABOVE_IN
    return float(min(max(needed, 1.8), most))


def fit(axes: Axes, scale: Scale, span: Floats) -> None:
    """Limits that show all between two corners (2, 2), metres, as long as it is broad."""
    box = np.array([axes.bbox.width, axes.bbox.height]) * POINT_IN
    free = box - 2 * np.array([BESIDE_IN, ABOVE_IN])
    per_in = float(((span[1] - span[0]) / free).max())
    middle, half = span.mean(axis=0), per_in * box / 2
    low, high = scale(middle - half), scale(middle + half)
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    evenly(axes, f"x, {scale.units}", f"y, {scale.units}")


def filled(
    shape: shapely.geometry.base.BaseGeometry, scale: Callable[[Any], Any], **style: Any
) -> PathPatch:
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


def draw(
    axes: Axes, location: Location, room: Room, *, span: Floats | None = None
) -> tuple[Scale, Labels]:
    """Walls, openings, marks and practicals; limits are those of `span` (2, 2), else the room's.

    What else is drawn, and the texts' setting, is left to who called.
    """
    scale = Scale(location)
    fit(axes, scale, bounds(room) if span is None else span)
    labels = Labels(axes)
    outline = np.array(room.outline)
    axes.add_patch(Polygon(scale(outline), facecolor=FLOOR, edgecolor="none", zorder=0.6))
    inside = shapely.Polygon(outline)
    outer = inside.buffer(WALL_M, join_style="mitre")
    walls = outer.difference(inside)
    axes.add_patch(filled(walls, scale, facecolor=WALL, edgecolor="none", zorder=0.7))
    for ring in (inside.exterior, outer.exterior):
        labels.avoid(scale(np.array(ring.coords)[:, :2]), cost=4.0)
    for index in range(len(outline)):
        _letter(axes, scale, room, index, labels)
    for opening in room.opening:
        _opening(axes, scale, room, opening, labels)
    for mark in room.mark:
        _mark(axes, scale, mark.name, mark.at, mark.width / 2, labels)
    for practical in room.practical:
        axes.plot(*scale(practical.at), marker="s", ms=5, color=LAMP, ls="", zorder=3.0)
        labels.avoid_spot(scale(practical.at), 4.0)
        _name(labels, practical.name, scale(practical.at), LAMP, away=6.0)
    north(axes, location.site.plan_up, labels)
    return scale, labels


def _name(
    labels: Labels,
    text: str,
    at: ArrayLike,
    colour: str,
    *,
    away: float = 5.0,
    toward: float = 0.0,
    most_in: float = NAME_IN,
    thing: ArrayLike | None = None,
) -> None:
    kind, colon, name = text.rpartition(": ")
    if colon and extent_pt(text)[0] * POINT_IN > most_in:
        text = f"{kind}:\n{name}"
    labels.add(wrapped(text, most_in), at, away=away, toward_deg=toward, colour=colour, thing=thing)


def _mark(
    axes: Axes, scale: Scale, name: str, at: tuple[float, float], radius: float, labels: Labels
) -> None:
    axes.add_patch(
        Circle(scale(at), scale(radius), facecolor=MARK, edgecolor=INK, lw=0.8, zorder=1.5)
    )
    angles = np.linspace(0.0, 2 * math.pi, 24)
    ring = scale(np.array(at) + radius * np.stack((np.cos(angles), np.sin(angles)), axis=-1))
    labels.avoid(ring, cost=6.0)
    labels.avoid_spot(scale(at), 5.0)
    foot = (at[0], at[1] - radius)
    _name(labels, name, scale(foot), INK, toward=270.0, thing=ring)


def _ends(room: Room, opening: Opening) -> tuple[Floats, Floats, Floats]:
    """Both ends of a window in its wall's inner face, and the way out, (2,) each."""
    assert opening.wall is not None
    assert opening.along is not None
    first, way = (np.array(one) for one in room.wall_way(opening.wall))
    a, b = first + opening.along * way, first + (opening.along + opening.size[0]) * way
    return a, b, np.array([way[1], -way[0]])


def _opening(axes: Axes, scale: Scale, room: Room, opening: Opening, labels: Labels) -> None:
    if opening.ceiling:
        corners = scale(np.array(hole_corners(opening)))
        axes.add_patch(
            Polygon(corners, facecolor="none", edgecolor=GLASS, lw=1.4, ls=(0, (4, 2)), zorder=1.6)
        )
        labels.avoid(corners, closed=True, cost=5.0)
        rim = np.concatenate((corners, corners[:1]))
        _name(labels, opening.name, corners.mean(axis=0), GLASS, away=0.0, thing=rim)
        return
    a, b, out = _ends(room, opening)
    gap = np.array([a, b, b + WALL_M * out, a + WALL_M * out])
    axes.add_patch(Polygon(scale(gap), facecolor=PAPER, edgecolor="none", zorder=0.8))
    # The glass stands at the end of the reveal.
    depth = max(opening.depth, WALL_M)
    for end in (a, b):
        axes.plot(*scale(np.array([end, end + depth * out])).T, color=WALL, lw=1.0)
    glass = scale(np.array([a, b]) + opening.depth * out)
    axes.plot(*glass.T, color=GLASS, lw=2.6, solid_capstyle="butt")
    labels.avoid(glass, cost=12.0)
    middle = (a + b) / 2 + (depth + 0.02) * out
    turn = math.degrees(math.atan2(out[1], out[0]))
    beside = BESIDE_IN - 0.1 if abs(out[0]) > abs(out[1]) else NAME_IN
    _name(labels, opening.name, scale(middle), GLASS, toward=turn, most_in=beside, thing=glass)


def _letter(axes: Axes, scale: Scale, room: Room, index: int, labels: Labels) -> None:
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
    low, high = axes.get_xlim()
    off = 7.5 * (high - low) / axes.bbox.width  # points
    spot = scale(first + at * way) + off * inward
    axes.text(
        float(spot[0]),
        float(spot[1]),
        letter,
        ha="center",
        va="center",
        weight="bold",
        color=SOFT,
        fontsize=TEXT,
        zorder=3.0,
        bbox=GROUND,
    )
    labels.avoid_text(letter, spot, TEXT)


def draw_setup(axes: Axes, scale: Scale, room: Room, setup: Setup, labels: Labels) -> None:
    """A setup's camera with what it sees as far as the walls, and its key lamp."""
    at, target = np.array(setup.camera.at), np.array(aim(room, setup)[:2])
    turn = math.degrees(math.atan2(*(target - at)[::-1]))
    way = (target - at) / math.dist(target, at)
    seen = field(view(room, setup), room)
    style = {"facecolor": (*to_rgb(CAMERA), 0.08), "edgecolor": CAMERA, "lw": 0.5}
    axes.add_patch(filled(shapely.Polygon(seen), scale, zorder=1.2, **style))
    labels.avoid(scale(seen), closed=True, cost=1.0)
    axes.plot(
        *scale(at),
        marker=_pointing(way),
        ms=2 * CAMERA_PT,
        mew=0.0,
        color=CAMERA,
        ls="",
        zorder=3.0,
    )
    body = axes.transData.transform(scale(at)) - CAMERA_PT / 2 * way
    labels.avoid_spot(axes.transData.inverted().transform(body), 6.0)
    _name(labels, f"camera: {setup.name}", scale(at), CAMERA, away=14.0, toward=turn + 180.0)
    if setup.key is not None:
        lamp = scale(setup.key.at)
        axes.plot(*lamp, marker="h", ms=7, color=LAMP, ls="", zorder=3.0)
        labels.avoid_spot(lamp, 5.0)
        _name(labels, f"key: {setup.key.lamp}", lamp, LAMP, away=7.0)


def _pointing(way: Floats) -> Outline:
    """A camera's sign: its point stands where the lens is, and shows where it looks."""
    across = np.array([-way[1], way[0]])
    corners = [one * way + side * across for one, side in CAMERA_SIGN]
    return Outline([*corners, corners[0]], closed=True)


def north(axes: Axes, plan_up_deg: float, labels: Labels) -> None:
    """An arrow to true north in the panel's upper right corner."""
    angle = math.radians(plan_up_deg)
    way = np.array([-math.sin(angle), math.cos(angle)])
    box = axes.bbox
    middle = np.array([box.x1, box.y1]) - 0.5 * NORTH_PT - 3.0
    back = axes.transData.inverted()
    tail, tip, name = (
        tuple(back.transform(middle + one * NORTH_PT * way)) for one in (-0.45, 0.1, 0.34)
    )
    axes.annotate(
        "", tip, tail, arrowprops={"arrowstyle": "-|>", "color": INK, "lw": 1.0}, zorder=3.0
    )
    axes.text(
        name[0], name[1], "N", ha="center", va="center", fontsize=SMALL, color=INK, zorder=3.0
    )
    labels.avoid_box(
        back.transform(middle - 0.5 * NORTH_PT), back.transform(middle + 0.5 * NORTH_PT)
    )
