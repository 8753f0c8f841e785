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

MARGIN_M = 0.002  # round all that is needed: rounding and the curve of a mark's edge
ALL_MARGIN_M = 0.004  # the same for all of an opening's light, found at points of the mark only
OUTSIDE_MARGIN_M = 0.010  # and beyond the glass, where what lies between those points grows
UNDER_M = 0.06  # a flag, its arm and grip under a ceiling; common practice, no source
OFF_GLASS_M = 0.3  # of a flag outside: a stand's leg and the sill; common practice, no source
HEAD_M = 0.15  # between a flag and a mark; common practice, no source
DISTANCES = (0.12, 0.25, 0.4, 0.55, 0.7, 0.82, 0.92)  # of the way from opening to mark
LOOKS = 5  # moments whose sun a flag is turned to


@dataclass(frozen=True, eq=False)
class Planes:
    """Planes that a flag may lie in: a point `at` and the flag's axes, each (C, 3)."""

    at: Floats
    across: Floats
    up: Floats

    @cached_property
    def normal(self) -> Floats:
        """Unit normals, (C, 3)."""
        return np.cross(self.across, self.up)

    def __getitem__(self, rows: Indices) -> Planes:
        return Planes(self.at[rows], self.across[rows], self.up[rows])

    def rectangle(self, index: int, low: Floats, high: Floats) -> Screen:
        """The rectangle of one plane between two corners (2,), metres along its axes."""
        across, up = self.across[index], self.up[index]
        middle = (low + high) / 2
        width, height = (high - low).tolist()
        centre = self.at[index] + middle[0] * across + middle[1] * up
        return Screen(centre, across, up, (width, height))


def over(opening: Aperture) -> Planes:
    """The plane of an opening's inner face; under a ceiling a little below it."""
    below = 0.0 if opening.wall is not None else UNDER_M
    at = opening.origin - below * opening.outward
    return Planes(at[None], opening.across[None], opening.up[None])


def outside(opening: Aperture) -> Planes:
    """The plane before a window's glass, as far off as a stand must keep."""
    at = opening.origin + (opening.depth + OFF_GLASS_M) * opening.outward
    return Planes(at[None], opening.across[None], opening.up[None])


def raised(opening: Aperture, height_m: float) -> Planes:
    """The level plane under a skylight at a height above the ground."""
    at = np.array([*opening.origin[:2], height_m])
    return Planes(at[None], opening.across[None], opening.up[None])


def between(bundle: Bundle, opening: Aperture, middle: Floats) -> Planes:
    """Planes along the middle ray at several moments, turned in all sensible ways."""
    level = np.array([0.0, 0.0, 1.0])
    planes: list[tuple[Floats, Floats, Floats]] = []
    steps = np.unique(np.linspace(0, len(bundle.moments) - 1, LOOKS).round().astype(int))
    for step in steps:
        chosen = bundle.step == step
        start, toward = bundle.points[chosen].mean(axis=0), bundle.toward[chosen].mean(axis=0)
        toward = toward / np.linalg.norm(toward)
        way = float((start - middle) @ toward)
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
            (start - share * way * toward, across, up)
            for share, (across, up) in product(DISTANCES, axes)
        ]
    at, across, up = (np.array(part) for part in zip(*planes, strict=True))
    return Planes(at, across, up)


def spans(
    bundle: Bundle, planes: Planes, *, beyond: Floats | None, margin_m: float = MARGIN_M
) -> tuple[Floats, Floats]:
    """What a flag in each plane must span at each moment: low and high corners (T, C, 2).

    Measured along its axes from `at`. NaN where the plane does not part the opening from the body
    whose points are `beyond` (K, 3); None: it lies at or before the opening, the light's side.
    """
    count = len(bundle.moments)
    low = np.full((count, len(planes.at), 2), np.nan)
    high = low.copy()
    order = np.argsort(bundle.step, kind="stable")
    starts = np.searchsorted(bundle.step[order], np.arange(count))
    points, toward = bundle.points[order].T.copy(), bundle.toward[order].T.copy()
    for index, normal in enumerate(planes.normal):
        at, facing = planes.at[index], normal @ toward
        sign = 1.0 if facing.sum() > 0 else -1.0
        ahead = normal @ points - normal @ at
        sound = sign * facing > 1e-6
        if beyond is not None:
            if (sign * ((beyond - at) @ normal)).max() > -HEAD_M:
                continue
            sound &= sign * ahead > -1e-9
        whole = np.logical_and.reduceat(sound, starts)
        if not whole.any():
            continue
        reach = ahead / np.where(sound, facing, 1.0)
        for side, axis in enumerate((planes.across[index], planes.up[index])):
            along = axis @ points - axis @ at - reach * (axis @ toward)
            low[:, index, side] = np.where(whole, np.minimum.reduceat(along, starts), np.nan)
            high[:, index, side] = np.where(whole, np.maximum.reduceat(along, starts), np.nan)
    return low - margin_m, high + margin_m
