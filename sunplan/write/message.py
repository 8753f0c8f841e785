"""The form for a house's owner as a message of plain text, 80 columns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..location.model import wall_letter
from ..location.read import Location
from ..report import ask
from ..report.cautions import SUN
from ..survey.questions import Question, RoomAsked, Sheet
from .terminal import WIDTH, folded


def message(location: Location, asked: Sheet) -> str:
    """The form: what to do, room by room the boxes to fill in, what to photograph."""
    parts = (*_instructions(location, asked), *_rooms(location, asked), *_house(location, asked))
    return "\n\n".join("\n".join(lines) for lines in parts) + "\n"


def _instructions(location: Location, asked: Sheet) -> Iterator[list[str]]:
    yield _folded(ask.title(location))
    yield _folded(f"{ask.HELLO} {ask.HOW[location.site.units]}")
    yield [*_folded(ask.FLOOR_ONLY), *_folded(SUN.said)]
    openings = [opening for room in asked.rooms for opening in room.openings]
    if any(opening.from_walls is None for opening in openings):
        yield [
            *_folded("A window or a door with glass, from inside; nothing need be opened:"),
            *(
                line
                for letter, meaning in ask.WINDOW
                for line in _folded(f"  {letter}  {meaning}", under=5)
            ),
        ]
    if any(opening.from_walls is not None for opening in openings):
        yield _folded(ask.SKYLIGHT)
    yield _folded(ask.COMPASS)


def _rooms(location: Location, asked: Sheet) -> Iterator[list[str]]:
    for room in asked.rooms:
        yield [*_folded(f"Room {room.number}: {room.room.name}"), *_room(location, room)]


def _room(location: Location, asked: RoomAsked) -> Iterator[str]:
    yield from _folded(f"  {ask.walls(location, asked)}", under=2)
    yield from _boxes("how long each wall is:", asked.walls)
    yield f"    from the floor to the ceiling:  {_box(asked.top)}"
    yield f"    compass, looking at wall {wall_letter(asked.facing)}:  {_box(asked.way)}"
    yield f"    is there a bath, a shower, a basin or a sink:  {_box(asked.wet, 4)}"
    for opening in asked.openings:
        name = f"    {opening.number}: {opening.opening.name}, {ask.place(opening)}"
        yield from _folded(name, under=6)
        yield from _boxes("", opening.questions, indent=6)
    if asked.lamps:
        yield from _folded(f"    Lamps: {ask.LAMP}", under=6)
    for lamp in asked.lamps:
        yield from _boxes(f"{lamp.name}:", lamp.questions, indent=6)


def _house(location: Location, asked: Sheet) -> Iterator[list[str]]:
    yield [
        "The house",
        *_folded(f"  {ask.NORTH}", under=2),
        f"    {_box(asked.north, 12)}",
        *_folded(f"  {ask.FUSES}:", under=2),
        *(f"    {'  '.join(map(_box, circuit, (18, 4, 24)))}" for circuit in asked.circuits),
        f"    {_box(asked.volts, 6)}  {ask.volts(location)}",
        *(
            line
            for question in asked.house
            for line in (
                *_folded(f"  {question.id}  {ask.sentence(question)}", under=6),
                f"      {'_' * (WIDTH - 6)}",
            )
        ),
    ]
    yield [
        "Photographs, as the phone takes them",
        *(line for picture in ask.PHOTOGRAPHS for line in _folded(f"  [ ] {picture}", under=6)),
    ]
    yield _folded(ask.FOOT)


def _box(question: Question, width: int = 7) -> str:
    return f"{question.id} {'_' * width}"


def _boxes(before: str, questions: Sequence[Question], indent: int = 4) -> Iterator[str]:
    """Boxes in as many lines as they take, words before them."""
    from rich.cells import cell_len

    line = " " * indent + before
    for question in questions:
        box = _box(question, 16 if question.kind == "text" else 7)
        if cell_len(line) + 2 + len(box) > WIDTH:
            yield line
            line = " " * indent
        line += f"{'  ' if line.strip() else ''}{box}"
    yield line


def _folded(line: str, under: int = 0) -> list[str]:
    return folded(line, WIDTH, " " * under)
