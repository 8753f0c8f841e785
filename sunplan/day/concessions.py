"""What to give up so that a setup fits that the day has no time for, each solved again."""

from __future__ import annotations

import bisect
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from ..light.resolved import ResolvedSetup
from ..rig.flags import setup_flags
from ..rig.stretch_levels import StretchLevels
from ..room.camera import aim_point
from ..sun.local_time import HOUR_S, MINUTE_S
from ..sun.position import Floats
from .rigging_plan import RiggingPlan
from .sequence import Sequenced, Sequences, sequences
from .shoot_grid import FITS_MINUTES, DayLight, ShootGrid, shoot_moments
from .working_day import WorkingDay

LATER_S, EARLIER_S = 3.0 * HOUR_S, 2.0 * HOUR_S  # as far as wrap and call are tried
STEP_MINUTES = 5  # in which wrap, call and a setup's minutes are moved
LEAST_SHARE = 0.5  # of a setup's minutes that it is still worth shooting in; a choice, no source
MOST_SOLVED = 10  # setups; for more only wrap and the scenes that may be dropped are tried
Plans = tuple[tuple[RiggingPlan, ...], ...]
Change = Literal["wrap", "call", "minutes", "curtain", "pan", "drop"]


@dataclass(frozen=True)
class Concession:
    """One change with which a setup fits; it was solved again with the change made.

    Attributes
    ----------
    change
        What is changed.
    detail
        What of it: the setup, the windows.
    before, after
        From what to what: seconds since 1970 UTC of wrap and call, minutes, degrees to the right of
        a pan, the window treatment, the setup's minutes or 0 where it is dropped.
    """

    change: Change
    detail: str
    before: float | str
    after: float | str


@dataclass(frozen=True)
class DoesNotFit:
    """A setup that the day has no time for.

    `short_minutes`: the least by which wrap must be later for it to fit beside those that are shot;
    None where `LATER_S` does not do. Where others are left out too, the best order of that later
    day may still take one of them instead; then no concession says wrap.
    """

    setup: ResolvedSetup
    short_minutes: int | None
    concessions: tuple[Concession, ...]


def does_not_fit(
    grid: ShootGrid, light: DayLight, levels: Sequence[StretchLevels], solved: Sequences
) -> tuple[DoesNotFit, ...]:
    """Every setup that the best order leaves out, and what would make it fit.

    Parameters
    ----------
    grid, solved
        The day, and the best sequence of every set of its setups.
    light, levels
        What its plans were made from.
    """
    shot = solved.best().order
    out = [index for index in range(len(grid.setups)) if index not in shot]
    if not out:
        return ()
    day = _Shortened(grid, light, levels, solved)
    return tuple(day.missing(index) for index in out)


@dataclass(frozen=True, eq=False)
class _Shortened:
    """A day that has no time for all its setups."""

    grid: ShootGrid
    light: DayLight
    levels: Sequence[StretchLevels]
    solved: Sequences

    def missing(self, index: int) -> DoesNotFit:
        """A setup, and what would make it fit; the cheapest kinds of change first."""
        clock = self.grid.clock
        found: list[Concession] = []
        least = self._least(self._later, index, LATER_S)
        if least is not None:
            later = self._verified(index, least, self._with_wrap, LATER_S)
            if later is not None:
                after = clock.wrap_s + 60.0 * later
                found.append(Concession("wrap", "", clock.wrap_s, after))
        if len(self.grid.setups) <= MOST_SOLVED:
            found += self._solved_again(index)
        concessions = (*found, *self._dropping(index))
        return DoesNotFit(self.grid.setups[index], self._short(index), concessions)

    def _short(self, index: int) -> int | None:
        """The least whole minutes that wrap must be later for it to fit beside those shot."""
        wanted, later = self._wanted(index), self._later.lowest
        sets = np.arange(len(later))
        least = float(later[sets & wanted == wanted].min())
        return None if math.isinf(least) else math.ceil(least - FITS_MINUTES)

    def _solved_again(self, index: int) -> Iterator[Concession]:
        clock, setup = self.grid.clock, self.grid.setups[index]
        early = self._least(self._earlier, index, EARLIER_S)
        if early is not None:
            sooner = self._verified(index, early, self._with_call, EARLIER_S)
            if sooner is not None:
                yield Concession("call", "", clock.call_s, clock.call_s - 60.0 * sooner)
        fewer = self._fewer_minutes(index)
        if fewer is not None:
            yield Concession("minutes", setup.name, setup.minutes, float(fewer))
        yield from self._curtain(index)
        yield from self._pan(index)

    @cached_property
    def wide(self) -> ShootGrid:
        """The same at moments before call and after wrap too; its `clock` is the day's own."""
        grid, clock = self.grid, self.grid.clock
        start_s, end_s = clock.call_s - EARLIER_S, clock.wrap_s + LATER_S
        moments = shoot_moments(grid.location, grid.setups, grid.day, start_s, end_s)
        longest = 60.0 * max(setup.minutes for setup in grid.setups)
        early = moments[moments < grid.moments[0]]
        late = moments[moments > grid.moments[-1]]
        before = self._plans(early, start_s, grid.moments[0] + longest)
        after = self._plans(late, grid.moments[-1], end_s + longest)
        rows = [[*a, *b, *c] for a, b, c in zip(before, grid.plans, after, strict=True)]
        return replace(
            grid,
            moments=np.concatenate([early, grid.moments, late]),
            plans=tuple(map(tuple, rows)),
        )

    def _plans(self, moments: Floats, start_s: float, end_s: float) -> Plans:
        """Plans of all setups at moments outside the day's hours, with the flags of then."""
        setups = self.grid.setups
        if not len(moments):
            return ((),) * len(setups)
        flags = [
            setup_flags(self.light.location, setup, start_s=start_s, end_s=end_s)
            for setup in setups
        ]
        return replace(self.light, flags=flags).plans(setups, moments)

    def _moved(self, *, call_s: float = 0.0, wrap_s: float = 0.0) -> ShootGrid:
        """The wide grid with call earlier and wrap later by so much."""
        clock = self.grid.clock
        moved = WorkingDay(clock.call_s - call_s, clock.wrap_s + wrap_s, clock.lunch_s)
        return replace(self.wide, clock=moved)

    def _with_wrap(self, minutes: int) -> ShootGrid:
        return self._moved(wrap_s=60.0 * minutes)

    def _with_call(self, minutes: int) -> ShootGrid:
        return self._moved(call_s=60.0 * minutes)

    @cached_property
    def _later(self) -> Sequences:
        """What each set of setups costs in minutes that wrap is later."""
        grid = self._moved(wrap_s=LATER_S)
        clock, own = grid.clock, self.grid.clock
        wrap = clock.worked(np.array([own.wrap_s]))[0]
        over = np.maximum(clock.worked(grid.ends) + grid.down_minutes - wrap, 0.0)
        costs = grid.costs
        return sequences(
            replace(
                costs,
                first=_possible(costs.first),
                then=_possible(costs.then),
                last=np.where(np.isfinite(costs.last), over, np.inf),
            )
        )

    @cached_property
    def _earlier(self) -> Sequences:
        """What each set of setups costs in minutes that call is earlier."""
        grid = self._moved(call_s=EARLIER_S)
        before = np.maximum(grid.full_minutes - self.grid.clock.worked(grid.moments), 0.0)
        costs = grid.costs
        return sequences(
            replace(
                costs,
                first=np.where(np.isfinite(costs.first), before, np.inf),
                then=_possible(costs.then),
                last=_possible(costs.last),
            )
        )

    def _least(self, moved: Sequences, index: int, most_s: float) -> int | None:
        """The fewest whole minutes at which all sets worth most hold the setup and those shot."""
        wanted = self._wanted(index)
        for minutes in range(1, int(most_s / MINUTE_S) + 1):
            top = moved.top(minutes + FITS_MINUTES)
            if (top & wanted == wanted).all():
                return minutes
        return None

    def _wanted(self, index: int) -> int:
        """The set of a setup and all that are shot."""
        return _set(self.shot) | 1 << index

    @cached_property
    def shot(self) -> tuple[int, ...]:
        """What the best order holds."""
        return self.solved.best().order

    def _fits(self, grid: ShootGrid, index: int) -> Sequenced | None:
        """The best sequence of a changed day, where it holds the setup and all that were shot."""
        best = sequences(grid.costs).best()
        wanted = self._wanted(index)
        return best if _set(best.order) & wanted == wanted else None

    def _verified(
        self, index: int, least: int, moved: Callable[[int], ShootGrid], most_s: float
    ) -> int | None:
        """The first step of the clock from some minutes on at which the day, solved again, fits."""
        first = STEP_MINUTES * math.ceil(least / STEP_MINUTES)
        for minutes in range(first, int(most_s / MINUTE_S) + 1, STEP_MINUTES):
            if self._fits(moved(minutes), index) is not None:
                return minutes
        return None

    def _with_row(self, index: int, setup: ResolvedSetup, row: Sequence[RiggingPlan]) -> ShootGrid:
        """The day with one setup changed."""
        setups, plans = list(self.grid.setups), list(self.grid.plans)
        setups[index], plans[index] = setup, tuple(row)
        return replace(self.grid, setups=tuple(setups), plans=tuple(plans))

    def _fewer_minutes(self, index: int) -> int | None:
        """The most minutes to shoot it in which it fits, rigged as for all its own."""
        setup = self.grid.setups[index]
        most = math.ceil(setup.minutes / STEP_MINUTES) - 1
        steps = range(math.ceil(LEAST_SHARE * setup.minutes / STEP_MINUTES), most + 1)

        def misses(step: int) -> bool:
            fewer = setup.model_copy(update={"minutes": float(STEP_MINUTES * step)})
            grid = self._with_row(index, fewer, self.grid.plans[index])
            return self._fits(grid, index) is None

        fitting = bisect.bisect_left(steps, True, key=misses)
        return STEP_MINUTES * steps[fitting - 1] if fitting else None

    def _curtain(self, index: int) -> Iterator[Concession]:
        """A curtain in place of each tent, where one does."""
        row, moments = self.grid.plans[index], self.grid.moments
        if not any(_actions(plan, "tent") for plan in row):
            return
        curtained = self.light.row(self.levels[index], moments, tents=False)
        rows = [
            tented if drawn.unsolved or drawn.too_dark else drawn
            for tented, drawn in zip(row, curtained, strict=True)
        ]
        fits = self._fits(self._with_row(index, self.grid.setups[index], rows), index)
        if fits is None:
            return
        plan = rows[fits.starts[fits.order.index(index)]]
        hung = [
            f"{treated.window.hang} before {treated.opening.name}"
            for treated in plan.treated.openings
            if treated.window is not None and treated.action == "dressing"
        ]
        if hung:
            yield Concession("curtain", ", ".join(hung), "tent", "dressing")

    def _pan(self, index: int) -> Iterator[Concession]:
        """The least pan that takes windows out of frame and makes it fit."""
        setup, seen = self.grid.setups[index], self.levels[index].by_minute[0].windows
        pans = {
            math.copysign(math.ceil(abs(window.pan_deg)), window.pan_deg)
            for window in seen
            if window.pan_deg is not None
        }
        for pan_deg in sorted(pans, key=abs):
            panned = _panned(setup, pan_deg)
            if not panned.view.in_frame(seen[0].face[None])[0]:
                continue
            (levels,) = self.light.levels([panned], self.grid.moments)
            row = self.light.row(levels, self.grid.moments)
            if self._fits(self._with_row(index, panned, row), index) is not None:
                shown = {window.opening.name for window in levels.by_minute[0].windows}
                hidden = [
                    window.opening.name for window in seen if window.opening.name not in shown
                ]
                hidden += _practicals(setup, panned)
                yield Concession("pan", ", ".join(hidden), 0.0, pan_deg)
                return

    def _dropping(self, index: int) -> Iterator[Concession]:
        """Scenes of which one may be dropped instead, those of the least priority first."""
        setups, lowest = self.grid.setups, self.solved.lowest
        every, sets = self.solved.priority, np.arange(len(self.solved.lowest))
        rest = (other for other in self.shot)
        for other in sorted(rest, key=lambda n: (setups[n].priority, setups[n].minutes)):
            worth = np.where(np.isfinite(lowest) & (sets >> other & 1 == 0), every, -np.inf)
            top = np.flatnonzero(worth >= worth.max() - 1e-9)
            best = int(top[np.argmin(lowest[top])])
            wanted = self._wanted(index) & ~(1 << other)
            if best & wanted == wanted:
                yield Concession("drop", setups[other].name, setups[other].minutes, 0.0)


def _set(order: Sequence[int]) -> int:
    return sum(1 << setup for setup in order)


def _possible(costs: Floats) -> Floats:
    """Nothing where it can be done, infinite where not."""
    return np.where(np.isfinite(costs), 0.0, np.inf)


def _actions(plan: RiggingPlan, action: str) -> bool:
    return any(treated.action == action for treated in plan.treated.openings)


def _panned(setup: ResolvedSetup, pan_deg: float) -> ResolvedSetup:
    """A setup with its camera turned to the right by so much, at the same height of aim."""
    x, y, height = aim_point(setup.in_room, setup)
    (from_x, from_y), turn = setup.camera.at, math.radians(-pan_deg)
    off_x, off_y = x - from_x, y - from_y
    toward = (
        from_x + off_x * math.cos(turn) - off_y * math.sin(turn),
        from_y + off_x * math.sin(turn) + off_y * math.cos(turn),
        height,
    )
    own = {name: getattr(setup, name) for name in ResolvedSetup.model_fields}
    camera = setup.camera.model_copy(update={"toward": toward})
    return ResolvedSetup.model_construct(**own | {"camera": camera})


def _practicals(setup: ResolvedSetup, panned: ResolvedSetup) -> list[str]:
    """Lamps in frame that a pan takes out."""
    floor = setup.in_room.floor
    names = []
    for practical in setup.in_room.practical:
        middle = np.array([[*practical.at, floor + practical.height]])
        if setup.view.in_frame(middle)[0] and not panned.view.in_frame(middle)[0]:
            names.append(practical.name)
    return names
