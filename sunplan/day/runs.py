"""The longest runs of moments through which the same is done about each window."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..rig.window_treatment import BLACK, GEL, LEAVE, TENT, Decisions, WindowLevels, WindowRule
from ..sun.search import Bools, Indices


def doing(decisions: Decisions) -> Indices:
    """What is done about each window (W) in stretches (N), its gels aside, as a number.

    Left and gelled are alike; too dark, with the exposure down, with the sun in them are not.

    Returns
    -------
    array of int (N, W)
        Windows with the same number are treated alike.
    """
    action: Indices = np.where(decisions.action == GEL, LEAVE, decisions.action)
    down = (decisions.down_stops[:, None] > 0) & (action == LEAVE)
    sun = decisions.levels.sun_in_frame & (action != BLACK) & (action != TENT)
    number: Indices = action + 10 * decisions.too_dark + 20 * down + 40 * sun
    return number


@dataclass(frozen=True, eq=False)
class Extent:
    """How far windows (W) and face go through stretches (N).

    `tops` are arrays (N, ...) of which the most counts: brightest stops, darkest with their sign
    turned, sun in frame, too much light on the fill side; brightest and darkest again with each
    dressing, no dressings (D = 0) where those are not asked for.
    """

    tops: tuple[NDArray[Any], ...]

    @property
    def windows(self) -> WindowLevels:
        """What the rule is asked about."""
        brightest, darkest, sun, _, hung_brightest, hung_darkest = self.tops
        return WindowLevels(brightest, -darkest, sun, lambda: (hung_brightest, -hung_darkest))

    @property
    def overfilled(self) -> Bools:
        """Whether the fill side gets too much daylight, (N,)."""
        return self.tops[3]

    def __getitem__(self, rows: slice | Indices | Bools) -> Extent:
        """Some of them."""
        return Extent(tuple(top[rows] for top in self.tops))

    def joined(self, other: Extent) -> Extent:
        """Both together, row by row."""
        return Extent(tuple(map(np.maximum, self.tops, other.tops)))

    def put(self, rows: Indices, other: Extent) -> None:
        """Others in the place of some."""
        for mine, theirs in zip(self.tops, other.tops, strict=True):
            mine[rows] = theirs


@dataclass(frozen=True, eq=False)
class Runs:
    """Moments (T), what lies between each and the next (T − 1), and the parts that no run leaves.

    A part is its first row and the one after its last; in a part the same is done at every moment.
    """

    rule: WindowRule
    moments: Extent
    between: Extent
    parts: list[tuple[int, int]]

    def longest(self) -> tuple[Indices, Indices, Extent]:
        """All runs (N); they may overlap.

        From the start of a part on, each as long as one treatment does for each window, and then
        back as long as that same one does.

        Returns
        -------
        tuple of (array (N,), array (N,), Extent)
            First and last rows, and what happens in each.
        """
        start, last, begin, extent = self._forward()
        chosen = self.rule.decide(extent.windows)
        rows = np.flatnonzero(start > begin)
        while len(rows):
            trial = extent[rows].joined(self.between[start[rows] - 1])
            same = self._alike(trial, start[rows])
            again = self.rule.decide(trial.windows)
            same &= (again.stack == chosen.stack[rows]).all(axis=1)
            same &= again.down_stops == chosen.down_stops[rows]
            rows = rows[same]
            extent.put(rows, trial[same])
            start[rows] -= 1
            rows = rows[start[rows] > begin[rows]]
        return start, last, extent

    def _forward(self) -> tuple[Indices, Indices, Indices, Extent]:
        """First and last rows of runs one after the other, the first of their parts."""
        begin, stop = np.array(self.parts, dtype=np.intp).T
        start, last = begin.copy(), begin.copy()
        extent = self.moments[start]
        ended: list[Indices] = []
        extents: list[Extent] = []
        active = np.arange(len(begin))
        while len(active):
            rows = active[last[active] + 1 < stop[active]]
            trial = extent[rows].joined(self.between[last[rows]])
            same = self._alike(trial, start[rows])
            grown = rows[same]
            extent.put(grown, trial[same])
            last[grown] += 1
            done = np.setdiff1d(active, grown)
            ended.append(np.stack((start[done], last[done], begin[done])))
            extents.append(extent[done])
            done = done[last[done] + 1 < stop[done]]
            last[done] += 1
            start[done] = last[done]
            extent.put(done, self.moments[start[done]])
            active = np.concatenate((grown, done))
        first, final, parts = np.concatenate(ended, axis=1)
        order = np.argsort(first)
        tops = zip(*(extent.tops for extent in extents), strict=True)
        return (
            first[order],
            final[order],
            parts[order],
            Extent(tuple(map(np.concatenate, tops)))[order],
        )

    def _alike(self, trial: Extent, start: Indices) -> Bools:
        """Whether through stretches (N) the same is done as at the moments that they start with."""
        now, first = self.rule.decide(trial.windows), self._at
        same: Bools = (doing(now) == first[start]).all(axis=1)
        same &= trial.overfilled == self.moments.overfilled[start]
        return same

    @cached_property
    def _at(self) -> Indices:
        """What is done at each moment."""
        return doing(self.rule.decide(self.moments.windows))
