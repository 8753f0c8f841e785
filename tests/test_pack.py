"""The running order and the pack list against plain counting."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from datetime import date, datetime, time
from functools import cache
from pathlib import Path

import pytest
from inside import command
from places import bare, made

from sunplan.day.running_order import running_order
from sunplan.light.daylight import Weather
from sunplan.light.resolved import resolve
from sunplan.sun.local_time import clock_to_unix, to_local

ROOT = Path(__file__).parents[1]
DAY = date(2026, 3, 20)
PLACES = ("lock-house", "ferry-shop", "gate-house")


@cache
def pack(place: str, *options: str) -> str:
    file = ROOT / "locations" / f"{place}.toml"
    done = command("pack", file, "--date", "2027-03-20", *options)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module", params=PLACES)
def answer(request: pytest.FixtureRequest) -> dict:
    return json.loads(pack(request.param, "--json"))


def test_the_most_at_one_time(answer: dict) -> None:
    """Counted from the jobs of each setup; rolls from the cut list, tape from its metres."""
    most: Counter[str] = Counter()
    for slot in answer["running"]:
        now: Counter[str] = Counter()
        for job in slot["jobs"]:
            now.update(job["things"])
        for thing, count in now.items():
            most[thing] = max(most[thing], count)
    for material in answer["materials"]:
        if material["rolls"]:
            most[material["stock"]] = len({one["roll"] for one in material["laid"]})
    listed = {one["thing"]: one["need"] for one in answer["items"] if one["kind"] != "tape"}
    assert listed == dict(most)
    tape = [one["need"] for one in answer["items"] if one["kind"] == "tape"]
    assert tape == ([-int(-answer["tape_m"] // 50.0)] if answer["tape_m"] else [])


def test_own_first_then_rent_or_buy(answer: dict) -> None:
    for one in answer["items"]:
        assert one["take"] + one["get"] == one["need"]
        assert one["take"] >= 0
        assert one["get"] >= 0
        assert one["how"] in ((None,) if not one["get"] else ("rent", "buy"))
    assert answer["items"]


def test_everything_travels(answer: dict) -> None:
    """In a case or loose, as often as it is needed; the weights add up."""
    inside = Counter(name for case in answer["cases"] for name in case["inside"])
    travels = inside + Counter(answer["loose"])
    assert travels == Counter({one["thing"]: one["need"] for one in answer["items"]})
    things = sum(one["weight_kg"] for one in answer["items"])
    in_cases = sum(one["weight_kg"] / one["need"] * inside[one["thing"]] for one in answer["items"])
    empty = sum(case["weight_kg"] for case in answer["cases"]) - in_cases
    assert answer["weight_kg"] == pytest.approx(things + empty)


def test_the_day_adds_up(answer: dict) -> None:
    """Each setup starts where the one before was shot; what hangs already takes no minutes."""
    end = None
    rig = strike = 0.0
    before: dict[str, float] = {}
    room = None
    for slot in answer["running"]:
        start, first, last = (
            datetime.fromisoformat(slot[key]) for key in ("from", "shoot_from", "shoot_to")
        )
        assert end is None or start == end
        new = sum(job["minutes"] for job in slot["jobs"] if not job["hangs"])
        over = 10.0 if room not in (None, slot["room"]) else 0.0
        assert slot["rig_minutes"] == pytest.approx(new + over)
        now = {job["what"]: job["minutes"] for job in slot["jobs"]}
        hangs = {job["what"] for job in slot["jobs"] if job["hangs"]}
        down = sum(spent for what, spent in before.items() if what not in hangs)
        assert slot["strike_minutes"] == pytest.approx(down / 2)
        spent = (first - start).total_seconds() / 60.0
        work = slot["rig_minutes"] + slot["strike_minutes"]
        assert spent == pytest.approx(work + slot["wait_minutes"], abs=0.1)
        end, before, room = last, now, slot["room"]
        rig, strike = rig + slot["rig_minutes"], strike + slot["strike_minutes"]
    assert answer["rig_minutes"] == pytest.approx(rig)
    assert answer["strike_minutes"] == pytest.approx(strike + sum(before.values()) / 2)


def test_lunch_start_and_wrap(tmp_path: Path) -> None:
    """Nobody works at lunch, what is pinned waits for its time, and a day too long says so."""
    raw = bare()
    first = raw["setup"][0] | {"minutes": 40}
    raw["setup"] = [
        first | {"name": "one", "plays": "night"},
        first | {"name": "two", "plays": "night", "start": "15:10"},
        first | {"name": "three", "plays": "night", "start": "15:20"},
    ]
    raw["day"] = {"call": "11:30", "wrap": "16:00", "lunch": ["12:30", "13:30"]}
    location = made(raw, tmp_path)
    zone = location.timezone
    start = clock_to_unix(date(2026, 3, 20), location.day.call, zone)
    found = running_order(location, resolve(location), start_s=start, weathers=[Weather("clear")])
    one, two, three = found.slots
    # 40 minutes of shooting do not fit before lunch after half an hour of rigging.
    assert one.rig_minutes > 20.0
    assert to_local(one.shoot_s[0], zone).strftime("%H:%M") == "13:30"
    assert to_local(two.shoot_s[0], zone).strftime("%H:%M") == "15:10"
    assert (one.late, two.late, three.late) == (False, False, True)
    assert three.shoot_s[0] == pytest.approx(two.shoot_s[1], abs=1.0)
    assert found.over_s == pytest.approx(found.end_s - clock_to_unix(DAY, time(16), zone))
    assert found.over_s > 0


def test_the_best_order_is_packed() -> None:
    """`--best` shoots when `order` says."""
    file = ROOT / "locations" / "ferry-shop.toml"
    done = command("order", file, "--date", "2027-03-20", "--json")
    wanted = [(one["setup"], one["from"]) for one in json.loads(done.stdout)["setups"]]
    packed = json.loads(pack("ferry-shop", "--best", "--json"))["running"]
    assert [(one["setup"], one["shoot_from"]) for one in packed] == wanted


def test_csv_is_the_same_list() -> None:
    rows = list(csv.DictReader(io.StringIO(pack("lock-house", "--csv"))))
    listed = json.loads(pack("lock-house", "--json"))["items"]
    assert [(row["thing"], int(row["need"]), int(row["get"])) for row in rows] == [
        (one["thing"], one["need"], one["get"]) for one in listed
    ]


def test_any_weather_takes_no_less() -> None:
    """Overcast on top of clear: nothing that the sun asks for is left at home."""
    sunny, any_ = (
        {
            one["thing"]: one["need"]
            for one in json.loads(pack("lock-house", "--weather", weather, "--json"))["items"]
            if one["kind"] in ("lamp", "frame")
        }
        for weather in ("sun", "any")
    )
    assert sunny
    assert all(any_[thing] >= count for thing, count in sunny.items())


def test_cautions_are_those_of_the_plan() -> None:
    """What is said at the end is what stands beside the jobs, and nothing is called safe."""
    told = " ".join(pack("lock-house").split())
    jobs = json.loads(pack("lock-house", "--json"))["running"]
    asked = {hazard for slot in jobs for job in slot["jobs"] for hazard in job["hazards"]}
    assert {"stands", "lamp", "circuits", "dark room", "exits"} <= asked
    for hazard in asked:
        assert f"{hazard[0].upper()}{hazard[1:]}: " in told
    for hazard in {"mirror", "wind", "overhead", "steps", "roof"} - asked:
        assert f"{hazard[0].upper()}{hazard[1:]}: " not in told
    assert " is safe" not in told


def test_a_contrast_that_nothing_brings_is_told(tmp_path: Path) -> None:
    """The ratio is that of `negfill` where all openings are left as they are.

    A key that is thrown off something is rigged so.
    """
    raw = bare()
    raw["room"][0]["opening"][0]["size"] = [0.3, 0.3]
    raw["setup"][0] |= {"plays": "day", "contrast": 64}
    raw["setup"][0]["camera"] |= {"at": [2.0, 0.3], "toward": [2.0, 2.9]}
    raw["setup"][0]["key"] = {
        "lamp": "led 60",
        "from": [1.0, 2.4],
        "height": 1.8,
        "off": {"wall": "d"},
    }
    made(raw, tmp_path)
    file = str(next(tmp_path.glob("*.toml")))
    asked = ("--date", "2027-03-20", "--json")
    told = json.loads(command("pack", file, *asked, "--from", "11:00").stdout)
    (slot,) = told["running"]
    assert any(job["what"] == "key: led 60 off wall D" for job in slot["jobs"])
    (lack,) = (one for one in slot["unmet"] if "key to fill" in one)
    start, end = (datetime.fromisoformat(slot[key]) for key in ("shoot_from", "shoot_to"))
    middle = start + (end - start) / 2
    panels = json.loads(
        command("negfill", file, *asked, "--at", f"{middle:%H:%M:%S}", "--sky", "clear").stdout
    )
    before = panels["setups"][0]["ratio_before"]
    figure = float(lack.split()[3])  # at the worst minute, which the middle is nearly
    assert before - 0.2 < figure < before + 0.05
    assert lack == (
        f"key to fill {figure:.1f} : 1 instead of 64, and no panel of the kit brings it: "
        "see negfill"
    )


def test_what_comes_after_midnight_says_so() -> None:
    lines = pack("lock-house", "--from", "23:00").splitlines()
    said = " ".join(line.strip() for line in lines)
    assert "reading the gauge (gauge room): from 23:00 rig" in said
    assert re.search(r"shoot \d\d:\d\d \+1 d – \d\d:\d\d \+1 d", said)
