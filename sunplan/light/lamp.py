"""The key lamp: how much light it gives where, bare or through a diffusion frame."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..location.kit import Frame, Kit, Lamp
from ..location.model import Mark, Room, Setup
from ..sun.position import Floats
from .factors import contour

HALF = 0.5  # a beam's angle is where its intensity falls to half: the trade's definition
BARE_M = 0.1  # across, of a lamp's own lit opening; from memory
LEAST_GAP_M = 0.4  # between a frame and the face
CELLS = 12  # each way, of a frame's lighting
CORNEA_M = 0.0078  # radius of the eye's front, a convex mirror; from memory


@dataclass(frozen=True, eq=False)
class Source:
    """A lamp at its place, aimed at a face: all points (3,) in the plan frame, above ground.

    With a frame, `exitance_lux` is what the cloth sends out and `corners` (4, 3) are its corners;
    `lamp_to_frame_m` is where it stands. Bare, both are None.
    """

    lamp: Lamp
    frame: Frame | None
    at: Floats
    aim: Floats
    corners: Floats | None
    exitance_lux: float | None
    lamp_to_frame_m: float | None

    @property
    def distance_m(self) -> float:
        """From what lights, lamp or cloth, to the face."""
        from_lamp = math.dist(self.at, self.aim)
        return from_lamp - (self.lamp_to_frame_m or 0.0)

    @property
    def size_m(self) -> float:
        """Mean width of what lights."""
        return BARE_M if self.frame is None else math.sqrt(math.prod(self.frame.size))

    @property
    def angular_deg(self) -> float:
        """How large the source is, seen from the face."""
        return math.degrees(2 * math.atan(self.size_m / 2 / self.distance_m))

    @property
    def edge_share(self) -> float:
        """Width of a shadow's soft edge by the distance from what throws it."""
        return self.size_m / self.distance_m

    @property
    def eye_mm(self) -> float:
        """Size of its reflection in an eye: the image in a convex mirror."""
        return 1000.0 * CORNEA_M / 2 * self.size_m / self.distance_m

    def lux(self, points: Floats, normals: Floats) -> Floats:
        """Illuminance of spots (P, 3) with unit normals (P, 3), nothing between, (P,)."""
        if self.corners is None or self.exitance_lux is None:
            return _bare(self.lamp, self.at, self.aim, points, normals)
        return self.exitance_lux * contour(points, normals, self.corners[None])[:, 0]


def _bare(lamp: Lamp, at: Floats, aim: Floats, points: Floats, normals: Floats) -> Floats:
    axis = (aim - at) / math.dist(aim, at)
    way = points - at
    reach = np.linalg.norm(way, axis=1)
    way = way / reach[:, None]
    # cos^m falls to half at half the beam's angle.
    power = math.log(HALF) / math.log(math.cos(math.radians(lamp.beam / 2)))
    along = np.maximum(way @ axis, 0.0)
    facing = np.maximum(-np.einsum("pk,pk->p", way, normals), 0.0)
    lit: Floats = lamp.lux_at_1m * along**power * facing / reach**2
    return lit


def source(lamp: Lamp, frame: Frame | None, at: Floats, aim: Floats) -> Source:
    """A lamp aimed at a face; a frame stands square to it where the beam just fills it."""
    if frame is None:
        return Source(lamp, None, at, aim, None, None, None)
    reach = math.dist(at, aim)
    wish = min(frame.size) / 2 / math.tan(math.radians(lamp.beam / 2))
    ahead = max(0.1, min(wish, reach - LEAST_GAP_M))
    axis = (aim - at) / reach
    middle = at + ahead * axis
    side = np.cross(axis, [0.0, 0.0, 1.0])
    side = side / max(float(np.linalg.norm(side)), 1e-9)
    up = np.cross(side, axis)
    width, height = frame.size

    def spot(a: float, b: float) -> Floats:
        place: Floats = middle + a * width * side + b * height * up
        return place

    share = (np.arange(CELLS) + 0.5) / CELLS - 0.5
    cells = np.array([spot(a, b) for a in share for b in share])
    onto = _bare(lamp, at, aim, cells, np.tile(-axis, (len(cells), 1)))
    # Counter-clockwise as the face sees it.
    corners = np.array(
        [spot(a, b) for a, b in ((-0.5, -0.5), (-0.5, 0.5), (0.5, 0.5), (0.5, -0.5))]
    )
    return Source(lamp, frame, at, aim, corners, float(onto.mean()) * 2.0**-frame.loss, ahead)


def key_source(room: Room, mark: Mark, setup: Setup, kit: Kit) -> Source | None:
    """A setup's key, None without one."""
    if setup.key is None:
        return None
    key = setup.key
    frame = None if key.frame is None else kit.frame_named(key.frame)
    return source(
        kit.lamp_named(key.lamp),
        frame,
        np.array([*key.at, room.floor + key.height]),
        face_point(room, mark),
    )


def face_point(room: Room, mark: Mark) -> Floats:
    """A mark's face, (3,) in the plan frame."""
    return np.array([*mark.at, room.floor + mark.face_height_m])
