"""Where one can stand, and what is dangerous: nothing is planned outside over water or a drop."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import places
import pytest
import random_rooms
from demos import LOCATIONS, MARCH, NAMES, planned
from inside import command

from sunplan import cli
from sunplan.api import Result
from sunplan.light.resolved import resolve
from sunplan.location.model import Opening
from sunplan.location.read import Location, read
from sunplan.report.answers import as_json
from sunplan.report.cautions import CAUTIONS, LIFTING, NIGHT, OUTDOORS, SUN
from sunplan.rig.flags import setup_flags
from sunplan.room.beam import beam_of
from sunplan.survey.plausibility import untold
from sunplan.write import sheet
from sunplan.write.page import data

DAY = ("--date", MARCH.isoformat())
WORK_OUTSIDE = re.compile(r"\btent (outside|before)\b|, outside\b|\b(flag|floppy|cutter) outside\b")
ASKED: dict[str, tuple[str, ...]] = {
    "flags": (*DAY, "--from", "09:00", "--to", "19:00"),
    "blackout": (*DAY, "--from", "12:00", "--to", "14:00"),
    "gap": DAY,
    "hours": DAY,
    "order": DAY,
    "pack": DAY,
}


@pytest.mark.parametrize("before", ["ground", "water", "street", "drop", "blocked", None])
@pytest.mark.parametrize(
    ("sill_m", "to_ground"), [(1.8, None), (1.9, None), (6.0, 1.0), (0.5, 2.5)]
)
def test_one_stands_on_ground_that_is_told(
    before: str | None, sill_m: float, to_ground: float | None
) -> None:
    """Only on told ground, and no higher than 1.8 m over it; the ground's own height goes first."""
    keys = {"before": before, "to_ground": to_ground}
    told = {key: value for key, value in keys.items() if value is not None}
    raw = {"name": "w", "wall": "A", "along": 0, "sill": 0.5, "size": [1, 1], **told}
    low = (sill_m if to_ground is None else to_ground) <= 1.8
    stands = Opening.model_validate(raw).nobody_outside(sill_m) is None
    assert stands == (before == "ground" and low)


def outside(answer: Any) -> Iterator[str]:
    """Whatever an answer plans outside: tents, flags, words of either."""
    if isinstance(answer, dict):
        for key, value in answer.items():
            if key == "placement" and value == "outside":
                yield f"flag for {answer.get('opening')}"
            elif key == "tent" and value is True:
                yield "a glass that can be tented"
            else:
                yield from outside(value)
    elif isinstance(answer, list):
        for value in answer:
            yield from outside(value)
    elif isinstance(answer, str) and (answer.startswith("tent ") or WORK_OUTSIDE.search(answer)):
        yield answer


def surrounded(name: str, before: str | None, folder: Path) -> Path:
    """A demo with the same before every window; None: the file does not tell."""
    raw = random_rooms.read_location(LOCATIONS / f"{name}.toml")
    for room in raw["room"]:
        for opening in room["opening"]:
            opening.pop("before", None)
            if before is not None and "wall" in opening:
                opening["before"] = before
    for setup in raw["setup"]:
        setup.pop("kit", None)
    return places.written(raw, folder)


@pytest.mark.parametrize("asked", ASKED)
@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_planned_outside_over_water(
    name: str, asked: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No command plans a tent or a flag outside where there is water, nor where nobody told."""
    printed: list[Result[Any]] = []
    told_by = cli._print

    def spied(result: Result[Any], **options: bool) -> None:
        printed.append(result)  # the JSON is that of the same run
        told_by(result, **options)

    monkeypatch.setattr(cli, "_print", spied)
    for before in ("water", None):
        said = told(asked, surrounded(name, before, tmp_path))
        assert said
        assert not WORK_OUTSIDE.search(said)
        answer = json.loads(as_json(printed.pop().answer))
        assert list(outside(answer)) == []


def told(asked: str, file: str) -> str:
    """All that a command tells, in one line."""
    return " ".join(command(asked, file, *ASKED[asked], "--more").stdout.split())


@pytest.mark.parametrize("asked", ["flags", "gap", "pack"])
def test_on_the_ground_there_would_be(asked: str, tmp_path: Path) -> None:
    """The same questions where one can stand all round: so the test before can fail."""
    file = surrounded("gate-house", "ground", tmp_path)
    assert list(outside(json.loads(command(asked, file, *ASKED[asked], "--json").stdout)))
    assert WORK_OUTSIDE.search(told(asked, file))


@pytest.mark.parametrize("name", NAMES)
def test_demos_plan_outside_on_ground_only(name: str) -> None:
    """Each demo says what lies before all its windows; a whole day of it respects that."""
    day = planned(name, MARCH)
    assert list(untold(day.location)) == []
    ground = {
        (room.name, opening.name)
        for room in day.location.room
        for opening in room.opening
        if opening.before == "ground"
    }
    flags = [
        (flags.setup.room, option.opening)
        for flags in day.flags
        for option in flags.options
        if option.placement == "outside"
    ]
    tents = [
        (slot.setup.room, treated.opening.name)
        for slot in day.slots.values()
        for treated in slot.needs.treated.openings
        if treated.action == "tent"
    ]
    assert flags or tents
    assert set(flags) | set(tents) <= ground


def test_what_keeps_one_away_is_told(tmp_path: Path) -> None:
    said = told("flags", surrounded("lock-house", None, tmp_path))
    assert "not outside: the file does not say that one can stand before it" in said


def hung(folder: Path, **keys: float) -> Location:
    raw = places.bare()
    raw["room"][0]["opening"][0] |= keys
    return places.made(raw, folder)


def test_a_stand_stands_on_the_ground_outside(tmp_path: Path) -> None:
    """On ground 0.6 m below the plan's a flag outside hangs at the same place, and 0.6 m higher
    above that ground; by tape too."""
    start_s = datetime(2027, 3, 20, 11, tzinfo=UTC).timestamp()
    options = []
    for location in (hung(tmp_path), hung(tmp_path, to_ground=1.4)):
        (setup,) = resolve(location)
        found = setup_flags(location, setup, start_s=start_s, end_s=start_s + 1800.0)
        option = next(option for option in found.options if option.placement == "outside")
        position = option.positions[0]
        (mark,) = location.room[0].mark
        tape = option.measured(location, location.room[0], mark, position.hung)
        options.append((option, position, tape.bottom_m))
    (level, at_level, bottom_m), (lower, at_lower, lower_bottom_m) = options
    off_m = float(at_lower.centre[2] - at_level.centre[2])
    assert lower.height_m(at_lower) - level.height_m(at_level) == pytest.approx(0.6 + off_m)
    assert lower_bottom_m - bottom_m == pytest.approx(
        0.6 + float(at_lower.hung.heights[0] - at_level.hung.heights[0])
    )
    assert beam_of(hung(tmp_path, to_ground=1.4), location.room[0]).apertures[0].ground_m == (
        pytest.approx(-0.6)
    )


# --- wet rooms --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "asks"),
    [
        ("scullery", True),
        ("wash-house", True),
        ("Laundry", True),
        ("upstairs bathroom", True),
        ("shower", True),
        ("back kitchen", True),
        ("gauge room", False),
        ("watch room", False),
        ("whitewashed store", False),
    ],
)
def test_a_wet_room_is_asked_about_by_its_name(name: str, asks: bool, tmp_path: Path) -> None:
    """`check` asks; what the file says, either way, ends it; nothing is taken as wet unsaid."""
    raw = places.bare()
    raw["room"][0]["name"] = raw["setup"][0]["room"] = name
    location = places.made(raw, tmp_path)
    assert location.room[0].wet is None
    said = " ".join(command("check", location.file).stdout.split())
    assert (f'room "{name}": is there a bath, a shower, a basin or a sink?' in said) == asks
    for wet in (True, False):
        raw["room"][0]["wet"] = wet
        assert list(untold(places.made(raw, tmp_path))) == []


WET = CAUTIONS["wet room"].said


@pytest.mark.parametrize(
    ("asked", "setup"),
    [
        (("key",), "the kettle"),
        (("flags", *ASKED["flags"]), "the kettle"),
        (("blackout", *ASKED["blackout"]), "the kettle"),
        (("negfill", *DAY, "--at", "15:00"), "the kettle"),
    ],
    ids=lambda part: part[0] if isinstance(part, tuple) else "",
)
def test_whatever_is_rigged_in_a_wet_room(asked: tuple[str, ...], setup: str) -> None:
    """The kitchen has a sink, the attic none."""
    file = str(LOCATIONS / "lock-house.toml")
    name, *options = asked
    wet = command(name, file, *options, "--setup", setup, "--more").stdout
    dry = command(name, file, *options, "--setup", "cannot sleep", "--more").stdout
    assert WET in " ".join(wet.split())
    assert "Wet room" not in dry


def test_a_wet_room_on_paper_and_page() -> None:
    """The ferry shop's scullery: its lamp within reach of the tap gets the caution everywhere."""
    day = planned("ferry-shop", MARCH)
    said = " ".join(
        command("pack", str(LOCATIONS / "ferry-shop.toml"), *DAY, "--more").stdout.split()
    )
    assert WET in said
    figures = sheet.figures(day)
    assert WET in figures["cover"]["care"]
    assert [room["name"] for room in figures["rooms"] if WET in room["care"]] == ["scullery"]
    assert WET in data(day)["day"]["care"]


def test_a_practical_alone_is_enough(tmp_path: Path) -> None:
    """No key lamp, no job: a lamp in the picture still burns beside the water."""
    raw = places.bare()
    raw["room"][0]["wet"] = True
    lamp = {"name": "lamp", "at": [1.0, 1.0], "height": 1.0, "shade": [0.2, 0.2], "lumens": 300}
    raw["room"][0]["practical"] = [lamp]
    file = places.made(raw, tmp_path).file
    assert WET in " ".join(command("pack", file, *DAY, "--more").stdout.split())


def test_every_danger_of_the_bulletins_has_its_line() -> None:
    """Topics that safety bulletins of film crews list, from memory, and where ours stand; all defer
    to somebody or say what to do, none is longer than five lines of a terminal."""
    topics = {
        "ladders": "steps",
        "hot lamps and fire": "lamp",
        "electricity": "circuits",
        "water and electricity": "wet room",
        "wind": "wind",
        "power lines": "power lines",
        "falls": "window over a drop",
        "roofs": "roof",
        "weight overhead": "overhead",
        "stands": "stands",
        "glass": "hot glass",
        "heat, air, fumes": "dark room",
        "exits and alarms": "exits",
        "mirrors": "mirror",
    }
    assert set(topics.values()) == set(CAUTIONS)
    for words, caution in (
        ("water's edge", OUTDOORS),
        ("traffic", OUTDOORS),
        ("heat", OUTDOORS),
        ("thunder", OUTDOORS),
        ("lookout", NIGHT),
        ("optical finder", SUN),
        ("two carry", LIFTING),
        ("battery lamps first", CAUTIONS["wet room"]),
        ("RCD, GFCI", CAUTIONS["wet room"]),
        ("electrician", CAUTIONS["wet room"]),
        ("bath, shower and basin as local codes say", CAUTIONS["wet room"]),
    ):
        assert words in caution.said
    assert max(len(caution.said) for caution in CAUTIONS.values()) <= 5 * 80
    assert read(LOCATIONS / "lock-house.toml").room_named("kitchen").wet
