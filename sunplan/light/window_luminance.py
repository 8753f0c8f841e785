"""How bright an opening is as the camera sees it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.camera import View, looks
from ..room.sunlit_spots import reaches
from ..sun.position import Floats
from ..sun.search import Bools
from . import glass
from .daylight import Skies
from .exterior_luminance import ExteriorScene, RayHits
from .sky_luminance import hemisphere_rays

ROUND = (15, 40)  # directions from which light gets onto the glass, up and round


@dataclass(frozen=True, eq=False)
class Window:
    """An opening in a setup's frame, ready for any sky.

    `seen` is what the camera's rays meet outside (N rays, past the reveal), `through` (N,) the
    glass's share of it; `onto` and `into` are the same for rays from all round onto the glass,
    each with its cosine times solid angle. No rays: the opening is out of frame.
    """

    room: Beam
    index: int
    outdoors: ExteriorScene
    camera: View
    seen: RayHits
    through: Floats
    onto: RayHits
    into: Floats
    face: Floats

    @property
    def opening(self) -> Aperture:
        """The opening."""
        return self.room.apertures[self.index]

    @property
    def frame_share(self) -> float:
        """How much of the frame its inner face fills, walls between left aside."""
        part = self.camera.seen_part(self.opening.world(self.opening.rectangle))
        return float(part.area) / 4.0

    @property
    def pan_deg(self) -> float | None:
        """The least pan that takes it out and leaves the face in; to the right if positive."""
        corners = self.opening.world(self.opening.rectangle)
        off = np.concatenate((corners, self.face[None])) - self.camera.at
        turns = np.degrees(np.arctan2(off @ self.camera.right, off @ _level(self.camera.forward)))
        half = math.degrees(math.atan(self.camera.half[0]))
        face, edges = float(turns[-1]), turns[:-1]
        pans = (float(edges.max()) + half, float(edges.min()) - half)
        kept = [pan for pan in pans if abs(face - pan) < half]
        return min(kept, key=abs, default=None)

    @property
    def in_frame(self) -> bool:
        """Whether any of its glass is in frame."""
        return len(self.through) > 0

    def luminance_cd_m2(self, skies: Skies) -> Floats:
        """Mean over what is in frame, cd/m², (T,); what hangs before the glass adds its glow."""
        level: Floats = self.dressed_cd_m2(
            skies, [glass.dressing_shares(self.opening.opening.dressing)]
        )[0]
        return level

    def dressed_cd_m2(self, skies: Skies, dressings: Sequence[tuple[float, float]]) -> Floats:
        """The same with dressings (D) by the shares they let straight and scatter, (D, T)."""
        view = (self.outdoors.luminance_cd_m2(self.seen, skies) * self.through).mean(axis=1)
        glow = np.zeros(len(skies))
        if any(share for _, share in dressings):
            glow = self.passed_lux(skies) / math.pi
        return np.array([straight * view + scattered * glow for straight, scattered in dressings])

    def passed_lux(self, skies: Skies) -> Floats:
        """Light behind the glass per area of it, lx, (T,): sky, ground, blocks and sun."""
        lux: Floats = self.outdoors.luminance_cd_m2(self.onto, skies) @ self.into
        normal = self.opening.glass_normal()
        middle = self.opening.glass_corners().mean(axis=0)[None]
        rows = np.flatnonzero(skies.has_direct_light)
        if len(rows):
            suns = skies.light_vector[rows]
            cosine = np.maximum(suns @ normal, 0.0)
            share = glass.transmittance(self.opening.opening, cosine)
            lit = self.outdoors.sunlit(middle, normal[None], suns)[:, 0]
            lux[rows] += lit * skies.direct_normal_lux[rows] * cosine * share
        return lux

    def sun_in_frame(self, skies: Skies) -> Bools:
        """Whether the middle of the sun's disk stands in the glass that the camera sees, (T,)."""
        suns = skies.light_vector
        rows = np.flatnonzero(
            skies.has_direct_light & np.array([one.moon is None for one in skies])
        )
        found = np.zeros(len(skies), dtype=bool)
        found[rows] = self.camera.inside(self.camera.at + suns[rows])
        rows = np.flatnonzero(found)
        found[rows] = reaches(self.room, self.index, self.camera.at[None], suns[rows])[:, 0]
        return found


def _level(way: Floats) -> Floats:
    flat = np.array([way[0], way[1], 0.0])
    level: Floats = flat / np.linalg.norm(flat)
    return level


def window(room: Beam, camera: View, index: int, outdoors: ExteriorScene, face: Floats) -> Window:
    """An opening of a room as a camera sees it, with a face (3,) that it films."""
    opening = room.apertures[index]
    normal = opening.glass_normal()
    points = looks(camera, room.room, opening)
    toward = points - camera.at
    toward = toward / np.linalg.norm(toward, axis=1, keepdims=True)
    # A ray is its own sun vector: only those that clear both apertures see the glass.
    clear = opening.clears(points, toward)
    points, toward = points[clear], toward[clear]
    out = opening.to_glass(points, toward)
    ways, weight = hemisphere_rays(normal, ROUND)
    middle = opening.glass_corners().mean(axis=0)
    return Window(
        room=room,
        index=index,
        outdoors=outdoors,
        camera=camera,
        seen=outdoors.trace(out, toward),
        through=glass.transmittance(opening.opening, np.abs(toward @ normal)),
        onto=outdoors.trace(np.tile(middle, (len(ways), 1)), ways),
        into=glass.transmittance(opening.opening, ways @ normal) * weight,
        face=face,
    )
