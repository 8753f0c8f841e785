"""Setups outdoors: their keys, and night, backlight, wall and shadows against another ephemeris."""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from campaign import few_or_many
from hypothesis import given, settings
from hypothesis import strategies as st
from places import bare, made
from skyfield.api import load as skyfield_load
from skyfield.api import load_file, wgs84
from skyfield_data import get_skyfield_data_path

from sunplan.day.exterior import ExteriorDay, exteriors, side
from sunplan.errors import LocationError
from sunplan.light.daylight import skies
from sunplan.location.read import Location
from sunplan.report import check as check_report
from sunplan.report import exteriors as showing
from sunplan.report.answers import as_json
from sunplan.report.document import Document
from sunplan.sun.local_time import day_span
from sunplan.sun.position import TEMPERATURE_C, pressure_hpa
from sunplan.write import terminal

# The package warns of its table of the Earth's rotation, which is not used: only DE421 is.
pytestmark = pytest.mark.filterwarnings("ignore:The file finals2000A.all has expired")

LOCK: dict[str, Any] = {
    "name": "the lock at night",
    "outside": True,
    "at": [4.0, -6.0],
    "camera": {"bearing": 200, "tilt": 0, "height": 1.5, "view": [40, 23]},
    "exposure": {"iso": 1600, "stop": 2},
    "plays": "night",
    "minutes": 40,
}
WHERE = 'setup "the lock at night"'


def plain(document: Document) -> str:
    return terminal.text(document, "m")


def lock(**changes: Any) -> dict[str, Any]:
    """A lock-keeper's night shift: one setup indoors and one outdoors; None takes a key out."""
    raw = bare()
    setup = {**copy.deepcopy(LOCK), **changes}
    raw["setup"].append({key: value for key, value in setup.items() if value is not None})
    return raw


def told(raw: dict[str, Any], folder: Path) -> list[str]:
    """What is wrong with a file, one line a mistake."""
    with pytest.raises(LocationError) as refused:
        made(raw, folder)
    return [str(problem) for problem in refused.value.problems]


# --- the file -----------------------------------------------------------------------------


def test_inside_and_outside_come_apart(tmp_path: Path) -> None:
    found = made(lock(wall=-258, height="6 ft"), tmp_path)
    assert [one.name for one in found.setup] == ["watch"]
    (one,) = found.exterior
    assert (one.name, one.at, one.wall) == ("the lock at night", (4.0, -6.0), 102.0)
    assert one.height == pytest.approx(1.8288)  # international foot, 1959
    assert (one.camera.bearing, one.camera.tilt, one.camera.view_deg) == (200, 0, (40, 23))
    assert (one.plays, one.minutes, one.exposure.iso) == ("night", 40, 1600)


def test_what_may_be_left_out(tmp_path: Path) -> None:
    camera = {"bearing": 20, "height": 1.5, "lens_mm": 35, "sensor_mm": [24.9, 14]}
    raw = lock(camera=camera)
    raw["setup"][0]["outside"] = False
    found = made(raw, tmp_path)
    assert len(found.setup) == len(found.exterior) == 1
    (one,) = found.exterior
    assert (one.height, one.wall, one.camera.tilt) == (1.8, None, 0.0)
    # A 35 mm lens on 24.9 × 14.0 mm: 39.2° × 22.6°, by a field-of-view table.
    assert one.camera.view_deg == pytest.approx((39.2, 22.6), abs=0.06)


def test_a_file_in_feet(tmp_path: Path) -> None:
    raw = lock(height=6)
    raw["location"]["units"] = "ft"
    (one,) = made(raw, tmp_path).exterior
    assert (*one.at, one.height, one.camera.height) == pytest.approx(
        (4 * 0.3048, -6 * 0.3048, 6 * 0.3048, 1.5 * 0.3048)
    )


BLOCK = {"name": "boat shed", "at": [3, -8], "size": [4, 4, 3]}


@pytest.mark.parametrize(
    ("changes", "lines"),
    [
        ({"at": None}, ["at: is missing; expected where the subject stands, on the plan, [x, y]"]),
        ({"outside": "yes"}, ['outside: "yes" is not right; expected true for a setup outdoors']),
        ({"outside": None, "outsde": True}, ['outsde: unknown key; did you mean "outside"?']),
        ({"wal": 102}, ['wal: unknown key; did you mean "wall"?']),
        (
            {"room": "room"},
            [
                "room: unknown key; known: name, outside, at, height, camera, exposure, plays, "
                "minutes, wall"
            ],
        ),
        (
            {"plays": "noon"},
            [
                'plays: "noon" is not right; expected the time of day in the film: "day", '
                '"dusk", "evening" or "night"'
            ],
        ),
        (
            {"height": 0},
            ["height: 0 is not right; expected how tall the subject is, above 0, default 1.8 m"],
        ),
        (
            {"camera": {"bearing": 200, "tlt": 5, "height": 1.5, "view": [40, 23]}},
            ['camera › tlt: unknown key; did you mean "tilt"?'],
        ),
        (
            {"camera": {"bearing": 200, "tilt": 90, "height": 1.5, "view": [40, 23]}},
            [
                "camera › tilt: 90 is not right; expected degrees that it looks up, or down below "
                "0; default 0, level"
            ],
        ),
        (
            {"camera": {"bearing": 200, "height": 1.5, "lens_mm": 35}},
            ["camera: give view = [across, up] in degrees, or lens_mm and sensor_mm"],
        ),
        (
            {"camera": 3},
            ["camera: 3 is not right; expected a table { bearing, tilt, height, view }"],
        ),
        ({"at": [2, 1.5]}, ['at: [2, 1.5] m stands in room "room"; expected a place outdoors']),
        (
            {"exposure": {"iso": 800}, "minutes": -1, "wall": 400, "at": [2, 1.5]},
            [
                "exposure › stop: is missing; expected the lens's stop, above 0, such as 2.8",
                "minutes: -1 is not right; expected the minutes it takes to shoot, above 0, at "
                "most 1440",
                "wall: 400 is not right; expected the true bearing that a wall in frame faces "
                "outward, 0 to 360",
                'at: [2, 1.5] m stands in room "room"; expected a place outdoors',
            ],
        ),
    ],
)
def test_mistakes_are_told_by_name(
    changes: dict[str, Any], lines: list[str], tmp_path: Path
) -> None:
    """All at once, none twice: a slip outdoors draws no mistakes about rooms after it."""
    found = told(lock(**changes), tmp_path)
    assert len(found) == len(lines)
    for line, start in zip(found, lines, strict=True):
        assert line.startswith(f"{WHERE} › {start}")


def test_one_name_for_a_setup_inside_and_one_outside(tmp_path: Path) -> None:
    assert told(lock(name="watch"), tmp_path) == [
        'setup "watch": this name stands 2 times; give each its own'
    ]


def test_a_setup_without_a_name_keeps_its_number(tmp_path: Path) -> None:
    assert told(lock(name=None), tmp_path)[0].startswith("setup 2 › name: is missing")


@pytest.mark.parametrize(
    ("base", "tall", "inside"),
    # The subject stands from the ground to 1.8 m.
    [(0.0, 3.0, True), (-0.5, 1.0, True), (1.7, 1.0, True), (1.8, 1.0, False), (-2.0, 2.0, False)],
)
def test_what_reaches_the_subject(base: float, tall: float, inside: bool, tmp_path: Path) -> None:
    raw = lock()
    raw["outside"] = [{**BLOCK, "size": [4, 4, tall], "base": base}]
    room = lock(at=[2, 1.5])
    room["room"][0] |= {"floor": base, "height": tall, "opening": [], "mark": []}
    room["setup"] = room["setup"][1:]
    if not inside:
        assert len(made(raw, tmp_path).exterior) == len(made(room, tmp_path).exterior) == 1
        return
    assert told(raw, tmp_path) == [
        f'{WHERE} › at: [4, −6] m stands in outside "boat shed"; expected a place outdoors'
    ]
    assert told(room, tmp_path) == [
        f'{WHERE} › at: [2, 1.5] m stands in room "room"; expected a place outdoors'
    ]


def test_a_foot_from_the_wall_is_outdoors(tmp_path: Path) -> None:
    assert made(lock(at=[2, -0.3]), tmp_path).exterior[0].at == (2, -0.3)


# --- the computing: against skyfield on DE421 ---------------------------------------------


class Heavens:
    """Sun and moon by skyfield on DE421, seen from a place at sea level."""

    def __init__(self) -> None:
        self.ephemeris = load_file(Path(get_skyfield_data_path()) / "de421.bsp")
        self.scale = skyfield_load.timescale(builtin=True)

    def seen(self, body: str, location: Location, unix_s: Any) -> tuple[Any, Any, Any]:
        """Refracted altitude, true altitude and bearing at moments, degrees, each (T,)."""
        site = location.site
        moments = [datetime.fromtimestamp(one, UTC) for one in np.atleast_1d(unix_s).tolist()]
        place = self.ephemeris["earth"] + wgs84.latlon(site.latitude, site.longitude)
        at = place.at(self.scale.from_datetimes(moments)).observe(self.ephemeris[body]).apparent()
        true, bearing, _ = at.altaz()
        up, _, _ = at.altaz(temperature_C=TEMPERATURE_C, pressure_mbar=pressure_hpa(0.0))
        return up.degrees, true.degrees, bearing.degrees

    def lit(self, location: Location, unix_s: float) -> float:
        """Share of the moon's disk that the sun lights."""
        site = location.site
        time = self.scale.from_datetime(datetime.fromtimestamp(unix_s, UTC))
        place = self.ephemeris["earth"] + wgs84.latlon(site.latitude, site.longitude)
        moon = place.at(time).observe(self.ephemeris["moon"]).apparent()
        return float(moon.fraction_illuminated(self.ephemeris["sun"]))


@pytest.fixture(scope="module")
def heavens() -> Iterator[Heavens]:
    found = Heavens()
    yield found
    found.ephemeris.close()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for the files of generated cases, each written over the last."""
    return tmp_path_factory.mktemp("generated")


def place(
    folder: Path,
    *,
    latitude: float = 52.0,
    longitude: float = 5.0,
    zone: str | None = None,
    **setup: Any,
) -> Location:
    """The lock anywhere on the Earth, its room lower than the subject, so that nothing hides sun
    or moon; the clock is the place's own, to the hour."""
    raw = lock(**setup)
    raw["location"] |= {
        "latitude": latitude,
        "longitude": longitude,
        "timezone": f"Etc/GMT{-round(longitude / 15):+d}" if zone is None else zone,
    }
    raw["room"][0] |= {"height": 1.0, "opening": [], "mark": []}
    raw["setup"] = raw["setup"][1:]
    return made(raw, folder)


def camera(bearing: float, **keys: Any) -> dict[str, Any]:
    return {"bearing": bearing, "height": 1.5, "view": [40, 23]} | keys


def somewhere(rng: np.random.Generator, folder: Path, **setup: Any) -> tuple[Location, date]:
    """A random place and date, 2000 to 2025: leap seconds after are not known."""
    location = place(
        folder,
        latitude=float(rng.uniform(-65, 65)),
        longitude=float(rng.uniform(-180, 180)),
        **setup,
    )
    return location, date(2000, 1, 1) + timedelta(days=int(rng.integers(0, 26 * 365)))


def one_day(location: Location, day: date) -> ExteriorDay:
    (found,) = exteriors(location, day)
    return found


def runs(times: Any, holds: Any) -> list[tuple[float, float]]:
    """Stretches of moments at which something holds, by the first and last of each."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], holds.astype(int), [0]))))
    return [(times[a], times[b - 1]) for a, b in edges.reshape(-1, 2)]


STEP_S = 60.0


def same(found: list[tuple[float, float]], scanned: list[tuple[float, float]]) -> bool:
    """Whether stretches are those of a scan minute by minute, to its step and a few seconds.

    The few seconds are another formula of refraction; a stretch of two minutes may slip through.
    """
    long, seen = (
        [one for one in spans if one[1] - one[0] > 2 * STEP_S] for spans in (found, scanned)
    )
    near = np.abs(np.array(long) - np.array(seen)) < STEP_S + 10.0 if long and seen else np.ones(1)
    return len(long) == len(seen) and bool(near.all())


def test_dark_and_moon_anywhere(heavens: Heavens, folder: Path) -> None:
    """20 random nights, 40 in `make thorough`: dark from and to, the moon's ups and looks."""
    rng = np.random.default_rng(23)
    looks = nights = 0
    count = few_or_many(20, 40)
    for _ in range(count):
        location, day = somewhere(rng, folder, camera=camera(float(rng.uniform(0, 360))))
        found = one_day(location, day)
        night = found.night
        assert night is not None  # below the polar circle
        nights += len(night.moon)
        times = np.arange(night.start_s, night.end_s, STEP_S)
        # The almanacs' sunrise: 34' of refraction and 16' of semidiameter.
        ends = heavens.seen("sun", location, [night.start_s, night.end_s])[1]
        assert ends == pytest.approx(-50 / 60, abs=0.01)
        true = heavens.seen("sun", location, times)[1]
        for span, limit in ((night.civil_dark, -6.0), (night.nautical_dark, -12.0)):
            assert same([] if span is None else [span], runs(times, true < limit))
        up, _, _ = heavens.seen("moon", location, times)
        spans = [(one.start_s, one.end_s) for one in night.moon]
        assert same(spans, runs(times, up > 0.0))
        assert night.moon_hidden == ()
        for stretch in night.moon:
            first, last = stretch.looks[0], stretch.looks[-1]
            assert (first.moment_s, last.moment_s) == (stretch.start_s, stretch.end_s)
            assert (first.event == "appears") == (stretch.start_s > night.start_s)
            assert (last.event == "goes") == (stretch.end_s < night.end_s)
        for look in (look for stretch in night.moon for look in stretch.looks):
            (high,), _, (bearing,) = heavens.seen("moon", location, look.moment_s)
            assert look.altitude_deg == pytest.approx(high, abs=0.05)
            off = (look.bearing_deg - bearing + 180.0) % 360.0 - 180.0
            assert abs(off) * math.cos(math.radians(high)) < 0.02
            assert look.lit_share == pytest.approx(heavens.lit(location, look.moment_s), abs=0.001)
            apart = bearing - found.exterior.camera.bearing - look.off_deg
            assert abs((apart + 180.0) % 360.0 - 180.0) * math.cos(math.radians(high)) < 0.02
            assert -180.0 <= look.off_deg <= 180.0
            assert look.side == side(look.off_deg)
            if look.event in ("appears", "goes"):
                assert look.altitude_deg == pytest.approx(0.0, abs=0.01)
            looks += 1
        peak = [one for stretch in night.moon for one in stretch.looks if one.event == "highest"]
        for one in peak:
            around = heavens.seen("moon", location, one.moment_s + np.arange(-1800, 1801, 300.0))[0]
            assert int(np.argmax(around)) == 6
            before, after = heavens.seen("moon", location, one.moment_s + np.array([-30, 30]))[1]
            # Ten seconds off it would be 0.0002° or so.
            assert after == pytest.approx(before, abs=0.0002)
    assert nights > 0.75 * count
    assert looks > 5 * count


@pytest.mark.parametrize(
    ("place_deg", "dark", "utc"),
    [
        ((42.32, -71.09), "civil_dark", (22, 0, 59)),
        ((41.76, -72.69), "nautical_dark", (22, 1, 48)),
    ],
)
def test_dark_from_against_the_almanac(
    place_deg: tuple[float, float], dark: str, utc: tuple[int, int, int], tmp_path: Path
) -> None:
    """USNO annual twilight tables, Boston civil and Hartford nautical, 2024-06-21."""
    latitude, longitude = place_deg
    location = place(tmp_path, latitude=latitude, longitude=longitude)
    span = getattr(one_day(location, date(2024, 6, 21)).night, dark)
    day, hour, minute = utc
    assert abs(span[0] - datetime(2024, 6, day, hour, minute, tzinfo=UTC).timestamp()) < 60.0


def test_sun_anywhere(heavens: Heavens, folder: Path) -> None:
    """Backlight, sun in frame, wall and shadows against a scan by the minute.

    Of 15 random days, 30 in `make thorough`.
    """
    rng = np.random.default_rng(5)
    behind = framed = walls = shadows = 0
    count = few_or_many(15, 30)
    for _ in range(count):
        toward, wall = (float(one) for one in rng.uniform(0, 360, 2))
        tall = float(rng.uniform(1.2, 2.0))
        outlook = camera(toward, tilt=20.0, view=[60, 45])
        location, day = somewhere(rng, folder, camera=outlook, wall=wall, height=tall)
        found = one_day(location, day)
        times = np.arange(*day_span(day, location.timezone), STEP_S)
        up, _, bearing = heavens.seen("sun", location, times)
        off = np.abs((bearing - toward + 180.0) % 360.0 - 180.0)
        for name, low, high in (("back", -1.0, 30.0), ("back-cross", 30.0, 60.0)):
            spans = [(one.start_s, one.end_s) for one in found.backlight if one.side == name]
            assert same(spans, runs(times, (up >= 10.0) & (off > low) & (off <= high)))
        behind += len(found.backlight)
        # The sun on the frame of a pinhole, by its angles in the camera's own axes.
        a, b, t = np.radians(bearing - toward), np.radians(up), math.radians(20.0)
        ahead = np.cos(b) * np.cos(a) * math.cos(t) + np.sin(b) * math.sin(t)
        over = np.sin(b) * math.cos(t) - np.cos(b) * np.cos(a) * math.sin(t)
        inside = (ahead > 0) & (np.abs(np.cos(b) * np.sin(a)) <= ahead * math.tan(math.pi / 6))
        inside &= np.abs(over) <= ahead * math.tan(math.radians(22.5))
        assert same(list(found.sun_in_frame), runs(times, (up >= 10.0) & inside))
        framed += len(found.sun_in_frame)
        assert found.wall is not None
        before = np.cos(np.radians(bearing - wall)) > 0
        spans = [(one.start_s, one.end_s) for one in found.wall]
        assert same(spans, runs(times, (up > 0.0) & before))
        for one in found.wall:
            middle = (one.start_s + one.end_s) / 2
            (high,), _, (way,) = heavens.seen("sun", location, middle)
            cosine = math.cos(math.radians(high)) * math.cos(math.radians(way - wall))
            assert math.cos(math.radians(one.incidence_deg)) == pytest.approx(cosine, abs=1e-3)
        walls += len(found.wall)
        hours = times[::60]
        high, _, way = (part[::60] for part in (up, up, bearing))
        sunlit = high > 0.3  # lower, refraction decides
        mine = {one.moment_s: one for one in found.shadows}
        assert set(hours[sunlit]) <= set(mine) <= set(hours[high > -0.3])
        for moment, angle, to in zip(hours[sunlit], high[sunlit], way[sunlit], strict=True):
            one = mine[moment]
            error = math.radians(0.03) / math.sin(math.radians(angle)) ** 2
            expected = tall / math.tan(math.radians(angle))
            assert one.length_m == pytest.approx(expected, abs=tall * error)
            turned = (one.bearing_deg - to) % 360.0 - 180.0
            assert abs(turned) * math.cos(math.radians(angle)) < 0.01
            shadows += 1
    assert behind > count
    assert framed > count / 6
    assert walls > count / 1.2
    assert shadows > 8.3 * count


def test_polar_day_and_night(folder: Path) -> None:
    """Above the polar circle at the solstices the sun stays up or down (definition)."""
    north = {"latitude": 69.65, "longitude": 18.96, "zone": "Europe/Oslo"}
    location = place(folder, **north, wall=0.0)
    summer = one_day(location, date(2026, 6, 21))
    assert summer.night is None
    assert len(summer.shadows) == 24
    # A wall to the north has the midnight sun at both ends of the date.
    assert summer.wall is not None
    assert len(summer.wall) == 2
    winter = one_day(location, date(2026, 12, 21))
    assert (winter.backlight, winter.sun_in_frame, winter.wall, winter.shadows) == ((), (), (), ())
    night = winter.night
    assert night is not None
    assert night.end_s - night.start_s == pytest.approx(86400.0, abs=120.0)
    # Twilight about noon there: civil dark leaves some hours of it.
    assert night.civil_dark is not None
    dark = night.civil_dark[1] - night.civil_dark[0]
    assert 16 * 3600 < dark < 22 * 3600
    assert night.nautical_dark is not None
    deep = place(folder, latitude=88.0, longitude=0.0)
    night = one_day(deep, date(2026, 12, 21)).night
    assert night is not None
    assert night.civil_dark == night.nautical_dark == (night.start_s, night.end_s)
    for day in (date(2026, 6, 21), date(2026, 12, 21)):
        found = exteriors(location, day)
        assert plain(showing.report(location, day, found))
        assert json.loads(as_json(showing.answer(location, day, found)))["setups"]


def test_never_that_dark(folder: Path) -> None:
    """At 60° north on midsummer the sun goes 90 − 60 − 23.44 = 6.56° down, not 12."""
    night = one_day(place(folder, latitude=60.0), date(2026, 6, 21)).night
    assert night is not None
    assert night.civil_dark is not None
    assert night.nautical_dark is None


def test_south_of_the_line_noon_is_north(folder: Path) -> None:
    south = {"latitude": -33.9, "longitude": 151.2, "zone": "Australia/Sydney"}
    north, away = (
        one_day(place(folder, **south, camera=camera(toward), wall=180.0), date(2026, 6, 21))
        for toward in (0.0, 180.0)
    )
    (back,) = (one for one in north.backlight if one.side == "back")
    assert back.start_s < north.sun.noon < back.end_s
    assert away.backlight == ()
    assert north.wall == ()  # in June the sun rises and sets north of east and west
    noon = min(north.shadows, key=lambda one: one.length_m)
    assert noon.bearing_deg == pytest.approx(180.0, abs=15.0)


# --- what hides the sun and the moon ------------------------------------------------------

# As good as endless: its face 10 m south of the subject, its roof 10 m over the head.
WAREHOUSE = {"name": "warehouse", "at": [-50_000, -22], "size": [100_000, 6, 11.8]}


def with_warehouse(folder: Path) -> Location:
    raw = lock(wall=180.0)
    raw["outside"] = [WAREHOUSE]
    raw["room"][0] |= {"height": 1.0, "opening": [], "mark": []}
    raw["setup"] = raw["setup"][1:]
    return made(raw, folder)


def behind_it(up: Any, bearing: Any) -> Any:
    """Whether a body stands behind a long wall 10 m to the south, 10 m over the head."""
    ahead = -np.cos(np.radians(bearing))
    return (up > 0) & (ahead > 1e-6) & (np.tan(np.radians(up)) < ahead)


def test_a_block_shades_the_subject(heavens: Heavens, folder: Path) -> None:
    location = with_warehouse(folder)
    for day in (date(2025, 3, 20), date(2025, 6, 21), date(2025, 12, 21)):
        found = one_day(location, day)
        times = np.arange(*day_span(day, location.timezone), STEP_S)
        up, _, bearing = heavens.seen("sun", location, times)
        before = np.cos(np.radians(bearing - 180.0)) > 0
        assert found.wall is not None
        spans = [(one.start_s, one.end_s) for one in found.wall]
        free = (up > 0) & before & ~behind_it(up, bearing)
        assert same(spans, runs(times, free))
        # The noon sun of March stands 38° up, that of December 15°: under the roof's 45°.
        lit_at_noon = any(start < found.sun.noon < end for start, end in spans)
        assert lit_at_noon == (day.month == 6)
        assert bool(found.backlight) == (day.month == 6)


def test_a_block_hides_the_moon(heavens: Heavens, folder: Path) -> None:
    location = with_warehouse(folder)
    hidden = 0
    for day in (date(2025, 1, 14), date(2025, 6, 11), date(2025, 9, 7)):  # full moons
        night = one_day(location, day).night
        assert night is not None
        times = np.arange(night.start_s, night.end_s, STEP_S)
        up, _, bearing = heavens.seen("moon", location, times)
        away = behind_it(up, bearing)
        spans = [(one.start_s, one.end_s) for one in night.moon]
        assert same(spans, runs(times, (up > 0) & ~away))
        assert same(list(night.moon_hidden), runs(times, away))
        hidden += len(night.moon_hidden)
    assert hidden >= 2


def test_the_house_stands_in_the_sun_as_well(folder: Path) -> None:
    """A metre north of a room 2.5 m high a head 1.8 m up is in its shade while the sun is low."""
    raw = lock(at=[2.0, 4.0], wall=180.0)
    raw["setup"] = raw["setup"][1:]
    noon = 12.0 * 3600 - 5.0 / 15 * 3600  # UTC, at 5° east, to a quarter of an hour

    def lit(day: date) -> bool:
        found = one_day(made(raw, folder), day)
        midday = datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp() + noon
        assert found.wall is not None
        return any(one.start_s < midday < one.end_s for one in found.wall)

    # To clear the wall a metre off by 0.7 m the sun must stand atan(0.7) = 35° up; at 52° north it
    # stands 38° up on an equinox's noon, and 26° a month before that of March.
    assert lit(date(2025, 3, 20))
    assert not lit(date(2025, 2, 18))


def test_the_skyline_hides_the_moon(folder: Path) -> None:
    raw = lock()
    raw["room"][0] |= {"height": 1.0, "opening": [], "mark": []}
    raw["setup"] = raw["setup"][1:]
    day = date(2025, 1, 14)
    free = one_day(made(raw, folder), day).night
    raw["skyline"] = [{"points": [[0, 20], [180, 20], [359, 20]]}]
    night = one_day(made(raw, folder), day).night
    assert free is not None
    assert night is not None
    (stretch,) = night.moon
    assert (stretch.start_s, stretch.end_s) != (free.moon[0].start_s, free.moon[0].end_s)
    for look in (look for look in stretch.looks if look.event in ("appears", "goes")):
        assert look.altitude_deg == pytest.approx(20.0, abs=0.02)
    assert night.moon_hidden


# --- the frame ----------------------------------------------------------------------------


def frame(folder: Path, outlook: dict[str, Any], **parts: Any) -> float:
    raw = lock(camera=outlook) | parts
    raw["room"][0] |= {"height": 1.0, "opening": [], "mark": []}
    raw["setup"] = raw["setup"][1:]
    return one_day(made(raw, folder), date(2026, 6, 21)).lose_sky_deg


@pytest.mark.parametrize("tilt", [-15.0, -11.0, 0.0, 8.0])
def test_the_sky_over_the_level(tilt: float, folder: Path) -> None:
    """With nothing about, the upper edge must come down to the level: tilt + half the view."""
    found = frame(folder, camera(200, tilt=tilt))
    assert found == pytest.approx(max(0.0, tilt + 11.5), abs=0.11)


def test_the_sky_over_a_long_wall(folder: Path) -> None:
    """Square to a wall its ridge runs level through the frame, at atan(rise / distance)."""
    ridge = math.degrees(math.atan((11.8 - 1.5) / 10.0))
    found = frame(folder, camera(180, tilt=40.0), outside=[WAREHOUSE])
    assert found == pytest.approx(40.0 + 11.5 - ridge, abs=0.11)
    assert frame(folder, camera(180, tilt=30.0), outside=[WAREHOUSE]) == 0.0
    assert frame(folder, camera(0, tilt=30.0), outside=[WAREHOUSE]) == pytest.approx(41.5, abs=0.11)


def test_the_sky_over_a_skyline(folder: Path) -> None:
    """The upper edge is highest in its middle: that must come down to an even skyline."""
    line = [{"points": [[0, 5], [180, 5], [359, 5]]}]
    assert frame(folder, camera(90), skyline=line) == pytest.approx(6.5, abs=0.11)
    assert frame(folder, camera(90, tilt=-7), skyline=line) == 0.0


@settings(max_examples=12, deadline=None)
@given(
    st.floats(0, 359),
    st.floats(-40, 40),
    st.tuples(st.floats(10, 90), st.floats(10, 60)),
    st.tuples(st.floats(-20, 20), st.floats(-40, -22), st.floats(1, 15), st.floats(1, 12)),
)
def test_tilted_so_the_sky_is_gone(
    folder: Path, toward: float, tilt: float, view: tuple[float, float], box: tuple[float, ...]
) -> None:
    x, y, size, tall = box
    shed = [{"name": "shed", "at": [x, y], "size": [size, size, tall]}]
    lose = frame(folder, camera(toward, tilt=tilt, view=list(view)), outside=shed)
    assert lose >= 0.0
    outlook = camera(toward, tilt=tilt - lose, view=list(view))
    assert frame(folder, outlook, outside=shed) == 0.0
    if lose > 0.2:
        outlook = camera(toward, tilt=tilt - lose + 0.15, view=list(view))
        assert frame(folder, outlook, outside=shed) > 0.0


# --- levels -------------------------------------------------------------------------------


def test_stops_and_density(folder: Path) -> None:
    """ISO 2720, incident: the exposure is set for 250 N² / (t S) lx; a stop is 0.3 of density."""
    location = place(folder, exposure={"iso": 400, "stop": 5.6})
    key = 250.0 * 5.6**2 * 48.0 / 400.0
    found = one_day(location, date(2025, 6, 11))
    assert found.backlight
    for one in found.backlight:
        sky = skies(location, [(one.start_s + one.end_s) / 2])
        level = float(sky.global_horizontal_lux[0])
        assert 20_000 < level < 120_000  # open shade and the brightest sun, by tables of levels
        assert one.level_lux == pytest.approx(level, rel=1e-6)
        assert one.over_stops == pytest.approx(math.log2(level / key), abs=1e-6)
        assert one.nd_density == pytest.approx(0.3 * (one.over_stops + 2.0), abs=1e-6)
    assert found.night is not None
    looks = [one for stretch in found.night.moon for one in stretch.looks]
    assert looks
    for look in looks:
        assert 0.0 < look.lux < 0.35  # no full moon gives more: Kyba and others 2017
        assert look.stops == pytest.approx(math.log2(look.lux / key), abs=1e-6)


def test_dark_enough_needs_no_filter(folder: Path) -> None:
    location = place(folder, exposure={"iso": 50, "stop": 22, "shutter_s": 0.001})
    found = one_day(location, date(2025, 6, 11)).backlight
    assert found
    assert [(one.lose_stops, one.nd_density) for one in found] == [(0.0, 0.0)] * len(found)


@given(st.floats(-180, 180))
def test_sides_are_the_same_left_and_right(off: float) -> None:
    ranks = ["back", "back-cross", "side", "front"]
    assert side(off) == side(-off)
    assert ranks.index(side(off)) <= ranks.index(side(min(180.0, abs(off) + 1.0)))


@pytest.mark.parametrize(
    ("off", "named"),
    [
        (0, "back"),
        (30, "back"),
        (31, "back-cross"),
        (60, "back-cross"),
        (61, "side"),
        (120, "side"),
        (121, "front"),
        (180, "front"),
    ],
)
def test_sides(off: float, named: str) -> None:
    assert side(off) == side(-off) == named


def test_turning_the_plan_with_the_camera_changes_nothing(folder: Path) -> None:
    """The same place drawn with its up at 0° and at 90° true: bearings are true ones."""
    raw = lock(wall=180.0, camera=camera(240))
    raw["room"][0] |= {"height": 1.0, "opening": [], "mark": []}
    raw["setup"] = raw["setup"][1:]
    raw["outside"] = [{"name": "shed", "at": [-4, -20], "size": [10, 6, 9]}]
    raw["skyline"] = [{"points": [[150, 2], [270, 9]]}]
    turned = copy.deepcopy(raw)
    turned["location"]["plan_up"] = 90.0
    # Up the sheet is east now: what lay at (x east, y north) lies at (−y, x).
    turned["setup"][0]["at"] = [6.0, 4.0]
    turned["outside"] = [{"name": "shed", "at": [20, -4], "size": [10, 6, 9], "turn": 90}]
    day = date(2025, 2, 10)
    one, other = (one_day(made(each, folder), day) for each in (raw, turned))
    assert one.wall
    assert other.wall
    assert len(one.wall) == len(other.wall) > 1  # the shed cuts it
    for left, right in zip(one.wall, other.wall, strict=True):
        assert (left.start_s, left.end_s) == pytest.approx((right.start_s, right.end_s), abs=1.0)
    assert one.lose_sky_deg == pytest.approx(other.lose_sky_deg, abs=1e-9)
    assert 2.0 < one.lose_sky_deg < 9.5  # the skyline stands 6° to 8° up in its frame


# --- for people and programs --------------------------------------------------------------


def test_what_people_read(folder: Path) -> None:
    raw = lock(wall=102)
    raw["setup"].append({**copy.deepcopy(LOCK), "name": "along the towpath", "plays": "day"})
    location = made(raw, folder)
    day = date(2027, 3, 20)
    shown = terminal.text(showing.report(location, day, exteriors(location, day)), "m", more=True)
    assert max(len(line) for line in shown.split("\n")) <= 80
    night, towpath = shown.split("\nalong the towpath")
    dark = "dark: sun 6° down 19:26"
    for words in (dark, "back-cross", "nd ", "sky in frame", "102° E", "length"):
        assert words in night
    for words in ("dark:", " nd ", "tungsten"):
        assert words not in towpath
    for words in ("look at the sun", "lookout", "common practice", "Common practice, no source"):
        assert words in " ".join(shown.split())


def test_what_programs_read(folder: Path) -> None:
    location = made(lock(wall=102), folder)
    day = date(2027, 3, 20)
    (found,) = exteriors(location, day)
    (one,) = json.loads(as_json(showing.answer(location, day, [found])))["setups"]
    assert found.night is not None
    assert found.night.civil_dark is not None
    told_dark = datetime.fromisoformat(one["night"]["civil_dark"]["from"])
    assert told_dark.utcoffset() == timedelta(hours=1)
    assert told_dark.timestamp() == pytest.approx(found.night.civil_dark[0], abs=0.51)
    assert [row["side"] for row in one["backlight"]] == ["back-cross", "back", "back-cross"]
    assert one["backlight"][1]["nd_density"] == found.backlight[1].nd_density
    assert found.wall is not None
    assert one["wall"][0]["incidence_deg"] == found.wall[0].incidence_deg
    assert len(one["shadows"]) == len(found.shadows) > 8


def test_a_file_without_setups_outdoors(folder: Path) -> None:
    location = made(bare(), folder)
    assert exteriors(location, date(2026, 3, 20)) == []


def test_what_check_understood(folder: Path) -> None:
    document = check_report.report(made(lock(wall=102), folder))
    assert "the lock at night: outdoors; reads as night" in plain(document)
    shown = " ".join(terminal.text(document, "m", more=True).split())
    assert "subject at 4.00 m, −6.00 m, 1.80 m tall; a wall faces 102° E" in shown
    assert "toward 200° S, tilted 0°, sees 40° × 23° ISO 1600, stop 2" in shown
