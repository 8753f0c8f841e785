"""When direct sun comes in, where it falls, which marks it touches: JSON, CSV and tables."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from datetime import date

from ..location.read import Location
from ..room.entry import DayEntries
from ..room.interval import SunInterval
from ..sun.almanac import SunTimes
from . import best_measurement, words
from .answers import Answer, head, iso, sun
from .cautions import SUN, WEATHER
from .document import Moment, Said
from .layout import Part, once, table
from .words import moves

ROWS = ("openings", "entries"), ("marks", "entries")  # of its answer, for spreadsheets


def _stretch(stretch: SunInterval, timezone: str) -> Answer:
    return {
        "from": iso(stretch.start_s, timezone),
        "to": iso(stretch.end_s, timezone),
        "from_range": [iso(moment, timezone) for moment in stretch.start_range_s],
        "to_range": [iso(moment, timezone) for moment in stretch.end_range_s],
        "certain": stretch.certain,
    }


def _possible(spans: tuple[tuple[float, float], ...], timezone: str) -> list[Answer]:
    return [{"from": iso(start, timezone), "to": iso(end, timezone)} for start, end in spans]


def answer(location: Location, day: DayEntries) -> Answer:
    """Answer for one date."""
    zone = location.timezone
    openings = [
        {
            "room": one.room,
            "opening": one.opening,
            "entries": [
                {
                    **_stretch(stretch, zone),
                    "largest_patch_m2": area,
                    "starts_on": None if first is None else asdict(first),
                    "ends_on": None if last is None else asdict(last),
                }
                for stretch, area, (first, last) in zip(
                    one.intervals, one.largest_patch_m2, one.patch_positions, strict=True
                )
            ],
            "possible": _possible(one.possible, zone),
        }
        for one in day.openings
    ]
    marks: dict[tuple[str, str], Answer] = {
        (room.name, mark.name): {
            "room": room.name,
            "mark": mark.name,
            "entries": [],
            "possible": [],
        }
        for room in location.room
        for mark in room.mark
    }
    for touched in day.marks:
        row = marks[touched.room, touched.mark]
        row["entries"] += [
            {"opening": touched.opening, **_stretch(stretch, zone)} for stretch in touched.intervals
        ]
        row["possible"] += [
            {"opening": touched.opening, **span} for span in _possible(touched.possible, zone)
        ]
    for row in marks.values():
        row["entries"].sort(key=lambda one: one["from"])
    return {
        **head(location, day.date),
        "sun": sun(day.sun, zone),
        "openings": openings,
        "marks": list(marks.values()),
        "narrow": best_measurement.answer(day.best_measurement(), zone),
    }


def sun_line(at: SunTimes, day: date, timezone: str) -> str:
    """The sun's day in one line."""
    if at.always is not None:
        start = f"the sun stays {at.always} all day"
    else:
        rise, down = Moment(at.rise, timezone, day), Moment(at.set, timezone, day)
        start = f"sunrise {rise}, sunset {down}"
    dark = [
        f"{down}° down at {Moment(moment, timezone, day)}"
        for down, moment in ((6, at.civil_dusk), (12, at.nautical_dusk))
        if moment is not None
    ]
    if dark:
        return f"{start}; sun {', '.join(dark)}"
    return start + ("; deep down all day" if at.always == "down" else "; no dark")


def moments(stretch: SunInterval, timezone: str, day: DayEntries) -> tuple[Said, Said]:
    """When a stretch starts and ends, each with how far that may move."""
    start = Moment(stretch.start_s, timezone, day.date, stretch.start_range_s)
    end = Moment(stretch.end_s, timezone, day.date, stretch.end_range_s)
    return start, end if stretch.certain else end + " ?"


def told(location: Location, day: DayEntries) -> Iterable[Part]:
    """Direct sun of a date: openings, marks, and what the signs mean."""
    zone, units = location.timezone, location.site.units

    def maybe(span: tuple[float, float]) -> tuple[str, str]:
        return f"({Moment(span[0], zone, day.date)}", f"{Moment(span[1], zone, day.date)})"

    yield f"{location.site.name}, {day.date:%A} {day.date.isoformat()}, clock of {zone}"
    yield sun_line(day.sun, day.date, zone)
    rows: list[tuple[Said, ...]] = []
    for one in day.openings:
        name = f"{one.room}: {one.opening}"
        for stretch, (first, last) in zip(one.intervals, one.patch_positions, strict=True):
            rows.append((name, *moments(stretch, zone, day), moves(first, last).render(units)))
        rows += [(name, *maybe(span), "") for span in one.possible]
        if not one.intervals and not one.possible:
            rows.append((name, "no sun", "", ""))
    yield "\nSun through each opening"
    yield table(("opening", "from", "to", "falls on"), once(rows))
    rows = []
    for touched in day.marks:
        name = f"{touched.room}: {touched.mark}"
        for stretch in touched.intervals:
            rows.append((name, *moments(stretch, zone, day), touched.opening))
        rows += [(name, *maybe(span), touched.opening) for span in touched.possible]
    if rows:
        yield "\nSun on each mark"
        yield table(("mark", "from", "to", "through"), once(rows))
    else:
        yield "\nNo mark is touched by direct sun."
    yield ""
    error = words.left_open(location)
    if error:
        does = "do" if " and " in error else "does"
        yield (
            f"± minutes: what {error} {does} to that moment. "
            "? or in brackets: only for a part of that."
        )
        yield from best_measurement.line(day.best_measurement(), location)
    yield WEATHER
    yield SUN
