"""The key lamp: how much light it gives where, bare, through a diffusion frame or thrown off."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..location.kit import DiffusionFrame, Lamp
from ..location.model import Mark, Off, Room
from ..sun.position import Floats
from .form_factors import form_factor_above
from .resolved import ResolvedSetup
from .screen import Screen

BARE_M = 0.1  # across, of a lamp's own lit opening; from memory
MIN_GAP_M = 0.4  # between a frame and the face
CELLS = 12  # each way, of a frame's lighting
CORNEA_M = 0.0078  # radius of the eye's front, a convex mirror; from memory


@dataclass(frozen=True, eq=False)
class LightSource:
    """A lamp at its place, aimed at a face; points are (3,), in the plan frame.

    Attributes
    ----------
    lamp, frame
        What the kit has; `frame` None without one.
    position, aim, face
        Where the lamp is, off a mirror its image behind that; what it is aimed at; what is to be
        lit.
    sheet
        The frame, board or mirror, None for a bare lamp and off a wall.
    exitance_lux
        What a frame or board sends out toward the face; None else.
    wall
        Letter of the wall that it is thrown off; then `aim` is the spot on it.
    first_leg_m
        From the lamp to what it is thrown on or through.
    reflectance
        The mirror's; 1 else.
    """

    lamp: Lamp
    frame: DiffusionFrame | None
    position: Floats
    aim: Floats
    face: Floats
    sheet: Screen | None = None
    exitance_lux: float | None = None
    wall: str | None = None
    first_leg_m: float = 0.0
    reflectance: float = 1.0

    @property
    def distance_m(self) -> float:
        """From what lights to the face, metres; off a mirror the whole way."""
        if self.wall is not None:
            return math.dist(self.aim, self.face)
        if self.sheet is not None and self.exitance_lux is not None:
            return math.dist(self.sheet.centre, self.face)
        return math.dist(self.position, self.face)

    @property
    def size_m(self) -> float:
        """Mean width of what lights, metres; on a wall, of the beam's spot."""
        if self.wall is not None:
            return 2.0 * self.first_leg_m * math.tan(math.radians(self.lamp.beam / 2))
        if self.sheet is not None and self.exitance_lux is not None:
            return math.sqrt(math.prod(self.sheet.size))
        return BARE_M

    @property
    def angular_size_deg(self) -> float:
        """How large the source is, seen from the face, degrees."""
        return math.degrees(2 * math.atan(self.size_m / 2 / self.distance_m))

    @property
    def penumbra_ratio(self) -> float:
        """Width of a shadow's soft edge by the distance from what throws it."""
        return self.size_m / self.distance_m

    @property
    def catchlight_mm(self) -> float:
        """Size of its reflection in an eye, mm: of the image in a convex mirror, r s / 2 d."""
        return 1000.0 * CORNEA_M / 2 * self.size_m / self.distance_m

    def illuminance_lux(self, points: Floats, normals: Floats) -> Floats:
        """Illuminance of points (P, 3) with unit normals (P, 3) by the source itself, lx, (P,).

        Nothing stands between, and no wall throws any back. A bare lamp goes by inverse square,
        cosine and a beam of cosᵐ; a sheet is matt and evenly lit, by its form factor.

        Examples
        --------
        >>> lamp = Lamp(name="led", lux_at_1m=900.0, watts=60.0)
        >>> source = aimed_lamp(lamp, None, np.zeros(3), np.array([3.0, 0.0, 0.0]))
        >>> source.illuminance_lux(np.array([[3.0, 0, 0]]), np.array([[-1.0, 0, 0]])).tolist()
        [100.0]
        """
        if self.sheet is not None and self.exitance_lux is not None:
            seen = form_factor_above(points, normals, self.sheet.corners()[None])[:, 0]
            return self.exitance_lux * seen
        lux = self.reflectance * _bare_lux(self.lamp, self.position, self.aim, points, normals)
        if self.sheet is not None:  # only what comes by way of the mirror
            lux = lux * self.sheet.hides(self.position, points)
        return lux


def aimed_lamp(
    lamp: Lamp, frame: DiffusionFrame | None, position: Floats, face: Floats
) -> LightSource:
    """A lamp at a point (3,) aimed at a face (3,), bare or through a frame.

    The frame stands square to it where the beam just fills it, or as near to that as leaves
    `MIN_GAP_M` before the face.
    """
    if frame is None:
        return LightSource(lamp, None, position, face, face)
    distance = math.dist(position, face)
    filled = min(frame.size) / 2 / math.tan(math.radians(lamp.beam / 2))
    ahead = max(0.1, min(filled, distance - MIN_GAP_M))
    axis = (face - position) / distance
    sheet = _square_to(axis, position + ahead * axis, frame.size)
    exitance = _mean_lux(lamp, position, sheet, -axis) * 2.0**-frame.loss
    return LightSource(lamp, frame, position, face, face, sheet, exitance, first_leg_m=ahead)


def key_source(setup: ResolvedSetup) -> LightSource | None:
    """A setup's key as the file has it set up, aimed at its mark's face; None without one."""
    if setup.key is None:
        return None
    room, kit = setup.in_room, setup.from_kit
    key, face = setup.key, face_point(room, setup.at_mark)
    lamp, position = kit.lamp_named(key.lamp), np.array([*key.at, room.floor + key.height])
    if key.off is None:
        frame = None if key.frame is None else kit.frame_named(key.frame)
        return aimed_lamp(lamp, frame, position, face)
    if key.off.wall is not None:
        return _off_wall(room, lamp, position, face, key.off.wall.strip().upper())
    return _off_sheet(lamp, position, face, key.off, room.floor)


def face_point(room: Room, mark: Mark) -> Floats:
    """The middle of a mark's face, (3,) in the plan frame."""
    return np.array([*mark.at, room.floor + mark.face_height_m])


def _bare_lux(lamp: Lamp, position: Floats, aim: Floats, points: Floats, normals: Floats) -> Floats:
    """Illuminance of points (P, 3) by a small lamp: inverse square, cosine, its beam, (P,)."""
    axis = (aim - position) / math.dist(aim, position)
    toward = points - position
    distance = np.linalg.norm(toward, axis=1)
    toward = toward / distance[:, None]
    # Intensity as cosᵐ falls to half at half the beam's angle: the trade's definition of a beam.
    power = math.log(0.5) / math.log(math.cos(math.radians(lamp.beam / 2)))
    intensity = lamp.lux_at_1m * np.maximum(toward @ axis, 0.0) ** power
    cosine = np.maximum(-np.einsum("pk,pk->p", toward, normals), 0.0)
    lux: Floats = intensity * cosine / distance**2
    return lux


def _square_to(axis: Floats, middle: Floats, size: tuple[float, float]) -> Screen:
    """A sheet square to an axis, level across, its lit side toward where the axis points."""
    across = np.cross([0.0, 0.0, 1.0], axis)
    across = across / max(float(np.linalg.norm(across)), 1e-9)
    return Screen(middle, across, np.cross(axis, across), size)


def _mean_lux(lamp: Lamp, position: Floats, sheet: Screen, normal: Floats) -> float:
    """Mean illuminance of a sheet's side with this normal by a lamp aimed at its middle, lx."""
    share = (np.arange(CELLS) + 0.5) / CELLS - 0.5
    a, b = (grid.ravel()[:, None] for grid in np.meshgrid(share, share))
    points = sheet.centre + a * sheet.size[0] * sheet.across + b * sheet.size[1] * sheet.up
    normals = np.broadcast_to(normal, points.shape)
    return float(_bare_lux(lamp, position, sheet.centre, points, normals).mean())


def _off_sheet(lamp: Lamp, position: Floats, face: Floats, off: Off, floor_m: float) -> LightSource:
    """Off a board or mirror, turned half way between lamp and face."""
    assert off.at is not None
    assert off.height is not None
    middle = np.array([*off.at, floor_m + off.height])
    leg = math.dist(position, middle)
    to_lamp, to_face = (position - middle) / leg, (face - middle) / math.dist(face, middle)
    normal = to_lamp + to_face
    normal = normal / max(float(np.linalg.norm(normal)), 1e-9)
    sheet = _square_to(normal, middle, off.size)
    if off.mirror:
        image = middle - leg * to_face
        return LightSource(
            lamp, None, image, face, face, sheet, first_leg_m=leg, reflectance=off.reflectance
        )
    exitance = _mean_lux(lamp, position, sheet, normal) * off.reflectance
    return LightSource(lamp, None, position, middle, face, sheet, exitance, first_leg_m=leg)


def _off_wall(room: Room, lamp: Lamp, position: Floats, face: Floats, letter: str) -> LightSource:
    """Off a wall, aimed where a mirror on it would show the face."""
    first, along = map(np.array, room.wall_way(letter))
    inward = np.array([-along[1], along[0]])
    lamp_off, face_off = ((point[:2] - first) @ inward for point in (position, face))
    lamp_along, face_along = ((point[:2] - first) @ along for point in (position, face))
    share = float(lamp_off / max(lamp_off + face_off, 1e-9))
    length_m = math.dist(*room.wall(room.wall_number(letter)))
    reach = min(max(lamp_along + share * (face_along - lamp_along), 0.0), length_m)
    spot = np.array([*(first + reach * along), position[2] + share * (face[2] - position[2])])
    return LightSource(
        lamp, None, position, spot, face, wall=letter, first_leg_m=math.dist(position, spot)
    )
