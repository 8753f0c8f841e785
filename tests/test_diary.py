"""The calendar file: what it holds is read back with icalendar and the standard library's zones."""

from __future__ import annotations

import re
from copy import copy
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import numpy as np
import places
import pytest

from sunplan.day.alerts import alerts
from sunplan.day.plan import Plan, plan
from sunplan.light.resolved import resolve
from sunplan.location.model import Room
from sunplan.report import plan as plan_report
from sunplan.sun.track import track_over
from sunplan.write.calendar import calendar

NAME = "Łódź, 'tea'; \\ #4 [noon] — 水門の家の長い長い長い長い長い長い長い長い名前"
# Flags so small that they must be moved.
KIT = """
name = "small"
flag = [{ name = "18x24 flag", size = ["18 in", "24 in"], weight = 0.8, owned = 2 }]
stand = [{ name = "stand", lowest = 0.8, highest = 3.0, weight = 5.0, owned = 4 }]
gel = [{ name = "nd 1.2", density = 1.2, weight = 0.5, owned = 3 }]
cloth = [{ name = "black cloth", width = 1.4, length = 20, weight = 7.0, owned = 1 }]
"""


def west(folder: Path) -> Plan:
    """A room with a west window, shot into the low sun for six hours."""
    raw = places.bare()
    raw["location"] |= {"name": NAME, "plan_up": 90.0}
    raw["day"] = {"call": "12:00", "wrap": "21:00", "lunch": ["12:30", "13:00"]}
    raw["room"][0]["mark"][0]["width"] = 0.3
    raw["setup"][0] |= {"name": NAME, "plays": "day", "minutes": 360, "kit": "small"}
    raw["setup"][0] |= {"start": "14:00"}
    raw["setup"][0]["camera"]["view"] = [70, 20]
    (folder / "shared/kits").mkdir(parents=True)
    (folder / "shared/kits/small.toml").write_text(KIT, encoding="utf-8")
    return plan(places.made(raw, folder), date(2027, 3, 28), skies=["clear"])


@pytest.fixture(scope="module")
def shot(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return west(tmp_path_factory.mktemp("west"))


def events(plan: Plan) -> list[Any]:
    return list(icalendar.Calendar.from_ical(calendar(plan)).walk("VEVENT"))


def starting(found: list[Any], title: str) -> list[Any]:
    return [one for one in found if str(one["summary"]).startswith(title)]


def test_the_file_is_as_rfc_5545_wants_it(shot: Plan) -> None:
    written = calendar(shot)
    # Section 3.1: lines end in CRLF and hold at most 75 octets, the break left out.
    lines = written.split(b"\r\n")
    assert lines.pop() == b""
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert max(map(len, lines)) <= 75
    assert len(NAME.encode()) > 75  # so it was folded
    for line in lines:
        line.decode("utf-8")  # folded between letters, not within one
    found = events(shot)
    # Sections 3.6.1 and 3.8.4.7: each has a UID of its own, DTSTAMP and DTSTART.
    assert len({one["uid"] for one in found}) == len(found) > 8
    assert all({"DTSTAMP", "DTSTART", "DTEND"} <= set(one) for one in found)
    assert all(one.end > one.start for one in found)


def test_names_come_back_as_they_are(shot: Plan) -> None:
    (one,) = starting(events(shot), "Shoot: ")
    assert str(one["summary"]) == f"Shoot: {NAME}"
    assert str(one["location"]) == f"{NAME}, room"
    assert tuple(one["geo"].to_ical().split(";")) == ("52.0", "5.0")
    assert "never look at the sun" in str(one["description"])


def test_the_same_input_gives_the_same_file(tmp_path: Path) -> None:
    first, second = (night(tmp_path, *CHANGES[0][:5]) for _ in range(2))
    assert calendar(first) == calendar(second)


def test_a_plan_anew_keeps_the_names_of_its_events(shot: Plan) -> None:
    assert shot.pack is not None
    (slot,) = shot.pack.running.slots
    later = replace(slot, ready_s=slot.ready_s + 60.0)
    running = replace(shot.pack.running, slots=(later,))
    moved = copy(shot)
    moved.__dict__["pack"] = replace(shot.pack, running=running)
    again = events(moved)
    before = events(shot)
    assert [one["uid"] for one in again] == [one["uid"] for one in before]
    assert [one.end for one in again] != [one.end for one in before]


def test_times_are_those_of_order_and_pack(shot: Plan) -> None:
    found, told = events(shot), plan_report.answer(shot)
    (row,) = told["pack"]["running"]
    (turn,) = told["order"]["setups"]
    before, after = starting(found, "Rig")
    (shoot,), (strike,) = (starting(found, one) for one in ("Shoot: ", "Strike: "))
    assert before.start == datetime.fromisoformat(row["from"])
    assert shoot.start == datetime.fromisoformat(row["shoot_from"])
    assert (shoot.start, shoot.end) == tuple(
        datetime.fromisoformat(turn[key]) for key in ("from", "to")
    )
    assert strike.start == shoot.end
    assert near(strike.end, told["pack"]["ends"])
    minutes = timedelta(minutes=row["strike_minutes"] + row["rig_minutes"])
    (lunch,) = starting(found, "Lunch")
    assert (before.end, after.start) == (lunch.start, lunch.end)  # nobody works
    worked = before.end - before.start + after.end - after.start
    assert abs(worked - minutes) <= timedelta(seconds=30)
    (down,) = starting(found, "Wrapped out")
    assert near(down.start, told["pack"]["ends"])
    (dusk,) = starting(found, "Dusk")
    assert near(dusk.start, told["entry"]["sun"]["set"])
    assert near(dusk.end, told["entry"]["sun"]["civil_dusk"])
    (wrap,) = (one for one in found if str(one["summary"]) == "Wrap")
    assert wrap.start == datetime(2027, 3, 28, 21, tzinfo=ZoneInfo("Europe/Amsterdam"))


def test_an_event_says_first_what_to_do_and_last_what_to_take_care_of(shot: Plan) -> None:
    (first, *_) = starting(events(shot), "Rig")
    lines = str(first["description"]).split("\n")
    assert re.match(r"(turnaround \d+ min \(strike \d+, rig \d+\)|rig \d+ min)", lines[0])
    assert [one for one in lines if "Care: " in one or "care: " in one] == lines[-1:]
    assert lines[-1].endswith("never look at the sun; in full on plan.pdf")
    assert shot.pack is not None
    for job in shot.pack.running.slots[0].needs.jobs:
        assert all(hazard in lines[-1] for hazard in job.hazards)


def near(moment: datetime, told: str) -> bool:
    """Whether a moment is one of the answers, to the minute."""
    return abs(moment - datetime.fromisoformat(told)) <= timedelta(seconds=30)


def test_a_flag_is_moved_when_the_pack_list_counts_it(shot: Plan) -> None:
    assert shot.pack is not None
    (slot,) = shot.pack.running.slots
    (option,) = slot.needs.flags
    moves = [one for one in events(shot) if " move " in str(one["summary"])]
    assert len(moves) == len(option.moves) > 0
    for event, moment in zip(moves, option.moves, strict=True):
        assert abs(event.start - datetime.fromtimestamp(moment, UTC)) <= timedelta(seconds=30)
        local = event.start.astimezone(ZoneInfo("Europe/Amsterdam"))
        assert f"By {local:%H:%M} move" in str(event["summary"])
        (alarm,) = event.walk("VALARM")
        assert alarm["trigger"].dt == timedelta(minutes=-10)


def test_sun_on_the_mark_is_told_while_it_is_shot(shot: Plan) -> None:
    (touched,) = shot.entries.marks
    assert shot.pack is not None
    first, last = shot.pack.running.slots[0].shoot_s
    found = starting(events(shot), "Sun on chair through window")
    assert len(found) == len(touched.intervals) > 0
    for event, span in zip(found, touched.intervals, strict=True):
        start, end = max(span.start_s, first), min(span.end_s, last)
        assert abs(event.start.timestamp() - start) <= 30.0
        assert abs(event.end.timestamp() - end) <= 30.0
        assert "must stop it" in str(event["summary"])


def test_sun_in_frame_is_told_by_a_pinhole_and_the_window(shot: Plan) -> None:
    """Every minute of the shoot by plane geometry, of a box with one window in its wall y = 0."""
    location, setup = shot.location, resolve(shot.location)[0]
    room: Room = location.room[0]
    assert shot.pack is not None
    first, last = shot.pack.running.slots[0].shoot_s
    times = np.arange(first + 30.0, last, 60.0)
    x, y, z = track_over(location, first, last).at(times).plan(location.site.plan_up).T
    # The camera stands 2.8 m in and aims at the middle of the window, as high as itself.
    away, window = setup.camera.at[1], room.opening[0]
    assert window.along is not None
    assert window.sill is not None
    seen = (y < 0) & (z > 0) & (z < -y * np.tan(np.radians(20 / 2)))
    for reach in (away, away + window.depth):
        at_x = setup.camera.at[0] - x / y * reach
        at_z = setup.camera.height - z / y * reach
        seen &= (at_x > window.along) & (at_x < window.along + window.size[0])
        seen &= (at_z > window.sill) & (at_z < window.sill + window.size[1])
    found = [one for one in shot.alerts if one.hits == "frame"]
    told = np.zeros(len(times), dtype=bool)
    for one in found:
        told |= (times >= one.start_s) & (times <= one.end_s)
    assert seen.any()
    assert not seen.all()
    assert (seen == told).all()
    assert len(starting(events(shot), "Sun IN FRAME")) == len(found)


def test_black_raises_no_alert(shot: Plan) -> None:
    assert shot.pack is not None
    (slot,) = shot.pack.running.slots
    treated = slot.needs.treated
    black = tuple(replace(one, action="black") for one in treated.openings)
    dark = replace(slot.needs, treated=replace(treated, openings=black))
    assert alerts(shot.location, shot.entries, [slot])
    assert alerts(shot.location, shot.entries, [replace(slot, needs=dark)]) == ()


# The night on which the clocks change, when rigging goes through it; UTC by the rules of each zone.
CHANGES = [
    ("Europe/Amsterdam", 52.0, 5.0, "2027-03-28", "03:30", "03-27T23:30", "03-28T01:30"),
    ("America/New_York", 44.5, -73.2, "2026-11-01", "02:30", "11-01T04:30", "11-01T07:30"),
    ("Australia/Hobart", -42.9, 147.3, "2027-04-04", "03:30", "04-03T13:30", "04-03T17:30"),
]


def night(folder: Path, zone: str, latitude: float, longitude: float, day: str, start: str) -> Plan:
    """A short setup with its rigging between half past midnight and eight."""
    raw = places.bare()
    raw["location"] |= {"latitude": latitude, "longitude": longitude, "timezone": zone}
    raw["day"] = {"call": "00:30", "wrap": "08:00"}
    raw["setup"][0] |= {"plays": "night", "start": start, "minutes": 30}
    return plan(places.made(raw, folder), date.fromisoformat(day), skies=["clear"])


@pytest.mark.parametrize(("zone", "latitude", "longitude", "day", "start", "call", "shot"), CHANGES)
def test_local_times_hold_across_a_change_of_clocks(
    zone: str, latitude: float, longitude: float, day: str, start: str, call: str, shot: str,
    tmp_path: Path,
) -> None:  # fmt: skip
    made = night(tmp_path, zone, latitude, longitude, day, start)
    found = events(made)
    (rig,), (shoot,) = starting(found, "Rig: "), starting(found, "Shoot: ")
    assert rig.start == datetime.fromisoformat(f"{day[:4]}-{call}Z")
    assert shoot.start == datetime.fromisoformat(f"{day[:4]}-{shot}Z")
    assert shoot.end - shoot.start == timedelta(minutes=30)
    # As a calendar of that place shows it; and as its words say.
    local = shoot.start.astimezone(ZoneInfo(zone))
    assert f"{local:%Y-%m-%d %H:%M}" == f"{day} {start}"
    assert f"shoot {start}" in str(rig["description"])
    (wrap,) = (one for one in found if str(one["summary"]) == "Wrap")
    assert f"{wrap.start.astimezone(ZoneInfo(zone)):%H:%M}" == "08:00"
    assert re.fullmatch(rb"(?s)(?!.*TZID).*", calendar(made))


def test_a_place_without_setups_has_dusk_and_wrap(tmp_path: Path) -> None:
    raw = places.bare()
    del raw["setup"]
    found = events(plan(places.made(raw, tmp_path), date(2027, 6, 12)))
    assert [str(one["summary"]).split(":")[0] for one in found] == ["Wrap", "Dusk"]


def test_where_the_sun_does_not_set_there_is_no_dusk(tmp_path: Path) -> None:
    raw = places.bare()
    del raw["setup"]
    raw["location"] |= {"latitude": 69.6, "longitude": 18.9, "timezone": "Europe/Oslo"}
    found = events(plan(places.made(raw, tmp_path), date(2027, 6, 21)))
    assert [str(one["summary"]).split(":")[0] for one in found] == ["Wrap"]
