"""Which order: the day's setups so that nature does the work and the least is rigged twice."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from ..light.daylight import Weather
from ..light.face import Faces, faces
from ..light.resolved import ResolvedSetup
from ..location.read import Location
from ..rig import minutes
from ..rig.flags import SetupFlags, setup_flags
from ..rig.needs import Job
from ..sun.local_time import DAY_S, to_local
from ..sun.track import track_over
from .concessions import DoesNotFit, does_not_fit
from .rigging_plan import RiggingPlan
from .sequence import Sequenced, Sequences, best, expect_few, sequences
from .shoot_grid import DayLight, ShootGrid, shoot_moments
from .working_day import WorkingDay, working_day

DROPPED_MINUTES = 1000.0  # what a setup of priority 1 counts as that does not fit; a choice
DUSK_DEG = (-8.0, 1.0)  # of the sun: the light that comes once a day


@dataclass(frozen=True, eq=False)
class Turn:
    """A setup's turn in the order: what hangs then, and what changes before it.

    `hangs` are the jobs done for the setup before that this one wants as well.
    """

    rigging: RiggingPlan
    strike_minutes: float
    rig_minutes: float
    hangs: tuple[Job, ...]


@dataclass(frozen=True, eq=False)
class Order:
    """A day's order; `dropped` are setups that do not fit.

    `cost` is what those shot come to, in minutes, a stop that the picture loses as `stop_minutes`.
    """

    turns: tuple[Turn, ...]
    dropped: tuple[ResolvedSetup, ...]
    last_strike_minutes: float
    cost: float
    stop_minutes: float

    @property
    def rig_minutes(self) -> float:
        """Of all setups."""
        return sum(turn.rig_minutes for turn in self.turns)

    @property
    def strike_minutes(self) -> float:
        """Of all setups, the last one too."""
        return sum(turn.strike_minutes for turn in self.turns) + self.last_strike_minutes

    def setups(self, timezone: str) -> tuple[ResolvedSetup, ...]:
        """The setups in this order, each with the clock time it starts at, local to `timezone`."""
        return tuple(
            turn.rigging.setup.model_copy(
                update={"start": to_local(turn.rigging.start_s, timezone).time()}
            )
            for turn in self.turns
        )

    @property
    def parts(self) -> dict[str, float]:
        """What the score is the sum of, in minutes of rigging or what counts as so many."""
        losses = [turn.rigging.picture for turn in self.turns]
        return {
            "rigging": self.rig_minutes,
            "striking": self.strike_minutes,
            "off_look": self.stop_minutes * sum(loss.off_look for loss in losses),
            "treatments": self.stop_minutes * sum(loss.treatments for loss in losses),
            "false_hour": self.stop_minutes * sum(loss.false_hour for loss in losses),
            "does_not_fit": DROPPED_MINUTES * sum(setup.priority for setup in self.dropped),
        }

    @property
    def score(self) -> float:
        """What the whole day comes to; lower is better, of this date and of others."""
        return sum(self.parts.values())

    def ready_s(self, turn: Turn, clock: WorkingDay) -> float:
        """When all hangs for a turn, if rigging starts as soon as the one before is shot."""
        number = self.turns.index(turn)
        begin = clock.call_s if number == 0 else self.turns[number - 1].rigging.end_s
        return clock.after(begin, turn.strike_minutes + turn.rig_minutes)

    @property
    def picture_stops(self) -> float:
        """What the picture loses in all, stops."""
        return sum(turn.rigging.picture.stops for turn in self.turns)

    @property
    def stops(self) -> float:
        """How many stops all windows in frame are off together, before anything is hung."""
        return sum(turn.rigging.stops for turn in self.turns)


@dataclass(frozen=True, eq=False)
class Ordered:
    """The best order of a day, and the best that keeps the file's; `clock`: when people are there.

    `timezone` is that of the place.

    `dusky` are setups of the best order that all want the same dusk; `apart_deg` says by group that
    must match how far the sun moves between its first start and its last end. `missing` says of
    each setup that the best order leaves out what would make it fit, where that was asked.
    """

    best: Order
    as_filed: Order
    clock: WorkingDay
    timezone: str
    dusky: tuple[ResolvedSetup, ...]
    apart_deg: dict[str, float]
    missing: tuple[DoesNotFit, ...] = ()

    @property
    def end_s(self) -> float:
        """When everything of the best order is down."""
        if not self.best.turns:
            return self.clock.call_s
        last = self.best.turns[-1].rigging
        return self.clock.after(last.end_s, self.best.last_strike_minutes)


def order(
    location: Location,
    setups: Sequence[ResolvedSetup],
    day: date,
    *,
    weathers: Sequence[Weather],
    rooms: Sequence[Faces] | None = None,
    flags: Sequence[SetupFlags] | None = None,
    concessions: bool = True,
    tell: Callable[[str], None] = lambda _: None,
) -> Ordered:
    """The best order of setups on a local date, and the best that keeps the one given.

    Parameters
    ----------
    weathers
        What hangs must do under all of them.
    rooms
        Saves working out the light of their rooms again.
    flags
        Those that the setups want from call to wrap, in their order, where they are known.
    concessions
        Whether to work out what would make those fit that do not.
    tell
        Hears each setup's name as it is worked out.

    Raises
    ------
    InputError
        Of more setups than a day can hold, or where sunset leaves no working day.

    Examples
    --------
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> house = read("locations/lock-house.toml")
    >>> night = [resolve(house)[0]]
    >>> ordered = order(house, night, date(2027, 3, 20), weathers=[Weather("clear")])
    >>> [turn.rigging.setup.name for turn in ordered.best.turns], ordered.best.dropped
    (['reading the gauge'], ())
    """
    expect_few(len(setups))
    clock = working_day(location, day)
    light = DayLight(
        location,
        faces(location, setups) if rooms is None else rooms,
        day_flags(location, setups, clock) if flags is None else flags,
        weathers,
    )
    moments = shoot_moments(location, setups, day, clock.call_s, clock.wrap_s)
    levels = light.levels(setups, moments)
    plans = tuple(light.row(of_setup, moments, tell=tell) for of_setup in levels)
    grid = ShootGrid(location, day, tuple(setups), moments, plans, clock)
    solved = sequences(grid.costs)
    arranged = arrange(grid, solved)
    if not concessions:
        return arranged
    return replace(arranged, missing=does_not_fit(grid, light, levels, solved))


def arrange(grid: ShootGrid, solved: Sequences | None = None) -> Ordered:
    """The best order of setups of which is known what each takes at each moment.

    Parameters
    ----------
    solved
        The best sequence of every set of them, where it is known.
    """
    location, clock = grid.location, grid.clock
    whole = _order(grid, best(grid.costs) if solved is None else solved.best())
    forward = np.array(grid.costs.then)
    for before in range(len(grid.setups)):
        forward[before, :, : before + 1] = np.inf
    return Ordered(
        best=whole,
        as_filed=_order(grid, best(replace(grid.costs, then=forward))),
        clock=clock,
        timezone=location.timezone,
        dusky=_dusky(location, whole, clock),
        apart_deg=_apart(location, whole, clock),
    )


def best_order(grid: ShootGrid) -> Order:
    """The best order alone, without the file's own beside it."""
    return _order(grid, best(grid.costs))


def day_flags(
    location: Location, setups: Sequence[ResolvedSetup], clock: WorkingDay
) -> list[SetupFlags]:
    """The flags that setups want from call to wrap, in their order."""
    start_s, end_s = clock.call_s, clock.wrap_s
    return [setup_flags(location, setup, start_s=start_s, end_s=end_s) for setup in setups]


def _order(grid: ShootGrid, sequence: Sequenced) -> Order:
    setups, plans = grid.setups, grid.plans
    turns: list[Turn] = []
    for index, start in zip(sequence.order, sequence.starts, strict=True):
        plan = plans[index][start]
        before = turns[-1].rigging if turns else None
        same = before is not None and before.setup.room == plan.setup.room
        hanging = {job.label for job in before.jobs} if before is not None and same else set()
        hangs = tuple(job for job in plan.jobs if job.label in hanging)
        kept = sum(job.minutes for job in hangs)
        over = 0.0 if before is None or same else minutes.of("room")
        strike = 0.0 if before is None else minutes.of("strike") * (before.minutes - kept)
        turns.append(Turn(plan, strike, plan.minutes - kept + over, hangs))
    return Order(
        turns=tuple(turns),
        dropped=tuple(setup for index, setup in enumerate(setups) if index not in sequence.order),
        last_strike_minutes=minutes.of("strike") * turns[-1].rigging.minutes if turns else 0.0,
        cost=sequence.cost,
        stop_minutes=grid.stop_minutes,
    )


def _dusky(location: Location, whole: Order, clock: WorkingDay) -> tuple[ResolvedSetup, ...]:
    """Setups shot in the one dusk that play in it, where there is more than one."""
    track = track_over(location, clock.call_s, clock.wrap_s + DAY_S)
    dusky = []
    for turn in whole.turns:
        if turn.rigging.setup.plays in ("dusk", "evening"):
            height = track.true_altitude_deg(np.array([turn.rigging.start_s, turn.rigging.end_s]))
            if height.min() < DUSK_DEG[1] and height.max() > DUSK_DEG[0]:
                dusky.append(turn.rigging.setup)
    return tuple(dusky) if len(dusky) > 1 else ()


def _apart(location: Location, whole: Order, clock: WorkingDay) -> dict[str, float]:
    """How far the sun moves, degrees, while setups that must match are shot."""
    apart: dict[str, float] = {}
    track = track_over(location, clock.call_s, clock.wrap_s + DAY_S)
    for group in dict.fromkeys(turn.rigging.setup.match for turn in whole.turns):
        shots = [turn.rigging for turn in whole.turns if turn.rigging.setup.match == group]
        if group is None or len(shots) < 2:
            continue
        ends = min(shot.start_s for shot in shots), max(shot.end_s for shot in shots)
        sun = track.at(np.array(ends))
        if sun.altitude_deg.max() <= 0:
            continue  # no sun, no patch to match
        first, last = sun.enu
        apart[group] = math.degrees(math.acos(float(np.clip(first @ last, -1.0, 1.0))))
    return apart
