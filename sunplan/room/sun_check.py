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

    `why`: it comes in; it is down; the skyline hides it; it stands behind the wall; the reveal is
    too deep for it; a block outside stands before it. `off_deg` is how far its bearing is from
    straight before a window, to the right seen from inside if positive; None for a skylight.
    `marks` are those that it falls on.
    """

    opening: str
    state: SunState
    off_deg: float | None
    patch_position: PatchPosition | None
    marks: tuple[str, ...]


@dataclass(frozen=True)
class SunCheck:
    """The sun at a moment, seconds since 1970 UTC, and what it does at each opening of a room."""

    moment_s: float
    altitude_deg: float
    bearing_deg: float
    openings: tuple[OpeningSun, ...]


def sun_check(location: Location, room: Room, moment_s: float) -> SunCheck:
    """What direct sun does in a room at a moment."""
    beam = beam_of(location, room)
    at = track_over(location, moment_s, moment_s).at(np.array([moment_s]))
    sun = at.plan(location.site.plan_up)
    free = bool(above_skyline(location.skyline, at)[0])
    found = []
    for index, opening in enumerate(beam.apertures):
        off = None
        if opening.wall is not None:
            across, out = float(sun[0] @ opening.across), float(sun[0] @ opening.outward)
            # Seen from inside, the way along a wall from its first corner runs to the right.
            off = float(np.degrees(np.arctan2(across, out)))
        why: SunState = "in"
        if at.altitude_deg[0] <= 0:
            why = "down"
        elif not free:
            why = "skyline"
        elif not opening.faces(sun)[0]:
            why = "behind"
        elif not opening.passes(sun)[0]:
            why = "reveal"
        elif not beam.passes(index, sun)[0]:
            why = "block"
        lands: PatchPosition | None = None
        marks: tuple[str, ...] = ()
        if why == "in":
            lands = largest_patch_position(beam, index, sun[0])
            lit = touches(beam, index, room.mark, sun)[:, 0]
            marks = tuple(one.name for one, hit in zip(room.mark, lit, strict=True) if hit)
        found.append(OpeningSun(opening.name, why, off, lands, marks))
    return SunCheck(moment_s, float(at.altitude_deg[0]), float(at.bearing_deg[0]), tuple(found))
