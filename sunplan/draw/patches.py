"""Where the sun lies in a room by the hour: its floor from above, each wall that gets some."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from ..location.model import Room, wall_letter
from ..location.read import Location
from ..report.document import Moment
from ..room.beam import FLOOR as ON_FLOOR
from ..room.entry import Day
from ..room.patches import PatchAtHour
from . import floorplan
from .ink import DASHES, FLOOR, GLASS, INK, PAPER, SMALL, STYLE, of_hour
from .lettering import Labels
from .panels import (
    BELOW_IN,
    EDGE_IN,
    LEFT_IN,
    Heading,
    legend,
    legend_in,
    page,
    panel,
    wrapped,
    write,
)
from .ruling import even, ruled

WIDTH_IN = 10.0
PLAN_SHARE = 0.47  # of the picture's width, where walls are beside the plan
MOST_PLAN_IN = 5.0
WALLS_IN = (
    1.9,
    1.6,
    1.3,
)  # how high walls are drawn: the first with which they fit beside the plan
BESIDE_IN, BETWEEN_IN = 0.62, 0.66  # from one wall's panel to the next, and to the next row
LEAST_NAMED_M2 = 0.01  # a smaller patch carries no time
TITLE_IN = 0.2
SHEER = 0.4  # of a patch's colour


class Lit:
    """A room with its patches, and the room that its drawing takes."""

    def __init__(
        self, location: Location, room: Room, day: Day, seen: Sequence[PatchAtHour], width_in: float
    ) -> None:
        self.location, self.room, self.day, self.seen = location, room, day, seen
        lit = {patch.surface for look in seen for patch in look.patches}
        letters = [wall_letter(index) for index in range(len(room.outline))]
        self._walls = [letter for letter in letters if letter in lit]
        free = width_in - 2 * EDGE_IN
        share = PLAN_SHARE if self._walls else 1.0
        self._plan_in = min(free * share, 6.0) - LEFT_IN - 0.1
        span = floorplan.bounds(room)
        self._plan_high = floorplan.height_in(span, self._plan_in, MOST_PLAN_IN)
        lines = legend_in(self._lines(), self._plan_in) if self._lines() else 0.0
        plan = self._plan_high + BELOW_IN + lines
        for high in WALLS_IN:
            self._cells, walls = self._flow(free * (1.0 - PLAN_SHARE), high)
            if walls <= plan:
                break
        self.height_in = TITLE_IN + max(plan, walls)

    @property
    def _through(self) -> list[str]:
        lit = {patch.opening for look in self.seen for patch in look.patches}
        return [one.name for one in self.room.opening if one.name in lit]

    def _flow(
        self, free: float, high: float
    ) -> tuple[list[tuple[float, float, float, float]], float]:
        """Left, top, width and height of each wall's panel, all to one scale; what they take."""
        lengths = [
            math.dist(*self.room.wall(at))
            for at in range(len(self.room.outline))
            if wall_letter(at) in self._walls
        ]
        if not lengths:
            return [], 0.0
        scale = min(high / self.room.height, (free - BESIDE_IN) / max(lengths))
        high, cells, left, top = scale * self.room.height, [], BESIDE_IN, 0.0
        for wide in (scale * one for one in lengths):
            if left > BESIDE_IN and left + wide > free:
                left, top = BESIDE_IN, top + high + BETWEEN_IN
            cells.append((left, top, wide, high))
            left += wide + BESIDE_IN
        return cells, top + high + BELOW_IN

    def draw(self, figure: Figure, top: float) -> None:
        """Draw it below `top`."""
        room = self.room
        left = EDGE_IN + LEFT_IN
        name = room.name if self.seen else f"{room.name}: no direct sun"
        write(figure, left, top, name, fontsize=10.0, weight="bold")
        plan = panel(figure, left, top + TITLE_IN, self._plan_in, self._plan_high)
        scale, labels = floorplan.draw(plan, self.location, room)
        self._patches(plan, scale, ON_FLOOR, labels)
        labels.place()
        beside = EDGE_IN + self._plan_in + LEFT_IN + 0.1
        for letter, (x, y, wide, high) in zip(self._walls, self._cells, strict=True):
            write(figure, beside + x, top + y + 0.02, f"wall {letter}, from inside")
            axes = panel(figure, beside + x, top + TITLE_IN + y, wide, high)
            self._wall(axes, scale, letter)
        if self._lines():
            under = top + TITLE_IN + self._plan_high + BELOW_IN + 0.06
            legend(figure, left, under, self._plan_in, self._lines())

    def _lines(self) -> list[Line2D]:
        """What the patches' lines mean; nothing where all come through one opening."""
        through = self._through if len(self._through) > 1 else []
        return [
            Line2D([], [], color=INK, lw=1.3, ls=self._dash(name), label=f"through {name}")
            for name in through
        ]

    def _dash(self, opening: str) -> Any:
        """The line of patches that one opening makes."""
        return DASHES[[one.name for one in self.room.opening].index(opening) % len(DASHES)]

    def _share(self, moment_s: float) -> float:
        """A moment's share of the time that the sun is up."""
        at = self.day.sun
        rise = at.noon - 43200.0 if at.rise is None else at.rise
        down = at.noon + 43200.0 if at.set is None else at.set
        return (moment_s - rise) / (down - rise)

    def _patches(self, axes: Axes, scale: floorplan.Scale, surface: str, labels: Labels) -> None:
        drawn = [
            (look.moment_s, patch)
            for look in self.seen
            for patch in look.patches
            if patch.surface == surface
        ]
        marks = [
            shapely.Point(one.at).buffer(one.width / 2)
            for one in self.room.mark
            if surface == ON_FLOOR
        ]
        for moment, patch in drawn:
            colour = of_hour(self._share(moment))
            axes.add_patch(
                floorplan.filled(
                    patch.shape, scale, facecolor=(*colour, SHEER), edgecolor=colour,
                    ls=self._dash(patch.opening), lw=1.2, zorder=1.0,
                )
            )  # fmt: skip
            if patch.area_m2 < LEAST_NAMED_M2:
                continue
            # Its time stands where no other patch or mark lies, if there is such a place.
            others = [one.shape for _, one in drawn if one is not patch]
            over = [one for one in others + marks if one.intersects(patch.shape)]
            alone = patch.shape.difference(shapely.union_all(over)) if over else patch.shape
            part = max(shapely.get_parts(alone), key=shapely.area, default=alone)
            middle = (part if part.area > LEAST_NAMED_M2 else patch.shape).representative_point()
            text = str(Moment(moment, self.location.timezone))
            at = scale((middle.x, middle.y))
            labels.add(text, at, away=0.0, size=SMALL, edge=to_hex(colour))

    def _wall(self, axes: Axes, scale: floorplan.Scale, letter: str) -> None:
        """A wall as one sees it from inside: its first corner is on the right."""
        room = self.room
        length = math.dist(*room.wall(floorplan.wall_number(room, letter)))
        axes.set_xlim(scale(length), 0.0)
        axes.set_ylim(0.0, scale(room.height))
        whole = Rectangle((0, 0), scale(length), scale(room.height), facecolor=FLOOR, zorder=0.1)
        axes.add_patch(whole)
        labels = Labels(axes)
        for opening in room.opening:
            if opening.wall is not None and opening.wall.strip().upper() == letter:
                low = scale(np.array([opening.along, opening.sill]))
                size = scale(np.array(opening.size))
                axes.add_patch(
                    Rectangle(low, *size, facecolor=PAPER, edgecolor=GLASS, lw=1.4, zorder=0.3)
                )
                corners = low + size * np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
                labels.avoid(corners, closed=True, cost=3.0)
                name = wrapped(opening.name, 0.7, SMALL)
                labels.add(name, low + size / 2, away=0.0, colour=GLASS, size=SMALL)
        self._patches(axes, scale, letter, labels)
        labels.place()
        box = axes.bbox
        ruled(
            axes,
            even(axes.get_xlim(), box.width, f"from its first corner, {scale.units}"),
            even(axes.get_ylim(), box.height, f"up, {scale.units}"),
        )


@rc_context(STYLE)
def figure_of_patches(
    location: Location,
    room: Room,
    day: Day,
    seen: Sequence[PatchAtHour],
    *,
    width_in: float = WIDTH_IN,
) -> Figure:
    """A room's plan with the floor's patches by the hour, beside it every wall that gets some."""
    lit = Lit(location, room, day, seen, width_in)
    head = Heading(
        f"{location.site.name}, {day.date:%A} {day.date.isoformat()}: where the sun lies",
        f"clock of {location.timezone}; from light in the morning to dark in the evening"
        if seen
        else "",
        width_in,
    )
    figure = page(width_in, head.height_in + lit.height_in + 0.1)
    head.write(figure)
    lit.draw(figure, head.height_in)
    return figure
