"""What stands where outdoors: the rooms from above, blocks with their heights, setups outdoors."""

from __future__ import annotations

import math

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from ..location.geometry import block_corners
from ..location.lengths import format_length
from ..location.model import Outside
from ..location.read import Location
from ..sun.position import Floats
from .floorplan import Scale, fit, north
from .ink import BLOCK, CAMERA, INK, SMALL, SOFT, WALL
from .lettering import Labels
from .panels import wrapped

NAME_IN = 1.3
ROUND_M = 2.0  # free round a subject outdoors
WAY_PT = (27.0, 6.0)  # the camera's way: from so far before its subject to so far


def bounds(location: Location) -> Floats:
    """Lowest and highest x and y of all that stands on the site, metres, (2, 2)."""
    spots = [np.array(room.outline) for room in location.room]
    spots += [np.array(block_corners(block)) for block in location.outside]
    for setup in location.exterior:
        spots.append(np.array(setup.at) + ROUND_M * np.array([[-1.0, -1.0], [1.0, 1.0]]))
    every = np.concatenate(spots)
    return np.array([every.min(axis=0), every.max(axis=0)])


def draw(axes: Axes, location: Location) -> None:
    """All rooms, blocks and setups outdoors on one plan, with their names."""
    scale = Scale(location)
    fit(axes, scale, bounds(location))
    labels = Labels(axes)
    for block in location.outside:
        _block(axes, scale, block, labels)
    floors = [shapely.Polygon(room.outline) for room in location.room]
    for room, floor in zip(location.room, floors, strict=True):
        ring = scale(np.array(room.outline))
        axes.add_patch(Polygon(ring, facecolor=(0, 0, 0, 0.05), edgecolor=WALL, lw=1.2))
        labels.avoid(ring, closed=True, cost=4.0)
        # Its name stands where no room above or below it lies, if there is such a place.
        alone = floor.difference(shapely.union_all([one for one in floors if one is not floor]))
        middle = (floor if alone.is_empty else alone).representative_point()
        at = scale((middle.x, middle.y))
        labels.add(wrapped(room.name, NAME_IN), at, away=0.0, colour=INK)
    for setup in location.exterior:
        at = np.array(setup.at)
        turn = 90.0 - (setup.camera.bearing - location.site.plan_up)
        # Where along its way the camera stands nobody has told.
        way = np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
        spot = axes.transData.transform(scale(at))
        ends = axes.transData.inverted().transform([spot - back * way for back in WAY_PT])
        arrow = {"arrowstyle": "-|>", "color": CAMERA, "lw": 1.2, "shrinkA": 0, "shrinkB": 0}
        axes.annotate("", tuple(ends[1]), tuple(ends[0]), arrowprops=arrow, zorder=3.0)
        labels.avoid(ends, cost=12.0)
        axes.plot(*scale(at), marker="o", ms=5, color=CAMERA, ls="", zorder=3.0)
        labels.avoid_spot(scale(at), 5.0)
        labels.add(wrapped(setup.name, NAME_IN), scale(at), away=7.0, colour=CAMERA)
    north(axes, location.site.plan_up, labels)
    labels.place()


def _block(axes: Axes, scale: Scale, block: Outside, labels: Labels) -> None:
    corners = scale(np.array(block_corners(block)))
    axes.add_patch(Polygon(corners, facecolor=BLOCK, edgecolor=SOFT, lw=0.8, zorder=0.5))
    labels.avoid(corners, closed=True, cost=4.0)
    low, high = (
        format_length(one, scale.units) for one in (block.base, block.base + block.size[2])
    )
    tall = f"up to {high}" if block.base == 0 else f"{low} to {high} up"
    text = f"{wrapped(block.name, NAME_IN, SMALL)}\n{tall}"
    labels.add(text, corners.mean(axis=0), away=0.0, colour=SOFT, size=SMALL)
