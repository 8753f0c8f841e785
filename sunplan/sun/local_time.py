"""Local dates and clock times as seconds since 1970 UTC, and back."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from ..errors import InputError

MINUTE_S, QUARTER_S, HOUR_S, DAY_S = 60.0, 900.0, 3600.0, 86400.0


def day_span(day: date, timezone: str) -> tuple[float, float]:
    """First and last moment of a local date, seconds since 1970 UTC; 23 or 25 hours at times.

    Raises
    ------
    ZoneInfoNotFoundError : for a time zone that is not known.

    Examples
    --------
    The clocks go forward:

    >>> start, end = day_span(date(2026, 3, 29), "Europe/Amsterdam")
    >>> (end - start) / 3600
    23.0
    """
    zone = ZoneInfo(timezone)
    start, end = (
        datetime.combine(day + timedelta(days=ahead), time(), zone).timestamp() for ahead in (0, 1)
    )
    return start, end


def today(timezone: str = "UTC") -> date:
    """The local date.

    Where `SOURCE_DATE_EPOCH` is set (the reproducible builds specification), seconds since 1970
    UTC, that moment is taken for now: so what is tested or built is the same on every day.

    Raises
    ------
    ValueError : where that is no whole number.
    ZoneInfoNotFoundError : for a time zone that is not known.
    """
    given = os.environ.get("SOURCE_DATE_EPOCH")
    now = datetime.now(UTC) if given is None else datetime.fromtimestamp(int(given), UTC)
    return now.astimezone(ZoneInfo(timezone)).date()


def to_unix(moment: datetime) -> float:
    """Seconds since 1970 UTC of an aware moment.

    Raises
    ------
    ValueError : for a naive one.

    Examples
    --------
    >>> to_unix(datetime(2026, 1, 1, tzinfo=UTC))
    1767225600.0
    >>> to_unix(datetime(2026, 1, 1))  # doctest: +IGNORE_EXCEPTION_DETAIL
    Traceback (most recent call last):
    ValueError: a moment needs its time zone: 2026-01-01 00:00:00
    """
    if moment.tzinfo is None:
        raise ValueError(f"a moment needs its time zone: {moment}")
    return moment.timestamp()


def to_local(unix_s: float, timezone: str) -> datetime:
    """Local moment to the second, with its offset.

    >>> to_local(1767225600.4, "Asia/Kolkata").isoformat()
    '2026-01-01T05:30:00+05:30'
    """
    return datetime.fromtimestamp(round(unix_s), ZoneInfo(timezone))


def clock_to_unix(day: date, clock: time, timezone: str) -> float:
    """Moment of a clock time on a local date, seconds since 1970 UTC.

    Of a clock time that comes twice on the date the first is taken.

    Raises
    ------
    InputError : for a clock time that the date leaves out.

    Examples
    --------
    >>> clock_to_unix(date(2026, 3, 29), time(3, 30), "Europe/Amsterdam")
    1774747800.0
    >>> clock_to_unix(date(2026, 3, 29), time(2, 30), "Europe/Amsterdam")
    Traceback (most recent call last):
    ...
    sunplan.errors.InputError: 02:30 does not exist on 2026-03-29: the clocks go forward
    """
    zone = ZoneInfo(timezone)
    moment = datetime.combine(day, clock, zone).timestamp()
    if datetime.fromtimestamp(moment, zone).time() != clock:
        raise InputError(f"{clock:%H:%M} does not exist on {day}: the clocks go forward")
    return moment


def even_moments(start_s: float, end_s: float, step_s: float) -> list[float]:
    """Moments from start to end, both among them if the step falls so.

    >>> even_moments(0.0, 3600.0, 1500.0)
    [0.0, 1500.0, 3000.0]
    """
    count = int((end_s - start_s) / step_s + 1e-9) + 1
    return [start_s + step * step_s for step in range(count)]
