"""A setup's camera as a pinhole: what stands in its frame."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from ..location.model import Room, Setup
from ..sun.position import Floats
from ..sun.search import Bools
from . import convex, sight_lines
from .aperture import Aperture

OFF_M = 1e-3  # before a surface
HAIR = 1e-7  # radians beside a corner
NEAR_M = 1e-6  # what is closer before the lens is behind it


@dataclass(frozen=True, eq=False)
class CameraView:
    """A camera: its place (3,) above ground in the plan frame, and its frame's axes.

    `forward`, `right` and `up` are unit vectors (3,); `half_tangents` (2,) are the tangents of half
    the angles of view, across and up.

    Examples
    --------
    A camera at the origin that looks along y and sees 45° to each side:

    >>> camera = pinhole(np.zeros(3), np.array([0.0, 1.0, 0.0]), (90.0, 60.0))
    >>> points = np.array([[1.0, 2.0, 0.0], [3.0, 2.0, 0.0], [0.0, -2.0, 0.0]])
    >>> camera.in_frame(points)
    array([ True, False, False])
    >>> camera.project(points[:2]).round(2)
    array([[0.5, 0. ],
           [1.5, 0. ]])
    """

    position: Floats
    forward: Floats
    right: Floats
    up: Floats
    half_tangents: Floats

    def project(self, points: Floats) -> Floats:
        """Points (N, 3), metres, before the lens on the frame, (N, 2): its edges are −1 and 1."""
        off = points - self.position
        across = np.stack((off @ self.right, off @ self.up), axis=-1)
        framed: Floats = across / (off @ self.forward)[:, None] / self.half_tangents
        return framed

    def seen_part(self, corners: Floats) -> Polygon:
        """What of a flat convex shape falls on the frame; walls between are not asked about.

        Parameters
        ----------
        corners : in order, (K, 3), plan frame, metres.

        Returns
        -------
        On the frame as of `project`; empty where it falls beside, or only an edge on it.
        """
        if self.surely_misses(corners - corners[0], corners[:1])[0]:
            return Polygon()
        nearest = np.array([-NEAR_M - self.position @ self.forward])
        (ahead,) = convex.clip(corners[None], -self.forward[None], nearest)
        if np.isnan(ahead).any():
            return Polygon()
        shape = shapely.MultiPoint(self.project(ahead)).convex_hull
        part = shape.intersection(shapely.box(-1.0, -1.0, 1.0, 1.0))
        return part if part.geom_type == "Polygon" else Polygon()

    def surely_misses(self, corners: Floats, centres: Floats) -> Bools:
        """Whether a flat shape surely misses the frame at each of many places.

        Parameters
        ----------
        corners : of the shape about its middle, (K, 3), metres.
        centres : places of the middle, (N, 3), plan frame, metres.

        Returns
        -------
        Shape (N,). False proves nothing.
        """
        off = centres[:, None] + corners - self.position
        ahead = off @ self.forward
        misses: Bools = np.asarray((ahead <= NEAR_M).all(axis=1))
        for side, half in ((self.right, self.half_tangents[0]), (self.up, self.half_tangents[1])):
            over = off @ side
            misses |= (over > half * ahead).all(axis=1) | (over < -half * ahead).all(axis=1)
        return misses

    def shows(self, corners: Floats) -> bool:
        """Whether any of a flat convex shape, corners (K, 3) in metres, falls on the frame."""
        return not self.seen_part(corners).is_empty

    def in_frame(self, points: Floats) -> Bools:
        """Whether points (N, 3), metres, fall on the frame, (N,)."""
        before = (points - self.position) @ self.forward > NEAR_M
        before[before] = (np.abs(self.project(points[before])) <= 1.0).all(axis=1)
        return before


def aim_point(room: Room, setup: Setup) -> tuple[float, float, float]:
    """The point that a setup's camera looks at: x, y on the plan and height above the floor, m.

    The face of a mark, the middle of an opening or a practical; a point [x, y] at the lens's
    height.

    Raises
    ------
    StopIteration : for a name that the room does not have, which no file that was read has.

    Examples
    --------
    >>> from sunplan import read
    >>> location = read("locations/lock-house.toml")
    >>> aim_point(location.room_named("kitchen"), location.setup[1])
    (1.4, 0.0, 1.5)
    """
    toward = setup.camera.toward
    if not isinstance(toward, str):
        return (toward[0], toward[1], toward[2] if len(toward) == 3 else setup.camera.height)
    for mark in room.mark:
        if mark.name == toward:
            return (*mark.at, mark.face_height_m)
    for practical in room.practical:
        if practical.name == toward:
            return (*practical.at, practical.height)
    return room.middle(room.opening_named(toward))


def camera_view(room: Room, setup: Setup) -> CameraView:
    """A setup's camera in its room, not rolled, tilted toward what it looks at.

    >>> from sunplan import read
    >>> location = read("locations/lock-house.toml")
    >>> camera = camera_view(location.room_named("kitchen"), location.setup[1])
    >>> camera.position, camera.forward.round(3)
    (array([2.5, 4.5, 1.3]), array([-0.237, -0.97 ,  0.043]))
    """
    lens = np.array([*setup.camera.at, room.floor + setup.camera.height])
    x, y, height = aim_point(room, setup)
    target = np.array([x, y, room.floor + height])
    return pinhole(lens, (target - lens) / math.dist(target, lens), setup.camera.view_deg)


def pinhole(position: Floats, forward: Floats, view_deg: tuple[float, float]) -> CameraView:
    """A camera that is not rolled.

    Parameters
    ----------
    position : of its lens, (3,), plan frame, metres.
    forward : unit vector (3,) along which it looks, not straight up or down.
    view_deg : its angles of view, across and up, each below 180.
    """
    right = np.array([forward[1], -forward[0], 0.0]) / math.hypot(forward[0], forward[1])
    half = np.tan(np.radians(view_deg) / 2)
    return CameraView(
        position=position,
        forward=forward,
        right=right,
        up=np.cross(right, forward),
        half_tangents=half,
    )


def filmed_points(camera: CameraView, room: Room, grid: tuple[int, int]) -> Floats:
    """Spots of floor, walls and ceiling that a camera in the room sees, even over its frame.

    Parameters
    ----------
    camera, room : the lens stands inside the room's outline.
    grid : how many across and up.

    Returns
    -------
    Points (N, 3), plan frame, metres, a millimetre before the surface.
    """
    columns, rows = grid
    a, b = np.meshgrid(
        (np.arange(columns) + 0.5) / columns * 2.0 - 1.0, (np.arange(rows) + 0.5) / rows * 2.0 - 1.0
    )
    framed = np.stack((a.ravel(), b.ravel()), axis=-1) * camera.half_tangents
    ways = camera.forward + framed[:, :1] * camera.right + framed[:, 1:] * camera.up
    levels = np.where(ways[:, 2] < 0, room.floor, room.floor + room.height)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = np.where(ways[:, 2] == 0, np.inf, (levels - camera.position[2]) / ways[:, 2])
    reach = np.minimum(reach, _to_walls(camera, np.array(room.outline), ways[:, :2]))
    # A hair before what they meet, so that it stands in nobody's way.
    spots: Floats = camera.position + (reach - OFF_M)[:, None] * ways
    return spots


def field_of_view(camera: CameraView, room: Room) -> Floats:
    """What of a room's plan a camera looks over, as far as the walls, as if it looked level.

    Parameters
    ----------
    camera, room : the lens stands inside the room's outline.

    Returns
    -------
    Corners (K, 2), plan metres: the field's rim, then the camera itself.
    """
    corners, lens = np.array(room.outline), camera.position[:2]
    ahead = math.atan2(camera.forward[1], camera.forward[0])
    half = math.atan(camera.half_tangents[0])
    off = corners - lens
    turns = (np.arctan2(off[:, 1], off[:, 0]) - ahead + math.pi) % (2 * math.pi) - math.pi
    # Past a corner the eye goes on to a wall farther off.
    beside = turns[:, None] + np.array([-HAIR, 0.0, HAIR])
    looked = np.concatenate((beside[np.abs(beside) < half], np.linspace(-half, half, 3)))
    angles = ahead + np.sort(looked)
    ways = np.stack((np.cos(angles), np.sin(angles)), axis=-1)
    rim: Floats = lens + _to_walls(camera, corners, ways)[:, None] * ways
    return np.concatenate((rim, lens[None]))


def _to_walls(camera: CameraView, corners: Floats, ways: Floats) -> Floats:
    """How far ways (N, 2) on the plan go from a camera to the first wall, in their own lengths."""
    off, along = corners - camera.position[:2], np.roll(corners, -1, axis=0) - corners
    with np.errstate(divide="ignore", invalid="ignore"):
        across = convex.cross(ways[:, None], along)
        reach = convex.cross(off, along) / across
        share = convex.cross(off, ways[:, None]) / across
    met = (reach > NEAR_M) & (share >= -HAIR) & (share <= 1.0 + HAIR)
    nearest: Floats = np.where(met, reach, np.inf).min(axis=1)
    return nearest


GRID = 12  # an opening is looked at through as many points each way


def visible(camera: CameraView, room: Room, opening: Aperture, points: Floats) -> Bools:
    """Whether points of an opening's inner face fall on the frame, no wall before them.

    Parameters
    ----------
    camera, room, opening : the opening is one of the room's.
    points : (N, 3), plan frame, metres.

    Returns
    -------
    Shape (N,).
    """
    seen = camera.in_frame(points)
    outline = np.array(room.outline)
    ends = points[seen][:, None, :2]
    seen[seen] = sight_lines.unobstructed(outline, opening.wall, camera.position[None, :2], ends)[
        :, 0
    ]
    return seen


def visible_points(camera: CameraView, room: Room, opening: Aperture) -> Floats:
    """Points (N, 3), even over an opening's inner face, that are seen in the frame; maybe none.

    Of a grid of `GRID` by `GRID`, plan frame, metres.
    """
    share = (np.arange(GRID) + 0.5) / GRID
    a, b = np.meshgrid(share * opening.width, share * opening.height)
    points = opening.world(np.stack((a.ravel(), b.ravel()), axis=-1))
    return points[visible(camera, room, opening, points)]
