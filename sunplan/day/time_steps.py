"""A day at even steps of the clock: where the sun stands, and where it lies in each room."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..location.read import Location
from ..room.beam import beam_of
from ..room.entry import DayEntries
from ..room.patch_position import PatchPosition, patch_position
from ..room.patches_by_hour import PatchAtHour, patches_at
from ..sun.local_time import HOUR_S, day_span, even_moments
from ..sun.position import Directions
from ..sun.track import track_over
from .working_day import WorkingDay

STEP_S = 300.0  # at dusk a window loses a stop in as little


@dataclass(frozen=True, eq=False)
class Steps:
    """What the sun does at moments (T,), a value a moment.

    `sun` has its directions, below the horizon too; `looks` the patches by room; `landings`, by
    room and opening, where the largest patch lies, None for no sun.
    """

    moments_s: tuple[float, ...]
    sun: Directions
    looks: Mapping[str, tuple[PatchAtHour, ...]]
    landings: Mapping[str, Mapping[str, tuple[PatchPosition | None, ...]]]


def moments(location: Location, entries: DayEntries, clock: WorkingDay) -> list[float]:
    """Even steps over daylight, dusk and the hours that people are there, from a whole hour on.

    Returns
    -------
    list of float
        Seconds since 1970 UTC, `STEP_S` apart.
    """
    day_s = day_span(entries.date, location.timezone)[0]
    first, last = entries.sun.daylight(entries.date, location.timezone)
    call = day_s + (clock.call_s - day_s) // HOUR_S * HOUR_S
    return even_moments(min(first, call), max(last, clock.wrap_s), STEP_S)


def time_steps(location: Location, moments_s: list[float]) -> Steps:
    """The sun of a day at moments.

    Parameters
    ----------
    moments_s
        Seconds since 1970 UTC, rising.

    Examples
    --------
    >>> from sunplan import read
    >>> noon = time_steps(read("locations/lock-house.toml"), [1805540400.0])
    >>> noon.landings["gauge room"]["roof light"][0] is not None
    True
    """
    times = np.array(moments_s)
    looks = {room.name: patches_at(location, room, times) for room in location.room}
    landings = {}
    for room in location.room:
        beam = beam_of(location, room)
        landings[room.name] = {
            aperture.name: tuple(
                patch_position(
                    beam, index, [patch for patch in look.patches if patch.opening == aperture.name]
                )
                for look in looks[room.name]
            )
            for index, aperture in enumerate(beam.apertures)
        }
    sun = track_over(location, times[0], times[-1]).at(times)
    return Steps(tuple(moments_s), sun, looks, landings)
