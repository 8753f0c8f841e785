"""Random rays from a mark to the light, and whether a flag stops them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt
from oneray import START_M, Scene
from ray_parts import Mark, Opening
from ray_triangles import Bools, Floats

SUN_DISK_DEG = 0.533
"""Angular diameter of the sun at 1 astronomical unit, degrees."""

BESIDE_M = 1e-6
"""A ray that passes an opening by more than this cannot come through it, metres."""


def _from_disk(
    sun_directions: npt.ArrayLike, disk_deg: float, rng: np.random.Generator
) -> Callable[[int], Floats]:
    suns = np.asarray(sun_directions, float).reshape(-1, 3)

    def draw(count: int) -> Floats:
        moment = rng.uniform(0.0, len(suns) - 1.0, count)
        end = rng.uniform(size=count)
        moment = np.where(end < 0.25, 0.0, np.where(end < 0.5, len(suns) - 1.0, moment))
        first = np.minimum(moment.astype(np.int64), max(len(suns) - 2, 0))
        later = np.minimum(first + 1, len(suns) - 1)
        part = (moment - first)[:, None]
        middle = (1.0 - part) * suns[first] + part * suns[later]
        return _on_disk(middle, disk_deg, rng)

    return draw


def rays_from_opening(
    scene: Scene,
    mark: int | str | Mark,
    opening: int,
    sun_directions: npt.ArrayLike | None,
    n_rays: int,
    rng: np.random.Generator,
    *,
    disk_deg: float = SUN_DISK_DEG,
    draws_per_ray: int = 60,
) -> tuple[Floats, Floats]:
    """Random rays from a mark, through an opening, to the sun's disk: what a flag has to stop.

    sun_directions (K, 3): unit vectors toward the middle of the disk, in order of time over the
    interval, no more than a minute or so apart (moments between them are found on the chord).
    None: to any light outside that clears both apertures, the ground and blocks included.
    A ray starts in the mark's volume inside the room and counts only if it comes through the
    opening when no flag stands there. Half of the rays start from random points of the cylinder
    (side, rims, ends, volume), half are drawn through random places of the aperture, its rim
    favoured; half go to the rim of the disk, half belong to the first or last moment. Drawing ends
    at n_rays counted rays, or at draws_per_ray * n_rays drawn ones.

    Points in the mark (N, 3) and unit vectors toward the light (N, 3), N at most n_rays.
    """
    draw = None if sun_directions is None else _from_disk(sun_directions, disk_deg, rng)
    batches = list(_drawn(scene, scene.mark(mark), opening, draw, n_rays, draws_per_ray, rng))
    points = np.concatenate([points for points, _ in batches])
    return points, np.concatenate([directions for _, directions in batches])


def passes_flag(
    points: Floats,
    directions: Floats,
    centre: npt.ArrayLike,
    across: npt.ArrayLike,
    up: npt.ArrayLike,
    size_m: tuple[float, float],
    *,
    slack_m: float = 1e-7,
) -> Floats:
    """How far beyond a flag's edge rays (N) pass, metres, 0 when it stops them.

    The flag is a rectangle: centre (3,) metres, unit vectors across and up (3,) at right angles,
    size_m along across and up, taken slack_m larger on every side.
    """
    across, up = np.asarray(across, float), np.asarray(up, float)
    lengths = np.array([np.linalg.norm(across), np.linalg.norm(up)])
    if np.abs(lengths - 1.0).max() > 1e-6 or abs(float(across @ up)) > 1e-6:
        raise ValueError("across and up must be unit vectors at right angles")
    centre, normal = np.asarray(centre, float), np.cross(across, up)
    slope = directions @ normal
    along = np.abs(slope) > 1e-12
    t = ((centre - points) @ normal) / np.where(along, slope, 1.0)
    rel = points + t[:, None] * directions - centre
    off = np.maximum(
        np.abs(rel @ across) - 0.5 * size_m[0] - slack_m,
        np.abs(rel @ up) - 0.5 * size_m[1] - slack_m,
    )
    return np.where(along & (t > 0.0), np.maximum(off, 0.0), np.inf)


def _on_disk(middle: Floats, disk_deg: float, rng: np.random.Generator) -> Floats:
    """Unit vectors (N, 3) to random places of disks around (N, 3); half lie on the rim."""
    middle = middle / np.linalg.norm(middle, axis=1, keepdims=True)
    helper = np.where(np.abs(middle[:, 2:]) < 0.9, [[0.0, 0.0, 1.0]], [[1.0, 0.0, 0.0]])
    e1 = np.cross(middle, helper)
    e1 /= np.linalg.norm(e1, axis=1, keepdims=True)
    e2 = np.cross(middle, e1)
    share = np.sqrt(rng.uniform(size=len(middle)))
    share = np.where(rng.uniform(size=len(middle)) < 0.5, 1.0, share)
    angle = share * math.radians(0.5 * disk_deg)
    turn = rng.uniform(0.0, 2.0 * np.pi, len(middle))
    sideways = np.cos(turn)[:, None] * e1 + np.sin(turn)[:, None] * e2
    to: Floats = np.cos(angle)[:, None] * middle + np.sin(angle)[:, None] * sideways
    return to


def on_rectangle(corners: Floats, count: int, rng: np.random.Generator) -> Floats:
    """Random points (count, 3) of a parallelogram with corners (4, 3); half lie near its rim."""
    place = rng.uniform(size=(count, 2))
    near = 10.0 ** rng.uniform(-5.0, -1.0, count)
    near = np.where(rng.uniform(size=count) < 0.5, near, 1.0 - near)
    axis = rng.integers(0, 2, count)
    rim = rng.uniform(size=count) < 0.5
    place[np.flatnonzero(rim), axis[rim]] = near[rim]
    edge_u, edge_v = corners[1] - corners[0], corners[3] - corners[0]
    points: Floats = corners[0] + place[:, :1] * edge_u + place[:, 1:] * edge_v
    return points


def _meets(opening: Opening, points: Floats, directions: Floats) -> Bools:
    """Which rays (N,) meet an opening's inner aperture, or pass it by less than BESIDE_M."""
    normal = opening.plane.normal
    with np.errstate(divide="ignore", invalid="ignore"):
        reach = ((opening.plane.origin - points) @ normal) / (directions @ normal)
        at = opening.plane.lower(points + reach[:, None] * directions)
        half = np.array(opening.size_m) / 2
        aside = np.abs(at - half) - half
    return (reach > -BESIDE_M) & (aside.max(axis=1) < BESIDE_M)


def _drawn(
    scene: Scene,
    mark: Mark,
    opening: int,
    draw: Callable[[int], Floats] | None,
    n_rays: int,
    draws_per_ray: int,
    rng: np.random.Generator,
) -> Iterator[tuple[Floats, Floats]]:
    """Batches of rays that count: points (N, 3), directions (N, 3)."""
    o = scene.openings[opening]
    counted = drawn = 0
    batch = max(1000, min(2 * n_rays, 20000))
    while counted < n_rays and drawn < draws_per_ray * n_rays:
        drawn += batch
        points = mark.random_points(batch, rng)
        if draw is not None:
            directions = draw(batch)
            aimed = rng.uniform(size=batch) < 0.5
            hole = on_rectangle(o.aperture, batch, rng)
            near, far = mark.chord(hole, directions)
            far = np.minimum(far, -10.0 * START_M)
            share = rng.uniform(size=batch)
            end = rng.uniform(size=batch)
            share = np.where(end < 0.33, 1e-9, np.where(end < 0.66, 1.0 - 1e-9, share))
            met = aimed & (far > near)
            with np.errstate(invalid="ignore"):  # rays that miss the mark have no ends
                at = near + share * (far - near)
            points[met] = hole[met] + at[met, None] * directions[met]
            follow = scene.through
        else:
            directions = on_rectangle(o.glass, batch, rng) - points
            directions /= np.linalg.norm(directions, axis=1)[:, None]
            follow = scene.leaves
        # Most miss the opening's plane beside it; the triangles need not say so.
        rows = np.flatnonzero(_meets(o, points, directions))
        rows = rows[follow(points[rows], directions[rows]) == opening][: n_rays - counted]
        counted += len(rows)
        yield points[rows], directions[rows]
