"""The form for a house's owner on paper: room plans with walls by letter, openings by number."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..draw.paper import on_paper
from ..draw.scene import room_scene
from ..draw.signs import PICTURE
from ..location.model import wall_letter
from ..location.read import Location
from ..report import ask as ask_report
from ..report.cautions import SUN
from ..survey.questions import OpeningAsked, RoomAsked, Sheet
from .typeset import pages, typeset

TEMPLATE = "form.typ"

# Of a room's plan: free about it for numbers, and its letters, points; millimetres.
MARGINS_PT, LETTERS_PT = (19.0, 19.0, 19.0, 19.0), 8.5
LETTERS_APART_PT = 2.6  # walls as short as a letter stand beside each other there
ROW_MM = 1.2  # between rows of boxes beside it
FOOT_MM = 4.0
MOST_MM = 90.0


@dataclass(frozen=True)
class Paper:
    """How wide and at least how high plans are, and how high a row of boxes; millimetres."""

    wide_mm: float
    least_mm: float
    row_mm: float


TOGETHER, APART = Paper(44.0, 30.0, 6.4), Paper(54.0, 54.0, 8.4)  # on one page, or on many


def draw_form(location: Location, asked: Sheet, paper: str, path: Path) -> None:
    """The form as a PDF: one page where all of it fits, else rooms on pages of their own."""
    figures = _figures(location, asked, TOGETHER)
    if pages(TEMPLATE, figures, paper) > 1:
        figures = _figures(location, asked, APART)
    typeset(TEMPLATE, figures, paper, path)


def _figures(location: Location, asked: Sheet, sizes: Paper) -> dict[str, Any]:
    openings = [opening for room in asked.rooms for opening in room.openings]
    return {
        "apart": sizes is APART,
        "wide": sizes.wide_mm,
        "tall": sizes.row_mm,
        "title": ask_report.title(location),
        "hello": ask_report.HELLO,
        "how": ask_report.HOW[location.site.units],
        "careful": ask_report.FLOOR_ONLY,
        "sun": SUN.said,
        "windows": any(opening.from_walls is None for opening in openings),
        "skylights": any(opening.from_walls is not None for opening in openings),
        "lamps": any(room.lamps for room in asked.rooms),
        "letters": ask_report.WINDOW,
        "skylight": ask_report.SKYLIGHT,
        "compass": ask_report.COMPASS,
        "lamp": f"Lamps: {ask_report.LAMP}.",
        "rooms": [_room(location, room, sizes) for room in asked.rooms],
        "north": asked.north.id,
        "northly": ask_report.NORTH,
        "fuses": f"{ask_report.FUSES}.",
        "circuits": [[question.id for question in circuit] for circuit in asked.circuits],
        "volts": f"{asked.volts.id}: {ask_report.volts(location)}",
        "house": [(question.id, ask_report.sentence(question)) for question in asked.house],
        "photographs": ask_report.PHOTOGRAPHS,
        "foot": ask_report.FOOT,
    }


def _room(location: Location, asked: RoomAsked, sizes: Paper) -> dict[str, Any]:
    room = asked.room
    rows = 1 + len(asked.openings) + len(asked.lamps)
    most = min(max(sizes.least_mm, rows * (sizes.row_mm + ROW_MM) + FOOT_MM), MOST_MM)
    numbers = {opening.opening.name: str(opening.number) for opening in asked.openings}
    scene = room_scene(location, room, numbers=numbers, marks=(), practicals=False)
    return {
        "number": asked.number,
        "name": room.name,
        "which": ask_report.walls(location, asked),
        "plan": on_paper(
            scene,
            sizes.wide_mm,
            most,
            MARGINS_PT,
            palette=PICTURE,
            letters_pt=LETTERS_PT,
            apart_pt=LETTERS_APART_PT,
        ),
        "lengths": [question.id for question in asked.walls],
        "top": asked.top.id,
        "facing": wall_letter(asked.facing),
        "way": asked.way.id,
        "wet": asked.wet.id,
        "openings": [
            {
                "number": opening.number,
                "name": opening.opening.name,
                "where": "in the ceiling" if opening.from_walls else ask_report.place(opening),
                "boxes": _boxes(opening),
            }
            for opening in asked.openings
        ],
        "lamps": [
            {"name": lamp.name, "boxes": [question.id for question in lamp.questions]}
            for lamp in asked.lamps
        ],
    }


def _boxes(opening: OpeningAsked) -> list[str]:
    """What stands in an opening's boxes: of a skylight, what they mean as well."""
    names = [question.id for question in opening.questions]
    if opening.from_walls is None:
        return names
    near, far = map(wall_letter, opening.from_walls)
    meant = ("by A", "across", f"from {near}", f"from {far}", "up", "hangs")
    return [f"{name}: {meaning}" for name, meaning in zip(names, meant, strict=True)]
