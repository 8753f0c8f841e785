"""Location files: what is understood of a good one, and what is told of a bad one."""

from __future__ import annotations

import copy
import json
import math
import pickle
import string
import tomllib
from collections.abc import Iterator
from datetime import date, time
from pathlib import Path
from typing import Any

import pytest
import shapely
from campaign import few_or_many
from hypothesis import given, settings
from hypothesis import strategies as st

from sunplan.errors import InputError, LocationError, SunplanError
from sunplan.location.read import Location, read

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "locations" / "lock-house.toml"
FOOT_M = 0.3048  # international yard and pound agreement, 1959

# One room with all that a location file can say, and a second one in the shape of an L.
GOOD = """
[location]
name = "Lock-keeper's house"
latitude = 52.0907
longitude = 5.1214
timezone = "Europe/Amsterdam"
elevation = 5
units = "m"
plan_up = 12.0
plan_up_error = 3.0
ground_reflectance = 0.2

[[outside]]
name = "warehouse across the water"
at = [-4, -22]
size = [20, 8, 11]
base = 0
turn = 0
reflectance = 0.35

[[skyline]]
points = [[80, 4], [120, 9], [160, 3]]

[[room]]
name = "gauge room"
outline = [[0, 0], [3.2, 0], [3.2, 2.4], [0, 2.4]]
floor = 3.1
height = 2.6
reflectance = { floor = 0.3, walls = 0.7, ceiling = 0.8 }

  [[room.opening]]
  name = "street window"
  wall = "A"
  along = 0.9
  sill = 1.0
  size = [1.1, 1.2]
  depth = 0.3
  glass = "double clear"
  dressing = "sheer"

  [[room.opening]]
  name = "roof light"
  ceiling = true
  at = [1.6, 1.2]
  size = [0.8, 0.8]
  depth = 0.4
  turn = 0
  glass = "acrylic dome"

  [[room.mark]]
  name = "at the gauge"
  at = [1.9, 1.9]
  height = [1.2, 1.8]
  width = 0.6

  [[room.practical]]
  name = "wall lamp"
  at = [3.1, 1.2]
  height = 1.7
  shade = [0.20, 0.25]
  lumens = 450
  balance = 2700

[[room]]
name = "kitchen"
outline = [[0, 0], [5.6, 0], [5.6, 2.6], [3.0, 2.6], [3.0, 5.0], [0, 5.0]]
height = 2.5

  [[room.opening]]
  name = "yard door"
  wall = "F"
  along = 1.2
  sill = 0.1
  size = [0.9, 2.0]
  transmittance = 0.5

  [[room.opening]]
  name = "roof window"
  ceiling = true
  at = [1.5, 3.5]
  size = [0.8, 1.0]
  depth = 0.7
  pitch = 40
  faces = 192
  glass = "double clear"

  [[room.mark]]
  name = "at the table"
  at = [1.5, 3.6]
  height = [0.7, 1.4]

[[setup]]
name = "reading the gauge"
room = "gauge room"
mark = "at the gauge"
camera = { at = [0.6, 0.7], height = 1.5, toward = "at the gauge", view = [40, 23] }
exposure = { iso = 800, stop = 2.8, fps = 24, shutter = 180, balance = 3200 }
plays = "night"
minutes = 50
contrast = 4
key = { lamp = "led 150", frame = "4x4 half", from = [0.5, 1.9], height = 1.9 }

[[setup]]
name = "last coffee"
room = "kitchen"
mark = "at the table"
camera = { at = [2.5, 4.5], height = 1.3, toward = [0, 3], lens_mm = 35, sensor_mm = [24.9, 14] }
exposure = { iso = 800, stop = 2.8 }
plays = "dusk"
minutes = 40
"""

DROP = object()  # in an edit: take the key out
GAUGE, KITCHEN = 'room "gauge room"', 'room "kitchen"'
READING, COFFEE = 'setup "reading the gauge"', 'setup "last coffee"'


def good() -> dict[str, Any]:
    return tomllib.loads(GOOD)


def edited(*edits: tuple[str, Any]) -> dict[str, Any]:
    """The good file's tables with some keys changed; in a path, + adds to an array."""
    doc = good()
    for path, value in edits:
        *way, last = (int(step) if step.isdigit() else step for step in path.split("/"))
        at: Any = doc
        for step in way:
            at = at[step]
        if value is DROP:
            del at[last]
        elif last == "+":
            at.append(copy.deepcopy(value))
        else:
            at[last] = copy.deepcopy(value)
    return doc


def toml(value: Any) -> str:
    """A value as TOML writes it on one line."""
    if isinstance(value, dict):
        pairs = (f"{toml(key)} = {toml(one)}" for key, one in value.items())
        return f"{{{', '.join(pairs)}}}"
    if isinstance(value, list):
        return f"[{', '.join(toml(one) for one in value)}]"
    if isinstance(value, str):  # TOML escapes as JSON does, and DEL besides
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, bool):
        return str(value).lower()
    return value.isoformat() if isinstance(value, date | time) else repr(value)


def written(folder: Path, doc: dict[str, Any] | str) -> Path:
    path = folder / "house.toml"
    if isinstance(doc, dict):
        doc = "".join(f"{toml(key)} = {toml(value)}\n" for key, value in doc.items())
    path.write_text(doc, encoding="utf-8", newline="")
    return path


def understood(folder: Path, doc: dict[str, Any] | str) -> Location:
    return read(written(folder, doc))


def told(folder: Path, doc: dict[str, Any] | str) -> list[str]:
    """What is wrong with a file, one line a mistake, each freed from the file's name."""
    path = written(folder, doc)
    with pytest.raises(LocationError) as refused:
        read(path)
    lines = str(refused.value).split("\n")
    assert [line[: len(f"{path}: ")] for line in lines] == [f"{path}: "] * len(lines)
    return [line[len(f"{path}: ") :] for line in lines]


def test_a_refusal_comes_through_from_another_process(tmp_path: Path) -> None:
    """All of it, by pickle, as `concurrent.futures` hands it over."""
    with pytest.raises(LocationError) as refused:
        read(written(tmp_path, "[location]\nlatitud = 95\n"))
    carried = pickle.loads(pickle.dumps(refused.value))
    assert type(carried) is LocationError
    assert (carried.file, carried.problems) == (refused.value.file, refused.value.problems)
    assert str(carried) == str(refused.value)
    assert len(carried.problems) > 1


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for the files of the generated cases, each written over the last."""
    return tmp_path_factory.mktemp("generated")


# --- good files ---------------------------------------------------------------------------


@pytest.fixture(scope="module")
def demo() -> Location:
    return read(DEMO)


def test_demo_site(demo: Location) -> None:
    site = demo.site
    assert (site.name, site.latitude, site.longitude) == ("Lock-keeper's house", 52.0907, 5.1214)
    assert (site.elevation, site.plan_up, site.plan_up_error) == (5, 12, 3)
    assert demo.timezone == "Europe/Amsterdam"  # left out in the file
    assert demo.file == str(DEMO)


def test_demo_surroundings(demo: Location) -> None:
    warehouse, shed = demo.outside
    assert (warehouse.at, warehouse.size, warehouse.base) == ((-6, -19), (20, 8, 11), 0)
    assert (shed.at, shed.size, shed.turn, shed.reflectance) == ((7.4, 0.5), (4, 6, 3.4), 8, 0.25)
    assert demo.skyline[0].points == ((215, 2), (240, 5), (285, 6), (310, 2))


def test_demo_rooms(demo: Location) -> None:
    gauge_room, kitchen, attic = demo.room
    assert (gauge_room.floor, gauge_room.height) == (3.1, 2.6)
    assert (gauge_room.reflectance.walls, kitchen.floor, attic.floor) == (0.7, 0, 5.9)
    corners = [(0, 0), (5.6, 0), (5.6, 2.6), (3, 2.6), (3, 5), (0, 5)]
    assert list(kitchen.outline) == corners
    window = gauge_room.opening_named("street window")
    assert (window.wall, window.along, window.sill, window.size) == ("A", 0.9, 1.0, (1.1, 1.2))
    assert (window.depth, window.glass, window.dressing) == (0.34, "double clear", "none")
    roof = attic.opening_named("roof window")
    assert (roof.ceiling, roof.at, roof.size) == (True, (1.2, 4.6), (0.78, 1.18))
    assert (roof.depth, roof.pitch, roof.faces, roof.turn) == (0.55, 40, 192, 0)
    mark = kitchen.mark_named("at the table")
    assert (mark.at, mark.height, mark.width) == ((1.5, 3.6), (0.7, 1.4), 0.7)
    pendant = kitchen.practical[0]
    assert (pendant.at, pendant.height, pendant.shade) == ((1.5, 3.5), 1.75, (0.35, 0.22))
    assert (pendant.lumens, pendant.balance) == (470, 2700)


def test_demo_setups(demo: Location) -> None:
    reading, coffee, kettle, awake = demo.setup
    assert reading.key is not None
    assert (reading.key.lamp, reading.key.frame, reading.key.at) == (
        "led 150",
        "4x4 half",
        (0.3, 2.2),
    )
    assert (reading.camera.at, reading.camera.height, reading.camera.view_deg) == (
        (0.5, 0.6),
        1.5,
        (40, 23),
    )
    assert (reading.exposure.iso, reading.exposure.shutter, reading.exposure.balance) == (
        800,
        180,
        3200,
    )
    assert [one.plays for one in demo.setup] == ["night", "dusk", "evening", "night"]
    assert [one.minutes for one in demo.setup] == [50, 40, 30, 45]
    assert (coffee.camera.toward, kettle.contrast, awake.room) == ("canal window", 4, "attic")
    assert demo.kit_of(awake).name == "van"


@pytest.mark.parametrize(
    ("room", "wall", "bearing_deg"),
    [
        # Plan up is 12° true, so the plan's right is 102°, its down 192°, its left 282°.
        ("gauge room", "A", 192),
        ("gauge room", "B", 102),
        ("gauge room", "C", 12),
        ("gauge room", "D", 282),
        ("kitchen", "D", 102),  # the inner side of the L
        ("kitchen", "F", 282),
    ],
)
def test_walls_face_true_bearings(demo: Location, room: str, wall: str, bearing_deg: float) -> None:
    found = demo.room_named(room)
    index = string.ascii_uppercase.index(wall)
    assert found.faces_deg(index, demo.site.plan_up) == pytest.approx(bearing_deg, abs=1e-9)


OTHERWISE = {"location": "site", "from": "at"}  # keys that the model holds by another name


def leaves(raw: Any, model: Any, path: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Every plain value of a file's tables beside what the model holds under the same key."""
    if isinstance(raw, dict):
        for key, value in raw.items():
            name = str(OTHERWISE.get(key, key))
            yield from leaves(value, getattr(model, name), f"{path}/{key}")
    elif isinstance(raw, list):
        assert len(raw) == len(model)
        for index, (one, other) in enumerate(zip(raw, model, strict=True)):
            yield from leaves(one, other, f"{path}/{index}")
    else:
        yield path, raw, model


def test_a_file_in_metres_is_held_as_written(tmp_path: Path) -> None:
    pairs = list(leaves(good(), understood(tmp_path, GOOD)))
    assert len(pairs) > 100
    assert [pair for pair in pairs if pair[1] != pair[2]] == []


def test_the_house_with_its_van(tmp_path: Path) -> None:
    van = ROOT / "shared" / "kits" / "van.toml"
    shelf = tmp_path / "shared" / "kits"
    shelf.mkdir(parents=True)
    (shelf / "van.toml").write_bytes(van.read_bytes())
    location = understood(tmp_path, edited(("setup/0/kit", "van")))
    assert [location.kit_of(setup).name for setup in location.setup] == ["van", "default"]


IN_FEET = {"at", "size", "base", "outline", "floor", "along", "sill", "depth", "height", "width"}
IN_FEET |= {"shade", "from", "toward"}


def in_feet(value: Any, key: str = "") -> Any:
    """The same place measured in feet: lengths by their keys, but for the sea level's."""
    if isinstance(value, dict):
        shares = key == "reflectance"  # its "floor" is no length
        return {name: one if shares else in_feet(one, name) for name, one in value.items()}
    if isinstance(value, list):
        return [in_feet(one, key) for one in value]
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    return value / FOOT_M if plain and key in IN_FEET else value


def test_a_file_in_feet_is_the_same_house(tmp_path: Path) -> None:
    doc = in_feet(good())
    doc["location"]["units"] = "ft"
    raw = good()
    raw["location"]["units"] = "ft"
    pairs = list(leaves(raw, understood(tmp_path, doc)))
    assert doc["room"][0]["height"] == pytest.approx(8.5302, abs=1e-4)  # 2.6 m, by a converter
    assert [pair for pair in pairs if pair[1] != pytest.approx(pair[2], abs=1e-9)] == []


def test_a_file_in_feet_keeps_texts_and_defaults(tmp_path: Path) -> None:
    doc = in_feet(good())
    doc["location"]["units"] = "ft"
    doc["room"][0]["height"] = "260 cm"
    doc["room"][1]["height"] = "8 ft 6 in"
    gauge_room, kitchen = understood(tmp_path, doc).room
    assert (gauge_room.height, kitchen.height) == pytest.approx((2.6, 2.5908), abs=1e-9)
    assert (kitchen.opening[0].depth, kitchen.mark[0].width) == (0.1, 0.6)


def test_what_may_be_left_out(tmp_path: Path) -> None:
    doc = edited(("outside", DROP), ("skyline", DROP), ("setup", DROP), ("room/0/reflectance", {}))
    for key in ("elevation", "units", "plan_up_error", "ground_reflectance"):
        del doc["location"][key]
    found = understood(tmp_path, doc)
    assert (found.outside, found.skyline, found.setup) == ((), (), ())
    site = found.site
    assert (site.elevation, site.units, site.plan_up_error) == (0, "m", 0)
    assert site.ground_reflectance == 0.2


def test_an_editors_mark_and_line_ends_do_no_harm(tmp_path: Path) -> None:
    doc = "\ufeff" + GOOD.replace("\n", "\r\n")
    assert understood(tmp_path, doc).room == understood(tmp_path, GOOD).room


def test_lens_and_sensor_give_the_angle_of_view(tmp_path: Path) -> None:
    """A 35 mm lens on 24.9 × 14.0 mm: 39.2° × 22.6°, by a field-of-view table."""
    camera = understood(tmp_path, GOOD).setup[1].camera
    assert camera.view_deg == pytest.approx((39.2, 22.6), abs=0.06)


def test_a_clockwise_outline_is_turned_round(tmp_path: Path) -> None:
    """The first corner stays; its wall A is the one a counter-clockwise walk begins with."""
    corners = good()["room"][0]["outline"]
    clockwise = [corners[0], *reversed(corners[1:])]
    assert not shapely.LinearRing(clockwise).is_ccw
    turned = understood(tmp_path, edited(("room/0/outline", clockwise)))
    assert turned.room == understood(tmp_path, GOOD).room


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        (52.0907, 5.1214, "Europe/Amsterdam"),
        (55.6761, 12.5683, "Europe/Copenhagen"),
        (40.4168, -3.7038, "Europe/Madrid"),
        (40.7128, -74.0060, "America/New_York"),
        (-33.8688, 151.2093, "Australia/Sydney"),
        (-34.6037, -58.3816, "America/Argentina/Buenos_Aires"),
        (-33.9249, 18.4241, "Africa/Johannesburg"),
        (28.6139, 77.2090, "Asia/Kolkata"),
        (-21.1393, -175.2049, "Pacific/Tongatapu"),  # beside the date line
    ],
)
def test_time_zone_found_from_the_coordinates(
    tmp_path: Path, latitude: float, longitude: float, zone: str
) -> None:
    """Zones of cities as the IANA time zone database lists them (zone.tab)."""
    doc = edited(
        ("location/timezone", DROP),
        ("location/latitude", latitude),
        ("location/longitude", longitude),
    )
    assert understood(tmp_path, doc).timezone == zone


def test_a_time_zone_that_is_given_stands(tmp_path: Path) -> None:
    doc = edited(("location/timezone", "Europe/Lisbon"))
    assert understood(tmp_path, doc).timezone == "Europe/Lisbon"


# --- files that cannot be read ------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ('[location]\nname = "a\nlatitude = 5\n', "(at line 2, column 10)"),
        ("[location]\nlatitude = 5 6\n", "(at line 2, column 14)"),
        ("[location]\nlatitude = 52,1\n", "(at line 2, column 14)"),
        ("a = 1\na = 2\n", "(at line 2, column 6)"),
        ("\n\na = [1,\n", "(at line 4, column 1, the end of the file)"),
        ("a = " + "9" * 5000, "it holds a number of thousands of digits"),
        ("a = " + "[" * 5000, "too many tables or brackets"),
    ],
)
def test_broken_toml(tmp_path: Path, text: str, message: str) -> None:
    path = written(tmp_path, text)
    with pytest.raises(InputError) as refused:
        read(path)
    assert str(refused.value).startswith(f"{path}: is not valid TOML: ")
    assert message in str(refused.value)
    assert "\n" not in str(refused.value)


def test_missing_file(tmp_path: Path) -> None:
    path = tmp_path / "away.toml"
    with pytest.raises(InputError) as refused:
        read(path)
    assert str(refused.value) == f"{path}: no such file"


def test_folder_for_a_file(tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        read(tmp_path)
    assert str(refused.value) == f"{tmp_path}: is a folder; expected a TOML file"


def test_not_utf8(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_bytes(GOOD.replace("Lock", "Löck").encode("latin-1"))
    with pytest.raises(InputError) as refused:
        read(path)
    assert str(refused.value) == f"{path}: is not text in UTF-8; save it as a TOML file in UTF-8"


def test_an_empty_file(tmp_path: Path) -> None:
    assert told(tmp_path, "") == [
        "location: is missing; expected the [location] table",
        "room: is missing; expected one or more [[room]] tables",
    ]


# --- one mistake, one message -------------------------------------------------------------

LENGTHS = '; write a length like 1.9, "190 cm", "6 ft 4 in" or "6\'4\\""'
NAME = "a name in quotes, on one line"

KEYS: list[tuple[str, Any, str]] = [
    # unknown keys
    ("location/latitud", 52, 'location › latitud: unknown key; did you mean "latitude"?'),
    ("location/plan_upp", 1, 'location › plan_upp: unknown key; did you mean "plan_up"?'),
    ("rooms", [], 'rooms: unknown key; did you mean "room"?'),
    ("room/0/opening/0/zzz", 1, f'{GAUGE} › opening "street window" › zzz: unknown key; known: '
     "name, wall, along, sill, ceiling, at, size, depth, turn, pitch, faces, glass, transmittance, "
     "bars, dirt, dressing, before, to_ground, size_error, place_error"),
    ("room/0/hieght", 1, f'{GAUGE} › hieght: unknown key; did you mean "height"?'),
    ("room/0/mark/0/hight", 1, f'{GAUGE} › mark "at the gauge" › hight: unknown key; '
     'did you mean "height"?'),
    ("setup/0/camera/veiw", 1, f'{READING} › camera › veiw: unknown key; did you mean "view"?'),
    ("setup/0/exposure/is", 1, f'{READING} › exposure › is: unknown key; did you mean "iso"?'),
    # missing keys
    ("location/latitude", DROP, "location › latitude: is missing; expected degrees north, "
     "from -90 to 90"),
    ("location/plan_up", DROP, "location › plan_up: is missing; expected the true bearing of the "
     "plan's up direction, 0 to 360"),
    ("room/0/name", DROP, f"room 1 › name: is missing; expected {NAME}"),
    ("room/1/outline", DROP, f"{KITCHEN} › outline: is missing; expected three or more corners "
     "[x, y], counter-clockwise"),
    ("room/0/opening/0/size", DROP, f'{GAUGE} › opening "street window" › size: is missing; '
     "expected [width, height], or [along x, along y] in a ceiling, each above 0"),
    ("setup/1/exposure/iso", DROP, f"{COFFEE} › exposure › iso: is missing; expected the exposure "
     "index, above 0, such as 800"),
    ("setup/1/camera", DROP, f"{COFFEE} › camera: is missing; expected a table "
     "{ at, height, toward, view }"),
    # wrong types
    ("location", 3, "location: 3 is not right; expected the [location] table"),
    ("room", "kitchen", 'room: "kitchen" is not right; expected one or more [[room]] tables'),
    ("room/1/mark", 7, f"{KITCHEN} › mark: 7 is not right; expected [[room.mark]] tables"),
    ("location/name", 5, f"location › name: 5 is not right; expected {NAME}"),
    ("location/name", "", f'location › name: "" is not right; expected {NAME}'),
    ("location/name", "a\nb", f'location › name: "a\\nb" is not right; expected {NAME}'),
    ("location/latitude", "52", 'location › latitude: "52" is not right; expected degrees north, '
     "from -90 to 90"),
    ("location/latitude", True, "location › latitude: true is not right; expected degrees north, "
     "from -90 to 90"),
    ("room/0/height", True, f"{GAUGE} › height: true is not right; expected the height from "
     f"floor to ceiling, above 0{LENGTHS}"),
    ("room/0/height", "high", f'{GAUGE} › height: "high" is not right; expected the height from '
     f"floor to ceiling, above 0{LENGTHS}"),
    ("room/0/mark/0/at", [1, 2, 3], f'{GAUGE} › mark "at the gauge" › at: [1, 2, 3] is not '
     "right; expected its middle on the plan, [x, y]"),
    ("room/0/opening/1/ceiling", "yes", f'{GAUGE} › opening "roof light" › ceiling: "yes" is not '
     "right; expected true for a skylight; left out for a window in a wall"),
    ("setup/0/minutes", time(0, 50), f"{READING} › minutes: 00:50:00 is not right; expected the "
     "minutes it takes to shoot, above 0, at most 1440"),
    # out of range
    ("location/latitude", 120, "location › latitude: 120 is not right; expected degrees north, "
     "from -90 to 90"),
    ("location/longitude", -181.5, "location › longitude: -181.5 is not right; expected degrees "
     "east, from -180 to 180"),
    ("location/latitude", math.nan, "location › latitude: nan is not right; expected degrees "
     "north, from -90 to 90"),
    ("location/plan_up", 400, "location › plan_up: 400 is not right; expected the true bearing of "
     "the plan's up direction, 0 to 360"),
    ("location/elevation", "10 km", 'location › elevation: "10 km" is not right; expected metres '
     f"above the sea, -500 to 9000, default 0{LENGTHS}"),
    ("location/units", "feet", 'location › units: "feet" is not right; expected the unit of '
     'bare lengths, "m" or "ft"'),
    ("location/ground_reflectance", 20, "location › ground_reflectance: 20 is not right; expected "
     "the share of light that it reflects, from 0 to 1, default 0.2"),
    ("outside/0/size", [20, 0, 11], 'outside "warehouse across the water" › size: [20, 0, 11] is '
     "not right; expected [along x, along y, height], each above 0"),
    ("outside/0/at", [1e9, 0], 'outside "warehouse across the water" › at: [1000000000.0, 0] is '
     "not right; expected the block's corner on the plan, [x, y]; at most 100 km"),
    ("skyline/0/points", [[80, 4]], "skyline 1 › points: [[80, 4]] is not right; expected two or "
     "more [true bearing, altitude] points, clockwise; bearings 0 to 360 degrees, altitudes from "
     "-5 to below 90"),
    ("skyline/0/points", [[80, 4], [300, 9], [160, 3]], "skyline 1 › points: the bearings go round "
     "more than once; expected them clockwise, in order"),
    ("room/0/reflectance/walls", 70, f"{GAUGE} › reflectance › walls: 70 is not right; expected "
     "the share of light that it reflects, from 0 to 1, such as 0.5"),
    ("room/0/mark/0/height", [1.8, 1.2], f'{GAUGE} › mark "at the gauge" › height: [1.8, 1.2] '
     "is not right; expected [from, to] above the floor, from below to: the part to keep sun off"),
    ("setup/0/plays", "dawn", f'{READING} › plays: "dawn" is not right; expected the time of day '
     'in the film: "day", "dusk", "evening" or "night"'),
    ("setup/0/minutes", 5000, f"{READING} › minutes: 5000 is not right; expected the minutes it "
     "takes to shoot, above 0, at most 1440"),
    ("room/0/mark/0/width", 1e-9, f'{GAUGE} › mark "at the gauge" › width: 1e-09 is not right; '
     "expected its diameter, movement included, above 0, default 0.6 m; at least 1 mm"),
    ("setup/0/contrast", 0.5, f"{READING} › contrast: 0.5 is not right; expected the wanted "
     "key:fill, 1 or more; 4 means 4:1"),
    # keys that do not go together
    ("room/0/opening/0/ceiling", True, f'{GAUGE} › opening "street window": an opening with '
     "ceiling = true takes no wall or along or sill; a skylight needs at, its centre on the plan, "
     "[x, y]"),
    ("room/0/opening/1/ceiling", DROP, f'{GAUGE} › opening "roof light": has at but no wall: add '
     "ceiling = true for a skylight, or give wall, along and sill instead for a window"),
    ("room/0/opening/0/sill", DROP, f'{GAUGE} › opening "street window": a window needs sill '
     "(or ceiling = true for a skylight)"),
    ("room/0/opening/0/pitch", 30, f'{GAUGE} › opening "street window": a window in a wall '
     "takes no pitch"),
    ("room/0/opening/1/before", "water", f'{GAUGE} › opening "roof light": a skylight takes '
     "no before or to_ground: nobody is sent onto a roof anyhow"),
    ("room/0/opening/0/before", "canal", f'{GAUGE} › opening "street window" › before: "canal" is '
     'not right; expected what lies outside before a window: "ground" that one can stand on, '
     '"water", "street", "drop" or "blocked"; left out: nothing is planned outside'),
    ("room/0/wet", "yes", f'{GAUGE} › wet: "yes" is not right; expected true where a bath, a '
     "shower, a basin or a sink is in it, false where none is"),
    ("room/1/opening/1/faces", DROP, f'{KITCHEN} › opening "roof window": a pitched roof window '
     "needs faces, the true bearing that its glass slopes down toward"),
    ("room/0/opening/0/transmittance", 0.5, f'{GAUGE} › opening "street window": give glass or '
     "transmittance, not both"),
    ("setup/0/camera/view", DROP, f"{READING} › camera: give view = [across, up] in degrees, or "
     "lens_mm and sensor_mm"),
    ("setup/0/camera/lens_mm", 35, f"{READING} › camera: give view = [across, up] in degrees, or "
     "lens_mm and sensor_mm"),
]  # fmt: skip

PLACES: list[tuple[str, Any, str]] = [
    ("room/0/opening/0/along", 2.5, f'{GAUGE} › opening "street window" › along: the opening '
     "runs from 2.50 m to 3.60 m along wall A; expected it between 0.00 m and 3.20 m, the wall's "
     "length"),
    ("room/0/opening/0/along", -0.2, f'{GAUGE} › opening "street window" › along: the opening '
     "runs from −0.20 m to 0.90 m along wall A; expected it between 0.00 m and 3.20 m, the wall's "
     "length"),
    ("room/0/opening/0/along", 2.1001, f'{GAUGE} › opening "street window" › along: the opening '
     "runs from 2.10 m to 3.2001 m along wall A; expected it between 0.00 m and 3.2 m, the wall's "
     "length"),
    ("room/0/opening/0/sill", 1.5, f'{GAUGE} › opening "street window" › sill: with its height '
     "the head comes to 2.70 m; expected at most 2.60 m, the room's height"),
    ("room/0/opening/0/wall", "E", f'{GAUGE} › opening "street window" › wall: there is no wall '
     '"E"; expected a letter from A to D'),
    ("room/0/opening/1/at", [0.3, 1.2], f'{GAUGE} › opening "roof light" › at: [0.3, 1.2] m puts '
     "part of the hole outside the room; expected all of it within the outline"),
    ("room/1/opening/1/at", [3.1, 2.7], f'{KITCHEN} › opening "roof window" › at: [3.1, 2.7] m '
     "puts part of the hole outside the room; expected all of it within the outline"),
    ("room/0/mark/0/at", [3.3, 1], f'{GAUGE} › mark "at the gauge" › at: [3.3, 1] m lies '
     "outside the room's outline; expected a place within"),
    ("room/1/mark/0/at", [4, 4], f'{KITCHEN} › mark "at the table" › at: [4, 4] m lies outside '
     "the room's outline; expected a place within"),  # in the corner that the L leaves out
    ("room/0/outline", [[0, 0], [320, 0], [320, 240], [0, 240]], f"{GAUGE} › outline: 320.00 m "
     "is no room's; expected at most 200.00 m: is it in another unit?"),
    ("room/0/mark/0/at", [1.9, 0.04], f'{GAUGE} › mark "at the gauge" › at: [1.9, 0.04] m is '
     "0.04 m from a wall; expected 0.05 m or more, for somebody stands there"),
    ("room/0/mark/0/height", [1.2, 2.7], f'{GAUGE} › mark "at the gauge" › height: 2.70 m is '
     "above the ceiling; expected at most 2.60 m"),
    ("room/0/practical/0/at", [1, -1], f'{GAUGE} › practical "wall lamp" › at: [1, −1] m lies '
     "outside the room's outline; expected a place within"),
    ("room/0/practical/0/height", 3, f'{GAUGE} › practical "wall lamp" › height: 3.00 m is above '
     "the ceiling; expected at most 2.60 m"),
    ("setup/0/camera/at", [-1, 1], f"{READING} › camera › at: [−1, 1] m lies outside {GAUGE}; "
     "expected a place within"),
    ("setup/1/camera/at", [4, 4], f"{COFFEE} › camera › at: [4, 4] m lies outside {KITCHEN}; "
     "expected a place within"),
    ("setup/0/camera/height", 2.7, f"{READING} › camera › height: 2.70 m is above the ceiling; "
     "expected at most 2.60 m"),
    ("setup/0/camera/toward", [0.6, 0.7], f"{READING} › camera › toward: [0.6, 0.7] m is the "
     "camera's own place on the plan; expected a place beside it"),
    ("setup/0/key/from", [0.5, 5], f"{READING} › key › from: [0.5, 5] m lies outside {GAUGE}; "
     "expected a place within"),
    ("setup/0/key/height", 4, f"{READING} › key › height: 4.00 m is above the ceiling; expected at "
     "most 2.60 m"),
    ("room/0/outline", [[0, 0], [3.2, 2.4], [3.2, 0], [0, 2.4]], f"{GAUGE} › outline: the "
     "outline crosses or touches itself near [1.6, 1.2] m; give the corners in walking order"),
    ("room/0/outline", [[0, 0], [3.2, 0], [3.2, 0], [3.2, 2.4], [0, 2.4]], f"{GAUGE} › outline: "
     "the corner [3.2, 0] m stands twice in a row; take one out"),
    ("room/0/outline", [[0, 0], [3.2, 0], [3.2, 2.4], [0, 2.4], [0, 0]], f"{GAUGE} › outline: "
     "the corner [0, 0] m stands twice in a row; take one out"),
    ("room/0/outline", [[0, 0], [3.2, 0]], f"{GAUGE} › outline: [[0, 0], [3.2, 0]] is not "
     "right; expected three or more corners [x, y], counter-clockwise"),
]  # fmt: skip

WALL_LAMP = good()["room"][0]["practical"][0]
WINDOW = good()["room"][0]["opening"][0]
AT_GAUGE = good()["room"][0]["mark"][0]

NAMES: list[tuple[str, Any, str]] = [
    ("location/place_error", 10, "location › place_error: 10 is not right; expected how far "
     "openings, marks and blocks may be off along each axis, ±, 0 to 1 m, default 0"),
    ("location/size_error", "1.01 m", 'location › size_error: "1.01 m" is not right; expected how '
     "far each size of an opening or a block may be off, ±, 0 to 1 m, default 0"),
    ("room/0/mark/0/place_error", 5, f'{GAUGE} › mark "at the gauge" › place_error: 5 is not '
     "right; expected how far its place may be off, ±, 0 to 1 m; left out: the location's"),
    ("outside/0/place_error", 21, 'outside "warehouse across the water" › place_error: 21 is not '
     "right; expected how far its place may be off, ±, 0 to 20 m; left out: the location's"),
    ("location/timezone", "Europe/Amsterdm", 'location › timezone: "Europe/Amsterdm" is no IANA '
     'time zone; did you mean "Europe/Amsterdam"?'),
    ("location/timezone", "qqqqq", 'location › timezone: "qqqqq" is no IANA time zone; expected '
     'one such as "Europe/Amsterdam"'),
    ("location/timezone", "../etc", 'location › timezone: "../etc" is no IANA time zone; expected '
     'one such as "Europe/Amsterdam"'),
    ("setup/0/room", "gauge rom", f'{READING} › room: "gauge rom" is not known; did you mean '
     '"gauge room"?'),
    ("setup/0/room", "cellar", f'{READING} › room: "cellar" is not known; known: gauge room, '
     "kitchen"),
    ("setup/0/mark", "at the guage", f'{READING} › mark: "at the guage" is not known; did you mean '
     '"at the gauge"?'),
    ("setup/0/mark", "at the table", f'{READING} › mark: "at the table" is not known; did you '
     'mean "at the gauge"?'),  # it is in another room
    ("setup/0/camera/toward", "wall lmap", f'{READING} › camera › toward: "wall lmap" is '
     'not known; did you mean "wall lamp"?'),
    ("setup/0/camera/toward", "yard door", f'{READING} › camera › toward: "yard door" is not known'
     "; known: street window, roof light, at the gauge, wall lamp"),  # it is in another room
    ("setup/0/kit", "vna", f'{READING} › kit: "vna" is not known; known: default (a kit is a file '
     "shared/kits/NAME.toml)"),
    ("setup/0/kit", "defualt", f'{READING} › kit: "defualt" is not known; did you mean "default"? '
     "(a kit is a file shared/kits/NAME.toml)"),
    ("circuit", [{"name": "kitchen ring", "amps": 16, "volts": 230, "rooms": ["gauge rom"]}],
     'circuit "kitchen ring" › rooms: "gauge rom" is not known; did you mean "gauge room"?'),
    ("circuit", [{"name": "a", "amps": 0, "volts": 230}], 'circuit "a" › amps: 0 is not right; '
     "expected the fuse's amperes, above 0"),
    ("circuit", [{"name": "a", "amps": 16, "volts": 230}] * 2, 'circuit "a": this name stands 2 '
     "times; give each its own"),
    ("setup/0/key", {"lamp": "led 150", "from": [1.9, 1.9], "height": 1.75}, f"{READING} › key: "
     "the lamp is 0.02 m from the face on the mark; expected 0.10 m or more"),
    ("setup/0/key/lamp", "led 15", f'{READING} › key › lamp: "led 15" is not known; did you mean '
     '"led 150"? (kit "default")'),
    ("setup/0/key/frame", "4x4 hlaf", f'{READING} › key › frame: "4x4 hlaf" is not known; did you '
     'mean "4x4 half"? (kit "default")'),
    ("room/0/opening/0/glass", "duoble clear", f'{GAUGE} › opening "street window" › glass: '
     '"duoble clear" is not known; did you mean "double clear"?'),
    ("room/0/opening/0/dressing", "sheet", f'{GAUGE} › opening "street window" › dressing: '
     '"sheet" is not known; did you mean "sheer"?'),
    # names that stand twice
    ("room/0/mark/+", AT_GAUGE, f'{GAUGE} › mark "at the gauge": this name stands 2 times; give '
     "each its own"),
    ("room/0/practical/+", WALL_LAMP, f'{GAUGE} › practical "wall lamp": this name stands 2 times; '
     "give each its own"),
    ("room/0/opening/+", WINDOW | {"wall": "C"}, f'{GAUGE} › opening "street window": this name '
     "stands 2 times; give each its own"),
    ("room/+", {"name": "kitchen", "outline": [[0, 0], [1, 0], [0, 1]], "height": 2}, f"{KITCHEN}: "
     "this name stands 2 times; give each its own"),
    ("setup/1/name", "reading the gauge", f"{READING}: this name stands 2 times; give each "
     "its own"),
    ("room/0/practical/0/name", "at the gauge", f'{READING} › camera › toward: "at the gauge" is '
     "the name of a mark and a practical; rename one"),
]  # fmt: skip


def test_the_file_of_these_cases_is_good(tmp_path: Path) -> None:
    assert len(understood(tmp_path, good()).room) == 2


@pytest.mark.parametrize(("path", "value", "message"), KEYS + PLACES + NAMES)
def test_a_mistake_is_told_once(tmp_path: Path, path: str, value: Any, message: str) -> None:
    assert told(tmp_path, edited((path, value))) == [message]


def test_a_mistake_in_the_only_room_is_one(tmp_path: Path) -> None:
    doc = edited(("room/0/mark/0/height", [1.8, 1.2]))
    doc["room"], doc["setup"] = doc["room"][:1], doc["setup"][:1]
    (line,) = told(tmp_path, doc)
    assert "› height: [1.8, 1.2] is not right" in line


def with_opening(index: int | str, opening: dict[str, Any]) -> dict[str, Any]:
    return edited((f"room/0/opening/{index}", opening))


@pytest.mark.parametrize(
    "edits",
    [
        {"at": [0.45, 1.2], "turn": 45},  # half its diagonal is 0.57 m
        {"at": [1.6, 2.0], "size": [0.4, 0.81]},
    ],
)
def test_a_hole_partly_outside(tmp_path: Path, edits: dict[str, Any]) -> None:
    roof_light = good()["room"][0]["opening"][1] | edits
    (line,) = told(tmp_path, with_opening(1, roof_light))
    assert line.startswith(f'{GAUGE} › opening "roof light" › at: [')
    assert " m puts part of the hole outside the room; " in line


@pytest.mark.parametrize(
    ("other", "over"),
    [
        ({"wall": "A", "along": 0.9}, "street window"),
        ({"wall": "a", "along": 0.9}, "street window"),
        ({"wall": "A", "along": 1.99}, "street window"),
        ({"wall": "A", "along": 0.1, "sill": 2.19}, "street window"),
        ({"wall": "A", "along": 2.0}, None),  # side by side
        ({"wall": "A", "along": 0.9, "sill": 2.2}, None),  # one above the other
        ({"wall": "C", "along": 0.9}, None),
        ({"ceiling": True, "at": [2.2, 1.4], "size": [0.6, 0.6]}, "roof light"),
        ({"ceiling": True, "at": [2.3, 1.2], "size": [0.6, 0.6]}, None),
        # The corner of a hole turned by 45° would reach 0.42 m: into the roof light, or just not.
        ({"ceiling": True, "at": [2.4, 1.2], "size": [0.6, 0.6], "turn": 45}, "roof light"),
        ({"ceiling": True, "at": [2.43, 1.2], "size": [0.6, 0.6], "turn": 45}, None),
    ],
)
def test_openings_that_overlap(tmp_path: Path, other: dict[str, Any], over: str | None) -> None:
    place = {} if "ceiling" in other else {"sill": 1.0, "size": [0.9, 0.4]}
    doc = with_opening("+", {"name": "other"} | place | other)
    if over is None:
        assert len(understood(tmp_path, doc).room[0].opening) == 3
    else:
        message = f'{GAUGE} › opening "other": overlaps opening "{over}"; move one'
        assert told(tmp_path, doc) == [message]


@pytest.mark.parametrize("plan_up_deg", [12.0, 300.0])
@pytest.mark.parametrize(
    ("size", "pitch_deg", "turn_deg", "down_deg"),
    [
        ([0.8, 1.0], 40, 0, 180),
        ([0.8, 1.0], 40, 0, 90),
        ([0.8, 1.0], 40, 0, 0),
        ([0.8, 1.0], 25, 30, 150),
        ([0.7, 1.2], 60, -20, 75),
        ([1.1, 0.5], 5, 0, 217),
    ],
)
def test_a_shaft_too_shallow_for_its_pitch(
    tmp_path: Path,
    size: list[float],
    pitch_deg: float,
    turn_deg: float,
    down_deg: float,  # clockwise from the plan's up: which way the glass slopes down
    plan_up_deg: float,
) -> None:
    """The glass meets its shaft's lowest corner at the ceiling, and a millimetre either side."""
    # A rectangle reaches |w/2 cos| + |h/2 sin| from its centre along a line, angle from its side.
    angle = math.radians(90 - down_deg - turn_deg)
    reach = abs(size[0] / 2 * math.cos(angle)) + abs(size[1] / 2 * math.sin(angle))
    least = reach * math.tan(math.radians(pitch_deg))
    faces = (plan_up_deg + down_deg) % 360

    def roof_window(depth: float) -> dict[str, Any]:
        window = {"name": "roof window", "ceiling": True, "at": [1.5, 3.5], "size": size}
        window |= {"turn": turn_deg, "pitch": pitch_deg, "faces": faces, "depth": depth}
        return edited(("room/1/opening/1", window), ("location/plan_up", plan_up_deg))

    assert understood(tmp_path, roof_window(least + 0.001)).room[1].opening[1].faces == faces
    (line,) = told(tmp_path, roof_window(least - 0.001))
    assert line.startswith(f'{KITCHEN} › opening "roof window" › depth: ')
    assert f" is too small for a pitch of {pitch_deg:g}°; expected more than " in line


def test_a_shaft_by_hand(tmp_path: Path) -> None:
    """A metre of hole down a slope of 45°: half a metre from its centre to its lower side."""
    doc = edited(("room/1/opening/1/pitch", 45), ("room/1/opening/1/depth", 0.4))
    assert told(tmp_path, doc) == [
        f'{KITCHEN} › opening "roof window" › depth: 0.40 m is too small for a pitch of 45°; '
        "expected more than 0.50 m"
    ]


def test_mistakes_in_a_file_in_feet_are_told_in_feet(tmp_path: Path) -> None:
    doc = in_feet(good())
    doc["location"]["units"] = "ft"
    doc["room"][0]["opening"][0]["along"] = 8
    doc["room"][0]["mark"][0]["at"] = [12, 3.5]
    assert told(tmp_path, doc) == [
        f'{GAUGE} › opening "street window" › along: the opening runs from 8\'0" to 11\'7½" '
        "along wall A; expected it between 0\" and 10'6\", the wall's length",
        f'{GAUGE} › mark "at the gauge" › at: [12, 3.5] ft lies outside the room\'s outline; '
        "expected a place within",
    ]


# --- many mistakes at once ----------------------------------------------------------------

AT_ONCE = [
    "location/latitud",
    "location/longitude",
    "location/timezone",
    "location/plan_up",
    "outside/0/size",
    "room/0/hieght",
    "room/0/mark/0/hight",
    "room/0/opening/0/along",
    "room/0/opening/0/glass",
    "room/0/practical/0/at",
    "room/1/mark/0/at",
    "room/1/opening/1/faces",
    "setup/0/camera/at",
    "setup/0/key/lamp",
    "setup/0/key/from",
    "setup/0/kit",
    "setup/0/mark",
    "setup/0/plays",
    "setup/1/camera/at",
    "setup/1/exposure/iso",
    "skyline/0/points",
]


def test_all_mistakes_are_told_at_once_and_each_once(tmp_path: Path) -> None:
    rows = {path: (value, message) for path, value, message in reversed(KEYS + PLACES + NAMES)}
    found = told(tmp_path, edited(*((path, rows[path][0]) for path in AT_ONCE)))
    # The kit is not known, so nothing can be said of the lamps in it.
    wanted = [rows[path][1] for path in AT_ONCE if path != "setup/0/key/lamp"]
    assert sorted(found) == sorted(wanted)


@pytest.mark.parametrize(
    "edits",
    [
        # a broken outline: its window past a wall's end and a mark outside follow from it
        [("room/0/outline", [[0, 0], [1, 1], [1, 0], [0, 1]])],
        # a room by another name: the setup's mark and camera cannot be looked for
        [("setup/0/room", "hall"), ("setup/0/mark", "nowhere"), ("setup/0/camera/at", [90, 90])],
        # a unit that is none: no length can be compared
        [("location/units", "yd"), ("room/0/opening/0/along", 99), ("setup/0/camera/at", [9, 9])],
        # a misspelt key: not missing as well, and what stands below it is used
        [("room/1/marks", good()["room"][1]["mark"]), ("room/1/mark", DROP)],
        [("location/latitud", 52.0907), ("location/latitude", DROP)],
        [("room/0/hieght", "tall"), ("room/0/height", DROP)],
        # a name to be put right: nothing that names it is wrong yet
        [("room/0/mark/0/name", 5)],
        [("room/0/name", 5)],
    ],
)
def test_what_follows_from_a_mistake_is_not_told(
    tmp_path: Path, edits: list[tuple[str, Any]]
) -> None:
    assert len(told(tmp_path, edited(*edits))) == 1


# --- whatever stands in a file ------------------------------------------------------------


def places(value: Any, path: str = "") -> Iterator[str]:
    """Every key and every number of an array in a document."""
    if not isinstance(value, dict | list):
        return
    for key, one in value.items() if isinstance(value, dict) else enumerate(value):
        yield f"{path}{key}"
        yield from places(one, f"{path}{key}/")


def values(value: Any) -> Iterator[Any]:
    """Every value of a document, with the tables and arrays themselves."""
    yield value
    if isinstance(value, dict | list):
        for one in value.values() if isinstance(value, dict) else value:
            yield from values(one)


WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
LEAVES = st.one_of(
    st.booleans(),
    st.integers(-10, 400),
    st.integers(-(10**400), 10**400),
    st.floats(),
    st.floats(-5, 5),
    WORDS,
    st.dates(),
    st.times(),
    st.datetimes(),
    # what is right somewhere in a good file, now somewhere else
    st.sampled_from(list(values(good()))),
)
ANYTHING = st.recursive(
    LEAVES,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=4),
    max_leaves=8,
)


def reads_or_tells(path: Path) -> None:
    """A file is read, or refused with each mistake on a line of its own after the file's name."""
    lines: list[str] = []
    try:
        assert read(path).file == str(path)
    except SunplanError as error:
        lines = str(error).split("\n")
    assert [line for line in lines if not line.startswith(f"{path}: ")] == []
    assert len(set(lines)) == len(lines)


@settings(max_examples=few_or_many(150, 400), deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(list(places(good()))), st.just(DROP) | ANYTHING),
        min_size=1,
        unique_by=lambda edit: edit[0].split("/")[0],  # so that no edit takes another's place away
    )
)
def test_nothing_but_our_own_errors(folder: Path, edits: list[tuple[str, Any]]) -> None:
    reads_or_tells(written(folder, edited(*edits)))


def test_any_value_of_the_demo_may_be_no_number(tmp_path: Path) -> None:
    """Every mistake is told in our words, wherever it stands: also where another rests on it."""
    (tmp_path / "shared").symlink_to(ROOT / "shared")
    doc = tomllib.loads(DEMO.read_text(encoding="utf-8"))
    wrong = 0
    for path in places(doc):
        *way, last = (int(step) if step.isdigit() else step for step in path.split("/"))
        changed = copy.deepcopy(doc)
        at: Any = changed
        for step in way:
            at = at[step]
        if isinstance(at[last], int | float) and not isinstance(at[last], bool):
            at[last] = "x"
            reads_or_tells(written(tmp_path, changed))
            wrong += 1
    assert wrong > 150


@settings(max_examples=100, deadline=None)
@given(text=st.text(st.characters(exclude_categories=["Cs"])), at=st.integers(0, len(GOOD)))
def test_nothing_but_our_own_errors_for_any_text(folder: Path, text: str, at: int) -> None:
    reads_or_tells(written(folder, GOOD[:at] + text + GOOD[at:]))


# --- any room -----------------------------------------------------------------------------


@st.composite
def rooms(draw: st.DrawFn) -> dict[str, Any]:
    """A room of 3 to 9 corners, seen from its middle all round, and an opening on some walls."""
    count = draw(st.integers(3, 9))
    height = draw(st.floats(2, 4))
    outline = []
    for index in range(count):
        angle = 2 * math.pi * (index + draw(st.floats(0, 0.4))) / count
        radius = draw(st.floats(1.5, 8))
        outline.append([radius * math.cos(angle), radius * math.sin(angle)])
    openings: list[dict[str, Any]] = []
    for index in range(count):
        length = math.dist(outline[index], outline[(index + 1) % count])
        if draw(st.booleans()) or (not openings and index == count - 1):
            along, sill = draw(st.floats(0, 0.8)) * length, draw(st.floats(0, 0.8)) * height
            share = st.floats(0.2, 1)
            size = [draw(share) * (length - along), draw(share) * (height - sill)]
            letter = string.ascii_uppercase[index]
            openings.append(
                {"name": letter, "wall": letter, "along": along, "sill": sill, "size": size}
            )
    return {"name": "room", "outline": outline, "height": height, "opening": openings}


def house(room: dict[str, Any]) -> dict[str, Any]:
    return {"location": good()["location"], "room": [room]}


@settings(max_examples=60, deadline=None)
@given(raw=rooms(), clockwise=st.booleans())
def test_a_good_room_reads(folder: Path, raw: dict[str, Any], clockwise: bool) -> None:
    """Its walls as shapely measures them, and each faces away from the room."""
    corners = raw["outline"]
    walked = [corners[0], *reversed(corners[1:])] if clockwise else corners
    site = understood(folder, house(raw | {"outline": walked}))
    room, outline = site.room[0], shapely.Polygon(corners)
    assert shapely.LinearRing(room.outline).is_ccw
    assert shapely.Polygon(room.outline).area == pytest.approx(outline.area)
    assert room.outline[0] == tuple(corners[0])
    lengths = [math.dist(*room.wall(index)) for index in range(len(corners))]
    assert sum(lengths) == pytest.approx(outline.length)
    for index, (one, other) in enumerate(map(room.wall, range(len(corners)))):
        assert shapely.LineString([one, other]).length == pytest.approx(lengths[index])
        assert outline.exterior.distance(shapely.LineString([one, other]).centroid) < 1e-9
        way = math.radians(room.faces_deg(index, site.site.plan_up) - site.site.plan_up)
        x, y = (one[0] + other[0]) / 2, (one[1] + other[1]) / 2
        step = (1e-4 * math.sin(way), 1e-4 * math.cos(way))
        assert not outline.contains(shapely.Point(x + step[0], y + step[1]))
        assert outline.contains(shapely.Point(x - step[0], y - step[1]))


@settings(max_examples=60, deadline=None)
@given(raw=rooms(), data=st.data(), by=st.floats(0.002, 20), before=st.booleans())
def test_an_opening_past_its_wall_is_refused(
    folder: Path, raw: dict[str, Any], data: st.DataObject, by: float, before: bool
) -> None:
    opening = data.draw(st.sampled_from(raw["opening"]))
    index = string.ascii_uppercase.index(opening["wall"])
    ends = raw["outline"][index], raw["outline"][(index + 1) % len(raw["outline"])]
    length = shapely.LineString(ends).length
    opening["along"] = -by if before else length - opening["size"][0] + by
    (line,) = told(folder, house(raw))
    assert line.startswith(f'room "room" › opening "{opening["name"]}" › along: the opening runs ')
    assert f" along wall {opening['wall']}; expected it between 0" in line


@settings(max_examples=60, deadline=None)
@given(raw=rooms(), data=st.data())
def test_another_start_corner_moves_the_letters(
    folder: Path, raw: dict[str, Any], data: st.DataObject
) -> None:
    """Started `k` corners on, every wall's letter is `k` places earlier and its place the same."""
    before = understood(folder, house(raw)).room[0]
    count = len(raw["outline"])
    k = data.draw(st.integers(1, count - 1))
    letters = string.ascii_uppercase[:count]
    moved = copy.deepcopy(raw)
    moved["outline"] = raw["outline"][k:] + raw["outline"][:k]
    for opening in moved["opening"]:
        opening["wall"] = letters[letters.index(opening["wall"]) - k]
    after = understood(folder, house(moved)).room[0]
    for one, other in zip(before.opening, after.opening, strict=True):
        assert one.wall is not None
        assert other.wall is not None
        assert one.wall != other.wall
        assert before.wall_way(one.wall) == after.wall_way(other.wall)
    assert {before.wall_way(letter) for letter in letters} == {
        after.wall_way(letter) for letter in letters
    }
