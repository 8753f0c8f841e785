"""Where the sun lies in a room through the day, at round clock times: what a drawing shows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..location.model import Room
from ..location.read import Location
from .beam import Patch
from .entry import Day, Light, beam_of, track_over

STEPS_S = (3600.0, 1800.0, 900.0, 300.0)
LOOKS = 4  # as many moments as the widest step gives at least, where any does


@dataclass(frozen=True, eq=False)
class Look:
    """All patches of sun in a room at one moment, seconds since 1970 UTC."""

    moment_s: float
    patches: tuple[Patch, ...]


def looks(location: Location, room: Room, day: Day) -> tuple[Look, ...]:
    """Patches at whole hours of the clock, or at finer steps where the sun is in for less."""
    spans = [
        (stretch.start_s, stretch.end_s)
        for one in day.openings
        if one.room == room.name
        for stretch in one.stretches
    ]
    if not spans:
        return ()
    start, end = min(spans)[0], max(last for _, last in spans)
    found: list[float] = []
    for step in STEPS_S:
        grid = np.arange(np.ceil(start / step) * step, end, step)
        found = [at for at in grid.tolist() if any(a < at < b for a, b in spans)]
        if len(found) >= LOOKS:
            break
    beam, light = beam_of(location, room), Light(location, track_over(location, start, end))
    sky = light.sky(np.array(found or [(start + end) / 2]))
    return tuple(
        Look(
            moment,
            tuple(
                patch for index in range(len(beam.apertures)) for patch in beam.patches(index, sun)
            ),
        )
        for moment, sun in zip(sky.unix_s.tolist(), light.plan(sky), strict=True)
    )
