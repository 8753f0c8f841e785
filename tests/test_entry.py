"""Moments of a day: their ranges against plans that are turned by hand, patches by trigonometry."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path

import pytest
from places import bare, made

from sunplan.location.read import Location
from sunplan.room.beam import beam_of
from sunplan.room.entry import DayEntries, day_entries
from sunplan.room.patches import sun_patches
from sunplan.room.patches_by_hour import patches_by_hour
from sunplan.sun.track import track_over

DAY = date(2027, 3, 20)


def with_error(
    error_deg: float, folder: Path, turned_deg: float = 0.0
) -> tuple[Location, DayEntries]:
    raw = bare()
    raw["location"].update(plan_up=20.0 + turned_deg, plan_up_error=error_deg)
    location = made(raw, folder)
    return location, day_entries(location, DAY)


@pytest.mark.parametrize("error", [1.0, 3.0, 6.0])
def test_ranges_are_those_of_turned_plans(error: float, tmp_path: Path) -> None:
    """A plan really turned to either end of its error gives the ends of every range."""
    day = with_error(error, tmp_path)[1]
    less, more = (with_error(0.0, tmp_path, turn)[1] for turn in (-error, error))
    for kind in ("openings", "marks"):
        for one, low, high in zip(*(getattr(d, kind) for d in (day, less, more)), strict=True):
            for stretch, early, late in zip(
                one.intervals, low.intervals, high.intervals, strict=True
            ):
                starts = sorted((early.start_s, stretch.start_s, late.start_s))
                ends = sorted((early.end_s, stretch.end_s, late.end_s))
                assert stretch.start_range_s == pytest.approx((starts[0], starts[-1]), abs=1.0)
                assert stretch.end_range_s == pytest.approx((ends[0], ends[-1]), abs=1.0)
                assert stretch.certain


def test_without_error_nothing_moves(tmp_path: Path) -> None:
    for one in with_error(0.0, tmp_path)[1].openings:
        for stretch in one.intervals:
            assert stretch.start_range_s == (stretch.start_s, stretch.start_s)
            assert stretch.end_range_s == (stretch.end_s, stretch.end_s)


def test_a_window_that_the_sun_only_grazes(tmp_path: Path) -> None:
    """North-facing at the equinox: no sun as drawn, some when the plan is turned."""
    raw = bare()
    raw["location"].update(plan_up=180.0, plan_up_error=0.0)
    assert day_entries(made(raw, tmp_path), DAY).openings[0].intervals == ()
    raw["location"].update(plan_up=180.0, plan_up_error=12.0)
    found = day_entries(made(raw, tmp_path), DAY).openings[0]
    assert found.intervals == ()
    assert len(found.possible) == 2  # by sunrise and by sunset
    for start, end in found.possible:
        assert 0 < end - start < 2 * 3600


def test_the_noon_patch(tmp_path: Path) -> None:
    """A south window at noon: from sill and head, the sun's altitude lays it on the floor."""
    location = made(bare(), tmp_path)
    day = day_entries(location, DAY)
    noon = day.sun.noon
    altitude = track_over(location, noon, noon + 60).at([noon]).altitude_deg[0]
    rise = math.tan(math.radians(altitude))
    near, far = 0.8 / rise, (2.0 - 0.1 * rise) / rise  # the head is that of the glass
    room = location.room[0]
    shot = min(patches_by_hour(location, room, day), key=lambda look: abs(look.moment_s - noon))
    assert abs(shot.moment_s - noon) < 1800  # 13:00 by the clock
    sun = track_over(location, noon, noon + 60).at([noon]).plan(0.0)[0]
    (patch,) = sun_patches(beam_of(location, room), 0, sun[None])[0]
    assert patch.surface == "floor"
    assert patch.shape.bounds[1] == pytest.approx(near, abs=1e-3)
    assert patch.shape.bounds[3] == pytest.approx(far, abs=1e-3)
    assert patch.area_m2 == pytest.approx(2.0 * (far - near), rel=0.01)  # the sun is nearly south


def test_looks_fall_on_the_clock(tmp_path: Path) -> None:
    location = made(bare(), tmp_path)
    day = day_entries(location, DAY)
    seen = patches_by_hour(location, location.room[0], day)
    (stretch,) = day.openings[0].intervals
    assert all(look.moment_s % 3600 == 0 for look in seen)
    assert len(seen) == int(stretch.end_s // 3600 - stretch.start_s // 3600)
    assert all(look.patches for look in seen)


def test_a_set_after_midnight(tmp_path: Path) -> None:
    """Where clocks run far ahead of the sun its day still has both ends."""
    raw = bare()
    raw["location"].update(latitude=64.0, longitude=-165.4, timezone="America/Nome")
    sun = day_entries(made(raw, tmp_path), date(2026, 6, 21)).sun
    assert sun.rise is not None
    assert sun.set is not None
    assert sun.rise < sun.noon < sun.set
    # The day is even about the sun's noon, though it ends on the next date.
    assert (sun.set - sun.noon) / 3600 == pytest.approx((sun.noon - sun.rise) / 3600, abs=0.1)
