"""Where on a wall does a thing lie, and where does a wall lie that is laid beside the plan?"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..location.model import Room
from ..sun.position import Floats
from .aperture import Aperture

APART_M = 0.12  # between a room, with its reveals, and a wall that is laid down


def on_wall(room: Room, index: int, points: Floats) -> Floats:
    """Points (N, 3) along a wall from its first corner and up from the floor, (N, 2), metres.

    >>> room = Room(name="a", outline=((0, 0), (3, 0), (3, 2), (0, 2)), height=2.5, floor=1.0)
    >>> on_wall(room, 1, np.array([[3.0, 0.5, 2.2]])).round(6).tolist()
    [[0.5, 1.2]]
    """
    first, second = (np.array(corner) for corner in room.wall(index))
    along: Floats = (points[:, :2] - first) @ ((second - first) / math.dist(first, second))
    return np.stack((along, points[:, 2] - room.floor), axis=-1)


def face(opening: Aperture, room: Room) -> Floats:
    """A window's corners in its wall, along it and up from the floor, (4, 2), metres."""
    assert opening.wall is not None
    return on_wall(room, opening.wall, opening.world(opening.rectangle))


@dataclass(frozen=True, eq=False)
class LaidWall:
    """A wall laid down flat beside the plan, its foot toward the room.

    `foot` (2,) is where its first corner lies, `along` and `out` (2,) are its axes, metres.
    """

    foot: Floats
    along: Floats
    out: Floats
    length_m: float
    height_m: float

    @property
    def corners(self) -> Floats:
        """From its first corner round, (4, 2)."""
        size = np.array([self.length_m, self.height_m])
        return self.put(size * [[0, 0], [1, 0], [1, 1], [0, 1]])

    def put(self, points: Floats) -> Floats:
        """Points (N, 2) of the wall, along and up, on the plan."""
        placed: Floats = self.foot + points[:, :1] * self.along + points[:, 1:] * self.out
        return placed


def laid_down(
    room: Room, heights_m: Mapping[int, float], openings: Sequence[Aperture]
) -> dict[int, LaidWall]:
    """Walls of these heights, each as near to its own place as it is free of all others."""
    outline = np.array(room.outline)
    taken = [shapely.Polygon(outline)]
    laid = {}
    for index, height_m in heights_m.items():
        first, second = (np.array(corner) for corner in room.wall(index))
        length_m = math.dist(first, second)
        along = (second - first) / length_m
        out = np.array([along[1], -along[0]])
        # Beyond all of the room that lies out that way, and beyond the walls laid down there.
        deep = max((opening.depth for opening in openings if opening.wall == index), default=0.0)
        off = float((outline @ out).max() - first @ out) + deep + APART_M
        while True:
            wall = LaidWall(first + off * out, along, out, length_m, height_m)
            lies = shapely.Polygon(wall.corners)
            if not any(lies.intersection(other).area > 1e-9 for other in taken):
                break
            off += room.height / 4
        taken.append(lies)
        laid[index] = wall
    return laid
