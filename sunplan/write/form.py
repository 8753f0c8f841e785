"""The form for a house's owner on paper: room plans with walls by letter, openings by number."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..draw.sketch import Onto, Spot
from ..location.geometry import hole_corners
from ..location.model import Room, wall_letter
from ..location.read import Location
from ..report import ask as ask_report
from ..report.cautions import SUN
from ..survey.questions import OpeningAsked, RoomAsked, Sheet
from .typeset import pages, typeset

TEMPLATE = "form.typ"

# Of a room's plan, millimetres.
EDGE_MM = 6.0  # about it, for letters
ROW_MM = 1.2  # between rows of boxes beside it
FOOT_MM = 4.0
MOST_MM = 90.0
LETTER_MM = 4.0  # between the middles of two letters that do not touch
NUMBER_MM = 3.6  # between those of a letter and an opening's number
LINE_MM = 2.2  # between a letter's middle and a wall
STEP_MM = 1.2  # of a letter along its wall
PAST_MM = 3.0  # from the end of a long wall, or past the middle of a short one
AWAY_MM = (3.8, -3.8, -5.6, -7.4)  # from a wall, outward; inside where that is not free


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
    openings = [one for room in asked.rooms for one in room.openings]
    return {
        "apart": sizes is APART,
        "wide": sizes.wide_mm,
        "tall": sizes.row_mm,
        "title": ask_report.title(location),
        "hello": ask_report.HELLO,
        "how": ask_report.HOW[location.site.units],
        "careful": ask_report.FLOOR_ONLY,
        "sun": str(SUN),
        "windows": any(one.from_walls is None for one in openings),
        "skylights": any(one.from_walls is not None for one in openings),
        "lamps": any(room.lamps for room in asked.rooms),
        "letters": ask_report.WINDOW,
        "skylight": ask_report.SKYLIGHT,
        "compass": ask_report.COMPASS,
        "lamp": f"Lamps: {ask_report.LAMP}.",
        "rooms": [_room(location, one, sizes) for one in asked.rooms],
        "north": asked.north.id,
        "northly": ask_report.NORTH,
        "fuses": f"{ask_report.FUSES}.",
        "circuits": [[one.id for one in circuit] for circuit in asked.circuits],
        "volts": asked.volts.id,
        "house": [(one.id, ask_report.question(one)) for one in asked.house],
        "photographs": ask_report.PHOTOGRAPHS,
        "foot": ask_report.FOOT,
    }


def _room(location: Location, one: RoomAsked, sizes: Paper) -> dict[str, Any]:
    room = one.room
    rows = 1 + len(one.openings) + len(one.lamps)
    most = min(max(sizes.least_mm, rows * (sizes.row_mm + ROW_MM) + FOOT_MM), MOST_MM)
    low, high = (
        (pick(x for x, _ in room.outline), pick(y for _, y in room.outline)) for pick in (min, max)
    )
    edges = (EDGE_MM, EDGE_MM, EDGE_MM, EDGE_MM)
    fitted = Onto(low, high, width_mm=sizes.wide_mm, most_mm=most, edges_mm=edges)
    # No wider than the room: it stands in the middle of its place.
    wide = fitted.per_m * (high[0] - low[0]) + 2 * EDGE_MM
    at = Onto(low, high, width_mm=wide, most_mm=most, edges_mm=edges)
    openings = [_drawn(room, opening, at) for opening in one.openings]
    letters = lettered(room, at, [opening["at"] for opening in openings])
    return {
        "number": one.number,
        "name": room.name,
        "which": ask_report.walls(location, one),
        "size": (at.width_mm, at.height_mm),
        "outline": at.all(room.outline),
        "walls": [{"letter": wall_letter(index), "at": spot} for index, spot in enumerate(letters)],
        "lengths": [question.id for question in one.walls],
        "top": one.top.id,
        "facing": wall_letter(one.facing),
        "way": one.way.id,
        "openings": [
            {
                "number": opening.number,
                "name": opening.opening.name,
                "where": "in the ceiling" if opening.from_walls else ask_report.place(opening),
                "boxes": _boxes(opening),
                **drawn,
            }
            for opening, drawn in zip(one.openings, openings, strict=True)
        ],
        "lamps": [
            {"name": lamp.name, "boxes": [question.id for question in lamp.questions]}
            for lamp in one.lamps
        ],
    }


def _boxes(one: OpeningAsked) -> list[str]:
    """What stands in an opening's boxes: of a skylight, what they mean as well."""
    names = [question.id for question in one.questions]
    if one.from_walls is None:
        return names
    near, far = map(wall_letter, one.from_walls)
    meant = ("by A", "across", f"from {near}", f"from {far}", "up", "hangs")
    return [f"{name}: {meaning}" for name, meaning in zip(names, meant, strict=True)]


def _drawn(room: Room, one: OpeningAsked, at: Onto) -> dict[str, Any]:
    opening = one.opening
    middle = at(room.middle(opening))
    if opening.wall is None or opening.along is None:
        return {"at": middle, "hole": at.all(hole_corners(opening))}
    (x, y), (way_x, way_y) = room.wall_way(opening.wall)
    ends = [
        at((x + along * way_x, y + along * way_y))
        for along in (opening.along, opening.along + opening.size[0])
    ]
    return {"at": middle, "hole": None, "ends": ends}


def lettered(room: Room, at: Onto, numbers: Sequence[Spot]) -> list[Spot]:
    """Where the walls' letters stand on the paper: clear of each other, of walls and of numbers.

    A letter stands outside the middle of its wall where it may, else beside that or inside; where
    nothing is free, where it is least in the way.
    """
    outline = at.all(room.outline)
    walls = list(zip(outline, (*outline[1:], outline[0]), strict=True))
    found: list[Spot] = []
    for index, (start, end) in enumerate(walls):
        others = walls[:index] + walls[index + 1 :]

        def room_left(spot: Spot, others: Sequence[tuple[Spot, Spot]] = others) -> float:
            clear = [math.dist(spot, one) - LETTER_MM for one in found]
            clear += [math.dist(spot, one) - NUMBER_MM for one in numbers]
            clear += [_to_line_mm(spot, *one) - LINE_MM for one in others]
            return min(0.0, *clear)

        # The first of those that are as free as the best.
        found.append(max(_beside(start, end), key=room_left))
    return found


def _beside(start: Spot, end: Spot) -> Iterator[Spot]:
    """Spots beside a wall, best first."""
    length = math.dist(start, end)
    way = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    middle = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    steps = round(max(length / 2 - PAST_MM, PAST_MM) / STEP_MM)
    for away in AWAY_MM:
        for step in sorted(range(-steps, steps + 1), key=abs):
            # Corners go counter-clockwise and y runs down the page: outward lies on the right.
            x, y = (at + step * STEP_MM * to for at, to in zip(middle, way, strict=True))
            yield x - away * way[1], y + away * way[0]


def _to_line_mm(spot: Spot, start: Spot, end: Spot) -> float:
    """How far a spot lies from a line between two others."""
    way = end[0] - start[0], end[1] - start[1]
    off = spot[0] - start[0], spot[1] - start[1]
    share = (off[0] * way[0] + off[1] * way[1]) / (way[0] ** 2 + way[1] ** 2)
    share = min(max(share, 0.0), 1.0)
    return math.dist(spot, (start[0] + share * way[0], start[1] + share * way[1]))
