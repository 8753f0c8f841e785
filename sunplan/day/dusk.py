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

    Parameters
    ----------
    setups
        Those that play anything else are left out.
    first, last
        A span of local dates: every one is looked at, or `MOST_DATES` of them, evenly.
    weathers
        The skies to look at.

    Returns
    -------
    list of Dusk
        One a window, date and sky that it fits under, in that order.

    Examples
    --------
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> house, day = read("locations/lock-house.toml"), date(2027, 3, 20)
    >>> (coffee,) = dusks(house, [resolve(house)[1]], day, day, [Weather("clear")])
    >>> [round(fit.minutes) for fit in coffee.fits]
    [4, 5]
    """
    playing = [setup for setup in setups if setup.plays in PLAYS]
    if not playing:
        return []
    apart = (last - first).days
    count = min(apart + 1, MOST_DATES)
    steps = [round(apart * step / max(1, count - 1)) for step in range(count)]
    days = [first + timedelta(days=step) for step in steps]
    noons = {day: sun_times_of(location, day).noon for day in days}
    cases: dict[tuple[str, str, date, str], list[MatchingInterval]] = {}
    for fit in matching_intervals(location, playing, days, weathers, more_stops=(0.0, STOP, -STOP)):
        day = to_local(fit.start_s, location.timezone).date()
        cases.setdefault((fit.setup, fit.opening, day, fit.sky), []).append(fit)
    return [
        Dusk(
            setup=setup,
            opening=opening,
            sky=sky,
            day=day,
            fits=tuple(fit for fit in fits if not fit.more_stops),
            brighter=tuple(fit for fit in fits if fit.more_stops > 0),
            darker=tuple(fit for fit in fits if fit.more_stops < 0),
            noon_s=noons[day],
        )
        for (setup, opening, day, sky), fits in sorted(cases.items())
        if day in noons
    ]
