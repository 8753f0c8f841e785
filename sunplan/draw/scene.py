"""The scene of a room from above: page, sheet, form and pictures draw it, each at its size."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..light.resolved import ResolvedSetup
from ..light.screen import Screen
from ..location.model import Mark, Room, wall_letter
from ..location.read import Location
from ..report.words import about
from ..rig.flag_placement import Position
from ..rig.tape import TapeMeasures, foot
from ..room.aperture import Aperture, aperture
from ..room.camera import aim_point, field_of_view
from ..room.walls import LaidWall, face, on_wall
from .primitives import Scene, circle

WALL_M = 0.1  # how thick a wall is drawn
LETTER_PT = 2.5  # from a wall to its letter
NAME_PT, BESIDE_PT = 74.0, 38.0  # a longer name takes a second line; left or right of a room
SPOTS = 17  # along a wall, for its letter


@dataclass(frozen=True, eq=False)
class Standing:
    """A setup in its room, by what its camera and lamp are labelled with.

    `sheet` is the diffusion or board before the lamp, `panel` negative fill.
    """

    setup: ResolvedSetup
    camera: str
    key: str = ""
    sheet: Screen | None = None
    panel: Screen | None = None


def named(setup: ResolvedSetup) -> Standing:
    """A setup whose camera carries its name, and whose lamp its own."""
    key = "" if setup.key is None else f"key: {setup.key.lamp}"
    return Standing(setup, f"camera:\n{setup.name}", key)


@dataclass(frozen=True, eq=False)
class Hanging:
    """A flag at one of its places: its label, whose it is; dashed where it does not hang.

    `wall` is the number of the wall that it hangs before, None where it hangs before none.
    """

    label: str
    position: Position
    of: str = ""
    idle: bool = False
    wall: int | None = None


def numbers_of(room: Room) -> dict[str, str]:
    """The number of each opening of a room, by name."""
    return {opening.name: str(number) for number, opening in enumerate(room.opening, 1)}


def room_scene(
    location: Location,
    room: Room,
    *,
    numbers: Mapping[str, str] | None = None,
    standing: Sequence[Standing] = (),
    hanging: Sequence[Hanging] = (),
    marks: Collection[str] | None = None,
    practicals: bool = True,
    signed: bool = False,
    laid: Mapping[int, LaidWall] | None = None,
) -> Scene:
    """A room with all that stands in it.

    `numbers` is what openings carry, as lists beside the drawing have it; left out, their names.
    `marks` are those that are drawn, by name; all if left out. `signed`: they carry a sign that a
    list has. `laid` are walls laid down beside the plan, by number.
    """
    scene = Scene()
    laid = {} if laid is None else laid
    openings = [
        aperture(room, opening, plan_up_deg=location.site.plan_up) for opening in room.opening
    ]
    for index, wall in laid.items():
        _laid(scene, room, index, wall, openings)
    outline = np.array(room.outline)
    scene.area("floor", outline)
    for stand in standing:
        scene.area("field", field_of_view(stand.setup.view, room))
    scene.surface("floor", (0.0, 0.0), (1.0, 0.0), (0.0, 1.0))
    inside = shapely.Polygon(outline)
    scene.polygon("wall", inside.buffer(WALL_M, join_style="mitre").difference(inside))
    for number, opening in enumerate(openings, 1):
        text = "" if numbers is None else numbers[opening.name]
        _opening(scene, room, opening, f"opening {number}", text, laid)
    for number, mark in enumerate(room.mark, 1):
        if marks is None or mark.name in marks:
            _mark(scene, mark, number, signed=signed)
    for practical in room.practical if practicals else ():
        scene.sign("practical", practical.at)
        scene.label("lamp", practical.name, practical.at, away_pt=6.0, width_pt=NAME_PT)
    for stand in standing:
        _standing(scene, room, stand)
    for hung in hanging:
        _flag(scene, room, hung, laid)
    for index in range(len(outline)):
        _letter(scene, room, index, laid.get(index))
    return scene


def flag_scene(
    location: Location,
    room: Room,
    mark: Mark,
    hanging: Hanging,
    measures: TapeMeasures,
    *,
    numbers: Mapping[str, str] | None = None,
    standing: Sequence[Standing] = (),
) -> Scene:
    """A room from above with one flag, and its middle's distances from two walls.

    Flat on a wall it has but its distance from the mark.
    """
    scene = room_scene(
        location, room, numbers=numbers, hanging=[hanging], standing=standing,
        marks=[mark.name], practicals=bool(standing),
    )  # fmt: skip
    middle, units = hanging.position.centre[:2].tolist(), location.site.units
    if measures.along_m is not None:
        scene.measure(mark.at, middle, about(measures.from_mark_m).render(units))
        return scene
    for letter, away_m in measures.walls:
        scene.measure(middle, foot(room, letter, middle), about(away_m).render(units))
    return scene


def _laid(
    scene: Scene, room: Room, index: int, wall: LaidWall, openings: Sequence[Aperture]
) -> None:
    """A wall beside the plan with its openings, tied to its own place."""
    first, second = room.wall(index)
    for corner, along in ((first, 0.0), (second, wall.length_m)):
        scene.line("tie", [corner, wall.put(np.array([[along, 0.0]]))[0]])
    scene.area("laid", wall.corners, of=wall_letter(index))
    for opening in openings:
        if opening.wall == index:
            scene.area("face", wall.put(face(opening, room)))
    scene.surface(wall_letter(index), wall.foot, wall.along, wall.out)


def _opening(
    scene: Scene, room: Room, opening: Aperture, of: str, number: str, laid: Mapping[int, LaidWall]
) -> None:
    """An opening with its tag, or its name where it has no number."""
    kind, text = ("opening", number) if number else ("opening name", opening.name)
    inner = opening.world(opening.rectangle)[:, :2]
    if opening.wall is None:
        scene.area("hole", inner, of=of)
        rim = np.concatenate((inner, inner[:1]))
        middle = inner.mean(axis=0)
        scene.label(kind, text, middle, away_pt=0.0, thing=rim, of=of, width_pt=NAME_PT)
        return
    out, ends = opening.outward[:2], inner[:2]
    deep = ends + max(opening.depth, WALL_M) * out
    scene.area("reveal", np.concatenate((ends, deep[::-1])))
    glass = opening.glass_corners()[:2, :2]
    scene.line("glass", glass, of=of)
    turn_deg = math.degrees(math.atan2(out[1], out[0]))
    spot, away_pt = deep.mean(axis=0), 4.0
    if opening.wall in laid:
        # The glass lies between wall and wall laid down: the tag stands on the window there.
        glass = laid[opening.wall].put(face(opening, room))
        spot, away_pt = glass.mean(axis=0), 0.0
    width_pt = BESIDE_PT if abs(out[0]) > abs(out[1]) and not number else NAME_PT
    scene.label(
        kind, text, spot, away_pt=away_pt, toward_deg=turn_deg, thing=glass, of=of,
        width_pt=width_pt,
    )  # fmt: skip


def _mark(scene: Scene, mark: Mark, number: int, *, signed: bool) -> None:
    """A mark by its name, or by a sign that a list beside the drawing has."""
    rim, of = circle(mark.at, mark.width / 2), f"mark {number}"
    scene.area("mark", rim, of=of)
    if signed:
        scene.label("mark sign", f"M{number}", mark.at, away_pt=0.0, thing=rim, of=of)
        scene.label(
            "lit", "SUN", (mark.at[0], mark.at[1] - mark.width / 2), toward_deg=270.0, thing=rim,
            needed=False, of=f"sun {number}",
        )  # fmt: skip
    else:
        foot = (mark.at[0], mark.at[1] - mark.width / 2)
        scene.label("mark", mark.name, foot, toward_deg=270.0, thing=rim, width_pt=NAME_PT)


def _standing(scene: Scene, room: Room, stand: Standing) -> None:
    """A setup's camera, its key with what it lights through, its negative fill."""
    camera, key = stand.setup.camera, stand.setup.key
    (x, y), (aim_x, aim_y, _) = camera.at, aim_point(room, stand.setup)
    turn_deg = math.degrees(math.atan2(aim_y - y, aim_x - x))
    if key is not None:
        scene.line("aim", [key.at, stand.setup.at_mark.at])
        if stand.sheet is not None:
            scene.area("frame", stand.sheet.corners()[:, :2])
        scene.sign("key", key.at)
        if stand.key:
            scene.label("lamp", stand.key, key.at, away_pt=7.0, needed=False, width_pt=NAME_PT)
    if stand.panel is not None:
        corners = stand.panel.corners()[:, :2]
        for kind in ("flag-edge", "negative"):
            scene.area(kind, corners)
        middle = corners.mean(axis=0)
        scene.label("negative", "neg fill", middle, away_pt=7.0, thing=corners)
    scene.sign("camera", camera.at, turn_deg=turn_deg)
    scene.label(
        "camera", stand.camera, camera.at, away_pt=14.0, toward_deg=turn_deg + 180.0, needed=False,
        width_pt=NAME_PT,
    )  # fmt: skip


def _flag(scene: Scene, room: Room, hung: Hanging, laid: Mapping[int, LaidWall]) -> None:
    """A flag from above, and on the wall that it hangs before where that is laid down."""
    kind, pieces = "flag-idle" if hung.idle else "flag", hung.position.pieces
    for piece in pieces:
        corners = piece.corners()[:, :2]
        # A broad light line under the black: it shows on light and dark, and edge on.
        if not hung.idle:
            scene.area("flag-edge", corners, of=hung.of)
        scene.area(kind, corners, of=hung.of)
        wall = None if hung.wall is None else laid.get(hung.wall)
        if wall is not None and hung.wall is not None:
            flat = wall.put(on_wall(room, hung.wall, piece.corners()))
            scene.area("flag-idle", flat, of=hung.of)
    every = np.concatenate([piece.corners()[:, :2] for piece in pieces])
    scene.label(
        "flag", hung.label, hung.position.centre[:2], away_pt=7.0, toward_deg=90.0, thing=every,
        of=hung.of,
    )  # fmt: skip


def _letter(scene: Scene, room: Room, index: int, laid: LaidWall | None) -> None:
    """A wall's letter: inside the room beside it, best in its middle; above it where laid down."""
    first, second = (np.array(corner) for corner in room.wall(index))
    share = np.array(sorted(np.linspace(0.1, 0.9, SPOTS), key=lambda place: abs(place - 0.5)))
    way = second - first
    inward_deg = math.degrees(math.atan2(way[0], -way[1]))
    scene.label(
        "wall", wall_letter(index), first + share[:, None] * way, away_pt=LETTER_PT,
        toward_deg=inward_deg, thing=np.stack((first, second)), straight=True,
    )  # fmt: skip
    if laid is not None:
        top = np.array([[laid.length_m / 2, laid.height_m]])
        turn_deg = math.degrees(math.atan2(laid.out[1], laid.out[0]))
        scene.label("wall", wall_letter(index), laid.put(top), away_pt=3.0, toward_deg=turn_deg)
