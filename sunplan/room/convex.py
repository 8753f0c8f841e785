"""Convex shapes in the plane, many at a time: arrays of shape (N, V, 2), no loop over N.

Own code, since shapely makes an object of each shape: a year of a room with twelve openings takes
0.5 s so, and 0.7 s without `near_box` alone.
"""

from __future__ import annotations

import numpy as np

from ..sun.position import Floats
from ..sun.search import Bools


def cross(a: Floats, b: Floats) -> Floats:
    """z of the cross product of vectors (..., 2): positive where b lies to the left of a."""
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def clip(polygons: Floats, normal: Floats, limit: Floats) -> Floats:
    """Part of flat convex polygons where `normal · p` ≤ `limit`, in the plane or in space.

    Parameters
    ----------
    polygons : corners in order, (N, V, D), D is 2 or 3.
    normal, limit : of the line or plane that cuts each, (N, D) and (N,).

    Returns
    -------
    Shape (N, V + 1, D): spare places repeat a vertex; a polygon of which nothing is left is NaN.

    Examples
    --------
    >>> square = np.array([[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]])
    >>> float(clip(square, np.array([[1.0, 0.0]]), np.array([0.25]))[0, :, 0].max())
    0.25
    >>> bool(np.isnan(clip(square, np.array([[1.0, 0.0]]), np.array([-1.0]))).all())
    True
    """
    after = np.roll(polygons, -1, axis=1)
    over = np.einsum("nvk,nk->nv", polygons, normal) - limit[:, None]
    over_after = np.roll(over, -1, axis=1)
    inside = over <= 0
    crosses = inside != (over_after <= 0)
    span = np.where(crosses, over - over_after, 1.0)
    meet = polygons + (over / span)[..., None] * (after - polygons)
    count, sides, dimensions = polygons.shape
    vertices = np.stack((polygons, meet), axis=2).reshape(count, 2 * sides, dimensions)
    kept = np.stack((inside, crosses), axis=2).reshape(count, 2 * sides)
    order = np.argsort(~kept, axis=1, kind="stable")[:, : sides + 1]
    vertices = np.take_along_axis(vertices, order[..., None], axis=1)
    kept = np.take_along_axis(kept, order, axis=1)
    filled = np.where(kept[..., None], vertices, vertices[:, :1])
    return np.where(kept[:, :1, None], filled, np.nan)


def _squared_to_segment(point: Floats, start: Floats, end: Floats) -> Floats:
    """Squared distance of points (..., 2) to segments, broadcast."""
    way = end - start
    length = np.einsum("...k,...k->...", way, way)
    share = np.einsum("...k,...k->...", point - start, way) / np.maximum(length, 1e-300)
    off = point - start - np.clip(share, 0.0, 1.0)[..., None] * way
    squared: Floats = np.einsum("...k,...k->...", off, off)
    return squared


def near_segment(polygons: Floats, start: Floats, end: Floats, reach: float) -> Bools:
    """Whether segments come within `reach` of convex polygons.

    Parameters
    ----------
    polygons : corners in order, either way round, (N, V, 2); one that is NaN is never near.
    start, end : of the segments, each (N, 2).
    reach : in the same unit.

    Returns
    -------
    Shape (N,).

    Examples
    --------
    >>> square = np.array([[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]])
    >>> near_segment(square, np.array([[2.0, -1.0]]), np.array([[2.0, 3.0]]), 0.9)
    array([False])
    >>> near_segment(square, np.array([[2.0, -1.0]]), np.array([[2.0, 3.0]]), 1.1)
    array([ True])
    """
    after = np.roll(polygons, -1, axis=1)
    p, q = start[:, None], end[:, None]
    squared = np.minimum(
        _squared_to_segment(p, polygons, after), _squared_to_segment(q, polygons, after)
    )
    squared = np.minimum(squared, _squared_to_segment(polygons, p, q))
    near = squared.min(axis=1) <= reach**2
    edge = after - polygons
    side_p, side_q = cross(edge, p - polygons), cross(edge, q - polygons)
    # An end inside: on one side of all edges, whichever way round the polygon runs.
    within = (side_p >= 0).all(1) | (side_p <= 0).all(1)
    way = q - p
    side_a, side_b = cross(way, polygons - p), cross(way, after - p)
    crosses = (side_p * side_q < 0) & (side_a * side_b < 0)
    # NaN polygons compare false throughout.
    met: Bools = near | within | crosses.any(1)
    return met


def near_box(start: Floats, end: Floats, low: Floats, high: Floats, reach: float) -> Bools:
    """Whether segments come within `reach` of boxes.

    The box drawn out by `reach` is two crossed boxes and a disk round each corner.

    Parameters
    ----------
    start, end : of the segments, each (N, 2).
    low, high : corners of the boxes, each (N, 2); a box whose low is above its high is never near.
    reach : in the same unit.

    Returns
    -------
    Shape (N,).

    Examples
    --------
    >>> segment = np.array([[2.0, -1.0]]), np.array([[2.0, 3.0]])
    >>> corners = np.array([[0.0, 0.0]]), np.array([[1.0, 1.0]])
    >>> near_box(*segment, *corners, 0.9), near_box(*segment, *corners, 1.1)
    (array([False]), array([ True]))
    """
    way = end - start
    met = np.zeros(len(start), dtype=bool)
    with np.errstate(divide="ignore", invalid="ignore"):
        for drawn_out in ((reach, 0.0), (0.0, reach)):
            at_low, at_high = (low - drawn_out - start) / way, (high + drawn_out - start) / way
            enter = np.maximum(np.minimum(at_low, at_high).max(axis=1), 0.0)
            leave = np.minimum(np.maximum(at_low, at_high).min(axis=1), 1.0)
            met |= enter <= leave
    length = np.maximum(np.einsum("nk,nk->n", way, way), 1e-300)
    for x, y in ((low, low), (low, high), (high, low), (high, high)):
        off_x, off_y = x[:, 0] - start[:, 0], y[:, 1] - start[:, 1]
        share = np.clip((off_x * way[:, 0] + off_y * way[:, 1]) / length, 0.0, 1.0)
        off_x, off_y = off_x - share * way[:, 0], off_y - share * way[:, 1]
        met |= off_x * off_x + off_y * off_y <= reach * reach
    return met & (low <= high).all(axis=1)
