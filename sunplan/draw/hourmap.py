"""Dates down, hours across: how many stops the windows in frame must lose, and where sun falls."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle
from numpy.typing import NDArray

from ..day.hours import SetupHours
from ..day.quarter_hours import QuarterHours
from ..location.read import Location
from ..sun.local_time import to_local
from .axes import RAMP_STOPS
from .panels import (
    BELOW_IN,
    EDGE_IN,
    WIDTH_IN,
    Rule,
    fold,
    headed,
    legend,
    legend_in,
    panel,
    ruled,
    steps_bar,
    tall_in,
    write,
)
from .signs import INK, PAPER, SOFT, STYLE, UNKNOWN

EDGES = [0.0, 0.01, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0]  # stops
MOST_DOTS = 60  # dates that show where the sun falls; of more only every few do
MOST_ROWS = 32  # with marks of full size
MOST_DATES = 13  # that are named
ROW_IN, LEAST_IN, MOST_IN = 0.16, 0.6, 3.2
LEFT_IN, BAR_IN = 0.95, 0.36
ON_MARK: dict[str, Any] = {"marker": "o", "ms": 4.0, "mfc": PAPER, "mec": INK, "mew": 0.7}
PATCH: dict[str, Any] = {"marker": "D", "ms": 3.6, "mfc": INK, "mec": PAPER, "mew": 0.5}


@rc_context(STYLE)
def figure_of_hours(
    location: Location,
    span: tuple[date, date],
    setups: Sequence[SetupHours],
    sky: str,
    *,
    width_in: float = WIDTH_IN,
) -> Figure:
    """All setups, one above the other."""
    days = (span[1] - span[0]).days + 1
    tall = min(max(LEAST_IN, ROW_IN * days), MOST_IN)
    wide = width_in - 2 * EDGE_IN - LEFT_IN - 0.1
    titles = [fold(_title(hours), wide, 9.5) for hours in setups]
    dates = f"{span[0]}" if span[0] == span[1] else f"{span[0]} to {span[1]}"
    lines = [tall_in(title, 9.5) + 0.06 for title in titles]
    signs = _signs()
    panels = sum(lines) + len(setups) * (tall + BELOW_IN + 0.1)
    figure, top = headed(
        f"{location.site.name}, {dates}, {sky} sky: which hours",
        "colour: stops to knock down in the windows in frame, together",
        width_in,
        panels + BAR_IN + legend_in(signs, wide) + EDGE_IN,
    )
    left = EDGE_IN + LEFT_IN
    for hours, title, line in zip(setups, titles, lines, strict=True):
        write(figure, left, top, title, fontsize=9.5)
        axes = panel(figure, left, top + line, wide, tall)
        _map(axes, location, span, hours.quarters)
        top += line + tall + BELOW_IN + 0.1
    _bar(figure, left, top)
    legend(figure, left, top + BAR_IN, wide, signs)
    return figure


def _title(hours: SetupHours) -> str:
    setup = hours.quarters.setup
    windows = ", ".join(seen.opening.name for seen in hours.quarters.levels.windows)
    shown = windows or "no window in frame: stops by which the fill side is over its look"
    return f"{setup.name} ({setup.room}), reads as {setup.plays}: {shown}"


def _map(axes: Axes, location: Location, span: tuple[date, date], quarters: QuarterHours) -> None:
    days = (span[1] - span[0]).days + 1
    places = _places(location, quarters)
    hours = np.arange(places.min(), places.max() + 1) / 4.0
    lose = np.full((days, len(hours)), np.nan)
    lose[quarters.day, places - places.min()] = quarters.lose_stops()
    ends = hours[0] - 0.125, hours[-1] + 0.125
    axes.add_patch(
        Rectangle((ends[0], -0.5), ends[1] - ends[0], days, color=UNKNOWN, lw=0, zorder=-1.0)
    )
    axes.imshow(
        lose,
        cmap=RAMP_STOPS,
        norm=BoundaryNorm(EDGES, RAMP_STOPS.N),
        aspect="auto",
        interpolation="nearest",
        extent=(*ends, days - 0.5, -0.5),
    )
    _sun(axes, location, quarters, days)
    rows = np.unique(np.linspace(0, days - 1, min(days, MOST_DATES)).round().astype(int))
    names = [f"{span[0] + timedelta(days=int(row)):%Y-%m-%d}" for row in rows]
    ticks = np.arange(np.ceil(hours[0]), hours[-1] + 0.01)
    clocks = [f"{hour % 24:02.0f}:00" for hour in ticks]
    across = Rule(ticks.tolist(), clocks, f"local time ({location.timezone}), h")
    ruled(axes, across, Rule(rows.tolist(), names, "date"))


def _places(location: Location, quarters: QuarterHours) -> NDArray[np.intp]:
    """The quarter hour of the clock that each moment is, counted from midnight, (T,)."""
    local = [to_local(moment, location.timezone) for moment in quarters.moments.tolist()]
    return np.array([clock.hour * 4 + clock.minute // 15 for clock in local], dtype=np.intp)


def _sun(axes: Axes, location: Location, quarters: QuarterHours, days: int) -> None:
    """Marks where direct sun falls; of many dates only some, evenly."""
    every = int(np.ceil(days / MOST_DOTS))
    chosen = quarters.day % every == every // 2 if every > 1 else np.ones(len(quarters.day), bool)
    places, sun = _places(location, quarters), quarters.sunlight
    size = 1.0 if days <= MOST_ROWS else 0.5
    on_mark = np.flatnonzero(sun.on_mark.any(axis=1) & chosen)
    patch = np.flatnonzero((sun.in_frame | sun.behind) & chosen)
    for rows, style in ((patch, PATCH), (on_mark, ON_MARK)):
        axes.plot(
            places[rows] / 4.0,
            quarters.day[rows],
            ls="",
            ms=size * style["ms"],
            **{name: value for name, value in style.items() if name != "ms"},
        )


def _bar(figure: Figure, left: float, top: float) -> None:
    """What the colours mean, in stops."""
    norm = BoundaryNorm(EDGES, RAMP_STOPS.N)
    steps = list(pairwise(EDGES))
    names = ["none", "to 1", *(f"{low:g} – {last:g}" for low, last in steps[2:])]
    colours = [RAMP_STOPS(norm((low + last) / 2)) for low, last in steps]
    steps_bar(figure, left, top, [*zip(colours, names, strict=True)], "stops")


def _signs() -> list[Line2D | Patch]:
    return [
        Line2D([], [], ls="", label="sun on the mark", **ON_MARK),
        Line2D([], [], ls="", label="sun patch in frame", **PATCH),
        Patch(facecolor=UNKNOWN, edgecolor=SOFT, lw=0.5, label="too dark for its look"),
    ]
