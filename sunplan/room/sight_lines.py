"""Sight lines in a room that is not convex: answers for many suns at once, where they are plain.

Walls are upright, so whether a ray gets past a corner is asked on the plan. What stays open here
(some rays past, others not) is settled by cutting the room into strips.
"""

from __future__ import annotations

import numpy as np

from ..sun.position import Floats
from ..sun.search import Bools
from .aperture import Aperture
from .convex import cross

EDGE_M = 1e-9


def unobstructed(outline: Floats, through: int | None, points: Floats, ends: Floats) -> Bools:
    """Whether ways on the plan from points (K, 2) to ends (N, K, 2) cross no wall, (N, K).

    `outline` is (E, 2); the wall `through`, in which the ends may lie, is let through.
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


def surely_blocked(
    outline: Floats, opening: Aperture, middle: Floats, radius: float, sun: Floats
) -> Bools:
    """Whether walls surely stand between an opening and a circle, for suns (N, 3): (N,).

    Seen along the sun's bearing, those that stand wholly between must leave no gap. False also
    where only a bit of one stands there.
    """
    flat = np.maximum(np.hypot(sun[:, 0], sun[:, 1]), 1e-12)
    toward = sun[:, :2] / flat[:, None]
    side = np.stack((toward[:, 1], -toward[:, 0]), axis=-1)
    face = opening.world(opening.rectangle)[:, :2]
    face_u, face_v = side @ face.T, toward @ face.T
    low = np.maximum(face_u.min(axis=1), side @ middle - radius) - EDGE_M
    high = np.minimum(face_u.max(axis=1), side @ middle + radius) + EDGE_M
    behind = toward @ middle + radius
    starts, ends = [], []

    def before(at: Floats) -> Floats:
        """How far off the opening is along the bearing, at places beside it, (N,)."""
        if opening.wall is None:
            nearest: Floats = face_v.min(axis=1)
            return nearest
        rate = (face_v[:, 1] - face_v[:, 0]) / (face_u[:, 1] - face_u[:, 0])
        line: Floats = face_v[:, 0] + (at - face_u[:, 0]) * rate
        return line

    for wall, first in enumerate(outline):
        if wall == opening.wall:
            continue
        second = outline[(wall + 1) % len(outline)]
        u0, u1, v0, v1 = side @ first, side @ second, toward @ first, toward @ second
        start = np.maximum(np.minimum(u0, u1), low)
        end = np.minimum(np.maximum(u0, u1), high)
        with np.errstate(divide="ignore", invalid="ignore"):
            levels = [v0 + (at - u0) * (v1 - v0) / (u1 - u0) for at in (start, end)]
            short = [level <= before(at) for level, at in zip(levels, (start, end), strict=True)]
        between = (start < end) & (np.minimum(*levels) >= behind) & short[0] & short[1]
        starts.append(np.where(between, start, np.inf))
        ends.append(np.where(between, end, -np.inf))
    covered = low
    for _ in starts:
        reach = np.where(np.array(starts) <= covered + EDGE_M, np.array(ends), -np.inf)
        covered = np.maximum(covered, reach.max(axis=0))
    holds: Bools = (low >= high) | (covered >= high)
    return holds
