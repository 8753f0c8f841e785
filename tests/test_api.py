"""The library and its tables: the same answers as dataclasses, JSON, rows, frames and text."""

from __future__ import annotations

import csv
import inspect
import io
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from datetime import date, time
from html.parser import HTMLParser
from keyword import iskeyword
from pathlib import Path
from typing import Any

import demos
import pandas as pd
import pytest
import typer
from typer.testing import CliRunner

import sunplan
from sunplan import api, cli
from sunplan.api import Result
from sunplan.cli import app
from sunplan.errors import InputError
from sunplan.location.lengths import FOOT_M
from sunplan.report.answers import as_json
from sunplan.report.document import Table, render, walk
from sunplan.write.terminal import BOX

ROOT = Path(__file__).parent.parent
DEMOS = sorted((ROOT / "locations").glob("*.toml"))
DAY = "2027-03-20"
ASKED: dict[str, dict[str, Any]] = {
    "check": {},
    "entry": {"date": DAY},
    "flags": {"date": DAY, "from_": "09:00", "to": "13:00"},
    "gap": {"date": DAY, "at": "17:00"},
    "hours": {"date": DAY, "from_": "15:00", "to": "17:00", "most": 1},
    "days": {"from_date": "2027-11-03", "to_date": "2027-11-04"},
    "key": {},
    "negfill": {"date": DAY, "at": "16:00"},
    "blackout": {"date": DAY, "from_": "15:00", "to": "16:00"},
    "order": {"date": DAY},
    "pack": {"date": DAY},
}
LONG = {"hours", "days", "blackout", "order", "pack"}  # asked of one demo
CASES = [
    (file, name) for file in DEMOS for name in ASKED if name not in LONG or "lock" in file.stem
]


def asked(file: Path, name: str) -> Result[Any]:
    return demos.asked(file.stem, name, **ASKED[name])


@pytest.mark.parametrize(("file", "name"), CASES, ids=lambda one: getattr(one, "stem", one))
def test_one_answer_in_every_form(file: Path, name: str) -> None:
    """JSON is plain and finite, CSV (RFC 4180) reads back as its rows."""
    told = asked(file, name)
    assert json.loads(as_json(told.answer), parse_constant=pytest.fail)
    rows = list(csv.reader(io.StringIO(told.csv)))
    assert len(rows) == 1 + len(told.records)
    assert len({len(row) for row in rows}) == 1
    assert len(set(rows[0])) == len(rows[0])
    assert "[" not in told.csv
    assert "{" not in told.csv
    lines = str(told).splitlines()
    assert max(map(len, lines)) <= 80
    assert not any("\x1b" in line for line in lines)


@pytest.mark.parametrize(("file", "name"), CASES, ids=lambda one: getattr(one, "stem", one))
def test_frames_are_plain(file: Path, name: str) -> None:
    """No lists in cells, moments of the place's zone, and every figure has a unit."""
    result = asked(file, name)
    frames = result.frames
    pd.testing.assert_frame_equal(result.frame, next(iter(frames.values())))
    assert all(frame.attrs["rows"] == kind for kind, frame in frames.items())
    for frame in frames.values():
        for column in frame.columns:
            cells = frame[column].dropna()
            assert not any(isinstance(cell, list | dict | tuple) for cell in cells)
            if isinstance(frame[column].dtype, pd.DatetimeTZDtype):
                assert str(frame[column].dt.tz) == result.location.timezone
            else:
                assert not any(MOMENT.match(str(cell)) for cell in cells), column
        units = frame.attrs["units"]
        assert set(units) == set(frame.select_dtypes("number"))
        assert {column for column, unit in units.items() if unit == "1"} <= NO_UNIT


MOMENT = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d")
VECTORS = {f"{side}_{axis}" for side in ("across", "up") for axis in "xyz"}
SHARES = {
    *("reflectance", "reflectance_floor", "reflectance_walls", "reflectance_ceiling", "bars"),
    *(
        "dirt",
        "transmittance",
        "frame_share",
        "rigged_lamp_share",
        "rigged_ratio",
        "leak_share",
        "waste",
        "sky_share",
        "sun_share",
        "day_sun_share",
    ),
    *("ratio", "ratio_before", "wanted_ratio", "gel_density", "over_least"),
}
COUNTS = {"owned", "need", "take", "get", "rolls", "roll", "alike_dates"}
NO_UNIT = VECTORS | SHARES | COUNTS


def test_a_frame_has_one_kind_of_row() -> None:
    """Counted in the JSON, by hand: openings and marks, what is in frame, quarters of the hours."""
    house = ROOT / "locations" / "lock-house.toml"
    entry = asked(house, "entry")
    for kind, key in (("openings", "opening"), ("marks", "mark")):
        named = [(one[key], len(one["entries"])) for one in entry.answer[kind]]
        assert len(entry.frames[kind]) == sum(count for _, count in named) > 0
        assert entry.frames[kind][key].notna().all()
    assert "mark" not in entry.frames["openings"]
    gap = asked(house, "gap")
    times = [time for setup in gap.answer["setups"] for time in setup["times"]]
    assert len(gap.frames["faces"]) == len(times) == 8  # four setups under two skies
    for kind in ("openings", "practicals"):
        assert len(gap.frames[kind]) == sum(len(time[kind]) for time in times) > 0
    hours = asked(house, "hours")
    quarters = hours.frames["quarter_hours"]
    assert quarters.groupby("setup").size().tolist() == [9] * 4  # two hours, both ends
    assert not quarters.duplicated(["setup", "time"]).any()
    assert not hours.frames["windows"].duplicated(["setup", "time", "window"]).any()
    assert set(hours.frames["stretches"].setup) <= set(quarters.setup)


@pytest.mark.parametrize("name", ASKED)
def test_frames_are_described(name: str) -> None:
    """In the question's docstring, the main one first."""
    line = re.search(r"Frames: (.*)", inspect.getdoc(getattr(sunplan, name)) or "")
    assert line is not None
    frames = asked(ROOT / "locations" / "lock-house.toml", name).frames
    assert re.findall("`(.*?)`", line[1]) == list(frames)


def test_frames_without_rows() -> None:
    """By night no flag is needed, on a polar night no sun comes: the columns are there."""
    house = sunplan.read(ROOT / "locations" / "lock-house.toml")
    flags = sunplan.flags(house, DAY, from_="01:00", to="02:00", setup="the kettle")
    north = house.site.model_copy(update={"latitude": 78.2, "longitude": 15.6})
    sun = sunplan.entry(house.model_copy(update={"site": north}), "2026-12-21")
    whole = asked(ROOT / "locations" / "lock-house.toml", "entry")
    for empty, full in ((sun, whole), (flags, asked(Path(house.file), "flags"))):
        for kind, frame in empty.frames.items():
            assert frame.empty
            assert set(frame.columns) <= set(full.frames[kind].columns)
            assert isinstance(frame["from"].dtype, pd.DatetimeTZDtype)
            assert frame.query("opening == 'canal window'").empty
            assert frame.attrs["file"] == house.file


def test_units_and_provenance() -> None:
    """With each frame, kept by what pandas makes of it, and plain enough for any file format."""
    place = sunplan.read(ROOT / "locations" / "lock-house.toml")
    result = sunplan.gap(place, date(2027, 3, 20), at=time(17), sky="hazy", turbidity=5)
    attrs = result.frame.query("in_frame").attrs
    assert json.loads(json.dumps(attrs)) == attrs
    assert attrs["sunplan"] == sunplan.__version__
    assert attrs["file"] == place.file
    assert attrs["question"] == "gap"
    assert attrs["options"] == {
        **{"date": "2027-03-20", "at": "17:00:00", "from_": None, "to": None, "step": None},
        **{"sky": "hazy", "turbidity": 5, "direct_lux": None, "diffuse_lux": None, "setup": None},
    }
    (model,) = {
        time["sky"]["model"] for setup in result.answer["setups"] for time in setup["times"]
    }
    assert attrs["skies"] == {"hazy": model}
    units = {"luminance_cd_m2": "cd/m²", "stops": "stops", "key_lux": "lx", "pan_deg": "°"}
    assert units.items() <= attrs["units"].items()


def test_repr_is_one_line() -> None:
    house = ROOT / "locations" / "lock-house.toml"
    expected = "<sunplan.Result of gap(date='2027-03-20', at='17:00') for \"Lock-keeper's house\">"
    assert repr(asked(house, "gap")) == expected
    assert all(len(repr(asked(house, name)).splitlines()) == 1 for name in ASKED)
    place = sunplan.read(house)
    assert repr(place) == f'<sunplan.Location "Lock-keeper\'s house" of {place.file}>'


class Cells(HTMLParser):
    """Texts of a table's cells and captions, of all else, and the tags that stand round them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.texts: dict[str, list[str]] = {}
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        del attrs
        if tag != "br":
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.texts.setdefault(self.open[-1] if self.open else "", []).append(data)


@pytest.mark.parametrize("name", ASKED)
def test_notebooks_show_tables(name: str) -> None:
    """Well-formed, each cell of each table, each caution once, as the document has them."""
    result = asked(ROOT / "locations" / "lock-house.toml", name)
    shown = Cells(result._repr_html_())
    assert shown.open == []
    tables = [block for block in walk(result.document.blocks) if isinstance(block, Table)]
    cells = [cell for table in tables for row in table.cells("m") for cell in row if cell]
    assert [cell for cell in shown.texts.get("td", []) if cell != BOX] == cells
    heads = [column for table in tables for column in table.columns if column]
    assert shown.texts.get("th", []) == heads
    strong = shown.texts["strong"]
    for caution in result.document.cautions:
        assert strong.count(caution.said) == 1
    assert result.document.title is None or render(result.document.title, "m") in strong


# Options that say how an answer is told, which in Python its result does.
TELLING = {"json", "csv", "draw", "over_mark", "units", "out", "paper", "more", "why"}


@pytest.mark.parametrize("name", [*ASKED, "plan"])
def test_parameters_are_the_options(name: str) -> None:
    """Underscores for dashes, one behind a word of Python's own (PEP 8)."""
    command = typer.main.get_command(app).commands[name]  # type: ignore[attr-defined]
    words = {
        option.opts[0].removeprefix("--").replace("-", "_")
        for option in command.params
        if option.param_type_name == "option"
    }
    expected = {f"{word}_" if iskeyword(word) else word for word in words - TELLING}
    parameters = inspect.signature(getattr(sunplan, name)).parameters
    assert set(parameters) - {"location", "tell"} == expected


def test_rows_say_what_json_says() -> None:
    """Counted and compared with the JSON, by hand for three commands."""
    gap = asked(ROOT / "locations" / "lock-house.toml", "gap")
    wanted = [
        (setup["setup"], at["time"], at["sky"]["name"], one["opening"], one["stops"])
        for setup in gap.answer["setups"]
        for at in setup["times"]
        for one in at["openings"]
    ]
    assert [
        (row["setup"], row["time"], row["sky_name"], row["opening"], row["stops"])
        for row in gap.records
    ] == wanted
    flags = asked(ROOT / "locations" / "lock-house.toml", "flags")
    sizes = [
        place["needs_m"]
        for setup in flags.answer["setups"]
        for flag in setup["flags"]
        for place in flag["positions"]
    ]
    assert [[row["needs_width_m"], row["needs_height_m"]] for row in flags.records] == sizes
    entry = asked(ROOT / "locations" / "lock-house.toml", "entry")
    moments = entry.frame.set_index(["room", "opening"]).loc[[("gauge room", "roof light")]]
    first = entry.answer["openings"][1]["entries"][0]
    assert moments["from"].iloc[0].isoformat() == first["from"]
    assert moments["from_earliest"].iloc[0].isoformat() == first["from_range"][0]


def test_text_dates_and_clocks_are_those_of_datetime() -> None:
    place = sunplan.read(ROOT / "locations" / "ferry-shop.toml")
    one = sunplan.flags(place, DAY, from_="09:00", to="12:00")
    other = sunplan.flags(place, date(2027, 3, 20), from_=time(9), to=time(12))
    assert one.answer == other.answer


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda p: sunplan.entry(p, "2027-3-20"), "date 2027-3-20: is no date; expected"),
        (lambda p: sunplan.entry(p, DAY, to_date="2027-03-19"), "to_date 2027-03-19: lies before"),
        (lambda p: sunplan.flags(p, DAY, from_="13:00", to="12:00"), "to 12:00: does not lie"),
        (lambda p: sunplan.gap(p, DAY, at="25:00"), "at 25:00: is no clock time"),
        (lambda p: sunplan.gap(p, DAY, sky="cloudy"), 'sky "cloudy" is not known'),
        (lambda p: sunplan.gap(p, DAY, step=30), "step 30: is no step; expected text such as"),
        (lambda p: sunplan.gap(p, DAY, at="15:00", step="30min"), "goes with from_ and to, not"),
        (lambda p: sunplan.blackout(p, DAY, weather="rain"), 'weather "rain" is not'),
        (lambda p: sunplan.gap(p, DAY, from_="12:00"), "to: is missing; give both from_ and to"),
        (lambda p: sunplan.key(p, setup="the kettl"), 'setup "the kettl" is not known; did you'),
        (lambda p: sunplan.hours(p, DAY, from_="9"), "from_ 9: is no clock time"),
    ],
)
def test_mistakes_are_called_by_their_parameters(
    ask: Callable[[sunplan.Location], object], told: str
) -> None:
    with pytest.raises(InputError) as error:
        ask(sunplan.read(ROOT / "locations" / "lock-house.toml"))
    assert told in str(error.value)


QUESTIONS = [*ASKED, "plan", "why"]
GLOSSARY = re.compile(r"^([a-z_, ]+) : ", re.MULTILINE)


def documented(name: str) -> tuple[set[str], set[str]]:
    """Parameters that a question's docstring describes, and those that it takes from the glossary.

    The glossary is the module's docstring.
    """
    text = inspect.getdoc(getattr(api, name)) or ""
    section = text.partition("Parameters\n----------\n")[2].partition("\n\n")[0]
    shared, own = "", section
    if "See `sunplan.api`." in section:
        shared, _, own = section.partition("\n    See `sunplan.api`.")
    return split_names(GLOSSARY.findall(own)), split_names([shared])


def split_names(lists: list[str]) -> set[str]:
    return {name for names in lists for name in names.split(", ") if name}


@pytest.mark.parametrize("name", QUESTIONS)
def test_every_parameter_is_described_once(name: str) -> None:
    """In the question's own docstring, or in the glossary that it names."""
    own, shared = documented(name)
    assert own | shared == set(inspect.signature(getattr(api, name)).parameters)
    assert own & shared == set()
    assert shared <= split_names(GLOSSARY.findall(api.__doc__ or ""))
    text = inspect.getdoc(getattr(api, name)) or ""
    assert [part for part in ("Returns\n---", "Examples\n---") if part not in text] == []
    assert ("Raises\n---" in text) == (name != "check")  # which has nothing to misunderstand


def test_nothing_else_is_offered() -> None:
    assert set(sunplan.OFFERED) <= set(dir(sunplan))
    with pytest.raises(AttributeError, match="no attribute 'moonlight'"):
        sunplan.moonlight  # noqa: B018


@pytest.mark.parametrize("name", ["check", "entry", "flags", "key", "negfill", "blackout"])
def test_other_units(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Told in feet: lengths in feet and inches, none in metres; the JSON is SI all the same."""
    printed = []
    told_by = cli._print

    def spied(result: Result[Any], **options: bool) -> None:
        printed.append(result)  # the JSON is that of the same run
        told_by(result, **options)

    monkeypatch.setattr(cli, "_print", spied)
    place = sunplan.read(ROOT / "locations" / "lock-house.toml")
    options = {
        "check": (),
        "entry": ("--date", DAY),
        "flags": ("--date", DAY, "--from", "12:00", "--to", "16:00"),
        "key": (),
        "negfill": ("--date", DAY, "--at", "16:00"),
        "blackout": ("--date", DAY, "--from", "15:00", "--to", "16:00"),
    }[name]
    command = [name, place.file, *options, "--more"]
    told = CliRunner().invoke(app, [*command, "--units", "ft"]).stdout
    plain = CliRunner().invoke(app, command).stdout
    assert "'" in told
    assert '"' in told
    assert " m " in plain
    assert " m " not in told
    assert [one.location.site.units for one in printed] == ["ft", "m"]
    both = [as_json(one.answer) for one in printed]
    if name == "check":
        both = [re_units(one) for one in both]
    assert both[0] == both[1]


def re_units(text: str) -> str:
    """The same without what says which units were asked for."""
    return text.replace('"units": "ft"', '"units": "m"')


def test_a_foot_is_a_foot() -> None:
    """The gauge room's wall A, 3.20 m, is 10'6" to the half inch: 3.20 / 0.3048 = 10.499."""
    file = str(ROOT / "locations" / "lock-house.toml")
    told = CliRunner().invoke(app, ["check", file, "--units", "ft", "--more"]).stdout
    assert round(3.20 / FOOT_M, 3) == 10.499
    assert "10'6\"" in told


def test_no_color() -> None:
    """No colour where NO_COLOR is set (no-color.org) or the output is no terminal."""
    command = [sys.executable, "-m", "sunplan", "key", str(DEMOS[0])]
    for env in ({"FORCE_COLOR": "1", "NO_COLOR": "1"}, {}):
        done = subprocess.run(command, capture_output=True, check=True, env={**os.environ, **env})
        assert b"\x1b[3" not in done.stdout


def test_completion_is_offered() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "sunplan", "--show-completion", "bash"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert "_SUNPLAN_COMPLETE" in done.stdout or "complete" in done.stdout
