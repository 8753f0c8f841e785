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
from ..room.beam import FLOOR, Beam
from ..room.outside import Indices
from ..sun.position import Floats
from ..sun.search import Bools
from . import glass
from .bounce import Bounce, bounce
from .daylight import PATCHES, Sky, sky_patches
from .factors import solid_angle
from .outdoors import SKY, Outdoors, Sight, outdoors
from .screen import NO_SCREENS, Screens

CELL_M = 0.14  # an opening is looked at in cells of about this size
SPOT_M = 1.0  # ground and blocks are told apart by spots of this size
REVEAL_IN = 0.5  # of what a reveal throws back goes into the room, the rest out


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
    inner face; `onto` and `into` (S,) the light behind the glass and at the inner face, lux by
    cd/m², of which the reveal keeps the difference.
    """

    opening: Aperture
    straight: Floats
    glow: Floats
    onto: Floats
    into: Floats

    def exitance_lux(
        self, level: Floats, sun_lux: float, lost_sun_lux: float, walls: float
    ) -> float:
        """What the inner face sends out matt: the reveal's glow, and what a dressing scatters."""
        lost = max(0.0, float((self.onto - self.into) @ level)) + lost_sun_lux
        glow = lost * walls * REVEAL_IN / (1.0 - walls * (1.0 - REVEAL_IN))
        straight, scattered = glass.dressing(self.opening.opening)
        through = float(self.into @ level) + sun_lux + glow
        return straight * glow + scattered * through


@dataclass(frozen=True, eq=False)
class Indoors:
    """A room's daylight at its pieces and at spots of one's own, ready for any sky."""

    beam: Beam
    bounce: Bounce
    targets: Targets
    passages: tuple[Passage, ...]
    points: Floats
    normals: Floats
    responses: Floats
    screens: Screens

    @cached_property
    def _by_target(self) -> Floats:
        """Light on the spots by each target through clear openings, bounces in it, (P, S)."""
        total = np.zeros((len(self.points), self.targets.count))
        for one in self.passages:
            total += glass.dressing(one.opening.opening)[0] * self._settled(one.straight)
        return total

    @cached_property
    def _by_opening(self) -> Floats:
        """Light on the spots by each opening's own glow, bounces in it, (P, O)."""
        glows = [self._settled(one.glow) for one in self.passages]
        return np.stack(glows, axis=-1) if glows else np.zeros((len(self.points), 0))

    def _settled(self, first: Floats) -> Floats:
        """From light that first falls on pieces and spots (N + P, …) to all light on the spots."""
        count = len(self.bounce.pieces.areas)
        settled: Floats = first[count:] + self.responses @ first[:count]
        return settled

    def lux(self, sky: Sky) -> Floats:
        """Illuminance of the spots, all bounces in it, (P,)."""
        level = self.targets.luminance(sky)
        walls = self.beam.room.reflectance.walls
        sunny = np.zeros(len(self.bounce.pieces.areas))
        out = [
            one.exitance_lux(level, *self._sun_through(index, sky, sunny), walls)
            for index, one in enumerate(self.passages)
        ]
        lit: Floats = self._by_target @ level + self._by_opening @ np.array(out)
        return lit + self.responses @ sunny + self._sun_on_spots(sky)

    def _sun_through(self, index: int, sky: Sky, onto: Floats) -> tuple[float, float]:
        """Lay an opening's sun on the pieces; returns its light at the inner face, and the lost.

        Both in lux of the inner face's area.
        """
        sun = sky.sun
        opening = self.beam.apertures[index]
        lights = sky.direct_normal_lux > 0 and sun[2] > 0 and bool(opening.faces(sun[None])[0])
        if not lights or not self.targets.outdoors.any_sun(opening.glass_corners(), sun):
            return 0.0, 0.0
        normal = opening.glass_normal()
        cosine = float(normal @ sun)
        share = float(glass.transmittance(opening.opening, np.array([cosine]))[0])
        behind = sky.direct_normal_lux * share * glass.open_share(opening.opening)
        area = opening.width * opening.height
        tilt = float(normal @ opening.outward)
        at_glass = behind * cosine / tilt  # by area of the inner face
        inside = 0.0
        if self.beam.passes(index, sun[None])[0]:
            left = float(shapely.area(self.beam.open_regions(index, sun[None]))[0])
            inside = behind * float(opening.outward @ sun) * left / area
        straight, _ = glass.dressing(opening.opening)
        if inside > 0 and straight > 0:
            self._lay(index, sun, behind * straight, onto)
        return inside, max(0.0, at_glass - inside)

    def _lay(self, index: int, sun: Floats, normal_lux: float, onto: Floats) -> None:
        pieces = self.bounce.pieces
        for patch in self.beam.patches(index, sun):
            surface = pieces.surfaces.index(patch.surface)
            chosen = np.flatnonzero((pieces.surface == surface) & (pieces.opening < 0))
            lit = shapely.area(shapely.intersection(pieces.flat[chosen], patch.shape))
            facing = 1.0 if patch.surface == FLOOR else 0.0
            cosine = float(sun[2]) if facing else float(pieces.normals[chosen[0]] @ sun)
            onto[chosen] += normal_lux * max(0.0, cosine) * lit / pieces.areas[chosen]

    def _sun_on_spots(self, sky: Sky) -> Floats:
        """Direct sun on the spots, lx, (P,)."""
        sun = sky.sun
        lux = np.zeros(len(self.points))
        if sky.direct_normal_lux <= 0 or sun[2] <= 0:
            return lux
        facing = np.maximum(self.normals @ sun, 0.0)
        for opening in self.beam.apertures:
            out = float(sun @ opening.outward)
            if out <= 0:
                continue
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
            lux += hit * facing * sky.direct_normal_lux * share * straight
        return lux


def _free(beam: Beam, opening: Aperture, points: Floats, ends: Floats) -> Bools:
    """Whether walls leave the way from each point (P, 3) to its end (P, 3) free, (P,)."""
    outline = np.array(beam.room.outline)
    free: Bools = sight.clear(outline, opening.wall, points[:, :2], ends[None, :, :2])[0]
    return free


def _cells(opening: Aperture) -> tuple[Floats, Floats]:
    """An opening's inner face in cells: corners (C, 4, 3) and middles (C, 3)."""
    columns = max(3, math.ceil(opening.width / CELL_M))
    rows = max(3, math.ceil(opening.height / CELL_M))
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
        rows, columns = PATCHES
        row = np.clip((toward[:, 2] * rows).astype(int), 0, rows - 1)
        turn = np.arctan2(toward[:, 1], toward[:, 0]) % (2 * math.pi)
        column = np.clip((turn / (2 * math.pi) * columns).astype(int), 0, columns - 1)
        found = row * columns + column
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
        found[solid] = rows * columns + numbers[back.ravel()]
        return np.asarray(found, dtype=np.intp)

    def targets(self) -> Targets:
        """All targets that were met."""
        blocks = np.array([one for one, _, _ in self._kept], dtype=np.intp)
        points = np.array([one for _, one, _ in self._kept]).reshape(-1, 3)
        normals = np.array([one for _, _, one in self._kept]).reshape(-1, 3)
        return Targets(self._around, Sight(blocks, np.zeros_like(points), points, normals))


def indoors(
    location: Location,
    beam: Beam,
    points: Floats,
    normals: Floats,
    screens: Screens = NO_SCREENS,
) -> Indoors:
    """Work out how daylight gets to the pieces of a room and to spots (P, 3) with normals.

    A spot may have a screen before it; what that does to the room at large is left aside.
    """
    around = outdoors(location, beam.room)
    walls = bounce(beam.room, beam.apertures)
    sorter = _Sorter(around)
    spots = np.concatenate((walls.pieces.middles + 1e-6 * walls.pieces.normals, points))
    facing = np.concatenate((walls.pieces.normals, normals))
    behind = {len(walls.pieces.areas) + row: screen for row, screen in screens.items()}
    raw = [_passage(beam, opening, spots, facing, behind, sorter) for opening in beam.apertures]
    targets = sorter.targets()
    passages = tuple(
        Passage(
            opening,
            straight=_sum(rows, index, weight, len(spots), targets.count),
            glow=glow,
            onto=_sum(np.zeros_like(onto[0]), *onto, 1, targets.count)[0],
            into=_sum(np.zeros_like(into[0]), *into, 1, targets.count)[0],
        )
        for opening, (rows, index, weight, glow, onto, into) in zip(
            beam.apertures, raw, strict=True
        )
    )
    responses = walls.responses(points, normals, screens)
    return Indoors(beam, walls, targets, passages, points, normals, responses, screens)


def _sum(rows: Indices, columns: Indices, weight: Floats, height: int, width: int) -> Floats:
    flat = np.bincount(rows * width + columns, weight, minlength=height * width)
    return np.asarray(flat, dtype=np.float64).reshape(height, width)


Weighted = tuple[Indices, Floats]


def _passage(
    beam: Beam,
    opening: Aperture,
    spots: Floats,
    facing: Floats,
    screens: Screens,
    sorter: _Sorter,
) -> tuple[Indices, Indices, Floats, Floats, Weighted, Weighted]:
    corners, middles = _cells(opening)
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
    return (
        rows,
        met,
        weight[rows, cells] * passed,
        glow,
        _onto(opening, sorter),
        _into(opening, middles, sorter),
    )


def _passed(opening: Aperture, cosine: Floats) -> Floats:
    """Share of light that glass, dirt and bars leave, at cosines of incidence (N,)."""
    through: Floats = glass.transmittance(opening.opening, cosine)
    return through * glass.open_share(opening.opening)


def _all_round(normal: Floats) -> tuple[Floats, Floats, float]:
    half, share = sky_patches()
    toward = np.concatenate((half, half * [1.0, 1.0, -1.0]))
    cosine = toward @ normal
    front = cosine > 1e-3
    return toward[front], cosine[front], float(share[0])


def _onto(opening: Aperture, sorter: _Sorter) -> Weighted:
    """Light behind the glass, by area of the inner face."""
    normal = opening.glass_normal()
    toward, cosine, share = _all_round(normal)
    middle = np.tile(opening.glass_corners().mean(axis=0), (len(toward), 1))
    weight = _passed(opening, cosine) * cosine * share
    return sorter.index(middle, toward), weight / float(normal @ opening.outward)


def _into(opening: Aperture, middles: Floats, sorter: _Sorter) -> Weighted:
    """Light that gets to the inner face past the reveal."""
    toward, cosine, share = _all_round(opening.outward)
    toward, cosine = toward[::4], cosine[::4]
    spots = np.repeat(middles, len(toward), axis=0)
    rays = np.tile(toward, (len(middles), 1))
    weight = np.tile(cosine * share * 4 / len(middles), len(middles))
    clear = opening.clears(spots, rays)
    spots, rays, weight = spots[clear], rays[clear], weight[clear]
    passed = _passed(opening, np.abs(rays @ opening.glass_normal()))
    return sorter.index(opening.to_glass(spots, rays), rays), weight * passed
