"""How much of what a point sees is a given surface: configuration factors and solid angles.

References
----------
.. [1] Lambert, J. H., Photometria, 1760; from memory.
.. [2] Van Oosterom, A., Strackee, J., The solid angle of a plane triangle, IEEE Transactions on
   Biomedical Engineering 30(2), 1983, 125-126, eq. 8.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..sun.position import Floats

Reals = NDArray[np.floating[Any]]  # of either precision


def form_factor(points: Reals, normals: Reals, polygons: Reals) -> Floats:
    """Configuration factors from points to flat polygons: Lambert's contour integral [1].

    Parameters
    ----------
    points, normals
        Where the receiver is and where it faces, (P, 3); unit normals.
    polygons
        Vertices, counter-clockwise as seen from the lit side; spare ones may repeat another,
        (Q, V, 3).

    Returns
    -------
    0 to 1, (P, Q). Exact for a polygon wholly before the point's plane; one that is seen from
    behind counts as nothing.

    Examples
    --------
    >>> unit = np.array([[[0.0, 0, 1], [0, 1, 1], [1, 1, 1], [1, 0, 1]]])
    >>> round(float(form_factor(np.zeros((1, 3)), np.array([[0.0, 0, 1]]), unit)[0, 0]), 7)
    0.1385316
    """
    total = np.zeros((len(points), len(polygons)))
    count = polygons.shape[1]
    for vertex in range(count):
        start, end = polygons[:, vertex], polygons[:, (vertex + 1) % count]
        edges = np.flatnonzero((start != end).any(axis=1))  # the rest are spare vertices
        part = _edge(points, normals, start[edges], end[edges])
        if len(edges) < len(polygons):
            total[:, edges] -= part
        else:
            total -= part
    return np.maximum(total / (2 * math.pi), 0.0)


def form_factor_above(points: Floats, normals: Floats, polygons: Floats) -> Floats:
    """Configuration factors from points to the parts of convex polygons before each one's plane.

    As `form_factor`, but exact for a polygon that a point's plane cuts as well: what lies behind
    the plane is cut off.

    Parameters
    ----------
    points, normals
        (P, 3); unit normals.
    polygons
        Vertices, counter-clockwise as seen from the lit side; spare ones may repeat another,
        (Q, V, 3).

    Returns
    -------
    0 to 1, (P, Q).

    Examples
    --------
    >>> far = 1e6 * np.array([[[-1.0, -1, 1e-6], [-1, 1, 1e-6], [1, 1, 1e-6], [1, -1, 1e-6]]])
    >>> up, level = np.array([[0.0, 0, 1]]), np.array([[1.0, 0, 0]])
    >>> [round(float(form_factor_above(0 * up, way, far)[0, 0]), 4) for way in (up, level)]
    [1.0, 0.5]
    """
    off = polygons[None] - points[:, None, None]
    before = np.einsum("pqvk,pk->pqv", off, normals)
    facing = [normals[:, None, k] for k in range(3)]
    total = np.zeros(before.shape[:2])
    leaves, enters = np.zeros((2, *total.shape, 3))
    for vertex in range(polygons.shape[1]):
        after = (vertex + 1) % polygons.shape[1]
        start, end = off[:, :, vertex], off[:, :, after]
        here, there = before[:, :, [vertex]], before[:, :, [after]]
        out, into = (here > 0) & (there <= 0), (here <= 0) & (there > 0)
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = start + here / (here - there) * (end - start)
        leaves, enters = np.where(out, crossing, leaves), np.where(into, crossing, enters)
        start, end = np.where(into, crossing, start), np.where(out, crossing, end)
        seen = np.maximum(here, there)[..., 0] > 0
        total -= seen * _part(_components(start), _components(end), facing)
    cut = (before > 0).any(axis=2) & (before <= 0).any(axis=2)
    total -= cut * _part(_components(leaves), _components(enters), facing)
    return np.maximum(total / (2 * math.pi), 0.0)


def _components(vectors: Floats) -> list[Floats]:
    return [vectors[..., k] for k in range(3)]


def _edge(points: Reals, normals: Reals, start: Reals, end: Reals) -> Reals:
    """An edge's part of the contour integral, for all points and polygons, (P, Q)."""
    a, b = ([corner[None, :, k] - points[:, None, k] for k in range(3)] for corner in (start, end))
    return _part(a, b, [normals[:, None, k] for k in range(3)])


def _part(a: Sequence[Reals], b: Sequence[Reals], normal: Sequence[Reals]) -> Reals:
    """An edge's part from its ends a and b as the point sees them.

    By components: np.cross and einsum take 2.3 times as long.
    """
    (ax, ay, az), (bx, by, bz) = a, b
    x, y, z = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    length = np.sqrt(x * x + y * y + z * z)
    angle = np.arctan2(length, ax * bx + ay * by + az * bz)
    facing = x * normal[0] + y * normal[1] + z * normal[2]
    part: Reals = facing * angle / np.maximum(length, 1e-12)
    return part


def solid_angle(points: Floats, polygons: Floats) -> Floats:
    """Solid angle of flat convex polygons (Q, V, 3) from points (P, 3), sr, (P, Q).

    Each a fan of triangles by [2]; it does not matter which side is seen.

    Examples
    --------
    >>> square = np.array([[[-0.5, -0.5, 1], [0.5, -0.5, 1], [0.5, 0.5, 1], [-0.5, 0.5, 1]]])
    >>> round(float(solid_angle(np.zeros((1, 3)), square)[0, 0]), 7)
    0.8054317
    """
    off = polygons[None] - points[:, None, None]
    length = np.linalg.norm(off, axis=-1)
    total = np.zeros((len(points), len(polygons)))
    a, la = off[:, :, 0], length[:, :, 0]
    for vertex in range(1, polygons.shape[1] - 1):
        b, c = off[:, :, vertex], off[:, :, vertex + 1]
        lb, lc = length[:, :, vertex], length[:, :, vertex + 1]
        volume = np.einsum("pqk,pqk->pq", a, np.cross(b, c))
        below = (
            la * lb * lc
            + np.einsum("pqk,pqk->pq", a, b) * lc
            + np.einsum("pqk,pqk->pq", b, c) * la
            + np.einsum("pqk,pqk->pq", c, a) * lb
        )
        total += 2.0 * np.arctan2(volume, below)
    solid: Floats = np.abs(total)
    return solid
