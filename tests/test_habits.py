"""What looks wrong by habit is told by check, and nothing else is."""

from __future__ import annotations

from pathlib import Path

import pytest
from places import bare, made

from sunplan.location.read import read
from sunplan.survey.plausibility import doubts

ROOT = Path(__file__).parent.parent


def told(folder: Path, site: dict, room: dict | None = None) -> list[str]:
    raw = bare()
    raw["location"] |= site
    raw["room"][0] |= room or {}
    return list(doubts(made(raw, folder)))


@pytest.mark.parametrize("name", ["lock-house", "gate-house", "ferry-shop"])
def test_the_demos_look_right(name: str) -> None:
    assert list(doubts(read(ROOT / "locations" / f"{name}.toml"))) == []


LISBON = {"latitude": 38.72, "longitude": -9.14, "timezone": "Europe/Lisbon", "plan_up": 12.0}
VALPARAISO = {"latitude": -33.05, "longitude": -71.62, "timezone": "America/Santiago"}


@pytest.mark.parametrize(
    ("site", "lines"),
    [
        ({}, []),
        (
            {"longitude": 9.14},
            [
                "38.72, 9.14 lies where the clock is Etc/GMT-1; 38.72, -9.14 would be that of "
                "Europe/Lisbon: north and east are positive"
            ],
        ),
        (
            VALPARAISO | {"longitude": 71.62},
            [
                "longitude 71.62 is 8 hours of the sun away from the local time of "
                "America/Santiago; "
                "is it -71.62? East is positive, west negative"
            ],
        ),
        (
            VALPARAISO | {"latitude": 33.05},
            [
                "33.05, -71.62 lies where the clock is Etc/GMT+5; -33.05, -71.62 would be that of "
                "America/Santiago: north and east are positive"
            ],
        ),
        (
            {"longitude": 120.0},
            [
                "longitude 120 is 7 hours of the sun away from the local time of "
                "Europe/Lisbon; is the "
                "time zone that of the place?"
            ],
        ),
        (
            {"plan_up": 90.0},
            [
                "plan_up is exactly 90 with no error: few houses stand so; if it was not measured, "
                "give plan_up_error, and see what it does to the moments"
            ],
        ),
        ({"plan_up": 90.0, "plan_up_error": 3.0}, []),
        (
            {"latitude": 60.0, "longitude": 30.5, "timezone": "Europe/Amsterdam"},
            ["60, 30.5 lies where the clock is Europe/Moscow, not that of Europe/Amsterdam"],
        ),
    ],
)
def test_places(site: dict, lines: list[str], tmp_path: Path) -> None:
    assert told(tmp_path, LISBON | site) == lines


@pytest.mark.parametrize(
    ("units", "room", "line"),
    [
        (
            "m",
            {"height": 8.5},
            'room "{}" is 8.50 m high, more than a house has; are these feet? Then units = "ft"',
        ),
        ("m", {"height": 20.0}, 'room "{}" is 20.00 m high, more than a house has'),
        (
            "ft",
            {"height": 2.6},
            'room "{}" is 2\'7" high, less than one stands in; are these metres? Then units = "m"',
        ),
        ("m", {"height": 1.2}, 'room "{}" is 1.20 m high, less than one stands in'),
    ],
)
def test_lengths(units: str, room: dict, line: str, tmp_path: Path) -> None:
    raw = bare()
    name = raw["room"][0]["name"]
    plain = {"opening": [], "mark": [], "practical": []}
    raw = {
        "location": LISBON | {"name": "x", "units": units},
        "room": [raw["room"][0] | plain | room],
    }
    found = list(doubts(made(raw, tmp_path)))
    assert line.format(name) in found


def test_no_doubt_about_a_zone_that_keeps_the_same_time(tmp_path: Path) -> None:
    """Neighbours with one clock: a border town may be given either name."""
    assert (
        told(tmp_path, LISBON | {"latitude": 50.85, "longitude": 4.35, "timezone": "Europe/Paris"})
        == []
    )


def test_a_bearing_that_is_a_compass_error(tmp_path: Path) -> None:
    """Sydney's magnetic north is 12.8° E (NOAA's calculator, mid 2026; it moves 0.05° a year)."""
    sydney = {"latitude": -33.8688, "longitude": 151.2093, "timezone": "Australia/Sydney"}
    assert told(tmp_path, sydney | {"plan_up": 12.8}) == [
        "plan_up 12.8 is what a compass is off there: right only where the sheet's up is magnetic "
        "north"
    ]
    (turned,) = told(tmp_path, sydney | {"plan_up": 347.2})
    assert turned.startswith("plan_up -12.8 is what a compass is off there, with its sign turned")
    assert told(tmp_path, sydney | {"plan_up": 20.0}) == []


def test_swapped_coordinates_lie_at_sea(tmp_path: Path) -> None:
    """Latitude and longitude of a town in the north of Italy, the other way round: off Somalia."""
    raw = bare()
    del raw["location"]["timezone"]
    raw["location"] |= {"latitude": 12.3155, "longitude": 45.4408, "plan_up": 12.0}
    (line,) = doubts(made(raw, tmp_path))
    assert line.startswith("12.3155, 45.4408 lies at sea: latitude comes first")
