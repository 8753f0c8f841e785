"""Where direct sun falls in a room: patches on the floor and the walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..location.model import wall_letter
from ..sun.position import Floats
from ..sun.search import Bools, Indices
from .aperture import Aperture
from .beam import Beam
from .shapes import FINE_M, SNAP_M, UNIT_POINTS, affine, joined, mapped, overlaps, polygons_only
from .strips import strips

FLOOR = "floor"


@dataclass(frozen=True, eq=False)
class SunPatch:
    """Sunlight on one surface.

    `surface` is "floor" or a wall's letter; `shape` is in plan metres on the floor, and on a wall
    in metres along it from its first corner and above the floor. `opening` let it in. A ceiling
    never has one: direct sun only comes down.
    """

    surface: str
    opening: str
    shape: BaseGeometry

    @property
    def area_m2(self) -> float:
        """Sunlit area, m²."""
        return float(self.shape.area)


def sun_patches(beam: Beam, index: int, sun: Floats) -> list[list[SunPatch]]:
    """Where sun through one opening falls.

    Rays that pass the opening (`Beam.open_regions`) are mapped along the sun vector to the floor
    and to the wall at the far end of each strip of the room.

    Parameters
    ----------
    beam : the room.
    index : of the opening in `beam.apertures`.
    sun : unit vectors toward the sun in the plan frame, (N, 3).

    Returns
    -------
    For each vector its patches, floor first; an empty list where no sun passes.

    Examples
    --------
    >>> from sunplan import read
    >>> from sunplan.room.beam import beam_of
    >>> location = read("locations/gate-house.toml")
    >>> beam = beam_of(location, location.room[0])
    >>> out = beam.apertures[0].outward
    >>> before, behind = 0.8 * out + [0, 0, 0.6], -0.8 * out + [0, 0, 0.6]
    >>> rows = sun_patches(beam, 0, np.array([before, behind]))
    >>> [[patch.surface for patch in patches] for patches in rows]
    [['floor'], []]
    """
    opening = beam.apertures[index]
    rows: list[list[SunPatch]] = [[] for _ in sun]
    lit = np.flatnonzero((sun[:, 2] > 0) & opening.passes(sun))
    if not len(lit):
        return rows
    sun = sun[lit]
    cut = strips(beam.corners, sun).entered_from(opening)
    rays = cut.clip(beam.open_regions(index, sun)[cut.sun_rows], opening)
    entered = shapely.area(rays) > 0
    cut, rays = cut.of(entered), rays[entered]
    on_floor = mapped(rays, _floor_maps(beam, opening, sun)[cut.sun_rows])
    on_floor = overlaps(on_floor, shapely.polygons(cut.rings), grid_m=FINE_M)
    matrices, met = _wall_maps(beam, opening, cut.far, sun[cut.sun_rows])
    walls = cut.of(met)
    off = walls.rings[:, [0, 3]] - beam.corners[walls.far, None]
    along = np.einsum("mpk,mk->mp", off, beam.wall_vectors[walls.far])
    sides = shapely.box(along.min(axis=1), 0.0, along.max(axis=1), beam.room.height)
    on_wall = overlaps(mapped(rays[met], matrices[met]), sides, grid_m=FINE_M)
    # The floor is surface 0, walls go from 1.
    surfaces = np.concatenate((np.zeros(len(on_floor), dtype=np.intp), 1 + walls.far))
    keys = np.concatenate((cut.sun_rows, walls.sun_rows)) * (len(beam.corners) + 1) + surfaces
    known, groups = np.unique(keys, return_inverse=True)
    shapes = joined(np.concatenate((on_floor, on_wall)), groups, len(known))
    holes = _wall_holes(beam)
    for key, shape in zip(known.tolist(), shapes, strict=True):
        row, surface = divmod(key, len(beam.corners) + 1)
        hole = holes.get(surface - 1)
        whole = polygons_only(shape if hole is None else shape.difference(hole))
        if whole.area > SNAP_M:
            name = wall_letter(surface - 1) if surface else FLOOR
            rows[lit[row]].append(SunPatch(name, opening.name, whole))
    return rows


def _wall_holes(beam: Beam) -> dict[int, BaseGeometry]:
    """Openings in walls, in each wall's coordinates: light that meets one leaves the room."""
    boxes: dict[int, list[BaseGeometry]] = {}
    for opening in beam.apertures:
        if opening.wall is not None:
            off = opening.origin[:2] - beam.corners[opening.wall]
            along = float(off @ beam.wall_vectors[opening.wall])
            sill = float(opening.origin[2]) - beam.room.floor
            box = shapely.box(along, sill, along + opening.width, sill + opening.height)
            boxes.setdefault(opening.wall, []).append(box)
    return {wall: shapely.union_all(holes) for wall, holes in boxes.items()}


def _floor_maps(beam: Beam, opening: Aperture, sun: Floats) -> Floats:
    """Affine maps from an opening's plane to the floor along sun vectors, (N, 3, 2)."""
    points = opening.world(UNIT_POINTS)
    down = (points[:, 2] - beam.room.floor) / sun[:, 2, None]
    return affine(points[:, :2] - down[..., None] * sun[:, None, :2])


def _wall_maps(beam: Beam, opening: Aperture, walls: Indices, sun: Floats) -> tuple[Floats, Bools]:
    """The same to a wall each, (N, 3, 2), and whether the rays meet it at all, (N,)."""
    points = opening.world(UNIT_POINTS)
    way, first = beam.wall_vectors[walls], beam.corners[walls]
    outward = np.stack((way[:, 1], -way[:, 0]), axis=-1)
    toward = np.einsum("nk,nk->n", sun[:, :2], outward)
    met: Bools = toward <= -1e-12
    off = points[None, :, :2] - first[:, None]
    back = np.einsum("npk,nk->np", off, outward) / np.where(met, toward, -1.0)[:, None]
    hit = points - back[..., None] * sun[:, None]
    along = np.einsum("npk,nk->np", hit[..., :2] - first[:, None], way)
    return affine(np.stack((along, hit[..., 2] - beam.room.floor), axis=-1)), met
