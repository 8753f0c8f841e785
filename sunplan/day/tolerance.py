"""How far the ends of a stretch may move: what the sun does in the place as it may truly be.

Bearing and lengths are each off on their own, as in `room/entry.py`; light from the sky is taken to
stay as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ..light.face import FACE_POINTS, Faces
from ..light.resolved import ResolvedSetup
from ..location import tolerances
from ..location.read import Location
from ..room.beam import Beam, beam_of
from ..room.best_measurement import BestMeasurement
from ..room.camera import camera_view, filmed_points
from ..room.entry import day_entries
from ..room.interval import Span, combined_range
from ..room.mark_hits import touches
from ..room.obstructions import above_skyline
from ..room.sunlit_spots import before_openings, sun_reaches
from ..sun.local_time import QUARTER_S
from ..sun.position import Floats
from ..sun.search import Bools, intervals, time_grid
from ..sun.track import Track, track_over

REACH_S = 3600.0  # how far beyond a stretch its ends are looked for
STEP_S = 300.0
TO_S = 20.0
COARSE = 24, 14  # spots of the frame that are looked for sun, across it and up


@dataclass(frozen=True)
class Firm:
    """Earliest and latest start and end; not `certain`: by one error nothing of it may hold."""

    start_range_s: Span
    end_range_s: Span
    certain: bool


@dataclass(frozen=True)
class Shown:
    """What the sun does to a setup: the openings through which it touches the mark, whether it
    falls on the wall behind the face, whether anywhere in frame.
    """

    on_mark: tuple[str, ...]
    behind: bool
    in_frame: bool

    @property
    def nothing(self) -> bool:
        """Whether it is as if the sun were down."""
        return not (self.on_mark or self.behind or self.in_frame)


def watched(room: Faces, setup: ResolvedSetup, across: tuple[int, int]) -> Floats:
    """The wall straight behind a setup's face, then so many spots of its frame.

    Parameters
    ----------
    across
        How many spots (N), across the frame and up.

    Returns
    -------
    array (1 + N, 3)
        Metres in the plan frame.
    """
    behind = room.transfer.points[room.index(setup) * FACE_POINTS + 3]
    inside = room.transfer.beam.room
    return np.concatenate((behind[None], filmed_points(camera_view(inside, setup), inside, across)))


def measure_first(
    location: Location, day: date, setups: Sequence[ResolvedSetup]
) -> BestMeasurement | None:
    """What to measure first, that sun on the marks of setups on a local date gets surer.

    None where nothing of the place may be off, or no measurement gains a minute.

    Examples
    --------
    >>> from sunplan import read
    >>> from sunplan.light.resolved import resolve
    >>> house = read("locations/lock-house.toml")
    >>> measure_first(house, date(2027, 3, 20), resolve(house)).moment.mark
    'at the stove'
    """
    if not tolerances.unsure(location):
        return None
    marks = {(setup.room, setup.mark) for setup in setups}
    return day_entries(location, day).best_measurement(marks)


def firm(location: Location, room: Faces, setup: ResolvedSetup, span: Span, shown: Shown) -> Firm:
    """How far the ends of a stretch may move in which the sun does just that.

    Parameters
    ----------
    span
        The stretch, seconds since 1970 UTC, in the place as the file has it.
    shown
        What the sun does in it. An end farther than a quarter hour from where the sun starts or
        stops doing that has another reason, and stays.

    Returns
    -------
    Firm
        The ranges of both ends by bearing and lengths together, in quadrature.
    """
    search = _SunSearch.of(location, room, setup, span, shown)
    nominal = search.ends(location, location.site.plan_up)
    if nominal is None:  # shorter than what is looked at here
        return Firm((span[0], span[0]), (span[1], span[1]), certain=True)
    made_by_sun = nominal[0] > span[0] - QUARTER_S, nominal[1] < span[1] + QUARTER_S
    edges = [nominal[end] if made_by_sun[end] else span[end] for end in (0, 1)]
    ranges: tuple[list[Span], list[Span]] = ([], [])
    certain = True
    for case in _cases(location):
        seen = [search.ends(place, bearing_deg) for place, bearing_deg in case]
        met = [ends for ends in seen if ends is not None]
        certain &= len(met) == len(seen)
        for end, inner in enumerate((max, min)):
            moved = [ends[end] if made_by_sun[end] else inner(span[end], ends[end]) for ends in met]
            moments = edges[end], *moved
            ranges[end].append((min(moments), max(moments)))
    starts, stops = map(combined_range, edges, ranges)
    return Firm(starts, stops, certain)


@dataclass(frozen=True, eq=False)
class _SunSearch:
    """When the sun does what it does in a stretch, in the place as it may truly be.

    `spots` (P, 3) are looked at for patches, the first behind the face; `on_mark` (O,) are the
    openings that sun comes through onto the mark, number `mark` of its room.
    """

    location: Location
    beam: Beam
    track: Track
    grid: Floats
    spots: Floats
    span: Span
    shown: Shown
    on_mark: Bools
    mark: int

    @classmethod
    def of(
        cls, location: Location, room: Faces, setup: ResolvedSetup, span: Span, shown: Shown
    ) -> _SunSearch:
        """For a stretch of a setup, and `REACH_S` on either side of it."""
        beam, (low, high) = room.transfer.beam, (span[0] - REACH_S, span[1] + REACH_S)
        return cls(
            location,
            beam,
            track_over(location, low, high),
            time_grid(low, high, STEP_S),
            watched(room, setup, COARSE),
            span,
            shown,
            np.array([opening.name in shown.on_mark for opening in beam.apertures]),
            [mark.name for mark in beam.room.mark].index(setup.mark),
        )

    def ends(self, place: Location, bearing_deg: float) -> Span | None:
        """Of the intervals in which the sun does that, the one that shares most with the span."""
        beam = self.beam
        if place is not self.location:
            beam = beam_of(place, place.room_named(beam.room.name))
        solid = ~before_openings(beam, self.spots)

        def holds(times: Floats) -> Bools:
            return self._holds(place, beam, bearing_deg, solid, times)

        held = holds(self.grid)[None]
        spans = intervals(lambda times, _: holds(times), self.grid, held, to_s=TO_S)[0]
        start, end = self.span
        shared = [(min(last, end) - max(first, start), (first, last)) for first, last in spans]
        most, interval = max(shared, default=(-1.0, self.span))
        return interval if most >= 0 else None

    def _holds(
        self, place: Location, beam: Beam, bearing_deg: float, solid: Bools, times: Floats
    ) -> Bools:
        """Whether the sun does that at moments (T,)."""
        sky = self.track.at(times)
        up = above_skyline(place.skyline, sky)
        suns = sky[up].plan(bearing_deg)
        lit = np.zeros((len(suns), len(self.spots)), dtype=bool)
        touched = np.zeros((len(suns), len(beam.apertures)), dtype=bool)
        for index in range(len(beam.apertures)):
            lit |= sun_reaches(beam, index, self.spots, suns) & solid
            passing = np.flatnonzero(beam.passes(index, suns))
            mark = beam.room.mark[self.mark]
            touched[passing, index] = touches(beam, index, [mark], suns[passing])[0]
        same = np.full(len(times), self.shown.nothing)
        same[up] = (
            (touched == self.on_mark).all(axis=1)
            & (lit[:, 0] == self.shown.behind)
            & (lit[:, 1:].any(axis=1) == self.shown.in_frame)
        )
        return same


def _cases(location: Location) -> list[tuple[tuple[Location, float], tuple[Location, float]]]:
    """The place with each number less, and more, by all that it may be off, and its bearing."""
    site = location.site
    left, right = (site.plan_up + turn for turn in (-site.plan_up_error, site.plan_up_error))
    cases = [((location, left), (location, right))]
    for doubt in tolerances.lengths(location):
        less, more = doubt.ends
        cases.append(((less, site.plan_up), (more, site.plan_up)))
    return cases
