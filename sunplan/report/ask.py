"""What to ask the owner of a house: the words of the form, JSON, and a sheet of rows."""

from __future__ import annotations

import csv
import io

from ..location.model import wall_letter
from ..location.read import Location
from ..survey.questions import OpeningAsked, Question, RoomAsked, Sheet
from ..survey.replies import COLUMNS
from .answers import Answer

KNOWN_DEG = 20.0  # a plan's bearing that is surer than this tells which way a wall faces; a choice
COMPASS_POINTS = (
    *("north", "north-east", "east", "south-east"),
    *("south", "south-west", "west", "north-west"),
)
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
    ("o", "outside before it: ground to stand on, water, street, drop, blocked; how far down"),
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


def volts(location: Location) -> str:
    """What is asked of the mains, and what is assumed where nobody says."""
    mains = location.mains
    return f"mains voltage, if you know it; else we plan on {mains.amps:g} A, {mains.volts:g} V"


def sheet_rows(asked: Sheet) -> str:
    """The sheet of answers as comma-separated rows, one a question, the answers empty."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(COLUMNS)
    for question in asked.questions():
        rows.writerow((question.id, question.text, question.unit, question.now, "", question.key))
    return out.getvalue()


def answer(location: Location, asked: Sheet) -> Answer:
    """Answer of `sunplan ask`: every question, in the order of the form."""
    return {
        "location": location.site.name,
        "questions": [
            {
                "id": question.id,
                "key": question.key,
                "question": question.text,
                "kind": question.kind,
                "unit": question.unit or None,
                "now": question.now or None,
            }
            for question in asked.questions()
        ],
    }


def walls(location: Location, asked: RoomAsked) -> str:
    """Which wall is which, for somebody who stands in the room."""
    letters = [wall_letter(index) for index in range(len(asked.room.outline))]
    start, site = asked.facing, location.site
    names = [
        opening.opening.name
        for opening in asked.openings
        if (opening.opening.wall or "").strip().upper() == letters[start]
    ]
    which = [f"with the {' and the '.join(names)}"] if names else []
    if site.plan_up_error <= KNOWN_DEG:
        eighth = round(asked.room.faces_deg(start, site.plan_up) / 45.0) % 8
        which.append(f"toward the {COMPASS_POINTS[eighth]}")
    rest = ", ".join(letters[start + 1 :] + letters[:start])
    return (
        f"Wall {letters[start]}: {', '.join(which) or 'any that you choose'}. Then on to the left, "
        f"all round the room: {rest}."
    )


def place(asked: OpeningAsked) -> str:
    """Where an opening is; of a window in the ceiling, what its letters mean."""
    if asked.from_walls is None:
        return f"in wall {str(asked.opening.wall).strip().upper()}"
    near, other = map(wall_letter, asked.from_walls)
    return (
        f"in the ceiling: w along wall A, h across, m from wall {near} to its middle, n from "
        f"wall {other}"
    )


def sentence(question: Question) -> str:
    """A question of the house as a sentence."""
    text = question.text
    return f"{text[0].upper()}{text[1:]}?" if question.kind == "text" else text
