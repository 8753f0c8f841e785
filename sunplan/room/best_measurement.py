"""Which single measurement, taken with care, would narrow moments of direct sun most."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..location.tolerances import Measure
from .interval import Span, SunInterval, combined_range

MIN_GAIN_S = 60.0  # less is not worth a walk


@dataclass(frozen=True)
class EntryMoment:
    """A moment of direct sun: it comes (`starts`) or goes, through an opening or on a mark.

    `mark` is None for the opening itself; `moment_s` is in seconds since 1970 UTC.
    """

    room: str
    opening: str
    mark: str | None
    starts: bool
    moment_s: float


@dataclass(frozen=True)
class BestMeasurement:
    """The measurement, and what it does to the moment that gains most.

    `now_s` and `then_s` are the range of that moment before and after, seconds since 1970 UTC.
    """

    measure: Measure
    moment: EntryMoment
    now_s: Span
    then_s: Span


Row = tuple[str, str, str | None, tuple[SunInterval, ...]]  # room, opening, mark, intervals


def best_measurement(rows: Iterable[Row]) -> BestMeasurement | None:
    """What narrows all moments of some rows most.

    The gain of a measurement is what it takes off the half ranges of all moments together.

    Parameters
    ----------
    rows : room, opening, mark or None, and the intervals of sun there.

    Returns
    -------
    None where no measurement gains a minute.

    Examples
    --------
    A bearing of ±5°, by which the sun comes ten minutes earlier or later, could be ±1°:

    >>> from sunplan.room.interval import ErrorContribution
    >>> bearing = Measure("bearing", "deg", error=5.0, care=1.0)
    >>> start_s, end_s = (-600.0, 600.0), (3600.0, 3600.0)
    >>> part = ErrorContribution(bearing, start_s, end_s)
    >>> interval = SunInterval(0.0, 3600.0, start_s, end_s, contributions=(part,))
    >>> best = best_measurement([("hut", "slot", None, (interval,))])
    >>> best.moment.starts, best.now_s, best.then_s
    (True, (-600.0, 600.0), (-120.0, 120.0))
    """
    gains: dict[Measure, float] = {}
    best: dict[Measure, tuple[float, BestMeasurement]] = {}
    for moment, interval in _moments(rows):
        ranges = [
            (part.measure, part.start_range_s if moment.starts else part.end_range_s)
            for part in interval.contributions
        ]
        now = combined_range(moment.moment_s, [range_s for _, range_s in ranges])
        for measure in dict.fromkeys(measure for measure, _ in ranges):
            if measure.share == 1.0:
                continue
            shrunk = [
                _shrunk(moment.moment_s, range_s, measure.share) if part == measure else range_s
                for part, range_s in ranges
            ]
            then = combined_range(moment.moment_s, shrunk)
            gain = (now[1] - now[0] - (then[1] - then[0])) / 2
            gains[measure] = gains.get(measure, 0.0) + gain
            if measure not in best or gain > best[measure][0]:
                best[measure] = gain, BestMeasurement(measure, moment, now, then)
    if not gains:
        return None
    gain, winner = best[max(gains, key=lambda measure: gains[measure])]
    return winner if gain >= MIN_GAIN_S else None


def _shrunk(moment_s: float, span: Span, share: float) -> Span:
    early, late = (moment_s + share * (end - moment_s) for end in span)
    return early, late


def _moments(rows: Iterable[Row]) -> Iterator[tuple[EntryMoment, SunInterval]]:
    for room, opening, mark, intervals in rows:
        for interval in intervals:
            yield EntryMoment(room, opening, mark, True, interval.start_s), interval
            yield EntryMoment(room, opening, mark, False, interval.end_s), interval
