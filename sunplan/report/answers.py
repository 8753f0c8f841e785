"""What the JSON of all answers shares: SI, plan frame, ISO 8601."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING, Any, Protocol

from .. import __version__
from ..location.read import Location
from ..sun.almanac import SunTimes
from ..sun.local_time import to_local

if TYPE_CHECKING:
    from ..day.tolerance import Firm
    from ..light.screen import Screen
    from ..room.interval import SunInterval

Answer = dict[str, Any]


class Named(Protocol):
    """What has a name."""

    @property
    def name(self) -> str:
        """Its name."""


class Timed(Protocol):
    """What lasts from one moment to another, seconds since 1970 UTC."""

    @property
    def start_s(self) -> float:
        """When it begins."""

    @property
    def end_s(self) -> float:
        """When it ends."""


def iso(moment_s: float | None, timezone: str) -> str | None:
    """Local moment with its offset, to the second."""
    return None if moment_s is None else to_local(moment_s, timezone).isoformat()


def span(ends_s: tuple[float, float], timezone: str) -> Answer:
    """From when to when."""
    return {"from": iso(ends_s[0], timezone), "to": iso(ends_s[1], timezone)}


def interval(timed: Timed, timezone: str) -> Answer:
    """From when to when something lasts."""
    return span((timed.start_s, timed.end_s), timezone)


def ranges(stretch: SunInterval | Firm, timezone: str) -> Answer:
    """How early and how late a stretch may begin and end, and whether it comes surely."""
    return {
        "from_range": [iso(moment_s, timezone) for moment_s in stretch.start_range_s],
        "to_range": [iso(moment_s, timezone) for moment_s in stretch.end_range_s],
        "certain": stretch.certain,
    }


def hanging(screen: Screen) -> Answer:
    """Where a flag or panel is: its middle, and the unit vectors along its sides."""
    axes = {"centre": screen.centre, "across": screen.across, "up": screen.up}
    return {name: vector.tolist() for name, vector in axes.items()}


def names(things: Iterable[Named]) -> list[str]:
    """The names of some gels, lamps, setups, in their order."""
    return [thing.name for thing in things]


def fields(thing: object, *keys: str) -> Answer:
    """What a thing says under names of its own; tuples become lists.

    >>> fields(complex(1, 2), "real", "imag")
    {'real': 1.0, 'imag': 2.0}
    """
    values = {key: getattr(thing, key) for key in keys}
    return {key: list(it) if isinstance(it, tuple) else it for key, it in values.items()}


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


def origin(location: Location) -> Answer:
    """Which sunplan answered from which file."""
    return {
        "sunplan": __version__,
        "location": location.site.name,
        "file": location.file,
        "timezone": location.timezone,
    }


def as_json(answer: Answer) -> str:
    """An answer as JSON text; what is not finite (no light, no fill) becomes null."""
    return json.dumps(finite(answer), ensure_ascii=False, indent=1, allow_nan=False)


def finite(value: Any) -> Any:
    """The same, with None for numbers that are not finite."""
    if isinstance(value, dict):
        return {key: finite(inside) for key, inside in value.items()}
    if isinstance(value, list | tuple):
        return [finite(inside) for inside in value]
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
