"""Clock times as people write them."""

from __future__ import annotations

import re
from datetime import time

_CLOCK = re.compile(
    r"(\d{1,2})(?::(\d\d)(?::(\d\d))?)?\s*(?:([ap])\.?m\.?)?", re.ASCII | re.IGNORECASE
)


def parse_clock(text: str) -> time:
    """A local clock time, ISO 8601 or as it is said.

    Raises
    ------
    ValueError : where it is none, or has a zone of its own.

    Examples
    --------
    >>> parse_clock("9:05"), parse_clock("4:30 pm"), parse_clock("12 am"), parse_clock("16:30:05")
    (datetime.time(9, 5), datetime.time(16, 30), datetime.time(0, 0), datetime.time(16, 30, 5))
    """
    match = _CLOCK.fullmatch(text.strip())
    if match is None or (match[2] is None and match[4] is None):
        clock = time.fromisoformat(text.strip())
        if clock.tzinfo is not None:
            raise ValueError("a clock time has no zone of its own")
        return clock
    hour, minute, second = (int(part or 0) for part in match.group(1, 2, 3))
    if match[4] is not None:
        if not 1 <= hour <= 12:
            raise ValueError("there is no such hour before or after noon")
        hour = hour % 12 + 12 * (match[4] in "pP")
    return time(hour, minute, second)
