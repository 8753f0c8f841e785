"""The demo locations and their plans, worked out once for all tests of a process."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

from sunplan.day.plan import Plan, plan
from sunplan.location.read import read

LOCATIONS = Path(__file__).parent.parent / "locations"
NAMES = ("lock-house", "ferry-shop", "gate-house")
MARCH, JUNE = date(2027, 3, 20), date(2027, 6, 21)


@cache
def planned(name: str, day: date) -> Plan:
    """All answers for a demo on a date; nobody changes it, its parts are frozen."""
    return plan(read(LOCATIONS / f"{name}.toml"), day)
