"""Daylight indoors against Radiance: stored results of `radiance_rooms.py`, two cases run live."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import radiance
import radiance_rooms
import random_rooms

from sunplan.light.daylight import Skies, Sky
from sunplan.light.daylight_transfer import RoomTransfer, trace_room
from sunplan.light.exterior_luminance import exterior_scene
from sunplan.light.screen import Screen
from sunplan.light.window_luminance import window
from sunplan.location.read import Location, read
from sunplan.rig.negative_fill import BLACK
from sunplan.room.beam import beam_of
from sunplan.room.camera import CameraView

STOPS = 0.15
WORST_STOPS = 0.25
CAMERA_STOPS = 0.1
STORED = json.loads(
    (Path(__file__).parent / "authorities" / "radiance_rooms.json").read_text(encoding="utf-8")
)
CASES = STORED["cases"]
NAMES = [f"{case['title']}, {case['sky']['name']}" for case in CASES]


def place(case: dict[str, Any], folder: Path) -> Location:
    file = folder / "room.toml"
    random_rooms.write_location(case["location"], file)
    return read(file)


def sky_of(entry: dict[str, Any]) -> Sky:
    """The sky that the rays were traced under."""
    return Sky(
        name=entry["name"],
        model="given",
        unix_s=0.0,
        sun=np.array(entry["sun"]),
        sun_altitude_deg=entry["sun_altitude_deg"],
        sun_bearing_deg=entry["sun_bearing_deg"],
        direct_normal_lux=entry["direct_normal_lux"],
        diffuse_horizontal_lux=entry["diffuse_horizontal_lux"],
    )


def room_of(location: Location, points: Any, normals: Any, screens: Any = None) -> RoomTransfer:
    spots = np.array(points, dtype=float), np.array(normals, dtype=float)
    return trace_room(location, location.room[0]).transfer_to(
        *spots, {} if screens is None else screens
    )


def stops_off(mine: Any, rays: Any) -> np.ndarray:
    return np.log2(np.asarray(mine) / np.asarray(rays))


@pytest.mark.parametrize("case", CASES, ids=NAMES)
def test_light_on_spots(case: dict[str, Any], tmp_path: Path) -> None:
    """Level and upright sensors; the ground before the house evenly lit, as the program has it."""
    sensors = case["sensors"]
    room = room_of(
        place(case, tmp_path),
        [one["point"] for one in sensors],
        [one["normal"] for one in sensors],
    )
    off = stops_off(
        room.illuminance_lux(Skies((sky_of(case["sky"]),)))[0],
        [one["even_ground_lux"] for one in sensors],
    )
    assert np.abs(off).max() < STOPS, off.round(3)
    # And with the house's own shade on the ground, which the program does not know.
    off = stops_off(
        room.illuminance_lux(Skies((sky_of(case["sky"]),)))[0], [one["lux"] for one in sensors]
    )
    assert np.abs(off).max() < WORST_STOPS, off.round(3)


def test_there_are_enough() -> None:
    assert len(CASES) == 12
    assert sum(len(case["sensors"]) for case in CASES) == 96
    assert any(case["sun_enters"] and any(case["sun_enters"].values()) for case in CASES)


@pytest.mark.parametrize("case", CASES, ids=NAMES)
def test_an_opening_seen_by_a_camera(case: dict[str, Any], tmp_path: Path) -> None:
    location = place(case, tmp_path)
    beam = beam_of(location, location.room[0])
    seen = case["camera"]
    index = [one.name for one in beam.apertures].index(seen["opening"])
    at = np.array(seen["at"])
    aim = beam.apertures[index].world(beam.apertures[index].rectangle).mean(axis=0)
    forward = (aim - at) / np.linalg.norm(aim - at)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    camera = CameraView(at, forward, right, np.cross(right, forward), np.array([5.0, 5.0]))
    found = window(beam, camera, index, exterior_scene(location, beam.room), aim)
    level = found.luminance_cd_m2(Skies((sky_of(case["sky"]),)))[0]
    # What the lit room shows in the glass is left out on both sides.
    assert abs(math.log2(level / seen["black_room_cd_m2"])) < CAMERA_STOPS


def test_negative_fill_in_a_room(tmp_path: Path) -> None:
    """A panel before the fill side: what it takes, in stops, as traced with the panel there."""
    case = STORED["negative_fill"]["room"]
    location = place(case, tmp_path)
    rays, mine = [], []
    for entry in case["panels"]:
        panel = entry["panel"]
        points, normals, screens, share = [case["point"]], [case["normal"]], {}, 0.0
        if panel is not None:
            centre = np.array(panel["centre"])
            screen = Screen(
                centre, np.array(panel["across"]), np.array(panel["up"]), tuple(panel["size_m"])
            )
            screens = {0: (screen,)}
            toward = -np.array(case["normal"])
            points.append((centre + 1e-3 * toward).tolist())
            normals.append(toward.tolist())
        room = room_of(location, points, normals, screens)
        lux = room.illuminance_lux(Skies((sky_of(case["sky"]),)))[0]
        if panel is not None:
            open_ = room.interreflection.form_factors_from(
                np.array([case["point"]]), np.array([case["normal"]])
            )
            left = room.interreflection.form_factors_from(
                np.array([case["point"]]), np.array([case["normal"]]), screens
            )
            share = float((open_ - left).sum()) * BLACK * float(lux[1])
        mine.append(float(lux[0]) + share)
        rays.append(entry["even_ground_lux"])
    taken = [math.log2(levels[0] / level) for levels in (mine,) for level in levels[1:]]
    traced = [math.log2(rays[0] / level) for level in rays[1:]]
    assert taken == pytest.approx(traced, abs=0.15)
    assert traced[0] > 0.3
    assert traced[1] > traced[0]


@pytest.mark.parametrize("number", [0, 3], ids=["a window", "a skylight"])
def test_live(number: int, tmp_path: Path) -> None:
    """Traced here and now, with fewer rays: the stored results are no accident."""
    room = radiance_rooms.ROOMS[number]
    sky = room.sky("overcast")
    points = np.array(room.sensors.points)
    normals = np.tile([0.0, 0.0, 1.0], (len(points), 1))
    scene = radiance.Scene(room.raw, room.name, sky=sky, even_ground=True)
    traced = scene.illuminance(points, normals, settings=radiance.Settings(divisions=1024))
    case = next(
        one for one in CASES if one["title"] == room.title and one["sky"]["name"] == "overcast"
    )
    found = room_of(place(case, tmp_path), points, normals).illuminance_lux(
        Skies((sky_of(case["sky"]),))
    )[0]
    assert np.abs(stops_off(found, traced.value)).max() < WORST_STOPS
    stored = [one["even_ground_lux"] for one in case["sensors"][::2]]
    assert np.abs(stops_off(traced.value, stored)).max() < 0.1
