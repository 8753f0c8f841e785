"""Which layers of neutral density bring a level into its band?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from itertools import combinations_with_replacement

import numpy as np
from numpy.typing import NDArray

from ..light.look import BAND_EDGE_STOPS
from ..location.kit import Gel
from ..sun.position import Floats
from ..sun.search import Bools

Ints = NDArray[np.intp]
STOPS_PER_DENSITY = 1.0 / math.log10(2.0)  # density 0.30103 halves the light
LAYERS = 2  # of gel; more show every wrinkle: common practice, no source
NO_STACK = -1


@dataclass(frozen=True, eq=False)
class GelStacks:
    """All stacks of gel (K) that can be hung, in the order in which they are taken.

    None at all first, then the fewest layers, the thinnest by hundredths of density, the fewest
    stocks, as the kit lists them; one stack a density.

    Attributes
    ----------
    stacks
        The gels of each.
    layers
        How many those are, (K,).
    taken_stops
        What they take together, (K,).
    """

    stacks: tuple[tuple[Gel, ...], ...]
    layers: Ints
    taken_stops: Floats

    def first(
        self,
        brightest: Floats,
        darkest: Floats,
        band: tuple[Floats, Floats],
        *,
        black_reads: bool,
        layers: int = LAYERS,
    ) -> tuple[Ints, Bools]:
        """The first stack that brings levels into their bands, and whether it keeps them there.

        Parameters
        ----------
        brightest, darkest
            The two ends of what a window does, stops over mid-grey, (..., W).
        band
            Lowest and highest, (W,) each.
        black_reads
            Whether the darkest may fall below its band.
        layers
            At most so many.

        Returns
        -------
        Number of the stack, (..., W); `NO_STACK` where none brings the brightest into its band.
        Whether the darkest stays in its band under it; one that does so goes first.

        Examples
        --------
        >>> from sunplan.location.kit import Gel
        >>> stacks = gel_stacks((Gel(name="nd .3", density=0.3), Gel(name="nd .6", density=0.6)))
        >>> level, low, high = np.array([1.5, 2.5, 9.0]), np.zeros(3), np.ones(3)
        >>> stacks.first(level, level, (low, high), black_reads=False)[0].tolist()
        [1, 2, -1]
        """
        low, high = band
        taken = self.taken_stops[self.layers <= layers]
        left = brightest[..., None] - taken
        brings = left <= high[..., None] + BAND_EDGE_STOPS
        brings[..., 1:] &= left[..., 1:] >= low[..., None] - BAND_EDGE_STOPS
        stays = brings
        if not black_reads:
            stays = brings & (darkest[..., None] - taken >= low[..., None] - BAND_EDGE_STOPS)
        clean: Bools = np.asarray(stays.any(axis=-1))
        chosen = np.where(clean, stays.argmax(axis=-1), brings.argmax(axis=-1))
        return np.where(brings.any(axis=-1), chosen, NO_STACK), clean


@cache
def gel_stacks(gels: tuple[Gel, ...]) -> GelStacks:
    """The stacks of at most `LAYERS` layers that can be made of a kit's gels.

    >>> stacks = gel_stacks((Gel(name="nd .3", density=0.3), Gel(name="nd .6", density=0.6)))
    >>> ["+".join(gel.name for gel in stack) for stack in stacks.stacks]
    ['', 'nd .3', 'nd .6', 'nd .3+nd .6', 'nd .6+nd .6']
    """

    def hundredths(stack: tuple[Gel, ...]) -> int:
        return sum(round(100.0 * gel.density) for gel in stack)

    stacks = [
        stack
        for layers in range(LAYERS + 1)
        for stack in combinations_with_replacement(gels, layers)
    ]
    stacks.sort(key=lambda stack: (len(stack), hundredths(stack), len(set(stack))))
    by_density: dict[int, tuple[Gel, ...]] = {}
    for stack in stacks:
        by_density.setdefault(hundredths(stack), stack)
    kept = tuple(by_density.values())
    return GelStacks(
        kept,
        np.array([len(stack) for stack in kept]),
        STOPS_PER_DENSITY * np.array([math.fsum(gel.density for gel in stack) for stack in kept]),
    )
