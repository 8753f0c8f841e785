"""The least that a flag must span in its plane: rays that cross it farthest, closed in on.

A net of rays shows about where the farthest to each side cross. From there one goes on to whichever
place near by is better, and looks nearer by where none is: a compass search [1], for all sides at
once.

References
----------
.. [1] Kolda, T. G., Lewis, R. M., Torczon, V., Optimization by direct search, SIAM Review 45(3),
   2003, 385-482.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from ..sun.position import Floats
from .blocked_rays import Bundle, RayFamily, Rays
from .flag_planes import Planes

ROUNDS = 12
SIDES = np.array([[-1.0, 0.0], [1.0, 0.0], [0.0, -1.0], [0.0, 1.0]])
MARGIN_M = 0.0005  # round it: a mark's circle has corners, and a search ends somewhere


def crossings(rays: Rays | Bundle, planes: Planes) -> Floats:
    """Where rays (M) cross one plane, or each its own of M, metres along its axes, (M, 2).

    >>> x, y, z = np.eye(3)
    >>> rays = Rays(np.array([[0.5, 0.0, 1.0]]), y[None], np.array([0]))
    >>> crossings(rays, Planes(np.array([[0.0, 2.0, 0.0]]), x[None], z[None])).tolist()
    [[0.5, 1.0]]
    """
    off = rays.points - planes.origin
    reach = (off * planes.normal).sum(axis=1) / (rays.toward * planes.normal).sum(axis=1)
    met = off - reach[:, None] * rays.toward
    return np.stack([(met * axis).sum(axis=1) for axis in (planes.across, planes.up)], axis=-1)


def minimal_extent(family: RayFamily, bundle: Bundle, planes: Planes) -> tuple[Floats, Floats]:
    """Low and high corners (C, 2) of what all rays cross of planes (C), metres along their axes.

    Parameters
    ----------
    family
        All rays that must be stopped.
    bundle
        Some of them, from whose farthest the search starts.
    planes
        Each is searched on its own.

    Returns
    -------
    low, high
        NaN on a side where no ray is found.
    """
    # Parameters looked at, in steps; those in the middle are where the search stands.
    lowest, highest, cell = family.bounds
    net = np.array(list(product((-1.0, 0.0, 1.0), repeat=len(cell))))
    still = len(net) // 2
    count = len(planes.origin)
    plane = np.repeat(np.arange(count), len(SIDES))
    side = np.tile(SIDES, (count, 1))
    rows = np.arange(len(side))
    first = [crossings(bundle, planes[np.array([index])]) @ SIDES.T for index in range(count)]
    best = bundle.parameters[np.concatenate([np.argmax(reach, axis=0) for reach in first])]
    step = np.tile(cell, (len(side), 1))
    far = np.full(len(side), -np.inf)
    for _ in range(ROUNDS):
        parameters = np.clip(best[:, None] + net * step[:, None], lowest, highest)
        rays = family.rays(parameters.reshape(-1, len(cell)))
        row = rays.which // len(net)
        reach = (crossings(rays, planes[plane[row]]) * side[row]).sum(axis=1)
        out = np.full(len(side) * len(net), -np.inf)
        np.maximum.at(out, rays.which, reach)
        reached = out.reshape(len(side), len(net))
        chosen = np.argmax(reached, axis=1)
        stays = reached[rows, chosen] <= reached[:, still]
        chosen[stays] = still
        best, far = parameters[rows, chosen], reached[rows, chosen]
        step[stays] /= 2.0
    far[np.isinf(far)] = np.nan
    ends = far.reshape(count, len(SIDES))
    return -ends[:, [0, 2]] - MARGIN_M, ends[:, [1, 3]] + MARGIN_M
