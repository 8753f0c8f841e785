"""Moments: when direct sun passes each opening and touches each mark, and how sure that is.

The centre of the sun's disk decides. Moments are found on a grid and refined to the second; what
± `plan_up_error` does to each is computed by turning the plan through its range.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..location.model import Mark, Room
from ..location.read import Location
from ..sun.calendar import SunTimes, day_span, sun_times
from ..sun.position import Directions, Floats, Track
from ..sun.search import Bools, Rows, intervals
from .beam import Beam, beam
from .landing import Landing, landing
from .outside import above_skyline

DAY_STEP_S = 60.0  # a stretch of sun shorter than this may be missed
TURNS = 2  # steps of the plan's turning, each way
MOVES_S_PER_DEG = 360.0  # the sun's bearing rarely moves by less than 10° an hour
SAMPLES = 7  # looks at a patch in each round of finding its largest

Question = Callable[[Floats], Bools]  # sun vectors (N, 3) to (N,)

Span = tuple[float, float]


@dataclass(frozen=True)
class Stretch:
    """A stretch of direct sun, seconds since 1970 UTC.

    The ranges are the earliest and latest moments within ± plan_up_error. Not `certain`: within
    that error the sun may also never come.
    """

    start_s: float
    end_s: float
    start_range_s: Span
    end_range_s: Span
    certain: bool = True


@dataclass(frozen=True)
class OpeningEntries:
    """Sun through one opening, a value a stretch.

    `landings` say where the patch lies soon after the start and shortly before the end;
    `possible` are stretches that only a turned plan would have.
    """

    room: str
    opening: str
    stretches: tuple[Stretch, ...]
    largest_patch_m2: tuple[float, ...]
    landings: tuple[tuple[Landing | None, Landing | None], ...]
    possible: tuple[Span, ...]


@dataclass(frozen=True)
class MarkEntries:
    """Sun through one opening on one mark."""

    room: str
    mark: str
    opening: str
    stretches: tuple[Stretch, ...]
    possible: tuple[Span, ...]


@dataclass(frozen=True)
class Day:
    """All of a day's direct sun."""

    date: date
    sun: SunTimes
    openings: tuple[OpeningEntries, ...]
    marks: tuple[MarkEntries, ...]


def track_over(location: Location, start_s: float, end_s: float) -> Track:
    """The sun's way over a location."""
    return Track(
        start_s,
        end_s,
        latitude_deg=location.site.latitude,
        longitude_deg=location.site.longitude,
        elevation_m=location.site.elevation,
    )


def beam_of(location: Location, room: Room) -> Beam:
    """A location's room ready for sun vectors."""
    return beam(room, location.outside, plan_up_deg=location.site.plan_up)


class Light:
    """Direct sun in one location over one track, at any moments: the tests behind all entries.

    `turns_deg` add to the plan's bearing, to see what an error in it does; each is a case of its
    own, and every answer has a list a case. A pitched roof window keeps its place on the plan and
    turns with it.
    """

    def __init__(
        self, location: Location, track: Track, *, turns_deg: Sequence[float] = (0.0,)
    ) -> None:
        self.location = location
        self._track = track
        self._bearings_deg = location.site.plan_up + np.array(turns_deg)

    def sky(self, times: Floats) -> Directions:
        """Directions at those of the moments at which the sun stands over the horizon."""
        up = self._track.above_horizon(times)
        return up[above_skyline(self.location.skyline, up)]

    def plan(self, directions: Directions) -> Floats:
        """Sun vectors in the plan frame, of all cases in turn: (R · N, 3)."""
        return np.concatenate([directions.plan(bearing) for bearing in self._bearings_deg])

    def _asked(self, question: Question) -> Callable[[Floats, Rows], Bools]:
        """A question about sun vectors as one about moments and cases."""

        def at(times: Floats, rows: Rows) -> Bools:
            sky = self._track.at(times)
            holds = above_skyline(self.location.skyline, sky)
            holds[holds] = question(sky[holds].plan(self._bearings_deg[rows[holds]]))
            return holds

        return at

    def through(
        self, room: Beam, index: int, grid: Floats, sky: Directions, suns: Floats
    ) -> tuple[list[list[Span]], dict[str, list[list[Span]]]]:
        """Stretches in which an opening passes sun, and in which that touches each mark.

        `sky` holds the directions over the grid and `suns` their vectors, of all cases.
        """
        seen = np.searchsorted(grid, sky.unix_s)
        passes = room.passes(index, suns)

        def stretches(question: Question, holds: Bools) -> list[list[Span]]:
            cases = np.zeros((len(self._bearings_deg), len(grid)), dtype=bool)
            cases[:, seen] = holds.reshape(len(cases), -1)
            return intervals(self._asked(question), grid, cases)

        def touching(mark: Mark) -> list[list[Span]]:
            def question(sun: Floats) -> Bools:
                holds = room.passes(index, sun)
                holds[holds] = room.touches(index, mark, sun[holds])
                return holds

            touches = passes.copy()
            touches[passes] = room.touches(index, mark, suns[passes])
            return stretches(question, touches)

        passing = stretches(lambda sun: room.passes(index, sun), passes)
        return passing, {mark.name: touching(mark) for mark in room.room.mark}


def _gap_s(one: Span, other: Span) -> float:
    """Seconds between two stretches, negative where they overlap."""
    return max(one[0], other[0]) - min(one[1], other[1])


def _ranged(
    cases: list[list[Span]], reach_s: float
) -> tuple[tuple[Stretch, ...], tuple[Span, ...]]:
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
            Stretch(*span, (min(starts), max(starts)), (min(ends), max(ends)), certain)
        )
    merged: list[Span] = []
    for one in sorted(
        one
        for case, spans in enumerate(cases)
        for one in spans
        if case != middle and (case, one) not in seen
    ):
        if merged and _gap_s(merged[-1], one) <= reach_s:
            merged[-1] = (merged[-1][0], max(merged[-1][1], one[1]))
        else:
            merged.append(one)
    return tuple(stretches), tuple(merged)


def _largest_patch(room: Beam, index: int, light: Light, span: Span) -> float:
    """Largest sunlit area in a stretch, m²: looked for evenly, then around the best."""
    low, high = span
    best = 0.0
    for _ in range(2):
        times = np.linspace(low, high, SAMPLES)[1:-1]
        sky = light.sky(times)
        areas = [
            sum(patch.area_m2 for patch in room.patches(index, sun)) for sun in light.plan(sky)
        ]
        if not areas:
            break
        at = int(np.argmax(areas))
        best = max(best, areas[at])
        step = (high - low) / (SAMPLES - 1)
        low, high = max(low, sky.unix_s[at] - step), min(high, sky.unix_s[at] + step)
    return best


def _landings(
    room: Beam, index: int, light: Light, span: Span
) -> tuple[Landing | None, Landing | None]:
    """Where the patch lies a minute in and a minute before the end (sooner in a short stretch)."""
    near = min(60.0, (span[1] - span[0]) / 4)
    first, last = (
        next((landing(room, index, sun) for sun in light.plan(light.sky(np.array([moment])))), None)
        for moment in (span[0] + near, span[1] - near)
    )
    return first, last


def grid_over(start_s: float, end_s: float, step_s: float) -> Floats:
    """Even moments from start to end, both among them."""
    return np.linspace(start_s, end_s, max(2, int(np.ceil((end_s - start_s) / step_s)) + 1))


def day_entries(location: Location, day: date) -> Day:
    """Direct sun through every opening and on every mark on a local date."""
    start, end = day_span(day, location.timezone)
    track = track_over(location, start, end)
    error = location.site.plan_up_error
    turns = np.linspace(-error, error, 2 * TURNS + 1) if error > 0 else np.zeros(1)
    reach_s = error / TURNS * MOVES_S_PER_DEG
    light, nominal = Light(location, track, turns_deg=turns.tolist()), Light(location, track)
    grid = grid_over(start, end, DAY_STEP_S)
    sky = light.sky(grid)
    suns = light.plan(sky)
    openings, marks = [], []
    for room in (beam_of(location, room) for room in location.room):
        touching = []
        for index, opening in enumerate(room.apertures):
            passing, touched = light.through(room, index, grid, sky, suns)
            touching.append(touched)
            stretches, possible = _ranged(passing, reach_s)
            spans = [(one.start_s, one.end_s) for one in stretches]
            openings.append(
                OpeningEntries(
                    room.room.name,
                    opening.name,
                    stretches,
                    tuple(_largest_patch(room, index, nominal, span) for span in spans),
                    tuple(_landings(room, index, nominal, span) for span in spans),
                    possible,
                )
            )
        for mark in room.room.mark:
            for opening, touched in zip(room.apertures, touching, strict=True):
                stretches, possible = _ranged(touched[mark.name], reach_s)
                if stretches or possible:
                    marks.append(
                        MarkEntries(room.room.name, mark.name, opening.name, stretches, possible)
                    )
    sun = sun_times(
        day,
        location.timezone,
        latitude_deg=location.site.latitude,
        longitude_deg=location.site.longitude,
        elevation_m=location.site.elevation,
    )
    return Day(day, sun, tuple(openings), tuple(marks))
