"""A calendar of dates, one cell a date: how far its best whole day is from the best of all."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm
from matplotlib.figure import Figure
from matplotlib.patches import Patch, Rectangle

from ..day.days import RankedDay, RankedDays
from ..location.read import Location
from .axes import RAMP_STOPS
from .panels import EDGE_IN, WIDTH_IN, headed, legend, legend_in, panel, steps_bar, write
from .signs import FRAME, INK, PAPER, SMALL, SOFT, STYLE, UNKNOWN

EDGES = [0.0, 1.0, 5.0, 15.0, 30.0, 60.0, 120.0, 1e9]  # minutes that a score is over the best
DARK_FROM = 0.55  # of the colours, from which letters on them are light
WEEK = ("Mo", "Tu", "We", "Th", "Fr", "Sa", "Su")
CELL_IN, HEAD_IN, GAP_IN, MOST_ACROSS = 0.32, 0.42, 0.22, 4
BAR_IN = 0.36
IN_CELLS = "−1, −2: so many setups do not fit; bold: worked out exactly"


@rc_context(STYLE)
def figure_of_days(location: Location, span: tuple[date, date], ranked: RankedDays) -> Figure:
    """The months of a span, one beside the other."""
    months = _months(span)
    across = min(MOST_ACROSS, len(months))
    wide, tall = 7 * CELL_IN, HEAD_IN + 6 * CELL_IN
    rows = -(-len(months) // across)
    best = ranked.days[0] if ranked.days else None
    signs = _signs()
    inner = WIDTH_IN - 2 * EDGE_IN
    figure, top = headed(
        f"{location.site.name}, {span[0]} to {span[1]}: which day",
        "colour: minutes by which a date's score is over the best"
        + ("" if best is None else f", {best.day} at {best.score:.0f}"),
        WIDTH_IN,
        rows * (tall + GAP_IN) + 2 * BAR_IN + legend_in(signs, inner) + EDGE_IN,
    )
    by_date = {day.day: day for day in ranked.days}
    for number, month in enumerate(months):
        row, column = divmod(number, across)
        left = EDGE_IN + column * (wide + GAP_IN)
        above = top + row * (tall + GAP_IN)
        write(figure, left, above, f"{month:%B %Y}", fontsize=9.5)
        axes = panel(figure, left, above + HEAD_IN / 2, wide, tall - HEAD_IN / 2)
        _month(axes, month, span, by_date, best)
    top += rows * (tall + GAP_IN)
    _bar(figure, EDGE_IN, top)
    write(figure, EDGE_IN, top + BAR_IN - 0.06, IN_CELLS, fontsize=SMALL)
    legend(figure, EDGE_IN, top + 2 * BAR_IN - 0.12, inner, signs)
    return figure


def _months(span: tuple[date, date]) -> list[date]:
    """The first days of the months that a span touches."""
    months = [span[0].replace(day=1)]
    while (after := (months[-1] + timedelta(days=32)).replace(day=1)) <= span[1]:
        months.append(after)
    return months


def _month(
    axes: Axes,
    month: date,
    span: tuple[date, date],
    by_date: dict[date, RankedDay],
    best: RankedDay | None,
) -> None:
    """One month: its weeks down, its days across."""
    axes.set_axis_off()
    axes.set_xlim(0.0, 7.0)
    axes.set_ylim(6.0, 0.0 - HEAD_IN / 2 / CELL_IN)
    for column, name in enumerate(WEEK):
        axes.text(column + 0.5, -0.12, name, ha="center", va="bottom", fontsize=SMALL, color=SOFT)
    weeks = calendar.Calendar().monthdatescalendar(month.year, month.month)
    for row, week in enumerate(weeks):
        for column, day in enumerate(week):
            if day.month == month.month and span[0] <= day <= span[1]:
                _cell(axes, (column, row), day, by_date.get(day), best)


def _cell(
    axes: Axes,
    corner: tuple[int, int],
    day: date,
    ranked: RankedDay | None,
    best: RankedDay | None,
) -> None:
    """One date: its colour, its number, and how many setups do not fit."""
    x, y = corner
    colour: Any = UNKNOWN
    light = False
    if ranked is not None and best is not None:
        share = _share(ranked.score - best.score)
        colour, light = RAMP_STOPS(share), share > DARK_FROM
    chosen = ranked is not None and ranked is best
    axes.add_patch(
        Rectangle(
            (x + 0.04, y + 0.04), 0.92, 0.92,
            facecolor=colour, edgecolor=INK if chosen else FRAME, lw=2.2 if chosen else 0.6,
            zorder=2.0 if chosen else 1.0, gid=f"date {day}",
        )
    )  # fmt: skip
    ink = PAPER if light else INK
    exact = ranked is not None and ranked.exact
    style: dict[str, Any] = {
        "ha": "center",
        "va": "center",
        "fontsize": SMALL,
        "color": ink,
        "zorder": 3.0,
    }
    bold = "bold" if exact else "normal"
    missing = 0 if ranked is None else len(ranked.dropped)
    axes.text(x + 0.5, y + (0.34 if missing else 0.5), f"{day.day}", weight=bold, **style)
    if missing:
        axes.text(x + 0.5, y + 0.72, f"−{missing}", gid=f"missing {day}", **style)


def _share(minutes: float) -> float:
    """Where on the colours a date lies that is so many minutes over the best, 0 to 1."""
    return float(_norm()(minutes)) / (len(EDGES) - 2)


def _norm() -> BoundaryNorm:
    return BoundaryNorm(EDGES, len(EDGES) - 1, clip=True)


def _bar(figure: Figure, left: float, top: float) -> None:
    """What the colours mean, in minutes."""
    steps: Sequence[tuple[float, float]] = list(pairwise(EDGES))
    names = ["to 1", *(f"{low:g} – {last:g}" for low, last in steps[1:-1]), f"over {EDGES[-2]:g}"]
    colours = [RAMP_STOPS(_share((low + last) / 2)) for low, last in steps]
    steps_bar(figure, left, top, [*zip(colours, names, strict=True)], "minutes over the best")


def _signs() -> list[Patch]:
    return [
        Patch(facecolor=PAPER, edgecolor=INK, lw=2.2, label="the best date"),
        Patch(facecolor=UNKNOWN, edgecolor=SOFT, lw=0.5, label="no working day"),
    ]
