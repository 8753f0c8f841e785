"""Which way the plan's up points: against published values, another ephemeris, and by counting."""

from __future__ import annotations

import csv
import io
import json
import math
import subprocess
import tomllib
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from inside import command
from places import bare, made
from skyfield.api import load as skyfield_load
from skyfield.api import load_file, wgs84
from skyfield_data import get_skyfield_data_path

from sunplan.errors import InputError
from sunplan.location.edit import rewritten
from sunplan.location.read import Location, read
from sunplan.report.bearing import report
from sunplan.report.document import Document
from sunplan.sun.position import wrapped_deg
from sunplan.survey.bearing import Measured, Solution, Term
from sunplan.survey.combining import combined, weighted_mean
from sunplan.survey.compass import decimal_year, declination, geodesic
from sunplan.survey.observations import UP, Direction, Reading, directions, observed
from sunplan.survey.sun_bearing import Bearings, bearings
from sunplan.write import terminal

ROOT = Path(__file__).parent.parent
AUTHORITIES = Path(__file__).parent / "authorities"
LOCK = ROOT / "locations" / "lock-house.toml"
DAY = date(2027, 3, 20)
SEEN = pytest.mark.filterwarnings("ignore:The file finals2000A.all has expired")

SunAt = Callable[[float, float, np.ndarray], tuple[np.ndarray, np.ndarray]]


def plain(document: Document) -> str:
    return terminal.text(document, "m")


@pytest.fixture(scope="module")
def sun_at() -> Iterator[SunAt]:
    """Altitude without refraction and bearing of the sun by skyfield on DE421, degrees."""
    ephemeris = load_file(Path(get_skyfield_data_path()) / "de421.bsp")
    scale = skyfield_load.timescale(builtin=True)

    def asked(latitude: float, longitude: float, unix_s: np.ndarray) -> tuple[np.ndarray, ...]:
        # Leap seconds to come are not known: clocks keep to UT1.
        times = scale.ut1_jd(np.asarray(unix_s) / 86400.0 + 2440587.5)
        place = ephemeris["earth"] + wgs84.latlon(latitude, longitude)
        altitude, bearing, _ = place.at(times).observe(ephemeris["sun"]).apparent().altaz()
        return altitude.degrees, bearing.degrees

    yield asked
    ephemeris.close()


def placed(
    folder: Path,
    latitude: float,
    longitude: float,
    plan_up: float,
    error: float = 0.0,
    *,
    depth: float = 0.1,
) -> Location:
    """A hall at a place whose clocks keep UTC: its window in wall A, y = 0, from x = 1 m to 3 m."""
    raw = bare()
    raw["room"][0]["outline"] = [[-40.0, 0.0], [40.0, 0.0], [40.0, 40.0], [-40.0, 40.0]]
    raw["room"][0]["opening"][0] |= {"along": 41.0, "depth": depth}
    raw["location"] |= {
        "latitude": latitude,
        "longitude": longitude,
        "plan_up": plan_up,
        "plan_up_error": error,
        "timezone": "UTC",
    }
    return made(raw, folder)


def asked(location: Location, *pairs: tuple[str, str], day: date = DAY) -> Bearings:
    texts: dict[str, list[str]] = {}
    for option, text in pairs:
        texts.setdefault(option, []).append(text)
    return bearings(location, observed(location, texts), day)


def one(location: Location, option: str, text: str, *, day: date = DAY) -> Measured:
    (found,) = asked(location, (option, text), day=day).measured
    return found


def told(moment: float) -> str:
    return f"{datetime.fromtimestamp(round(moment), UTC):%Y-%m-%d %H:%M:%S}"


# Compass


def test_declination_against_the_published_test_values() -> None:
    """WMM2025 report, table 6: all rows, to the hundredth that they are given to."""
    text = (AUTHORITIES / "wmm2025_test_values.csv").read_text()
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == 12
    for row in rows:
        found = declination(
            float(row["lat_deg"]),
            float(row["lon_deg_east"]),
            year=float(row["decimal_year"]),
            elevation_m=1000.0 * float(row["height_km_ellipsoid"]),
        )
        assert found.degrees == pytest.approx(float(row["D_deg_published"]), abs=0.01)


@pytest.mark.parametrize(
    ("latitude", "longitude", "degrees"),
    [
        (-33.8688, 151.2093, 12.82083),
        (51.5074, -0.1278, 1.16280),
        (64.1466, -21.9426, -11.13349),
    ],
)
def test_declination_of_a_date(latitude: float, longitude: float, degrees: float) -> None:
    """NOAA's calculator, WMM2025, sea level, 2026-07-04 (2026.50411, its midnight)."""
    year = decimal_year(date(2026, 7, 4))
    assert year == pytest.approx(2026.50411, abs=1 / 365)
    assert declination(latitude, longitude, year=year).degrees == pytest.approx(degrees, abs=1e-3)


def test_a_compass_reads_from_magnetic_north(tmp_path: Path) -> None:
    """East declination adds; its own error joins the compass's."""
    location = placed(tmp_path, 51.5074, -0.1278, 0.0)
    found = one(location, "--compass", "room A: 104 ±4", day=date(2026, 7, 4))
    assert found.solutions[0].bearing_deg == pytest.approx(105.1628, abs=1e-3)
    assert found.plan_ups_deg[0] == pytest.approx(15.1628, abs=1e-3)  # wall A runs to plan east
    assert found.limit == "the compass"
    # Two standard deviations of sqrt(0.26² + (5417 / H)²), the report's, H from the model.
    model = declination(51.5074, -0.1278, year=2026.5)
    own = 2.0 * math.hypot(0.26, 5417.0 / model.horizontal_nt)
    assert 19_000 < model.horizontal_nt < 20_500  # some 19 700 nT there; from memory
    assert found.error_deg == pytest.approx(math.hypot(4.0, own), abs=1e-3)
    plain = one(location, "--compass-true", "room A: 104 ±4", day=date(2040, 1, 1))
    assert (plain.solutions[0].bearing_deg, plain.error_deg) == (104.0, 4.0)
    assert one(location, "--compass-true", "room A: 104").error_deg == 5.0
    for spelt in ("+-4", "+/-4°", "± 4", "+−4"):
        assert one(location, "--compass-true", f"ROOM  a: 104° {spelt}").error_deg == 4.0


# Two points

# Rows of the set of geodesics that Karney's algorithms are tested by, as published with
# GeographicLib in all its languages: latitude, longitude, bearing there, and the other end.
GEODESICS = [
    (35.60777, -139.44815, 111.098748429560326, -11.17491, -69.95921, 8935244.5604818305),
    (55.52454, 106.05087, 22.020059880982801, 77.03196, 197.18234, 4105086.1713924406),
    (-21.97856, 142.59065, -32.44456876433189, 41.84138, 98.56635, 8394328.894657671),
    (-66.99028, 112.2363, 173.73491240878403, -12.70631, 285.90344, 11150344.2312080241),
    (-68.82867, -74.28391, 93.774347763114881, -50.63005, -8.36685, 3956936.926063544),
    (-19.79938, -174.47484, 71.167275780171533, -11.99349, -154.35109, 2319004.8601169389),
]


@pytest.mark.parametrize("row", GEODESICS)
def test_two_points_against_published_geodesics(row: tuple[float, ...]) -> None:
    bearing, metres = geodesic((row[0], row[1]), (row[3], row[4]))
    assert abs(wrapped_deg(bearing - row[2])) < 0.001
    assert metres == pytest.approx(row[5], abs=0.001)


@given(
    latitude=st.floats(-80.0, 80.0),
    longitude=st.floats(-179.0, 179.0),
    bearing=st.floats(0.0, 359.999),
    metres=st.floats(20.0, 4000.0),
)
@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_two_points_give_the_way_that_was_gone(
    tmp_path: Path, latitude: float, longitude: float, bearing: float, metres: float
) -> None:
    """geographiclib's direct problem; points written as maps do, to a thousandth of a metre."""
    from geographiclib.geodesic import Geodesic

    end = Geodesic.WGS84.Direct(latitude, longitude, bearing, metres)
    text = f"room A: {latitude:.9f},{longitude:.9f} {end['lat2']:.9f},{end['lon2']:.9f} ±1m"
    found = one(placed(tmp_path, latitude, longitude, 0.0), "--points", text)
    assert abs(wrapped_deg(found.solutions[0].bearing_deg - bearing)) < 0.001
    error = math.degrees(math.atan(math.sqrt(2.0) / metres))
    assert found.error_deg == pytest.approx(error, rel=1e-4)
    assert abs(wrapped_deg(found.plan_ups_deg[0] + 90.0 - bearing)) < 0.001


@pytest.mark.parametrize(
    "text",
    [
        "52.0907,5.1214 52.0909,5.122",
        "52.0907, 5.1214; 52.0909, 5.122",
        "52,0907 5,1214 52,0909 5,122",
        "52.0907° N, 5.1214° E  52.0909° N, 5.122° E",
        "N 52.0907 E 5.1214 N 52.0909 E 5.122",
        "5.1214 E 52.0907 N, 5.122 E 52.0909 N",
        "52°05'26.52\"N 5°07'17.04\"E 52°05'27.24\"N 5°07'19.2\"E",
        "52°05′26.52″N, 5°07′17.04″E, 52°05′27.24″N, 5°07′19.2″E",
        "52° 5.442' N 5° 7.284' E 52° 5.454' N 5° 7.32' E",
        "52º5’26.52’’n 5º7’17.04’’e 52º5’27.24’’n 5º7’19.2’’e",
        "geo:52.0907,5.1214 geo:52.0909,5.122",
        "geo:52.0907,5.1214,3;crs=wgs84;u=2 geo:52.0909,5.122?z=19",
    ],
)
def test_points_as_maps_print_them(text: str) -> None:
    location = read(LOCK)
    plain = one(location, "--points", "kitchen A: 52.0907,5.1214 52.0909,5.122")
    found = one(location, "--points", f"kitchen A: {text}")
    assert found.solutions[0].bearing_deg == pytest.approx(plain.solutions[0].bearing_deg, abs=1e-6)
    assert found.error_deg == pytest.approx(plain.error_deg, abs=1e-6)


def test_southern_and_western_points(tmp_path: Path) -> None:
    location = placed(tmp_path, -33.8688, -70.2, 0.0)
    for text in (
        "-33.8688,-70.2 -33.8688,-70.199",
        "33.8688 S 70.2 W, 33.8688 S 70.199 W",
        "geo:-33.8688,-70.2 geo:-33.8688,-70.199",
    ):
        found = one(location, "--points", f"room A: {text}")
        assert found.plan_ups_deg[0] == pytest.approx(0.0, abs=0.001)


def test_a_geo_uris_uncertainty_is_its_error() -> None:
    """RFC 5870, section 3.4.3: `u` is in metres; a ± that is given goes before it."""
    text = "kitchen A: geo:52.0907,5.1214;u=3 geo:52.0917,5.1214;u=4"
    found = one(read(LOCK), "--points", text)
    metres = found.facts["distance_m"]
    assert found.error_deg == pytest.approx(math.degrees(math.atan(5.0 / metres)))
    given_too = one(read(LOCK), "--points", f"{text} ±1m")
    assert given_too.error_deg == pytest.approx(math.degrees(math.atan(math.sqrt(2) / metres)))


def test_directions_are_those_that_check_tells() -> None:
    """A wall faces clockwise of the way along it, by a quarter turn; walls go round the room."""
    named = directions(read(LOCK))
    assert named[UP].turn_deg == 0.0
    kitchen = read(LOCK).room_named("kitchen")
    for index, letter in enumerate("ABCDEF"):
        (x0, y0), (x1, y1) = kitchen.wall(index)
        along = math.degrees(math.atan2(x1 - x0, y1 - y0))
        assert abs(wrapped_deg(named[f"kitchen {letter}"].turn_deg - along)) < 1e-9
        assert abs(wrapped_deg(named[f"kitchen {letter} outward"].turn_deg - along - 90)) < 1e-9


# Shadows and patches


def moments(rng: np.random.Generator, count: int) -> np.ndarray:
    start = datetime(2027, 1, 1, tzinfo=UTC).timestamp()
    return np.round(start + rng.uniform(0.0, 365 * 86400.0, count))


PLACES = [(52.1, 5.1), (-33.9, 18.4), (64.1, -21.9), (40.4, -3.7), (1.3, 103.8)]


@SEEN
def test_shadows_recover_the_truth_within_their_own_error(sun_at: SunAt, tmp_path: Path) -> None:
    """1 000 shadows by skyfield's sun, read with errors whose two standard deviations are ±.

    95.4 % are expected; 1 000 draws scatter by 0.7 %.
    """
    rng = np.random.default_rng(20)
    hits = count = 0
    for latitude, longitude in PLACES:
        location = placed(tmp_path, latitude, longitude, 0.0)
        left = 200
        times = moments(rng, 4000)
        up, bearing = sun_at(latitude, longitude, times)
        for moment, sun in zip(times[up > 3.0], bearing[up > 3.0], strict=True):
            plan_up = rng.uniform(0.0, 360.0)
            # Counter-clockwise from wall A, which runs to plan east, to the shadow.
            angle = (plan_up + 90.0 - (sun + 180.0)) % 360.0
            if not 5.0 < angle < 175.0 or not left:
                continue
            left -= 1
            seen = angle + rng.normal(0.0, 0.5)
            hand, small = ("left", seen) if rng.uniform() < 0.5 else ("right", 180.0 - seen)
            when = told(moment + rng.normal(0.0, 30.0))
            found = one(location, "--shadow", f"room A: {when} ±1min, {small:.4f} {hand} ±1")
            off = abs(wrapped_deg(found.plan_ups_deg[0] - plan_up))
            hits += off <= found.error_deg
            count += 1
    assert count == 1000
    assert 0.95 <= hits / count < 0.985


def edge_of_light(
    angle: float, hand: str, *, deep: float, along: float, width: float, depth: float
) -> float:
    """Where a patch ends along wall A, so deep in the room, by the two edges of each jamb.

    `angle` is counter-clockwise from plan east to the way the light goes. Whatever either edge
    keeps from light is dark.
    """
    at = along + width if hand == "left" else along
    lines = [at + (deep + out) / math.tan(math.radians(angle)) for out in (0.0, depth)]
    return min(lines) if hand == "left" else max(lines)


@SEEN
def test_patches_recover_the_truth_within_their_own_error(sun_at: SunAt, tmp_path: Path) -> None:
    """As above, by points of a patch's edges: the window is 2 m wide from 1 m on, its wall 0.1 m.

    A centimetre 95 times in 100 either way, the jamb itself taken as exact.
    """
    rng = np.random.default_rng(21)
    hits = count = 0
    for latitude, longitude in PLACES:
        location = placed(tmp_path, latitude, longitude, 0.0)
        times = moments(rng, 4000)
        up, bearing = sun_at(latitude, longitude, times)
        left = 200
        for moment, sun in zip(times[up > 3.0], bearing[up > 3.0], strict=True):
            plan_up = rng.uniform(0.0, 360.0)
            angle = (plan_up + 90.0 - (sun + 180.0)) % 360.0
            if not 20.0 < angle < 160.0 or not left:
                continue
            left -= 1
            hand = ("left", "right")[int(rng.integers(2))]
            deep = rng.uniform(0.5, 2.5)
            x = edge_of_light(angle, hand, deep=deep, along=1.0, width=2.0, depth=0.1)
            x, y = x + rng.normal(0.0, 0.005), deep + rng.normal(0.0, 0.005)
            when = told(moment + rng.normal(0.0, 30.0))
            text = f"room window: {when}, {hand}, {x:.4f},{y:.4f}"
            found = one(location, "--patch", text)
            hits += abs(wrapped_deg(found.plan_ups_deg[0] - plan_up)) <= found.error_deg
            count += 1
    assert count == 1000
    assert 0.95 <= hits / count < 0.985


@SEEN
def test_a_patch_3_m_long_on_a_morning_is_good_to_three_tenths(
    sun_at: SunAt, tmp_path: Path
) -> None:
    """A centimetre in 3 m is 0.19°, and a minute 0.2° while the sun is low.

    A degree of the shadow's angle is a degree of bearing, whatever the geometry: only a place told
    to the centimetre, far from the jamb, gives 0.3°, and not around noon.
    """
    location = placed(tmp_path, 52.1, 5.1, 0.0)
    start = datetime(2027, 3, 20, 6, 40, tzinfo=UTC).timestamp()
    rng = np.random.default_rng(22)
    offs, errors = [], []
    for moment in start + np.arange(0.0, 90 * 60.0, 60.0):
        plan_up = float(rng.uniform(-130.0, -60.0))
        _, (sun,) = sun_at(52.1, 5.1, np.array([moment]))
        angle = math.radians((plan_up + 90.0 - (sun + 180.0)) % 360.0)
        deep = 3.0 * math.sin(angle)
        x = edge_of_light(math.degrees(angle), "left", deep=deep, along=1.0, width=2.0, depth=0.1)
        when = told(moment + rng.uniform(-30.0, 30.0))
        x, y = x + rng.normal(0.0, 0.005), deep + rng.normal(0.0, 0.005)
        found = one(location, "--patch", f"room window: {when}, left, {x:.4f},{y:.4f}")
        offs.append(abs(wrapped_deg(found.plan_ups_deg[0] - plan_up)))
        errors.append(found.error_deg)
    assert len(offs) == 90
    assert max(errors) < 0.3
    assert max(offs) < 0.3
    degree = one(location, "--shadow", "room A: 2027-03-20 07:00, 60 left")
    assert degree.error_deg > 1.0


@SEEN
@pytest.mark.parametrize("level", ["sill", "head"])
def test_a_patchs_corner_proves_the_clock(sun_at: SunAt, tmp_path: Path, level: str) -> None:
    """A clock an hour off is told on most mornings; a right one is never doubted for it.

    The sill (0.8 m up) keeps light off by its inner edge, the head (2 m) by its outer one.
    """
    location = placed(tmp_path, 52.1, 5.1, 0.0, depth=0.4)
    start = datetime(2027, 5, 20, 6, 0, tzinfo=UTC).timestamp()
    doubts = count = 0
    for moment in start + np.arange(0.0, 4 * 3600.0, 900.0):
        (up,), (sun,) = sun_at(52.1, 5.1, np.array([moment]))
        for angle in (40.0, 130.0):
            deep = 0.8 if level == "sill" else 2.0
            deep = deep / math.tan(math.radians(up)) * math.sin(math.radians(angle))
            deep -= 0.4 if level == "head" else 0.0
            x = edge_of_light(angle, "left", deep=deep, along=1.0, width=2.0, depth=0.4)
            for late in (0.0, 3600.0):
                text = f"room window: {told(moment + late)}, left {level}, {x:.4f},{deep:.4f}"
                found = one(location, "--patch", text)
                if late:
                    doubts += "the clock" in found.doubt
                    count += 1
                else:
                    assert "the clock" not in found.doubt
                    up_now = float(sun + 90.0 + angle) % 360.0
                    assert abs(wrapped_deg(found.plan_ups_deg[0] - up_now)) < 0.02
    assert doubts / count > 0.8


def test_an_angle_without_its_side_has_two_solutions(tmp_path: Path) -> None:
    location = placed(tmp_path, 52.1, 5.1, 0.0)
    text = "room A: 2027-03-20 15:10, 41"
    found = asked(location, ("--shadow", text))
    ups = sorted(one.mean.bearing_deg for one in found.together)
    assert found.decided is None
    sides = [one(location, "--shadow", f"{text} {hand}") for hand in ("left", "right")]
    assert ups == pytest.approx(sorted(side.plan_ups_deg[0] for side in sides))
    assert wrapped_deg(ups[1] - ups[0]) == pytest.approx(98.0)  # twice what lacks to 90°
    third = asked(location, ("--shadow", text), ("--compass-true", f"plan up: {ups[1]:.0f} ±9"))
    assert third.decided is not None
    assert third.decided.mean.bearing_deg == pytest.approx(ups[1], abs=0.2)


def test_a_square_shadow_has_one_bearing_and_other_directions_mirror(tmp_path: Path) -> None:
    location = placed(tmp_path, 52.1, 5.1, 0.0)
    square = asked(location, ("--shadow", "room A: 2027-03-20 15:10, 90"))
    left, right = square.measured[0].plan_ups_deg
    assert left == pytest.approx(right)
    assert square.decided is not None
    out = one(location, "--shadow", "plan up: 2027-03-20 15:10, 30")
    assert abs(wrapped_deg(out.plan_ups_deg[0] - out.plan_ups_deg[1])) == pytest.approx(60.0)
    assert out.plan_ups_deg[0] == pytest.approx(out.facts["sun_bearing_deg"] - 180.0 + 30.0)


@SEEN
def test_the_times_that_fit_a_shadow(sun_at: SunAt, tmp_path: Path) -> None:
    """Each stretch holds a moment of skyfield's, and ends where the sun is off by the whole ±."""
    rng = np.random.default_rng(23)
    checked = 0
    for latitude, longitude in PLACES[:4]:
        times = moments(rng, 60)
        up, bearing = sun_at(latitude, longitude, times)
        for moment, sun in zip(times[up > 12.0], bearing[up > 12.0], strict=True):
            angle = rng.uniform(20.0, 160.0)
            plan_up = float((sun + 90.0 + angle) % 360.0)
            location = placed(tmp_path, latitude, longitude, plan_up, 1.5)
            day = told(moment)[:10]
            (found,) = asked(location, ("--shadow", f"room A: {day} ?, {angle} left ±2")).times
            assert found.error_deg == pytest.approx(2.5)
            ((hand, spans),) = found.fits
            assert hand == "left"
            ((start, end),) = [span for span in spans if span[0] <= moment <= span[1]]
            _, ends = sun_at(latitude, longitude, np.array([start, end]))
            assert [abs(wrapped_deg(one - sun)) for one in ends] == pytest.approx(
                [2.5] * 2, abs=0.01
            )
            checked += 1
    assert checked > 40


# Grazing


@SEEN
def test_a_grazed_wall_against_another_ephemeris(sun_at: SunAt, tmp_path: Path) -> None:
    """Lit after it comes, lit before it leaves, by skyfield's sun before the wall or behind."""
    rng = np.random.default_rng(24)
    checked = 0
    for latitude, longitude in (*PLACES, (-1.0, 36.8)):
        location = placed(tmp_path, latitude, longitude, 0.0)
        times = moments(rng, 60)
        up, bearing = sun_at(latitude, longitude, times)
        for moment, sun in zip(times[up > 3.0], bearing[up > 3.0], strict=True):
            text = f"room B: {told(moment)}"
            both = one(location, "--grazes", text)
            along = [each.bearing_deg for each in both.solutions]
            assert abs(wrapped_deg(along[0] - along[1])) == pytest.approx(180.0)
            for word in ("comes", "leaves"):
                found = one(location, "--grazes", f"{text} {word}")
                (wall,) = (each.bearing_deg for each in found.solutions)
                assert wall in along
                assert abs(wrapped_deg(2.0 * (wall - sun))) < 0.02  # along it, in either sense
                _, near = sun_at(latitude, longitude, np.array([moment - 60.0, moment + 60.0]))
                before, after = (math.cos(math.radians(at - wall - 90.0)) > 0 for at in near)
                assert (before, after) == ((False, True) if word == "comes" else (True, False))
                checked += 1
    assert checked > 200


# Several together


def measured(*figures: tuple[tuple[float, ...], float]) -> list[Measured]:
    """Measurements of the plan's up: bearings that fit, and ±."""
    return [
        Measured(
            Reading(f"reading {index}", Direction(UP, 0.0)),
            "a reading",
            tuple(Solution(each) for each in ups),
            (Term("it", error),),
        )
        for index, (ups, error) in enumerate(figures)
    ]


def test_known_weighted_means() -> None:
    """Worked out by hand: weights 4, 1, 1; the ± of the mean is one over the root of their sum."""
    mean = weighted_mean([10.0, 10.4, 9.6], [1.0, 2.0, 2.0])
    assert mean.bearing_deg == pytest.approx(10.0)
    assert mean.error_deg == pytest.approx(2.0 / math.sqrt(6.0))
    mean = weighted_mean([10.0, 11.0], [1.0, 2.0])
    assert mean.bearing_deg == pytest.approx(10.2)
    assert mean.chi_square == pytest.approx(4.0 * 0.04 + 0.64)
    assert mean.error_deg == pytest.approx(2.0 / math.sqrt(5.0))


def test_scatter_beyond_the_errors_widens_the_mean() -> None:
    """Two readings 4 apart, ±2 each: chi-square 8 on one degree of freedom."""
    mean = weighted_mean([10.0, 14.0], [2.0, 2.0])
    assert mean.chi_square == pytest.approx(8.0)
    assert mean.error_deg == pytest.approx(math.sqrt(2.0) * math.sqrt(8.0))


@given(
    turn=st.floats(0.0, 360.0),
    offs=st.lists(st.tuples(st.floats(-40.0, 40.0), st.floats(0.1, 20.0)), min_size=1, max_size=6),
)
def test_the_mean_turns_with_the_circle(turn: float, offs: list[tuple[float, float]]) -> None:
    errors = [error for _, error in offs]
    flat = np.average([off for off, _ in offs], weights=[error**-2 for error in errors])
    mean = weighted_mean([(turn + off) % 360.0 for off, _ in offs], errors)
    assert 0.0 <= mean.bearing_deg <= 360.0
    assert abs(wrapped_deg(mean.bearing_deg - turn - float(flat))) < 1e-6


def test_an_outlier_is_told_and_kept() -> None:
    (found,) = combined(measured(((10.0,), 1.0), ((10.5,), 1.0), ((9.8,), 1.0), ((30.0,), 2.0)))
    assert found.odd is not None
    assert found.odd.index == 3
    assert found.odd.others.bearing_deg == pytest.approx(10.1)
    # 19.9 away, with sigmas of 1 and of a half over the root of three.
    assert found.odd.sigmas == pytest.approx(19.9 / math.hypot(1.0, 0.5 / math.sqrt(3.0)))
    assert found.mean.bearing_deg == pytest.approx((10.0 + 10.5 + 9.8 + 30.0 / 4) / 3.25)
    assert sum(found.weights) == pytest.approx(1.0)


def test_three_sigmas_are_the_limit() -> None:
    """Two of ±2 differ by a sigma of the root of two."""
    near, far = 3.0 * math.sqrt(2.0) - 0.01, 3.0 * math.sqrt(2.0) + 0.01
    for off, odd in ((near, False), (far, True)):
        (found,) = combined(measured(((359.0,), 2.0), ((359.0 + off - 360.0,), 2.0)))
        assert (found.odd is not None) is odd
    (alone,) = combined(measured(((5.0,), 1.0)))
    assert alone.odd is None


def test_mirrors_pick_each_other() -> None:
    """Two readings with two solutions each: only one of the four pairs fits."""
    (found,) = combined(measured(((12.0, 80.0), 1.0), ((200.0, 12.6), 1.0)))
    assert found.picked == (0, 1)
    assert found.mean.bearing_deg == pytest.approx(12.3)
    open_still = combined(measured(((12.0, 80.0), 1.0), ((80.4, 12.6), 1.0)))
    assert {one.picked for one in open_still} == {(0, 1), (1, 0)}


# The file

names = st.sampled_from(["plan up", "plan_up = 3", "# no", "271828", 'a \\"b\\"', "Ünder"])
rest = st.sampled_from(["", " # plan_up = 7", "\t# said the owner", "   "])


@given(data=st.data(), name=names, after=rest, lacking=st.booleans(), crlf=st.booleans())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_every_other_byte_stays(
    tmp_path: Path, data: st.DataObject, name: str, after: str, lacking: bool, crlf: bool
) -> None:
    """Comments, order, blank lines, ends of lines, a mark at the start; with either key or one."""
    old = data.draw(st.sampled_from(["12", "12.0", "+1_2.5e0", "-350", "0x0c", "inf"]), "value")
    key = data.draw(st.sampled_from(["plan_up", '"plan_up"', "'plan_up'", "plan_up  "]), "key")
    own = [f'name = "{name}"', "latitude = 52.0", "# plan_up = 99", "", f"units = 'm'{after}"]
    mine = [f"{data.draw(st.sampled_from(['', '  ']), 'indent')}{key} = @{after}"]
    if not lacking:
        own.append(f"plan_up_error = !{after}")
    lines = data.draw(st.permutations(own + mine), "lines")
    ending = "\r\n" if crlf else "\n"
    head = data.draw(st.sampled_from(["", "# top\n\n", "\ufeff"]), "head").replace("\n", ending)
    tail = data.draw(st.sampled_from(["", "\n", "\n\n[[room]]\nplan_up = 3\n"]), "tail")
    whole = head + ending.join(["[location]", *lines]) + tail.replace("\n", ending)
    file = tmp_path / "place.toml"
    file.write_bytes(whole.replace("@", old).replace("!", "3.0").encode())
    new = rewritten(file, 191.234, 2.31).decode()
    expected = whole.replace("@", "191.23").replace("!", "2.4")
    if lacking:
        # The new key stands below, written as the old one is.
        line = mine[0].replace("@", "191.23")
        below = line[: line.index("=") + 2].replace("plan_up", "plan_up_error") + "2.4"
        expected = expected.replace(line, f"{line}{ending}{below}", 1)
    assert new == expected


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (
            "location = {plan_up = 1, a = 2} # b\n",
            "{plan_up = 4.5, plan_up_error = 0.3, a = 2} # b\n",
        ),
        (
            "location.plan_up = 1 # b\nlocation.a = 2\n",
            "location.plan_up = 4.5 # b\nlocation.plan_up_error = 0.3\nlocation.a = 2\n",
        ),
        ("[location]\nplan_up = 1", "[location]\nplan_up = 4.5\nplan_up_error = 0.3"),
        (
            '[location]\n"plan\\u005fup" = 1\n',
            '[location]\n"plan\\u005fup" = 4.5\n"plan_up_error" = 0.3\n',
        ),
    ],
)
def test_other_ways_to_write_a_table(old: str, new: str, tmp_path: Path) -> None:
    file = tmp_path / "place.toml"
    file.write_text(old)
    assert rewritten(file, 4.5, 0.29).decode().endswith(new)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("a = ", "is not valid TOML"),
        ("[location]\n", "cannot be edited: it has no plan_up; expected plan_up = 4.5 by hand"),
    ],
)
def test_a_file_that_cannot_be_edited(text: str, message: str, tmp_path: Path) -> None:
    file = tmp_path / "place.toml"
    file.write_text(text)
    with pytest.raises(InputError) as refusal:
        rewritten(file, 4.5, 0.2)
    assert message in str(refusal.value)
    assert file.read_text() == text


# The command


def run(*args: object) -> subprocess.CompletedProcess[str]:
    return command("bearing", *args)


HOUSE = LOCK.read_bytes().replace(b'kit = "van"', b"# its kit stays at home")


def copy(folder: Path) -> Path:
    file = folder / "house.toml"
    file.write_bytes(HOUSE)
    return file


def test_the_whole_answer(tmp_path: Path) -> None:
    done = run(
        copy(tmp_path),
        "--points",
        "kitchen A: 52.0907,5.1214 52.09059,5.12226 ±2m",
        "--compass",
        "kitchen A outward: 190 ±8",
        "--shadow",
        "kitchen A: 2027-03-20 15:10, 60",
        "--date",
        "2027-03-20",
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout == ANSWER


ANSWER = """\
Lock-keeper's house: true bearings; ± is 95 %, two standard deviations

The plan's up points 12.3° N ±1.0°, taken left; the file says 12° ±3°, 0.3°
away.
  mostly by kitchen A, shadow at 15:10, 60°: 86 %

measured            bearing   ±       plan up   by
────────────────────────────────────────────────────────────────────────────────
kitchen A           101.7°    ±2.7°   11.7°     two points 60 m apart; ± mostly
                                                how exactly the points are read
kitchen A outward   192.9°    ±8.1°   12.9°     compass 190°, magnetic north
                                                2.9° E; ± mostly the compass
kitchen A           102.3°    ±1.1°   12.3°     shadow at 15:10, 60°, left; ±
                                                mostly the shadow's angle
kitchen A           162.3°    ±1.1°   72.3°     shadow at 15:10, 60°, right; ±
                                                mostly the shadow's angle

Never look at the sun, least of all through a lens or finder: it can blind.
Take no bearing of the sun itself: read shadows instead.

--more adds: the cautions in full
"""


def test_json_has_the_same(tmp_path: Path) -> None:
    file = copy(tmp_path)
    texts = ("--compass-true", "plan up: 11 ±4", "--shadow", "kitchen A: 2027-03-20 15:10, 60")
    done = run(file, *texts, "--shadow", "kitchen A: 2027-03-20 ?, 60 left", "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    mine = asked(
        read(file), ("--compass-true", texts[1]), ("--shadow", texts[3]), day=date(2027, 1, 1)
    )
    assert mine.decided is not None
    assert found["plan_up"] == pytest.approx(mine.decided.mean.bearing_deg)
    assert found["plan_up_error"] == pytest.approx(mine.decided.mean.error_deg)
    assert found["written"] is False
    assert [each["of"] for each in found["measured"]] == ["plan up", "kitchen A"]
    shadow = found["measured"][1]
    assert shadow["limit"] == "the shadow's angle"
    assert [each["side"] for each in shadow["solutions"]] == ["left", "right"]
    assert shadow["error_deg"] == pytest.approx(math.hypot(*(e["deg"] for e in shadow["errors"])))
    (way,) = found["together"]
    assert way["sides"] == [None, "left"]
    assert way["odd"] is None
    assert found["place"]["plan_up"] == 12.0
    (times,) = found["times"]
    assert {fit["side"] for fit in times["fits"]} == {"left"}
    assert all(fit["from"].startswith("2027-03-20T1") for fit in times["fits"])


def test_write_changes_two_values_and_no_other_byte(tmp_path: Path) -> None:
    file = copy(tmp_path)
    done = run(file, "--compass-true", "kitchen A: 104.25 ±4.01", "--write")
    assert done.returncode == 0, done.stderr
    assert f"{file.name}: plan_up and plan_up_error are written" in done.stdout.replace("\n", " ")
    new = HOUSE.replace(b"plan_up = 12.0\n", b"plan_up = 14.25\n")
    new = new.replace(b"plan_up_error = 3.0\n", b"plan_up_error = 4.1\n")
    assert new != HOUSE
    assert file.read_bytes() == new
    assert [one.name for one in tmp_path.iterdir()] == [file.name]
    assert read(file).site.plan_up == 14.25
    assert tomllib.loads(new.decode())["location"]["plan_up_error"] == 4.1


SUCH = {
    "--points": "kitchen A: 52.0907,5.1214 52.0909,5.1220 ±2m",
    "--compass": "kitchen A: 104 ±5",
    "--shadow": "kitchen A: 2027-03-20 15:10, 41 left",
    "--patch": "kitchen canal window: 2027-03-20 15:10, left, 3.10,2.20",
    "--grazes": "kitchen A: 2027-03-20 13:05 leaves",
}
# What is wrong, or the whole of it where it does not end in what SUCH says.
MISTAKES = [
    (
        "--points",
        "kitchen A 52,5",
        "names no wall or plan up before a colon…",
    ),
    (
        "--points",
        "kitchn A: 52,5 52,6",
        '"kitchn A" is not known; did you mean "kitchen A"?…',
    ),
    (
        "--points",
        "kitchen A: 52.09,5.12",
        "is not two points, each latitude first; expected two such as 52.0907,5.1214 52.0909,5.122",
    ),
    (
        "--points",
        "kitchen A: 52,0907 5,1214 52,0909 5,1220 52,1 5,2",
        "is not two points, each latitude first; expected two such as 52.0907,5.1214 52.0909,5.122",
    ),
    (
        "--points",
        "kitchen A: 5.1214,52.0907 5.1220,52.0909",
        "the first point lies 6753 km from the location; expected one within 5 km, latitude first",
    ),
    (
        "--points",
        "kitchen A: 5.1214E,52.0907E 5.1220,52.0909",
        "is not two points, each latitude first; expected two such as 52.0907,5.1214 52.0909,5.122",
    ),
    (
        "--points",
        "kitchen A: 52.0907,5.1214 52.09071,5.12141",
        "the points lie 1.3 m apart, no further than their ±; expected two points far "
        "apart on the wall's line",
    ),
    (
        "--points",
        "kitchen A: 52.0907,5.1214 52.0907,5.12144",
        "the points lie 2.7 m apart, no further than their ±; expected two points far "
        "apart on the wall's line",
    ),
    (
        "--points",
        "kitchen A: 52.0907,5.1214 52.0909,5.1220 ±2 yd",
        '"2 yd" is no length, or one above 100 km…',
    ),
    (
        "--points",
        "kitchen A: 52.0907,5.1214 52.0909,5.1220 ±0",
        '"±0" is not above 0…',
    ),
    (
        "--points",
        "kitchen A: 52°61'N 5°E 52°N 5°E",
        "has minutes or seconds of 60 or more; expected less than 60",
    ),
    (
        "--points",
        "kitchen A: -52°N 5°E 52°N 5°E",
        "is not two points, each latitude first; expected two such as 52.0907,5.1214 52.0909,5.122",
    ),
    (
        "--points",
        "kitchen A: 52,5 52,200",
        "has the longitude 200; expected −180 to 180",
    ),
    (
        "--points",
        "kitchen A: 52.0907,5.1214 here",
        "is not two points, each latitude first; expected two such as 52.0907,5.1214 52.0909,5.122",
    ),
    (
        "--points",
        "kitchen A: geo:52.0907 geo:52.0909,5.1220",
        "is no geo: link; expected one such as geo:52.0907,5.1214,5;u=40",
    ),
    (
        "--points",
        "kitchen A: geo:52.0907,5.12",
        "is not two points, each latitude first; expected two such as 52.0907,5.1214 52.0909,5.122",
    ),
    (
        "--points",
        "kitchen A: geo:52.0907,5.1;crs=moon geo:52.0909,5.1220",
        'is in the reference system "moon"; expected WGS 84 (crs=wgs84)',
    ),
    (
        "--points",
        "kitchen A: geo:52.0907,5.1;u=x geo:52.0909,5.1220",
        'has "x" as its u; expected metres, such as u=40',
    ),
    (
        "--points",
        "kitchen A: geo:52.0907,5.1;u=0 geo:52.0909,5.1220",
        "a point's u is not above 0…",
    ),
    (
        "--compass",
        "kitchen A: north",
        '"north" is no angle above -360° and at most 360°…',
    ),
    (
        "--compass",
        "kitchen A: 400",
        '"400" is no angle above -360° and at most 360°…',
    ),
    (
        "--compass",
        "kitchen A: 104 ±100",
        '"100" is no angle above 0° and at most 90°…',
    ),
    (
        "--compass",
        "kitchen A: 104 ±0",
        '"0" is no angle above 0° and at most 90°…',
    ),
    (
        "--compass",
        "cellar A: 104",
        '"cellar A" is not known; known: plan up, gauge room A, gauge room B, gauge room C, '
        "gauge room D, kitchen A, kitchen B, kitchen C, kitchen D, kitchen E, kitchen F, "
        "attic A, attic B, attic C, attic D…",
    ),
    (
        "--compass-true",
        "kitchen A: 104 ±60",
        "leaves ±60°, mostly by the compass; expected a reading that holds to ±45°",
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 15:10",
        "the shadow's angle is missing behind a comma…",
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20, 41",
        '"2027-03-20" is no local date and clock time…',
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 25:10, 41",
        '"2027-03-20 25:10" is no local date and clock time…',
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 15:10 ±2, 41",
        '"±2" is no time such as ±2min, above 0, at most 60min…',
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 15:10 ±0s, 41",
        '"±0s" is no time such as ±2min, above 0, at most 60min…',
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 15:10, 41 up",
        '"41 up" is no angle above 0° and at most 180°…',
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 15:10, 0",
        '"0" is no angle above 0° and at most 180°…',
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 15:10, 180",
        "a shadow at 180° to the wall lies in the wall…",
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 15:10+01:00, 41",
        '"2027-03-20 15:10+01:00" is no local date and clock time…',
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 23:10, 41",
        "the sun stands 34° below the horizon at 23:10 on 2027-03-20, local "
        "time (Europe/Amsterdam); expected a moment at which it shines",
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-28 02:30, 41",
        "02:30 does not exist on 2027-03-28: the clocks go forward; expected another time",
    ),
    (
        "--shadow",
        "kitchen A: 2027-03-20 15:10 ±60min, 41 ±44",
        "leaves ±47°, mostly by the shadow's angle; expected a reading that holds to ±45°",
    ),
    (
        "--grazes",
        "plan up: 2027-03-20 13:05",
        '"plan up" is no wall, and only walls are grazed…',
    ),
    (
        "--grazes",
        "kitchen A: 2027-03-20 ?",
        '"2027-03-20 ?" is no local date and clock time…',
    ),
    (
        "--grazes",
        "kitchen A: 2027-03-20 13:05 goes",
        '"2027-03-20 13:05 goes" is no local date and clock time…',
    ),
    (
        "--patch",
        "gauge room roof light: 2027-03-20 15:10, left, 1,1",
        "the roof light is no window in a wall and has no upright jamb…",
    ),
    (
        "--patch",
        "kitchen window: 2027-03-20 15:10, left, 1,1",
        '"kitchen window" is not known; did you mean "kitchen gable window"?…',
    ),
    (
        "--patch",
        "kitchen canal window: 2027-03-20 15:10, left",
        "not a moment, a jamb and x,y…",
    ),
    (
        "--patch",
        "kitchen canal window: 2027-03-20 15:10, top, 1,1",
        '"top" is no jamb: left or right, as seen from inside, sill or head…',
    ),
    (
        "--patch",
        "kitchen canal window: 2027-03-20 15:10, left, 1,wide",
        '"wide" is no length, or one above 100 km…',
    ),
    (
        "--patch",
        "kitchen canal window: 2027-03-20 15:10, left, 1,-1",
        "the point does not lie in the kitchen, in from wall A; expected x,y on the plan, where "
        "the patch's edge was",
    ),
    (
        "--patch",
        "kitchen canal window: 2027-03-20 15:10, left, 310,220",
        "the point does not lie in the kitchen, in from wall A; expected x,y on the plan, where "
        "the patch's edge was",
    ),
    (
        "--patch",
        "kitchen canal window: 2027-03-20 15:10, left, 2.105,0.001",
        "lies 0.01 m from the jamb, no further than its ±; expected a point of the "
        "patch's edge far into the room",
    ),
]


@pytest.mark.parametrize(("option", "text", "message"), MISTAKES)
def test_a_mistake_is_told(option: str, text: str, message: str) -> None:
    location = read(LOCK)
    with pytest.raises(InputError) as refusal:
        asked(location, (option, text))
    if message.endswith("…"):
        message = f'{message[:-1]}; expected such as "{SUCH[option]}"'
    assert str(refusal.value) == f"{option} {text}: {message}"


def test_nothing_measured() -> None:
    with pytest.raises(InputError) as refusal:
        asked(read(LOCK))
    assert str(refusal.value) == (
        "bearing: nothing was measured; expected --points, --compass, --compass-true, --shadow, "
        "--patch or --grazes"
    )


@pytest.mark.parametrize("day", [date(2024, 12, 31), date(2030, 1, 1)])
def test_the_model_has_its_years(day: date) -> None:
    with pytest.raises(InputError) as refusal:
        one(read(LOCK), "--compass", "kitchen A: 104", day=day)
    assert str(refusal.value) == (
        f"--date {day}: the World Magnetic Model at hand holds from 2025-01-01 to 2029-12-31; "
        "expected a date within, or --compass-true"
    )
    for within in (date(2025, 1, 1), date(2029, 12, 31)):
        one(read(LOCK), "--compass", "kitchen A: 104", day=within)


@pytest.mark.parametrize(
    ("texts", "message"),
    [
        (
            ("--shadow", "kitchen A: 2027-03-20 ?, 41"),
            "--write: nothing was measured that gives plan_up; nothing was written\n",
        ),
        (
            ("--shadow", "kitchen A: 2027-03-20 15:10, 41"),
            "--write: plan_up may be 353.3° or 91.3°; expected left or right, comes or leaves, or "
            "one more measurement; nothing was written\n",
        ),
        (
            ("--compass-true", "kitchen A: 104", "--compass-true", "plan up: 30"),
            "--write: the measurements do not agree: --compass-true kitchen A: 104 lies 4.5 "
            "standard deviations off; expected it put right, left out, or with a larger ±; nothing "
            "was written\n",
        ),
        (
            ("--compass-true", "kitchen A: 104 ±45", "--compass-true", "plan up: 94 ±45"),
            "--write: plan_up is known to ±80° only; expected ±45° at most; nothing was written\n",
        ),
        (
            ("--compass-true", "kitchen A"),
            "--compass-true kitchen A: names no wall or plan up before a colon; expected such as "
            '"kitchen A: 106 ±5"\n',
        ),
        (
            ("--date", "tomorrow"),
            "--date tomorrow: is no date; expected YYYY-MM-DD such as 2026-10-24\n",
        ),
    ],
)
def test_what_is_not_written(texts: tuple[str, ...], message: str, tmp_path: Path) -> None:
    file = copy(tmp_path)
    done = run(file, *texts, "--write")
    assert (done.returncode, done.stdout, done.stderr) == (2, "", message)
    assert file.read_bytes() == HOUSE
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize(
    ("pairs", "line"),
    [
        (
            [("--compass-true", "plan up: 11"), ("--compass-true", "plan up: 13")],
            "Near steel compass readings err together: many are hardly better than one.\n"
            "The plan's up points 12.0° N ±3.6°; the file says 12° ±3°, 0.0° away.\n",
        ),
        (
            [("--compass-true", "plan up: 1 ±2"), ("--compass-true", "plan up: 13 ±2")],
            "  THESE TWO DO NOT AGREE: 8.5 standard deviations apart; one is wrong or its ±\n"
            "    too small\n",
        ),
        (
            [("--compass-true", f"plan up: {up} ±2") for up in (359, 1, 40)],
            "  ODD ONE OUT: plan up, compass set to true, 40°, 32.7 standard deviations from\n"
            "    the others, which alone give 0.0° N ±2.0°\n",
        ),
        (
            [("--grazes", "kitchen A: 2027-03-20 08:05")],
            "The plan's up points 15.7° N ±0.4° if comes; the file says 12° ±3°, 3.7° away.\n"
            "The plan's up points 195.7° S ±0.4° if leaves; the file says 12° ±3°, 176.3°\n"
            "away.\n"
            "Which of them it is: say left or right, comes or leaves, or measure once more.\n",
        ),
        (
            [("--patch", "kitchen canal window: 2027-03-20 15:40, left sill, 3.10,2.20")],
            "DOUBT: kitchen A, patch by the canal window's left jamb at 15:40, 2.4 m from it:\n"
            "its corner has the sun 20° high, the clock 27°: look at the time, summer time\n"
            "and the corner\n",
        ),
        (
            [("--shadow", "kitchen A: 2027-12-20 ?, 1 left")],
            "kitchen A, 2027-12-20: a shadow at 1°, by the file's plan_up, all told ±3.2°\n"
            "  left: at no time of that date\n",
        ),
    ],
)
def test_what_is_told(pairs: list[tuple[str, str]], line: str) -> None:
    location = read(LOCK)
    found = plain(report(location, asked(location, *pairs), written=False))
    assert line in found
    assert max(map(len, found.splitlines())) <= 80
    assert found.endswith(
        "blind.\nTake no bearing of the sun itself: read shadows instead.\n\n"
        "--more adds: the cautions in full\n"
    )


OFF = "off the file's: another wall, or its other end?"
REVERSED = "by about 180°: were its two points given in reverse?"


@pytest.mark.parametrize(
    ("file", "pairs", "doubts"),
    [
        # The file's 12 ±3: a wall told for another, 90 degrees on; three times its own ± is not.
        ((12, 3), [("--compass-true", "kitchen A: 192")], [f"90° {OFF}"]),
        ((12, 3), [("--compass-true", "kitchen A: 116 ±5")], [""]),
        ((12, 3), [("--compass-true", "kitchen A: 118 ±5")], [f"16° {OFF}"]),
        ((12, 0), [("--compass-true", "kitchen A: 103 ±5")], [""]),
        ((12, 45), [("--compass-true", "kitchen A: 187 ±5")], [""]),
        ((12, 45), [("--compass-true", "kitchen A: 253 ±5")], [f"151° {OFF}"]),
        # East on the map from the second point to the first: wall A runs to 102.
        (
            (12, 3),
            [("--points", "kitchen A: 52.09,5.13 52.09,5.12")],
            ["against the file's, " + REVERSED],
        ),
        (
            (12, 45),
            [
                ("--points", "kitchen A: 52.09,5.13 52.09,5.12"),
                ("--compass-true", "plan up: 5"),
                ("--compass-true", "kitchen B: 2"),
            ],
            ["against the others', " + REVERSED, "", ""],
        ),
        (
            (12, 45),
            [("--points", "kitchen A: 52.09,5.12 52.09,5.13"), ("--compass", "plan up: 5")],
            [""] * 2,
        ),
    ],
)
def test_readings_far_off(
    file: tuple[float, float], pairs: list[tuple[str, str]], doubts: list[str]
) -> None:
    location = read(LOCK)
    site = location.site.model_copy(update={"plan_up": file[0], "plan_up_error": file[1]})
    found = asked(location.model_copy(update={"site": site}), *pairs)
    assert [one.doubt for one in found.measured] == doubts


def test_written_with_the_permissions_it_had(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_bytes(HOUSE)
    file.chmod(0o640)
    asked = ("bearing", file, "--compass-true", "kitchen A: 102 ±2", "--write")
    done = command(*asked)
    assert (done.returncode, done.stderr) == (0, "")
    assert file.stat().st_mode & 0o777 == 0o640
    file.write_bytes(HOUSE)
    file.chmod(0o440)
    done = command(*asked)
    assert (done.returncode, done.stdout) == (2, "")
    assert "cannot be written: it is read-only" in done.stderr
    assert file.read_bytes() == HOUSE


def test_a_doubtful_reading_is_not_written(tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_bytes(HOUSE)
    done = command("bearing", file, "--compass-true", "kitchen A: 350 ±2", "--write")
    assert (done.returncode, done.stdout) == (2, "")
    assert "another wall, or its other end?" in done.stderr
    assert file.read_bytes() == HOUSE
