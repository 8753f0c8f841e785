"""Where on the room a patch of sun lies, in a form that words can be made from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from ..location.model import wall_letter
from ..sun.position import Floats
from .beam import Beam
from .patches import FLOOR, SunPatch, sun_patches


@dataclass(frozen=True)
class PatchPosition:
    """The middle of the largest patch of sun: on the floor or on a wall.

    On the floor `in_from` is the opening's own wall, or the nearest one below a skylight, and
    `distance_m` how far in from it; on a wall `along_m` is from its first corner and `height_m`
    above the floor.
    """

    surface: str
    in_from: str | None = None
    distance_m: float | None = None
    along_m: float | None = None
    height_m: float | None = None


def largest_patch_position(room: Beam, index: int, sun: Floats) -> PatchPosition | None:
    """Where the largest patch lies that the sun makes through an opening.

    Parameters
    ----------
    room, index : the room, and the opening's index in it.
    sun : unit vector (3,) toward the sun in the plan frame.

    Returns
    -------
    None where no sun comes through.

    Examples
    --------
    >>> import numpy as np
    >>> from sunplan import read
    >>> from sunplan.room.beam import beam_of
    >>> location = read("locations/gate-house.toml")
    >>> beam = beam_of(location, location.room[0])
    >>> patch = largest_patch_position(beam, 0, 0.8 * beam.apertures[0].outward + [0, 0, 0.6])
    >>> patch.surface, patch.in_from, round(patch.distance_m, 2)
    ('floor', 'A', 1.68)
    """
    return patch_position(room, index, sun_patches(room, index, sun[None])[0])


def patch_position(room: Beam, index: int, patches: Sequence[SunPatch]) -> PatchPosition | None:
    """Where the largest of the patches lies that opening `index` makes; None of no patches."""
    if not patches:
        return None
    largest = max(patches, key=lambda patch: patch.area_m2)
    middle = shapely.centroid(largest.shape)
    if largest.surface != FLOOR:
        return PatchPosition(largest.surface, along_m=float(middle.x), height_m=float(middle.y))
    walls = range(len(room.room.outline))
    distances = {wall: middle.distance(shapely.LineString(room.room.wall(wall))) for wall in walls}
    own = room.apertures[index].wall
    wall = min(distances, key=lambda wall: distances[wall]) if own is None else own
    first, second = room.room.wall(wall)
    length = math.dist(first, second)
    outward = ((second[1] - first[1]) / length, (first[0] - second[0]) / length)
    depth = (first[0] - middle.x) * outward[0] + (first[1] - middle.y) * outward[1]
    return PatchPosition(FLOOR, in_from=wall_letter(wall), distance_m=float(depth))
