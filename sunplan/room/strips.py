"""A room cut along the sun's bearing: walls are upright, so a ray never leaves its strip.

Seen along the bearing the outline falls into trapezoids, each with one wall toward the sun and one
away from it. So sight in a room that is not convex becomes a question of convex pieces.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..sun.position import Floats
from ..sun.search import Bools, Indices
from .aperture import Aperture
from .shapes import FINE_M, SNAP_M, Shapes, overlaps


@dataclass(frozen=True, eq=False)
class Strips:
    """Trapezoids (M) of a room's outline that rays of one bearing never leave.

    `sun_rows` says which sun cut each; `near` and `far` are the walls toward and away from it, by
    index; `rings` (M, 4, 2), plan metres, have their far ends first and last.
    """

    sun_rows: Indices
    near: Indices
    far: Indices
    rings: Floats

    def of(self, chosen: Bools) -> Strips:
        """Some of them, by a mask (M,)."""
        return Strips(
            self.sun_rows[chosen], self.near[chosen], self.far[chosen], self.rings[chosen]
        )

    def entered_from(self, opening: Aperture) -> Strips:
        """Those that an opening's rays may enter: along a window's wall, or all below a ceiling."""
        return self if opening.wall is None else self.of(self.near == opening.wall)

    def clip(self, rays: Shapes, opening: Aperture) -> Shapes:
        """The rays that enter each strip.

        Parameters
        ----------
        rays : shapely shapes (M,) of the opening's plane, metres, one for each strip.
        opening : the one that they come through.

        Returns
        -------
        Shapes (M,), empty where none does.
        """
        local = self.rings - opening.origin[:2]
        across = local @ opening.across[:2]
        if opening.wall is None:
            rings = np.stack((across, local @ opening.up[:2]), axis=-1)
            return overlaps(rays, shapely.polygons(rings), grid_m=FINE_M)
        ends = across[:, 1:3]  # of the part of the opening's wall that is the strip's near side
        boxes = shapely.box(ends.min(axis=1), 0.0, ends.max(axis=1), opening.height)
        return overlaps(rays, boxes, grid_m=FINE_M)


def strips(outline: Floats, sun: Floats) -> Strips:
    """A room's outline cut along the bearings of suns.

    Parameters
    ----------
    outline : its corners (E, 2), counter-clockwise, plan metres.
    sun : unit vectors (N, 3) toward the sun, not straight above.

    Examples
    --------
    >>> room = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 1.0], [2.0, 1.0], [2.0, 3.0], [0.0, 3.0]])
    >>> cut = strips(room, np.array([[0.0, 0.8, 0.6]]))  # the sun stands up the plan
    >>> cut.near.tolist(), cut.far.tolist()  # left arm: wall F's corner side; right arm: wall C
    ([4, 2], [0, 0])
    """
    toward = sun[:, :2] / np.maximum(np.hypot(sun[:, 0], sun[:, 1]), 1e-12)[:, None]
    side = np.stack((toward[:, 1], -toward[:, 0]), axis=-1)
    u, v = side @ outline.T, toward @ outline.T
    cuts = np.sort(u, axis=1)
    rows, cut = np.nonzero(np.diff(cuts, axis=1) >= SNAP_M)
    ends = np.stack((cuts[rows, cut], cuts[rows, cut + 1]), axis=-1)
    middle = ends.mean(axis=1)[:, None]
    first, last = u[rows], np.roll(u, -1, axis=1)[rows]
    start, rise = v[rows], (np.roll(v, -1, axis=1) - v)[rows]
    crossed = (first - middle) * (last - middle) < 0
    run = np.where(crossed, last - first, 1.0)
    height = np.where(crossed, start + (middle - first) * rise / run, np.inf)
    walls = np.argsort(height, axis=1, kind="stable")
    # Walls are met in pairs: one away from the sun, one toward it.
    row, pair = np.nonzero(np.arange(0, walls.shape[1] - 1, 2) < crossed.sum(axis=1)[:, None])
    far, near = walls[row, 2 * pair], walls[row, 2 * pair + 1]
    rows, ends = rows[row], ends[row]
    back, front = (
        start[row, wall][:, None]
        + (ends - first[row, wall][:, None]) * (rise / run)[row, wall][:, None]
        for wall in (far, near)
    )
    # Where the two walls meet, rounding must not cross them.
    front = np.maximum(back, front)
    across = np.stack((ends[:, 0], ends[:, 0], ends[:, 1], ends[:, 1]), axis=-1)
    along = np.stack((back[:, 0], front[:, 0], front[:, 1], back[:, 1]), axis=-1)
    rings = across[..., None] * side[rows, None] + along[..., None] * toward[rows, None]
    return Strips(rows, near, far, rings)
