"""All answers for one date at one place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ..light import course
from ..light.course import Course
from ..light.daylight import Weather, skies_of
from ..light.fits import Fit, fits
from ..light.gap import SetupGap, gaps
from ..location.read import Location
from ..rig.flags import SetupFlags, setup_flags
from ..room.entry import Day, day_entries
from ..room.hourly import Look, looks
from ..sun.calendar import day_span, every

HOUR_S = 3600.0


@dataclass(frozen=True, eq=False)
class Plan:
    """A day's answers: direct sun, where it lies by room, flags and gaps by setup.

    `courses` are the windows in frame from dawn to dark.
    """

    location: Location
    entries: Day
    patches: Mapping[str, tuple[Look, ...]]
    flags: tuple[SetupFlags, ...]
    gaps: tuple[SetupGap, ...]
    fits: tuple[Fit, ...]
    courses: tuple[Course, ...]


def plan(
    location: Location,
    day: date,
    *,
    skies: Sequence[str] = ("clear", "overcast"),
    tell: Callable[[str], None] = lambda _: None,
) -> Plan:
    """Work out all of a date; `tell` hears what is being worked on."""
    tell("sun through openings, on marks")
    entries = day_entries(location, day)
    patches = {}
    for room in location.room:
        tell(f"patches: {room.name}")
        patches[room.name] = looks(location, room, entries)
    start_s, end_s = day_span(day, location.timezone)
    flags = []
    for setup in location.setup:
        tell(f"flags: {setup.name}")
        flags.append(setup_flags(location, setup, start_s=start_s, end_s=end_s))
    tell("light")
    moments = every(*entries.sun.daylight(day, location.timezone), HOUR_S)
    weathers = [Weather(name) for name in skies]
    found = gaps(location, location.setup, skies_of(location, moments, weathers))
    waits = fits(location, location.setup, [day], weathers)
    shown = course.moments(*entries.sun.dawn_to_dark(day, location.timezone))
    lines = course.courses(location, location.setup, shown, weathers)
    return Plan(location, entries, patches, tuple(flags), tuple(found), tuple(waits), tuple(lines))


def steps(location: Location) -> int:
    """How often `plan` tells what it does."""
    return 2 + len(location.room) + len(location.setup)
