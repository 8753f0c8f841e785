"""Small invented places that several tests share, and a way to read them."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

import random_rooms

from sunplan.location.read import Location, read

BARE: dict[str, Any] = {
    "location": {
        "name": "Lamp room",
        "latitude": 52.0,
        "longitude": 5.0,
        "timezone": "Europe/Amsterdam",
        "units": "m",
        "plan_up": 0.0,
        "ground_reflectance": 0.2,
    },
    "room": [
        {
            "name": "room",
            "outline": [[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]],
            "height": 2.5,
            "opening": [
                {
                    "name": "window",
                    "wall": "A",
                    "along": 1.0,
                    "sill": 0.8,
                    "size": [2.0, 1.2],
                    "depth": 0.1,
                    "glass": "double clear",
                    "before": "ground",
                }
            ],
            "mark": [{"name": "chair", "at": [2.0, 1.6], "height": [0.7, 1.4], "width": 0.6}],
        }
    ],
    "setup": [
        {
            "name": "watch",
            "room": "room",
            "mark": "chair",
            "camera": {
                "at": [2.0, 2.8],
                "height": 1.4,
                "toward": "window",
                "view": [40, 23],
            },
            "exposure": {"iso": 800, "stop": 2.8, "fps": 24, "shutter": 180},
            "plays": "dusk",
            "minutes": 30,
        }
    ],
}


def bare() -> dict[str, Any]:
    """A box with one south window, its mark and a camera that looks out: a copy to change."""
    return copy.deepcopy(BARE)


def written(raw: dict[str, Any], folder: Path) -> Path:
    """A location file with this content."""
    file = folder / "place.toml"
    random_rooms.write_location(raw, file)
    return file


def made(raw: dict[str, Any], folder: Path) -> Location:
    """The location that this content describes."""
    return read(written(raw, folder))
