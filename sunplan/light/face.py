"""Light on a face: its two sides under daylight and key, with what the room sends back."""

from __future__ import annotations

import math
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
class Face:
    """A setup's face, ready for any sky. Spots are: turned left, turned right, level upward.

    `lamp_left`, `lamp_right` are what the key lamp gives both sides, its bounce in it.
    """

    setup: Setup
    room: Indoors
    source: Source | None
    lamp_left: float
    lamp_right: float

    def light(self, sky: Sky) -> FaceLight:
        """Levels of both sides; the key side is the lamp's, or without one the lighter."""
        left, right, up = self.room.lux(sky).tolist()
        all_left, all_right = left + self.lamp_left, right + self.lamp_right
        key_left = self.lamp_left > self.lamp_right if self.source is not None else left > right
        sides = ((left, all_left), (right, all_right))
        key, fill = sides if key_left else sides[::-1]
        return FaceLight(key[0], fill[0], up, key[1], fill[1])


def face_normals(setup: Setup, at: Floats) -> Floats:
    """Normals of a face's two sides, turned left and right of the camera, and upward, (3, 3)."""
    way = np.array(setup.camera.at) - at[:2]
    bearing = math.atan2(way[1], way[0])
    turns = [bearing + math.radians(turn) for turn in (TURN_DEG, -TURN_DEG)]
    return np.array([*([math.cos(one), math.sin(one), 0.0] for one in turns), UP])


def face(location: Location, setup: Setup) -> Face:
    """Work out how light gets to a setup's face."""
    beam = beam_of(location, location.room_named(setup.room))
    mark = beam.room.mark_named(setup.mark)
    at = face_point(beam.room, mark)
    normals = face_normals(setup, at)
    points = np.tile(at, (3, 1))
    room = indoors(location, beam, points, normals)
    source = key_source(beam.room, mark, setup, location.kit_of(setup))
    left = right = 0.0
    if source is not None:
        left, right, _ = lamp_lux(source, room).tolist()
    return Face(setup, room, source, left, right)


def lamp_lux(source: Source, room: Indoors) -> Floats:
    """What a lamp gives the spots of a room, its bounce from the walls in it, (P,)."""
    pieces = room.bounce.pieces
    start = source.at if source.corners is None else source.corners.mean(axis=0)
    first = source.lux(pieces.middles, pieces.normals) * room.bounce.open_to(start[None])[0]
    lit: Floats = source.lux(room.points, room.normals) + room.responses @ first
    return lit
