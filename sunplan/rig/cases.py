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
        """Of case and content, kg."""
        return self.case.weight + sum(thing.weight for thing in self.inside)


def stow(
    things: Sequence[Owned], cases: Sequence[Case]
) -> tuple[tuple[Packed, ...], tuple[Owned, ...]]:
    """Things in cases, and those that travel loose: too long for any, or of no known size.

    The largest first, each into the first case that still takes it, else into a new one, the
    smallest that does (first-fit decreasing). A case takes `FILL` of its volume and `CARRY_KG`.

    Parameters
    ----------
    things
        As often as there are of them.
    cases
        One a kind; it may come out more often than it is owned.

    Examples
    --------
    >>> chest = Case(name="chest", inside=(1.0, 0.5, 0.5))
    >>> arm, pole = Owned(name="arm", packed=(0.9, 0.1, 0.1)), Owned(name="pole")
    >>> packed, loose = stow([arm, arm, pole], [chest])
    >>> [len(case.inside) for case in packed], [thing.name for thing in loose]
    ([2], ['pole'])
    """
    packed: list[Packed] = []
    loose = [thing for thing in things if thing.packed is None]
    sized = [thing for thing in things if thing.packed is not None]
    by_volume = sorted(cases, key=lambda case: math.prod(case.inside))
    for thing in sorted(sized, key=lambda thing: (-_volume(thing), thing.name)):
        for index, (case, inside) in enumerate((stowed.case, stowed.inside) for stowed in packed):
            heavy = sum(other.weight for other in (thing, *inside)) > CARRY_KG
            if not heavy and _goes_in(case, *inside, thing):
                packed[index] = Packed(case, (*inside, thing))
                break
        else:
            fit = [case for case in by_volume if _goes_in(case, thing)]
            packed += [Packed(case, (thing,)) for case in fit[:1]]
            loose += [] if fit else [thing]
    return tuple(packed), tuple(loose)


def _volume(thing: Owned) -> float:
    assert thing.packed is not None
    return math.prod(thing.packed)


def _goes_in(case: Case, *things: Owned) -> bool:
    """Whether the last fits some way round, side by side with the case's own sides, and all do."""
    thing = things[-1]
    assert thing.packed is not None
    sides = zip(sorted(thing.packed), sorted(case.inside), strict=True)
    volume = sum(_volume(other) for other in things)
    return volume <= FILL * math.prod(case.inside) and all(a <= b + 1e-9 for a, b in sides)
