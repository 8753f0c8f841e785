"""A day at even steps of the clock: where the sun stands, and where it lies in each room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..location.read import Location
from ..room.entry import Day, beam_of, track_over
from ..room.patch_position import Landing, landed
from ..room.patches import PatchAtHour, looks_at
from ..sun.calendar import day_span, every
from ..sun.position import Directions
from .working_day import WorkingDay

STEP_S = 300.0  # at dusk a window loses a stop in as little
HOUR_S = 3600.0


@dataclass(frozen=True, eq=False)
class Steps:
    """What the sun does at moments (T,), a value a moment.

    `sun` has its directions, below the horizon too; `looks` the patches by room; `landings`, by
    room and opening, where the largest patch lies, None for no sun.
    """

    moments_s: tuple[float, ...]
    sun: Directions
    looks: Mapping[str, tuple[PatchAtHour, ...]]
    landings: Mapping[str, Mapping[str, tuple[Landing | None, ...]]]


def moments(location: Location, entries: Day, clock: WorkingDay) -> list[float]:
    """Even steps over daylight, dusk and the hours that people are there, from a whole hour on."""
    day_s = day_span(entries.date, location.timezone)[0]
    first, last = entries.sun.daylight(entries.date, location.timezone)
    call = day_s + (clock.call_s - day_s) // HOUR_S * HOUR_S
    return every(min(first, call), max(last, clock.wrap_s), STEP_S)


def steps(location: Location, moments_s: list[float]) -> Steps:
    """The sun of a day at its moments."""
    times = np.array(moments_s)
    looks = {room.name: looks_at(location, room, times) for room in location.room}
    landings = {}
    for room in location.room:
        beam = beam_of(location, room)
        landings[room.name] = {
            one.name: tuple(
                landed(beam, index, [each for each in look.patches if each.opening == one.name])
                for look in looks[room.name]
            )
            for index, one in enumerate(beam.apertures)
        }
    sun = track_over(location, times[0], times[-1]).at(times)
    return Steps(tuple(moments_s), sun, looks, landings)
