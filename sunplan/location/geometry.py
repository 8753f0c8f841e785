"""Does a room hold together? Geometry that a file must keep, told as problems by name."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

import shapely
from shapely import Polygon
from shapely.affinity import rotate

from ..errors import Problem
from .lengths import Units, format_length
from .model import Opening, Room, Setup, wall_index, wall_letter

SLACK_M = 1e-6  # rounding of feet and centimetres, not a tolerance of the place


def hole_corners(opening: Opening) -> list[tuple[float, float]]:
    """Corners of a skylight's hole on the plan, counter-clockwise, metres."""
    assert opening.at is not None
    x, y = opening.at
    width, length = opening.size
    box = shapely.box(x - width / 2, y - length / 2, x + width / 2, y + length / 2, ccw=True)
    turned = rotate(box, opening.turn, origin=(x, y))
    return [(px, py) for px, py in turned.exterior.coords[:-1]]


def least_shaft_m(opening: Opening, plan_up_deg: float) -> float:
    """Depth below which a pitched roof window's glass would cut into its ceiling, metres."""
    if opening.pitch == 0 or opening.faces is None or opening.at is None:
        return 0.0
    angle = math.radians(opening.faces - plan_up_deg)
    down = (math.sin(angle), math.cos(angle))
    reach = max(
        (px - opening.at[0]) * down[0] + (py - opening.at[1]) * down[1]
        for px, py in hole_corners(opening)
    )
    return reach * math.tan(math.radians(opening.pitch))


def outline_problem(room: Room) -> str | None:
    """What is wrong with an outline, or None."""
    corners = room.outline
    for index, corner in enumerate(corners):
        if math.dist(corner, corners[(index + 1) % len(corners)]) < SLACK_M:
            return f"corner [{corner[0]:g}, {corner[1]:g}] (metres) stands twice in a row"
    polygon = Polygon(corners)
    if not polygon.is_valid:
        reason = shapely.is_valid_reason(polygon)
        return f"the outline crosses or touches itself ({reason}, metres); walk the walls in order"
    if polygon.area < 0.01:
        return "the outline encloses no room"
    return None


def room_problems(room: Room, *, where: str, units: Units, plan_up_deg: float) -> Iterator[Problem]:
    """Everything that does not fit in one room; `where` is the room's path by name."""

    def told(metres: float) -> str:
        return format_length(metres, units)

    broken = outline_problem(room)
    if broken is not None:
        yield Problem(f"{where} › outline", broken)
        return
    outline = Polygon(room.outline)
    inside = outline.buffer(SLACK_M)
    walls = len(room.outline)
    on_wall: dict[int, list[tuple[str, Polygon]]] = {}
    holes: list[tuple[str, Polygon]] = []
    for opening in room.opening:
        path = f'{where} › opening "{opening.name}"'
        if opening.ceiling:
            hole = Polygon(hole_corners(opening))
            if not inside.contains(hole):
                yield Problem(path, "the skylight's hole sticks out of the room's outline")
            holes.append((opening.name, hole))
            least = least_shaft_m(opening, plan_up_deg)
            if opening.depth <= least:
                yield Problem(
                    f"{path} › depth",
                    f"{told(opening.depth)} is too small for a pitch of {opening.pitch:g}°; "
                    f"expected more than {told(least)}",
                )
            continue
        assert opening.wall is not None
        assert opening.along is not None
        assert opening.sill is not None
        index = wall_index(opening.wall, walls)
        if index is None:
            yield Problem(
                f"{path} › wall",
                f'no wall "{opening.wall}"; expected a letter from A to {wall_letter(walls - 1)}',
            )
            continue
        length = math.dist(*room.wall(index))
        width, height = opening.size
        if opening.along < -SLACK_M or opening.along + width > length + SLACK_M:
            yield Problem(
                f"{path} › along",
                f"the opening runs from {told(opening.along)} to "
                f"{told(opening.along + width)}; expected it between 0 and {told(length)}, "
                f"the length of wall {wall_letter(index)}",
            )
        if opening.sill + height > room.height + SLACK_M:
            yield Problem(
                f"{path} › size",
                f"its head is at {told(opening.sill + height)}; "
                f"expected at most {told(room.height)}, the room's height",
            )
        rectangle = shapely.box(
            opening.along, opening.sill, opening.along + width, opening.sill + height
        )
        on_wall.setdefault(index, []).append((opening.name, rectangle))
    for shapes in (*on_wall.values(), holes):
        for (first, one), (second, other) in combinations(shapes, 2):
            if one.intersection(other).area > SLACK_M:
                yield Problem(
                    f'{where} › opening "{second}"', f'overlaps opening "{first}"; move one'
                )
    for mark in room.mark:
        path = f'{where} › mark "{mark.name}"'
        if not inside.contains(shapely.Point(mark.at)):
            yield Problem(f"{path} › at", f"{_spot(mark.at)} lies outside the room's outline")
        if mark.height[1] > room.height + SLACK_M:
            yield Problem(
                f"{path} › height",
                f"reaches {told(mark.height[1])}; expected at most the room's {told(room.height)}",
            )
    for practical in room.practical:
        path = f'{where} › practical "{practical.name}"'
        if not inside.contains(shapely.Point(practical.at)):
            yield Problem(f"{path} › at", f"{_spot(practical.at)} lies outside the room's outline")
        if practical.height > room.height + SLACK_M:
            yield Problem(
                f"{path} › height",
                f"{told(practical.height)}; expected at most the room's {told(room.height)}",
            )


def setup_problems(setup: Setup, room: Room, *, where: str, units: Units) -> Iterator[Problem]:
    """What does not fit between a setup and its room."""
    inside = Polygon(room.outline).buffer(SLACK_M)
    stands = [("camera", setup.camera.at, setup.camera.height)]
    if setup.key is not None:
        stands.append(("key", setup.key.at, setup.key.height))
    for part, at, height in stands:
        key = "from" if part == "key" else "at"
        if not inside.contains(shapely.Point(at)):
            yield Problem(
                f"{where} › {part} › {key}", f'{_spot(at)} lies outside room "{room.name}"'
            )
        if height > room.height + SLACK_M:
            yield Problem(
                f"{where} › {part} › height",
                f"{format_length(height, units)}; "
                f"expected at most the room's {format_length(room.height, units)}",
            )
    toward = setup.camera.toward
    if isinstance(toward, tuple) and math.dist(toward[:2], setup.camera.at) < SLACK_M:
        yield Problem(f"{where} › camera › toward", "the camera looks at its own place")


def _spot(at: tuple[float, float]) -> str:
    return f"[{at[0]:.2f}, {at[1]:.2f}] m".replace("-", "−")
