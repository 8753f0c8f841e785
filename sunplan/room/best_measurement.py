"""Which single measurement, taken with care, would narrow moments of direct sun most."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..location.tolerances import Measure
from .interval import Span, SunInterval, combined_range

LEAST_S = 60.0  # less is not worth a walk


@dataclass(frozen=True)
class EntryMoment:
    """A moment of direct sun: it comes (`starts`) or goes, through an opening or on a mark."""

    room: str
    opening: str
    mark: str | None
    starts: bool
    moment_s: float


@dataclass(frozen=True)
class BestMeasurement:
    """The measurement, and what it does to the moment that gains most: its range now, and then."""

    measure: Measure
    moment: EntryMoment
    now_s: Span
    then_s: Span


Row = tuple[str, str, str | None, tuple[SunInterval, ...]]  # room, opening, mark, stretches


def best_measurement(rows: Iterable[Row]) -> BestMeasurement | None:
    """What narrows all moments of some rows most; None where no measurement gains a minute."""
    gains: dict[Measure, float] = {}
    best: dict[Measure, tuple[float, BestMeasurement]] = {}
    for moment, stretch in _moments(rows):
        ranges = [
            (one.measure, one.start_range_s if moment.starts else one.end_range_s)
            for one in stretch.contributions
        ]
        now = combined_range(moment.moment_s, [each for _, each in ranges])
        for measure in dict.fromkeys(one for one, _ in ranges):
            if measure.share == 1.0:
                continue
            then = combined_range(
                moment.moment_s,
                [
                    _shrunk(moment.moment_s, each, measure.share) if one == measure else each
                    for one, each in ranges
                ],
            )
            gain = (now[1] - now[0] - (then[1] - then[0])) / 2
            gains[measure] = gains.get(measure, 0.0) + gain
            if measure not in best or gain > best[measure][0]:
                best[measure] = gain, BestMeasurement(measure, moment, now, then)
    if not gains:
        return None
    gain, found = best[max(gains, key=lambda one: gains[one])]
    return found if gain >= LEAST_S else None


def _shrunk(moment_s: float, span: Span, share: float) -> Span:
    early, late = (moment_s + share * (end - moment_s) for end in span)
    return early, late


def _moments(rows: Iterable[Row]) -> Iterator[tuple[EntryMoment, SunInterval]]:
    for room, opening, mark, stretches in rows:
        for stretch in stretches:
            for starts, at in ((True, stretch.start_s), (False, stretch.end_s)):
                yield EntryMoment(room, opening, mark, starts, at), stretch
