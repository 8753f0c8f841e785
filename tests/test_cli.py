"""The command as its users run it: whole outputs, exit codes, one message for a mistake."""

from __future__ import annotations

import csv
import io
import json
import math
import os
import pty
import re
import signal
import subprocess
import sys
import unicodedata
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import random_rooms
from inside import command as run
from places import bare, made, written
from rich.text import Text
from typer.main import get_command

from sunplan.cli import DAY, LIGHT, PLACE, SHOOT, app
from sunplan.light.resolved import resolve
from sunplan.report.document import Document, Line, Table
from sunplan.room.entry import day_entries
from sunplan.write import terminal

ROOT = Path(__file__).parent.parent
DEMOS = sorted((ROOT / "locations").glob("*.toml"))
LOCK = ROOT / "locations" / "lock-house.toml"


COMMANDS = (
    *("new", "check", "bearing", "ask", "skyline", "entry", "flags", "gap", "hours", "days"),
    *("key", "negfill", "blackout", "order", "pack", "plan"),
)


def refused(*args: object) -> str:
    """The one message of a command that is refused."""
    done = run(*args)
    assert done.returncode == 2, (done.stdout, done.stderr)
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    return done.stderr


def answer(*args: object) -> dict:
    done = run(*args, "--json")
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    found: dict = json.loads(done.stdout)
    return found


def test_version_and_help() -> None:
    assert run("--version").stdout.startswith("sunplan ")
    told = run("--help").stdout
    for name in COMMANDS:
        assert name in told
        assert "Example: sunplan" in run(name, "--help").stdout
        assert run(name, "-h").stdout == run(name, "--help").stdout


def test_help_lists_commands_by_the_phases_of_the_job() -> None:
    told = run("-h").stdout
    heads = [told.index(phase) for phase in (PLACE, DAY, LIGHT, SHOOT)]
    first = [told.index(f"│ {name} ") for name in ("new", "entry", "flags", "order")]
    assert sorted(heads + first) == [
        place for pair in zip(heads, first, strict=True) for place in pair
    ]


def test_an_option_is_one_thing() -> None:
    """Where commands share an option, it takes the same kind of value."""
    taken: dict[str, set[str]] = {}
    for command in get_command(app).commands.values():  # type: ignore[attr-defined]
        for param in command.params:
            if param.param_type_name == "option":
                kind = f"{param.metavar or param.type_descriptor.annotation}"
                taken.setdefault(param.opts[0], set()).add(kind)
    assert {option: kinds for option, kinds in taken.items() if len(kinds) > 1} == {}


def test_one_setup_alone() -> None:
    """`--setup` tells of one setup, and of its room and mark, in every command about setups."""
    day = ("--date", "2027-03-20", "--setup", "the kettle")
    told = answer("entry", LOCK, *day)
    assert {opening["room"] for opening in told["openings"]} == {"kitchen"}
    assert [mark["mark"] for mark in told["marks"]] == ["at the stove"]
    assert [turn["setup"] for turn in answer("order", LOCK, *day)["setups"]] == ["the kettle"]
    slots = answer("pack", LOCK, *day)["running"]
    assert [slot["setup"] for slot in slots] == ["the kettle"]


def test_times_are_those_of_the_files_day() -> None:
    day = ("--date", "2027-03-20", "--setup", "the kettle")
    hours = ("--from", "09:00", "--to", "19:00")  # the lock house's call and wrap
    for name in ("flags", "blackout", "hours"):
        assert answer(name, LOCK, *day) == answer(name, LOCK, *day, *hours)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--sky", "overcast", "--direct-lux", "3"), "--direct-lux and --diffuse-lux: give both"),
        (("--sky", "overcast", "--turbidity", "4"), "--turbidity 4: goes with a clear or hazy sky"),
        (("--turbidity", "4"), "--sky: say how the sky is, with a turbidity or a measured level"),
        (
            *(
                (
                    "--sky",
                    "clear",
                    "--turbidity",
                    "4",
                    "--direct-lux",
                    "3e4",
                    "--diffuse-lux",
                    "9e3",
                ),
            ),
            "--turbidity 4: says nothing beside measured levels",
        ),
    ],
)
def test_what_would_be_dropped_is_refused(options: tuple[str, ...], message: str) -> None:
    assert refused("gap", LOCK, "--date", "2027-03-20", *options).startswith(message)


def test_help_is_shown_as_it_is_written() -> None:
    """By rich's own markup: nothing in brackets is taken for a style."""
    group = get_command(app)
    commands = [group, *getattr(group, "commands", {}).values()]
    assert len(commands) == len(COMMANDS) + 1
    texts = [text for one in commands for text in (one.help, one.epilog)]
    texts += [getattr(each, "help", None) for one in commands for each in one.params]
    told = [text for text in texts if text]
    assert len(told) > 100
    for one in told:
        assert Text.from_markup(one).plain == one.replace("\\[", "[")
    assert any("[\\[" in text for text in told)


def test_check_tells_what_may_be_off(tmp_path: Path) -> None:
    raw = bare()
    raw["location"] |= {"size_error": "10 cm", "place_error": 0.2}
    raw["room"][0]["opening"][0] |= {"size_error": 0.0, "place_error": 0.05}
    raw["room"][0]["mark"][0]["place_error"] = 0.3
    raw["outside"] = [{"name": "barn", "at": [9, 9], "size": [5, 5, 5], "place_error": 3}]
    raw["skyline"] = [{"points": [[80, 4], [120, 9.5]]}]
    file = written(raw, tmp_path)
    said = run("check", file).stdout
    for line in (
        "sizes of openings and blocks ±0.10 m",
        "places of openings, marks and blocks ±0.20 m",
        "window: its size ±0.00 m, its place ±0.05 m",
        "chair: its place ±0.30 m",
        "barn: its place ±3.00 m",
        "skyline: 80° E 4° up, 120° SE 9.5° up",
    ):
        assert f"\n{line}\n" in said
    place = answer("check", file)["place"]
    assert (place["size_error_m"], place["place_error_m"]) == (0.1, 0.2)
    told = run("check", written(bare(), tmp_path)).stdout
    assert not any(word in told for word in ("±", "places of", "sizes of", "skyline"))


def test_output_that_cannot_go_out() -> None:
    """A full disk is told; a reader that has enough ends it without a word."""
    check = [sys.executable, "-m", "sunplan", "check", str(LOCK)]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(check, stdout=full, stderr=subprocess.PIPE, text=True, timeout=60)
    assert (done.returncode, done.stderr) == (2, "standard output: No space left on device\n")
    reader, writer = os.pipe()
    os.close(reader)
    done = subprocess.run(check, stdout=writer, stderr=subprocess.PIPE, text=True, timeout=60)
    os.close(writer)
    assert done.stderr == ""
    assert done.returncode == -signal.SIGPIPE


def test_output_is_utf_8_whatever_the_machine_writes() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sunplan", "check", str(LOCK)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "cp1252"},
        timeout=60,
    )
    assert (done.returncode, done.stderr) == (0, b"")
    assert "─" in done.stdout.decode("utf-8")


def test_nobody_is_sent_where_nobody_can_stand(tmp_path: Path) -> None:
    """The lock-keeper's canal window, were there water before it: flags outside are left out."""
    raw = random_rooms.read_location(LOCK)
    for setup in raw["setup"]:
        setup.pop("kit", None)
    asked = ("--date", "2027-03-20", "--from", "15:00", "--to", "18:30", "--setup", "the kettle")
    before = answer("flags", written(raw, tmp_path), *asked)["setups"][0]
    assert "outside" in [one["placement"] for one in before["flags"]]
    assert before["unreached"] == []
    raw["room"][1]["opening"][0]["before"] = "water"
    file = written(raw, tmp_path)
    after = answer("flags", file, *asked)["setups"][0]
    inside = [one for one in before["flags"] if one["placement"] != "outside"]
    dangers = [one.pop("hazards") for one in after["flags"]]
    assert after["flags"] == [
        {key: value for key, value in one.items() if key != "hazards"} for one in inside
    ]
    for one, asked_care in zip(inside, dangers, strict=True):
        drop = ["window over a drop"] if one["placement"] == "over the opening" else []
        assert set(asked_care) == {*one["hazards"], *drop}
    assert after["unreached"] == ["canal window"]
    assert (
        "\n    not outside: there is water before it\n"
        in run("flags", file, *asked, "--more").stdout
    )
    assert "water before it" in run("check", file).stdout


@pytest.mark.parametrize("file", DEMOS, ids=lambda path: path.stem)
@pytest.mark.parametrize(
    "command",
    [
        ("check",),
        ("entry", "--date", "2027-03-20"),
        ("flags", "--date", "2027-03-20"),
        ("gap", "--date", "2027-03-20"),
        ("key",),
        ("negfill", "--date", "2027-03-20", "--at", "15:00"),
        ("blackout", "--date", "2027-03-20", "--from", "15:00", "--to", "16:00"),
        ("pack", "--date", "2027-03-20"),
    ],
    ids=lambda command: command[0],
)
def test_tables_fit_80_columns(file: Path, command: tuple[str, ...]) -> None:
    done = run(command[0], file, *command[1:], COLUMNS="300")
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert max(len(line) for line in done.stdout.splitlines()) <= 80, done.stdout
    assert "\x1b" not in done.stdout
    assert "-0." not in done.stdout  # negative numbers carry a true minus


def test_a_table_too_wide_loses_nothing() -> None:
    rows = [("a" * 30, "b" * 30, "c" * 30, "d" * 30)]
    told = terminal.text(Document(None, [Table(("one", "two", "three", "four"), rows)]), "m")
    assert max(map(len, told.splitlines())) <= 80
    for letter in "abcd":
        assert told.count(letter) >= 30


def cells(text: str) -> int:
    """How wide a terminal shows a text: Unicode's East Asian Width (UAX 11), W and F take two."""
    return sum(
        0 if unicodedata.combining(sign) else 1 + (unicodedata.east_asian_width(sign) in "WF")
        for sign in text
    )


@pytest.mark.parametrize("word", ["水門", "🎬🎥", "cafe\u0301", "水" * 57, "a水" * 40])
def test_lines_are_folded_by_cells(word: str) -> None:
    words = " ".join([word] * 30)
    told = terminal.text(Document(None, [Line("over it", [words])]), "m").splitlines()[1:]
    assert max(map(cells, told)) <= 80
    assert max(map(cells, told)) >= 75  # and no earlier than need be
    assert "".join(told).replace(" ", "") == words.replace(" ", "")
    assert all(line[0] == " " and not unicodedata.combining(line.lstrip()[0]) for line in told)


def test_the_demos_cover_what_they_are_for() -> None:
    """Both hemispheres, three countries, feet and metres, all kinds of openings and looks."""
    from sunplan.location.read import read

    places = [read(file) for file in DEMOS]
    openings = [one for place in places for room in place.room for one in room.opening]
    assert len({place.timezone for place in places}) == 3
    assert {place.site.units for place in places} == {"m", "ft"}
    latitudes = [place.site.latitude for place in places]
    assert min(latitudes) < 0 < max(latitudes)
    assert any(one.ceiling and not one.pitch for one in openings)
    assert any(one.pitch for one in openings)
    assert any(not one.ceiling and one.depth > 0.5 for one in openings)
    assert any(len(room.outline) > 4 for place in places for room in place.room)
    assert all(place.outside for place in places)
    assert {one.plays for place in places for one in resolve(place)} >= {"dusk", "evening", "night"}


def test_entry_table(tmp_path: Path) -> None:
    """A whole answer: a bare south window on the day of an equinox."""
    done = run("entry", written(bare(), tmp_path), "--date", "2026-03-20", "--more")
    assert done.stdout == (
        "Lamp room, Friday 2026-03-20, local time (Europe/Amsterdam)\n"
        "sunrise 06:43, sunset 18:53; sun 6° down at 19:27, 12° down at 20:07\n"
        "\n"
        "Sun on each mark\n"
        "mark          from    to      through\n"
        "─────────────────────────────────────\n"
        "room: chair   10:36   14:58   window\n"
        "\n"
        "Sun through each opening\n"
        "opening        from    to      falls on\n"
        "──────────────────────────────────────────────\n"
        "room: window   07:02   18:33   wall D → wall B\n"
        "\n"
        "Where the sun falls\n"
        "opening        from    to      falls on\n"
        "────────────────────────────────────────────────────────────────\n"
        "room: window   07:02   18:33   wall D at 1.3 m → wall B at 1.3 m\n"
        "\n"
        "Not known: the weather, trees in leaf, and whatever the file does not name.\n"
        "Never look at the sun, least of all through a lens or an optical finder: it can\n"
        "blind.\n"
    )


def test_entry_json(tmp_path: Path) -> None:
    """The keys of the contract, moments with offsets, the same as the library gives."""
    raw = bare()
    raw["location"]["plan_up_error"] = 3.0
    found = answer("entry", written(raw, tmp_path), "--date", "2026-03-20")
    assert found["location"] == "Lamp room"
    assert found["date"] == "2026-03-20"
    assert found["timezone"] == "Europe/Amsterdam"
    assert found["place"]["plan_up_error"] == 3.0
    assert set(found["sun"]) >= {"rise", "set", "civil_dusk", "nautical_dusk"}
    (opening,) = found["openings"]
    (entry,) = opening["entries"]
    assert set(entry) >= {"from", "to", "from_range", "to_range", "largest_patch_m2"}
    assert datetime.fromisoformat(entry["from"]).utcoffset() is not None
    for end in ("from", "to"):
        early, late = (datetime.fromisoformat(moment) for moment in entry[f"{end}_range"])
        assert early < datetime.fromisoformat(entry[end]) < late
    (mark,) = found["marks"]
    assert mark["entries"][0]["opening"] == "window"
    stretch = day_entries(made(raw, tmp_path), datetime(2026, 3, 20).date()).openings[0]  # noqa: DTZ001
    moment = datetime.fromisoformat(entry["from"]).timestamp()
    assert moment == pytest.approx(stretch.intervals[0].start_s, abs=0.5)


@pytest.mark.parametrize(
    ("latitude", "always"), [(78.2, "up"), (-78.2, "down")], ids=["midnight sun", "polar night"]
)
def test_polar(latitude: float, always: str, tmp_path: Path) -> None:
    raw = bare()
    raw["location"]["latitude"] = latitude
    found = answer("entry", written(raw, tmp_path), "--date", "2026-06-21")
    assert found["sun"]["rise"] is None
    assert found["sun"]["always"] == always
    entries = found["openings"][0]["entries"]
    assert bool(entries) == (always == "up")


@pytest.mark.parametrize(("date", "hours"), [("2026-03-29", 23), ("2026-10-25", 25)])
def test_days_of_23_and_25_hours(date: str, hours: int, tmp_path: Path) -> None:
    """The clocks go forward and back; the window at the pole sees the sun right round."""
    raw = bare()
    raw["location"]["latitude"] = 89.9 if hours == 23 else -89.9
    raw["room"][0]["opening"] = [
        {"name": "lantern", "ceiling": True, "at": [2, 1.5], "size": [3.9, 2.9], "depth": 0.02}
    ]
    raw["setup"][0]["camera"]["toward"] = "chair"
    found = answer("entry", written(raw, tmp_path), "--date", date)
    (entry,) = found["openings"][0]["entries"]
    first, last = (datetime.fromisoformat(entry[end]) for end in ("from", "to"))
    assert (last - first).total_seconds() == hours * 3600
    assert first.utcoffset() != last.utcoffset()


def test_span_and_csv(tmp_path: Path) -> None:
    file = written(bare(), tmp_path)
    span = ("entry", file, "--date", "2026-03-20", "--to-date", "2026-03-22")
    days = answer(*span)["days"]
    assert [day["date"] for day in days] == ["2026-03-20", "2026-03-21", "2026-03-22"]
    rows = list(csv.DictReader(io.StringIO(run(*span, "--csv").stdout)))
    table = run(*span).stdout
    assert table.count("Sun through each opening") == 3
    assert table.count("Never look at the sun") == 1
    told = [row["from"] for row in rows if row["mark"] == ""]
    assert told == [one["from"] for day in days for one in day["openings"][0]["entries"]]
    assert {row["mark"] for row in rows} == {"", "chair"}


def test_check_json() -> None:
    """The gate house, drawn in feet, told in metres: 14 ft is 4.2672 m."""
    found = answer("check", ROOT / "locations" / "gate-house.toml")
    room = found["room"][0]
    assert room["outline"][1] == pytest.approx([4.2672, 0.0])
    assert [wall["wall"] for wall in room["walls"]] == ["A", "B", "C", "D"]
    assert room["walls"][0]["faces_deg"] == pytest.approx(167.0)
    assert room["walls"][0]["length_m"] == pytest.approx(4.2672)


def test_key_json() -> None:
    found = answer("key", LOCK)["setups"]
    assert [one["setup"] for one in found] == [
        *("reading the gauge", "last coffee", "the kettle", "cannot sleep")
    ]
    for one in found:
        assert one["stops"] == pytest.approx(
            math.log2(one["key_side_lux"] / one["needed_lux"]), abs=1e-9
        )
        assert one["ratio"] == pytest.approx(one["key_side_lux"] / one["fill_side_lux"])
        assert {way["way"] for way in one["ways"]} >= {"ISO 1600"} or one["setup"] == "cannot sleep"


def test_no_light_is_null(tmp_path: Path) -> None:
    """A blacked-out window has no stops that JSON could hold; the table says so its own way."""
    raw = bare()
    raw["room"][0]["opening"][0]["dressing"] = "blackout"
    file = written(raw, tmp_path)
    args = ("gap", file, "--date", "2027-03-20", "--at", "12:00", "--sky", "overcast")
    (moment,) = answer(*args)["setups"][0]["times"]
    assert moment["openings"][0]["luminance_cd_m2"] == 0
    assert moment["openings"][0]["stops"] is None
    assert moment["ratio"] is None
    told = run(*args).stdout
    assert "∞ under" in told
    assert "black: let some light in" in told
    assert "inf" not in told


def test_what_is_wanted_of_a_dressed_window(tmp_path: Path) -> None:
    """A sheer is held against its own band, in words too; where windows differ each is named."""
    raw = bare()
    window = raw["room"][0]["opening"][0]
    window |= {"dressing": "sheer", "size": [0.9, 1.2]}
    asked = ("--date", "2027-03-20", "--at", "12:00", "--sky", "clear")
    said = run("gap", written(raw, tmp_path), *asked).stdout
    assert re.search(r"\nwatch +dusk +0 to 1 under ", said)
    raw["room"][0]["opening"].append(window | {"name": "other", "along": 2.1, "dressing": "none"})
    raw["setup"][0]["camera"] |= {"toward": [2.0, 0.0], "view": [70, 40]}
    said = run("gap", written(raw, tmp_path), *asked).stdout
    assert re.search(r"\nwatch +dusk +0 to 1 under \(window\) .*\n +1 to 2 under \(other\)\n", said)


def test_negative_json() -> None:
    at = ("--date", "2027-03-20", "--at", "17:00", "--setup", "cannot sleep")
    (setup,) = answer("negfill", LOCK, *at, "--sky", "overcast")["setups"]
    assert setup["wanted_ratio"] == 8
    assert setup["panels"]
    for panel in setup["panels"]:
        assert panel["fill_lux"] < setup["fill_lux_before"]
        assert panel["ratio"] > setup["ratio_before"]
    by_size: dict[str, list[float]] = {}
    for panel in setup["panels"]:
        by_size.setdefault(panel["stock"], []).append(panel["fill_lux"])
    for levels in by_size.values():
        assert levels == sorted(levels)  # nearer is darker


def test_flags_json() -> None:
    found = answer("flags", LOCK, "--date", "2027-03-20", "--setup", "the kettle")
    (setup,) = found["setups"]
    keys = {"opening", "covers", "placement", "centre", "across", "up", "needs_m", "stock"}
    keys |= {"stock_m", "stand_height_m", "clear_of_frame", "moves"}
    assert setup["flags"]
    for flag in setup["flags"]:
        assert set(flag) >= keys
        assert flag["covers"] == "sun"
        assert all(
            need <= have for need, have in zip(flag["needs_m"], flag["stock_m"], strict=True)
        )
        assert len(flag["moves"]) == len(flag["positions"]) - 1
    everything = answer("flags", LOCK, "--date", "2027-03-20", "--covers", "all")
    assert {f["covers"] for s in everything["setups"] for f in s["flags"]} == {"all"}


def test_gap_json() -> None:
    args = ("gap", LOCK, "--date", "2027-03-20", "--from", "17:00", "--to", "18:00")
    found = answer(*args, "--step", "15min", "--setup", "last coffee", "--sky", "overcast")
    assert found["sky"]["name"] == "overcast"
    assert set(found["sky"]) >= {
        *("direct_normal_lux", "diffuse_horizontal_lux", "sun_altitude_deg"),
        *("sun_bearing_deg", "model"),
    }
    (setup,) = found["setups"]
    assert [one["time"][11:16] for one in setup["times"]] == [
        *("17:00", "17:15", "17:30", "17:45", "18:00")
    ]
    keys = {"opening", "in_frame", "luminance_cd_m2", "stops", "wanted_stops", "lose_stops"}
    for moment in setup["times"]:
        assert moment["key_lux"] == pytest.approx(250 * 2.8**2 * 48 / 800)  # ISO 2720, C 250
        for opening in moment["openings"]:
            assert set(opening) >= keys | {"gel_density", "advice"}
    out = [o for o in setup["times"][0]["openings"] if not o["in_frame"]]
    assert out
    assert out[0]["stops"] is None


@pytest.mark.parametrize(
    ("args", "parts"),
    [
        (("entry", LOCK, "--date", "2026-02-30"), ["--date 2026-02-30", "YYYY-MM-DD"]),
        (("entry", LOCK, "--date", "today"), ["--date today", "YYYY-MM-DD"]),
        (
            ("entry", LOCK, "--date", "2026-03-02", "--to-date", "2026-03-01"),
            ["--to-date 2026-03-01", "before --date"],
        ),
        (("flags", LOCK, "--date", "2026-03-20", "--from", "25:00"), ["--from 25:00", "HH:MM"]),
        (
            ("flags", LOCK, "--date", "2026-03-20", "--from", "12:00", "--to", "11:00"),
            ["--to 11:00", "after --from 12:00"],
        ),
        (
            ("gap", LOCK, "--date", "2026-03-29", "--at", "02:30"),
            ["02:30 does not exist on 2026-03-29"],
        ),
        (
            ("gap", LOCK, "--date", "2026-03-29", "--from", "10:00"),
            ["--to", "is missing"],
        ),
        (
            ("gap", LOCK, "--date", "2026-03-20", "--step", "soon"),
            ["--step soon", "15min"],
        ),
        (
            ("gap", LOCK, "--date", "2026-03-20", "--setup", "the ketle"),
            ['"the ketle" is not known', 'did you mean "the kettle"?'],
        ),
        (("entry", LOCK, "--date", "2026-03-20", "--json", "--csv"), ["--json and --csv"]),
        (
            ("gap", LOCK, "--date", "2026-03-20", "--sky", "clear", "--direct-lux", "50000"),
            ["--direct-lux and --diffuse-lux", "both"],
        ),
        (
            ("gap", LOCK, "--date", "2026-03-20", "--sky", "clear", "--turbidity", "0"),
            ["--turbidity 0", "from 1 to 20"],
        ),
        (
            ("flags", LOCK, "--date", "2026-03-20", "--to", "08:00"),
            ["--to 08:00: does not lie after --from 09:00\n"],
        ),
        (("check", "nowhere.toml"), ["nowhere.toml", "no such file"]),
        (("check", LOCK, "--draw", "rooms.gif"), ["rooms.gif", ".png or .svg"]),
        (("check", LOCK, "--draw", "/nowhere/rooms.png"), ["/nowhere/rooms.png", "cannot be"]),
        (
            ("plan", LOCK, "--date", "2026-03-20", "--out", "/nowhere/day"),
            ["/nowhere/day", "no folder"],
        ),
    ],
    ids=lambda value: " ".join(map(str, value[:1] + value[2:])) if isinstance(value, tuple) else "",
)
def test_one_message(args: tuple, parts: list[str]) -> None:
    said = refused(*args)
    assert len(said.strip().splitlines()) == 1
    for part in parts:
        assert part in said


@pytest.mark.parametrize(
    ("latitude", "zone", "part"),
    [
        (120, "Europe/Amsterdam", "location › latitude: 120"),
        (52, "Europe/Atlantis", '"Europe/Atlantis" is no IANA time zone'),
    ],
)
def test_a_bad_file(latitude: float, zone: str, part: str, tmp_path: Path) -> None:
    raw = bare()
    raw["location"].update(latitude=latitude, timezone=zone)
    assert part in refused("entry", written(raw, tmp_path), "--date", "2026-03-20")


def test_broken_toml(tmp_path: Path) -> None:
    file = tmp_path / "broken.toml"
    file.write_text('[location]\nname = "x\n')
    said = refused("check", file)
    assert "line 2, column" in said


def differences(value: Any, other: Any, path: str = "") -> Iterator[str]:
    """Where two answers differ; numbers by more than 1 in 10^12."""
    if isinstance(value, dict) and isinstance(other, dict) and value.keys() == other.keys():
        for key in value:
            yield from differences(value[key], other[key], f"{path}.{key}")
    elif isinstance(value, list) and isinstance(other, list) and len(value) == len(other):
        for index, pair in enumerate(zip(value, other, strict=True)):
            yield from differences(*pair, f"{path}[{index}]")
    elif isinstance(value, float) and isinstance(other, float):
        if not math.isclose(value, other, rel_tol=1e-12):
            yield f"{path}: {value} {other}"
    elif value != other:
        yield f"{path}: {value} {other}"


def test_plan(tmp_path: Path) -> None:
    out = tmp_path / "day"
    done = run("plan", LOCK, "--date", "2027-03-20", "--out", out)
    assert done.returncode == 0, done.stderr
    names = {"plan.txt", "plan.json", "plan.html", "plan.ics", "plan.pdf", "rooms.png", "day.png"}
    names |= {f"sun-{room}.png" for room in ("gauge-room", "kitchen", "attic")} | {"gap.png"}
    names |= {f"flags-{name}.png" for name in ("reading-the-gauge", "last-coffee", "the-kettle")}
    assert {path.name for path in out.iterdir()} == names
    found = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert found["entry"] == answer("entry", LOCK, "--date", "2027-03-20")
    hours = ("--from", "09:00", "--to", "19:00")  # call and wrap where the file gives none
    assert found["flags"] == answer("flags", LOCK, "--date", "2027-03-20", *hours)
    for name, options in (("gap", ()), ("order", ()), ("pack", ("--best",))):
        alone = answer(name, LOCK, "--date", "2027-03-20", *options)
        # The light of many moments together rounds otherwise, in the last digit.
        assert list(differences(found[name], alone)) == []
    assert found["key"] == answer("key", LOCK)
    (night,) = found["exteriors"]["setups"]
    assert night["setup"] == "the lock at night"
    told = (out / "plan.txt").read_text(encoding="utf-8")
    assert max(map(len, told.splitlines())) <= 80
    assert told.count("Never look at the sun") == 1
    _, care = told.split("\n\n\nSAFETY\n")
    assert "Never look at the sun" in care


def test_plan_spares_what_it_did_not_make(tmp_path: Path) -> None:
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "letter.txt").write_text("dear")
    said = refused("plan", LOCK, "--date", "2027-03-20", "--out", mine)
    assert "did not make" in said
    assert (mine / "letter.txt").read_text() == "dear"
    file = tmp_path / "file"
    file.write_text("")
    assert "is a file" in refused("plan", LOCK, "--date", "2027-03-20", "--out", file)


def test_a_failed_drawing_leaves_the_old_one(tmp_path: Path) -> None:
    picture = tmp_path / "rooms.png"
    picture.write_bytes(b"old")
    raw = bare()
    raw["room"][0]["height"] = -1
    refused("check", written(raw, tmp_path), "--draw", picture)
    assert picture.read_bytes() == b"old"


def test_what_is_drawn_must_be_clear(tmp_path: Path) -> None:
    """Of a span, of one moment, of an unknown mark nothing is drawn, and it is said why."""
    picture = tmp_path / "picture.png"
    entry = ("entry", LOCK, "--date", "2027-03-20")
    wrong = {
        (*entry, "--to-date", "2027-03-21", "--draw", picture): "draws one date",
        (*entry, "--over-mark", "at the stove"): "give it as well",
        (*entry, "--over-mark", "at the stov", "--draw", picture): '"kitchen: at the stove"',
        (*entry, "--draw", tmp_path / "picture.jpg"): "must end in .png or .svg",
        ("gap", LOCK, "--date", "2027-03-20", "--at", "12:00", "--draw", picture): (
            "draws a stretch"
        ),
    }
    for asked, message in wrong.items():
        assert message in refused(*asked), asked
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("asked", "drawn"),
    [
        (("entry", "--date", "2027-03-20"), ()),
        (("entry", "--date", "2027-03-20"), ("--over-mark", "kitchen: at the stove")),
        (("gap", "--date", "2027-03-20", "--from", "18:00", "--to", "19:30"), ()),
        (("flags", "--date", "2027-03-20", "--setup", "the kettle"), ()),
    ],
)
def test_a_picture_beside_the_answer(
    tmp_path: Path, asked: tuple[str, ...], drawn: tuple[str, ...]
) -> None:
    """--draw adds a picture and leaves the words as they are."""
    picture = tmp_path / "picture.svg"
    command, *options = asked
    told = run(command, LOCK, *options).stdout
    assert told
    assert run(command, LOCK, *options, *drawn, "--draw", picture).stdout == told
    assert "<svg" in picture.read_text(encoding="utf-8")


def test_check_of_a_kit(tmp_path: Path) -> None:
    """A kit is read and told as a location is; a mistake in it is told the same way."""
    van = ROOT / "shared" / "kits" / "van.toml"
    told = run("check", str(van)).stdout
    assert told.startswith("kit van\n")
    assert "4x8 floppy" in told
    assert told.endswith("No mistake found.\n")
    assert max(map(len, told.split("\n"))) <= 80
    found = json.loads(run("check", str(van), "--json").stdout)
    assert found["kit"] == "van"
    assert {one["name"] for one in found["lamp"]} == {"led 150", "led 60"}
    broken = tmp_path / "broken.toml"
    broken.write_text('name = "x"\nflag = [{ name = "a", size = [0, 1] }]\n', encoding="utf-8")
    assert 'flag "a" › size: [0, 1] is not right' in refused("check", broken)
    assert "there is nothing to draw" in refused("check", van, "--draw", tmp_path / "x.png")
    assert not list(tmp_path.glob("*.png"))


def test_a_past_date_is_told_to_a_person() -> None:
    """On standard error where that is a terminal; a script hears nothing, and both are answered."""
    leader, follower = pty.openpty()
    past, ahead = (LOCK, "--date", "2001-03-20"), (LOCK, "--date", "2099-03-20")
    done = [
        subprocess.run(
            [sys.executable, "-m", "sunplan", "entry", *map(str, args)],
            stdout=subprocess.PIPE,
            stderr=follower,
            check=True,
        )
        for args in (past, ahead)
    ]
    os.close(follower)
    told = os.read(leader, 4096).decode()
    os.close(leader)
    assert told.strip() == "note: --date 2001-03-20 lies in the past; is the year right?"
    assert all(b"Sun through each opening" in one.stdout for one in done)
    assert run("entry", *past).stderr == ""
