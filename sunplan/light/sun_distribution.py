"""Where direct light through an opening falls in a room: on which of its pieces, for many suns.

The opening is looked through in a grid of rays. Each that clears both apertures and meets nothing
outside lands on floor or wall, and there in a piece of the room, found on a fine raster.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from ..room.aperture import Aperture
from ..room.beam import FLOOR, Beam
from ..room.obstructions import Indices
from ..sun.position import Floats
from .mesh import Mesh

RAYS = 24  # each way through an opening
RASTER_M = 0.03  # of floor and walls; finer changes no level by a hundredth of a stop
NOWHERE = -1


@dataclass(frozen=True, eq=False)
class Raster:
    """A surface's pieces on a grid of cells from `low` (2,) on: `piece` (X, Y), −1 for none."""

    low: Floats
    piece: NDArray[np.intp]

    def at(self, spots: Floats) -> Indices:
        """The piece at spots (M, 2) of the surface's plane, (M,)."""
        cell = np.floor((spots - self.low) / RASTER_M).astype(np.intp)
        inside = ((cell >= 0) & (cell < self.piece.shape)).all(axis=1)
        found = np.full(len(spots), NOWHERE, dtype=np.intp)
        found[inside] = self.piece[tuple(cell[inside].T)]
        return found


@dataclass(frozen=True, eq=False)
class SunDistribution:
    """A room ready to say what the sun falls on."""

    beam: Beam
    pieces: Mesh

    @cached_property
    def _rasters(self) -> dict[str, Raster]:
        return {
            name: _raster(self.pieces, index)
            for index, name in enumerate(self.pieces.surfaces)
            if (self.pieces.surface == index).any()
        }

    @cached_property
    def _walls(self) -> tuple[Floats, Floats, Floats]:
        """First corners (W, 2), unit ways along (W, 2) and lengths (W,) of the walls."""
        first = np.array(self.beam.room.outline)
        way = np.roll(first, -1, axis=0) - first
        length = np.linalg.norm(way, axis=1)
        return first, way / length[:, None], length

    def through(self, index: int, suns: Floats) -> tuple[Floats, Floats]:
        """What comes in by opening `index` from suns (T, 3) before it.

        Cross-sections of the light, m²: of all that passes (T,), and of what falls on each piece
        (T, N).
        """
        opening = self.beam.apertures[index]
        spots = _grid(opening)
        open_ = self._open(index, spots, suns)
        cross = opening.width * opening.height / len(spots) * (suns @ opening.outward)
        moment, ray = np.nonzero(open_)
        piece = self._lands(opening, spots[ray], suns[moment])
        count = len(self.pieces.areas)
        kept = piece != NOWHERE
        flat = np.bincount(moment[kept] * count + piece[kept], minlength=len(suns) * count).reshape(
            len(suns), count
        )
        return open_.sum(axis=1) * cross, flat * cross[:, None]

    def _open(self, index: int, spots: Floats, suns: Floats) -> NDArray[np.bool_]:
        """Whether the ray of each sun through each spot comes from the open sky, (T, G)."""
        opening, shape = self.beam.apertures[index], (len(suns), len(spots))
        points = np.broadcast_to(spots, (*shape, 3))
        toward = np.broadcast_to(suns[:, None], (*shape, 3))
        clear = opening.clears(points.reshape(-1, 3), toward.reshape(-1, 3)).reshape(shape)
        for one in self.beam.blocks[index]:
            chosen = np.flatnonzero(one.may_shade(suns) & clear.any(axis=1))
            clear[chosen] &= ~one.prism.stops(points[chosen], suns[chosen])
        return clear

    def _lands(self, opening: Aperture, points: Floats, suns: Floats) -> Indices:
        """The piece that rays from an opening's face (M, 3), away from their suns, land on."""
        room = self.beam.room
        first, along, length = self._walls
        best = (points[:, 2] - room.floor) / suns[:, 2]
        wall = np.full(len(points), NOWHERE, dtype=np.intp)
        where = np.zeros(len(points))
        for index in range(len(first)):
            if index == opening.wall:
                continue
            outward = np.array([along[index, 1], -along[index, 0]])
            rate = -suns[:, :2] @ outward
            with np.errstate(divide="ignore", invalid="ignore"):
                reach = ((first[index] - points[:, :2]) @ outward) / rate
            spot = (points[:, :2] - reach[:, None] * suns[:, :2] - first[index]) @ along[index]
            met = (rate > 1e-12) & (reach > 1e-9) & (reach < best)
            met &= (spot >= 0) & (spot <= length[index])
            best[met], wall[met], where[met] = reach[met], index, spot[met]
        found = np.full(len(points), NOWHERE, dtype=np.intp)
        low = wall == NOWHERE
        found[low] = self._rasters[FLOOR].at(points[low, :2] - best[low, None] * suns[low, :2])
        height = points[:, 2] - best * suns[:, 2] - room.floor
        for index in np.unique(wall[~low]):
            mine = wall == index
            name = self.pieces.surfaces[2 + index]
            if name in self._rasters:
                spots = np.stack((where[mine], height[mine]), axis=-1)
                found[mine] = self._rasters[name].at(spots)
        return found


def _grid(opening: Aperture) -> Floats:
    """Spots even over an opening's inner face, (G, 3)."""
    share = (np.arange(RAYS) + 0.5) / RAYS
    a, b = np.meshgrid(share * opening.width, share * opening.height)
    return opening.world(np.stack((a.ravel(), b.ravel()), axis=-1))


def _raster(pieces: Mesh, surface: int) -> Raster:
    chosen = np.flatnonzero(pieces.surface == surface)
    low, high = np.split(shapely.total_bounds(pieces.flat[chosen]), 2)
    shape = np.maximum(1, np.ceil((high - low) / RASTER_M)).astype(int)
    found = np.full(shape, NOWHERE, dtype=np.intp)
    for index in chosen:
        shape_ = pieces.flat[index]
        box = np.array(shape_.bounds)
        # Cells whose middle lies in the piece's box; of a piece that is no box, in the piece.
        first, last = (
            np.clip(np.ceil((end - low) / RASTER_M - 0.5), 0, shape).astype(int)
            for end in (box[:2], box[2:])
        )
        part = found[first[0] : last[0], first[1] : last[1]]
        if shape_.area > (1.0 - 1e-9) * math.prod(box[2:] - box[:2]):
            part[:] = index
        else:
            x, y = (
                low[axis] + (np.arange(first[axis], last[axis]) + 0.5) * RASTER_M for axis in (0, 1)
            )
            grid = np.meshgrid(x, y, indexing="ij")
            part[shapely.contains_xy(shape_, *grid)] = index
    return Raster(low, found)
