"""The rooms as they were understood, and the site: what `check` draws."""

from __future__ import annotations

from matplotlib import rc_context
from matplotlib.figure import Figure

from ..light.resolved import resolve
from ..location.model import Room
from ..location.read import Location
from .axes import height_in, show_plan
from .panels import BELOW_IN, EDGE_IN, LEFT_IN, WIDTH_IN, fold, headed, tall_in, write
from .primitives import Scene
from .scene import named, room_scene
from .signs import STYLE
from .site import site_scene

MOST_IN = 5.2  # of one panel's height
BETWEEN_IN = 0.12


def understood(location: Location, room: Room) -> Scene:
    """A room with all its setups."""
    standing = [named(setup) for setup in resolve(location) if setup.room == room.name]
    return room_scene(location, room, standing=standing)


@rc_context(STYLE)
def figure_of_rooms(location: Location, *, width_in: float = WIDTH_IN) -> Figure:
    """All rooms, two beside each other, and the site where anything is outside."""
    scenes = {room.name: understood(location, room) for room in location.room}
    plans = list(scenes.items())
    if location.outside or location.exterior:
        plans.append(("site", site_scene(location)))
    columns = min(len(plans), 2)
    wide = (width_in - 2 * EDGE_IN) / columns - LEFT_IN - 0.1
    titles = [fold(name, wide, 10.0, bold=True) for name, _ in plans]
    heights = [height_in(scene, wide, MOST_IN) for _, scene in plans]
    lines = [tall_in(title, 10.0) + 0.08 for title in titles]
    rows = [
        range(first, min(first + columns, len(plans))) for first in range(0, len(plans), columns)
    ]
    row_in = [(max(lines[i] for i in row), max(heights[i] for i in row)) for row in rows]
    total = sum(a + b + BELOW_IN + BETWEEN_IN for a, b in row_in)
    figure, top = headed(location.site.name, "", width_in, total)
    for row, (line, high) in zip(rows, row_in, strict=True):
        for column, which in enumerate(row):
            left = EDGE_IN + LEFT_IN + column * (wide + LEFT_IN + 0.1)
            write(figure, left, top, titles[which], fontsize=10.0, weight="bold")
            place = (left, top + line, wide, heights[which])
            show_plan(figure, location, plans[which][1], place)
        top += line + high + BELOW_IN + BETWEEN_IN
    return figure
