"""The scene of a site: the rooms from above, blocks with their heights, setups outdoors."""

from __future__ import annotations

import numpy as np
import shapely

from ..location.geometry import block_corners
from ..location.lengths import format_length
from ..location.model import Exterior
from ..location.read import Location
from .primitives import Scene

NAME_PT = 94.0
FIELD_PT = 60.0  # so far
ROUND_M = 2.0  # free round a subject outdoors


def site_scene(location: Location, *, only: Exterior | None = None) -> Scene:
    """All rooms, blocks and setups outdoors on one plan, with their names.

    `only`: one of the setups, its subject labelled so; no heights, which want a unit.
    """
    scene, units = Scene(), location.site.units
    for block in location.outside:
        corners = np.array(block_corners(block))
        scene.area("block", corners)
        low, high = (
            format_length(height, units) for height in (block.base, block.base + block.size[2])
        )
        tall = f"up to {high}" if block.base == 0 else f"{low} to {high} up"
        text = f"{block.name}\n{tall}" if only is None else block.name
        scene.label(
            "small", text, corners.mean(axis=0), away_pt=0.0, thing=corners, width_pt=NAME_PT,
            needed=False,
        )  # fmt: skip
    floors = [shapely.Polygon(room.outline) for room in location.room]
    for room, floor in zip(location.room, floors, strict=True):
        scene.area("house", room.outline)
        # Its name stands where no room above or below it lies, if there is such a place.
        alone = floor.difference(
            shapely.union_all([other for other in floors if other is not floor])
        )
        middle = (floor if alone.is_empty else alone).representative_point()
        scene.label("room", room.name, (middle.x, middle.y), away_pt=0.0, width_pt=NAME_PT)
    for setup in location.exterior if only is None else (only,):
        turn_deg = 90.0 - (setup.camera.bearing - location.site.plan_up)
        # The camera may stand anywhere: only its way is known, and what it sees past the subject.
        half_deg = setup.camera.view_deg[0] / 2
        turns = np.radians([turn_deg - half_deg, turn_deg + half_deg])
        ends = FIELD_PT * np.stack((np.cos(turns), np.sin(turns)), axis=-1)
        scene.beside("field", [setup.at] * 3, [(0.0, 0.0), *ends], closed=True)
        scene.sign("way", setup.at, turn_deg=turn_deg)
        scene.sign("subject", setup.at)
        name = setup.name if only is None else "subject"
        scene.label("camera", name, setup.at, away_pt=7.0, width_pt=NAME_PT)
        scene.room_for(np.array(setup.at) + ROUND_M * np.array([[-1.0, -1.0], [1.0, 1.0]]))
    return scene
