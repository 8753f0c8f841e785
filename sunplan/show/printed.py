"""The form for a house's owner on paper: room plans with walls by letter, openings by number."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from ..location.geometry import hole_corners
from ..location.model import Point, Room, wall_letter
from ..location.questions import OpeningAsked, RoomAsked, Sheet
from ..location.read import Location
from . import form
from .cautions import SUN
from .typeset import pages, typeset

TEMPLATE = "form.typ"


def draw_form(location: Location, asked: Sheet, paper: str, path: Path) -> None:
    """The form as a PDF: one page where all of it fits, else rooms on pages of their own."""
    figures = _figures(location, asked)
    if pages(TEMPLATE, figures, paper) > 1:
        figures["apart"] = True
    typeset(TEMPLATE, figures, paper, path)


def _figures(location: Location, asked: Sheet) -> dict[str, Any]:
    openings = [one for room in asked.rooms for one in room.openings]
    return {
        "apart": False,
        "title": form.title(location),
        "hello": form.HELLO,
        "how": form.HOW[location.site.units],
        "careful": form.FLOOR_ONLY,
        "sun": str(SUN),
        "windows": any(one.from_walls is None for one in openings),
        "skylights": any(one.from_walls is not None for one in openings),
        "lamps": any(room.lamps for room in asked.rooms),
        "letters": form.WINDOW,
        "skylight": form.SKYLIGHT,
        "compass": form.COMPASS,
        "lamp": f"Lamps: {form.LAMP}.",
        "rooms": [_room(location, one) for one in asked.rooms],
        "north": asked.north.id,
        "northly": form.NORTH,
        "fuses": f"{form.FUSES}.",
        "circuits": [[one.id for one in circuit] for circuit in asked.circuits],
        "volts": asked.volts.id,
        "house": [(one.id, form.question(one)) for one in asked.house],
        "photographs": form.PHOTOGRAPHS,
        "foot": form.FOOT,
    }


def _room(location: Location, one: RoomAsked) -> dict[str, Any]:
    room = one.room
    low = tuple(min(corner[axis] for corner in room.outline) for axis in (0, 1))
    high = tuple(max(corner[axis] for corner in room.outline) for axis in (0, 1))

    def at(point: Point) -> Point:
        return point[0] - low[0], point[1] - low[1]

    return {
        "number": one.number,
        "name": room.name,
        "which": form.walls(location, one),
        "size": (high[0] - low[0], high[1] - low[1]),
        "outline": [at(corner) for corner in room.outline],
        "walls": [
            {
                "letter": wall_letter(index),
                "at": at(_middle(room.wall(index))),
                "out": _outward(room, wall_letter(index)),
            }
            for index in range(len(room.outline))
        ],
        "lengths": [question.id for question in one.walls],
        "top": one.top.id,
        "facing": wall_letter(one.facing),
        "way": one.way.id,
        "openings": [
            {
                "number": opening.number,
                "name": opening.opening.name,
                "where": "in the ceiling" if opening.from_walls else form.place(opening),
                "boxes": _boxes(opening),
                **_drawn(room, opening, at),
            }
            for opening in one.openings
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


def _drawn(room: Room, one: OpeningAsked, at: Callable[[Point], Point]) -> dict[str, Any]:
    opening = one.opening
    x, y, _ = room.middle(opening)
    middle = at((x, y))
    if opening.wall is None or opening.along is None:
        return {"at": middle, "hole": [at(corner) for corner in hole_corners(opening)]}
    (x, y), (way_x, way_y) = room.wall_way(opening.wall)
    ends = [
        at((x + along * way_x, y + along * way_y))
        for along in (opening.along, opening.along + opening.size[0])
    ]
    return {"at": middle, "hole": None, "ends": ends, "out": _outward(room, opening.wall)}


def _outward(room: Room, letter: str) -> Point:
    _, (x, y) = room.wall_way(letter)
    return y, -x


def _middle(wall: tuple[Point, Point]) -> Point:
    (x0, y0), (x1, y1) = wall
    return (x0 + x1) / 2, (y0 + y1) / 2
