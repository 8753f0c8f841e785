"""What a location file leaves to whoever is in the house: each question with its place in the file.

Ids are short, for a page and a telephone: `1A` is wall A of room 1, `w3` opening 3 wide. Keys are
the places in the file by name, for a sheet that comes back when the file has changed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from ..errors import InputError
from ..location.lengths import FOOT_M, INCH_M, Units
from ..location.messages import not_known
from ..location.model import Opening, Point, Room, wall_index, wall_letter
from ..location.read import Location

AnswerKind = Literal["size", "distance", "number", "bearing", "north", "rooms", "text"]

FUSES = 4  # circuits that are asked for beside the file's own
ASKEW = 0.5  # sine of the least angle between two walls that a place is measured from
HOUSE = (
    ("tape", "may we put painter's tape on window frames and walls; where not"),
    (
        "cloth",
        "may we hang black cloth outside before a window, tied, nothing drilled or nailed; "
        "before which can nobody stand, and why",
    ),
    ("steps", "is there a ladder or are there steps we may use, and how high; we climb, not you"),
    ("parking", "where may a van stop to load, and where may it park"),
    ("keys", "who has the keys and is there on the day: name and telephone"),
    ("sun", "when does the sun lie on a floor, in which room, through which window"),
)


@dataclass(frozen=True)
class Question:
    """One answer that is asked for.

    `at` is the table in the file that it is of, keys and indices from the top, none where the file
    has no such table; `where` is what a message calls that; `now` what the file says, exactly
    enough to be given back.
    """

    id: str
    key: str
    text: str
    kind: AnswerKind
    unit: str = ""
    now: str = ""
    at: tuple[str | int, ...] = ()
    where: str = ""

    @property
    def name(self) -> str:
        """What of the table it is, the last part of its key."""
        return self.key.rpartition(".")[2]


@dataclass(frozen=True)
class OpeningAsked:
    """An opening with its number on the form; of a skylight, the walls its place is told from."""

    number: int
    opening: Opening
    questions: tuple[Question, ...]
    from_walls: tuple[int, int] | None


@dataclass(frozen=True)
class LampAsked:
    """A lamp that is seen, with its number on the form."""

    number: int
    name: str
    questions: tuple[Question, ...]


@dataclass(frozen=True)
class RoomAsked:
    """A room with its number on the form; `facing` is the wall that the compass is read at."""

    number: int
    room: Room
    walls: tuple[Question, ...]
    top: Question
    facing: int
    way: Question
    openings: tuple[OpeningAsked, ...]
    lamps: tuple[LampAsked, ...]

    def questions(self) -> Iterator[Question]:
        """All that is asked of the room."""
        yield from (*self.walls, self.top, self.way)
        for opening in self.openings:
            yield from opening.questions
        for lamp in self.lamps:
            yield from lamp.questions


@dataclass(frozen=True)
class Sheet:
    """All that is asked: rooms, what the phone's compass shows, circuits, the house."""

    rooms: tuple[RoomAsked, ...]
    north: Question
    circuits: tuple[tuple[Question, ...], ...]
    volts: Question
    house: tuple[Question, ...]

    def questions(self) -> Iterator[Question]:
        """Every question, in the order of the form."""
        for room in self.rooms:
            yield from room.questions()
        yield self.north
        for circuit in self.circuits:
            yield from circuit
        yield self.volts
        yield from self.house


def sheet(location: Location) -> Sheet:
    """What to ask the owner of a location."""
    openings, lamps = _numbers(), _numbers()
    rooms = tuple(_room(location, index, openings, lamps) for index in range(len(location.room)))
    return Sheet(
        rooms=rooms,
        north=Question(
            "north",
            "compass.north",
            "does the phone's compass show true north or magnetic north",
            "north",
        ),
        circuits=tuple(_circuits(location)),
        volts=_volts(location),
        house=tuple(
            Question(f"q{number}", f"house.{name}", text, "text")
            for number, (name, text) in enumerate(HOUSE, start=1)
        ),
    )


def of_room(asked: Sheet, name: str) -> Sheet:
    """The same questions of one room only; ``InputError`` where there is none of that name."""
    rooms = tuple(one for one in asked.rooms if one.room.name == name)
    if not rooms:
        known = [one.room.name for one in asked.rooms]
        raise InputError(f"--room {not_known(name, known)}")
    return replace(asked, rooms=rooms)


def exactly(metres: float, units: Units) -> str:
    """A length that can be read back to half a millimetre.

    >>> exactly(1.4, "m"), exactly(1.3716, "ft"), exactly(0.1, "ft")
    ('1.4 m', '4 ft 6 in', '3.937 in')
    """
    if units == "m":
        return f"{_short(metres)} m"
    feet, inches = divmod(round(metres / INCH_M, 3), 12.0)
    parts = [f"{feet:.0f} ft"] * bool(feet) + [f"{_short(inches)} in"] * bool(inches or not feet)
    return " ".join(parts)


def unit_m(units: Units) -> float:
    """Metres of the unit that a file's bare lengths are in."""
    return FOOT_M if units == "ft" else 1.0


def from_left_m(room: Room, opening: Opening, *, length_m: float | None = None) -> float:
    """From a wall's left corner, as one sees it from inside, to an opening's left edge, metres.

    `length_m` is the wall's length where it is not the plan's. Walls run from right to left.

    >>> room = Room(name="a", outline=((0, 0), (4, 0), (4, 3), (0, 3)), height=2.5)
    >>> from_left_m(room, Opening(name="w", wall="A", along=1.0, sill=0.8, size=(2.0, 1.2)))
    1.0
    """
    assert opening.wall is not None
    assert opening.along is not None
    index = wall_index(opening.wall, len(room.outline))
    assert index is not None
    length = math.dist(*room.wall(index)) if length_m is None else length_m
    return length - opening.along - opening.size[0]


def first_side(room: Room, opening: Opening) -> int:
    """Which of a skylight's two sizes runs along wall A, or more along it than across."""
    _, (x, y) = room.wall_way("A")
    turn = math.radians(opening.turn)
    return 0 if abs(math.cos(turn) * x + math.sin(turn) * y) >= math.sqrt(0.5) - 1e-9 else 1


def into_room_m(room: Room, at: Point, wall: int) -> float:
    """How far a place lies from a wall's line, into the room, metres."""
    (x, y), (way_x, way_y) = room.wall_way(wall_letter(wall))
    return (at[1] - y) * way_x - (at[0] - x) * way_y


def _numbers() -> Iterator[int]:
    number = 0
    while True:
        number += 1
        yield number


def _room(
    location: Location, index: int, openings: Iterator[int], lamps: Iterator[int]
) -> RoomAsked:
    room, units, number = location.room[index], location.site.units, index + 1
    at: tuple[str | int, ...] = ("room", index)
    key, where = f"room.{room.name}", f'room "{room.name}"'

    def asked(ident: str, name: str, text: str, kind: AnswerKind, unit: str, now: str) -> Question:
        return Question(ident, f"{key}.{name}", f"{room.name}: {text}", kind, unit, now, at, where)

    walls = []
    for wall in range(len(room.outline)):
        letter, length = wall_letter(wall), exactly(math.dist(*room.wall(wall)), units)
        text = f"wall {letter}, how long"
        walls.append(asked(f"{number}{letter}", f"wall.{letter}", text, "size", units, length))
    facing = _facing(room)
    letter = wall_letter(facing)
    return RoomAsked(
        number=number,
        room=room,
        walls=tuple(walls),
        top=asked(
            f"{number}top",
            "height",
            "how high, from the floor to the ceiling",
            "size",
            units,
            exactly(room.height, units),
        ),
        facing=facing,
        way=Question(
            f"{number}way",
            f"{key}.compass.{letter}",
            f"{room.name}: the phone's compass, looking straight at wall {letter}",
            "bearing",
            "degrees",
        ),
        openings=tuple(
            _opening(location, index, each, next(openings)) for each in range(len(room.opening))
        ),
        lamps=tuple(
            _lamp(location, index, each, next(lamps)) for each in range(len(room.practical))
        ),
    )


def _facing(room: Room) -> int:
    """The first wall with an opening, else the first."""
    walls = (wall_index(one.wall, len(room.outline)) for one in room.opening if one.wall)
    return next((index for index in walls if index is not None), 0)


def _opening(location: Location, room_index: int, index: int, number: int) -> OpeningAsked:
    room, units = location.room[room_index], location.site.units
    opening = room.opening[index]
    at: tuple[str | int, ...] = ("room", room_index, "opening", index)
    key = f"room.{room.name}.opening.{opening.name}"
    where = f'room "{room.name}" › opening "{opening.name}"'
    called = f"{room.name}, {opening.name}"

    def asked(letter: str, name: str, text: str, kind: AnswerKind, metres: float) -> Question:
        now = exactly(metres, units)
        ident = f"{letter}{number}"
        return Question(ident, f"{key}.{name}", f"{called}: {text}", kind, units, now, at, where)

    def hangs(text: str) -> Question:
        return Question(f"b{number}", f"{key}.hangs", f"{called}: {text}", "text")

    if opening.at is None:
        assert opening.sill is not None
        width, height = opening.size
        return OpeningAsked(
            number,
            opening,
            (
                asked("w", "width", "how wide", "size", width),
                asked("h", "height", "how high", "size", height),
                asked("u", "sill", "its lower edge, up from the floor", "distance", opening.sill),
                asked(
                    "c",
                    "from the left",
                    f"its left edge, from the left corner of wall {opening.wall}, from inside",
                    "distance",
                    from_left_m(room, opening),
                ),
                asked("d", "depth", "how deep it sits in the wall", "size", opening.depth),
                hangs("what hangs before it"),
            ),
            None,
        )
    side = first_side(room, opening)
    walls = _two_walls(room)
    one, other = map(wall_letter, walls)
    return OpeningAsked(
        number,
        opening,
        (
            asked("w", "along wall A", "how long along wall A", "size", opening.size[side]),
            asked("h", "across", "how long the other way", "size", opening.size[1 - side]),
            asked(
                "m",
                f"from wall {one}",
                f"its middle, from wall {one}",
                "distance",
                into_room_m(room, opening.at, walls[0]),
            ),
            asked(
                "n",
                f"from wall {other}",
                f"its middle, from wall {other}",
                "distance",
                into_room_m(room, opening.at, walls[1]),
            ),
            asked("d", "depth", "from the ceiling up to the glass", "size", opening.depth),
            hangs("what hangs before it"),
        ),
        walls,
    )


def _two_walls(room: Room) -> tuple[int, int]:
    """Wall A, and the last that stands well across it: a rectangle's two at its first corner."""
    _, (x, y) = room.wall_way("A")
    for wall in range(len(room.outline) - 1, 0, -1):
        _, (other_x, other_y) = room.wall_way(wall_letter(wall))
        if abs(x * other_y - y * other_x) >= ASKEW:
            return 0, wall
    return 0, 1


def _lamp(location: Location, room_index: int, index: int, number: int) -> LampAsked:
    room = location.room[room_index]
    lamp = room.practical[index]
    at: tuple[str | int, ...] = ("room", room_index, "practical", index)
    key = f"room.{room.name}.practical.{lamp.name}"
    where = f'room "{room.name}" › practical "{lamp.name}"'
    figures = (
        ("watt", "watts", "W", lamp.watts),
        ("lm", "lumens", "lm", lamp.lumens),
        ("k", "balance", "K", lamp.balance),
    )
    return LampAsked(
        number,
        lamp.name,
        tuple(
            Question(
                f"{short}{number}",
                f"{key}.{name}",
                f"{room.name}, {lamp.name}: the {unit} on its bulb",
                "number",
                unit,
                "" if value is None else _short(value),
                at,
                where,
            )
            for short, name, unit, value in figures
        ),
    )


def _circuits(location: Location) -> Iterator[tuple[Question, ...]]:
    """The file's circuits, and room for those it does not know, whose keys stay the same."""
    known = location.circuit
    for index in range(len(known) + FUSES):
        number = index + 1
        one = known[index] if index < len(known) else None
        key = f"circuit.new {number - len(known)}" if one is None else f"circuit.{one.name}"
        where = "" if one is None else f'circuit "{one.name}"'
        at: tuple[str | int, ...] = ("circuit", index)
        texts: tuple[tuple[str, str, str, AnswerKind, str, str], ...] = (
            ("f", "name", "what its label says", "text", "", "" if one is None else one.name),
            ("a", "amps", "its amperes", "number", "A", "" if one is None else _short(one.amps)),
            (
                "r",
                "rooms",
                "the rooms with its sockets",
                "rooms",
                "",
                "" if one is None else ", ".join(one.rooms) or "all",
            ),
        )
        yield tuple(
            Question(
                f"{short}{number}",
                f"{key}.{name}",
                f"fuse {number}: {text}",
                kind,
                unit,
                now,
                () if one is None else at,
                where,
            )
            for short, name, text, kind, unit, now in texts
        )


def _volts(location: Location) -> Question:
    known = {one.volts for one in location.circuit}
    now = _short(known.pop()) if len(known) == 1 else ""
    return Question("volt", "house.volts", "the mains voltage, if known", "number", "V", now)


def _short(value: float) -> str:
    """A number to the thousandth, as short as it goes."""
    return f"{value:.3f}".rstrip("0").rstrip(".")
