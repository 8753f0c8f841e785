"""Daylight in a room: from sky, ground, blocks and sun through the openings, and round the walls.

What can be seen outside is sorted into a few thousand targets: parts of the sky, spots of ground
and of blocks. How much each of them lights each spot of the room is worked out once; a moment then
only asks how bright the targets are, and where the sun's patches lie.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from ..location.read import Location
from ..room import sight
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.outside import Indices
from ..sun.position import Floats
from ..sun.search import Bools
from . import glass
from .bounce import Bounce, bounce
from .daylight import PATCHES, Sky, patch_of, sky_patches
from .factors import solid_angle
from .mesh import Mesh
from .outdoors import SKY, Outdoors, Sight, outdoors
from .screen import NO_SCREENS, Screens

CELL_M = 0.14  # a piece looks at an opening in cells of about this size
FINE_M = 0.06  # and a spot in these
SPOT_M = 1.0  # ground and blocks are told apart by spots of this size
INTO_SPOTS = 25  # of the inner face, from which what passes the reveal is reckoned


@dataclass(frozen=True, eq=False)
class Targets:
    """What can be seen outside: sky parts by index, then spots of ground and blocks."""

    outdoors: Outdoors
    spots: Sight

    @property
    def count(self) -> int:
        """How many there are."""
        return PATCHES[0] * PATCHES[1] + len(self.spots.block)

    def luminance(self, sky: Sky) -> Floats:
        """Of each target, cd/m², (S,)."""
        return np.concatenate(
            (sky.luminance(sky_patches()[0]), self.outdoors.luminance(self.spots, sky))
        )


@dataclass(frozen=True, eq=False)
class Passage:
    """One opening's ways from outside to spots (P) of the room.

    `straight` (P, S) is lux by cd/m² of each target; `glow` (P,) the configuration factor of the
    inner face; `into` (S,) the light at the inner face, lux by cd/m², for a dressing to scatter.
    """

    opening: Aperture
    straight: Floats
    glow: Floats
    into: Floats


@dataclass(frozen=True, eq=False)
class Indoors:
    """A room's daylight at its pieces and at spots of one's own, ready for any sky."""

    prepared: Prepared
    targets: Targets
    passages: tuple[Passage, ...]
    points: Floats
    normals: Floats
    responses: Floats
    screens: Screens

    @property
    def beam(self) -> Beam:
        """The room and its openings."""
        return self.prepared.beam

    @property
    def bounce(self) -> Bounce:
        """The room's pieces and how they light each other."""
        return self.prepared.walls

    @cached_property
    def _by_target(self) -> tuple[Floats, ...]:
        """Light on the spots by each target through each clear opening, bounces in it, (P, S)."""
        return tuple(self._settled(one.straight) for one in self.passages)

    @cached_property
    def _by_glow(self) -> tuple[Floats, ...]:
        """Light on the spots by what each dressing scatters, bounces in it, (P,)."""
        return tuple(self._settled(one.glow) for one in self.passages)

    def _settled(self, first: Floats) -> Floats:
        """From light that first falls on pieces and spots (N + P, …) to all light on the spots."""
        count = len(self.bounce.pieces.areas)
        settled: Floats = first[count:] + self.responses @ first[:count]
        return settled

    def lux(self, sky: Sky, passing: Floats | None = None) -> Floats:
        """Illuminance of the spots, all bounces in it, (P,).

        `passing` (O,) is the share of its light that each opening is left; what black cloth then
        throws back otherwise than glass is left aside.
        """
        by_opening = self.by_opening(sky)
        lit: Floats = by_opening.sum(axis=0) if passing is None else passing @ by_opening
        return lit

    def by_opening(self, sky: Sky) -> Floats:
        """What comes of it through each opening, (O, P)."""
        level = self.targets.luminance(sky)
        found = np.zeros((len(self.passages), len(self.points)))
        for index, one in enumerate(self.passages):
            sunny = np.zeros(len(self.bounce.pieces.areas))
            sun_lux = self._sun_through(index, sky, sunny)
            share = glass.dressing(one.opening.opening)[1]
            scattered = share * (float(one.into @ level) + sun_lux)
            found[index] = self._by_target[index] @ level + self._by_glow[index] * scattered
            found[index] += self.responses @ sunny + self._sun_on_spots(index, sky)
        return found

    def _sun_through(self, index: int, sky: Sky, onto: Floats) -> float:
        """Lay an opening's sun on the pieces; returns its light at the inner face, lux."""
        sun, opening = sky.source, self.beam.apertures[index]
        if sky.direct_normal_lux <= 0 or sun[2] <= 0 or not opening.faces(sun[None])[0]:
            return 0.0
        cosine = np.array([opening.glass_normal() @ sun])
        behind = sky.direct_normal_lux * float(_passed(opening, cosine)[0])
        self._lay_in_reveal(index, sun, behind, onto)
        if not self.beam.passes(index, sun[None])[0]:
            return 0.0
        straight = glass.dressing(opening.opening)[0]
        if straight > 0:
            self._lay(index, sun, behind * straight, onto)
        left = float(shapely.area(self.beam.open_regions(index, sun[None]))[0])
        return behind * float(opening.outward @ sun) * left / (opening.width * opening.height)

    def _lay_in_reveal(self, index: int, sun: Floats, normal_lux: float, onto: Floats) -> None:
        pieces, opening = self.bounce.pieces, self.beam.apertures[index]
        cosine = pieces.normals @ sun
        chosen = np.flatnonzero((pieces.tube == index) & ~pieces.glass & (cosine > 1e-6))
        spots = self.bounce.probes[chosen]
        flat = spots.reshape(-1, 3) + 1e-6 * sun
        suns = np.broadcast_to(sun, flat.shape)
        lit = opening.clears(flat, suns) & self.targets.outdoors.sunlit(flat, suns, sun)
        share = lit.reshape(spots.shape[:2]).mean(axis=1)
        onto[chosen] += normal_lux * cosine[chosen] * share

    def _lay(self, index: int, sun: Floats, normal_lux: float, onto: Floats) -> None:
        pieces = self.bounce.pieces
        for patch in self.beam.patches(index, sun):
            surface = pieces.surfaces.index(patch.surface)
            chosen = np.flatnonzero(pieces.surface == surface)
            lit = shapely.area(shapely.intersection(pieces.flat[chosen], patch.shape))
            cosine = max(0.0, float(pieces.normals[chosen[0]] @ sun))
            onto[chosen] += normal_lux * cosine * lit / pieces.areas[chosen]

    def _sun_on_spots(self, index: int, sky: Sky) -> Floats:
        """Direct sun on the spots through one opening, lx, (P,)."""
        sun = sky.source
        lux = np.zeros(len(self.points))
        if sky.direct_normal_lux <= 0 or sun[2] <= 0:
            return lux
        opening = self.beam.apertures[index]
        out = float(sun @ opening.outward)
        if out <= 0:
            return lux
        way = ((opening.origin - self.points) @ opening.outward) / out
        ends = self.points + way[:, None] * sun
        suns = np.broadcast_to(sun, ends.shape)
        hit = (way > 0) & opening.holds(ends) & opening.clears(ends, suns)
        hit &= _free(self.beam, opening, self.points, ends)
        hit &= self.targets.outdoors.sunlit(ends, suns, sun)
        for row, screen in self.screens.items():
            hit[row] &= not screen.hides(self.points[row], ends[row])
        cosine = np.array([opening.glass_normal() @ sun])
        share = float(glass.transmittance(opening.opening, cosine)[0])
        straight, _ = glass.dressing(opening.opening)
        facing = np.maximum(self.normals @ sun, 0.0)
        lux += hit * facing * sky.direct_normal_lux * share * straight
        return lux


def _free(beam: Beam, opening: Aperture, points: Floats, ends: Floats) -> Bools:
    """Whether walls leave the way from each point (P, 3) to its end (P, 3) free, (P,)."""
    outline = np.array(beam.room.outline)
    free: Bools = sight.clear(outline, opening.wall, points[:, :2], ends[None, :, :2])[0]
    return free


def _cells(opening: Aperture, size_m: float = CELL_M) -> tuple[Floats, Floats]:
    """An opening's inner face in cells: corners (C, 4, 3) and middles (C, 3)."""
    columns = max(3, math.ceil(opening.width / size_m))
    rows = max(3, math.ceil(opening.height / size_m))
    a, b = np.meshgrid(np.arange(columns), np.arange(rows))
    low = np.stack((a.ravel(), b.ravel()), axis=-1).astype(float)
    size = np.array([opening.width / columns, opening.height / rows])
    ring = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=float)
    corners = opening.world((low[:, None] + ring) * size)
    return corners, opening.world((low + 0.5) * size)


class _Sorter:
    """Sorts what rays meet outside into targets."""

    def __init__(self, around: Outdoors) -> None:
        self._around = around
        self._known: dict[tuple[int, ...], int] = {}
        self._kept: list[tuple[int, Floats, Floats]] = []

    def index(self, points: Floats, toward: Floats) -> Indices:
        """Target of each ray (N,)."""
        seen = self._around.sight(points, toward)
        found = patch_of(toward)
        solid = np.flatnonzero(seen.block != SKY)
        cells = np.floor(seen.points[solid] / SPOT_M).astype(int)
        # Far ground is alike: it is told apart by ever larger spots.
        far = np.abs(cells).max(axis=1, initial=0) > 40
        cells[far] = np.floor(seen.points[solid][far] / 200.0).astype(int) + 1000
        sides = np.rint(seen.normals[solid] * 1000).astype(int)
        keys = np.column_stack((seen.block[solid], cells, sides))
        unique, first, back = np.unique(keys, axis=0, return_index=True, return_inverse=True)
        numbers = np.empty(len(unique), dtype=np.intp)
        for at, key in enumerate(map(tuple, unique.tolist())):
            if key not in self._known:
                self._known[key] = len(self._kept)
                ray = solid[first[at]]
                self._kept.append((int(seen.block[ray]), seen.points[ray], seen.normals[ray]))
            numbers[at] = self._known[key]
        found[solid] = PATCHES[0] * PATCHES[1] + numbers[back.ravel()]
        return found

    def targets(self) -> Targets:
        """All targets that were met."""
        blocks = np.array([one for one, _, _ in self._kept], dtype=np.intp)
        points = np.array([one for _, one, _ in self._kept]).reshape(-1, 3)
        normals = np.array([one for _, _, one in self._kept]).reshape(-1, 3)
        return Targets(self._around, Sight(blocks, np.zeros_like(points), points, normals))


@dataclass(frozen=True, eq=False)
class Prepared:
    """A room whose pieces know their light's ways from outside; spots of one's own are still free.

    `seen` has, for each opening, the ways of the room's own pieces, those of its reveal, and the
    light that gets into it for a dressing to scatter.
    """

    beam: Beam
    walls: Bounce
    sorter: _Sorter
    seen: tuple[tuple[_Ways, _Ways, Weighted], ...]

    def at(self, points: Floats, normals: Floats, screens: Screens = NO_SCREENS) -> Indoors:
        """The room with spots (P, 3) and their normals.

        A spot may have a screen before it; what that does to the room at large is left aside.
        """
        beam, pieces = self.beam, self.walls.pieces
        own = pieces.tube < 0
        spots = [
            _ways(beam, opening, FINE_M, points, normals, screens, self.sorter)
            for opening in beam.apertures
        ]
        targets = self.sorter.targets()
        width = targets.count
        passages = []
        for index, (of_room, of_reveal, into) in enumerate(self.seen):
            opening, of_spots = beam.apertures[index], spots[index]
            clear = glass.dressing(opening.opening)[0]
            straight = np.zeros((len(own) + len(points), width))
            straight[: len(own)][own] = clear * of_room.by_target(width)
            straight[: len(own)][pieces.tube == index] = of_reveal.by_target(width)
            straight[len(own) :] = clear * of_spots.by_target(width)
            glow = np.zeros(len(straight))
            glow[: len(own)][own], glow[len(own) :] = of_room.glow, of_spots.glow
            level = np.bincount(into[0], into[1], width).astype(np.float64, copy=False)
            passages.append(Passage(opening, straight, glow, level))
        responses = self.walls.responses(points, normals, screens)
        return Indoors(self, targets, tuple(passages), points, normals, responses, screens)


def prepared(location: Location, beam: Beam) -> Prepared:
    """Work out how daylight gets to the pieces of a room."""
    around = outdoors(location, beam.room)
    walls = bounce(beam.room, beam.apertures)
    pieces = walls.pieces.middles + 1e-6 * walls.pieces.normals
    sorter = _Sorter(around)
    own = walls.pieces.tube < 0
    seen = tuple(
        (
            _ways(
                beam, opening, CELL_M, pieces[own], walls.pieces.normals[own], NO_SCREENS, sorter
            ),
            _from_reveal(opening, walls.pieces, walls.pieces.tube == index, sorter),
            _into(opening, sorter) if glass.dressing(opening.opening)[1] else NOTHING,
        )
        for index, opening in enumerate(beam.apertures)
    )
    return Prepared(beam, walls, sorter, seen)


Weighted = tuple[Indices, Floats]
NOTHING: Weighted = (np.zeros(0, dtype=np.intp), np.zeros(0))


@dataclass(frozen=True, eq=False)
class _Ways:
    """Rays from spots (P) out through an opening: spot, target and lux by cd/m² of each.

    `glow` (P,) is the configuration factor of the inner face.
    """

    rows: Indices
    targets: Indices
    weight: Floats
    glow: Floats

    def by_target(self, count: int) -> Floats:
        """Lux by cd/m² of each target, (P, S)."""
        height = len(self.glow)
        flat = np.bincount(self.rows * count + self.targets, self.weight, height * count)
        return flat.astype(np.float64, copy=False).reshape(height, count)


def _ways(
    beam: Beam,
    opening: Aperture,
    cell_m: float,
    spots: Floats,
    facing: Floats,
    screens: Screens,
    sorter: _Sorter,
) -> _Ways:
    corners, middles = _cells(opening, cell_m)
    way = middles[None] - spots[:, None]
    way /= np.linalg.norm(way, axis=-1, keepdims=True)
    before = np.maximum(np.einsum("pck,pk->pc", way, facing), 0.0)
    before[way @ opening.outward <= 1e-6] = 0.0
    weight = solid_angle(spots, corners) * before
    if not beam.convex:
        outline = np.array(beam.room.outline)
        ends = np.broadcast_to(middles[:, None, :2], (len(middles), len(spots), 2))
        weight *= sight.clear(outline, opening.wall, spots[:, :2], ends).T
    for row, screen in screens.items():
        weight[row] *= ~screen.hides(spots[row], middles)
    glow = weight.sum(axis=1) / math.pi
    rows, cells = np.nonzero(weight)
    toward = way[rows, cells]
    clear = opening.clears(middles[cells], toward)
    rows, cells, toward = rows[clear], cells[clear], toward[clear]
    passed = _passed(opening, np.abs(toward @ opening.glass_normal()))
    met = sorter.index(opening.to_glass(middles[cells], toward), toward)
    return _Ways(rows, met, weight[rows, cells] * passed, glow)


def _passed(opening: Aperture, cosine: Floats) -> Floats:
    """Share of light that glass, dirt and bars leave, at cosines of incidence (N,)."""
    through: Floats = glass.transmittance(opening.opening, cosine)
    return through * glass.open_share(opening.opening)


def _all_round(normal: Floats) -> tuple[Floats, Floats]:
    """Directions before a face (N, 3), and their cosines times solid angles, (N,)."""
    half, share = sky_patches()
    toward, share = np.concatenate((half, half * [1.0, 1.0, -1.0])), np.tile(share, 2)
    cosine = toward @ normal
    front = cosine > 1e-3
    return toward[front], (cosine * share)[front]


def _from_reveal(opening: Aperture, pieces: Mesh, mine: Bools, sorter: _Sorter) -> _Ways:
    """Rays from a reveal's own pieces out through its glass."""
    corners, middles = _cells(opening)

    # The same cells, on the glass.
    def lift(spots: Floats) -> Floats:
        local = np.stack(
            ((spots - opening.origin) @ opening.across, (spots - opening.origin) @ opening.up), -1
        )
        half = np.array([opening.width, opening.height]) / 2
        ahead = opening.depth + (local - half) @ opening.slope
        lifted: Floats = spots + ahead[..., None] * opening.outward
        return lifted

    corners, middles = lift(corners), lift(middles)
    spots, facing = pieces.middles[mine] + 1e-6 * pieces.normals[mine], pieces.normals[mine]
    way = middles[None] - spots[:, None]
    way /= np.maximum(np.linalg.norm(way, axis=-1, keepdims=True), 1e-12)
    before = np.maximum(np.einsum("pck,pk->pc", way, facing), 0.0)
    weight = solid_angle(spots, corners) * before
    weight[pieces.glass[mine]] = 0.0
    rows, cells = np.nonzero(weight)
    toward = way[rows, cells]
    passed = _passed(opening, np.abs(toward @ opening.glass_normal()))
    met = sorter.index(middles[cells], toward)
    return _Ways(rows, met, weight[rows, cells] * passed, np.zeros(len(spots)))


def _into(opening: Aperture, sorter: _Sorter) -> Weighted:
    """Light that gets to the inner face past the reveal."""
    middles = _cells(opening)[1]
    middles = middles[:: max(1, len(middles) // INTO_SPOTS)]
    toward, share = _all_round(opening.outward)
    spots = np.repeat(middles, len(toward), axis=0)
    rays = np.tile(toward, (len(middles), 1))
    weight = np.tile(share / len(middles), len(middles))
    clear = opening.clears(spots, rays)
    spots, rays, weight = spots[clear], rays[clear], weight[clear]
    passed = _passed(opening, np.abs(rays @ opening.glass_normal()))
    return sorter.index(opening.to_glass(spots, rays), rays), weight * passed
