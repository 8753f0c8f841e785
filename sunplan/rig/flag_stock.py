"""Which flags the kit has, and how they may be turned or paired."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

from ..light.screen import Screen
from ..location.kit import Flag
from ..sun.position import Floats

OVERLAP_M = 0.1  # of two flags side by side; common practice, no source


def all_owned(flags: tuple[Flag, ...]) -> bool:
    """Whether the kit owns as many of each as are taken."""
    return all(flag.owned >= flags.count(flag) for flag in flags)


def total_area_m2(flags: tuple[Flag, ...]) -> float:
    """Area of flags together, m²."""
    return sum(flag.size[0] * flag.size[1] for flag in flags)


@dataclass(frozen=True, eq=False)
class Stock:
    """One flag, or two that overlap, turned one way.

    Attributes
    ----------
    flags
        Of the kit.
    size
        What they cover together, width and height, metres.
    pieces
        Each flag's middle, off the common one along its axes, and its size, metres.
    """

    flags: tuple[Flag, ...]
    size: tuple[float, float]
    pieces: tuple[tuple[tuple[float, float], tuple[float, float]], ...]

    def hung(self, centre: Floats, across: Floats, up: Floats) -> tuple[Screen, ...]:
        """The flags about a common middle (3,), with unit vectors across and up."""
        return tuple(
            Screen(centre + off[0] * across + off[1] * up, across, up, size)
            for off, size in self.pieces
        )


def single(flag: Flag) -> tuple[Stock, ...]:
    """A flag in both its turns; a square one has one.

    >>> [stock.size for stock in single(Flag(name="a", size=(1.0, 2.0)))]
    [(1.0, 2.0), (2.0, 1.0)]
    """
    turns = dict.fromkeys((flag.size, flag.size[::-1]))
    return tuple(Stock((flag,), size, (((0.0, 0.0), size),)) for size in turns)


def pair(first: Flag, second: Flag) -> tuple[Stock, ...]:
    """Two flags side by side or one over the other, in all turns; they overlap by `OVERLAP_M`.

    >>> flag = Flag(name="a", size=(1.0, 2.0))
    >>> sorted(stock.size for stock in pair(flag, flag))
    [(1.0, 2.9), (1.0, 3.9), (1.9, 2.0), (2.0, 1.9), (2.9, 1.0), (3.9, 1.0)]
    """
    by_size: dict[tuple[float, float], Stock] = {}
    turns = product(*(dict.fromkeys((flag.size, flag.size[::-1])) for flag in (first, second)))
    for (size, other), axis in product(turns, (0, 1)):
        along = size[axis] + other[axis] - OVERLAP_M
        beside = min(size[1 - axis], other[1 - axis])
        ends = (size[axis] - along) / 2, (along - other[axis]) / 2
        whole = (along, beside) if axis == 0 else (beside, along)
        offs = [(end, 0.0) if axis == 0 else (0.0, end) for end in ends]
        stock = Stock((first, second), whole, ((offs[0], size), (offs[1], other)))
        by_size.setdefault((round(whole[0], 6), round(whole[1], 6)), stock)
    return tuple(by_size.values())
