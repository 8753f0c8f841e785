"""A stretch of direct sun, and how far its ends may move by what may be off."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from ..location.tolerances import Measure

Span = tuple[float, float]


@dataclass(frozen=True)
class ErrorContribution:
    """How early and late a stretch may start and end because one number is off."""

    measure: Measure
    start_range_s: Span
    end_range_s: Span


@dataclass(frozen=True)
class SunInterval:
    """A stretch of direct sun, seconds since 1970 UTC.

    The ranges are the earliest and latest moments by all that may be off, `effects` what each of it
    does alone. Not `certain`: by one of them the sun may also never come.
    """

    start_s: float
    end_s: float
    start_range_s: Span
    end_range_s: Span
    certain: bool = True
    contributions: tuple[ErrorContribution, ...] = ()


def _gap_s(one: Span, other: Span) -> float:
    """Seconds between two stretches, negative where they overlap."""
    return max(one[0], other[0]) - min(one[1], other[1])


RangedIntervals = tuple[tuple[SunInterval, ...], tuple[Span, ...]]


def with_ranges(cases: list[list[Span]], reach_s: float) -> RangedIntervals:
    """Stretches of the middle case with their ranges, and what only turned plans have, merged.

    From case to case a stretch moves by no more than `reach_s`.
    """
    middle = len(cases) // 2
    seen: set[tuple[int, Span]] = set()
    stretches = []
    for span in cases[middle]:
        met, certain = [span], True
        for way in (range(middle - 1, -1, -1), range(middle + 1, len(cases))):
            last = span
            for case in way:
                near = min(cases[case], key=lambda one: _gap_s(last, one), default=None)
                if near is None or _gap_s(last, near) > reach_s:
                    certain = False
                    break
                last = near
                met.append(near)
                seen.add((case, near))
        starts, ends = zip(*met, strict=True)
        stretches.append(
            SunInterval(*span, (min(starts), max(starts)), (min(ends), max(ends)), certain)
        )
    besides = (
        one
        for case, spans in enumerate(cases)
        for one in spans
        if case != middle and (case, one) not in seen
    )
    return tuple(stretches), merge_spans(besides, apart_s=reach_s)


def merge_spans(spans: Iterable[Span], *, apart_s: float = 0.0) -> tuple[Span, ...]:
    """Stretches in order, those that overlap or lie so little apart made one.

    >>> merge_spans([(5.0, 6.0), (0.0, 2.0), (1.0, 3.0)])
    ((0.0, 3.0), (5.0, 6.0))
    >>> merge_spans([(0.0, 1.0), (2.0, 3.0)], apart_s=1.0)
    ((0.0, 3.0),)
    """
    found: list[Span] = []
    for one in sorted(spans):
        if found and _gap_s(found[-1], one) <= apart_s:
            found[-1] = (found[-1][0], max(found[-1][1], one[1]))
        else:
            found.append(one)
    return tuple(found)


def beyond_resolution(moment_s: float, range_s: Span, to_s: float) -> Span:
    """A range without what is no more than how closely it was looked for."""
    early, late = (end if abs(end - moment_s) > to_s else moment_s for end in range_s)
    return early, late


def combined_range(moment_s: float, ranges: Sequence[Span]) -> Span:
    """How early and late a moment may be by several errors, each on its own: their root of squares.

    >>> combined_range(0.0, [(-3.0, 1.0), (-4.0, 0.0)])
    (-5.0, 1.0)
    """
    early, late = (math.sqrt(sum((one[side] - moment_s) ** 2 for one in ranges)) for side in (0, 1))
    return moment_s - early, moment_s + late
