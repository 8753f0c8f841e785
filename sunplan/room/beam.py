"""One room in sunlight: which opening passes the sun, what it touches, where it falls.

A question is first asked in numpy for all times at once, with an answer that is exact where
nothing but the opening itself shapes the beam. Only times at which a block's edge crosses the
opening, or a corner of the room stands in the way, go on to shapely, still exact.

Walls are upright, so a ray's way through a room is a plan question: seen along the sun's bearing
the outline falls into strips, each a trapezoid with one wall towards the sun and one away from it,
and a ray never leaves its strip.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from ..location.model import Mark, Room, wall_letter
from ..location.read import Location
from ..sun.position import Floats
from ..sun.search import Bools, Indices
from . import convex, mark_hits, sight_lines
from .aperture import Aperture, aperture
from .obstructions import Obstruction, block_prism, obstructions_of, self_shading_prisms

CIRCLE = 128  # sides of a mark's circle where shapely needs one: 0.1 mm at 0.6 m across
WRAP = 48  # sides of one drawn round it
PROBES = 8  # points of that circle that are tried first
SNAP_M = 1e-6  # grid on which the pieces of a patch are joined
FINE_M = 1e-8  # grid of all other cuts: it keeps slivers of rounding from breaking them
FAR = 1e3  # times a ray: beyond all rooms
SLIVER_M2 = 1e-9  # less is the rounding of a shadow edge that runs along another
FLOOR = "floor"
THREE = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])  # points by which a map is told
POLYGONS = (3, 6)  # shapely's numbers of Polygon and MultiPolygon

Shapes = np.ndarray[tuple[int], np.dtype[np.object_]]  # shapely geometries


@dataclass(frozen=True, eq=False)
class SunPatch:
    """Sunlight on one surface.

    `surface` is "floor" or a wall's letter; `shape` is in plan metres on the floor, and on a wall
    in metres along it from its first corner and above the floor. `opening` let it in. A ceiling
    never has one: direct sun only comes down.
    """

    surface: str
    opening: str
    shape: BaseGeometry

    @property
    def area_m2(self) -> float:
        """Sunlit area, m²."""
        return float(self.shape.area)


@dataclass(frozen=True, eq=False)
class Strips:
    """Parts of a room that rays of one bearing never leave: trapezoids of the outline (M).

    `which` of the suns cut it so, `near` and `far` are the walls toward and away from it; `rings`
    (M, 4, 2) have their far ends first and last.
    """

    which: Indices
    near: Indices
    far: Indices
    rings: Floats

    def of(self, chosen: Bools) -> Strips:
        """Some of them."""
        return Strips(self.which[chosen], self.near[chosen], self.far[chosen], self.rings[chosen])


@dataclass(frozen=True, eq=False)
class Beam:
    """A room with its openings and what stands outside, ready for sun vectors (N, 3).

    Vectors point to the sun in the plan frame. Being above the horizon is not asked here.
    """

    room: Room
    apertures: tuple[Aperture, ...]
    blocks: tuple[tuple[Obstruction, ...], ...]

    @cached_property
    def outline(self) -> Polygon:
        """The room's outline."""
        return Polygon(self.room.outline)

    @cached_property
    def _corners(self) -> Floats:
        return np.array(self.room.outline)

    @cached_property
    def convex(self) -> bool:
        """Whether every spot of the room sees every other."""
        return bool(self.outline.convex_hull.area - self.outline.area < 1e-9)

    def index(self, opening: str) -> int:
        """Index of an opening by name."""
        return next(i for i, one in enumerate(self.apertures) if one.name == opening)

    def passes(self, index: int, sun: Floats) -> Bools:
        """Whether opening `index` passes any sun, for vectors (N, 3): shape (N,)."""
        opening = self.apertures[index]
        holds = opening.passes(sun)
        candidates = np.flatnonzero(holds)
        shaded = [one.may_shade(sun[candidates]) for one in self.blocks[index]]
        if not np.any(shaded):
            return holds
        candidates = candidates[np.any(shaded, axis=0)]
        facing = sun[candidates]
        corners = opening.world(opening.regions(facing))
        dark = np.zeros(corners.shape[:2], dtype=bool)
        whole = np.zeros(len(facing), dtype=bool)
        for threat in self.blocks[index]:
            chosen = threat.may_shade(facing)
            stopped = threat.prism.obstructs(corners[chosen], facing[chosen])
            dark[chosen] |= stopped
            # A prism's shadow is convex: with all corners in it, so is the whole region.
            whole[chosen] |= stopped.all(axis=1)
        holds[candidates[whole]] = False
        unsure = np.flatnonzero(dark.all(axis=1) & ~whole)
        if len(unsure):
            left = shapely.area(self.open_regions(index, facing[unsure]))
            holds[candidates[unsure]] = left > SLIVER_M2
        return holds

    def open_regions(self, index: int, sun: Floats) -> Shapes:
        """What of the inner face sends rays to the open sky, in its own plane: shapes (N,).

        For vectors (N, 3) that clear both apertures.
        """
        opening = self.apertures[index]
        open_ = shapely.polygons(opening.regions(sun))
        for one in self.blocks[index]:
            chosen = np.flatnonzero(one.may_shade(sun))
            if len(chosen):
                shadows = shapely.convex_hull(
                    shapely.linestrings(one.shadows(opening, sun[chosen]))
                )
                open_[chosen] = shapely.difference(open_[chosen], shadows)
        return open_  # type: ignore[no-any-return]

    def may_touch(self, index: int, marks: Sequence[Mark], sun: Floats) -> Bools:
        """False where sun through opening `index` surely misses marks (M), shape (M, N).

        For vectors (N, 3) that pass. Blocks outside are left aside, and what of a wall stands
        between.
        """
        opening = self.apertures[index]
        holds = mark_hits.rays_meet(opening, marks, self.room.floor, sun)
        for row, mark in enumerate(marks):
            if not self._whole[index, mark.name]:
                near = np.flatnonzero(holds[row])
                middle, radius = np.array(mark.at), mark.width / 2
                hidden = sight_lines.surely_blocked(
                    self._corners, opening, middle, radius, sun[near]
                )
                holds[row, near[hidden]] = False
        return holds

    def touches(self, index: int, marks: Sequence[Mark], sun: Floats) -> Bools:
        """Whether sun through opening `index` touches marks (M), for vectors (N, 3) that pass.

        Shape (M, N).
        """
        holds = self.may_touch(index, marks, sun)
        for row, mark in enumerate(marks):
            if self.bodies[mark.name].is_empty:  # its place so far off that it left the room
                holds[row] = False
                continue
            unsure = np.flatnonzero(holds[row])
            if self._whole[index, mark.name]:
                if not self.blocks[index]:
                    continue
                unsure = unsure[self._edge_in_region(index, sun[unsure])]
            unsure = unsure[~self._surely_touches(index, mark, sun[unsure])]
            left = shapely.area(self.rays_to(index, mark, sun[unsure]))
            holds[row, unsure] = left > SLIVER_M2
        return holds

    def _surely_touches(self, index: int, mark: Mark, sun: Floats) -> Bools:
        """Whether a ray gets to one of a few points of a mark, (N,); False proves nothing."""
        opening = self.apertures[index]
        body = self.bodies[mark.name]
        if body.is_empty or not len(sun):
            return np.zeros(len(sun), dtype=bool)
        ring = shapely.get_coordinates(body)[:: CIRCLE // PROBES]
        points = np.concatenate(
            [np.insert(ring, 2, self.room.floor + z, axis=1) for z in mark.height]
        )
        local = _onto(opening, points, sun)
        region = opening.regions(sun)
        edge = np.roll(region, -1, axis=1) - region
        inside = convex.cross(edge[:, None], local[:, :, None] - region[:, None]).min(axis=-1) >= 0
        ends = opening.world(local)
        if not self._whole[index, mark.name]:
            inside &= sight_lines.unobstructed(
                self._corners, opening.wall, points[:, :2], ends[..., :2]
            )
        for threat in self.blocks[index]:
            chosen = np.flatnonzero(threat.may_shade(sun) & inside.any(axis=1))
            inside[chosen] &= ~threat.prism.obstructs(ends[chosen], sun[chosen])
        touched: Bools = inside.any(axis=1)
        return touched

    def _edge_in_region(self, index: int, sun: Floats) -> Bools:
        """Whether some block's shadow may reach the part of an opening that passes sun, (N,)."""
        opening = self.apertures[index]
        meets = np.zeros(len(sun), dtype=bool)
        region = opening.regions(sun)
        low, high = region.min(axis=1), region.max(axis=1)
        for one in self.blocks[index]:
            chosen = one.may_shade(sun)
            shadow = one.shadows(opening, sun[chosen])
            meets[chosen] |= (
                (shadow.min(axis=1) <= high[chosen]) & (shadow.max(axis=1) >= low[chosen])
            ).all(axis=1)
        return meets

    @cached_property
    def bodies(self) -> dict[str, Polygon]:
        """Each mark's circle on the plan, so far as it lies in the room."""
        return {mark.name: self._standing(mark, CIRCLE, 1.0) for mark in self.room.mark}

    @cached_property
    def wraps(self) -> dict[str, Polygon]:
        """The same with few corners, drawn round the circle: up to 0.3 % wider."""
        wider = 1.0 / math.cos(math.pi / WRAP)
        return {mark.name: self._standing(mark, WRAP, wider) for mark in self.room.mark}

    def _standing(self, mark: Mark, sides: int, wider: float) -> Polygon:
        angles = (np.arange(sides) + 0.5) * (2 * math.pi / sides)
        ring = np.stack((np.cos(angles), np.sin(angles)), axis=-1) * wider * mark.width / 2
        return _meet(Polygon(np.array(mark.at) + ring), self.outline)

    @cached_property
    def _whole(self) -> dict[tuple[int, str], bool]:
        """Whether a mark lies in the room with nothing between it and an opening."""
        slack = self.outline.buffer(SNAP_M)
        found = {}
        for mark in self.room.mark:
            circle = shapely.Point(mark.at).buffer(mark.width / 2)
            for index, opening in enumerate(self.apertures):
                face = shapely.MultiPoint(opening.world(opening.rectangle)[:, :2])
                found[index, mark.name] = self.outline.contains(circle) and (
                    self.convex or slack.contains(face.union(circle).convex_hull)
                )
        return found

    def rays_to(self, index: int, mark: Mark, sun: Floats, *, wrapped: bool = False) -> Shapes:
        """Rays of sun vectors (N, 3) that touch a mark, as shapes (N,) of the opening's plane.

        For vectors that pass; an empty shape where none gets there. `wrapped`: the mark taken up to
        0.3 % wider, twice as fast.
        """
        opening = self.apertures[index]
        body = (self.wraps if wrapped else self.bodies)[mark.name]
        open_ = self.open_regions(index, sun)
        if self._whole[index, mark.name]:
            return _meet_all(open_, self._shadows(opening, mark, body, sun))
        if opening.wall is not None and body.convex_hull.area - body.area < SLIVER_M2:
            return self._past_walls(opening, mark, body, open_, sun)
        found = np.full(len(sun), Polygon(), dtype=np.object_)
        strips = self.strips(sun)
        if opening.wall is not None:
            strips = strips.of(strips.near == opening.wall)
        standing = _meet_each(np.full(len(strips.which), body), shapely.polygons(strips.rings))
        some = shapely.area(standing) > 0
        strips, standing = strips.of(some), standing[some]
        rays = self._in_strips(open_[strips.which], opening, strips)
        met: dict[int, list[BaseGeometry]] = {}
        for at, ways, part in zip(strips.which.tolist(), rays, standing, strict=True):
            if ways.area > 0:
                shape = _meet(ways, self._shadows(opening, mark, part, sun[at][None])[0])
                if shape.area > SLIVER_M2:
                    met.setdefault(at, []).append(shape)
        for at, shapes in met.items():
            found[at] = shapely.union_all(shapes)
        return found

    def _past_walls(
        self, opening: Aperture, mark: Mark, body: Polygon, open_: Shapes, sun: Floats
    ) -> Shapes:
        """The same for a window, past the room's own walls: they leave each sun a part of the mark.

        A wall hides what lies behind it; what of it lies beyond the window's own hides nothing.
        """
        left: Shapes = np.full(len(sun), body, dtype=np.object_)
        outward = opening.outward[:2]
        toward = sun[:, :2] / np.maximum(np.hypot(sun[:, 0], sun[:, 1]), 1e-12)[:, None]
        side = np.stack((toward[:, 1], -toward[:, 0]), axis=-1)
        ring = shapely.get_coordinates(body)
        beside, behind = side @ ring.T, (toward @ ring.T).min(axis=1)
        for wall, first in enumerate(self._corners):
            ends = np.array([first, self._corners[(wall + 1) % len(self._corners)]])
            ahead = (ends - opening.origin[:2]) @ outward
            if wall == opening.wall or ahead.min() >= -SNAP_M:
                continue
            if ahead.max() > 0:
                over = int(np.argmax(ahead))
                share = ahead[over] / (ahead[over] - ahead[1 - over])
                ends[over] += share * (ends[1 - over] - ends[over])
            across = side @ ends.T
            before = (across.min(axis=1) < beside.max(axis=1)) & (
                across.max(axis=1) > beside.min(axis=1)
            )
            rows = np.flatnonzero(before & ((toward @ ends.T).max(axis=1) > behind))
            back = ends - FAR * sun[rows, None, :2]
            both = np.concatenate((np.broadcast_to(ends, back.shape), back[:, ::-1]), axis=1)
            left[rows] = shapely.difference(left[rows], shapely.polygons(both))
        parts, which = shapely.get_parts(left, return_index=True)
        some = shapely.area(parts) > SLIVER_M2
        parts, which = parts[some], which[some]
        points, part = shapely.get_coordinates(parts, return_index=True)
        found: Shapes = np.full(len(sun), Polygon(), dtype=np.object_)
        if not len(parts):
            return found
        hidden = np.concatenate(
            [
                _onto_each(
                    opening,
                    np.insert(points, 2, self.room.floor + height, axis=1),
                    sun[which[part]],
                )
                for height in mark.height
            ]
        )
        order = np.argsort(np.tile(part, 2), kind="stable")
        lines = shapely.linestrings(hidden[order], indices=np.tile(part, 2)[order])
        rays = shapely.intersection(open_[which], shapely.convex_hull(lines))
        lit, each = np.unique(which, return_inverse=True)
        found[lit] = shapely.geometrycollections(rays, indices=each)
        return found

    def _shadows(
        self, opening: Aperture, mark: Mark, standing: BaseGeometry, sun: Floats
    ) -> Shapes:
        """What a mark's body, or a part of it, hides of an opening's plane: shapes (N,)."""
        base = shapely.get_coordinates(shapely.convex_hull(standing))[:-1]
        low, high = (
            _onto(opening, np.insert(base, 2, self.room.floor + height, axis=1), sun)
            for height in mark.height
        )
        return _swept(low, high[:, 0] - low[:, 0])

    def strips(self, sun: Floats) -> Strips:
        """The room cut along the bearings of sun vectors (N, 3)."""
        toward = sun[:, :2] / np.maximum(np.hypot(sun[:, 0], sun[:, 1]), 1e-12)[:, None]
        side = np.stack((toward[:, 1], -toward[:, 0]), axis=-1)
        u, v = side @ self._corners.T, toward @ self._corners.T
        cuts = np.sort(u, axis=1)
        which, at = np.nonzero(np.diff(cuts, axis=1) >= SNAP_M)
        ends = np.stack((cuts[which, at], cuts[which, at + 1]), axis=-1)
        middle = ends.mean(axis=1)[:, None]
        first, last = u[which], np.roll(u, -1, axis=1)[which]
        start, rise = v[which], (np.roll(v, -1, axis=1) - v)[which]
        met = (first - middle) * (last - middle) < 0
        run = np.where(met, last - first, 1.0)
        height = np.where(met, start + (middle - first) * rise / run, np.inf)
        walls = np.argsort(height, axis=1, kind="stable")
        # Walls are met in pairs: one away from the sun, one toward it.
        row, pair = np.nonzero(np.arange(0, walls.shape[1] - 1, 2) < met.sum(axis=1)[:, None])
        far, near = walls[row, 2 * pair], walls[row, 2 * pair + 1]
        which, ends = which[row], ends[row]
        back, front = (
            start[row, one][:, None]
            + (ends - first[row, one][:, None]) * (rise / run)[row, one][:, None]
            for one in (far, near)
        )
        # Where the two walls meet, rounding must not cross them.
        front = np.maximum(back, front)
        across = np.stack((ends[:, 0], ends[:, 0], ends[:, 1], ends[:, 1]), axis=-1)
        along = np.stack((back[:, 0], front[:, 0], front[:, 1], back[:, 1]), axis=-1)
        rings = across[..., None] * side[which, None] + along[..., None] * toward[which, None]
        return Strips(which, near, far, rings)

    def _in_strips(self, rays: Shapes, opening: Aperture, strips: Strips) -> Shapes:
        """The rays, as points of an opening's plane, that enter each strip, (M,)."""
        local = strips.rings - opening.origin[:2]
        along = local @ opening.across[:2]
        if opening.wall is not None:  # the strip's near side is a stretch of the opening's wall
            stretch = along[:, 1:3]
            low, high = stretch.min(axis=1), stretch.max(axis=1)
            return _meet_each(rays, shapely.box(low, 0.0, high, opening.height))
        return _meet_each(
            rays, shapely.polygons(np.stack((along, local @ opening.up[:2]), axis=-1))
        )

    def patches(self, index: int, sun: Floats) -> list[SunPatch]:
        """Where sun of one vector (3,) through opening `index` falls: floor, then walls."""
        return self.patches_each(index, sun[None])[0]

    def patches_each(self, index: int, sun: Floats) -> list[list[SunPatch]]:
        """The same for vectors (N, 3), a list each, empty where none passes."""
        opening = self.apertures[index]
        found: list[list[SunPatch]] = [[] for _ in sun]
        lit = np.flatnonzero((sun[:, 2] > 0) & opening.passes(sun))
        if not len(lit):
            return found
        sun = sun[lit]
        strips = self.strips(sun)
        if opening.wall is not None:
            strips = strips.of(strips.near == opening.wall)
        rays = self._in_strips(self.open_regions(index, sun)[strips.which], opening, strips)
        some = shapely.area(rays) > 0
        strips, rays = strips.of(some), rays[some]
        on_floor = _mapped(rays, self._floor_maps(opening, sun)[strips.which])
        on_floor = _meet_each(on_floor, shapely.polygons(strips.rings))
        matrices, meets = self._wall_maps(opening, strips.far, sun[strips.which])
        walls = strips.of(meets)
        low, high = self._wall_stretches(walls)
        on_wall = _meet_each(
            _mapped(rays[meets], matrices[meets]), shapely.box(low, 0.0, high, self.room.height)
        )
        # The floor is surface 0, walls go from 1.
        surfaces = np.concatenate((np.zeros(len(on_floor), dtype=np.intp), 1 + walls.far))
        keys = np.concatenate((strips.which, walls.which)) * (len(self._corners) + 1) + surfaces
        known, each = np.unique(keys, return_inverse=True)
        shapes = _joined(np.concatenate((on_floor, on_wall)), each, len(known))
        for key, shape in zip(known.tolist(), shapes, strict=True):
            row, surface = divmod(key, len(self._corners) + 1)
            holes = self._holes.get(surface - 1)
            whole = _areas(shape if holes is None else shape.difference(holes))
            if whole.area > SNAP_M:
                name = wall_letter(surface - 1) if surface else FLOOR
                found[lit[row]].append(SunPatch(name, opening.name, whole))
        return found

    @cached_property
    def _holes(self) -> dict[int, BaseGeometry]:
        """Openings in walls, in each wall's coordinates: light that meets one leaves the room."""
        boxes: dict[int, list[BaseGeometry]] = {}
        for one in self.apertures:
            if one.wall is not None:
                along = float((one.origin[:2] - self._corners[one.wall]) @ self._ways[one.wall])
                sill = float(one.origin[2]) - self.room.floor
                box = shapely.box(along, sill, along + one.width, sill + one.height)
                boxes.setdefault(one.wall, []).append(box)
        return {wall: shapely.union_all(mine) for wall, mine in boxes.items()}

    @cached_property
    def _ways(self) -> Floats:
        """Unit vectors along the walls, (W, 2)."""
        way = np.roll(self._corners, -1, axis=0) - self._corners
        along: Floats = way / np.linalg.norm(way, axis=1, keepdims=True)
        return along

    def _floor_maps(self, opening: Aperture, sun: Floats) -> Floats:
        """Affine maps from an opening's plane to the floor along sun vectors, (N, 3, 2)."""
        points = opening.world(THREE)
        down = (points[:, 2] - self.room.floor) / sun[:, 2, None]
        return _affine(points[:, :2] - down[..., None] * sun[:, None, :2])

    def _wall_maps(self, opening: Aperture, walls: Indices, sun: Floats) -> tuple[Floats, Bools]:
        """The same to a wall each, (N, 3, 2), and whether the rays meet it at all, (N,)."""
        points = opening.world(THREE)
        way, first = self._ways[walls], self._corners[walls]
        outward = np.stack((way[:, 1], -way[:, 0]), axis=-1)
        toward = np.einsum("nk,nk->n", sun[:, :2], outward)
        meets: Bools = toward <= -1e-12
        off = points[None, :, :2] - first[:, None]
        back = np.einsum("npk,nk->np", off, outward) / np.where(meets, toward, -1.0)[:, None]
        hit = points - back[..., None] * sun[:, None]
        along = np.einsum("npk,nk->np", hit[..., :2] - first[:, None], way)
        return _affine(np.stack((along, hit[..., 2] - self.room.floor), axis=-1)), meets

    def _wall_stretches(self, strips: Strips) -> tuple[Floats, Floats]:
        """From where to where along its far wall each strip goes, (M,) and (M,)."""
        off = strips.rings[:, [0, 3]] - self._corners[strips.far, None]
        along = np.einsum("mpk,mk->mp", off, self._ways[strips.far])
        return along.min(axis=1), along.max(axis=1)


def _onto(opening: Aperture, points: Floats, sun: Floats) -> Floats:
    """Points (K, 3) carried along rays (N, 3) to an opening's plane, (N, K, 2)."""
    off = points - opening.origin
    back = (off @ opening.outward) / (sun @ opening.outward)[:, None]
    return np.stack(
        [off @ axis - back * (sun @ axis)[:, None] for axis in (opening.across, opening.up)],
        axis=-1,
    )


def _onto_each(opening: Aperture, points: Floats, sun: Floats) -> Floats:
    """Points (N, 3) carried each along its own ray (N, 3) to an opening's plane, (N, 2)."""
    off = points - opening.origin
    back = (off @ opening.outward) / (sun @ opening.outward)
    return np.stack(
        [off @ axis - back * (sun @ axis) for axis in (opening.across, opening.up)], axis=-1
    )


def _swept(rings: Floats, shifts: Floats) -> Shapes:
    """What convex rings (N, K, 2) cover as they move by shifts (N, 2).

    Each edge bounds it from where the ring starts or where it ends, as the shift runs away from the
    edge or over it; where that changes, a corner's way does.
    """
    edges = np.roll(rings, -1, axis=1) - rings
    turned = convex.cross(rings, np.roll(rings, -1, axis=1)).sum(axis=1)
    ahead = convex.cross(edges, shifts[:, None]) * np.where(turned < 0, -1.0, 1.0)[:, None] < 0
    of_edge = np.stack((np.roll(ahead, 1, axis=1), ahead), axis=-1)
    corners = rings[:, :, None] + of_edge[..., None] * shifts[:, None, None]
    return shapely.polygons(corners.reshape(len(rings), 2 * rings.shape[1], 2))  # type: ignore[no-any-return]


def _affine(landed: Floats) -> Floats:
    """Matrices of affine maps (N, 3, 2), from where they take `THREE` points, (N, 3, 2)."""
    zero = landed[:, 0]
    return np.stack((landed[:, 1] - zero, landed[:, 2] - zero, zero), axis=1)


def _mapped(shapes: Shapes, matrices: Floats) -> Shapes:
    """Shapes (N,), each through its own affine map (N, 3, 2)."""
    points, which = shapely.get_coordinates(shapes, return_index=True)
    one = np.insert(points, 2, 1.0, axis=1)
    moved = np.einsum("pi,pij->pj", one, matrices[which])
    return shapely.set_coordinates(shapes.copy(), moved)  # type: ignore[no-any-return]


def _joined(shapes: Shapes, groups: Indices, count: int) -> Shapes:
    """The union of the shapes of each group, (count,)."""
    order = np.argsort(groups, kind="stable")
    sizes = np.bincount(groups, minlength=count)
    places = np.arange(len(order)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    grid = np.full((count, int(sizes.max(initial=0))), None, dtype=np.object_)
    grid[groups[order], places] = shapes[order]
    return shapely.union_all(grid, grid_size=SNAP_M, axis=1)  # type: ignore[no-any-return]


def _meet(first: BaseGeometry, second: BaseGeometry) -> BaseGeometry:
    """Where two shapes overlap, as polygons."""
    return _areas(shapely.intersection(first, second, grid_size=FINE_M))


def _meet_each(first: Shapes, second: Shapes) -> Shapes:
    """The same pair by pair."""
    met: Shapes = shapely.intersection(first, second, grid_size=FINE_M)
    for at in np.flatnonzero(~np.isin(shapely.get_type_id(met), POLYGONS)):
        met[at] = _areas(met[at])
    return met


def _meet_all(first: Shapes, second: Shapes) -> Shapes:
    """Where shapes overlap pair by pair, as polygons."""
    met: Shapes = shapely.intersection(first, second)
    for at in np.flatnonzero(~np.isin(shapely.get_type_id(met), POLYGONS)):
        met[at] = _areas(met[at])
    return met


def _areas(shape: BaseGeometry) -> BaseGeometry:
    """Only the polygons of a shape."""
    if shape.geom_type in ("Polygon", "MultiPolygon"):
        return shape
    parts = [one for one in getattr(shape, "geoms", ()) if one.area > 0]
    return shapely.union_all(parts)


def beam_of(location: Location, room: Room) -> Beam:
    """A location's room ready for sun vectors."""
    prisms = [block_prism(block) for block in location.outside] + self_shading_prisms(room)
    apertures = tuple(
        aperture(room, opening, plan_up_deg=location.site.plan_up) for opening in room.opening
    )
    return Beam(
        room, apertures, tuple(tuple(obstructions_of(opening, prisms)) for opening in apertures)
    )
