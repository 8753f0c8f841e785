"""The best sequence of setups against every order tried one by one."""

from __future__ import annotations

import time
from itertools import pairwise, permutations

import numpy as np
import pytest

from sunplan.day.sequence import MOST, SequenceCosts, Sequenced, best
from sunplan.errors import InputError


def random_day(rng: np.random.Generator, count: int, moments: int) -> SequenceCosts:
    """Setups of one to three moments, changes that take time, some hours shut, some pairs kept."""
    long = rng.integers(1, 4, count)
    change = rng.integers(0, 3, (count, count))
    first = rng.uniform(0, 9, (count, moments))
    first[rng.random((count, moments)) < 0.2] = np.inf
    then = np.full((count, moments, count, moments), np.inf)
    for a in range(count):
        for b in range(count):
            for t in range(moments):
                earliest = t + long[a] + change[a, b]
                for u in range(earliest, moments):
                    then[a, t, b, u] = rng.uniform(0, 9)
    late = np.arange(moments) + long[:, None] > moments
    last = np.where(late, np.inf, rng.uniform(0, 5, (count, moments)))
    groups = rng.integers(-1, 2, count)
    return SequenceCosts(
        first, then, last, rng.integers(1, 4, count).astype(float), groups.tolist()
    )


def kept_together(order: tuple[int, ...], together: list[int]) -> bool:
    shown = [together[one] for one in order]
    for group in set(shown) - {-1}:
        at = [i for i, one in enumerate(shown) if one == group]
        if at[-1] - at[0] + 1 != len(at):
            return False
    return True


def by_hand(problem: SequenceCosts) -> tuple[float, float]:
    """Worth and cost of the best of all orders of all choices, moment by moment."""
    count, moments = problem.first.shape
    found = (0.0, 0.0)
    for size in range(1, count + 1):
        for order in permutations(range(count), size):
            if not kept_together(order, list(problem.together)):
                continue
            cost = problem.first[order[0]].copy()
            for one, other in pairwise(order):
                step = np.full(moments, np.inf)
                for t in range(moments):
                    if np.isfinite(cost[t]):
                        step = np.minimum(step, cost[t] + problem.then[one, t, other])
                cost = step
            total = float((cost + problem.last[order[-1]]).min())
            if np.isfinite(total):
                priority = float(sum(problem.priority[one] for one in order))
                found = max(found, (priority, -total))
    return found[0], -found[1]


def rightly_costed(problem: SequenceCosts, found: Sequenced) -> None:
    """The sequence that is told really costs what is told."""
    if not found.order:
        return
    cost = problem.first[found.order[0], found.starts[0]]
    for (a, t), (b, u) in zip(
        zip(found.order, found.starts, strict=True),
        zip(found.order[1:], found.starts[1:], strict=True),
        strict=False,
    ):
        cost += problem.then[a, t, b, u]
    cost += problem.last[found.order[-1], found.starts[-1]]
    assert cost == pytest.approx(found.cost)
    assert kept_together(found.order, list(problem.together))
    assert len(set(found.order)) == len(found.order)


@pytest.mark.parametrize("seed", range(200))
def test_against_every_order(seed: int) -> None:
    """200 random days of up to 7 setups: as good as brute force over all orders and choices."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 6)) if seed % 10 else 7
    problem = random_day(rng, count, int(rng.integers(4, 9)) if count < 7 else 10)
    found = best(problem)
    rightly_costed(problem, found)
    priority, cost = by_hand(problem)
    assert sum(problem.priority[one] for one in found.order) == pytest.approx(priority)
    assert found.cost == pytest.approx(cost)


def test_nothing_fits() -> None:
    shut = np.full((2, 3), np.inf)
    assert best(SequenceCosts(shut, np.full((2, 3, 2, 3), np.inf), shut, np.ones(2), [-1, -1])) == (
        Sequenced((), (), 0.0)
    )


def test_too_many() -> None:
    count = MOST + 1
    cost = np.zeros((count, 1))
    problem = SequenceCosts(
        cost, np.zeros((count, 1, count, 1)), cost, np.ones(count), [-1] * count
    )
    with pytest.raises(InputError, match=f"{count} setups in one day: expected at most {MOST}"):
        best(problem)


def test_twelve_setups() -> None:
    """A full day of twelve setups on quarter hours is solved, and fast enough to wait for."""
    problem = random_day(np.random.default_rng(1), 12, 48)
    start = time.perf_counter()
    found = best(problem)
    spent = time.perf_counter() - start
    rightly_costed(problem, found)
    assert len(found.order) >= 10
    assert spent < 60.0  # a hang; the benchmark says how fast
