"""Scenes seen on the level: a flag from the side or on its wall, a wall with its windows."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..location.lengths import Units
from ..location.model import Mark, Room
from ..location.read import Location
from ..report.words import about, bearing
from ..rig.flag_placement import Position
from ..rig.flags import FlagOption
from ..rig.tape import TapeMeasures, sideways
from ..room.aperture import Aperture, aperture
from ..room.walls import face, on_wall
from ..sun.position import Floats
from .primitives import Scene

RULER_PT, TEXT_PT = 9.0, 3.0  # from a drawing to its ruler; from that to its words
EDGE_PT = 8.0  # free round what is seen from the side
BESIDE_PT, OVER_PT = 52.0, 30.0  # free for heights beside it, for distances over it
SAME_M = 0.03  # edges less apart are told as one
FEET_M = 0.3  # of a stand, each way
NAME_PT = 50.0


@dataclass(frozen=True, eq=False)
class Elevation:
    """What is seen on the level: its scene, what it shows, and what its edges measure.

    `mirrored`: one sees it with x going to the left. `margins_pt` are free left, over, right and
    below.
    """

    scene: Scene
    seen: str
    across: str
    up: str
    mirrored: bool
    margins_pt: tuple[float, float, float, float]


def flag_elevation(
    location: Location, room: Room, mark: Mark, option: FlagOption, position: Position,
    *, number: str = "",
) -> Elevation:  # fmt: skip
    """A flag from the side, or on the wall that it hangs flat before, with its heights.

    `number` is the opening's; without one it carries its name.
    """
    measures = option.measured(location, room, mark, position.hung)
    opening = aperture(room, room.opening_named(option.opening), plan_up_deg=location.site.plan_up)
    if measures.along_m is None:
        return _from_the_side(location, room, mark, option, position, measures, opening, number)
    return _on_its_wall(location, room, option, position, measures, opening, number)


def _named(scene: Scene, opening: Aperture, number: str, hole: Floats, **where: float) -> None:
    kind, text = ("opening", number) if number else ("opening name", opening.name)
    middle = hole.mean(axis=0)
    scene.label(kind, text, middle, away_pt=0.0, thing=hole, width_pt=NAME_PT, **where)


def _section(scene: Scene, low: Sequence[float], high: Sequence[float]) -> None:
    """Floor to ceiling, wall to wall."""
    scene.area("section", [low, (high[0], low[1]), high, (low[0], high[1])])


def _from_the_side(
    location: Location, room: Room, mark: Mark, option: FlagOption, position: Position,
    measures: TapeMeasures, opening: Aperture, number: str,
) -> Elevation:  # fmt: skip
    """Floor, ceiling, mark and flag as seen along the flag, the opening's light between."""
    units, way, ground = location.site.units, sideways(mark, position.hung), option.ground_m

    def seen(points: Floats) -> Floats:
        return np.stack((points[:, :2] @ way, points[:, 2] - ground), axis=-1)

    scene, base = Scene(), room.floor - ground
    across = np.array(room.outline) @ way
    _section(scene, (across.min(), base), (across.max(), base + room.height))
    left, right = float(np.array(mark.at) @ way) + mark.width / 2 * np.array([-1.0, 1.0])
    low, high = (base + height for height in mark.height)
    body = np.array([(left, low), (right, low), (right, high), (left, high)])
    hole = seen(opening.world(opening.rectangle))
    light = shapely.MultiPoint(np.concatenate((body, hole))).convex_hull
    scene.polygon("light", light)
    scene.area("mark", body, of="mark")
    scene.area("face", hole, of="opening")
    if option.stand is not None:
        x = float(position.centre[:2] @ way)
        _stand(scene, option, position, x, units, named=not number)
    flags = [seen(piece.corners()) for piece in position.pieces]
    for corners in flags:
        scene.area("flag", corners)
    _named(scene, opening, number, hole)
    scene.label("mark", mark.name, body.mean(axis=0), away_pt=0.0, thing=body, width_pt=NAME_PT)
    margins = _heights(scene, measures, np.concatenate(flags), units)
    right_deg = math.degrees(math.atan2(way[0], way[1])) + location.site.plan_up
    return Elevation(
        scene, "from the side", f"seen from the side, right is {bearing(right_deg)}",
        "above the floor", False, margins,
    )  # fmt: skip


def _stand(
    scene: Scene, option: FlagOption, position: Position, x: float, units: Units, *, named: bool
) -> None:
    assert option.stand is not None
    head = option.head_m(position)
    scene.line("stand", [(x, 0.0), (x, head)])
    for side in (-FEET_M, FEET_M):
        scene.line("stand", [(x + side, 0.0), (x, FEET_M)])
    if named:
        text = f"{option.stand.name}, head at {about(head).render(units)}"
        scene.label(
            "small", text, (x, head / 2), away_pt=6.0, thing=[(x, 0.0), (x, head)],
            needed=False, width_pt=1.7 * NAME_PT,
        )  # fmt: skip


def _on_its_wall(
    location: Location, room: Room, option: FlagOption, position: Position, measures: TapeMeasures,
    opening: Aperture, number: str,
) -> Elevation:  # fmt: skip
    """The wall before which a flag hangs flat, from the side on which it hangs."""
    units, letter, base = location.site.units, measures.walls[0][0], room.floor - option.ground_m
    index = room.wall_number(letter)
    length = math.dist(*room.wall(index))

    def seen(points: Floats) -> Floats:
        lifted: Floats = on_wall(room, index, points) + np.array([0.0, base])
        return lifted

    scene = Scene()
    _section(scene, (0.0, base), (length, base + room.height))
    window = seen(opening.world(opening.rectangle))
    scene.area("face", window)
    flags = [seen(piece.corners()) for piece in position.pieces]
    for corners in flags:
        scene.area("flag-veil", corners)
    scene.area("hole", window)
    _named(scene, opening, number, window)
    # One who stands inside has the wall's first corner on the right.
    mirrored, every = measures.indoors, np.concatenate(flags)
    left, _, right, below = _heights(scene, measures, every, units, mirrored=mirrored)
    assert measures.along_m is not None
    top = max(base + room.height, measures.top_m)
    stops = [stop for stop in measures.along_m if abs(stop) > SAME_M]
    _ruler(scene, top, every[:, 1].max(), stops, units)
    side, foot = ("inside", "floor") if mirrored else ("outside", "ground")
    return Elevation(
        scene, f"wall {letter} from {side}", f"wall {letter} from {side}, from its first corner",
        f"above the {foot}", mirrored, (left, OVER_PT, right, below),
    )  # fmt: skip


def _heights(
    scene: Scene, measures: TapeMeasures, corners: Floats, units: Units, *, mirrored: bool = False
) -> tuple[float, float, float, float]:
    """Up to the flag's lower and upper edge, on one ruler on the nearer side; margins for it."""
    (low, _), (high, _) = scene.bounds().tolist()
    ends = float(corners[:, 0].min()), float(corners[:, 0].max())
    to_low = ends[0] - low < high - ends[1]
    near, side = (ends[0], low) if to_low else (ends[1], high)
    way = -1.0 if to_low != mirrored else 1.0  # on the drawing, to the left or the right
    heights = [measures.bottom_m]
    if measures.top_m - measures.bottom_m > SAME_M:
        heights.append(measures.top_m)
    off = (way * RULER_PT, 0.0)
    scene.beside("measure", [(side, 0.0), (side, heights[-1])], [off, off])
    scene.sign("tick", (side, 0.0), off_pt=off)
    for height in heights:
        scene.beside("hair", [(near, height), (side, height)], [(0.0, 0.0), off])
        scene.sign("tick", (side, height), off_pt=off)
        scene.label(
            "measure", about(height).render(units), (side, height), away_pt=TEXT_PT, off_pt=off,
            toward_deg=0.0 if way > 0 else 180.0,
        )  # fmt: skip
    return (
        BESIDE_PT if way < 0 else EDGE_PT, EDGE_PT, EDGE_PT if way < 0 else BESIDE_PT, EDGE_PT
    )  # fmt: skip


def _ruler(scene: Scene, top: float, edge: float, stops: Sequence[float], units: Units) -> None:
    """Distances along a wall from its first corner, on one ruler over it."""
    if not stops:
        return
    off = (0.0, RULER_PT)
    scene.beside("measure", [(min(0.0, *stops), top), (max(0.0, *stops), top)], [off, off])
    scene.sign("tick", (0.0, top), off_pt=off)
    for stop in stops:
        scene.beside("hair", [(stop, edge), (stop, top)], [(0.0, 0.0), off])
        scene.sign("tick", (stop, top), off_pt=off)
        scene.label(
            "measure", about(stop).render(units), (stop, top), away_pt=TEXT_PT, off_pt=off,
            toward_deg=90.0,
        )  # fmt: skip


def wall_elevation(room: Room, letter: str, openings: Sequence[Aperture]) -> Scene:
    """A wall with its windows by name, along it from its first corner and up from the floor."""
    scene, index = Scene(), room.wall_number(letter)
    length = math.dist(*room.wall(index))
    scene.area("floor", [(0.0, 0.0), (length, 0.0), (length, room.height), (0.0, room.height)])
    scene.surface(letter, (0.0, 0.0), (1.0, 0.0), (0.0, 1.0))
    for opening in openings:
        if opening.wall == index:
            corners = face(opening, room)
            scene.area("face", corners)
            _named(scene, opening, "", corners)
    return scene
