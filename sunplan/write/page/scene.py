"""What is drawn on the page: rooms and setups with all that stands in them, in two sizes.

What changes with the clock is there already, and told apart by whose it is (`data-of`): the
page's script only shows, hides and fills.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from ...day.plan import Plan
from ...draw.layout import Margins, fitted, lay_out
from ...draw.letters import extent_pt
from ...draw.primitives import Scene
from ...draw.scene import Hanging, Standing, room_scene
from ...draw.signs import BASE_PT
from ...draw.site import site_scene
from ...draw.svg import svg
from ...light.resolved import ResolvedSetup
from ...location.model import Exterior, Room, wall_letter
from ...location.read import Location
from ...report.words import over
from ...rig.flags import FlagOption, SetupFlags
from ...rig.gap import SetupGap
from ...room.beam import beam_of
from ...room.patches import FLOOR
from ...room.walls import LaidWall, face, laid_down

OVER_M = 0.15  # of a laid wall that is shown above what is on it
SIZES_PX = ((330.0, 400.0), (600.0, 520.0))  # width and most height: a telephone, and more
LETTERS_PX = 13.0
SCALE = LETTERS_PX / BASE_PT
MARGINS_PX: Margins = (28.0, 28.0, 28.0, 28.0)


def mm(metres: Any) -> Any:
    """Metres, one or many, as whole millimetres."""
    whole = np.rint(np.asarray(metres, dtype=np.float64) * 1000.0).astype(int)
    return whole.tolist()


def _drawings(location: Location, scene: Scene) -> list[str]:
    """A scene in both sizes."""
    return [
        svg(
            lay_out(
                scene,
                fitted(scene.bounds(), width, most, MARGINS_PX),
                LETTERS_PX,
                plan_up_deg=location.site.plan_up,
                dial=True,
                scales=True,
            )
        )
        for width, most in SIZES_PX
    ]


def room(plan: Plan, shown: Room) -> dict[str, Any]:
    """A room's walls and openings; drawn where it has no setup, else its setups are."""
    location, walls = plan.location, range(len(shown.outline))
    scene = None
    if all(setup.room != shown.name for setup in location.setup):
        numbers = {opening.name: str(number) for number, opening in enumerate(shown.opening, 1)}
        laid = _laid(plan, shown, None)
        scene = room_scene(location, shown, numbers=numbers, signed=True, laid=laid)
    return {
        "name": shown.name,
        "walls": [wall_letter(index) for index in walls],
        "openings": [opening.name for opening in shown.opening],
        "drawings": [] if scene is None else _drawings(location, scene),
    }


def setup(plan: Plan, shown: ResolvedSetup) -> dict[str, Any]:
    """A setup with its room, its flags at all their places, its negative."""
    location, room = plan.location, shown.in_room
    flags, gap, slot = plan.flags_of(shown), plan.gap_of(shown), plan.slots.get(shown.name)
    panel = None if slot is None else slot.needs.panel
    standing = Standing(
        shown,
        "camera",
        "key",
        None if gap.source is None else gap.source.sheet,
        None if panel is None else panel.screen,
    )
    scene = room_scene(
        location,
        room,
        numbers=_tags(room, gap),
        standing=[standing],
        hanging=list(_hanging(room, flags)),
        signed=True,
        laid=_laid(plan, room, flags),
    )
    names = [room.name for room in location.room]
    return {
        "name": shown.name,
        "room": names.index(shown.room),
        "mark": [mark.name for mark in room.mark].index(shown.mark),
        "key": gap.source is not None,
        "flags": [_times(option) for option in flags.taken],
        "drawings": _drawings(location, scene),
    }


def _times(option: FlagOption) -> dict[str, Any]:
    """When a flag stops sun, and when it hangs at each of its places."""
    return {
        "spans": [[round(first), round(last)] for first, last in option.spans],
        "places": [
            [round(position.start_s), round(position.end_s)] for position in option.positions
        ],
    }


def _hanging(room: Room, flags: SetupFlags) -> Iterator[Hanging]:
    """Every flag at every place, named by both numbers."""
    for number, option in enumerate(flags.taken):
        wall = _before(room, option)
        for place, position in enumerate(option.positions):
            yield Hanging("flag", position, of=f"flag {number}.{place}", wall=wall)


def _before(room: Room, option: FlagOption) -> int | None:
    """The number of the wall before which a flag hangs; None where it hangs before none."""
    wall = room.opening_named(option.opening).wall
    if wall is None or option.placement not in ("over the opening", "outside"):
        return None
    return room.wall_number(wall)


def _tags(room: Room, gap: SetupGap) -> dict[str, str]:
    """The longest text that an opening's tag has on this day: its number, and its stops."""
    tags = {}
    for number, opening in enumerate(room.opening, 1):
        levels = {
            over(seen.stops) if seen.stops is not None else "no light"
            for moment in gap.times
            for seen in moment.openings
            if seen.opening == opening.name and seen.in_frame
        }
        # In order: of texts that are as long, the same one is taken each time.
        texts = [f"{number} {level}" for level in sorted(levels)] or [str(number)]
        tags[opening.name] = max(texts, key=lambda text: extent_pt(text, 1.0)[0])
    return tags


def _laid(plan: Plan, room: Room, flags: SetupFlags | None) -> dict[int, LaidWall]:
    """Walls laid down beside the plan, outward, each only as high as what is on it goes.

    Those that the sun lies on at some time of the day, and those with a flag before them.
    """
    openings = beam_of(plan.location, room).apertures
    tops: dict[int, float] = {}
    for look in plan.steps.looks[room.name]:
        for patch in look.patches:
            if patch.surface != FLOOR:
                index = room.wall_number(patch.surface)
                tops[index] = max(tops.get(index, 0.0), patch.shape.bounds[3])
    for option in () if flags is None else flags.taken:
        wall = _before(room, option)
        for position in option.positions if wall is not None else ():
            assert wall is not None
            for piece in position.pieces:
                high = float(piece.heights[1]) - room.floor
                tops[wall] = max(tops.get(wall, 0.0), high)
    for opening in openings:
        if opening.wall in tops:
            tops[opening.wall] = max(tops[opening.wall], float(face(opening, room)[:, 1].max()))
    heights = {index: min(room.height, top + OVER_M) for index, top in sorted(tops.items())}
    return laid_down(room, heights, openings)


def outdoors(location: Location, setup: Exterior) -> dict[str, Any]:
    """A setup outdoors on the site."""
    return {"name": setup.name, "drawings": _drawings(location, site_scene(location, only=setup))}
