"""One room ready for direct sun: its openings, what stands outside, and which rays get in.

A question is first asked in numpy for all times at once, with an answer that is exact where
nothing but the opening itself shapes the beam. Only times at which an obstruction's edge crosses
the opening, or a corner of the room stands in the way, go on to shapely, still exact. Where the
rays fall is asked in `patches.py`, which marks they reach in `mark_hits.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

from ..location.model import Mark, Room
from ..location.read import Location
from ..sun.position import Floats
from ..sun.search import Bools
from .aperture import Aperture, aperture
from .obstructions import Obstruction, block_prism, obstructions_of, self_shading_prisms
from .shapes import FINE_M, SLIVER_M2, SNAP_M, Shapes, polygons_only

CIRCLE = 128  # sides of a mark's circle where shapely needs one: 0.1 mm at 0.6 m across
WRAP = 48  # sides of one drawn round it


@dataclass(frozen=True, eq=False)
class Beam:
    """A room with its openings and the obstructions before each, ready for sun vectors.

    `obstructions` are those before each of the `apertures`. Vectors (N, 3) are of length one and
    point to the sun in the plan frame. That the sun is above the horizon is not asked here.

    Examples
    --------
    >>> from sunplan import read
    >>> location = read("locations/gate-house.toml")
    >>> beam = beam_of(location, location.room[0])
    >>> out = beam.apertures[0].outward
    >>> before, behind = 0.8 * out + [0, 0, 0.6], -0.8 * out + [0, 0, 0.6]
    >>> beam.passes(0, np.array([before, behind]))
    array([ True, False])
    """

    room: Room
    apertures: tuple[Aperture, ...]
    obstructions: tuple[tuple[Obstruction, ...], ...]

    @cached_property
    def outline(self) -> Polygon:
        """The room's outline, plan metres."""
        return Polygon(self.room.outline)

    @cached_property
    def corners(self) -> Floats:
        """Corners of the outline, (W, 2), plan metres."""
        return np.array(self.room.outline)

    @cached_property
    def wall_vectors(self) -> Floats:
        """Unit vectors along the walls, (W, 2)."""
        along = np.roll(self.corners, -1, axis=0) - self.corners
        unit: Floats = along / np.linalg.norm(along, axis=1, keepdims=True)
        return unit

    @cached_property
    def convex(self) -> bool:
        """Whether every spot of the room sees every other."""
        return bool(self.outline.convex_hull.area - self.outline.area < 1e-9)

    @cached_property
    def bodies(self) -> dict[str, Polygon]:
        """Each mark's circle on the plan, so far as it lies in the room."""
        return {mark.name: self._body(mark, CIRCLE, 1.0) for mark in self.room.mark}

    @cached_property
    def wraps(self) -> dict[str, Polygon]:
        """The same with few corners, drawn round the circle: up to 0.3 % wider.

        Flags that block all rays are found in two thirds of the time with these (5.1 s, not 7.8 s,
        over the demos and eight random rooms).
        """
        wider = 1.0 / math.cos(math.pi / WRAP)
        return {mark.name: self._body(mark, WRAP, wider) for mark in self.room.mark}

    def _body(self, mark: Mark, sides: int, wider: float) -> Polygon:
        angles = (np.arange(sides) + 0.5) * (2 * math.pi / sides)
        ring = np.stack((np.cos(angles), np.sin(angles)), axis=-1) * wider * mark.width / 2
        circle = Polygon(np.array(mark.at) + ring)
        return polygons_only(shapely.intersection(circle, self.outline, grid_size=FINE_M))

    @cached_property
    def in_plain_sight(self) -> dict[tuple[int, str], bool]:
        """By opening and mark: whether the mark lies in the room, no wall between the two."""
        slack = self.outline.buffer(SNAP_M)
        plain = {}
        for mark in self.room.mark:
            circle = shapely.Point(mark.at).buffer(mark.width / 2)
            for index, opening in enumerate(self.apertures):
                face = shapely.MultiPoint(opening.world(opening.rectangle)[:, :2])
                plain[index, mark.name] = self.outline.contains(circle) and (
                    self.convex or slack.contains(face.union(circle).convex_hull)
                )
        return plain

    def index(self, opening: str) -> int:
        """Index of an opening by name.

        Raises
        ------
        StopIteration : for a name that the room does not have.
        """
        return next(i for i, aperture in enumerate(self.apertures) if aperture.name == opening)

    def passes(self, index: int, sun: Floats) -> Bools:
        """Whether any ray of the sun gets through an opening.

        Parameters
        ----------
        index : of the opening in `apertures`.
        sun : unit vectors (N, 3) toward the sun.

        Returns
        -------
        Shape (N,): False where the wall, the reveal or what stands outside stops all of them.
        """
        opening = self.apertures[index]
        lit = opening.passes(sun)
        candidates = np.flatnonzero(lit)
        shaded = [
            obstruction.may_shade(sun[candidates]) for obstruction in self.obstructions[index]
        ]
        if not np.any(shaded):
            return lit
        candidates = candidates[np.any(shaded, axis=0)]
        facing = sun[candidates]
        corners = opening.world(opening.regions(facing))
        dark = np.zeros(corners.shape[:2], dtype=bool)
        whole = np.zeros(len(facing), dtype=bool)
        for obstruction in self.obstructions[index]:
            chosen = obstruction.may_shade(facing)
            shaded_corners = obstruction.prism.obstructs(corners[chosen], facing[chosen])
            dark[chosen] |= shaded_corners
            # A prism's shadow is convex: with all corners in it, so is the whole region.
            whole[chosen] |= shaded_corners.all(axis=1)
        lit[candidates[whole]] = False
        unsure = np.flatnonzero(dark.all(axis=1) & ~whole)
        if len(unsure):
            open_m2 = shapely.area(self.open_regions(index, facing[unsure]))
            lit[candidates[unsure]] = open_m2 > SLIVER_M2
        return lit

    def open_regions(self, index: int, sun: Floats) -> Shapes:
        """What of an opening's inner face sends rays to the open sky.

        Parameters
        ----------
        index : of the opening in `apertures`.
        sun : unit vectors (N, 3) toward the sun, that clear both apertures.

        Returns
        -------
        shapely polygons (N,) in the inner face's own plane, metres; empty where all is shaded.
        """
        opening = self.apertures[index]
        regions: Shapes = shapely.polygons(opening.regions(sun))
        for obstruction in self.obstructions[index]:
            chosen = np.flatnonzero(obstruction.may_shade(sun))
            if len(chosen):
                lines = shapely.linestrings(obstruction.shadows(opening, sun[chosen]))
                shadows = shapely.convex_hull(lines)
                regions[chosen] = shapely.difference(regions[chosen], shadows)
        return regions

    def may_be_cut(self, index: int, sun: Floats) -> Bools:
        """Whether an obstruction's shadow may reach the part of an opening that passes sun, (N,).

        False is certain.
        """
        opening = self.apertures[index]
        cut = np.zeros(len(sun), dtype=bool)
        if not self.obstructions[index]:
            return cut  # a year of sun on marks takes half as long
        region = opening.regions(sun)
        low, high = region.min(axis=1), region.max(axis=1)
        for obstruction in self.obstructions[index]:
            chosen = obstruction.may_shade(sun)
            shadow = obstruction.shadows(opening, sun[chosen])
            cut[chosen] |= (
                (shadow.min(axis=1) <= high[chosen]) & (shadow.max(axis=1) >= low[chosen])
            ).all(axis=1)
        return cut


def beam_of(location: Location, room: Room) -> Beam:
    """A location's room ready for sun vectors: its apertures, and what may shade each.

    The blocks of the file stand in the way, and of a room that is not convex its own other arms.
    """
    prisms = [block_prism(block) for block in location.outside] + self_shading_prisms(room)
    apertures = tuple(
        aperture(room, opening, plan_up_deg=location.site.plan_up) for opening in room.opening
    )
    return Beam(
        room, apertures, tuple(tuple(obstructions_of(opening, prisms)) for opening in apertures)
    )
