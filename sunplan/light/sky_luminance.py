"""From which part of the sky its light comes: the CIE general sky on a grid of sky patches.

References
----------
.. [1] ISO 15469:2004 / CIE S 011:2003, Spatial distribution of daylight: CIE standard general sky.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from ..sun.position import Floats
from ..sun.search import Indices

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

SKY_GRID = (45, 120)  # sky patches: rows of equal altitude, columns of equal bearing
# The sine of what is level but for rounding. A ray so meets the sky: the ground curves away.
LEVEL = 1e-9


@cache
def sky_patches(grid: tuple[int, int] = SKY_GRID) -> tuple[Floats, Floats]:
    """Unit vectors (P, 3) to the middles of the sky's patches, and their solid angles, sr, (P,).

    `grid` is rows of equal altitude by columns of equal bearing.

    Examples
    --------
    >>> toward, solid_angle = sky_patches((15, 40))
    >>> toward.shape, round(float(solid_angle.sum()) / math.pi, 6)
    ((600, 3), 2.0)
    """
    rows, columns = grid
    edges = np.sin(np.linspace(0.0, math.pi / 2, rows + 1))
    height = np.repeat((edges[1:] + edges[:-1]) / 2, columns)
    azimuth = np.tile((np.arange(columns) + 0.5) * (2 * math.pi / columns), rows)
    level = np.sqrt(1.0 - height**2)
    toward = np.stack((level * np.cos(azimuth), level * np.sin(azimuth), height), axis=-1)
    return toward, np.repeat(np.diff(edges) * (2 * math.pi / columns), columns)


def hemisphere_rays(normal: Floats, grid: tuple[int, int]) -> tuple[Floats, Floats]:
    """Unit vectors (N, 3) before a face, above and below the horizon, and their weights, sr, (N,).

    The weights are cosine times solid angle: the face's illuminance is luminance @ weights.

    Parameters
    ----------
    normal
        Unit normal of the face, (3,).
    grid
        As `sky_patches` takes it; below the horizon it is mirrored.

    Examples
    --------
    >>> toward, weights = hemisphere_rays(np.array([1.0, 0.0, 0.0]), SKY_GRID)
    >>> round(float(weights.sum()) / math.pi, 3)
    1.0
    """
    above, solid_angle = sky_patches(grid)
    toward = np.concatenate((above, above * [1.0, 1.0, -1.0]))
    cosine = toward @ normal
    front = cosine > 1e-3
    return toward[front], (cosine * np.tile(solid_angle, 2))[front]


def patch_index(toward: Floats) -> Indices:
    """Index of the patch of `SKY_GRID` that unit vectors (N, 3) point into, (N,).

    What points below the horizon gets a patch of the sky's rim.

    Examples
    --------
    >>> toward = sky_patches()[0]
    >>> bool((patch_index(toward) == np.arange(len(toward))).all())
    True
    """
    rows, columns = SKY_GRID
    altitude = np.arcsin(np.clip(toward[:, 2], 0.0, 1.0)) / (math.pi / 2)
    azimuth = np.arctan2(toward[:, 1], toward[:, 0]) / (2 * math.pi) % 1.0
    row = np.minimum((altitude * rows).astype(np.intp), rows - 1)
    column = np.minimum((azimuth * columns).astype(np.intp), columns - 1)
    return row * columns + column


def cie_sky(terms: Sequence[float], toward: Floats, sun: Floats) -> Floats:
    """Relative luminance of a CIE standard general sky, eq. 1 to 4 of [1].

    Parameters
    ----------
    terms
        a, b of the gradation and c, d, e of the indicatrix: one type's row of `data/sky.toml`.
    toward
        Unit vectors with z up, (N, 3).
    sun
        Unit vector toward the sun, (3,), or those of moments, (T, 3). The standard has the sun
        above the horizon; one below it brightens the horizon above it.

    Returns
    -------
    Luminance on a scale of its own (not over the zenith's), (N,) or (T, N); 0 below the horizon.

    Examples
    --------
    >>> rays = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 1e-6], [0.0, 1.0, -1.0]])
    >>> overcast = cie_sky([4.0, -0.7, 0.0, -1.0, 0.0], rays, np.array([0.0, 0.0, 1.0]))
    >>> (overcast / overcast[0]).round(3)  # the horizon has a third of the zenith's
    array([1.   , 0.335, 0.   ])
    """
    a, b, c, d, e = terms
    sun = sun * np.where(sun[..., 2:] < 0, [1.0, 1.0, 0.0], 1.0)
    sun = sun / np.maximum(np.linalg.norm(sun, axis=-1, keepdims=True), 1e-12)
    height = np.clip(toward[:, 2], 1e-6, 1.0)
    above = toward[:, 2] >= -LEVEL
    gradation = np.where(above, 1.0 + a * np.exp(b / height), 0.0)
    if not c and not e:
        return np.broadcast_to(gradation, (*sun.shape[:-1], len(toward)))
    cosine = np.clip(sun @ toward.T, -1.0, 1.0)
    chi = np.arccos(cosine)
    indicatrix = 1.0 + c * (np.exp(d * chi) - math.exp(d * math.pi / 2)) + e * cosine**2
    luminance: Floats = gradation * indicatrix
    return luminance


def level_illuminance(terms: tuple[float, ...], sun: Floats) -> Floats:
    """Illuminance that `cie_sky` gives level ground in the open, on the same scale, (T,).

    It hangs on the sun's altitude alone: read off a table by degree, within 1e-4 stops of the sum
    over `sky_patches`. `sun` are unit vectors (T, 3).

    >>> overcast = (4.0, -0.7, 0.0, -1.0, 0.0)
    >>> zenith = cie_sky(overcast, np.array([[0.0, 0.0, 1.0]]), np.array([0.0, 0.0, 1.0]))[0]
    >>> lux = level_illuminance(overcast, np.array([[1.0, 0.0, 0.0]]))[0]
    >>> round(float(lux / zenith / math.pi), 2)  # 7/9 by Moon and Spencer's simpler sky
    0.78
    """
    logarithm = _level_illuminance_table(terms)(np.arcsin(np.clip(sun[:, 2], 0.0, 1.0)))
    illuminance: Floats = np.exp(logarithm)
    return illuminance


@cache
def _level_illuminance_table(terms: tuple[float, ...]) -> CubicSpline:
    """Natural logarithms of illuminance by the sun's altitude in radians."""
    from scipy.interpolate import CubicSpline

    altitudes = np.radians(np.arange(91.0))
    suns = np.stack((np.cos(altitudes), np.zeros(91), np.sin(altitudes)), axis=-1)
    toward, solid_angle = sky_patches()
    return CubicSpline(
        altitudes, np.log(cie_sky(terms, toward, suns) @ (toward[:, 2] * solid_angle))
    )
