"""The best sequence of setups in a day: exact, by dynamic programming.

Held and Karp's method (1962, Journal of SIAM 10(1), 196-210) with the clock in it: for each set of
setups that are shot, each last one and each moment it may start at, the least cost; every way on is
tried. What a setup costs may hang on the hour and on what was shot before it. All sets are seen, so
what does not fit is left out at the least loss, and the answer is proven the best on the grid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..errors import InputError
from ..sun.position import Floats
from ..sun.search import Bools, Indices

MOST = 14  # setups in one day; more take minutes and gigabytes


@dataclass(frozen=True, eq=False)
class SequenceCosts:
    """N setups, T moments at which shooting may start.

    `first` (N, T) is the cost of starting the day with a setup at a moment; `then` (N, T, N, T)
    that of going from one at its moment to another at another; `last` (N, T) of ending with one.
    Infinite where it cannot be done. `priority` (N,) is what leaving one out loses: it comes before
    all cost. Setups with the same number in `together`, not negative, are shot one after the other.
    """

    first: Floats
    then: Floats
    last: Floats
    priority: Floats
    together: Sequence[int]


@dataclass(frozen=True)
class Sequenced:
    """The setups in their best order, each with the moment it starts at, and the whole cost."""

    order: tuple[int, ...]
    starts: tuple[int, ...]
    cost: float


@dataclass(frozen=True, eq=False)
class Sequences:
    """The best sequence of every set of setups; a set is a number, bit n for setup n.

    Attributes
    ----------
    costs
        What was asked.
    cost
        The least for each set, last setup and its moment, before the end's own, (2^N, N, T).
    """

    costs: SequenceCosts
    cost: Floats

    @cached_property
    def lowest(self) -> Floats:
        """The least cost of each set, (2^N,); infinite where it cannot be shot, 0 of none."""
        if not self.cost.size:
            return np.zeros(len(self.cost))
        lowest: Floats = (self.cost + self.costs.last).min(axis=(1, 2))
        lowest[0] = 0.0
        return lowest

    @cached_property
    def priority(self) -> Floats:
        """What each set is worth together, (2^N,)."""
        worth: Floats = _within(len(self.costs.priority)) @ self.costs.priority
        return worth

    def top(self, most_cost: float = np.inf) -> Indices:
        """The sets worth most of those that can be shot at no more than a cost."""
        possible = np.isfinite(self.lowest) & (self.lowest <= most_cost)
        worth = np.where(possible, self.priority, -np.inf)
        return np.flatnonzero(worth >= worth.max() - 1e-9)

    def best(self) -> Sequenced:
        """The sequence that loses least, and of those costs least."""
        top = self.top()
        final = int(top[np.argmin(self.lowest[top])])
        if final == 0:
            return Sequenced((), (), 0.0)
        return _traced(self.costs, self.cost, self.cost[final] + self.costs.last, final)


def expect_few(count: int) -> None:
    """Raise InputError of more setups than `MOST`.

    >>> expect_few(MOST)
    """
    if count > MOST:
        raise InputError(f"{count} setups in one day: expected at most {MOST}")


def best(costs: SequenceCosts) -> Sequenced:
    """The sequence that loses least, and of those costs least.

    Parameters
    ----------
    costs
        Of at most `MOST` setups.

    Returns
    -------
    Sequenced
        Empty where no setup can be shot.

    Raises
    ------
    InputError
        Of more than `MOST` setups.

    Examples
    --------
    >>> free = np.zeros((2, 2))
    >>> then = np.full((2, 2, 2, 2), np.inf)
    >>> then[1, 0, 0, 1] = 3.0  # only from the second to the first
    >>> best(SequenceCosts(free, then, free, np.ones(2), (-1, -1)))
    Sequenced(order=(1, 0), starts=(0, 1), cost=3.0)
    """
    return sequences(costs).best()


def sequences(costs: SequenceCosts) -> Sequences:
    """The best sequence of every set of setups.

    Raises
    ------
    InputError
        Of more than `MOST` setups.

    Notes
    -----
    Held and Karp's recursion (1962) with the moment t that setup l of the set S starts at:
    C(S, l, t) = min over m in S − l and u of C(S − l, m, u) + then(m, u, l, t).

    Examples
    --------
    >>> free = np.zeros((2, 1))
    >>> apart = SequenceCosts(free, np.full((2, 1, 2, 1), np.inf), free, np.ones(2), (-1, -1))
    >>> sequences(apart).lowest  # of none, of the first, of the second, of both
    array([ 0.,  0.,  0., inf])
    """
    count, moments = costs.first.shape
    expect_few(count)
    sets = np.arange(1 << count)
    within = _within(count)
    cost = np.full((1 << count, count, moments), np.inf)
    for setup in range(count):
        cost[1 << setup, setup] = costs.first[setup]
    size = within.sum(axis=1)
    for level in range(1, count):
        for before in range(count):
            for after in range(count):
                if before == after:
                    continue
                chosen = sets[(size == level) & within[:, before] & ~within[:, after]]
                chosen = chosen[_may_follow(chosen, costs.together, before, after)]
                change = costs.then[before, :, after, :]
                possible = np.flatnonzero(np.isfinite(change).any(axis=1))
                if not len(chosen) or not len(possible):
                    continue
                ways = cost[chosen][:, before, possible, None] + change[possible]
                onto = chosen | (1 << after)
                cost[onto, after] = np.minimum(cost[onto, after], ways.min(axis=1))
    return Sequences(costs, cost)


def _within(count: int) -> Bools:
    """Which setups each set holds, (2^N, N)."""
    within: Bools = (np.arange(1 << count)[:, None] >> np.arange(count)) & 1 == 1
    return within


def _may_follow(sets: Indices, together: Sequence[int], before: int, after: int) -> Bools:
    """Whether, after each set (S,), one setup may follow another and part nothing."""
    group = together[after]
    apart = group < 0 or together[before] == group
    members = sum(1 << setup for setup, number in enumerate(together) if number == group)
    free: Bools = np.logical_or(apart, sets & members == 0)
    return free


def _traced(costs: SequenceCosts, cost: Floats, ends: Floats, final: int) -> Sequenced:
    """The sequence that made the least cost of a set, read backward."""
    setup, moment = _least(ends)
    total = float(ends[setup, moment])
    order, starts, left = [setup], [moment], final
    while left != 1 << setup:
        left ^= 1 << setup
        ways = cost[left] + costs.then[:, :, setup, moment]
        for before in range(len(ways)):
            if not _may_follow(np.array([left]), costs.together, before, setup)[0]:
                ways[before] = np.inf
        setup, moment = _least(ways)
        order.append(setup)
        starts.append(moment)
    return Sequenced(tuple(order[::-1]), tuple(starts[::-1]), total)


def _least(cost: Floats) -> tuple[int, int]:
    setup, moment = np.unravel_index(int(np.argmin(cost)), cost.shape)
    return int(setup), int(moment)
