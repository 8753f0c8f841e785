"""Light on a face: its two sides under daylight and key, with what the room sends back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..location.model import Room, Setup
from ..location.read import Location
from ..room.camera import aim
from ..room.entry import beam_of
from ..sun.position import Floats
from .daylight import Skies
from .daylight_transfer import RoomTransfer, trace_room
from .lamp import LightSource, face_point, key_source
from .meter import key_lux, stops

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

    def dimmed(self, asked_lux: float) -> DimmedKey | None:
        """The lamp dimmed until the key side has what is asked; daylight stays as it is.

        None where there is no lamp, it gives too little, or daylight alone gives as much.
        """
        lamp_illuminance = self.key_lux - self.daylight_key_lux
        left_lux = asked_lux - self.daylight_key_lux
        if not 0.0 < left_lux <= lamp_illuminance:
            return None
        share = left_lux / lamp_illuminance
        fill_lux = self.daylight_fill_lux + share * (self.fill_lux - self.daylight_fill_lux)
        ratio = asked_lux / fill_lux if fill_lux > 0 else math.inf
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

    Each has four spots of `room`: turned left of the camera, turned right, level upward, and the
    wall straight behind it. `lamp_lux` (M, 4) is what each setup's key gives them, bounce included.
    """

    setups: tuple[Setup, ...]
    transfer: RoomTransfer
    sources: tuple[LightSource | None, ...]
    lamp_lux: Floats

    def index(self, setup: Setup) -> int:
        """Which of the setups it is, by its name: it may start at another time here."""
        return [one.name for one in self.setups].index(setup.name)

    def spare_stops(self, setup: Setup) -> float:
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
        """Levels of each face at each moment, a list a setup.

        The key side is the lamp's, or without one the lighter. `opening_shares` (O,) is the share
        of its light that each opening is left; `lux_by_opening` (T, O, P) what comes by each, if
        known.
        """
        daylight = self.transfer.illuminance_lux(
            skies, opening_shares, lux_by_opening=lux_by_opening
        )
        daylight = daylight.reshape(len(skies), -1, FACE_POINTS)
        return [
            [_face(alone, lamp, by_lamp=source is not None) for alone in daylight[:, index]]
            for index, (source, lamp) in enumerate(zip(self.sources, self.lamp_lux, strict=True))
        ]


def _face(alone: Floats, lamp: Floats, *, by_lamp: bool) -> FaceLight:
    deciding = lamp if by_lamp else alone
    key, fill = (0, 1) if deciding[0] > deciding[1] else (1, 0)
    both = alone + lamp
    values = (alone[key], alone[fill], alone[2], both[key], both[fill], both[3])
    return FaceLight(*(float(one) for one in values))


def _line(room: Room, setup: Setup, face: Floats) -> Floats:
    """Plan vector from camera to face, (2,); where they are one, along what the camera looks at."""
    at = np.array(setup.camera.at)
    way: Floats = face[:2] - at
    return way if np.linalg.norm(way) > OFF_WALL_M else np.array(aim(room, setup)[:2]) - at


def face_normals(room: Room, setup: Setup, face: Floats) -> Floats:
    """Normals of a face's two sides, turned left and right of the camera, and upward, (3, 3)."""
    way = -_line(room, setup, face)
    bearing = math.atan2(way[1], way[0])
    turns = [bearing + math.radians(turn) for turn in (TURN_DEG, -TURN_DEG)]
    return np.array([*([math.cos(one), math.sin(one), 0.0] for one in turns), UP])


def _behind(room: Room, setup: Setup, face: Floats) -> tuple[Floats, Floats]:
    """The spot of wall straight behind a face as the camera sees it, and its normal inward."""
    way = _line(room, setup, face)
    best: tuple[float, Floats, Floats] | None = None
    for index in range(len(room.outline)):
        first, second = (np.array(corner) for corner in room.wall(index))
        along = second - first
        across = along[0] * way[1] - along[1] * way[0]
        if abs(across) < 1e-12:
            continue
        off = face[:2] - first
        reach = (off[0] * along[1] - off[1] * along[0]) / across
        share = (off[0] * way[1] - off[1] * way[0]) / across
        if reach > 0 and 0 <= share <= 1 and (best is None or reach < best[0]):
            inward = np.array([-along[1], along[0]]) / np.linalg.norm(along)
            best = float(reach), first + share * along, inward
    assert best is not None  # a face stands in its room
    _, spot, inward = best
    normal = np.array([*inward, 0.0])
    return np.array([*spot, face[2]]) + OFF_WALL_M * normal, normal


def faces_by_room(rooms: Sequence[Faces]) -> dict[str, Faces]:
    """The same by the rooms' names."""
    return {one.transfer.beam.room.name: one for one in rooms}


def faces(location: Location, setups: Sequence[Setup]) -> list[Faces]:
    """Work out how light gets to the faces of setups, room by room."""
    found = []
    for name in dict.fromkeys(one.room for one in setups):
        mine = tuple(one for one in setups if one.room == name)
        beam = beam_of(location, location.room_named(name))
        marks = [beam.room.mark_named(one.mark) for one in mine]
        at = [face_point(beam.room, mark) for mark in marks]
        points, normals = [], []
        for one, spot in zip(mine, at, strict=True):
            behind, inward = _behind(beam.room, one, spot)
            points += [spot, spot, spot, behind]
            normals += [*face_normals(beam.room, one, spot), inward]
        room = trace_room(location, beam).transfer_to(np.array(points), np.array(normals))
        sources = tuple(
            key_source(beam.room, mark, one, location.kit_of(one))
            for one, mark in zip(mine, marks, strict=True)
        )
        lamps = [
            np.zeros(FACE_POINTS)
            if one is None
            else lamp_illuminance(one, room).reshape(-1, FACE_POINTS)[index]
            for index, one in enumerate(sources)
        ]
        found.append(Faces(mine, room, sources, np.array(lamps)))
    return found


def lamp_illuminance(source: LightSource, room: RoomTransfer) -> Floats:
    """What a lamp gives the spots of a room, its bounce from the walls in it, (P,)."""
    mesh = room.interreflection.mesh
    start = source.at if source.sheet is None else source.sheet.centre
    first = (
        source.illuminance_lux(mesh.middles, mesh.normals)
        * room.interreflection.visibility(start[None])[0]
    )
    own = source.illuminance_lux(room.points, room.normals)
    if source.wall is not None:  # the wall alone is in the beam: the rest is kept off with doors
        first = first * (mesh.surface == mesh.surface_names.index(source.wall))
        own = np.zeros_like(own)
    for row, screen in room.screens.items():
        own[row] *= not screen.hides(room.points[row], start)
    lit: Floats = own + room.transfer_factors @ first
    return lit
