"""The least that a flag must span in its plane: rays that cross it farthest, closed in on.

A net of rays shows about where the farthest to each side cross. From there one goes on to whichever
place near by is better, and looks nearer by where none is: a compass search (Kolda, Lewis, Torczon
2003, SIAM Review 45(3), 385-482), for all sides at once.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from ..sun.position import Floats
from .rays import Bundle, Rays, Ways

ROUNDS = 12
SIDES = np.array([[-1.0, 0.0], [1.0, 0.0], [0.0, -1.0], [0.0, 1.0]])
MARGIN_M = 0.0005  # round it: a mark's circle has corners, and a search ends somewhere


def crossings(rays: Rays | Bundle, at: Floats, across: Floats, up: Floats) -> Floats:
    """Where rays (M) cross a plane, along its axes from a point of it, metres (M, 2)."""
    normal = np.cross(across, up)
    off = rays.points - at
    reach = (off @ normal) / (rays.toward @ normal)
    axes = np.stack((across, up), axis=-1)
    crossed: Floats = off @ axes - reach[:, None] * (rays.toward @ axes)
    return crossed


def least(
    ways: Ways, bundle: Bundle, at: Floats, across: Floats, up: Floats
) -> tuple[Floats, Floats]:
    """Low and high corner (2,) of what all rays cross of a plane, along its axes from a point.

    The search starts from rays of a bundle. NaN on a side where no ray is found.
    """
    # Places looked at, in steps; the one in the middle is where it stands.
    net = np.array(list(product((-1.0, 0.0, 1.0), repeat=len(ways.cell))))
    still = len(net) // 2
    sides = np.arange(len(SIDES))
    best = bundle.place[np.argmax(crossings(bundle, at, across, up) @ SIDES.T, axis=0)]
    step = np.tile(ways.cell, (len(SIDES), 1))
    far = np.full(len(SIDES), -np.inf)
    for _ in range(ROUNDS):
        place = np.clip(best[:, None] + net * step[:, None], ways.low, ways.high)
        rays = ways.at(place.reshape(-1, len(ways.cell)))
        reach = crossings(rays, at, across, up)
        out = np.full(len(SIDES) * len(net), -np.inf)
        np.maximum.at(out, rays.which, (reach * SIDES[rays.which // len(net)]).sum(axis=1))
        there = out.reshape(len(SIDES), len(net))
        chosen = np.argmax(there, axis=1)
        stays = there[sides, chosen] <= there[:, still]
        chosen[stays] = still
        best, far = place[sides, chosen], there[sides, chosen]
        step[stays] /= 2.0
    far[np.isinf(far)] = np.nan
    return -far[[0, 2]] - MARGIN_M, far[[1, 3]] + MARGIN_M
