"""The key lamp: how much light it gives where, bare or through a diffusion frame."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..location.kit import Frame, Kit, Lamp
from ..location.model import Mark, Off, Room, Setup, wall_letter
from ..sun.position import Floats
from .form_factors import form_factor
from .screen import Screen

HALF = 0.5  # a beam's angle is where its intensity falls to half: the trade's definition
BARE_M = 0.1  # across, of a lamp's own lit opening; from memory
LEAST_GAP_M = 0.4  # between a frame and the face
CELLS = 12  # each way, of a frame's lighting
CORNEA_M = 0.0078  # radius of the eye's front, a convex mirror; from memory


@dataclass(frozen=True, eq=False)
class LightSource:
    """A lamp at its place, aimed at a face: all points (3,) in the plan frame, above ground.

    Through a frame or off a board, `sheet` is what lights and `exitance_lux` what it sends out.
    Off a mirror `sheet` is that, and `at` the lamp's image behind it. Off a wall `wall` is its
    letter, and `aim` the spot on it. `first_leg_m` is from the lamp to what it is thrown on.
    """

    lamp: Lamp
    frame: Frame | None
    at: Floats
    aim: Floats
    face: Floats
    sheet: Screen | None = None
    exitance_lux: float | None = None
    wall: str | None = None
    first_leg_m: float = 0.0
    share: float = 1.0

    @property
    def distance_m(self) -> float:
        """From what lights to the face; off a mirror the whole way."""
        if self.wall is not None:
            return math.dist(self.aim, self.face)
        if self.sheet is not None and self.exitance_lux is not None:
            return math.dist(self.sheet.centre, self.face)
        return math.dist(self.at, self.face)

    @property
    def size_m(self) -> float:
        """Mean width of what lights; on a wall, of the beam's spot."""
        if self.wall is not None:
            return 2.0 * self.first_leg_m * math.tan(math.radians(self.lamp.beam / 2))
        if self.sheet is not None and self.exitance_lux is not None:
            return math.sqrt(math.prod(self.sheet.size))
        return BARE_M

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

    def illuminance_lux(self, points: Floats, normals: Floats) -> Floats:
        """Illuminance of spots (P, 3) by the source itself, nothing between, (P,)."""
        if self.sheet is not None and self.exitance_lux is not None:
            return (
                self.exitance_lux * form_factor(points, normals, self.sheet.corners()[None])[:, 0]
            )
        lit = self.share * _bare(self.lamp, self.at, self.aim, points, normals)
        if self.sheet is not None:  # only what comes by way of the mirror
            lit = lit * self.sheet.hides(self.at, points)
        return lit


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


def aimed_lamp(lamp: Lamp, frame: Frame | None, at: Floats, face: Floats) -> LightSource:
    """A lamp aimed at a face; a frame stands square to it where the beam just fills it."""
    if frame is None:
        return LightSource(lamp, None, at, face, face)
    reach = math.dist(at, face)
    wish = min(frame.size) / 2 / math.tan(math.radians(lamp.beam / 2))
    ahead = max(0.1, min(wish, reach - LEAST_GAP_M))
    axis = (face - at) / reach
    sheet = _square_to(axis, at + ahead * axis, frame.size)
    sent = _falls(lamp, at, sheet, -axis) * 2.0**-frame.loss
    return LightSource(lamp, frame, at, face, face, sheet, sent, first_leg_m=ahead)


def _square_to(axis: Floats, middle: Floats, size: tuple[float, float]) -> Screen:
    """A sheet square to an axis, level across, its lit side toward where the axis points."""
    side = np.cross([0.0, 0.0, 1.0], axis)
    side = side / max(float(np.linalg.norm(side)), 1e-9)
    return Screen(middle, side, np.cross(axis, side), size)


def _falls(lamp: Lamp, at: Floats, sheet: Screen, normal: Floats) -> float:
    """Mean illuminance of a sheet's side with this normal by a lamp aimed at its middle, lx."""
    share = (np.arange(CELLS) + 0.5) / CELLS - 0.5
    a, b = (one.ravel()[:, None] for one in np.meshgrid(share, share))
    spots = sheet.centre + a * sheet.size[0] * sheet.across + b * sheet.size[1] * sheet.up
    return float(_bare(lamp, at, sheet.centre, spots, np.tile(normal, (len(spots), 1))).mean())


def _off_sheet(lamp: Lamp, at: Floats, face: Floats, off: Off, floor_m: float) -> LightSource:
    """Off a board or mirror, turned half way between lamp and face."""
    assert off.at is not None
    assert off.height is not None
    middle = np.array([*off.at, floor_m + off.height])
    to_lamp, to_face = (at - middle), (face - middle)
    leg = float(np.linalg.norm(to_lamp))
    to_lamp, to_face = to_lamp / leg, to_face / np.linalg.norm(to_face)
    normal = to_lamp + to_face
    normal = normal / max(float(np.linalg.norm(normal)), 1e-9)
    sheet = _square_to(normal, middle, off.size)
    if off.mirror:
        image = middle - leg * to_face
        return LightSource(
            lamp, None, image, face, face, sheet, first_leg_m=leg, share=off.reflectance
        )
    sent = _falls(lamp, at, sheet, normal) * off.reflectance
    return LightSource(lamp, None, at, middle, face, sheet, sent, first_leg_m=leg)


def _off_wall(room: Room, lamp: Lamp, at: Floats, face: Floats, letter: str) -> LightSource:
    """Off a wall, aimed where a mirror on it would show the face."""
    first, way = (np.array(one) for one in room.wall_way(letter))
    inward = np.array([-way[1], way[0]])
    lamp_in, face_in = ((spot[:2] - first) @ inward for spot in (at, face))
    lamp_along, face_along = ((spot[:2] - first) @ way for spot in (at, face))
    share = float(lamp_in / max(lamp_in + face_in, 1e-9))
    length = math.dist(*room.wall(wall_letters(room).index(letter)))
    along = min(max(lamp_along + share * (face_along - lamp_along), 0.0), length)
    height = at[2] + share * (face[2] - at[2])
    spot = np.array([*(first + along * way), height])
    return LightSource(lamp, None, at, spot, face, wall=letter, first_leg_m=math.dist(at, spot))


def wall_letters(room: Room) -> list[str]:
    """Letters of a room's walls."""
    return [wall_letter(index) for index in range(len(room.outline))]


def key_source(room: Room, mark: Mark, setup: Setup, kit: Kit) -> LightSource | None:
    """A setup's key, None without one."""
    if setup.key is None:
        return None
    key, face = setup.key, face_point(room, mark)
    lamp, at = kit.lamp_named(key.lamp), np.array([*key.at, room.floor + key.height])
    if key.off is None:
        frame = None if key.frame is None else kit.frame_named(key.frame)
        return aimed_lamp(lamp, frame, at, face)
    if key.off.wall is not None:
        return _off_wall(room, lamp, at, face, key.off.wall.strip().upper())
    return _off_sheet(lamp, at, face, key.off, room.floor)


def face_point(room: Room, mark: Mark) -> Floats:
    """A mark's face, (3,) in the plan frame."""
    return np.array([*mark.at, room.floor + mark.face_height_m])
