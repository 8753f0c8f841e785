"""Which rows of an array are alike? What hangs on a row is then worked out once for all of them."""

from __future__ import annotations

import numpy as np

from ..sun.position import Floats
from ..sun.search import Indices


def distinct_rows(rows: Floats) -> tuple[Indices, Indices]:
    """The different rows of an array, in the order of `np.unique(rows, axis=0)`.

    Own code, since `np.unique` by rows takes five times as long.

    Parameters
    ----------
    rows
        (N, K); only what is equal to the last bit is alike, so round what is measured.

    Returns
    -------
    The first of each of the different rows, and which of them each row is, (N,).

    Examples
    --------
    >>> rows = np.array([[2.0, 1.0], [0.0, 5.0], [2.0, 1.0]])
    >>> first, which = distinct_rows(rows)
    >>> first.tolist(), which.tolist(), bool((rows[first][which] == rows).all())
    ([1, 0], [1, 0, 1], True)
    """
    order = np.lexsort(rows.T[::-1])
    new = np.ones(len(rows), dtype=bool)
    new[1:] = (rows[order[1:]] != rows[order[:-1]]).any(axis=1)
    which = np.empty(len(rows), dtype=np.intp)
    which[order] = np.cumsum(new) - 1
    return order[new], which
