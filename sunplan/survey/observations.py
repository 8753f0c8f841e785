"""What was read on the spot, or off a map, of a wall's bearing: text as people write it, checked.

Every reading is of a named direction on the plan: along a wall from its first corner to its
second, the way that a wall faces outward, or the plan's up. ± is always 95 %: two standard
deviations.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from typing import Literal, TypeVar

from ..errors import InputError
from ..location.clocks import parse_clock
from ..location.lengths import parse_length, unit_m
from ..location.messages import not_known, on_one_line
from ..location.model import FAR_M, Opening, Room, wall_letter
from ..location.place import parse_points
from ..location.read import Location

Hand = Literal["left", "right"]  # as one sees it from inside, facing the wall
Level = Literal["sill", "head"]  # of an opening
Turns = Literal["comes", "leaves"]  # what direct sun does to the wall at that moment
HANDS: tuple[Hand, ...] = ("left", "right")
LEVELS: tuple[Level, ...] = ("sill", "head")
TURNS: tuple[Turns, ...] = ("comes", "leaves")
T = TypeVar("T")
W = TypeVar("W", bound=str)

# ± where none is given.
POINT_M = 2.0  # each end, as a point is picked on a map; common practice, no source
COMPASS_DEG = 5.0  # a phone indoors, near steel; common practice, no source
ANGLE_DEG = 1.0  # a protractor on the floor; common practice, no source
PATCH_M = 0.01  # a tape to a shadow's edge; common practice, no source
CLOCK_S = 60.0  # a moment told to the minute

EXAMPLES = {
    "--points": "kitchen A: 52.0907,5.1214 52.0909,5.1220 ±2m",
    "--compass": "kitchen A: 104 ±5",
    "--compass-true": "kitchen A: 106 ±5",
    "--shadow": "kitchen A: 2027-03-20 15:10, 41 left",
    "--patch": "kitchen canal window: 2027-03-20 15:10, left, 3.10,2.20",
    "--grazes": "kitchen A: 2027-03-20 13:05 leaves",
}
UP = "plan up"
OUTWARD = " outward"
_PLUS_MINUS = re.compile(r"\s*(?:±|\+/?[-−])\s*(.+)$")
_NUMBER = r"\d+(?:\.\d+)?"
_SIGNED = re.compile(rf"[+\-−]?{_NUMBER}")


@dataclass(frozen=True)
class Direction:
    """A named direction on the plan, `turn_deg` clockwise from the plan's up."""

    name: str
    turn_deg: float
    along_wall: bool = False


@dataclass(frozen=True)
class Spot:
    """A point on a map, degrees north and east, WGS84."""

    latitude_deg: float
    longitude_deg: float
    error_m: float


@dataclass(frozen=True)
class When:
    """A local date and clock time; None where the time is not known."""

    day: date
    clock: time | None
    error_s: float


@dataclass(frozen=True)
class Reading:
    """What every reading has: how it was asked for, and the direction it is of."""

    asked: str
    of: Direction


@dataclass(frozen=True)
class PointsReading(Reading):
    """Two points on a line that runs in that direction, from the first to the second."""

    first: Spot
    second: Spot


@dataclass(frozen=True)
class CompassReading(Reading):
    """A compass that was held along that direction."""

    reading_deg: float
    error_deg: float
    magnetic: bool


@dataclass(frozen=True)
class ShadowReading(Reading):
    """The angle on the floor between a direction and the shadow of something upright.

    Of a wall it is the angle between the shadow and the part of the wall on that hand; of another
    direction the shadow lies so far to that hand of it.
    """

    when: When
    angle_deg: float
    error_deg: float
    hand: Hand | None


@dataclass(frozen=True)
class PatchReading(Reading):
    """A point of the edge that an opening's jamb gives the sun patch, on the plan, metres.

    With a `level` it is the corner on the floor that jamb and sill, or jamb and head, give it.
    """

    room: Room
    opening: Opening
    when: When
    hand: Hand
    level: Level | None
    point: tuple[float, float]
    error_m: float


@dataclass(frozen=True)
class GrazingReading(Reading):
    """The moment at which the sun stands in a wall's plane."""

    when: When
    turns: Turns | None


def directions(location: Location) -> dict[str, Direction]:
    """The directions that a location's plan names.

    A wall, such as "kitchen A", means along it from its first corner to its second: seen from
    inside, from its right end to its left.
    """
    return {direction.name: direction for direction in _directions(location)}


def _directions(location: Location) -> Iterator[Direction]:
    yield Direction(UP, 0.0)
    for room in location.room:
        for index in range(len(room.outline)):
            name = f"{room.name} {wall_letter(index)}"
            outward = room.faces_deg(index, 0.0)
            yield Direction(name, (outward - 90.0) % 360.0, along_wall=True)
            yield Direction(name + OUTWARD, outward)


def observed(location: Location, given: Mapping[str, Sequence[str]]) -> list[Reading]:
    """The readings that were given.

    Parameters
    ----------
    location : whose walls and openings they name.
    given : texts by option, such as "--compass"; `EXAMPLES` has one of each.

    Raises
    ------
    InputError : where one cannot be read.

    Examples
    --------
    >>> from sunplan import read
    >>> location = read("locations/lock-house.toml")
    >>> (reading,) = observed(location, {"--compass": ["kitchen A: 104 ±5"]})
    >>> reading.of.name, reading.reading_deg, reading.error_deg
    ('kitchen A', 104.0, 5.0)
    """
    return [_reading(location, option, text) for option in given for text in given[option]]


def _reading(location: Location, option: str, text: str) -> Reading:
    asked = on_one_line(f"{option} {text}")
    try:
        return _parsed(location, option, text, asked)
    except _TextError as error:
        mistake = on_one_line(str(error))
        raise InputError(f'{asked}: {mistake}; expected such as "{EXAMPLES[option]}"') from None
    except InputError as error:
        raise InputError(on_one_line(f"{asked}: {error}")) from None


class _TextError(ValueError):
    """What is wrong with a reading's text."""


def _parsed(location: Location, option: str, text: str, asked: str) -> Reading:
    if option == "--patch":
        return _patch(location, text, asked)
    of, rest = _named(text, directions(location), "wall or plan up")
    match option:
        case "--points":
            return _points(asked, of, rest)
        case "--compass" | "--compass-true":
            figure, spread = _spread(rest)
            error = COMPASS_DEG if spread is None else _degrees(spread, above=0.0, most=90.0)
            reading = _degrees(figure, above=-360.0, most=360.0) % 360.0
            return CompassReading(asked, of, reading, error, magnetic=option == "--compass")
        case "--shadow":
            return _shadow(asked, of, rest)
        case _:
            if not of.along_wall:
                raise _TextError(f'"{of.name}" is no wall, and only walls are grazed')
            return _grazing(asked, of, rest)


def _named(text: str, known: dict[str, T], kind: str) -> tuple[T, str]:
    """What a text starts with the name of, before a colon, and what stands behind that."""
    plain = " ".join(text.split())
    for name in known:
        head = " ".join(name.split())
        if plain.lower().startswith(f"{head.lower()}:"):
            return known[name], plain[len(head) + 1 :].strip()
    name, colon, _ = plain.partition(":")
    if not colon:
        raise _TextError(f"names no {kind} before a colon")
    raise _TextError(
        not_known(name, [candidate for candidate in known if not candidate.endswith(OUTWARD)])
    )


def _spread(text: str) -> tuple[str, str | None]:
    """A figure and what stands behind ±."""
    match = _PLUS_MINUS.search(text)
    return (text.strip(), None) if match is None else (text[: match.start()].strip(), match[1])


def _degrees(text: str, *, above: float, most: float) -> float:
    figure = text.strip().removesuffix("°").strip()
    value = float(figure.replace("−", "-")) if _SIGNED.fullmatch(figure) else math.nan
    if not above < value <= most:
        raise _TextError(f'"{text.strip()}" is no angle above {above:g}° and at most {most:g}°')
    return value


def _metres(text: str, *, bare_m: float) -> float:
    figure = text.strip().replace("−", "-")
    try:
        metres = float(figure) * bare_m if _SIGNED.fullmatch(figure) else parse_length(figure)
    except ValueError:
        metres = math.nan
    if not abs(metres) <= FAR_M:
        raise _TextError(f'"{figure}" is no length, or one above 100 km')
    return metres


def _error_m(text: str, *, bare_m: float) -> float:
    error = _metres(text, bare_m=bare_m)
    if not error > 0.0:
        raise _TextError(f'"±{text}" is not above 0')
    return error


def _when(text: str, *, unknown: bool = False) -> When:
    """Date, clock time and its ±; "?" for the time where that may be unknown."""
    moment, spread = _spread(text)
    day, _, clock = moment.partition(" ")
    error = CLOCK_S
    if spread is not None:
        match = re.fullmatch(rf"({_NUMBER})\s*(s|min)", spread.strip())
        error = float(match[1]) * {"s": 1.0, "min": 60.0}[match[2]] if match else math.nan
        if not 0.0 < error <= 3600.0:
            raise _TextError(f'"±{spread}" is no time such as ±2min, above 0, at most 60min')
    try:
        local = None if unknown and clock.strip() == "?" else parse_clock(clock)
        return When(date.fromisoformat(day), local, error)
    except ValueError:
        raise _TextError(f'"{moment}" is no local date and clock time') from None


def _points(asked: str, of: Direction, rest: str) -> PointsReading:
    text, spread = _spread(rest)
    spots = []
    for place in parse_points(text):
        error_m = POINT_M if place.uncertainty_m is None else place.uncertainty_m
        if spread is not None:
            error_m = _error_m(spread, bare_m=1.0)
        elif not error_m > 0.0:
            raise _TextError("a point's u is not above 0")
        spots.append(Spot(place.latitude_deg, place.longitude_deg, error_m))
    return PointsReading(asked, of, *spots)


def _shadow(asked: str, of: Direction, rest: str) -> ShadowReading:
    moment, comma, angle = rest.partition(",")
    if not comma:
        raise _TextError("the shadow's angle is missing behind a comma")
    figure, spread = _spread(angle)
    error = ANGLE_DEG if spread is None else _degrees(spread, above=0.0, most=45.0)
    number, hand = _last_word(figure, HANDS)
    degrees = _degrees(number, above=0.0, most=180.0)
    if degrees == 180.0 and of.along_wall:
        raise _TextError("a shadow at 180° to the wall lies in the wall")
    return ShadowReading(asked, of, _when(moment, unknown=True), degrees, error, hand)


def _last_word(text: str, words: tuple[W, ...]) -> tuple[str, W | None]:
    """A text without the one of those words that it ends in."""
    for word in words:
        if text.lower().endswith(f" {word}"):
            return text[: -len(word)].strip(), word
    return text, None


def _grazing(asked: str, of: Direction, rest: str) -> GrazingReading:
    moment, turns = _last_word(rest, TURNS)
    return GrazingReading(asked, of, _when(moment), turns)


def _patch(location: Location, text: str, asked: str) -> PatchReading:
    known = {
        f"{room.name} {opening.name}": (room, opening)
        for room in location.room
        for opening in room.opening
    }
    (room, opening), rest = _named(text, known, "room and opening")
    if opening.wall is None:
        raise _TextError(f"the {opening.name} is no window in a wall and has no upright jamb")
    parts = [part.strip() for part in rest.split(",")]
    if len(parts) != 4:
        raise _TextError("not a moment, a jamb and x,y")
    moment, word, x, rest = parts
    jamb, level = _last_word(word, LEVELS)
    hand = next((name for name in HANDS if name == jamb.lower()), None)
    if hand is None:
        raise _TextError(f'"{word}" is no jamb: left or right, as seen from inside, sill or head')
    y, spread = _spread(rest)
    bare_m = unit_m(location.site.units)
    error = PATCH_M if spread is None else _error_m(spread, bare_m=bare_m)
    of = directions(location)[f"{room.name} {opening.wall.strip().upper()}"]
    point = _metres(x, bare_m=bare_m), _metres(y, bare_m=bare_m)
    return PatchReading(asked, of, room, opening, _when(moment), hand, level, point, error)
