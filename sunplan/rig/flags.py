"""What blocks it: which stock flag, where, how high, and when it must be moved.

A flag is a rectangle in a plane. Every ray that must be stopped crosses that plane somewhere; the
rectangle round all crossings is what is needed, the smallest stock size that holds it is what is
hung. Planes are tried over the opening, and on a stand at several distances between opening and
mark: upright, level, or tilted square to the sun.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
import shapely
from shapely import Polygon

from ..location.kit import Flag, Kit, Stand
from ..location.model import Mark, Setup
from ..location.read import Location
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.entry import beam_of
from ..room.frame import View, view
from ..sun.position import Floats
from .rays import Bundle, all_rays, sun_rays

Covers = Literal["sun", "all"]
OVER, STAND = "over the opening", "on a stand"
MARGIN_M = 0.002  # round all that is needed: rounding and the curve of a mark's edge
HAND_M = 0.05  # a flag is larger than needed by this: hands set it no better; no source
GAP_M = 0.02  # between a flag and walls or ceiling
UNDER_M = 0.06  # a flag, its arm and grip under a ceiling; common practice, no source
HEAD_M = 0.15  # between a flag and a mark; common practice, no source
FLOOR_GAP_M = 0.1
DISTANCES = (0.12, 0.25, 0.4, 0.55, 0.7, 0.82, 0.92)  # of the way from opening to mark
LOOKS = 5  # moments whose sun a flag is turned to
MOST_MOVES = 8  # a flag that is moved more often is no plan


@dataclass(frozen=True, eq=False)
class Planes:
    """Planes that a flag may lie in: a point `at` and the flag's axes, each (C, 3)."""

    at: Floats
    across: Floats
    up: Floats

    @property
    def normal(self) -> Floats:
        """Unit normals, (C, 3)."""
        return np.cross(self.across, self.up)


@dataclass(frozen=True, eq=False)
class Position:
    """Where a flag hangs from one moment to another: metres and unit vectors, plan frame.

    `needs_m` is the least rectangle, about `needs_centre`; `stock_m` the flag's size along the
    same axes.
    """

    start_s: float
    end_s: float
    centre: Floats
    across: Floats
    up: Floats
    needs_m: tuple[float, float]
    needs_centre: Floats
    stock_m: tuple[float, float]
    clear_of_frame: bool

    def corners(self) -> Floats:
        """The flag's corners, (4, 3)."""
        return _corners(self.centre, self.across, self.up, self.stock_m)

    @property
    def tilt_deg(self) -> float:
        """Between the flag's face and the upright, 0 (upright) to 90 (level)."""
        return math.degrees(math.asin(min(1.0, abs(float(np.cross(self.across, self.up)[2])))))


@dataclass(frozen=True, eq=False)
class FlagOption:
    """One way of stopping the light: a flag of the kit with the places it takes in turn.

    `spans` are when there is light to stop, seconds since 1970 UTC.
    """

    opening: str
    covers: Covers
    placement: str
    flag: Flag
    stand: Stand | None
    positions: tuple[Position, ...]
    floor_m: float
    spans: tuple[tuple[float, float], ...]

    @property
    def clear_of_frame(self) -> bool:
        """Whether it stays out of frame wherever it hangs."""
        return all(one.clear_of_frame for one in self.positions)

    @property
    def moves(self) -> tuple[float, ...]:
        """Moments at which it must have been moved, seconds since 1970 UTC."""
        return tuple(one.start_s for one in self.positions[1:])

    def height_m(self, position: Position) -> float:
        """Height of the flag's middle above the floor."""
        return float(position.centre[2]) - self.floor_m


@dataclass(frozen=True, eq=False)
class SetupFlags:
    """All flags for one setup; `unmet` are openings whose light reaches the mark unstopped."""

    setup: Setup
    mark: Mark
    options: tuple[FlagOption, ...]
    unmet: tuple[str, ...]


def _corners(centre: Floats, across: Floats, up: Floats, size: tuple[float, float]) -> Floats:
    half = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * size
    corners: Floats = centre + half[:, :1] * across + half[:, 1:] * up
    return corners


def _over(opening: Aperture) -> Planes:
    """The plane of an opening's inner face; under a ceiling a little below it."""
    below = 0.0 if opening.wall is not None else UNDER_M
    at = opening.origin - below * opening.outward
    return Planes(at[None], opening.across[None], opening.up[None])


def _between(bundle: Bundle, opening: Aperture, middle: Floats) -> Planes:
    """Planes along the middle ray at several moments, turned in all sensible ways."""
    level = np.array([0.0, 0.0, 1.0])
    found: list[tuple[Floats, Floats, Floats]] = []
    steps = np.unique(np.linspace(0, len(bundle.moments) - 1, LOOKS).round().astype(int))
    for step in steps:
        chosen = bundle.step == step
        start, toward = bundle.points[chosen].mean(axis=0), bundle.toward[chosen].mean(axis=0)
        toward = toward / np.linalg.norm(toward)
        way = float((start - middle) @ toward)
        flat = np.array([toward[0], toward[1], 0.0])
        flat = flat / max(float(np.linalg.norm(flat)), 1e-9)
        side = np.array([-flat[1], flat[0], 0.0])
        axes = [
            (side, level),  # upright, facing the light's bearing
            (side, np.cross(toward, side)),  # tilted, square to the light
            (side, -flat),  # level, one side along the light's bearing
            (opening.across, opening.up),  # as the opening lies
        ]
        found += [
            (start - share * way * toward, across, up)
            for share, (across, up) in product(DISTANCES, axes)
        ]
    at, across, up = (np.array(part) for part in zip(*found, strict=True))
    return Planes(at, across, up)


def _reach(bundle: Bundle, planes: Planes, *, beyond: Floats | None) -> tuple[Floats, Floats]:
    """What a flag in each plane must span at each moment: low and high corners (T, C, 2).

    Measured along its axes from `at`. NaN where the plane does not part the light from the body
    whose points are `beyond` (K, 3).
    """
    count = len(bundle.moments)
    low = np.full((count, len(planes.at), 2), np.nan)
    high = low.copy()
    order = np.argsort(bundle.step, kind="stable")
    starts = np.searchsorted(bundle.step[order], np.arange(count))
    points, toward = bundle.points[order], bundle.toward[order]
    for index, normal in enumerate(planes.normal):
        at = planes.at[index]
        facing = toward @ normal
        sign = 1.0 if facing.sum() > 0 else -1.0
        ahead = (points - at) @ normal
        with np.errstate(divide="ignore", invalid="ignore"):
            crossing = points - at - (ahead / facing)[:, None] * toward
        sound = (sign * facing > 1e-6) & (sign * ahead > -1e-9)
        if beyond is not None and (sign * ((beyond - at) @ normal)).max() > -HEAD_M:
            continue
        whole = np.logical_and.reduceat(sound, starts)
        for side, axis in enumerate((planes.across[index], planes.up[index])):
            along = np.where(sound, crossing @ axis, 0.0)
            low[:, index, side] = np.where(whole, np.minimum.reduceat(along, starts), np.nan)
            high[:, index, side] = np.where(whole, np.maximum.reduceat(along, starts), np.nan)
    return low - MARGIN_M, high + MARGIN_M


@dataclass(frozen=True, eq=False)
class _Place:
    """Where flags may be: the room's free space, the mark, the camera."""

    room: Beam
    mark: Mark
    camera: View

    def body(self) -> Floats:
        """Points round the mark's volume, (K, 3)."""
        angles = np.arange(24) * (2 * math.pi / 24)
        reach = self.mark.width / 2 / math.cos(math.pi / 24)
        ring = np.array(self.mark.at) + reach * np.stack((np.cos(angles), np.sin(angles)), axis=-1)
        floor = self.room.room.floor
        return np.concatenate([np.insert(ring, 2, floor + z, axis=1) for z in self.mark.height])

    def holds(self, corners: Floats, opening: Aperture | None) -> bool:
        """Whether a flag with these corners can hang there; `opening`: it lies over that one."""
        room = self.room.room
        low, high = float(corners[:, 2].min()), float(corners[:, 2].max())
        if low < room.floor + FLOOR_GAP_M * (opening is None) - 1e-9:
            return False
        if opening is not None and opening.wall is not None:
            first, second = (np.array(end) for end in room.wall(opening.wall))
            along = (corners[:, :2] - first) @ (second - first) / math.dist(first, second)
            fits = along.min() > -1e-9 and along.max() < math.dist(first, second) + 1e-9
            return bool(fits and high <= room.floor + room.height + 1e-9)
        if opening is None and high > room.floor + room.height - GAP_M:
            return False
        plan = shapely.MultiPoint(corners[:, :2]).convex_hull
        return bool(shapely.contains(self._free, plan))

    @property
    def _free(self) -> Polygon:
        return self.room.outline.buffer(-GAP_M)


@dataclass(frozen=True, eq=False)
class _Search:
    """All ways to hang flags in some planes, with the extents that the light asks for."""

    place: _Place
    opening: Aperture
    placement: str
    bundle: Bundle
    planes: Planes
    low: Floats
    high: Floats
    stands: Sequence[Stand]

    def stand_for(self, height_m: float) -> Stand | None:
        """The lowest stand that carries a flag's middle at this height."""
        fit = [one for one in self.stands if one.lowest <= height_m <= one.highest]
        return min(fit, key=lambda one: one.highest, default=None)

    def positions(self, flag: Flag) -> tuple[Position, ...] | None:
        """The places one flag takes in turn, fewest first; None where it cannot do it."""
        found: list[Position] = []
        start = 0
        while start < len(self.bundle.moments):
            best = self._longest(flag, start)
            if best is None or len(found) > MOST_MOVES:
                return None
            position, start = best
            found.append(position)
        return tuple(found)

    def _longest(self, flag: Flag, start: int) -> tuple[Position, int] | None:
        """The position that holds longest from a moment on, and the moment it fails at."""
        # NaN spreads: a plane that fails at a moment fails from there on.
        low = np.minimum.accumulate(self.low[start:], axis=0)
        high = np.maximum.accumulate(self.high[start:], axis=0)
        wants = high - low
        tries: list[tuple[int, bool, float, int, tuple[float, float]]] = []
        for size in dict.fromkeys((flag.size, flag.size[::-1])):
            holds = np.all(wants <= np.array(size) - HAND_M, axis=-1)
            lasts = np.where(holds.all(axis=0), len(holds), holds.argmin(axis=0))
            for plane in np.flatnonzero(lasts):
                area = float(np.prod(wants[lasts[plane] - 1, plane]))
                tilted = 0.01 < abs(float(self.planes.normal[plane, 2])) < 0.99
                tries.append((int(lasts[plane]), tilted, area, int(plane), size))
        best: tuple[Position, int] | None = None
        # The longest first; of those an upright or level one, then the one with most to spare.
        for last, _, _, at, size in sorted(tries, key=lambda one: (-one[0], *one[1:3])):
            if best is not None and last < best[1] - start:
                break
            position = self._hang(at, size, low[last - 1], high[last - 1], start, last)
            if position is not None and (best is None or position.clear_of_frame):
                best = position, start + last
                if position.clear_of_frame:
                    break
        return best

    def _hang(
        self,
        plane: int,
        size: tuple[float, float],
        low: Floats,
        high: Floats,
        start: int,
        last: int,
    ) -> Position | None:
        """A flag in a plane over all it must span, shifted within its spare size until it fits."""
        across, up = self.planes.across[plane], self.planes.up[plane]
        needs = high[plane] - low[plane]
        middle = (high[plane] + low[plane]) / 2
        at = self.planes.at[plane]
        # However it is shifted, hands have their margin all round.
        spare = (np.array(size) - HAND_M - needs) / 2
        over = self.opening if self.placement == OVER else None
        edges = self.bundle.edges()
        best: Position | None = None
        for shift in sorted(
            product((0, -1, 1), repeat=2), key=lambda one: abs(one[0]) + abs(one[1])
        ):
            off = middle + np.array(shift) * spare
            centre = at + off[0] * across + off[1] * up
            height = float(centre[2]) - self.place.room.room.floor
            corners = _corners(centre, across, up, size)
            if self.placement == STAND and self.stand_for(height) is None:
                continue
            if not self.place.holds(corners, over):
                continue
            best = Position(
                start_s=float(edges[start]),
                end_s=float(edges[start + last]),
                centre=centre,
                across=across,
                up=up,
                needs_m=(float(needs[0]), float(needs[1])),
                needs_centre=at + middle[0] * across + middle[1] * up,
                stock_m=size,
                clear_of_frame=not self.place.camera.holds(corners),
            )
            if best.clear_of_frame:
                break
        return best


def _best(search: _Search, kit: Kit, covers: Covers) -> FlagOption | None:
    """The kit's flag that does it: out of frame, fewest moves, then owned, then the smallest."""
    found: list[tuple[tuple[bool, int, bool, float], FlagOption]] = []
    for flag in kit.flag:
        positions = search.positions(flag)
        if positions is None:
            continue
        floor = search.place.room.room.floor
        highest = max(float(one.centre[2]) - floor for one in positions)
        option = FlagOption(
            opening=search.opening.name,
            covers=covers,
            placement=search.placement,
            flag=flag,
            stand=search.stand_for(highest),
            positions=positions,
            floor_m=floor,
            spans=search.bundle.spans(),
        )
        area = flag.size[0] * flag.size[1]
        rank = (not option.clear_of_frame, len(positions), not flag.owned, area)
        found.append((rank, option))
    return min(found, key=lambda one: one[0], default=(None, None))[1]


def _searches(
    place: _Place, opening: Aperture, bundle: Bundle, stands: Sequence[Stand]
) -> Iterator[_Search]:
    body = place.body()
    middle = np.array([*place.mark.at, place.room.room.floor + sum(place.mark.height) / 2])
    for placement, planes in (
        (OVER, _over(opening)),
        (STAND, _between(bundle, opening, middle)),
    ):
        low, high = _reach(bundle, planes, beyond=body if placement == STAND else None)
        yield _Search(place, opening, placement, bundle, planes, low, high, stands)


def setup_flags(
    location: Location, setup: Setup, *, start_s: float, end_s: float, covers: Covers = "sun"
) -> SetupFlags:
    """Flags that keep one setup's mark clean through an interval, seconds since 1970 UTC."""
    room = beam_of(location, location.room_named(setup.room))
    mark = room.room.mark_named(setup.mark)
    place = _Place(room, mark, view(room.room, setup))
    kit = location.kit_of(setup)
    options: list[FlagOption] = []
    unmet: list[str] = []
    for index, opening in enumerate(room.apertures):
        bundle = (
            sun_rays(location, room, index, mark, start_s=start_s, end_s=end_s)
            if covers == "sun"
            else all_rays(room, index, mark, start_s=start_s, end_s=end_s)
        )
        if bundle.empty:
            continue
        found = [_best(one, kit, covers) for one in _searches(place, opening, bundle, kit.stand)]
        mine = [one for one in found if one is not None]
        options += sorted(mine, key=lambda one: (not one.clear_of_frame, len(one.positions)))
        if not mine:
            unmet.append(opening.name)
    return SetupFlags(setup, mark, tuple(options), tuple(unmet))
