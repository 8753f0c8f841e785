"""Daylight in a room: from sky, ground, blocks and sun through the openings, and round the walls.

Daylight coefficients: how much each exterior patch lights each point of a room, interreflection in
it, is worked out once; a moment then only asks for the patches' luminance and for the sun's own
light.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from ..location.model import Outside, Room
from ..location.read import Location
from ..room.aperture import Aperture
from ..room.beam import Beam, beam_of
from ..room.sunlit_spots import sun_reaches
from ..sun.position import Floats
from . import glass
from .daylight import Skies
from .exterior_luminance import exterior_scene
from .exterior_patches import ExteriorPatches, PatchSorter
from .interreflection import Interreflection, interreflection
from .mesh import Mesh
from .opening_rays import (
    CELL_M,
    FINE_CELL_M,
    OpeningRays,
    glazing_transmittance,
    rays_from_inner_face,
    rays_from_points,
    rays_from_reveal,
)
from .screen import BEYOND_M, NO_SCREENS, Screen, Screens
from .sun_distribution import SunDistribution

CHUNK = 256  # moments at once: some thousand patches each
KEPT = 8  # traced rooms: the largest of the demos takes 12 MB


@dataclass(frozen=True, eq=False)
class DaylightCoefficients:
    """How one opening lights points (P) of the room, all interreflection in it.

    Attributes
    ----------
    straight
        Illuminance by luminance of each exterior patch, lux by cd/m², past glass and dressing,
        (P, S).
    scattered
        Illuminance by the exitance of the opening's dressing into the room, lux by lux, (P,).
    inner_face
        Illuminance of the inner face, which the dressing scatters, by luminance of each exterior
        patch, lux by cd/m², (S,).
    """

    opening: Aperture
    straight: Floats
    scattered: Floats
    inner_face: Floats


@dataclass(frozen=True, eq=False)
class RoomTransfer:
    """What daylight does to points (P) of a room, under any sky.

    Attributes
    ----------
    traced, patches
        The room, and what its rays meet outside.
    coefficients
        How each opening lights the points, (O,).
    points, normals
        Where they are and face, in the plan frame, (P, 3).
    transfer_factors
        lx at each point by lx on each mesh element, after all bounces, (P, N).
    screens
        What stands before single points, by their index.
    """

    traced: TracedRoom
    patches: ExteriorPatches
    coefficients: tuple[DaylightCoefficients, ...]
    points: Floats
    normals: Floats
    transfer_factors: Floats
    screens: Screens

    @property
    def beam(self) -> Beam:
        """The room and its openings."""
        return self.traced.beam

    @property
    def interreflection(self) -> Interreflection:
        """The room's mesh and how its elements light each other."""
        return self.traced.interreflection

    def illuminance_lux(
        self,
        skies: Skies,
        opening_shares: Floats | None = None,
        *,
        lux_by_opening: Floats | None = None,
    ) -> Floats:
        """Illuminance of the points, interreflection in it.

        Parameters
        ----------
        skies
            The moments, (T,).
        opening_shares
            Share of its light that each opening is left, (O,); all of it when left out. What black
            cloth throws back otherwise than glass is left aside.
        lux_by_opening
            What `lux_by_opening` gives for these skies, where it is known, (T, O, P).

        Returns
        -------
        lx, (T, P).
        """
        by_opening = self.lux_by_opening(skies) if lux_by_opening is None else lux_by_opening
        shares = np.ones(by_opening.shape[1]) if opening_shares is None else opening_shares
        lux: Floats = np.einsum("top,o->tp", by_opening, shares)
        return lux

    def lux_by_opening(self, skies: Skies) -> Floats:
        """Illuminance of the points by the light that comes in through each opening, lx, (T, O, P).

        Interreflection is in it: openings add up to the whole.
        """
        return self.indirect_lux(skies) + self.direct_lux(skies)

    def direct_lux(self, skies: Skies) -> Floats:
        """Illuminance by sun or moon itself, straight through each opening, lx, (T, O, P)."""
        lux = np.zeros((len(skies), len(self.coefficients), len(self.points)))
        rows = np.flatnonzero(skies.has_direct_light)
        suns, normal_lux = skies.light_vector[rows], skies.direct_normal_lux[rows]
        cosine = np.maximum(suns @ self.normals.T, 0.0)
        for index, opening in enumerate(self.beam.apertures):
            lit = sun_reaches(self.beam, index, self.points, suns)
            for point in np.flatnonzero(lit.any(axis=0)).tolist():
                moments = np.flatnonzero(lit[:, point])
                far = self.points[point] + BEYOND_M * suns[moments]
                for screen in (*self.screens.get(point, ()), *self.traced.hung):
                    lit[moments, point] &= ~screen.hides(self.points[point], far)
            share = glass.dressing_shares(opening.opening.dressing)[0] * glass.transmittance(
                opening.opening, suns @ opening.glass_normal()
            )
            lux[rows, index] = lit * cosine * (normal_lux * share)[:, None]
        return lux

    def indirect_lux(self, skies: Skies) -> Floats:
        """Illuminance by sky, ground, blocks, and all that the room throws about, lx, (T, O, P)."""
        if len(skies) <= CHUNK:  # then what is known of these skies stays known
            return self._indirect_lux(skies)
        starts = range(0, len(skies), CHUNK)
        return np.concatenate([self._indirect_lux(skies[low : low + CHUNK]) for low in starts])

    def _indirect_lux(self, skies: Skies) -> Floats:
        luminance = self.patches.luminance_cd_m2(skies)
        areas, sun_distribution = self.interreflection.mesh.areas, self.traced.sun_distribution
        lux = np.zeros((len(skies), len(self.coefficients), len(self.points)))
        for index, light in enumerate(self.coefficients):
            opening = light.opening
            straight, scatters = glass.dressing_shares(opening.opening.dressing)
            of_points, of_face = luminance @ light.straight.T, luminance @ light.inner_face
            rows = np.flatnonzero(skies.has_direct_light & opening.faces(skies.light_vector))
            if len(rows):
                suns = skies.light_vector[rows]
                passed = skies.direct_normal_lux[rows] * glazing_transmittance(opening, suns)
                sun_m2, element_m2 = sun_distribution.cross_sections(index, suns)
                of_face[rows] += passed * sun_m2 / (opening.width * opening.height)
                first = sun_distribution.reveal_cosines(index, suns, self.patches.scene, sun_m2)
                first += straight * element_m2 / areas
                of_points[rows] += passed[:, None] * (first @ self.transfer_factors.T)
            lux[:, index] = of_points + scatters * of_face[:, None] * light.scattered
        return lux


@dataclass(frozen=True, eq=False)
class OpeningTrace:
    """The rays out through one opening: from the room's mesh, its reveal's, its inner face."""

    room: OpeningRays
    reveal: OpeningRays
    inner_face: OpeningRays


@dataclass(frozen=True, eq=False)
class TracedRoom:
    """A room whose mesh is traced to what is outside; its points of interest are still open.

    Attributes
    ----------
    beam, interreflection
        The room with its openings, and its mesh.
    sorter
        The exterior patches that rays have met so far.
    openings
        The traced rays through each, (O,).
    sun_distribution
        Where direct light falls on the room's mesh.
    hung
        What hangs in the way of the light, in the room or outside before an opening: black, and
        what it hides of one wall from another is left aside.
    """

    beam: Beam
    interreflection: Interreflection
    sorter: PatchSorter
    openings: tuple[OpeningTrace, ...]
    sun_distribution: SunDistribution
    hung: tuple[Screen, ...] = ()

    def behind(self, hung: Sequence[Screen]) -> TracedRoom:
        """The same room with flags hung in it, or outside before its openings."""
        mesh = self.interreflection.mesh
        openings = _traces(self.beam, mesh, self.sorter, hung)
        sun_distribution = SunDistribution(self.beam, mesh, tuple(hung))
        return replace(self, openings=openings, sun_distribution=sun_distribution, hung=tuple(hung))

    def transfer_to(
        self, points: Floats, normals: Floats, screens: Screens = NO_SCREENS
    ) -> RoomTransfer:
        """What daylight does to points of the room.

        Parameters
        ----------
        points, normals
            In the plan frame, (P, 3); unit normals.
        screens
            What stands before single points, by their index. What it does to the room at large is
            left aside.
        """
        apertures, reveal_of = self.beam.apertures, self.interreflection.mesh.reveal_of
        from_points = [
            rays_from_points(
                self.beam,
                opening,
                points,
                normals,
                self.sorter,
                cell_m=FINE_CELL_M,
                screens=screens,
                hung=self.hung,
            )
            for opening in apertures
        ]
        patches = self.sorter.patches()
        before = {
            point: (*screens.get(point, ()), *self.hung)
            for point in (range(len(points)) if self.hung else screens)
        }
        factors = self.interreflection.transfer_factors(points, normals, before)
        of_room = factors[:, reveal_of < 0]
        coefficients = []
        for index, (rays, trace) in enumerate(zip(from_points, self.openings, strict=True)):
            own, room, reveal, face = (
                part.matrix(patches.count)
                for part in (rays, trace.room, trace.reveal, trace.inner_face)
            )
            dressing = glass.dressing_shares(apertures[index].opening.dressing)[0]
            straight = dressing * (own.toarray() + of_room @ room)
            straight += factors[:, reveal_of == index] @ reveal
            scattered = rays.form_factor + of_room @ trace.room.form_factor
            coefficients.append(
                DaylightCoefficients(apertures[index], straight, scattered, face.toarray()[0])
            )
        return RoomTransfer(self, patches, tuple(coefficients), points, normals, factors, screens)


@dataclass(frozen=True)
class _TraceKey:
    """All that the trace of a room depends on; two that are equal have the same."""

    room: Room
    outside: tuple[Outside, ...]
    plan_up: float
    ground_reflectance: float
    location: Location = field(compare=False, repr=False)


def trace_room(location: Location, room: Room) -> TracedRoom:
    """Cut a room into a mesh and trace what its elements see of the outside.

    It takes longest of all that light asks: do it once a room. Who asks several questions of a
    location has the last few rooms kept, without what was asked of them.
    """
    site = location.site
    traced = _traced(
        _TraceKey(room, location.outside, site.plan_up, site.ground_reflectance, location)
    )
    return replace(traced, sorter=traced.sorter.copy())


@lru_cache(maxsize=KEPT)
def _traced(around: _TraceKey) -> TracedRoom:
    beam = beam_of(around.location, around.room)
    walls = interreflection(beam)
    sorter = PatchSorter(exterior_scene(around.location, around.room))
    openings = _traces(beam, walls.mesh, sorter, ())
    return TracedRoom(beam, walls, sorter, openings, SunDistribution(beam, walls.mesh))


def _traces(
    beam: Beam, mesh: Mesh, sorter: PatchSorter, hung: Sequence[Screen]
) -> tuple[OpeningTrace, ...]:
    """The rays out through each opening, (O,), past what hangs."""
    own = np.flatnonzero(mesh.reveal_of < 0)
    points, normals = mesh.raised()[own], mesh.normals[own]
    return tuple(
        OpeningTrace(
            rays_from_points(beam, opening, points, normals, sorter, cell_m=CELL_M, hung=hung),
            rays_from_reveal(
                opening, mesh, np.flatnonzero(mesh.reveal_of == index), sorter, hung=hung
            ),
            rays_from_inner_face(opening, sorter, hung=hung),
        )
        for index, opening in enumerate(beam.apertures)
    )
