"""How bright an opening is as the camera sees it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.camera import CameraView, visible_points
from ..room.sunlit_spots import sun_reaches
from ..sun.position import Floats
from ..sun.search import Bools
from . import glass
from .daylight import Skies
from .exterior_luminance import ExteriorScene, RayHits
from .sky_luminance import hemisphere_rays

GLASS_GRID = (15, 40)  # directions from which light gets onto the glass, up and round


@dataclass(frozen=True, eq=False)
class Window:
    """An opening before a setup's camera, ready for any sky.

    Attributes
    ----------
    beam, index
        The room, and which of its openings it is.
    scene, camera
        What stands outside, and who looks.
    view_hits, view_transmittance
        What the camera's rays through it meet outside, past the reveal, and the glass's share of
        it, (N,). No rays: the opening is out of frame.
    glass_hits, glass_weights
        What rays from all round onto the glass come from, and their transmittance by cosine by
        solid angle, sr, (M,).
    face
        That the camera films, (3,).
    """

    beam: Beam
    index: int
    scene: ExteriorScene
    camera: CameraView
    view_hits: RayHits
    view_transmittance: Floats
    glass_hits: RayHits
    glass_weights: Floats
    face: Floats

    @property
    def opening(self) -> Aperture:
        """The opening's two apertures."""
        return self.beam.apertures[self.index]

    @property
    def frame_share(self) -> float:
        """How much of the frame its inner face fills, walls between left aside."""
        part = self.camera.seen_part(self.opening.world(self.opening.rectangle))
        return float(part.area) / 4.0

    @property
    def pan_deg(self) -> float | None:
        """The least pan that takes it out and leaves the face in, °, to the right if positive.

        None where there is none.
        """
        corners = self.opening.world(self.opening.rectangle)
        off = np.concatenate((corners, self.face[None])) - self.camera.position
        level = self.camera.forward * [1.0, 1.0, 0.0]
        ahead = off @ (level / np.linalg.norm(level))
        *edges, face = np.degrees(np.arctan2(off @ self.camera.right, ahead)).tolist()
        half = math.degrees(math.atan(self.camera.half_tangents[0]))
        pans = (max(edges) + half, min(edges) - half)
        return min((pan for pan in pans if abs(face - pan) < half), key=abs, default=None)

    @property
    def in_frame(self) -> bool:
        """Whether any of its glass is in frame."""
        return len(self.view_transmittance) > 0

    def luminance_cd_m2(self, skies: Skies) -> Floats:
        """Mean luminance of what is in frame, cd/m², (T,); only for an opening in frame.

        A dressing before the glass dims the view and adds its own scattered light.
        """
        hung = glass.dressing_shares(self.opening.opening.dressing)
        luminance: Floats = self.dressed_cd_m2(skies, [hung])[0]
        return luminance

    def dressed_cd_m2(self, skies: Skies, dressings: Sequence[tuple[float, float]]) -> Floats:
        """Mean luminance of what is in frame, with dressings (D) before it, cd/m², (D, T).

        `dressings` are their regular and diffuse transmittances, as `glass.dressing_shares`.
        """
        view = self.scene.luminance_cd_m2(self.view_hits, skies) * self.view_transmittance
        scattering = any(scattered for _, scattered in dressings)
        glow = self.passed_lux(skies) / math.pi if scattering else np.zeros(len(skies))
        straight, scattered = np.array(dressings).T[..., None]
        luminance: Floats = straight * view.mean(axis=1) + scattered * glow
        return luminance

    def passed_lux(self, skies: Skies) -> Floats:
        """Illuminance right behind the glass by sky, ground, blocks and sun, lx, (T,)."""
        lux: Floats = self.scene.luminance_cd_m2(self.glass_hits, skies) @ self.glass_weights
        normal = self.opening.glass_normal()
        middle = self.opening.glass_corners().mean(axis=0)[None]
        rows = np.flatnonzero(skies.has_direct_light)
        suns = skies.light_vector[rows]
        cosine = np.maximum(suns @ normal, 0.0)
        share = glass.transmittance(self.opening.opening, cosine)
        lit = self.scene.sunlit(middle, normal[None], suns)[:, 0]
        lux[rows] += lit * skies.direct_normal_lux[rows] * cosine * share
        return lux

    def sun_in_frame(self, skies: Skies) -> Bools:
        """Whether the middle of the sun's disk stands in the glass that the camera sees, (T,)."""
        suns = skies.light_vector
        by_sun = np.array([sky.moon is None for sky in skies])
        rows = np.flatnonzero(skies.has_direct_light & by_sun)
        rows = rows[self.camera.in_frame(self.camera.position + suns[rows])]
        in_frame = np.zeros(len(skies), dtype=bool)
        in_frame[rows] = sun_reaches(self.beam, self.index, self.camera.position[None], suns[rows])[
            :, 0
        ]
        return in_frame


def window(
    beam: Beam, camera: CameraView, index: int, scene: ExteriorScene, face: Floats
) -> Window:
    """An opening of a room as a camera sees it.

    Parameters
    ----------
    beam, index
        The room, and which of its openings.
    camera, face
        Who looks, and the face that it films, (3,).
    scene
        What stands outside.
    """
    opening = beam.apertures[index]
    normal, middle = opening.glass_normal(), opening.glass_corners().mean(axis=0)
    points = visible_points(camera, beam.room, opening)
    toward = points - camera.position
    toward = toward / np.linalg.norm(toward, axis=1, keepdims=True)
    # A ray is its own sun vector: only those that clear both apertures see the glass.
    clear = opening.clears(points, toward)
    points, toward = points[clear], toward[clear]
    onto_glass, weights = hemisphere_rays(normal, GLASS_GRID)
    return Window(
        beam=beam,
        index=index,
        scene=scene,
        camera=camera,
        view_hits=scene.trace(opening.to_glass(points, toward), toward),
        view_transmittance=glass.transmittance(opening.opening, np.abs(toward @ normal)),
        glass_hits=scene.trace(np.tile(middle, (len(onto_glass), 1)), onto_glass),
        glass_weights=glass.transmittance(opening.opening, onto_glass @ normal) * weights,
        face=face,
    )
