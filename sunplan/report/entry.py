"""When direct sun touches which mark, comes in where, falls on what: JSON, CSV and tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from datetime import date
from operator import itemgetter

from ..location.model import Mark, Room
from ..location.read import Location
from ..room.entry import DayEntries, MarkEntries, OpeningEntries
from ..room.interval import Span, SunInterval
from ..sun.almanac import SunTimes
from . import best_measurement
from .answers import Answer, head, interval, ranges, span, sun
from .cautions import SUN, WEATHER
from .document import Block, Document, Moment, More, Said, Section, Table
from .rows import Record, records
from .words import left_open, moves, surfaces, titled

ROWS = {
    "openings": ("openings", "entries"),
    "marks": ("marks", "entries"),
}

_MOMENTS = "from", "to", "from_earliest", "from_latest", "to_earliest", "to_latest"
COLUMNS = {  # of a day without sun
    "openings": ("date", "room", "opening", *_MOMENTS, "certain", "largest_patch_m2"),
    "marks": ("date", "room", "mark", "opening", *_MOMENTS, "certain"),
}


def _stretch(stretch: SunInterval, timezone: str) -> Answer:
    return {**interval(stretch, timezone), **ranges(stretch, timezone)}


def kinds(days: Sequence[Answer]) -> dict[str, list[Record]]:
    """Rows of answers by their kind, each with its date."""
    return {
        kind: [row for day in days for row in records(day, *path, outer={"date": day["date"]})]
        for kind, path in ROWS.items()
    }


def answer(location: Location, day: DayEntries) -> Answer:
    """Answer for one date."""
    zone = location.timezone
    openings = [
        {
            "room": entry.room,
            "opening": entry.opening,
            "entries": [
                {
                    **_stretch(stretch, zone),
                    "largest_patch_m2": area,
                    "starts_on": None if first is None else asdict(first),
                    "ends_on": None if last is None else asdict(last),
                }
                for stretch, area, (first, last) in zip(
                    entry.intervals, entry.largest_patch_m2, entry.patch_positions, strict=True
                )
            ],
            "possible": [span(possible, zone) for possible in entry.possible],
        }
        for entry in day.openings
    ]
    return {
        **head(location, day.date),
        "sun": sun(day.sun, zone),
        "openings": openings,
        "marks": [_of_mark(day, room, mark, zone) for room in location.room for mark in room.mark],
        "narrow": best_measurement.answer(day.best_measurement(), zone),
    }


def _of_mark(day: DayEntries, room: Room, mark: Mark, zone: str) -> Answer:
    """The sun that touches a mark, through whichever opening."""
    touched = [entry for entry in day.marks if (entry.room, entry.mark) == (room.name, mark.name)]
    entries = [
        {"opening": entry.opening, **_stretch(stretch, zone)}
        for entry in touched
        for stretch in entry.intervals
    ]
    return {
        "room": room.name,
        "mark": mark.name,
        "entries": sorted(entries, key=itemgetter("from")),
        "possible": [
            {"opening": entry.opening, **span(possible, zone)}
            for entry in touched
            for possible in entry.possible
        ],
    }


def sun_line(times: SunTimes, day: date, timezone: str) -> str:
    """The sun's day in one line."""
    if times.always is not None:
        start = f"the sun stays {times.always} all day"
    else:
        rise, down = Moment(times.rise, timezone, day), Moment(times.set, timezone, day)
        start = f"sunrise {rise}, sunset {down}"
    dark = [
        f"{down_deg}° down at {Moment(moment, timezone, day)}"
        for down_deg, moment in ((6, times.civil_dusk), (12, times.nautical_dusk))
        if moment is not None
    ]
    if dark:
        return f"{start}; sun {', '.join(dark)}"
    return start + ("; deep down all day" if times.always == "down" else "; no dark")


def moments(stretch: SunInterval, timezone: str, day: DayEntries) -> tuple[Said, Said]:
    """When a stretch starts and ends, each with how far that may move."""
    start = Moment(stretch.start_s, timezone, day.date, stretch.start_range_s)
    end = Moment(stretch.end_s, timezone, day.date, stretch.end_range_s)
    return start, end if stretch.certain else end + " ?"


def report(location: Location, day: DayEntries) -> Document:
    """Direct sun of a date: on marks, then through openings."""
    zone = location.timezone
    short, whole = (
        Table(
            ("opening", "from", "to", "falls on"),
            [row for entry in day.openings for row in _opening(entry, zone, day, falls)],
            grouped=True,
        )
        for falls in (surfaces, moves)
    )
    return Document(
        titled(location, day.date),
        [
            _marks(location, day),
            Section("openings", "Sun through each opening", [short]),
            More("how far in the sun falls", [Section("falls", "Where the sun falls", [whole])]),
            Section("notes", None, [*_unsure(location, day), WEATHER, SUN]),
        ],
        intro=[sun_line(day.sun, day.date, zone)],
    )


def _marks(location: Location, day: DayEntries) -> Section:
    """When the sun is on each mark, and which it never touches."""
    rows = [row for mark in day.marks for row in _mark(mark, location.timezone, day)]
    if not rows:
        return Section("marks", None, ["No mark is touched by direct sun."])
    touched = {row[0] for row in rows}
    every = (f"{room.name}: {mark.name}" for room in location.room for mark in room.mark)
    free = [name for name in every if name not in touched]
    table = Table(("mark", "from", "to", "through"), rows, grouped=True)
    none = [f"no sun: {', '.join(free)}"] if free else []
    return Section("marks", "Sun on each mark", [table, *none])


def _opening(
    entry: OpeningEntries, zone: str, day: DayEntries, falls: Callable[..., Said]
) -> Iterator[tuple[Said, ...]]:
    name = f"{entry.room}: {entry.opening}"
    for stretch, (first, last) in zip(entry.intervals, entry.patch_positions, strict=True):
        yield name, *moments(stretch, zone, day), falls(first, last)
    for possible in entry.possible:
        yield name, *_maybe(possible, zone, day), ""
    if not entry.intervals and not entry.possible:
        yield name, "no sun", "", ""


def _mark(touched: MarkEntries, zone: str, day: DayEntries) -> Iterator[tuple[Said, ...]]:
    name = f"{touched.room}: {touched.mark}"
    for stretch in touched.intervals:
        yield name, *moments(stretch, zone, day), touched.opening
    for possible in touched.possible:
        yield name, *_maybe(possible, zone, day), touched.opening


def _maybe(possible: Span, zone: str, day: DayEntries) -> tuple[str, str]:
    start, end = (Moment(moment_s, zone, day.date) for moment_s in possible)
    return f"({start}", f"{end})"


def _unsure(location: Location, day: DayEntries) -> Iterator[Block]:
    error = left_open(location)
    if error:
        yield f"± min: what {error} may change; ? or in brackets: only for a part of that"
        if first := best_measurement.line(day.best_measurement(), location):
            yield More("what to measure first", first)
