"""An opening as two apertures: the inner face, and the glass at the end of a straight reveal.

The inner face is a rectangle in a plane of its own: `origin + a·across + b·up`, with a from 0 to
its width and b from 0 to its height. A sun ray is named by the point (a, b) at which it crosses
that plane; everything behind it (patch, mark, flag) is a map of such points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..location.geometry import hole_corners
from ..location.model import NobodyOutside, Opening, Room
from ..sun.position import Floats
from ..sun.search import Bools
from . import convex


@dataclass(frozen=True, eq=False)
class Aperture:
    """One opening, in metres and the plan frame, z above ground.

    `wall` is the index of its wall, None in a ceiling. `origin` (3,) is a corner of the inner face,
    `across` and `up` (3,) the unit vectors along its sides, `outward` (3,) its normal; `width` and
    `height` its size, `depth` from there to the middle of the glass. `slope` (2,) is how the
    glass's distance from the inner face grows along a and b; zero but for a pitched roof window.

    Examples
    --------
    A window of one metre by one, its glass half a metre out, and suns straight before it, so far to
    the side that a quarter of its width is left, and farther than the reveal lets in:

    >>> opening = Opening(name="slot", wall="A", along=1, sill=1, size=(1, 1), depth=0.5)
    >>> room = Room(name="hut", outline=((0, 0), (4, 0), (4, 3), (0, 3)), height=2.5)
    >>> window = aperture(room, opening, plan_up_deg=0.0)
    >>> suns = np.array([[0.0, -1.0, 0.0], [1.5, -1.0, 0.0], [2.5, -1.0, 0.0]])
    >>> suns /= np.linalg.norm(suns, axis=1, keepdims=True)
    >>> window.passes(suns)
    array([ True,  True, False])
    >>> window.regions(suns[:2])[:, :, 0].round(2) + 0.0
    array([[0.  , 1.  , 1.  , 0.  ],
           [0.  , 0.25, 0.25, 0.  ]])
    """

    opening: Opening
    wall: int | None
    origin: Floats
    across: Floats
    up: Floats
    outward: Floats
    width: float
    height: float
    depth: float
    slope: Floats

    @property
    def name(self) -> str:
        """The opening's name."""
        return self.opening.name

    @property
    def rectangle(self) -> Floats:
        """Corners of the inner face in its own plane, (4, 2), metres."""
        w, h = self.width, self.height
        return np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])

    @property
    def nobody_outside(self) -> NobodyOutside | None:
        """Why nobody works outside before it; None where one can, by `Opening.nobody_outside`."""
        return self.opening.nobody_outside(float(self.origin[2]))

    @property
    def from_ground(self) -> bool:
        """Whether two people can work at it outside, standing."""
        return self.nobody_outside is None

    @property
    def ground_m(self) -> float:
        """What one stands on outside before it, metres above the plan's ground."""
        down_m = self.opening.to_ground
        return 0.0 if down_m is None else float(self.origin[2]) - down_m

    def world(self, local: Floats) -> Floats:
        """Points (..., 2) of the inner plane in the plan frame, (..., 3), metres."""
        return self.origin + local[..., :1] * self.across + local[..., 1:] * self.up

    def glass_corners(self) -> Floats:
        """Corners of the glass in the plan frame, (4, 3), metres, in order of `rectangle`."""
        local = self.rectangle
        out = self.depth + (local - [self.width / 2, self.height / 2]) @ self.slope
        return self.world(local) + out[:, None] * self.outward

    def glass_normal(self) -> Floats:
        """Unit normal of the glass, outward, (3,)."""
        corners = self.glass_corners()
        across = np.cross(corners[1] - corners[0], corners[3] - corners[0])
        outward: Floats = np.sign(across @ self.outward) * across / np.linalg.norm(across)
        return outward

    def to_glass(self, points: Floats, toward: Floats) -> Floats:
        """Where rays meet the glass's plane, whether or not within its edges.

        Parameters
        ----------
        points : of the inner face, (N, 3), metres.
        toward : unit vectors (N, 3) out of the room, not along the glass.

        Returns
        -------
        Points (N, 3), metres.
        """
        normal = self.glass_normal()
        middle = self.glass_corners().mean(axis=0)
        reach = ((middle - points) @ normal) / (toward @ normal)
        met: Floats = points + reach[:, None] * toward
        return met

    def _local(self, sun: Floats) -> tuple[Floats, Floats, Floats]:
        return sun @ self.across, sun @ self.up, sun @ self.outward

    def faces(self, sun: Floats) -> Bools:
        """Whether sun vectors (N, 3) come from before both the inner face and the glass, (N,)."""
        a, b, out = self._local(sun)
        before: Bools = (out > 0) & (out - a * self.slope[0] - b * self.slope[1] > 0)
        return before

    def _glass_preimage(self, sun: Floats) -> Floats:
        """Points of the inner plane whose rays meet the glass's corners, (N, 4, 2)."""
        a, b, out = self._local(sun)
        glass = self.rectangle
        way = (self.depth + (glass - [self.width / 2, self.height / 2]) @ self.slope) / out[:, None]
        return glass - way[..., None] * np.stack((a, b), axis=-1)[:, None]

    def passes(self, sun: Floats) -> Bools:
        """Whether any ray of sun vectors (N, 3) clears both apertures, (N,).

        Edges that merely touch let nothing through. What stands outside is not asked about.
        """
        if self.slope.any():
            holds = self.faces(sun)
            facing = sun[holds]
            holds[holds] = self._overlaps(self._glass_preimage(facing))
            return holds
        a, b, out = self._local(sun)
        within: Bools = (np.abs(a) < self.width / self.depth * out) & (
            np.abs(b) < self.height / self.depth * out
        )
        return within

    def _overlaps(self, glass: Floats) -> Bools:
        """Whether parallelograms (N, 4, 2) share any area with the inner face, (N,).

        They do unless a line along one of their sides parts the two (the separating axis theorem).
        """
        half = np.array([self.width, self.height]) / 2
        sides = [(glass[:, 1] - glass[:, 0]) / 2, (glass[:, 3] - glass[:, 0]) / 2]
        away = (glass[:, 0] + glass[:, 2]) / 2 - half
        reach_ab = half + np.abs(sides[0]) + np.abs(sides[1])
        met: Bools = np.asarray((np.abs(away) < reach_ab).all(axis=1))
        for along, other in (sides, sides[::-1]):
            normal = np.stack((-along[:, 1], along[:, 0]), axis=-1)
            reach = np.abs(normal) @ half + np.abs((normal * other).sum(axis=1))
            met &= np.abs((normal * away).sum(axis=1)) < reach
        return met

    def holds(self, points: Floats) -> Bools:
        """Whether points (N, 3) of the inner plane, metres, lie in the inner face, (N,)."""
        off = points - self.origin
        a, b = off @ self.across, off @ self.up
        inside: Bools = (a >= 0) & (a <= self.width) & (b >= 0) & (b <= self.height)
        return inside

    def clears(self, points: Floats, toward: Floats) -> Bools:
        """Whether single rays pass the glass.

        Parameters
        ----------
        points : where they start, of the inner face or the reveal, (N, 3), metres.
        toward : unit vectors along them, away from the room, (N, 3).

        Returns
        -------
        Shape (N,).
        """
        a, b, out = self._local(toward)
        off = points - self.origin
        local = np.stack((off @ self.across, off @ self.up), axis=-1)
        half = np.array([self.width, self.height]) / 2
        # Along the ray the glass comes nearer or farther as its slope says.
        ahead = self.depth + (local - half) @ self.slope - off @ self.outward
        rate = out - a * self.slope[0] - b * self.slope[1]
        with np.errstate(divide="ignore", invalid="ignore"):
            met = local + (ahead / rate)[:, None] * np.stack((a, b), axis=-1)
        inside: Bools = (rate > 0) & (out > 0) & (np.abs(met - half) <= half).all(axis=1)
        return inside

    def regions(self, sun: Floats) -> Floats:
        """Where the rays that clear both apertures cross the inner face.

        Parameters
        ----------
        sun : unit vectors toward the sun, (N, 3), that pass (`passes`).

        Returns
        -------
        Convex polygons in the inner face's plane, (N, V, 2), metres: V is 4, or 8 behind a pitched
        glass, where corners may repeat.
        """
        if not self.slope.any():
            a, b, out = self._local(sun)
            shift_a, shift_b = self.depth * a / out, self.depth * b / out
            left, right = np.maximum(0.0, -shift_a), np.minimum(self.width, self.width - shift_a)
            low, high = np.maximum(0.0, -shift_b), np.minimum(self.height, self.height - shift_b)
            return np.stack(
                (
                    np.stack((left, low), -1),
                    np.stack((right, low), -1),
                    np.stack((right, high), -1),
                    np.stack((left, high), -1),
                ),
                axis=1,
            )
        polygons = np.broadcast_to(self.rectangle, (len(sun), 4, 2))
        glass = self._glass_preimage(sun)
        for index in range(4):
            start, end = glass[:, index], glass[:, (index + 1) % 4]
            way = end - start
            normal = np.stack((way[:, 1], -way[:, 0]), axis=-1)
            polygons = convex.clip(polygons, normal, np.einsum("nk,nk->n", normal, start))
        return polygons


def aperture(room: Room, opening: Opening, *, plan_up_deg: float) -> Aperture:
    """The two apertures of an opening of a room.

    Parameters
    ----------
    room, opening : as the location file has them.
    plan_up_deg : true bearing of the plan's up; it turns `faces`, a true bearing, into the plan.

    Examples
    --------
    A level skylight over the middle of a room:

    >>> opening = Opening(name="dome", ceiling=True, at=(2, 1.5), size=(1, 1), depth=0.3)
    >>> room = Room(name="hut", outline=((0, 0), (4, 0), (4, 3), (0, 3)), height=2.5)
    >>> aperture(room, opening, plan_up_deg=0.0).glass_corners()[0]
    array([1.5, 1. , 2.8])
    """
    width, height = opening.size
    if not opening.ceiling:
        wall, along, sill = opening.in_wall
        index = room.wall_number(wall)
        first, second = (np.array(corner) for corner in room.wall(index))
        way = (second - first) / math.dist(first, second)
        return Aperture(
            opening=opening,
            wall=index,
            origin=np.array([*(first + along * way), room.floor + sill]),
            across=np.array([*way, 0.0]),
            up=np.array([0.0, 0.0, 1.0]),
            outward=np.array([way[1], -way[0], 0.0]),
            width=width,
            height=height,
            depth=opening.depth,
            slope=np.zeros(2),
        )
    corners = np.array(hole_corners(opening))
    across, up = (corners[1] - corners[0]) / width, (corners[3] - corners[0]) / height
    slope = np.zeros(2)
    if opening.pitch > 0 and opening.faces is not None:
        bearing = math.radians(opening.faces - plan_up_deg)
        down = np.array([math.sin(bearing), math.cos(bearing)])
        slope = -math.tan(math.radians(opening.pitch)) * np.array([down @ across, down @ up])
    return Aperture(
        opening=opening,
        wall=None,
        origin=np.array([*corners[0], room.floor + room.height]),
        across=np.array([*across, 0.0]),
        up=np.array([*up, 0.0]),
        outward=np.array([0.0, 0.0, 1.0]),
        width=width,
        height=height,
        depth=opening.depth,
        slope=slope,
    )
