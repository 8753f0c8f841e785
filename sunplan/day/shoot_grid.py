"""Setups at the moments of a day at which shooting may start: what each takes, what each costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np

from ..light.daylight import Weather
from ..light.face import Faces
from ..light.resolved import ResolvedSetup
from ..location.read import Location
from ..rig import minutes
from ..rig.flags import FlagOption, SetupFlags
from ..rig.stretch_levels import StretchLevels, stretch_levels
from ..sun.almanac import SunTimes, sun_times_of
from ..sun.local_time import MINUTE_S, QUARTER_S, clock_to_unix
from ..sun.position import Floats
from ..sun.search import Bools
from .rigging_plan import RiggingPlan, rigging_plans
from .sequence import SequenceCosts
from .working_day import WorkingDay

FITS_MINUTES = 0.01  # what rounding may overrun
# What a stop that the picture loses counts as, in minutes of rigging. Choices, no source.
PICTURE_MINUTES = {"time": 4.0, "picture": 24.0}
FINE_S = 300.0  # between starts near sunrise and sunset
NEAR_S = 2700.0  # that near
FINE_SETUPS = 10  # more are solved on quarter hours alone, to stay fast


@dataclass(frozen=True, eq=False)
class ShootGrid:
    """Setups (N) at moments (T) at which their shooting may start.

    Attributes
    ----------
    location, day
        The place and the local date.
    setups
        (N,).
    moments
        Seconds since 1970 UTC, (T,); those outside `clock` count as shut.
    plans
        What each takes from each moment on, (N, T).
    clock
        When people are there.
    """

    location: Location
    day: date
    setups: tuple[ResolvedSetup, ...]
    moments: Floats
    plans: tuple[tuple[RiggingPlan, ...], ...]
    clock: WorkingDay

    @property
    def stop_minutes(self) -> float:
        """What a stop that the picture loses counts as, in minutes of rigging."""
        return PICTURE_MINUTES[self.location.day.prefer]

    @cached_property
    def picture_minutes(self) -> Floats:
        """What each setup's picture loses, as minutes, (N, T)."""
        lost = [[plan.picture.stops for plan in row] for row in self.plans]
        return self.stop_minutes * np.array(lost).reshape(len(self.setups), len(self.moments))

    @cached_property
    def hanging(self) -> tuple[Floats, Floats]:
        """Which jobs (L) hang for setups at moments, 0 or 1, (N, T, L); their minutes (L,)."""
        minutes_of: dict[str, float] = {}
        for row in self.plans:
            for plan in row:
                for job in plan.jobs:
                    minutes_of.setdefault(job.label, job.minutes)
        column = {label: index for index, label in enumerate(minutes_of)}
        hangs = np.zeros((len(self.plans), len(self.moments), len(column)))
        for index, row in enumerate(self.plans):
            for moment, plan in enumerate(row):
                hangs[index, moment, [column[job.label] for job in plan.jobs]] = 1.0
        return hangs, np.array(list(minutes_of.values()))

    @cached_property
    def full_minutes(self) -> Floats:
        """To rig each from nothing, (N, T)."""
        hangs, spent = self.hanging
        full: Floats = hangs @ spent
        return full

    @cached_property
    def down_minutes(self) -> Floats:
        """To take each down, (N, T)."""
        return minutes.of("strike") * self.full_minutes

    @cached_property
    def ends(self) -> Floats:
        """When each is shot, (N, T)."""
        spent = 60.0 * np.array([setup.minutes for setup in self.setups])
        return self.moments + spent[:, None]

    @cached_property
    def free(self) -> Bools:
        """Whether each may be shot from each moment on: hours, lunch, its own hours, (N, T)."""
        free = self.clock.free(np.broadcast_to(self.moments, self.ends.shape), self.ends)
        sun = sun_times_of(self.location, self.day)
        for index, setup in enumerate(self.setups):
            free[index] &= self._own_hours(setup, self.ends[index], sun)
        return free

    def _own_hours(self, setup: ResolvedSetup, ends: Floats, sun: SunTimes) -> Bools:
        """Whether a setup's own hours allow each moment, (T,)."""
        allowed = np.ones(len(self.moments), dtype=bool)
        zone = self.location.timezone
        if setup.start is not None:
            allowed &= np.abs(self.moments - clock_to_unix(self.day, setup.start, zone)) < 1.0
        if setup.after is not None:
            allowed &= self.moments >= clock_to_unix(self.day, setup.after, zone) - 1.0
        if setup.before is not None:
            allowed &= ends <= clock_to_unix(self.day, setup.before, zone) + 1.0
        if setup.after_sunset is not None:
            first_s = np.inf if sun.set is None else sun.set + 60.0 * setup.after_sunset
            allowed &= self.moments >= first_s - 1.0
        return allowed

    @cached_property
    def costs(self) -> SequenceCosts:
        """Minutes of rigging and striking, and what the picture loses, as minutes."""
        hangs, spent = self.hanging
        kept = np.einsum("atl,l,bul->atbu", hangs, spent, hangs, optimize=True)
        rooms = np.array([setup.room for setup in self.setups])
        same_room = rooms[:, None] == rooms
        kept *= same_room[:, None, :, None]
        over = np.where(same_room, 0.0, minutes.of("room"))[:, None, :, None]
        full, free, down = self.full_minutes, self.free, self.down_minutes
        rig = full[None, None] - kept + over
        strike = minutes.of("strike") * (full[:, :, None, None] - kept)
        worked_from = np.broadcast_to(self.clock.worked(self.moments), full.shape)
        worked_to = self.clock.worked(self.ends)
        between = worked_from[None, None] - worked_to[:, :, None, None]
        enough = between >= rig + strike - FITS_MINUTES
        enough &= free[:, :, None, None] & free[None, None]
        wrap = self.clock.worked(np.array([self.clock.wrap_s]))[0]
        in_time = worked_to + down <= wrap + FITS_MINUTES
        lost = self.picture_minutes
        first = np.where(free & (worked_from >= full - FITS_MINUTES), full + lost, np.inf)
        matching = (setup.match for setup in self.setups if setup.match is not None)
        groups = list(dict.fromkeys(matching))
        return SequenceCosts(
            first=first,
            then=np.where(enough, rig + strike + lost[None, None], np.inf),
            last=np.where(free & in_time, down, np.inf),
            priority=np.array([setup.priority for setup in self.setups]),
            together=[
                -1 if setup.match is None else groups.index(setup.match) for setup in self.setups
            ],
        )


@dataclass(frozen=True, eq=False)
class DayLight:
    """What plans are made from: the light of the setups' rooms, their flags, the skies."""

    location: Location
    rooms: Sequence[Faces]
    flags: Sequence[SetupFlags]
    weathers: Sequence[Weather]

    def plans(
        self,
        setups: Sequence[ResolvedSetup],
        moments: Floats,
        *,
        tell: Callable[[str], None] = lambda _: None,
    ) -> tuple[tuple[RiggingPlan, ...], ...]:
        """Every setup (N) at every moment (T), (N, T)."""
        return tuple(self.row(light, moments, tell=tell) for light in self.levels(setups, moments))

    def levels(self, setups: Sequence[ResolvedSetup], moments: Floats) -> list[StretchLevels]:
        """The light of setups that start at moments, one a setup."""
        ends = [moments + MINUTE_S * setup.minutes for setup in setups]
        span = np.unique(np.concatenate([moments, *ends])).tolist()
        return stretch_levels(self.location, setups, self.rooms, span, self.weathers)

    def row(
        self,
        light: StretchLevels,
        moments: Floats,
        *,
        tents: bool = True,
        tell: Callable[[str], None] = lambda _: None,
    ) -> tuple[RiggingPlan, ...]:
        """One setup at every moment, (T,)."""
        setup = light.setup
        tell(setup.name)
        ends = moments + MINUTE_S * setup.minutes
        return tuple(rigging_plans(light, self._flags_of(setup), moments, ends, tents=tents))

    def _flags_of(self, setup: ResolvedSetup) -> Sequence[FlagOption]:
        return next(flags.taken for flags in self.flags if flags.setup.name == setup.name)


def shoot_moments(
    location: Location,
    setups: Sequence[ResolvedSetup],
    day: date,
    start_s: float,
    end_s: float,
    *,
    fine: bool = True,
) -> Floats:
    """The moments from start to end at which shooting may start, seconds since 1970 UTC, (T,).

    Quarter hours, if `fine` every five minutes near sunrise and sunset, and when a setup must
    start, may first start or must start at the latest.
    """
    zone, sun = location.timezone, sun_times_of(location, day)
    moments = [_even(start_s, end_s, QUARTER_S)]
    turns = [turn for turn in (sun.rise, sun.set) if turn is not None]
    if fine and len(setups) <= FINE_SETUPS:
        moments += [_even(turn - NEAR_S, turn + NEAR_S, FINE_S) for turn in turns]
    for setup in setups:
        own = [clock_to_unix(day, clock, zone) for clock in (setup.start, setup.after) if clock]
        if setup.before is not None:
            own.append(clock_to_unix(day, setup.before, zone) - MINUTE_S * setup.minutes)
        if setup.after_sunset is not None and sun.set is not None:
            own.append(MINUTE_S * np.ceil((sun.set / MINUTE_S) + setup.after_sunset))
        moments.append(np.array(own))
    every = np.unique(np.concatenate(moments))
    return every[(every >= start_s) & (every <= end_s)]


def _even(start_s: float, end_s: float, step_s: float) -> Floats:
    """Whole steps since 1970 from start to end."""
    steps = np.arange(np.ceil(start_s / step_s - 1e-9), np.floor(end_s / step_s + 1e-9) + 1)
    whole: Floats = step_s * steps
    return whole
