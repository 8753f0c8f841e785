"""A day's direct sun on one strip: through each opening, on each mark, with the twilights."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch, Rectangle

from ..location.read import Location
from ..report.document import Moment
from ..report.entry import sun_line
from ..room.entry import DayEntries
from ..room.interval import SunInterval, merge_spans
from ..sun.almanac import SunTimes
from ..sun.local_time import to_local
from .letters import extent_pt
from .panels import (
    EDGE_IN,
    POINT_IN,
    WIDTH_IN,
    Rule,
    fold,
    headed,
    legend,
    legend_in,
    panel,
    ruled,
    text_in,
    write,
)
from .signs import INK, PAPER, SMALL, SOFT, STYLE, SUN, SUN_PALE, TOUCH, TOUCH_PALE, TWILIGHT

Side = Literal["left", "center", "right"]
ROW_IN, BAR = 0.24, 0.74  # a row, and the share of it that a bar takes
NAME_IN = 2.4  # at most, of a row's name
BELOW_IN = 0.46


@dataclass(frozen=True)
class _Row:
    """A room's name, or one of its openings or marks with its stretches of sun."""

    name: str
    kind: str
    stretches: Sequence[SunInterval] = ()
    possible: Sequence[tuple[float, float]] = ()


def _joined(stretches: Sequence[SunInterval]) -> list[tuple[float, float, float, float]]:
    """Start, end, and the earliest and latest that they may be, of stretches that do not meet."""
    joined = []
    for start, end in merge_spans((sun.start_s, sun.end_s) for sun in stretches):
        within = [sun for sun in stretches if start <= sun.start_s <= end]
        first = min(sun.start_range_s[0] for sun in within)
        joined.append((start, end, first, max(sun.end_range_s[1] for sun in within)))
    return joined


def _rows(location: Location, day: DayEntries) -> list[_Row]:
    rows = []
    for room in location.room:
        rows.append(_Row(room.name, "room"))
        for entry in day.openings:
            if entry.room == room.name:
                rows.append(_Row(entry.opening, "opening", entry.intervals, entry.possible))
        for mark in room.mark:
            hits = [hit for hit in day.marks if (hit.room, hit.mark) == (room.name, mark.name)]
            rows.append(
                _Row(
                    f"on the mark: {mark.name}",
                    "mark",
                    [span for hit in hits for span in hit.intervals],
                    [span for hit in hits for span in hit.possible],
                )
            )
    return rows


class Strip:
    """A day's strip, and the room that its drawing takes."""

    def __init__(self, location: Location, day: DayEntries, width_in: float) -> None:
        self.location, self.day, self._width_in = location, day, width_in
        self._all = _rows(location, day)
        self._free = width_in - 2 * EDGE_IN
        signs = legend_in(self._signs(), self._free)
        self.height_in = ROW_IN * len(self._all) + BELOW_IN + signs

    def draw(self, figure: Figure, top: float) -> None:
        """Draw it below `top`."""
        rows, zone = self._all, self.location.timezone
        names = [fold(row.name, NAME_IN).split("\n")[0] for row in rows]
        left = EDGE_IN + max(text_in(name, bold=True) for name in names) + 0.12
        wide, high = self._width_in - left - EDGE_IN - 0.1, ROW_IN * len(rows)
        axes = panel(figure, left, top, wide, high)
        start, end = self.day.sun.dawn_to_dark(self.day.date, zone)
        axes.set_xlim(start, end)
        axes.set_ylim(len(rows), 0)
        shade(axes, self.day.sun)
        clocked(axes, zone, Rule((), (), ""))
        for index, (row, name) in enumerate(zip(rows, names, strict=True)):
            is_room = row.kind == "room"
            style = (
                {"weight": "bold"} if is_room else {"color": TOUCH if row.kind == "mark" else INK}
            )
            x = EDGE_IN if is_room else left - text_in(name) - 0.08
            write(figure, x, top + (index + 0.22) * ROW_IN, name, **style)
            if not is_room:
                self._bars(axes, index, row, (end - start) / (wide / POINT_IN))
        legend(figure, EDGE_IN, top + high + BELOW_IN, self._free, self._signs())

    def _bars(self, axes: Axes, index: int, row: _Row, s_per_pt: float) -> None:
        """Stretches of one row, each with its times where there is room."""
        solid, pale, letters = (
            (SUN, SUN_PALE, INK) if row.kind == "opening" else (TOUCH, TOUCH_PALE, PAPER)
        )
        low = index + (1.0 - BAR) / 2
        for first, last in row.possible:
            axes.add_patch(Rectangle((first, low), last - first, BAR, color=pale, lw=0))
        for span in row.stretches:
            first, last = span.start_range_s[0], span.end_range_s[1]
            axes.add_patch(Rectangle((first, low), last - first, BAR, color=pale, lw=0))
        if not row.stretches and not row.possible:
            self._say(axes, index, sum(axes.get_xlim()) / 2, "no direct sun", SOFT, "center")
        left, right = axes.get_xlim()

        def wide_pt(text: str) -> float:
            return extent_pt(text, SMALL)[0]

        spans = _joined(row.stretches)
        free = left
        for number, (start, end, first, last) in enumerate(spans):
            axes.add_patch(Rectangle((start, low), end - start, BAR, color=solid, lw=0))
            ends = [str(Moment(end_s, self.location.timezone)) for end_s in (start, end)]
            text, gap = " – ".join(ends), 4.0 * s_per_pt
            inside_pt, needed = (end - start) / s_per_pt, wide_pt(text) * s_per_pt + gap
            follows = spans[number + 1][2] if number + 1 < len(spans) else right
            if inside_pt > wide_pt("".join(ends)) + 20.0:
                self._say(axes, index, start + gap, ends[0], letters, "left")
                self._say(axes, index, end - gap, ends[1], letters, "right")
            elif inside_pt > wide_pt(text) + 4.0:
                self._say(axes, index, (start + end) / 2, text, letters, "center")
            elif last + gap + needed < follows:
                self._say(axes, index, last + gap, text, INK, "left")
                last += gap + needed
            elif first - gap - needed > free:
                self._say(axes, index, first - gap, text, INK, "right")
            free = last

    @staticmethod
    def _say(axes: Axes, index: int, x_s: float, text: str, colour: str, side: Side) -> None:
        axes.text(
            x_s, index + 0.5, text, color=colour, fontsize=SMALL, va="center_baseline", ha=side,
            zorder=3.0,
        )  # fmt: skip

    def _signs(self) -> list[Patch]:
        handles = [
            Patch(color=SUN, label="sun through it"),
            Patch(color=TOUCH, label="sun on the mark"),
        ]
        if self.location.site.plan_up_error:
            error = self.location.site.plan_up_error
            handles.append(Patch(color=SUN_PALE, label=f"perhaps: plan_up ±{error:g}°"))
        handles += [
            Patch(facecolor=colour, edgecolor=SOFT, lw=0.4, label=label)
            for colour, label in zip(TWILIGHT[1:], ("sun down", "6° down", "12° down"), strict=True)
        ]
        return handles


def _whole_hours(start: float, end: float, zone: str) -> list[float]:
    first = to_local(start, zone).replace(minute=0, second=0)
    hours = (first + timedelta(hours=ahead) for ahead in range(30))
    return [moment_s for moment_s in map(datetime.timestamp, hours) if start <= moment_s <= end]


def clocked(axes: Axes, zone: str, up: Rule, *, grid: str = PAPER) -> None:
    """Whole hours along a panel whose limits are final."""
    ticks = _whole_hours(*axes.get_xlim(), zone)
    for tick in ticks:
        axes.axvline(tick, color=grid, lw=0.7, zorder=0.2)
    ruled(axes, Rule(ticks, [str(Moment(at, zone)) for at in ticks], f"local time ({zone}), h"), up)


def shade(axes: Axes, sun: SunTimes) -> None:
    """Daylight and the twilights behind a panel, over its limits."""
    start, end = axes.get_xlim()
    bands: Sequence[tuple[float | None, float | None, str]] = (
        (sun.rise, sun.set, TWILIGHT[0]),
        (sun.civil_dawn, sun.civil_dusk, TWILIGHT[1]),
        (sun.nautical_dawn, sun.nautical_dusk, TWILIGHT[2]),
        (start, end, TWILIGHT[3]),
    )
    if sun.always == "up":
        bands = ((start, end, TWILIGHT[0]),)
    for depth, (low, high, colour) in enumerate(bands):
        if low is not None or high is not None:
            low, high = start if low is None else low, end if high is None else high
            low, high = max(low, start), min(high, end)
            if low < high:
                axes.axvspan(low, high, color=colour, lw=0, zorder=-10 - depth)


def title(location: Location, day: DayEntries) -> str:
    """What a picture of a date is headed with."""
    return f"{location.site.name}, {day.date:%A} {day.date.isoformat()}: direct sun"


@rc_context(STYLE)
def figure_of_day(location: Location, day: DayEntries, *, width_in: float = WIDTH_IN) -> Figure:
    """Timeline of a day: sun through each opening, on each mark, daylight and twilight."""
    strip = Strip(location, day, width_in)
    under = sun_line(day.sun, day.date, location.timezone)
    figure, top = headed(title(location, day), under, width_in, strip.height_in + EDGE_IN)
    strip.draw(figure, top)
    return figure
