"""Where a flag hangs, as two people with a tape measure find the place."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from ..light.screen import Screen
from ..location.model import Mark, Room, wall_letter
from ..room.convex import cross
from ..room.shapes import Shapes
from ..sun.position import Floats

LEVEL_DEG, UPRIGHT_DEG = 85.0, 5.0
FLUSH_M = 0.01  # nearer to a wall is on it
NEAR_M = 0.05  # nearer to the mark's middle has no direction to walk in
FAR_M = 1000.0
CROSSING_DEG = 30.0  # two walls that meet at less give no good fix
LEVEL_SHARE = 0.2  # a flag whose normal has less of it on the level is looked at as a level one


@dataclass(frozen=True)
class TapeMeasures:
    """Measures of a flag's place.

    Attributes
    ----------
    walls
        The two walls to measure its middle from, with the metres, nearest first; flush on a wall,
        or outside before it, only that one.
    indoors
        Whether it hangs in the room.
    from_mark_m, toward
        From the mark's middle on the plan, and the wall that one walks toward from there.
    bottom_m, top_m
        Heights above the floor, outside above the ground.
    tilt_deg
        How far it leans back from the upright.
    faces_deg
        True bearing that its lit side looks toward, None when level.
    along_m
        Where it is on its one wall, from and to, from the wall's first corner; None with two walls.
    long_side
        Of a level one the wall that its longer side comes nearest to running along, and by how many
        degrees it is turned clockwise from that, seen from above.
    """

    walls: tuple[tuple[str, float], ...]
    indoors: bool
    from_mark_m: float
    toward: str | None
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


def tape(
    room: Room,
    mark: Mark,
    hung: Screen,
    *,
    plan_up_deg: float,
    outside: str | None = None,
    ground_m: float = 0.0,
) -> TapeMeasures:
    """Measures of one place of a flag or panel.

    Parameters
    ----------
    room, mark
        Where it hangs, and what it shades.
    hung
        The flag, in the plan frame.
    plan_up_deg
        True bearing of the plan's +y.
    outside
        Letter of the wall before which it hangs outside; None indoors.
    ground_m
        The ground there, above the plan's.

    Examples
    --------
    >>> room = Room(name="a", outline=((0, 0), (3, 0), (3, 2), (0, 2)), height=2.5)
    >>> mark = Mark(name="chair", at=(1.0, 1.0), height=(0.7, 1.4))
    >>> hung = Screen(np.array([2.0, 0.5, 1.5]), np.eye(3)[0], np.eye(3)[2], (0.6, 0.9))
    >>> measures = tape(room, mark, hung, plan_up_deg=0.0)
    >>> measures.walls, measures.toward, round(measures.from_mark_m, 2), measures.hangs
    ((('A', 0.5), ('B', 1.0)), 'A', 1.12, 'upright')
    """
    middle, corners = hung.centre[:2], hung.corners()
    indoors = outside is None
    walls = two_walls(room, middle)
    if outside is not None:
        first, way = room.wall_way(outside)
        off = middle - np.array(first)
        walls = ((outside, abs(float(way[0] * off[1] - way[1] * off[0]))),)
    heights = corners[:, 2] - (room.floor if indoors else ground_m)
    normal = np.cross(hung.across, hung.up)
    level = hung.tilt_deg >= LEVEL_DEG
    along = None
    if not level and (walls[0][1] < FLUSH_M or not indoors):
        walls = walls[:1]
        first, way = room.wall_way(walls[0][0])
        ends = (corners[:, :2] - first) @ np.array(way)
        along = (float(ends.min()), float(ends.max()))
    # The lit side looks away from the mark.
    off = hung.centre - np.array([*mark.at, room.floor + sum(mark.height) / 2])
    normal = normal if normal @ off >= 0 else -normal
    bearing = math.degrees(math.atan2(normal[0], normal[1])) + plan_up_deg
    return TapeMeasures(
        walls=walls,
        indoors=indoors,
        from_mark_m=math.dist(mark.at, middle),
        toward=_toward(room, mark, middle),
        bottom_m=float(heights.min()),
        top_m=float(heights.max()),
        tilt_deg=hung.tilt_deg,
        faces_deg=None if level else bearing % 360.0,
        along_m=along,
        long_side=_long_side(room, hung) if level else None,
    )


def _walls(room: Room) -> Shapes:
    """Walls on the plan, one after another from A on."""
    ends = np.array(room.outline)
    walls: Shapes = shapely.linestrings(np.stack((ends, np.roll(ends, -1, axis=0)), axis=1))
    return walls


def _toward(room: Room, mark: Mark, middle: Floats) -> str | None:
    """The wall that one walks toward from the mark to a point; None where it is right above."""
    way = middle - np.array(mark.at)
    if np.linalg.norm(way) < NEAR_M:
        return None
    ray = shapely.LineString((mark.at, np.array(mark.at) + way / np.linalg.norm(way) * FAR_M))
    met_m = shapely.distance(shapely.intersection(_walls(room), ray), shapely.Point(mark.at))
    return wall_letter(int(np.nanargmin(met_m)))


def two_walls(room: Room, middle: Floats | tuple[float, float]) -> tuple[tuple[str, float], ...]:
    """The nearest wall to a point of the plan, and the nearest that runs across it, with metres.

    >>> room = Room(name="a", outline=((0, 0), (3, 0), (3, 2), (0, 2)), height=2.5)
    >>> two_walls(room, (1.0, 0.75))
    (('A', 0.75), ('D', 1.0))
    """
    away_m = shapely.distance(_walls(room), shapely.Point(middle))
    letters = [wall_letter(index) for index in range(len(away_m))]
    along = np.array([room.wall_way(letter)[1] for letter in letters])
    order = np.argsort(away_m, kind="stable")
    across = np.abs(cross(along[order[0]], along[order])) > math.sin(math.radians(CROSSING_DEG))
    walls = (order[0], *order[across][:1])
    return tuple((letters[index], float(away_m[index])) for index in walls)


def _long_side(room: Room, hung: Screen) -> tuple[str, float]:
    """The wall that a flag's longer side runs along best, and its turn from it, degrees."""
    side = hung.across if hung.size[0] >= hung.size[1] else hung.up
    angle = math.degrees(math.atan2(side[1], side[0]))
    turns = []
    for index in range(len(room.outline)):
        way = room.wall_way(wall_letter(index))[1]
        off = math.degrees(math.atan2(way[1], way[0])) - angle
        turns.append(((off + 90.0) % 180.0 - 90.0, wall_letter(index)))
    turn, letter = min(turns, key=lambda turned: round(abs(turned[0]), 6))
    return letter, turn


def foot(room: Room, letter: str, spot: tuple[float, float]) -> tuple[float, float]:
    """The point of a wall that a tape is held to from a spot of the floor: the nearest.

    Examples
    --------
    >>> room = Room(name="a", outline=((0, 0), (3, 0), (3, 2), (0, 2)), height=2.5)
    >>> foot(room, "A", (1.0, 0.7)), foot(room, "B", (1.0, 0.7)), foot(room, "A", (-1.0, 0.7))
    ((1.0, 0.0), (3.0, 0.7), (0.0, 0.0))
    """
    wall = shapely.LineString(room.wall(room.wall_number(letter)))
    x, y = wall.interpolate(wall.project(shapely.Point(spot))).coords[0]
    return x, y


def sideways(mark: Mark, hung: Screen) -> Floats:
    """The level direction, (2,), in which a flag's elevation runs: square to an upright one.

    Of a level one it is the way from the mark.
    """
    way: Floats = np.cross(hung.across, hung.up)[:2]
    if float(np.linalg.norm(way)) <= LEVEL_SHARE:
        way = hung.centre[:2] - np.array(mark.at)
        if float(np.linalg.norm(way)) < NEAR_M:
            way = hung.across[:2]
    way = way / np.linalg.norm(way)
    return way if way[0] > -1e-9 else -way
