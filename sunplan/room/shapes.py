"""Polygons many at a time: shapely's operations as the beam needs them."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..sun.position import Floats
from ..sun.search import Indices

SNAP_M = 1e-6  # grid on which pieces are joined
FINE_M = 1e-8  # grid of cuts: it keeps slivers of rounding from breaking them
SLIVER_M2 = 1e-9  # less is the rounding of a shadow edge that runs along another
POLYGONS = (3, 6)  # shapely's numbers of Polygon and MultiPolygon
UNIT_POINTS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])  # their images define an affine map

Shapes = np.ndarray[tuple[int], np.dtype[np.object_]]  # shapely geometries


def overlaps(first: Shapes, second: Shapes, *, grid_m: float | None = None) -> Shapes:
    """Where shapes overlap pair by pair, (N,): polygons only, empty where they merely touch.

    >>> boxes = np.array([shapely.box(0, 0, 1, 1)] * 2)
    >>> others = np.array([shapely.box(0.5, 0, 2, 1), shapely.box(1, 0, 2, 1)])
    >>> shapely.area(overlaps(boxes, others))
    array([0.5, 0. ])
    """
    shapes: Shapes = shapely.intersection(first, second, grid_size=grid_m)
    for row in np.flatnonzero(~np.isin(shapely.get_type_id(shapes), POLYGONS)):
        shapes[row] = polygons_only(shapes[row])
    return shapes


def polygons_only(shape: BaseGeometry) -> BaseGeometry:
    """A shape without its points and lines.

    >>> mixed = shapely.union_all([shapely.box(0, 0, 1, 1), shapely.Point(5, 5)])
    >>> polygons_only(mixed).geom_type, polygons_only(shapely.Point(5, 5)).is_empty
    ('Polygon', True)
    """
    if shapely.get_type_id(shape) in POLYGONS:
        return shape
    parts = shapely.get_parts(shape)
    return shapely.union_all(parts[shapely.area(parts) > 0])


def joined(shapes: Shapes, groups: Indices, count: int, *, grid_m: float | None = SNAP_M) -> Shapes:
    """The union of the shapes of each group.

    Parameters
    ----------
    shapes, groups : shapely geometries (N,), and the group that each belongs to, 0 to `count` − 1.
    count : how many groups there are.
    grid_m : on which corners are rounded; None for not at all.

    Returns
    -------
    Shape (count,); empty for a group without any.

    Examples
    --------
    >>> boxes = np.array([shapely.box(0, 0, 1, 1), shapely.box(1, 0, 3, 1)])
    >>> shapely.area(joined(boxes, np.array([1, 1]), 2))
    array([0., 3.])
    """
    order = np.argsort(groups, kind="stable")
    sizes = np.bincount(groups, minlength=count)
    columns = np.arange(len(order)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    table = np.full((count, int(sizes.max(initial=0))), None, dtype=np.object_)
    table[groups[order], columns] = shapes[order]
    return shapely.union_all(table, grid_size=grid_m, axis=1)  # type: ignore[no-any-return]


def affine(images: Floats) -> Floats:
    """Matrices of affine maps (N, 3, 2), from the images of `UNIT_POINTS`, (N, 3, 2).

    A point p goes to `[*p, 1] @ matrix`.
    """
    zero = images[:, 0]
    return np.stack((images[:, 1] - zero, images[:, 2] - zero, zero), axis=1)


def mapped(shapes: Shapes, matrices: Floats) -> Shapes:
    """Shapes (N,), each through its own affine map (N, 3, 2).

    >>> halved = affine(0.5 * UNIT_POINTS[None])
    >>> mapped(np.array([shapely.box(0, 0, 2, 2)]), halved)[0].bounds
    (0.0, 0.0, 1.0, 1.0)
    """
    points, rows = shapely.get_coordinates(shapes, return_index=True)
    moved = np.einsum("pi,pij->pj", np.insert(points, 2, 1.0, axis=1), matrices[rows])
    return shapely.set_coordinates(shapes.copy(), moved)  # type: ignore[no-any-return]
