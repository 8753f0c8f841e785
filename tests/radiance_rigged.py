"""A face in rooms with black, flags, a panel and a lamp in place, traced by Radiance.

    python tests/radiance_rigged.py            writes tests/authorities/radiance_rigged.json

The rooms and skies are those of radiance_rooms.py; where things hang is invented. The points and
the ways that they face are the program's own: they are what is asked, not the answer.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import radiance
import radiance_rooms
import random_rooms
from radiance import Panel, Scene, Settings

from sunplan.light.face import Faces, faces
from sunplan.light.resolved import resolve
from sunplan.location.read import Location, read

OUT = Path(__file__).parent / "authorities" / "radiance_rigged.json"
CLOTH = 0.04
"""Reflectance of black cloth and of a panel's black side."""

SETTINGS = Settings(divisions=8192, bounces=40, repeats=6, wanted_error=0.01, most_repeats=60)
Three = tuple[float, float, float]


@dataclass(frozen=True)
class Case:
    """A room with what hangs in it, under one of its skies."""

    title: str
    room: int
    sky: str
    mark: tuple[float, float]
    camera: tuple[float, float]
    black: tuple[str, ...] = ()
    flags: tuple[Panel, ...] = ()
    panel_m: float | None = None
    """How far a panel of 1.22 m square stands from the fill side, None without one."""
    key: dict[str, Any] = field(default_factory=dict)
    corner: bool = False
    """Whether all light comes round an inner corner: elements see each other from their middles."""


def upright(centre: Three, across: Three, size_m: tuple[float, float]) -> Panel:
    """A flag that hangs upright."""
    return Panel(centre, across, (0.0, 0.0, 1.0), size_m, CLOTH)


def level(centre: Three, size_m: tuple[float, float]) -> Panel:
    """A flag that lies level."""
    return Panel(centre, (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), size_m, CLOTH)


SMALL, LARGE = (0.61, 0.91), (2.44, 1.22)
CASES = [
    Case(
        "an L, the long window blacked out",
        2,
        "overcast",
        (1.6, 1.8),
        (2.4, 4.0),
        ("long window",),
        corner=True,
    ),
    Case("the same under a clear sky", 2, "clear", (1.6, 1.8), (2.4, 4.0), ("long window",)),
    Case("a roof window blacked out", 5, "clear", (2.0, 2.0), (0.6, 0.8), ("roof window",)),
    Case(
        "a flag over a part of the one window",
        0,
        "overcast",
        (1.8, 2.2),
        (2.9, 3.6),
        flags=(upright((1.6, 0.02, 1.55), (1.0, 0.0, 0.0), SMALL),),
    ),
    Case(
        "sun on the face, a flag on a stand before it",
        4,
        "clear",
        (2.6, 2.4),
        (4.8, 3.9),
        flags=(upright((2.21, 1.45, 2.13), (1.0, 0.0, 0.0), SMALL),),
    ),
    Case(
        "sun on the face, a floppy outside before the window",
        4,
        "clear",
        (2.6, 2.4),
        (4.8, 3.9),
        flags=(upright((1.5, -0.6, 2.3), (1.0, 0.0, 0.0), LARGE),),
    ),
    Case(
        "a flag level under a skylight",
        3,
        "clear",
        (2.2, 1.7),
        (0.6, 0.6),
        flags=(level((2.2, 1.3, 2.2), (0.61, 0.91)),),
    ),
    Case(
        "both windows blacked out, a lamp through a frame, a panel of negative fill",
        2,
        "clear",
        (1.6, 1.8),
        (2.4, 4.0),
        ("long window", "yard window"),
        panel_m=0.9,
        key={"lamp": "led 150", "frame": "4x4 half", "from": [0.4, 3.6], "height": 1.8},
    ),
    Case(
        "a window left, one blacked out, negative fill",
        2,
        "overcast",
        (1.6, 1.8),
        (2.4, 4.0),
        ("long window",),
        panel_m=0.6,
        corner=True,
    ),
]


def location_of(case: Case) -> dict[str, Any]:
    """The room's location with a mark and a setup in it."""
    raw = json.loads(json.dumps(radiance_rooms.ROOMS[case.room].raw))
    room = raw["room"][0]
    room["mark"] = [{"name": "mark", "at": list(case.mark), "height": [1.0, 1.7]}]
    setup: dict[str, Any] = {
        "name": case.title,
        "room": room["name"],
        "mark": "mark",
        "camera": {"at": list(case.camera), "height": 1.5, "toward": "mark", "view": [40, 23]},
        "exposure": {"iso": 800, "stop": 2.8},
        "plays": "dusk",
        "minutes": 10,
    }
    raw["setup"] = [setup | ({"key": case.key} if case.key else {})]
    return raw


def face_of(case: Case) -> tuple[Location, Faces]:
    """The location, and the face's points and its lamp in the room as found."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "room.toml"
        random_rooms.write_location(location_of(case), file)
        location = read(file)
    (room,) = faces(location, resolve(location))
    return location, room


def panel_of(case: Case, room: Faces, side: int) -> Panel | None:
    """The panel square to a side of the face, upright, its middle level with the face."""
    if case.panel_m is None:
        return None
    normal, face = room.transfer.normals[side], room.transfer.points[side]
    x, y, z = face + case.panel_m * normal
    across = (-float(normal[1]), float(normal[0]), 0.0)
    return upright((float(x), float(y), float(z)), across, (1.22, 1.22))


def black_of(case: Case, scene: Scene) -> list[Panel]:
    """Cloth over the inner faces of openings."""
    names = [one["name"] for one in radiance_rooms.ROOMS[case.room].raw["room"][0]["opening"]]
    sheets = []
    for name in case.black:
        corners = scene.shape.openings[names.index(name)].aperture
        across, up = corners[1] - corners[0], corners[3] - corners[0]
        size = float(np.linalg.norm(across)), float(np.linalg.norm(up))
        inward = np.cross(across, up)
        middle = scene.shape.polygon.representative_point()
        at = np.array([middle.x, middle.y, 1.5 + scene.shape.floor_m])
        inward *= np.sign(inward @ (at - corners.mean(axis=0))) / np.linalg.norm(inward)
        centre = corners.mean(axis=0) + 5e-4 * inward
        sheets.append(
            Panel(tuple(centre), tuple(across / size[0]), tuple(up / size[1]), size, CLOTH)
        )
    return sheets


def compute(case: Case, settings: Settings, sides: Sequence[int] = (0, 1)) -> dict[str, Any]:
    """Lux on both sides of the face, with a panel before each in turn, and on the wall behind."""
    _, room = face_of(case)
    place = radiance_rooms.ROOMS[case.room]
    sky = place.sky(case.sky)
    points, normals = room.transfer.points, room.transfer.normals
    (source,) = room.sources
    lit = None
    if source is not None:
        assert source.sheet is not None
        assert source.exitance_lux is not None
        sheet = source.sheet
        across, up = sheet.across, sheet.up
        if np.cross(across, up) @ (source.face - sheet.centre) < 0:
            across = -across
        lit = (
            Panel(tuple(sheet.centre), tuple(across), tuple(up), sheet.size, 0.0),
            source.exitance_lux,
        )
    bare = Scene(place.raw, place.name, sky=sky)
    found = []
    for side in sides if case.panel_m is not None else (0,):
        scene = Scene(
            place.raw,
            place.name,
            sky=sky,
            panel=panel_of(case, room, side),
            hung=(*black_of(case, bare), *case.flags),
            lit=lit,
            even_ground=True,
        )
        reading = scene.illuminance(points, normals, settings=settings)
        found.append(
            {
                "panel_before": None if case.panel_m is None else side,
                "lux": [float(f"{lux:.5g}") for lux in reading.value],
                "standard_error_lux": [float(f"{lux:.2g}") for lux in reading.standard_error],
            }
        )
    return {
        "title": case.title,
        "sky": radiance_rooms._sky_entry(case.sky, sky, place),
        "points": points.round(6).tolist(),
        "normals": normals.round(6).tolist(),
        "readings": found,
    }


def main() -> None:
    """Compute all and write the file."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--out", type=Path, default=OUT, help="the file to write")
    options = parser.parse_args()
    document = {
        "what": "A face in rooms as rigged, traced by Radiance; see tests/radiance_rigged.py",
        "written": datetime.now(UTC).date().isoformat(),
        "versions": radiance.versions(),
        "settings": " ".join(SETTINGS.arguments()),
        "sensors": "left of the camera, right of it, level, the wall straight behind",
        "cases": [compute(case, SETTINGS) for case in CASES],
    }
    options.out.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
