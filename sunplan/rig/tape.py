"""Where a flag hangs, as two people with a tape measure find the place."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from ..location.model import Mark, Room, wall_letter
from ..sun.position import Floats
from .flags import Position

LEVEL_DEG, UPRIGHT_DEG = 85.0, 5.0
FLUSH_M = 0.01  # nearer to a wall is on it
CROSSING_DEG = 30.0  # two walls that meet at less give no good fix


@dataclass(frozen=True)
class Tape:
    """Measures of a flag's place, metres and degrees.

    `walls` are the two walls to measure its middle from, nearest first; flush on a wall there is
    one, and `along_m` is where on it, from the wall's first corner. `bottom_m` and `top_m`
    are heights above the floor; `faces_deg` is the true bearing that its lit side looks toward,
    None when level; `tilt_deg` is how far it leans back from the upright. `long_side` is, of a
    level one, the wall that its longer side comes nearest to running along, and by how much it is
    turned clockwise from that, seen from above.
    """

    walls: tuple[tuple[str, float], ...]
    from_mark_m: float
    bottom_m: float
    top_m: float
    tilt_deg: float
    faces_deg: float | None
    along_m: tuple[float, float] | None
    long_side: tuple[str, float] | None

    @property
    def hangs(self) -> str:
        """Upright, level or tilted."""
        if self.tilt_deg >= LEVEL_DEG:
            return "level"
        return "upright" if self.tilt_deg <= UPRIGHT_DEG else "tilted"


def tape(room: Room, mark: Mark, position: Position, *, plan_up_deg: float) -> Tape:
    """Measures of one place of a flag."""
    middle = position.centre[:2]
    walls = _two_walls(room, middle)
    heights = position.corners()[:, 2] - room.floor
    level = position.tilt_deg >= LEVEL_DEG
    along = None
    if not level and walls[0][1] < FLUSH_M:
        walls = walls[:1]
        first, way = room.wall_way(walls[0][0])
        ends = (position.corners()[:, :2] - first) @ np.array(way)
        along = (float(ends.min()), float(ends.max()))
    normal = np.cross(position.across, position.up)
    # The lit side looks away from the mark.
    off = position.centre - np.array([*mark.at, room.floor + sum(mark.height) / 2])
    normal = normal if normal @ off >= 0 else -normal
    bearing = math.degrees(math.atan2(normal[0], normal[1])) + plan_up_deg
    return Tape(
        walls=walls,
        from_mark_m=math.dist(mark.at, middle),
        bottom_m=float(heights.min()),
        top_m=float(heights.max()),
        tilt_deg=position.tilt_deg,
        faces_deg=None if level else bearing % 360.0,
        along_m=along,
        long_side=_long_side(room, position) if level else None,
    )


def _two_walls(room: Room, middle: Floats) -> tuple[tuple[str, float], ...]:
    """The nearest wall, and the nearest that runs across it, with their distances."""
    found = []
    for index in range(len(room.outline)):
        first, second = room.wall(index)
        away = float(shapely.LineString((first, second)).distance(shapely.Point(middle)))
        turn = math.degrees(math.atan2(second[1] - first[1], second[0] - first[0]))
        found.append((away, wall_letter(index), turn))
    found.sort()
    nearest = found[0]
    across = next(
        (
            one
            for one in found[1:]
            if abs(math.sin(math.radians(one[2] - nearest[2])))
            > math.sin(math.radians(CROSSING_DEG))
        ),
        None,
    )
    chosen = [nearest] if across is None else [nearest, across]
    return tuple((letter, away) for away, letter, _ in chosen)


def _long_side(room: Room, position: Position) -> tuple[str, float]:
    """The wall that a flag's longer side runs along best, and its turn from it, degrees."""
    width, height = position.stock_m
    side = position.across if width >= height else position.up
    angle = math.degrees(math.atan2(side[1], side[0]))
    turns = []
    for index in range(len(room.outline)):
        way = room.wall_way(wall_letter(index))[1]
        off = math.degrees(math.atan2(way[1], way[0])) - angle
        turns.append(((off + 90.0) % 180.0 - 90.0, wall_letter(index)))
    turn, letter = min(turns, key=lambda one: round(abs(one[0]), 6))
    return letter, turn
