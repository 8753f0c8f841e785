"""`flags --sure` over long stretches, in random rooms whose plan may be turned and lengths off.

It holds all that is told without it, and no ray gets by, whichever way the plan points. Rays are
followed one at a time through the place as it truly is. `SURE_FLAG_ROOMS=200` takes so many rooms,
`SURE_FLAG_RAYS=1000` so many rays of each position and turn.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import flag_rays
import numpy as np
import oneray
import pytest
from places import made
from test_flags import STEP_S
from test_flags_random import LEAST_M, MOMENT_S, SLACK_M
from test_sure import CAMERA, SETUP, places, true_moments, truth

from sunplan.errors import LocationError
from sunplan.light.resolved import resolve
from sunplan.location.read import Location
from sunplan.rig.flags import FlagOption, setup_flags
from sunplan.room.entry import day_entries
from sunplan.room.interval import Span
from sunplan.sun.track import track_over

ROOMS = int(os.environ.get("SURE_FLAG_ROOMS", "2"))
RAYS = int(os.environ.get("SURE_FLAG_RAYS", "300"))
SEED = 9  # in its first room, looks taken out of order told 18 minutes too little
BESIDE_S = 5400.0  # asked for before and after the sun is on the mark: a stretch of three hours


@dataclass(frozen=True, eq=False)
class Case:
    """A room with its flags through a long stretch, with and without `sure`."""

    raw: dict[str, Any]
    day: date
    location: Location
    asked: Span
    sure: tuple[FlagOption, ...]
    given: tuple[FlagOption, ...]


def _cases(folder: Path) -> Iterator[Case]:
    """Rooms with sun on their mark that a flag stops; of every second one the lengths are exact."""
    for number, (raw, day, plain) in enumerate(places(SEED, folder)):
        if number % 2:
            for entry in (raw["location"], *raw.get("outside", [])):
                entry |= {"size_error": 0.0, "place_error": 0.0}
        hits = [stretch for mark in day_entries(plain, day).marks for stretch in mark.intervals]
        if not hits:
            continue
        raw["setup"] = [SETUP | {"camera": CAMERA | {"at": raw["room"][0]["mark"][0]["at"]}}]
        location = made(raw, folder)
        asked = hits[0].start_s - BESIDE_S, hits[-1].end_s + BESIDE_S
        sure, given = (
            setup_flags(
                location, resolve(location)[0], start_s=asked[0], end_s=asked[1], sure=sure
            ).options
            for sure in (True, False)
        )
        if sure:
            yield Case(raw, day, location, asked, sure, given)


@pytest.fixture(scope="module")
def cases(tmp_path_factory: pytest.TempPathFactory) -> list[Case]:
    rooms = _cases(tmp_path_factory.mktemp("rooms"))
    return [case for _, case in zip(range(ROOMS), rooms, strict=False)]


def outside(span: Span, spans: Sequence[Span]) -> list[Span]:
    """What of a stretch of time lies in none of others, but for what is told to the second."""
    left, at = [], span[0]
    for start, end in sorted(spans):
        left.append((at, min(start - MOMENT_S, span[1])))
        at = max(at, end + MOMENT_S)
    return [(start, end) for start, end in (*left, (at, span[1])) if end > start]


def test_sure_holds_all_that_is_told_without(cases: list[Case]) -> None:
    """No moment that is told without `sure` lies outside of what is told with it."""
    short = [
        (number, option.placement, outside(span, sure.spans))
        for number, case in enumerate(cases)
        for option in case.given
        for span in option.spans
        for sure in case.sure
        if outside(span, sure.spans)
    ]
    assert short == []


def test_no_ray_gets_by_whichever_way_the_plan_points(cases: list[Case]) -> None:
    """Neither beside the flag nor beside the least rectangle, nor while nothing is told."""
    rng = np.random.default_rng(SEED)
    followed, wrong = 0, []
    for number, case in enumerate(cases):
        for share in (-1.0, *rng.uniform(-1.0, 1.0, 2), 0.0, 1.0):
            # All that may be off is so by this share of its ±.
            real = truth(case.raw, lambda error, share=share: share * error)
            scene = oneray.Scene(real, "room")

            def rays(
                span: Span,
                case: Case = case,
                real: dict[str, Any] = real,
                scene: oneray.Scene = scene,
            ) -> tuple[np.ndarray, np.ndarray]:
                """Points and directions of a stretch of time."""
                times = np.linspace(*span, max(2, int((span[1] - span[0]) / STEP_S) + 2))
                sky = track_over(case.location, *case.asked).at(times)
                suns = sky.plan(real["location"]["plan_up"])
                return flag_rays.rays_from_opening(
                    scene, "spot", 0, suns, RAYS, rng, draws_per_ray=12
                )

            for option in case.sure:
                which = number, share, option.placement
                places_ = [(one.start_s, one.end_s) for one in option.positions]
                for span in outside(case.asked, places_):
                    if len(rays(span)[0]):
                        wrong.append((*which, "none told", span))
                for one in option.positions:
                    points, toward = rays((one.start_s, one.end_s))
                    followed += len(points)
                    needed = one.needs_centre, one.across, one.up, one.needs_m
                    short = flag_rays.passes_flag(points, toward, *needed, slack_m=LEAST_M)
                    flag = one.centre, one.across, one.up, one.stock_m
                    beside = flag_rays.passes_flag(points, toward, *flag, slack_m=SLACK_M)
                    for name, by in (("needed", short), ("flag", beside)):
                        if by.any():
                            wrong.append((*which, name, float(by.max())))
    assert wrong == []
    assert followed > ROOMS * RAYS


def test_sun_on_the_true_mark_is_told(cases: list[Case], tmp_path: Path) -> None:
    """Whichever way the plan points, when the sun comes to the mark it is told to be stopped."""
    hits, wrong = 0, []
    for number, case in enumerate(cases):
        plain = {key: value for key, value in case.raw.items() if key != "setup"}
        for share in (-1.0, -0.4, 0.4, 1.0):
            real = truth(plain, lambda error, share=share: share * error)
            found: list[Span] = []
            with suppress(LocationError):  # truly its window may stick out of the wall
                found = true_moments(made(real, tmp_path), case.day)[1]
            for start, end in found:
                span = max(start, case.asked[0]), min(end, case.asked[1])
                hits += span[1] > span[0]
                wrong += [
                    (number, share, option.placement, outside(span, option.spans))
                    for option in case.sure
                    if outside(span, option.spans)
                ]
    assert hits > ROOMS
    assert wrong == []
