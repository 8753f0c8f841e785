"""When a window in frame sits in the look by itself: nothing on it, only the right minutes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..location.model import Setup
from ..location.read import Location
from ..sun.local_time import day_span
from ..sun.track import track_over
from .daylight import Weather
from .look import Band
from .window_series import WindowSeries, window_series

STEP_S = 120.0
HIGHEST_DEG, LOWEST_DEG = 15.0, -13.0  # of the sun: higher, no window is near any evening look


@dataclass(frozen=True)
class MatchingInterval:
    """A stretch in which a window is in its band, seconds since 1970 UTC.

    `open_end`: it goes on into the night, where black reads as well. `more_stops` is how much more
    light there is taken to be in the room, the lens closed for it.
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
    setups: Sequence[Setup],
    days: Sequence[date],
    weathers: Sequence[Weather],
    *,
    more_stops: Sequence[float] = (0.0,),
) -> list[MatchingInterval]:
    """All such stretches of some dates, window by window and sky by sky.

    Each with so many stops more light in the room, and the lens closed for it, which darkens the
    windows.
    """
    spans = [day_span(one, location.timezone) for one in days]
    times = np.concatenate([np.arange(*span, STEP_S) for span in spans])
    altitude = track_over(location, times[0], times[-1]).true_altitude_deg(times)
    times = times[(altitude < HIGHEST_DEG) & (altitude > LOWEST_DEG)]
    if not len(times):
        return []
    return [
        MatchingInterval(one.setup.name, one.opening, one.sky, *ends, one.black_reads, more)
        for one in window_series(location, setups, times.tolist(), weathers)
        for more in more_stops
        for ends in _stretches(one, (one.band[0] + more, one.band[1] + more))
    ]


def _stretches(course: WindowSeries, band: Band) -> list[tuple[float, float]]:
    """Where a level passes through a band, each end by a straight line between two looks."""
    found = []
    times, level = course.moments.tolist(), course.stops.tolist()
    for before, after, one, other in zip(times, times[1:], level, level[1:], strict=False):
        if after - before > 2 * STEP_S or one == other:
            continue
        # The share of this step in which the line lies within the band.
        ends = sorted((limit - one) / (other - one) for limit in band)
        low, high = max(0.0, ends[0]), min(1.0, ends[1])
        if low < high:
            span = after - before
            found.append((before + low * span, before + high * span))
    joined: list[tuple[float, float]] = []
    for first, last in found:
        if joined and first - joined[-1][1] < 1.0:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined
