"""Where the sun is at many moments over one place, quickly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from .position import (
    HOUR_DEG,
    Directions,
    Floats,
    pressure_hpa,
    refracted,
    solar_positions,
    wrapped_deg,
)

if TYPE_CHECKING:
    from ..location.read import Location

GRID_S = 3600.0  # linear steps of this length keep the track within 0.00003 degrees of the SPA


class Track:
    """The sun's way over a place through a span of time, quick at any moment of it.

    Hour angle (less its even turning) and declination of the SPA (`position.py`) are read off an
    hourly grid and joined by straight lines; spherical trigonometry does the rest. Both change so
    slowly that the error against plain SPA stays below 0.00003 degrees at a hundredth of the work.

    Parameters
    ----------
    start_s, end_s : the span, seconds since 1970 UTC; outside it the answers are no longer right.
    latitude_deg, longitude_deg, elevation_m : of the place.

    Examples
    --------
    The sun over the equator at an equinox, by noon of Greenwich and six hours on:

    >>> noon = 1805540400.0  # 2027-03-20, 11:00 UTC
    >>> track = Track(noon, noon + 86400.0, latitude_deg=0.0, longitude_deg=15.0)
    >>> track.hour_angle_deg([noon, noon + 21600.0]).round() + 0.0
    array([-2., 88.])
    >>> track.declination_deg(noon).round(1) + 0.0
    np.float64(-0.2)
    """

    def __init__(
        self,
        start_s: float,
        end_s: float,
        *,
        latitude_deg: float,
        longitude_deg: float,
        elevation_m: float = 0.0,
    ) -> None:
        self.start_s, self.end_s = float(start_s), float(end_s)
        self.latitude_deg = latitude_deg
        self._hpa = pressure_hpa(elevation_m)
        steps = int(np.ceil((self.end_s - self.start_s) / GRID_S)) + 3
        self._grid = self.start_s + GRID_S * np.arange(-1, steps - 1)
        sun = solar_positions(
            self._grid,
            latitude_deg=latitude_deg,
            longitude_deg=longitude_deg,
            elevation_m=elevation_m,
        )
        altitude, bearing = np.radians(sun.true_altitude_deg), np.radians(sun.bearing_deg)
        phi = np.radians(latitude_deg)
        east, north = np.cos(altitude) * np.sin(bearing), np.cos(altitude) * np.cos(bearing)
        up = np.sin(altitude)
        toward_equator = np.cos(phi) * up - np.sin(phi) * north
        self._sin_d = np.sin(phi) * up + np.cos(phi) * north
        self._cos_d = np.sqrt(1.0 - self._sin_d**2)
        hour_angle = np.degrees(np.arctan2(-east, toward_equator))
        self._offset = np.unwrap(hour_angle - self._turned(self._grid), period=360.0)

    def _turned(self, unix_s: ArrayLike) -> Floats:
        seconds = np.asarray(unix_s, dtype=np.float64) - self.start_s
        return seconds * (HOUR_DEG / 3600.0)

    def hour_angle_deg(self, unix_s: ArrayLike) -> Floats:
        """Topocentric hour angle, −180 to 180 degrees, positive after noon; shape as the times."""
        times = np.asarray(unix_s, dtype=np.float64)
        angle = self._turned(times) + np.interp(times, self._grid, self._offset)
        return wrapped_deg(angle)

    def declination_deg(self, unix_s: ArrayLike) -> Floats:
        """Topocentric declination, degrees, shape as the times."""
        times = np.asarray(unix_s, dtype=np.float64)
        sine: Floats = np.interp(times, self._grid, self._sin_d)
        return np.degrees(np.arcsin(sine))

    def _true(self, times: Floats) -> tuple[Floats, Floats, Floats]:
        """East, north and up of the unrefracted unit vector."""
        phi = np.radians(self.latitude_deg)
        angle = np.radians(self._turned(times) + np.interp(times, self._grid, self._offset))
        sin_d = np.interp(times, self._grid, self._sin_d)
        cos_d = np.interp(times, self._grid, self._cos_d)
        along = cos_d * np.cos(angle)
        east = -cos_d * np.sin(angle)
        north = np.cos(phi) * sin_d - np.sin(phi) * along
        return east, north, np.sin(phi) * sin_d + np.cos(phi) * along

    def true_altitude_deg(self, unix_s: ArrayLike) -> Floats:
        """Altitude without refraction, degrees, shape as the times."""
        return np.degrees(np.arcsin(self._true(np.asarray(unix_s, dtype=np.float64))[2]))

    def at(self, unix_s: ArrayLike, *, steady: bool = False) -> Directions:
        """Refracted directions at moments of the span.

        Parameters
        ----------
        unix_s : moments (T,), or one.
        steady : without the jump of half a degree where the sun's limb rises or sets.

        Returns
        -------
        Directions (T,), also of a sun below the horizon.
        """
        times = np.atleast_1d(np.asarray(unix_s, dtype=np.float64))
        return refracted(times, *self._true(times), hpa=self._hpa, steady=steady)

    def above_horizon(self, unix_s: Floats) -> Directions:
        """Directions at those of the moments (T,) at which the sun's centre is above the level.

        Its apparent altitude decides; there may be none.
        """
        east, north, up = self._true(unix_s)
        # Refraction lifts by less than a degree: the rest need not be computed.
        near = np.flatnonzero(up > np.sin(np.radians(-1.0)))
        sky = refracted(unix_s[near], east[near], north[near], up[near], hpa=self._hpa)
        return sky[sky.altitude_deg > 0.0]


def track_over(location: Location, start_s: float, end_s: float) -> Track:
    """The sun's way over a location through a span, seconds since 1970 UTC.

    >>> from sunplan import read
    >>> noon = 1805540400.0  # 2027-03-20, 11:00 UTC
    >>> track = track_over(read("locations/lock-house.toml"), noon, noon + 43200.0)
    >>> track.at([noon, noon + 43200.0]).altitude_deg.round()
    array([ 37., -37.])
    """
    return Track(
        start_s,
        end_s,
        latitude_deg=location.site.latitude,
        longitude_deg=location.site.longitude,
        elevation_m=location.site.elevation,
    )
