"""The order of a day: that it fits the hours, keeps what is asked, and costs what is told."""

from __future__ import annotations

from datetime import date, datetime, time
from pathlib import Path

import pytest
from places import bare, made

from sunplan.day.order import Ordered, order
from sunplan.day.shoot_grid import PICTURE_MINUTES
from sunplan.errors import LocationError
from sunplan.light.daylight import Weather
from sunplan.light.resolved import resolve
from sunplan.location.read import Location
from sunplan.rig import minutes
from sunplan.sun.almanac import sun_times
from sunplan.sun.local_time import to_local

DAY = date(2026, 3, 20)
CLEAR = (Weather("clear"),)


def house(folder: Path, hours: dict, *changes: dict) -> Location:
    """Two rooms alike, a setup for each change; those named upstairs are in the other room."""
    raw = bare()
    raw["room"].append(raw["room"][0] | {"name": "upstairs", "floor": 3.0})
    first = raw["setup"][0] | {"minutes": 45}
    raw["setup"] = [first | {"name": f"setup {n}"} | change for n, change in enumerate(changes)]
    raw["day"] = hours
    return made(raw, folder)


def ordered(location: Location) -> Ordered:
    return order(location, resolve(location), DAY, weathers=CLEAR)


def told_right(location: Location, found: Ordered) -> None:
    """Every change has its time, lunch is free, all is down at wrap, the cost adds up."""
    zone, best = location.timezone, found.best
    lunch = location.day.lunch
    end, cost, room, hanging = found.clock.call_s, 0.0, None, {}
    for turn in best.turns:
        rigging = turn.rigging
        jobs = {job.label: job.minutes for job in rigging.jobs}
        kept = 0.0
        if room == rigging.setup.room:
            kept = sum(spent for label, spent in jobs.items() if label in hanging)
        strike = (sum(hanging.values()) - kept) / 2 if room is not None else 0.0
        rig = sum(jobs.values()) - kept
        rig += minutes.of("room") if room not in (None, rigging.setup.room) else 0.0
        assert turn.strike_minutes == pytest.approx(strike)
        assert turn.rig_minutes == pytest.approx(rig)
        pause = 0.0
        if lunch is not None:
            first, last = (
                datetime.combine(DAY, one, to_local(end, zone).tzinfo).timestamp() for one in lunch
            )
            assert rigging.end_s <= first + 1.0 or rigging.start_s >= last - 1.0
            if end <= first and rigging.start_s >= last:
                pause = last - first
        assert rigging.start_s - end - pause >= 60.0 * (strike + rig) - 60.0
        picture = rigging.picture
        lost = picture.off_look + picture.treatments + picture.false_hour
        cost += strike + rig + PICTURE_MINUTES[location.day.prefer] * lost
        end, room, hanging = rigging.end_s, rigging.setup.room, jobs
    assert best.last_strike_minutes == pytest.approx(sum(hanging.values()) / 2)
    assert end + 60.0 * best.last_strike_minutes <= found.clock.wrap_s + 60.0
    assert best.cost == pytest.approx(cost + best.last_strike_minutes)
    dropped = 1000.0 * sum(setup.priority for setup in best.dropped)
    assert best.score == pytest.approx(best.cost + dropped)
    assert best.cost <= found.as_filed.cost + 1e-9 or len(best.dropped) < len(
        found.as_filed.dropped
    )


def test_a_day_with_lunch(tmp_path: Path) -> None:
    """Three setups, two of them in one room: those stay together, so that less is rigged twice."""
    hours = {"call": "08:00", "wrap": "19:00", "lunch": ["12:30", "13:30"]}
    location = house(tmp_path, hours, {}, {"room": "upstairs"}, {})
    found = ordered(location)
    told_right(location, found)
    assert not found.best.dropped
    rooms = [turn.rigging.setup.room for turn in found.best.turns]
    assert rooms in (["room", "room", "upstairs"], ["upstairs", "room", "room"])
    assert found.best.rig_minutes < found.as_filed.rig_minutes


def test_pinned_and_matching(tmp_path: Path) -> None:
    """What must start at a time does, off the quarter hours too; what must match is in a row."""
    hours = {"call": "08:00", "wrap": "20:00"}
    location = house(
        tmp_path,
        hours,
        {"match": "sun on the floor"},
        {"room": "upstairs", "start": "13:40"},
        {"match": "sun on the floor"},
    )
    found = ordered(location)
    told_right(location, found)
    names = [turn.rigging.setup.name for turn in found.best.turns]
    assert sorted(names) == ["setup 0", "setup 1", "setup 2"]
    assert abs(names.index("setup 0") - names.index("setup 2")) == 1
    (pinned,) = (one.rigging for one in found.best.turns if one.rigging.setup.name == "setup 1")
    assert to_local(pinned.start_s, location.timezone).time() == time(13, 40)
    # 15° of hour angle an hour at an equinox, and the pair takes an hour and a half or more.
    assert found.apart_deg["sun on the floor"] > 15.0


def test_the_least_is_dropped(tmp_path: Path) -> None:
    """A short day: what has the least priority stays out, whatever its place in the file."""
    hours = {"call": "09:00", "wrap": "12:30"}
    location = house(
        tmp_path, hours, {"priority": 1}, {"room": "upstairs", "priority": 3}, {"priority": 1}
    )
    found = ordered(location)
    told_right(location, found)
    assert {turn.rigging.setup.name for turn in found.best.turns} >= {"setup 1"}
    assert found.best.dropped
    assert all(setup.priority == 1 for setup in found.best.dropped)


def test_down_after_sunset(tmp_path: Path) -> None:
    hours = {"call": "15:00", "wrap": "23:00", "after_sunset": 10}
    location = house(tmp_path, hours, {})
    site = location.site
    sun = sun_times(
        DAY,
        location.timezone,
        latitude_deg=site.latitude,
        longitude_deg=site.longitude,
        elevation_m=site.elevation,
    )
    found = ordered(location)
    told_right(location, found)
    assert sun.set is not None
    assert found.clock.wrap_s == pytest.approx(sun.set + 600.0)


def test_two_want_one_dusk(tmp_path: Path) -> None:
    """Two that play dusk, both pinned into the same twilight: told."""
    hours = {"call": "12:00", "wrap": "21:00"}
    dusk = {"plays": "dusk", "minutes": 5}
    location = house(
        tmp_path, hours, dusk | {"start": "18:45"}, dusk | {"start": "19:30"}, {"plays": "night"}
    )
    found = ordered(location)
    told_right(location, found)
    assert [setup.name for setup in found.dusky] == ["setup 0", "setup 1"]


@pytest.mark.parametrize(
    ("hours", "message"),
    [
        ({"call": "19:00", "wrap": "09:00"}, "day: call does not lie before wrap"),
        ({"lunch": ["13:00", "12:00"]}, "day: lunch does not lie between call and wrap, in order"),
        ({"call": "9 o'clock"}, 'day › call: "9 o\'clock" is not right; expected when rigging may'),
    ],
)
def test_bad_hours(hours: dict, message: str, tmp_path: Path) -> None:
    with pytest.raises(LocationError) as refused:
        house(tmp_path, hours, {})
    assert message in str(refused.value)
