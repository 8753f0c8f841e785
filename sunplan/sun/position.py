"""Direction of the sun: the Solar Position Algorithm, as pvlib carries it.

References
----------
[1] Reda, I., Andreas, A. (2008). Solar Position Algorithm for Solar Radiation Applications.
    NREL/TP-560-34302, revised January 2008.
[2] Holmgren, W., Hansen, C., Mikofski, M. (2018). pvlib python: a python package for modeling
    solar energy systems. Journal of Open Source Software 3(29), 884.
"""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Self, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Degrees = TypeVar("Degrees", float, Floats)

TEMPERATURE_C = 12.0  # yearly mean of a temperate place; 10 K change refraction by 4 %
REFRACTION_AT_HORIZON_DEG = 0.5667  # [1], section 3.11.1
SEMIDIAMETER_DEG = 0.26667  # [1], appendix A.2
STEADY_DEG = -1.9  # down to here eq. (42) of [1] grows: what is lower is lifted as much
DISK_DEG = 0.5331  # the sun's mean angular diameter: 959.64" semidiameter at 1 au
HOUR_DEG = 15.0


@cache
def _spa() -> ModuleType:
    """pvlib's SPA module without the rest of pvlib: it needs numpy alone and starts far sooner."""
    if "pvlib" in sys.modules:
        from pvlib import spa

        return spa  # type: ignore[no-any-return]
    package = importlib.util.find_spec("pvlib")
    assert package is not None
    assert package.submodule_search_locations
    file = Path(package.submodule_search_locations[0]) / "spa.py"
    spec = importlib.util.spec_from_file_location("sunplan._spa", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def wrapped_deg(angle_deg: Degrees) -> Degrees:
    """Angles between −180 and 180 degrees, one or an array.

    >>> wrapped_deg(359.0), wrapped_deg(np.array([-190.0, 180.0]))
    (-1.0, array([ 170., -180.]))
    """
    return (angle_deg + 180.0) % 360.0 - 180.0


def pressure_hpa(elevation_m: float) -> float:
    """Air pressure at a height above the sea, hPa: the standard atmosphere, as [2] has it.

    >>> round(pressure_hpa(0), 1), round(pressure_hpa(1830.14), 1)
    (1013.2, 811.9)
    """
    return float(((44331.514 - elevation_m) / 11880.516) ** (1 / 0.1902632))


@dataclass(frozen=True)
class SolarPositions:
    """Where the sun is: all arrays of shape (T,).

    `altitude_deg` is apparent (refracted), `true_altitude_deg` is not; `bearing_deg` is clockwise
    from true north, 0 to 360.
    """

    unix_s: Floats
    altitude_deg: Floats
    true_altitude_deg: Floats
    bearing_deg: Floats


def solar_positions(
    unix_s: ArrayLike,
    *,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float = 0.0,
    pressure: float | None = None,
    temperature_c: float = TEMPERATURE_C,
    delta_t_s: float | None = None,
) -> SolarPositions:
    """Positions of the sun's centre at moments, plain SPA [1].

    Parameters
    ----------
    unix_s : moments (T,), seconds since 1970-01-01 UTC; UT1 is taken for UTC, which costs up to
        0.004 degrees in bearing.
    latitude_deg, longitude_deg : of the place, degrees, north and east positive.
    elevation_m : above the sea.
    pressure : of the air, hPa; of the standard atmosphere at that elevation when left out.
    temperature_c : of the air.
    delta_t_s : TT − UT1, seconds; that of the moments' middle month when left out.

    Returns
    -------
    Altitudes and bearings (T,), degrees.

    Examples
    --------
    The example of [1], appendix A.5: zenith angle 50.11162, azimuth 194.34024 degrees.

    >>> sun = solar_positions([1066419030.0], latitude_deg=39.742476, longitude_deg=-105.1786,
    ...                elevation_m=1830.14, pressure=820.0, temperature_c=11.0, delta_t_s=67.0)
    >>> f"{90 - sun.altitude_deg[0]:.5f} {sun.bearing_deg[0]:.5f}"
    '50.11162 194.34024'
    """
    spa = _spa()
    times = np.atleast_1d(np.asarray(unix_s, dtype=np.float64))
    if delta_t_s is None:
        middle = np.datetime64(int(np.median(times)), "s").astype("datetime64[M]").astype(int)
        delta_t_s = float(spa.calculate_deltat(middle // 12 + 1970, middle % 12 + 1))
    hpa = pressure_hpa(elevation_m) if pressure is None else pressure
    result = spa.solar_position_numpy(
        times,
        latitude_deg,
        longitude_deg,
        elevation_m,
        hpa,
        temperature_c,
        delta_t_s,
        REFRACTION_AT_HORIZON_DEG,
        1,
    )
    return SolarPositions(
        unix_s=times,
        altitude_deg=result[2],
        true_altitude_deg=result[3],
        bearing_deg=result[4] % 360.0,
    )


def refraction_deg(
    true_altitude_deg: ArrayLike, *, hpa: float, temperature_c: float, steady: bool = False
) -> Floats:
    """Lift of the sun by the air, degrees; eq. (42) of [1], nothing well below the horizon.

    Parameters
    ----------
    true_altitude_deg : of any shape, without refraction.
    hpa, temperature_c : pressure and temperature of the air.
    steady : below the horizon it goes on, without a jump where the sun's limb sets.

    Returns
    -------
    The lift, shape as the altitudes.

    Examples
    --------
    >>> refraction_deg([0.0, 45.0, -5.0], hpa=1010.0, temperature_c=10.0).round(3)
    array([0.483, 0.017, 0.   ])
    """
    altitude = np.asarray(true_altitude_deg, dtype=np.float64)
    if steady:
        altitude = np.maximum(altitude, STEADY_DEG)
    argument = np.radians(altitude + 10.3 / (altitude + 5.11))
    lift = (hpa / 1010.0) * (283.0 / (273.0 + temperature_c)) * 1.02 / (60.0 * np.tan(argument))
    seen = altitude >= -(SEMIDIAMETER_DEG + REFRACTION_AT_HORIZON_DEG)
    return np.where(seen | steady, lift, 0.0)


@dataclass(frozen=True)
class Directions:
    """Unit vectors toward the centre of sun or moon, refracted: `enu` (T, 3) east, north, up.

    `unix_s` and `altitude_deg` are (T,). An index or a mask picks some of them.

    >>> sky = Directions(np.zeros(2), np.array([0.0, 90.0]), np.array([[1.0, 0, 0], [0, 0, 1]]))
    >>> sky[sky.altitude_deg < 45.0].bearing_deg
    array([90.])
    """

    unix_s: Floats
    altitude_deg: Floats
    enu: Floats

    @property
    def bearing_deg(self) -> Floats:
        """True bearing, degrees, shape (T,)."""
        return np.degrees(np.arctan2(self.enu[:, 0], self.enu[:, 1])) % 360.0

    def plan(self, plan_up_deg: ArrayLike) -> Floats:
        """The same vectors in the plan frame whose +y has this true bearing, shape (T, 3).

        One bearing for all, or one for each, (T,).

        >>> east = Directions(np.zeros(1), np.zeros(1), np.array([[1.0, 0.0, 0.0]]))
        >>> east.plan(90.0).round(6)  # a plan with east at the top
        array([[0., 1., 0.]])
        """
        angle = np.radians(plan_up_deg)
        east, north, up = self.enu.T
        return np.stack(
            (
                east * np.cos(angle) - north * np.sin(angle),
                east * np.sin(angle) + north * np.cos(angle),
                up,
            ),
            axis=-1,
        )

    def __getitem__(self, key: slice | NDArray[np.bool_] | NDArray[np.intp]) -> Self:
        return type(self)(self.unix_s[key], self.altitude_deg[key], self.enu[key])


def refracted(
    times: Floats, east: Floats, north: Floats, up: Floats, *, hpa: float, steady: bool = False
) -> Directions:
    """Unrefracted unit vectors by their parts, as the air lifts them.

    Parameters
    ----------
    times : moments (T,), seconds since 1970 UTC, for the answer to carry.
    east, north, up : parts of the unit vectors, each (T,).
    hpa : pressure of the air; its temperature is `TEMPERATURE_C`.
    steady : as of `refraction_deg`.

    Returns
    -------
    The same directions after refraction, of length one.

    Examples
    --------
    >>> level = refracted(*np.array([[0.0], [0.0], [1.0], [0.0]]), hpa=1010.0)
    >>> level.altitude_deg.round(2), level.bearing_deg
    (array([0.48]), array([0.]))
    """
    true = np.degrees(np.arcsin(np.clip(up, -1.0, 1.0)))
    apparent = true + refraction_deg(true, hpa=hpa, temperature_c=TEMPERATURE_C, steady=steady)
    height = np.sin(np.radians(apparent))
    # Refraction lifts along the vertical: the horizontal part shrinks to keep the length one.
    flat = np.sqrt((1.0 - height**2) / np.maximum(1.0 - up**2, 1e-300))
    return Directions(times, apparent, np.stack((east * flat, north * flat, height), axis=-1))


def equatorial_to_horizontal(
    hour_angle_deg: Floats, declination_deg: Floats, *, latitude_deg: float, elevation_m: float
) -> Directions:
    """Refracted directions by hour angle and declination, at no moment of their own.

    The rotation from the equator's frame to the level's; Meeus, Astronomical Algorithms (1998),
    eqs. 13.5 and 13.6.

    Parameters
    ----------
    hour_angle_deg, declination_deg : each (T,), seen from the place.
    latitude_deg, elevation_m : of the place.

    Returns
    -------
    Directions (T,); their moments are NaN.

    Examples
    --------
    >>> noon = np.zeros(1)
    >>> south = equatorial_to_horizontal(noon, noon, latitude_deg=50.0, elevation_m=0.0)
    >>> south.bearing_deg.round(2), south.altitude_deg.round(2)
    (array([180.]), array([40.02]))
    """
    angle, delta, phi = (
        np.radians(angle) for angle in (hour_angle_deg, declination_deg, np.asarray(latitude_deg))
    )
    along = np.cos(delta) * np.cos(angle)
    north = np.cos(phi) * np.sin(delta) - np.sin(phi) * along
    up = np.sin(phi) * np.sin(delta) + np.cos(phi) * along
    east = -np.cos(delta) * np.sin(angle)
    return refracted(np.full(len(angle), np.nan), east, north, up, hpa=pressure_hpa(elevation_m))
