"""A flat thing that hides what is behind it from a spot: a flag, a panel of negative fill."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..sun.position import Floats
from ..sun.search import Bools

BEYOND_M = 1e3  # of all openings


@dataclass(frozen=True, eq=False)
class Screen:
    """A flat rectangle in the plan frame.

    Attributes
    ----------
    centre
        (3,).
    across, up
        Unit vectors along its sides, (3,) each.
    size
        Width and height along them, metres.
    """

    centre: Floats
    across: Floats
    up: Floats
    size: tuple[float, float]

    def corners(self) -> Floats:
        """Its corners, counter-clockwise as seen from where `across` × `up` points to, (4, 3)."""
        half = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * self.size
        corners: Floats = self.centre + half[:, :1] * self.across + half[:, 1:] * self.up
        return corners

    @property
    def heights(self) -> Floats:
        """Of its lowest and its highest point, metres above ground, (2,)."""
        heights = self.corners()[:, 2]
        return np.array([heights.min(), heights.max()])

    @property
    def tilt_deg(self) -> float:
        """Between its face and the upright, degrees: 0 upright, 90 level."""
        rise = abs(float(np.cross(self.across, self.up)[2]))
        return math.degrees(math.asin(min(1.0, rise)))

    def hides(self, point: Floats, ends: Floats) -> Bools:
        """Whether it stands between points (..., 3) and ends (..., 3), (...).

        Examples
        --------
        >>> x, y, z = np.eye(3)
        >>> panel = Screen(x, y, z, (1.0, 1.0))
        >>> panel.hides(np.zeros(3), np.array([[2.0, 0, 0], [2.0, 1.2, 0], [0.5, 0, 0]]))
        array([ True, False, False])
        >>> panel.hides(np.zeros(3), np.array([[0.0, 2.0, 0.0]]))  # a way that runs along it
        array([False])
        """
        normal = np.cross(self.across, self.up)
        toward = ends - point
        rate = toward @ normal
        with np.errstate(divide="ignore", invalid="ignore"):
            share = ((self.centre - point) @ normal) / rate
        between = (share > 0) & (share < 1)  # not where the way runs along it, or beside it
        off = point + np.where(between, share, 0.0)[..., None] * toward - self.centre
        inside: Bools = np.abs(off @ self.across) <= self.size[0] / 2
        return inside & between & (np.abs(off @ self.up) <= self.size[1] / 2)


Screens = Mapping[int, Sequence[Screen]]  # by the index of the point that they stand before
NO_SCREENS: Screens = {}
