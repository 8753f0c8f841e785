"""The sky over a mark: from which parts of it sun would reach the mark, and through which opening.

Every place of the sky is asked as if the sun stood there, by the same test as a date's moments
(`room/entry.py`). A place is how many degrees it is off straight up, toward the right and the up
of the plan: altitudes are evenly spaced rings, and the dome lies as the plan does.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from ..location.model import Mark, Room
from ..location.read import Location
from ..sun.local_time import day_span
from ..sun.position import Floats
from ..sun.search import Bools
from ..sun.track import track_over
from .beam import beam_of
from .mark_hits import touches
from .obstructions import block_prism, skyline_altitude_deg

STEP_DEG = 0.75  # between the places that are asked
UP_DEG = 90.0
EDGE_PARTS = 24  # of a block's edge, which is bent on the dome
LOWEST_DEG = -45.0  # what is seen farther down stays outside the dome anyhow
WAY_STEP_S = 600.0
NEAR_DAYS = 6  # of the solstice: its way is the same on the dome


@dataclass(frozen=True, eq=False)
class SunPath:
    """The sun's way over a date, while its middle stands over the level.

    `moments` (T,) are seconds since 1970 UTC, `points` (T, 2) places on the dome, degrees.
    """

    date: date
    moments: Floats
    points: Floats


@dataclass(frozen=True, eq=False)
class SkyDome:
    """What a mark sees of the sky.

    `reached_through[name][j, i]`: sun at the place (`grid[i]`, `grid[j]`), degrees, reaches the
    mark through that opening. `blocks` are the outlines of the blocks outside by name, as seen from
    the mark's middle, `skyline` (S, 2) the far horizon all round, both as places on the dome.
    """

    room: Room
    mark: Mark
    grid: Floats
    reached_through: dict[str, Bools]
    blocks: dict[str, BaseGeometry]
    skyline: Floats


def dome_points(bearing_deg: Floats, altitude_deg: Floats, *, plan_up_deg: float) -> Floats:
    """Directions as places on the dome: degrees off straight up, toward the plan's right and up.

    Parameters
    ----------
    bearing_deg, altitude_deg : true bearings and altitudes, each (N,).
    plan_up_deg : true bearing of the plan's up.

    Returns
    -------
    Shape (N, 2).

    Examples
    --------
    >>> dome_points(np.array([90.0, 180.0]), np.array([0.0, 60.0]), plan_up_deg=0.0).round(6) + 0.0
    array([[ 90.,   0.],
           [  0., -30.]])
    """
    off, angle = UP_DEG - altitude_deg, np.radians(bearing_deg - plan_up_deg)
    return np.stack((off * np.sin(angle), off * np.cos(angle)), axis=-1)


def _vectors(spots: Floats) -> Floats:
    """Places (N, 2) as unit vectors in the plan frame, (N, 3)."""
    off, angle = np.radians(np.hypot(*spots.T)), np.arctan2(spots[:, 0], spots[:, 1])
    flat = np.sin(off)
    return np.stack((flat * np.sin(angle), flat * np.cos(angle), np.cos(off)), axis=-1)


def sky_dome(location: Location, room: Room, mark: Mark) -> SkyDome:
    """The sky over one mark of a room, asked every `STEP_DEG`."""
    up = location.site.plan_up
    half = int(UP_DEG / STEP_DEG)
    grid = np.linspace(-UP_DEG, UP_DEG, 2 * half + 1)
    spots = np.stack(np.meshgrid(grid, grid), axis=-1).reshape(-1, 2)
    bearing = np.degrees(np.arctan2(spots[:, 0], spots[:, 1])) + up
    altitude = UP_DEG - np.hypot(*spots.T)
    line = skyline_altitude_deg(location.skyline, bearing % 360.0)
    seen = np.flatnonzero((altitude > 0.0) & (altitude > line))
    suns = _vectors(spots[seen])
    beam = beam_of(location, room)
    through = {}
    for index, opening in enumerate(beam.apertures):
        passing = np.flatnonzero(beam.passes(index, suns))
        holds = np.zeros(len(spots), dtype=bool)
        holds[seen[passing]] = touches(beam, index, [mark], suns[passing])[0]
        through[opening.name] = holds.reshape(len(grid), len(grid))
    around = np.arange(0.0, 360.0)
    return SkyDome(
        room=room,
        mark=mark,
        grid=grid,
        reached_through=through,
        blocks=_blocks(location, room, mark),
        skyline=dome_points(around, skyline_altitude_deg(location.skyline, around), plan_up_deg=up),
    )


def sun_path(location: Location, day: date) -> SunPath:
    """The sun's way over a local date, its whole hours among the moments.

    >>> from sunplan import read
    >>> path = sun_path(read("locations/lock-house.toml"), date(2027, 3, 20))
    >>> path.points.shape, float(np.hypot(*path.points.T).min().round())  # 90 less 38 by noon
    ((73, 2), 52.0)
    """
    start, end = day_span(day, location.timezone)
    sun = track_over(location, start, end).above_horizon(np.arange(start, end, WAY_STEP_S))
    spots = dome_points(sun.bearing_deg, sun.altitude_deg, plan_up_deg=location.site.plan_up)
    return SunPath(day, sun.unix_s, spots)


def sun_paths(location: Location, day: date) -> list[SunPath]:
    """A date's way, then those of 21 June and 21 December of its year.

    Either is left out within `NEAR_DAYS` of the date: it would lie upon it.
    """
    others = (date(day.year, 6, 21), date(day.year, 12, 21))
    far = [other for other in others if abs((other - day).days) > NEAR_DAYS]
    return [sun_path(location, date_) for date_ in (day, *far)]


def _blocks(location: Location, room: Room, mark: Mark) -> dict[str, BaseGeometry]:
    """Outlines of all blocks on the dome as seen from a mark's middle, cut off at the horizon."""
    eye = np.array([*mark.at, room.floor + sum(mark.height) / 2])
    sky = shapely.Point(0.0, 0.0).buffer(UP_DEG, quad_segs=90)
    outlines = {}
    for outside in location.outside:
        prism = block_prism(outside)
        foot, top = (np.insert(prism.corners, 2, z, axis=1) for z in (prism.low, prism.high))
        faces = [foot, top]
        for start in range(len(foot)):
            end = (start + 1) % len(foot)
            faces.append(np.array([foot[start], foot[end], top[end], top[start]]))
        shapes = [shapely.Polygon(_seen(corners - eye)) for corners in faces]
        whole = shapely.union_all([shapely.make_valid(shape) for shape in shapes])
        outlines[outside.name] = whole.intersection(sky)
    return outlines


def _seen(corners: Floats) -> Floats:
    """A flat shape's outline on the dome, (N, 2), its corners (K, 3) off the eye."""
    share = np.linspace(0.0, 1.0, EDGE_PARTS, endpoint=False)[:, None]
    edges = zip(corners, np.roll(corners, -1, axis=0), strict=True)
    ring = np.concatenate([start + share * (end - start) for start, end in edges])
    altitude = np.degrees(np.arctan2(ring[:, 2], np.hypot(ring[:, 0], ring[:, 1])))
    bearing = np.degrees(np.arctan2(ring[:, 0], ring[:, 1]))
    return dome_points(bearing, np.maximum(altitude, LOWEST_DEG), plan_up_deg=0.0)
