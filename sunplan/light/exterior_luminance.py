"""What one sees through an opening: sky, ground, or the face of a block; and how bright it is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..location.model import Room
from ..location.read import Location
from ..room.obstructions import Prism, block_prism, self_shading_prisms
from ..sun.position import Floats
from ..sun.search import Bools, Indices
from .daylight import Skies
from .distinct_rows import distinct_rows
from .sky_luminance import LEVEL

OFF_M = 1e-4  # how far before a face its light is asked for
SKY, GROUND = -1, -2


@dataclass(frozen=True, eq=False)
class RayHits:
    """What rays (N) meet outdoors.

    Attributes
    ----------
    block
        Index of a block, or `SKY`, or `GROUND`, (N,).
    toward
        Unit vectors along the rays, (N, 3).
    points, normals
        Where they meet it and its unit normal there, (N, 3); of the sky the ray's start, and up.
    """

    block: Indices
    toward: Floats
    points: Floats
    normals: Floats


@dataclass(frozen=True, eq=False)
class ExteriorScene:
    """Level ground at height 0 and upright blocks, matt, each with its reflectance.

    Examples
    --------
    >>> scene = ExteriorScene([], ground_reflectance=0.2)
    >>> rays = np.array([[0.0, 1.0, 0.0], [0.0, 0.8, -0.6]])
    >>> hits = scene.trace(np.array([[0.0, 0.0, 1.5]] * 2), rays)
    >>> hits.block.tolist() == [SKY, GROUND], hits.points[1].round(6).tolist()
    (True, [0.0, 2.0, 0.0])
    """

    prisms: Sequence[Prism]
    ground_reflectance: float

    def trace(self, points: Floats, toward: Floats) -> RayHits:
        """What rays from points (N, 3) along unit vectors (N, 3) meet first.

        A ray that is level meets the sky, if no block.
        """
        met = np.full(len(points), SKY, dtype=np.intp)
        nearest = np.full(len(points), np.inf)
        normals = np.tile([0.0, 0.0, 1.0], (len(points), 1))
        down = toward[:, 2] < -LEVEL
        nearest[down] = np.maximum(points[down, 2], 0.0) / -toward[down, 2]
        met[down] = GROUND
        for index, prism in enumerate(self.prisms):
            asked = np.flatnonzero(prism.may_meet(points, toward))
            crossings = prism.crossings(points[asked, None], toward[asked])
            enter, leave, face = (crossing[:, 0] for crossing in crossings)
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
        if len(rows):
            starts = (points[rows] if points.ndim == 3 else points[None])[:, columns]
            for prism in self.prisms:
                free[np.ix_(rows, columns)] &= ~prism.obstructs(starts, suns[rows])
        return free

    def illuminance_lux(self, points: Floats, normals: Floats, skies: Skies) -> Floats:
        """Illuminance of surfaces outdoors at points (N, 3) with unit normals (N, 3), lx, (T, N).

        Sun, sky and ground, of which a surface tilted by β sees (1 − cos β) / 2. Blocks shade the
        sun; of the sky they are taken to hide nothing, and the ground is taken as evenly lit.
        """
        # A few normals for thousands of points: each is asked for once.
        rounded = normals.round(12)
        first, which = distinct_rows(rounded)
        distinct = rounded[first]
        lux = skies.sky_illuminance_lux(distinct)
        ground = skies.global_horizontal_lux * self.ground_reflectance
        lux += ground[:, None] * (1.0 - distinct[:, 2]) / 2  # form factor of level ground
        lux = lux[:, which]
        rows = np.flatnonzero(skies.has_direct_light)
        if len(rows) and len(points):
            suns = skies.light_vector[rows]
            beam = np.maximum(suns @ normals.T, 0.0) * skies.direct_normal_lux[rows, None]
            lux[rows] += self.sunlit(points, normals, suns) * beam
        return lux

    def luminance_cd_m2(self, hits: RayHits, skies: Skies) -> Floats:
        """Luminance of what rays meet, cd/m², (T, N), no sun's disk; ρ E / π of what is matt."""
        luminance = np.empty((len(skies), len(hits.block)))
        sky, solid = np.flatnonzero(hits.block == SKY), np.flatnonzero(hits.block != SKY)
        luminance[:, sky] = skies.luminance_cd_m2(hits.toward[sky])
        # The last two places are those of GROUND and SKY, counted from the end.
        shares = [*(prism.reflectance for prism in self.prisms), self.ground_reflectance, 0.0]
        exitance = np.array(shares)[hits.block[solid]] * self.illuminance_lux(
            hits.points[solid], hits.normals[solid], skies
        )
        luminance[:, solid] = exitance / math.pi
        return luminance


def exterior_scene(location: Location, room: Room) -> ExteriorScene:
    """What stands round a room: the file's blocks, and of a room with corners its own other arm."""
    prisms = [block_prism(outside) for outside in location.outside] + self_shading_prisms(room)
    return ExteriorScene(prisms, location.site.ground_reflectance)
