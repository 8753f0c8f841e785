"""How bright is each practical as the camera meters it, against the look?"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..location.model import Practical
from .meter import grey_cd_m2, stops
from .resolved import ResolvedSetup

SHADE_SHARE = 0.7  # of a bulb's light that leaves its shade's side; from memory, no source


@dataclass(frozen=True)
class PracticalGap:
    """A practical as the camera meters it, undimmed, against the look.

    Attributes
    ----------
    practical, lumens
        Its name, and what its bulb gives.
    in_frame
        Whether the camera sees its middle, walls between left aside.
    luminance_cd_m2, stops, wanted_stops
        Of its lit shade; over mid-grey; the middle of its band.
    """

    practical: str
    in_frame: bool
    luminance_cd_m2: float
    stops: float
    wanted_stops: float
    lumens: float

    @property
    def fitting_lumens(self) -> float:
        """The bulb that would sit right without a dimmer, lm."""
        return float(self.lumens * 2.0**-self.dim_stops)

    @property
    def dim_stops(self) -> float:
        """Stops that a dimmer or a smaller bulb must take off; below 0 it is too weak."""
        return self.stops - self.wanted_stops


def practical_gap(practical: Practical, setup: ResolvedSetup) -> PracticalGap:
    """How a practical of a setup's room sits before its camera, against its look."""
    level = practical_cd_m2(practical)
    middle = np.array([[*practical.at, setup.in_room.floor + practical.height]])
    return PracticalGap(
        practical=practical.name,
        in_frame=bool(setup.view.in_frame(middle)[0]),
        luminance_cd_m2=level,
        stops=stops(level, grey_cd_m2(setup.exposure)),
        wanted_stops=sum(setup.wanted.practical) / 2,
        lumens=practical.lumens,
    )


def practical_cd_m2(practical: Practical) -> float:
    """Mean luminance of a lit shade, cd/m²: a matt cylinder as wide and high as its face.

    L = M / π, M the share of its lumens that leaves the side by that side's area π w h.

    >>> lamp = {"name": "lamp", "at": [0, 0], "height": 1.7, "shade": [0.2, 0.25], "lumens": 450}
    >>> round(practical_cd_m2(Practical.model_validate(lamp)))
    638
    """
    width, height = practical.shade
    return SHADE_SHARE * practical.lumens / (math.pi * math.pi * width * height)
