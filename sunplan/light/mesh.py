"""The mesh of a room: its surfaces and its openings' reveals in small flat elements."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from ..location.geometry import hole_corners
from ..location.model import Room, wall_letter
from ..room.aperture import Aperture
from ..room.patches import FLOOR
from ..sun.position import Floats
from ..sun.search import Bools, Indices

ELEMENT_M = 0.45  # elements are no longer than this
REVEAL_M = 0.2  # and in a reveal no deeper than this
CORNERS = 8  # places for an element's vertices; spare ones repeat the last
MIN_M2 = 1e-6
CEILING = "ceiling"


@dataclass(frozen=True, eq=False)
class Mesh:
    """Flat elements (N) of a room and of its openings' reveals, seen from inside.

    Attributes
    ----------
    corners
        Vertices in the plan frame, counter-clockwise, spare ones repeat the last, (N, V, 3).
    middles, normals
        Centres of area and unit normals, (N, 3).
    areas
        m², (N,).
    surface
        Index into `surface_names`, (N,); −1 in a reveal.
    reveal_of
        Index of the opening whose reveal or glass it is, (N,); −1 in the room itself.
    glass
        Whether it is glass, (N,).
    polygons
        The room's elements in their surface's own plane (plan metres, or along the wall and up),
        (N,); None in a reveal.
    surface_names
        Floor, ceiling, walls by letter.
    """

    corners: Floats
    middles: Floats
    normals: Floats
    areas: Floats
    surface: Indices
    reveal_of: Indices
    glass: Bools
    polygons: NDArray[np.object_]
    surface_names: tuple[str, ...]

    def raised(self) -> Floats:
        """The elements' middles, a micrometre before them, (N, 3), so that none hides its own."""
        return self.middles + 1e-6 * self.normals

    @cached_property
    def probes(self) -> Floats:
        """Points over each element, for what covers a part of it only, (N, K, 3)."""
        halfway = (self.corners + self.middles[:, None]) / 2
        return np.concatenate((halfway, self.middles[:, None]), axis=1)


class _Element(NamedTuple):
    ring: Floats
    surface: int = -1
    reveal_of: int = -1
    glass: bool = False
    polygon: BaseGeometry | None = None


def mesh(room: Room, apertures: Sequence[Aperture]) -> Mesh:
    """Cut a room with its openings' reveals into elements.

    None is longer than `ELEMENT_M`, or in a reveal deeper than `REVEAL_M`. Together they close the
    room: floor, ceiling and walls without their holes, then each opening's sides and its glass.

    Examples
    --------
    >>> from sunplan import read
    >>> from sunplan.room.beam import beam_of
    >>> house = read("locations/lock-house.toml")
    >>> gauge_room = beam_of(house, house.room[0])
    >>> elements = mesh(gauge_room.room, gauge_room.apertures)
    >>> floor = elements.surface == elements.surface_names.index(FLOOR)
    >>> round(float(elements.areas[floor].sum()), 6)  # 3.2 m by 2.4 m
    7.68
    """
    elements = list(_room_elements(room, apertures))
    for index, opening in enumerate(apertures):
        elements += _reveal_elements(index, opening)
    rings = [element.ring for element in elements]
    spare = [np.repeat(ring[-1:], CORNERS - len(ring), axis=0) for ring in rings]
    corners = np.array([np.concatenate(pair) for pair in zip(rings, spare, strict=True)])
    first = corners[:, :1]
    # A fan of triangles: its doubled vector areas give area, normal and middle.
    fan = np.cross(corners[:, 1:-1] - first, corners[:, 2:] - first)
    area, whole = np.linalg.norm(fan, axis=-1), fan.sum(axis=1)
    size = np.linalg.norm(whole, axis=1)
    centres = (first + corners[:, 1:-1] + corners[:, 2:]) / 3
    polygons = np.empty(len(elements), dtype=np.object_)
    polygons[:] = [element.polygon for element in elements]
    walls = tuple(wall_letter(index) for index in range(len(room.outline)))
    return Mesh(
        corners=corners,
        middles=(centres * area[..., None]).sum(axis=1) / area.sum(axis=1)[:, None],
        normals=whole / size[:, None],
        areas=size / 2,
        surface=np.array([element.surface for element in elements], dtype=np.intp),
        reveal_of=np.array([element.reveal_of for element in elements], dtype=np.intp),
        glass=np.array([element.glass for element in elements], dtype=np.bool_),
        polygons=polygons,
        surface_names=(FLOOR, CEILING, *walls),
    )


def _room_elements(room: Room, apertures: Sequence[Aperture]) -> Iterator[_Element]:
    """Floor, ceiling and walls without their openings."""
    outline = shapely.Polygon(room.outline)
    x0, y0, x1, y1 = outline.bounds
    grid = (_lines(x0, x1), _lines(y0, y1))
    holes = [hole_corners(opening.opening) for opening in apertures if opening.wall is None]
    ceiling = outline.difference(shapely.union_all([shapely.Polygon(hole) for hole in holes]))
    surfaces = [(outline, grid), (ceiling, grid)]
    for wall in range(len(room.outline)):
        length = math.dist(*room.wall(wall))
        boxes = []
        for opening in apertures:
            if opening.wall == wall:
                along, sill = opening.opening.along or 0.0, opening.opening.sill or 0.0
                boxes.append((along, sill, along + opening.width, sill + opening.height))
        across = _lines(0.0, length, [edge for box in boxes for edge in box[::2]])
        up = _lines(0.0, room.height, [edge for box in boxes for edge in box[1::2]])
        face = shapely.box(0.0, 0.0, length, room.height)
        face = face.difference(shapely.union_all([shapely.box(*box) for box in boxes]))
        surfaces.append((face, (across, up)))
    for surface, (shape, lines) in enumerate(surfaces):
        for polygon in _cut(shape, lines):
            ring = _in_plan(room, surface, np.array(polygon.exterior.coords[:-1]))
            yield _Element(ring, surface, polygon=polygon)


def _cut(shape: BaseGeometry, lines: tuple[list[float], list[float]]) -> list[BaseGeometry]:
    """A flat shape cut along lines of both directions into convex pieces."""
    xs, ys = (np.unique(np.round(coordinates, 9)) for coordinates in lines)
    low, high = np.meshgrid(xs[:-1], ys[:-1]), np.meshgrid(xs[1:], ys[1:])
    boxes = shapely.box(*(edge.ravel() for edge in (*low, *high)))
    parts = shapely.get_parts(shapely.intersection(boxes, shape))
    parts = parts[(shapely.get_dimensions(parts) == 2) & (shapely.area(parts) >= MIN_M2)]
    plain = shapely.area(shapely.convex_hull(parts)) - shapely.area(parts) < MIN_M2
    plain &= shapely.get_num_coordinates(parts) - 1 <= CORNERS
    triangles = shapely.constrained_delaunay_triangles(parts[~plain])
    triangles, of_part = shapely.get_parts(triangles, return_index=True)
    order = np.concatenate((np.flatnonzero(plain), np.flatnonzero(~plain)[of_part]))
    pieces = np.concatenate((parts[plain], triangles))[np.argsort(order, kind="stable")]
    return list(shapely.orient_polygons(pieces[shapely.area(pieces) >= MIN_M2]))


def _lines(low: float, high: float, fixed: Sequence[float] = ()) -> list[float]:
    """Fixed lines, and as many between them that no gap is wider than an element."""
    lines = [low]
    for start, end in pairwise(sorted({low, high, *(line for line in fixed if low < line < high)})):
        count = max(1, math.ceil((end - start) / ELEMENT_M - 1e-9))
        lines += np.linspace(start, end, count + 1)[1:].tolist()
    return lines


def _in_plan(room: Room, surface: int, ring: Floats) -> Floats:
    """An element's ring from its surface's plane in the plan frame, counter-clockwise inside."""
    if surface == 0:
        return np.insert(ring, 2, room.floor, axis=1)
    if surface == 1:
        return np.insert(ring[::-1], 2, room.floor + room.height, axis=1)
    first, along = map(np.array, room.wall_way(wall_letter(surface - 2)))
    # From inside the wall runs from right to left.
    return np.column_stack((first + ring[:, :1] * along, room.floor + ring[:, 1]))[::-1]


def _reveal_elements(index: int, opening: Aperture) -> Iterator[_Element]:
    """An opening's four sides and its glass, counter-clockwise from inside."""
    inner, outer = opening.world(opening.rectangle), opening.glass_corners()
    middle = (inner.mean(axis=0) + outer.mean(axis=0)) / 2
    quads = [
        (False, np.array([inner[k], inner[(k + 1) % 4], outer[(k + 1) % 4], outer[k]]), REVEAL_M)
        for k in range(4)
    ]
    for glass, quad, deep_m in (*quads, (True, outer, ELEMENT_M)):
        normal = np.cross(quad[1] - quad[0], quad[3] - quad[0])
        if normal @ (middle - quad.mean(axis=0)) < 0:
            quad = quad[[1, 0, 3, 2]]
        columns = max(1, math.ceil(math.dist(quad[0], quad[1]) / ELEMENT_M - 1e-9))
        rows = max(1, math.ceil(max(math.dist(quad[0], quad[3]), 1e-9) / deep_m - 1e-9))
        a = (np.arange(columns + 1) / columns)[:, None]
        b = (np.arange(rows + 1) / rows)[:, None]
        low, high = (1 - a) * quad[0] + a * quad[1], (1 - a) * quad[3] + a * quad[2]
        points = (1 - b) * low[:, None] + b * high[:, None]  # (columns + 1, rows + 1, 3)
        for i in range(columns):
            for j in range(rows):
                ring = [points[i, j], points[i + 1, j], points[i + 1, j + 1], points[i, j + 1]]
                yield _Element(np.array(ring), reveal_of=index, glass=glass)
