"""The room in sunlight against rays followed one at a time (`oneray.py`, shapes by trimesh)."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import oneray
import pytest
import random_rooms
import shapely
from campaign import few_or_many

from sunplan.location.read import Location, read
from sunplan.room.beam import Beam, beam_of
from sunplan.room.entry import SunTests, day_entries
from sunplan.room.mark_hits import touches
from sunplan.room.patches import sun_patches
from sunplan.sun.local_time import day_span
from sunplan.sun.track import track_over

MOMENT_S = 10.0  # how well a moment must agree
OUTLINE_M = 0.001  # how well a patch's corners must
AREA_SHARE = 0.001


def random_place(seed: int, folder: Path) -> tuple[Location, oneray.Scene]:
    """The same random room for the program and for the rays."""
    file = folder / "random.toml"
    random_rooms.write_location(random_rooms.random_location(np.random.default_rng(seed)), file)
    raw: dict[str, Any] = random_rooms.read_location(file)
    return read(file), oneray.Scene(raw, raw["room"][0]["name"])


def suns_through(
    scene: oneray.Scene, opening: int, count: int, rng: np.random.Generator
) -> np.ndarray:
    """Sun vectors that may well pass an opening, above the skyline."""
    suns = random_rooms.aimed_suns(scene, opening, count, rng)
    return suns[(suns[:, 2] > 0.01) & scene.sky_open(suns)]


@pytest.mark.parametrize("seed", range(few_or_many(24, 40)))
def test_openings_marks_and_areas(seed: int, tmp_path: Path) -> None:
    location, scene = random_place(seed, tmp_path)
    room = beam_of(location, location.room[0])
    rng = np.random.default_rng(seed)
    for index in range(len(room.apertures)):
        for sun in suns_through(scene, index, 6, rng):
            passes = bool(room.passes(index, sun[None])[0])
            assert passes == scene.passes(index, sun, share=False).any, (index, sun)
            if not passes:
                continue
            for mark in room.room.mark:
                touched = bool(touches(room, index, [mark], sun[None])[0, 0])
                if touched != scene.hits(mark.name, index, sun).any:
                    # Only a mark within half a millimetre of the beam's edge may be told otherwise.
                    less, more = (
                        scene.hits(mark.name, index, sun, grow_m=grow).any
                        for grow in (-0.0005, 0.0005)
                    )
                    assert less != more, (mark.name, index, sun)
            patches = {patch.surface: patch for patch in sun_patches(room, index, sun[None])[0]}
            for surface in scene.surfaces():
                if surface == "ceiling":
                    continue
                true = scene.patch_area(surface, index, sun)
                found = patches[surface].area_m2 if surface in patches else 0.0
                assert found == pytest.approx(true, rel=AREA_SHARE, abs=2e-6), (surface, sun)


@pytest.mark.parametrize("seed", range(100, few_or_many(108, 112)))
def test_outlines_of_patches(seed: int, tmp_path: Path) -> None:
    location, scene = random_place(seed, tmp_path)
    room = beam_of(location, location.room[0])
    rng = np.random.default_rng(seed)
    for index in range(len(room.apertures)):
        for sun in suns_through(scene, index, 3, rng):
            for patch in sun_patches(room, index, sun[None])[0]:
                if patch.area_m2 < 1e-4:
                    continue
                rings = [
                    np.array(part.exterior.coords[:-1]) for part in shapely.get_parts(patch.shape)
                ]
                error = scene.outline_error(patch.surface, rings, index, sun)
                assert error.worst_m < OUTLINE_M, (patch.surface, sun, error)


def light_at(location: Location, day: date) -> SunTests:
    return SunTests(location, track_over(location, *day_span(day, location.timezone)))


def sun_at(light: SunTests, moment: float) -> np.ndarray | None:
    sky = light.above_horizon(np.array([moment]))
    return light.plan_vectors(sky)[0] if len(sky.unix_s) else None


@pytest.mark.parametrize("seed", range(200, few_or_many(213, 225)))
def test_moments(seed: int, tmp_path: Path) -> None:
    """Just inside each told moment rays get through, just outside none does."""
    location, scene = random_place(seed, tmp_path)
    rng = np.random.default_rng(seed)
    day = date(2026, 1, 1).replace(month=int(rng.integers(1, 13)), day=int(rng.integers(1, 29)))
    start, end = day_span(day, location.timezone)
    light = light_at(location, day)
    room: Beam = beam_of(location, location.room[0])
    entries = day_entries(location, day)
    spans: list[tuple[str | None, str, float, float]] = []
    for one in entries.openings:
        spans += [(None, one.opening, s.start_s, s.end_s) for s in one.intervals]
    for touched in entries.marks:
        spans += [(touched.mark, touched.opening, s.start_s, s.end_s) for s in touched.intervals]

    def rays_say(mark: str | None, opening: str, moment: float) -> bool:
        sun = sun_at(light, moment)
        if sun is None:
            return False
        index = room.index(opening)
        if mark is None:
            return scene.passes(index, sun, share=False).any
        return scene.hits(mark, index, sun).any

    for mark, opening, first, last in spans:
        if last - first > 2 * MOMENT_S:
            for moment in (first + MOMENT_S, (first + last) / 2, last - MOMENT_S):
                assert rays_say(mark, opening, moment), (mark, opening, moment)
        others = [s for s in spans if s[:2] == (mark, opening)]
        for moment in (first - MOMENT_S, last + MOMENT_S):
            if start < moment < end and not any(s[2] <= moment <= s[3] for s in others):
                assert not rays_say(mark, opening, moment), (mark, opening, moment)
    # And between the told stretches, a look every twenty minutes finds no other.
    for opening in room.apertures:
        for mark in (None, *(mark.name for mark in room.room.mark)):
            told = [(s[2], s[3]) for s in spans if s[:2] == (mark, opening.name)]
            for moment in np.arange(start, end, 1200.0):
                near = any(a - MOMENT_S <= moment <= b + MOMENT_S for a, b in told)
                assert near or not rays_say(mark, opening.name, float(moment))
