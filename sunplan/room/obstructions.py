"""What stands outside: blocks as upright convex prisms, and the far skyline."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

from ..location.geometry import block_corners
from ..location.model import Outside, Room, Skyline
from ..sun.position import Directions, Floats
from ..sun.search import Bools, Indices
from .aperture import Aperture

TOUCH_M = 1e-9


@dataclass(frozen=True, eq=False)
class Prism:
    """An upright convex prism: plan corners (E, 2) counter-clockwise, from `low` to `high`, metres.

    Examples
    --------
    Rays along x and along y, from a point west of a cube:

    >>> cube = Prism(np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]]), 0.0, 1.0, reflectance=0.3)
    >>> start = np.array([[[-2.0, 0.5, 0.5]]])
    >>> ways = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    >>> cube.obstructs(start, ways)[:, 0]
    array([ True, False])
    >>> [float(length[0, 0]) for length in cube.crossings(start, ways[:1])[:2]]
    [2.0, 3.0]
    """

    corners: Floats
    low: float
    high: float
    reflectance: float

    @cached_property
    def faces(self) -> tuple[Floats, Floats]:
        """Unit normals outward (F, 3) and the planes' distances from the origin (F,), metres."""
        edges = np.roll(self.corners, -1, axis=0) - self.corners
        sides = np.stack((edges[:, 1], -edges[:, 0], np.zeros(len(edges))), axis=-1)
        sides /= np.linalg.norm(sides, axis=1, keepdims=True)
        reach = np.einsum("fk,fk->f", sides[:, :2], self.corners)
        normals = np.concatenate((sides, [[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]))
        return normals, np.concatenate((reach, [self.high, -self.low]))

    @cached_property
    def _round(self) -> tuple[Floats, float]:
        """Middle and radius of a circle round its plan."""
        middle = self.corners.mean(axis=0)
        return middle, float(np.linalg.norm(self.corners - middle, axis=1).max())

    def may_meet(self, points: Floats, way: Floats) -> Bools:
        """False where rays from points (N, 3) along vectors (N, 3) surely miss it, (N,).

        Seen on the plan; True proves nothing.
        """
        middle, radius = self._round
        off = middle - points[:, :2]
        flat = (way[:, :2] ** 2).sum(axis=1)
        ahead = (off * way[:, :2]).sum(axis=1)
        beside = off[:, 0] * way[:, 1] - off[:, 1] * way[:, 0]
        reach = radius**2 * flat
        near: Bools = (beside**2 <= reach) & ((ahead > 0) | (ahead**2 <= reach))
        near |= (off**2).sum(axis=1) <= radius**2
        return near

    def crossings(self, points: Floats, way: Floats) -> tuple[Floats, Floats, Indices]:
        """Where rays enter and leave the prism.

        Parameters
        ----------
        points : their starts, (N, P, 3), or (1, P, 3) for all.
        way : vectors along them, (N, 3), or (1, 3) for all.

        Returns
        -------
        Lengths along the ray to where it enters and leaves, in lengths of its vector, and the index
        of the face (`faces`) by which it enters, each (N, P). It misses where it leaves before it
        enters, or behind its start.
        """
        shape = max(len(points), len(way)), points.shape[1]
        enter, leave = np.full(shape, -np.inf), np.full(shape, np.inf)
        by = np.zeros(shape, dtype=np.intp)
        with np.errstate(divide="ignore", invalid="ignore"):
            for face, (normal, limit) in enumerate(zip(*self.faces, strict=True)):
                room, rate = limit - points @ normal, (way @ normal)[:, None]
                length, out, into = room / rate, rate > 0, rate < 0
                if out.any():
                    np.minimum(leave, length, out=leave, where=out)
                if into.any():
                    later = into & (length > enter)
                    np.copyto(enter, length, where=later)
                    np.copyto(by, face, where=later)
                if not (out | into).all():
                    leave[~(out | into) & (room < 0)] = -np.inf
        return enter, leave, by

    def obstructs(self, points: Floats, sun: Floats) -> Bools:
        """Whether rays meet the prism: points and vectors as of `crossings`, (N, P)."""
        enter, leave, _ = self.crossings(points, sun)
        return leave > np.maximum(enter, 0.0) + TOUCH_M

    def part_before(self, aperture: Aperture) -> Floats:
        """Corners of the part that lies before an aperture's inner plane, (K, 3), metres.

        K is 0 where all of it lies behind. In no order.
        """
        foot, top = (np.insert(self.corners, 2, z, axis=1) for z in (self.low, self.high))
        starts = np.concatenate((foot, top, foot))
        ends = np.concatenate((np.roll(foot, -1, axis=0), np.roll(top, -1, axis=0), top))
        out, out_end = ((points - aperture.origin) @ aperture.outward for points in (starts, ends))
        if not (out > TOUCH_M).any():
            return np.empty((0, 3))
        cut = (out < 0) != (out_end < 0)
        share = out[cut] / (out - out_end)[cut]
        met = starts[cut] + share[:, None] * (ends - starts)[cut]
        corners = np.concatenate((foot, top))
        return np.concatenate((corners[out[: len(corners)] >= 0], met))


def block_prism(outside: Outside) -> Prism:
    """The prism of a block of the location file, plan metres, z above ground."""
    return Prism(
        corners=np.array(block_corners(outside)),
        low=outside.base,
        high=outside.base + outside.size[2],
        reflectance=outside.reflectance,
    )


def self_shading_prisms(room: Room) -> list[Prism]:
    """A non-convex room as convex prisms: its one arm shades the windows of the other.

    Empty for a convex room, which cannot stand in its own light.
    """
    pieces = room_prisms(room)
    return pieces if len(pieces) > 1 else []


def room_prisms(room: Room) -> list[Prism]:
    """A room as convex prisms, as it stands in the way of light outdoors; its walls are thin.

    One of a convex room, else the triangles of its outline.
    """
    outline = Polygon(room.outline)
    convex = outline.convex_hull.area - outline.area < TOUCH_M
    pieces = [outline] if convex else shapely.constrained_delaunay_triangles(outline).geoms
    return [
        Prism(
            corners=np.array(shapely.orient_polygons(piece).exterior.coords[:-1]),
            low=room.floor,
            high=room.floor + room.height,
            reflectance=room.reflectance.walls,
        )
        for piece in pieces
        if piece.area > TOUCH_M
    ]


@dataclass(frozen=True, eq=False)
class Obstruction:
    """A prism as one aperture sees it.

    `corners` (K, 3), metres, is the part before the aperture, `steepest` the tangent of the
    altitude above which the prism cannot stand in the sun's way. On the plan it spans the
    directions whose cosine with `middle` (2,) is `cosine` at least.
    """

    prism: Prism
    corners: Floats
    steepest: float
    middle: Floats
    cosine: float

    def may_shade(self, sun: Floats) -> Bools:
        """False where the sun (N, 3) surely stands above the prism or beside it, (N,)."""
        flat = np.hypot(sun[:, 0], sun[:, 1])
        shades: Bools = sun[:, 2] <= self.steepest * flat
        return shades & (sun[:, :2] @ self.middle >= self.cosine * flat)

    def shadows(self, aperture: Aperture, sun: Floats) -> Floats:
        """Where the corners' shadows fall on an aperture's plane.

        Parameters
        ----------
        aperture : the one this is an obstruction of.
        sun : unit vectors (N, 3) from before the aperture.

        Returns
        -------
        Points of its inner plane, (N, K, 2), metres: their convex hull is the shadow.
        """
        out = sun @ aperture.outward
        ahead = (self.corners - aperture.origin) @ aperture.outward
        foot = self.corners - (ahead / out[:, None])[..., None] * sun[:, None]
        off = foot - aperture.origin
        return np.stack((off @ aperture.across, off @ aperture.up), axis=-1)


def obstructions_of(aperture: Aperture, prisms: Iterable[Prism]) -> list[Obstruction]:
    """The prisms that can stand between an aperture and the sun: before it, and above its foot.

    Of two blocks one lies wholly beside the window's wall:

    >>> from sunplan import read
    >>> from sunplan.room.beam import beam_of
    >>> location = read("locations/gate-house.toml")
    >>> window = beam_of(location, location.room[0]).apertures[0]
    >>> prisms = [block_prism(block) for block in location.outside]
    >>> len(prisms), len(obstructions_of(window, prisms))
    (2, 1)
    """
    face = aperture.world(aperture.rectangle)
    hole = shapely.MultiPoint(face[:, :2]).convex_hull
    obstructions = []
    for prism in prisms:
        corners = prism.part_before(aperture)
        rise = prism.high - float(face[:, 2].min())
        if not len(corners) or rise <= 0:
            continue
        distance = shapely.distance(hole, shapely.MultiPoint(corners[:, :2]).convex_hull)
        steepest = rise / distance if distance > TOUCH_M else math.inf
        middle, cosine = np.zeros(2), -1.0
        if distance > TOUCH_M:
            ways = (corners[:, None, :2] - face[None, :, :2]).reshape(-1, 2)
            mean = ways.mean(axis=0)
            across = ways @ np.array([-mean[1], mean[0]])
            offs = np.arctan2(across, ways @ mean)
            turn = (offs.min() + offs.max()) / 2 + math.atan2(mean[1], mean[0])
            middle = np.array([math.cos(turn), math.sin(turn)])
            cosine = math.cos(np.ptp(offs) / 2) - TOUCH_M
        obstructions.append(Obstruction(prism, corners, steepest, middle, cosine))
    return obstructions


def skyline_altitude_deg(skylines: Iterable[Skyline], bearing_deg: Floats) -> Floats:
    """Altitude of the far horizon, degrees: 0 where no line is given, the highest of several.

    Parameters
    ----------
    skylines : straight lines between bearings and altitudes, clockwise.
    bearing_deg : true bearings (N,).

    Returns
    -------
    Shape (N,).

    Examples
    --------
    >>> line = Skyline(points=((350.0, 2.0), (10.0, 4.0)))
    >>> skyline_altitude_deg([line], np.array([0.0, 5.0, 20.0]))
    array([3. , 3.5, 0. ])
    """
    altitude = np.zeros(len(bearing_deg))
    for skyline in skylines:
        bearings = np.array([bearing for bearing, _ in skyline.points])
        turned = np.concatenate(([0.0], np.cumsum(np.diff(bearings) % 360.0)))
        beyond = (bearing_deg - bearings[0]) % 360.0
        height = np.interp(beyond, turned, [up for _, up in skyline.points])
        altitude = np.maximum(altitude, np.where(beyond <= turned[-1], height, 0.0))
    return altitude


def above_skyline(skylines: Iterable[Skyline], directions: Directions) -> Bools:
    """Whether the sun's centre, apparent, stands above the level and the far horizon, (T,).

    >>> low = Directions(np.zeros(2), np.array([3.0, -1.0]), np.array([[0.0, 1, 0], [1, 0, 0]]))
    >>> above_skyline([], low), above_skyline([Skyline(points=((350, 5.0), (10, 5.0)))], low)
    (array([ True, False]), array([False, False]))
    """
    seen = directions.altitude_deg > 0.0
    if not skylines:
        return seen
    return seen & (directions.altitude_deg > skyline_altitude_deg(skylines, directions.bearing_deg))
