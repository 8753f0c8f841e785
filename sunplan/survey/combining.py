"""Several measurements of one bearing: their weighted mean on the circle, and the odd one out.

Weights are one over the variance; a ± is two standard deviations. Where measurements scatter more
than their ± allow, the mean's ± grows by the root of chi-square over its degrees of freedom (the
Birge ratio; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from ..sun.position import wrapped_deg
from .bearing import Measured

ODD_SIGMAS = 3.0
SAME_DEG = 1e-6  # a shadow square to its wall is its own mirror
TURNS = 50  # of the mean's approach on the circle, which a few settle


@dataclass(frozen=True)
class Mean:
    """A weighted mean of bearings, degrees, its ± (95 %), and the chi-square of its residuals."""

    bearing_deg: float
    error_deg: float
    chi_square: float


@dataclass(frozen=True)
class Odd:
    """The measurement that least agrees with the others: by how much, and what they say alone."""

    index: int
    sigmas: float
    others: Mean


@dataclass(frozen=True)
class Combined:
    """True bearing of the plan's up by all measurements, a solution picked of each.

    `weights` are each measurement's share of the mean, `odd` one that does not agree.
    """

    mean: Mean
    picked: tuple[int, ...]
    weights: tuple[float, ...]
    odd: Odd | None


def weighted_mean(bearings_deg: Sequence[float], errors_deg: Sequence[float]) -> Mean:
    """Weighted least squares on the circle.

    Parameters
    ----------
    bearings_deg, errors_deg : true bearings (N) and their ±, two standard deviations, above 0.

    Returns
    -------
    Their mean; its ± is two standard deviations too, wider where they scatter more than theirs.

    Examples
    --------
    >>> mean = weighted_mean([359.0, 1.0], [1.0, 1.0])
    >>> round(mean.bearing_deg, 6) % 360.0, round(mean.chi_square, 6)
    (0.0, 8.0)
    """
    weights = [(2.0 / error) ** 2 for error in errors_deg]
    total = math.fsum(weights)
    middle = bearings_deg[weights.index(max(weights))]

    def off() -> list[float]:
        return [wrapped_deg(bearing - middle) for bearing in bearings_deg]

    for _ in range(TURNS):
        step = math.fsum(w * d for w, d in zip(weights, off(), strict=True)) / total
        middle += step
        if abs(step) < 1e-12:
            break
    chi_square = math.fsum(w * d**2 for w, d in zip(weights, off(), strict=True))
    scatter = math.sqrt(chi_square / max(1, len(weights) - 1))
    return Mean(middle % 360.0, 2.0 / math.sqrt(total) * max(1.0, scatter), chi_square)


def combined(measured: Sequence[Measured]) -> tuple[Combined, ...]:
    """What the measurements say together, best first: more than one where the mirror is open.

    Of measurements with two solutions those are taken that fit the others; choices whose
    chi-square lies within three sigmas of the best cannot be told apart. Choices that come to the
    same bearing are told once.

    >>> from .bearing import Solution, Term
    >>> from .observations import Direction, Reading
    >>> def measured(*bearings):
    ...     reading = Reading("--shadow", Direction("plan up", 0.0))
    ...     solutions = tuple(Solution(bearing) for bearing in bearings)
    ...     return Measured(reading, "", solutions, (Term("the protractor", 2.0),))
    >>> (both,) = combined([measured(10.0, 80.0), measured(12.0)])
    >>> both.picked, round(both.mean.bearing_deg, 6), both.odd
    ((0, 0), 11.0, None)
    """
    errors = [measurement.error_deg for measurement in measured]
    choices = []
    for picked in product(*(range(len(measurement.solutions)) for measurement in measured)):
        ups = [
            measurement.plan_ups_deg[choice]
            for measurement, choice in zip(measured, picked, strict=True)
        ]
        choices.append((weighted_mean(ups, errors), picked, ups))
    choices.sort(key=lambda choice: choice[0].chi_square)
    limit = choices[0][0].chi_square + ODD_SIGMAS**2
    total = math.fsum(error**-2 for error in errors)
    weights = tuple(error**-2 / total for error in errors)
    distinct: list[Combined] = []
    for mean, picked, ups in choices:
        twin = any(
            abs(wrapped_deg(known.mean.bearing_deg - mean.bearing_deg)) < SAME_DEG
            for known in distinct
        )
        if mean.chi_square <= limit and not twin:
            distinct.append(Combined(mean, picked, weights, _odd(ups, errors)))
    return tuple(distinct)


def _odd(ups_deg: Sequence[float], errors_deg: Sequence[float]) -> Odd | None:
    """The worst against the mean of the others, where that is beyond three sigmas."""
    candidates = []
    for index in range(len(ups_deg) if len(ups_deg) > 1 else 0):
        rest = [other for other in range(len(ups_deg)) if other != index]
        others = weighted_mean(
            [ups_deg[other] for other in rest], [errors_deg[other] for other in rest]
        )
        # As exact as the others claim to be: their scatter may be this one's doing elsewhere.
        claimed = math.fsum(errors_deg[other] ** -2 for other in rest) ** -0.5
        sigma = math.hypot(errors_deg[index], claimed) / 2.0
        off = abs(wrapped_deg(ups_deg[index] - others.bearing_deg))
        candidates.append(Odd(index, off / sigma, others))
    worst = max(candidates, key=lambda candidate: candidate.sigmas, default=None)
    return worst if worst is not None and worst.sigmas > ODD_SIGMAS else None
