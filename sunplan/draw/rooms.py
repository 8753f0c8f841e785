"""The rooms as they were understood, and the site: what `check` draws."""

from __future__ import annotations

from matplotlib import rc_context
from matplotlib.figure import Figure

from ..location.read import Location
from . import floorplan, siteplan
from .ink import STYLE
from .panels import BELOW_IN, EDGE_IN, LEFT_IN, Heading, page, panel, tall_in, wrapped, write

WIDTH_IN = 10.0
MOST_IN = 5.2  # of one panel's height
TITLE_IN = 0.24


@rc_context(STYLE)
def figure_of_rooms(location: Location, *, width_in: float = WIDTH_IN) -> Figure:
    """All rooms, two beside each other, and the site where anything is outside."""
    rooms = location.room
    outside = bool(location.outside or location.exterior)
    names = [room.name for room in rooms] + ["site"] * outside
    spans = [floorplan.bounds(room) for room in rooms]
    spans += [siteplan.bounds(location)] * outside
    columns = min(len(names), 2)
    wide = (width_in - 2 * EDGE_IN) / columns - LEFT_IN - 0.1
    titles = [wrapped(name, wide, 10.0, "bold") for name in names]
    head = Heading(location.site.name, "", width_in)
    heights = [floorplan.height_in(span, wide, MOST_IN) for span in spans]
    lines = [tall_in(title, 10.0) + 0.08 for title in titles]
    rows = [range(at, min(at + columns, len(names))) for at in range(0, len(names), columns)]
    row_in = [(max(lines[i] for i in row), max(heights[i] for i in row)) for row in rows]
    total = head.height_in + sum(a + b + BELOW_IN + 0.12 for a, b in row_in)
    figure = page(width_in, total)
    head.write(figure)
    top = head.height_in
    for row, (line, high) in zip(rows, row_in, strict=True):
        for column, which in enumerate(row):
            left = EDGE_IN + LEFT_IN + column * (wide + LEFT_IN + 0.1)
            write(figure, left, top, titles[which], fontsize=10.0, weight="bold")
            axes = panel(figure, left, top + line, wide, heights[which])
            if which == len(rooms):
                siteplan.draw(axes, location)
                continue
            scale, labels = floorplan.draw(axes, location, rooms[which])
            for setup in location.setup:
                if setup.room == rooms[which].name:
                    floorplan.draw_setup(axes, scale, rooms[which], setup, labels)
            labels.place()
        top += line + high + BELOW_IN + 0.12
    return figure
