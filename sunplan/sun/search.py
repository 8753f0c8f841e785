"""Moments at which something turns true or false, whatever it is and whatever the grid."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from .position import Floats

Bools = NDArray[np.bool_]
Indices = NDArray[np.intp]
RESOLUTION_S = 0.5  # moments are given to the second
DAY_STEP_S = 60.0  # of a day's grid: an interval of sun shorter than this may be missed


def refine(
    test: Callable[[Floats], Bools], false_s: Floats, true_s: Floats, *, to_s: float = RESOLUTION_S
) -> Floats:
    """Moments at which a test changes, by bisection.

    Parameters
    ----------
    test : takes moments of shape (N,) and answers for each.
    false_s, true_s : moments (N,) at which it is false and true, either of which may be earlier.
    to_s : how near to the change to come.

    Returns
    -------
    Moments (N,) at which the test is true, no farther than `to_s` from one at which it is false.

    Examples
    --------
    >>> refine(lambda t: t > 3.3, np.array([0.0]), np.array([8.0]), to_s=0.01).round(1)
    array([3.3])
    """
    false_s, true_s = np.array(false_s, dtype=np.float64), np.array(true_s, dtype=np.float64)
    if false_s.size == 0:
        return true_s
    widest = float(np.max(np.abs(true_s - false_s)))
    for _ in range(max(0, int(np.ceil(np.log2(max(widest, to_s) / to_s))))):
        middle = (false_s + true_s) / 2
        holds = test(middle)
        true_s = np.where(holds, middle, true_s)
        false_s = np.where(holds, false_s, middle)
    return true_s


def intervals(
    test: Callable[[Floats, Indices], Bools],
    grid_s: Floats,
    holds: Bools,
    *,
    to_s: float = RESOLUTION_S,
) -> list[list[tuple[float, float]]]:
    """Stretches in which a test holds, their ends refined, from its values on a rising grid.

    Several cases of one question go together. A stretch that reaches an end of the grid ends
    there. Stretches between two grid moments are not seen: choose the grid for what must not be
    missed.

    Parameters
    ----------
    test : takes moments and the cases they belong to, both (N,), and answers for each.
    grid_s : rising moments (T,).
    holds : what the test says at them, a row a case, (R, T).
    to_s : how near to a change its moment is to come.

    Returns
    -------
    Starts and ends, a list of them for each case.

    Examples
    --------
    >>> holds = np.array([[0, 0, 0, 1, 1, 1, 1, 0, 0], [0, 0, 0, 0, 0, 0, 0, 0, 0]], dtype=bool)
    >>> intervals(lambda t, row: (t > 2.5) & (t < 6.25), np.arange(9.0), holds, to_s=0.01)
    [[(2.5..., 6.2...)], []]
    """
    edge = np.zeros((len(holds), 1), dtype=bool)
    padded = np.concatenate((edge, holds, edge), axis=1)
    # Changes come in pairs, on and off, in each row.
    changes = np.flatnonzero(padded[:, 1:] != padded[:, :-1])
    rows, first = np.divmod(changes[::2], len(grid_s) + 1)
    last = changes[1::2] % (len(grid_s) + 1) - 1
    starts, ends = grid_s[first].astype(np.float64), grid_s[last].astype(np.float64)
    opens, closes = first > 0, last < len(grid_s) - 1
    # Both kinds of ends are refined in one go: a test has a fixed price a call.
    cases = np.concatenate((rows[opens], rows[closes]))
    refined = refine(
        lambda times: test(times, cases),
        np.concatenate((grid_s[first[opens] - 1], grid_s[last[closes] + 1])),
        np.concatenate((starts[opens], ends[closes])),
        to_s=to_s,
    )
    starts[opens], ends[closes] = np.split(refined, [int(opens.sum())])
    by_case: list[list[tuple[float, float]]] = [[] for _ in holds]
    for row, start, end in zip(rows.tolist(), starts.tolist(), ends.tolist(), strict=True):
        by_case[row].append((start, end))
    return by_case


def time_grid(start_s: float, end_s: float, step_s: float) -> Floats:
    """Even moments from start to end, both among them, no farther apart than a step: (T,).

    >>> time_grid(0.0, 100.0, 60.0)
    array([  0.,  50., 100.])
    """
    return np.linspace(start_s, end_s, max(2, int(np.ceil((end_s - start_s) / step_s)) + 1))
