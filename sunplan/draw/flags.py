"""Where each flag hangs: from above with its distances to walls, from the side with its heights."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
from matplotlib import rc_context
from matplotlib.figure import Figure

from ..location.lengths import Units
from ..location.model import Setup
from ..location.read import Location
from ..report.document import Moment, text
from ..report.flags import from_mark, hung
from ..report.words import by
from ..rig.flag_placement import Position
from ..rig.flags import FlagOption, SetupFlags
from ..rig.tape import TapeMeasures
from .axes import height_in, show, show_plan
from .elevation import flag_elevation
from .layout import fitted
from .panels import BELOW_IN, EDGE_IN, LEFT_IN, POINT_IN, WIDTH_IN, fold, headed, tall_in, write
from .scene import Hanging, flag_scene, named
from .signs import SMALL, SOFT, STYLE

MOST_IN, SIDE_IN = 3.9, 3.0  # the plan's height; the elevation's
TITLE_IN, AFTER_IN, TITLE_PT = 0.12, 0.16, 9.5
KEPT = "\u00a0"  # a space at which no line is broken


@rc_context(STYLE)
def figure_of_flags(
    location: Location, day: date, setups: Sequence[SetupFlags], *, width_in: float = WIDTH_IN
) -> Figure:
    """Every flag to take, setup by setup: a row for each of its places."""
    places = [
        _FlagFigure(location, setup_flags, option, position, width_in)
        for setup_flags in setups
        for option in setup_flags.taken
        for position in option.positions
    ]
    title = f"{location.site.name}, {day:%A} {day.isoformat()}: where flags hang"
    bare = [flags.setup.name for flags in setups if not flags.options]
    under = f"no flag to hang: {', '.join(bare)}" if bare else ""
    high = sum(place.height_in for place in places)
    figure, top = headed(title, under, width_in, high + EDGE_IN)
    for place in places:
        place.draw(figure, top)
        top += place.height_in
    return figure


class _FlagFigure:
    """One place of one flag, and the room that its drawing takes."""

    def __init__(
        self,
        location: Location,
        flags: SetupFlags,
        option: FlagOption,
        position: Position,
        width_in: float,
    ) -> None:
        self._location, room = location, flags.setup.in_room
        measures = option.measured(location, room, flags.mark, position.hung)
        self._free = width_in - 2 * EDGE_IN - LEFT_IN
        self._title = fold(_title(location, flags.setup, option, position), self._free, TITLE_PT,
                           bold=True)  # fmt: skip
        self._words = fold(_words(position, measures, location.site.units), self._free, SMALL)
        self._wide = (self._free + LEFT_IN) * 0.5 - LEFT_IN - 0.1
        self._plan = flag_scene(
            location, room, flags.mark, Hanging(option.name, position), measures,
            standing=[named(flags.setup)],
        )  # fmt: skip
        self._plan_high = height_in(self._plan, self._wide, MOST_IN)
        self._side = flag_elevation(location, room, flags.mark, option, position)
        wide, high = np.ptp(self._side.scene.bounds(), axis=0).tolist()
        left, over, right, under = self._side.margins_pt
        per_m = (self._wide / POINT_IN - left - right) / wide
        self._side_high = min(SIDE_IN, (per_m * high + over + under) * POINT_IN)
        self._head = tall_in(self._title, TITLE_PT) + tall_in(self._words, SMALL) + TITLE_IN
        high = max(self._plan_high, self._side_high)
        self.height_in = self._head + high + BELOW_IN + AFTER_IN

    def draw(self, figure: Figure, top: float) -> None:
        """Draw it below `top`."""
        left, side = EDGE_IN + LEFT_IN, self._side
        write(figure, left, top, self._title, fontsize=TITLE_PT, weight="bold")
        under = top + tall_in(self._title, TITLE_PT) + 0.04
        write(figure, left, under, self._words, fontsize=SMALL, color=SOFT)
        top += self._head
        show_plan(figure, self._location, self._plan, (left, top, self._wide, self._plan_high))
        beside = left + self._wide + 0.1 + LEFT_IN
        size = self._wide / POINT_IN, self._side_high / POINT_IN
        frame = fitted(
            side.scene.bounds(), *size, side.margins_pt, whole=True, mirrored=side.mirrored
        )
        place = (beside, top, self._wide, self._side_high)
        show(
            figure, side.scene, place, frame, units=self._location.site.units,
            across=side.across, up=side.up,
        )  # fmt: skip


def _title(location: Location, setup: Setup, option: FlagOption, position: Position) -> str:
    zone, owned = location.timezone, "" if option.owned else ", not owned"
    times = f"{Moment(position.start_s, zone)} – {Moment(position.end_s, zone)}"
    what = f"{option.name}{owned} for {option.opening}, {option.placement}"
    return f"{setup.name}: {what}, {times}"


def _words(position: Position, measures: TapeMeasures, units: Units) -> str:
    frame = "out of frame" if position.clear_of_frame else "IN FRAME"
    stock, needs = by(*position.stock_m), by(*position.needs_m)
    size = text(stock, ", of which ", needs, " is needed").render(units)
    size = size.replace(" × ", KEPT + "×" + KEPT).replace(" m", KEPT + "m")
    return text(hung(measures), "; ", from_mark(measures), f"; {frame}; {size}").render(units)
