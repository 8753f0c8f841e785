"""What to ask the owner of a house, for people: a message of plain text, and a sheet of rows."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Iterator, Sequence

from ..location.model import wall_letter
from ..location.read import Location
from ..survey.questions import OpeningAsked, Question, RoomAsked, Sheet
from ..survey.replies import COLUMNS
from .answers import Answer
from .cautions import SUN
from .words import POINTS

WIDTH = 80  # of the message

FLOOR_ONLY = (
    "Everything is measured from the floor. Please do not climb on anything, do not go on a roof, "
    "and do not lean out. At the fuse box only read the labels: open nothing that needs a tool, "
    "touch no switch. Leave empty what cannot be done so."
)
HELLO = (
    "Thank you for having us. We plan by the daylight in your rooms, which none of us has seen "
    "yet. A few sizes and photographs tell us what to bring. Leave out whatever is a bother."
)
HOW = {
    "m": "A message such as “w1 112 cm, h1 1.20 m” is all we need, or a photograph of the page; "
    "please write the unit with each size.",
    "ft": "A message such as “w1 44 in, h1 3 ft 8 in” is all we need, or a photograph of the page; "
    "please write the unit with each size.",
}
# What the letters of a window mean: the hole in the wall, for light comes through that.
WINDOW = (
    ("w", "how wide the hole in the wall is that the window sits in, frame and all"),
    ("h", "how high that hole is"),
    ("u", "up from the floor to its lower edge"),
    ("c", "from its left edge to the corner of the room on the left, as you face it"),
    ("d", "how deep the window sits: from the room's face of the wall to the glass"),
    ("b", "what hangs before it: blind, curtain, net, shutter, nothing"),
)
SKYLIGHT = (
    "A window in the ceiling: stand below it and measure on the floor, straight under its edges: "
    "w along wall A, h across, m and n from two walls to its middle. d, from the ceiling up to the "
    "glass, only if a broom held up from the floor shows it."
)
COMPASS = (
    "Compass: stand in the middle of the room and look straight at the wall that is named. Hold "
    "the phone flat before you, its top edge to the wall, a good step from radiators, metal, "
    "loudspeakers and magnets, its case too; wait until the number is still."
)
NORTH = "Does that phone show true north or magnetic north? Its compass settings say."
PHOTOGRAPHS = (
    "each window, from the middle of the room, so that the whole wall is seen",
    "from each window, looking out, level, not toward the sun",
    "each room from two corners",
    "the labels of the fuse box",
    "where the sun lies on a floor: the whole patch, with its window; the phone's clock set by "
    "itself. Send the file itself, which keeps the time; a forwarded picture loses it",
)
LAMP = "what is printed on the bulb, or on its box, if it can be read with the lamp off and cold"
FUSES = "The fuse box, by its labels only: label, amperes (A), which rooms"
FOOT = (
    "For whoever puts this into the file: sunplan ask FILE --out answers.csv has a row for each of "
    "these names; sunplan ask --fill FILE answers.csv takes it back in."
)


def title(location: Location) -> str:
    """What the form is called."""
    return f"{location.site.name}: what we would like to know"


def sheet_rows(asked: Sheet) -> str:
    """The sheet of answers as comma-separated rows, one a question, the answers empty."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    for one in asked.questions():
        rows.writerow((one.id, one.text, one.unit, one.now, "", one.key))
    return out.getvalue()


def answer(location: Location, asked: Sheet) -> Answer:
    """Answer of `sunplan ask`: every question, in the order of the form."""
    return {
        "location": location.site.name,
        "questions": [
            {
                "id": one.id,
                "key": one.key,
                "question": one.text,
                "kind": one.kind,
                "unit": one.unit or None,
                "now": one.now or None,
            }
            for one in asked.questions()
        ],
    }


def text(location: Location, asked: Sheet) -> str:
    """The form as a message, 80 columns."""
    return "\n".join((*_lines(location, asked), ""))


def _lines(location: Location, asked: Sheet) -> Iterator[str]:
    yield from _folded(title(location))
    yield ""
    yield from _folded(f"{HELLO} {HOW[location.site.units]}")
    yield ""
    yield from _folded(FLOOR_ONLY)
    yield from _folded(SUN.said)
    openings = [one for room in asked.rooms for one in room.openings]
    if any(one.from_walls is None for one in openings):
        yield ""
        yield from _folded("A window or a door with glass, from inside; nothing need be opened:")
        for letter, meaning in WINDOW:
            yield from _folded(f"  {letter}  {meaning}", under=5)
    if any(one.from_walls is not None for one in openings):
        yield ""
        yield from _folded(SKYLIGHT)
    yield ""
    yield from _folded(COMPASS)
    for room in asked.rooms:
        yield ""
        yield from _room(location, room)
    yield ""
    yield "The house"
    yield from _folded(f"  {NORTH}", under=2)
    yield f"    {_box(asked.north, 12)}"
    yield from _folded(f"  {FUSES}:", under=2)
    for circuit in asked.circuits:
        yield f"    {'  '.join(map(_box, circuit, (18, 4, 24)))}"
    yield f"    {_box(asked.volts, 6)}"
    for one in asked.house:
        yield from _folded(f"  {one.id}  {question(one)}", under=6)
        yield f"      {'_' * (WIDTH - 6)}"
    yield ""
    yield "Photographs, as the phone takes them"
    for picture in PHOTOGRAPHS:
        yield from _folded(f"  [ ] {picture}", under=6)
    yield ""
    yield from _folded(FOOT)


def _room(location: Location, one: RoomAsked) -> Iterator[str]:
    yield from _folded(f"Room {one.number}: {one.room.name}")
    yield from _folded(f"  {walls(location, one)}", under=2)
    yield from _boxes("how long each wall is:", one.walls)
    yield f"    from the floor to the ceiling:  {_box(one.top)}"
    letter = wall_letter(one.facing)
    yield f"    compass, looking at wall {letter}:  {_box(one.way)}"
    for opening in one.openings:
        yield from _folded(
            f"    {opening.number}: {opening.opening.name}, {place(opening)}", under=6
        )
        yield from _boxes("", opening.questions, indent=6)
    if one.lamps:
        yield from _folded(f"    Lamps: {LAMP}", under=6)
    for lamp in one.lamps:
        yield from _boxes(f"{lamp.name}:", lamp.questions, indent=6)


def walls(location: Location, one: RoomAsked) -> str:
    """Which wall is which, for somebody who stands in the room."""
    letters = [wall_letter(index) for index in range(len(one.room.outline))]
    start = one.facing
    in_it = [
        opening.opening.name
        for opening in one.openings
        if opening.opening.wall is not None
        and opening.opening.wall.strip().upper() == letters[start]
    ]
    site = location.site
    known = site.plan_up_error <= 20.0
    points = POINTS[round(one.room.faces_deg(start, site.plan_up) / 45.0) % 8]
    toward = f"toward the {_COMPASS[points]}" if known else ""
    has = f"with the {' and the '.join(in_it)}" if in_it else ""
    which = ", ".join(word for word in (has, toward) if word) or "any that you choose"
    rest = ", ".join(letters[start + 1 :] + letters[:start])
    return f"Wall {letters[start]}: {which}. Then on to the left, all round the room: {rest}."


_COMPASS = {
    "N": "north",
    "NE": "north-east",
    "E": "east",
    "SE": "south-east",
    "S": "south",
    "SW": "south-west",
    "W": "west",
    "NW": "north-west",
}


def place(one: OpeningAsked) -> str:
    """Where an opening is; of a window in the ceiling, what its letters mean."""
    if one.from_walls is None:
        return f"in wall {str(one.opening.wall).strip().upper()}"
    near, other = map(wall_letter, one.from_walls)
    return (
        f"in the ceiling: w along wall A, h across, m from wall {near} to its middle, n from "
        f"wall {other}"
    )


def question(one: Question) -> str:
    """A question of the house as a sentence."""
    return f"{one.text[0].upper()}{one.text[1:]}?" if one.kind == "text" else one.text


def _box(one: Question, width: int = 7) -> str:
    return f"{one.id} {'_' * width}"


def _boxes(before: str, questions: Sequence[Question], indent: int = 4) -> Iterator[str]:
    """Boxes in as many lines as they take, words before them."""
    line = " " * indent + before
    for one in questions:
        box = _box(one, 16 if one.kind == "text" else 7)
        if len(line) + 2 + len(box) > WIDTH:
            yield line
            line = " " * indent
        line += f"{'  ' if line.strip() else ''}{box}"
    yield line


def _folded(line: str, under: int = 0) -> list[str]:
    return textwrap.wrap(line, WIDTH, subsequent_indent=" " * under)
