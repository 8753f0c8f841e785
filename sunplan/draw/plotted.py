"""What a printed sheet draws: a room from above, and each flag from above and from the side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..light.screen import Screen
from ..location.geometry import hole_corners
from ..location.lengths import Units
from ..location.model import Mark, Opening, Room, Setup, wall_index, wall_letter
from ..location.read import Location
from ..report.words import about
from ..rig.flags import FlagOption, Position
from ..rig.tape import Tape, foot, sideways, tape
from ..room.aperture import aperture
from ..room.camera import aim
from .sketch import Box, Onto, Sketch, Spot

WALL_PT, FLAG_PT, HAIR_PT = 1.8, 2.6, 0.5
LETTER_IN_MM, DISC_OUT_MM = 2.6, 3.4  # of a wall's letter and an opening's number, off the wall
SIZE_MM = 1.6  # of cameras and lamps
FREE: Box = (10.0, 7.0, 10.0, 7.0)  # round a plan: left, over, right, under
NORTH_MM = 3.2
NAME_MM = 7.0  # a flag drawn larger holds its name
OVER_MM = 9.0  # a flag's distances along a wall
EDGE_MM = 3.0  # round what is seen from the side
BESIDE_MM = 18.0  # a flag's heights stand there
SAME_M = 0.03  # edges less apart are told as one
FEET_M = 0.3  # of a stand, each way


@dataclass(frozen=True, eq=False)
class Hung:
    """One place of a flag with the name it has on the sheet."""

    name: str
    option: FlagOption
    position: Position


@dataclass(frozen=True)
class Seen:
    """A setup on a room's drawing, with when it is shot."""

    setup: Setup
    time: str


def numbers(room: Room) -> dict[str, str]:
    """The number that each opening of a room has on its sheet."""
    return {one.name: str(index) for index, one in enumerate(room.opening, 1)}


def room_plan(
    location: Location,
    room: Room,
    setups: Sequence[Seen],
    flags: Sequence[Hung],
    *,
    width_mm: float,
    most_mm: float,
) -> Sketch:
    """A room from above with all that stands in it."""
    onto, made = _walls(room, [one.position for one in flags], width_mm, most_mm, FREE)
    for one in setups:
        _cone(made, onto, room, one.setup)
    for opening in room.opening:
        _opening(made, onto, room, opening)
    for hung in flags:
        _flag(made, onto, hung.position)
    for mark in room.mark:
        _mark(made, onto, mark)
    for practical in room.practical:
        x, y = onto(practical.at)
        half = SIZE_MM / 2
        corners = [(x - half, y - half), (x + half, y - half), (x + half, y + half)]
        made.polygon([*corners, (x - half, y + half)], fill="grey", pt=0.5)
        made.keep_clear((x, y), half + 0.4)
    for one in setups:
        _stands(made, onto, room, one)
    for opening in room.opening:
        _number(made, onto, room, opening)
    _north(made, location.site.plan_up)
    for index in range(len(room.outline)):
        _letter(made, onto, room, index)
    for hung in flags:
        _flag_name(made, onto, hung)
    for mark in room.mark:
        _named(made, onto, mark)
    for one in setups:
        x, y = onto(one.setup.camera.at)
        _, way = _looks(room, one.setup)
        made.label(one.time, (x, y), away_mm=2.2, toward=(-way[0], way[1]), bold=True)
    for practical in room.practical:
        made.label(practical.name, onto(practical.at), away_mm=1.4)
    return made


def flag_plan(
    location: Location, room: Room, mark: Mark, hung: Hung, *, width_mm: float, most_mm: float
) -> Sketch:
    """A flag from above, with its middle's distances from walls."""
    position, units = hung.position, location.site.units
    onto, made = _walls(room, [position], width_mm, most_mm, (6.5, 6.5, 6.5, 6.5))
    opening = room.opening_named(hung.option.opening)
    _opening(made, onto, room, opening)
    _mark(made, onto, mark)
    _flag(made, onto, position)
    _number(made, onto, room, opening)
    found = measured(location, room, mark, hung.option, position.hung)
    for index in range(len(room.outline)):
        _letter(made, onto, room, index)
    middle = position.centre[:2].tolist()
    if found.along_m is None:
        for letter, away in found.walls:
            made.measure(onto(middle), onto(foot(room, letter, middle)), about(away).render(units))
    else:
        made.measure(onto(mark.at), onto(middle), about(found.from_mark_m).render(units))
    _named(made, onto, mark)
    return made


def flag_side(
    location: Location, room: Room, mark: Mark, hung: Hung, *, width_mm: float, most_mm: float
) -> tuple[Sketch, str]:
    """A flag from the side, or on its wall, with its heights; and what is seen."""
    found = measured(location, room, mark, hung.option, hung.position.hung)
    if found.along_m is None:
        return _from_the_side(location, room, mark, hung, found, width_mm, most_mm)
    return _on_its_wall(location, room, hung, found, width_mm, most_mm)


def measured(location: Location, room: Room, mark: Mark, option: FlagOption, hung: Screen) -> Tape:
    """A flag's measures."""
    wall = room.opening_named(option.opening).wall
    outside = None if wall is None or option.placement != "outside" else wall.strip().upper()
    return tape(room, mark, hung, plan_up_deg=location.site.plan_up, outside=outside)


def _walls(
    room: Room, positions: Sequence[Position], width_mm: float, most_mm: float, free: Box
) -> tuple[Onto, Sketch]:
    """The empty room, large enough for flags before it as well."""
    spots = [np.array(room.outline)]
    spots += [piece.corners()[:, :2] for one in positions for piece in one.pieces]
    every = np.concatenate(spots)
    low, high = every.min(axis=0).tolist(), every.max(axis=0).tolist()
    onto = Onto(low, high, width_mm=width_mm, most_mm=most_mm, edges_mm=free)
    made = onto.empty()
    made.polygon(onto.all(room.outline), fill="pale", pt=WALL_PT)
    made.keep_off(onto.all([*room.outline, room.outline[0]]))
    return onto, made


def _out(room: Room, letter: str) -> Spot:
    """Outward of a wall, as y goes down the paper."""
    _, (x, y) = room.wall_way(letter)
    return y, x


def _letter(made: Sketch, onto: Onto, room: Room, index: int) -> None:
    """A wall's letter inside it, where no opening is."""
    letter = wall_letter(index)
    (x0, y0), (x1, y1) = room.wall(index)
    length = math.dist((x0, y0), (x1, y1))
    busy = [
        (one.along or 0.0, (one.along or 0.0) + one.size[0])
        for one in room.opening
        if one.wall is not None and one.wall.strip().upper() == letter
    ]

    def free(share: float) -> float:
        away = min((max(a - share * length, share * length - b) for a, b in busy), default=length)
        return min(away, 0.3) - 0.2 * abs(share - 0.5)

    share = max(np.linspace(0.1, 0.9, 17).tolist(), key=free)
    x, y = onto((x0 + share * (x1 - x0), y0 + share * (y1 - y0)))
    out = _out(room, letter)
    made.words(letter, (x - out[0] * LETTER_IN_MM, y - out[1] * LETTER_IN_MM), bold=True)


def _opening(made: Sketch, onto: Onto, room: Room, opening: Opening) -> None:
    if opening.ceiling:
        corners = onto.all(hole_corners(opening))
        made.polygon(corners, fill="white", pt=0.9, dashed=True)
        return
    assert opening.wall is not None
    assert opening.along is not None
    (x, y), (way_x, way_y) = room.wall_way(opening.wall)
    first, last = (
        onto((x + along * way_x, y + along * way_y))
        for along in (opening.along, opening.along + opening.size[0])
    )
    out = _out(room, opening.wall)
    half = 0.7
    corners = [
        (spot[0] + side * half * out[0], spot[1] + side * half * out[1])
        for spot, side in ((first, -1), (last, -1), (last, 1), (first, 1))
    ]
    made.polygon(corners, fill="white", pt=0.9)
    made.line(first, last, pt=0.5)


def _number(made: Sketch, onto: Onto, room: Room, opening: Opening) -> None:
    """An opening's number: outside its wall, or on a corner of its hole, above all else."""
    if opening.wall is None:
        corners = onto.all(hole_corners(opening))
        at = min(corners, key=lambda one: min(math.dist(one, onto(m.at)) for m in room.mark))
        made.disc(numbers(room)[opening.name], max(corners, key=lambda one: math.dist(one, at)))
        return
    (x, y, _), out = room.middle(opening), _out(room, opening.wall)
    x, y = onto((x, y))
    at = (x + out[0] * DISC_OUT_MM, y + out[1] * DISC_OUT_MM)
    made.disc(numbers(room)[opening.name], at)


def _mark(made: Sketch, onto: Onto, mark: Mark) -> None:
    radius = max(onto.per_m * mark.width / 2, 1.2)
    made.circle(onto(mark.at), radius, fill="white", pt=0.8)
    made.circle(onto(mark.at), 0.4, fill="black")
    made.keep_clear(onto(mark.at), radius * 0.8)


def _named(made: Sketch, onto: Onto, mark: Mark) -> None:
    radius = max(onto.per_m * mark.width / 2, 1.2)
    made.label(mark.name, onto(mark.at), away_mm=radius + 0.4, toward=(0.0, 1.0))


def _flag(made: Sketch, onto: Onto, position: Position) -> None:
    for piece in position.pieces:
        corners = onto.all(piece.corners()[:, :2].tolist())
        made.polygon(corners, fill="dark", pt=FLAG_PT)
        made.keep_clear_of(corners)


def _flag_name(made: Sketch, onto: Onto, hung: Hung) -> None:
    """On the flag where it is large enough, else beside it."""
    at = onto(hung.position.centre.tolist())
    xs, ys = zip(*onto.all(hung.position.hung.corners()[:, :2].tolist()), strict=True)
    if min(max(xs) - min(xs), max(ys) - min(ys)) > NAME_MM:
        made.words(hung.name, at, bold=True, fill="white", halo=False)
    else:
        made.label(hung.name, at, away_mm=1.6, bold=True)


def _looks(room: Room, setup: Setup) -> tuple[float, Spot]:
    """How far a camera is from what it looks at, metres, and the way there."""
    at, target = setup.camera.at, aim(room, setup)[:2]
    reach = max(math.dist(at, target), 1e-6)
    return reach, ((target[0] - at[0]) / reach, (target[1] - at[1]) / reach)


def _cone(made: Sketch, onto: Onto, room: Room, setup: Setup) -> None:
    """The edges of what a camera sees, as far as what it looks at."""
    reach, way = _looks(room, setup)
    turn, half = math.atan2(way[1], way[0]), math.radians(setup.camera.view_deg[0] / 2)
    at = setup.camera.at
    for edge in (turn - half, turn + half):
        end = (at[0] + reach * math.cos(edge), at[1] + reach * math.sin(edge))
        seen = shapely.LineString((at, end)).intersection(shapely.Polygon(room.outline))
        nearest = min(shapely.get_parts(seen), key=shapely.Point(at).distance)
        made.line(onto(at), onto(nearest.coords[-1]), pt=HAIR_PT)


def _stands(made: Sketch, onto: Onto, room: Room, one: Seen) -> None:
    """A setup's camera, and its key with a dotted line to the mark."""
    setup = one.setup
    _, way = _looks(room, setup)
    x, y = onto(setup.camera.at)
    turn = math.atan2(-way[1], way[0])
    points = [
        (x + SIZE_MM * math.cos(turn + off), y + SIZE_MM * math.sin(turn + off))
        for off in (0.0, 2.4, -2.4)
    ]
    made.polygon(points, fill="black", pt=0.6)
    made.keep_clear((x, y), SIZE_MM)
    if setup.key is not None:
        x, y = onto(setup.key.at)
        made.line((x, y), onto(room.mark_named(setup.mark).at), pt=HAIR_PT, dashed=True)
        made.circle((x, y), SIZE_MM, fill="white", pt=0.9)
        half = SIZE_MM * 0.7
        made.line((x - half, y - half), (x + half, y + half), pt=0.9)
        made.line((x - half, y + half), (x + half, y - half), pt=0.9)
        made.keep_clear((x, y), SIZE_MM)


def _north(made: Sketch, plan_up_deg: float) -> None:
    """An arrow to true north, in the upper right corner."""
    x, y = made.width_mm - 5.5, 6.0
    dx, dy = -math.sin(math.radians(plan_up_deg)), -math.cos(math.radians(plan_up_deg))
    foot, tip = (x - NORTH_MM * dx, y - NORTH_MM * dy), (x + NORTH_MM * dx, y + NORTH_MM * dy)
    made.line(foot, tip, pt=0.9)
    sides = [
        (tip[0] - 1.6 * dx + 0.8 * side * dy, tip[1] - 1.6 * dy - 0.8 * side * dx)
        for side in (1, -1)
    ]
    made.polygon([tip, *sides], fill="black")
    made.keep_clear((x, y), NORTH_MM)
    made.words("N", (x - 3.0 * abs(dy) - 0.6, y + 3.0 * dx), bold=True)


def _from_the_side(
    location: Location, room: Room, mark: Mark, hung: Hung, found: Tape,
    width_mm: float, most_mm: float,
) -> tuple[Sketch, str]:  # fmt: skip
    """Floor, ceiling, mark and flag as seen along the flag."""
    position, option, units = hung.position, hung.option, location.site.units
    way, ground = sideways(mark, position.hung), option.ground_m
    corners = [
        [float(spot[:2] @ way), float(spot[2]) - ground]
        for piece in position.pieces
        for spot in piece.corners()
    ]
    across = [float(np.array(one) @ way) for one in room.outline]
    base = room.floor - ground
    onto, hand = _upright(across, corners, (base, base + room.height), EDGE_MM, width_mm, most_mm)
    made = onto.empty()
    _section(made, onto, (min(across), base), (max(across), base + room.height))
    opening = room.opening_named(option.opening)
    hole = aperture(room, opening, plan_up_deg=location.site.plan_up)
    seen = onto.all(
        [[float(spot[:2] @ way), float(spot[2]) - ground] for spot in hole.world(hole.rectangle)]
    )
    made.polygon(seen, fill="white", pt=1.2)
    at = float(np.array(mark.at) @ way)
    low, high = (base + one for one in mark.height)
    half = mark.width / 2
    body = [(at - half, low), (at + half, low), (at + half, high), (at - half, high)]
    made.polygon(onto.all(body), fill="white", pt=0.8)
    made.keep_clear_of(onto.all(body))
    middle = float(position.centre[:2] @ way)
    if option.stand is not None:
        head = option.head_m(position)
        made.line(onto((middle, 0.0)), onto((middle, head)), pt=0.9)
        for side in (-FEET_M, FEET_M):
            made.line(onto((middle, FEET_M)), onto((middle + side, 0.0)), pt=0.9)
        made.keep_clear_of(onto.all([(middle - 0.05, 0.0), (middle + 0.05, head)]))
    made.polygon(onto.all(corners), fill="dark", pt=FLAG_PT)
    made.keep_clear_of(onto.all(corners))
    made.disc(numbers(room)[opening.name], seen[0])
    _heights(made, onto, found, corners, units, hand)
    made.label(mark.name, onto((at, (low + high) / 2)), away_mm=onto.per_m * half + 0.6)
    return made, "from the side"


def _on_its_wall(
    location: Location, room: Room, hung: Hung, found: Tape, width_mm: float, most_mm: float
) -> tuple[Sketch, str]:
    """The wall before which a flag hangs flat, from the side on which it hangs."""
    option, units = hung.option, location.site.units
    letter = found.walls[0][0]
    (first_x, first_y), (way_x, way_y) = room.wall_way(letter)
    index = wall_index(letter, len(room.outline))
    assert index is not None
    length, ground = math.dist(*room.wall(index)), option.ground_m
    # One who stands inside has the wall's first corner on the right.
    hand = -1.0 if found.indoors else 1.0

    def seen(spot: Sequence[float]) -> Spot:
        along = (float(spot[0]) - first_x) * way_x + (float(spot[1]) - first_y) * way_y
        return hand * along, float(spot[2]) - ground

    corners = [list(seen(one)) for piece in hung.position.pieces for one in piece.corners()]
    base = room.floor - ground
    assert found.along_m is not None
    start, end = found.along_m
    sides = sorted((0.0, hand * length))
    onto, near = _upright(sides, corners, (base, base + room.height), OVER_MM, width_mm, most_mm)
    made = onto.empty()
    _section(made, onto, (sides[0], base), (sides[1], base + room.height))
    opening = room.opening_named(option.opening)
    hole = aperture(room, opening, plan_up_deg=location.site.plan_up)
    window = onto.all([seen(one) for one in hole.world(hole.rectangle)])
    made.polygon(window, fill="white", pt=1.2)
    for piece in hung.position.pieces:
        made.polygon(onto.all([seen(one) for one in piece.corners()]), fill="grey", pt=FLAG_PT)
    made.polygon(window, pt=0.8, dashed=True)
    made.disc(numbers(room)[opening.name], _middle(window))
    made.keep_clear_of(onto.all(corners))
    _heights(made, onto, found, corners, units, near)
    stops = [
        (onto((hand * stop, 0.0))[0], about(stop).render(units))
        for stop in (start, end)
        if abs(stop) > SAME_M
    ]
    y = OVER_MM - 2.5
    for x, _ in stops:
        made.line((x, onto((0.0, found.top_m))[1]), (x, y), pt=HAIR_PT)
    made.ruler_along(y, onto((0.0, 0.0))[0], stops)
    side = "inside" if found.indoors else "outside"
    return made, f"wall {letter} from {side}"


def _section(made: Sketch, onto: Onto, low: Spot, high: Spot) -> None:
    """Floor to ceiling, wall to wall."""
    corners = [low, (high[0], low[1]), high, (low[0], high[1])]
    made.polygon(onto.all(corners), fill="pale", pt=WALL_PT)
    made.keep_off(onto.all([*corners, low]))


def _upright(
    across: Sequence[float], corners: Sequence[Sequence[float]], tall: tuple[float, float],
    over_mm: float, width_mm: float, most_mm: float,
) -> tuple[Onto, int]:  # fmt: skip
    """What is seen on the level onto the paper; which side has the flag's heights, -1 the left."""
    flag, heights = [one[0] for one in corners], [one[1] for one in corners]
    xs = [*across, *flag]
    side = -1 if min(flag) - min(xs) < max(xs) - max(flag) else 1
    left, right = (BESIDE_MM, EDGE_MM) if side < 0 else (EDGE_MM, BESIDE_MM)
    onto = Onto(
        (min(xs), min(tall[0], 0.0)), (max(xs), max(tall[1], *heights)),
        width_mm=width_mm, most_mm=most_mm, edges_mm=(left, over_mm, right, EDGE_MM),
    )  # fmt: skip
    return onto, side


def _heights(
    made: Sketch, onto: Onto, found: Tape, corners: Sequence[Sequence[float]], units: Units,
    side: int,
) -> None:  # fmt: skip
    """Up to the lower edge and the upper, beside the drawing."""
    edges = [found.bottom_m]
    if found.top_m - found.bottom_m > SAME_M:
        edges.append(found.top_m)
    xs = [onto(one)[0] for one in corners]
    x = BESIDE_MM - 2.0 if side < 0 else made.width_mm - BESIDE_MM + 2.0
    near = min(xs) if side < 0 else max(xs)
    stops = [(onto((0.0, edge))[1], about(edge).render(units)) for edge in edges]
    for y, _ in stops:
        made.line((near, y), (x, y), pt=HAIR_PT)
        made.keep_off([(near, y), (x, y)])
    made.ruler_up(x, onto((0.0, 0.0))[1], stops, side)


def _middle(corners: Sequence[Spot]) -> Spot:
    xs, ys = zip(*corners, strict=True)
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
