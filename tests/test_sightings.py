"""A few sightings become a skyline and blocks that stand where they were seen."""

from __future__ import annotations

import csv
import io
import json
import math
import subprocess
import tomllib
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from inside import command
from places import bare, made, written

from sunplan.errors import InputError
from sunplan.location.edit import Edit, edited, rewritten, with_tables
from sunplan.location.geometry import block_corners
from sunplan.location.model import Outside, Skyline
from sunplan.location.read import read
from sunplan.room.obstructions import skyline_altitude_deg
from sunplan.survey.compass import declination
from sunplan.survey.sightings import Building, Sighting, building, corner, sight, skylines, tables

ROOT = Path(__file__).parent.parent
BEARINGS = st.integers(0, 359)


@given(st.lists(BEARINGS, min_size=2, max_size=12, unique=True), st.data())
def test_the_skyline_is_what_was_sighted(bearings: list[int], data: st.DataObject) -> None:
    """At each sighting the horizon stands as high as was seen; parts far apart are not joined."""
    sights = [Sighting(float(one), data.draw(st.floats(0.5, 60.0))) for one in bearings]
    gaps = np.diff([*sorted(bearings), min(bearings) + 360])
    if ((gaps > 45) & (np.roll(gaps, 1) > 45)).any():
        with pytest.raises(InputError, match="stands alone"):
            skylines(sights)
        return
    lines = skylines(sights)
    made_of = [Skyline(points=[(s.bearing_deg, s.altitude_deg) for s in line]) for line in lines]
    at = np.array([one.bearing_deg for one in sights])
    wanted = [one.altitude_deg for one in sights]
    assert skyline_altitude_deg(made_of, at) == pytest.approx(np.array(wanted))
    rising = sorted(bearings)
    for one, after in zip(rising, [*rising[1:], rising[0] + 360], strict=True):
        middle = np.array([(one + after) / 2 % 360.0])
        assert (skyline_altitude_deg(made_of, middle)[0] > 0) == (after - one <= 45)


@given(
    BEARINGS,
    st.floats(3.0, 200.0),
    st.floats(2.0, 40.0),
    st.floats(1.0, 50.0),
    st.floats(-20.0, 20.0),
    st.floats(-20.0, 20.0),
    st.floats(0.0, 359.0),
)
def test_a_building_stands_where_it_was_seen(
    bearing: int, far: float, high: float, wide: float, x: float, y: float, plan_up: float
) -> None:
    """Its face square to the sight, as far, as wide; its middle at the bearing: plane geometry."""
    at, turn = corner(Building(float(bearing), far, high, wide), (x, y), plan_up_deg=plan_up)
    block = Outside(at=at, size=(wide, 5.0, high), turn=turn)
    plan = shapely.Polygon(block_corners(block))
    assert plan.distance(shapely.Point(x, y)) == pytest.approx(far)
    angle = math.radians(bearing - plan_up)
    way = np.array([math.sin(angle), math.cos(angle)])
    middle = np.array(plan.centroid.coords[0]) - [x, y]
    assert middle == pytest.approx(way * (far + 2.5), abs=1e-6)
    across = np.array(plan.exterior.coords) @ [way[1], -way[0]]
    assert np.ptp(across) == pytest.approx(wide)


def test_how_high_by_its_altitude() -> None:
    """45 degrees up from 20 m away is 20 m above the eye."""
    assert building("30: 20 m away, 45° up, 8 m wide").height_m == pytest.approx(21.6)
    assert building("30: 66 ft away, 40 ft high").distance_m == pytest.approx(66 * 0.3048)


def test_magnetic_sightings_are_made_true() -> None:
    """By the World Magnetic Model: 12.8 degrees in Sydney (NOAA's calculator, mid 2026)."""
    declined = declination(-33.8688, 151.2093, year=2026.50411).degrees
    assert sight("80: 4", declined_deg=declined).bearing_deg == pytest.approx(92.82, abs=0.01)
    assert sight("355: 4", declined_deg=declined).bearing_deg == pytest.approx(7.82, abs=0.01)


@pytest.mark.parametrize("units", ["m", "ft"])
def test_the_tables_read(units: str, tmp_path: Path) -> None:
    raw = bare()
    raw["location"] |= {"units": units}
    location = made(raw, tmp_path)
    found = tables(
        location,
        [Sighting(80.0, 4.0), Sighting(110.0, 9.5)],
        [building("210: 35 m away, 12 m high"), building("30: 60 m away, 9 m high, 30 m wide")],
        (1.0, -2.0),
    )
    file = Path(location.file)
    text = with_tables(file.read_text(encoding="utf-8"), list(found.new.values()))
    file.write_text(text, encoding="utf-8")
    again = read(file)
    assert again.skyline[-1].points == ((80.0, 4.0), (110.0, 9.5))
    first, second = again.outside[-2:]
    assert (first.name, second.name) == ("building 1", "building 2")
    assert first.size == pytest.approx((10.0, 5.0, 12.0), abs=0.01)
    assert second.size == pytest.approx((30.0, 5.0, 9.0), abs=0.01)
    far = shapely.Polygon(block_corners(first)).distance(shapely.Point(1.0, -2.0))
    assert far == pytest.approx(35.0, abs=0.05)


def run(file: Path, *options: str) -> subprocess.CompletedProcess[str]:
    return command("skyline", file, *options, cwd=ROOT)


def test_written_behind_what_is_there(tmp_path: Path) -> None:
    """Every byte before it stays; the file reads; nothing is written where it would not."""
    file = Path(made(bare(), tmp_path).file)
    before = file.read_bytes()
    done = run(file, "--sight", "80: 4", "--sight", "100: 6", "--write")
    assert (done.returncode, done.stderr) == (0, "")
    after = file.read_bytes()
    assert after.startswith(before)
    said = f"\n{file}: written: [[skyline]] from 80° to 100°\n"
    assert after.endswith(done.stdout.removesuffix(said).encode())
    assert done.stdout.endswith(said)
    assert run(file, "--sight", "80: 4", "--sight", "100: 6", "--write").stdout == (
        f"{file}: [[skyline]] from 80° to 100°: stands there already\n"
    )
    assert file.read_bytes() == after
    assert read(file).skyline[-1].points == ((80.0, 4.0), (100.0, 6.0))
    # A building in the room's own middle cannot stand there.
    room = read(file).room[0]
    middle = np.mean(room.outline, axis=0)
    spot = f"{middle[0]},{middle[1]}"
    done = run(file, "--building", "0: 0.1 m away, 9 m high", "--spot", spot, "--write")
    assert done.returncode == 2
    assert "building 1" in done.stderr
    assert file.read_bytes() == after
    assert [one.name for one in tmp_path.iterdir() if one.suffix == ".toml"] == [file.name]


def test_a_building_is_not_doubled(tmp_path: Path) -> None:
    raw = bare()
    raw["location"] |= {"units": "ft"}
    file = Path(made(raw, tmp_path).file)
    given = ("--building", "210: 35 m away, 12 m high", "--spot", "1,-2", "--write")
    assert run(file, *given).stdout.endswith(f'{file}: written: [[outside]] "building 1"\n')
    once = file.read_bytes()
    assert run(file, *given).stdout == f'{file}: [[outside]] "building 1": stands there already\n'
    assert file.read_bytes() == once


APART = """\
[[outside]]  # across
name = "a"
size = [1, 2, 3] # long

# the far side
[[skyline]]
points = [[1, 2], [3, 4]]
[location]
plan_up = 7  # by the map
text = '''
[[outside]]
size = 9'''
[[outside]]
name = 'b'
size = [4, 5,  # deep
  6]  # high

[[outside.part]]
at = 1979-05-27 07:32:00

# the end
"""


def test_tables_apart_from_each_other() -> None:
    """Python's tomllib reads what stood there, and what was put in; all else stays as it is."""
    new = with_tables(APART, ['[[outside]]\nname = "c"\n', "[[skyline]]\nx = 1\n"])
    assert new == APART.replace("07:32:00\n", '07:32:00\n\n[[outside]]\nname = "c"\n').replace(
        "[3, 4]]\n", "[3, 4]]\n\n[[skyline]]\nx = 1\n"
    )
    assert [one["name"] for one in tomllib.loads(new)["outside"]] == ["a", "b", "c"]


def test_values_of_tables_apart(tmp_path: Path) -> None:
    file = tmp_path / "place.toml"
    file.write_text(APART)
    edits = [
        Edit(("outside", 1, "size", 2), "6.5"),
        Edit(("outside", 1, "turn"), "3", beside="size"),
        Edit(("outside", 0, "size", 0), "1.5"),
        Edit(("outside", 1, "part", 0, "at"), "2"),
    ]
    expected = APART.replace("  6]  # high\n", "  6.5]  # high\nturn = 3\n")
    for old, new in (("[1, 2, 3]", "[1.5, 2, 3]"), ("1979-05-27 07:32:00", "2")):
        expected = expected.replace(old, new)
    assert edited(file, edits) == expected
    assert rewritten(file, 4.5, 0.2).decode() == APART.replace(
        "plan_up = 7  # by the map\n", "plan_up = 4.5  # by the map\nplan_up_error = 0.2\n"
    )


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ([], "--sight, --building: give at least one"),
        (["--sight", "80"], '--sight 80: is no sighting; expected one such as "80: 4"'),
        (["--sight", "80: 91"], "--sight 80: 91: expected an altitude from -5 to below 90 degrees"),
        (["--sight", "400: 4"], "--sight 400: 4: expected a bearing from 0 to 360 degrees"),
        (["--sight", "80: 4"], "--sight: the one at 80 degrees stands alone; expected another"),
        (["--sight", "80: 4", "--sight", "80: 5"], "--sight: two at 80 degrees"),
        (["--building", "80: 3 m away"], "--building 80: 3 m away: is no building; expected one"),
        (["--building", "80: 3 m away, 4 m high"], "--spot: is missing; a building needs the spot"),
        (
            ["--building", "80: 3 m away, 4 m high", "--spot", "1"],
            "--spot 1: expected a spot of the plan such as 1.5,2.0",
        ),
    ],
)
def test_mistakes(options: list[str], message: str) -> None:
    done = run(ROOT / "locations" / "lock-house.toml", *options)
    assert done.returncode == 2
    assert done.stderr.startswith(message)
    assert done.stdout == ""


def test_for_programs(tmp_path: Path) -> None:
    """The new tables in metres, whatever the file's unit: as those that are written are read."""
    raw = bare()
    raw["location"]["units"] = "ft"
    file = written(raw, tmp_path)
    seen = ("--sight", "80: 4", "--sight", "110: 9", "--spot", "1,1")
    asked = (*seen, "--building", "210: 35 m away, 12 m high, 20 m wide")
    (row,) = (
        one for one in csv.DictReader(io.StringIO(run(file, *asked, "--csv").stdout)) if one["name"]
    )
    assert row["name"] == "building 1"
    told = json.loads(run(file, *asked, "--json", "--write").stdout)
    assert told["written"]
    assert told["there"] == []
    place = read(file)
    assert [(one["bearing_deg"], one["altitude_deg"]) for one in told["skyline"][0]["points"]] == [
        *place.skyline[0].points
    ]
    (made,), (block,) = told["outside"], place.outside
    assert [*made["at"], *made["size"]] == pytest.approx([*block.at, *block.size])
    assert made["size"][2] == pytest.approx(12.0, abs=0.01)
    again = json.loads(run(file, *asked, "--json").stdout)
    assert (again["skyline"], again["outside"], len(again["there"])) == ([], [], 2)
