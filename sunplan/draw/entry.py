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
from .panels import EDGE_IN, WIDTH_IN, headed
from .patches import Lit
from .signs import STYLE

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
    under = sun_line(day.sun, day.date, location.timezone)
    high = strip.height_in + sum(part.height_in + BETWEEN_IN for part in lit) + EDGE_IN
    figure, top = headed(title(location, day), under, width_in, high)
    strip.draw(figure, top)
    top += strip.height_in
    for part in lit:
        part.draw(figure, top + BETWEEN_IN)
        top += part.height_in + BETWEEN_IN
    return figure
