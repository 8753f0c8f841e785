"""An interval of direct sun, and how far its ends may move by what may be off."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..location.tolerances import Measure

Span = tuple[float, float]


@dataclass(frozen=True)
class ErrorContribution:
    """How early and late an interval may start and end because one number is off.

    Ranges are (earliest, latest), seconds since 1970 UTC.
    """

    measure: Measure
    start_range_s: Span
    end_range_s: Span


@dataclass(frozen=True)
class SunInterval:
    """An interval of direct sun, seconds since 1970 UTC.

    The ranges are the earliest and latest moments by all that may be off, `contributions` what each
    of it does alone. Not `certain`: by one of them the sun may also never come.
    """

    start_s: float
    end_s: float
    start_range_s: Span
    end_range_s: Span
    certain: bool = True
    contributions: tuple[ErrorContribution, ...] = ()


def _gap_s(first: Span, second: Span) -> float:
    """Seconds between two intervals, negative where they overlap."""
    return max(first[0], second[0]) - min(first[1], second[1])


RangedIntervals = tuple[tuple[SunInterval, ...], tuple[Span, ...]]


def with_ranges(cases: list[list[Span]], reach_s: float) -> RangedIntervals:
    """Intervals of the middle case with their ranges, and what only other cases have, merged.

    Parameters
    ----------
    cases : intervals of each case, in order of what is changed; the middle one is as measured.
    reach_s : from case to case an interval's ends move by no more.

    Returns
    -------
    The middle case's intervals, and spans (start, end) that it has not, seconds since 1970 UTC.

    Examples
    --------
    The second interval is gone once the plan turns on; another one comes that was not there:

    >>> cases = [[(0.0, 10.0), (50.0, 51.0)], [(2.0, 12.0), (52.0, 53.0)], [(4.0, 14.0), (90, 91)]]
    >>> intervals, possible = with_ranges(cases, 5.0)
    >>> [(interval.start_range_s, interval.certain) for interval in intervals], possible
    ([((0.0, 4.0), True), ((50.0, 52.0), False)], ((90, 91),))
    """
    middle = len(cases) // 2
    seen: set[tuple[int, Span]] = set()
    intervals = []
    for span in cases[middle]:
        met, certain = [span], True
        for way in (range(middle - 1, -1, -1), range(middle + 1, len(cases))):
            last = span
            for case in way:
                near = min(cases[case], key=lambda span: _gap_s(last, span), default=None)
                if near is None or _gap_s(last, near) > reach_s:
                    certain = False
                    break
                last = near
                met.append(near)
                seen.add((case, near))
        starts, ends = zip(*met, strict=True)
        intervals.append(
            SunInterval(*span, (min(starts), max(starts)), (min(ends), max(ends)), certain)
        )
    besides = (
        span
        for case, spans in enumerate(cases)
        for span in spans
        if case != middle and (case, span) not in seen
    )
    return tuple(intervals), merge_spans(besides, apart_s=reach_s)


def merge_spans(spans: Iterable[Span], *, apart_s: float = 0.0) -> tuple[Span, ...]:
    """Spans in order, those that overlap or lie so little apart made one.

    >>> merge_spans([(5.0, 6.0), (0.0, 2.0), (1.0, 3.0)])
    ((0.0, 3.0), (5.0, 6.0))
    >>> merge_spans([(0.0, 1.0), (2.0, 3.0)], apart_s=1.0)
    ((0.0, 3.0),)
    """
    merged: list[Span] = []
    for span in sorted(spans):
        if merged and _gap_s(merged[-1], span) <= apart_s:
            merged[-1] = (merged[-1][0], max(merged[-1][1], span[1]))
        else:
            merged.append(span)
    return tuple(merged)


def beyond_resolution(moment_s: float, range_s: Span, to_s: float) -> Span:
    """A range without what is no more than `to_s`, how closely its ends were looked for.

    >>> beyond_resolution(100.0, (96.0, 140.0), 8.0)
    (100.0, 140.0)
    """
    early, late = (end if abs(end - moment_s) > to_s else moment_s for end in range_s)
    return early, late


def combined_range(moment_s: float, ranges: Sequence[Span]) -> Span:
    """How early and late a moment may be by several errors, each on its own: their root of squares.

    JCGM 100:2008 (GUM), eq. (10), each way by itself. All in seconds since 1970 UTC.

    >>> combined_range(0.0, [(-3.0, 1.0), (-4.0, 0.0)])
    (-5.0, 1.0)
    """
    early, late = (math.hypot(*(span[side] - moment_s for span in ranges)) for side in (0, 1))
    return moment_s - early, moment_s + late
