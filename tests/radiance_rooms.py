"""Reference daylight of six invented rooms, traced by Radiance (see radiance.py).

    python tests/radiance_rooms.py             computes everything: some twenty minutes
    python tests/radiance_rooms.py --quick     the same, coarse, to the file named by --out

writes tests/authorities/radiance_rooms.json: inputs and results side by side, so that the cases
can be computed again by anything that reads a location file.
"""

from __future__ import annotations

import argparse
import json
import math
import re
import time
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import radiance
import ray_triangles
from radiance import Panel, Reading, Scene, Settings, Sky

OUT = Path(__file__).parent / "authorities" / "radiance_rooms.json"

CLEAR = (-1.0, -0.32, 10.0, -3.0, 0.45)
"""CIE type 12: clear sky, low turbidity."""

OVERCAST = (4.0, -0.7, 0.0, -1.0, 0.0)
"""CIE type 1: overcast sky, steep gradation."""

UP = (0.0, 0.0, 1.0)
FULL = Settings(divisions=16384, bounces=60, repeats=12, wanted_error=0.004)
CELLS = 12
PANEL_M = 1.22
PANEL_REFLECTANCE = 0.04

NOTES = {
    "frame": "plan frame: x right, y up the sheet, z up from the ground, metres; bearings are "
    "true, altitudes above the level horizon; sun is the unit vector toward the sun",
    "lux": "illuminance on a small plane at `point` that faces `normal`, everything traced",
    "direct_sun_lux": "the part of lux that comes straight from the sun's centre; more than 0 "
    "marks a sensor that lies in the sun",
    "black_room": "the same with a shell and reveals that reflect nothing (on either side): light "
    "straight from sky, sun, ground and blocks through the glass",
    "even_ground": "the same as lux, but the ground glows everywhere with reflectance times "
    "horizontal_lux over pi: no shade of the building or of blocks on it, no light from the walls",
    "building": "the shell has no thickness and stands alone; its outer side has the reflectance "
    "of its inner side, throws shade on the ground and light on it",
    "glass": "one clear sheet of index 1.52; transmittance is that at normal incidence and falls "
    "with the angle as Fresnel's formulas and absorption say; it mirrors the room too",
    "camera": f"mean luminance over rays from `at` through the centres of {CELLS} x {CELLS} equal "
    "cells of the inner face's rectangle, those that pass the rectangle of the glass as well "
    "(`rays` of them); the glass's loss and what it mirrors are in it",
    "standard_error": "of the mean, from the spread of repeated runs; 95 % of the means lie "
    "within 2 standard errors of the endless run",
    "doubled": "the same sensors with twice -ab and twice -ad: ratio is doubled over lux, "
    "standard_error its standard error",
}


# --------------------------------------------------------------------------------------------
# the rooms


@dataclass(frozen=True)
class Sensors:
    """Where a room is measured: four points, the way of the upright sensor of each."""

    points: tuple[tuple[float, float, float], ...]
    ways: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Room:
    """A room with its places and its two skies."""

    title: str
    raw: dict[str, Any]
    sensors: Sensors
    camera: tuple[float, float, float]
    toward: int
    altitude_deg: float
    bearing_deg: float
    clear_lux: tuple[float, float]
    """Direct normal, diffuse horizontal."""
    overcast_lux: float

    @property
    def name(self) -> str:
        """The room's name in its file."""
        return str(self.raw["room"][0]["name"])

    def sky(self, kind: str) -> Sky:
        """`clear` or `overcast`."""
        up = float(self.raw["location"]["plan_up"])
        x, y, z = ray_triangles.sun_vector(self.altitude_deg, self.bearing_deg, up)
        sun = (float(x), float(y), float(z))
        if kind == "clear":
            direct, diffuse = self.clear_lux
            return Sky(CLEAR, diffuse, direct, sun)
        return Sky(OVERCAST, self.overcast_lux, 0.0, sun)


def _location(
    name: str,
    plan_up: float,
    ground: float,
    room: dict[str, Any],
    outside: list[dict[str, Any]] | None = None,
) -> dict[str, Any]:
    place = {
        "name": name,
        "latitude": 51.0,
        "longitude": 6.0,
        "timezone": "Europe/Amsterdam",
        "units": "m",
        "plan_up": plan_up,
        "ground_reflectance": ground,
    }
    raw: dict[str, Any] = {"location": place, "room": [room]}
    if outside is not None:
        raw["outside"] = outside
    return raw


def _reflectance(floor: float, walls: float, ceiling: float) -> dict[str, float]:
    return {"floor": floor, "walls": walls, "ceiling": ceiling}


def _box_room(depth: float) -> dict[str, Any]:
    return {
        "name": "parlour",
        "outline": [[0.0, 0.0], [3.6, 0.0], [3.6, 4.2], [0.0, 4.2]],
        "height": 2.6,
        "reflectance": _reflectance(0.3, 0.7, 0.8),
        "opening": [
            {
                "name": "south window",
                "wall": "A",
                "along": 1.0,
                "sill": 0.9,
                "size": [1.5, 1.3],
                "depth": depth,
                "transmittance": 0.8,
            }
        ],
    }


BOX_SENSORS = Sensors(
    ((1.8, 2.2, 1.4), (0.8, 1.2, 1.3), (2.9, 3.5, 1.6), (3.0, 1.0, 1.2)),
    ((0.0, -1.0), (1.0, 0.0), (-0.6, -0.8), (0.0, 1.0)),
)

ROOMS = [
    Room(
        "small box, one window to the south, shallow reveal",
        _location("Shallow house", 0.0, 0.2, _box_room(0.1)),
        BOX_SENSORS,
        (2.9, 3.4, 1.5),
        0,
        42.0,
        205.0,
        (82000.0, 11500.0),
        14000.0,
    ),
    Room(
        "the same box, deep reveal; the sun stays out",
        _location("Deep house", 0.0, 0.2, _box_room(0.4)),
        BOX_SENSORS,
        (2.9, 3.4, 1.5),
        0,
        36.0,
        96.0,
        (76000.0, 10500.0),
        8000.0,
    ),
    Room(
        "a dark L with two windows, a shed before one of them",
        _location(
            "Corner house",
            25.0,
            0.12,
            {
                "name": "den",
                "outline": [[0, 0], [5.6, 0], [5.6, 2.6], [3.0, 2.6], [3.0, 5.2], [0, 5.2]],
                "height": 2.5,
                "reflectance": _reflectance(0.15, 0.35, 0.6),
                "opening": [
                    {
                        "name": "long window",
                        "wall": "A",
                        "along": 3.6,
                        "sill": 0.8,
                        "size": [1.3, 1.3],
                        "depth": 0.2,
                        "transmittance": 0.75,
                    },
                    {
                        "name": "yard window",
                        "wall": "F",
                        "along": 0.8,
                        "sill": 1.0,
                        "size": [1.0, 1.1],
                        "depth": 0.25,
                        "transmittance": 0.6,
                    },
                ],
            },
            [
                {
                    "name": "shed",
                    "at": [-7.0, 1.0],
                    "size": [3.0, 6.0, 4.0],
                    "turn": 12.0,
                    "reflectance": 0.3,
                }
            ],
        ),
        Sensors(
            ((4.8, 1.8, 1.4), (1.0, 1.0, 1.5), (2.2, 4.4, 1.3), (2.4, 2.0, 1.2)),
            ((0.0, -1.0), (1.0, 0.0), (-1.0, 0.0), (0.8, -0.6)),
        ),
        (1.2, 4.2, 1.4),
        0,
        30.0,
        240.0,
        (70000.0, 9800.0),
        11000.0,
    ),
    Room(
        "a room with a skylight only; the sun comes in",
        _location(
            "Flat-roof house",
            10.0,
            0.25,
            {
                "name": "dressing room",
                "outline": [[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]],
                "height": 2.5,
                "reflectance": _reflectance(0.2, 0.55, 0.75),
                "opening": [
                    {
                        "name": "skylight",
                        "ceiling": True,
                        "at": [2.2, 1.4],
                        "size": [0.9, 1.1],
                        "depth": 0.35,
                        "turn": 15.0,
                        "transmittance": 0.7,
                    }
                ],
            },
        ),
        Sensors(
            ((1.0, 0.8, 1.3), (2.2, 1.0, 1.6), (3.4, 2.3, 1.2), (0.7, 2.4, 1.5)),
            ((1.0, 0.0), (0.0, 1.0), (-0.8, -0.6), (0.0, -1.0)),
        ),
        (1.6, 1.0, 1.2),
        0,
        56.0,
        170.0,
        (90000.0, 13000.0),
        16000.0,
    ),
    Room(
        "a white room, a low sun through a big window on floor and wall",
        _location(
            "Bright house",
            340.0,
            0.3,
            {
                "name": "studio",
                "outline": [[0.0, 0.0], [6.0, 0.0], [6.0, 4.5], [0.0, 4.5]],
                "floor": 0.5,
                "height": 2.8,
                "reflectance": _reflectance(0.35, 0.8, 0.85),
                "opening": [
                    {
                        "name": "big window",
                        "wall": "A",
                        "along": 0.4,
                        "sill": 0.5,
                        "size": [2.6, 1.8],
                        "depth": 0.15,
                        "transmittance": 0.8,
                    }
                ],
            },
        ),
        Sensors(
            ((3.0, 2.2, 1.9), (0.7, 2.6, 1.9), (5.3, 1.6, 1.7), (0.8, 3.9, 2.1)),
            ((0.0, -1.0), (0.6, -0.8), (-1.0, 0.0), (1.0, 0.0)),
        ),
        (5.2, 3.8, 1.9),
        0,
        14.0,
        185.0,
        (45000.0, 6500.0),
        6000.0,
    ),
    Room(
        "a sunlit block across the street and a roof window; the sun stays out",
        _location(
            "Street house",
            0.0,
            0.15,
            {
                "name": "front room",
                "outline": [[0.0, 0.0], [4.4, 0.0], [4.4, 3.6], [0.0, 3.6]],
                "floor": 3.0,
                "height": 2.5,
                "reflectance": _reflectance(0.25, 0.6, 0.8),
                "opening": [
                    {
                        "name": "street window",
                        "wall": "C",
                        "along": 1.6,
                        "sill": 0.8,
                        "size": [1.4, 1.4],
                        "depth": 0.2,
                        "transmittance": 0.78,
                    },
                    {
                        "name": "roof window",
                        "ceiling": True,
                        "at": [3.2, 1.2],
                        "size": [0.78, 1.18],
                        "depth": 0.75,
                        "pitch": 40.0,
                        "faces": 0.0,
                        "transmittance": 0.72,
                    },
                ],
            },
            [
                {
                    "name": "block across the street",
                    "at": [-7.0, 13.6],
                    "size": [19.0, 6.0, 12.0],
                    "reflectance": 0.5,
                }
            ],
        ),
        Sensors(
            ((2.0, 2.2, 4.4), (0.7, 0.8, 4.3), (3.4, 1.2, 4.6), (3.8, 2.8, 4.2)),
            ((0.0, 1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)),
        ),
        (0.9, 0.8, 4.4),
        0,
        35.0,
        140.0,
        (75000.0, 10800.0),
        12500.0,
    ),
]


# --------------------------------------------------------------------------------------------
# one case


def _rounded(value: float, digits: int = 5) -> float:
    """Significant digits; lux and cd/m2 need no more."""
    return 0.0 if value == 0.0 else float(f"{value:.{digits}g}")


def _sky_entry(kind: str, sky: Sky, room: Room) -> dict[str, Any]:
    return {
        "name": kind,
        "terms": list(sky.terms),
        "direct_normal_lux": sky.direct_normal_lux,
        "diffuse_horizontal_lux": sky.diffuse_horizontal_lux,
        "horizontal_lux": _rounded(sky.horizontal_lux, 7),
        "sun": list(sky.sun),
        "sun_altitude_deg": room.altitude_deg,
        "sun_bearing_deg": room.bearing_deg,
    }


def _clear_of_sun(ways: ray_triangles.Floats, sun: tuple[float, float, float]) -> float:
    """Degrees between the sun and the nearest ray."""
    return float(np.degrees(np.arccos(np.clip(ways @ np.asarray(sun), -1.0, 1.0))).min())


def compute(room: Room, kind: str, settings: Settings) -> dict[str, Any]:
    """All results of one room under one sky."""
    started = time.perf_counter()
    sky = room.sky(kind)
    points = np.repeat(np.asarray(room.sensors.points), 2, axis=0)
    normals = np.array([n for x, y in room.sensors.ways for n in (UP, (x, y, 0.0))])
    seen = replace(settings, divisions=max(settings.divisions // 16, 64))
    twice = radiance.doubled(replace(settings, wanted_error=None), bounces=True, divisions=True)

    full = Scene(room.raw, room.name, sky=sky)
    scenes = {
        "": full,
        "black_room_": Scene(room.raw, room.name, sky=sky, black_room=True),
        "even_ground_": Scene(room.raw, room.name, sky=sky, even_ground=True),
    }
    ways = full.view(room.camera, room.toward)
    if kind == "clear" and _clear_of_sun(ways, sky.sun) < 2.0:
        raise ValueError(f"{room.title}: the camera looks into the sun")
    lux = {k: s.illuminance(points, normals, settings=settings) for k, s in scenes.items()}
    seconds = time.perf_counter() - started
    check = full.illuminance(points, normals, settings=twice)
    bright = {k: s.luminance(room.camera, ways, settings=seen) for k, s in scenes.items()}
    sun_lux = full.direct_sun(points, normals)

    sensors = []
    for i in range(len(points)):
        entry: dict[str, Any] = {
            "point": [float(c) for c in points[i]],
            "normal": [float(c) for c in normals[i]],
        }
        for key, reading in lux.items():
            entry[f"{key}lux"] = _rounded(float(reading.value[i]))
            entry[f"{key}standard_error_lux"] = _rounded(float(reading.standard_error[i]), 2)
        entry["direct_sun_lux"] = _rounded(float(sun_lux[i]))
        entry["doubled"] = _ratio(check, lux[""], i)
        sensors.append(entry)
    camera: dict[str, Any] = {
        "at": list(room.camera),
        "opening": full.shape.openings[room.toward].name,
        "cells": CELLS,
        "rays": len(ways),
    }
    for key, reading in bright.items():
        camera[f"{key}cd_m2"] = _rounded(float(reading.value))
        camera[f"{key}standard_error_cd_m2"] = _rounded(float(reading.standard_error), 2)
    enters = {
        o.name: kind == "clear" and full.shape.passes(o.index, np.asarray(sky.sun), share=False).any
        for o in full.shape.openings
    }
    return {
        "title": room.title,
        "sky": _sky_entry(kind, sky, room),
        "location": room.raw,
        "room": room.name,
        "sun_enters": enters,
        "sensors": sensors,
        "camera": camera,
        "seconds": round(seconds, 1),
        "seconds_with_checks": round(time.perf_counter() - started, 1),
    }


def _ratio(above: Reading, below: Reading, i: int) -> dict[str, float]:
    ratio = float(above.value[i] / below.value[i])
    spread = math.hypot(
        float(above.standard_error[i] / above.value[i]),
        float(below.standard_error[i] / below.value[i]),
    )
    return {"ratio": round(ratio, 5), "standard_error": round(ratio * spread, 5)}


# --------------------------------------------------------------------------------------------
# negative fill, and checks with closed answers


def _panels(point: tuple[float, float, float]) -> dict[str, Panel | None]:
    """The panels square before a sensor that faces -x, by distance."""
    panels: dict[str, Panel | None] = {"none": None}
    for distance in (PANEL_M, 0.5 * PANEL_M):
        centre = (point[0] - distance, point[1], point[2])
        panels[f"{distance:.2f} m"] = Panel(
            centre, (0.0, 1.0, 0.0), UP, (PANEL_M, PANEL_M), PANEL_REFLECTANCE
        )
    return panels


def _square_factor(side: float, distance: float) -> float:
    """Form factor from a small plane to a parallel square over it, centred."""
    half = 0.5 * side / distance
    root = math.sqrt(1.0 + half * half)
    return 4.0 * half / root * math.atan(half / root) / math.pi


def negative_fill(settings: Settings) -> dict[str, Any]:
    """A sensor in room 1 under the overcast sky, and one in an even surround."""
    room = ROOMS[0]
    sky = room.sky("overcast")
    point, normal = (1.8, 2.2, 1.4), (-1.0, 0.0, 0.0)
    in_room = []
    for name, panel in _panels(point).items():
        entry: dict[str, Any] = {
            "distance": name,
            "panel": None if panel is None else asdict(panel),
        }
        for key, even in (("", False), ("even_ground_", True)):
            scene = Scene(room.raw, room.name, sky=sky, panel=panel, even_ground=even)
            reading = scene.illuminance([point], [normal], settings=settings)
            entry[f"{key}lux"] = _rounded(float(reading.value[0]))
            entry[f"{key}standard_error_lux"] = _rounded(float(reading.standard_error[0]), 2)
        in_room.append(entry)
    luminance, side, middle = 100.0, 6.0, (0.0, 0.0, 0.0)
    in_even = []
    for name, panel in _panels(middle).items():
        reading = radiance.even_surround(
            luminance, side, [middle], [normal], panel=panel, settings=settings
        )
        shade = 0.0
        if panel is not None:
            distance = -panel.centre[0]
            shade = (1.0 - PANEL_REFLECTANCE) * _square_factor(PANEL_M, distance)
        in_even.append(
            {
                "distance": name,
                "panel": None if panel is None else asdict(panel),
                "lux": _rounded(float(reading.value[0])),
                "standard_error_lux": _rounded(float(reading.standard_error[0]), 2),
                "formula_lux": _rounded(math.pi * luminance * (1.0 - shade)),
            }
        )
    return {
        "room": {
            "location": room.raw,
            "room": room.name,
            "sky": _sky_entry("overcast", sky, room),
            "point": list(point),
            "normal": list(normal),
            "panels": in_room,
        },
        "even_surround": {
            "what": "closed cube, its walls glow evenly and reflect nothing; sensor in its middle",
            "side_m": side,
            "luminance_cd_m2": luminance,
            "point": list(middle),
            "normal": list(normal),
            "panels": in_even,
        },
    }


def _check(what: str, reading: Reading, exact: float) -> dict[str, Any]:
    return {
        "what": what,
        "traced": _rounded(float(reading.value.ravel()[0]), 6),
        "standard_error": _rounded(float(reading.standard_error.ravel()[0]), 2),
        "exact": _rounded(exact, 6),
    }


def checks(settings: Settings) -> list[dict[str, Any]]:
    """What the traced scenes give where the answer is known."""
    out = []
    room = ROOMS[0]
    for kind in ("clear", "overcast"):
        sky = room.sky(kind)
        bare = Scene(room.raw, room.name, sky=sky, without_room=True)
        up = bare.illuminance([[0.0, 0.0, 1.0]], [UP], settings=settings)
        out.append(_check(f"horizontal lux in the open, {kind}", up, sky.horizontal_lux))
        down = bare.illuminance([[0.0, 0.0, 1.0]], [(0.0, 0.0, -1.0)], settings=settings)
        glow = bare.ground_reflectance * sky.horizontal_lux
        out.append(_check(f"lux from the ground in the open, {kind}", down, glow))
    sphere, exact = radiance.sphere(1000.0, 0.8, 0.02, settings=settings)
    out.append(_check("integrating sphere of reflectance 0.8, lamp 2 % of its area", sphere, exact))
    lit = ROOMS[4]
    sky = lit.sky("clear")
    scene = Scene(lit.raw, lit.name, sky=sky)
    beam = scene.direct_sun([lit.sensors.points[0]], [sky.sun])
    out_of_wall = scene.shape.openings[0].plane.normal
    through = radiance.glass_transmittance(0.8, float(np.dot(sky.sun, out_of_wall)))
    straight = Reading(beam, np.zeros(1))
    expected = sky.direct_normal_lux * float(through)
    out.append(_check("sun through the glass of room 5, facing the sun", straight, expected))
    closed: Mapping[str, Any] = {
        **room.raw,
        "room": [{**room.raw["room"][0], "opening": []}],
    }
    dark = Scene(closed, room.name, sky=room.sky("clear"))
    inside = dark.illuminance([[1.8, 2.2, 1.4]], [UP], settings=settings)
    out.append(_check("room 1 without its window, clear", inside, 0.0))
    return out


# --------------------------------------------------------------------------------------------


def main() -> None:
    """Compute all and write the file."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--quick", action="store_true", help="coarse: for a look")
    parser.add_argument("--out", type=Path, default=OUT, help="the file to write")
    options = parser.parse_args()
    settings = Settings(divisions=1024, repeats=8) if options.quick else FULL

    def one(job: tuple[Room, str]) -> dict[str, Any]:
        case = compute(*job, settings)
        print(f"{case['seconds_with_checks']:7.1f} s  {job[1]:9s} {job[0].title}", flush=True)
        return case

    jobs = [(room, kind) for room in ROOMS for kind in ("clear", "overcast")]
    with ThreadPoolExecutor(2) as two:
        fill = two.submit(negative_fill, settings)
        known = two.submit(checks, settings)
        cases = list(two.map(one, jobs))
    document = {
        "what": "Daylight in six invented rooms, traced by Radiance; see tests/radiance.py",
        "written": datetime.now(UTC).date().isoformat(),
        "versions": radiance.versions(),
        "seed": "none: a new run differs within the standard errors",
        "settings": {
            **asdict(settings),
            "rtrace": " ".join(settings.arguments()),
            "luminance": "a sixteenth of the divisions, for each ray",
            "lumens_per_watt": radiance.LUMENS_PER_WATT,
            "sun_disk_deg": radiance.SUN_DISK_DEG,
            "ground_radius_m": radiance.GROUND_RADIUS_M,
        },
        "notes": NOTES,
        "checks": known.result(),
        "cases": cases,
        "negative_fill": fill.result(),
    }
    text = re.sub(
        r"\[\s+([-+.\de,\s]+?)\s+\]",
        lambda found: "[" + re.sub(r"\s+", " ", found[1]) + "]",
        json.dumps(document, indent=1),
    )
    options.out.write_text(text + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
