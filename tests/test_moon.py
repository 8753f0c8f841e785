"""The moon against another ephemeris and published examples."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from skyfield.api import load as skyfield_load
from skyfield.api import load_file, wgs84
from skyfield_data import get_skyfield_data_path

from sunplan.sun.moon import DELTA_T_S, UNIX_JD, moon_positions


# The package warns of its table of the Earth's rotation, which is not used: only DE421 is.
@pytest.mark.filterwarnings("ignore:The file finals2000A.all has expired")
def test_against_another_ephemeris(request: pytest.FixtureRequest) -> None:
    """200 random places and times, 2000 to 2025, against skyfield on DE421."""
    rng = np.random.default_rng(11)
    ephemeris = load_file(Path(get_skyfield_data_path()) / "de421.bsp")
    request.addfinalizer(ephemeris.close)
    scale = skyfield_load.timescale(builtin=True)
    start, end = (datetime(year, 1, 1, tzinfo=UTC).timestamp() for year in (2000, 2026))
    for _ in range(200):
        latitude, longitude = rng.uniform(-85, 85), rng.uniform(-180, 180)
        moment = float(rng.uniform(start, end))
        mine = moon_positions(moment, latitude_deg=latitude, longitude_deg=longitude)
        time = scale.from_datetime(datetime.fromtimestamp(moment, UTC))
        place = ephemeris["earth"] + wgs84.latlon(latitude, longitude)
        moon = place.at(time).observe(ephemeris["moon"]).apparent()
        altitude, bearing, distance = moon.altaz()
        assert mine.true_altitude_deg[0] == pytest.approx(altitude.degrees, abs=0.01)
        off = (bearing.degrees - mine.toward.bearing_deg[0] + 180.0) % 360.0 - 180.0
        assert abs(off) * np.cos(altitude.radians) < 0.01
        assert mine.lit_share[0] == pytest.approx(
            moon.fraction_illuminated(ephemeris["sun"]), abs=0.001
        )
        assert mine.distance_m[0] == pytest.approx(distance.m, rel=5e-4)


def test_meeus() -> None:
    """Examples 47.a and 48.a, 1992 April 12.0 TD: declination 13.768370°, right ascension
    134.688470°, distance 368 409.7 km, lit share 0.6786.

    The book is geocentric: it is checked where the moon stands in the zenith, which is where the
    declination is the latitude and the right ascension the sidereal time.
    """
    moment = (2448724.5 - UNIX_JD) * 86400.0 - DELTA_T_S
    # Sidereal time at Greenwich, Meeus eq. 12.4; the apparent one differs by a second of time.
    sidereal = 280.46061837 + 360.98564736629 * (moment / 86400.0 + UNIX_JD - 2451545.0)
    longitude = (134.688470 - sidereal + 180.0) % 360.0 - 180.0
    at = moon_positions(moment, latitude_deg=13.768370, longitude_deg=longitude)
    assert at.true_altitude_deg[0] == pytest.approx(90.0, abs=0.02)
    assert at.distance_m[0] / 1e3 + 6377.0 == pytest.approx(368409.7, rel=1e-4)
    assert at.lit_share[0] == pytest.approx(0.6786, abs=5e-4)


def test_a_day_off_full_halves_it() -> None:
    """Illuminance by altitude and phase: Seidelmann's full moon 0.216 lx at 60°, 0.098 at 30°.

    USNO Circular 171 at 60° by elongation 180, 150, 120 and 90: 0.328, 0.0998, 0.0494, 0.0218 lx;
    its full moon is 1.5 times Seidelmann's, so only the fall is compared, to a third.
    """
    moments = np.arange(
        datetime(2024, 1, 1, tzinfo=UTC).timestamp(),
        datetime(2026, 1, 1, tzinfo=UTC).timestamp(),
        1800.0,
    )
    at = moon_positions(moments, latitude_deg=0.0, longitude_deg=0.0)
    nearness = (60.27 * 6378.137e3 / at.distance_m) ** 2  # the mean parallax, 0.951 degrees

    def level(altitude: float, phase: float) -> float:
        near = (abs(at.true_altitude_deg - altitude) < 1.5) & (abs(at.phase_deg - phase) < 2.0)
        assert near.sum() > 3
        return float(np.mean(at.horizontal_lux[near] / nearness[near]))

    full = level(60.0, 4.0) * 10 ** (8.68e-3 * 4.0)
    assert full == pytest.approx(0.216, rel=0.05)
    assert level(30.0, 4.0) * 10 ** (8.68e-3 * 4.0) == pytest.approx(0.098, rel=0.08)
    for phase, share in ((30.0, 0.0998 / 0.216), (60.0, 0.0494 / 0.216), (90.0, 0.0218 / 0.216)):
        assert level(60.0, phase) / full == pytest.approx(share, rel=0.35)
    below = at.true_altitude_deg < -1.0
    assert not at.horizontal_lux[below].any()
