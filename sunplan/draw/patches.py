"""Where the sun lies in a room by the hour: its floor from above, each wall that gets some."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from matplotlib import rc_context
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from ..location.model import Room, wall_letter
from ..location.read import Location
from ..report.document import Moment
from ..room.beam import beam_of
from ..room.entry import DayEntries
from ..room.patches import FLOOR as ON_FLOOR
from ..room.patches_by_hour import PatchAtHour
from .axes import RAMP_HOURS, dashed, height_in, show, show_plan
from .elevation import wall_elevation
from .layout import fitted
from .panels import (
    BELOW_IN,
    EDGE_IN,
    LEFT_IN,
    POINT_IN,
    WIDTH_IN,
    headed,
    legend,
    legend_in,
    write,
)
from .primitives import Scene
from .scene import room_scene
from .signs import DASHES, INK, SMALL, STYLE, TEXT, Letters, Style

PLAN_SHARE = 0.47  # of the picture's width, where walls are beside the plan
MOST_PLAN_IN = 5.0
WALLS_IN = (1.9, 1.6, 1.3)  # how high: the first with which walls fit beside the plan
BESIDE_IN, BETWEEN_IN = 0.62, 0.66  # from one wall's panel to the next, and to the next row
LEAST_NAMED_M2 = 0.01  # a smaller patch carries no time
TITLE_IN = 0.2
SHEER, LINE_PT = 0.4, 1.2  # of a patch's colour; its edge


class Lit:
    """A room with its patches, and the room that its drawing takes."""

    def __init__(
        self,
        location: Location,
        room: Room,
        day: DayEntries,
        seen: Sequence[PatchAtHour],
        width_in: float,
    ) -> None:
        self.location, self.room, self.day, self.seen = location, room, day, seen
        lit = {patch.surface for look in seen for patch in look.patches}
        letters = [wall_letter(index) for index in range(len(room.outline))]
        self._walls = [letter for letter in letters if letter in lit]
        free = width_in - 2 * EDGE_IN
        share = PLAN_SHARE if self._walls else 1.0
        self._plan_in = min(free * share, 6.0) - LEFT_IN - 0.1
        self._plan = room_scene(location, room)
        self._plan_high = height_in(self._plan, self._plan_in, MOST_PLAN_IN)
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
        return [opening.name for opening in self.room.opening if opening.name in lit]

    def _flow(
        self, free: float, high: float
    ) -> tuple[list[tuple[float, float, float, float]], float]:
        """Left, top, width and height of each wall's panel, all to one scale; what they take."""
        lengths = [
            math.dist(*self.room.wall(index))
            for index in range(len(self.room.outline))
            if wall_letter(index) in self._walls
        ]
        if not lengths:
            return [], 0.0
        scale = min(high / self.room.height, (free - BESIDE_IN) / max(lengths))
        high, cells, left, top = scale * self.room.height, [], BESIDE_IN, 0.0
        for wide in (scale * length for length in lengths):
            if left > BESIDE_IN and left + wide > free:
                left, top = BESIDE_IN, top + high + BETWEEN_IN
            cells.append((left, top, wide, high))
            left += wide + BESIDE_IN
        return cells, top + high + BELOW_IN

    def draw(self, figure: Figure, top: float) -> None:
        """Draw it below `top`."""
        room, units = self.room, self.location.site.units
        left = EDGE_IN + LEFT_IN
        name = room.name if self.seen else f"{room.name}: no direct sun"
        write(figure, left, top, name, fontsize=10.0, weight="bold")
        self._plan.under(ON_FLOOR, self._patches(ON_FLOOR))
        place = (left, top + TITLE_IN, self._plan_in, self._plan_high)
        show_plan(figure, self.location, self._plan, place)
        beside = EDGE_IN + self._plan_in + LEFT_IN + 0.1
        openings = beam_of(self.location, room).apertures
        for letter, (x, y, wide, high) in zip(self._walls, self._cells, strict=True):
            write(figure, beside + x, top + y + 0.02, f"wall {letter}, from inside")
            scene = wall_elevation(room, letter, openings)
            scene.under(letter, self._patches(letter))
            # As one sees it from inside: its first corner is on the right.
            frame = fitted(
                scene.bounds(), wide / POINT_IN, high / POINT_IN, (0.0,) * 4, whole=True,
                mirrored=True,
            )  # fmt: skip
            place = (beside + x, top + TITLE_IN + y, wide, high)
            show(figure, scene, place, frame, units=units, across="from its first corner", up="up")
        if self._lines():
            under = top + TITLE_IN + self._plan_high + BELOW_IN + 0.06
            legend(figure, left, under, self._plan_in, self._lines())

    def _lines(self) -> list[Line2D]:
        """What the patches' lines mean; nothing where all come through one opening."""
        through = self._through if len(self._through) > 1 else []
        return [
            Line2D([], [], color=INK, lw=1.3, ls=dashed(self._dash(name)), label=f"through {name}")
            for name in through
        ]

    def _dash(self, opening: str) -> tuple[float, ...]:
        """The line of patches that one opening makes."""
        return DASHES[[window.name for window in self.room.opening].index(opening) % len(DASHES)]

    def _colour(self, moment_s: float) -> str:
        """A moment's, by its share of the time that the sun is up."""
        sun = self.day.sun
        rise = sun.noon - 43200.0 if sun.rise is None else sun.rise
        down = sun.noon + 43200.0 if sun.set is None else sun.set
        share = (moment_s - rise) / (down - rise)
        return to_hex(RAMP_HOURS(min(max(share, 0.0), 1.0)))

    def _patches(self, surface: str) -> Scene:
        """Patches of all hours on one surface, each with its time."""
        scene = Scene()
        drawn = [
            (look.moment_s, patch)
            for look in self.seen
            for patch in look.patches
            if patch.surface == surface
        ]
        marks = [
            shapely.Point(mark.at).buffer(mark.width / 2)
            for mark in self.room.mark
            if surface == ON_FLOOR
        ]
        for moment, patch in drawn:
            colour = self._colour(moment)
            dash = tuple(LINE_PT * part for part in self._dash(patch.opening))
            style = Style(colour, colour, LINE_PT, dash, opacity=SHEER)
            scene.polygon("patch", patch.shape, of=patch.opening, style=style)
            if patch.area_m2 < LEAST_NAMED_M2:
                continue
            # Its time stands where no other patch or mark lies, if there is such a place.
            others = [other.shape for _, other in drawn if other is not patch]
            over = [shape for shape in others + marks if shape.intersects(patch.shape)]
            alone = patch.shape.difference(shapely.union_all(over)) if over else patch.shape
            part = max(shapely.get_parts(alone), key=shapely.area, default=alone)
            middle = (part if part.area > LEAST_NAMED_M2 else patch.shape).representative_point()
            scene.label(
                "measure", str(Moment(moment, self.location.timezone)), (middle.x, middle.y),
                away_pt=0.0, letters=Letters(size=SMALL / TEXT, edge=colour),
            )  # fmt: skip
        return scene


@rc_context(STYLE)
def figure_of_patches(
    location: Location,
    room: Room,
    day: DayEntries,
    seen: Sequence[PatchAtHour],
    *,
    width_in: float = WIDTH_IN,
) -> Figure:
    """A room's plan with the floor's patches by the hour, beside it every wall that gets some."""
    lit = Lit(location, room, day, seen, width_in)
    figure, top = headed(
        f"{location.site.name}, {day.date:%A} {day.date.isoformat()}: where the sun lies",
        f"local time ({location.timezone}); from light in the morning to dark in the evening"
        if seen
        else "",
        width_in,
        lit.height_in + 0.1,
    )
    lit.draw(figure, top)
    return figure
