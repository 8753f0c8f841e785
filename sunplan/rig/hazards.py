"""What is dangerous about a way of rigging; what to do about it is for people on the spot."""

from __future__ import annotations

from typing import Literal

from ..location.model import Room
from .flags import FlagOption
from .minutes import high

Hazard = Literal[
    "stands",
    "overhead",
    "steps",
    "roof",
    "wind",
    "hot glass",
    "dark room",
    "exits",
    "lamp",
    "circuits",
    "mirror",
]
OVERHEAD_DEG = 30.0  # a flag that leans back further hangs over somebody


def flags(option: FlagOption, room: Room) -> tuple[Hazard, ...]:
    """Of hanging a flag."""
    found: list[Hazard] = ["stands"] if option.stand is not None else []
    if any(one.hung.tilt_deg > OVERHEAD_DEG for one in option.positions):
        found.append("overhead")
    if high(option):
        found.append("steps")
    if option.placement == "outside":
        found.append("wind")
    if room.opening_named(option.opening).ceiling:
        found.append("roof")
    if option.placement == "over the opening" and option.covers == "sun":
        found.append("hot glass")
    return tuple(found)
