"""What one sees through an opening: sky, ground, or the face of a block; and how bright it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Self

import numpy as np

from ..location.model import Room
from ..location.read import Location
from ..room.obstructions import Indices, Prism, block, own_walls
from ..sun.position import Floats
from ..sun.search import Bools
from .daylight import Skies

OFF_M = 1e-4  # how far before a face its light is asked for
SKY, GROUND = -1, -2


@dataclass(frozen=True, eq=False)
class SurfacePoints:
    """Spots of surfaces: points (N, 3); the normals (K, 3) they have, and each one's, (N,)."""

    points: Floats
    ways: Floats
    way: Indices

    @classmethod
    def of(cls, points: Floats, normals: Floats) -> Self:
        """Spots with a normal each, (N, 3)."""
        ways, way = np.unique(normals.round(12), axis=0, return_inverse=True)
        return cls(points, ways, way.ravel())


@dataclass(frozen=True, eq=False)
class RayHits:
    """What rays meet outdoors: `block` (N,) is a block's index, `SKY` or `GROUND`.

    `toward` (N, 3) are the rays; `points` and `normals` (N, 3) belong to what they meet.
    """

    block: Indices
    toward: Floats
    points: Floats
    normals: Floats

    @cached_property
    def solid(self) -> tuple[Indices, SurfacePoints]:
        """Which rays meet ground or a block, and the surfaces that they meet."""
        rays = np.flatnonzero(self.block != SKY)
        return rays, SurfacePoints.of(self.points[rays], self.normals[rays])


@dataclass(frozen=True, eq=False)
class ExteriorScene:
    """Level ground and upright blocks, each with its reflectance, under any sky."""

    prisms: Sequence[Prism]
    ground_reflectance: float

    def trace(self, points: Floats, toward: Floats) -> RayHits:
        """What rays from points (N, 3) along vectors (N, 3) meet."""
        met = np.full(len(points), SKY, dtype=np.intp)
        nearest = np.full(len(points), np.inf)
        normals = np.tile([0.0, 0.0, 1.0], (len(points), 1))
        down = toward[:, 2] < 0
        nearest[down] = np.maximum(points[down, 2], 0.0) / -toward[down, 2]
        met[down] = GROUND
        for index, prism in enumerate(self.prisms):
            asked = np.flatnonzero(prism.may_meet(points, toward))
            crossed = prism.crossings(points[asked, None], toward[asked])
            enter, leave, face = (one[:, 0] for one in crossed)
            hit = (enter > OFF_M) & (leave > enter) & (enter < nearest[asked])
            first = asked[hit]
            nearest[first], met[first] = enter[hit], index
            normals[first] = prism.faces[0][face[hit]]
        reach = np.where(np.isfinite(nearest), nearest, 0.0)
        return RayHits(met, toward, points + reach[:, None] * toward, normals)

    def sunlit(self, points: Floats, normals: Floats, suns: Floats) -> Bools:
        """Whether suns (T, 3) stand before surfaces at points (N, 3), nothing between, (T, N)."""
        lit: Bools = (suns @ normals.T > 0) & (suns[:, 2:] > 0)
        return lit & self.unobstructed(points + OFF_M * normals, suns, lit)

    def unobstructed(self, points: Floats, suns: Floats, asked: Bools) -> Bools:
        """Whether the way from points (N, 3) or (T, N, 3) to suns (T, 3) is free, (T, N).

        Where not `asked` (T, N) it may say anything.
        """
        free = np.ones(asked.shape, dtype=bool)
        rows = np.flatnonzero(asked.any(axis=1))
        columns = np.flatnonzero(asked.any(axis=0))
        if not len(rows):
            return free
        starts = (points[rows] if points.ndim == 3 else points[None])[:, columns]
        for prism in self.prisms:
            free[np.ix_(rows, columns)] &= ~prism.stops(starts, suns[rows])
        return free

    def illuminance_lux(self, at: SurfacePoints, skies: Skies) -> Floats:
        """On surfaces (N), lx, (T, N): sun, sky and ground.

        Blocks shade the sun; of the sky they are taken to hide nothing.
        """
        lux = skies.sky_illuminance_lux(at.ways)
        ground = skies.global_horizontal_lux * self.ground_reflectance
        lux += ground[:, None] * (1.0 - at.ways[:, 2]) / 2  # view factor of level ground
        found: Floats = lux[:, at.way]
        rows = np.flatnonzero(skies.has_direct_light)
        if len(rows) and len(at.points):
            suns = skies.light_vector[rows]
            beam = np.maximum(suns @ at.ways.T, 0.0) * skies.direct_normal_lux[rows, None]
            lit = self.sunlit(at.points, at.ways[at.way], suns)
            found[rows] += lit * beam[:, at.way]
        return found

    def luminance_cd_m2(self, hits: RayHits, skies: Skies) -> Floats:
        """Of what rays meet, cd/m², (T, N); matt surfaces, the sun's disk left out."""
        seen = skies.luminance_cd_m2(hits.toward)
        rays, surfaces = hits.solid
        # The last two places are those of GROUND and SKY, counted from the end.
        shares = np.array([one.reflectance for one in self.prisms] + [self.ground_reflectance, 0.0])
        seen[:, rays] = shares[hits.block[rays]] * self.illuminance_lux(surfaces, skies) / math.pi
        return seen


def exterior_scene(location: Location, room: Room) -> ExteriorScene:
    """What stands round a room: the file's blocks, and the room's own other arm."""
    prisms = [block(one) for one in location.outside] + own_walls(room)
    return ExteriorScene(prisms, location.site.ground_reflectance)
