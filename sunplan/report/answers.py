"""What the JSON of all answers shares: SI, plan frame, ISO 8601."""

from __future__ import annotations

import json
import math
from datetime import date
from typing import Any

from ..location.read import Location
from ..sun.almanac import SunTimes
from ..sun.local_time import to_local

Answer = dict[str, Any]


def iso(moment_s: float | None, timezone: str) -> str | None:
    """Local moment with its offset, to the second."""
    return None if moment_s is None else to_local(moment_s, timezone).isoformat()


def span(ends_s: tuple[float, float], timezone: str) -> Answer:
    """From when to when."""
    return {"from": iso(ends_s[0], timezone), "to": iso(ends_s[1], timezone)}


def place(location: Location) -> Answer:
    """What an answer came from: the place, the plan's bearing, how far lengths may be off."""
    site = location.site
    return {
        "latitude": site.latitude,
        "longitude": site.longitude,
        "elevation_m": site.elevation,
        "plan_up": site.plan_up,
        "plan_up_error": site.plan_up_error,
        "size_error_m": site.size_error,
        "place_error_m": site.place_error,
    }


def as_json(answer: Answer) -> str:
    """An answer as JSON text; what is not finite (no light, no fill) becomes null."""
    return json.dumps(finite(answer), ensure_ascii=False, indent=1, allow_nan=False)


def finite(value: Any) -> Any:
    """The same, with None for numbers that are not finite."""
    if isinstance(value, dict):
        return {key: finite(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [finite(one) for one in value]
    return None if isinstance(value, float) and not math.isfinite(value) else value


def head(location: Location, day: date) -> Answer:
    """What every answer for a date starts with."""
    return {
        "location": location.site.name,
        "date": day.isoformat(),
        "timezone": location.timezone,
        "place": place(location),
    }


def sun(times: SunTimes, timezone: str) -> Answer:
    """The sun's day."""
    return {
        **{name: iso(moment, timezone) for name, moment in times.moments().items()},
        "always": times.always,
    }
