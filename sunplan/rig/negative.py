"""Negative fill: what a black panel of the kit does to the fill side, in this very room."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from ..light.daylight import Sky
from ..light.face import FaceLight, face_normals, faces, lamp_lux
from ..light.factors import solid_angle
from ..light.indoors import indoors
from ..light.screen import Screen
from ..location.kit import Flag, Kit
from ..location.model import Setup
from ..location.read import Location
from ..room.frame import view
from ..sun.position import Floats

DISTANCES_M = (0.45, 0.6, 0.9, 1.2, 1.8)
BLACK = 0.04  # reflectance of a panel's black side; derived from 4 % cloth, from memory
FLOOR_GAP_M = 0.05


@dataclass(frozen=True, eq=False)
class Panel:
    """A panel square to the fill side at a distance, and what is left of the fill, lx."""

    flag: Flag
    screen: Screen
    distance_m: float
    fill_lux: float
    ratio: float
    clear_of_frame: bool


@dataclass(frozen=True, eq=False)
class Negative:
    """A setup's fill without and with panels, at one moment."""

    setup: Setup
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
        fit = [one for one in self.panels if one.clear_of_frame and one.ratio >= wanted]

        def rank(one: Panel) -> tuple[float, float]:
            return one.flag.size[0] * one.flag.size[1], -one.distance_m

        return min(fit, key=rank, default=None)


def negative(location: Location, setup: Setup, sky: Sky) -> Negative:
    """Try every panel of the kit at every distance on a setup's fill side."""
    alone = faces(location, [setup])[0]
    before = alone.light(sky)[0]
    face, lamp = alone.room.points[0], alone.lamps[0]
    left, right = face_normals(alone.room.beam.room, setup, face)[:2]
    daylight = alone.room.lux(sky)
    deciding = daylight if alone.sources[0] is None else lamp
    normal = right if deciding[0] > deciding[1] else left
    tried = _placed(location, setup, face, normal)
    if not tried:
        return Negative(setup, sky, before, ())
    count = len(tried)
    points = np.concatenate(
        (np.tile(face, (count, 1)), [one.centre - 1e-3 * normal for _, one, _ in tried])
    )
    normals = np.concatenate((np.tile(normal, (count, 1)), np.tile(-normal, (count, 1))))
    screens = {row: screen for row, (_, screen, _) in enumerate(tried)}
    room = indoors(location, alone.room.beam, points, normals, screens)
    lux = room.lux(sky)
    source = alone.sources[0]
    if source is not None:
        lux = lux + lamp_lux(source, room)
    camera = view(alone.room.beam.room, setup)
    panels = []
    for row, (flag, screen, distance) in enumerate(tried):
        share = solid_angle(face[None], screen.corners()[None])[0, 0] / math.pi
        fill = float(lux[row] + share * BLACK * lux[count + row])
        panels.append(
            Panel(
                flag=flag,
                screen=screen,
                distance_m=distance,
                fill_lux=fill,
                ratio=before.key_lux / fill if fill > 0 else math.inf,
                clear_of_frame=not camera.holds(screen.corners()),
            )
        )
    return Negative(setup, sky, before, tuple(panels))


def _placed(
    location: Location, setup: Setup, face: Floats, normal: Floats
) -> list[tuple[Flag, Screen, float]]:
    """Panels of the kit at distances at which they stand free in the room, long side up."""
    room = location.room_named(setup.room)
    inside = shapely.Polygon(room.outline)
    kit: Kit = location.kit_of(setup)
    across, up = np.array([-normal[1], normal[0], 0.0]), np.array([0.0, 0.0, 1.0])
    found = []
    for flag in kit.flag:
        width, height = sorted(flag.size)
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
                found.append((flag, screen, distance))
    return found
