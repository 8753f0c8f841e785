"""Moments: when direct sun passes each opening and touches each mark, and how sure that is.

The centre of the sun's disk decides. Moments are found on a grid and refined to the second; what
± `plan_up_error` does to each is computed by turning the plan through its range.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..location.model import Room
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


def sun_of(location: Location, day: date) -> SunTimes:
    """Rise, set and twilights of a local date at a location."""
    return sun_times(
        day,
        location.timezone,
        latitude_deg=location.site.latitude,
        longitude_deg=location.site.longitude,
        elevation_m=location.site.elevation,
    )


def beam_of(location: Location, room: Room) -> Beam:
    """A location's room ready for sun vectors."""
    return beam(room, location.outside, plan_up_deg=location.site.plan_up)


@dataclass(frozen=True)
class Through:
    """Sun through one opening, and through it on each mark: a list of stretches a case."""

    passing: list[list[Span]]
    touching: dict[str, list[list[Span]]]


@dataclass(frozen=True, eq=False)
class Net:
    """The sun over a grid of moments (T,): its vectors (R · N, 3), those of each case in turn.

    `places` (R · N,) are where they belong in the grids of all cases, one behind the other.
    """

    grid: Floats
    suns: Floats
    places: Rows


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

    def over(self, grid: Floats) -> Net:
        """The sun over a grid of moments, for questions about many openings."""
        sky = self.sky(grid)
        turns = np.arange(len(self._bearings_deg)) * len(grid)
        places = turns[:, None] + np.searchsorted(grid, sky.unix_s)
        return Net(grid, self.plan(sky), places.ravel())

    def through(self, room: Beam, index: int, net: Net) -> Through:
        """Stretches in which an opening passes sun, and in which that touches each mark."""
        marks = room.room.mark
        turns = len(self._bearings_deg)
        passing = np.flatnonzero(room.passes(index, net.suns))
        holds = np.zeros((1 + len(marks), turns * len(net.grid)), dtype=bool)
        places = net.places[passing]
        holds[0, places] = True
        holds[1:, places] = room.touches(index, marks, net.suns[passing])

        def asked(times: Floats, rows: Rows) -> Bools:
            up = self._track.at(times)
            answers = above_skyline(self.location.skyline, up)
            kind, turn = np.divmod(rows, turns)
            sun = up.plan(self._bearings_deg[turn])
            answers[answers] = room.passes(index, sun[answers])
            for row, mark in enumerate(marks, 1):
                mine = np.flatnonzero(answers & (kind == row))
                answers[mine] = room.touches(index, [mark], sun[mine])[0]
            return answers

        found = intervals(asked, net.grid, holds.reshape(-1, len(net.grid)))
        by_kind = [found[start : start + turns] for start in range(0, len(found), turns)]
        names = [mark.name for mark in marks]
        return Through(by_kind[0], dict(zip(names, by_kind[1:], strict=True)))


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
            sum(patch.area_m2 for patch in patches)
            for patches in room.patches_each(index, light.plan(sky))
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
    net = light.over(grid_over(start, end, DAY_STEP_S))
    openings, marks = [], []
    for room in (beam_of(location, room) for room in location.room):
        touching = []
        for index, opening in enumerate(room.apertures):
            found = light.through(room, index, net)
            touching.append(found.touching)
            stretches, possible = _ranged(found.passing, reach_s)
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
    sun = sun_of(location, day)
    return Day(day, sun, tuple(openings), tuple(marks))
