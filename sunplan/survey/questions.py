"""What a location file leaves to whoever is in the house: each question with its place in the file.

Ids are short, for a page and a telephone: `1A` is wall A of room 1, `w3` opening 3 wide. Keys are
the places in the file by name, for a sheet that comes back when the file has changed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import count
from typing import Literal

from ..errors import InputError
from ..location.lengths import INCH_M, Units
from ..location.messages import not_known
from ..location.model import Before, Opening, Point, Room, wall_letter
from ..location.read import Location

AnswerKind = Literal[
    "size", "distance", "number", "bearing", "north", "rooms", "before", "wet", "text"
]

FUSES = 4  # circuits that are asked for beside the file's own
ASKEW = 0.5  # sine of the least angle between two walls that a place is measured from
OUTSIDE = (
    "what lies outside before it (ground that one can stand on, water, street, drop or blocked), "
    "and how far down from its lower edge"
)
HOUSE = (
    ("tape", "may we put painter's tape on window frames and walls; where not"),
    (
        "cloth",
        "may we hang black cloth outside before a window, tied, nothing drilled or nailed",
    ),
    ("steps", "is there a ladder or are there steps we may use, and how high; we climb, not you"),
    ("parking", "where may a van stop to load, and where may it park"),
    ("keys", "who has the keys and is there on the day: name and telephone"),
    ("sun", "when does the sun lie on a floor, in which room, through which window"),
)


@dataclass(frozen=True)
class Question:
    """One answer that is asked for.

    `path` is the table in the file that it is of, keys and indices from the top, none where the
    file has no such table; `of` is what people call that, `where` what a message does; `now` is
    what the file says, exactly enough to be given back.
    """

    id: str
    key: str
    text: str
    kind: AnswerKind
    unit: str = ""
    now: str = ""
    path: tuple[str | int, ...] = ()
    where: str = ""
    of: str = ""

    @property
    def name(self) -> str:
        """What of the table it is, the last part of its key."""
        return self.key.rpartition(".")[2]

    @property
    def title(self) -> str:
        """The value by its table and name, for people."""
        return f"{self.of}, {self.name}"


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
    wet: Question
    openings: tuple[OpeningAsked, ...]
    lamps: tuple[LampAsked, ...]

    def questions(self) -> Iterator[Question]:
        """All that is asked of the room."""
        yield from (*self.walls, self.top, self.way, self.wet)
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
    """What to ask the owner of a location, openings and lamps numbered through all its rooms.

    >>> from sunplan import read
    >>> asked = sheet(read("locations/lock-house.toml"))
    >>> [(question.id, question.now) for question in asked.rooms[0].openings[0].questions][:2]
    [('w1', '1.1 m'), ('h1', '1.2 m')]
    """
    openings, lamps = count(1), count(1)
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
    """The same questions of one room only.

    Raises
    ------
    InputError : where there is none of that name.
    """
    rooms = tuple(room for room in asked.rooms if room.room.name == name)
    if not rooms:
        known = [room.room.name for room in asked.rooms]
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


def from_left_m(room: Room, opening: Opening, *, length_m: float | None = None) -> float:
    """From a wall's left corner, as one sees it from inside, to an opening's left edge, metres.

    `length_m` is the wall's length where it is not the plan's. Walls run from right to left.

    >>> room = Room(name="a", outline=((0, 0), (4, 0), (4, 3), (0, 3)), height=2.5)
    >>> from_left_m(room, Opening(name="w", wall="A", along=1.0, sill=0.8, size=(2.0, 1.2)))
    1.0
    """
    wall, along, _ = opening.in_wall
    length = math.dist(*room.wall(room.wall_number(wall))) if length_m is None else length_m
    return length - along - opening.size[0]


def first_side(room: Room, opening: Opening) -> int:
    """Which of a skylight's two sizes runs along wall A, or more along it than across."""
    _, (x, y) = room.wall_way("A")
    turn = math.radians(opening.turn)
    return 0 if abs(math.cos(turn) * x + math.sin(turn) * y) >= math.sqrt(0.5) - 1e-9 else 1


def into_room_m(room: Room, spot: Point, wall: int) -> float:
    """How far a place on the plan lies from a wall's line (by its index), into the room, metres.

    >>> room = Room(name="a", outline=((0, 0), (4, 0), (4, 3), (0, 3)), height=2.5)
    >>> into_room_m(room, (1.0, 0.5), 0), into_room_m(room, (1.0, 0.5), 1)
    (0.5, 3.0)
    """
    (x, y), (way_x, way_y) = room.wall_way(wall_letter(wall))
    return (spot[1] - y) * way_x - (spot[0] - x) * way_y


@dataclass(frozen=True)
class _TableAsked:
    """A table of the file that questions are of: its key, its name for people, its place."""

    key: str
    called: str
    path: tuple[str | int, ...] = ()
    where: str = ""

    @property
    def beside(self) -> _TableAsked:
        """The same for what is asked of it but has no place in the file."""
        return _TableAsked(self.key, self.called)

    def ask(
        self, ident: str, name: str, text: str, kind: AnswerKind, unit: str = "", now: str = ""
    ) -> Question:
        """A question of one of its values."""
        key, text = f"{self.key}.{name}", f"{self.called}: {text}"
        return Question(ident, key, text, kind, unit, now, self.path, self.where, self.called)


def _room(
    location: Location, index: int, openings: Iterator[int], lamps: Iterator[int]
) -> RoomAsked:
    room, units, number = location.room[index], location.site.units, index + 1
    table = _TableAsked(f"room.{room.name}", room.name, ("room", index), f'room "{room.name}"')
    letters = [wall_letter(wall) for wall in range(len(room.outline))]
    lengths = [exactly(math.dist(*room.wall(wall)), units) for wall in range(len(letters))]
    facing = _facing(room)
    water = "is there a bath, a shower, a basin or a sink, yes or no"
    straight = f"the phone's compass, looking straight at wall {letters[facing]}"
    top, high = "how high, from the floor to the ceiling", exactly(room.height, units)
    return RoomAsked(
        number=number,
        room=room,
        walls=tuple(
            table.ask(
                f"{number}{letter}",
                f"wall.{letter}",
                f"wall {letter}, how long",
                "size",
                units,
                length,
            )
            for letter, length in zip(letters, lengths, strict=True)
        ),
        top=table.ask(f"{number}top", "height", top, "size", units, high),
        facing=facing,
        way=table.beside.ask(
            f"{number}way", f"compass.{letters[facing]}", straight, "bearing", "degrees"
        ),
        wet=table.ask(f"{number}wet", "wet", water, "wet", "", _yes_or_no(room.wet)),
        openings=tuple(
            _opening(location, index, place, next(openings)) for place in range(len(room.opening))
        ),
        lamps=tuple(
            _lamp(location, index, place, next(lamps)) for place in range(len(room.practical))
        ),
    )


def _table_of(location: Location, room_index: int, kind: str, index: int) -> _TableAsked:
    """The table of one of a room's openings or practicals."""
    room = location.room[room_index]
    name = getattr(room, kind)[index].name
    return _TableAsked(
        f"room.{room.name}.{kind}.{name}",
        f"{room.name}, {name}",
        ("room", room_index, kind, index),
        f'room "{room.name}" › {kind} "{name}"',
    )


def _facing(room: Room) -> int:
    """The first wall with an opening, else the first."""
    return next((room.wall_number(opening.wall) for opening in room.opening if opening.wall), 0)


def _opening(location: Location, room_index: int, index: int, number: int) -> OpeningAsked:
    room, units = location.room[room_index], location.site.units
    opening = room.opening[index]
    table = _table_of(location, room_index, "opening", index)
    walls = None if opening.at is None else _two_walls(room)
    lengths = _window(room, opening) if walls is None else _skylight(room, opening, walls)
    questions = [
        table.ask(f"{letter}{number}", name, text, kind, units, exactly(metres, units))
        for letter, name, text, kind, metres in lengths
    ]
    if walls is None:
        now = before_words(opening.before, opening.to_ground, units)
        questions.append(table.ask(f"o{number}", "before", OUTSIDE, "before", "", now))
    questions.append(table.beside.ask(f"b{number}", "hangs", "what hangs before it", "text"))
    return OpeningAsked(number, opening, tuple(questions), walls)


def before_words(before: Before | None, to_ground_m: float | None, units: Units) -> str:
    """What lies before an opening, and how far down, as it is answered; nothing where not told.

    >>> before_words("ground", 1.4, "m"), before_words("water", None, "m")
    ('ground 1.4 m', 'water')
    """
    down = [] if to_ground_m is None else [exactly(to_ground_m, units)]
    return "" if before is None else " ".join((before, *down))


def _yes_or_no(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"


_Length = tuple[str, str, str, AnswerKind, float]  # letter, name, text, kind, metres in the file


def _window(room: Room, opening: Opening) -> tuple[_Length, ...]:
    wall, _, sill = opening.in_wall
    (wide, high), left = opening.size, from_left_m(room, opening)
    along = f"its left edge, from the left corner of wall {wall}, from inside"
    return (
        ("w", "width", "how wide", "size", wide),
        ("h", "height", "how high", "size", high),
        ("u", "sill", "its lower edge, up from the floor", "distance", sill),
        ("c", "from the left", along, "distance", left),
        ("d", "depth", "how deep it sits in the wall", "size", opening.depth),
    )


def _skylight(room: Room, opening: Opening, walls: tuple[int, int]) -> tuple[_Length, ...]:
    assert opening.at is not None
    side = first_side(room, opening)
    first, second = (f"from wall {wall_letter(wall)}" for wall in walls)
    off_first, off_second = (into_room_m(room, opening.at, wall) for wall in walls)
    return (
        ("w", "along wall A", "how long along wall A", "size", opening.size[side]),
        ("h", "across", "how long the other way", "size", opening.size[1 - side]),
        ("m", first, f"its middle, {first}", "distance", off_first),
        ("n", second, f"its middle, {second}", "distance", off_second),
        ("d", "depth", "from the ceiling up to the glass", "size", opening.depth),
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
    table = _table_of(location, room_index, "practical", index)
    figures = (
        ("watt", "watts", "W", lamp.watts),
        ("lm", "lumens", "lm", lamp.lumens),
        ("k", "balance", "K", lamp.balance),
    )
    questions = (
        table.ask(
            f"{short}{number}", name, f"the {unit} on its bulb", "number", unit, _short(value)
        )
        for short, name, unit, value in figures
    )
    return LampAsked(number, lamp.name, tuple(questions))


def _circuits(location: Location) -> Iterator[tuple[Question, ...]]:
    """The file's circuits, and room for those it does not know, whose keys stay the same."""
    known = location.circuit
    for index in range(len(known) + FUSES):
        number = index + 1
        label, amps, fed = "", "", ""
        table = _TableAsked(f"circuit.new {number - len(known)}", f"fuse {number}")
        if index < len(known):
            circuit = known[index]
            label, amps, fed = circuit.name, _short(circuit.amps), ", ".join(circuit.rooms) or "all"
            where = f'circuit "{label}"'
            table = _TableAsked(f"circuit.{label}", table.called, ("circuit", index), where)
        yield (
            table.ask(f"f{number}", "name", "what its label says", "text", "", label),
            table.ask(f"a{number}", "amps", "its amperes", "number", "A", amps),
            table.ask(f"r{number}", "rooms", "the rooms with its sockets", "rooms", "", fed),
        )


def _volts(location: Location) -> Question:
    known = {circuit.volts for circuit in location.circuit}
    now = _short(known.pop()) if len(known) == 1 else ""
    return Question("volt", "house.volts", "the mains voltage, if known", "number", "V", now)


def _short(value: float | None) -> str:
    """A number to the thousandth, as short as it goes; nothing where there is none."""
    return "" if value is None else f"{value:.3f}".rstrip("0").rstrip(".")
