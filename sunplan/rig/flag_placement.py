"""Where a flag hangs, and whether it may: room for it, the camera's frame, the key's light."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import shapely
from shapely import Polygon

from ..light.lamp import LightSource, face_point, key_source
from ..light.resolved import ResolvedSetup
from ..light.screen import Screen
from ..location.kit import Kit
from ..location.read import Location
from ..room import sight_lines
from ..room.aperture import Aperture
from ..room.beam import Beam, beam_of
from ..room.camera import visible
from ..room.obstructions import block_prism
from ..sun.position import Floats
from ..sun.search import Bools

Covers = Literal["sun", "all"]
Placement = Literal["over the opening", "outside", "level under it", "on a stand"]
GAP_M = 0.02  # between a flag and walls or ceiling
FLOOR_GAP_M = 0.1
FAR = 100.0  # times as far as an opening: beyond any flag before it
GRIDS = 9, 71  # points each way of a flag that walls may hide from the camera, coarse first


@dataclass(frozen=True, eq=False)
class Position:
    """Where a flag hangs from one moment to another; all in the plan frame.

    Attributes
    ----------
    start_s, end_s
        Seconds since 1970 UTC.
    hung, pieces
        What is there as one rectangle, and the flags, one or two, that it is made of.
    needs_m, needs_centre
        The least rectangle that does it, along the same axes: its size and its middle, (3,).
    clear_of_frame, clear_of_key
        Whether it is out of the camera's frame, and out of the key's light on the face.
    edge_m
        How soft the edge of its shadow of the sun is on the mark, metres.
    """

    start_s: float
    end_s: float
    hung: Screen
    pieces: tuple[Screen, ...]
    needs_m: tuple[float, float]
    needs_centre: Floats
    clear_of_frame: bool
    clear_of_key: bool
    edge_m: float

    @property
    def centre(self) -> Floats:
        """Its middle, (3,)."""
        return self.hung.centre

    @property
    def across(self) -> Floats:
        """Unit vector along its first side, (3,)."""
        return self.hung.across

    @property
    def up(self) -> Floats:
        """Unit vector along its second side, (3,)."""
        return self.hung.up

    @property
    def stock_m(self) -> tuple[float, float]:
        """Its size along its sides, metres."""
        return self.hung.size

    @property
    def clear(self) -> bool:
        """Whether it is out of frame and out of the key's light."""
        return self.clear_of_frame and self.clear_of_key

    def better_than(self, other: Position) -> bool:
        """Whether to take it instead of one tried before: clear, or at least of the frame."""
        return self.clear or self.clear_of_frame > other.clear_of_frame


def own_wall(opening: Aperture, placement: Placement) -> int | None:
    """Index of the wall that hides nothing of a flag, since it hangs in it; None for no wall."""
    return opening.wall if placement == "over the opening" else None


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What decides where flags may be.

    Attributes
    ----------
    room, setup
        The room, and what is filmed there: its mark is to stay clean.
    source
        The key lamp, None without one.
    solids
        Plans of what no stand outside stands in, with their lowest and highest points, metres above
        ground.
    """

    room: Beam
    setup: ResolvedSetup
    source: LightSource | None
    solids: tuple[tuple[Polygon, float, float], ...]

    @property
    def kit(self) -> Kit:
        """The setup's kit."""
        return self.setup.from_kit

    def body(self) -> Floats:
        """Corners of a prism round the mark's volume, (K, 3)."""
        angles = np.arange(24) * (2 * math.pi / 24)
        mark, floor = self.setup.at_mark, self.room.room.floor
        reach = mark.width / 2 / math.cos(math.pi / 24)
        ring = np.array(mark.at) + reach * np.stack((np.cos(angles), np.sin(angles)), axis=-1)
        return np.concatenate([np.insert(ring, 2, floor + z, axis=1) for z in mark.height])

    @property
    def middle(self) -> Floats:
        """The middle of the mark's volume, (3,)."""
        mark = self.setup.at_mark
        return np.array([*mark.at, self.room.room.floor + sum(mark.height) / 2])

    @cached_property
    def _free(self) -> Polygon:
        free = self.room.outline.buffer(-GAP_M)
        shapely.prepare(free)
        return free

    def has_room_for(self, corners: Floats, opening: Aperture, placement: Placement) -> bool:
        """Whether a flag with corners (4, 3) can hang there: walls, floor, ceiling, solids."""
        room = self.room.room
        low, high = float(corners[:, 2].min()), float(corners[:, 2].max())
        if placement == "outside":
            plan = shapely.LinearRing(corners[:, :2])
            return low >= FLOOR_GAP_M - 1e-9 and not any(
                low < top and high > bottom and plan.intersects(solid)
                for solid, bottom, top in self.solids
            )
        over_it = placement == "over the opening"
        if low < room.floor + FLOOR_GAP_M * (not over_it) - 1e-9:
            return False
        if over_it and opening.wall is not None:
            first, second = (np.array(end) for end in room.wall(opening.wall))
            along = (corners[:, :2] - first) @ (second - first) / math.dist(first, second)
            fits = along.min() > -1e-9 and along.max() < math.dist(first, second) + 1e-9
            return bool(fits and high <= room.floor + room.height + 1e-9)
        if not over_it and high > room.floor + room.height - GAP_M:
            return False
        return bool(self._free.covers(shapely.LinearRing(corners[:, :2])))

    def in_frame(self, hung: Screen, opening: Aperture, placement: Placement) -> bool:
        """Whether the camera sees any of it, in the room or through its windows."""
        seen = self.setup.view.seen_part(hung.corners())
        if seen.is_empty:
            return False
        if placement == "outside":  # through a window only
            return any(
                seen.intersection(self.setup.view.seen_part(window.world(window.rectangle)))
                .intersection(self.setup.view.seen_part(window.glass_corners()))
                .area
                and (self.room.convex or self._through(hung, window))
                for window in self.room.apertures
            )
        if self.room.convex:
            return True
        return any(self._sees(hung, own_wall(opening, placement), grid) for grid in GRIDS)

    def _through(self, hung: Screen, opening: Aperture) -> bool:
        """Whether walls leave the camera any way to it through an opening, on a fine grid."""
        share = (np.arange(GRIDS[-1]) + 0.5) / GRIDS[-1]
        a, b = np.meshgrid(share * opening.width, share * opening.height)
        points = opening.world(np.stack((a.ravel(), b.ravel()), axis=-1))
        points = points[visible(self.setup.view, self.room.room, opening, points)]
        toward = points - self.setup.view.position
        far = self.setup.view.position + FAR * toward[opening.clears(points, toward)]
        return bool(hung.hides(self.setup.view.position, far).any())

    def _sees(self, hung: Screen, through: int | None, grid: int) -> bool:
        """Whether any of so many points each way is in frame, no wall before it but `through`."""
        share = np.linspace(-0.5, 0.5, grid)
        a, b = (axis.ravel()[:, None] for axis in np.meshgrid(share, share))
        spots = hung.centre + a * hung.size[0] * hung.across + b * hung.size[1] * hung.up
        return bool(self.spots_in_frame(spots, through).any())

    def spots_in_frame(self, spots: Floats, through: int | None) -> Bools:
        """Whether spots (N, 3) in the room are in frame past all walls but `through`, (N,)."""
        seen = self.setup.view.in_frame(spots)
        if not self.room.convex:
            outline = np.array(self.room.room.outline)
            ends = spots[seen, None, :2]
            seen[seen] = sight_lines.unobstructed(
                outline, through, self.setup.view.position[None, :2], ends
            )[:, 0]
        return seen

    def blocks_key(self, hung: Screen) -> bool:
        """Whether it takes any of the key's light from the face: from its middle or its corners."""
        source = self.source
        if source is None:
            return False
        lights = source.position[None] if source.wall is None else source.aim[None]
        if source.sheet is not None:
            lights = np.concatenate((source.sheet.corners(), source.sheet.centre[None]))
        face = face_point(self.room.room, self.setup.at_mark)
        return bool(hung.hides(face, lights).any())


def surroundings_of(location: Location, setup: ResolvedSetup) -> Surroundings:
    """Where flags may be for a setup; no stand stands in a block, or in a room of the house."""
    prisms = map(block_prism, location.outside)
    rooms = [(room.outline, room.floor, room.floor + room.height) for room in location.room]
    blocks = [(block.corners, block.low, block.high) for block in prisms]
    solids = tuple((Polygon(plan), low, high) for plan, low, high in (*rooms, *blocks))
    beam = beam_of(location, setup.in_room)
    return Surroundings(beam, setup, key_source(setup), solids)
