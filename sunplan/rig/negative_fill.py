"""Negative fill: what a black panel of the kit does to the fill side, in this very room."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from ..light.daylight import Skies, Sky
from ..light.face import FACE_POINTS, FaceLight, Faces
from ..light.form_factors import solid_angle
from ..light.resolved import ResolvedSetup
from ..light.screen import Screen
from ..location.kit import Flag, Reflector, Stand
from ..sun.position import Floats

DISTANCES_M = (0.45, 0.6, 0.9, 1.2, 1.8)
BLACK = 0.04  # reflectance of a panel's black side; derived from 4 % cloth, from memory
FLOOR_GAP_M = 0.05


@dataclass(frozen=True, eq=False)
class Panel:
    """A black panel square to the fill side of a face.

    Attributes
    ----------
    stock, stand
        A flag, or a folding reflector with a black side; what carries it, None where nothing does.
    screen, distance_m
        Where it stands; from the face.
    fill_lux, ratio
        What is left on the fill side, and (key + fill) : fill.
    clear_of_frame
        Whether the camera does not see it.
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
    """A setup's fill at one moment without panels, `before`, and with each that has room."""

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
    room: Faces, setup: ResolvedSetup, sky: Sky, *, opening_shares: Floats | None = None
) -> Negative:
    """Try every panel of the kit at every distance on a setup's fill side.

    The key lamp is set to key, as the setup is shot. A panel's black side is taken as matt with a
    reflectance of `BLACK`.

    Parameters
    ----------
    room
        The light of the setup's room.
    setup, sky
        What is filmed, and the moment.
    opening_shares
        Share of its light that each opening is left, (O,); all of it when left out.

    Returns
    -------
    The face's light without panels and with each that stands free in the room.

    Raises
    ------
    ValueError
        If the setup is none of the room's.

    Examples
    --------
    >>> from sunplan import read
    >>> from sunplan.light.daylight import skies
    >>> from sunplan.light.face import faces
    >>> from sunplan.light.resolved import resolve
    >>> house = read("locations/lock-house.toml")
    >>> kettle, evening = resolve(house)[2], skies(house, [1805558400.0])[0]  # 17:00
    >>> fill = negative(*faces(house, [kettle]), kettle, evening)
    >>> fill.before.ratio < max(panel.ratio for panel in fill.panels)
    True
    """
    skies, index = Skies((sky,)), room.index(setup)
    by_opening = room.transfer.lux_by_opening(skies)
    at_full = room.illuminances(skies, opening_shares, lux_by_opening=by_opening)[index][0]
    daylight = room.transfer.illuminance_lux(skies, opening_shares, lux_by_opening=by_opening)
    first = index * FACE_POINTS
    sides = daylight[:, first : first + 2]
    side, key_share = int(room.fill_side(setup, sides)[0]), float(room.key_shares(setup, sides)[0])
    before = at_full.with_lamp(key_share, float(daylight[0, first + FACE_POINTS - 1]))
    face, normal = room.transfer.points[first], room.transfer.normals[first + side]
    placed = _placed(setup, face, normal)
    if not placed:
        return Negative(setup, sky, before, ())
    behind, lamp_lux = room.behind_screens(setup, side, [screen for _, screen, _ in placed])
    lux = behind.illuminance_lux(skies, opening_shares)[0] + key_share * lamp_lux
    kit, floor = setup.from_kit, setup.in_room.floor
    panels = []
    for row, (stock, screen, distance_m) in enumerate(placed):
        share = solid_angle(face[None], screen.corners()[None])[0, 0] / math.pi
        fill_lux = float(lux[row] + share * BLACK * lux[len(placed) + row])
        ratio = before.key_lux / fill_lux if fill_lux > 0 else math.inf
        bottom, top = (screen.heights - floor).tolist()
        stand = kit.stand_for(bottom, top, stock.weight)
        clear = not setup.view.shows(screen.corners())
        panels.append(Panel(stock, stand, screen, distance_m, fill_lux, ratio, clear))
    return Negative(setup, sky, before, tuple(panels))


def _placed(
    setup: ResolvedSetup, face: Floats, normal: Floats
) -> list[tuple[Flag | Reflector, Screen, float]]:
    """Black panels of the kit at distances at which they stand free in the room, long side up."""
    room, kit = setup.in_room, setup.from_kit
    black = (stock for stock in kit.reflector if "black" in stock.sides)
    stocks: list[Flag | Reflector] = [*kit.flag, *black]
    across, up = np.array([-normal[1], normal[0], 0.0]), np.array([0.0, 0.0, 1.0])
    upright: list[tuple[Flag | Reflector, Screen, float]] = []
    for stock in stocks:
        width, height = sorted(stock.size)
        # As much above the face as below it, if floor and ceiling let it.
        low = room.floor + FLOOR_GAP_M + height / 2
        high = room.floor + room.height - height / 2
        if low <= high:
            level = min(max(face[2], low), high)
            for distance_m in DISTANCES_M:
                centre = np.array([*(face + distance_m * normal)[:2], level])
                upright.append((stock, Screen(centre, across, up, (width, height)), distance_m))
    corners = np.array([screen.corners()[:, :2] for _, screen, _ in upright]).reshape(-1, 4, 2)
    plans = shapely.convex_hull(shapely.multipoints(corners))
    free = shapely.contains(shapely.Polygon(room.outline), plans)
    return [panel for panel, stands in zip(upright, free, strict=True) if stands]
