"""Light over many days at once: worked out where the sun may stand, read off for each moment.

What a sky gives a room hangs on where the sun stands and, in proportion, on how much light comes
straight from it and how much from the sky. Over a year the sun comes by the same places again and
again: so a net of hour angles and declinations is worked out once, and moments are read off it, by
straight lines between its knots. Only what sun falls on is asked for at each moment itself.
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
    """A net of places of the sun over moments (T,) of one kind of sky."""

    location: Location
    skies: Skies

    @cached_property
    def _at(self) -> tuple[Floats, Floats]:
        """Hour angles and declinations of the moments, degrees."""
        times = np.array([one.unix_s for one in self.skies])
        track = track_over(self.location, times[0], times[-1])
        return track.hour_angle_deg(times), track.declination_deg(times)

    @cached_property
    def _axes(self) -> tuple[Floats, Floats]:
        """Hour angles and declinations of the knots."""
        return tuple(  # type: ignore[return-value]
            np.linspace(low, high, max(2, int(np.ceil((high - low) / step)) + 1))
            for low, high, step in zip(
                (one.min() for one in self._at),
                (one.max() for one in self._at),
                (HOUR_ANGLE_DEG, DECLINATION_DEG),
                strict=True,
            )
        )

    def knots(self, *, direct: bool) -> Skies:
        """A sky of 1 lx at each knot: all of it straight from the sun, or all from the sky."""
        site = self.location.site
        hour, declination = (one.ravel() for one in np.meshgrid(*self._axes, indexing="ij"))
        at = equatorial_to_horizontal(
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
                    at.plan(site.plan_up), at.altitude_deg, at.bearing_deg, strict=True
                )
            )
        )

    def read(self, levels: Callable[[Skies], Floats]) -> Floats:
        """Levels (T, ...) of the moments, from what a function gives of skies, (K, ...)."""
        diffuse = np.array([one.diffuse_horizontal_lux for one in self.skies])
        of_sky = self._between(levels(self.knots(direct=False)))
        of_sun = self._between(levels(self.knots(direct=True)))
        shape = (-1, *(1,) * (of_sky.ndim - 1))
        found: Floats = diffuse.reshape(shape) * of_sky
        found += self.skies.direct_normal_lux.reshape(shape) * of_sun
        return found

    def _between(self, knots: Floats) -> Floats:
        """Values at the moments from those at the knots, by straight lines."""
        rows, shares = [], []
        for axis, at in zip(self._axes, self._at, strict=True):
            place = np.interp(at, axis, np.arange(len(axis)))
            row = np.minimum(place.astype(np.intp), len(axis) - 2)
            rows.append(row)
            shares.append((place - row).reshape(-1, *(1,) * (knots.ndim - 1)))
        grid = knots.reshape(len(self._axes[0]), len(self._axes[1]), *knots.shape[1:])
        (hour, declination), (late, high) = rows, shares
        before = (1.0 - high) * grid[hour, declination] + high * grid[hour, declination + 1]
        after = (1.0 - high) * grid[hour + 1, declination] + high * grid[hour + 1, declination + 1]
        between: Floats = (1.0 - late) * before + late * after
        return between
