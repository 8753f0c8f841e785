"""What rays out of a room meet, sorted into patches of sky, of ground and of blocks.

A few thousand patches stand for all that is outside: how much each of them lights a room is worked
out once, and a moment only asks for their luminance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..sun.position import Floats
from ..sun.search import Indices
from .daylight import Skies
from .distinct_rows import distinct_rows
from .exterior_luminance import SKY, ExteriorScene, RayHits
from .sky_luminance import patch_index, sky_patches

PATCH_M = 1.0  # across patches of ground and blocks
FAR_M, FAR_PATCH_M = 40.0, 200.0  # farther off they are larger
HORIZON_M = 1e6  # and beyond this all one


@dataclass(frozen=True, eq=False)
class ExteriorPatches:
    """Exterior patches (S): the sky's by index, then those of ground and blocks.

    `solid` has a ray into each of the latter.
    """

    scene: ExteriorScene
    solid: RayHits

    @property
    def count(self) -> int:
        """How many there are, S."""
        return len(sky_patches()[0]) + len(self.solid.block)

    def luminance_cd_m2(self, skies: Skies) -> Floats:
        """Luminance of all patches, cd/m², (T, S)."""
        solid = self.scene.luminance_cd_m2(self.solid, skies)
        return np.concatenate((skies.patch_luminance_cd_m2, solid), axis=1)


class PatchSorter:
    """Gives rays the index of the exterior patch that they meet.

    Patches of ground and blocks get their index when a ray first meets them.

    Examples
    --------
    >>> sorter = PatchSorter(ExteriorScene([], ground_reflectance=0.2))
    >>> rays = np.array([[0.0, 0.0, 1.0], [0.0, 0.8, -0.6], [0.0, 0.79, -0.61]])
    >>> sky, *ground = sorter.patch(np.array([[0.5, 0.5, 1.5]] * 3), rays).tolist()
    >>> sky < len(sky_patches()[0]), ground[0] == ground[1], sorter.patches().count
    (True, True, 5401)
    """

    def __init__(self, scene: ExteriorScene) -> None:
        self.scene = scene
        self._index: dict[tuple[float, ...], int] = {}
        self._hits: list[tuple[int, Floats, Floats]] = []

    def copy(self) -> PatchSorter:
        """One that knows the same patches, to go on by itself."""
        other = PatchSorter(self.scene)
        other._index, other._hits = dict(self._index), list(self._hits)
        return other

    def patch(self, points: Floats, toward: Floats) -> Indices:
        """Index of the patch that rays from points (N, 3) along unit vectors (N, 3) meet, (N,).

        It counts in `patches()` from now on.
        """
        hits = self.scene.trace(points, toward)
        patch = patch_index(toward)
        solid = np.flatnonzero(hits.block != SKY)
        met = np.clip(hits.points[solid], -HORIZON_M, HORIZON_M)
        near = (np.abs(np.floor(met)) <= FAR_M).all(axis=1, keepdims=True)
        size = np.where(near, PATCH_M, FAR_PATCH_M)
        side = np.rint(hits.normals[solid] * 8.0)
        keys = np.column_stack((hits.block[solid], side, size, np.floor(met / size)))
        first, which = distinct_rows(keys)
        for key, ray in zip(map(tuple, keys[first].tolist()), solid[first], strict=True):
            if key not in self._index:
                self._index[key] = len(sky_patches()[0]) + len(self._hits)
                self._hits.append((int(hits.block[ray]), hits.points[ray], hits.normals[ray]))
        numbers = [self._index[tuple(key)] for key in keys[first].tolist()]
        patch[solid] = np.array(numbers, dtype=np.intp)[which]
        return patch

    def patches(self) -> ExteriorPatches:
        """The sky's patches, and all others that were met so far."""
        blocks = np.array([block for block, _, _ in self._hits], dtype=np.intp)
        points = np.array([point for _, point, _ in self._hits]).reshape(-1, 3)
        normals = np.array([normal for _, _, normal in self._hits]).reshape(-1, 3)
        return ExteriorPatches(self.scene, RayHits(blocks, -normals, points, normals))
