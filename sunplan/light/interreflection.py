"""Light that goes from surface to surface of a room: radiosity, its equations made once.

Illuminance E of matt elements by first light E₀ is E = E₀ + F (ρ E), F the form factors and ρ the
reflectances [1].

References
----------
.. [1] Goral, C. M., Torrance, K. E., Greenberg, D. P., Battaile, B., Modeling the interaction of
   light between diffuse surfaces, Computer Graphics 18(3), 1984, 213-222.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..room import sight_lines
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..sun.position import Floats
from . import glass
from .distinct_rows import distinct_rows
from .form_factors import form_factor, form_factor_above
from .mesh import Mesh, mesh
from .screen import NO_SCREENS, Screens

SAME_M = 1e-5  # spots of the plan nearer than this are one
ROUNDS = 60  # of making the exchange even both ways; it settles in a few


@dataclass(frozen=True, eq=False)
class Interreflection:
    """A room ready to say what light anywhere does to any point.

    Attributes
    ----------
    beam
        The room and its openings.
    mesh
        The room and its reveals in elements, N.
    reflectance
        Of the elements, (N,).
    form_factors
        Share of what leaves an element that reaches another, (N, N), walls between them counted.
    """

    beam: Beam
    mesh: Mesh
    reflectance: Floats
    form_factors: Floats

    @cached_property
    def _system(self) -> Floats:
        """The radiosity equations' matrix for illuminance, 1 − F ρ, (N, N)."""
        system: Floats = np.eye(len(self.reflectance)) - self.form_factors * self.reflectance
        return system

    def solve(self, first_lux: Floats) -> Floats:
        """Illuminance of the elements after all bounces, lx, (N,).

        `first_lux` (N,) is what falls on them before any.
        """
        return np.asarray(np.linalg.solve(self._system, first_lux), dtype=np.float64)

    def transfer_factors(
        self, points: Floats, normals: Floats, screens: Screens = NO_SCREENS
    ) -> Floats:
        """What light that first falls on each element does to points, after all bounces.

        Parameters
        ----------
        points, normals
            In the room, in the plan frame, (P, 3); unit normals.
        screens
            What stands before single points, by their index.

        Returns
        -------
        lux at the point by lux on the element, (P, N). The first light's own way to the points is
        not in it.
        """
        seen = self.form_factors_from(points, normals, screens)
        solved = np.linalg.solve(self._system.T, (seen * self.reflectance).T).T
        return np.asarray(solved, dtype=np.float64)

    def form_factors_from(
        self, points: Floats, normals: Floats, screens: Screens = NO_SCREENS
    ) -> Floats:
        """Configuration factors of all elements from points in the room, (P, N).

        Parameters
        ----------
        points, normals
            Off all surfaces, in the plan frame, (P, 3); unit normals.
        screens
            What stands before single points, by their index.
        """
        factors = form_factor_above(points, normals, self.mesh.corners) * self.visibility(points)
        for row, before in screens.items():
            for screen in before:
                factors[row] *= 1.0 - screen.hides(points[row], self.mesh.probes).mean(axis=1)
        return factors

    def visibility(self, points: Floats) -> Floats:
        """How free the way is from points (P, 3) in the room to the elements, (P, N).

        0 where a wall stands between; into a reveal what the dressing before it lets through.
        """
        return _visibility(self.beam, self.mesh, points)


def interreflection(beam: Beam) -> Interreflection:
    """Cut a room into a mesh and work out how its elements light each other.

    All surfaces are matt, with the reflectances of the file; glass throws back what it does with
    its dressing. An element sees another from its middle.
    """
    elements, painted = mesh(beam.room, beam.apertures), beam.room.reflectance
    walls = [painted.walls] * (len(elements.surface_names) - 1)  # and the reveals, at −1
    reflectance = np.array([painted.floor, painted.ceiling, *walls])[elements.surface]
    for index, opening in enumerate(beam.apertures):
        own_glass = elements.glass & (elements.reveal_of == index)
        reflectance[own_glass] = glass.inside_reflectance(opening.opening)
    # Single precision is plenty between elements, and three times as fast: 6 % of `gap` as a whole.
    single = (
        part.astype(np.float32) for part in (elements.middles, elements.normals, elements.corners)
    )
    factors = form_factor(*single)
    own = elements.reveal_of < 0
    free = np.zeros_like(factors)
    free[own] = _visibility(beam, elements, elements.raised()[own])
    # From a reveal the room is as open as the other way round; its own sides all see each other.
    free[~own] = (elements.reveal_of[~own, None] == elements.reveal_of[None]) & ~own
    free[np.ix_(~own, own)] = free[np.ix_(own, ~own)].T
    even = _reciprocal(factors * free, elements.areas)
    return Interreflection(beam, elements, reflectance, even)


def _visibility(beam: Beam, elements: Mesh, points: Floats) -> Floats:
    outline = np.array(beam.room.outline)
    free = np.zeros((len(points), len(elements.areas)))
    own = np.flatnonzero(elements.reveal_of < 0)
    free[:, own] = 1.0
    if not beam.convex:
        # One over the other they are alike on the plan: each spot of it is asked for once.
        spots, middles = points[:, :2], elements.middles[own, :2]
        starts, start = distinct_rows(np.round(spots / SAME_M))
        ends, end = distinct_rows(np.round(middles / SAME_M))
        # Ends on a wall are drawn in a little, so that their own wall is not in the way.
        pulled = middles[ends, None] + 1e-6 * (spots[None, starts] - middles[ends, None])
        free[:, own] = sight_lines.unobstructed(outline, None, spots[starts], pulled).T[
            start[:, None], end
        ]
    for index, opening in enumerate(beam.apertures):
        deep = np.flatnonzero(elements.reveal_of == index)
        free[:, deep] = _into_reveal(outline, opening, points, elements.middles[deep])
    return free


def _into_reveal(outline: Floats, opening: Aperture, points: Floats, deep: Floats) -> Floats:
    """How free the way is from points (P, 3) through an inner face to points behind it, (P, K)."""
    before = -((points - opening.origin) @ opening.outward)[:, None]
    behind = ((deep - opening.origin) @ opening.outward)[None]
    share = before / np.maximum(before + behind, 1e-12)
    ends = points[:, None] + share[..., None] * (deep[None] - points[:, None])
    inside = opening.holds(ends.reshape(-1, 3)).reshape(share.shape) & (before > 1e-9)
    flat = ends[..., :2].swapaxes(0, 1)
    inside &= sight_lines.unobstructed(outline, opening.wall, points[:, :2], flat).T
    free: Floats = inside.astype(np.float64) * glass.dressing_shares(opening.opening.dressing)[0]
    return free


def _reciprocal(factors: Floats, areas: Floats) -> Floats:
    """Form factors such that A₁ F₁₂ = A₂ F₂₁ and no light is lost: the rows' sums are 1.

    Elements see each other from their middles only; evening both ways takes out what that costs.
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
