"""Light over many days at once: worked out where the sun may stand, read off for each moment.

What a sky gives a room hangs on where the sun stands and, in proportion, on how much light comes
straight from it and how much from the sky. Over a year the sun comes by the same places again and
again: so a grid of hour angles and declinations is worked out once, and moments are read off it,
linearly between its knots. Only what sun falls on is asked for at each moment itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..location.read import Location
from ..sun.position import Floats, equatorial_to_horizontal
from ..sun.track import track_over
from .daylight import Skies, Sky

HOUR_ANGLE_DEG, DECLINATION_DEG = 3.75, 2.0  # between knots


@dataclass(frozen=True, eq=False)
class SunInterpolator:
    """A grid of places of the sun over the moments (T) of skies that all have one name.

    Its steps are `HOUR_ANGLE_DEG` by `DECLINATION_DEG`.
    """

    location: Location
    skies: Skies

    @cached_property
    def _places(self) -> Floats:
        """Hour angles and declinations of the moments, degrees, (T, 2)."""
        times = np.array([sky.unix_s for sky in self.skies])
        track = track_over(self.location, times[0], times[-1])
        return np.stack((track.hour_angle_deg(times), track.declination_deg(times)), axis=-1)

    @cached_property
    def _axes(self) -> tuple[Floats, Floats]:
        """Hour angles and declinations of the knots."""
        low, high = self._places.min(axis=0), self._places.max(axis=0)
        steps = np.ceil((high - low) / (HOUR_ANGLE_DEG, DECLINATION_DEG)).astype(int)
        hour, declination = (
            np.linspace(first, last, max(2, count + 1))
            for first, last, count in zip(low, high, steps.tolist(), strict=True)
        )
        return hour, declination

    def knots(self, *, direct: bool) -> Skies:
        """A sky of 1 lx at each knot (K): all of it straight from the sun, or all from the sky.

        They have no moment: `unix_s` is NaN.
        """
        site = self.location.site
        hour, declination = (axis.ravel() for axis in np.meshgrid(*self._axes, indexing="ij"))
        suns = equatorial_to_horizontal(
            hour, declination, latitude_deg=site.latitude, elevation_m=site.elevation
        )
        first = self.skies[0]
        return Skies(
            tuple(
                Sky(
                    name=first.name,
                    model=first.model,
                    unix_s=float("nan"),
                    sun=sun,
                    sun_altitude_deg=float(altitude),
                    sun_bearing_deg=float(bearing),
                    direct_normal_lux=1.0 if direct else 0.0,
                    diffuse_horizontal_lux=0.0 if direct else 1.0,
                )
                for sun, altitude, bearing in zip(
                    suns.plan(site.plan_up), suns.altitude_deg, suns.bearing_deg, strict=True
                )
            )
        )

    def read(self, levels: Callable[[Skies], Floats]) -> Floats:
        """Levels of the moments, read off those at the knots.

        Parameters
        ----------
        levels
            Gives levels (K, ...) of skies (K), in proportion to their light; asked twice.

        Returns
        -------
        (T, ...).
        """
        of_sky = self._interpolated(levels(self.knots(direct=False)))
        of_sun = self._interpolated(levels(self.knots(direct=True)))
        shape = (-1, *(1,) * (of_sky.ndim - 1))
        lit: Floats = self.skies.diffuse_horizontal_lux.reshape(shape) * of_sky
        lit += self.skies.direct_normal_lux.reshape(shape) * of_sun
        return lit

    def _interpolated(self, knots: Floats) -> Floats:
        """Values at the moments from those at the knots."""
        from scipy.interpolate import RegularGridInterpolator

        grid = knots.reshape(*map(len, self._axes), *knots.shape[1:])
        values: Floats = RegularGridInterpolator(self._axes, grid)(self._places)
        return values
