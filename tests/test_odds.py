"""Odds of sun: counted anew straight off the raw weather files, and in invented years."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pvlib
import pytest
from campaign import few_or_many
from hypothesis import given, settings
from hypothesis import strategies as st
from places import bare, made
from pvlib.solarposition import get_solarposition
from test_imports import loaded

from sunplan.day.sun_odds import Odds, odds_of
from sunplan.errors import InputError
from sunplan.location.read import Location
from sunplan.report.answers import as_json
from sunplan.report.weather import NOT_KNOWN, answer, lines

CARRIED = Path(pvlib.__file__).parent / "data"
EAST = CARRIED / "723170TYA.CSV"  # North Carolina, 5 hours behind UTC
ALASKA = CARRIED / "703165TY.csv"  # 9 hours behind
HORIZON_DEG = 0.1  # nearer to it than this, two models of refraction may differ
ROWS = 365 * 24

Dni = Callable[[datetime], float]


def at(folder: Path, latitude: float, longitude: float, timezone: str | None = None) -> Location:
    raw = bare()
    raw["location"] |= {"latitude": latitude, "longitude": longitude, "timezone": timezone}
    if timezone is None:
        del raw["location"]["timezone"]
    return made(raw, folder)


@pytest.fixture(scope="module")
def east(tmp_path_factory: pytest.TempPathFactory) -> Odds:
    return odds_of(EAST, at(tmp_path_factory.mktemp("east"), 36.0, -79.8))


@pytest.fixture(scope="module")
def alaska(tmp_path_factory: pytest.TempPathFactory) -> Odds:
    return odds_of(ALASKA, at(tmp_path_factory.mktemp("alaska"), 55.3, -160.5))


def unix(*parts: int) -> float:
    return datetime(*parts, tzinfo=UTC).timestamp()


def counted(file: Path) -> Callable[[pd.Timestamp], float]:
    """Share of days with sun in the hour around a middle of an hour in UTC, off the raw file."""
    lines = file.read_text(encoding="ascii").splitlines()
    ahead = pd.Timedelta(hours=float(lines[0].split(",")[3]))
    names = lines[1].split(",")
    dates, times, sun = [], [], []
    for line in lines[2:]:
        row = dict(zip(names, line.split(","), strict=True))
        month, day, _ = row["Date (MM/DD/YYYY)"].split("/")
        dates.append(pd.Timestamp(f"2001-{month}-{day}"))
        # The label ends the hour.
        times.append(pd.Timedelta(hours=int(row["Time (HH:MM)"].split(":")[0])))
        sun.append(float(row["DNI (W/m^2)"]) > 120)
    raw = pd.DataFrame({"date": dates, "ends": times, "sun": sun})

    def share(middle_utc: pd.Timestamp) -> float:
        local = middle_utc + ahead
        ends = local - local.normalize() + pd.Timedelta(minutes=30)
        # 29 February counts as 1 March.
        leap = (local.month, local.day) == (2, 29)
        then = pd.Timestamp(2001, 3, 1) if leap else local.normalize().replace(year=2001)
        apart = (raw["date"] - then).dt.days.abs()
        near = raw[(np.minimum(apart, 365 - apart) <= 15) & (raw["ends"] == ends)]
        assert len(near) == 31
        return float(near["sun"].mean())

    return share


@pytest.mark.parametrize("which", ["east", "alaska"])
def test_shares_counted_off_the_raw_file(which: str, request: pytest.FixtureRequest) -> None:
    """200 random hours and quarters between them, over years with and without a 29 February."""
    odds: Odds = request.getfixturevalue(which)
    share = counted(Path(odds.file))
    rng = np.random.default_rng(7)
    middles = pd.Timestamp("2026-01-01 00:30") + pd.to_timedelta(
        rng.integers(0, 24 * 365 * 3, 200), unit="h"
    )
    quarters = rng.integers(0, 4, 200)
    moments = middles + pd.to_timedelta(15 * quarters, unit="min")
    expected = np.array(
        [
            (1 - quarter / 4) * share(middle) + quarter / 4 * share(middle + pd.Timedelta(hours=1))
            for middle, quarter in zip(middles, quarters, strict=True)
        ]
    )
    altitude_deg = altitudes(odds, moments)
    found = odds.share(seconds(moments))
    clear = np.abs(altitude_deg) > HORIZON_DEG
    assert clear.sum() > 190
    expected[altitude_deg < 0] = 0.0
    assert (expected > 0).sum() > 60
    np.testing.assert_allclose(found[clear], expected[clear], atol=1e-12)


def test_29_february_and_the_new_year_counted_off_the_raw_file(east: Odds) -> None:
    share = counted(EAST)
    days = ["2028-02-28", "2028-02-29", "2028-03-01", "2027-12-25", "2027-12-31", "2028-01-01"]
    middles = pd.DatetimeIndex([f"{day} {hour}:30" for day in days for hour in range(14, 21)])
    expected = [share(middle) for middle in middles]
    assert min(expected) > 0
    np.testing.assert_allclose(east.share(seconds(middles)), expected, atol=1e-12)


def seconds(moments: pd.DatetimeIndex) -> np.ndarray:
    return ((moments - pd.Timestamp(0)) / pd.Timedelta(seconds=1)).to_numpy(np.float64)


def altitudes(odds: Odds, moments: pd.DatetimeIndex) -> np.ndarray:
    site = odds.location.site
    sun = get_solarposition(moments.tz_localize("UTC"), site.latitude, site.longitude)
    return sun["apparent_elevation"].to_numpy()


@pytest.mark.parametrize("file", [EAST, ALASKA])
def test_labels_end_the_hour(file: Path) -> None:
    """Sun outside the air falls in just those hours, as they are read, in which the sun is up."""
    lines = [line.split(",") for line in file.read_text(encoding="ascii").splitlines()]
    ahead_h, latitude, longitude = (float(text) for text in lines[0][3:6])
    lit = np.array([float(row[2]) for row in lines[2:]]) > 0
    minutes = pd.date_range("2001-01-01", periods=ROWS * 6, freq="10min", tz="UTC")
    sun = get_solarposition(minutes - pd.Timedelta(hours=ahead_h), latitude, longitude)
    up = (sun["elevation"].to_numpy() > 0).reshape(-1, 6)
    assert (lit == up.any(axis=1)).mean() > 0.99
    assert (lit == np.roll(up.any(axis=1), 1)).mean() < 0.93
    assert (lit == np.roll(up.any(axis=1), -1)).mean() < 0.93


def test_alaska_in_december(alaska: Odds) -> None:
    moments = pd.date_range("2026-12-01 09:00", periods=31 * 96, freq="15min")
    altitude_deg, share = altitudes(alaska, moments), alaska.share(seconds(moments))
    night = altitude_deg < -HORIZON_DEG
    assert night.mean() > 0.6
    assert not share[night].any()
    assert 0.1 < share[altitude_deg > 5].mean() < 0.6


@settings(max_examples=few_or_many(30, 100))
@given(st.lists(st.floats(unix(2026, 1, 1), unix(2029, 1, 1)), max_size=20))
def test_a_share_is_a_share(east: Odds, moments: list[float]) -> None:
    share = east.share(np.array(moments))
    assert share.shape == (len(moments),)
    assert ((share >= 0) & (share <= 1)).all()


# -- invented years -------------------------------------------------------------------------------


def epw(dni: Dni, *, ahead_h: float = 1.0, year: int = 2001, place: str = "52.0,5.0") -> str:
    """An EPW file: eight lines of header, `dni` by the start of the hour, labels by its end."""
    heads = (
        "DESIGN CONDITIONS,TYPICAL/EXTREME PERIODS,GROUND TEMPERATURES,HOLIDAYS,COMMENTS 1,2,DATA"
    )
    lines = [f"LOCATION,Nowhere,-,-,invented,0,{place},{ahead_h:g},3.0", *heads.split(",")]
    start = datetime(year, 1, 1, tzinfo=UTC)
    while start.year == year:
        first = [start.year, start.month, start.day, start.hour + 1, 0, "?", *[0] * 8]
        lines.append(",".join(str(one) for one in [*first, dni(start), *[0] * 20]))
        start += timedelta(hours=1)
    return "\n".join(lines) + "\n"


def odds_in(folder: Path, text: str, location: Location | None = None) -> Odds:
    file = folder / "year.epw"
    file.write_text(text, encoding="utf-8")
    return odds_of(file, made(bare(), folder) if location is None else location)


def lone(odds: Odds, *parts: int) -> float:
    """Share at one moment UTC."""
    return float(odds.share(np.array([unix(*parts)]))[0])


def test_an_hour_in_june(tmp_path: Path) -> None:
    """Sun from 10:00 to 11:00 of the station's standard time, an hour ahead of UTC, in June."""
    odds = odds_in(tmp_path, epw(lambda t: 500.0 * (t.month == 6 and t.hour == 10)))
    assert lone(odds, 2026, 6, 16, 9, 30) == pytest.approx(30 / 31)  # 1 June to 1 July
    assert lone(odds, 2026, 6, 15, 9, 30) == pytest.approx(30 / 31)  # 31 May to 30 June
    assert lone(odds, 2026, 6, 1, 9, 30) == pytest.approx(16 / 31)
    assert lone(odds, 2026, 5, 17, 9, 30) == pytest.approx(1 / 31)
    assert lone(odds, 2026, 5, 16, 9, 30) == 0.0
    assert lone(odds, 2026, 7, 15, 9, 30) == pytest.approx(1 / 31)
    assert lone(odds, 2026, 7, 16, 9, 30) == 0.0
    quarters = [(8, 30), (8, 45), (9, 0), (9, 15), (9, 30), (9, 45), (10, 0), (10, 15), (10, 30)]
    shares = [lone(odds, 2026, 6, 16, *clock) * 31 / 30 for clock in quarters]
    assert shares == pytest.approx([0, 0.25, 0.5, 0.75, 1, 0.75, 0.5, 0.25, 0], abs=1e-12)


def test_clocks_that_change_shift_nothing(tmp_path: Path) -> None:
    """Sun from 10:00 to 11:00 standard time all year: 10:30 by the clock in winter, 11:30 after."""
    odds = odds_in(tmp_path, epw(lambda t: 500.0 * (t.hour == 10)))
    assert odds.location.timezone == "Europe/Amsterdam"
    days = [(2026, 3, 28, 1), (2026, 3, 29, 2), (2026, 10, 24, 2), (2026, 10, 25, 1)]
    for *day, ahead_h in days:
        for hour in range(8, 15):
            share = lone(odds, *day, hour - ahead_h, 30)
            assert share == pytest.approx(float(hour - ahead_h == 9)), (day, hour)


def test_round_the_new_year(tmp_path: Path) -> None:
    odds = odds_in(tmp_path, epw(lambda t: 500.0 * (t.month == 12 and t.day >= 20)))
    assert lone(odds, 2027, 1, 1, 11) == pytest.approx(12 / 31)  # from 17 December
    assert lone(odds, 2027, 1, 5, 11) == pytest.approx(11 / 31)
    assert lone(odds, 2027, 1, 15, 11) == pytest.approx(1 / 31)
    assert lone(odds, 2027, 1, 16, 11) == 0.0
    assert lone(odds, 2026, 12, 31, 11) == pytest.approx(12 / 31)
    assert lone(odds, 2026, 12, 5, 11) == pytest.approx(1 / 31)


def test_a_leap_year(tmp_path: Path) -> None:
    """With a 29 February in the file, and with none."""
    own = odds_in(tmp_path, epw(lambda t: 500.0 * ((t.month, t.day) == (2, 29)), year=2004))
    assert own.years == (2004, 2004)
    for shines, day in [(1, (2028, 2, 29)), (1, (2028, 3, 15)), (0, (2028, 3, 16))]:
        assert lone(own, *day, 11) == pytest.approx(shines / 31)
    for shines, day in [(1, (2026, 2, 14)), (0, (2026, 2, 13)), (1, (2026, 3, 15))]:
        assert lone(own, *day, 11) == pytest.approx(shines / 31)
    late = odds_in(tmp_path, epw(lambda t: 500.0 * ((t.month, t.day) == (3, 16)), year=2004))
    for shines, day in [(0, (2026, 2, 28)), (1, (2026, 3, 1)), (0, (2028, 2, 29))]:
        assert lone(late, *day, 11) == pytest.approx(shines / 31)
    none = odds_in(tmp_path, epw(lambda t: 500.0 * ((t.month, t.day) == (3, 16))))
    for shines, day in [(0, (2028, 2, 28)), (1, (2028, 2, 29)), (1, (2028, 3, 1))]:
        assert lone(none, *day, 11) == pytest.approx(shines / 31)
    for shines, day in [(0, (2026, 2, 28)), (1, (2026, 3, 1)), (1, (2028, 3, 31))]:
        assert lone(none, *day, 11) == pytest.approx(shines / 31)


def test_over_120_w_m2(tmp_path: Path) -> None:
    odds = odds_in(tmp_path, epw(lambda t: {10: 120.0, 12: 120.5}.get(t.hour, 0.0)))
    assert lone(odds, 2026, 6, 16, 9, 30) == 0.0
    assert lone(odds, 2026, 6, 16, 11, 30) == pytest.approx(1.0)


def test_an_offset_of_half_an_hour(tmp_path: Path) -> None:
    """10:00 to 11:00 at five and a half hours ahead: 04:30 to 05:30 UTC."""
    text = epw(lambda t: 500.0 * (t.hour == 10), ahead_h=5.5, place="20.0,78.0")
    odds = odds_in(tmp_path, text, at(tmp_path, 20.0, 78.0, "Asia/Kolkata"))
    assert lone(odds, 2026, 6, 16, 5, 0) == pytest.approx(1.0)
    assert lone(odds, 2026, 6, 16, 4, 30) == pytest.approx(0.5)


def test_no_sun_below_the_horizon(tmp_path: Path) -> None:
    """A file in which the sun shines all night: the location's own horizon decides."""
    odds = odds_in(tmp_path, epw(lambda _: 500.0))
    moments = pd.date_range("2026-01-01", periods=365 * 96, freq="15min")
    altitude_deg, share = altitudes(odds, moments), odds.share(seconds(moments))
    assert share[altitude_deg > HORIZON_DEG] == pytest.approx(1.0)
    assert not share[altitude_deg < -HORIZON_DEG].any()


# -- how it is told -------------------------------------------------------------------------------


def test_told(east: Odds) -> None:
    # Great circle by the law of cosines: the longitudes differ by 0.15°, the latitudes by 0.1°.
    here, there, apart = (math.radians(angle) for angle in (36.0, 36.1, 0.15))
    cosine = math.sin(here) * math.sin(there) + math.cos(here) * math.cos(there) * math.cos(apart)
    assert east.distance_m == pytest.approx(6371008.8 * math.acos(cosine), rel=1e-6)
    assert (east.latitude_deg, east.longitude_deg) == (36.1, -79.95)
    assert "\n".join(lines(east)) == (
        f"weather: {EAST} (TMY3), a typical year of months from 1980 to 2003, station 17 km off "
        "toward 310° NW\nodds of sun: share of days within 15 days of the date on which the sun "
        "shines (over 120 W/m², WMO)"
    )
    assert answer(east) == {
        "file": str(EAST),
        "kind": "TMY3",
        "years": [1980, 2003],
        "station": {
            "latitude": 36.1,
            "longitude": -79.95,
            "distance_m": pytest.approx(17478.0, abs=1.0),
            "bearing_deg": pytest.approx(309.55, abs=0.01),
        },
        "sun_over_w_m2": 120.0,
        "within_days": 15,
    }
    assert as_json(answer(east)).count("null") == 0


@pytest.mark.parametrize(
    ("place", "told"),
    [
        ("52.0,5.0", "station 0 km off toward 0° N"),
        ("51.5,5.0", "station 56 km off toward 180° S"),
        ("52.0,6.45", "station 99 km off toward 89° E"),
        (
            "52.0,3.5",
            "station 103 km off toward 271° W, MORE THAN 100 km: its weather may be another",
        ),
    ],
)
def test_how_far_the_station_is(tmp_path: Path, place: str, told: str) -> None:
    odds = odds_in(tmp_path, epw(lambda _: 0.0, place=place))
    assert lines(odds)[0] == (
        f"weather: {tmp_path / 'year.epw'} (EPW), a typical year of months from 2001, {told}"
    )


def test_what_is_told_without_a_file() -> None:
    assert NOT_KNOWN == ("Odds of sun are not known: --weather-file FILE (EPW or TMY3) adds them.")


def test_nothing_heavy_is_imported_before_a_file_is_read() -> None:
    assert not loaded("sunplan.report.weather") & {"pvlib", "pandas"}


# -- mistakes -------------------------------------------------------------------------------------

DARK = epw(lambda _: 0.0)


def lines_of(text: str, *, without: slice = slice(0)) -> str:
    kept = text.splitlines()
    del kept[without]
    return "\n".join(kept) + "\n"


def swapped(text: str, old: str, new: str) -> str:
    assert text.count(old) >= 1
    return text.replace(old, new)


NEITHER = (
    'is neither an EPW file, whose first line starts with "LOCATION,", nor a TMY3 file, whose '
    'second line starts with "Date (MM/DD/YYYY),"'
)
ORDER = (
    "expected all hours of a year in order, from month 1, day 1, hour 1 to month 12, day 31, "
    "hour 24"
)
MISTAKES = {
    "empty": (lambda: "", NEITHER),
    "another table": (lambda: "Date,DNI\n1,2\n", NEITHER),
    "bytes": (lambda: "PK\x03\x04\n\x00\x01", NEITHER),
    "no column": (
        lambda: swapped(EAST.read_text(encoding="ascii"), "DNI (W/m^2)", "Direct"),
        'has no column "DNI (W/m^2)"; expected it, the direct normal irradiance',
    ),
    "head only": (
        lambda: lines_of(DARK, without=slice(8, None)),
        "has 0 rows of hours; expected 8760, or 8784 in a leap year",
    ),
    "half a year": (
        lambda: lines_of(DARK, without=slice(4388, None)),
        "has 4380 rows of hours; expected 8760, or 8784 in a leap year",
    ),
    "an hour lost": (
        lambda: lines_of(EAST.read_text(encoding="ascii"), without=slice(500, 501)),
        "has 8759 rows of hours; expected 8760, or 8784 in a leap year",
    ),
    "July first": (
        lambda: (
            lines_of(DARK, without=slice(8, None))
            + "\n".join([*DARK.splitlines()[8 + 4344 :], *DARK.splitlines()[8 : 8 + 4344]])
        ),
        f"row 1 of hours is month 7, day 1, hour 1; {ORDER}",
    ),
    "an hour twice": (
        lambda: swapped(DARK, "2001,1,2,3,0,", "2001,1,2,2,0,"),
        f"row 27 of hours is month 1, day 2, hour 2; {ORDER}",
    ),
    "missing in EPW": (
        lambda: epw(lambda t: 9999.0 * (t.month == 2 and t.hour == 12)),
        "has no direct normal irradiance in 28 of 8760 hours; expected it in all",
    ),
    "missing in TMY3": (
        lambda: swapped(
            EAST.read_text(encoding="ascii"),
            "01/01/1988,01:00,0,0,0,1,0,0,",
            "01/01/1988,01:00,0,0,0,1,0,-9900,",
        ),
        "has no direct normal irradiance in 1 of 8760 hours; expected it in all",
    ),
    "a column left blank": (
        lambda: epw(lambda _: math.nan),
        "has no direct normal irradiance in 8760 of 8760 hours; expected it in all",
    ),
    "words for figures": (
        lambda: swapped(DARK, "LOCATION,Nowhere,-,-,invented,0,52.0", "LOCATION,-,-,-,-,0,north"),
        "is a damaged EPW file (could not convert string to float: 'north'); expected it as it "
        "was published",
    ),
    "a head cut short": (
        lambda: swapped(DARK, ",52.0,5.0,1,3.0", ""),
        "is a damaged EPW file ('altitude'); expected it as it was published",
    ),
    "no such place": (
        lambda: epw(lambda _: 0.0, place="52.0,505.0"),
        "has its station at latitude 52, longitude 505, 1 hours ahead of UTC; expected at most "
        "90, 180 and 14, on either side of 0",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_mistakes(tmp_path: Path, mistake: str) -> None:
    text, message = MISTAKES[mistake]
    file = tmp_path / "weather.csv"
    file.write_text(text(), encoding="utf-8")
    with pytest.raises(InputError) as refusal:
        odds_of(file, made(bare(), tmp_path))
    assert str(refusal.value) == f"{file}: {message}"


@pytest.mark.parametrize("empty", [slice(100, 101), slice(8, None)])
def test_rows_with_nothing_in_them(tmp_path: Path, empty: slice) -> None:
    lines = DARK.splitlines()
    lines[empty] = ["," * 34] * len(lines[empty])
    with pytest.raises(InputError) as refusal:
        odds_in(tmp_path, "\n".join(lines))
    # What stands in the brackets is the reader's own word.
    first, last = (
        f"{tmp_path / 'year.epw'}: is a damaged EPW file (",
        "expected it as it was published",
    )
    assert str(refusal.value).startswith(first)
    assert str(refusal.value).endswith(f"); {last}")
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(
    ("name", "message"),
    [
        ("none.epw", "no such file"),
        ("folder", "is a folder; expected an EPW or TMY3 file"),
    ],
)
def test_no_file_at_all(tmp_path: Path, name: str, message: str) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError) as refusal:
        odds_of(tmp_path / name, made(bare(), tmp_path))
    assert str(refusal.value) == f"{tmp_path / name}: {message}"


def test_a_station_name_in_another_encoding(tmp_path: Path) -> None:
    """Its name is not asked for; a mark of byte order and line ends of two signs do no harm."""
    file = tmp_path / "old.epw"
    text = swapped(epw(lambda _: 500.0), "Nowhere", "Nirgendwo über").replace("\n", "\r\n")
    file.write_bytes(text.encode("latin-1"))
    location = made(bare(), tmp_path)
    assert lone(odds_of(file, location), 2026, 6, 16, 11) == pytest.approx(1.0)
    file.write_bytes(b"\xef\xbb\xbf" + text.encode("utf-8"))
    assert lone(odds_of(file, location), 2026, 6, 16, 11) == pytest.approx(1.0)


@pytest.mark.parametrize("columns", [32, 15])
def test_an_older_file_with_fewer_columns(tmp_path: Path, columns: int) -> None:
    lines = epw(lambda t: 500.0 * (t.hour == 10)).splitlines()
    rows = [",".join(line.split(",")[:columns]) for line in lines[8:]]
    odds = odds_in(tmp_path, "\n".join([*lines[:8], *rows]))
    assert lone(odds, 2026, 1, 1, 9, 30) == pytest.approx(1.0)
    assert lone(odds, 2026, 1, 1, 10, 30) == 0.0


def test_a_date_and_an_hour_without_noughts(tmp_path: Path, east: Odds) -> None:
    """As a spreadsheet saves them."""
    lines = EAST.read_text(encoding="ascii").splitlines()
    for row in range(2, len(lines)):
        day, clock, rest = lines[row].split(",", 2)
        month, of_month, year = (int(part) for part in day.split("/"))
        lines[row] = f"{month}/{of_month}/{year},{clock.lstrip('0')},{rest}"
    file = tmp_path / "saved.csv"
    file.write_text("\n".join(lines), encoding="ascii")
    np.testing.assert_array_equal(odds_of(file, east.location).shares, east.shares)
