"""What does a window in frame need? The one rule, for a moment and for a stretch of time alike.

A window is asked about by its brightest and its darkest in the time in question, both the same at a
moment. The first of these that does is taken; all who plan, rank or advise take it from here:

1. Leave it, where its brightest is not over its band.
2. Gel, the fewest layers, then the thinnest: so a window that falls with the light has the longest
   way through its band, and what holds for a stretch holds for any part of it. One that keeps the
   darkest in the band goes before one that does not (`too_dark`).
3. Where gel alone leaves a window undone that nobody can tent, and no black reads there: the
   exposure comes down (lens, ISO or a filter before it) and the key goes up as much, as far as it
   can, for all windows of the setup; so far that the fewest layers do, and no farther.
4. Black, where the look reads it as night; else a tent outside, where one can stand there.
5. A dressing drawn before it, with a layer of gel at most.
6. Nothing does it: another angle (`pan_deg` of `Window`) or another hour.

Where the sun itself stands in the window, that is done which its level asks for, and
`sun_in_frame` says so: black and tents stop it, nothing else does but another angle or hour.

A dressing comes last though it is quick: it puts cloth where the picture has a view, it is in no
kit, and the house may not have the rail. Where something else does, it is named beside it as
another way (`hung`), for whoever decides on the picture, and so is the lens where it would save a
layer (`closing`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, get_args

import numpy as np

from ..light import glass
from ..light.level_series import LevelSeries
from ..light.look import BAND_EDGE_STOPS, Look, over
from ..location.kit import Gel
from ..sun.position import Floats
from ..sun.search import Bools
from .gel_stacks import NO_STACK, GelStacks, Ints, gel_stacks

THIRD = 1.0 / 3.0  # of a stop: the steps that lenses and meters are marked in
Action = Literal["leave", "gel", "black", "tent", "dressing", "nothing does it"]
ACTIONS: tuple[Action, ...] = get_args(Action)
LEAVE, GEL, BLACK, TENT, DRESSING, NOTHING = range(len(ACTIONS))


@dataclass(frozen=True, eq=False)
class WindowLevels:
    """Windows (W) in frame at moments or through stretches (N): what the rule is asked about.

    Attributes
    ----------
    brightest, darkest
        Stops over mid-grey, (N, W).
    sun_in_frame
        Whether the sun itself stands in the window at any time, (N, W).
    hung
        Gives brightest and darkest with each of `glass.hangable_dressings()`, (N, W, D), asked
        for only where one may help.
    """

    brightest: Floats
    darkest: Floats
    sun_in_frame: Bools
    hung: Callable[[], tuple[Floats, Floats]]


def levels_at(series: LevelSeries) -> WindowLevels:
    """The windows of a series at each of its moments: brightest and darkest are the same."""
    return WindowLevels(
        series.stops,
        series.stops,
        series.sun_in_frame,
        lambda: (series.hung_stops, series.hung_stops),
    )


@dataclass(frozen=True, eq=False)
class WindowRule:
    """What a setup's windows (W) in frame are held against, and what there is to bring them there.

    Attributes
    ----------
    stacks
        The stacks of gel that the kit allows.
    look
        What reads as the setup's time of day.
    low, high
        The windows' bands, stops over mid-grey, (W,) each.
    bare
        Where nothing hangs before the glass yet, (W,).
    tent
        Where somebody can work outside, from the ground, (W,).
    spare_stops
        What the key gives the face over what the exposure asks.

    Examples
    --------
    >>> from sunplan.light.look import look
    >>> stacks = gel_stacks((Gel(name="nd .3", density=0.3), Gel(name="nd .9", density=0.9)))
    >>> rule = WindowRule(
    ...     stacks, look("dusk"), np.array([-2.0]), np.array([-1.0]),
    ...     bare=np.array([False]), tent=np.array([True]), spare_stops=0.0,
    ... )
    >>> level = np.array([[-1.5], [1.3], [9.0]])  # one window, three questions
    >>> decisions = rule.decide(WindowLevels(level, level, level > 20.0, lambda: (level, level)))
    >>> treatments = [decisions.treatment(row, 0) for row in range(3)]
    >>> [(treatment.action, *(gel.name for gel in treatment.gels)) for treatment in treatments]
    [('leave',), ('gel', 'nd .9'), ('tent',)]
    """

    stacks: GelStacks
    look: Look
    low: Floats
    high: Floats
    bare: Bools
    tent: Bools
    spare_stops: float

    @classmethod
    def of(cls, series: LevelSeries, *, spare_stops: float) -> WindowRule:
        """The rule for the windows (W) that a setup has in frame."""
        windows = series.windows
        low, high = series.bands.T
        return cls(
            stacks=gel_stacks(series.setup.from_kit.gel),
            look=series.look,
            low=low,
            high=high,
            bare=np.array([seen.opening.opening.dressing in (None, "none") for seen in windows]),
            tent=np.array([seen.opening.from_ground for seen in windows], dtype=bool),
            spare_stops=spare_stops,
        )

    def decide(self, levels: WindowLevels) -> Decisions:
        """What the windows need at each moment or through each stretch (N).

        Every question stands on its own; its windows do not, since they share one exposure.
        """
        stack, _ = self.gel(levels.brightest, levels.darkest)
        undone = (stack == NO_STACK) & ~self.tent
        down = np.zeros(len(stack))
        rows = np.flatnonzero(undone.any(axis=1))
        if len(rows) and not self.look.black_reads and self.spare_stops > 0:
            down[rows], stack[rows] = self._exposure(levels, rows, stack[rows])
        return Decisions(self, levels, stack, down)

    def gel(self, brightest: Floats, darkest: Floats) -> tuple[Ints, Bools]:
        """Number of the stack for each window, and whether it stays in its band under it.

        Both (..., W); `NO_STACK` where gel does not do it.
        """
        return self.stacks.first(
            brightest, darkest, (self.low, self.high), black_reads=self.look.black_reads
        )

    @cached_property
    def downs(self) -> Floats:
        """Stops by which the exposure may come down, (E,): thirds, and all that the key spares."""
        thirds = THIRD * np.arange(1, int(self.spare_stops / THIRD + 1e-9) + 1)
        rest = self.spare_stops - (thirds[-1] if len(thirds) else 0.0)
        return np.array([*thirds, *([self.spare_stops] if rest > 1e-9 else [])])

    def _exposure(self, levels: WindowLevels, rows: Ints, alone: Ints) -> tuple[Floats, Ints]:
        """How far the exposure comes down in some questions (R), and the stacks then, (R, W).

        0 and the stacks `alone` where that does not do for all windows that nobody can tent.
        """
        down = self.downs[:, None]
        stack, stays = self.gel(
            levels.brightest[rows, None] - down, levels.darkest[rows, None] - down
        )
        undone = stack == NO_STACK  # (R, E, W)
        fails = (undone & ~self.tent).any(axis=-1)
        tents = (undone & self.tent).sum(axis=-1)
        dark = (~undone & ~stays).any(axis=-1)
        layers = self.stacks.layers[np.maximum(stack, 0)].sum(axis=-1)
        # Rather none too dark, then the fewest tents, the fewest layers, the least down.
        most = 1 + stack.shape[-1] * (1 + int(self.stacks.layers.max()))
        cost = ((fails * 2 + dark) * most + tents) * most + layers
        best = cost.argmin(axis=1)
        chosen = np.arange(len(rows)), best
        done = ~fails[chosen]
        return (
            np.where(done, self.downs[best], 0.0),
            np.where(done[:, None], stack[chosen], alone),
        )


@dataclass(frozen=True, eq=False)
class Decisions:
    """What windows (W) need, a row a moment or stretch (N).

    Attributes
    ----------
    rule, levels
        What was asked, and about what.
    stack
        Number in `rule.stacks` of the gel that is taken, 0 for none, `NO_STACK` where none does
        it, (N, W).
    down_stops
        How far the exposure comes down, (N,).
    """

    rule: WindowRule
    levels: WindowLevels
    stack: Ints
    down_stops: Floats

    @cached_property
    def action(self) -> Ints:
        """Number of what is done, in `ACTIONS`, (N, W)."""
        done = np.where(self.stack > 0, GEL, LEAVE)
        undone = self.stack == NO_STACK
        if not undone.any():
            return done
        if self.rule.look.black_reads:
            return np.where(undone, BLACK, done)
        done = np.where(undone, np.where(self.rule.tent, TENT, NOTHING), done)
        if (done == NOTHING).any():
            done = np.where((done == NOTHING) & (self.hung[0] >= 0), DRESSING, done)
        return done

    @cached_property
    def after_stops(self) -> tuple[Floats, Floats]:
        """Brightest and darkest with gel on and the exposure down, stops over mid-grey, (N, W)."""
        taken = self.rule.stacks.taken_stops[np.maximum(self.stack, 0)] + self.down_stops[:, None]
        return self.levels.brightest - taken, self.levels.darkest - taken

    @cached_property
    def too_dark(self) -> Bools:
        """Whether a window, left or gelled, falls below its band, (N, W)."""
        falls: Bools = self.after_stops[1] < self.rule.low - BAND_EDGE_STOPS
        if self.rule.look.black_reads:
            return np.zeros_like(falls)
        return falls & (self.stack >= 0)

    @cached_property
    def is_over(self) -> Bools:
        """Whether the brightest is over its band as it is, (N, W)."""
        above: Bools = self.levels.brightest > self.rule.high + BAND_EDGE_STOPS
        return above

    @cached_property
    def lose_stops(self) -> Floats:
        """Stops by which the brightest is over the middle of its band, 0 where not over, (N, W)."""
        return over(self.levels.brightest, self.rule.low, self.rule.high)

    @cached_property
    def gel_alone(self) -> Ints:
        """The stack that does it at the setup's exposure, (N, W).

        `NO_STACK` where none does, or where the sun itself stands in the window.
        """
        stack, _ = self.rule.gel(self.levels.brightest, self.levels.darkest)
        return np.where(self.levels.sun_in_frame, NO_STACK, stack)

    @cached_property
    def hung(self) -> tuple[Ints, Ints]:
        """The lightest dressing that does it, and its stack of one layer at most, both (N, W).

        The dressing is a place in `glass.hangable_dressings()`; −1 where none does, something hangs
        already, nothing is to be lost, or it saves no gel.
        """
        rule, alone = self.rule, self.gel_alone
        asked = self.is_over & ~self.levels.sun_in_frame & rule.bare
        if not asked.any():
            return np.full_like(alone, -1), np.full_like(alone, NO_STACK)
        brightest, darkest = self.levels.hung()
        if not brightest.shape[-1]:
            return np.full_like(alone, -1), np.full_like(alone, NO_STACK)
        bands = np.array([rule.look.band(name) for name in glass.hangable_dressings()])
        low, high = bands.T
        stack, stays = rule.stacks.first(
            brightest, darkest, (low, high), black_reads=rule.look.black_reads, layers=1
        )
        layers = np.where((stack >= 0) & stays, rule.stacks.layers[stack], 2)
        best = layers.argmin(axis=-1)[..., None]
        fewest = np.take_along_axis(layers, best, axis=-1)[..., 0]
        saves = (alone == NO_STACK) | (fewest < rule.stacks.layers[alone])
        does = asked & saves & (fewest < 2)
        return (
            np.where(does, best[..., 0], -1),
            np.where(does, np.take_along_axis(stack, best, axis=-1)[..., 0], NO_STACK),
        )

    @cached_property
    def closing(self) -> tuple[Floats, Ints]:
        """Stops by which the lens closes where that saves a layer, and the stack then, both (N, W).

        Each window is looked at alone; 0 where it saves none. Where the exposure comes down anyway
        it is that.
        """
        rule, levels = self.rule, self.levels
        planned = self.down_stops[:, None] > 0
        stops = np.where(planned & self.is_over & (self.stack >= 0), self.down_stops[:, None], 0.0)
        asked = self.is_over & ~planned & ~levels.sun_in_frame
        if not asked.any() or not len(rule.downs):
            return stops, self.stack
        down = rule.downs[:, None, None]
        stack, stays = rule.gel(levels.brightest - down, levels.darkest - down)  # (E, N, W)
        layers = rule.stacks.layers[np.maximum(stack, 0)]
        cost = np.where(stack == NO_STACK, 99, 10 * ~stays + layers)
        best = cost.argmin(axis=0)[None]
        stack = np.take_along_axis(stack, best, axis=0)[0]
        stays = np.take_along_axis(stays, best, axis=0)[0]
        saves = (self.gel_alone == NO_STACK) | (
            rule.stacks.layers[stack] < rule.stacks.layers[self.gel_alone]
        )
        does = asked & saves & stays
        return np.where(does, rule.downs[best[0]], stops), np.where(does, stack, self.stack)

    def treatment(self, row: int, window: int) -> WindowTreatment:
        """What one window needs in one question."""
        return WindowTreatment(self, row, window)

    def gels(self, stack: int) -> tuple[Gel, ...]:
        """The gels of a stack by its number."""
        return () if stack < 0 else self.rule.stacks.stacks[stack]


@dataclass(frozen=True, eq=False)
class WindowTreatment:
    """What one window in frame needs at one moment or through one stretch, and its other ways.

    Attributes
    ----------
    decisions, row, column
        Where it stands: a place in the arrays (N, W).
    """

    decisions: Decisions
    row: int
    column: int

    @property
    def action(self) -> Action:
        """What is done."""
        return ACTIONS[int(self.decisions.action[self._place])]

    @property
    def gels(self) -> tuple[Gel, ...]:
        """The gels that go on it, with a dressing those under it."""
        if self.action == "dressing":
            return self.hang_gels
        return self.decisions.gels(self.decisions.stack[self._place])

    @property
    def down_stops(self) -> float:
        """Stops by which the setup's exposure comes down with them."""
        return float(self.decisions.down_stops[self.row])

    @property
    def too_dark(self) -> bool:
        """Whether it then falls below its band."""
        return bool(self.decisions.too_dark[self._place])

    @property
    def after_stops(self) -> tuple[float, float] | None:
        """Brightest and darkest then, stops over mid-grey; None where it is not its own light."""
        if self.action not in ("leave", "gel"):
            return None
        brightest, darkest = self.decisions.after_stops
        return float(brightest[self._place]), float(darkest[self._place])

    @property
    def taken_stops(self) -> float:
        """Stops that gel and the exposure take from it."""
        after = self.decisions.after_stops[0][self._place]
        return float(self.decisions.levels.brightest[self._place] - after)

    @property
    def lose_stops(self) -> float:
        """Stops by which it is over the middle of its band as it is, 0 where it is not over."""
        return float(self.decisions.lose_stops[self._place])

    @property
    def sun_in_frame(self) -> bool:
        """Whether the sun itself stands in it."""
        return bool(self.decisions.levels.sun_in_frame[self._place])

    @property
    def gels_alone(self) -> tuple[Gel, ...]:
        """The gels that do with nothing else."""
        return self.decisions.gels(self.decisions.gel_alone[self._place])

    @property
    def hang(self) -> str | None:
        """The lightest dressing that does it, None for none."""
        index = int(self.decisions.hung[0][self._place])
        return None if index < 0 else glass.hangable_dressings()[index]

    @property
    def hang_gels(self) -> tuple[Gel, ...]:
        """The gels that do with it."""
        return self.decisions.gels(self.decisions.hung[1][self._place])

    @property
    def stop_down(self) -> float:
        """Stops by which the lens closes to save a layer, 0 where it saves none."""
        return float(self.decisions.closing[0][self._place])

    @property
    def gels_then(self) -> tuple[Gel, ...]:
        """The gels that do with the lens closed."""
        return self.decisions.gels(self.decisions.closing[1][self._place]) if self.stop_down else ()

    @property
    def tent(self) -> bool:
        """Whether the glass can be reached outside, from the ground."""
        return bool(self.decisions.rule.tent[self.column])

    @property
    def black_reads(self) -> bool:
        """Whether black is night as well."""
        return self.decisions.rule.look.black_reads

    @property
    def _place(self) -> tuple[int, int]:
        return self.row, self.column
