"""What is drawn on the page: rooms with their openings, setups with all that stands in them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely

from ...day.plan import Plan
from ...light.lamp import LightSource
from ...light.screen import Screen
from ...location.geometry import block_corners
from ...location.model import Exterior, Room, Setup, wall_index, wall_letter
from ...location.read import Location
from ...report.words import bearing
from ...rig.flag_placement import Position
from ...rig.flags import FlagOption
from ...room.aperture import Aperture
from ...room.beam import beam_of
from ...room.camera import camera_view, field_of_view
from ...sun.position import Floats

APART_M = 0.12  # between a room, with its reveals, and a wall that is laid down


def mm(metres: Any) -> Any:
    """Metres, one or many, as whole millimetres."""
    whole = np.rint(np.asarray(metres, dtype=np.float64) * 1000.0).astype(int)
    return whole.tolist()


def room(location: Location, one: Room) -> dict[str, Any]:
    """A room's outline, walls, openings, marks and practicals."""
    outline = np.array(one.outline)
    beam = beam_of(location, one)
    openings = []
    for opening in beam.apertures:
        inner, glass = opening.world(opening.rectangle), opening.glass_corners()
        face = None
        if opening.wall is not None:
            first = outline[opening.wall]
            along = math.dist(first, inner[0, :2])
            face = mm([along, inner[0, 2] - one.floor, opening.width, opening.height])
        openings.append(
            {
                "name": opening.name,
                "wall": opening.wall,
                "inner": mm(inner[:, :2]),
                "glass": mm(glass[:, :2]),
                "face": face,
            }
        )
    return {
        "name": one.name,
        "outline": mm(outline),
        "height": mm(one.height),
        "walls": _walls(location, one, beam.apertures),
        "openings": openings,
        "practicals": [{"name": each.name, "at": mm(each.at)} for each in one.practical],
    }


def _walls(location: Location, one: Room, openings: Sequence[Aperture]) -> list[dict[str, Any]]:
    """Walls, each with how far off its own place it is laid down, outward of the plan."""
    outline = np.array(one.outline)
    laid: list[shapely.Polygon] = [shapely.Polygon(outline)]
    found = []
    for index in range(len(outline)):
        letter = wall_letter(index)
        (first, way), length = one.wall_way(letter), math.dist(*one.wall(index))
        out = np.array([way[1], -way[0]])
        # Beyond all of the room that lies out that way, and beyond the walls laid down there.
        deep = max((each.depth for each in openings if each.wall == index), default=0.0)
        off = float((outline @ out).max() - np.array(first) @ out) + deep + APART_M
        while True:
            start = np.array(first) + off * out
            end = start + length * np.array(way)
            rise = one.height * out
            lies = shapely.Polygon([start, end, end + rise, start + rise])
            if not any(lies.intersection(other).area > 1e-9 for other in laid):
                break
            off += one.height / 4
        laid.append(lies)
        found.append(
            {
                "letter": letter,
                "at": mm(first),
                "way": [round(float(part), 9) for part in way],
                "length": mm(length),
                "off": mm(off),
                "faces": bearing(one.faces_deg(index, location.site.plan_up)),
            }
        )
    return found


def setup(plan: Plan, one: Setup) -> dict[str, Any]:
    """A setup's camera with its field, its key, its flags and its negative on the plan."""
    location = plan.location
    room = location.room_named(one.room)
    flags = next(each for each in plan.flags if each.setup.name == one.name)
    gap = next(each for each in plan.gaps_by_step if each.setup.name == one.name)
    slots = () if plan.pack is None else plan.pack.running.slots
    panel = next((slot.needs.panel for slot in slots if slot.setup.name == one.name), None)
    names = [each.name for each in location.room]
    return {
        "name": one.name,
        "room": names.index(one.room),
        "mark": [each.name for each in room.mark].index(one.mark),
        "camera": {
            "at": mm(one.camera.at),
            "field": mm(field_of_view(camera_view(room, one), room)),
        },
        "key": None if gap.source is None else _key(one, gap.source),
        "flags": [_flag(room, option) for option in flags.taken],
        "panel": None if panel is None else mm(panel.screen.corners()[:, :2]),
    }


def _key(one: Setup, source: LightSource) -> dict[str, Any]:
    assert one.key is not None
    sheet = None if source.sheet is None else mm(source.sheet.corners()[:, :2])
    return {"at": mm(one.key.at), "sheet": sheet}


def _flag(room: Room, option: FlagOption) -> dict[str, Any]:
    opening = room.opening_named(option.opening)
    before = option.placement in ("over the opening", "outside") and opening.wall is not None
    return {
        "opening": [each.name for each in room.opening].index(option.opening),
        "spans": [[round(first), round(last)] for first, last in option.spans],
        "places": [
            {
                "from": round(each.start_s),
                "to": round(each.end_s),
                "plan": [mm(piece.corners()[:, :2]) for piece in each.pieces],
                "wall": _before_wall(room, opening.wall, each) if before else None,
            }
            for each in option.positions
        ],
    }


def _before_wall(room: Room, letter: str | None, position: Position) -> list[Any]:
    """A flag before a wall, in the wall's own plane."""
    assert letter is not None
    first, way = (np.array(part) for part in room.wall_way(letter))

    def seen(piece: Screen) -> Floats:
        corners = piece.corners()
        along = (corners[:, :2] - first) @ way
        return np.stack((along, corners[:, 2] - room.floor), axis=-1)

    index = wall_index(letter, len(room.outline))
    return [[index, mm(seen(piece))] for piece in position.pieces]


def site(location: Location) -> dict[str, Any]:
    """All rooms and blocks, for setups outdoors."""
    return {
        "rooms": [[one.name, mm(one.outline)] for one in location.room],
        "blocks": [[one.name, mm(block_corners(one))] for one in location.outside],
    }


def outdoors(location: Location, one: Exterior) -> dict[str, Any]:
    """Where a subject stands, and which way its camera looks, as plan angles."""
    turn = math.radians(90.0 - (one.camera.bearing - location.site.plan_up))
    half = math.radians(one.camera.view_deg[0] / 2)
    ways: Iterable[float] = (turn - half, turn + half)
    return {
        "name": one.name,
        "at": mm(one.at),
        "looks": [[round(math.cos(way), 6), round(math.sin(way), 6)] for way in ways],
    }
