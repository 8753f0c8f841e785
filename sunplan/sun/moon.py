"""Where the moon is, how much of it is lit, and how much light it gives.

Positions by ERFA, the library of the IAU's standards: its series after Meeus, seen from a place on
the turning Earth.

References
----------
[1] Explanatory Supplement to the Astronomical Almanac (Seidelmann 1992), section 9.3: illuminance
    by the full moon's altitude; its terms for phase and distance from memory.
[2] Meeus, J. (1998). Astronomical Algorithms, 2nd ed., chapters 47 and 48.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..data import table
from .position import Directions, Floats, pressure_hpa, refracted

DELTA_T_S = 69.2  # TT − UTC: leap seconds to 2017 and 32.184 s, none since
UNIX_JD = 2440587.5  # Julian date of 1970-01-01
EARTH_M = 6378137.0  # equatorial radius, WGS84
MEAN_PARALLAX_DEG = 0.951  # [1]


@dataclass(frozen=True)
class MoonPositions:
    """The moon at moments, arrays of shape (T,): refracted directions, and how it is lit.

    `phase_deg` is between sun and observer as the moon sees them: 0 full, 180 new.
    """

    toward: Directions
    true_altitude_deg: Floats
    phase_deg: Floats
    distance_m: Floats

    @property
    def lit_share(self) -> Floats:
        """Share of its disk that the sun lights, 0 to 1, (T,); eq. 48.1 of [2]."""
        share: Floats = (1.0 + np.cos(np.radians(self.phase_deg))) / 2.0
        return share

    @property
    def horizontal_lux(self) -> Floats:
        """On level ground under a clear sky, lx (T,), sky light included; 0 when it is down.

        [1]: the full moon by altitude, then phase and distance.

        >>> full, new = np.array([0.0]), np.array([180.0])
        >>> high = Directions(full, np.array([60.0]), np.array([[0.0, 0.5, 0.866]]))
        >>> far = np.array([384400e3])
        >>> [MoonPositions(high, high.altitude_deg, phase, far).horizontal_lux.round(4)
        ...  for phase in (full, new)]
        [array([0.2159]), array([0.])]
        """
        figures = table("sky")["seidelmann_1992_moon"]
        starts, terms = np.array(figures["from"]), np.array(figures["terms"])
        altitude = np.clip(self.true_altitude_deg, starts[0], 90.0)
        row = np.searchsorted(starts, altitude, side="right") - 1
        powers = np.stack([(altitude / 90.0) ** power for power in range(4)], axis=-1)
        level = (terms[row] * powers).sum(axis=-1)
        level -= figures["phase"][0] * self.phase_deg + figures["phase"][1] * self.phase_deg**4
        parallax = np.degrees(np.arcsin(EARTH_M / self.distance_m))
        level += 2.0 * np.log10(parallax / MEAN_PARALLAX_DEG)
        lux: Floats = np.where(self.true_altitude_deg > starts[0], 10.0**level, 0.0)
        return lux


def moon_positions(
    unix_s: ArrayLike, *, latitude_deg: float, longitude_deg: float, elevation_m: float = 0.0
) -> MoonPositions:
    """The moon's centre at moments, seen from a place.

    Within 0.02 degrees of the true one; UT1 is taken for UTC.

    Parameters
    ----------
    unix_s : moments (T,), seconds since 1970 UTC.
    latitude_deg, longitude_deg, elevation_m : of the place.

    Returns
    -------
    Directions (T,) refracted, true altitudes, phase angles and distances (T,).

    Examples
    --------
    >>> full = 1767433440.0  # 2026-01-03
    >>> moon = moon_positions([full], latitude_deg=52.0, longitude_deg=5.0)
    >>> moon.lit_share.round(3), moon.toward.altitude_deg.round(1)
    (array([0.999]), array([-7.5]))
    """
    import erfa

    times = np.atleast_1d(np.asarray(unix_s, dtype=np.float64))
    days = times / 86400.0
    terrestrial = UNIX_JD, days + DELTA_T_S / 86400.0
    moon = erfa.moon98(*terrestrial)["p"]  # au, from the Earth's centre, as all below
    sun = -erfa.epv00(*terrestrial)[0]["p"]
    turn = erfa.era00(UNIX_JD, days)
    here = erfa.pvtob(
        np.radians(longitude_deg), np.radians(latitude_deg), elevation_m, 0.0, 0.0, 0.0, turn
    )["p"]
    # Stars to the Earth's own equator of date, in which the observer turns.
    celestial = erfa.c2i00b(*terrestrial)
    seen = np.einsum("tij,tj->ti", celestial, moon) - here / erfa.DAU
    east, north, up = _level(seen, turn + np.radians(longitude_deg), np.radians(latitude_deg))
    toward_sun = sun - moon
    distance = np.linalg.norm(seen, axis=-1)
    cosine = -(np.einsum("tij,tj->ti", celestial, toward_sun) * seen).sum(axis=-1)
    cosine /= distance * np.linalg.norm(toward_sun, axis=-1)
    return MoonPositions(
        toward=refracted(times, east, north, up, hpa=pressure_hpa(elevation_m)),
        true_altitude_deg=np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))),
        phase_deg=np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))),
        distance_m=distance * erfa.DAU,
    )


def _level(vectors: Floats, turn: Floats, latitude: float) -> tuple[Floats, Floats, Floats]:
    """East, north and up parts of the unit vectors along vectors of the equator's frame (T, 3)."""
    x, y, z = (vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)).T
    out, east = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    north = z * np.cos(latitude) - out * np.sin(latitude)
    return east, north, z * np.sin(latitude) + out * np.cos(latitude)
