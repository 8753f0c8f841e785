"""Why the sun comes through an opening at a moment, or does not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..location.model import Room
from ..location.read import Location
from ..sun.track import track_over
from .beam import beam_of
from .mark_hits import touches
from .obstructions import above_skyline
from .patch_position import PatchPosition, largest_patch_position

SunState = Literal["in", "down", "skyline", "behind", "reveal", "block"]


@dataclass(frozen=True)
class OpeningSun:
    """The sun and one opening at a moment.

    `state`: it comes in; it is down; the skyline hides it; it stands behind the wall; the reveal is
    too deep for it; a block outside stands before it. `off_deg` is how far its bearing is from
    straight before a window, to the right seen from inside if positive; None for a skylight.
    `patch_position` is where it lands, None where it does not come in, `marks` those that it falls
    on.
    """

    opening: str
    state: SunState
    off_deg: float | None
    patch_position: PatchPosition | None
    marks: tuple[str, ...]


@dataclass(frozen=True)
class SunCheck:
    """The sun at a moment, seconds since 1970 UTC, and what it does at each opening of a room.

    Altitude and true bearing are in degrees.
    """

    moment_s: float
    altitude_deg: float
    bearing_deg: float
    openings: tuple[OpeningSun, ...]


def sun_check(location: Location, room: Room, moment_s: float) -> SunCheck:
    """What direct sun does in a room at a moment, seconds since 1970 UTC.

    >>> from sunplan import read
    >>> location, noon = read("locations/gate-house.toml"), 1805562000.0  # 2027-03-20, 13:00 there
    >>> check = sun_check(location, location.room[0], noon)
    >>> [(opening.opening, opening.state) for opening in check.openings]
    [('lock window', 'in'), ('west slit', 'reveal')]
    """
    beam = beam_of(location, room)
    directions = track_over(location, moment_s, moment_s).at(np.array([moment_s]))
    sun = directions.plan(location.site.plan_up)
    altitude_deg, bearing_deg = float(directions.altitude_deg[0]), float(directions.bearing_deg[0])
    free = bool(above_skyline(location.skyline, directions)[0])
    openings = []
    for index, opening in enumerate(beam.apertures):
        off = None
        if opening.wall is not None:
            across, out = float(sun[0] @ opening.across), float(sun[0] @ opening.outward)
            # Seen from inside, the way along a wall from its first corner runs to the right.
            off = float(np.degrees(np.arctan2(across, out)))
        state: SunState = "in"
        if altitude_deg <= 0:
            state = "down"
        elif not free:
            state = "skyline"
        elif not opening.faces(sun)[0]:
            state = "behind"
        elif not opening.passes(sun)[0]:
            state = "reveal"
        elif not beam.passes(index, sun)[0]:
            state = "block"
        position: PatchPosition | None = None
        marks: tuple[str, ...] = ()
        if state == "in":
            position = largest_patch_position(beam, index, sun[0])
            lit = touches(beam, index, room.mark, sun)[:, 0]
            marks = tuple(mark.name for mark, hit in zip(room.mark, lit, strict=True) if hit)
        openings.append(OpeningSun(opening.name, state, off, position, marks))
    return SunCheck(moment_s, altitude_deg, bearing_deg, tuple(openings))
