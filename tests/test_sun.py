"""Sun positions and moments against published values and another ephemeris."""

from __future__ import annotations

import csv
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from skyfield.api import load as skyfield_load
from skyfield.api import load_file, wgs84
from skyfield_data import get_skyfield_data_path

from sunplan.sun.almanac import sun_times
from sunplan.sun.local_time import to_unix
from sunplan.sun.position import TEMPERATURE_C, pressure_hpa, solar_positions
from sunplan.sun.track import Track

AUTHORITIES = Path(__file__).parent / "authorities"


def test_published_spa_example() -> None:
    """NREL/TP-560-34302, table A5.1: topocentric zenith, azimuth and elevation."""
    moment = datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC).timestamp()
    at = solar_positions(
        moment,
        latitude_deg=39.742476,
        longitude_deg=-105.1786,
        elevation_m=1830.14,
        pressure=820.0,
        temperature_c=11.0,
        delta_t_s=67.0,
    )
    assert 90.0 - at.altitude_deg[0] == pytest.approx(50.11162, abs=5e-6)
    assert at.bearing_deg[0] == pytest.approx(194.34024, abs=5e-6)
    assert at.true_altitude_deg[0] == pytest.approx(39.872046, abs=1e-6)


# The package warns of its table of the Earth's rotation, which is not used: only DE421 is.
@pytest.mark.filterwarnings("ignore:The file finals2000A.all has expired")
def test_directions_against_another_ephemeris(request: pytest.FixtureRequest) -> None:
    """300 random places and times, 2000–2050, against skyfield on DE421."""
    rng = np.random.default_rng(7)
    ephemeris = load_file(Path(get_skyfield_data_path()) / "de421.bsp")
    request.addfinalizer(ephemeris.close)
    scale = skyfield_load.timescale(builtin=True)
    start, end = (datetime(year, 1, 1, tzinfo=UTC).timestamp() for year in (2000, 2050))
    worst = worst_seen = 0.0
    for _ in range(300):
        latitude, longitude = rng.uniform(-85, 85), rng.uniform(-180, 180)
        moment = float(rng.uniform(start, end))
        mine = solar_positions(moment, latitude_deg=latitude, longitude_deg=longitude)
        # Leap seconds to come are not known: beyond the known ones clocks keep to UT1.
        known = moment < datetime(2026, 1, 1, tzinfo=UTC).timestamp()
        time = (
            scale.from_datetime(datetime.fromtimestamp(moment, UTC))
            if known
            else scale.ut1_jd(moment / 86400.0 + 2440587.5)
        )
        place = ephemeris["earth"] + wgs84.latlon(latitude, longitude)
        sun = place.at(time).observe(ephemeris["sun"]).apparent()
        altitude, azimuth, _ = sun.altaz()
        seen, _, _ = sun.altaz(temperature_C=TEMPERATURE_C, pressure_mbar=pressure_hpa(0.0))
        if seen.degrees > 2.0:  # another refraction formula, Bennett's
            worst_seen = max(worst_seen, abs(seen.degrees - mine.altitude_deg[0]))

        def vector(up_deg: float, bearing_deg: float) -> np.ndarray:
            up, bearing = np.radians(up_deg), np.radians(bearing_deg)
            return np.array(
                [np.cos(up) * np.sin(bearing), np.cos(up) * np.cos(bearing), np.sin(up)]
            )

        chord = np.linalg.norm(
            vector(mine.true_altitude_deg[0], mine.bearing_deg[0])
            - vector(altitude.degrees, azimuth.degrees)
        )
        worst = max(worst, float(np.degrees(chord)))
    # SPA takes UT1 for UTC: up to 0.9 s, 0.004 degrees of turning.
    assert worst < 0.005
    assert 0.0 < worst_seen < 0.02


@pytest.mark.parametrize(
    ("latitude", "longitude", "year"),
    [(52.0, 5.0, 2026), (-33.0, 151.0, 2001), (0.0, -78.0, 2050), (70.0, 20.0, 2031)],
)
def test_track_keeps_to_plain_spa(latitude: float, longitude: float, year: int) -> None:
    """A year's track stays within 0.0001 degrees of plain SPA (NREL/TP-560-34302)."""
    start = datetime(year, 1, 1, tzinfo=UTC).timestamp()
    track = Track(start, start + 366 * 86400.0, latitude_deg=latitude, longitude_deg=longitude)
    times = start + np.random.default_rng(1).uniform(0, 366 * 86400.0, 20_000)
    plain = solar_positions(times, latitude_deg=latitude, longitude_deg=longitude)
    up, bearing = np.radians(plain.altitude_deg), np.radians(plain.bearing_deg)
    expected = np.stack((np.cos(up) * np.sin(bearing), np.cos(up) * np.cos(bearing), np.sin(up)))
    chord = np.linalg.norm(track.at(times).enu - expected.T, axis=1)
    assert np.degrees(chord).max() < 1e-4


def test_rise_and_set_against_the_almanac() -> None:
    """USNO rise and set of the sun, Atlanta 2007 (W084 25, N33 46): minutes, so ± 1 minute."""
    zone = "Etc/GMT+5"
    text = (AUTHORITIES / "usno_atlanta_2007_sun.csv").read_text()
    rows = list(csv.DictReader(text.splitlines()))
    assert len(rows) == 365
    for row in rows:
        day = date(int(row["year"]), int(row["month"]), int(row["day"]))
        at = sun_times(day, zone, latitude_deg=33 + 46 / 60, longitude_deg=-84 - 25 / 60)
        midnight = datetime(day.year, day.month, day.day, 5, tzinfo=UTC)
        for found, told in ((at.rise, row["rise_EST"]), (at.set, row["set_EST"])):
            hours, minutes = (int(part) for part in told.split(":"))
            expected = to_unix(midnight + timedelta(hours=hours, minutes=minutes))
            assert found is not None
            assert abs(found - expected) < 60.0, (day, told)


@pytest.mark.parametrize(
    ("place", "name", "utc"),
    [
        ((42.32, -71.09), "civil_dawn", (21, 8, 33)),
        ((42.32, -71.09), "civil_dusk", (22, 0, 59)),
        ((41.76, -72.69), "nautical_dawn", (21, 7, 58)),
        ((41.76, -72.69), "nautical_dusk", (22, 1, 48)),
        ((41.76, -72.69), "astronomical_dawn", (21, 7, 5)),
        ((41.76, -72.69), "astronomical_dusk", (22, 2, 41)),
    ],
)
def test_twilights_against_the_almanac(
    place: tuple[float, float], name: str, utc: tuple[int, int, int]
) -> None:
    """USNO annual twilight tables, Boston and Hartford, 2024-06-21."""
    at = sun_times(
        date(2024, 6, 21), "America/New_York", latitude_deg=place[0], longitude_deg=place[1]
    )
    day, hour, minute = utc
    expected = datetime(2024, 6, day, hour, minute, tzinfo=UTC).timestamp()
    assert abs(at.moments()[name] - expected) < 60.0


def test_polar_day_and_night_have_no_rise() -> None:
    """Above the polar circle at the solstices the sun stays up or down (definition)."""
    summer, winter = (
        sun_times(day, "Europe/Oslo", latitude_deg=69.65, longitude_deg=18.96)
        for day in (date(2026, 6, 21), date(2026, 12, 21))
    )
    assert (summer.rise, summer.set, summer.always) == (None, None, "up")
    assert (winter.rise, winter.set, winter.always) == (None, None, "down")
    assert winter.civil_dawn is not None
