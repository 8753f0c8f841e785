"""The rays that a flag must stop: from the sun's whole disk, or from a whole opening, to a mark.

All rays of a kind are named by two parameters or three: of the sun's, where on the band that its
disk draws over the sky they come from, and how far the plan is turned; of an opening's, where on
the mark's skin they end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from shapely import Polygon

from ..light.distinct_rows import distinct_rows
from ..location.model import Mark
from ..location.read import Location
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.mark_hits import rays_meet, rays_to, touches
from ..room.obstructions import above_skyline
from ..room.shapes import Shapes
from ..sun.position import DISK_DEG, Directions, Floats
from ..sun.search import Indices
from ..sun.track import Track, track_over

STEP_S = 30.0  # between looks at the sun, at least
MOST_STEPS = 120  # more looks than these choose no smaller flag
RIM = 12  # points of the disk's rim, its middle besides
RATE_S = 60.0  # over which the sun's path is taken as straight
RING_M = 0.02  # between points of a mark's side
LEVELS = 9  # heights, and rings at its ends, at which a mark is looked from
RADIUS = math.tan(math.radians(DISK_DEG / 2))  # of the disk, in parts of its distance
TURN_DEG_S = 360.0 / 86164.0  # no star, and so no sun, moves faster over the sky
FAR = 1e3  # times as far as a wall: what it hides goes on beyond all rooms
SLOT_M = 1e-6  # of a wall that is taken with an opening, to ask for areas


Bounds = tuple[Floats, Floats, Floats]  # least and greatest parameters (D,), between two looks


@dataclass(frozen=True, eq=False)
class Rays:
    """Rays (M) through one opening to one mark, in the plan frame.

    Attributes
    ----------
    points
        On the opening's inner face, (M, 3).
    toward
        Unit vectors to where the light comes from, (M, 3).
    which
        Row of the parameters that each ray has, (M,).
    """

    points: Floats
    toward: Floats
    which: Indices


@dataclass(frozen=True, eq=False)
class Bundle:
    """Rays (M) through one opening to one mark, as the corners of all there are.

    Whatever stops all corners of a moment with one flat convex shape stops every ray between them.

    Attributes
    ----------
    points, toward
        As of `Rays`, (M, 3).
    parameters
        What names each ray, (M, D).
    step
        Number of the moment that it belongs to, (M,).
    moments
        Seconds since 1970 UTC, (T,).
    start_s, end_s
        From when to when the light comes.
    """

    points: Floats
    toward: Floats
    parameters: Floats
    step: Indices
    moments: Floats
    start_s: float
    end_s: float

    def within(self, start_s: float, end_s: float) -> Bundle:
        """The rays of a stretch of time alone, seconds since 1970 UTC, its ends among them."""
        held = (self.moments >= start_s) & (self.moments <= end_s)
        kept = held[self.step]
        moments, step = self.moments[held], (np.cumsum(held) - 1)[self.step[kept]]
        rays = self.points[kept], self.toward[kept], self.parameters[kept]
        return Bundle(*rays, step, moments, start_s, end_s)

    @cached_property
    def headings(self) -> Floats:
        """The mean of the vectors to the light at each moment, (T, 3); not of unit length."""
        count = len(self.moments)
        rays = np.bincount(self.step, minlength=count)
        total = [np.bincount(self.step, axis, count) for axis in self.toward.T]
        return np.stack(total, axis=-1) / rays[:, None]

    def edges(self) -> Floats:
        """Where each moment's share of the time starts, and the last one's ends, s, (T + 1,)."""
        between = (self.moments[1:] + self.moments[:-1]) / 2
        return np.concatenate(([self.start_s], between, [self.end_s]))

    def spans(self) -> tuple[tuple[float, float], ...]:
        """Stretches of time in which there is any light, seconds since 1970 UTC."""
        if self.empty:
            return ()
        step = float(np.min(np.diff(self.moments), initial=np.inf))
        breaks = np.flatnonzero(np.diff(self.moments) > 1.5 * step)
        # Each look stands for half a step before and after it.
        starts = [self.start_s, *(self.moments[breaks + 1] - step / 2).tolist()]
        ends = [*(self.moments[breaks] + step / 2).tolist(), self.end_s]
        return tuple(zip(starts, ends, strict=True))

    @property
    def empty(self) -> bool:
        """Whether nothing gets to the mark."""
        return not len(self.points)


def _directions(times: Floats, enu: Floats) -> Directions:
    """Directions (N,) of vectors (N, 3) that need not have unit length."""
    enu = enu / np.linalg.norm(enu, axis=1, keepdims=True)
    return Directions(times, np.degrees(np.arcsin(np.clip(enu[:, 2], -1.0, 1.0))), enu)


def _rim(sky: Directions, radius_deg: float) -> Directions:
    """Middle and rim of the disk at each moment, one after another: (T · (RIM + 1),)."""
    side = np.cross([0.0, 0.0, 1.0], sky.enu)
    side /= np.maximum(np.linalg.norm(side, axis=1), 1e-12)[:, None]
    over = np.cross(sky.enu, side)
    angles = np.arange(RIM) * (2 * math.pi / RIM)
    reach = math.tan(math.radians(radius_deg))
    off = np.cos(angles)[:, None, None] * side + np.sin(angles)[:, None, None] * over
    disk = np.concatenate((sky.enu[None], sky.enu + reach * off)).transpose(1, 0, 2)
    return _directions(np.repeat(sky.unix_s, RIM + 1), disk.reshape(-1, 3))


@dataclass(frozen=True, eq=False)
class SunRays:
    """Rays from any point of the sun's disk to a mark through one opening, in an interval.

    A ray's parameters are a moment, and how far off the sun's path to its left, in half the disk's
    width. What of the disk runs ahead of the interval or behind it has moments of its own beyond
    it. Where the plan's bearing may be off, a third says by how much, in degrees.

    Attributes
    ----------
    location, room, index, mark
        The place, the room, which of its openings, and what is to stay clean.
    start_s, end_s
        The interval, seconds since 1970 UTC.
    error_deg
        By how much the plan's bearing may be off, ±.
    """

    location: Location
    room: Beam
    index: int
    mark: Mark
    start_s: float
    end_s: float
    error_deg: float = 0.0

    @cached_property
    def _track(self) -> Track:
        return track_over(self.location, self.start_s, self.end_s)

    @cached_property
    def bounds(self) -> Bounds:
        """Least and greatest parameters, and the steps of a net; a turn only where there may be."""
        first = self.start_s - self._half_width_s(self.start_s), -1.0, -self.error_deg
        last = self.end_s + self._half_width_s(self.end_s), 1.0, self.error_deg
        cell = 2.0 * self._half_step_s, 0.5, self._turn_deg
        count = 3 if self.error_deg else 2
        return np.array(first[:count]), np.array(last[:count]), np.array(cell[:count])

    @property
    def _turns_deg(self) -> Floats:
        """Turns of the plan that are looked at."""
        return np.linspace(-self.error_deg, self.error_deg, 2 * math.ceil(self.error_deg) + 1)

    @property
    def _turn_deg(self) -> float:
        """Between them."""
        return 2.0 * self.error_deg / max(1, len(self._turns_deg) - 1)

    def _half_width_s(self, moment_s: float) -> float:
        """How long the sun takes for half its width."""
        return RADIUS / float(np.linalg.norm(self._motion(np.array([moment_s]))[1]))

    def _motion(self, times: Floats) -> tuple[Floats, Floats, Floats]:
        """The sun's middle (N, 3) at moments, its speed a second, and the unit vector to the left.

        In east, north and up.
        """
        before, middle, after = (
            self._track.at(times + off, steady=True).enu for off in (-RATE_S / 2, 0.0, RATE_S / 2)
        )
        speed = (after - before) / RATE_S
        left = np.cross(middle, speed)
        return middle, speed, left / np.linalg.norm(left, axis=1, keepdims=True)

    def rays(self, parameters: Floats) -> Rays:
        """The corners of all rays that have parameters (N, D); some have none."""
        times = np.clip(parameters[:, 0], self.start_s, self.end_s)
        middle, speed, left = self._motion(times)
        over = (parameters[:, 0] - times)[:, None] * speed
        wide = np.sqrt(np.maximum(RADIUS**2 - (over**2).sum(axis=1), 0.0))
        enu = middle + over + (parameters[:, 1] * wide)[:, None] * left
        turns = parameters[:, 2] if self.error_deg else np.zeros(len(parameters))
        suns, kept = self._shining(_directions(times, enu), turns)
        shapes = rays_to(self.room, self.index, self.mark, suns)
        local, ray = shapely.get_coordinates(shapes, return_index=True)
        points = self.room.apertures[self.index].world(local)
        return Rays(points, suns[ray], kept[ray])

    def bundle(self) -> Bundle:
        """All rays, by the corners of a net over their parameters; empty where none gets there.

        The disk is drawn larger by what the sun moves in half a step, and its polygon goes round
        it: so nothing gets by between the looks.
        """
        step = (self.end_s - self.start_s) / MOST_STEPS
        if step > STEP_S:
            # First only when: so the looks that count lie closer, over just the time that matters.
            suns, moments = self._net()[:2]
            near = moments[touches(self.room, self.index, [self.mark], suns)[0]]
            if len(near):  # laid out turn by turn, so not in order
                first = max(self.start_s, near.min() - step)
                last = min(self.end_s, near.max() + step)
                return replace(self, start_s=first, end_s=last)._looks()
        return self._looks()

    def _looks(self) -> Bundle:
        suns, moments, parameters = self._net()
        shapes = rays_to(self.room, self.index, self.mark, suns, wrapped=True)
        local, ray = shapely.get_coordinates(shapes, return_index=True)
        kept, step = np.unique(moments[ray], return_inverse=True)
        half = self._half_step_s
        return Bundle(
            points=self.room.apertures[self.index].world(local),
            toward=suns[ray],
            parameters=parameters[ray],
            step=step,
            moments=kept,
            start_s=float(max(self.start_s, kept[0] - half)) if len(kept) else self.start_s,
            end_s=float(min(self.end_s, kept[-1] + half)) if len(kept) else self.start_s,
        )

    def _net(self) -> tuple[Floats, Floats, Floats]:
        """Vectors (N, 3) to points of the disk that may reach the mark, moments and parameters."""
        times = np.linspace(self.start_s, self.end_s, max(2, self._steps + 1))
        near_deg = self._half_step_s * TURN_DEG_S + self._turn_deg / 2
        # Steady: the limb of the sun rises between two looks, and the earlier must show it.
        disk = _rim(
            self._track.at(times, steady=True), (DISK_DEG / 2 + near_deg) / math.cos(math.pi / RIM)
        )
        count, turns = len(disk.unix_s), self._turns_deg
        suns, kept = self._shining(disk[np.tile(np.arange(count), len(turns))], turns.repeat(count))
        turn, kept = turns[kept // count], kept % count
        middle, speed, left = self._motion(times)
        look = kept // (RIM + 1)
        off = disk.enu[kept] - middle[look]
        ahead = (off * speed[look]).sum(axis=1) / (speed[look] ** 2).sum(axis=1)
        aside = (off * left[look]).sum(axis=1) / RADIUS
        parameters = np.stack((times[look] + ahead, aside, turn), axis=-1)
        return suns, disk.unix_s[kept], parameters[:, : len(self.bounds[0])]

    def _shining(self, disk: Directions, turns_deg: Floats) -> tuple[Floats, Indices]:
        """Those directions (N) that may reach the mark, in the plan, and which they are.

        Each with the plan turned by an angle of its own.
        """
        kept = np.flatnonzero(above_skyline(self.location.skyline, disk))
        suns = disk[kept].plan(self.location.site.plan_up + turns_deg[kept])
        passes = self.room.passes(self.index, suns)
        room, floor_m = self.room, self.room.room.floor
        passes[passes] = rays_meet(room.apertures[self.index], [self.mark], floor_m, suns[passes])[
            0
        ]
        return suns[passes], kept[passes]

    @property
    def _half_step_s(self) -> float:
        return (self.end_s - self.start_s) / max(1, self._steps) / 2

    @property
    def _steps(self) -> int:
        return min(MOST_STEPS, math.ceil((self.end_s - self.start_s) / STEP_S))


@dataclass(frozen=True, eq=False)
class AllRays:
    """Rays through the glass and the inner face of an opening to a mark, from wherever outside.

    A ray's parameters are how far over the mark's skin it ends: from the middle of its lower end,
    0, to that end's rim, 1, to the upper end's rim, 2, and to that end's middle, 3; and how far
    round it, in metres.

    Attributes
    ----------
    room, index, mark
        The room, which of its openings, and what is to stay clean.
    start_s, end_s
        When it must, seconds since 1970 UTC.
    """

    room: Beam
    index: int
    mark: Mark
    start_s: float
    end_s: float

    @property
    def bounds(self) -> Bounds:
        """Least and greatest parameters, and the steps of a net; round the mark there is no end."""
        cell = 1.0 / (LEVELS - 1), RING_M
        return np.array([0.0, -np.inf]), np.array([3.0, np.inf]), np.array(cell)

    def bundle(self) -> Bundle:
        """All rays, by the corners of a net over their parameters; all at one moment."""
        ring = self.room.bodies[self.mark.name].exterior
        share = np.concatenate(([0.0, 0.5], np.linspace(1.0, 2.0, LEVELS), [2.5, 3.0]))
        round_ = np.linspace(0.0, ring.length, math.ceil(ring.length / RING_M), endpoint=False)
        parameters = np.stack([axis.ravel() for axis in np.meshgrid(share, round_)], axis=-1)
        rays = self.rays(parameters)
        count = len(rays.points)
        return Bundle(
            points=rays.points,
            toward=rays.toward,
            parameters=parameters[rays.which],
            step=np.zeros(count, dtype=np.intp),
            moments=np.array([self.start_s] if count else []),
            start_s=self.start_s,
            end_s=self.end_s,
        )

    def rays(self, parameters: Floats) -> Rays:
        """The corners of all rays that have parameters (N, 2)."""
        opening, body = self.room.apertures[self.index], self._skin(parameters)
        # Seen from each point of the mark, the glass lies somewhere on the face's plane.
        toward = opening.glass_corners() - body[:, None]
        reach = ((opening.origin - body) @ opening.outward)[:, None] / (toward @ opening.outward)
        off = body[:, None] + reach[..., None] * toward - opening.origin
        seen = np.stack((off @ opening.across, off @ opening.up), axis=-1)
        hulls = shapely.convex_hull(shapely.linestrings(seen))
        shapes = shapely.intersection(hulls, Polygon(opening.rectangle))
        if not self.room.convex:
            shapes = shapely.intersection(shapes, _seen_parts(self.room, opening, body))
        local, which = shapely.get_coordinates(shapes, return_index=True)
        points = opening.world(local)
        toward = points - body[which]
        toward /= np.linalg.norm(toward, axis=1, keepdims=True)
        return Rays(points, toward, which)

    def _skin(self, parameters: Floats) -> Floats:
        """Points of the mark's skin that have parameters (N, 2), (N, 3)."""
        ring = self.room.bodies[self.mark.name].exterior
        middle = np.array(ring.coords)[:-1].mean(axis=0)
        over, round_ = parameters.T
        rim = shapely.get_coordinates(shapely.line_interpolate_point(ring, round_ % ring.length))
        flat = middle + np.minimum(1.0, np.minimum(over, 3.0 - over))[:, None] * (rim - middle)
        low, high = self.mark.height
        level = self.room.room.floor + low + np.clip(over - 1.0, 0.0, 1.0) * (high - low)
        return np.insert(flat, 2, level, axis=1)


RayFamily = SunRays | AllRays


def _seen_parts(room: Beam, opening: Aperture, body: Floats) -> Shapes:
    """What points (K, 3) see of an opening past the walls, in its plane, (K,)."""
    outline = np.array(room.room.outline)
    hole = opening.world(opening.rectangle)[:, :2]
    if opening.wall is not None:  # on the plan it is a line, and is taken as wide as a hair
        hole = np.concatenate((hole[:2], hole[1::-1] + SLOT_M * opening.outward[:2]))
    first_at, which = distinct_rows(body[:, :2])
    flat = body[first_at, :2]
    seen = np.full(len(flat), Polygon(hole), dtype=np.object_)
    for wall, first in enumerate(outline):
        if wall == opening.wall:
            continue
        second = outline[(wall + 1) % len(outline)]
        inward = np.array([first[1] - second[1], second[0] - first[0]])
        if min(((hole - first) @ inward).min(), ((flat - first) @ inward).min()) > -1e-9:
            continue  # all on one side of it
        ends = np.broadcast_to(np.array([first, second]), (len(flat), 2, 2))
        beyond = ends + FAR * (ends - flat[:, None])
        hidden = shapely.convex_hull(shapely.linestrings(np.concatenate((ends, beyond), axis=1)))
        seen = shapely.difference(seen, hidden)
    second = (
        opening.up[:2] if opening.wall is None else opening.outward[:2] * opening.height / SLOT_M
    )
    axes = np.stack((opening.across[:2], second), axis=-1)
    shapes = shapely.transform(seen, lambda points: (points - opening.origin[:2]) @ axes)
    return shapes[which]  # type: ignore[no-any-return]
