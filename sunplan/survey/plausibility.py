"""What in a location file looks wrong by habit: valid, but rarely meant."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

from ..location.lengths import FOOT_M, format_length
from ..location.place import timezone_at
from ..location.read import Location
from ..sun.local_time import today
from ..sun.position import wrapped_deg
from .compass import FIRST_DAY, LAST_DAY, decimal_year, declination

TALL_M, LOW_M = 5.0, 1.7  # of a room's height: houses and shops lie between; no source
LONG_M = 30.0  # of a room's side
HIGH_SILL_M = 3.0
EXACT_DEG = 1e-9
NEAR_DEG, LEAST_DECLINED_DEG = 0.2, 2.0  # of a bearing that looks magnetic
POLE_DEG = 80.0  # of latitude: beyond it clocks follow no sun
WET_NAMES = re.compile(  # words of rooms with water in them
    r"\b(bath|shower|wash|laundry|launder|scullery|kitchen|toilet|lavatory|wc|sauna|pool|utility)",
    re.IGNORECASE,
)
ZONE_HOURS = 3.0  # between a zone's clock and the sun's: more is no country's; no source


def doubts(location: Location) -> Iterator[str]:
    """Each doubt as a line: what looks wrong, and what may be meant.

    >>> from sunplan import read
    >>> location = read("locations/lock-house.toml")
    >>> list(doubts(location))
    []
    >>> unsure = location.site.model_copy(update={"plan_up": 90.0, "plan_up_error": 0.0})
    >>> list(doubts(location.model_copy(update={"site": unsure})))
    ['plan_up is exactly 90 with no error: few houses stand so; ...']
    """
    yield from _place(location)
    yield from _lengths(location)
    yield from _plan(location)


def untold(location: Location) -> Iterator[str]:
    """Each thing that is left out and that work is planned by, as a line: what to ask, to say.

    >>> from sunplan import read
    >>> list(untold(read("locations/lock-house.toml")))
    []
    """
    for room in location.room:
        if room.wet is None and WET_NAMES.search(room.name):
            yield (
                f'room "{room.name}": is there a bath, a shower, a basin or a sink? wet = true, or '
                "wet = false"
            )
        windows = ", ".join(
            opening.name
            for opening in room.opening
            if opening.sill is not None
            and opening.nobody_outside(room.floor + opening.sill) == "not told"
        )
        if windows:
            yield (
                f'room "{room.name}": what lies outside before {windows}? before = "ground" where '
                'one can stand, else "water", "street", "drop" or "blocked"; till then nothing is '
                "planned outside"
            )


def _place(location: Location) -> Iterator[str]:
    """A sign that puts the place elsewhere than its clock."""
    site = location.site
    if abs(site.latitude) > POLE_DEG:
        return
    clock = ZoneInfo(location.timezone)
    # In winter and summer alike clocks stand near the sun's own time.
    offsets = [
        moment.utcoffset()
        for moment in (datetime(2026, month, 1, tzinfo=clock) for month in (1, 7))
    ]
    hours = min(
        (offset.total_seconds() / 3600.0 for offset in offsets if offset is not None),
        key=lambda hours_ahead: abs(_apart(hours_ahead, site.longitude)),
    )
    if abs(_apart(hours, site.longitude)) > ZONE_HOURS:
        flipped = abs(_apart(hours, -site.longitude)) <= ZONE_HOURS
        hint = (
            f"; is it {-site.longitude:g}? East is positive, west negative"
            if flipped
            else "; is the time zone that of the place?"
        )
        yield (
            f"longitude {site.longitude:g} is {abs(_apart(hours, site.longitude)):.0f} hours of "
            f"the sun away from the local time of {location.timezone}{hint}"
        )
        return
    here = site.latitude, site.longitude
    zone = timezone_at(latitude_deg=here[0], longitude_deg=here[1])
    if zone.startswith("Etc/") and _alike(zone, location.timezone):
        yield (
            f"{here[0]:g}, {here[1]:g} lies at sea: latitude comes first; north and east are "
            "positive, south and west negative"
        )
        return
    if site.timezone is None or _alike(zone, location.timezone):
        return
    lies = f"{here[0]:g}, {here[1]:g} lies where the clock is {zone}"
    for other in ((-here[0], here[1]), (here[0], -here[1]), (-here[0], -here[1])):
        there = timezone_at(latitude_deg=other[0], longitude_deg=other[1])
        if _alike(there, location.timezone):
            yield (
                f"{lies}; {other[0]:g}, {other[1]:g} would be that of {location.timezone}: "
                "north and east are positive"
            )
            return
    yield f"{lies}, not that of {location.timezone}"


def _apart(clock_hours: float, longitude_deg: float) -> float:
    """How far a clock is ahead of the sun's time, hours, −12 to 12."""
    return (clock_hours - longitude_deg / 15.0 + 12.0) % 24.0 - 12.0


def _alike(zone: str, another: str) -> bool:
    """Whether two zones show the same time, in winter and in summer."""
    zones = ZoneInfo(zone), ZoneInfo(another)
    return all(
        datetime(2026, month, 1, 12, tzinfo=zones[0]).utcoffset()
        == datetime(2026, month, 1, 12, tzinfo=zones[1]).utcoffset()
        for month in (1, 4, 7, 10)
    )


def _lengths(location: Location) -> Iterator[str]:
    """Feet where metres make sense, and the other way round."""
    units = location.site.units
    other = "ft" if units == "m" else "m"
    for room in location.room:
        sides = [math.dist(*room.wall(index)) for index in range(len(room.outline))]
        height = f"{format_length(room.height, units)} high"
        if room.height > TALL_M:
            shrunk = TALL_M / FOOT_M > room.height > LOW_M / FOOT_M and units == "m"
            meant = f'; are these feet? Then units = "{other}"' if shrunk else ""
            yield f'room "{room.name}" is {height}, more than a house has{meant}'
        elif room.height < LOW_M:
            grown = units == "ft" and LOW_M < room.height / FOOT_M < TALL_M
            meant = f'; are these metres? Then units = "{other}"' if grown else ""
            yield f'room "{room.name}" is {height}, less than one stands in{meant}'
        if max(sides) > LONG_M:
            yield f'room "{room.name}" has a wall of {format_length(max(sides), units)}'
        for opening in room.opening:
            if opening.sill is not None and opening.sill > HIGH_SILL_M:
                yield (
                    f'room "{room.name}", opening "{opening.name}": its sill is '
                    f"{format_length(opening.sill, units)} above the room's own floor; heights "
                    "count from there, not from the ground"
                )


def _plan(location: Location) -> Iterator[str]:
    """A bearing that nobody measured."""
    site = location.site
    if abs(site.plan_up % 90.0) < EXACT_DEG and not site.plan_up_error:
        yield (
            f"plan_up is exactly {site.plan_up:g} with no error: few houses stand so; if it was "
            "not measured, give plan_up_error, and see what it does to the moments"
        )
    known = min(max(today(location.timezone), FIRST_DAY), LAST_DAY)
    year = decimal_year(known)  # it moves by a tenth of a degree in one
    declined = declination(site.latitude, site.longitude, year=year).degrees
    up = wrapped_deg(site.plan_up)
    if abs(declined) < LEAST_DECLINED_DEG:
        return
    if abs(up - declined) < NEAR_DEG:
        yield (
            f"plan_up {up:.1f} is what a compass is off there: right only where the sheet's up is "
            "magnetic north"
        )
    elif abs(up + declined) < NEAR_DEG:
        yield (
            f"plan_up {up:.1f} is what a compass is off there, with its sign turned: from magnetic "
            f"to true there one adds {declined:.1f}"
        )
