"""Sight lines on the plan of a room that is not convex."""

from __future__ import annotations

import numpy as np

from ..sun.position import Floats
from ..sun.search import Bools
from .convex import cross


def unobstructed(outline: Floats, through: int | None, points: Floats, ends: Floats) -> Bools:
    """Whether ways on the plan cross no wall.

    Parameters
    ----------
    outline : corners of the room, (E, 2), metres.
    through : index of a wall in which the ends may lie and that does not count, or None.
    points, ends : the ways' starts (K, 2) and their ends (N, K, 2).

    Returns
    -------
    Shape (N, K).

    Examples
    --------
    >>> room = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 1.0], [1.0, 1.0], [1.0, 3.0], [0.0, 3.0]])
    >>> ends = np.array([[[3.0, 0.5]], [[3.0, 0.9]]])
    >>> unobstructed(room, None, np.array([[0.5, 1.5]]), ends)[:, 0]
    array([False, False])
    >>> unobstructed(room, None, np.array([[0.5, 0.5]]), ends)[:, 0]
    array([ True,  True])
    """
    open_: Bools = np.ones(ends.shape[:2], dtype=bool)
    for wall, first in enumerate(outline):
        if wall == through:
            continue
        second = outline[(wall + 1) % len(outline)]
        way = ends - points
        side = cross(way, first - points) * cross(way, second - points)
        apart = cross(second - first, points - first) * cross(second - first, ends - first)
        open_ &= (side > 0) | (apart > 0)
    return open_
