"""One ray at a time: does sunlight get from the sky through an opening to a point of a room?

An independent judge for a program that answers the same question with closed-form geometry.
The room, its reveals and shafts and the blocks outside become triangles (shapes made with
trimesh), and every answer rests on rays that are followed through these triangles, in double
precision, from a point in the room toward the sun.

Conventions
    Plan frame: x to the right, y up the sheet, z up (0 = the ground), metres.
    Bearing: degrees clockwise from true north. Altitude: degrees above the level horizon, as seen.
    A sun vector is a unit vector that points from the room toward the sun.
    Openings are counted from 0 in the order of the file; -1 means "blocked".
    A surface is "floor" or a wall's letter. Its coordinates are plan x, y for the floor and
    (metres along the wall from its first corner, metres above the floor) for a wall.

How slivers are found
    All questions "is there any ray ...?" are asked of a finite set of rays. The set is chosen so
    that none is forgotten: the edges of everything that can bound the light are laid, along the
    sun's direction, on one plane; they cut the plane into cells; within a cell all rays fare
    alike. Rays are sent a few micrometres to either side of every piece of every edge, so that
    each cell wider than that gets a ray. The edges only choose rays, the triangles judge them:
    a "yes" is always a ray that truly passes. Plain dense samples are added as a second net.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import shapely
import trimesh

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Location = dict[str, Any]

SUN_DISK_DEG = 0.533
"""Angular diameter of the sun at 1 astronomical unit, degrees."""

DEFAULT_DEPTH_M = 0.1
"""Depth of an opening that does not give its own, metres."""

SIDE_STEP_M = 2e-6
"""How far to the side of an edge a probing ray is sent, metres."""

START_M = 1e-9
"""How far in front of a surface a ray that belongs to the surface starts, metres."""

MIN_COSINE = 1e-9
"""A ray that meets a plane at a smaller cosine runs along it and lights nothing."""

BARYCENTRIC_SLACK = 1e-11
"""Triangles are this much larger than drawn (share of their sides), so that seams do not leak."""

CHUNK_ROWS = 4096
"""Rays that are followed in one go; keeps the working arrays inside the processor's cache."""


# --------------------------------------------------------------------------------------------
# directions


def sun_vector(
    altitude_deg: npt.ArrayLike, bearing_deg: npt.ArrayLike, plan_up_deg: float
) -> Floats:
    """Unit vector toward the sun in the plan frame.

    altitude_deg, bearing_deg: scalars or arrays of one shape, degrees (true bearing);
    plan_up_deg: true bearing of +y, degrees. Returns shape (..., 3).
    +x lies 90 degrees clockwise of +y, so its true bearing is plan_up_deg + 90.
    """
    altitude = np.radians(np.asarray(altitude_deg, float))
    turned = np.radians(np.asarray(bearing_deg, float) - plan_up_deg)
    altitude, turned = np.broadcast_arrays(altitude, turned)
    return np.stack(
        [np.cos(altitude) * np.sin(turned), np.cos(altitude) * np.cos(turned), np.sin(altitude)],
        axis=-1,
    )


def altitude_and_bearing(directions: npt.ArrayLike, plan_up_deg: float) -> tuple[Floats, Floats]:
    """Altitude and true bearing (0 <= b < 360), degrees, of unit vectors (..., 3) of the plan."""
    d = np.asarray(directions, float)
    altitude = np.degrees(np.arctan2(d[..., 2], np.hypot(d[..., 0], d[..., 1])))
    bearing = np.degrees(np.arctan2(d[..., 0], d[..., 1])) + plan_up_deg
    return altitude, np.mod(bearing, 360.0)


# --------------------------------------------------------------------------------------------
# triangles


class _Triangles:
    """Triangles that rays can be shot at: corners (M, 3, 3) in metres, one integer tag each."""

    def __init__(self, corners: Floats, tags: Ints) -> None:
        corners = np.asarray(corners, float).reshape(-1, 3, 3)
        self.corners = corners
        self.tags = np.asarray(tags, np.int64)
        self._middle = corners.reshape(-1, 3).mean(axis=0) if len(corners) else np.zeros(3)
        self._v0 = corners[:, 0] - self._middle
        self._e1 = corners[:, 1] - corners[:, 0]
        self._e2 = corners[:, 2] - corners[:, 0]
        self._normal = np.cross(self._e1, self._e2)

    def distances(self, origins: Floats, directions: Floats) -> Floats:
        """Signed distance (N, M) along each ray to each triangle, metres; inf where it misses.

        origins (N, 3) metres; directions unit vectors (3,) or (N, 3). The test is that of
        Moller and Trumbore, written so that all rays and triangles meet in matrix products.
        """
        o = origins - self._middle
        offset = np.einsum("mi,mi->m", self._v0, self._normal)
        size = np.linalg.norm(self._normal, axis=1)
        if directions.ndim == 1:
            det = -(self._normal @ directions)
            flat = np.abs(det) <= 1e-13 * size
            inverse = np.where(flat, 0.0, 1.0 / np.where(flat, 1.0, det))
            p = np.cross(directions, self._e2) * inverse[:, None]
            q = np.cross(self._e1, directions) * inverse[:, None]
            u = o @ p.T - np.einsum("mi,mi->m", self._v0, p)
            v = o @ q.T - np.einsum("mi,mi->m", self._v0, q)
            t = (o @ self._normal.T - offset) * inverse
            missed = flat | (u < -BARYCENTRIC_SLACK) | (v < -BARYCENTRIC_SLACK)
        else:
            det = -(directions @ self._normal.T)
            flat = np.abs(det) <= 1e-13 * size
            det[flat] = 1.0
            moment = np.cross(o, directions)
            u = (moment @ self._e2.T - directions @ np.cross(self._e2, self._v0).T) / det
            v = (directions @ np.cross(self._e1, self._v0).T - moment @ self._e1.T) / det
            t = (o @ self._normal.T - offset) / det
            missed = flat | (u < -BARYCENTRIC_SLACK) | (v < -BARYCENTRIC_SLACK)
        missed |= u + v > 1.0 + BARYCENTRIC_SLACK
        distance: Floats = np.where(missed, np.inf, t)
        return distance

    def nearest(self, origins: Floats, directions: Floats, after: Floats) -> tuple[Floats, Ints]:
        """Distance (N,) to the first triangle beyond `after` (N,) and its tag (N,).

        inf and -2 where there is none.
        """
        distance = np.full(len(origins), np.inf)
        tag = np.full(len(origins), -2, np.int64)
        if not len(self.tags):
            return distance, tag
        for rows in _chunks(len(origins)):
            d = directions if directions.ndim == 1 else directions[rows]
            t = self.distances(origins[rows], d)
            t[t <= after[rows, None]] = np.inf
            first = np.argmin(t, axis=1)
            distance[rows] = t[np.arange(len(t)), first]
            tag[rows] = np.where(np.isfinite(distance[rows]), self.tags[first], -2)
        return distance, tag

    def any_hit(self, origins: Floats, directions: Floats, after: Floats) -> Bools:
        """Whether each ray meets a triangle beyond `after` (N,): booleans (N,)."""
        hit = np.zeros(len(origins), bool)
        if not len(self.tags):
            return hit
        for rows in _chunks(len(origins)):
            d = directions if directions.ndim == 1 else directions[rows]
            t = self.distances(origins[rows], d)
            hit[rows] = np.any((t > after[rows, None]) & np.isfinite(t), axis=1)
        return hit


def _chunks(count: int) -> list[slice]:
    return [slice(i, min(i + CHUNK_ROWS, count)) for i in range(0, count, CHUNK_ROWS)]


def _pick(directions: Floats, rows: Ints | Bools) -> Floats:
    return directions if directions.ndim == 1 else directions[rows]


def _frame(origin: Floats, across: Floats, up: Floats) -> Floats:
    """Matrix (4, 4) that takes local (across, up, out) coordinates to the plan frame."""
    matrix = np.eye(4)
    matrix[:3, 0] = across
    matrix[:3, 1] = up
    matrix[:3, 2] = np.cross(across, up)
    matrix[:3, 3] = origin
    return matrix


def _sheet(shape: shapely.Geometry, matrix: Floats) -> Floats:
    """Triangles (M, 3, 3) of a flat polygon, placed by a (4, 4) matrix."""
    pieces = []
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon" or part.area < 1e-12:
            continue
        flat, faces = trimesh.creation.triangulate_polygon(part, engine="earcut")
        solid = np.column_stack([flat, np.zeros(len(flat))])
        corners = trimesh.transform_points(solid, matrix)[faces]
        area = 0.5 * np.linalg.norm(
            np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
        )
        if not math.isclose(float(area.sum()), part.area, rel_tol=1e-9, abs_tol=1e-9):
            raise ValueError("a wall, floor or ceiling did not divide into triangles cleanly")
        pieces.append(corners)
    return np.concatenate(pieces) if pieces else np.zeros((0, 3, 3))


def _ridges(mesh: trimesh.Trimesh) -> Floats:
    """Edges (E, 2, 3) where two faces of a closed mesh meet at an angle, metres."""
    sharp = mesh.face_adjacency_angles > 1e-3
    return np.asarray(mesh.vertices[mesh.face_adjacency_edges[sharp]], float)


# --------------------------------------------------------------------------------------------
# what a scene is made of


@dataclass(frozen=True)
class Plane:
    """A plane with coordinates: origin (3,) metres, unit vectors u and v (3,), at right angles."""

    origin: Floats
    u: Floats
    v: Floats

    @property
    def normal(self) -> Floats:
        """Unit vector u x v (3,)."""
        return np.cross(self.u, self.v)

    def lift(self, uv: npt.ArrayLike) -> Floats:
        """Plan-frame points (..., 3) of coordinates (..., 2), metres."""
        uv = np.asarray(uv, float)
        return self.origin + uv[..., :1] * self.u + uv[..., 1:2] * self.v

    def lower(self, xyz: npt.ArrayLike) -> Floats:
        """Coordinates (..., 2) of the feet of plan-frame points (..., 3), metres."""
        rel = np.asarray(xyz, float) - self.origin
        return np.stack([rel @ self.u, rel @ self.v], axis=-1)

    def shadow(self, xyz: npt.ArrayLike, sun: Floats) -> Floats:
        """Coordinates (..., 2) where the line along `sun` through points (..., 3) meets it."""
        points = np.asarray(xyz, float)
        s = ((points - self.origin) @ self.normal) / float(sun @ self.normal)
        return self.lower(points - s[..., None] * sun)


@dataclass(frozen=True)
class Opening:
    """A window, roof window or skylight: inner aperture and glass of one room, metres."""

    index: int
    name: str
    wall: int | None
    """Index of its wall, None for the ceiling."""
    plane: Plane
    """The inner aperture; coordinates run from its corner, the normal points out of the room."""
    size_m: tuple[float, float]
    depth_m: float
    glass: Floats
    """Corners of the glass (4, 3), in the order of the aperture's corners."""

    @property
    def aperture(self) -> Floats:
        """Corners of the inner aperture (4, 3)."""
        w, h = self.size_m
        return self.plane.lift([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])

    @property
    def area_m2(self) -> float:
        """Area of the inner aperture."""
        return self.size_m[0] * self.size_m[1]


@dataclass(frozen=True)
class Mark:
    """The upright cylinder of a mark: axis x, y, lower and upper end z (above ground), metres."""

    name: str
    x_m: float
    y_m: float
    bottom_m: float
    top_m: float
    radius_m: float

    def grown(self, by_m: float) -> Mark:
        """The same cylinder, larger by `by_m` on every side (smaller when negative)."""
        return Mark(
            self.name,
            self.x_m,
            self.y_m,
            self.bottom_m - by_m,
            self.top_m + by_m,
            self.radius_m + by_m,
        )

    def chord(self, points: Floats, directions: Floats) -> tuple[Floats, Floats]:
        """Where lines enter and leave the cylinder: signed distances (N,), (N,), metres.

        points (N, 3); directions unit vectors (3,) or (N, 3). A line that misses gives an empty
        stretch: the first distance is larger than the second.
        """
        d = np.broadcast_to(directions, points.shape)
        rel = points[:, :2] - np.array([self.x_m, self.y_m])
        a = d[:, 0] ** 2 + d[:, 1] ** 2
        b = rel[:, 0] * d[:, 0] + rel[:, 1] * d[:, 1]
        c = rel[:, 0] ** 2 + rel[:, 1] ** 2 - self.radius_m**2
        upright = a < 1e-24
        root = b * b - a * c
        half = np.sqrt(np.maximum(root, 0.0))
        safe = np.where(upright, 1.0, a)
        near = np.where(upright, np.where(c <= 0.0, -np.inf, np.inf), (-b - half) / safe)
        far = np.where(upright, np.where(c <= 0.0, np.inf, -np.inf), (-b + half) / safe)
        gone = ~upright & (root < 0.0)
        near[gone], far[gone] = np.inf, -np.inf
        level = np.abs(d[:, 2]) < 1e-15
        dz = np.where(level, 1.0, d[:, 2])
        low = (self.bottom_m - points[:, 2]) / dz
        high = (self.top_m - points[:, 2]) / dz
        low, high = np.minimum(low, high), np.maximum(low, high)
        within = (points[:, 2] >= self.bottom_m) & (points[:, 2] <= self.top_m)
        low = np.where(level, np.where(within, -np.inf, np.inf), low)
        high = np.where(level, np.where(within, np.inf, -np.inf), high)
        return np.maximum(near, low), np.minimum(far, high)

    def random_points(self, count: int, rng: np.random.Generator) -> Floats:
        """Random points (count, 3) of the cylinder, plan frame, metres.

        A quarter each lie on its side, on its two rims, on its two ends and anywhere inside.
        """
        angle = rng.uniform(0.0, 2.0 * np.pi, count)
        r = self.radius_m * np.sqrt(rng.uniform(0.0, 1.0, count))
        z = rng.uniform(self.bottom_m, self.top_m, count)
        end = np.where(rng.uniform(size=count) < 0.5, self.bottom_m, self.top_m)
        kind = rng.integers(0, 4, count)
        r = np.where((kind == 0) | (kind == 1), self.radius_m, r)
        z = np.where((kind == 1) | (kind == 2), end, z)
        return np.column_stack([self.x_m + r * np.cos(angle), self.y_m + r * np.sin(angle), z])


@dataclass(frozen=True)
class Passing:
    """Whether sun passes an opening, and how much of it."""

    any: bool
    share: float
    """Lit share (0 to 1) of the inner aperture's area; nan when it was not asked for."""
    witness: Floats | None
    """A point (3,) of the inner aperture that lets the sun through, metres."""


@dataclass(frozen=True)
class Hit:
    """Whether sun through one opening touches a mark."""

    any: bool
    witness: Floats | None
    """A sunlit point (3,) of the mark's cylinder, metres."""


@dataclass(frozen=True)
class OutlineError:
    """How wrong a claimed outline of a patch of sun is, metres."""

    worst_m: float
    """The larger of the next two."""
    claimed_m: float
    """From the claimed outline straight across it to where light truly ends (capped)."""
    missed_m: float
    """From the true outline, found by scanning, to the nearest point of the claimed one."""
    at: Floats | None
    """Surface coordinates (2,) of the worst place."""


@dataclass(frozen=True)
class FlagCheck:
    """What random rays say of a flag."""

    counted: int
    """Rays that come through the opening to the mark when no flag stands there."""
    missed: int
    """Those of them that do not meet the flag."""
    worst_m: float
    """How far beyond the flag's edge the worst one goes by; inf when it never meets its plane."""
    drawn: int
    """Rays that were drawn to find the counted ones."""


# --------------------------------------------------------------------------------------------
# edges on a plane


def _crossings(segments: Floats, cutters: Floats) -> Floats:
    """Where cutters (C, 2, 2) cross segments (S, 2, 2): shares (S, C) of the segment, or nan."""
    p, r = segments[:, None, 0], (segments[:, 1] - segments[:, 0])[:, None]
    q, s = cutters[None, :, 0], (cutters[:, 1] - cutters[:, 0])[None]
    det = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    size = np.linalg.norm(r, axis=-1) * np.linalg.norm(s, axis=-1)
    skew = np.abs(det) > 1e-12 * size
    det = np.where(skew, det, 1.0)
    w = q - p
    share = (w[..., 0] * s[..., 1] - w[..., 1] * s[..., 0]) / det
    other = (w[..., 0] * r[..., 1] - w[..., 1] * r[..., 0]) / det
    inside = skew & (share > 0.0) & (share < 1.0) & (other >= -1e-9) & (other <= 1.0 + 1e-9)
    return np.where(inside, share, np.nan)


def _clip(segments: Floats, box: Floats) -> Floats:
    """The parts of segments (S, 2, 2) inside a box (low u, low v, high u, high v)."""
    start, along = segments[:, 0], segments[:, 1] - segments[:, 0]
    low, high = np.zeros(len(segments)), np.ones(len(segments))
    keep = np.linalg.norm(along, axis=1) > 1e-12
    for axis in (0, 1):
        level = np.abs(along[:, axis]) < 1e-15
        step = np.where(level, 1.0, along[:, axis])
        a = (box[axis] - start[:, axis]) / step
        b = (box[axis + 2] - start[:, axis]) / step
        within = (start[:, axis] >= box[axis]) & (start[:, axis] <= box[axis + 2])
        low = np.where(level, low, np.maximum(low, np.minimum(a, b)))
        high = np.where(level, high, np.minimum(high, np.maximum(a, b)))
        keep &= ~level | within
    keep &= low < high
    low, high = low[keep, None], high[keep, None]
    return np.stack([start[keep] + low * along[keep], start[keep] + high * along[keep]], axis=1)


def _ring(corners: Floats) -> Floats:
    """Edges (V, 2, k) of a closed line through corners (V, k)."""
    return np.stack([corners, np.roll(corners, -1, axis=0)], axis=1)


def _box_ring(box: Floats) -> Floats:
    return _ring(np.array([[box[0], box[1]], [box[2], box[1]], [box[2], box[3]], [box[0], box[3]]]))


def _probes(segments: Floats, cutters: Floats) -> Floats:
    """Points (P, 2) just beside every piece of the segments between their crossings."""
    if not len(segments):
        return np.zeros((0, 2))
    cuts = np.nan_to_num(_crossings(segments, cutters), nan=1.0)
    ends = np.ones((len(segments), 1))
    cuts = np.sort(np.concatenate([0.0 * ends, cuts, ends], axis=1), axis=1)
    row, column = np.nonzero(np.diff(cuts, axis=1) > 1e-12)
    a, b = cuts[row, column], cuts[row, column + 1]
    start, along = segments[row, 0], segments[row, 1] - segments[row, 0]
    length = np.linalg.norm(along, axis=1)
    side = np.column_stack([-along[:, 1], along[:, 0]]) / length[:, None]
    found = []
    for share in (0.03, 0.5, 0.97):
        place = start + (a + share * (b - a))[:, None] * along
        for step in (SIDE_STEP_M, -SIDE_STEP_M, 2e-4, -2e-4):
            found.append(place + step * side)
    return np.concatenate(found)


Member = Callable[[Floats], Bools]


@dataclass(frozen=True)
class _Scan:
    area_m2: float
    edges: Floats
    """Places (E, 2) where light was found to end."""


def _scan(member: Member, segments: Floats, box: Floats) -> _Scan:
    """Area of the set {member} inside a box, and points of its rim.

    member takes coordinates (N, 2) and tells which are in the set; segments (S, 2, 2) are lines
    where its rim may run. Lines of constant v are scanned one slab at a time; between two levels
    at which rims meet the lit length is a straight function of v, so its value in the middle
    of the slab gives the slab's area. Where three lines show that it is not straight the slab is
    cut up, so a line missing in `segments` costs time, not accuracy.
    """
    if not (box[2] - box[0] > 1e-9 and box[3] - box[1] > 1e-9):
        return _Scan(0.0, np.zeros((0, 2)))
    lines = np.concatenate([_clip(segments, box), _box_ring(box)])
    share = _crossings(lines, lines)
    row, column = np.nonzero(np.isfinite(share))
    met = lines[row, 0, 1] + share[row, column] * (lines[row, 1, 1] - lines[row, 0, 1])
    levels = np.unique(np.clip(np.concatenate([met, lines[:, :, 1].ravel()]), box[1], box[3]))
    levels = levels[np.concatenate([[True], np.diff(levels) > 1e-10])]
    slabs = np.column_stack([levels[:-1], levels[1:]])
    area, edges = 0.0, []
    straight_to = 1e-7 * (box[2] - box[0]) + 2e-7
    for attempt in range(12):
        if not len(slabs):
            break
        height = slabs[:, 1] - slabs[:, 0]
        at = slabs[:, :1] + height[:, None] * np.array([[1.0 / 6.0, 0.5, 5.0 / 6.0]])
        length, found = _lit_lengths(member, lines, box, at.ravel())
        length = length.reshape(-1, 3)
        edges.append(found)
        bent = np.abs(length[:, 0] + length[:, 2] - 2.0 * length[:, 1]) > straight_to
        bent &= height > 1e-7
        if attempt == 11:
            bent[:] = False
        area += float((height * length[:, 1])[~bent].sum())
        slabs = np.concatenate(
            [
                np.column_stack([slabs[bent, 0] + i * height[bent] / 3.0] * 2)
                + np.column_stack([0.0 * height[bent], height[bent] / 3.0])
                for i in range(3)
            ]
        )
    return _Scan(area, np.concatenate(edges) if edges else np.zeros((0, 2)))


def _lit_lengths(
    member: Member, lines: Floats, box: Floats, levels: Floats
) -> tuple[Floats, Floats]:
    """Lit length (L,) on each level v (L,), and the places (E, 2) where light ends on them."""
    low, high = box[0], box[2]
    a, b = lines[:, 0], lines[:, 1]
    rise = b[:, 1] - a[:, 1]
    flat = np.abs(rise) < 1e-15
    share = (levels[:, None] - a[:, 1]) / np.where(flat, 1.0, rise)
    cross = np.where(
        ~flat & (share >= 0.0) & (share <= 1.0), a[:, 0] + share * (b[:, 0] - a[:, 0]), high
    )
    cross = np.sort(np.clip(cross, low, high), axis=1)
    middle = 0.5 * (cross[:, 1:] + cross[:, :-1])
    grid = low + (high - low) * (np.arange(48) + 0.5) / 48.0
    at = np.concatenate(
        [cross - 1e-7, cross + 1e-7, middle, np.broadcast_to(grid, (len(levels), len(grid)))],
        axis=1,
    )
    ends = np.broadcast_to([low - 1e-7, high + 1e-7], (len(levels), 2))
    at = np.sort(np.concatenate([at, ends], axis=1), axis=1)
    # places closer together than this are one place: ask only once
    ask = np.concatenate([np.ones((len(at), 1), bool), np.diff(at, axis=1) > 1e-12], axis=1)
    ask &= (at > low) & (at < high)
    v = np.broadcast_to(levels[:, None], at.shape)
    lit = np.zeros(at.shape, bool)
    lit[ask] = member(np.column_stack([at[ask], v[ask]]))
    # carry an answer over to the places that were not asked
    last = np.maximum.accumulate(np.where(ask, np.arange(at.shape[1]), 0), axis=1)
    inner = (at > low) & (at < high)
    lit = np.where(inner, np.take_along_axis(lit, last, axis=1), False)
    row, column = np.nonzero(lit[:, 1:] != lit[:, :-1])
    left, right = at[row, column].copy(), at[row, column + 1].copy()
    rising = lit[row, column + 1]
    for _ in range(60):
        wide = right - left > 4e-7
        if not wide.any():
            break
        mid = 0.5 * (left[wide] + right[wide])
        here = member(np.column_stack([mid, levels[row[wide]]]))
        same_as_right = here == rising[wide]
        right[wide] = np.where(same_as_right, mid, right[wide])
        left[wide] = np.where(same_as_right, left[wide], mid)
    place = np.clip(0.5 * (left + right), low, high)
    signed: Floats = np.where(rising, -place, place)
    length = np.bincount(row, signed, minlength=len(levels)).astype(float)
    return length, np.column_stack([place, levels[row]])


# --------------------------------------------------------------------------------------------
# the scene


class Scene:
    """One room of a location, its openings, and what stands outside.

    location: the dictionary of a parsed location file with units = "m" and plain numbers;
    room_name: the room's name. The outline must run counter-clockwise.

    Light is stopped by the room's walls, floor and ceiling (from inside and, as one solid, from
    outside), by the sides of the reveal or shaft of the opening it passes, by outside blocks, by
    the skyline and by the level horizon. Other rooms, and the reveals and shafts of other
    openings seen from outside, stop nothing.
    """

    def __init__(self, location: Location, room_name: str) -> None:
        """Build the room's triangles; ValueError for a file that this module cannot judge."""
        place = location["location"]
        if place.get("units", "m") != "m":
            raise ValueError(f"units = {place['units']!r}: only plain metres are read here")
        rooms = [r for r in location["room"] if r["name"] == room_name]
        if len(rooms) != 1:
            raise ValueError(f"{len(rooms)} rooms are named {room_name!r}, wanted one")
        room = rooms[0]
        self.name = room_name
        self.plan_up_deg = float(place["plan_up"])
        self.outline = np.asarray(room["outline"], float)
        self.polygon = shapely.Polygon(self.outline)
        if not self.polygon.is_valid or not self.polygon.exterior.is_ccw:
            raise ValueError(f"{room_name}: the outline must be simple and counter-clockwise")
        shapely.prepare(self.polygon)
        self.floor_m = float(room.get("floor", 0.0))
        self.height_m = float(room["height"])
        self.ceiling_m = self.floor_m + self.height_m
        self.marks = [self._read_mark(m) for m in room.get("mark", [])]
        self.skyline = [_unwrapped(s["points"]) for s in location.get("skyline", [])]

        self.openings: list[Opening] = []
        self._tunnels: list[_Triangles] = []
        holes: list[Floats] = []
        for index, entry in enumerate(room.get("opening", [])):
            opening, tunnel, hole = self._build_opening(index, entry)
            self.openings.append(opening)
            self._tunnels.append(tunnel)
            holes.append(hole)
        shell = self._build_shell()
        tags = [np.full(len(shell), -1, np.int64)]
        tags += [np.full(len(h), i, np.int64) for i, h in enumerate(holes)]
        self._shell = _Triangles(np.concatenate([shell, *holes]), np.concatenate(tags))

        boxes = [_block(entry) for entry in location.get("outside", [])]
        faces = [np.asarray(b.triangles, float) for b in boxes]
        outside = np.concatenate([self._shell.corners, *faces])
        self._outside = _Triangles(outside, np.zeros(len(outside), np.int64))
        prism = trimesh.creation.extrude_polygon(self.polygon, self.height_m, engine="earcut")
        prism.apply_translation([0.0, 0.0, self.floor_m])
        self._ridges = np.concatenate([_ridges(prism), *[_ridges(b) for b in boxes]])

    # -- building

    def _read_mark(self, entry: Mapping[str, Any]) -> Mark:
        low, high = entry["height"]
        return Mark(
            name=str(entry["name"]),
            x_m=float(entry["at"][0]),
            y_m=float(entry["at"][1]),
            bottom_m=self.floor_m + float(low),
            top_m=self.floor_m + float(high),
            radius_m=0.5 * float(entry["width"]),
        )

    def wall_plane(self, wall: int) -> Plane:
        """Plane of a wall's inner face: u along the wall, v up from the floor, normal outwards."""
        start = self.outline[wall]
        along = self.outline[(wall + 1) % len(self.outline)] - start
        u = np.append(along / np.linalg.norm(along), 0.0)
        return Plane(np.append(start, self.floor_m), u, np.array([0.0, 0.0, 1.0]))

    def wall_length_m(self, wall: int) -> float:
        """Length of a wall, metres."""
        end = self.outline[(wall + 1) % len(self.outline)]
        return float(np.linalg.norm(end - self.outline[wall]))

    def surface_plane(self, surface: str) -> Plane:
        """Plane of a surface ("floor" or a wall's letter) that carries its coordinates."""
        if surface == "floor":
            x, y = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
            return Plane(np.array([0.0, 0.0, self.floor_m]), x, y)
        return self.wall_plane(self._wall_index(surface))

    def surfaces(self) -> list[str]:
        """The floor and all walls by letter."""
        return ["floor", *[chr(ord("A") + i) for i in range(len(self.outline))]]

    def _wall_index(self, letter: str) -> int:
        index = ord(letter) - ord("A") if len(letter) == 1 else -1
        if not 0 <= index < len(self.outline):
            raise ValueError(f"wall {letter!r}: this room has walls {self.surfaces()[1:]}")
        return index

    def _build_opening(
        self, index: int, entry: Mapping[str, Any]
    ) -> tuple[Opening, _Triangles, Floats]:
        w, h = (float(x) for x in entry["size"])
        depth = max(float(entry.get("depth", DEFAULT_DEPTH_M)), 1e-6)
        wall: int | None = None
        if entry.get("ceiling", False):
            turn = math.radians(float(entry.get("turn", 0.0)))
            u = np.array([math.cos(turn), math.sin(turn), 0.0])
            v = np.array([-math.sin(turn), math.cos(turn), 0.0])
            middle = np.array([*entry["at"], self.ceiling_m], float)
            plane = Plane(middle - 0.5 * w * u - 0.5 * h * v, u, v)
        else:
            wall = self._wall_index(entry["wall"])
            face = self.wall_plane(wall)
            start = face.lift([float(entry["along"]), float(entry["sill"])])
            plane = Plane(start, face.u, face.v)
        tunnel = trimesh.creation.extrude_polygon(
            shapely.box(0.0, 0.0, w, h), depth, engine="earcut"
        )
        out = np.asarray(tunnel.vertices[:, 2] > 0.5 * depth)
        tunnel.apply_transform(_frame(plane.origin, plane.u, plane.v))
        vertices = np.array(tunnel.vertices, float)
        glass = plane.lift([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]) + depth * plane.normal
        pitch = float(entry.get("pitch", 0.0))
        if wall is None and pitch != 0.0:
            down = math.radians(float(entry["faces"]) - self.plan_up_deg)
            fall = math.tan(math.radians(pitch)) * np.array([math.sin(down), math.cos(down)])
            at = np.asarray(entry["at"], float)
            vertices[out, 2] -= (vertices[out, :2] - at) @ fall
            glass[:, 2] -= (glass[:, :2] - at) @ fall
            if glass[:, 2].min() <= self.ceiling_m:
                raise ValueError(f"{entry['name']}: depth {depth} is too small for its pitch")
        kinds = out[tunnel.faces].sum(axis=1)  # 0: the hole, 3: the glass, else a side
        corners = vertices[tunnel.faces]
        rest = kinds > 0
        triangles = _Triangles(corners[rest], (kinds[rest] == 3).astype(np.int64))
        name = str(entry.get("name", f"opening {index}"))
        opening = Opening(index, name, wall, plane, (w, h), depth, glass)
        return opening, triangles, corners[~rest]

    def _build_shell(self) -> Floats:
        """Triangles (M, 3, 3) of floor, walls and ceiling with their holes."""
        level = np.eye(4)
        level[2, 3] = self.floor_m
        raised = np.eye(4)
        raised[2, 3] = self.ceiling_m
        ceiling: shapely.Geometry = self.polygon
        for opening in self.openings:
            if opening.wall is None:
                ceiling = ceiling.difference(shapely.Polygon(opening.aperture[:, :2]))
        pieces = [_sheet(self.polygon, level), _sheet(ceiling, raised)]
        for wall in range(len(self.outline)):
            plane = self.wall_plane(wall)
            sheet: shapely.Geometry = shapely.box(0.0, 0.0, self.wall_length_m(wall), self.height_m)
            for opening in self.openings:
                if opening.wall == wall:
                    sheet = sheet.difference(shapely.Polygon(plane.lower(opening.aperture)))
            pieces.append(_sheet(sheet, _frame(plane.origin, plane.u, plane.v)))
        return np.concatenate(pieces)

    # -- following rays

    def sun(self, altitude_deg: npt.ArrayLike, bearing_deg: npt.ArrayLike) -> Floats:
        """Sun vector (..., 3) of apparent altitudes and true bearings, degrees."""
        return sun_vector(altitude_deg, bearing_deg, self.plan_up_deg)

    def mark(self, mark: int | str | Mark) -> Mark:
        """The mark of that index or name; a Mark is handed back as it is."""
        if isinstance(mark, Mark):
            return mark
        if isinstance(mark, int):
            return self.marks[mark]
        found = [m for m in self.marks if m.name == mark]
        if len(found) != 1:
            raise ValueError(f"{len(found)} marks are named {mark!r}, wanted one")
        return found[0]

    def inside(self, points: Floats) -> Bools:
        """Which points (N, 3) lie in the room; floor and ceiling count, walls do not."""
        flat = shapely.contains_xy(self.polygon, points[:, 0], points[:, 1])
        high = (points[:, 2] >= self.floor_m) & (points[:, 2] <= self.ceiling_m)
        return np.asarray(flat & high, bool)

    def sky_open(self, directions: Floats) -> Bools:
        """Which directions (N, 3) clear the level horizon and the skyline."""
        altitude, bearing = altitude_and_bearing(directions, self.plan_up_deg)
        floor = np.zeros(altitude.shape)
        for points in self.skyline:
            for whole_turn in (-360.0, 0.0, 360.0):
                b, a = points[:, 0] + whole_turn, points[:, 1]
                floor = np.maximum(floor, np.interp(bearing, b, a, left=0.0, right=0.0))
        return np.asarray(altitude > floor, bool)

    def _tunnel(self, opening: int, points: Floats, directions: Floats, after: Floats) -> Floats:
        """Distance (N,) to the glass of rays that are in the hole at `after`; nan if stopped."""
        distance, tag = self._tunnels[opening].nearest(points, directions, after)
        return np.where(tag == 1, distance, np.nan)

    def _free(self, points: Floats, directions: Floats, after: Floats) -> Bools:
        """Which rays (N,) reach the sky from the glass, which they pass at `after`."""
        free = np.broadcast_to(self.sky_open(np.atleast_2d(directions)), len(points)).copy()
        rows = np.flatnonzero(free)
        free[rows] = ~self._outside.any_hit(
            points[rows], _pick(directions, rows), after[rows] + START_M
        )
        return free

    def leaves(self, points: npt.ArrayLike, directions: npt.ArrayLike) -> Ints:
        """Index (N,) of the opening whose both apertures each ray clears; -1 if none.

        points (N, 3) metres, in the room (others give -1); directions unit vectors (3,) or
        (N, 3). What comes after the glass does not matter here.
        """
        return self._leave(points, directions)[0]

    def _leave(self, points: npt.ArrayLike, directions: npt.ArrayLike) -> tuple[Ints, Floats]:
        p = np.asarray(points, float).reshape(-1, 3)
        d = np.asarray(directions, float)
        if d.ndim == 2 and len(d) != len(p):
            raise ValueError(f"{len(d)} directions for {len(p)} points")
        index = np.full(len(p), -1, np.int64)
        glass = np.full(len(p), np.nan)
        rows = np.flatnonzero(self.inside(p))
        distance, tag = self._shell.nearest(p[rows], _pick(d, rows), np.full(len(rows), START_M))
        for opening in range(len(self.openings)):
            here = tag == opening
            some = rows[here]
            if len(some):
                after = distance[here]
                glass[some] = self._tunnel(opening, p[some], _pick(d, some), after - START_M)
                index[some] = np.where(np.isnan(glass[some]), -1, opening)
        return index, glass

    def through(self, points: npt.ArrayLike, directions: npt.ArrayLike) -> Ints:
        """Index (N,) of the opening through which each ray reaches the sky; -1 when blocked.

        points (N, 3) in the room, metres, plan frame (others give -1); directions: unit vectors
        toward the sun, (3,) or (N, 3).
        """
        p = np.asarray(points, float).reshape(-1, 3)
        d = np.asarray(directions, float)
        index, glass = self._leave(p, d)
        rows = np.flatnonzero(index >= 0)
        free = self._free(p[rows], _pick(d, rows), glass[rows])
        index[rows[~free]] = -1
        return index

    def _edges(self, opening: int) -> Floats:
        """Edges (E, 2, 3) that can bound the light of an opening, metres."""
        o = self.openings[opening]
        return np.concatenate([_ring(o.aperture), _ring(o.glass), self._ridges])

    # -- openings

    def _clear_aperture(self, opening: int, uv: Floats, sun: Floats) -> Bools:
        """Which places (N, 2) of the inner aperture let the sun in."""
        o = self.openings[opening]
        w, h = o.size_m
        lit = np.asarray(
            (uv[:, 0] > 0.0) & (uv[:, 0] < w) & (uv[:, 1] > 0.0) & (uv[:, 1] < h), bool
        )
        if float(sun @ o.plane.normal) <= MIN_COSINE or not self.sky_open(sun[None])[0]:
            return np.zeros(len(uv), bool)
        rows = np.flatnonzero(lit)
        points = o.plane.lift(uv[rows])
        glass = self._tunnel(opening, points, sun, np.full(len(rows), -START_M))
        clear = ~np.isnan(glass)
        lit[rows[~clear]] = False
        lit[rows[clear]] = self._free(points[clear], sun, glass[clear])
        return lit

    def passes(self, opening: int, sun: npt.ArrayLike, *, share: bool = True) -> Passing:
        """Whether any ray from the sun (unit vector (3,)) clears this opening, and its share.

        Finds passing strips down to about 5 micrometres across. The share is of the inner
        aperture's area, good to about 1e-6; share=False leaves it out and is faster.
        """
        sun = np.asarray(sun, float)
        o = self.openings[opening]
        w, h = o.size_m
        if float(sun @ o.plane.normal) <= MIN_COSINE or not self.sky_open(sun[None])[0]:
            return Passing(False, 0.0 if share else math.nan, None)
        box = np.array([0.0, 0.0, w, h])
        lines = o.plane.shadow(self._edges(opening), sun)
        lines = np.concatenate([_clip(lines, box), _box_ring(box)])
        near = np.geomspace(1e-4, 0.5, 24)
        steps = np.unique(np.concatenate([near, 1.0 - near, (np.arange(40) + 0.5) / 40.0]))
        grid = np.stack(np.meshgrid(w * steps, h * steps), axis=-1).reshape(-1, 2)
        probes = np.concatenate([grid, _probes(lines, lines)])
        lit = self._clear_aperture(opening, probes, sun)
        if not lit.any():
            return Passing(False, 0.0 if share else math.nan, None)
        witness = o.plane.lift(probes[np.argmax(lit)])
        if not share:
            return Passing(True, math.nan, witness)
        scan = _scan(lambda uv: self._clear_aperture(opening, uv, sun), lines, box)
        return Passing(True, scan.area_m2 / o.area_m2, witness)

    # -- marks

    def _lit_chord(self, mark: Mark, opening: int, points: Floats, sun: Floats) -> Floats:
        """Lit points (K, 3) of the mark on the lines through `points` (N, 3) along the sun.

        Of each line the point of the cylinder nearest to the opening is tried.
        """
        o = self.openings[opening]
        near, far = mark.chord(points, sun)
        hole = ((o.plane.origin - points) @ o.plane.normal) / float(sun @ o.plane.normal)
        last = np.minimum(far, hole)
        rows = last - near > 20.0 * START_M
        start = points[rows] + (last[rows] - 10.0 * START_M)[:, None] * sun
        return np.asarray(start[self.through(start, sun) == opening], float)

    def hits(
        self, mark: int | str | Mark, opening: int, sun: npt.ArrayLike, *, grow_m: float = 0.0
    ) -> Hit:
        """Whether sun (unit vector (3,)) through this opening touches any point of the mark.

        Finds slivers down to about 20 micrometres across. grow_m makes the cylinder larger (or
        smaller, when negative) on every side, to see whether an answer is a near thing. Only the
        part of the cylinder that is in the room counts.
        """
        sun = np.asarray(sun, float)
        body = self.mark(mark).grown(grow_m)
        o = self.openings[opening]
        cosine = float(sun @ o.plane.normal)
        if cosine <= MIN_COSINE or not self.sky_open(sun[None])[0] or body.radius_m <= 0.0:
            return Hit(False, None)
        if body.top_m <= body.bottom_m:
            return Hit(False, None)
        side = np.cross(sun, [1.0, 0.0, 0.0] if abs(sun[0]) < 0.6 else [0.0, 1.0, 0.0])
        side /= np.linalg.norm(side)
        middle = np.array([body.x_m, body.y_m, 0.5 * (body.bottom_m + body.top_m)])
        screen = Plane(middle, side, np.cross(sun, side))
        angle = np.linspace(0.0, 2.0 * np.pi, 360, endpoint=False)
        rim = np.column_stack(
            [body.x_m + body.radius_m * np.cos(angle), body.y_m + body.radius_m * np.sin(angle)]
        )
        rims = np.concatenate(
            [np.column_stack([rim, np.full(360, z)]) for z in (body.bottom_m, body.top_m)]
        )
        hull = shapely.MultiPoint(screen.lower(rims)).convex_hull
        contour = _ring(np.asarray(hull.exterior.coords, float)[:-1])
        window = screen.lower(np.concatenate([o.aperture, o.glass]))
        lows = np.maximum(contour[:, 0].min(axis=0), window.min(axis=0)) - 1e-4
        highs = np.minimum(contour[:, 0].max(axis=0), window.max(axis=0)) + 1e-4
        if (highs <= lows).any():
            return Hit(False, None)
        box = np.concatenate([lows, highs])
        lines = _clip(screen.lower(self._edges(opening)), box)
        contour = _clip(contour, box)
        probes = np.concatenate(
            [_probes(lines, np.concatenate([lines, contour])), _probes(contour, lines)]
        )
        probes = probes[((probes >= lows) & (probes <= highs)).all(axis=1)]
        found = self._lit_chord(body, opening, screen.lift(probes), sun)
        if not len(found):
            points = body.random_points(2000, np.random.default_rng(0))
            found = points[self.through(points, sun) == opening]
        return Hit(bool(len(found)), found[0] if len(found) else None)

    def hits_by_chance(
        self,
        mark: int | str | Mark,
        opening: int,
        sun: npt.ArrayLike,
        n_rays: int,
        rng: np.random.Generator,
    ) -> int:
        """How many of n_rays random points of the mark are sunlit through this opening.

        The plainest possible check of `hits`: no edges, no aiming.
        """
        points = self.mark(mark).random_points(n_rays, rng)
        return int(np.count_nonzero(self.through(points, np.asarray(sun, float)) == opening))

    # -- patches

    def lit_on_floor(self, points_xy: npt.ArrayLike, sun: npt.ArrayLike) -> Ints:
        """Opening index (N,) through which floor points (N, 2) see the sun; -1 when they do not."""
        return self._lit("floor", np.asarray(points_xy, float), np.asarray(sun, float))

    def lit_on_wall(
        self,
        wall: str,
        along_height: npt.ArrayLike,
        sun: npt.ArrayLike,
        *,
        over_holes: bool = False,
    ) -> Ints:
        """Opening index (N,) through which points of a wall see the sun; -1 when they do not.

        along_height (N, 2): metres along the wall and above the floor. Points in the hole of an
        opening are no wall, unless over_holes is set.
        """
        points = np.asarray(along_height, float)
        return self._lit(wall, points, np.asarray(sun, float), over_holes=over_holes)

    def _lit(self, surface: str, uv: Floats, sun: Floats, *, over_holes: bool = False) -> Ints:
        plane = self.surface_plane(surface)
        into = plane.normal if surface == "floor" else -plane.normal
        index = np.full(len(uv), -1, np.int64)
        if float(sun @ into) <= MIN_COSINE:
            return index
        on = np.ones(len(uv), bool)
        if surface != "floor":
            wall = self._wall_index(surface)
            on = (uv[:, 0] >= 0.0) & (uv[:, 0] <= self.wall_length_m(wall))
            on &= (uv[:, 1] >= 0.0) & (uv[:, 1] <= self.height_m)
            for o in self.openings:
                if o.wall == wall and not over_holes:
                    low, high = plane.lower(o.aperture)[[0, 2]]
                    on &= ~((uv > low) & (uv < high)).all(axis=1)
        index[on] = self.through(plane.lift(uv[on]) + START_M * into, sun)
        return index

    def _patch(
        self, surface: str, opening: int, sun: Floats, over_holes: bool
    ) -> tuple[Member, Floats, Floats] | None:
        plane = self.surface_plane(surface)
        into = plane.normal if surface == "floor" else -plane.normal
        o = self.openings[opening]
        if min(float(sun @ into), float(sun @ o.plane.normal)) <= MIN_COSINE:
            return None
        cast = plane.shadow(o.aperture, sun)
        if surface == "floor":
            limit = np.concatenate([self.outline.min(axis=0), self.outline.max(axis=0)])
        else:
            limit = np.array([0.0, 0.0, self.wall_length_m(self._wall_index(surface)), 0.0])
            limit[3] = self.height_m
        box = np.concatenate(
            [np.maximum(cast.min(axis=0), limit[:2]), np.minimum(cast.max(axis=0), limit[2:])]
        )
        if (box[2:] - box[:2] <= 1e-9).any():
            return None
        edges = [self._edges(opening)]
        edges += [_ring(x.aperture) for x in self.openings if x.wall is not None]
        lines = plane.shadow(np.concatenate(edges), sun)

        def member(uv: Floats) -> Bools:
            lit = self._lit(surface, uv, sun, over_holes=over_holes)
            return np.asarray(lit == opening, bool)

        return member, lines, box

    def patch_area(
        self, surface: str, opening: int, sun: npt.ArrayLike, *, over_holes: bool = False
    ) -> float:
        """Area, m2, of the patch of sun through one opening on the floor or a wall.

        Good to about 1e-6 of the area's bounding box. Holes in the wall are not lit, unless
        over_holes is set.
        """
        parts = self._patch(surface, opening, np.asarray(sun, float), over_holes)
        return 0.0 if parts is None else _scan(*parts).area_m2

    def patch_rim(
        self, surface: str, opening: int, sun: npt.ArrayLike, *, over_holes: bool = False
    ) -> Floats:
        """Points (E, 2) of the true outline of a patch, surface coordinates, metres.

        Found by scanning the surface both ways; good to a micrometre along the scanned line.
        """
        parts = self._patch(surface, opening, np.asarray(sun, float), over_holes)
        if parts is None:
            return np.zeros((0, 2))
        member, lines, box = parts
        level = _scan(member, lines, box).edges
        swapped = _scan(lambda vu: member(vu[:, ::-1]), lines[..., ::-1], box[[1, 0, 3, 2]]).edges
        return np.concatenate([level, swapped[:, ::-1]])

    def outline_error(
        self,
        surface: str,
        outlines: npt.ArrayLike | Sequence[npt.ArrayLike],
        opening: int,
        sun: npt.ArrayLike,
        *,
        over_holes: bool = False,
        reach_m: float = 0.05,
        places: int = 9,
    ) -> OutlineError:
        """How wrong the claimed outline(s) of a patch are, metres.

        outlines: one polygon (V, 2) in surface coordinates, or a sequence of polygons, which are
        taken together; an empty sequence claims that there is no patch. At every corner (on the
        bisector) and at `places` places along every edge (square to it) light should begin right
        inside and end right outside; where it does not, the way to where it does is measured, up
        to reach_m. Then every point of the true outline is compared with the claimed one. Errors
        below a micrometre are not told apart from none.
        """
        sun = np.asarray(sun, float)
        claimed = _union(outlines)
        rim = self.patch_rim(surface, opening, sun, over_holes=over_holes)
        if claimed.is_empty:
            far = math.inf if len(rim) else 0.0
            return OutlineError(far, 0.0, far, rim[0] if len(rim) else None)

        def lit(uv: Floats) -> Bools:
            found = self._lit(surface, uv, sun, over_holes=over_holes)
            return np.asarray(found == opening, bool)

        at, into = _stations(claimed, places)
        steps = np.geomspace(5e-7, reach_m, 120)
        inward = _switch(lit, at, into, steps, wanted=True)
        outward = _switch(lit, at, -into, steps, wanted=False)
        off = np.maximum(inward, outward)
        missed = shapely.distance(shapely.points(rim), claimed.boundary)
        claimed_m = float(off.max())
        missed_m = float(missed.max()) if len(missed) else 0.0
        where = at[np.argmax(off)] if claimed_m >= missed_m else rim[np.argmax(missed)]
        return OutlineError(max(claimed_m, missed_m), claimed_m, missed_m, where)


def _unwrapped(points: Sequence[Sequence[float]]) -> Floats:
    """Skyline points (K, 2) with bearings that only grow: a smaller one has passed north."""
    line = np.asarray(points, float)
    line[1:, 0] += 360.0 * np.cumsum(np.diff(line[:, 0]) < 0.0)
    return line


def _block(entry: Mapping[str, Any]) -> trimesh.Trimesh:
    """The closed box of an outside block, plan frame, metres."""
    size = np.asarray(entry["size"], float)
    box: trimesh.Trimesh = trimesh.creation.box(extents=size)
    box.apply_translation(0.5 * size)
    turn = math.radians(float(entry.get("turn", 0.0)))
    along, back = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    foot = np.array([*entry["at"], entry.get("base", 0.0)], float)
    box.apply_transform(_frame(foot, np.append(along, 0.0), np.append(back, 0.0)))
    return box


def _union(outlines: npt.ArrayLike | Sequence[npt.ArrayLike]) -> shapely.Geometry:
    """One area of one polygon (V, 2) or of a sequence of them."""
    rings: list[Floats]
    try:
        single = np.asarray(outlines, float)
        rings = [single] if single.ndim == 2 else list(single)
    except ValueError:  # polygons with different numbers of corners
        rings = [np.asarray(r, float) for r in outlines]  # type: ignore[union-attr]
    rings = [r for r in rings if len(r) >= 3]
    return shapely.union_all([shapely.Polygon(r) for r in rings])


def _stations(area: shapely.Geometry, places: int) -> tuple[Floats, Floats]:
    """Points (P, 2) on the rims of an area and unit vectors (P, 2) into it."""
    found_at, found_into = [np.zeros((0, 2))], [np.zeros((0, 2))]
    for part in shapely.get_parts(area):
        part = shapely.orient_polygons(part)
        for ring in [part.exterior, *part.interiors]:
            corners = np.asarray(ring.coords, float)[:-1]
            along = np.roll(corners, -1, axis=0) - corners
            keep = np.linalg.norm(along, axis=1) > 1e-9
            corners = corners[keep]
            along = np.roll(corners, -1, axis=0) - corners
            length = np.linalg.norm(along, axis=1)
            left = np.column_stack([-along[:, 1], along[:, 0]]) / length[:, None]
            for share in np.concatenate([[1e-3], np.linspace(0.0, 1.0, places + 2)[1:-1], [0.999]]):
                found_at.append(corners + share * along)
                found_into.append(left)
            both = left + np.roll(left, 1, axis=0)
            size = np.linalg.norm(both, axis=1)
            blunt = size > 1e-3
            found_at.append(corners[blunt])
            found_into.append(both[blunt] / size[blunt, None])
    return np.concatenate(found_at), np.concatenate(found_into)


def _switch(lit: Member, at: Floats, way: Floats, steps: Floats, *, wanted: bool) -> Floats:
    """First distance (P,) along unit vectors at which lit == wanted; 0 if at once, else capped."""
    reach = np.full(len(at), steps[-1])
    open_ = np.arange(len(at))
    bracket = np.full((len(at), 2), np.nan)
    for i, step in enumerate(steps):
        if not len(open_):
            break
        met = lit(at[open_] + step * way[open_]) == wanted
        done = open_[met]
        if i == 0:
            reach[done] = 0.0
        else:
            bracket[done] = steps[i - 1], step
        open_ = open_[~met]
    rows = np.flatnonzero(np.isfinite(bracket[:, 0]))
    low, high = bracket[rows].T
    for _ in range(24):
        mid = 0.5 * (low + high)
        met = lit(at[rows] + mid[:, None] * way[rows]) == wanted
        low, high = np.where(met, low, mid), np.where(met, mid, high)
    reach[rows] = high
    return reach


# --------------------------------------------------------------------------------------------
# flags


def unblocked(
    scene: Scene,
    mark: int | str | Mark,
    opening: int,
    sun_directions: npt.ArrayLike,
    centre: npt.ArrayLike,
    across: npt.ArrayLike,
    up: npt.ArrayLike,
    size_m: tuple[float, float],
    n_rays: int,
    rng: np.random.Generator,
    *,
    disk_deg: float = SUN_DISK_DEG,
    slack_m: float = 1e-7,
    draws_per_ray: int = 60,
) -> FlagCheck:
    """How many random rays from a mark to the sun's disk, through an opening, miss a flag.

    sun_directions (K, 3): unit vectors toward the middle of the disk, in order of time over the
    interval, no more than a minute or so apart (moments between them are found on the chord).
    The flag is a rectangle: centre (3,) metres, unit vectors across and up (3,) at right angles,
    size_m along across and up. A ray starts in the mark's volume inside the room and ends on the
    disk, disk_deg across; it counts only if it comes through the opening when no flag stands
    there. Half of the rays start from random points of the cylinder (side, rims, ends, volume),
    half are drawn through random places of the aperture, its rim favoured; half go to the rim of
    the disk, half belong to the first or last moment. Drawing ends at n_rays counted rays, or at
    draws_per_ray * n_rays drawn ones. A flag is slack_m larger than drawn on every side.
    """
    flag = _Flag.of(centre, across, up, size_m, slack_m)
    draw = _from_disk(sun_directions, disk_deg, rng)
    return _flag_check(scene, scene.mark(mark), opening, flag, draw, n_rays, draws_per_ray, rng)


def unblocked_from_opening(
    scene: Scene,
    mark: int | str | Mark,
    opening: int,
    centre: npt.ArrayLike,
    across: npt.ArrayLike,
    up: npt.ArrayLike,
    size_m: tuple[float, float],
    n_rays: int,
    rng: np.random.Generator,
    *,
    source: Literal["glass", "hole"] = "glass",
    slack_m: float = 1e-7,
    draws_per_ray: int = 60,
) -> FlagCheck:
    """How many random rays from a whole opening to a mark miss a flag.

    As `unblocked`, but the light may come from anywhere outside, the ground and the faces of
    blocks included. source "glass" counts rays that clear both apertures; "hole" counts all that
    come straight from the inner aperture, so also light that the reveal throws in.
    """
    flag = _Flag.of(centre, across, up, size_m, slack_m)
    return _flag_check(
        scene, scene.mark(mark), opening, flag, None, n_rays, draws_per_ray, rng, source=source
    )


def _from_disk(
    sun_directions: npt.ArrayLike, disk_deg: float, rng: np.random.Generator
) -> Callable[[int], Floats]:
    suns = np.asarray(sun_directions, float).reshape(-1, 3)

    def draw(count: int) -> Floats:
        moment = rng.uniform(0.0, len(suns) - 1.0, count)
        end = rng.uniform(size=count)
        moment = np.where(end < 0.25, 0.0, np.where(end < 0.5, len(suns) - 1.0, moment))
        first = np.minimum(moment.astype(np.int64), max(len(suns) - 2, 0))
        later = np.minimum(first + 1, len(suns) - 1)
        part = (moment - first)[:, None]
        middle = (1.0 - part) * suns[first] + part * suns[later]
        return _on_disk(middle, disk_deg, rng)

    return draw


def rays_from_opening(
    scene: Scene,
    mark: int | str | Mark,
    opening: int,
    sun_directions: npt.ArrayLike | None,
    n_rays: int,
    rng: np.random.Generator,
    *,
    disk_deg: float = SUN_DISK_DEG,
    draws_per_ray: int = 60,
) -> tuple[Floats, Floats]:
    """The rays of `unblocked` (or, without suns, of `unblocked_from_opening`) to ask for oneself.

    Points in the mark (N, 3) and unit vectors toward the light (N, 3), N at most n_rays.
    """
    draw = None if sun_directions is None else _from_disk(sun_directions, disk_deg, rng)
    found = list(_drawn(scene, scene.mark(mark), opening, draw, n_rays, draws_per_ray, rng))
    points = np.concatenate([one for _, one, _ in found])
    return points, np.concatenate([one for _, _, one in found])


def passes_flag(
    points: Floats,
    directions: Floats,
    centre: npt.ArrayLike,
    across: npt.ArrayLike,
    up: npt.ArrayLike,
    size_m: tuple[float, float],
    *,
    slack_m: float = 1e-7,
) -> Floats:
    """How far beyond a flag's edge rays (N) pass, metres, 0 when it stops them."""
    return _Flag.of(centre, across, up, size_m, slack_m).beyond(points, directions)


@dataclass(frozen=True)
class _Flag:
    centre: Floats
    across: Floats
    up: Floats
    half: tuple[float, float]

    @staticmethod
    def of(
        centre: npt.ArrayLike,
        across: npt.ArrayLike,
        up: npt.ArrayLike,
        size_m: tuple[float, float],
        slack_m: float,
    ) -> _Flag:
        a, b = np.asarray(across, float), np.asarray(up, float)
        lengths = np.array([np.linalg.norm(a), np.linalg.norm(b)])
        if np.abs(lengths - 1.0).max() > 1e-6 or abs(float(a @ b)) > 1e-6:
            raise ValueError("across and up must be unit vectors at right angles")
        half = 0.5 * size_m[0] + slack_m, 0.5 * size_m[1] + slack_m
        return _Flag(np.asarray(centre, float), a, b, half)

    def beyond(self, points: Floats, directions: Floats) -> Floats:
        """How far (N,) beyond the flag's edge each ray passes: 0 when it is stopped, metres."""
        normal = np.cross(self.across, self.up)
        slope = directions @ normal
        along = np.abs(slope) > 1e-12
        t = ((self.centre - points) @ normal) / np.where(along, slope, 1.0)
        rel = points + t[:, None] * directions - self.centre
        off = np.maximum(
            np.abs(rel @ self.across) - self.half[0], np.abs(rel @ self.up) - self.half[1]
        )
        return np.where(along & (t > 0.0), np.maximum(off, 0.0), np.inf)


def _on_disk(middle: Floats, disk_deg: float, rng: np.random.Generator) -> Floats:
    """Unit vectors (N, 3) to random places of disks around (N, 3); half lie on the rim."""
    middle = middle / np.linalg.norm(middle, axis=1, keepdims=True)
    helper = np.where(np.abs(middle[:, 2:]) < 0.9, [[0.0, 0.0, 1.0]], [[1.0, 0.0, 0.0]])
    e1 = np.cross(middle, helper)
    e1 /= np.linalg.norm(e1, axis=1, keepdims=True)
    e2 = np.cross(middle, e1)
    share = np.sqrt(rng.uniform(size=len(middle)))
    share = np.where(rng.uniform(size=len(middle)) < 0.5, 1.0, share)
    angle = share * math.radians(0.5 * disk_deg)
    turn = rng.uniform(0.0, 2.0 * np.pi, len(middle))
    sideways = np.cos(turn)[:, None] * e1 + np.sin(turn)[:, None] * e2
    to: Floats = np.cos(angle)[:, None] * middle + np.sin(angle)[:, None] * sideways
    return to


def _on_rectangle(corners: Floats, count: int, rng: np.random.Generator) -> Floats:
    """Random points (count, 3) of a parallelogram with corners (4, 3); half lie near its rim."""
    place = rng.uniform(size=(count, 2))
    near = 10.0 ** rng.uniform(-5.0, -1.0, count)
    near = np.where(rng.uniform(size=count) < 0.5, near, 1.0 - near)
    axis = rng.integers(0, 2, count)
    rim = rng.uniform(size=count) < 0.5
    place[np.flatnonzero(rim), axis[rim]] = near[rim]
    edge_u, edge_v = corners[1] - corners[0], corners[3] - corners[0]
    points: Floats = corners[0] + place[:, :1] * edge_u + place[:, 1:] * edge_v
    return points


def _drawn(
    scene: Scene,
    mark: Mark,
    opening: int,
    draw: Callable[[int], Floats] | None,
    n_rays: int,
    draws_per_ray: int,
    rng: np.random.Generator,
    *,
    source: Literal["glass", "hole"] = "glass",
) -> Iterator[tuple[int, Floats, Floats]]:
    """Batches of rays that count: how many were drawn, points (N, 3), directions (N, 3)."""
    o = scene.openings[opening]
    counted = drawn = 0
    batch = max(1000, min(2 * n_rays, 20000))
    while counted < n_rays and drawn < draws_per_ray * n_rays:
        drawn += batch
        points = mark.random_points(batch, rng)
        if draw is not None:
            directions = draw(batch)
            aimed = rng.uniform(size=batch) < 0.5
            hole = _on_rectangle(o.aperture, batch, rng)
            near, far = mark.chord(hole, directions)
            far = np.minimum(far, -10.0 * START_M)
            share = rng.uniform(size=batch)
            end = rng.uniform(size=batch)
            share = np.where(end < 0.33, 1e-9, np.where(end < 0.66, 1.0 - 1e-9, share))
            met = aimed & (far > near)
            with np.errstate(invalid="ignore"):  # rays that miss the mark have no ends
                at = near + share * (far - near)
            points[met] = hole[met] + at[met, None] * directions[met]
            good = scene.through(points, directions) == opening
        else:
            target = _on_rectangle(o.glass if source == "glass" else o.aperture, batch, rng)
            directions = target - points
            reach = np.linalg.norm(directions, axis=1)
            directions /= reach[:, None]
            if source == "glass":
                good = scene.leaves(points, directions) == opening
            else:
                rows = np.flatnonzero(scene.inside(points))
                _, tag = scene._shell.nearest(points[rows], directions[rows], np.zeros(len(rows)))
                good = np.zeros(batch, bool)
                good[rows] = tag == opening
        rows = np.flatnonzero(good)[: n_rays - counted]
        counted += len(rows)
        yield batch, points[rows], directions[rows]


def _flag_check(
    scene: Scene,
    mark: Mark,
    opening: int,
    flag: _Flag,
    draw: Callable[[int], Floats] | None,
    n_rays: int,
    draws_per_ray: int,
    rng: np.random.Generator,
    *,
    source: Literal["glass", "hole"] = "glass",
) -> FlagCheck:
    counted = missed = drawn = 0
    worst = 0.0
    for batch, points, directions in _drawn(
        scene, mark, opening, draw, n_rays, draws_per_ray, rng, source=source
    ):
        off = flag.beyond(points, directions)
        drawn += batch
        counted += len(points)
        missed += int(np.count_nonzero(off > 0.0))
        worst = max(worst, float(off.max(initial=0.0)))
    return FlagCheck(counted, missed, worst, drawn)


# --------------------------------------------------------------------------------------------
# random cases


def aimed_suns(scene: Scene, opening: int, count: int, rng: np.random.Generator) -> Floats:
    """Sun vectors (K, 3), K <= count, of rays from random points of the room to the opening.

    All are above the horizon. A good half of them light something through the opening.
    """
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    points = np.column_stack(
        [
            rng.uniform(low[0], high[0], count),
            rng.uniform(low[1], high[1], count),
            scene.floor_m + scene.height_m * rng.uniform(0.0, 1.0, count) ** 2,
        ]
    )
    toward = _on_rectangle(scene.openings[opening].aperture, count, rng) - points
    toward /= np.linalg.norm(toward, axis=1, keepdims=True)
    keep = scene.inside(points) & (toward[:, 2] > 1e-3)
    return toward[keep & (toward @ scene.openings[opening].plane.normal > 1e-3)]


def _random_outline(rng: np.random.Generator) -> Floats:
    """A counter-clockwise outline (3 to 8, 2), metres: convex, skewed, L- or U-shaped."""
    kind = rng.choice(["box", "triangle", "quad", "convex", "L", "U", "skewed"])
    w, d = rng.uniform(2.5, 7.0, 2)
    box = np.array([[0.0, 0.0], [w, 0.0], [w, d], [0.0, d]])
    if kind == "box":
        outline = box
    elif kind == "triangle":
        outline = np.array([[0.0, 0.0], [w + 1.0, 0.0], [rng.uniform(-0.3, 1.2) * w, d + 1.0]])
    elif kind == "quad":
        outline = box + rng.uniform(-0.6, 0.6, (4, 2))
    elif kind == "convex":
        n = int(rng.integers(5, 9))
        angle = 2.0 * np.pi * (np.arange(n) + rng.uniform(-0.3, 0.3, n)) / n
        outline = np.column_stack([0.7 * w * np.cos(angle), 0.7 * d * np.sin(angle)])
    else:
        w, d = w + 1.5, d + 1.5
        a, b = rng.uniform(0.3, 0.65) * w, rng.uniform(0.3, 0.65) * d
        ell = np.array([[0, 0], [w, 0], [w, b], [a, b], [a, d], [0, d]])
        p, q = rng.uniform(0.25, 0.4) * w, rng.uniform(0.6, 0.75) * w
        you = np.array([[0, 0], [w, 0], [w, d], [q, d], [q, b], [p, b], [p, d], [0, d]])
        if kind == "skewed":
            outline = ell if rng.uniform() < 0.5 else you
            outline = outline + rng.uniform(-0.35, 0.35, outline.shape)
            outline[:, 0] += rng.uniform(-0.4, 0.4) * outline[:, 1]
        else:
            outline = ell if kind == "L" else you
    if rng.uniform() < 0.6:
        turn = rng.uniform(0.0, 2.0 * np.pi)
        c, s = np.cos(turn), np.sin(turn)
        outline = outline @ np.array([[c, s], [-s, c]])
    outline = outline + rng.uniform(-5.0, 5.0, 2)
    return np.round(np.roll(outline, rng.integers(0, len(outline)), axis=0), 3)


def _good_outline(outline: Floats) -> bool:
    polygon = shapely.Polygon(outline)
    edges = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1)
    ok = polygon.is_valid and polygon.exterior.is_ccw and edges.min() > 0.6
    return bool(ok and polygon.buffer(-0.45).area > 0.3)


def _round(value: float, digits: int = 3) -> float:
    return round(float(value), digits)


def _random_windows(
    outline: Floats, height: float, count: int, rng: np.random.Generator
) -> tuple[list[dict[str, Any]], shapely.Geometry]:
    """Windows that keep the rules, and the room's plan with their reveals."""
    room = shapely.Polygon(outline)
    windows: list[dict[str, Any]] = []
    reveals: list[shapely.Polygon] = []
    for _ in range(200):
        if len(windows) == count:
            break
        wall = int(rng.integers(0, len(outline)))
        start, end = outline[wall], outline[(wall + 1) % len(outline)]
        length = float(np.linalg.norm(end - start))
        if length < 0.6:
            continue
        w = _round(rng.uniform(0.2, min(2.5, length - 0.2)))
        along = _round(rng.uniform(0.05, length - w - 0.05))
        sill = _round(rng.choice([0.05, rng.uniform(0.05, 1.4)]))
        h = _round(rng.uniform(0.3, height - sill - 0.05))
        depth = _round(rng.uniform(0.05, 0.5))
        u = (end - start) / length
        out = depth * np.array([u[1], -u[0]])
        near, far = start + along * u, start + (along + w) * u
        reveal = shapely.Polygon([near, far, far + out, near + out])
        if room.intersection(reveal).area > 1e-7:
            continue
        if any(reveal.distance(other) < 0.02 for other in reveals):
            continue
        reveals.append(reveal)
        window: dict[str, Any] = {
            "name": f"window {len(windows) + 1}",
            "wall": chr(ord("A") + wall),
            "along": along,
            "sill": sill,
            "size": [w, h],
            "depth": depth,
        }
        if rng.uniform() < 0.5:
            window["glass"] = "double clear"
        else:
            window["transmittance"] = _round(rng.uniform(0.4, 0.9), 2)
        windows.append(window)
    return windows, shapely.union_all([room, *reveals])


def _random_skylights(
    outline: Floats, count: int, plan_up_deg: float, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Skylights and roof windows that keep the rules: level or pitched, square or turned."""
    free = shapely.Polygon(outline).buffer(-0.05)
    low, high = outline.min(axis=0), outline.max(axis=0)
    lights: list[dict[str, Any]] = []
    for _ in range(200):
        if len(lights) == count:
            break
        w, h = (_round(x) for x in rng.uniform(0.3, 1.2, 2))
        at = [_round(x) for x in rng.uniform(low, high)]
        turn = _round(rng.uniform(-90.0, 90.0), 1) if rng.uniform() < 0.6 else 0.0
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        local = 0.5 * np.array([[-w, -h], [w, -h], [w, h], [-w, h]])
        corners = local @ np.array([[c, s], [-s, c]]) + at
        hole = shapely.Polygon(corners)
        if not free.contains(hole):
            continue
        light: dict[str, Any] = {
            "name": f"skylight {len(lights) + 1}",
            "ceiling": True,
            "at": at,
            "size": [w, h],
            "turn": turn,
            "glass": "acrylic dome",
        }
        depth = float(rng.uniform(0.05, 0.8))
        if rng.uniform() < 0.5:
            pitch, faces = _round(rng.uniform(5.0, 50.0), 1), _round(rng.uniform(0.0, 359.9), 1)
            down = math.radians(faces - plan_up_deg)
            reach = float(np.max((corners - at) @ [math.sin(down), math.cos(down)]))
            depth = max(depth, reach * math.tan(math.radians(pitch)) + 0.02)
            light |= {"pitch": pitch, "faces": faces}
        light["depth"] = _round(depth + 0.0005)
        lights.append(light)
        free = free.difference(hole.buffer(0.05))
    return lights


def _random_blocks(
    plan: shapely.Geometry, count: int, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Blocks that stand clear of the room and its reveals in plan."""
    middle = np.array([plan.centroid.x, plan.centroid.y])
    blocks: list[dict[str, Any]] = []
    for _ in range(200):
        if len(blocks) == count:
            break
        near = rng.uniform() < 0.4
        w, d = rng.uniform(0.2, 4.0, 2) if near else rng.uniform(2.0, 18.0, 2)
        away = rng.uniform(2.0, 9.0) if near else rng.uniform(8.0, 35.0)
        angle = rng.uniform(0.0, 2.0 * np.pi)
        at = middle + away * np.array([np.cos(angle), np.sin(angle)])
        floating = near and rng.uniform() < 0.6
        block: dict[str, Any] = {
            "name": f"block {len(blocks) + 1}",
            "at": [_round(at[0]), _round(at[1])],
            "size": [_round(w), _round(d), _round(0.3 if floating else rng.uniform(2.0, 15.0))],
            "base": _round(rng.uniform(1.5, 8.0)) if floating else 0,
            "turn": _round(rng.uniform(-180.0, 180.0), 1) if rng.uniform() < 0.7 else 0,
            "reflectance": _round(rng.uniform(0.05, 0.7), 2),
        }
        mesh = _block(block)
        foot = shapely.MultiPoint(np.asarray(mesh.vertices)[:, :2]).convex_hull
        if foot.distance(plan) > 0.02:
            blocks.append(block)
    return blocks


def _random_inside(
    area: shapely.Geometry, rng: np.random.Generator, tries: int = 200
) -> list[float] | None:
    """A random point of an area, metres, rounded to the millimetre; None if none was found."""
    if area.is_empty:
        return None
    low_x, low_y, high_x, high_y = area.bounds
    for _ in range(tries):
        x, y = _round(rng.uniform(low_x, high_x)), _round(rng.uniform(low_y, high_y))
        if area.contains(shapely.Point(x, y)):
            return [x, y]
    return None


def random_location(rng: np.random.Generator) -> Location:
    """A random valid location of one room named "room", as a parsed location file, metres.

    3 to 8 walls (convex, skewed, L, U), 1 to 3 windows, 0 to 2 skylights (level, turned,
    pitched), 1 to 3 marks, 0 to 3 outside blocks, sometimes skylines, one setup with its camera
    in the room; latitude -65 to 65, any plan_up.
    """
    while True:
        found = _try_location(rng)
        if found is not None:
            return found


def _try_location(rng: np.random.Generator) -> Location | None:
    outline = _random_outline(rng)
    if not _good_outline(outline):
        return None
    height = _round(rng.uniform(2.2, 4.0), 2)
    plan_up = _round(rng.uniform(0.0, 359.9), 1)
    windows, plan = _random_windows(outline, height, int(rng.integers(1, 4)), rng)
    if not windows:
        return None
    openings = windows + _random_skylights(outline, int(rng.integers(0, 3)), plan_up, rng)
    polygon = shapely.Polygon(outline)
    marks: list[dict[str, Any]] = []
    for _ in range(int(rng.integers(1, 4))):
        width = _round(rng.uniform(0.3, 0.8), 2)
        spot = _random_inside(polygon.buffer(-0.5 * width - 0.02), rng)
        if spot is None:
            continue
        low = _round(rng.uniform(0.0, 1.4), 2)
        high = _round(rng.uniform(low + 0.2, min(low + 1.0, height - 0.1)), 2)
        name = f"mark {len(marks) + 1}"
        marks.append({"name": name, "at": spot, "height": [low, high], "width": width})
    if not marks:
        return None
    star = marks[int(rng.integers(0, len(marks)))]
    clear = polygon.buffer(-0.15).difference(
        shapely.Point(star["at"]).buffer(0.5 * star["width"] + 0.5)
    )
    camera = _random_inside(clear, rng)
    if camera is None:
        return None
    longitude = _round(rng.uniform(-179.0, 179.0), 4)
    hours = round(longitude / 15.0)
    place: dict[str, Any] = {
        "name": "a random place",
        "latitude": _round(rng.uniform(-65.0, 65.0), 4),
        "longitude": longitude,
        "timezone": "Etc/GMT" if hours == 0 else f"Etc/GMT{-hours:+d}",
        "elevation": _round(rng.uniform(0.0, 800.0), 0),
        "units": "m",
        "plan_up": plan_up,
        "plan_up_error": _round(rng.choice([0.0, rng.uniform(0.0, 5.0)]), 1),
        "ground_reflectance": 0.2,
    }
    location: Location = {"location": place}
    blocks = _random_blocks(plan, int(rng.integers(0, 4)), rng)
    if blocks:
        location["outside"] = blocks
    if rng.uniform() < 0.35:
        bearings = np.unique(np.round(rng.uniform(0.0, 360.0, int(rng.integers(2, 7))), 1))
        points = [[_round(b, 1), _round(rng.uniform(0.0, 15.0), 1)] for b in bearings if b < 360]
        if len(points) >= 2:
            location["skyline"] = [{"points": points}]
    location["room"] = [
        {
            "name": "room",
            "outline": outline.tolist(),
            "floor": _round(rng.choice([0.0, rng.uniform(0.0, 9.0)]), 2),
            "height": height,
            "reflectance": {"floor": 0.3, "walls": 0.7, "ceiling": 0.8},
            "opening": openings,
            "mark": marks,
        }
    ]
    location["setup"] = [
        {
            "name": "the setup",
            "room": "room",
            "mark": star["name"],
            "camera": {
                "at": camera,
                "height": _round(rng.uniform(0.8, 1.8), 2),
                "toward": star["name"],
                "view": [40, 23],
            },
            "exposure": {"iso": 800, "stop": 2.8, "fps": 24, "shutter": 180, "balance": 3200},
            "plays": str(rng.choice(["day", "dusk", "evening", "night"])),
            "minutes": int(rng.integers(10, 91)),
            "contrast": 4,
        }
    ]
    return location


def _toml_value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{k} = {_toml_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml_value(v) for v in value) + "]"
    return repr(value)


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)


def _toml_table(table: Mapping[str, Any], path: str) -> list[str]:
    lines = [f"{k} = {_toml_value(v)}" for k, v in table.items() if not _is_tables(v)]
    for key, rows in table.items():
        if _is_tables(rows):
            for row in rows:
                lines += ["", f"[[{path}.{key}]]", *_toml_table(row, f"{path}.{key}")]
    return lines


def location_toml(location: Location) -> str:
    """Text of a location file; reading it back with tomllib gives the same dictionary."""
    lines: list[str] = []
    for key, value in location.items():
        if _is_tables(value):
            for row in value:
                lines += ["", f"[[{key}]]", *_toml_table(row, key)]
        else:
            lines += ["", f"[{key}]", *_toml_table(value, key)]
    return "\n".join(lines).lstrip() + "\n"


def write_location(location: Location, path: Path) -> None:
    """Write a location file (TOML, UTF-8)."""
    path.write_text(location_toml(location), encoding="utf-8")


def read_location(path: Path) -> Location:
    """Read a location file into the dictionary that Scene takes."""
    return tomllib.loads(path.read_text(encoding="utf-8"))
