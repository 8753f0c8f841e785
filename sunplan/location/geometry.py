"""Does a room hold together? Geometry that a file must keep, told as problems by name."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import shapely
from shapely import Polygon
from shapely.affinity import rotate

from ..errors import Problem
from .lengths import Units, format_length, unit_m
from .model import (
    FAR_M,
    Camera,
    Key,
    Mark,
    Off,
    Opening,
    Outside,
    Point,
    Practical,
    Room,
    wall_index,
    wall_letter,
)

NEAR_WALL_M = 0.05  # of a mark's middle: nobody stands nearer; no source
NEAR_LAMP_M = 0.1  # of a lamp to a face; no source
LARGEST_M = 200.0  # of a wall or a room's height: more is centimetres; no source
SLACK_M = 1e-6  # rounding of feet and centimetres, not a tolerance of the place
LEAST_ROOM_M2 = 0.01  # a smaller outline is a line, not a room


def hole_corners(opening: Opening) -> list[tuple[float, float]]:
    """Corners of a skylight's hole on the plan, metres: from its lower left, counter-clockwise.

    >>> hole_corners(Opening(name="dome", ceiling=True, at=(2.0, 1.0), size=(1.0, 0.6)))
    [(1.5, 0.7), (2.5, 0.7), (2.5, 1.3), (1.5, 1.3)]
    """
    assert opening.at is not None
    x, y = opening.at
    half_x, half_y = opening.size[0] / 2, opening.size[1] / 2
    box = Polygon(
        [(x + i * half_x, y + j * half_y) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    )
    turned = rotate(box, opening.turn, origin=(x, y))
    return [(px, py) for px, py in turned.exterior.coords[:-1]]


def least_shaft_m(opening: Opening, plan_up_deg: float) -> float:
    """Depth below which a pitched roof window's glass would cut into its ceiling, metres.

    How far the hole reaches down the slope from its middle, times the tangent of the pitch; 0 for a
    level glass.

    >>> hatch = Opening(name="hatch", ceiling=True, at=(2, 1), size=(1, 1), pitch=45, faces=180)
    >>> round(least_shaft_m(hatch, 0.0), 3)
    0.5
    """
    if opening.pitch == 0 or opening.faces is None or opening.at is None:
        return 0.0
    angle = math.radians(opening.faces - plan_up_deg)
    down = (math.sin(angle), math.cos(angle))
    reach = max(
        (px - opening.at[0]) * down[0] + (py - opening.at[1]) * down[1]
        for px, py in hole_corners(opening)
    )
    return reach * math.tan(math.radians(opening.pitch))


@dataclass(frozen=True)
class CheckedRoom:
    """A room as far as it stands: its sound parts, and how a message calls the room and them."""

    room: Room
    path: str
    labels: Mapping[str, Sequence[str]]  # of "opening", "mark", "practical", in the room's order
    outline_stands_in: bool = False  # the outline is a stand-in: its mistake is told already


def outline_problem(outline: tuple[Point, ...], units: Units) -> str | None:
    """What is wrong with an outline (corners in metres), or None.

    >>> outline_problem(((0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.0, 1.0)), "m") is None
    True
    >>> outline_problem(((0.0, 0.0), (2.0, 1.0), (2.0, 0.0), (0.0, 1.0)), "m")
    'the outline crosses or touches itself near [1, 0.5] m; give the corners in walking order'
    """
    for index, corner in enumerate(outline):
        if math.dist(corner, outline[(index + 1) % len(outline)]) < SLACK_M:
            return f"the corner {_spot(corner, units)} stands twice in a row; take one out"
    polygon = Polygon(outline)
    if not polygon.is_valid:
        where = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(polygon))
        near = f" near {_spot((float(where[1]), float(where[2])), units)}" if where else ""
        return f"the outline crosses or touches itself{near}; give the corners in walking order"
    if polygon.area < LEAST_ROOM_M2:
        return "the outline encloses no room"
    return None


def room_problems(
    standing: CheckedRoom, *, units: Units, plan_up_deg: float | None
) -> Iterator[Problem]:
    """Everything that does not fit in one room.

    Without `plan_up_deg` the shafts of pitched roof windows go unchecked.
    """
    room, where = standing.room, standing.path
    broken = outline_problem(room.outline, units)
    if broken is None:
        yield from _too_large(room, where, units)
    elif not standing.outline_stands_in:
        yield Problem(f"{where} › outline", broken)
    outline = Polygon(room.outline)
    inside = outline.buffer(SLACK_M) if broken is None else None
    faces: dict[str | None, list[tuple[str, Polygon]]] = {}  # a wall's letter; None is the ceiling
    for opening, label in zip(room.opening, standing.labels["opening"], strict=True):
        path = f"{where} › {label}"
        if opening.wall is None:
            faces.setdefault(None, []).append((label, Polygon(hole_corners(opening))))
            yield from _skylight_problems(opening, inside, path, units, plan_up_deg)
            continue
        wall, along, sill = opening.in_wall
        index = wall_index(wall, len(room.outline))
        if index is None and not standing.outline_stands_in:
            yield _no_such_wall(wall, room, f"{path} › wall")
            continue
        yield from _window_problems(opening, room, index if broken is None else None, path, units)
        far, head = along + opening.size[0], sill + opening.size[1]
        rectangle = shapely.box(along, sill, far, head)
        faces.setdefault(wall.strip().upper(), []).append((label, rectangle))
    for shapes in faces.values():
        for (first, shape), (second, beside) in combinations(shapes, 2):
            if shape.intersection(beside).area > SLACK_M:
                yield Problem(f"{where} › {second}", f"overlaps {first}; move one")
    for mark, label in zip(room.mark, standing.labels["mark"], strict=True):
        path = f"{where} › {label}"
        yield from _in_plan(mark.at, inside, f"{path} › at", "the room's outline", units)
        if inside is not None and inside.contains(shapely.Point(mark.at)):
            yield from _off_walls(mark.at, outline, f"{path} › at", units)
        yield from _under_ceiling(mark.height[1], room, f"{path} › height", units)
    for practical, label in zip(room.practical, standing.labels["practical"], strict=True):
        path = f"{where} › {label}"
        yield from _in_plan(practical.at, inside, f"{path} › at", "the room's outline", units)
        yield from _under_ceiling(practical.height, room, f"{path} › height", units)


def _too_large(room: Room, where: str, units: Units) -> Iterator[Problem]:
    longest = max(math.dist(*room.wall(index)) for index in range(len(room.outline)))
    for key, size_m in (("outline", longest), ("height", room.height)):
        if LARGEST_M < size_m < FAR_M:  # a height that is told already stands as far
            yield Problem(
                f"{where} › {key}",
                f"{format_length(size_m, units)} is no room's; expected at most "
                f"{format_length(LARGEST_M, units)}: is it in another unit?",
            )


def _skylight_problems(
    opening: Opening, inside: Polygon | None, path: str, units: Units, plan_up_deg: float | None
) -> Iterator[Problem]:
    """A hole that reaches out of the room, or a shaft too short for its pitch."""
    if inside is not None and not inside.contains(Polygon(hole_corners(opening))):
        yield Problem(
            f"{path} › at",
            f"{_spot(opening.at, units)} puts part of the hole outside the room; "
            "expected all of it within the outline",
        )
    if plan_up_deg is not None and opening.depth <= least_shaft_m(opening, plan_up_deg):
        given, wanted = _distinct(opening.depth, least_shaft_m(opening, plan_up_deg), units)
        yield Problem(
            f"{path} › depth",
            f"{given} is too small for a pitch of {opening.pitch:g}°; expected more than {wanted}",
        )


def _window_problems(
    opening: Opening, room: Room, wall: int | None, path: str, units: Units
) -> Iterator[Problem]:
    """A window that reaches beyond its wall, where that is known, or the ceiling."""
    _, near, sill = opening.in_wall
    far, head = near + opening.size[0], sill + opening.size[1]
    length = math.inf if wall is None else math.dist(*room.wall(wall))
    if wall is not None and (near < -SLACK_M or far > length + SLACK_M):
        end, limit = _distinct(far, length, units)
        start, zero = _distinct(near, 0.0, units)
        yield Problem(
            f"{path} › along",
            f"the opening runs from {start} to {end} along wall {wall_letter(wall)}; "
            f"expected it between {zero} and {limit}, the wall's length",
        )
    if head > room.height + SLACK_M:
        given, limit = _distinct(head, room.height, units)
        yield Problem(
            f"{path} › sill",
            f"with its height the head comes to {given}; "
            f"expected at most {limit}, the room's height",
        )


def _no_such_wall(wall: str, room: Room, path: str) -> Problem:
    last = wall_letter(len(room.outline) - 1)
    return Problem(path, f'there is no wall "{wall}"; expected a letter from A to {last}')


def _off_walls(spot: Point, outline: Polygon, path: str, units: Units) -> Iterator[Problem]:
    """A face that would stand in a wall: no light reaches it there."""
    off = float(outline.exterior.distance(shapely.Point(spot)))
    if off < NEAR_WALL_M:
        yield Problem(
            path,
            f"{_spot(spot, units)} is {format_length(off, units)} from a wall; expected "
            f"{format_length(NEAR_WALL_M, units)} or more, for somebody stands there",
        )


def block_corners(block: Outside) -> list[tuple[float, float]]:
    """Corners of a block on the plan, metres, counter-clockwise, after its turn.

    >>> shed = Outside(at=(1.0, 1.0), size=(2.0, 1.0, 3.0), turn=90.0)
    >>> [(round(x, 6), round(y, 6)) for x, y in block_corners(shed)][:2]
    [(1.0, 3.0), (0.0, 3.0)]
    """
    x, y = block.at
    box = shapely.box(x, y, x + block.size[0], y + block.size[1], ccw=True)
    turned = rotate(box, block.turn, origin=(x, y))
    return [(px, py) for px, py in turned.exterior.coords[:-1]]


def block_problems(
    block: Outside, rooms: Iterable[CheckedRoom], *, where: str
) -> Iterator[Problem]:
    """A block that stands in a room; `where` is its path by name."""
    foot = Polygon(block_corners(block))
    for standing in rooms:
        room = standing.room
        low, high = (
            max(block.base, room.floor),
            min(block.base + block.size[2], room.floor + room.height),
        )
        sound = Polygon(room.outline).is_valid and not standing.outline_stands_in
        if sound and low < high and foot.intersection(Polygon(room.outline)).area > LEAST_ROOM_M2:
            yield Problem(f"{where} › at", f"the block stands in {standing.path}; move it outside")


def exterior_problems(
    subject: Point,
    height_m: float,
    rooms: Iterable[CheckedRoom],
    blocks: Iterable[tuple[Outside, str]],
    *,
    where: str,
    units: Units,
) -> Iterator[Problem]:
    """A subject outdoors that stands in a room or a block; `where` is its setup's path by name.

    What hangs above its head or lies below the ground does not matter.
    """
    solids = [
        (standing.path, standing.room.outline, standing.room.floor, standing.room.height)
        for standing in rooms
        if not standing.outline_stands_in and Polygon(standing.room.outline).is_valid
    ]
    solids += [
        (path, tuple(block_corners(block)), block.base, block.size[2]) for block, path in blocks
    ]
    for path, outline, low, tall in solids:
        beside = low < height_m and low + tall > 0
        if beside and Polygon(outline).contains(shapely.Point(subject)):
            yield Problem(
                f"{where} › at",
                f"{_spot(subject, units)} stands in {path}; expected a place outdoors",
            )


def setup_problems(
    camera: Camera | None,
    key: Key | None,
    standing: CheckedRoom,
    *,
    mark: Any,
    where: str,
    units: Units,
) -> Iterator[Problem]:
    """What does not fit between a setup and its room; `where` is the setup's path by name.

    `mark` is what the setup says of its mark's name.
    """
    room, of_room = standing.room, standing.path
    sound = outline_problem(room.outline, units) is None
    inside = Polygon(room.outline).buffer(SLACK_M) if sound else None
    if camera is not None:
        path = f"{where} › camera"
        yield from _in_plan(camera.at, inside, f"{path} › at", of_room, units)
        yield from _under_ceiling(camera.height, room, f"{path} › height", units)
        toward = _target(camera, room, sound=sound)
        if toward is not None and math.dist(toward, camera.at) < SLACK_M:
            yield Problem(
                f"{path} › toward",
                f"{_spot(toward, units)} is the camera's own place on the plan; "
                "expected a place beside it",
            )
    if key is not None:
        yield from _in_plan(key.at, inside, f"{where} › key › from", of_room, units)
        yield from _under_ceiling(key.height, room, f"{where} › key › height", units)
        for target in room.mark:
            face = (*target.at, target.face_height_m)
            off = math.dist((*key.at, key.height), face)
            if target.name == mark and off < NEAR_LAMP_M:
                yield Problem(
                    f"{where} › key",
                    f"the lamp is {format_length(off, units)} from the face on the mark; expected "
                    f"{format_length(NEAR_LAMP_M, units)} or more",
                )
        if key.off is not None:
            yield from _off_problems(key.off, room, inside, f"{where} › key › off", of_room, units)


def _off_problems(
    off: Off, room: Room, inside: Polygon | None, path: str, of_room: str, units: Units
) -> Iterator[Problem]:
    if off.wall is not None and wall_index(off.wall, len(room.outline)) is None:
        yield _no_such_wall(off.wall, room, f"{path} › wall")
    if off.at is not None and off.height is not None:
        yield from _in_plan(off.at, inside, f"{path} › at", of_room, units)
        yield from _under_ceiling(off.height, room, f"{path} › height", units)


def _target(camera: Camera, room: Room, *, sound: bool) -> tuple[float, ...] | None:
    """Where on the plan a camera looks to, None where its target does not stand.

    No wall of a room whose outline is not `sound` has a window to look to.
    """
    if not isinstance(camera.toward, str):
        return camera.toward[:2]
    parts: tuple[Mark | Practical, ...] = (*room.mark, *room.practical)
    for part in parts:
        if part.name == camera.toward:
            return part.at
    for opening in room.opening:
        known = opening.wall is None or (
            sound and wall_index(opening.wall, len(room.outline)) is not None
        )
        if opening.name == camera.toward and known:
            return room.middle(opening)[:2]
    return None


def _in_plan(
    spot: Point, inside: Polygon | None, path: str, around: str, units: Units
) -> Iterator[Problem]:
    if inside is not None and not inside.contains(shapely.Point(spot)):
        yield Problem(path, f"{_spot(spot, units)} lies outside {around}; expected a place within")


def _under_ceiling(height_m: float, room: Room, path: str, units: Units) -> Iterator[Problem]:
    if height_m > room.height + SLACK_M:
        given, limit = _distinct(height_m, room.height, units)
        yield Problem(path, f"{given} is above the ceiling; expected at most {limit}")


def _distinct(value_m: float, limit_m: float, units: Units) -> tuple[str, str]:
    """A length and its limit for people, printed finer where they would look the same."""
    value, limit = format_length(value_m, units), format_length(limit_m, units)
    if value != limit or abs(value_m - limit_m) < SLACK_M:
        return value, limit
    given, wanted = (
        f"{_plain(length_m / unit_m(units), 6)} {units}" for length_m in (value_m, limit_m)
    )
    return given, wanted


def _spot(spot: Point | tuple[float, ...] | None, units: Units) -> str:
    """A place on the plan, in the numbers that the file is written in."""
    assert spot is not None
    x, y = (_plain(part / unit_m(units), 2) for part in spot[:2])
    return f"[{x}, {y}] {units}"


def _plain(value: float, digits: int) -> str:
    text = f"{abs(value):.{digits}f}".rstrip("0").rstrip(".")
    return f"−{text}" if value < 0 and text != "0" else text
