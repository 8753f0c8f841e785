"""What the JSON of all answers shares: SI, plan frame, ISO 8601."""

from __future__ import annotations

from datetime import date
from typing import Any

from ..location.read import Location
from ..room.entry import Day
from ..sun.calendar import to_local

Answer = dict[str, Any]


def iso(moment_s: float | None, timezone: str) -> str | None:
    """Local moment with its offset, to the second."""
    return None if moment_s is None else to_local(moment_s, timezone).isoformat()


def place(location: Location) -> Answer:
    """What an answer came from: the place and the plan's bearing."""
    site = location.site
    return {
        "latitude": site.latitude,
        "longitude": site.longitude,
        "elevation_m": site.elevation,
        "plan_up": site.plan_up,
        "plan_up_error": site.plan_up_error,
    }


def head(location: Location, day: date) -> Answer:
    """What every answer for a date starts with."""
    return {
        "location": location.site.name,
        "date": day.isoformat(),
        "timezone": location.timezone,
        "place": place(location),
    }


def sun(day: Day, timezone: str) -> Answer:
    """The sun's day."""
    return {
        **{name: iso(moment, timezone) for name, moment in day.sun.moments().items()},
        "always": day.sun.always,
    }
