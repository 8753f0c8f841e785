"""How bright an opening is as the camera sees it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..location.model import Room
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.frame import View, looks, sees
from ..sun.position import Floats
from . import glass
from .daylight import Sky, sky_patches
from .outdoors import Outdoors, Sight


@dataclass(frozen=True, eq=False)
class Window:
    """An opening in a setup's frame, ready for any sky.

    `seen` is what the camera's rays meet outside (N rays, past the reveal), `through` (N,) the
    glass's share of it; `onto` and `into` are the same for rays from all round onto the glass,
    each with its cosine times solid angle. No rays: the opening is out of frame.
    """

    room: Room
    opening: Aperture
    outdoors: Outdoors
    camera: View
    seen: Sight
    through: Floats
    onto: Sight
    into: Floats
    face: Floats

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

    def luminance_cd_m2(self, sky: Sky) -> float:
        """Mean over what is in frame, cd/m²; what hangs before the glass adds its own glow."""
        return self.dressed_cd_m2(sky, [glass.dressing(self.opening.opening)])[0]

    def dressed_cd_m2(self, sky: Sky, dressings: Sequence[tuple[float, float]]) -> list[float]:
        """The same with dressings in turn, by the shares they let straight through and scatter."""
        view = float((self.outdoors.luminance(self.seen, sky) * self.through).mean())
        glow = self.passed_lux(sky) / math.pi if any(share for _, share in dressings) else 0.0
        return [straight * view + scattered * glow for straight, scattered in dressings]

    def passed_lux(self, sky: Sky) -> float:
        """Light behind the glass per area of it, lx: sky, ground, blocks and sun."""
        lux = float((self.outdoors.luminance(self.onto, sky) * self.into).sum())
        normal = self.opening.glass_normal()
        middle = self.opening.glass_corners().mean(axis=0)[None]
        if self.outdoors.sunlit(middle, normal[None], sky.source)[0]:
            cosine = np.array([normal @ sky.source])
            share = float(glass.transmittance(self.opening.opening, cosine)[0])
            lux += sky.direct_normal_lux * float(cosine[0]) * share
        return lux

    def sun_in_frame(self, sky: Sky) -> bool:
        """Whether the middle of the sun's disk stands in the glass that the camera sees."""
        sun, opening = sky.sun, self.opening
        out = float(sun @ opening.outward)
        if sun[2] <= 0 or out <= 0 or not sky.direct_normal_lux or sky.moon is not None:
            return False
        way = float((opening.origin - self.camera.at) @ opening.outward) / out
        point = (self.camera.at + way * sun)[None]
        return bool(
            opening.holds(point)[0]
            and opening.clears(point, sun[None])[0]
            and sees(self.camera, self.room, opening, point)[0]
            and self.outdoors.sunlit(point, sun[None], sun)[0]
        )


def _level(way: Floats) -> Floats:
    flat = np.array([way[0], way[1], 0.0])
    level: Floats = flat / np.linalg.norm(flat)
    return level


def window(room: Beam, camera: View, index: int, outdoors: Outdoors, face: Floats) -> Window:
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
    half, share = sky_patches()
    all_round, share = np.concatenate((half, half * [1.0, 1.0, -1.0])), np.tile(share, 2)
    cosine = all_round @ normal
    front = cosine > 1e-3
    all_round, cosine, share = all_round[front], cosine[front], share[front]
    middle = opening.glass_corners().mean(axis=0)
    return Window(
        room=room.room,
        opening=opening,
        outdoors=outdoors,
        camera=camera,
        seen=outdoors.sight(out, toward),
        through=glass.transmittance(opening.opening, np.abs(toward @ normal)),
        onto=outdoors.sight(np.tile(middle, (len(all_round), 1)), all_round),
        into=glass.transmittance(opening.opening, cosine) * cosine * share,
        face=face,
    )
