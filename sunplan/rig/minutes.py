"""How long rigging takes, two people; figures of common practice in `data/minutes.toml`."""

from __future__ import annotations

from ..data import table
from ..room.aperture import Aperture
from .flags import FlagOption
from .room_treatment import OpeningTreatment

REACH_M = 2.2  # what is rigged higher needs steps; common practice, no source


def of(task: str) -> float:
    """Minutes of a task by its name in `data/minutes.toml`.

    Raises
    ------
    KeyError
        For a name that is not there.

    Examples
    --------
    >>> of("move")
    1.0
    """
    return float(table("minutes")[task])


def flags(option: FlagOption) -> float:
    """Minutes to hang the flags of an option for the first time."""
    total = 0.0
    for piece in option.positions[0].pieces:
        small = piece.size[0] * piece.size[1] <= of("small_m2")
        total += of("small_flag") if small else of("large_flag")
    if option.placement == "outside":
        total += of("outside")
    return total + (of("steps") if high(option) else 0.0)


def opening(treatment: OpeningTreatment) -> float:
    """Minutes to black or tent an opening."""
    if treatment.action == "tent":
        return of("tent")
    if treatment.opening.wall is None:
        return of("skylight")
    if tall(treatment.opening):
        return of("steps_cloth")
    large = treatment.opening.width * treatment.opening.height > of("large_m2")
    return of("large_cloth") if large else of("cloth")


def tall(window: Aperture) -> bool:
    """Whether the head of a window is higher than one can reach from the floor."""
    sill = window.opening.sill
    return sill is not None and sill + window.height > REACH_M


def moving(option: FlagOption) -> float:
    """Minutes to move the flags of an option through the shoot."""
    return of("move") * len(option.moves) * len(option.flags)


def high(option: FlagOption) -> bool:
    """Whether hanging it takes steps or a ladder."""
    return max(option.height_m(position) for position in option.positions) > REACH_M
