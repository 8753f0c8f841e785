"""Light that goes from surface to surface of a room: radiosity, its matrix made once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from ..location.model import Room
from ..room import sight_lines
from ..room.aperture import Aperture
from ..room.obstructions import Indices
from ..sun.position import Floats
from . import glass
from .form_factors import form_factor, solid_angle
from .mesh import Mesh, mesh
from .screen import NO_SCREENS, Screens

SAME_M = 1e-5  # spots of the plan nearer than this are one
ROUNDS = 60  # of making the exchange even both ways; it settles in a few


@dataclass(frozen=True, eq=False)
class Interreflection:
    """A room ready to say what light anywhere does to any spot.

    `exchange` (N, N) is the share of what leaves a piece that reaches another; `reflectance` (N,).
    All levels are illuminances of the pieces, lx.
    """

    room: Room
    apertures: tuple[Aperture, ...]
    pieces: Mesh
    reflectance: Floats
    exchange: Floats

    @cached_property
    def _kept(self) -> Floats:
        """What of the light on each piece is not another's bounce: 1 − F ρ."""
        kept: Floats = np.eye(len(self.reflectance)) - self.exchange * self.reflectance
        return kept

    def solve(self, first_lux: Floats) -> Floats:
        """Illuminance of all pieces with bounce, from what falls on them first, (N,)."""
        return np.asarray(np.linalg.solve(self._kept, first_lux), dtype=np.float64)

    def transfer_factors(
        self, points: Floats, normals: Floats, screens: Screens = NO_SCREENS
    ) -> Floats:
        """Illuminance of spots (P, 3) by light first falling on each piece, after all bounces.

        Shape (P, N), lx a lx. The first light's own way to the spots is not in it.
        """
        seen = self.form_factors_from(points, normals, screens)
        settled = np.linalg.solve(self._kept.T, (seen * self.reflectance).T).T
        return np.asarray(settled, dtype=np.float64)

    def form_factors_from(
        self, points: Floats, normals: Floats, screens: Screens = NO_SCREENS
    ) -> Floats:
        """Configuration factors of all pieces from free spots of the room, (P, N)."""
        factor = np.zeros((len(points), len(self.pieces.areas)))
        for corner in range(self.pieces.corners.shape[1]):
            fan = self._fans[:, corner]
            way = fan.mean(axis=1)[None] - points[:, None]
            way /= np.linalg.norm(way, axis=-1, keepdims=True)
            before = np.maximum(np.einsum("pnk,pk->pn", way, normals), 0.0)
            factor += solid_angle(points, fan) * before / np.pi
        factor *= self.visibility(points)
        for row, screen in screens.items():
            factor[row] *= 1.0 - screen.hides(points[row], self.probes).mean(axis=1)
        return factor

    @cached_property
    def _fans(self) -> Floats:
        """Each piece as triangles round its middle, (N, V, 3, 3); spare ones have no area."""
        corners = self.pieces.corners
        after = np.roll(corners, -1, axis=1)
        middles = np.broadcast_to(self.pieces.middles[:, None], corners.shape)
        return np.stack((middles, corners, after), axis=2)

    @cached_property
    def probes(self) -> Floats:
        """Spots over each piece, for what covers a part of it only, (N, K, 3)."""
        halfway = (self.pieces.corners + self.pieces.middles[:, None]) / 2
        return np.concatenate((halfway, self.pieces.middles[:, None]), axis=1)

    def visibility(self, points: Floats) -> Floats:
        """How free the way is from points (P, 3) in the room to the pieces, (P, N).

        0 where a wall stands between; into a reveal what the dressing before it lets through.
        """
        return _open(self.room, self.apertures, self.pieces, points)


def _open(room: Room, apertures: tuple[Aperture, ...], pieces: Mesh, points: Floats) -> Floats:
    """How free the way is from points (P, 3) of the room to pieces, (P, N)."""
    outline = np.array(room.outline)
    free = np.zeros((len(points), len(pieces.areas)))
    own = np.flatnonzero(pieces.tube < 0)
    free[:, own] = 1.0
    if not _convex(room):
        # One over the other they are alike on the plan: each spot of it is asked for once.
        starts, start = _apart(points[:, :2])
        spots, spot = _apart(pieces.middles[own, :2])
        # Ends on a wall are drawn in a little, so that their own wall is not in the way.
        pulled = spots[:, None] + 1e-6 * (starts[None] - spots[:, None])
        free[:, own] = sight_lines.clear(outline, None, starts, pulled).T[start[:, None], spot]
    for index, opening in enumerate(apertures):
        deep = np.flatnonzero(pieces.tube == index)
        free[:, deep] = _into(outline, opening, points, pieces.middles[deep])
    return free


def _apart(spots: Floats) -> tuple[Floats, Indices]:
    """The different ones of spots (K, 2) on the plan, and which of them each is, (K,)."""
    _, first, which = np.unique(
        np.round(spots / SAME_M) @ [1.0, 1j], return_index=True, return_inverse=True
    )
    return spots[first], which


def _into(outline: Floats, opening: Aperture, points: Floats, deep: Floats) -> Floats:
    """How free the way is from points (P, 3) through an inner face to spots behind it, (P, K)."""
    before = -((points - opening.origin) @ opening.outward)[:, None]
    behind = ((deep - opening.origin) @ opening.outward)[None]
    share = before / np.maximum(before + behind, 1e-12)
    ends = points[:, None] + share[..., None] * (deep[None] - points[:, None])
    inside = opening.holds(ends.reshape(-1, 3)).reshape(share.shape) & (before > 1e-9)
    plan = sight_lines.clear(
        outline, opening.wall, points[:, :2], ends[..., :2].transpose(1, 0, 2)
    ).T
    straight = glass.dressing_shares(opening.opening.dressing)[0]
    through: Floats = (inside & plan).astype(np.float64) * straight
    return through


def interreflection(room: Room, apertures: tuple[Aperture, ...]) -> Interreflection:
    """Cut a room into pieces and work out how they light each other."""
    pieces = mesh(room, apertures)
    shares = {"floor": room.reflectance.floor, "ceiling": room.reflectance.ceiling}
    of_surface = np.array([shares.get(name, room.reflectance.walls) for name in pieces.surfaces])
    of_surface = np.append(of_surface, room.reflectance.walls)  # of reveals: the last, −1
    reflectance = of_surface[pieces.surface]
    for index, one in enumerate(apertures):
        reflectance[pieces.glass & (pieces.tube == index)] = glass.inside_reflectance(one.opening)
    # Six digits are plenty here, and half the bytes take half the time.
    single: list[Any] = [
        one.astype(np.float32) for one in (pieces.middles, pieces.normals, pieces.corners)
    ]
    factors: Floats = form_factor(*single)
    off = pieces.middles + 1e-6 * pieces.normals
    own = pieces.tube < 0
    free = np.zeros_like(factors)
    free[own] = _open(room, apertures, pieces, off[own])
    # From a reveal the room is as open as the other way round; its own sides all see each other.
    free[~own] = (pieces.tube[~own, None] == pieces.tube[None]) & ~own
    free[np.ix_(~own, own)] = free[np.ix_(own, ~own)].T
    return Interreflection(
        room, apertures, pieces, reflectance, _even(factors * free, pieces.areas)
    )


def _convex(room: Room) -> bool:
    corners = np.array(room.outline)
    way = np.roll(corners, -1, axis=0) - corners
    after = np.roll(way, -1, axis=0)
    return bool((way[:, 0] * after[:, 1] - way[:, 1] * after[:, 0] > -1e-9).all())


def _even(factors: Floats, areas: Floats) -> Floats:
    """Factors such that what one piece gives another equals the other's, and none is lost.

    Pieces see each other from their middles only; evening both ways takes out what that costs.
    """
    flow = areas[:, None] * factors
    np.fill_diagonal(flow, 0.0)
    flow = (flow + flow.T) / 2
    for _ in range(ROUNDS):
        scale = np.sqrt(areas / flow.sum(axis=1))
        flow *= scale[:, None] * scale
        if np.abs(scale - 1.0).max() < 1e-7:
            break
    return flow / areas[:, None]
