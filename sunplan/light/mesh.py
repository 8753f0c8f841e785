"""A room cut into small flat pieces, each of one kind: wall, floor, ceiling, or an opening."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..location.geometry import hole_corners
from ..location.model import Room, wall_letter
from ..room.aperture import Aperture
from ..room.beam import FLOOR
from ..sun.position import Floats

STEP_M = 0.45  # pieces are no longer than this
CORNERS = 8  # places for a piece's vertices; spare ones repeat the last
LEAST_M2 = 1e-6
CEILING = "ceiling"


@dataclass(frozen=True, eq=False)
class Mesh:
    """Pieces of a room: corners (N, V, 3), middles and normals (N, 3), seen from inside.

    Corners run counter-clockwise. `surface` (N,) indexes `surfaces`: the floor, the ceiling, walls
    by letter. `opening` (N,) is the opening a piece belongs to, −1 for none. `flat` (N,) are the
    same pieces in a surface's own plane: plan metres, or along the wall and up.
    """

    corners: Floats
    middles: Floats
    normals: Floats
    areas: Floats
    surface: NDArray[np.intp]
    opening: NDArray[np.intp]
    flat: NDArray[np.object_]
    surfaces: tuple[str, ...]


def _cells(shape: BaseGeometry, lines: tuple[list[float], list[float]]) -> list[BaseGeometry]:
    """A flat shape cut along lines of both directions into convex pieces."""
    xs, ys = (np.unique(np.round(one, 9)) for one in lines)
    boxes = shapely.box(*(grid.ravel() for grid in _corners(xs, ys)))
    cut = shapely.intersection(boxes, shape)
    found = []
    for piece in shapely.get_parts(cut):
        if piece.geom_type != "Polygon" or piece.area < LEAST_M2:
            continue
        ring = len(piece.exterior.coords) - 1
        plain = not piece.interiors and ring <= CORNERS
        if plain and piece.convex_hull.area - piece.area < LEAST_M2:
            found.append(piece)
        else:
            found += shapely.constrained_delaunay_triangles(piece).geoms
    return [shapely.orient_polygons(one) for one in found if one.area >= LEAST_M2]


def _corners(xs: Floats, ys: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    low_x, low_y = np.meshgrid(xs[:-1], ys[:-1])
    high_x, high_y = np.meshgrid(xs[1:], ys[1:])
    return low_x, low_y, high_x, high_y


def _lines(low: float, high: float, fixed: list[float]) -> list[float]:
    """Fixed lines, and as many between them that no gap is wider than a step."""
    marks = sorted({low, high, *(at for at in fixed if low < at < high)})
    found = [low]
    for start, end in pairwise(marks):
        count = max(1, math.ceil((end - start) / STEP_M - 1e-9))
        found += np.linspace(start, end, count + 1)[1:].tolist()
    return found


def mesh(room: Room, apertures: tuple[Aperture, ...]) -> Mesh:
    """Cut a room into pieces."""
    outline = shapely.Polygon(room.outline)
    x0, y0, x1, y1 = outline.bounds
    grid = (_lines(x0, x1, []), _lines(y0, y1, []))
    holes = [(i, shapely.Polygon(hole_corners(one.opening))) for i, one in enumerate(apertures)
             if one.wall is None]  # fmt: skip
    parts: list[tuple[int, int, BaseGeometry]] = []
    parts += [(0, -1, piece) for piece in _cells(outline, grid)]
    ceiling = outline.difference(shapely.union_all([hole for _, hole in holes]))
    parts += [(1, -1, piece) for piece in _cells(ceiling, grid)]
    for index, hole in holes:
        parts += [(1, index, piece) for piece in _cells(hole, grid)]
    for wall in range(len(room.outline)):
        length = math.dist(*room.wall(wall))
        boxes = []
        for index, one in enumerate(apertures):
            if one.wall == wall:
                along, sill = one.opening.along or 0.0, one.opening.sill or 0.0
                boxes.append((index, (along, sill, along + one.width, sill + one.height)))
        lines = (
            _lines(0.0, length, [at for _, box in boxes for at in box[::2]]),
            _lines(0.0, room.height, [at for _, box in boxes for at in box[1::2]]),
        )
        for piece in _cells(shapely.box(0.0, 0.0, length, room.height), lines):
            middle = piece.centroid
            inside = [i for i, (a, b, c, d) in boxes if a < middle.x < c and b < middle.y < d]
            parts.append((2 + wall, inside[0] if inside else -1, piece))
    return _mesh(room, parts)


def _mesh(room: Room, parts: list[tuple[int, int, BaseGeometry]]) -> Mesh:
    corners: list[Floats] = []
    normals: list[list[float]] = []
    for kind, _, piece in parts:
        ring = np.array(piece.exterior.coords[:-1])
        if kind == 0:
            world = np.insert(ring, 2, room.floor, axis=1)
            normal = [0.0, 0.0, 1.0]
        elif kind == 1:
            world = np.insert(ring[::-1], 2, room.floor + room.height, axis=1)
            normal = [0.0, 0.0, -1.0]
        else:
            first, way = (np.array(one) for one in room.wall_way(wall_letter(kind - 2)))
            plan = first + ring[:, :1] * way
            # From inside the wall runs from right to left.
            world = np.column_stack((plan, room.floor + ring[:, 1]))[::-1]
            normal = [-way[1], way[0], 0.0]
        spare = np.repeat(world[-1:], CORNERS - len(world), axis=0)
        corners.append(np.concatenate((world, spare)))
        normals.append(normal)
    surface = [one for one, _, _ in parts]
    shapes = np.array([piece for _, _, piece in parts], dtype=np.object_)
    centroids = shapely.get_coordinates(shapely.centroid(shapes))
    lifted = [_lift(room, kind, at) for kind, at in zip(surface, centroids, strict=True)]
    middles = np.array(lifted)
    letters = tuple(wall_letter(index) for index in range(len(room.outline)))
    return Mesh(
        corners=np.array(corners),
        middles=middles,
        normals=np.array(normals),
        areas=shapely.area(shapes),
        surface=np.array(surface),
        opening=np.array([one for _, one, _ in parts]),
        flat=shapes,
        surfaces=(FLOOR, CEILING, *letters),
    )


def _lift(room: Room, surface: int, at: Floats) -> list[float]:
    """A spot of a surface in the plan frame."""
    if surface == 0:
        return [at[0], at[1], room.floor]
    if surface == 1:
        return [at[0], at[1], room.floor + room.height]
    (x, y), way = room.wall_way(wall_letter(surface - 2))
    return [x + at[0] * way[0], y + at[0] * way[1], room.floor + at[1]]
