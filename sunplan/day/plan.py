"""All answers for one date at one place; what several of them rest on is worked out once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from ..light.daylight import Skies, Weather, skies_by_weather
from ..light.face import Faces, faces
from ..light.key_light import KeyLight, key_lights
from ..light.level_series import WindowSeries, chart_moments, window_series
from ..light.matching import MatchingInterval, matching_intervals
from ..light.resolved import ResolvedSetup, resolve
from ..light.sky_names import SCOUTED
from ..location.read import Location
from ..rig.flags import SetupFlags
from ..rig.gap import SetupGap, as_rigged, gaps
from ..room.entry import DayEntries, day_entries
from ..room.patches_by_hour import PatchAtHour, patches_by_hour
from ..sun.local_time import HOUR_S, even_moments
from .alerts import Alert, alerts
from .concurrency import Workers
from .exterior import ExteriorDay, exteriors
from .order import Ordered, day_flags, order
from .pack import Pack, pack
from .running_order import Slot, running_order
from .time_steps import Steps, moments, time_steps
from .working_day import WorkingDay, working_day


@dataclass(frozen=True, eq=False)
class Plan:
    """A day's answers: direct sun, where it lies by room; flags, gaps and keys by setup; the best
    order and what it takes, for the weather `packed_for`; setups outdoors. Flags are for `clock`,
    from call to wrap; `alerts` are what the sun does in the order's own times. `courses` are the
    windows in frame from dawn to dark. `steps` and `gaps_by_step` are what the day does at even
    steps of the clock, `gaps` those of whole hours of daylight. `skies` are those of the steps,
    `rooms` the light that gaps, keys, order and pack list rest on.

    These four and `alerts` are worked out when they are first asked for: what needs none of them
    can be shown meanwhile. `ordered` and `pack` are None where no setup is indoors.
    """

    location: Location
    setups: tuple[ResolvedSetup, ...]
    entries: DayEntries
    clock: WorkingDay
    patches: Mapping[str, tuple[PatchAtHour, ...]]
    steps: Steps
    flags: tuple[SetupFlags, ...]
    skies: Skies
    rooms: tuple[Faces, ...]
    fits: tuple[MatchingInterval, ...]
    courses: tuple[WindowSeries, ...]
    packed_for: tuple[str, ...]
    exteriors: tuple[ExteriorDay, ...]

    @cached_property
    def gaps_by_step(self) -> tuple[SetupGap, ...]:
        """How far windows in frame are from the look, step by step."""
        return tuple(gaps(self.location, self.setups, self.skies, rooms=self.rooms))

    @cached_property
    def gaps(self) -> tuple[SetupGap, ...]:
        """How far they are at whole hours."""
        daylight = self.entries.sun.daylight(self.entries.date, self.location.timezone)
        hourly = [gap.at(even_moments(*daylight, HOUR_S)) for gap in self.gaps_by_step]
        return tuple(
            as_rigged(
                self.location,
                hourly,
                rooms=self.rooms,
                hours_s=(self.clock.call_s, self.clock.wrap_s),
                flags=self.flags,
            )
        )

    @cached_property
    def keys(self) -> tuple[KeyLight, ...]:
        """What the setups' lamps do."""
        return tuple(key_lights(self.location, self.setups, rooms=self.rooms))

    @cached_property
    def ordered(self) -> Ordered | None:
        """The best order of the setups indoors."""
        if not self.setups:
            return None
        return order(
            self.location,
            self.setups,
            self.entries.date,
            weathers=self._weathers,
            rooms=self.rooms,
            flags=self.flags,
        )

    @cached_property
    def pack(self) -> Pack | None:
        """What that order takes."""
        if self.ordered is None:
            return None
        running = running_order(
            self.location,
            self.ordered.best.setups(self.location.timezone),
            start_s=self.clock.call_s,
            weathers=self._weathers,
            slack_s=0.0,  # the best order's times are kept to the minute
            rooms=self.rooms,
        )
        return pack(running)

    @cached_property
    def alerts(self) -> tuple[Alert, ...]:
        """What the sun does while setups are shot."""
        if self.pack is None:
            return ()
        return alerts(self.location, self.entries, self.pack.running.slots)

    @property
    def slots(self) -> dict[str, Slot]:
        """Times of the setups that are shot, by name, in their order."""
        return {} if self.pack is None else {it.setup.name: it for it in self.pack.running.slots}

    def gap_of(self, setup: ResolvedSetup) -> SetupGap:
        """How far a setup's windows in frame are from the look, step by step."""
        return next(gap for gap in self.gaps_by_step if gap.setup.name == setup.name)

    def flags_of(self, setup: ResolvedSetup) -> SetupFlags:
        """The flags of a setup."""
        return next(flags for flags in self.flags if flags.setup.name == setup.name)

    @property
    def _weathers(self) -> list[Weather]:
        return [Weather(name) for name in self.packed_for]


def plan(
    location: Location,
    day: date,
    *,
    skies: Sequence[str] = SCOUTED,
    tell: Callable[[str], None] = lambda _: None,
) -> Plan:
    """Work out all of a local date.

    Parameters
    ----------
    skies
        Names of skies; order and pack list are for what the first of them does.
    tell
        Hears what is being worked on, `steps` times.

    Raises
    ------
    InputError
        Where sunset leaves no working day; of more setups than a day can hold, when its order is
        asked for.
    """
    tell("sun through openings, on marks")
    setups, clock = tuple(resolve(location)), working_day(location, day)
    # Flags, and cutting up the rooms, take as long as all the rest here.
    with Workers(2) as workers:
        lit = workers.start(faces, location, setups)
        hung = workers.start(day_flags, location, setups, clock)
        entries = day_entries(location, day)
        patches = {}
        for room in location.room:
            tell(f"patches: {room.name}")
            patches[room.name] = patches_by_hour(location, room, entries)
        tell("patches: the whole day")
        by_step = time_steps(location, moments(location, entries, clock))
        tell("light")
        weathers = [Weather(name) for name in skies]
        step_skies = skies_by_weather(location, by_step.moments_s, weathers)
        fits = matching_intervals(location, setups, [day], weathers)
        shown = chart_moments(*entries.sun.dawn_to_dark(day, location.timezone))
        courses = window_series(location, setups, shown, weathers)
        flags, rooms = hung.result(), lit.result()
    return Plan(
        location=location,
        setups=setups,
        entries=entries,
        clock=clock,
        patches=patches,
        steps=by_step,
        flags=tuple(flags),
        skies=step_skies,
        rooms=tuple(rooms),
        fits=tuple(fits),
        courses=tuple(courses),
        packed_for=tuple(skies[:1]),
        exteriors=tuple(exteriors(location, day)),
    )


def steps(location: Location) -> int:
    """How often `plan` tells what it does."""
    return 3 + len(location.room)
