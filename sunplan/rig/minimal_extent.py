"""The least that a flag must span in its plane: rays that cross it farthest, closed in on.

A net of rays shows about where the farthest to each side cross. From there one goes on to whichever
place near by is better, and looks nearer by where none is: a compass search (Kolda, Lewis, Torczon
2003, SIAM Review 45(3), 385-482), for all sides at once.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from ..sun.position import Floats
from .blocked_rays import Bundle, Rays, Ways
from .flag_planes import Planes

ROUNDS = 12
SIDES = np.array([[-1.0, 0.0], [1.0, 0.0], [0.0, -1.0], [0.0, 1.0]])
MARGIN_M = 0.0005  # round it: a mark's circle has corners, and a search ends somewhere


def crossings(rays: Rays | Bundle, planes: Planes) -> Floats:
    """Where rays (M) cross one plane, or (M) each its own, along its axes from `at`: (M, 2) m."""
    off = rays.points - planes.at
    reach = (off * planes.normal).sum(axis=1) / (rays.toward * planes.normal).sum(axis=1)
    met = off - reach[:, None] * rays.toward
    return np.stack([(met * axis).sum(axis=1) for axis in (planes.across, planes.up)], axis=-1)


def least(ways: Ways, bundle: Bundle, planes: Planes) -> tuple[Floats, Floats]:
    """Low and high corners (C, 2) of what all rays cross of planes (C), along their axes.

    The search starts from rays of a bundle. NaN on a side where no ray is found.
    """
    # Places looked at, in steps; the one in the middle is where it stands.
    net = np.array(list(product((-1.0, 0.0, 1.0), repeat=len(ways.cell))))
    still = len(net) // 2
    count = len(planes.at)
    plane = np.repeat(np.arange(count), len(SIDES))
    side = np.tile(SIDES, (count, 1))
    rows = np.arange(len(side))
    first = [crossings(bundle, planes[np.array([index])]) @ SIDES.T for index in range(count)]
    best = bundle.place[np.concatenate([np.argmax(one, axis=0) for one in first])]
    step = np.tile(ways.cell, (len(side), 1))
    far = np.full(len(side), -np.inf)
    for _ in range(ROUNDS):
        place = np.clip(best[:, None] + net * step[:, None], ways.low, ways.high)
        rays = ways.at(place.reshape(-1, len(ways.cell)))
        row = rays.which // len(net)
        reach = (crossings(rays, planes[plane[row]]) * side[row]).sum(axis=1)
        out = np.full(len(side) * len(net), -np.inf)
        np.maximum.at(out, rays.which, reach)
        there = out.reshape(len(side), len(net))
        chosen = np.argmax(there, axis=1)
        stays = there[rows, chosen] <= there[:, still]
        chosen[stays] = still
        best, far = place[rows, chosen], there[rows, chosen]
        step[stays] /= 2.0
    far[np.isinf(far)] = np.nan
    ends = far.reshape(count, len(SIDES))
    return -ends[:, [0, 2]] - MARGIN_M, ends[:, [1, 3]] + MARGIN_M
