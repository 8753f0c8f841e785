"""The rays that a flag must stop: from the sun's whole disk, or from a whole opening, to a mark."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

from ..location.model import Mark
from ..location.read import Location
from ..room import sight
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.entry import track_over
from ..room.outside import above_skyline
from ..sun.position import DISK_DEG, Directions, Floats

STEP_S = 20.0  # between looks at the sun, at least
MOST_STEPS = 200  # more looks than these make no smaller flag
RIM = 12  # points of the disk's rim, its middle besides
SLICES = 32  # of an opening each way, where walls hide a part of it
RING_M = 0.012  # between points of a mark's side
LEVELS = 15  # heights, and rings at its ends, at which a mark is looked from
TURN_DEG_S = 360.0 / 86164.0  # no star, and so no sun, moves faster over the sky


@dataclass(frozen=True, eq=False)
class Bundle:
    """Rays through one opening to one mark, as the corners of all there are.

    `points` (M, 3) lie on the opening's inner face, `toward` (M, 3) are unit vectors to where the
    light comes from, both in the plan frame; `step` (M,) numbers the moment a ray belongs to and
    `moments` (T,) are those moments, seconds since 1970 UTC. The light comes from `start_s` to
    `end_s`. Whatever stops all corners of a moment with one flat convex shape stops every ray
    between them.
    """

    points: Floats
    toward: Floats
    step: np.ndarray[tuple[int], np.dtype[np.intp]]
    moments: Floats
    start_s: float
    end_s: float

    @cached_property
    def headings(self) -> Floats:
        """The mean way to the light at each moment, (T, 3)."""
        count = len(self.moments)
        many = np.bincount(self.step, minlength=count)
        total = [np.bincount(self.step, way, count) for way in self.toward.T]
        return np.stack(total, axis=-1) / many[:, None]

    def edges(self) -> Floats:
        """Where each moment's share of the time starts, and the last one's ends, (T + 1,)."""
        between = (self.moments[1:] + self.moments[:-1]) / 2
        return np.concatenate(([self.start_s], between, [self.end_s]))

    def spans(self) -> tuple[tuple[float, float], ...]:
        """Stretches of time in which there is any light, seconds since 1970 UTC."""
        if self.empty:
            return ()
        gap = 1.5 * float(np.min(np.diff(self.moments), initial=np.inf))
        breaks = np.flatnonzero(np.diff(self.moments) > gap)
        starts = [self.start_s, *self.moments[breaks + 1].tolist()]
        ends = [*self.moments[breaks].tolist(), self.end_s]
        return tuple(zip(starts, ends, strict=True))

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
    step = (end_s - start_s) / MOST_STEPS
    if step > STEP_S:
        # First only when: so the looks that count lie closer, over just the time that matters.
        suns, moments = _suns(location, room, index, mark, start_s, end_s)
        near = moments[room.touches(index, [mark], suns)[0]]
        if len(near):
            start_s, end_s = max(start_s, near[0] - step), min(end_s, near[-1] + step)
    return _looks(location, room, index, mark, start_s, end_s)


def _suns(
    location: Location, room: Beam, index: int, mark: Mark, start_s: float, end_s: float
) -> tuple[Floats, Floats]:
    """Vectors (N, 3) to points of the disk that may reach the mark, and their moments (N,)."""
    times = np.linspace(start_s, end_s, max(2, _steps(start_s, end_s) + 1))
    half_step_s = _half_step_s(start_s, end_s)
    radius = (DISK_DEG / 2 + half_step_s * TURN_DEG_S) / math.cos(math.pi / RIM)
    disk = _rim(track_over(location, start_s, end_s).at(times), radius)
    disk = disk[above_skyline(location.skyline, disk)]
    suns = disk.plan(location.site.plan_up)
    passes = room.passes(index, suns)
    passes[passes] = room.may_touch(index, [mark], suns[passes])[0]
    return suns[passes], disk.unix_s[passes]


def _half_step_s(start_s: float, end_s: float) -> float:
    return (end_s - start_s) / max(1, _steps(start_s, end_s)) / 2


def _steps(start_s: float, end_s: float) -> int:
    return min(MOST_STEPS, math.ceil((end_s - start_s) / STEP_S))


def _looks(
    location: Location, room: Beam, index: int, mark: Mark, start_s: float, end_s: float
) -> Bundle:
    suns, moments = _suns(location, room, index, mark, start_s, end_s)
    half_step_s = _half_step_s(start_s, end_s)
    shapes = room.rays_to(index, mark, suns, wrapped=True)
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
    """Rays through the glass and the inner face of an opening to a mark, from wherever outside."""
    opening = room.apertures[index]
    body = _surface(room, mark)
    if not _sees(room, opening, body):
        body = body[:0]
    # Seen from each point of the mark, the glass lies somewhere on the face's plane.
    glass = opening.glass_corners()
    way = glass - body[:, None]
    reach = ((opening.origin - body) @ opening.outward)[:, None] / (way @ opening.outward)
    off = body[:, None] + reach[..., None] * way - opening.origin
    seen = np.stack((off @ opening.across, off @ opening.up), axis=-1)
    hulls = shapely.convex_hull(
        shapely.multipoints(seen.reshape(-1, 2), indices=np.repeat(np.arange(len(body)), 4))
    )
    shapes = shapely.intersection(hulls, Polygon(opening.rectangle))
    if not room.convex:
        shapes = shapely.intersection(shapes, _seen_parts(room, opening, body))
    local, ray = shapely.get_coordinates(shapes, return_index=True)
    points = opening.world(local)
    toward = points - body[ray]
    toward /= np.linalg.norm(toward, axis=1, keepdims=True)
    return Bundle(
        points=points,
        toward=toward,
        step=np.zeros(len(points), dtype=np.intp),
        moments=np.array([start_s] if len(points) else []),
        start_s=start_s,
        end_s=end_s,
    )


def _surface(room: Beam, mark: Mark) -> Floats:
    """Points all over a mark's volume: its side at several heights, and its two ends, (K, 3)."""
    # Close together: past the corner of a wall little is seen from here and much from there.
    ring = shapely.get_coordinates(shapely.segmentize(room.wraps[mark.name], RING_M))[:-1]
    middle = ring.mean(axis=0)
    ends = np.concatenate([middle + share * (ring - middle) for share in (0.0, 0.5, 1.0)])
    low, high = (room.room.floor + height for height in mark.height)
    levels = [np.insert(ring, 2, level, axis=1) for level in np.linspace(low, high, LEVELS)]
    return np.concatenate((*levels, *(np.insert(ends, 2, level, axis=1) for level in (low, high))))


def _seen_parts(
    room: Beam, opening: Aperture, body: Floats
) -> np.ndarray[tuple[int], np.dtype[np.object_]]:
    """A shape of an opening's plane in which lies all that points (K, 3) see of it past walls.

    Found on a grid, and drawn larger by a cell of it.
    """
    steps = SLICES, (1 if opening.wall is not None else SLICES)  # upright, all heights are alike
    sides = np.array([opening.width, opening.height])
    a, b = (np.linspace(0.0, side, many + 1) for side, many in zip(sides, steps, strict=True))
    grid = np.stack(np.meshgrid(a, b), axis=-1).reshape(-1, 2)
    flat, back = np.unique(body[:, :2], axis=0, return_inverse=True)
    ends = np.broadcast_to(opening.world(grid)[:, None, :2], (len(grid), len(flat), 2))
    clear = sight.clear(np.array(room.room.outline), opening.wall, flat, ends)
    cell = sides / steps
    shapes = shapely.convex_hull([shapely.MultiPoint(grid[seen]) for seen in clear.T])
    larger = shapely.buffer(shapes, float(cell.max()), quad_segs=4)
    return larger[back.ravel()]  # type: ignore[no-any-return]


def _sees(room: Beam, opening: Aperture, body: Floats) -> bool:
    """Whether any point of an opening has a free way to a mark on the plan."""
    share = np.linspace(0.02, 0.98, LEVELS)
    a, b = np.meshgrid(share * opening.width, share * opening.height)
    face = opening.world(np.stack((a.ravel(), b.ravel()), axis=-1))[:, None, :2]
    outline = np.array(room.room.outline)
    ends = np.broadcast_to(face, (len(face), len(body), 2))
    return bool(sight.clear(outline, opening.wall, body[:, :2], ends).any())
