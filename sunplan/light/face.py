"""Light on a face: its two sides under daylight and key, with what the room sends back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..location.model import Room
from ..location.read import Location
from ..room.beam import beam_of
from ..room.camera import aim_point
from ..room.convex import cross
from ..sun.position import Floats
from .daylight import Skies
from .daylight_transfer import RoomTransfer, trace_room
from .lamp import LightSource, face_point, key_source
from .meter import key_lux, stops
from .resolved import ResolvedSetup

TURN_DEG = 45.0  # of each side from the camera
UP = np.array([0.0, 0.0, 1.0])
FACE_POINTS = 4
OFF_WALL_M = 1e-3


@dataclass(frozen=True)
class FaceLight:
    """Illuminances of a face, lx: daylight alone, and with the key; and of the wall behind it.

    `ratio` is (key + fill) : fill, the lighter side over the darker, as it is metered.
    """

    daylight_key_lux: float
    daylight_fill_lux: float
    daylight_up_lux: float
    key_lux: float
    fill_lux: float
    wall_lux: float

    @property
    def ratio(self) -> float:
        """(key + fill) : fill."""
        return self.key_lux / self.fill_lux if self.fill_lux > 0 else math.inf

    def dimmed(self, wanted_lux: float) -> DimmedKey | None:
        """The lamp dimmed until the key side has what is wanted; daylight stays as it is.

        None where there is no lamp, it gives too little, or daylight alone gives as much.

        >>> light = FaceLight(100.0, 50.0, 80.0, 900.0, 250.0, 60.0)
        >>> light.dimmed(300.0), light.dimmed(1000.0)
        (DimmedKey(share=0.25, fill_lux=100.0, ratio=3.0, by_daylight=False), None)
        """
        of_lamp_lux = self.key_lux - self.daylight_key_lux
        missing_lux = wanted_lux - self.daylight_key_lux
        if not 0.0 < missing_lux <= of_lamp_lux:
            return None
        share = missing_lux / of_lamp_lux
        fill_lux = self.daylight_fill_lux + share * (self.fill_lux - self.daylight_fill_lux)
        ratio = wanted_lux / fill_lux if fill_lux > 0 else math.inf
        return DimmedKey(share, fill_lux, ratio, self.daylight_fill_lux > fill_lux / 2)


@dataclass(frozen=True)
class DimmedKey:
    """A lamp at a share of its light, the fill side it leaves, lx, and (key + fill) : fill.

    `by_daylight`: most of that fill is daylight.
    """

    share: float
    fill_lux: float
    ratio: float
    by_daylight: bool


@dataclass(frozen=True, eq=False)
class Faces:
    """The faces of all setups in one room, ready for any sky.

    Each has four points of `transfer`: turned left of the camera, turned right, level upward, and
    the wall straight behind it. `sources` are the setups' keys; `lamp_lux` (M, 4) is what each
    gives its face's points, interreflection included.
    """

    setups: tuple[ResolvedSetup, ...]
    transfer: RoomTransfer
    sources: tuple[LightSource | None, ...]
    lamp_lux: Floats

    def index(self, setup: ResolvedSetup) -> int:
        """Which of the setups it is, by its name: it may start at another time here."""
        return [own.name for own in self.setups].index(setup.name)

    def spare_stops(self, setup: ResolvedSetup) -> float:
        """What a setup's key gives its face by night over what the exposure asks; 0 at least."""
        level = float(self.lamp_lux[self.index(setup)][:2].max())
        return max(0.0, stops(level, key_lux(setup.exposure)))

    def illuminances(
        self,
        skies: Skies,
        opening_shares: Floats | None = None,
        *,
        lux_by_opening: Floats | None = None,
    ) -> list[list[FaceLight]]:
        """Levels of each face under each of the skies (T), a list a setup.

        The key side is the lamp's, or without one the lighter. `opening_shares` (O,) is the share
        of its light that each opening is left; `lux_by_opening` (T, O, P) what comes by each, if
        known.
        """
        daylight = self.transfer.illuminance_lux(
            skies, opening_shares, lux_by_opening=lux_by_opening
        )
        daylight = daylight.reshape(len(skies), -1, FACE_POINTS)
        return [
            [_face_light(alone, lamp, by_lamp=source is not None) for alone in daylight[:, index]]
            for index, (source, lamp) in enumerate(zip(self.sources, self.lamp_lux, strict=True))
        ]


def faces(location: Location, setups: Sequence[ResolvedSetup]) -> list[Faces]:
    """Work out how light gets to the faces of setups, room by room."""
    by_room = []
    for name in dict.fromkeys(setup.room for setup in setups):
        inside = tuple(setup for setup in setups if setup.room == name)
        room = inside[0].in_room
        points, normals = [], []
        for setup in inside:
            face = face_point(room, setup.at_mark)
            behind, inward = wall_behind(room, setup, face)
            points += [face, face, face, behind]
            normals += [*face_normals(room, setup, face), inward]
        traced = trace_room(location, beam_of(location, room))
        transfer = traced.transfer_to(np.array(points), np.array(normals))
        sources = tuple(map(key_source, inside))
        lamp_lux = np.zeros((len(inside), FACE_POINTS))
        for index, source in enumerate(sources):
            if source is not None:
                own = slice(index * FACE_POINTS, (index + 1) * FACE_POINTS)
                lamp_lux[index] = lamp_illuminance(source, transfer)[own]
        by_room.append(Faces(inside, transfer, sources, lamp_lux))
    return by_room


def faces_by_room(rooms: Sequence[Faces]) -> dict[str, Faces]:
    """The same by the rooms' names."""
    return {room.transfer.beam.room.name: room for room in rooms}


def face_normals(room: Room, setup: ResolvedSetup, face: Floats) -> Floats:
    """Normals of a face's two sides, turned left and right of the camera, and upward, (3, 3)."""
    x, y = -_from_camera(room, setup, face)
    left, right = (math.atan2(y, x) + math.radians(turn) for turn in (TURN_DEG, -TURN_DEG))
    sides = [[math.cos(bearing), math.sin(bearing), 0.0] for bearing in (left, right)]
    return np.array([*sides, UP])


def wall_behind(room: Room, setup: ResolvedSetup, face: Floats) -> tuple[Floats, Floats]:
    """The point of wall straight behind a face as the camera sees it, and its normal, (3,) each."""
    toward = _from_camera(room, setup, face)
    first = np.array(room.outline)
    along = np.roll(first, -1, axis=0) - first
    rate = cross(along, toward)
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = cross(face[:2] - first, along) / rate
        share = cross(face[:2] - first, toward) / rate
    met = (np.abs(rate) > 1e-12) & (reach > 0) & (share >= 0) & (share <= 1)
    wall = int(np.argmin(np.where(met, reach, np.inf)))
    x, y = along[wall] / np.linalg.norm(along[wall])
    inward = np.array([-y, x, 0.0])
    point = np.array([*(first[wall] + share[wall] * along[wall]), face[2]])
    return point + OFF_WALL_M * inward, inward


def lamp_illuminance(source: LightSource, transfer: RoomTransfer) -> Floats:
    """Illuminance of a room's points by a lamp, interreflection in it, lx, (P,)."""
    mesh = transfer.interreflection.mesh
    start = source.position if source.sheet is None else source.sheet.centre
    first = source.illuminance_lux(mesh.middles, mesh.normals)
    first = first * transfer.interreflection.visibility(start[None])[0]
    direct = source.illuminance_lux(transfer.points, transfer.normals)
    if source.wall is not None:  # the wall alone is in the beam: the rest is kept off with doors
        first = first * (mesh.surface == mesh.surface_names.index(source.wall))
        direct = np.zeros_like(direct)
    for point, screen in transfer.screens.items():
        direct[point] *= not screen.hides(transfer.points[point], start)
    lux: Floats = direct + transfer.transfer_factors @ first
    return lux


def _face_light(daylight: Floats, lamp: Floats, *, by_lamp: bool) -> FaceLight:
    deciding = lamp if by_lamp else daylight
    key, fill = (0, 1) if deciding[0] > deciding[1] else (1, 0)
    both = daylight + lamp
    levels = (daylight[key], daylight[fill], daylight[2], both[key], both[fill], both[3])
    return FaceLight(*map(float, levels))


def _from_camera(room: Room, setup: ResolvedSetup, face: Floats) -> Floats:
    """Plan vector from camera to face, (2,); where they are one, along what the camera looks at."""
    at = np.array(setup.camera.at)
    toward: Floats = face[:2] - at
    if np.linalg.norm(toward) > OFF_WALL_M:
        return toward
    ahead: Floats = np.array(aim_point(room, setup)[:2]) - at
    return ahead
