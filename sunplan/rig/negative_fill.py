"""Negative fill: what a black panel of the kit does to the fill side, in this very room."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from ..light.daylight import Skies, Sky
from ..light.daylight_transfer import RoomTransfer
from ..light.face import FACE_POINTS, FaceLight, Faces, face_normals, faces, lamp_illuminance
from ..light.form_factors import solid_angle
from ..light.resolved import ResolvedSetup
from ..light.screen import Screen
from ..location.kit import Flag, Reflector, Stand
from ..location.read import Location
from ..sun.position import Floats

DISTANCES_M = (0.45, 0.6, 0.9, 1.2, 1.8)
BLACK = 0.04  # reflectance of a panel's black side; derived from 4 % cloth, from memory
FLOOR_GAP_M = 0.05


@dataclass(frozen=True, eq=False)
class Panel:
    """A panel square to the fill side at a distance, and what is left of the fill, lx.

    `stock` is a flag, or a folding reflector with a black side; `stand` carries it, if one does.
    """

    stock: Flag | Reflector
    stand: Stand | None
    screen: Screen
    distance_m: float
    fill_lux: float
    ratio: float
    clear_of_frame: bool


@dataclass(frozen=True, eq=False)
class Negative:
    """A setup's fill without and with panels, at one moment."""

    setup: ResolvedSetup
    sky: Sky
    before: FaceLight
    panels: tuple[Panel, ...]

    @property
    def best(self) -> Panel | None:
        """The first to take: out of frame, smallest, farthest away, that reaches the wanted ratio.

        None where none does, or no ratio is wanted.
        """
        wanted = self.setup.contrast
        if wanted is None:
            return None
        return min(
            (panel for panel in self.panels if panel.clear_of_frame and panel.ratio >= wanted),
            key=lambda panel: (math.prod(panel.stock.size), -panel.distance_m),
            default=None,
        )


def negative(
    location: Location,
    setup: ResolvedSetup,
    sky: Sky,
    *,
    room: Faces | None = None,
    passing: Floats | None = None,
) -> Negative:
    """Try every panel of the kit at every distance on a setup's fill side.

    Parameters
    ----------
    room
        The light of the setup's room, where it is worked out already.
    passing
        Share of its light that each opening is left, (O,); all of it when left out.

    Returns
    -------
    Negative
        The face's light without and with each panel that stands free in the room, its black side
        taken as diffuse with a reflectance of `BLACK`.
    """
    alone = faces(location, [setup])[0] if room is None else room
    index = alone.index(setup)
    skies = Skies((sky,))
    before = alone.illuminances(skies, passing)[index][0]
    mine = slice(index * FACE_POINTS, (index + 1) * FACE_POINTS)
    face, lamp, source = alone.transfer.points[mine][0], alone.lamp_lux[index], alone.sources[index]
    left, right = face_normals(setup.in_room, setup, face)[:2]
    deciding = alone.transfer.illuminance_lux(skies, passing)[0, mine] if source is None else lamp
    normal = right if deciding[0] > deciding[1] else left
    tried, behind, lamp_behind = _behind_panels(alone, index, *map(float, normal))
    if not tried:
        return Negative(setup, sky, before, ())
    lux = behind.illuminance_lux(skies, passing)[0] + lamp_behind
    kit, floor = setup.from_kit, setup.in_room.floor
    panels = []
    for row, (stock, screen, distance_m) in enumerate(tried):
        share = solid_angle(face[None], screen.corners()[None])[0, 0] / math.pi
        fill_lux = float(lux[row] + share * BLACK * lux[len(tried) + row])
        ratio = before.key_lux / fill_lux if fill_lux > 0 else math.inf
        bottom, top = (screen.heights - floor).tolist()
        stand = kit.stand_for(bottom, top, stock.weight)
        clear = not setup.view.shows(screen.corners())
        panels.append(Panel(stock, stand, screen, distance_m, fill_lux, ratio, clear))
    return Negative(setup, sky, before, tuple(panels))


@lru_cache(maxsize=16)
def _behind_panels(
    room: Faces, index: int, *normal: float
) -> tuple[list[tuple[Flag | Reflector, Screen, float]], RoomTransfer, Floats]:
    """Panels before a side of a setup's face, and the light behind each: alike at every hour.

    Points are the face behind each panel, then each panel's own black side; with them what the
    key gives each. Kept, since a day asks for the same at many hours: most of `pack`'s time else.
    """
    setup, side = room.setups[index], np.array(normal)
    face = room.transfer.points[index * FACE_POINTS]
    tried = _placed(setup, face, side)
    if not tried:
        return [], room.transfer, np.zeros(0)
    screens = {row: screen for row, (_, screen, _) in enumerate(tried)}
    own = np.array([screen.centre - 1e-3 * side for screen in screens.values()]).reshape(-1, 3)
    points = np.concatenate((np.broadcast_to(face, own.shape), own))
    normals = np.repeat([side, -side], len(tried), axis=0)
    behind = room.transfer.traced.transfer_to(points, normals, screens)
    source = room.sources[index]
    lamp = np.zeros(len(points)) if source is None else lamp_illuminance(source, behind)
    return tried, behind, lamp


def _placed(
    setup: ResolvedSetup, face: Floats, normal: Floats
) -> list[tuple[Flag | Reflector, Screen, float]]:
    """Black panels of the kit at distances at which they stand free in the room, long side up."""
    room, kit = setup.in_room, setup.from_kit
    inside = shapely.Polygon(room.outline)
    black: list[Flag | Reflector] = [stock for stock in kit.reflector if "black" in stock.sides]
    across, up = np.array([-normal[1], normal[0], 0.0]), np.array([0.0, 0.0, 1.0])
    placed: list[tuple[Flag | Reflector, Screen, float]] = []
    for stock in [*kit.flag, *black]:
        width, height = sorted(stock.size)
        for distance in DISTANCES_M:
            middle = face + distance * normal
            # As much above the face as below it, if floor and ceiling let it.
            low = room.floor + FLOOR_GAP_M + height / 2
            high = room.floor + room.height - height / 2
            if low > high:
                continue
            centre = np.array([middle[0], middle[1], min(max(middle[2], low), high)])
            screen = Screen(centre, across, up, (width, height))
            plan = shapely.MultiPoint(screen.corners()[:, :2]).convex_hull
            if inside.contains(plan):
                placed.append((stock, screen, distance))
    return placed
