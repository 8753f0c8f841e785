"""What blocks it: which stock flag, where, how high, and when it must be moved.

A flag is a rectangle in a plane. Every ray that must be stopped crosses that plane somewhere; the
rectangle round all crossings is what is needed, the smallest stock size that holds it is what is
hung. Planes are tried over the opening, outside before the glass, level under a skylight, and on a
stand at several distances between opening and mark: upright, level, or tilted square to the sun.
Where no single flag does it, two that overlap are tried.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations_with_replacement, product
from typing import Literal

import numpy as np
import shapely
from shapely import Polygon

from ..light.lamp import LightSource, face_point, key_source
from ..light.screen import Screen
from ..location.kit import Flag, Kit, Stand
from ..location.model import Mark, Setup
from ..location.read import Location
from ..location.tolerances import widest
from ..room import sight_lines
from ..room.aperture import Aperture
from ..room.beam import Beam, beam_of
from ..room.camera import CameraView, camera_view, visible
from ..room.obstructions import block_prism
from ..sun.position import DISK_DEG, Floats
from ..sun.search import Bools, Indices
from .blocked_rays import AllRays, Bundle, SunRays, Ways
from .flag_planes import (
    ALL_MARGIN_M,
    MARGIN_M,
    OUTSIDE_MARGIN_M,
    UNDER_M,
    Planes,
    between,
    outside,
    over,
    raised,
    spans,
)
from .minimal_extent import least

Covers = Literal["sun", "all"]
Placement = Literal["over the opening", "outside", "level under it", "on a stand"]
HAND_M = 0.05  # a flag is larger than needed by this: hands set it no better; no source
GAP_M = 0.02  # between a flag and walls or ceiling
FLOOR_GAP_M = 0.1
OVERLAP_M = 0.1  # of two flags side by side; common practice, no source
MOST_MOVES = 8  # a flag that is moved more often is no plan
EDGE_SHARE = 2.0 * math.tan(math.radians(DISK_DEG / 2))  # of a shadow's soft edge by its throw
FAR = 100.0  # times as far as an opening: beyond any flag before it
GRIDS = 9, 71  # points each way of a flag that walls may hide from the camera, coarse first
SPOTS = 5  # of what a flag must span, each way, to see that it is in frame wherever it hangs
SHIFTS = np.array([[0, 0], [-1, 0], [1, 0], [0, -1], [0, 1], [-1, -1], [-1, 1], [1, -1], [1, 1]])
MOST_SHIFTS = 2  # of those that hold, looked at closely
MOST_TRIES = 60  # places that are tried for one flag: the best of them come first


def _owned(flags: tuple[Flag, ...]) -> bool:
    return all(one.owned >= flags.count(one) for one in flags)


def _area(flags: tuple[Flag, ...]) -> float:
    return sum(one.size[0] * one.size[1] for one in flags)


@dataclass(frozen=True, eq=False)
class Stock:
    """One flag, or two that overlap, turned one way: `size` is what they cover together.

    `pieces` are the flags with their middles, off the common one along its axes, and their sizes.
    """

    flags: tuple[Flag, ...]
    size: tuple[float, float]
    pieces: tuple[tuple[tuple[float, float], tuple[float, float]], ...]

    def hung(self, centre: Floats, across: Floats, up: Floats) -> tuple[Screen, ...]:
        """The flags about a common middle (3,), with unit vectors across and up."""
        return tuple(
            Screen(centre + off[0] * across + off[1] * up, across, up, size)
            for off, size in self.pieces
        )


def single(flag: Flag) -> tuple[Stock, ...]:
    """A flag in both its turns."""
    turns = dict.fromkeys((flag.size, flag.size[::-1]))
    return tuple(Stock((flag,), size, (((0.0, 0.0), size),)) for size in turns)


def pair(first: Flag, second: Flag) -> tuple[Stock, ...]:
    """Two flags side by side or one over the other, in all turns.

    >>> flag = Flag(name="a", size=(1.0, 2.0))
    >>> sorted(one.size for one in pair(flag, flag))
    [(1.0, 2.9), (1.0, 3.9), (1.9, 2.0), (2.0, 1.9), (2.9, 1.0), (3.9, 1.0)]
    """
    found: dict[tuple[float, float], Stock] = {}
    turns = product(*(dict.fromkeys((one.size, one.size[::-1])) for one in (first, second)))
    for (one, other), axis in product(turns, (0, 1)):
        along = one[axis] + other[axis] - OVERLAP_M
        beside = min(one[1 - axis], other[1 - axis])
        ends = (one[axis] - along) / 2, (along - other[axis]) / 2
        size = (along, beside) if axis == 0 else (beside, along)
        offs = [(end, 0.0) if axis == 0 else (0.0, end) for end in ends]
        stock = Stock((first, second), size, ((offs[0], one), (offs[1], other)))
        found.setdefault((round(size[0], 6), round(size[1], 6)), stock)
    return tuple(found.values())


@dataclass(frozen=True, eq=False)
class Position:
    """Where a flag hangs from one moment to another: metres and unit vectors, plan frame.

    `needs_m` is the least rectangle, about `needs_centre`; `hung` is what is there, of `pieces`
    where it is two flags. `edge_m` is how soft the edge of its shadow of the sun is on the mark.
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
        """Its size along the same axes."""
        return self.hung.size


@dataclass(frozen=True, eq=False)
class FlagOption:
    """One way of stopping the light: a flag of the kit with the places it takes in turn.

    `flags` are one, or two that overlap. `spans` are when there is light to stop, seconds since
    1970 UTC. `ground_m` is what its stand stands on.
    """

    opening: str
    covers: Covers
    placement: Placement
    flags: tuple[Flag, ...]
    stand: Stand | None
    positions: tuple[Position, ...]
    ground_m: float
    spans: tuple[tuple[float, float], ...]

    @property
    def name(self) -> str:
        """What is taken."""
        return " + ".join(flag.name for flag in self.flags)

    @property
    def owned(self) -> bool:
        """Whether the kit owns all of it."""
        return _owned(self.flags)

    @property
    def clear_of_frame(self) -> bool:
        """Whether it stays out of frame wherever it hangs."""
        return all(one.clear_of_frame for one in self.positions)

    @property
    def clear_of_key(self) -> bool:
        """Whether it never stands between the key and the face."""
        return all(one.clear_of_key for one in self.positions)

    @property
    def moves(self) -> tuple[float, ...]:
        """Moments at which it must have been moved, seconds since 1970 UTC."""
        return tuple(one.start_s for one in self.positions[1:])

    @property
    def rank(self) -> tuple[bool, bool, int, bool, int, float]:
        """The least is the one to take.

        Out of frame, out of the key's light, fewest moves, owned, one rather than two, smallest.
        """
        return (
            not self.clear_of_frame,
            not self.clear_of_key,
            len(self.positions),
            not self.owned,
            len(self.flags),
            _area(self.flags),
        )

    @property
    def faultless(self) -> bool:
        """Whether it stays where it is, out of frame and out of the key's light."""
        return self.clear_of_frame and self.clear_of_key and len(self.positions) == 1

    def height_m(self, position: Position) -> float:
        """Height of the flag's middle above what its stand stands on."""
        return float(position.centre[2]) - self.ground_m

    def head_m(self, position: Position) -> float:
        """Height of the stand's head: as near the flag's middle as the stand can."""
        if self.stand is None:
            return self.height_m(position)
        return min(max(self.height_m(position), self.stand.lowest), self.stand.highest)


@dataclass(frozen=True, eq=False)
class SetupFlags:
    """All flags for one setup, the first of each opening the one to take.

    `unmet` are openings whose light reaches the mark unstopped, `unreached` those that nobody
    reaches outside.
    """

    setup: Setup
    mark: Mark
    options: tuple[FlagOption, ...]
    unmet: tuple[str, ...]
    unreached: tuple[Aperture, ...]

    @property
    def taken(self) -> tuple[FlagOption, ...]:
        """The option to take for each opening."""
        first: dict[str, FlagOption] = {}
        for option in self.options:
            first.setdefault(option.opening, option)
        return tuple(first.values())


def _hung_in(opening: Aperture, placement: Placement) -> int | None:
    """The wall that hides nothing of a flag: the one it hangs in."""
    return opening.wall if placement == "over the opening" else None


@dataclass(frozen=True, eq=False)
class _Place:
    """Where flags may be: the room's free space, the mark, the camera, the key; what is outside.

    `solids` are plans with their lowest and highest points, metres above ground.
    """

    room: Beam
    mark: Mark
    camera: CameraView
    source: LightSource | None
    solids: tuple[tuple[Polygon, float, float], ...]

    def body(self) -> Floats:
        """Points round the mark's volume, (K, 3)."""
        angles = np.arange(24) * (2 * math.pi / 24)
        reach = self.mark.width / 2 / math.cos(math.pi / 24)
        ring = np.array(self.mark.at) + reach * np.stack((np.cos(angles), np.sin(angles)), axis=-1)
        floor = self.room.room.floor
        return np.concatenate([np.insert(ring, 2, floor + z, axis=1) for z in self.mark.height])

    @property
    def middle(self) -> Floats:
        """The middle of the mark's volume, (3,)."""
        return np.array([*self.mark.at, self.room.room.floor + sum(self.mark.height) / 2])

    @cached_property
    def _free(self) -> Polygon:
        free = self.room.outline.buffer(-GAP_M)
        shapely.prepare(free)
        return free

    @cached_property
    def _walls(self) -> tuple[Floats, Floats]:
        """Unit normals of the walls inward (W, 2), and their distances from the origin (W,)."""
        first = np.array(self.room.room.outline)
        way = np.roll(first, -1, axis=0) - first
        inward = np.stack((-way[:, 1], way[:, 0]), axis=-1)
        inward /= np.linalg.norm(inward, axis=1, keepdims=True)
        return inward, np.einsum("wk,wk->w", inward, first)

    @cached_property
    def _face(self) -> Floats:
        return face_point(self.room.room, self.mark)

    def holds(self, corners: Floats, opening: Aperture, placement: Placement) -> bool:
        """Whether a flag with these corners can hang there."""
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
        if self.room.convex:
            inward, reach = self._walls
            return bool((corners[:, :2] @ inward.T >= reach + GAP_M).all())
        return bool(self._free.contains(shapely.LinearRing(corners[:, :2])))

    def films(self, hung: Screen, opening: Aperture, placement: Placement) -> bool:
        """Whether any of it falls on the camera's frame."""
        seen = self.camera.seen_part(hung.corners())
        if seen.is_empty:
            return False
        if placement == "outside":  # through a window only
            return any(
                seen.intersection(self.camera.seen_part(one.world(one.rectangle)))
                .intersection(self.camera.seen_part(one.glass_corners()))
                .area
                and (self.room.convex or self._through(hung, one))
                for one in self.room.apertures
            )
        if self.room.convex:
            return True
        return any(self._sees(hung, _hung_in(opening, placement), grid) for grid in GRIDS)

    def _through(self, hung: Screen, opening: Aperture) -> bool:
        """Whether walls leave the camera any way to it through an opening, on a fine grid."""
        share = (np.arange(GRIDS[-1]) + 0.5) / GRIDS[-1]
        a, b = np.meshgrid(share * opening.width, share * opening.height)
        points = opening.world(np.stack((a.ravel(), b.ravel()), axis=-1))
        points = points[visible(self.camera, self.room.room, opening, points)]
        toward = points - self.camera.position
        far = self.camera.position + FAR * toward[opening.clears(points, toward)]
        return bool(hung.hides(self.camera.position, far).any())

    def _sees(self, hung: Screen, through: int | None, grid: int) -> bool:
        """Whether any of so many points each way is in frame, no wall before it but `through`."""
        share = np.linspace(-0.5, 0.5, grid)
        a, b = (one.ravel()[:, None] for one in np.meshgrid(share, share))
        spots = hung.centre + a * hung.size[0] * hung.across + b * hung.size[1] * hung.up
        return bool(self.filmed(spots, through).any())

    def filmed(self, spots: Floats, through: int | None) -> Bools:
        """Whether spots (N, 3) in the room are in frame, no wall before them but `through`."""
        found = self.camera.in_frame(spots)
        if not self.room.convex:
            outline = np.array(self.room.room.outline)
            ends = spots[found, None, :2]
            found[found] = sight_lines.unobstructed(
                outline, through, self.camera.position[None, :2], ends
            )[:, 0]
        return found

    def in_key(self, hung: Screen) -> bool:
        """Whether it takes any of the key's light from the face."""
        source = self.source
        if source is None:
            return False
        lights = source.position[None] if source.wall is None else source.aim[None]
        if source.sheet is not None:
            lights = np.concatenate((source.sheet.corners(), source.sheet.centre[None]))
        return bool(hung.hides(self._face, lights).any())


@dataclass(frozen=True, eq=False)
class _Search:
    """All ways to hang flags in some planes, with the extents that the light asks for."""

    place: _Place
    opening: Aperture
    placement: Placement
    bundle: Bundle
    planes: Planes
    low: Floats
    high: Floats
    kit: Kit

    @property
    def ground_m(self) -> float:
        """What a stand stands on, above ground."""
        return 0.0 if self.placement == "outside" else self.place.room.room.floor

    def option(self, stocks: Sequence[Stock], covers: Covers) -> FlagOption | None:
        """What one flag or pair, in its turns, does here; None where it cannot do it."""
        positions = self._positions(stocks)
        if positions is None:
            return None
        flags = stocks[0].flags
        reaches = np.array([one.hung.heights for one in positions]) - self.ground_m
        # One stand for all the places it takes in turn.
        low, high = float(reaches[:, 0].max()), float(reaches[:, 1].min())
        heaviest = max(flag.weight for flag in flags)
        stand = self.kit.stand_for(low, high, heaviest) if low <= high else None
        return FlagOption(
            opening=self.opening.name,
            covers=covers,
            placement=self.placement,
            flags=flags,
            stand=stand,
            positions=positions,
            ground_m=self.ground_m,
            spans=self.bundle.spans(),
        )

    def _positions(self, stocks: Sequence[Stock]) -> tuple[Position, ...] | None:
        """The places that a flag takes in turn, fewest first."""
        found: list[Position] = []
        start = 0
        while start < len(self.bundle.moments):
            best = self._longest(stocks, start)
            if best is None or len(found) > MOST_MOVES:
                return None
            position, start = best
            found.append(position)
        return tuple(found)

    def _longest(self, stocks: Sequence[Stock], start: int) -> tuple[Position, int] | None:
        """The position that holds longest from a moment on, and the moment it fails at."""
        # NaN spreads: a plane that fails at a moment fails from there on.
        low = np.minimum.accumulate(self.low[start:], axis=0)
        high = np.maximum.accumulate(self.high[start:], axis=0)
        wants = high - low
        tries: list[tuple[int, bool, float, int, Stock]] = []
        for stock in stocks:
            holds = np.all(wants <= np.array(stock.size) - HAND_M, axis=-1)
            lasts = np.where(holds.all(axis=0), len(holds), holds.argmin(axis=0))
            for plane in np.flatnonzero(lasts):
                area = float(np.prod(wants[lasts[plane] - 1, plane]))
                tilted = 0.01 < abs(float(self.planes.normal[plane, 2])) < 0.99
                tries.append((int(lasts[plane]), tilted, area, int(plane), stock))
        best: tuple[Position, int] | None = None
        # The longest first; of those an upright or level one, then the one with most to spare.
        ranked = sorted(tries, key=lambda one: (-one[0], *one[1:3]))[:MOST_TRIES]
        if not ranked:
            return None
        ends, planes = np.array([(one[0] - 1, one[3]) for one in ranked]).T
        filmed = self._filmed(planes, low[ends, planes], high[ends, planes])
        for (last, _, _, at, stock), shown in zip(ranked, filmed.tolist(), strict=True):
            if best is not None and last < best[1] - start:
                break
            if best is not None and shown:
                continue  # no better than the best
            needs = low[last - 1, at], high[last - 1, at]
            position = self._hang(at, stock, *needs, start, last, filmed=shown)
            if position is None:
                continue
            clear = position.clear_of_frame and position.clear_of_key
            if best is None or clear or position.clear_of_frame > best[0].clear_of_frame:
                best = position, start + last
            if clear:
                break
        return best

    def _filmed(self, planes: Indices, low: Floats, high: Floats) -> Bools:
        """Whether whatever spans low to high corners (N, 2) of planes (N) is surely in frame, (N,).

        By spots of it; False proves nothing.
        """
        if self.placement == "outside":  # seen through windows only
            return np.zeros(len(planes), dtype=bool)
        share = np.linspace(0.02, 0.98, SPOTS)
        a, b = (one.ravel()[:, None] for one in np.meshgrid(share, share))
        chosen, span = self.planes[planes], high - low
        spots = (
            chosen.at[:, None]
            + (low[:, None, :1] + a * span[:, None, :1]) * chosen.across[:, None]
            + (low[:, None, 1:] + b * span[:, None, 1:]) * chosen.up[:, None]
        )
        seen = self.place.filmed(spots.reshape(-1, 3), _hung_in(self.opening, self.placement))
        return np.asarray(seen.reshape(len(planes), -1).any(axis=1))

    def _hang(
        self,
        plane: int,
        stock: Stock,
        low: Floats,
        high: Floats,
        start: int,
        last: int,
        *,
        filmed: bool,
    ) -> Position | None:
        """A flag in a plane over all it must span, shifted within its spare size until it fits.

        `filmed`: wherever it is shifted to, it is in frame.
        """
        across, up = self.planes.across[plane], self.planes.up[plane]
        needs, middle = high - low, (high + low) / 2
        at = self.planes.at[plane]
        # However it is shifted, hands have their margin all round.
        spare = (np.array(stock.size) - HAND_M - needs) / 2
        edges, place = self.bundle.edges(), self.place
        heaviest = max(flag.weight for flag in stock.flags)
        offs = middle + SHIFTS * spare
        centres = at + offs[:, :1] * across + offs[:, 1:] * up
        best: Position | None = None
        tried = 0
        # Those first that are surely out of frame, the least shifted of them.
        missed = place.camera.surely_misses(
            Screen(at, across, up, stock.size).corners() - at, centres
        )
        for which in np.argsort(~missed, kind="stable"):
            if best is not None and (filmed or tried >= MOST_SHIFTS):
                break
            hung = Screen(centres[which], across, up, stock.size)
            stands = self.placement != "over the opening"
            bottom, top = (hung.heights - self.ground_m).tolist()
            if stands and self.kit.stand_for(bottom, top, heaviest) is None:
                continue
            pieces = stock.hung(hung.centre, across, up)
            if not all(place.holds(one.corners(), self.opening, self.placement) for one in pieces):
                continue
            tried += 1
            position = Position(
                start_s=float(edges[start]),
                end_s=float(edges[start + last]),
                hung=hung,
                pieces=pieces,
                needs_m=(float(needs[0]), float(needs[1])),
                needs_centre=at + middle[0] * across + middle[1] * up,
                clear_of_frame=not filmed
                and not any(place.films(one, self.opening, self.placement) for one in pieces),
                clear_of_key=not any(place.in_key(one) for one in pieces),
                edge_m=EDGE_SHARE * self._throw_m(hung.centre, start, last),
            )
            clear = position.clear_of_frame and position.clear_of_key
            if best is None or clear or position.clear_of_frame > best.clear_of_frame:
                best = position
            if clear:
                break
        return best

    def _throw_m(self, centre: Floats, start: int, last: int) -> float:
        """From the mark's middle to a flag, along the light of some moments."""
        toward = self.bundle.headings[start : start + last].sum(axis=0)
        return float((centre - self.place.middle) @ toward / np.linalg.norm(toward))


def _best(search: _Search, covers: Covers) -> FlagOption | None:
    """The kit's flag that does it best here; where none does, its pair that does."""
    found: list[FlagOption] = []
    for flag in sorted(search.kit.flag, key=lambda one: (not _owned((one,)), _area((one,)))):
        option = search.option(single(flag), covers)
        found += [option] if option is not None else []
        if option is not None and option.faultless:
            break  # those that follow are not owned, or larger
    if found:
        return min(found, key=lambda one: one.rank)
    pairs = combinations_with_replacement(search.kit.flag, 2)
    smallest = sorted(pairs, key=_area)
    for owned in (True, False):
        for two in smallest:
            if _owned(two) == owned:
                option = search.option(pair(*two), covers)
                if option is not None:
                    return option
    return None


def _closed_in(rays: Ways, bundle: Bundle, options: Sequence[FlagOption]) -> list[FlagOption]:
    """The same, each position with the least that it must span, closed in on."""
    places = [one for option in options for one in option.positions]
    told: dict[Position, Position] = {}
    for span in dict.fromkeys((one.start_s, one.end_s) for one in places):
        mine = [one for one in places if (one.start_s, one.end_s) == span]
        ways = ((one.needs_centre, one.across, one.up) for one in mine)
        planes = Planes(*map(np.array, zip(*ways, strict=True)))
        for one, low, high in zip(
            mine, *least(rays.within(*span), bundle.within(*span), planes), strict=True
        ):
            half = np.array(one.needs_m) / 2
            low = np.where(np.isnan(low), -half, low)
            high = np.where(np.isnan(high), half, high)
            width, height = (high - low).tolist()
            off = (low + high) / 2
            centre = one.needs_centre + off[0] * one.across + off[1] * one.up
            told[one] = replace(one, needs_m=(width, height), needs_centre=centre)
    return [replace(one, positions=tuple(told[each] for each in one.positions)) for one in options]


def _searches(
    place: _Place, opening: Aperture, bundle: Bundle, kit: Kit, covers: Covers
) -> Iterator[_Search]:
    room, body = place.room.room, place.body()
    ways: list[tuple[Placement, Planes]] = [("over the opening", over(opening))]
    if opening.from_ground:
        ways.append(("outside", outside(opening)))
    if opening.wall is None and kit.stand:
        reach = max(one.highest for one in kit.stand)
        if reach < room.height - UNDER_M:  # else it hangs as high as over the opening
            ways.append(("level under it", raised(opening, room.floor + reach)))
    ways.append(("on a stand", between(bundle, opening, place.middle)))
    for placement, planes in ways:
        on_wall = placement == "over the opening" and opening.wall is not None
        beyond = None if on_wall or placement == "outside" else body
        beyond_glass = OUTSIDE_MARGIN_M if placement == "outside" else ALL_MARGIN_M
        margin = MARGIN_M if covers == "sun" else beyond_glass
        low, high = spans(bundle, planes, beyond=beyond, margin_m=margin)
        yield _Search(place, opening, placement, bundle, planes, low, high, kit)


def _solids(location: Location) -> tuple[tuple[Polygon, float, float], ...]:
    """All blocks, and all rooms of the house: no stand stands in them."""
    blocks = [
        (Polygon(one.corners), one.low, one.high) for one in map(block_prism, location.outside)
    ]
    rooms = [(Polygon(one.outline), one.floor, one.floor + one.height) for one in location.room]
    return (*blocks, *rooms)


def setup_flags(
    location: Location,
    setup: Setup,
    *,
    start_s: float,
    end_s: float,
    covers: Covers = "sun",
    sure: bool = False,
) -> SetupFlags:
    """Flags that keep one setup's mark clean through an interval, seconds since 1970 UTC.

    `sure`: whatever the place truly is, within ± plan_up_error, size_error and place_error.
    """
    room = beam_of(location, location.room_named(setup.room))
    mark = room.room.mark_named(setup.mark)
    kit = location.kit_of(setup)
    source = key_source(room.room, mark, setup, kit)
    place = _Place(room, mark, camera_view(room.room, setup), source, _solids(location))
    error = location.site.plan_up_error if sure else 0.0
    wide = widest(location) if sure else location
    widely = beam_of(wide, wide.room_named(setup.room)) if sure else room
    seen = widely.room.mark_named(setup.mark)
    options: list[FlagOption] = []
    unmet: list[str] = []
    unreached: list[Aperture] = []
    for index, opening in enumerate(room.apertures):
        rays: Ways = (
            SunRays(wide, widely, index, seen, start_s, end_s, error)
            if covers == "sun"
            else AllRays(widely, index, seen, start_s, end_s)
        )
        bundle = rays.bundle()
        if bundle.empty:
            continue
        if not opening.from_ground:
            unreached.append(opening)
        found = [_best(one, covers) for one in _searches(place, opening, bundle, kit, covers)]
        mine = _closed_in(rays, bundle, [one for one in found if one is not None])
        options += sorted(mine, key=lambda one: one.rank)
        if not mine:
            unmet.append(opening.name)
    return SetupFlags(setup, mark, tuple(options), tuple(unmet), tuple(unreached))
