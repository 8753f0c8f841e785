"""Does a beam meet a mark's cylinder? Exact where nothing stands in the way, many suns at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..location.model import Mark
from ..sun.position import Floats
from ..sun.search import Bools
from . import convex
from .aperture import Aperture


def rays_meet(opening: Aperture, marks: Sequence[Mark], floor_m: float, sun: Floats) -> Bools:
    """Whether rays of sun vectors (N, 3) that clear both apertures meet marks (M), (M, N)."""
    if opening.wall is not None:
        return _through_wall(opening, marks, floor_m, sun)
    return _through_ceiling(opening, marks, floor_m, sun)


def _through_wall(opening: Aperture, marks: Sequence[Mark], floor_m: float, sun: Floats) -> Bools:
    """Windows.

    A ray from the spot x along the wall and y into the room off the mark's middle, at height h,
    meets the opening's plane at a = x + (D + y) k along it and h + (D + y) q up, where D is how far
    in the mark stands. Which y the heights allow, and how near to the middle x can be for the best
    of them, decides.
    """
    out = sun @ opening.outward
    across, rise = (sun @ opening.across) / out, sun[:, 2] / out
    spread = 1.0 + np.abs(across)
    sill = float(opening.origin[2]) - floor_m
    met = np.zeros((len(marks), len(sun)), dtype=bool)
    for row, mark in enumerate(marks):
        off = np.array([*mark.at, 0.0]) - opening.origin
        along, inward = float(off @ opening.across), -float(off @ opening.outward)
        radius = mark.width / 2
        lowest, highest = sill - mark.height[1], sill + opening.height - mark.height[0]
        # Most suns are far off: a rough look first.
        shift, reach = along + inward * across, radius * spread
        chosen = np.flatnonzero(
            (shift >= -reach)
            & (shift <= opening.width + reach)
            & ((inward + radius) * rise >= lowest)
            & ((inward - radius + opening.depth) * rise <= highest)
        )
        k, q = across[chosen], rise[chosen]
        shift = shift[chosen]
        left = np.maximum(0.0, -opening.depth * k) - shift
        right = np.minimum(opening.width, opening.width - opening.depth * k) - shift
        with np.errstate(divide="ignore"):
            nearest, farthest = lowest / q - inward, highest / q - opening.depth - inward
        y = k * np.minimum(np.maximum(left, 0.0), right) / (1.0 + k * k)
        y = np.minimum(np.maximum(y, nearest), farthest)
        x = np.minimum(np.maximum(left - k * y, 0.0), right - k * y)
        met[row, chosen] = (nearest <= farthest) & (x * x + y * y <= radius**2)
    return met


def _through_ceiling(
    opening: Aperture, marks: Sequence[Mark], floor_m: float, sun: Floats
) -> Bools:
    """Skylights: in the hole's plane the mark is a circle drawn out along the rays' lean."""
    lean = np.stack((sun @ opening.across, sun @ opening.up), axis=-1) / sun[:, 2:]
    size = np.array([opening.width, opening.height])
    ceiling = float(opening.origin[2]) - floor_m
    met = np.zeros((len(marks), len(sun)), dtype=bool)
    for row, mark in enumerate(marks):
        off = np.array([*mark.at, opening.origin[2]]) - opening.origin
        middle = np.array([off @ opening.across, off @ opening.up])
        radius = mark.width / 2
        start, end = (middle + (ceiling - height) * lean for height in mark.height)
        near = (np.maximum(start, end) >= -radius) & (np.minimum(start, end) <= size + radius)
        chosen = np.flatnonzero(near[:, 0] & near[:, 1])
        rays = start[chosen], end[chosen]
        if opening.slope.any():
            near_by = convex.near_segment(opening.regions(sun[chosen]), *rays, radius)
        else:
            shift = opening.depth * lean[chosen]
            box = np.maximum(-shift, 0.0), np.minimum(size - shift, size)
            near_by = convex.near_box(*rays, *box, radius)
        met[row, chosen] = near_by
    return met
