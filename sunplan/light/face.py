"""Light on a face: its two sides under daylight and key, with what the room sends back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..location.model import Setup
from ..location.read import Location
from ..room.entry import beam_of
from ..sun.position import Floats
from .daylight import Sky
from .indoors import Indoors, indoors
from .lamp import Source, face_point, key_source

TURN_DEG = 45.0  # of each side from the camera
UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True)
class FaceLight:
    """Illuminances of a face, lx: daylight alone, and with the key.

    `ratio` is (key + fill) : fill, the lighter side over the darker, as it is metered.
    """

    daylight_key_lux: float
    daylight_fill_lux: float
    daylight_up_lux: float
    key_lux: float
    fill_lux: float

    @property
    def ratio(self) -> float:
        """(key + fill) : fill."""
        return self.key_lux / self.fill_lux if self.fill_lux > 0 else math.inf


@dataclass(frozen=True, eq=False)
class Faces:
    """The faces of all setups in one room, ready for any sky.

    Each has three spots of `room`: turned left of the camera, turned right, level upward. `lamps`
    (M, 3) is what each setup's key gives them, its bounce in it.
    """

    setups: tuple[Setup, ...]
    room: Indoors
    sources: tuple[Source | None, ...]
    lamps: Floats

    def light(self, sky: Sky) -> list[FaceLight]:
        """Levels of each face; the key side is the lamp's, or without one the lighter."""
        daylight = self.room.lux(sky).reshape(-1, 3)
        found = []
        for source, alone, lamp in zip(self.sources, daylight, self.lamps, strict=True):
            deciding = alone if source is None else lamp
            key, fill = (0, 1) if deciding[0] > deciding[1] else (1, 0)
            both = alone + lamp
            values = (alone[key], alone[fill], alone[2], both[key], both[fill])
            found.append(FaceLight(*(float(one) for one in values)))
        return found


def face_normals(setup: Setup, at: Floats) -> Floats:
    """Normals of a face's two sides, turned left and right of the camera, and upward, (3, 3)."""
    way = np.array(setup.camera.at) - at[:2]
    bearing = math.atan2(way[1], way[0])
    turns = [bearing + math.radians(turn) for turn in (TURN_DEG, -TURN_DEG)]
    return np.array([*([math.cos(one), math.sin(one), 0.0] for one in turns), UP])


def faces(location: Location, setups: Sequence[Setup]) -> list[Faces]:
    """Work out how light gets to the faces of setups, room by room."""
    found = []
    for name in dict.fromkeys(one.room for one in setups):
        mine = tuple(one for one in setups if one.room == name)
        beam = beam_of(location, location.room_named(name))
        marks = [beam.room.mark_named(one.mark) for one in mine]
        at = [face_point(beam.room, mark) for mark in marks]
        normals = [face_normals(one, spot) for one, spot in zip(mine, at, strict=True)]
        room = indoors(location, beam, np.repeat(at, 3, axis=0), np.concatenate(normals))
        sources = tuple(
            key_source(beam.room, mark, one, location.kit_of(one))
            for one, mark in zip(mine, marks, strict=True)
        )
        lamps = [
            np.zeros(3) if one is None else lamp_lux(one, room).reshape(-1, 3)[index]
            for index, one in enumerate(sources)
        ]
        found.append(Faces(mine, room, sources, np.array(lamps)))
    return found


def lamp_lux(source: Source, room: Indoors) -> Floats:
    """What a lamp gives the spots of a room, its bounce from the walls in it, (P,)."""
    pieces = room.bounce.pieces
    start = source.at if source.sheet is None else source.sheet.centre
    first = source.lux(pieces.middles, pieces.normals) * room.bounce.open_to(start[None])[0]
    own = source.lux(room.points, room.normals)
    if source.wall is not None:  # the wall alone is in the beam: the rest is kept off with doors
        first = first * (pieces.surface == pieces.surfaces.index(source.wall))
        own = np.zeros_like(own)
    for row, screen in room.screens.items():
        own[row] *= not screen.hides(room.points[row], start)
    lit: Floats = own + room.responses @ first
    return lit
