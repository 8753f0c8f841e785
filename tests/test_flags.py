"""Flags against rays followed one at a time: what is told to stop them all does, no less would."""

from __future__ import annotations

from datetime import date
from itertools import product
from pathlib import Path

import numpy as np
import oneray
import pytest
import shapely

from sunplan.location.read import Location, read
from sunplan.rig.flags import FlagOption, Position, setup_flags
from sunplan.room.entry import day_entries, track_over

RAYS = 100_000
SHORTER_M = 0.05
LONGEST_S = 3600.0
SUNNY = (300, 304, 306, 307, 311)  # rooms in which the sun finds a mark that day
SEEN = (300, 301, 303, 304, 305)  # rooms in which an opening sees a mark


def place_with_setup(seed: int, folder: Path) -> tuple[Location, oneray.Scene]:
    """A random room with a setup on each of its marks."""
    rng = np.random.default_rng(seed)
    raw = dict(oneray.random_location(rng))
    room = raw["room"][0]
    outline = shapely.Polygon(room["outline"])
    setups = []
    for number, mark in enumerate(room["mark"]):
        # A camera a step from the mark, where the room has space for it.
        ring = shapely.Point(mark["at"]).buffer(0.5).exterior.intersection(outline)
        at = np.array(ring.interpolate(float(rng.uniform()), normalized=True).coords[0])
        setups.append(
            {
                "name": f"setup {number}",
                "room": room["name"],
                "mark": mark["name"],
                "camera": {
                    "at": at.tolist(),
                    "height": 1.0,
                    "toward": mark["name"],
                    "view": [40, 23],
                },
                "exposure": {"iso": 800, "stop": 2.8},
                "plays": "night",
                "minutes": 30,
            }
        )
    raw["setup"] = setups
    file = folder / "random.toml"
    oneray.write_location(raw, file)
    again = oneray.read_location(file)
    return read(file), oneray.Scene(again, again["room"][0]["name"])


def suns(location: Location, position: Position) -> np.ndarray:
    """Sun vectors through a position's interval, no more than half a minute apart."""
    count = max(2, int((position.end_s - position.start_s) / 30.0) + 2)
    times = np.linspace(position.start_s, position.end_s, count)
    sky = track_over(location, position.start_s, position.end_s).at(times)
    return sky.plan(location.site.plan_up)


def missed(
    location: Location,
    scene: oneray.Scene,
    mark: str,
    option: FlagOption,
    position: Position,
    centre: np.ndarray,
    size: tuple[float, float],
    rng: np.random.Generator,
    rays: int,
    draws: int = 10,
) -> oneray.FlagCheck:
    opening = [one.name for one in location.room[0].opening].index(option.opening)
    frame = (centre, position.across, position.up, size, rays, rng)
    if option.covers == "all":
        return oneray.unblocked_from_opening(scene, mark, opening, *frame, draws_per_ray=draws)
    facing = suns(location, position)
    return oneray.unblocked(scene, mark, opening, facing, *frame, draws_per_ray=draws)


def options(seed: int, folder: Path, covers: str):  # type: ignore[no-untyped-def]
    location, scene = place_with_setup(seed, folder)
    rng = np.random.default_rng(seed)
    day = date(2026, 1 + int(rng.integers(12)), 1 + int(rng.integers(28)))
    entries = day_entries(location, day)
    for setup in location.setup:
        spans = [
            (one.start_s, one.end_s)
            for hit in entries.marks
            if hit.mark == setup.mark
            for one in hit.stretches
        ]
        if covers == "all":
            noon = entries.sun.noon
            spans = [(noon, noon + 60.0)]
        for start, end in spans[:1]:
            found = setup_flags(
                location, setup, start_s=start, end_s=min(end, start + LONGEST_S), covers=covers
            )
            for option in found.options:
                yield location, scene, setup.mark, option, rng


@pytest.mark.parametrize(
    ("covers", "seed"),
    [*(("sun", seed) for seed in SUNNY), *(("all", seed) for seed in SEEN)],
)
def test_nothing_gets_by(seed: int, covers: str, tmp_path: Path) -> None:
    """All rays meet the flag; 5 cm shorter on any side, or moved aside, and some do not."""
    tried = 0
    for location, scene, mark, option, rng in options(seed, tmp_path, covers):
        tried += 1
        for one in option.positions:
            ray = (location, scene, mark, option, one)
            hung = missed(*ray, one.centre, one.stock_m, rng, RAYS, 60)
            assert hung.counted > 0
            assert hung.missed == 0, (option, one, hung)
            least = missed(*ray, one.needs_centre, one.needs_m, rng, RAYS // 4)
            assert least.missed == 0, (option, one, least)
            for axis, side in product((0, 1), (-1, 1)):
                size = [*one.needs_m]
                cut = min(SHORTER_M, size[axis] - 1e-3)
                size[axis] -= cut
                along = (one.across, one.up)[axis]
                centre = one.needs_centre + side * cut / 2 * along
                shorter = missed(*ray, centre, tuple(size), rng, RAYS // 5)
                assert shorter.missed > 0, (option.opening, option.placement, one, axis, side)
            aside = one.centre + (one.stock_m[0] + one.needs_m[0]) * one.across
            assert missed(*ray, aside, one.stock_m, rng, 1000).missed > 0
    assert tried
