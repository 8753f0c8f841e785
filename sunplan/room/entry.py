"""Moments: when direct sun passes each opening and touches each mark, and how sure that is.

The centre of the sun's disk decides. Moments are found on a grid and refined to the second. What an
error of the plan's bearing does to each is computed by turning the plan through its range, what one
of a length does by changing that length; each is off on its own, so their effects add as squares.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..location import tolerances
from ..location.read import Location
from ..location.tolerances import Measure, UncertainLength
from ..sun.almanac import SunTimes, sun_times_of
from ..sun.local_time import day_span
from ..sun.position import Directions, Floats
from ..sun.search import DAY_STEP_S, RESOLUTION_S, Bools, Indices, intervals, time_grid
from ..sun.track import Track, track_over
from .beam import Beam, beam_of
from .best_measurement import BestMeasurement, Row, best_measurement
from .interval import (
    ErrorContribution,
    RangedIntervals,
    Span,
    SunInterval,
    beyond_resolution,
    combined_range,
    merge_spans,
    with_ranges,
)
from .mark_hits import touches
from .obstructions import above_skyline
from .patch_position import PatchPosition, largest_patch_position
from .patches import sun_patches

CASE_STEP_S = 120.0  # the same, of what only another length would let in
CASE_TO_S = 8.0  # to which the moments of other lengths are found: told is the minute
INNER_SHARES = (0.1, 0.5, 0.9)  # of an interval that is known: looked at in every case
BEARING_STEPS = 2  # steps of the plan's turning, each way
MOVES_S_PER_DEG = 360.0  # the sun's bearing rarely moves by less than 10° an hour
LENGTH_MOVES_S = 3600.0  # a length that is off moves no moment further
SAMPLES = 7  # looks at a patch in each round of finding its largest


@dataclass(frozen=True)
class OpeningEntries:
    """Sun through one opening on a date, a value an interval.

    `largest_patch_m2` is the sunlit area at its largest, `patch_positions` say where the patch lies
    soon after the start and shortly before the end; `possible` are spans (seconds since 1970 UTC)
    that only a place which is off by its ± would have.
    """

    room: str
    opening: str
    intervals: tuple[SunInterval, ...]
    largest_patch_m2: tuple[float, ...]
    patch_positions: tuple[tuple[PatchPosition | None, PatchPosition | None], ...]
    possible: tuple[Span, ...]


@dataclass(frozen=True)
class MarkEntries:
    """Sun through one opening on one mark on a date; `possible` as of `OpeningEntries`."""

    room: str
    mark: str
    opening: str
    intervals: tuple[SunInterval, ...]
    possible: tuple[Span, ...]


@dataclass(frozen=True)
class DayEntries:
    """All of a date's direct sun: every opening, and each mark and opening that ever meet."""

    date: date
    sun: SunTimes
    openings: tuple[OpeningEntries, ...]
    marks: tuple[MarkEntries, ...]

    def best_measurement(
        self, marks: Collection[tuple[str, str]] | None = None
    ) -> BestMeasurement | None:
        """Which single measurement would narrow all moments most; or those of some marks' sun.

        Parameters
        ----------
        marks : by room and name; all marks, and the openings too, when left out.

        Returns
        -------
        None where no measurement gains a minute.
        """
        rows: list[Row] = [
            (entries.room, entries.opening, entries.mark, entries.intervals)
            for entries in self.marks
            if marks is None or (entries.room, entries.mark) in marks
        ]
        if marks is None:
            rows += [
                (entries.room, entries.opening, None, entries.intervals)
                for entries in self.openings
            ]
        return best_measurement(rows)


@dataclass(frozen=True)
class OpeningIntervals:
    """Sun through one opening, and through it on each mark by name: a list of spans a case.

    Spans are (start, end), seconds since 1970 UTC.
    """

    passing: list[list[Span]]
    touching: dict[str, list[list[Span]]]

    def of(self, mark: str | None) -> list[list[Span]]:
        """Spans on a mark, or of the opening itself."""
        return self.passing if mark is None else self.touching[mark]


@dataclass(frozen=True, eq=False)
class SunGrid:
    """The sun over a grid of moments (T,): its vectors (R · N, 3), those of each case in turn.

    `rows` (R · N,) are where they belong in the grids of all cases, one behind the other.
    """

    grid: Floats
    suns: Floats
    rows: Indices


class SunTests:
    """Direct sun in one location over one track, at any moments: the tests behind all entries.

    Parameters
    ----------
    location : the place.
    track : the sun over it through all moments that will be asked about.
    turns_deg : add to the plan's bearing, to see what an error in it does; each (R) is a case of
        its own, and every answer has a list a case. A pitched roof window keeps its place on the
        plan and turns with it.

    Examples
    --------
    A date's sun through one window, in hours after noon UTC, as the plan lies and turned by 4°:

    >>> from sunplan import read
    >>> location, noon = read("locations/gate-house.toml"), 1805544000.0  # 2027-03-20, 12:00 UTC
    >>> track = track_over(location, noon - 43200.0, noon + 43200.0)
    >>> tests = SunTests(location, track, turns_deg=(0.0, 4.0))
    >>> suns = tests.grid(time_grid(track.start_s, track.end_s, 60.0))
    >>> sun = tests.opening_intervals(beam_of(location, location.room[0]), 0, suns)
    >>> [[round((end - noon) / 3600, 1) for end in spans[0]] for spans in sun.passing]
    [[0.7, 7.4], [1.0, 7.6]]
    """

    def __init__(
        self, location: Location, track: Track, *, turns_deg: Sequence[float] = (0.0,)
    ) -> None:
        self.location = location
        self._track = track
        self._bearings_deg = location.site.plan_up + np.array(turns_deg)

    def above_horizon(self, times: Floats) -> Directions:
        """Directions at those of the moments (T,) at which the sun stands above level and skyline.

        `unix_s` of the answer says which these are.
        """
        up = self._track.above_horizon(times)
        return up[above_skyline(self.location.skyline, up)]

    def plan_vectors(self, directions: Directions) -> Floats:
        """Unit vectors of directions (N) in the plan frame, one case after another, (R · N, 3)."""
        return np.concatenate([directions.plan(bearing) for bearing in self._bearings_deg])

    def grid(self, grid: Floats) -> SunGrid:
        """The sun over a rising grid of moments (T,), for questions about many openings."""
        sky = self.above_horizon(grid)
        turns = np.arange(len(self._bearings_deg)) * len(grid)
        places = turns[:, None] + np.searchsorted(grid, sky.unix_s)
        return SunGrid(grid, self.plan_vectors(sky), places.ravel())

    def opening_intervals(
        self, room: Beam, index: int, net: SunGrid, *, to_s: float = RESOLUTION_S
    ) -> OpeningIntervals:
        """Intervals in which an opening passes sun, and in which that touches each mark.

        Parameters
        ----------
        room, index : the room, and the opening's index in it.
        net : the sun over a grid; an interval between two of its moments is not seen.
        to_s : how closely the ends of intervals are looked for.
        """
        marks = room.room.mark
        turns = len(self._bearings_deg)
        passing = np.flatnonzero(room.passes(index, net.suns))
        holds = np.zeros((1 + len(marks), turns * len(net.grid)), dtype=bool)
        places = net.rows[passing]
        holds[0, places] = True
        holds[1:, places] = touches(room, index, marks, net.suns[passing])

        def lit(times: Floats, rows: Indices) -> Bools:
            up = self._track.at(times)
            answers = above_skyline(self.location.skyline, up)
            kind, turn = np.divmod(rows, turns)
            sun = up.plan(self._bearings_deg[turn])
            answers[answers] = room.passes(index, sun[answers])
            for row, mark in enumerate(marks, 1):
                mine = np.flatnonzero(answers & (kind == row))
                answers[mine] = touches(room, index, [mark], sun[mine])[0]
            return answers

        spans = intervals(lit, net.grid, holds.reshape(-1, len(net.grid)), to_s=to_s)
        by_kind = [spans[start : start + turns] for start in range(0, len(spans), turns)]
        names = [mark.name for mark in marks]
        return OpeningIntervals(by_kind[0], dict(zip(names, by_kind[1:], strict=True)))


def _coarse(start_s: float, end_s: float, known: OpeningIntervals) -> Floats:
    """Wider even moments, and some in all intervals of a plan whose bearing is right."""
    kinds = [known.passing, *known.touching.values()]
    spans = np.array([span for cases in kinds for span in cases[len(cases) // 2]]).reshape(-1, 2)
    inner = spans[:, :1] + np.array(INNER_SHARES) * (spans[:, 1:] - spans[:, :1])
    return np.unique([*time_grid(start_s, end_s, CASE_STEP_S), *inner.ravel()])


def _off(
    doubt: UncertainLength, room: Beam, index: int, light: SunTests, net: SunGrid
) -> tuple[OpeningIntervals, OpeningIntervals]:
    """Sun through an opening with one number less, and more, by all that it may be off."""

    def of(place: Location) -> OpeningIntervals:
        there = beam_of(place, place.room_named(room.room.name))
        return light.opening_intervals(there, index, net, to_s=CASE_TO_S)

    less, more = doubt.ends
    return of(less), of(more)


@dataclass(frozen=True, eq=False)
class _ErrorCases:
    """Sun through one opening in all cases of what may be off.

    `turns` are those of the plan, its bearing as it is given in the middle; `lengths` are what each
    number does that is less, and more.
    """

    bearing: Measure
    turns: OpeningIntervals
    reach_s: float
    lengths: Sequence[tuple[Measure, tuple[OpeningIntervals, OpeningIntervals]]]

    def of(self, mark: str | None) -> RangedIntervals:
        """Intervals on a mark, or of the opening itself, with what all errors do to them."""
        turns = self.turns.of(mark)
        nominal = turns[len(turns) // 2]
        cases = [(self.bearing, with_ranges(turns, self.reach_s))]
        for measure, (less, more) in self.lengths:
            three = [less.of(mark)[0], nominal, more.of(mark)[0]]
            cases.append((measure, with_ranges(three, LENGTH_MOVES_S)))
        intervals = []
        for row, (start_s, end_s) in enumerate(nominal):
            contributions = tuple(
                ErrorContribution(
                    measure,
                    beyond_resolution(start_s, ranged[row].start_range_s, CASE_TO_S),
                    beyond_resolution(end_s, ranged[row].end_range_s, CASE_TO_S),
                )
                for measure, (ranged, _) in cases
            )
            intervals.append(
                SunInterval(
                    start_s,
                    end_s,
                    combined_range(start_s, [part.start_range_s for part in contributions]),
                    combined_range(end_s, [part.end_range_s for part in contributions]),
                    all(ranged[row].certain for _, (ranged, _) in cases),
                    contributions,
                )
            )
        return tuple(intervals), merge_spans(span for _, (_, spans) in cases for span in spans)


def _largest_patch(room: Beam, index: int, light: SunTests, span: Span) -> float:
    """Largest sunlit area in an interval, m²: looked for evenly, then around the best."""
    low, high = span
    best = 0.0
    for _ in range(2):
        times = np.linspace(low, high, SAMPLES)[1:-1]
        sky = light.above_horizon(times)
        areas = [
            sum(patch.area_m2 for patch in patches)
            for patches in sun_patches(room, index, light.plan_vectors(sky))
        ]
        if not areas:
            break
        largest = int(np.argmax(areas))
        best, moment = max(best, areas[largest]), sky.unix_s[largest]
        step = (high - low) / (SAMPLES - 1)
        low, high = max(low, moment - step), min(high, moment + step)
    return best


def _patch_positions(
    room: Beam, index: int, light: SunTests, span: Span
) -> tuple[PatchPosition | None, PatchPosition | None]:
    """Where the patch lies a minute in and a minute before the end (sooner in a short one)."""
    near = min(60.0, (span[1] - span[0]) / 4)
    first, last = (
        next(
            (
                largest_patch_position(room, index, sun)
                for sun in light.plan_vectors(light.above_horizon(np.array([moment])))
            ),
            None,
        )
        for moment in (span[0] + near, span[1] - near)
    )
    return first, last


def day_entries(location: Location, day: date) -> DayEntries:
    """Direct sun through every opening and on every mark on a local date.

    Parameters
    ----------
    location : the place.
    day : a local date.

    Returns
    -------
    Intervals in seconds since 1970 UTC, found on a grid of `DAY_STEP_S` and refined to half a
    second, each with the range that the errors of bearing and lengths give it.

    Examples
    --------
    A window that has sun, and a slit that it passes by all day:

    >>> from sunplan import read
    >>> entries = day_entries(read("locations/gate-house.toml"), date(2027, 3, 20))
    >>> [(row.opening, len(row.intervals)) for row in entries.openings[:2]]
    [('lock window', 1), ('west slit', 0)]
    """
    start, end = day_span(day, location.timezone)
    track = track_over(location, start, end)
    error = location.site.plan_up_error
    turns = np.linspace(-error, error, 2 * BEARING_STEPS + 1) if error > 0 else np.zeros(1)
    turned, nominal = SunTests(location, track, turns_deg=turns.tolist()), SunTests(location, track)
    suns = turned.grid(time_grid(start, end, DAY_STEP_S))
    openings, marks = [], []
    for beam in (beam_of(location, room) for room in location.room):
        cases = []
        for index in range(len(beam.apertures)):
            passing = turned.opening_intervals(beam, index, suns)
            cases.append(_error_cases(location, beam, index, nominal, (start, end), passing))
            openings.append(_opening_entries(beam, index, nominal, cases[-1]))
        for mark in beam.room.mark:
            for opening, case in zip(beam.apertures, cases, strict=True):
                intervals, possible = case.of(mark.name)
                if intervals or possible:
                    marks.append(
                        MarkEntries(beam.room.name, mark.name, opening.name, intervals, possible)
                    )
    return DayEntries(day, sun_times_of(location, day), tuple(openings), tuple(marks))


def _error_cases(
    location: Location,
    beam: Beam,
    index: int,
    nominal: SunTests,
    span: Span,
    passing: OpeningIntervals,
) -> _ErrorCases:
    """What each number that may be off does to the sun through an opening."""
    reach_s = location.site.plan_up_error / BEARING_STEPS * MOVES_S_PER_DEG
    room, opening = beam.room.name, beam.apertures[index].name
    doubts = [doubt for doubt in tolerances.lengths(location) if doubt.touches(room, opening)]
    changed = []
    if doubts:
        suns = nominal.grid(_coarse(*span, passing))
        changed = [(doubt.measure, _off(doubt, beam, index, nominal, suns)) for doubt in doubts]
    return _ErrorCases(tolerances.bearing(location), passing, reach_s, changed)


def _opening_entries(
    beam: Beam, index: int, nominal: SunTests, cases: _ErrorCases
) -> OpeningEntries:
    intervals, possible = cases.of(None)
    spans = [(interval.start_s, interval.end_s) for interval in intervals]
    return OpeningEntries(
        beam.room.name,
        beam.apertures[index].name,
        intervals,
        tuple(_largest_patch(beam, index, nominal, span) for span in spans),
        tuple(_patch_positions(beam, index, nominal, span) for span in spans),
        possible,
    )
