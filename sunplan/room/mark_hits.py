"""Does direct sun through an opening reach a mark, and by which rays?

A mark is an upright cylinder. Where nothing stands in the way the answer is a formula for many suns
at once; where a wall or an obstruction may, shapely cuts the rays.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from ..location.model import Mark
from ..sun.position import Floats
from ..sun.search import Bools
from . import convex
from .aperture import Aperture
from .beam import CIRCLE, Beam
from .shapes import FINE_M, SLIVER_M2, Shapes, joined, overlaps
from .sight_lines import unobstructed
from .strips import strips

PROBES = 8  # points of a mark's circle that are tried first


def touches(beam: Beam, index: int, marks: Sequence[Mark], sun: Floats) -> Bools:
    """Whether sun through an opening touches marks.

    Parameters
    ----------
    beam : the room.
    index : of the opening in `beam.apertures`.
    marks : some of the room's marks (M).
    sun : unit vectors toward the sun in the plan frame, (N, 3), that pass the opening.

    Returns
    -------
    Shape (M, N).

    Examples
    --------
    The ray from a mark's face through the middle of a window, and one that is far too steep:

    >>> from sunplan import read
    >>> from sunplan.room.beam import beam_of
    >>> location = read("locations/gate-house.toml")
    >>> beam = beam_of(location, location.room_named("porch"))
    >>> mark = beam.room.mark_named("on the step")
    >>> index = beam.index("porch front")
    >>> window = beam.apertures[index]
    >>> face = np.array([*mark.at, beam.room.floor + mark.face_height_m])
    >>> ray = window.world(np.array([window.width / 2, window.height / 2])) - face
    >>> suns = np.array([ray / np.linalg.norm(ray), 0.6 * window.outward + [0, 0, 0.8]])
    >>> touches(beam, index, [mark], suns)
    array([[ True, False]])
    """
    touched = rays_meet(beam.apertures[index], marks, beam.room.floor, sun)
    for row, mark in enumerate(marks):
        if beam.bodies[mark.name].is_empty:  # its place so far off that it left the room
            touched[row] = False
            continue
        unsure = np.flatnonzero(touched[row])
        if beam.in_plain_sight[index, mark.name]:
            unsure = unsure[beam.may_be_cut(index, sun[unsure])]
        unsure = unsure[~_surely_touches(beam, index, mark, sun[unsure])]
        if len(unsure):
            areas_m2 = shapely.area(rays_to(beam, index, mark, sun[unsure]))
            touched[row, unsure] = areas_m2 > SLIVER_M2
    return touched


def _surely_touches(beam: Beam, index: int, mark: Mark, sun: Floats) -> Bools:
    """Whether a ray gets to one of a few points of a mark, (N,); False proves nothing.

    A year of sun by the minute on marks behind a corner takes a quarter of the time with it.
    """
    opening = beam.apertures[index]
    ring = shapely.get_coordinates(beam.bodies[mark.name])[:: CIRCLE // PROBES]
    points = np.concatenate(
        [np.insert(ring, 2, beam.room.floor + height, axis=1) for height in mark.height]
    )
    met = _onto(opening, points, sun[:, None])
    region = opening.regions(sun)
    edges = np.roll(region, -1, axis=1) - region
    off = met[:, :, None] - region[:, None]
    sides = convex.cross(edges[:, None], off)
    reached: Bools = np.asarray((sides >= 0).all(axis=-1))
    ends = opening.world(met)
    if not beam.in_plain_sight[index, mark.name]:
        reached &= unobstructed(beam.corners, opening.wall, points[:, :2], ends[..., :2])
    for obstruction in beam.obstructions[index]:
        chosen = np.flatnonzero(obstruction.may_shade(sun) & reached.any(axis=1))
        reached[chosen] &= ~obstruction.prism.obstructs(ends[chosen], sun[chosen])
    return np.asarray(reached.any(axis=1))


def rays_to(beam: Beam, index: int, mark: Mark, sun: Floats, *, wrapped: bool = False) -> Shapes:
    """The rays of the sun through an opening that touch a mark.

    Parameters
    ----------
    beam, index, mark : the room, the opening's index in it, and one of its marks.
    sun : unit vectors toward the sun in the plan frame, (N, 3), that pass the opening.
    wrapped : by `Beam.wraps`, a little wider than the mark.

    Returns
    -------
    shapely shapes (N,) of the opening's plane, metres; empty where no ray does.

    Examples
    --------
    A mark well inside a window, the sun low before it, and so high that it lands on the floor:

    >>> from sunplan import read
    >>> from sunplan.room.beam import beam_of
    >>> location = read("locations/gate-house.toml")
    >>> beam = beam_of(location, location.room_named("watch room"))
    >>> out = beam.apertures[0].outward
    >>> suns = np.array([0.96 * out + [0, 0, 0.28], 0.6 * out + [0, 0, 0.8]])
    >>> shapely.area(rays_to(beam, 0, beam.room.mark[0], suns)).round(2)
    array([0.25, 0.  ])
    """
    opening = beam.apertures[index]
    body = (beam.wraps if wrapped else beam.bodies)[mark.name]
    regions = beam.open_regions(index, sun)
    if beam.in_plain_sight[index, mark.name]:
        ring = shapely.get_coordinates(body)[:-1]
        low, high = (
            _onto(opening, np.insert(ring, 2, beam.room.floor + height, axis=1), sun[:, None])
            for height in mark.height
        )
        return overlaps(regions, _swept(low, high[:, 0] - low[:, 0]))
    cut = strips(beam.corners, sun).entered_from(opening)
    parts = overlaps(np.full(len(cut.sun_rows), body), shapely.polygons(cut.rings), grid_m=FINE_M)
    standing = shapely.area(parts) > 0
    cut, parts = cut.of(standing), parts[standing]
    rays = cut.clip(regions[cut.sun_rows], opening)
    hidden = _shadows(beam, opening, mark, parts, sun[cut.sun_rows])
    touching = overlaps(rays, hidden, grid_m=FINE_M)
    kept = shapely.area(touching) > SLIVER_M2
    return joined(touching[kept], cut.sun_rows[kept], len(sun), grid_m=None)


def _shadows(beam: Beam, opening: Aperture, mark: Mark, parts: Shapes, sun: Floats) -> Shapes:
    """What parts (N,) of a mark's body hide of an opening's plane, each from its own sun: (N,)."""
    points, rows = shapely.get_coordinates(shapely.convex_hull(parts), return_index=True)
    heights = [np.insert(points, 2, beam.room.floor + height, axis=1) for height in mark.height]
    rows = np.tile(rows, 2)
    shadows = _onto(opening, np.concatenate(heights), sun[rows])
    order = np.argsort(rows, kind="stable")
    lines = shapely.linestrings(shadows[order], indices=rows[order])
    return shapely.convex_hull(lines)  # type: ignore[no-any-return]


def _swept(rings: Floats, shifts: Floats) -> Shapes:
    """What convex rings (N, K, 2) cover as they move by shifts (N, 2).

    Each edge bounds it from where the ring starts or where it ends, as the shift runs away from the
    edge or over it; where that changes, a corner's way does. Convex hulls say the same, but flags
    then take 1.4 times as long (8.0 s, not 5.7 s, over the demos and eight random rooms).
    """
    edges = np.roll(rings, -1, axis=1) - rings
    turned = convex.cross(rings, np.roll(rings, -1, axis=1)).sum(axis=1)
    ahead = convex.cross(edges, shifts[:, None]) * np.where(turned < 0, -1.0, 1.0)[:, None] < 0
    of_edge = np.stack((np.roll(ahead, 1, axis=1), ahead), axis=-1)
    corners = rings[:, :, None] + of_edge[..., None] * shifts[:, None, None]
    return shapely.polygons(corners.reshape(len(rings), 2 * rings.shape[1], 2))  # type: ignore[no-any-return]


def _onto(opening: Aperture, points: Floats, sun: Floats) -> Floats:
    """Points (..., 3) carried along rays (..., 3) to an opening's plane, (..., 2)."""
    off = points - opening.origin
    back = (off @ opening.outward) / (sun @ opening.outward)
    return np.stack(
        [off @ axis - back * (sun @ axis) for axis in (opening.across, opening.up)], axis=-1
    )


def rays_meet(opening: Aperture, marks: Sequence[Mark], floor_m: float, sun: Floats) -> Bools:
    """Whether rays of the sun that clear both apertures meet marks; walls and blocks left out.

    Parameters
    ----------
    opening, marks : of one room, M marks.
    floor_m : the room's floor above ground.
    sun : unit vectors toward the sun in the plan frame, (N, 3), that pass the opening.

    Returns
    -------
    Shape (M, N).
    """
    if opening.wall is not None:
        return _through_wall(opening, marks, floor_m, sun)
    return _through_ceiling(opening, marks, floor_m, sun)


def _through_wall(opening: Aperture, marks: Sequence[Mark], floor_m: float, sun: Floats) -> Bools:
    """Windows.

    A ray from the spot x along the wall and y into the room off the mark's middle, at height h,
    meets the opening's plane at a = x + (D + y) k along it and h + (D + y) q up, where D is how far
    in the mark stands. Which y the heights allow, and how near to the middle x can be for the best
    of them, decides.
    """
    out = sun @ opening.outward
    across, rise = (sun @ opening.across) / out, sun[:, 2] / out
    spread = 1.0 + np.abs(across)
    sill = float(opening.origin[2]) - floor_m
    met = np.zeros((len(marks), len(sun)), dtype=bool)
    for row, mark in enumerate(marks):
        off = np.array([*mark.at, 0.0]) - opening.origin
        along, inward = float(off @ opening.across), -float(off @ opening.outward)
        radius = mark.width / 2
        lowest, highest = sill - mark.height[1], sill + opening.height - mark.height[0]
        # Most suns are far off: a rough look first.
        shift, reach = along + inward * across, radius * spread
        chosen = np.flatnonzero(
            (shift >= -reach)
            & (shift <= opening.width + reach)
            & ((inward + radius) * rise >= lowest)
            & ((inward - radius + opening.depth) * rise <= highest)
        )
        k, q = across[chosen], rise[chosen]
        shift = shift[chosen]
        left = np.maximum(0.0, -opening.depth * k) - shift
        right = np.minimum(opening.width, opening.width - opening.depth * k) - shift
        with np.errstate(divide="ignore"):
            nearest, farthest = lowest / q - inward, highest / q - opening.depth - inward
        y = k * np.minimum(np.maximum(left, 0.0), right) / (1.0 + k * k)
        y = np.minimum(np.maximum(y, nearest), farthest)
        x = np.minimum(np.maximum(left - k * y, 0.0), right - k * y)
        met[row, chosen] = (nearest <= farthest) & (x * x + y * y <= radius**2)
    return met


def _through_ceiling(
    opening: Aperture, marks: Sequence[Mark], floor_m: float, sun: Floats
) -> Bools:
    """Skylights: in the hole's plane the mark is a circle drawn out along the rays' lean."""
    lean = np.stack((sun @ opening.across, sun @ opening.up), axis=-1) / sun[:, 2:]
    size = np.array([opening.width, opening.height])
    ceiling = float(opening.origin[2]) - floor_m
    met = np.zeros((len(marks), len(sun)), dtype=bool)
    for row, mark in enumerate(marks):
        off = np.array([*mark.at, opening.origin[2]]) - opening.origin
        middle = np.array([off @ opening.across, off @ opening.up])
        radius = mark.width / 2
        start, end = (middle + (ceiling - height) * lean for height in mark.height)
        near = (np.maximum(start, end) >= -radius) & (np.minimum(start, end) <= size + radius)
        chosen = np.flatnonzero(near[:, 0] & near[:, 1])
        rays = start[chosen], end[chosen]
        if opening.slope.any():
            near_by = convex.near_segment(opening.regions(sun[chosen]), *rays, radius)
        else:
            shift = opening.depth * lean[chosen]
            box = np.maximum(-shift, 0.0), np.minimum(size - shift, size)
            near_by = convex.near_box(*rays, *box, radius)
        met[row, chosen] = near_by
    return met
