"""How much of what a point sees is a given surface: configuration factors and solid angles."""

from __future__ import annotations

import math

import numpy as np

from ..sun.position import Floats


def contour(points: Floats, normals: Floats, polygons: Floats) -> Floats:
    """Configuration factors (P, Q) from points and normals (P, 3) to flat polygons (Q, V, 3).

    Lambert's contour integral, exact for a polygon wholly before the point's plane; vertices run
    counter-clockwise as seen from its lit side. A spare vertex may repeat another. Polygons that
    are seen from behind count as nothing.

    >>> unit = np.array([[[0.0, 0, 1], [0, 1, 1], [1, 1, 1], [1, 0, 1]]])
    >>> round(float(contour(np.zeros((1, 3)), np.array([[0.0, 0, 1]]), unit)[0, 0]), 7)
    0.1385316
    """
    total = np.zeros((len(points), len(polygons)))
    count = polygons.shape[1]
    for vertex in range(count):
        if np.array_equal(polygons[:, vertex], polygons[:, (vertex + 1) % count]):
            continue  # spare vertices only
        first = polygons[None, :, vertex] - points[:, None]
        second = polygons[None, :, (vertex + 1) % count] - points[:, None]
        across = np.cross(first, second)
        length = np.sqrt(np.einsum("pqk,pqk->pq", across, across))
        angle = np.arctan2(length, np.einsum("pqk,pqk->pq", first, second))
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(length > 1e-12, angle / length, 0.0)
        total -= share * np.einsum("pqk,pk->pq", across, normals)
    return np.maximum(total / (2 * math.pi), 0.0)


def solid_angle(points: Floats, polygons: Floats) -> Floats:
    """Solid angle of flat convex polygons (Q, V, 3) from points (P, 3), steradians, (P, Q).

    Van Oosterom & Strackee 1983, a fan of triangles; either side.

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
