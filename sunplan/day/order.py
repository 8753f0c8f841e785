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
from ..rig.stretch_levels import stretch_levels
from ..sun.local_time import DAY_S, QUARTER_S, clock_to_unix, even_moments, to_local
from ..sun.position import Floats
from ..sun.track import track_over
from .rigging_plan import RiggingPlan, rigging_plans
from .sequence import SequenceCosts, Sequenced, best
from .working_day import WorkingDay, working_day

FITS_MINUTES = 0.01  # what rounding may overrun
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

    `cost` is what those shot come to, in minutes, stops in it.
    """

    turns: tuple[Turn, ...]
    dropped: tuple[ResolvedSetup, ...]
    last_strike_minutes: float
    cost: float

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
        return {
            "rigging": self.rig_minutes,
            "striking": self.strike_minutes,
            "picture": sum(turn.rigging.off_minutes for turn in self.turns),
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
    def stops(self) -> float:
        """How many stops all windows in frame are off together, before anything is hung."""
        return sum(turn.rigging.stops for turn in self.turns)


@dataclass(frozen=True, eq=False)
class Ordered:
    """The best order of a day, and the best that keeps the file's; `clock`: when people are there.

    `dusky` are setups of the best order that all want the same dusk; `apart_deg` says by group that
    must match how far the sun moves between its first start and its last end.
    """

    best: Order
    as_filed: Order
    clock: WorkingDay
    dusky: tuple[ResolvedSetup, ...]
    apart_deg: dict[str, float]

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
    clock = working_day(location, day)
    zone = location.timezone
    # Shooting starts on quarter hours, or when it must.
    pinned = [clock_to_unix(day, setup.start, zone) for setup in setups if setup.start]
    moments = np.unique([*even_moments(clock.call_s, clock.wrap_s, QUARTER_S), *pinned])
    light = faces(location, setups) if rooms is None else rooms
    hung = day_flags(location, setups, clock) if flags is None else flags
    plans = _rigging_plans(location, setups, moments, weathers, light, hung, tell)
    return arranged(location, setups, plans, moments, clock, day)


def arranged(
    location: Location,
    setups: Sequence[ResolvedSetup],
    plans: Sequence[Sequence[RiggingPlan]],
    moments: Floats,
    clock: WorkingDay,
    day: date,
) -> Ordered:
    """The best order of setups (N), of which is known what each takes at each moment (T).

    Parameters
    ----------
    plans
        (N, T): each setup from each moment on.
    moments
        Seconds since 1970 UTC, (T,).
    """
    costs = _costs(setups, plans, moments, clock, day, location.timezone)
    whole = _order(setups, plans, best(costs))
    forward = np.array(costs.then)
    for before in range(len(setups)):
        forward[before, :, : before + 1] = np.inf
    return Ordered(
        best=whole,
        as_filed=_order(setups, plans, best(replace(costs, then=forward))),
        clock=clock,
        dusky=_dusky(location, whole, clock),
        apart_deg=_apart(location, whole, clock),
    )


def day_flags(
    location: Location, setups: Sequence[ResolvedSetup], clock: WorkingDay
) -> list[SetupFlags]:
    """The flags that setups want from call to wrap, in their order."""
    start_s, end_s = clock.call_s, clock.wrap_s
    return [setup_flags(location, setup, start_s=start_s, end_s=end_s) for setup in setups]


def _rigging_plans(
    location: Location,
    setups: Sequence[ResolvedSetup],
    moments: Floats,
    weathers: Sequence[Weather],
    rooms: Sequence[Faces],
    flags: Sequence[SetupFlags],
    tell: Callable[[str], None],
) -> list[list[RiggingPlan]]:
    """Every setup at every moment."""
    hung = {setup_flags.setup.name: setup_flags.taken for setup_flags in flags}
    ends = [moments + 60.0 * setup.minutes for setup in setups]
    span = np.unique(np.concatenate([moments, *ends])).tolist()
    plans = []
    for light in stretch_levels(location, setups, rooms, span, weathers):
        setup = light.setup
        tell(setup.name)
        ends_s = moments + 60.0 * setup.minutes
        plans.append(rigging_plans(light, hung[setup.name], moments, ends_s))
    return plans


def _costs(
    setups: Sequence[ResolvedSetup],
    plans: Sequence[Sequence[RiggingPlan]],
    moments: Floats,
    clock: WorkingDay,
    day: date,
    zone: str,
) -> SequenceCosts:
    """Costs in minutes: rigging, striking, and the stops that windows are off."""
    hangs, spent = _hanging(plans, len(moments))
    full = hangs @ spent
    kept = np.einsum("atl,l,bul->atbu", hangs, spent, hangs, optimize=True)
    rooms = np.array([setup.room for setup in setups])
    same_room = rooms[:, None] == rooms
    kept *= same_room[:, None, :, None]
    over = np.where(same_room, 0.0, minutes.of("room"))[:, None, :, None]
    rig = full[None, None] - kept + over
    strike = minutes.of("strike") * (full[:, :, None, None] - kept)
    stops = np.array([[plan.off_minutes for plan in row] for row in plans])
    starts = np.tile(moments, (len(setups), 1))
    ends = starts + 60.0 * np.array([setup.minutes for setup in setups])[:, None]
    free = clock.free(starts, ends)
    for index, setup in enumerate(setups):
        if setup.start is not None:
            free[index] &= np.abs(moments - clock_to_unix(day, setup.start, zone)) < 1.0
    worked_from, worked_to = clock.worked(starts), clock.worked(ends)
    enough = worked_from[None, None] - worked_to[:, :, None, None] >= rig + strike - FITS_MINUTES
    enough &= free[:, :, None, None] & free[None, None]
    down = minutes.of("strike") * full
    in_time = worked_to + down <= clock.worked(np.array([clock.wrap_s]))[0] + FITS_MINUTES
    first = np.where(free & (worked_from >= full - FITS_MINUTES), full + stops, np.inf)
    groups = list(dict.fromkeys(setup.match for setup in setups if setup.match is not None))
    return SequenceCosts(
        first=first,
        then=np.where(enough, rig + strike + stops[None, None], np.inf),
        last=np.where(free & in_time, down, np.inf),
        priority=np.array([setup.priority for setup in setups]),
        together=[-1 if setup.match is None else groups.index(setup.match) for setup in setups],
    )


def _hanging(plans: Sequence[Sequence[RiggingPlan]], count: int) -> tuple[Floats, Floats]:
    """Which jobs (L) hang for setups (N) at moments (T), 0 or 1, (N, T, L); their minutes (L,)."""
    minutes_of: dict[str, float] = {}
    for row in plans:
        for plan in row:
            for job in plan.jobs:
                minutes_of.setdefault(job.label, job.minutes)
    column = {label: index for index, label in enumerate(minutes_of)}
    hangs = np.zeros((len(plans), count, len(column)))
    for index, row in enumerate(plans):
        for moment, plan in enumerate(row):
            hangs[index, moment, [column[job.label] for job in plan.jobs]] = 1.0
    return hangs, np.array(list(minutes_of.values()))


def _order(
    setups: Sequence[ResolvedSetup], plans: Sequence[Sequence[RiggingPlan]], sequence: Sequenced
) -> Order:
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
