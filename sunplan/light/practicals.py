"""How bright is each practical as the camera meters it, against the look?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..location.model import Exposure, Practical, Room
from ..room.camera import CameraView
from .look import Look
from .meter import grey_cd_m2, stops

SHADE_SHARE = 0.7  # of a bulb's light that leaves its shade's side; from memory, no source


@dataclass(frozen=True)
class PracticalGap:
    """A practical as the camera meters it, undimmed, against the look."""

    practical: str
    in_frame: bool
    luminance_cd_m2: float
    stops: float
    wanted_stops: float
    lumens: float

    @property
    def fitting_lumens(self) -> float:
        """The bulb that would sit right without a dimmer."""
        return float(self.lumens * 2.0**-self.dim_stops)

    @property
    def dim_stops(self) -> float:
        """What a dimmer or a smaller bulb must take off; below 0 it is too weak."""
        return self.stops - self.wanted_stops


def practical_gap(
    practical: Practical, room: Room, camera: CameraView, exposure: Exposure, look: Look
) -> PracticalGap:
    """A practical of a room before a camera."""
    level = practical_cd_m2(practical)
    middle = np.array([[*practical.at, room.floor + practical.height]])
    return PracticalGap(
        practical=practical.name,
        in_frame=bool(camera.in_frame(middle)[0]),
        luminance_cd_m2=level,
        stops=stops(level, grey_cd_m2(exposure)),
        wanted_stops=sum(look.practical) / 2,
        lumens=practical.lumens,
    )


def practical_cd_m2(practical: Practical) -> float:
    """Mean luminance of a lit shade, cd/m²: a matt cylinder as wide and high as its face."""
    width, height = practical.shade
    return SHADE_SHARE * practical.lumens / (math.pi * math.pi * width * height)
