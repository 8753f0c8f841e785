"""Bearings that need no sun: two points on a map, and a compass, magnetic or set to true.

References
----------
[1] World Magnetic Model 2025 (NOAA/NCEI and BGS), valid 2025.0 to 2030.0, as pygeomag carries it.
    Its error of the declination, sqrt(0.26² + (5417 nT / H)²) degrees, is one standard deviation
    (that it is one: from memory).
[2] Karney, C. F. F. (2013). Algorithms for geodesics. Journal of Geodesy 87, 43–55; as
    geographiclib carries it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

from ..errors import InputError
from ..location.read import Location
from .bearing import Measured, Solution, Term, usable
from .observations import CompassReading, PointsReading

FIRST_DAY, LAST_DAY = date(2025, 1, 1), date(2029, 12, 31)  # of [1]
CAUTION_NT = 6000.0  # of horizontal field, below which [1] warns of compasses
FAR_M = 5000.0  # further from the place, points are a slip; meridians there part by 0.1° at 60° N


@dataclass(frozen=True)
class Declination:
    """How far magnetic north lies east of true north, degrees, and its ± (95 %)."""

    degrees: float
    error_deg: float
    horizontal_nt: float


def declination(
    latitude_deg: float, longitude_deg: float, *, year: float, elevation_m: float = 0.0
) -> Declination:
    """Declination by [1] at a place.

    Parameters
    ----------
    latitude_deg, longitude_deg : WGS84, north and east positive.
    year : decimal, from 2025 to below 2030.
    elevation_m : above the sea.

    Examples
    --------
    >>> here = declination(51.5074, -0.1278, year=2026.50411)
    >>> round(here.degrees, 4)
    1.1628
    """
    from pygeomag import GeoMag
    from pygeomag.wmm.wmm_2025 import WMM_2025

    field = GeoMag(coefficients_data=WMM_2025).calculate(
        glat=latitude_deg, glon=longitude_deg, alt=elevation_m / 1000.0, time=year
    )
    return Declination(field.d, 2.0 * field.calculate_uncertainty().d, field.h)


def declination_note(
    *, latitude_deg: float, longitude_deg: float, elevation_m: float, day: date
) -> str:
    """What to add to a magnetic compass's reading at a place on a date, as a sentence.

    Outside the years of [1], and where it warns of compasses near the poles, that is said.

    >>> declination_note(latitude_deg=52.0907, longitude_deg=5.1214, elevation_m=0.0,
    ...                  day=date(2027, 3, 20))
    'a compass here shows magnetic north; add 2.9° to a reading for true, on 2027-03-20,
    World Magnetic Model 2025'
    """
    name = "World Magnetic Model 2025"
    if not FIRST_DAY <= day <= LAST_DAY:
        return f"a compass shows magnetic north; how far off on {day} is beyond the {name}"
    here = declination(latitude_deg, longitude_deg, year=decimal_year(day), elevation_m=elevation_m)
    if here.horizontal_nt < CAUTION_NT:
        return f"too near a magnetic pole to trust a compass, {name}; use the sun or a map"
    turn = f"{abs(here.degrees):.1f}°"
    do = f"add {turn} to a reading" if here.degrees >= 0 else f"take {turn} off a reading"
    return f"a compass here shows magnetic north; {do} for true, on {day}, {name}"


def decimal_year(day: date) -> float:
    """A date's noon as a decimal year.

    >>> round(decimal_year(date(2027, 7, 2)), 3)
    2027.5
    """
    start, end = (date(day.year + ahead, 1, 1).toordinal() for ahead in (0, 1))
    return day.year + (day.toordinal() + 0.5 - start) / (end - start)


def geodesic(first: tuple[float, float], second: tuple[float, float]) -> tuple[float, float]:
    """True bearing at the first of two points of the way to the second, and the metres there [2].

    Parameters
    ----------
    first, second : latitude and longitude, degrees, WGS84.

    Returns
    -------
    Degrees clockwise from true north, 0 to below 360; metres.

    Examples
    --------
    >>> bearing, metres = geodesic((52.0, 5.0), (52.001, 5.0))
    >>> round(bearing, 3), round(metres, 1)
    (0.0, 111.3)
    """
    from geographiclib.geodesic import Geodesic

    inverse = Geodesic.WGS84.Inverse(*first, *second)
    return inverse["azi1"] % 360.0, inverse["s12"]


def by_points(location: Location, reading: PointsReading) -> Measured:
    """The bearing from the first point to the second.

    Raises
    ------
    InputError : for points far from the place, and for two no further apart than their ±.
    """
    here = location.site.latitude, location.site.longitude
    ends = [(point.latitude_deg, point.longitude_deg) for point in (reading.first, reading.second)]
    for which, end in zip(("first", "second"), ends, strict=True):
        far = geodesic(here, end)[1]
        if far > FAR_M:
            raise InputError(
                f"{reading.asked}: the {which} point lies {far / 1000.0:.0f} km from the location; "
                f"expected one within {FAR_M / 1000.0:.0f} km, latitude first"
            )
    bearing, metres = geodesic(*ends)
    across = math.hypot(reading.first.error_m, reading.second.error_m)
    if metres <= across:
        raise InputError(
            f"{reading.asked}: the points lie {metres:.1f} m apart, no further than their ±; "
            "expected two points far apart on the wall's line"
        )
    term = Term("how exactly the points are read", math.degrees(math.atan(across / metres)))
    return usable(
        Measured(
            reading,
            f"two points {metres:.0f} m apart",
            (Solution(bearing),),
            (term,),
            {"distance_m": metres},
        )
    )


def check_day(day: date, *, instead: str) -> None:
    """Whether [1] holds for a date; `instead` is the option that does without it.

    Raises
    ------
    InputError : where it does not.
    """
    if not FIRST_DAY <= day <= LAST_DAY:
        raise InputError(
            f"--date {day}: the World Magnetic Model at hand holds from {FIRST_DAY} to {LAST_DAY}; "
            f"expected a date within, or {instead}"
        )


def by_compass(location: Location, reading: CompassReading, day: date) -> Measured:
    """What a compass showed on a date, from true north.

    Raises
    ------
    InputError : for a magnetic one on a date that [1] does not hold for.
    """
    held = Term("the compass", reading.error_deg)
    if not reading.magnetic:
        how = f"compass set to true, {reading.reading_deg:g}°"
        return usable(Measured(reading, how, (Solution(reading.reading_deg),), (held,)))
    check_day(day, instead="--compass-true")
    site = location.site
    here = declination(
        site.latitude, site.longitude, year=decimal_year(day), elevation_m=site.elevation
    )
    side = "E" if here.degrees >= 0 else "W"
    return usable(
        Measured(
            reading,
            f"compass {reading.reading_deg:g}°, magnetic north {abs(here.degrees):.1f}° {side}",
            (Solution((reading.reading_deg + here.degrees) % 360.0),),
            (held, Term("the magnetic model", here.error_deg)),
            {"declination_deg": here.degrees, "declination_error_deg": here.error_deg},
        )
    )
