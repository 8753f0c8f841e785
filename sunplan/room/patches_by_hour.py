"""Where the sun lies in a room through the day, at round clock times: what a drawing shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..location.model import Room
from ..location.read import Location
from ..sun.position import Floats
from ..sun.track import track_over
from .beam import beam_of
from .entry import DayEntries, SunTests
from .patches import SunPatch, sun_patches

STEPS_S = (3600.0, 1800.0, 900.0, 300.0)
LOOKS = 4  # as many moments as the widest step gives at least, where any does


@dataclass(frozen=True, eq=False)
class PatchAtHour:
    """All patches of sun in a room at one moment, seconds since 1970 UTC."""

    moment_s: float
    patches: tuple[SunPatch, ...]


def patches_by_hour(location: Location, room: Room, day: DayEntries) -> tuple[PatchAtHour, ...]:
    """Patches at whole hours of the clock, or at finer steps where the sun is in for less.

    Parameters
    ----------
    location, room : the place and one of its rooms.
    day : its direct sun on the date.

    Returns
    -------
    In order; the middle of a time so short that no step falls into it, none without any sun.

    Examples
    --------
    >>> from datetime import date
    >>> from sunplan import read
    >>> from sunplan.room.entry import day_entries
    >>> location = read("locations/gate-house.toml")
    >>> day = day_entries(location, date(2027, 3, 20))
    >>> [len(row.patches) for row in patches_by_hour(location, location.room[0], day)]
    [1, 2, 1, 1, 1, 1, 1]
    """
    spans = [
        (interval.start_s, interval.end_s)
        for entries in day.openings
        if entries.room == room.name
        for interval in entries.intervals
    ]
    if not spans:
        return ()
    start, end = min(spans)[0], max(last for _, last in spans)
    moments: list[float] = []
    for step in STEPS_S:
        grid = np.arange(np.ceil(start / step) * step, end, step)
        moments = [moment for moment in grid.tolist() if any(a < moment < b for a, b in spans)]
        if len(moments) >= LOOKS:
            break
    return patches_at(location, room, np.array(moments or [(start + end) / 2]))


def patches_at(location: Location, room: Room, moments_s: Floats) -> tuple[PatchAtHour, ...]:
    """Patches in a room at rising moments (T,), seconds since 1970 UTC.

    One answer a moment; while the sun is down it has no patches.
    """
    beam = beam_of(location, room)
    light = SunTests(location, track_over(location, moments_s[0], moments_s[-1]))
    sky = light.above_horizon(moments_s)
    suns = light.plan_vectors(sky)
    openings = [sun_patches(beam, index, suns) for index in range(len(beam.apertures))]
    lit = {
        moment: tuple(patch for patches in openings for patch in patches[row])
        for row, moment in enumerate(sky.unix_s.tolist())
    }
    return tuple(PatchAtHour(moment, lit.get(moment, ())) for moment in moments_s.tolist())
