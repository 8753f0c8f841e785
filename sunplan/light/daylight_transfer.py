"""Daylight in a room: from sky, ground, blocks and sun through the openings, and round the walls.

What can be seen outside is sorted into a few thousand targets: parts of the sky, spots of ground
and of blocks. How much each of them lights each spot of the room is worked out once; a moment then
only asks how bright the targets are, and where the sun's patches lie.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..location.read import Location
from ..room import sight_lines
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.obstructions import Indices
from ..room.sunlit_spots import reaches
from ..sun.position import Floats
from ..sun.search import Bools
from . import glass
from .daylight import Skies
from .exterior_luminance import SKY, ExteriorScene, RayHits, exterior_scene
from .form_factors import solid_angle
from .interreflection import Interreflection, interreflection
from .mesh import Mesh
from .screen import NO_SCREENS, Screens
from .sky_luminance import SKY_GRID, hemisphere_rays, patch_index
from .sun_distribution import SunDistribution

CELL_M = 0.14  # a piece looks at an opening in cells of about this size
FINE_M = 0.06  # and a spot in these
HALF = 1 << 13  # cells are counted from the middle of so many, each way
SPOT_M = 1.0  # ground and blocks are told apart by spots of this size
FAR_M = 1e3  # beyond all openings
CHUNK = 256  # moments at once: some thousand targets each
INTO_SPOTS = 25  # of the inner face, from which what passes the reveal is reckoned


@dataclass(frozen=True, eq=False)
class Targets:
    """What can be seen outside: sky parts by index, then spots of ground and blocks."""

    outdoors: ExteriorScene
    spots: RayHits

    @property
    def count(self) -> int:
        """How many there are."""
        return SKY_GRID[0] * SKY_GRID[1] + len(self.spots.block)

    def luminance(self, skies: Skies) -> Floats:
        """Of each target, cd/m², (T, S)."""
        return np.concatenate(
            (skies.patch_luminance_cd_m2, self.outdoors.luminance_cd_m2(self.spots, skies)), axis=1
        )


@dataclass(frozen=True, eq=False)
class Passage:
    """One opening's ways from outside to spots (P) of the room.

    With all bounces: `straight` (P, S) is lux by cd/m² of each target past the dressing, `glow`
    (P,) lux by lux that the dressing sends into the room. `into` (S,) is the light at the inner
    face, lux by cd/m², for it to scatter.
    """

    opening: Aperture
    straight: Floats
    glow: Floats
    into: Floats


@dataclass(frozen=True, eq=False)
class RoomTransfer:
    """A room's daylight at its pieces and at spots of one's own, ready for any sky."""

    traced: TracedRoom
    targets: Targets
    passages: tuple[Passage, ...]
    points: Floats
    normals: Floats
    transfer_factors: Floats
    screens: Screens

    @property
    def beam(self) -> Beam:
        """The room and its openings."""
        return self.traced.beam

    @property
    def interreflection(self) -> Interreflection:
        """The room's pieces and how they light each other."""
        return self.traced.walls

    def illuminance_lux(
        self,
        skies: Skies,
        opening_shares: Floats | None = None,
        *,
        lux_by_opening: Floats | None = None,
    ) -> Floats:
        """Illuminance of the spots, all bounces in it, (T, P).

        `opening_shares` (O,) is the share of its light that each opening is left; what black cloth
        then throws back otherwise than glass is left aside. `lux_by_opening` is that, if known.
        """
        lux_by_opening = self.lux_by_opening(skies) if lux_by_opening is None else lux_by_opening
        shares = np.ones(lux_by_opening.shape[1]) if opening_shares is None else opening_shares
        lit: Floats = np.einsum("top,o->tp", lux_by_opening, shares)
        return lit

    def lux_by_opening(self, skies: Skies) -> Floats:
        """What comes of it through each opening, (T, O, P)."""
        return self.indirect_lux(skies) + self.direct_lux(skies)

    def direct_lux(self, skies: Skies) -> Floats:
        """Direct light that falls on the spots through each opening, (T, O, P)."""
        found = np.zeros((len(skies), len(self.passages), len(self.points)))
        rows = np.flatnonzero(skies.has_direct_light)
        suns, sunny = skies.light_vector[rows], skies.direct_normal_lux[rows]
        facing = np.maximum(suns @ self.normals.T, 0.0)
        for index, one in enumerate(self.passages):
            hit = reaches(self.beam, index, self.points, suns)
            for row, screen in self.screens.items():
                lit = np.flatnonzero(hit[:, row])
                far = self.points[row] + FAR_M * suns[lit]
                hit[lit, row] = ~screen.hides(self.points[row], far)
            share = glass.dressing_shares(one.opening.opening.dressing)[0] * glass.transmittance(
                one.opening.opening, suns @ one.opening.glass_normal()
            )
            found[rows, index] = hit * facing * (sunny * share)[:, None]
        return found

    def indirect_lux(self, skies: Skies) -> Floats:
        """All other light: from sky, ground and blocks, and what the room throws back."""
        if len(skies) <= CHUNK:
            return self._indirect_lux(skies)
        parts = [
            self._indirect_lux(skies[start : start + CHUNK])
            for start in range(0, len(skies), CHUNK)
        ]
        return np.concatenate(parts)

    def _indirect_lux(self, skies: Skies) -> Floats:
        level = self.targets.luminance(skies)
        found = np.zeros((len(skies), len(self.passages), len(self.points)))
        for index, one in enumerate(self.passages):
            straight, scatters = glass.dressing_shares(one.opening.opening.dressing)
            lit = level @ one.straight.T
            into = level @ one.into if scatters else np.zeros(len(skies))
            rows = np.flatnonzero(skies.has_direct_light & one.opening.faces(skies.light_vector))
            if len(rows):
                suns, sunny = skies.light_vector[rows], skies.direct_normal_lux[rows]
                behind = sunny * _passed(one.opening, suns @ one.opening.glass_normal())
                passed, onto = self.traced.sun_distribution.through(index, suns)
                into[rows] += behind * passed / (one.opening.width * one.opening.height)
                first = (
                    self._on_reveal(index, suns)
                    + straight * onto / self.interreflection.pieces.areas
                )
                lit[rows] += behind[:, None] * (first @ self.transfer_factors.T)
            found[:, index] = lit + scatters * into[:, None] * one.glow
        return found

    def _on_reveal(self, index: int, suns: Floats) -> Floats:
        """Cosine of the sun's incidence on the pieces of a reveal, by the share lit, (T, N)."""
        pieces, opening = self.interreflection.pieces, self.beam.apertures[index]
        found = np.zeros((len(suns), len(pieces.areas)))
        chosen = np.flatnonzero((pieces.tube == index) & ~pieces.glass)
        cosine = suns @ pieces.normals[chosen].T
        spots = self.interreflection.probes[chosen]
        count, each = spots.shape[:2]
        asked = np.repeat(cosine > 1e-6, each, axis=1)
        ends = spots.reshape(-1, 3)[None] + 1e-6 * suns[:, None]
        lit = asked & _pairs(opening.clears, ends, suns)
        lit &= self.targets.outdoors.unobstructed(ends, suns, lit)
        share = lit.reshape(len(suns), count, each).mean(axis=2)
        found[:, chosen] = np.maximum(cosine, 0.0) * share
        return found


def _pairs(asks: Callable[[Floats, Floats], Bools], points: Floats, suns: Floats) -> Bools:
    """An opening's answer for points (T, N, 3) with their suns (T, 3), (T, N)."""
    toward = np.broadcast_to(suns[:, None], points.shape)
    return asks(points.reshape(-1, 3), toward.reshape(-1, 3)).reshape(points.shape[:2])


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

    def __init__(self, around: ExteriorScene) -> None:
        self._around = around
        self._known: dict[int, int] = {}
        self._kept: list[tuple[int, Floats, Floats]] = []

    def index(self, points: Floats, toward: Floats) -> Indices:
        """Target of each ray (N,)."""
        seen = self._around.trace(points, toward)
        found = patch_index(toward)
        solid = np.flatnonzero(seen.block != SKY)
        cells = np.floor(seen.points[solid] / SPOT_M).astype(int)
        # Far ground is alike: it is told apart by ever larger spots.
        far = np.abs(cells).max(axis=1, initial=0) > 40
        cells[far] = np.floor(seen.points[solid][far] / 200.0).astype(int) + 1000
        cells = np.clip(cells, -HALF, HALF - 1)
        sides = np.rint(seen.normals[solid] * 8.0).astype(int) + 8
        # One number a spot, which sorts far faster than its parts: block, side, then the cell.
        side = sides @ [17 * 17, 17, 1] + 17**3 * (seen.block[solid] + 2)
        keys = (side << 42) + ((cells + HALF) @ [1 << 28, 1 << 14, 1])
        unique, first, back = np.unique(keys, return_index=True, return_inverse=True)
        numbers = np.empty(len(unique), dtype=np.intp)
        for at, key in enumerate(unique.tolist()):
            if key not in self._known:
                self._known[key] = len(self._kept)
                ray = solid[first[at]]
                self._kept.append((int(seen.block[ray]), seen.points[ray], seen.normals[ray]))
            numbers[at] = self._known[key]
        found[solid] = SKY_GRID[0] * SKY_GRID[1] + numbers[back.ravel()]
        return found

    def targets(self) -> Targets:
        """All targets that were met."""
        blocks = np.array([one for one, _, _ in self._kept], dtype=np.intp)
        points = np.array([one for _, one, _ in self._kept]).reshape(-1, 3)
        normals = np.array([one for _, _, one in self._kept]).reshape(-1, 3)
        return Targets(self._around, RayHits(blocks, np.zeros_like(points), points, normals))


@dataclass(frozen=True, eq=False)
class TracedRoom:
    """A room whose pieces know their light's ways from outside; spots of one's own are still free.

    `seen` has, for each opening, the ways of the room's own pieces, those of its reveal, and the
    light that gets into it for a dressing to scatter.
    """

    beam: Beam
    walls: Interreflection
    sorter: _Sorter
    seen: tuple[tuple[_Ways, _Ways, Weighted], ...]

    @cached_property
    def sun_distribution(self) -> SunDistribution:
        """Where direct light falls on the room's pieces."""
        return SunDistribution(self.beam, self.walls.pieces)

    def transfer_to(
        self, points: Floats, normals: Floats, screens: Screens = NO_SCREENS
    ) -> RoomTransfer:
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
        transfer_factors = self.walls.transfer_factors(points, normals, screens)
        passages = []
        for index, (of_room, of_reveal, into) in enumerate(self.seen):
            opening, of_spots = beam.apertures[index], spots[index]
            inside = of_spots.by_target(width) + of_room.settled(transfer_factors[:, own], width)
            straight = glass.dressing_shares(opening.opening.dressing)[0] * inside
            straight += of_reveal.settled(transfer_factors[:, pieces.tube == index], width)
            glow = of_spots.glow + transfer_factors[:, own] @ of_room.glow
            level = np.bincount(into[0], into[1], width).astype(np.float64, copy=False)
            passages.append(Passage(opening, straight, glow, level))
        return RoomTransfer(
            self, targets, tuple(passages), points, normals, transfer_factors, screens
        )


def trace_room(location: Location, beam: Beam) -> TracedRoom:
    """Work out how daylight gets to the pieces of a room."""
    around = exterior_scene(location, beam.room)
    walls = interreflection(beam.room, beam.apertures)
    pieces = walls.pieces.middles + 1e-6 * walls.pieces.normals
    sorter = _Sorter(around)
    own = walls.pieces.tube < 0
    seen = tuple(
        (
            _ways(
                beam, opening, CELL_M, pieces[own], walls.pieces.normals[own], NO_SCREENS, sorter
            ),
            _from_reveal(opening, walls.pieces, walls.pieces.tube == index, sorter),
            _into(opening, sorter)
            if glass.dressing_shares(opening.opening.dressing)[1]
            else NOTHING,
        )
        for index, opening in enumerate(beam.apertures)
    )
    return TracedRoom(beam, walls, sorter, seen)


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

    def settled(self, transfer_factors: Floats, count: int) -> Floats:
        """What spots (Q) get of each target by way of these, by transfer factors (Q, P): (Q, S)."""
        found = np.empty((len(transfer_factors), count))
        for row, one in enumerate(transfer_factors):
            found[row] = np.bincount(self.targets, one[self.rows] * self.weight, count)
        return found


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
        weight *= sight_lines.clear(outline, opening.wall, spots[:, :2], ends).T
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
    return through * glass.glazed_share(opening.opening)


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
    toward, share = hemisphere_rays(opening.outward, SKY_GRID)
    spots = np.repeat(middles, len(toward), axis=0)
    rays = np.tile(toward, (len(middles), 1))
    weight = np.tile(share / len(middles), len(middles))
    clear = opening.clears(spots, rays)
    spots, rays, weight = spots[clear], rays[clear], weight[clear]
    passed = _passed(opening, np.abs(rays @ opening.glass_normal()))
    return sorter.index(opening.to_glass(spots, rays), rays), weight * passed
