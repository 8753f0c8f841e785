"""How sure moments are: what errors of bearing and lengths do, against places truly so far off.

The reference is Monte Carlo: every number of a file is taken to be off by a normal error whose two
standard deviations are the file's ±, and the moments of the place as it truly is are worked out
with nothing left open. 120 places are taken, 240 in `make thorough`, SURE_ROOMS of them.
"""

from __future__ import annotations

import copy
import math
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from datetime import date, time, timedelta
from itertools import islice
from pathlib import Path
from typing import Any

import flag_rays
import numpy as np
import oneray
import pytest
import random_rooms
from campaign import few_or_many
from places import made

from sunplan.day.hours import hours
from sunplan.errors import LocationError
from sunplan.light.daylight import Weather
from sunplan.light.resolved import resolve
from sunplan.location.read import Location
from sunplan.location.tolerances import BEARING_DEG, TAPE_M
from sunplan.rig.flags import setup_flags
from sunplan.room.beam import beam_of
from sunplan.room.entry import DayEntries, SunTests, day_entries
from sunplan.room.interval import Span, SunInterval
from sunplan.sun.local_time import day_span
from sunplan.sun.search import time_grid
from sunplan.sun.track import track_over

NEAR_S = 30.0  # half of the minute that is told
APART_S = 3600.0  # stretches farther apart are not the same
PART = 60
ROOMS = int(os.environ.get("SURE_ROOMS", few_or_many(120, 240)))
TRUTHS = 100
LOCK = Path(__file__).parent.parent / "locations" / "lock-house.toml"
LEAST_M = 0.002  # as test_flags'
CAMERA = {"height": 1.4, "toward": "light", "view": [40, 23]}
SETUP = {
    "name": "watch",
    "room": "room",
    "mark": "spot",
    "exposure": {"iso": 800, "stop": 2.8},
    "plays": "evening",
    "minutes": 30,
}


def random_place(rng: np.random.Generator) -> tuple[dict[str, Any], date]:
    """A room with a window or skylight, a mark, sometimes a neighbour; how far all may be off."""
    wide, deep, height = rng.uniform(2.5, 6.0), rng.uniform(2.5, 6.0), rng.uniform(2.3, 3.0)
    size = [rng.uniform(0.6, 1.6), rng.uniform(0.6, 1.6)]
    opening: dict[str, Any] = {"name": "light", "size": size, "depth": rng.uniform(0.1, 0.4)}
    if rng.random() < 0.3:
        opening |= {"ceiling": True, "at": [rng.uniform(1.0, wide - 1), rng.uniform(1.0, deep - 1)]}
    else:
        wall = int(rng.integers(4))
        along = rng.uniform(0.2, (wide, deep)[wall % 2] - size[0] - 0.2)
        sill = rng.uniform(0.3, height - size[1] - 0.2)
        opening |= {"wall": "ABCD"[wall], "along": along, "sill": sill}
    low = rng.uniform(0.3, 1.0)
    mark = {
        "name": "spot",
        "at": [rng.uniform(0.7, wide - 0.7), rng.uniform(0.7, deep - 0.7)],
        "height": [low, low + rng.uniform(0.4, 0.8)],
        "width": rng.uniform(0.4, 0.8),
    }
    raw: dict[str, Any] = {
        "location": {
            "name": "anywhere",
            "latitude": float(rng.uniform(-50.0, 60.0)),
            "longitude": 5.0,
            "timezone": "UTC",
            "plan_up": float(rng.uniform(0.0, 360.0)),
            "plan_up_error": float(rng.uniform(1.0, 5.0)),
            "size_error": float(rng.uniform(0.01, 0.05)),
            "place_error": float(rng.uniform(0.02, 0.15)),
        },
        "room": [
            {
                "name": "room",
                "outline": [[0.0, 0.0], [wide, 0.0], [wide, deep], [0.0, deep]],
                "height": height,
                "opening": [opening],
                "mark": [mark],
            }
        ],
    }
    if rng.random() < 0.3:
        angle, away = rng.uniform(0, 2 * math.pi), rng.uniform(8.0, 20.0)
        raw["outside"] = [
            {
                "name": "neighbour",
                "at": [away * math.cos(angle), away * math.sin(angle)],
                "size": [rng.uniform(3, 10), rng.uniform(3, 8), rng.uniform(3, 9)],
                "size_error": 0.5,
                "place_error": 1.0,
            }
        ]
    day = date(2027, 1, 1) + timedelta(days=int(rng.integers(365)))
    return _plain(raw), day


def _plain(value: Any) -> Any:
    """Without numpy's own numbers."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    return float(value) if isinstance(value, np.floating) else value


def truth(raw: dict[str, Any], off: Callable[[float], float]) -> dict[str, Any]:
    """The place as it may truly be, each number off on its own; nothing is left open.

    `off` draws how far a number is off by its ±.
    """
    real = copy.deepcopy(raw)
    site = real["location"]
    size, place = (site.pop(f"{key}_error") for key in ("size", "place"))
    turn = off(site.pop("plan_up_error"))
    site["plan_up"] = (site["plan_up"] + turn) % 360.0
    (room,) = real["room"]
    (opening,) = room["opening"]
    if "faces" in opening:  # a roof window turns with its house
        opening["faces"] = (opening["faces"] + turn) % 360.0
    opening["size"] = [one + off(size) for one in opening["size"]]
    opening["depth"] = max(0.01, opening["depth"] + off(size))
    if "at" in opening:
        opening["at"] = [one + off(place) for one in opening["at"]]
        room["height"] += off(size)
    else:
        opening["along"] += off(place)
        opening["sill"] += off(place)
    (mark,) = room["mark"]
    mark["at"] = [one + off(place) for one in mark["at"]]
    for block in real.get("outside", []):
        own_size, own_place = block.pop("size_error"), block.pop("place_error")
        block["size"] = [max(0.1, one + off(own_size)) for one in block["size"]]
        block["at"] = [one + off(own_place) for one in block["at"]]
    return real


def normal(rng: np.random.Generator) -> Callable[[float], float]:
    """Errors whose two standard deviations are the ±."""
    return lambda error: float(rng.normal(0.0, error / 2.0))


def places(seed: int, folder: Path) -> Iterator[tuple[dict[str, Any], date, Location]]:
    """Random places that hold together."""
    rng = np.random.default_rng(seed)
    while True:
        raw, day = random_place(rng)
        with suppress(LocationError):  # the neighbour may stand in the room
            yield raw, day, made(raw, folder)


def true_moments(location: Location, day: date) -> tuple[list[Span], list[Span]]:
    """Sun through the opening of a place and on its mark, nothing left open."""
    start, end = day_span(day, location.timezone)
    light = SunTests(location, track_over(location, start, end))
    beam = beam_of(location, location.room[0])
    found = light.opening_intervals(beam, 0, light.grid(time_grid(start, end, 120.0)), to_s=5.0)
    return found.passing[0], found.touching["spot"][0]


def told_moments(day: DayEntries) -> list[tuple[tuple[SunInterval, ...], tuple[Span, ...]]]:
    """Stretches of the opening and of the mark, with what may be besides."""
    (opening,) = day.openings
    on_mark = next(((one.intervals, one.possible) for one in day.marks), ((), ()))
    return [(opening.intervals, opening.possible), on_mark]


def apart_s(one: Span, other: Span) -> float:
    """Seconds between two stretches, below 0 where they overlap."""
    return max(one[0], other[0]) - min(one[1], other[1])


def ends(one: SunInterval) -> Span:
    return one.start_s, one.end_s


def nearest(one: SunInterval, found: Sequence[Span]) -> Span | None:
    """The stretch of the true place that is meant, if it is there."""
    near = min(found, key=lambda other: apart_s(ends(one), other), default=None)
    return None if near is None or apart_s(ends(one), near) > APART_S else near


@pytest.mark.parametrize("seed", range(ROOMS // PART))
def test_the_truth_lies_within(seed: int, tmp_path: Path) -> None:
    """A part of the random rooms, each truly off by as much as its file says that it may be.

    Moments that may move by half a minute or more lie within their ranges in 95 % (or as many as
    chance leaves of a part). What is told as certain comes, what comes was told as possible.
    """
    rng = np.random.default_rng(1000 + seed)
    inside, came, told_of = [], [], []
    for raw, day, location in islice(places(seed, tmp_path), PART):
        try:
            real = made(truth(raw, normal(rng)), tmp_path)
        except LocationError:  # truly its neighbour stands in it, or its window sticks out
            continue
        for (stretches, possible), true in zip(
            told_moments(day_entries(location, day)), true_moments(real, day), strict=True
        ):
            for one in stretches:
                near = nearest(one, true)
                if near is None:
                    came.append(not one.certain)
                    continue
                came.append(True)
                for moment, (early, late) in zip(
                    near, (one.start_range_s, one.end_range_s), strict=True
                ):
                    if late - early > 2 * NEAR_S:
                        inside.append(early - NEAR_S <= moment <= late + NEAR_S)
            for span in true:
                near_ones = [one for one in stretches if apart_s(ends(one), span) < APART_S]
                told_of.append(bool(near_ones) or any(apart_s(one, span) < 0 for one in possible))
    assert len(inside) > PART * 0.8
    # Two standard deviations of a share of 0.95 in so many.
    chance = 2.0 * math.sqrt(0.95 * 0.05 / len(inside))
    assert np.mean(inside) > 0.95 - chance
    assert np.mean(came) > 0.97
    assert np.mean(told_of) > 0.97


def test_no_wider_than_needed(tmp_path: Path) -> None:
    """Ranges are at most 1.5 times as wide as what holds 95 % of what the place may truly be."""
    rng = np.random.default_rng(77)
    stated, needed = [], []
    for raw, day, location in islice(places(77, tmp_path), 10):
        seen: dict[tuple[int, int], list[Span]] = {}
        told = told_moments(day_entries(location, day))
        for _ in range(TRUTHS):
            try:
                real = made(truth(raw, normal(rng)), tmp_path)
            except LocationError:
                continue
            for kind, true in enumerate(true_moments(real, day)):
                for row, one in enumerate(told[kind][0]):
                    near = nearest(one, true)
                    if near is not None:
                        seen.setdefault((kind, row), []).append(near)
        for (kind, row), spans in seen.items():
            one = told[kind][0][row]
            if len(spans) < 0.9 * TRUTHS:
                continue
            low, high = np.quantile(spans, (0.025, 0.975), axis=0)
            for width, (early, late) in zip(
                high - low, (one.start_range_s, one.end_range_s), strict=True
            ):
                if width > 120.0:
                    stated.append(late - early)
                    needed.append(width)
    ratio = np.array(stated) / np.array(needed)
    assert len(ratio) > 12
    assert ratio.max() < 1.5
    assert 0.9 < np.median(ratio) < 1.2


def test_lengths_move_what_they_should(tmp_path: Path) -> None:
    """A mark's place moves no moment of the opening; along two axes its effects add by squares."""
    raw, day, _ = next(one for one in places(3, tmp_path) if "outside" not in one[0])
    for key in ("size_error", "place_error", "plan_up_error"):
        raw["location"][key] = 0.0
    plain = day_entries(made(raw, tmp_path), day)
    assert all(
        one.start_range_s == (one.start_s, one.start_s)
        for stretches, _ in told_moments(plain)
        for one in stretches
    )
    raw["room"][0]["mark"][0]["place_error"] = 0.05
    moved = day_entries(made(raw, tmp_path), day)
    (opening, _), (on_mark, _) = told_moments(moved)
    assert all(one.start_range_s == (one.start_s, one.start_s) for one in opening)
    assert on_mark
    for one in on_mark:
        early = [one.start_s - effect.start_range_s[0] for effect in one.contributions]
        assert one.start_s - one.start_range_s[0] == pytest.approx(math.hypot(*early))


def test_as_far_off_as_may_be(tmp_path: Path) -> None:
    """Openings shrink to nothing or leave their wall, a mark its room: sun on it is not certain."""
    raw, _, _ = next(places(3, tmp_path))
    raw["location"] |= {"latitude": 52.0, "plan_up": 0.0, "size_error": 1.0, "place_error": 1.0}
    outline = [[0, 0], [6, 0], [6, 3], [3, 3], [3, 5], [0, 5]]
    window = {"name": "w", "wall": "A", "along": 0.1, "sill": 0.5, "size": [1.0, 1.0], "depth": 0.2}
    hatch = {"name": "h", "ceiling": True, "at": [5.4, 2.4], "size": [0.8, 0.8], "depth": 0.3}
    mark = {"name": "spot", "at": [0.4, 1.0], "height": [0.2, 1.5]}
    room = {"name": "room", "outline": outline, "height": 2.4, "mark": [mark]}
    raw["room"] = [room | {"opening": [window, hatch]}]
    location = made(raw, tmp_path)
    found = day_entries(location, date(2027, 3, 20))
    stretches = [one for each in found.marks for one in each.intervals]
    assert stretches
    assert not any(one.certain for one in stretches)


def test_the_measurement_that_narrows_most(tmp_path: Path) -> None:
    """Measured as told, the moment is as sure as told; and no other measurement does as much."""
    tried = 0
    for raw, day, location in islice(places(9, tmp_path), 16):
        found = day_entries(location, day).best_measurement()
        if found is None or "outside" in raw:
            continue
        tried += 1

        def with_care(what: str, raw: dict[str, Any] = raw, day: date = day) -> DayEntries:
            """The day once one of the measurements is taken with care."""
            careful = copy.deepcopy(raw)
            (room,) = careful["room"]
            if what == "the plan's bearing":
                careful["location"]["plan_up_error"] = BEARING_DEG
            elif "spot" in what:
                room["mark"][0]["place_error"] = TAPE_M
            elif "light" in what:
                key = "place_error" if "place" in what else "size_error"
                room["opening"][0][key] = TAPE_M
            else:
                return day_entries(made(raw, tmp_path), day)  # the height: part of all sizes
            return day_entries(made(careful, tmp_path), day)

        then = with_care(found.measure.name)
        kind = 0 if found.moment.mark is None else 1
        one = min(
            told_moments(then)[kind][0],
            key=lambda each: abs(
                (each.start_s if found.moment.starts else each.end_s) - found.moment.moment_s
            ),
        )
        sure = one.start_range_s if found.moment.starts else one.end_range_s
        assert sure == pytest.approx(found.then_s, abs=90.0)

        def width_s(day: DayEntries) -> float:
            return sum(
                high - low
                for stretches, _ in told_moments(day)
                for each in stretches
                for low, high in (each.start_range_s, each.end_range_s)
            )

        others = ("the plan's bearing", "spot, its place", "light, its place", "light, its width")
        least = min(width_s(with_care(other)) for other in others)
        assert width_s(then) <= least * 1.03
    assert tried >= 5


def test_sure_flags_hold_whatever_the_lengths(tmp_path: Path) -> None:
    """With --sure no ray gets by, whatever the place is within all of its ±; without, some do.

    Rays are followed one at a time through the place as it truly is.
    """
    rng = np.random.default_rng(21)
    tried, got_by = 0, 0.0
    for raw, day, plain in islice(places(21, tmp_path), few_or_many(10, 16)):
        raw["setup"] = [SETUP | {"camera": CAMERA | {"at": raw["room"][0]["mark"][0]["at"]}}]
        location = made(raw, tmp_path)
        hits = [each for one in day_entries(plain, day).marks for each in one.intervals]
        if not hits:
            continue
        span = {"start_s": hits[0].start_s, "end_s": min(hits[0].end_s, hits[0].start_s + 1800.0)}
        (setup,) = resolve(location)
        sure = setup_flags(location, setup, **span, sure=True)
        given = setup_flags(location, setup, **span)
        if not sure.options:
            continue
        tried += 1
        for _ in range(3):
            # At an end of what it may be, or anywhere within.
            real = truth(raw, lambda error: error * float(rng.choice([-1, 1, rng.uniform(-1, 1)])))
            scene = oneray.Scene(real, "room")
            for options, must in ((sure.options, True), (given.options, False)):
                for one in (each for option in options for each in option.positions):
                    times = np.linspace(one.start_s, one.end_s, 120)
                    sky = track_over(location, one.start_s, one.end_s).at(times)
                    suns = sky.plan(real["location"]["plan_up"])
                    points, toward = flag_rays.rays_from_opening(
                        scene, "spot", 0, suns, 1500, rng, draws_per_ray=12
                    )
                    if not len(points):
                        continue
                    least = (one.needs_centre, one.across, one.up, one.needs_m)
                    beyond = float(flag_rays.passes_flag(points, toward, *least).max())
                    if must:
                        assert beyond < LEAST_M, (setup.name, beyond)
                    else:
                        got_by = max(got_by, beyond)
    assert tried >= 3
    assert got_by > 0.02


def test_hours_ends_are_sure(tmp_path: Path) -> None:
    """Between sure ends the sun does the same whichever way within ± the plan points.

    Beyond the earliest start or the latest end it does so for no way; rays one at a time say so for
    sun on the mark.
    """
    raw = random_rooms.read_location(LOCK)
    raw["setup"] = [one for one in raw["setup"] if not one.get("outside")]
    for setup in raw["setup"]:
        setup.pop("kit")
    location = made(raw, tmp_path)
    day, error = date(2027, 3, 20), location.site.plan_up_error
    weathers = Weather("clear"), Weather("overcast")
    found = hours(
        location,
        resolve(location),
        day,
        day,
        between=(time(9), time(19)),
        weathers=weathers,
        best=2,
    )
    scenes = {}
    for turn in (-error, -error / 2, 0.0, error / 2, error):
        turned = copy.deepcopy(raw)
        turned["location"]["plan_up"] += turn
        for room in turned["room"]:
            for opening in room["opening"]:
                if "faces" in opening:
                    opening["faces"] += turn
            scenes[turn, room["name"]] = oneray.Scene(turned, room["name"])
    checked = 0
    track = track_over(location, *day_span(day, location.timezone))

    def on_mark(setup: str, mark: str, moment: float, turn: float) -> set[str]:
        room = location.room_named(setup)
        sky = track.at(np.array([moment]))
        if sky.altitude_deg[0] <= 0:
            return set()
        sun = sky.plan(location.site.plan_up + turn)
        scene = scenes[turn, setup]
        return {
            one.name
            for index, one in enumerate(room.opening)
            if scene.hits(mark, index, sun[0]).any
        }

    for one in (stretch for each in found for stretch in each.stretches):
        assert one.firm is not None
        (early, late), (first, last) = one.firm.start_range_s, one.firm.end_range_s
        assert early <= late
        assert first <= last
        assert early - 900.0 <= one.start_s
        assert one.end_s <= last + 900.0
        room, mark = one.setup.room, one.setup.mark
        if one.firm.certain and late < first - 600.0:
            for moment in np.linspace(late + 60.0, first - 60.0, 4):
                for turn in (-error, -error / 2, 0.0, error / 2, error):
                    assert on_mark(room, mark, float(moment), turn) == set(one.on_mark)
                    checked += 1
    assert checked > 60
