"""Rise, set, twilight and the moon's phase against astral, which shares no code with the package.

astral 3.2 takes NOAA's solar calculator: Meeus's low-accuracy sun, good to 0.01 degrees of
longitude (Astronomical Algorithms, chapter 25), in two passes. It means other altitudes by the same
names, and fails in two ways; each is told apart here, so that what is left can be held to
`NOAA_DEG`:

- Sunrise and sunset: astral takes half a sun, 16', and the refraction that NOAA's formula gives
  there, 0.79 degrees in all; sunplan keeps to the almanacs' 0.8333 (34' and 16'). astral's day is
  10 to 15 seconds shorter at each end in temperate latitudes.
- Twilight: astral adds the refraction of NOAA's formula below the horizon, 0.055, 0.027 and 0.018
  degrees at 6, 12 and 18 degrees; almanacs, and sunplan, take the centre without refraction.
- Its first pass takes the sun's declination at the start of the date in UTC, up to a day and a half
  before the event by the clock of the place, at 0.4 degrees a day: where the sun hardly reaches an
  altitude it may tell of an event that is none, or of none.
- Where the event falls about midnight UTC its two passes may take different days; about midnight
  by the clock it tells of the one on the date, sunplan of the one on either side of its noon.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone

import astral.moon
import astral.sun
import numpy as np
import pytest
from astral import Observer
from campaign import few_or_many

from sunplan.sun.almanac import sun_times
from sunplan.sun.moon import moon_positions
from sunplan.sun.position import solar_positions

NOAA_DEG = 0.02  # of altitude: 0.01 of the sun's longitude, the second pass's rest, UT1 for UTC
NOAA_S = 60.0  # what NOAA says of rise and set up to 72 degrees of latitude
FIRST_PASS_DEG = 0.4 * 1.5
RESOLUTION_DEG = 0.0025  # half a second, to which sunplan finds moments, at 15 degrees an hour
MIDNIGHT_S = 900.0
SUN_DEG = 32.0 / 60.0 / 2.0
EVENTS = {
    "rise": (astral.sun.sunrise, 90.0 + SUN_DEG),
    "set": (astral.sun.sunset, 90.0 + SUN_DEG),
    "civil_dawn": (astral.sun.dawn, 96.0),
    "civil_dusk": (astral.sun.dusk, 96.0),
    "nautical_dawn": (astral.sun.dawn, 102.0),
    "nautical_dusk": (astral.sun.dusk, 102.0),
    "astronomical_dawn": (astral.sun.dawn, 108.0),
    "astronomical_dusk": (astral.sun.dusk, 108.0),
}


@dataclass(frozen=True)
class Case:
    """An event of a place and date: what both say, seconds since 1970 UTC, None for none."""

    name: str
    day: date
    latitude_deg: float
    longitude_deg: float
    offset_s: float
    noon: float
    own: float | None
    other: float | None
    meant_deg: float

    def altitude_deg(self, moments: object) -> np.ndarray:
        """The sun's altitude without refraction, by SPA."""
        return solar_positions(
            moments, latitude_deg=self.latitude_deg, longitude_deg=self.longitude_deg
        ).true_altitude_deg

    @property
    def about_midnight(self) -> bool:
        return any(
            abs((moment + offset + 43200.0) % 86400.0 - 43200.0) < MIDNIGHT_S
            for moment in (self.own, self.other)
            for offset in (0.0, self.offset_s)
            if moment is not None
        )


def cases(seed: int, count: int, latitudes: tuple[float, float]) -> Iterator[Case]:
    """All events of so many random places and dates, 2020 to 2034, in either hemisphere."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        latitude = float(rng.uniform(*latitudes) * rng.choice([-1.0, 1.0]))
        longitude = float(rng.uniform(-180.0, 180.0))
        day = date(2020, 1, 1) + timedelta(days=int(rng.integers(0, 15 * 365)))
        hours = round(longitude / 15.0)
        name = f"Etc/GMT{-hours:+d}"  # whose signs are turned round
        own = sun_times(day, name, latitude_deg=latitude, longitude_deg=longitude)
        place, zone = Observer(latitude, longitude, 0.0), timezone(timedelta(hours=hours))
        for event, (function, zenith) in EVENTS.items():
            depression = {} if "_" not in event else {"depression": zenith - 90.0}
            try:
                other = function(place, day, tzinfo=zone, **depression).timestamp()
            except ValueError:
                other = None
            meant = 90.0 - zenith - astral.sun.refraction_at_zenith(zenith)
            yield Case(
                event,
                day,
                latitude,
                longitude,
                hours * 3600.0,
                own.noon,
                own.moments()[event],
                other,
                meant,
            )


@pytest.mark.parametrize(
    ("seed", "count", "latitudes", "told_apart"),
    [
        (41, few_or_many(125, 250), (0.0, 50.0), 0.002),
        (42, few_or_many(50, 100), (50.0, 65.0), 0.005),
        (43, few_or_many(50, 100), (65.0, 89.0), 0.02),
    ],
)
def test_rise_set_and_twilights(
    seed: int, count: int, latitudes: tuple[float, float], told_apart: float
) -> None:
    """At astral's moments the sun stands where astral means it to, and so do ours; none is missing.

    Up to 50 degrees of latitude the moments themselves differ by less than NOAA's minute.
    """
    total, apart = 0, 0
    for case in cases(seed, count, latitudes):
        total += 1
        if case.own is None and case.other is None:
            continue
        if case.own is None or case.other is None:
            half = -1.0 if case.name == "rise" or case.name.endswith("dawn") else 1.0
            ends = case.altitude_deg(case.noon + half * np.array([0.0, 43200.0]))
            short = np.abs(ends - case.meant_deg).min()
            assert short < FIRST_PASS_DEG or case.about_midnight, case
            apart += 1
            continue
        at_other, at_own = case.altitude_deg([case.other, case.own])
        if abs(at_other - case.meant_deg) > NOAA_DEG:
            assert case.about_midnight, case
            assert abs(at_other - case.meant_deg) < FIRST_PASS_DEG, case
            apart += 1
            continue
        # By how much the definitions differ: nothing else parts the two.
        almanac = {"rise": -0.8333, "set": -0.8333}.get(case.name, round(case.meant_deg))
        assert at_own == pytest.approx(almanac, abs=RESOLUTION_DEG), case
        assert 0.0 < abs(case.meant_deg - almanac) < 0.06
        if latitudes[1] <= 50.0:
            assert abs(case.other - case.own) < NOAA_S, case
    assert total == 8 * count
    assert apart <= told_apart * total


def test_polar_day_and_night() -> None:
    """Where the sun stays up or down astral refuses, and sunplan says which."""
    seen = set()
    for latitude, day in ((75.0, 172), (-75.0, 172), (80.0, 355), (-80.0, 355), (69.0, 172)):
        moment = date(2027, 1, 1) + timedelta(days=day)
        always = sun_times(moment, "Etc/GMT", latitude_deg=latitude, longitude_deg=0.0).always
        with pytest.raises(ValueError, match="Sun is always") as refusal:
            astral.sun.sunrise(Observer(latitude, 0.0, 0.0), moment)
        up = astral.sun.elevation(
            Observer(latitude, 0.0, 0.0), datetime(2027, 1, 1, 12, tzinfo=UTC) + timedelta(days=day)
        )
        assert always == ("up" if up > 0.0 else "down")
        assert ("above" if up > 0.0 else "below") in str(refusal.value)
        seen.add(always)
    assert seen == {"up", "down"}


@pytest.mark.parametrize("elevation_m", [100.0, 2000.0])
def test_elevation(elevation_m: float) -> None:
    """astral lowers the horizon by the dip from a height above flat land; sunplan does not.

    The dip is acos(r / (r + h)): 0.32 degrees from 100 m, 1.44 from 2000 m. What is higher or lower
    about a place belongs into its skyline; its elevation only thins the air.
    """
    day, place = date(2027, 3, 20), (46.0, 8.0)
    own = sun_times(
        day, "Etc/GMT-1", latitude_deg=place[0], longitude_deg=place[1], elevation_m=elevation_m
    )
    other = astral.sun.sunrise(Observer(*place, elevation_m), day).timestamp()
    assert own.rise is not None
    at = solar_positions([other, own.rise], latitude_deg=place[0], longitude_deg=place[1])
    dip = np.degrees(np.arccos(6356900.0 / (6356900.0 + elevation_m)))
    zenith = 90.0 + SUN_DEG + dip
    meant = 90.0 - zenith - astral.sun.refraction_at_zenith(zenith)
    assert at.true_altitude_deg[0] == pytest.approx(meant, abs=NOAA_DEG)
    assert at.true_altitude_deg[1] == pytest.approx(-0.8333, abs=RESOLUTION_DEG)


def test_the_moons_phase() -> None:
    """400 dates. astral's figure is the elongation, cut to whole degrees, 6.43 added, in 28ths.

    Cutting leaves half a degree either way. Of Meeus's phase angle (eq. 48.4) it leaves out 0.214
    and 0.110 degrees; what that itself leaves out of the moon's longitude (table 47.A) is 0.06 at
    most for each term, of which five may come together to 0.25. All that is 1.07 degrees, which
    changes the lit share by half the sine of the elongation for each radian; the moon's latitude, 5
    degrees, by 0.002 at new and full moon, less else. The mean of both poles has no parallax.
    """
    rng = np.random.default_rng(44)
    for _ in range(400):
        day = date(2020, 1, 1) + timedelta(days=int(rng.integers(0, 15 * 365)))
        moment = datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()
        own = np.mean(
            [
                moon_positions(moment, latitude_deg=pole, longitude_deg=0.0).lit_share
                for pole in (90.0, -90.0)
            ]
        )
        elongation = np.radians(astral.moon.phase(day) * 360.0 / 28.0 - 6.43 + 0.5)
        most = np.radians(1.07) * abs(np.sin(elongation)) / 2.0 + 0.002
        assert own == pytest.approx((1.0 - np.cos(elongation)) / 2.0, abs=most), day
