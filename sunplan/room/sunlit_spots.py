"""Which spots of a room direct sun reaches through an opening: many suns, many spots."""

from __future__ import annotations

import numpy as np

from ..sun.position import Floats
from ..sun.search import Bools
from . import sight_lines
from .beam import Beam

NEAR_M = 0.01  # before a surface, of spots that are asked for
CHUNK = 1 << 20  # suns times spots at once


def sun_reaches(room: Beam, index: int, points: Floats, suns: Floats) -> Bools:
    """Whether suns (T, 3) reach spots (P, 3) of a room through an opening, (T, P)."""
    found = np.zeros((len(suns), len(points)), dtype=bool)
    facing = np.flatnonzero(room.passes(index, suns)) if len(suns) else np.zeros(0, dtype=np.intp)
    step = max(1, CHUNK // max(1, len(points)))
    for start in range(0, len(facing), step):
        rows = facing[start : start + step]
        found[rows] = _reaches(room, index, points, suns[rows])
    return found


def _reaches(room: Beam, index: int, points: Floats, suns: Floats) -> Bools:
    opening = room.apertures[index]
    off = points - opening.origin
    # A ray from the spot meets the inner face's plane at these distances along its two sides.
    way = -(off @ opening.outward) / (suns @ opening.outward)[:, None]
    a = off @ opening.across + way * (suns @ opening.across)[:, None]
    b = off @ opening.up + way * (suns @ opening.up)[:, None]
    # What lies in the opening's own wall has no sun by it.
    hit: Bools = (
        (off @ opening.outward < -NEAR_M)
        & (a >= 0)
        & (a <= opening.width)
        & (b >= 0)
        & (b <= opening.height)
    )
    sun, spot = np.nonzero(hit)
    toward = suns[sun]
    ends = points[spot] + way[sun, spot][:, None] * toward
    open_ = opening.clears(ends, toward)
    if not room.convex:
        outline = np.array(room.room.outline)
        open_ &= sight_lines.unobstructed(
            outline, opening.wall, points[spot, :2], ends[None, :, :2]
        )[0]
    for one in room.obstructions[index]:
        asked = np.flatnonzero(open_ & one.may_shade(toward))
        open_[asked] &= ~one.prism.obstructs(ends[asked, None], toward[asked])[:, 0]
    hit[sun, spot] = open_
    return hit


def before_openings(room: Beam, points: Floats) -> Bools:
    """Which spots (P, 3) just before a surface lie before an opening in it, (P,)."""
    found = np.zeros(len(points), dtype=bool)
    for one in room.apertures:
        near = np.abs((points - one.origin) @ one.outward) < NEAR_M
        found |= near & one.holds(points)
    return found
