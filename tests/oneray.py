"""One ray at a time: does sunlight get from the sky through an opening to a point of a room?

An independent judge for a program that answers the same question with closed-form geometry.
The room, its reveals and shafts and the blocks outside become triangles (shapes made with
trimesh), and every answer rests on rays that are followed through these triangles, in double
precision, from a point in the room toward the sun.

Conventions
    Plan frame: x to the right, y up the sheet, z up (0 = the ground), metres.
    Bearing: degrees clockwise from true north. Altitude: degrees above the level horizon, as seen.
    A sun vector is a unit vector that points from the room toward the sun.
    Openings are counted from 0 in the order of the file; -1 means "blocked".
    A surface is "floor" or a wall's letter. Its coordinates are plan x, y for the floor and
    (metres along the wall from its first corner, metres above the floor) for a wall.

How slivers are found
    All questions "is there any ray ...?" are asked of a finite set of rays. The set is chosen so
    that none is forgotten: the edges of everything that can bound the light are laid, along the
    sun's direction, on one plane; they cut the plane into cells; within a cell all rays fare
    alike. Rays are sent a few micrometres to either side of every piece of every edge, so that
    each cell wider than that gets a ray. The edges only choose rays, the triangles judge them:
    a "yes" is always a ray that truly passes. Plain dense samples are added as a second net.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
import trimesh
from ray_parts import Hit, Mark, Opening, OutlineError, Passing, Plane
from ray_probes import Member, box_ring, clip_segments, probe_rays, ring_of, scan_lines
from ray_triangles import (
    Bools,
    Floats,
    Ints,
    Triangles,
    altitude_and_bearing,
    flat_triangles,
    frame_matrix,
    pick_rows,
    ridges,
    sun_vector,
)

Location = dict[str, Any]

DEFAULT_DEPTH_M = 0.1
"""Depth of an opening that does not give its own, metres."""

START_M = 1e-9
"""How far in front of a surface a ray that belongs to the surface starts, metres."""

MIN_COSINE = 1e-9
"""A ray that meets a plane at a smaller cosine runs along it and lights nothing."""


class Scene:
    """One room of a location, its openings, and what stands outside.

    location: the dictionary of a parsed location file with units = "m" and plain numbers;
    room_name: the room's name. The outline must run counter-clockwise.

    Light is stopped by the room's walls, floor and ceiling (from inside and, as one solid, from
    outside), by the sides of the reveal or shaft of the opening it passes, by outside blocks, by
    the skyline and by the level horizon. Other rooms, and the reveals and shafts of other
    openings seen from outside, stop nothing.
    """

    def __init__(self, location: Location, room_name: str) -> None:
        """Build the room's triangles; ValueError for a file that this module cannot judge."""
        place = location["location"]
        if place.get("units", "m") != "m":
            raise ValueError(f"units = {place['units']!r}: only plain metres are read here")
        rooms = [r for r in location["room"] if r["name"] == room_name]
        if len(rooms) != 1:
            raise ValueError(f"{len(rooms)} rooms are named {room_name!r}, wanted one")
        room = rooms[0]
        self.name = room_name
        self.plan_up_deg = float(place["plan_up"])
        self.outline = np.asarray(room["outline"], float)
        self.polygon = shapely.Polygon(self.outline)
        if not self.polygon.is_valid or not self.polygon.exterior.is_ccw:
            raise ValueError(f"{room_name}: the outline must be simple and counter-clockwise")
        shapely.prepare(self.polygon)
        self.floor_m = float(room.get("floor", 0.0))
        self.height_m = float(room["height"])
        self.ceiling_m = self.floor_m + self.height_m
        self.marks = [self._read_mark(m) for m in room.get("mark", [])]
        self.skyline = [_unwrapped(s["points"]) for s in location.get("skyline", [])]

        self.openings: list[Opening] = []
        self._tunnels: list[Triangles] = []
        holes: list[Floats] = []
        for index, entry in enumerate(room.get("opening", [])):
            opening, tunnel, hole = self._build_opening(index, entry)
            self.openings.append(opening)
            self._tunnels.append(tunnel)
            holes.append(hole)
        shell = self._build_shell()
        tags = [np.full(len(shell), -1, np.int64)]
        tags += [np.full(len(h), i, np.int64) for i, h in enumerate(holes)]
        self._shell = Triangles(np.concatenate([shell, *holes]), np.concatenate(tags))

        boxes = [block_mesh(entry) for entry in location.get("outside", [])]
        faces = [np.asarray(b.triangles, float) for b in boxes]
        outside = np.concatenate([self._shell.corners, *faces])
        self._outside = Triangles(outside, np.zeros(len(outside), np.int64))
        prism = trimesh.creation.extrude_polygon(self.polygon, self.height_m, engine="earcut")
        prism.apply_translation([0.0, 0.0, self.floor_m])
        self._ridges = np.concatenate([ridges(prism), *[ridges(b) for b in boxes]])

    # -- building

    def _read_mark(self, entry: Mapping[str, Any]) -> Mark:
        low, high = entry["height"]
        return Mark(
            name=str(entry["name"]),
            x_m=float(entry["at"][0]),
            y_m=float(entry["at"][1]),
            bottom_m=self.floor_m + float(low),
            top_m=self.floor_m + float(high),
            radius_m=0.5 * float(entry["width"]),
        )

    def wall_plane(self, wall: int) -> Plane:
        """Plane of a wall's inner face: u along the wall, v up from the floor, normal outwards."""
        start = self.outline[wall]
        along = self.outline[(wall + 1) % len(self.outline)] - start
        u = np.append(along / np.linalg.norm(along), 0.0)
        return Plane(np.append(start, self.floor_m), u, np.array([0.0, 0.0, 1.0]))

    def wall_length_m(self, wall: int) -> float:
        """Length of a wall, metres."""
        end = self.outline[(wall + 1) % len(self.outline)]
        return float(np.linalg.norm(end - self.outline[wall]))

    def surface_plane(self, surface: str) -> Plane:
        """Plane of a surface ("floor" or a wall's letter) that carries its coordinates."""
        if surface == "floor":
            x, y = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
            return Plane(np.array([0.0, 0.0, self.floor_m]), x, y)
        return self.wall_plane(self._wall_index(surface))

    def surfaces(self) -> list[str]:
        """The floor and all walls by letter."""
        return ["floor", *[chr(ord("A") + i) for i in range(len(self.outline))]]

    def _wall_index(self, letter: str) -> int:
        index = ord(letter) - ord("A") if len(letter) == 1 else -1
        if not 0 <= index < len(self.outline):
            raise ValueError(f"wall {letter!r}: this room has walls {self.surfaces()[1:]}")
        return index

    def _build_opening(
        self, index: int, entry: Mapping[str, Any]
    ) -> tuple[Opening, Triangles, Floats]:
        w, h = (float(x) for x in entry["size"])
        depth = max(float(entry.get("depth", DEFAULT_DEPTH_M)), 1e-6)
        wall: int | None = None
        if entry.get("ceiling", False):
            turn = math.radians(float(entry.get("turn", 0.0)))
            u = np.array([math.cos(turn), math.sin(turn), 0.0])
            v = np.array([-math.sin(turn), math.cos(turn), 0.0])
            middle = np.array([*entry["at"], self.ceiling_m], float)
            plane = Plane(middle - 0.5 * w * u - 0.5 * h * v, u, v)
        else:
            wall = self._wall_index(entry["wall"])
            face = self.wall_plane(wall)
            start = face.lift([float(entry["along"]), float(entry["sill"])])
            plane = Plane(start, face.u, face.v)
        tunnel = trimesh.creation.extrude_polygon(
            shapely.box(0.0, 0.0, w, h), depth, engine="earcut"
        )
        out = np.asarray(tunnel.vertices[:, 2] > 0.5 * depth)
        tunnel.apply_transform(frame_matrix(plane.origin, plane.u, plane.v))
        vertices = np.array(tunnel.vertices, float)
        glass = plane.lift([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]) + depth * plane.normal
        pitch = float(entry.get("pitch", 0.0))
        if wall is None and pitch != 0.0:
            down = math.radians(float(entry["faces"]) - self.plan_up_deg)
            fall = math.tan(math.radians(pitch)) * np.array([math.sin(down), math.cos(down)])
            at = np.asarray(entry["at"], float)
            vertices[out, 2] -= (vertices[out, :2] - at) @ fall
            glass[:, 2] -= (glass[:, :2] - at) @ fall
            if glass[:, 2].min() <= self.ceiling_m:
                raise ValueError(f"{entry['name']}: depth {depth} is too small for its pitch")
        kinds = out[tunnel.faces].sum(axis=1)  # 0: the hole, 3: the glass, else a side
        corners = vertices[tunnel.faces]
        rest = kinds > 0
        triangles = Triangles(corners[rest], (kinds[rest] == 3).astype(np.int64))
        name = str(entry.get("name", f"opening {index}"))
        opening = Opening(index, name, wall, plane, (w, h), depth, glass)
        return opening, triangles, corners[~rest]

    def _build_shell(self) -> Floats:
        """Triangles (M, 3, 3) of floor, walls and ceiling with their holes."""
        level = np.eye(4)
        level[2, 3] = self.floor_m
        raised = np.eye(4)
        raised[2, 3] = self.ceiling_m
        ceiling: shapely.Geometry = self.polygon
        for opening in self.openings:
            if opening.wall is None:
                ceiling = ceiling.difference(shapely.Polygon(opening.aperture[:, :2]))
        pieces = [flat_triangles(self.polygon, level), flat_triangles(ceiling, raised)]
        for wall in range(len(self.outline)):
            plane = self.wall_plane(wall)
            sheet: shapely.Geometry = shapely.box(0.0, 0.0, self.wall_length_m(wall), self.height_m)
            for opening in self.openings:
                if opening.wall == wall:
                    sheet = sheet.difference(shapely.Polygon(plane.lower(opening.aperture)))
            pieces.append(flat_triangles(sheet, frame_matrix(plane.origin, plane.u, plane.v)))
        return np.concatenate(pieces)

    # -- following rays

    def sun(self, altitude_deg: npt.ArrayLike, bearing_deg: npt.ArrayLike) -> Floats:
        """Sun vector (..., 3) of apparent altitudes and true bearings, degrees."""
        return sun_vector(altitude_deg, bearing_deg, self.plan_up_deg)

    def mark(self, mark: int | str | Mark) -> Mark:
        """The mark of that index or name; a Mark is handed back as it is."""
        if isinstance(mark, Mark):
            return mark
        if isinstance(mark, int):
            return self.marks[mark]
        found = [m for m in self.marks if m.name == mark]
        if len(found) != 1:
            raise ValueError(f"{len(found)} marks are named {mark!r}, wanted one")
        return found[0]

    def inside(self, points: Floats) -> Bools:
        """Which points (N, 3) lie in the room; floor and ceiling count, walls do not."""
        flat = shapely.contains_xy(self.polygon, points[:, 0], points[:, 1])
        high = (points[:, 2] >= self.floor_m) & (points[:, 2] <= self.ceiling_m)
        return np.asarray(flat & high, bool)

    def sky_open(self, directions: Floats) -> Bools:
        """Which directions (N, 3) clear the level horizon and the skyline."""
        altitude, bearing = altitude_and_bearing(directions, self.plan_up_deg)
        floor = np.zeros(altitude.shape)
        for points in self.skyline:
            for whole_turn in (-360.0, 0.0, 360.0):
                b, a = points[:, 0] + whole_turn, points[:, 1]
                floor = np.maximum(floor, np.interp(bearing, b, a, left=0.0, right=0.0))
        return np.asarray(altitude > floor, bool)

    def _tunnel(self, opening: int, points: Floats, directions: Floats, after: Floats) -> Floats:
        """Distance (N,) to the glass of rays that are in the hole at `after`; nan if stopped."""
        distance, tag = self._tunnels[opening].nearest(points, directions, after)
        return np.where(tag == 1, distance, np.nan)

    def _free(self, points: Floats, directions: Floats, after: Floats) -> Bools:
        """Which rays (N,) reach the sky from the glass, which they pass at `after`."""
        free = np.broadcast_to(self.sky_open(np.atleast_2d(directions)), len(points)).copy()
        rows = np.flatnonzero(free)
        free[rows] = ~self._outside.any_hit(
            points[rows], pick_rows(directions, rows), after[rows] + START_M
        )
        return free

    def leaves(self, points: npt.ArrayLike, directions: npt.ArrayLike) -> Ints:
        """Index (N,) of the opening whose both apertures each ray clears; -1 if none.

        points (N, 3) metres, in the room (others give -1); directions unit vectors (3,) or
        (N, 3). What comes after the glass does not matter here.
        """
        return self._leave(points, directions)[0]

    def _leave(self, points: npt.ArrayLike, directions: npt.ArrayLike) -> tuple[Ints, Floats]:
        p = np.asarray(points, float).reshape(-1, 3)
        d = np.asarray(directions, float)
        if d.ndim == 2 and len(d) != len(p):
            raise ValueError(f"{len(d)} directions for {len(p)} points")
        index = np.full(len(p), -1, np.int64)
        glass = np.full(len(p), np.nan)
        rows = np.flatnonzero(self.inside(p))
        distance, tag = self._shell.nearest(
            p[rows], pick_rows(d, rows), np.full(len(rows), START_M)
        )
        for opening in range(len(self.openings)):
            here = tag == opening
            some = rows[here]
            if len(some):
                after = distance[here]
                glass[some] = self._tunnel(opening, p[some], pick_rows(d, some), after - START_M)
                index[some] = np.where(np.isnan(glass[some]), -1, opening)
        return index, glass

    def through(self, points: npt.ArrayLike, directions: npt.ArrayLike) -> Ints:
        """Index (N,) of the opening through which each ray reaches the sky; -1 when blocked.

        points (N, 3) in the room, metres, plan frame (others give -1); directions: unit vectors
        toward the sun, (3,) or (N, 3).
        """
        p = np.asarray(points, float).reshape(-1, 3)
        d = np.asarray(directions, float)
        index, glass = self._leave(p, d)
        rows = np.flatnonzero(index >= 0)
        free = self._free(p[rows], pick_rows(d, rows), glass[rows])
        index[rows[~free]] = -1
        return index

    def _edges(self, opening: int) -> Floats:
        """Edges (E, 2, 3) that can bound the light of an opening, metres."""
        o = self.openings[opening]
        return np.concatenate([ring_of(o.aperture), ring_of(o.glass), self._ridges])

    # -- openings

    def _clear_aperture(self, opening: int, uv: Floats, sun: Floats) -> Bools:
        """Which places (N, 2) of the inner aperture let the sun in."""
        o = self.openings[opening]
        w, h = o.size_m
        lit = np.asarray(
            (uv[:, 0] > 0.0) & (uv[:, 0] < w) & (uv[:, 1] > 0.0) & (uv[:, 1] < h), bool
        )
        if float(sun @ o.plane.normal) <= MIN_COSINE or not self.sky_open(sun[None])[0]:
            return np.zeros(len(uv), bool)
        rows = np.flatnonzero(lit)
        points = o.plane.lift(uv[rows])
        glass = self._tunnel(opening, points, sun, np.full(len(rows), -START_M))
        clear = ~np.isnan(glass)
        lit[rows[~clear]] = False
        lit[rows[clear]] = self._free(points[clear], sun, glass[clear])
        return lit

    def passes(self, opening: int, sun: npt.ArrayLike, *, share: bool = True) -> Passing:
        """Whether any ray from the sun (unit vector (3,)) clears this opening, and its share.

        Finds passing strips down to about 5 micrometres across. The share is of the inner
        aperture's area, good to about 1e-6; share=False leaves it out and is faster.
        """
        sun = np.asarray(sun, float)
        o = self.openings[opening]
        w, h = o.size_m
        if float(sun @ o.plane.normal) <= MIN_COSINE or not self.sky_open(sun[None])[0]:
            return Passing(False, 0.0 if share else math.nan, None)
        box = np.array([0.0, 0.0, w, h])
        lines = o.plane.shadow(self._edges(opening), sun)
        lines = np.concatenate([clip_segments(lines, box), box_ring(box)])
        near = np.geomspace(1e-4, 0.5, 24)
        steps = np.unique(np.concatenate([near, 1.0 - near, (np.arange(40) + 0.5) / 40.0]))
        grid = np.stack(np.meshgrid(w * steps, h * steps), axis=-1).reshape(-1, 2)
        probes = np.concatenate([grid, probe_rays(lines, lines)])
        lit = self._clear_aperture(opening, probes, sun)
        if not lit.any():
            return Passing(False, 0.0 if share else math.nan, None)
        witness = o.plane.lift(probes[np.argmax(lit)])
        if not share:
            return Passing(True, math.nan, witness)
        scan = scan_lines(lambda uv: self._clear_aperture(opening, uv, sun), lines, box)
        return Passing(True, scan.area_m2 / o.area_m2, witness)

    # -- marks

    def _lit_chord(self, mark: Mark, opening: int, points: Floats, sun: Floats) -> Floats:
        """Lit points (K, 3) of the mark on the lines through `points` (N, 3) along the sun.

        Of each line the point of the cylinder nearest to the opening is tried.
        """
        o = self.openings[opening]
        near, far = mark.chord(points, sun)
        hole = ((o.plane.origin - points) @ o.plane.normal) / float(sun @ o.plane.normal)
        last = np.minimum(far, hole)
        rows = last - near > 20.0 * START_M
        start = points[rows] + (last[rows] - 10.0 * START_M)[:, None] * sun
        return np.asarray(start[self.through(start, sun) == opening], float)

    def hits(
        self, mark: int | str | Mark, opening: int, sun: npt.ArrayLike, *, grow_m: float = 0.0
    ) -> Hit:
        """Whether sun (unit vector (3,)) through this opening touches any point of the mark.

        Finds slivers down to about 20 micrometres across. grow_m makes the cylinder larger (or
        smaller, when negative) on every side, to see whether an answer is a near thing. Only the
        part of the cylinder that is in the room counts.
        """
        sun = np.asarray(sun, float)
        body = self.mark(mark).grown(grow_m)
        o = self.openings[opening]
        cosine = float(sun @ o.plane.normal)
        if cosine <= MIN_COSINE or not self.sky_open(sun[None])[0] or body.radius_m <= 0.0:
            return Hit(False, None)
        if body.top_m <= body.bottom_m:
            return Hit(False, None)
        side = np.cross(sun, [1.0, 0.0, 0.0] if abs(sun[0]) < 0.6 else [0.0, 1.0, 0.0])
        side /= np.linalg.norm(side)
        middle = np.array([body.x_m, body.y_m, 0.5 * (body.bottom_m + body.top_m)])
        screen = Plane(middle, side, np.cross(sun, side))
        angle = np.linspace(0.0, 2.0 * np.pi, 360, endpoint=False)
        rim = np.column_stack(
            [body.x_m + body.radius_m * np.cos(angle), body.y_m + body.radius_m * np.sin(angle)]
        )
        rims = np.concatenate(
            [np.column_stack([rim, np.full(360, z)]) for z in (body.bottom_m, body.top_m)]
        )
        hull = shapely.MultiPoint(screen.lower(rims)).convex_hull
        contour = ring_of(np.asarray(hull.exterior.coords, float)[:-1])
        window = screen.lower(np.concatenate([o.aperture, o.glass]))
        lows = np.maximum(contour[:, 0].min(axis=0), window.min(axis=0)) - 1e-4
        highs = np.minimum(contour[:, 0].max(axis=0), window.max(axis=0)) + 1e-4
        if (highs <= lows).any():
            return Hit(False, None)
        box = np.concatenate([lows, highs])
        lines = clip_segments(screen.lower(self._edges(opening)), box)
        contour = clip_segments(contour, box)
        probes = np.concatenate(
            [probe_rays(lines, np.concatenate([lines, contour])), probe_rays(contour, lines)]
        )
        probes = probes[((probes >= lows) & (probes <= highs)).all(axis=1)]
        found = self._lit_chord(body, opening, screen.lift(probes), sun)
        if not len(found):
            points = body.random_points(2000, np.random.default_rng(0))
            found = points[self.through(points, sun) == opening]
        return Hit(bool(len(found)), found[0] if len(found) else None)

    # -- patches

    def _lit(self, surface: str, uv: Floats, sun: Floats, *, over_holes: bool = False) -> Ints:
        plane = self.surface_plane(surface)
        into = plane.normal if surface == "floor" else -plane.normal
        index = np.full(len(uv), -1, np.int64)
        if float(sun @ into) <= MIN_COSINE:
            return index
        on = np.ones(len(uv), bool)
        if surface != "floor":
            wall = self._wall_index(surface)
            on = (uv[:, 0] >= 0.0) & (uv[:, 0] <= self.wall_length_m(wall))
            on &= (uv[:, 1] >= 0.0) & (uv[:, 1] <= self.height_m)
            for o in self.openings:
                if o.wall == wall and not over_holes:
                    low, high = plane.lower(o.aperture)[[0, 2]]
                    on &= ~((uv > low) & (uv < high)).all(axis=1)
        index[on] = self.through(plane.lift(uv[on]) + START_M * into, sun)
        return index

    def _patch(
        self, surface: str, opening: int, sun: Floats, over_holes: bool
    ) -> tuple[Member, Floats, Floats] | None:
        plane = self.surface_plane(surface)
        into = plane.normal if surface == "floor" else -plane.normal
        o = self.openings[opening]
        if min(float(sun @ into), float(sun @ o.plane.normal)) <= MIN_COSINE:
            return None
        cast = plane.shadow(o.aperture, sun)
        if surface == "floor":
            limit = np.concatenate([self.outline.min(axis=0), self.outline.max(axis=0)])
        else:
            limit = np.array([0.0, 0.0, self.wall_length_m(self._wall_index(surface)), 0.0])
            limit[3] = self.height_m
        box = np.concatenate(
            [np.maximum(cast.min(axis=0), limit[:2]), np.minimum(cast.max(axis=0), limit[2:])]
        )
        if (box[2:] - box[:2] <= 1e-9).any():
            return None
        edges = [self._edges(opening)]
        edges += [ring_of(x.aperture) for x in self.openings if x.wall is not None]
        lines = plane.shadow(np.concatenate(edges), sun)

        def member(uv: Floats) -> Bools:
            lit = self._lit(surface, uv, sun, over_holes=over_holes)
            return np.asarray(lit == opening, bool)

        return member, lines, box

    def patch_area(
        self, surface: str, opening: int, sun: npt.ArrayLike, *, over_holes: bool = False
    ) -> float:
        """Area, m2, of the patch of sun through one opening on the floor or a wall.

        Good to about 1e-6 of the area's bounding box. Holes in the wall are not lit, unless
        over_holes is set.
        """
        parts = self._patch(surface, opening, np.asarray(sun, float), over_holes)
        return 0.0 if parts is None else scan_lines(*parts).area_m2

    def patch_rim(
        self, surface: str, opening: int, sun: npt.ArrayLike, *, over_holes: bool = False
    ) -> Floats:
        """Points (E, 2) of the true outline of a patch, surface coordinates, metres.

        Found by scanning the surface both ways; good to a micrometre along the scanned line.
        """
        parts = self._patch(surface, opening, np.asarray(sun, float), over_holes)
        if parts is None:
            return np.zeros((0, 2))
        member, lines, box = parts
        level = scan_lines(member, lines, box).edges
        swapped = scan_lines(
            lambda vu: member(vu[:, ::-1]), lines[..., ::-1], box[[1, 0, 3, 2]]
        ).edges
        return np.concatenate([level, swapped[:, ::-1]])

    def outline_error(
        self,
        surface: str,
        outlines: npt.ArrayLike | Sequence[npt.ArrayLike],
        opening: int,
        sun: npt.ArrayLike,
        *,
        over_holes: bool = False,
        reach_m: float = 0.05,
        places: int = 9,
    ) -> OutlineError:
        """How wrong the claimed outline(s) of a patch are, metres.

        outlines: one polygon (V, 2) in surface coordinates, or a sequence of polygons, which are
        taken together; an empty sequence claims that there is no patch. At every corner (on the
        bisector) and at `places` places along every edge (square to it) light should begin right
        inside and end right outside; where it does not, the way to where it does is measured, up
        to reach_m. Then every point of the true outline is compared with the claimed one. Errors
        below a micrometre are not told apart from none.
        """
        sun = np.asarray(sun, float)
        claimed = _union(outlines)
        rim = self.patch_rim(surface, opening, sun, over_holes=over_holes)
        if claimed.is_empty:
            far = math.inf if len(rim) else 0.0
            return OutlineError(far, 0.0, far, rim[0] if len(rim) else None)

        def lit(uv: Floats) -> Bools:
            found = self._lit(surface, uv, sun, over_holes=over_holes)
            return np.asarray(found == opening, bool)

        at, into = _stations(claimed, places)
        steps = np.geomspace(5e-7, reach_m, 120)
        inward = _switch(lit, at, into, steps, wanted=True)
        outward = _switch(lit, at, -into, steps, wanted=False)
        off = np.maximum(inward, outward)
        missed = shapely.distance(shapely.points(rim), claimed.boundary)
        claimed_m = float(off.max())
        missed_m = float(missed.max()) if len(missed) else 0.0
        where = at[np.argmax(off)] if claimed_m >= missed_m else rim[np.argmax(missed)]
        return OutlineError(max(claimed_m, missed_m), claimed_m, missed_m, where)


def _unwrapped(points: Sequence[Sequence[float]]) -> Floats:
    """Skyline points (K, 2) with bearings that only grow: a smaller one has passed north."""
    line = np.asarray(points, float)
    line[1:, 0] += 360.0 * np.cumsum(np.diff(line[:, 0]) < 0.0)
    return line


def block_mesh(entry: Mapping[str, Any]) -> trimesh.Trimesh:
    """The closed box of an outside block, plan frame, metres."""
    size = np.asarray(entry["size"], float)
    box: trimesh.Trimesh = trimesh.creation.box(extents=size)
    box.apply_translation(0.5 * size)
    turn = math.radians(float(entry.get("turn", 0.0)))
    along, back = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    foot = np.array([*entry["at"], entry.get("base", 0.0)], float)
    box.apply_transform(frame_matrix(foot, np.append(along, 0.0), np.append(back, 0.0)))
    return box


def _union(outlines: npt.ArrayLike | Sequence[npt.ArrayLike]) -> shapely.Geometry:
    """One area of one polygon (V, 2) or of a sequence of them."""
    rings: list[Floats]
    try:
        single = np.asarray(outlines, float)
        rings = [single] if single.ndim == 2 else list(single)
    except ValueError:  # polygons with different numbers of corners
        rings = [np.asarray(r, float) for r in outlines]  # type: ignore[union-attr]
    rings = [r for r in rings if len(r) >= 3]
    return shapely.union_all([shapely.Polygon(r) for r in rings])


def _stations(area: shapely.Geometry, places: int) -> tuple[Floats, Floats]:
    """Points (P, 2) on the rims of an area and unit vectors (P, 2) into it."""
    found_at, found_into = [np.zeros((0, 2))], [np.zeros((0, 2))]
    for part in shapely.get_parts(area):
        part = shapely.orient_polygons(part)
        for ring in [part.exterior, *part.interiors]:
            corners = np.asarray(ring.coords, float)[:-1]
            along = np.roll(corners, -1, axis=0) - corners
            keep = np.linalg.norm(along, axis=1) > 1e-9
            corners = corners[keep]
            along = np.roll(corners, -1, axis=0) - corners
            length = np.linalg.norm(along, axis=1)
            left = np.column_stack([-along[:, 1], along[:, 0]]) / length[:, None]
            for share in np.concatenate([[1e-3], np.linspace(0.0, 1.0, places + 2)[1:-1], [0.999]]):
                found_at.append(corners + share * along)
                found_into.append(left)
            both = left + np.roll(left, 1, axis=0)
            size = np.linalg.norm(both, axis=1)
            blunt = size > 1e-3
            found_at.append(corners[blunt])
            found_into.append(both[blunt] / size[blunt, None])
    return np.concatenate(found_at), np.concatenate(found_into)


def _switch(lit: Member, at: Floats, way: Floats, steps: Floats, *, wanted: bool) -> Floats:
    """First distance (P,) along unit vectors at which lit == wanted; 0 if at once, else capped."""
    reach = np.full(len(at), steps[-1])
    open_ = np.arange(len(at))
    bracket = np.full((len(at), 2), np.nan)
    for i, step in enumerate(steps):
        if not len(open_):
            break
        met = lit(at[open_] + step * way[open_]) == wanted
        done = open_[met]
        if i == 0:
            reach[done] = 0.0
        else:
            bracket[done] = steps[i - 1], step
        open_ = open_[~met]
    rows = np.flatnonzero(np.isfinite(bracket[:, 0]))
    low, high = bracket[rows].T
    for _ in range(24):
        mid = 0.5 * (low + high)
        met = lit(at[rows] + mid[:, None] * way[rows]) == wanted
        low, high = np.where(met, low, mid), np.where(met, mid, high)
    reach[rows] = high
    return reach
