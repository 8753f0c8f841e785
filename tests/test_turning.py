"""A plan drawn another way round, with plan_up to match, gives the same answers."""

from __future__ import annotations

import copy
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
import random_rooms
from places import made

from sunplan.day.exterior import ExteriorDay, exteriors
from sunplan.light.daylight import skies
from sunplan.light.resolved import resolve
from sunplan.rig.flags import FlagOption, setup_flags
from sunplan.rig.gap import TimeGap, gaps
from sunplan.room.entry import DayEntries, day_entries

ROOT = Path(__file__).parent.parent
DAY = date(2027, 3, 20)


def turned(raw: dict[str, Any], degrees: float) -> dict[str, Any]:
    """The same place with its plan turned counter-clockwise on the sheet."""
    angle = np.radians(degrees)
    matrix = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])

    def spot(at: Any) -> list[float]:
        return [*(matrix @ at[:2]).tolist(), *at[2:]]

    made = copy.deepcopy(raw)
    made["location"]["plan_up"] = (made["location"]["plan_up"] + degrees) % 360
    for one in made.get("outside", []):
        one["at"], one["turn"] = spot(one["at"]), one.get("turn", 0) + degrees
    for room in made["room"]:
        room["outline"] = [spot(corner) for corner in room["outline"]]
        for part in (*room.get("opening", []), *room.get("mark", []), *room.get("practical", [])):
            if "at" in part:
                part["at"] = spot(part["at"])
            if part.get("ceiling"):
                part["turn"] = part.get("turn", 0) + degrees
    for setup in made.get("setup", []):
        if setup.get("outside"):
            setup["at"] = spot(setup["at"])
            continue
        setup["camera"]["at"] = spot(setup["camera"]["at"])
        if isinstance(setup["camera"]["toward"], list):
            setup["camera"]["toward"] = spot(setup["camera"]["toward"])
        if "key" in setup:
            setup["key"]["from"] = spot(setup["key"]["from"])
    return made


@dataclass(frozen=True, eq=False)
class Answers:
    """What is told of a demo, by setup where it is of setups."""

    entries: DayEntries
    outdoors: list[ExteriorDay]
    gaps: list[TimeGap]
    flags: list[tuple[FlagOption, ...]]


@cache
def answers(degrees: float) -> Answers:
    """Of the lock house with its plan turned, without the kits of its setups."""
    raw = random_rooms.read_location(ROOT / "locations" / "lock-house.toml")
    for setup in raw["setup"]:
        setup.pop("kit", None)
    with TemporaryDirectory() as folder:
        place = made(turned(raw, degrees) if degrees else raw, Path(folder))
    entries, setups = day_entries(place, DAY), resolve(place)
    noon = entries.sun.noon
    above, span = skies(place, [noon]), {"start_s": noon - 18000.0, "end_s": noon + 18000.0}
    return Answers(
        entries,
        list(exteriors(place, DAY)),
        [gaps(place, [setup], above)[0].times[0] for setup in setups],
        [setup_flags(place, setup, **span).options for setup in setups],
    )


@pytest.mark.parametrize("degrees", [90.0, -37.3, 180.0])
def test_a_demo(degrees: float) -> None:
    as_drawn, other_way = answers(0.0), answers(degrees)
    first, second = as_drawn.entries, other_way.entries
    for one, other in zip(first.openings, second.openings, strict=True):
        assert len(one.intervals) == len(other.intervals)
        for a, b in zip(one.intervals, other.intervals, strict=True):
            assert a.start_s == pytest.approx(b.start_s, abs=1.0)
            assert a.end_s == pytest.approx(b.end_s, abs=1.0)
            assert a.start_range_s == pytest.approx(b.start_range_s, abs=1.0)
            assert a.end_range_s == pytest.approx(b.end_range_s, abs=1.0)
        assert one.largest_patch_m2 == pytest.approx(other.largest_patch_m2, rel=1e-3)
    assert [(m.mark, len(m.intervals)) for m in first.marks] == [
        (m.mark, len(m.intervals)) for m in second.marks
    ]
    assert as_drawn.outdoors
    for one, other in zip(as_drawn.outdoors, other_way.outdoors, strict=True):
        assert one.wall
        assert other.wall
        walls = [[(each.start_s, each.end_s) for each in day.wall] for day in (one, other)]
        assert np.array(walls[0]) == pytest.approx(np.array(walls[1]), abs=1.0)
        shadows = [
            [(each.length_m, each.bearing_deg) for each in day.shadows] for day in (one, other)
        ]
        assert len(shadows[0]) > 3
        assert np.array(shadows[0]) == pytest.approx(np.array(shadows[1]))
    for at_noon in zip(as_drawn.gaps, other_way.gaps, strict=True):
        for one, other in zip(*(each.openings for each in at_noon), strict=True):
            assert one.in_frame == other.in_frame
            if one.in_frame:
                assert one.stops == pytest.approx(other.stops, abs=1e-3)
    told = [
        [[(f.opening, f.placement, f.name) for f in options] for options in each.flags]
        for each in (as_drawn, other_way)
    ]
    assert told[0] == told[1]
