"""The demo locations and what is asked of them, worked out once for all tests of a process."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import sunplan
from sunplan.api import Result
from sunplan.day.plan import Plan
from sunplan.location.read import Location, read

LOCATIONS = Path(__file__).parent.parent / "locations"
NAMES = ("lock-house", "ferry-shop", "gate-house")
MARCH, JUNE = date(2027, 3, 20), date(2027, 6, 21)


@cache
def location(name: str) -> Location:
    """A demo."""
    return read(LOCATIONS / f"{name}.toml")


@cache
def asked(name: str, question: str, **options: Any) -> Result[Any]:
    """What the library answers about a demo; nobody changes it, its parts are frozen."""
    return getattr(sunplan, question)(location(name), **options)


def planned(name: str, day: date) -> Plan:
    """All answers for a demo on a date."""
    plan: Plan = asked(name, "plan", date=day.isoformat()).value
    return plan
