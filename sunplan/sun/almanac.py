"""A date at a place: when it starts and ends, and when the sun rises, sets and leaves it dark.

Rise, set and the twilights are crossings of the SPA's own altitude. Measured against the 730
events of the almanac table in `tests/authorities/usno_atlanta_2007_sun.csv`, whose minutes are
rounded: these stay within 0.55 minutes, astral 3.2 within 0.76, pvlib 0.16's own function within
1.8 (it takes the date as UTC). pvlib's function knows no twilight, and astral raises where the
sun does not rise. So neither: one track serves positions and moments alike.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date
from typing import TYPE_CHECKING, Literal

import numpy as np

from .local_time import day_span
from .position import HOUR_DEG, REFRACTION_AT_HORIZON_DEG, SEMIDIAMETER_DEG
from .search import refine
from .track import Track

if TYPE_CHECKING:
    from ..location.read import Location

# Altitudes of the centre without refraction; the definitions of the almanacs.
RISE_DEG = -(REFRACTION_AT_HORIZON_DEG + SEMIDIAMETER_DEG)
CIVIL_DEG, NAUTICAL_DEG, ASTRONOMICAL_DEG = -6.0, -12.0, -18.0
HALF_DAY_S = 43200.0
SPARE_S = 1800.0  # shown before dawn and after dusk


@dataclass(frozen=True)
class SunTimes:
    """The sun's day around its noon on a date: moments in seconds since 1970 UTC.

    None where the sun does not cross that altitude; `always` then says whether it stays up or
    down. A sunset after midnight belongs to the day that it ends. Rise and set are of the upper
    limb with refraction, the twilights end with the centre 6°, 12° and 18° below the level.
    """

    noon: float
    rise: float | None
    set: float | None
    civil_dawn: float | None
    civil_dusk: float | None
    nautical_dawn: float | None
    nautical_dusk: float | None
    astronomical_dawn: float | None
    astronomical_dusk: float | None
    always: Literal["up", "down"] | None

    def daylight(self, day: date, timezone: str) -> tuple[float, float]:
        """From sunrise until the sun is 12° down, widened to whole hours of the clock.

        Parameters
        ----------
        day, timezone : the local date of these times, and the place's IANA name.

        Returns
        -------
        First and last moment, seconds since 1970 UTC: those of the date where no such moment is.

        Examples
        --------
        >>> day, zone = date(2027, 3, 20), "Europe/Amsterdam"
        >>> times = sun_times(day, zone, latitude_deg=52.1, longitude_deg=5.1)
        >>> [(moment - day_span(day, zone)[0]) / 3600 for moment in times.daylight(day, zone)]
        [6.0, 21.0]
        """
        start, end = day_span(day, timezone)
        first = start if self.rise is None else self.rise
        last = end if self.nautical_dusk is None else self.nautical_dusk
        hour = 3600.0
        return start + (first - start) // hour * hour, start - (start - last) // hour * hour

    def dawn_to_dark(self, day: date, timezone: str) -> tuple[float, float]:
        """From half an hour before nautical dawn until as long after nautical dusk.

        Where the sun does not go 12° down, civil twilight serves, then rise and set. Takes and
        gives what `daylight` does.

        Examples
        --------
        >>> day, zone = date(2027, 6, 21), "Europe/Oslo"
        >>> times = sun_times(day, zone, latitude_deg=69.65, longitude_deg=18.96)
        >>> times.dawn_to_dark(day, zone) == day_span(day, zone)  # the sun stays up
        True
        """
        start, end = day_span(day, timezone)
        dawns = (self.nautical_dawn, self.civil_dawn, self.rise)
        dusks = (self.nautical_dusk, self.civil_dusk, self.set)
        first = next((dawn - SPARE_S for dawn in dawns if dawn is not None), start)
        last = next((dusk + SPARE_S for dusk in dusks if dusk is not None), end)
        return first, last

    def moments(self) -> dict[str, float | None]:
        """All but `always` by name, seconds since 1970 UTC or None."""
        return {f.name: getattr(self, f.name) for f in fields(self) if f.name != "always"}


def _culmination(track: Track, near_s: float, *, upper: bool) -> float:
    moment = near_s
    for _ in range(3):  # the sun's rate is even to a part in a thousand
        angle = float(track.hour_angle_deg(moment))
        if not upper:
            angle = (angle % 360.0) - 180.0
        moment -= angle / HOUR_DEG * 3600.0
    return moment


def sun_times(
    day: date, timezone: str, *, latitude_deg: float, longitude_deg: float, elevation_m: float = 0.0
) -> SunTimes:
    """Rise, set and twilights of a local date.

    Parameters
    ----------
    day : the local date; the sun's noon on it is the middle of the times.
    timezone : IANA name.
    latitude_deg, longitude_deg, elevation_m : of the place; the horizon is level all the same.

    Returns
    -------
    Moments in seconds since 1970 UTC, None for those that do not come.

    Raises
    ------
    ZoneInfoNotFoundError : for a time zone that is not known.

    Examples
    --------
    An ordinary day, and one on which the sun stays up:

    >>> day = date(2026, 6, 21)
    >>> ordinary = sun_times(day, "Europe/Amsterdam", latitude_deg=52.1, longitude_deg=5.1)
    >>> round((ordinary.set - ordinary.rise) / 3600, 1), ordinary.always
    (16.8, None)
    >>> polar = sun_times(day, "Europe/Oslo", latitude_deg=69.65, longitude_deg=18.96)
    >>> polar.rise, polar.set, polar.always
    (None, None, 'up')
    """
    start, end = day_span(day, timezone)
    track = Track(
        start - 86400.0,
        end + 86400.0,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
    )
    noon = _culmination(track, (start + end) / 2, upper=True)
    lows = [_culmination(track, noon + ahead, upper=False) for ahead in (-HALF_DAY_S, HALF_DAY_S)]
    top = float(track.true_altitude_deg(noon))
    moments: dict[str, float | None] = {}
    for low, rising in zip(lows, (True, False), strict=True):
        bottom = float(track.true_altitude_deg(low))
        for name, limit in (
            ("rise" if rising else "set", RISE_DEG),
            ("civil_dawn" if rising else "civil_dusk", CIVIL_DEG),
            ("nautical_dawn" if rising else "nautical_dusk", NAUTICAL_DEG),
            ("astronomical_dawn" if rising else "astronomical_dusk", ASTRONOMICAL_DEG),
        ):
            moments[name] = None
            if bottom < limit < top:  # between culminations the altitude only rises or falls
                above = refine(
                    lambda t, limit=limit: track.true_altitude_deg(t) > limit,  # type: ignore[misc]
                    np.array([low]),
                    np.array([noon]),
                )
                moments[name] = float(above[0])
    always: Literal["up", "down"] | None = None
    if moments["rise"] is None and moments["set"] is None:
        always = "up" if top > RISE_DEG else "down"
    return SunTimes(noon=noon, always=always, **moments)


def sun_times_of(location: Location, day: date) -> SunTimes:
    """Rise, set and twilights of a local date at a location, as `sun_times` has them.

    >>> from sunplan import read
    >>> times = sun_times_of(read("locations/lock-house.toml"), date(2027, 3, 20))
    >>> round(times.set - times.rise)  # seconds, a little over twelve hours
    43752
    """
    return sun_times(
        day,
        location.timezone,
        latitude_deg=location.site.latitude,
        longitude_deg=location.site.longitude,
        elevation_m=location.site.elevation,
    )
