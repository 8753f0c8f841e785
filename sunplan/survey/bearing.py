"""The bearing of a direction on the plan as it was measured, with what its ± is made of."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from ..errors import InputError
from .observations import Direction, Reading

MOST_DEG = 45.0  # a location file's plan_up_error goes no further


@dataclass(frozen=True)
class Term:
    """One source of error, in words, and what it does to the bearing, ± degrees (95 %)."""

    source: str
    error_deg: float


@dataclass(frozen=True)
class Solution:
    """A true bearing that fits a reading, degrees; `word` tells it from the one that mirrors it."""

    bearing_deg: float
    word: str = ""


@dataclass(frozen=True)
class Measured:
    """One measurement: the true bearings of a direction that fit it, one or two, and their ±.

    `how` says in a few words what was read; `facts` are figures on the way, names with units;
    `doubt` is what speaks against it.
    """

    reading: Reading
    how: str
    solutions: tuple[Solution, ...]
    terms: tuple[Term, ...]
    facts: Mapping[str, float] = field(default_factory=dict)
    doubt: str = ""

    @property
    def of(self) -> Direction:
        """The direction it is of."""
        return self.reading.of

    @property
    def error_deg(self) -> float:
        """± of the bearing, 95 %: two standard deviations, degrees."""
        return math.hypot(*(term.error_deg for term in self.terms))

    @property
    def limit(self) -> str:
        """The largest source of its error."""
        return max(self.terms, key=lambda term: term.error_deg).source

    @property
    def plan_ups_deg(self) -> tuple[float, ...]:
        """True bearing of the plan's up by each solution, degrees."""
        return tuple(
            (solution.bearing_deg - self.of.turn_deg) % 360.0 for solution in self.solutions
        )


def usable(measured: Measured) -> Measured:
    """The same measurement, where it says anything of the bearing.

    Raises
    ------
    InputError : where its ± is over `MOST_DEG`.
    """
    if not measured.error_deg <= MOST_DEG:
        raise InputError(
            f"{measured.reading.asked}: leaves ±{measured.error_deg:.0f}°, mostly by "
            f"{measured.limit}; expected a reading that holds to ±{MOST_DEG:.0f}°"
        )
    return measured
