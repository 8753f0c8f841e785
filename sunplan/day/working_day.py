"""The working day: from call to wrap, or as long after sunset as people stay; lunch taken out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from ..errors import InputError
from ..location.read import Location
from ..sun.almanac import sun_times_of
from ..sun.local_time import clock_to_unix
from ..sun.position import Floats
from ..sun.search import Bools


@dataclass(frozen=True)
class WorkingDay:
    """The working day, seconds since 1970 UTC; minutes of work count from call on, without lunch.

    >>> day = WorkingDay(0.0, 36000.0, (14400.0, 18000.0))
    >>> day.worked(np.array([14400.0, 16200.0, 21600.0])).tolist()
    [240.0, 240.0, 300.0]
    >>> day.after(12600.0, 60.0), day.clear_of_lunch(12600.0, 60.0)
    (19800.0, 18000.0)
    """

    call_s: float
    wrap_s: float
    lunch_s: tuple[float, float] | None

    def worked(self, moment_s: Floats) -> Floats:
        """Minutes of work from call to moments (T,), (T,)."""
        gone = moment_s - self.call_s
        if self.lunch_s is not None:
            first, last = self.lunch_s
            gone = gone - np.clip(moment_s - first, 0.0, last - first)
        return gone / 60.0

    def free(self, start_s: Floats, end_s: Floats) -> Bools:
        """Whether stretches of time, any shape, lie in the day and touch no lunch.

        >>> start_s = np.array([0.0, 30000.0])
        >>> WorkingDay(0.0, 36000.0, None).free(start_s, start_s + 7200.0).tolist()
        [True, False]
        """
        inside = (start_s >= self.call_s - 1.0) & (end_s <= self.wrap_s + 1.0)
        if self.lunch_s is not None:
            first, last = self.lunch_s
            inside &= (end_s <= first + 1.0) | (start_s >= last - 1.0)
        return inside

    def after(self, moment_s: float, minutes: float) -> float:
        """When so many minutes of work from a moment on are done, lunch left out."""
        done = moment_s + 60.0 * minutes
        if self.lunch_s is not None:
            first, last = self.lunch_s
            if first <= moment_s < last:
                return last + 60.0 * minutes
            if moment_s < first < done:
                return done + last - first
        return done

    def parts(self, start_s: float, end_s: float) -> tuple[tuple[float, float], ...]:
        """A stretch of work, lunch cut out of it: before and after, if it has both.

        >>> WorkingDay(0.0, 36000.0, (14400.0, 18000.0)).parts(10800.0, 21600.0)
        ((10800.0, 14400.0), (18000.0, 21600.0))
        """
        if self.lunch_s is None:
            return ((start_s, end_s),)
        first, last = self.lunch_s
        cut = ((start_s, min(end_s, first)), (max(start_s, last), end_s))
        return tuple((a, b) for a, b in cut if a < b) or ((start_s, end_s),)

    def clear_of_lunch(self, start_s: float, minutes: float) -> float:
        """The first moment from one on at which so many minutes touch no lunch."""
        if self.lunch_s is None:
            return start_s
        first, last = self.lunch_s
        return last if start_s < last and start_s + 60.0 * minutes > first else start_s


def working_day(location: Location, day: date) -> WorkingDay:
    """The working day of a location on a local date.

    Raises
    ------
    InputError
        Where all must be down so soon after sunset that nothing is left of it.

    Examples
    --------
    >>> from sunplan import read
    >>> day = working_day(read("locations/lock-house.toml"), date(2027, 3, 20))
    >>> (day.wrap_s - day.call_s) / 3600.0
    10.0
    """
    zone, hours = location.timezone, location.day
    call, wrap = (clock_to_unix(day, clock, zone) for clock in (hours.call, hours.wrap))
    if hours.after_sunset is not None:
        sun = sun_times_of(location, day)
        if sun.set is not None:
            wrap = min(wrap, sun.set + 60.0 * hours.after_sunset)
    if wrap <= call:
        raise InputError(
            f"[day]: all must be down {hours.after_sunset:g} min after sunset, which "
            "lies before call"
        )
    lunch = None
    if hours.lunch is not None:
        start, end = hours.lunch
        lunch = clock_to_unix(day, start, zone), clock_to_unix(day, end, zone)
    return WorkingDay(call, wrap, lunch)
