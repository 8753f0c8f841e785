"""When a window in frame sits in the look by itself: nothing on it, only the right minutes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..location.read import Location
from ..sun.local_time import day_span
from ..sun.track import track_over
from .daylight import Weather
from .level_series import WindowSeries, window_series
from .look import Band
from .resolved import ResolvedSetup

STEP_S = 120.0
HIGHEST_DEG, LOWEST_DEG = 15.0, -13.0  # of the sun: higher, no window is near any evening look
TOUCH_S = 1.0  # stretches no farther apart are one


@dataclass(frozen=True)
class MatchingInterval:
    """A stretch in which a window is in its band.

    Attributes
    ----------
    setup, opening, sky
        By name.
    start_s, end_s
        Seconds since 1970 UTC.
    open_end
        Whether it goes on into the night, where black reads as well.
    more_stops
        How much more light there is taken to be in the room, the lens closed for it.
    """

    setup: str
    opening: str
    sky: str
    start_s: float
    end_s: float
    open_end: bool
    more_stops: float = 0.0

    @property
    def minutes(self) -> float:
        """How long it lasts."""
        return (self.end_s - self.start_s) / 60.0


def matching_intervals(
    location: Location,
    setups: Sequence[ResolvedSetup],
    days: Sequence[date],
    weathers: Sequence[Weather],
    *,
    more_stops: Sequence[float] = (0.0,),
) -> list[MatchingInterval]:
    """All stretches in which windows are in their bands by themselves.

    Parameters
    ----------
    location, setups
        The place, and setups in any rooms of it.
    days
        Local dates.
    weathers
        The skies.
    more_stops
        How much more light is in the room, the lens closed for it, which darkens the windows; each
        is asked for.

    Returns
    -------
    Window by window, of that sky by sky, of that by `more_stops`, in time's order.

    Examples
    --------
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> house = read("locations/lock-house.toml")
    >>> coffee, clear = resolve(house)[1], Weather("clear")
    >>> dawn, dusk = matching_intervals(house, [coffee], [date(2027, 3, 20)], [clear])
    >>> dusk.opening, round(dusk.minutes)
    ('canal window', 5)
    """
    spans = [day_span(day, location.timezone) for day in days]
    times = np.concatenate([np.arange(*span, STEP_S) for span in spans])
    altitude = track_over(location, times[0], times[-1]).true_altitude_deg(times)
    times = times[(altitude < HIGHEST_DEG) & (altitude > LOWEST_DEG)]
    if not len(times):
        return []
    return [
        MatchingInterval(
            seen.setup.name, seen.opening, seen.sky, *ends, seen.series.look.black_reads, more
        )
        for seen in window_series(location, setups, times.tolist(), weathers)
        for more in more_stops
        for ends in _stretches(seen, (seen.band[0] + more, seen.band[1] + more))
    ]


def _stretches(seen: WindowSeries, band: Band) -> list[tuple[float, float]]:
    """Where a level passes through a band, each end by a straight line between two moments."""
    times, level = seen.moments, seen.stops
    span, rise = np.diff(times), np.diff(level)
    steps = np.flatnonzero((span <= 2 * STEP_S) & (rise != 0.0))
    # The shares of each step in which the line lies within the band.
    shares = np.sort((np.array(band) - level[steps, None]) / rise[steps, None], axis=1)
    low, high = np.maximum(shares[:, 0], 0.0), np.minimum(shares[:, 1], 1.0)
    kept = steps[low < high]
    ends = times[kept, None] + span[kept, None] * np.stack((low, high), axis=1)[low < high]
    first = np.ones(len(ends), dtype=bool)
    first[1:] = ends[1:, 0] - ends[:-1, 1] >= TOUCH_S
    last = np.append(first[1:], True)[: len(ends)]
    return list(zip(ends[first, 0].tolist(), ends[last, 1].tolist(), strict=True))
