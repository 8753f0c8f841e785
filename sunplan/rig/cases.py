"""Cases: how many it takes, and what goes into which."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..location.kit import Case, Owned

CARRY_KG = 25.0  # of what is in one case, for one person: common practice, no source
FILL = 0.75  # of a case's volume that things of all shapes fill; common practice, no source


@dataclass(frozen=True)
class Packed:
    """A case with what is in it."""

    case: Case
    inside: tuple[Owned, ...]

    @property
    def weight_kg(self) -> float:
        """Of case and content."""
        return self.case.weight + sum(one.weight for one in self.inside)


def stow(
    things: Sequence[Owned], cases: Sequence[Case]
) -> tuple[tuple[Packed, ...], tuple[Owned, ...]]:
    """Things in cases, and those that travel loose: too long for any, or of no known size.

    The largest first, each into the first case that still takes it, else into a new one, the
    smallest that does (first-fit decreasing); cases may be more than are owned.
    """
    sized = [one for one in things if one.packed is not None]
    loose = [one for one in things if one.packed is None]
    open_: list[tuple[Case, float, list[Owned]]] = []
    for one in sorted(sized, key=lambda thing: (-_volume(thing), thing.name)):
        home = next(
            (
                index
                for index, (case, left, inside) in enumerate(open_)
                if _goes_in(one, case)
                and _volume(one) <= left
                and one.weight + sum(each.weight for each in inside) <= CARRY_KG
            ),
            None,
        )
        if home is not None:
            case, left, inside = open_[home]
            open_[home] = case, left - _volume(one), [*inside, one]
            continue
        fit = [
            case
            for case in cases
            if _goes_in(one, case) and _volume(one) <= FILL * math.prod(case.inside)
        ]
        if not fit:
            loose.append(one)
            continue
        case = min(fit, key=lambda each: math.prod(each.inside))
        open_.append((case, FILL * math.prod(case.inside) - _volume(one), [one]))
    return tuple(Packed(case, tuple(inside)) for case, _, inside in open_), tuple(loose)


def _volume(one: Owned) -> float:
    assert one.packed is not None
    return math.prod(one.packed)


def _goes_in(one: Owned, case: Case) -> bool:
    """Whether it fits some way round, side by side with the case's own sides."""
    assert one.packed is not None
    return all(a <= b + 1e-9 for a, b in zip(sorted(one.packed), sorted(case.inside), strict=True))
