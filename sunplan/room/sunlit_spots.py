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
    """Whether suns reach spots of a room through an opening.

    Parameters
    ----------
    room, index : the room, and the opening's index in it.
    points : spots (P, 3), plan frame, metres; one in the opening's own wall has no sun by it.
    suns : unit vectors (T, 3) toward the sun, plan frame; that it is up is not asked.

    Returns
    -------
    Shape (T, P).

    Examples
    --------
    The ray through the middle of a window back into the room, a spot on it and one beside:

    >>> from sunplan import read
    >>> from sunplan.room.beam import beam_of
    >>> location = read("locations/gate-house.toml")
    >>> beam = beam_of(location, location.room[0])
    >>> window = beam.apertures[0]
    >>> sun = 0.96 * window.outward + [0, 0, 0.28]
    >>> spot = window.world(np.array([window.width / 2, window.height / 2])) - 2.0 * sun
    >>> sun_reaches(beam, 0, np.array([spot, spot + 1.0 * window.across]), sun[None])
    array([[ True, False]])
    """
    lit = np.zeros((len(suns), len(points)), dtype=bool)
    facing = np.flatnonzero(room.passes(index, suns)) if len(suns) else np.zeros(0, dtype=np.intp)
    step = max(1, CHUNK // max(1, len(points)))
    for start in range(0, len(facing), step):
        rows = facing[start : start + step]
        lit[rows] = _reaches(room, index, points, suns[rows])
    return lit


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
    for obstruction in room.obstructions[index]:
        unsure = np.flatnonzero(open_ & obstruction.may_shade(toward))
        shaded = obstruction.prism.obstructs(ends[unsure, None], toward[unsure])[:, 0]
        open_[unsure] &= ~shaded
    hit[sun, spot] = open_
    return hit


def before_openings(room: Beam, points: Floats) -> Bools:
    """Which spots (P, 3), metres, just before a surface lie before an opening in it, (P,)."""
    before = np.zeros(len(points), dtype=bool)
    for opening in room.apertures:
        near = np.abs((points - opening.origin) @ opening.outward) < NEAR_M
        before |= near & opening.holds(points)
    return before
