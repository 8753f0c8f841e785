"""A day's direct sun on one picture: the strip, and below it each room by the hour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from matplotlib import rc_context
from matplotlib.figure import Figure

from ..location.read import Location
from ..report.entry import sun_line
from ..room.entry import DayEntries
from ..room.patches_by_hour import PatchAtHour
from .daystrip import Strip, title
from .panels import EDGE_IN, Heading, page
from .patches import Lit
from .signs import STYLE

WIDTH_IN = 10.0
BETWEEN_IN = 0.22


@rc_context(STYLE)
def figure_of_entry(
    location: Location,
    day: DayEntries,
    patches: Mapping[str, Sequence[PatchAtHour]],
    *,
    width_in: float = WIDTH_IN,
) -> Figure:
    """The strip above, the rooms below with patches by the hour."""
    strip = Strip(location, day, width_in)
    lit = [Lit(location, room, day, patches[room.name], width_in) for room in location.room]
    head = Heading(title(location, day), sun_line(day.sun, day.date, location.timezone), width_in)
    high = head.height_in + strip.height_in + sum(part.height_in + BETWEEN_IN for part in lit)
    figure = page(width_in, high + EDGE_IN)
    head.write(figure)
    strip.draw(figure, head.height_in)
    top = head.height_in + strip.height_in
    for part in lit:
        part.draw(figure, top + BETWEEN_IN)
        top += part.height_in + BETWEEN_IN
    return figure
