"""The rays that a flag must stop: from the sun's whole disk, or from a whole opening, to a mark."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from ..location.model import Mark
from ..location.read import Location
from ..room.beam import Beam
from ..room.entry import track_over
from ..room.outside import above_skyline
from ..sun.position import DISK_DEG, Directions, Floats

STEP_S = 20.0  # between looks at the sun, at least
MOST_STEPS = 200  # more looks than these make no smaller flag
RIM = 12  # points of the disk's rim, its middle besides
TURN_DEG_S = 360.0 / 86164.0  # no star, and so no sun, moves faster over the sky


@dataclass(frozen=True, eq=False)
class Bundle:
    """Rays through one opening to one mark, as the corners of all there are.

    `points` (M, 3) lie on the opening's inner face, `toward` (M, 3) are unit vectors to where the
    light comes from, both in the plan frame; `step` (M,) numbers the moment a ray belongs to and
    `moments` (T,) are those moments, seconds since 1970 UTC. The light comes from `start_s` to
    `end_s`. Whatever stops all corners of a
    moment with one flat convex shape stops every ray between them.
    """

    points: Floats
    toward: Floats
    step: np.ndarray[tuple[int], np.dtype[np.intp]]
    moments: Floats
    start_s: float
    end_s: float

    def edges(self) -> Floats:
        """Where each moment's share of the time starts, and the last one's ends, (T + 1,)."""
        between = (self.moments[1:] + self.moments[:-1]) / 2
        return np.concatenate(([self.start_s], between, [self.end_s]))

    @property
    def empty(self) -> bool:
        """Whether nothing gets to the mark."""
        return not len(self.points)


def _rim(sky: Directions, radius_deg: float) -> Directions:
    """Middle and rim of the disk at each moment, one after another: (T · (RIM + 1),)."""
    up = np.array([0.0, 0.0, 1.0])
    side = np.cross(up, sky.enu)
    side /= np.maximum(np.linalg.norm(side, axis=1), 1e-12)[:, None]
    over = np.cross(sky.enu, side)
    angles = np.arange(RIM) * (2 * math.pi / RIM)
    reach = math.tan(math.radians(radius_deg))
    off = reach * (
        np.cos(angles)[:, None, None] * side[None] + np.sin(angles)[:, None, None] * over[None]
    )
    enu = np.concatenate((sky.enu[None], sky.enu[None] + off))
    enu = (enu / np.linalg.norm(enu, axis=-1, keepdims=True)).transpose(1, 0, 2).reshape(-1, 3)
    altitude = np.degrees(np.arcsin(np.clip(enu[:, 2], -1.0, 1.0)))
    return Directions(np.repeat(sky.unix_s, RIM + 1), altitude, enu)


def sun_rays(
    location: Location, room: Beam, index: int, mark: Mark, *, start_s: float, end_s: float
) -> Bundle:
    """Rays from any point of the sun's disk to a mark through one opening, in an interval.

    The disk is drawn larger by what the sun moves in half a step, and its polygon goes round it:
    so nothing gets by between the looks.
    """
    found = _looks(location, room, index, mark, start_s, end_s)
    if found.empty:
        return found
    # Once more, closer, over just the time that matters.
    step = (end_s - start_s) / MOST_STEPS
    first = max(start_s, float(found.moments[0]) - step)
    last = min(end_s, float(found.moments[-1]) + step)
    return _looks(location, room, index, mark, first, last) if step > STEP_S else found


def _looks(
    location: Location, room: Beam, index: int, mark: Mark, start_s: float, end_s: float
) -> Bundle:
    steps = min(MOST_STEPS, math.ceil((end_s - start_s) / STEP_S))
    times = np.linspace(start_s, end_s, max(2, steps + 1))
    half_step_s = (times[1] - times[0]) / 2
    radius = (DISK_DEG / 2 + half_step_s * TURN_DEG_S) / math.cos(math.pi / RIM)
    disk = _rim(track_over(location, start_s, end_s).at(times), radius)
    disk = disk[above_skyline(location.skyline, disk)]
    suns = disk.plan(location.site.plan_up)
    passes = room.passes(index, suns)
    passes[passes] = room.may_touch(index, mark, suns[passes])
    suns, moments = suns[passes], disk.unix_s[passes]
    shapes = room.rays_to(index, mark, suns)
    local, ray = shapely.get_coordinates(shapes, return_index=True)
    kept, step = np.unique(moments[ray], return_inverse=True)
    points = room.apertures[index].world(local)
    return Bundle(
        points=points,
        toward=suns[ray],
        step=step,
        moments=kept,
        start_s=float(max(start_s, kept[0] - half_step_s)) if len(kept) else start_s,
        end_s=float(min(end_s, kept[-1] + half_step_s)) if len(kept) else start_s,
    )


def all_rays(room: Beam, index: int, mark: Mark, *, start_s: float, end_s: float) -> Bundle:
    """Rays from anywhere in an opening's inner face to a mark, walls between left aside."""
    opening = room.apertures[index]
    face = opening.world(opening.rectangle)
    ring = shapely.get_coordinates(room.bodies[mark.name])[:-1]
    body = np.concatenate([np.insert(ring, 2, room.room.floor + z, axis=1) for z in mark.height])
    points = np.repeat(face, len(body), axis=0)
    toward = points - np.tile(body, (len(face), 1))
    toward /= np.linalg.norm(toward, axis=1, keepdims=True)
    return Bundle(
        points=points,
        toward=toward,
        step=np.zeros(len(points), dtype=np.intp),
        moments=np.array([start_s]),
        start_s=start_s,
        end_s=end_s,
    )
