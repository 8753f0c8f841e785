"""What a scene of `oneray.py` is made of, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from ray_triangles import Floats


@dataclass(frozen=True)
class Plane:
    """A plane with coordinates: origin (3,) metres, unit vectors u and v (3,), at right angles."""

    origin: Floats
    u: Floats
    v: Floats

    @property
    def normal(self) -> Floats:
        """Unit vector u x v (3,)."""
        return np.cross(self.u, self.v)

    def lift(self, uv: npt.ArrayLike) -> Floats:
        """Plan-frame points (..., 3) of coordinates (..., 2), metres."""
        uv = np.asarray(uv, float)
        return self.origin + uv[..., :1] * self.u + uv[..., 1:2] * self.v

    def lower(self, xyz: npt.ArrayLike) -> Floats:
        """Coordinates (..., 2) of the feet of plan-frame points (..., 3), metres."""
        rel = np.asarray(xyz, float) - self.origin
        return np.stack([rel @ self.u, rel @ self.v], axis=-1)

    def shadow(self, xyz: npt.ArrayLike, sun: Floats) -> Floats:
        """Coordinates (..., 2) where the line along `sun` through points (..., 3) meets it."""
        points = np.asarray(xyz, float)
        s = ((points - self.origin) @ self.normal) / float(sun @ self.normal)
        return self.lower(points - s[..., None] * sun)


@dataclass(frozen=True)
class Opening:
    """A window, roof window or skylight: inner aperture and glass of one room, metres."""

    index: int
    name: str
    wall: int | None
    """Index of its wall, None for the ceiling."""
    plane: Plane
    """The inner aperture; coordinates run from its corner, the normal points out of the room."""
    size_m: tuple[float, float]
    depth_m: float
    glass: Floats
    """Corners of the glass (4, 3), in the order of the aperture's corners."""

    @property
    def aperture(self) -> Floats:
        """Corners of the inner aperture (4, 3)."""
        w, h = self.size_m
        return self.plane.lift([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])

    @property
    def area_m2(self) -> float:
        """Area of the inner aperture."""
        return self.size_m[0] * self.size_m[1]


@dataclass(frozen=True)
class Mark:
    """The upright cylinder of a mark: axis x, y, lower and upper end z (above ground), metres."""

    name: str
    x_m: float
    y_m: float
    bottom_m: float
    top_m: float
    radius_m: float

    def grown(self, by_m: float) -> Mark:
        """The same cylinder, larger by `by_m` on every side (smaller when negative)."""
        return Mark(
            self.name,
            self.x_m,
            self.y_m,
            self.bottom_m - by_m,
            self.top_m + by_m,
            self.radius_m + by_m,
        )

    def chord(self, points: Floats, directions: Floats) -> tuple[Floats, Floats]:
        """Where lines enter and leave the cylinder: signed distances (N,), (N,), metres.

        points (N, 3); directions unit vectors (3,) or (N, 3). A line that misses gives an empty
        stretch: the first distance is larger than the second.
        """
        d = np.broadcast_to(directions, points.shape)
        rel = points[:, :2] - np.array([self.x_m, self.y_m])
        a = d[:, 0] ** 2 + d[:, 1] ** 2
        b = rel[:, 0] * d[:, 0] + rel[:, 1] * d[:, 1]
        c = rel[:, 0] ** 2 + rel[:, 1] ** 2 - self.radius_m**2
        upright = a < 1e-24
        root = b * b - a * c
        half = np.sqrt(np.maximum(root, 0.0))
        safe = np.where(upright, 1.0, a)
        near = np.where(upright, np.where(c <= 0.0, -np.inf, np.inf), (-b - half) / safe)
        far = np.where(upright, np.where(c <= 0.0, np.inf, -np.inf), (-b + half) / safe)
        gone = ~upright & (root < 0.0)
        near[gone], far[gone] = np.inf, -np.inf
        level = np.abs(d[:, 2]) < 1e-15
        dz = np.where(level, 1.0, d[:, 2])
        low = (self.bottom_m - points[:, 2]) / dz
        high = (self.top_m - points[:, 2]) / dz
        low, high = np.minimum(low, high), np.maximum(low, high)
        within = (points[:, 2] >= self.bottom_m) & (points[:, 2] <= self.top_m)
        low = np.where(level, np.where(within, -np.inf, np.inf), low)
        high = np.where(level, np.where(within, np.inf, -np.inf), high)
        return np.maximum(near, low), np.minimum(far, high)

    def random_points(self, count: int, rng: np.random.Generator) -> Floats:
        """Random points (count, 3) of the cylinder, plan frame, metres.

        A quarter each lie on its side, on its two rims, on its two ends and anywhere inside.
        """
        angle = rng.uniform(0.0, 2.0 * np.pi, count)
        r = self.radius_m * np.sqrt(rng.uniform(0.0, 1.0, count))
        z = rng.uniform(self.bottom_m, self.top_m, count)
        end = np.where(rng.uniform(size=count) < 0.5, self.bottom_m, self.top_m)
        kind = rng.integers(0, 4, count)
        r = np.where((kind == 0) | (kind == 1), self.radius_m, r)
        z = np.where((kind == 1) | (kind == 2), end, z)
        return np.column_stack([self.x_m + r * np.cos(angle), self.y_m + r * np.sin(angle), z])


@dataclass(frozen=True)
class Passing:
    """Whether sun passes an opening, and how much of it."""

    any: bool
    share: float
    """Lit share (0 to 1) of the inner aperture's area; nan when it was not asked for."""
    witness: Floats | None
    """A point (3,) of the inner aperture that lets the sun through, metres."""


@dataclass(frozen=True)
class Hit:
    """Whether sun through one opening touches a mark."""

    any: bool
    witness: Floats | None
    """A sunlit point (3,) of the mark's cylinder, metres."""


@dataclass(frozen=True)
class OutlineError:
    """How wrong a claimed outline of a patch of sun is, metres."""

    worst_m: float
    """The larger of the next two."""
    claimed_m: float
    """From the claimed outline straight across it to where light truly ends (capped)."""
    missed_m: float
    """From the true outline, found by scanning, to the nearest point of the claimed one."""
    at: Floats | None
    """Surface coordinates (2,) of the worst place."""
