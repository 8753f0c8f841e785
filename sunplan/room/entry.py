"""Moments: when direct sun passes each opening and touches each mark, and how sure that is.

The centre of the sun's disk decides. Moments are found on a grid and refined to the second; what
± `plan_up_error` does to each is computed by turning the plan through its range.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..location.model import Mark, Room
from ..location.read import Location
from ..sun.calendar import SunTimes, day_span, sun_times
from ..sun.position import Directions, Floats, Track
from ..sun.search import Bools, intervals
from .beam import Beam, beam
from .outside import above_skyline

DAY_STEP_S = 60.0  # a stretch of sun shorter than this may be missed
TURN_STEP_S = 120.0  # the same for the plan turned within its error
TURN_RESOLUTION_S = 0.5  # of a moment's range
TURNS = 2  # steps of the plan's turning, each way
SAMPLES = 9  # looks at a patch between its first and last moment, to find the largest

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
    """Sun through one opening; `possible` are stretches that only a turned plan would have."""

    room: str
    opening: str
    stretches: tuple[Stretch, ...]
    largest_patch_m2: tuple[float, ...]
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

    `turned_deg` adds to the plan's bearing, to see what an error in it does; a pitched roof
    window keeps its place on the plan and turns with it.
    """

    def __init__(self, location: Location, track: Track, *, turned_deg: float = 0.0) -> None:
        self.location = location
        self._track = track
        self._plan_up_deg = location.site.plan_up + turned_deg

    def sky(self, times: Floats) -> Directions:
        """Directions at those of the moments at which the sun stands over the horizon."""
        up = self._track.above_horizon(times)
        return up[above_skyline(self.location.skyline, up)]

    def plan(self, directions: Directions) -> Floats:
        """Sun vectors in the plan frame, (N, 3)."""
        return directions.plan(self._plan_up_deg)

    def _where(self, times: Floats, question: Callable[[Floats], Bools]) -> Bools:
        """A question about sun vectors, asked at moments; false when the sun is down."""
        up = self.sky(times)
        holds = np.zeros(len(times), dtype=bool)
        holds[np.searchsorted(times, up.unix_s)] = question(self.plan(up))
        return holds

    def _any_order(self, times: Floats, question: Callable[[Floats], Bools]) -> Bools:
        order = np.argsort(times, kind="stable")
        holds = np.empty(len(times), dtype=bool)
        unique, back = np.unique(times[order], return_inverse=True)
        holds[order] = self._where(unique, question)[back]
        return holds

    def passing(self, room: Beam, index: int, grid: Floats, sky: Directions) -> list[Span]:
        """Stretches in which an opening passes sun; `sky` are the directions over the grid."""
        sun = self.plan(sky)
        holds = np.zeros(len(grid), dtype=bool)
        holds[np.searchsorted(grid, sky.unix_s)] = room.passes(index, sun)
        return intervals(lambda t: self._any_order(t, lambda s: room.passes(index, s)), grid, holds)

    def touching(
        self, room: Beam, index: int, mark: Mark, grid: Floats, sky: Directions, spans: list[Span]
    ) -> list[Span]:
        """Stretches in which sun through an opening touches a mark, within those it passes."""
        if not spans:
            return []

        def question(sun: Floats) -> Bools:
            holds = room.passes(index, sun)
            holds[holds] = room.touches(index, mark, sun[holds])
            return holds

        # Ends of the passing belong to the grid: a touch may start with them.
        ends = np.unique(np.array(spans))
        extra = self.sky(ends)
        starts = np.concatenate((sky.unix_s, extra.unix_s))
        times, first = np.unique(starts, return_index=True)
        sun = np.concatenate((self.plan(sky), self.plan(extra)))[first]
        within = np.zeros(len(times), dtype=bool)
        for start, end in spans:
            within |= (times >= start) & (times <= end)
        holds_sky = np.zeros(len(times), dtype=bool)
        holds_sky[within] = question(sun[within])
        moments = np.unique(np.concatenate((grid, ends)))
        holds = np.zeros(len(moments), dtype=bool)
        holds[np.searchsorted(moments, times)] = holds_sky
        return intervals(lambda t: self._any_order(t, question), moments, holds)


def _follow(span: Span, runs: Iterable[list[Span]]) -> tuple[list[Span], bool]:
    """A stretch through runs in which the plan turns step by step, while it lasts."""
    found: list[Span] = []
    last = span
    for run in runs:
        shared = [(min(last[1], one[1]) - max(last[0], one[0]), one) for one in run]
        if not shared or max(shared)[0] <= 0:
            return found, False
        last = max(shared)[1]
        found.append(last)
    return found, True


def _ranged(
    spans: list[Span], less: list[list[Span]], more: list[list[Span]]
) -> tuple[tuple[Stretch, ...], tuple[Span, ...]]:
    """Stretches with their ranges, and those that only a turned plan has, merged."""
    seen: set[Span] = set()
    stretches = []
    for span in spans:
        ways = [_follow(span, runs) for runs in (less, more)]
        met = [span] + [one for found, _ in ways for one in found]
        seen.update(met)
        stretches.append(
            Stretch(
                start_s=span[0],
                end_s=span[1],
                start_range_s=(min(one[0] for one in met), max(one[0] for one in met)),
                end_range_s=(min(one[1] for one in met), max(one[1] for one in met)),
                certain=all(lasts for _, lasts in ways),
            )
        )
    other = sorted({one for run in (*less, *more) for one in run} - seen)
    merged: list[Span] = []
    for start, end in other:
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
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


@dataclass(frozen=True, eq=False)
class _Run:
    """All stretches of a day with the plan turned by one angle, by room, opening and mark."""

    passing: dict[tuple[str, str], list[Span]]
    touching: dict[tuple[str, str, str], list[Span]]


def _run(
    location: Location, track: Track, grid: Floats, rooms: list[Beam], turned_deg: float
) -> _Run:
    light = Light(location, track, turned_deg=turned_deg)
    sky = light.sky(grid)
    passing, touching = {}, {}
    for room in rooms:
        for index, opening in enumerate(room.apertures):
            spans = light.passing(room, index, grid, sky)
            passing[room.room.name, opening.name] = spans
            for mark in room.room.mark:
                touching[room.room.name, mark.name, opening.name] = light.touching(
                    room, index, mark, grid, sky, spans
                )
    return _Run(passing, touching)


def grid_over(start_s: float, end_s: float, step_s: float) -> Floats:
    """Even moments from start to end, both among them."""
    return np.linspace(start_s, end_s, max(2, int(np.ceil((end_s - start_s) / step_s)) + 1))


def day_entries(location: Location, day: date) -> Day:
    """Direct sun through every opening and on every mark on a local date."""
    start, end = day_span(day, location.timezone)
    track = track_over(location, start, end)
    rooms = [beam_of(location, room) for room in location.room]
    nominal = _run(location, track, grid_over(start, end, DAY_STEP_S), rooms, 0.0)
    error = location.site.plan_up_error
    turned: dict[int, list[_Run]] = {-1: [], 1: []}
    if error > 0:
        coarse = grid_over(start, end, TURN_STEP_S)
        for sign, runs in turned.items():
            for step in range(1, TURNS + 1):
                angle = sign * error * step / TURNS
                runs.append(_run(location, track, coarse, rooms, angle))
    light = Light(location, track)
    openings, marks = [], []
    for room in rooms:
        for index, opening in enumerate(room.apertures):
            key = (room.room.name, opening.name)
            stretches, possible = _ranged(
                nominal.passing[key],
                [run.passing[key] for run in turned[-1]],
                [run.passing[key] for run in turned[1]],
            )
            largest = tuple(
                _largest_patch(room, index, light, span) for span in nominal.passing[key]
            )
            openings.append(OpeningEntries(*key, stretches, largest, possible))
        for mark in room.room.mark:
            for opening in room.apertures:
                name = (room.room.name, mark.name, opening.name)
                stretches, possible = _ranged(
                    nominal.touching[name],
                    [run.touching[name] for run in turned[-1]],
                    [run.touching[name] for run in turned[1]],
                )
                if stretches or possible:
                    marks.append(MarkEntries(*name, stretches, possible))
    sun = sun_times(
        day,
        location.timezone,
        latitude_deg=location.site.latitude,
        longitude_deg=location.site.longitude,
        elevation_m=location.site.elevation,
    )
    return Day(day, sun, tuple(openings), tuple(marks))
