"""The rays from points of a room out through an opening, and what light each of them carries."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..room import sight_lines
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..sun.position import Floats
from ..sun.search import Indices
from . import glass
from .exterior_patches import PatchSorter
from .form_factors import form_factor
from .mesh import Mesh
from .screen import BEYOND_M, NO_SCREENS, Screen, Screens
from .sky_luminance import LEVEL, SKY_GRID, hemisphere_rays

CELL_M = 0.14  # a mesh element looks at an opening in cells of about this size
FINE_CELL_M = 0.06  # and a point of interest in these
DIP = 1e-6  # how steeply the lower half of a level ray falls
FACE_POINTS = 25  # of the inner face, from which what passes the reveal is reckoned


@dataclass(frozen=True, eq=False)
class OpeningRays:
    """Rays (R) from points (P) through an opening.

    Attributes
    ----------
    point, patch
        The point that each starts from and the exterior patch that it meets, by index, (R,).
    weight
        Illuminance of the point by luminance of the patch, lux by cd/m², past the glass, (R,).
    form_factor
        Of the inner face from each point, as far as nothing in the room hides it, (P,).
    """

    point: Indices
    patch: Indices
    weight: Floats
    form_factor: Floats

    def matrix(self, count: int) -> Any:
        """Illuminance of the points by luminance of patches, lux by cd/m²: sparse, (P, S).

        `count` is how many patches there are, S.
        """
        from scipy.sparse import coo_array

        shape = (len(self.form_factor), count)
        return coo_array((self.weight, (self.point, self.patch)), shape=shape).tocsr()


def glazing_transmittance(opening: Aperture, toward: Floats) -> Floats:
    """Share of light that glass, dirt and bars leave along unit vectors (N, 3), (N,).

    From either side.
    """
    cosine = np.abs(toward @ opening.glass_normal())
    share: Floats = glass.transmittance(opening.opening, cosine)
    return share * glass.glazed_share(opening.opening)


def rays_from_points(
    beam: Beam,
    opening: Aperture,
    points: Floats,
    normals: Floats,
    sorter: PatchSorter,
    *,
    cell_m: float,
    screens: Screens = NO_SCREENS,
    hung: Sequence[Screen] = (),
) -> OpeningRays:
    """Rays from points of the room out through an opening, one through each cell they see.

    Parameters
    ----------
    beam, opening
        The room, and one of its openings.
    points, normals
        In the plan frame, (P, 3); unit normals.
    sorter
        Gives the rays their patches.
    cell_m
        Size of the cells that the inner face is looked through.
    screens
        What stands before single points, by their index.
    hung
        What hangs in the way of all light, in the room or outside before the opening.
    """
    corners, middles = _cells(opening, cell_m)
    toward, weight = _toward_cells(points, normals, corners, middles)
    weight[toward @ opening.outward <= 1e-6] = 0.0
    if not beam.convex:
        outline = np.array(beam.room.outline)
        ends = np.broadcast_to(middles[:, None, :2], (len(middles), len(points), 2))
        weight *= sight_lines.unobstructed(outline, opening.wall, points[:, :2], ends).T
    for row, before in screens.items():
        for screen in before:
            weight[row] *= ~screen.hides(points[row], middles)
    for screen in hung:  # in the room
        weight *= ~screen.hides(points[:, None], middles)
    form_factor = weight.sum(axis=1) / math.pi
    point, cell = np.nonzero(weight)
    clear = opening.clears(middles[cell], toward[point, cell])
    point, cell = point[clear], cell[clear]
    rays = toward[point, cell]
    starts = opening.to_glass(middles[cell], rays)
    return _sorted(opening, sorter, starts, rays, point, weight[point, cell], form_factor, hung)


def rays_from_reveal(
    opening: Aperture,
    mesh: Mesh,
    elements: Indices,
    sorter: PatchSorter,
    *,
    hung: Sequence[Screen] = (),
) -> OpeningRays:
    """Rays from a reveal's own elements (P) out through its glass, in the inner face's cells.

    `elements` (P,) are their indices in the mesh; from the glass itself none go out. An element
    looks out from its middle: what its nearness to the glass makes of that is put right for all
    together, so that the reveal gets what the glass sends past the inner face.
    """
    corners, middles = (
        opening.to_glass(flat, np.broadcast_to(opening.outward, flat.shape)).reshape(inner.shape)
        for inner in _cells(opening, CELL_M)
        for flat in [inner.reshape(-1, 3)]
    )
    points = mesh.raised()[elements]
    toward, weight = _toward_cells(points, mesh.normals[elements], corners, middles)
    weight[mesh.glass[elements]] = 0.0
    inward = -opening.glass_normal()
    inner_face = opening.world(opening.rectangle)[None]
    seen = form_factor(middles, np.broadcast_to(inward, middles.shape), inner_face).mean()
    glass_m2 = opening.width * opening.height / abs(float(inward @ opening.outward))
    found = float(mesh.areas[elements] @ weight.sum(axis=1))
    if found:
        weight *= math.pi * glass_m2 * (1.0 - seen) / found
    point, cell = np.nonzero(weight)
    rays, unseen = toward[point, cell], np.zeros(len(points))
    return _sorted(opening, sorter, middles[cell], rays, point, weight[point, cell], unseen, hung)


def rays_from_inner_face(
    opening: Aperture, sorter: PatchSorter, *, hung: Sequence[Screen] = ()
) -> OpeningRays:
    """Rays out of the inner face as one point: what a dressing there has to scatter.

    None where nothing hangs there that scatters.
    """
    if not glass.dressing_shares(opening.opening.dressing)[1]:
        none = np.zeros(0, dtype=np.intp)
        return OpeningRays(none, none, np.zeros(0), np.ones(1))
    middles = _cells(opening, CELL_M)[1]
    middles = middles[:: max(1, len(middles) // FACE_POINTS)]
    toward, weight = hemisphere_rays(opening.outward, SKY_GRID)
    points = np.repeat(middles, len(toward), axis=0)
    rays = np.tile(toward, (len(middles), 1))
    clear = opening.clears(points, rays)
    points, rays = points[clear], rays[clear]
    weight = np.tile(weight / len(middles), len(middles))[clear]
    starts, point = opening.to_glass(points, rays), np.zeros(len(rays), dtype=np.intp)
    return _sorted(opening, sorter, starts, rays, point, weight, np.ones(1), hung)


def _sorted(
    opening: Aperture,
    sorter: PatchSorter,
    starts: Floats,
    toward: Floats,
    point: Indices,
    weight: Floats,
    form_factor: Floats,
    hung: Sequence[Screen],
) -> OpeningRays:
    """Rays from the glass (N, 3) with their patches; a level one in halves, to sky and to ground.

    What it stands for lies half above the horizon, whichever way rounding tips it. Rays that meet
    what hangs outside are left out.
    """
    if hung:
        ends = starts + BEYOND_M * toward
        free = ~np.any([screen.hides(starts, ends) for screen in hung], axis=0)
        starts, toward, point, weight = starts[free], toward[free], point[free], weight[free]
    level = np.flatnonzero(np.abs(toward[:, 2]) <= LEVEL)
    weight[level] /= 2
    rows = np.concatenate((np.arange(len(toward)), level))
    rays = toward[rows]
    rays[len(toward) :, 2] = -DIP
    passed = glazing_transmittance(opening, rays)
    return OpeningRays(
        point[rows], sorter.patch(starts[rows], rays), weight[rows] * passed, form_factor
    )


def _cells(opening: Aperture, size_m: float) -> tuple[Floats, Floats]:
    """An opening's inner face in cells: corners (C, 4, 3) and middles (C, 3)."""
    columns = max(3, math.ceil(opening.width / size_m))
    rows = max(3, math.ceil(opening.height / size_m))
    a, b = np.meshgrid(np.arange(columns), np.arange(rows))
    low = np.stack((a.ravel(), b.ravel()), axis=-1).astype(float)
    size = np.array([opening.width / columns, opening.height / rows])
    ring = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    return opening.world((low[:, None] + ring) * size), opening.world((low + 0.5) * size)


def _toward_cells(
    points: Floats, normals: Floats, corners: Floats, middles: Floats
) -> tuple[Floats, Floats]:
    """Unit vectors from points to cells, (P, C, 3), and cosine times solid angle, sr, (P, C).

    A cell fills more of what a near point sees than its middle stands for: so not by that.
    """
    toward = middles[None] - points[:, None]
    toward /= np.maximum(np.linalg.norm(toward, axis=-1, keepdims=True), 1e-12)
    return toward, math.pi * form_factor(points, normals, corners[:, ::-1])
