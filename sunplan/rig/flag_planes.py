"""Planes that a flag may lie in, and what it must span there to stop a bundle of rays."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from ..light.screen import Screen
from ..room.aperture import Aperture
from ..sun.position import Floats
from ..sun.search import Indices
from .blocked_rays import Bundle
from .flag_placement import Covers, Placement, Surroundings

# Round all that is needed: for rounding and the curve of a mark's edge; for all of an opening's
# light, found at points of the mark only; and beyond the glass, where what lies between them grows.
SUN_MARGIN_M, ALL_MARGIN_M, OUTSIDE_MARGIN_M = 0.002, 0.004, 0.010
UNDER_M = 0.06  # a flag, its arm and grip under a ceiling; common practice, no source
OFF_GLASS_M = 0.3  # of a flag outside: a stand's leg and the sill; common practice, no source
HEAD_M = 0.15  # between a flag and a mark; common practice, no source
DISTANCES = (0.12, 0.25, 0.4, 0.55, 0.7, 0.82, 0.92)  # of the way from opening to mark
LOOKS = 5  # moments whose sun a flag is turned to


@dataclass(frozen=True, eq=False)
class Planes:
    """Planes (C) that a flag may lie in.

    Attributes
    ----------
    origin
        A point of each, in the plan frame, (C, 3).
    across, up
        Unit vectors along the flag's sides, (C, 3).

    Examples
    --------
    >>> x, y, z = np.eye(3)
    >>> planes = Planes(np.array([[0.0, 2.0, 1.0]]), x[None], z[None])
    >>> hung = planes.rectangle(0, np.array([0.0, 0.0]), np.array([0.6, 0.9]))
    >>> hung.centre.tolist(), hung.size
    ([0.3, 2.0, 1.45], (0.6, 0.9))
    """

    origin: Floats
    across: Floats
    up: Floats

    @cached_property
    def normal(self) -> Floats:
        """Unit normals, (C, 3)."""
        return np.cross(self.across, self.up)

    def __getitem__(self, rows: Indices) -> Planes:
        return Planes(self.origin[rows], self.across[rows], self.up[rows])

    def rectangle(self, index: int, low: Floats, high: Floats) -> Screen:
        """The rectangle of one plane between two corners (2,), metres along its axes."""
        across, up = self.across[index], self.up[index]
        middle = (low + high) / 2
        width, height = (high - low).tolist()
        centre = self.origin[index] + middle[0] * across + middle[1] * up
        return Screen(centre, across, up, (width, height))


def candidate_planes(
    bundle: Bundle, opening: Aperture, surroundings: Surroundings
) -> dict[Placement, Planes]:
    """Planes for each placement that an opening allows.

    Over the opening is the plane of its inner face, under a ceiling a little below it; outside, as
    far off the glass as a stand must keep; under a skylight, level at the highest stand's head; on
    a stand, several between opening and mark.

    Parameters
    ----------
    bundle
        The rays that must be stopped; not empty.
    opening, surroundings
        What they come through, and where to. The kit's stands say how high one reaches.
    """
    room, kit = surroundings.room.room, surroundings.kit
    axes = opening.across[None], opening.up[None]
    below_m = 0.0 if opening.wall is not None else UNDER_M
    face = opening.origin - below_m * opening.outward
    planes: dict[Placement, Planes] = {"over the opening": Planes(face[None], *axes)}
    if opening.from_ground:
        before = opening.origin + (opening.depth + OFF_GLASS_M) * opening.outward
        planes["outside"] = Planes(before[None], *axes)
    if opening.wall is None and kit.stand:
        reach_m = max(stand.highest for stand in kit.stand)
        if reach_m < room.height - UNDER_M:  # else it hangs as high as over the opening
            under = np.array([*opening.origin[:2], room.floor + reach_m])
            planes["level under it"] = Planes(under[None], *axes)
    planes["on a stand"] = _between(bundle, opening, surroundings.middle)
    return planes


def _between(bundle: Bundle, opening: Aperture, mark: Floats) -> Planes:
    """Planes along the mean ray at several moments, turned in all sensible ways."""
    level = np.array([0.0, 0.0, 1.0])
    planes: list[tuple[Floats, Floats, Floats]] = []
    steps = np.unique(np.linspace(0, len(bundle.moments) - 1, LOOKS).round().astype(int))
    for step in steps:
        chosen = bundle.step == step
        start, toward = bundle.points[chosen].mean(axis=0), bundle.toward[chosen].mean(axis=0)
        toward = toward / np.linalg.norm(toward)
        length_m = float((start - mark) @ toward)
        flat = np.array([toward[0], toward[1], 0.0])
        flat = flat / max(float(np.linalg.norm(flat)), 1e-9)
        side = np.array([-flat[1], flat[0], 0.0])
        axes = [
            (side, level),  # upright, facing the light's bearing
            (side, np.cross(toward, side)),  # tilted, square to the light
            (side, -flat),  # level, one side along the light's bearing
            (opening.across, opening.up),  # as the opening lies
        ]
        planes += [
            (start - share * length_m * toward, across, up)
            for share, (across, up) in product(DISTANCES, axes)
        ]
    return Planes(*(np.array(part) for part in zip(*planes, strict=True)))


def margin_m(covers: Covers, placement: Placement) -> float:
    """How much more than the rays of a bundle show a flag must span, all round, metres."""
    if covers == "sun":
        return SUN_MARGIN_M
    return OUTSIDE_MARGIN_M if placement == "outside" else ALL_MARGIN_M


def extents(
    bundle: Bundle, planes: Planes, *, beyond: Floats | None, margin_m: float
) -> tuple[Floats, Floats]:
    """What a flag in each plane must span at each moment, metres along its axes from its origin.

    Parameters
    ----------
    bundle, planes
        The rays that must be stopped, at T moments; the planes, C.
    beyond
        Points (K, 3) of the body that the planes must part from the opening; None for planes at or
        before the opening, on the light's side.
    margin_m
        That it must span more, all round.

    Returns
    -------
    low, high
        Corners (T, C, 2), NaN where a plane does not part the two.
    """
    count = len(bundle.moments)
    low = np.full((count, len(planes.origin), 2), np.nan)
    high = low.copy()
    order = np.argsort(bundle.step, kind="stable")
    starts = np.searchsorted(bundle.step[order], np.arange(count))
    points, toward = bundle.points[order].T.copy(), bundle.toward[order].T.copy()
    for index, normal in enumerate(planes.normal):
        origin, facing = planes.origin[index], normal @ toward
        sign = 1.0 if facing.sum() > 0 else -1.0
        ahead = normal @ points - normal @ origin
        sound = sign * facing > 1e-6
        if beyond is not None:
            if (sign * ((beyond - origin) @ normal)).max() > -HEAD_M:
                continue
            sound &= sign * ahead > -1e-9
        whole = np.logical_and.reduceat(sound, starts)
        if not whole.any():
            continue
        reach = ahead / np.where(sound, facing, 1.0)
        for side, axis in enumerate((planes.across[index], planes.up[index])):
            along = axis @ points - axis @ origin - reach * (axis @ toward)
            low[:, index, side] = np.where(whole, np.minimum.reduceat(along, starts), np.nan)
            high[:, index, side] = np.where(whole, np.maximum.reduceat(along, starts), np.nan)
    return low - margin_m, high + margin_m
