"""What is dangerous about a way of rigging; what to do about it is for people on the spot."""

from __future__ import annotations

from typing import Literal

from ..location.model import Opening, Room
from .flags import FlagOption
from .minutes import high

Hazard = Literal[
    "stands",
    "overhead",
    "steps",
    "roof",
    "wind",
    "power lines",
    "window over a drop",
    "hot glass",
    "dark room",
    "exits",
    "lamp",
    "circuits",
    "mirror",
    "wet room",
]
DOOR_SILL_M, DOOR_HEIGHT_M = 0.2, 1.7
OUTSIDE: tuple[Hazard, ...] = ("wind", "power lines")
OVERHEAD_DEG = 30.0  # a flag that leans back further hangs over somebody


def is_door(opening: Opening) -> bool:
    """Whether one can walk out by it: low enough, and high enough.

    >>> door = {"name": "d", "wall": "A", "along": 0, "sill": 0.1, "size": [0.9, 2.0]}
    >>> is_door(Opening.model_validate(door)), is_door(Opening.model_validate({**door, "sill": 1}))
    (True, False)
    """
    low = opening.sill is not None and opening.sill <= DOOR_SILL_M
    return low and opening.size[1] >= DOOR_HEIGHT_M


def of_room(room: Room) -> tuple[Hazard, ...]:
    """What is dangerous about a room, whatever is rigged there."""
    return ("wet room",) if room.wet else ()


def at_opening(room: Room, opening: Opening) -> tuple[Hazard, ...]:
    """What is dangerous about working at an opening of a room from inside.

    >>> window = {"name": "w", "wall": "A", "along": 0, "sill": 1, "size": [1, 1]}
    >>> loft = {"name": "loft", "outline": [[0, 0], [3, 0], [3, 3], [0, 3]], "height": 2.5}
    >>> up = Room.model_validate({**loft, "floor": 4.0, "opening": [window]})
    >>> at_opening(up, up.opening[0])
    ('window over a drop',)
    """
    if opening.sill is None:
        return ()
    below = opening.nobody_outside(room.floor + opening.sill) in ("high", "drop", "water")
    return ("window over a drop",) if below else ()


def flags(option: FlagOption, room: Room) -> tuple[Hazard, ...]:
    """What is dangerous about hanging a flag in a room, or before its window."""
    hazards: list[Hazard] = ["stands"] if option.stand is not None else []
    if any(position.hung.tilt_deg > OVERHEAD_DEG for position in option.positions):
        hazards.append("overhead")
    if high(option):
        hazards.append("steps")
    if option.placement == "outside":
        hazards += OUTSIDE
    if room.opening_named(option.opening).ceiling:
        hazards.append("roof")
    if option.placement == "over the opening" and option.covers == "sun":
        hazards.append("hot glass")
    if option.placement != "on a stand" and is_door(room.opening_named(option.opening)):
        hazards.append("exits")
    if option.placement == "over the opening":
        hazards += at_opening(room, room.opening_named(option.opening))
    return (*hazards, *of_room(room))
