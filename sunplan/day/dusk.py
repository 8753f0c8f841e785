"""Dusk through a span of dates: when a window in frame sits in the wanted range, and how long."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from ..light.daylight import Weather
from ..light.matching import MatchingInterval, matching_intervals
from ..light.resolved import ResolvedSetup
from ..location.read import Location
from ..sun.almanac import sun_times_of
from ..sun.local_time import to_local

PLAYS = ("dusk", "evening")
MOST_DATES = 7  # of a span, evenly
STOP = 1.0  # more or less light in the room


@dataclass(frozen=True)
class Dusk:
    """A window in frame on one date under one sky: its stretches, morning and evening.

    `brighter` and `darker` are the same with a stop more and less light in the room.
    """

    setup: str
    opening: str
    sky: str
    day: date
    fits: tuple[MatchingInterval, ...]
    brighter: tuple[MatchingInterval, ...]
    darker: tuple[MatchingInterval, ...]
    noon_s: float

    def evening(self, fit: MatchingInterval) -> bool:
        """Whether a stretch lies after the sun's noon."""
        return fit.start_s > self.noon_s


def dusks(
    location: Location,
    setups: Sequence[ResolvedSetup],
    first: date,
    last: date,
    weathers: Sequence[Weather],
) -> list[Dusk]:
    """When windows of setups that play dusk or evening fit by themselves.

    On every date of a span, or on `MOST_DATES` of them, evenly; a row a window, date and sky.

    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> house, day = read("locations/lock-house.toml"), date(2027, 3, 20)
    >>> (coffee,) = dusks(house, [resolve(house)[1]], day, day, [Weather("clear")])
    >>> [round(fit.minutes) for fit in coffee.fits]
    [4, 5]
    """
    playing = [one for one in setups if one.plays in PLAYS]
    if not playing:
        return []
    apart = (last - first).days
    count = min(apart + 1, MOST_DATES)
    steps = [round(apart * step / max(1, count - 1)) for step in range(count)]
    days = [first + timedelta(days=step) for step in steps]
    noons = {day: sun_times_of(location, day).noon for day in days}
    found = matching_intervals(location, playing, days, weathers, more_stops=(0.0, STOP, -STOP))
    cases: dict[tuple[str, str, date, str], list[MatchingInterval]] = {}
    for one in found:
        day = to_local(one.start_s, location.timezone).date()
        cases.setdefault((one.setup, one.opening, day, one.sky), []).append(one)
    return [
        Dusk(
            setup=setup,
            opening=opening,
            sky=sky,
            day=day,
            fits=tuple(one for one in mine if not one.more_stops),
            brighter=tuple(one for one in mine if one.more_stops > 0),
            darker=tuple(one for one in mine if one.more_stops < 0),
            noon_s=noons[day],
        )
        for (setup, opening, day, sky), mine in sorted(cases.items())
        if day in noons
    ]
