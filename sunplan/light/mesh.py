"""A room and its reveals cut into small flat pieces."""

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
REVEAL_M = 0.2  # and in a reveal no deeper than this
CORNERS = 8  # places for a piece's vertices; spare ones repeat the last
LEAST_M2 = 1e-6
CEILING = "ceiling"


@dataclass(frozen=True, eq=False)
class Mesh:
    """Pieces of a room and of its openings' reveals: corners (N, V, 3), seen from inside.

    `middles` and `normals` are (N, 3), corners run counter-clockwise. `surface` (N,) indexes
    `surfaces`: the floor, the ceiling, walls by letter; −1 in a reveal. `tube` (N,) is the opening
    whose reveal or glass a piece belongs to, −1 in the room itself; `glass` (N,) says which are
    glass. `flat` (N,) are the room's pieces in their surface's own plane: plan metres, or along the
    wall and up.
    """

    corners: Floats
    middles: Floats
    normals: Floats
    areas: Floats
    surface: NDArray[np.intp]
    tube: NDArray[np.intp]
    glass: NDArray[np.bool_]
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
    """Cut a room with its reveals into pieces."""
    outline = shapely.Polygon(room.outline)
    x0, y0, x1, y1 = outline.bounds
    grid = (_lines(x0, x1, []), _lines(y0, y1, []))
    holes = [shapely.Polygon(hole_corners(one.opening)) for one in apertures if one.wall is None]
    parts = [(0, piece) for piece in _cells(outline, grid)]
    ceiling = outline.difference(shapely.union_all(holes))
    parts += [(1, piece) for piece in _cells(ceiling, grid)]
    for wall in range(len(room.outline)):
        length = math.dist(*room.wall(wall))
        boxes = []
        for one in apertures:
            if one.wall == wall:
                along, sill = one.opening.along or 0.0, one.opening.sill or 0.0
                boxes.append((along, sill, along + one.width, sill + one.height))
        lines = (
            _lines(0.0, length, [at for box in boxes for at in box[::2]]),
            _lines(0.0, room.height, [at for box in boxes for at in box[1::2]]),
        )
        face = shapely.box(0.0, 0.0, length, room.height)
        face = face.difference(shapely.union_all([shapely.box(*box) for box in boxes]))
        parts += [(2 + wall, piece) for piece in _cells(face, lines)]
    rings = [_world(room, kind, np.array(piece.exterior.coords[:-1])) for kind, piece in parts]
    tubes = [
        (index, glass, ring) for index, one in enumerate(apertures) for glass, ring in _reveal(one)
    ]
    return _mesh(room, parts, rings, tubes)


def _world(room: Room, surface: int, ring: Floats) -> Floats:
    """A piece's ring from its surface's plane in the plan frame, counter-clockwise from inside."""
    if surface == 0:
        return np.insert(ring, 2, room.floor, axis=1)
    if surface == 1:
        return np.insert(ring[::-1], 2, room.floor + room.height, axis=1)
    first, way = (np.array(one) for one in room.wall_way(wall_letter(surface - 2)))
    # From inside the wall runs from right to left.
    return np.column_stack((first + ring[:, :1] * way, room.floor + ring[:, 1]))[::-1]


def _reveal(opening: Aperture) -> list[tuple[bool, Floats]]:
    """An opening's four sides and its glass in quads, counter-clockwise from inside."""
    inner, outer = opening.world(opening.rectangle), opening.glass_corners()
    middle = (inner.mean(axis=0) + outer.mean(axis=0)) / 2
    quads = [
        (False, np.array([inner[k], inner[(k + 1) % 4], outer[(k + 1) % 4], outer[k]]), REVEAL_M)
        for k in range(4)
    ]
    quads.append((True, outer, STEP_M))
    found = []
    for glass, quad, deep in quads:
        normal = np.cross(quad[1] - quad[0], quad[3] - quad[0])
        if normal @ (middle - quad.mean(axis=0)) < 0:
            quad = quad[[1, 0, 3, 2]]
        columns = max(1, math.ceil(math.dist(quad[0], quad[1]) / STEP_M - 1e-9))
        rows = max(1, math.ceil(max(math.dist(quad[0], quad[3]), 1e-9) / deep - 1e-9))
        for i in range(columns):
            for j in range(rows):
                shares = [
                    ((i + a) / columns, (j + b) / rows) for a, b in ((0, 0), (1, 0), (1, 1), (0, 1))
                ]
                found.append((glass, np.array([_between(quad, a, b) for a, b in shares])))
    return found


def _between(quad: Floats, a: float, b: float) -> Floats:
    """A spot of a quad by shares along its sides."""
    low = (1 - a) * quad[0] + a * quad[1]
    high = (1 - a) * quad[3] + a * quad[2]
    spot: Floats = (1 - b) * low + b * high
    return spot


def _mesh(
    room: Room,
    parts: list[tuple[int, BaseGeometry]],
    rings: list[Floats],
    tubes: list[tuple[int, bool, Floats]],
) -> Mesh:
    every = rings + [ring for _, _, ring in tubes]
    spare = [np.repeat(ring[-1:], CORNERS - len(ring), axis=0) for ring in every]
    corners = np.array([np.concatenate(pair) for pair in zip(every, spare, strict=True)])
    first = corners[:, :1]
    # A fan of triangles: its doubled vector areas give area, normal and middle.
    fan = np.cross(corners[:, 1:-1] - first, corners[:, 2:] - first)
    area = np.linalg.norm(fan, axis=-1)
    whole = fan.sum(axis=1)
    size = np.linalg.norm(whole, axis=1)
    centres = (first + corners[:, 1:-1] + corners[:, 2:]) / 3
    flat = np.full(len(every), None, dtype=np.object_)
    flat[: len(parts)] = [piece for _, piece in parts]
    count = len(tubes)
    letters = tuple(wall_letter(index) for index in range(len(room.outline)))
    return Mesh(
        corners=corners,
        middles=(centres * area[..., None]).sum(axis=1) / area.sum(axis=1)[:, None],
        normals=whole / size[:, None],
        areas=size / 2,
        surface=np.array([kind for kind, _ in parts] + [-1] * count, dtype=np.intp),
        tube=np.array([-1] * len(parts) + [index for index, _, _ in tubes], dtype=np.intp),
        glass=np.array([False] * len(parts) + [glass for _, glass, _ in tubes], dtype=np.bool_),
        flat=flat,
        surfaces=(FLOOR, CEILING, *letters),
    )
