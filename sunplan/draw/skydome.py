"""The sky over a mark as the plan lies: what each opening lets it see, and the sun path."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Circle, Patch, PathPatch

from ..location.lengths import format_length
from ..location.read import Location
from ..report.document import Moment
from ..room.entry import DayEntries
from ..room.interval import Span, merge_spans
from ..room.sky_dome import UP_DEG, SkyDome, SunPath, dome_points
from ..sun.local_time import HOUR_S
from ..sun.position import Floats
from ..sun.search import Bools
from .axes import compound, dashed, labels_on, put
from .labels import Label, Labels
from .panels import EDGE_IN, headed, legend, legend_in, panel, write
from .primitives import rings
from .signs import (
    BLOCK,
    DASHES,
    FRAME,
    GLASS,
    HATCHES,
    HIDDEN,
    INK,
    PAPER,
    SEEN,
    SKYLINE,
    SMALL,
    SOFT,
    STYLE,
    SUN,
    TEXT,
    TOUCH,
    Letters,
)

WIDTH_IN = 7.6
NAME_PT = 72.0
ROUND_DEG = 13.0  # beyond the horizon, for bearings
RINGS_DEG, SPOKES_DEG = range(0, 90, 10), range(0, 360, 30)
NAMED_DEG = (30, 60)
CORNERS = {0: "N", 90: "E", 180: "S", 270: "W"}
LEVEL = 0.37  # of the evened field: its edge lies a quarter of a place outside


@rc_context(STYLE)
def figure_of_dome(
    location: Location,
    day: DayEntries,
    dome: SkyDome,
    ways: Sequence[SunPath],
    *,
    width_in: float = WIDTH_IN,
) -> Figure:
    """The dome of one mark with sun paths: the first is the date's, the others to compare."""
    room, mark, units = dome.room, dome.mark, location.site.units
    low, high = (format_length(height, units) for height in mark.height)
    wide, signs = width_in - 2 * EDGE_IN, _signs(dome, ways)
    figure, top = headed(
        f'{location.site.name}, {day.date.isoformat()}: the sky over "{mark.name}" ({room.name})',
        f"hatched: sun there reaches the mark, {low} to {high} up, through that opening; "
        "it lies as the plan does",
        width_in,
        wide + 0.3 + legend_in(signs, wide) + EDGE_IN,
    )
    axes = panel(figure, EDGE_IN, top, wide, wide)
    reach = UP_DEG + ROUND_DEG
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-reach, reach)
    axes.axison = False
    label = f"round it: true bearing, °; rings: altitude, °; local time ({location.timezone})"
    axes.set_xlabel(label)
    write(figure, EDGE_IN, top + wide, label, fontsize=SMALL, color=SOFT)
    labels = labels_on(axes)
    _ground(axes, labels, location.site.plan_up)
    _outside(axes, labels, dome)
    _openings(axes, labels, dome)
    _sun(axes, labels, location, day, dome, ways)
    put(axes, labels)
    legend(figure, EDGE_IN, top + wide + 0.24, wide, signs)
    return figure


def _ground(axes: Axes, labels: Labels, plan_up_deg: float) -> None:
    """Disk, rings of altitude, spokes of bearing."""
    axes.add_patch(Circle((0.0, 0.0), UP_DEG, facecolor=HIDDEN, edgecolor="none", zorder=0.1))
    for altitude in RINGS_DEG:
        style = {"edgecolor": INK, "lw": 1.2} if altitude == 0 else {"edgecolor": FRAME, "lw": 0.5}
        axes.add_patch(Circle((0.0, 0.0), UP_DEG - altitude, facecolor="none", zorder=1.0, **style))
    spokes = []
    for bearing in SPOKES_DEG:
        rim = dome_points(np.array([float(bearing)]), np.zeros(1), plan_up_deg=plan_up_deg)[0]
        spokes.append((rim / UP_DEG * 10.0, rim))
        name = CORNERS.get(bearing, f"{bearing}°")
        weight = "bold" if bearing in CORNERS else "normal"
        place = rim * (1.0 + 0.55 * ROUND_DEG / UP_DEG)
        colour = INK if bearing in CORNERS else SOFT
        axes.text(place[0], place[1], name, ha="center", va="center", weight=weight, color=colour)
        labels.block_text(name, place, SMALL)
    axes.add_collection(LineCollection(spokes, colors=FRAME, linewidths=0.5, zorder=1.0))
    for altitude in NAMED_DEG:
        angle = math.radians(45.0)
        place = (UP_DEG - altitude) * np.array([math.sin(angle), math.cos(angle)])
        text = f"{altitude}° up"
        axes.text(
            place[0], place[1], text, ha="center", va="center", fontsize=SMALL, color=SOFT,
            zorder=3.0, bbox={"facecolor": PAPER, "alpha": 0.7, "edgecolor": "none", "pad": 0.5},
        )  # fmt: skip
        labels.block_text(text, place, SMALL)


def _outside(axes: Axes, labels: Labels, dome: SkyDome) -> None:
    """Far skyline and blocks."""
    ring = np.concatenate((dome.skyline, dome.skyline[:1]))
    turns = np.radians(np.arange(0.0, 361.0))
    rim = UP_DEG * np.stack((np.cos(turns), np.sin(turns)), axis=-1)
    hills = shapely.Polygon(rim).difference(shapely.Polygon(ring))
    axes.add_patch(
        PathPatch(compound(rings(hills)), facecolor=SKYLINE, edgecolor="none", zorder=1.2)
    )
    for name, shape in dome.blocks.items():
        if shape.is_empty:
            continue
        axes.add_patch(
            PathPatch(compound(rings(shape)), facecolor=BLOCK, edgecolor=SOFT, lw=0.8, zorder=1.3)
        )
        parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]
        for part in parts:
            labels.avoid(np.array(part.exterior.coords), cost=1.5)
        middle = max(parts, key=shapely.area).representative_point()
        place = middle.x, middle.y
        labels.add(
            Label(name, place, Letters(SOFT, size=SMALL / TEXT), away_pt=0.0, width_pt=NAME_PT)
        )


def _openings(axes: Axes, labels: Labels, dome: SkyDome) -> None:
    """Where sun would reach the mark, opening by opening."""
    for index, (name, holds) in enumerate(dome.reached_through.items()):
        if not holds.any():
            continue
        hatch = HATCHES[index % len(HATCHES)]
        share = _evened(holds)
        filled = axes.contourf(dome.grid, dome.grid, share, levels=[LEVEL, 1.5], colors=[SEEN])
        filled.set(hatch=hatch, edgecolor=GLASS, linewidth=0.0, zorder=1.5)
        axes.contour(
            dome.grid, dome.grid, share, levels=[LEVEL], colors=[GLASS], linewidths=1.0, zorder=1.6
        )
        rows, columns = np.nonzero(holds)
        spots = np.stack((dome.grid[columns], dome.grid[rows]), axis=-1)
        # The place of it that is nearest to its middle.
        middle = spots[np.argmin(((spots - spots.mean(axis=0)) ** 2).sum(axis=1))]
        letters = Letters(GLASS, bold=True)
        labels.add(Label(name, middle, letters, away_pt=0.0, width_pt=NAME_PT))


def _evened(holds: Bools) -> Floats:
    """Yes and no on a grid as a field without steps, which keeps what is one place wide."""
    share = np.pad(holds.astype(float), 1)
    for _ in range(2):
        share = (share[:-2] + 2.0 * share[1:-1] + share[2:]).T / 4.0
    return share


def _sun(
    axes: Axes,
    labels: Labels,
    location: Location,
    day: DayEntries,
    dome: SkyDome,
    ways: Sequence[SunPath],
) -> None:
    zone = location.timezone
    for index, path in enumerate(ways):
        if not len(path.moments):
            continue
        colour, lw = (SUN, 2.0) if index == 0 else (SOFT, 0.9)
        dash = dashed(DASHES[index % len(DASHES)])
        axes.plot(*path.points.T, ls=dash, zorder=2.0, color=colour, lw=lw)
        labels.avoid(path.points, cost=2.0 if index == 0 else 1.0)
    here = ways[0]
    if not len(here.moments):
        return
    for stretch in _touching(day, dome):
        times = np.linspace(*stretch, 24)
        line = np.stack([np.interp(times, here.moments, axis) for axis in here.points.T], axis=-1)
        axes.plot(*line.T, color=TOUCH, lw=5.0, solid_capstyle="butt", zorder=2.1)
        text = f"{Moment(stretch[0], zone)} – {Moment(stretch[1], zone)}"
        letters = Letters(TOUCH, bold=True)
        labels.add(Label(text, line[12], letters, away_pt=8.0, toward_deg=270.0))
    on_hour = np.abs(here.moments / HOUR_S - np.round(here.moments / HOUR_S)) < 1e-9
    for moment, spot in zip(here.moments[on_hour], here.points[on_hour], strict=True):
        axes.plot(*spot, marker="o", ms=4.5, mfc=SUN, mec=INK, mew=0.6, zorder=2.5)
        labels.avoid_spot(spot, 3.0)
        outward = math.degrees(math.atan2(spot[1], spot[0]))
        letters = Letters(size=SMALL / TEXT)
        labels.add(Label(str(Moment(moment, zone)), spot, letters, toward_deg=outward))


def _touching(day: DayEntries, dome: SkyDome) -> tuple[Span, ...]:
    """When the sun is on the mark, through whatever opening."""
    return merge_spans(
        (span.start_s, span.end_s)
        for touched in day.marks
        if (touched.room, touched.mark) == (dome.room.name, dome.mark.name)
        for span in touched.intervals
    )


def _signs(dome: SkyDome, ways: Sequence[SunPath]) -> list[Line2D | Patch]:
    handles: list[Line2D | Patch] = [
        Line2D([], [], color=SUN, lw=2.0, marker="o", ms=4.5, mfc=SUN, mec=INK, mew=0.6,
               label="sun path, by the hour"),
        Line2D([], [], color=TOUCH, lw=5.0, label="sun on the mark"),
    ]  # fmt: skip
    handles += [
        Line2D(
            [],
            [],
            color=SOFT,
            lw=0.9,
            ls=dashed(DASHES[index % len(DASHES)]),
            label=f"{path.date:%d %b}",
        )
        for index, path in enumerate(ways)
        if index
    ]
    handles.append(Patch(facecolor=SKYLINE, label="skyline"))
    if any(not shape.is_empty for shape in dome.blocks.values()):
        handles.append(Patch(facecolor=BLOCK, edgecolor=SOFT, lw=0.8, label="block"))
    return handles
