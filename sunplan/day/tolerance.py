"""How far the ends of a stretch may move: what the sun does in the place as it may truly be.

Bearing and lengths are each off on their own, as in `room/entry.py`; light from the sky is taken to
stay as it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..light.face import FACE_POINTS, Faces
from ..light.resolved import ResolvedSetup
from ..location import tolerances
from ..location.read import Location
from ..room.beam import beam_of
from ..room.camera import camera_view, filmed_points
from ..room.interval import Span, combined_range
from ..room.mark_hits import touches
from ..room.obstructions import above_skyline
from ..room.sunlit_spots import before_openings, sun_reaches
from ..sun.position import Floats
from ..sun.search import Bools, intervals, time_grid
from ..sun.track import track_over

REACH_S = 3600.0  # how far beyond a stretch its ends are looked for
STEP_S = 300.0
TO_S = 20.0
QUARTER_S = 900.0  # an end farther than this from what the sun does has another reason
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
    """The wall straight behind a setup's face, then so many spots of its frame, (1 + N, 3).

    `across` is how many, across the frame and up.
    """
    behind = room.transfer.points[room.index(setup) * FACE_POINTS + 3]
    inside = room.transfer.beam.room
    return np.concatenate((behind[None], filmed_points(camera_view(inside, setup), inside, across)))


def firm(location: Location, room: Faces, setup: ResolvedSetup, span: Span, shown: Shown) -> Firm:
    """How far the ends of a stretch may move in which the sun does just that.

    Parameters
    ----------
    span
        The stretch, seconds since 1970 UTC, in the place as the file has it.
    shown
        What the sun does in it. An end farther than `QUARTER_S` from where the sun starts or stops
        doing that has another reason, and stays.
    """
    beam = room.transfer.beam
    spots = watched(room, setup, COARSE)
    low, high = span[0] - REACH_S, span[1] + REACH_S
    track = track_over(location, low, high)
    grid = time_grid(low, high, STEP_S)
    wanted = np.array([one.name in shown.on_mark for one in beam.apertures])
    mark = [one.name for one in beam.room.mark].index(setup.mark)

    def holds(place: Location, bearing_deg: float) -> Callable[[Floats], Bools]:
        there = beam if place is location else beam_of(place, place.room_named(beam.room.name))
        solid = ~before_openings(there, spots)

        def asked(times: Floats) -> Bools:
            sky = track.at(times)
            up = above_skyline(place.skyline, sky)
            suns = sky[up].plan(bearing_deg)
            lit = np.zeros((len(suns), len(spots)), dtype=bool)
            touched = np.zeros((len(suns), len(there.apertures)), dtype=bool)
            for index in range(len(there.apertures)):
                lit |= sun_reaches(there, index, spots, suns) & solid
                passing = np.flatnonzero(there.passes(index, suns))
                touched[passing, index] = touches(
                    there, index, [there.room.mark[mark]], suns[passing]
                )[0]
            same = np.full(len(times), shown.nothing)
            same[up] = (
                (touched == wanted).all(axis=1)
                & (lit[:, 0] == shown.behind)
                & (lit[:, 1:].any(axis=1) == shown.in_frame)
            )
            return same

        return asked

    def ends(place: Location, bearing_deg: float) -> Span | None:
        test = holds(place, bearing_deg)
        found = intervals(lambda times, _: test(times), grid, test(grid)[None], to_s=TO_S)[0]
        shared = [(min(one[1], span[1]) - max(one[0], span[0]), one) for one in found]
        most = max(shared, default=(-1.0, span))
        return most[1] if most[0] >= 0 else None

    plan_up = location.site.plan_up
    nominal = ends(location, plan_up)
    if nominal is None:  # shorter than what is looked at here
        return Firm((span[0], span[0]), (span[1], span[1]), certain=True)
    made_by_sun = nominal[0] > span[0] - QUARTER_S, nominal[1] < span[1] + QUARTER_S
    edges = (
        nominal[0] if made_by_sun[0] else span[0],
        nominal[1] if made_by_sun[1] else span[1],
    )
    starts: list[Span] = []
    stops: list[Span] = []
    certain = True
    for case in _cases(location):
        seen = [ends(*one) for one in case]
        met = [one for one in seen if one is not None]
        certain &= len(met) == len(seen)
        first = [one[0] if made_by_sun[0] else max(span[0], one[0]) for one in met]
        last = [one[1] if made_by_sun[1] else min(span[1], one[1]) for one in met]
        starts.append((min(edges[0], *first), max(edges[0], *first)) if met else (edges[0],) * 2)
        stops.append((min(edges[1], *last), max(edges[1], *last)) if met else (edges[1],) * 2)
    return Firm(combined_range(edges[0], starts), combined_range(edges[1], stops), certain)


def _cases(location: Location) -> list[tuple[tuple[Location, float], tuple[Location, float]]]:
    """The place with each number less, and more, by all that it may be off, and its bearing."""
    site = location.site
    left, right = (site.plan_up + turn for turn in (-site.plan_up_error, site.plan_up_error))
    found = [((location, left), (location, right))]
    for doubt in tolerances.lengths(location):
        less, more = doubt.ends
        found.append(((less, site.plan_up), (more, site.plan_up)))
    return found
