"""What a first location file says: one room with a window, a mark and a camera that fit in it."""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass

from ..errors import InputError
from ..location.lengths import Units, parse_length, unit_m
from ..location.model import is_name
from ..location.place import Place

LEAST_M, MOST_M = 1.0, 100.0  # a room's side: less is a cupboard, more a slip
NOT_KNOWN_DEG = 45.0  # the most that a location file takes as plan_up_error
BY_HAND_DEG = 5.0  # a bearing by a hand-held compass or off a map: common practice, no source
USUAL_ROOM: dict[Units, str] = {"m": "room 4 x 3 x 2.5", "ft": "room 13 x 10 x 8"}


@dataclass(frozen=True)
class WrittenLength:
    """A length: metres, and as it stands in a file."""

    metres: float
    written: str


@dataclass(frozen=True)
class FirstRoom:
    """A room of four walls: along x, along y, height."""

    name: str
    width: WrittenLength
    depth: WrittenLength
    height: WrittenLength


@dataclass(frozen=True)
class Furnishing:
    """A window in wall A, a mark and a camera, in the file's unit, whole feet or decimetres."""

    along: float
    sill: float
    window: tuple[float, float]
    mark: tuple[float, float]
    stands: tuple[float, float]
    stands_wide: float
    camera: tuple[float, float]
    camera_up: float


@dataclass(frozen=True, kw_only=True)
class First:
    """All that a first location file is written from; `plan_up_deg` is None where not known."""

    name: str
    place: Place
    units: Units
    plan_up_deg: float | None
    plan_up_error_deg: float
    room: FirstRoom
    compass: str

    @property
    def furnishing(self) -> Furnishing:
        """What stands in the room to begin with."""
        return furnish(self.room, self.units)


def parse_name(text: str) -> str:
    """A name as a file takes it.

    Raises
    ------
    InputError : for anything else.
    """
    text = text.strip()
    if not is_name(text):
        raise InputError("is no name; expected some letters on one line")
    return text


def parse_bearing(text: str) -> float:
    """Degrees clockwise from true north, 0 to below 360.

    Raises
    ------
    InputError : for anything else.

    Examples
    --------
    >>> parse_bearing("12,5°"), parse_bearing("-10")
    (12.5, 350.0)
    """
    degrees = _degrees(text)
    if not -360 <= degrees <= 360:
        raise InputError("is no bearing; expected degrees from true north, 0 to 360, such as 12")
    return degrees % 360.0 % 360.0  # twice: a hair below zero comes out as 360 the first time


def parse_plan_up(text: str) -> float | None:
    """A bearing as `parse_bearing` has it; None, not known, for nothing.

    Raises
    ------
    InputError : for anything else.
    """
    return parse_bearing(text) if text.strip() else None


def parse_error(text: str) -> float:
    """How far a bearing may be off, ± 0 to 45 degrees.

    Raises
    ------
    InputError : for anything else.
    """
    degrees = _degrees(text)
    if not 0 <= degrees <= NOT_KNOWN_DEG:
        raise InputError("is no error of a bearing; expected degrees, 0 to 45, such as 5")
    return degrees


def _degrees(text: str) -> float:
    """A number with or without its degree sign; NaN, which lies in no range, for anything else."""
    bare = text.strip().removesuffix("°").replace(",", ".").replace("−", "-").strip()
    match = re.fullmatch(r"[+-]?\d{1,9}(\.\d{1,9})?", bare, re.ASCII)
    return math.nan if match is None else float(bare)


def parse_room(text: str, units: Units) -> FirstRoom:
    """A room from its name and three lengths; a bare number is in `units`.

    Raises
    ------
    InputError : for anything else, with what would be right.

    Examples
    --------
    >>> parse_room("kitchen 4.2 x 3.1 x 2.5", "m").depth
    WrittenLength(metres=3.1, written='3.1')
    >>> parse_room("box room 12 ft 6 in × 10 × 8", "ft").width.written
    '"12 ft 6 in"'
    """
    expected = f'expected its name, width, depth and height, such as "{USUAL_ROOM[units]}"'
    match = re.fullmatch(r"(.*)[x×]([^x×]+)[x×]([^x×]+)", text.strip(), re.IGNORECASE)
    if match is None:
        raise InputError(f"is no room; {expected}")
    words = match[1].split()
    # The longest tail that is a length: "room 2 4 ft 6 in" is a room called "room 2".
    tails = ((start, _measure(" ".join(words[start:]), units)) for start in range(len(words)))
    start, width = next(((start, tail) for start, tail in tails if tail is not None), (0, None))
    depth, height = _measure(match[2], units), _measure(match[3], units)
    name = " ".join(words[:start]) or "room"
    if width is None or depth is None or height is None or not is_name(name):
        raise InputError(f"is no room; {expected}")
    for side in (width, depth, height):
        if not LEAST_M <= side.metres <= MOST_M:
            raise InputError(f"has a side of {side.metres:.3g} m; expected 1 m to 100 m each")
    return FirstRoom(name, width, depth, height)


def _measure(text: str, units: Units) -> WrittenLength | None:
    """A length, or None where a text is none."""
    text = text.strip()
    if re.fullmatch(r"\d{1,9}([.,]\d{1,9})?", text, re.ASCII):
        number = float(text.replace(",", "."))
        return WrittenLength(number * unit_m(units), f"{number:.10g}")
    try:
        return WrittenLength(parse_length(text), json.dumps(text, ensure_ascii=False))
    except ValueError:
        return None


# What is usual, in the file's unit: common practice, no source. Each fits in less where the room
# has no more, by the share of its side that it may take.
_WINDOW = {"m": 1.2, "ft": 4.0}
_SILL = {"m": 0.9, "ft": 3.0}
_STANDS = {"m": (1.1, 1.8), "ft": (4.0, 6.0)}
_STANDS_WIDE = {"m": 0.6, "ft": 2.0}
_CAMERA_UP = {"m": 1.5, "ft": 5.0}


def furnish(room: FirstRoom, units: Units) -> Furnishing:
    """A window, a mark and a camera that fit in a room, in its file's unit."""

    def within(side: WrittenLength, share: float, usual: float = math.inf) -> float:
        """The share of a side, rounded down so that it fits, and no more than is usual."""
        step = 1.0 if units == "ft" else 0.1
        length = side.metres / unit_m(units)
        return round(min(usual, math.floor(share * length / step + 1e-6) * step), 1)

    wide = within(room.width, 0.4, _WINDOW[units])
    low, high = _STANDS[units]
    return Furnishing(
        along=within(room.width, 0.3),
        sill=within(room.height, 0.4, _SILL[units]),
        window=(wide, within(room.height, 0.5, _WINDOW[units])),
        mark=(within(room.width, 0.5), within(room.depth, 0.5)),
        stands=(within(room.height, 0.5, low), within(room.height, 0.75, high)),
        stands_wide=_STANDS_WIDE[units],
        camera=(within(room.width, 0.8), within(room.depth, 0.85)),
        camera_up=within(room.height, 0.7, _CAMERA_UP[units]),
    )
