"""All answers for one date at one place; what several of them rest on is worked out once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from ..light import course
from ..light.course import Course
from ..light.daylight import Weather, skies_of
from ..light.face import faces
from ..light.fits import Fit, fits
from ..light.gap import SetupGap, gaps
from ..light.key import KeyLight, keys
from ..location.read import Location
from ..rig.flags import SetupFlags
from ..room.entry import Day, day_entries
from ..room.hourly import Look, looks
from ..sun.calendar import every
from .alerts import Alert, alerts
from .beside import Beside
from .clock import Clock, clock_of
from .exterior import ExteriorDay, exterior_day
from .order import Ordered, day_flags, order
from .pack import Pack, pack
from .steps import HOUR_S, Steps, moments
from .steps import steps as steps_of


@dataclass(frozen=True, eq=False)
class Plan:
    """A day's answers: direct sun, where it lies by room; flags, gaps and keys by setup; the best
    order and what it takes, for the weather `packed_for`; setups outdoors. Flags are for `clock`,
    from call to wrap; `alerts` are what the sun does in the order's own times. `courses` are the
    windows in frame from dawn to dark. `steps` and `gaps_by_step` are what the day does at even
    steps of the clock, `gaps` those of whole hours of daylight.

    `ordered` and `pack` are None where no setup is indoors.
    """

    location: Location
    entries: Day
    clock: Clock
    patches: Mapping[str, tuple[Look, ...]]
    steps: Steps
    flags: tuple[SetupFlags, ...]
    gaps: tuple[SetupGap, ...]
    gaps_by_step: tuple[SetupGap, ...]
    fits: tuple[Fit, ...]
    courses: tuple[Course, ...]
    keys: tuple[KeyLight, ...]
    ordered: Ordered | None
    pack: Pack | None
    packed_for: tuple[str, ...]
    alerts: tuple[Alert, ...]
    exteriors: tuple[ExteriorDay, ...]


def plan(
    location: Location,
    day: date,
    *,
    skies: Sequence[str] = ("clear", "overcast"),
    tell: Callable[[str], None] = lambda _: None,
) -> Plan:
    """Work out all of a date; `tell` hears what is being worked on.

    Order and pack list are for what the first of the skies does.
    """
    tell("sun through openings, on marks")
    entries = day_entries(location, day)
    patches = {}
    for room in location.room:
        tell(f"patches: {room.name}")
        patches[room.name] = looks(location, room, entries)
    setups = location.setup
    clock = clock_of(location, day)
    tell("patches: the whole day")
    # Flags take as long as all else that order and pack wait for.
    hung = Beside(lambda: day_flags(location, setups, clock))
    by_step = steps_of(location, moments(location, entries, clock))
    tell("light")
    rooms = faces(location, setups)
    weathers = [Weather(name) for name in skies]
    above = skies_of(location, by_step.moments_s, weathers)
    found = gaps(location, setups, above, rooms=rooms)
    hours = every(*entries.sun.daylight(day, location.timezone), HOUR_S)
    waits = fits(location, setups, [day], weathers)
    shown = course.moments(*entries.sun.dawn_to_dark(day, location.timezone))
    lines = course.courses(location, setups, shown, weathers)
    lamps = keys(location, setups, rooms=rooms)
    flags = hung.result()
    tell("order")
    ordered = packed = None
    if setups:
        first = weathers[:1]
        ordered = order(location, setups, day, weathers=first, rooms=rooms, flags=flags)
        tell("pack")
        packed = pack(
            location,
            ordered.best.setups(location.timezone),
            start_s=clock.call_s,
            weathers=first,
            slack_s=0.0,  # the best order's times are kept to the minute
            rooms=rooms,
        )
    return Plan(
        location=location,
        entries=entries,
        clock=clock,
        patches=patches,
        steps=by_step,
        flags=tuple(flags),
        gaps=tuple(one.at(hours) for one in found),
        gaps_by_step=tuple(found),
        fits=tuple(waits),
        courses=tuple(lines),
        keys=tuple(lamps),
        ordered=ordered,
        pack=packed,
        packed_for=tuple(skies[:1]),
        alerts=() if packed is None else alerts(location, entries, packed.running.slots),
        exteriors=tuple(exterior_day(location, one, day) for one in location.exterior),
    )


def steps(location: Location) -> int:
    """How often `plan` tells what it does."""
    return 4 + len(location.room) + bool(location.setup)
