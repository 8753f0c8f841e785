"""Triangles that rays are followed through, and directions in the plan frame."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import shapely
import trimesh

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

BARYCENTRIC_SLACK = 1e-11
"""Triangles are this much larger than drawn (share of their sides), so that seams do not leak."""

CHUNK_ROWS = 4096
"""Rays that are followed in one go; keeps the working arrays inside the processor's cache."""


def sun_vector(
    altitude_deg: npt.ArrayLike, bearing_deg: npt.ArrayLike, plan_up_deg: float
) -> Floats:
    """Unit vector toward the sun in the plan frame.

    altitude_deg, bearing_deg: scalars or arrays of one shape, degrees (true bearing);
    plan_up_deg: true bearing of +y, degrees. Returns shape (..., 3).
    +x lies 90 degrees clockwise of +y, so its true bearing is plan_up_deg + 90.
    """
    altitude = np.radians(np.asarray(altitude_deg, float))
    turned = np.radians(np.asarray(bearing_deg, float) - plan_up_deg)
    altitude, turned = np.broadcast_arrays(altitude, turned)
    return np.stack(
        [np.cos(altitude) * np.sin(turned), np.cos(altitude) * np.cos(turned), np.sin(altitude)],
        axis=-1,
    )


def altitude_and_bearing(directions: npt.ArrayLike, plan_up_deg: float) -> tuple[Floats, Floats]:
    """Altitude and true bearing (0 <= b < 360), degrees, of unit vectors (..., 3) of the plan."""
    d = np.asarray(directions, float)
    altitude = np.degrees(np.arctan2(d[..., 2], np.hypot(d[..., 0], d[..., 1])))
    bearing = np.degrees(np.arctan2(d[..., 0], d[..., 1])) + plan_up_deg
    return altitude, np.mod(bearing, 360.0)


class Triangles:
    """Triangles that rays can be shot at: corners (M, 3, 3) in metres, one integer tag each."""

    def __init__(self, corners: Floats, tags: Ints) -> None:
        corners = np.asarray(corners, float).reshape(-1, 3, 3)
        self.corners = corners
        self.tags = np.asarray(tags, np.int64)
        self._middle = corners.reshape(-1, 3).mean(axis=0) if len(corners) else np.zeros(3)
        self._v0 = corners[:, 0] - self._middle
        self._e1 = corners[:, 1] - corners[:, 0]
        self._e2 = corners[:, 2] - corners[:, 0]
        self._normal = np.cross(self._e1, self._e2)

    def distances(self, origins: Floats, directions: Floats) -> Floats:
        """Signed distance (N, M) along each ray to each triangle, metres; inf where it misses.

        origins (N, 3) metres; directions unit vectors (3,) or (N, 3). The test is that of
        Moller and Trumbore, written so that all rays and triangles meet in matrix products.
        """
        o = origins - self._middle
        offset = np.einsum("mi,mi->m", self._v0, self._normal)
        size = np.linalg.norm(self._normal, axis=1)
        if directions.ndim == 1:
            det = -(self._normal @ directions)
            flat = np.abs(det) <= 1e-13 * size
            inverse = np.where(flat, 0.0, 1.0 / np.where(flat, 1.0, det))
            p = np.cross(directions, self._e2) * inverse[:, None]
            q = np.cross(self._e1, directions) * inverse[:, None]
            u = o @ p.T - np.einsum("mi,mi->m", self._v0, p)
            v = o @ q.T - np.einsum("mi,mi->m", self._v0, q)
            t = (o @ self._normal.T - offset) * inverse
            missed = flat | (u < -BARYCENTRIC_SLACK) | (v < -BARYCENTRIC_SLACK)
        else:
            det = -(directions @ self._normal.T)
            flat = np.abs(det) <= 1e-13 * size
            det[flat] = 1.0
            moment = np.cross(o, directions)
            u = (moment @ self._e2.T - directions @ np.cross(self._e2, self._v0).T) / det
            v = (directions @ np.cross(self._e1, self._v0).T - moment @ self._e1.T) / det
            t = (o @ self._normal.T - offset) / det
            missed = flat | (u < -BARYCENTRIC_SLACK) | (v < -BARYCENTRIC_SLACK)
        missed |= u + v > 1.0 + BARYCENTRIC_SLACK
        distance: Floats = np.where(missed, np.inf, t)
        return distance

    def nearest(self, origins: Floats, directions: Floats, after: Floats) -> tuple[Floats, Ints]:
        """Distance (N,) to the first triangle beyond `after` (N,) and its tag (N,).

        inf and -2 where there is none.
        """
        distance = np.full(len(origins), np.inf)
        tag = np.full(len(origins), -2, np.int64)
        if not len(self.tags):
            return distance, tag
        for rows in _chunks(len(origins)):
            d = directions if directions.ndim == 1 else directions[rows]
            t = self.distances(origins[rows], d)
            t[t <= after[rows, None]] = np.inf
            first = np.argmin(t, axis=1)
            distance[rows] = t[np.arange(len(t)), first]
            tag[rows] = np.where(np.isfinite(distance[rows]), self.tags[first], -2)
        return distance, tag

    def any_hit(self, origins: Floats, directions: Floats, after: Floats) -> Bools:
        """Whether each ray meets a triangle beyond `after` (N,): booleans (N,)."""
        hit = np.zeros(len(origins), bool)
        if not len(self.tags):
            return hit
        for rows in _chunks(len(origins)):
            d = directions if directions.ndim == 1 else directions[rows]
            t = self.distances(origins[rows], d)
            hit[rows] = np.any((t > after[rows, None]) & np.isfinite(t), axis=1)
        return hit


def _chunks(count: int) -> list[slice]:
    return [slice(i, min(i + CHUNK_ROWS, count)) for i in range(0, count, CHUNK_ROWS)]


def pick_rows(directions: Floats, rows: Ints | Bools) -> Floats:
    return directions if directions.ndim == 1 else directions[rows]


def frame_matrix(origin: Floats, across: Floats, up: Floats) -> Floats:
    """Matrix (4, 4) that takes local (across, up, out) coordinates to the plan frame."""
    matrix = np.eye(4)
    matrix[:3, 0] = across
    matrix[:3, 1] = up
    matrix[:3, 2] = np.cross(across, up)
    matrix[:3, 3] = origin
    return matrix


def flat_triangles(shape: shapely.Geometry, matrix: Floats) -> Floats:
    """Triangles (M, 3, 3) of a flat polygon, placed by a (4, 4) matrix."""
    pieces = []
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon" or part.area < 1e-12:
            continue
        flat, faces = trimesh.creation.triangulate_polygon(part, engine="earcut")
        solid = np.column_stack([flat, np.zeros(len(flat))])
        corners = trimesh.transform_points(solid, matrix)[faces]
        area = 0.5 * np.linalg.norm(
            np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
        )
        if not math.isclose(float(area.sum()), part.area, rel_tol=1e-9, abs_tol=1e-9):
            raise ValueError("a wall, floor or ceiling did not divide into triangles cleanly")
        pieces.append(corners)
    return np.concatenate(pieces) if pieces else np.zeros((0, 3, 3))


def ridges(mesh: trimesh.Trimesh) -> Floats:
    """Edges (E, 2, 3) where two faces of a closed mesh meet at an angle, metres."""
    sharp = mesh.face_adjacency_angles > 1e-3
    return np.asarray(mesh.vertices[mesh.face_adjacency_edges[sharp]], float)
