"""Where each flag hangs: from above with its distances to walls, from the side with its heights."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

import numpy as np
import shapely
from matplotlib import rc_context
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Polygon, Rectangle

from ..location.read import Location
from ..report.document import Moment, text
from ..report.flags import from_mark, hung
from ..report.words import about, bearing, by
from ..rig.flags import FlagOption, Position, SetupFlags
from ..rig.tape import foot, sideways, tape
from ..room.aperture import Aperture, aperture
from ..sun.position import Floats
from . import floorplan
from .floorplan import Scale
from .ink import FLAG, FLOOR, GLASS, INK, MARK, PAPER, SMALL, SOFT, STYLE, SUN_PALE, WALL
from .lettering import CLEAR_PT, Labels
from .panels import (
    BELOW_IN,
    EDGE_IN,
    LEFT_IN,
    POINT_IN,
    Heading,
    extent_pt,
    page,
    panel,
    tall_in,
    wrapped,
    write,
)
from .ruling import evenly

WIDTH_IN = 10.0
MOST_IN, SIDE_IN = 3.9, 3.0  # the plan's height; the elevation's
TITLE_IN, AFTER_IN = 0.08, 0.16
TICK_PT = 3.0  # of a dimension's ends
HAIR = 0.9
KEPT = "\u00a0"  # a space at which no line is broken
STEP_PT = 24.0  # from one measure to the next, beside or over a drawing
BESIDE_PT, OVER_PT, UNDER_PT = 58.0, 52.0, 7.0  # free for them
EDGE_ON_M = 0.03  # edges less apart are told as one


@rc_context(STYLE)
def figure_of_flags(
    location: Location, day: date, found: Sequence[SetupFlags], *, width_in: float = WIDTH_IN
) -> Figure:
    """Every flag to take, setup by setup: a row for each of its places."""
    places = [
        _Place(location, one, option, position, width_in)
        for one in found
        for option in one.taken
        for position in option.positions
    ]
    title = f"{location.site.name}, {day:%A} {day.isoformat()}: where flags hang"
    bare = [one.setup.name for one in found if not one.options]
    under = f"no flag to hang: {', '.join(bare)}" if bare else ""
    head = Heading(title, under, width_in)
    figure = page(width_in, head.height_in + sum(one.height_in for one in places) + EDGE_IN)
    head.write(figure)
    top = head.height_in
    for one in places:
        one.draw(figure, top)
        top += one.height_in
    return figure


class _Place:
    """One place of one flag, and the room that its drawing takes."""

    def __init__(
        self,
        location: Location,
        found: SetupFlags,
        option: FlagOption,
        position: Position,
        width_in: float,
    ) -> None:
        self.location, self.found, self.option, self.position = location, found, option, position
        self.room = location.room_named(found.setup.room)
        wall = self.room.opening_named(option.opening).wall
        self._outside = option.placement == "outside"
        outside = wall.strip().upper() if wall is not None and self._outside else None
        up = location.site.plan_up
        self.tape = tape(self.room, found.mark, position.hung, plan_up_deg=up, outside=outside)
        self._free = width_in - 2 * EDGE_IN
        units, zone = location.site.units, location.timezone
        times = f"{Moment(position.start_s, zone)} – {Moment(position.end_s, zone)}"
        owned = "" if option.owned else ", not owned"
        self._title = wrapped(
            f"{found.setup.name}: {option.name}{owned} for {option.opening}, {option.placement}, "
            f"{times}",
            self._free - LEFT_IN,
            9.5,
            "bold",
        )
        frame = "out of frame" if position.clear_of_frame else "IN FRAME"
        stock, needs = by(*position.stock_m), by(*position.needs_m)
        size = text(stock, ", of which ", needs, " is needed").render(units)
        size = size.replace(" × ", KEPT + "×" + KEPT).replace(" m", KEPT + "m")
        self._words = wrapped(
            text(hung(self.tape), "; ", from_mark(self.tape), f"; {frame}; {size}").render(units),
            self._free - LEFT_IN,
            SMALL,
        )
        self._plan_in = self._free * 0.5 - LEFT_IN - 0.1
        corners = np.concatenate([one.corners()[:, :2] for one in position.pieces])
        span = floorplan.bounds(self.room)
        self._span = np.array(
            [np.minimum(span[0], corners.min(axis=0)), np.maximum(span[1], corners.max(axis=0))]
        )
        self._plan_high = floorplan.height_in(self._span, self._plan_in, MOST_IN)
        self._head = tall_in(self._title, 9.5) + tall_in(self._words, SMALL) + 0.05 + TITLE_IN
        wide, tall = self._drawing()
        per_in = max((wide[1] - wide[0]) / (self._plan_in - 2 * BESIDE_PT * POINT_IN), 1e-6)
        needed = (tall[1] - tall[0]) / per_in + (OVER_PT + UNDER_PT) * POINT_IN
        self._side_high = min(SIDE_IN, needed)
        high = max(self._plan_high, self._side_high)
        self.height_in = self._head + high + BELOW_IN + AFTER_IN

    def draw(self, figure: Figure, top: float) -> None:
        """Draw it below `top`."""
        left = EDGE_IN + LEFT_IN
        write(figure, left, top, self._title, fontsize=9.5, weight="bold")
        under = top + tall_in(self._title, 9.5) + 0.04
        write(figure, left, under, self._words, fontsize=SMALL, color=SOFT)
        top += self._head
        self._from_above(panel(figure, left, top, self._plan_in, self._plan_high))
        beside = left + self._plan_in + 0.1 + LEFT_IN
        axes = panel(figure, beside, top, self._plan_in, self._side_high)
        if self.tape.along_m is None:
            self._from_the_side(axes)
        else:
            self._on_its_wall(axes)

    def _drawing(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """What the elevation shows: its lowest and highest place across and up, metres."""
        room, found = self.room, self.tape
        base = room.floor - self.option.ground_m
        up = min(base, 0.0), max(base + room.height, found.top_m)
        if found.along_m is None:
            spots = np.concatenate((np.array(room.outline), self.position.hung.corners()[:, :2]))
            along = spots @ sideways(self.found.mark, self.position.hung)
            return (float(along.min()), float(along.max())), up
        length = math.dist(*room.wall(floorplan.wall_number(room, found.walls[0][0])))
        return (min(0.0, found.along_m[0]), max(length, found.along_m[1])), up

    def _from_above(self, axes: Axes) -> None:
        location, room = self.location, self.room
        scale, labels = floorplan.draw(axes, location, room, span=self._span)
        floorplan.draw_setup(axes, scale, room, self.found.setup, labels)
        for piece in self.position.pieces:
            corners = scale(piece.corners()[:, :2])
            _black(axes, corners)
            labels.avoid(corners, closed=True, cost=8.0)
        middle = self.position.centre[:2]
        rim = scale(np.concatenate([piece.corners()[:, :2] for piece in self.position.pieces]))
        labels.add(
            self.option.name, scale(middle), away=8.0, toward_deg=90.0, size=SMALL, thing=rim
        )
        if self.tape.along_m is None:
            for letter, away in self.tape.walls:
                end = scale(foot(room, letter, middle.tolist()))
                _measure(axes, labels, scale(middle), end, about(away).render(scale.units))
        labels.place()

    def _opening(self) -> Aperture:
        return aperture(
            self.room,
            self.room.opening_named(self.option.opening),
            plan_up_deg=self.location.site.plan_up,
        )

    def _on_its_wall(self, axes: Axes) -> None:
        """The wall before which it hangs flat, from the side on which it hangs."""
        room, scale = self.room, Scale(self.location)
        letter = self.tape.walls[0][0]
        first, way = (np.array(one) for one in room.wall_way(letter))
        second = room.wall(floorplan.wall_number(room, letter))[1]
        length, ground = math.dist(first, second), self.option.ground_m
        assert self.tape.along_m is not None
        start, end = self.tape.along_m
        base, top = room.floor - ground, room.floor + room.height - ground
        whole = self._drawing()
        _limits(axes, scale, *whole, over_pt=OVER_PT)
        if self.tape.indoors:  # one's right is the wall's first corner
            axes.set_xlim(*axes.get_xlim()[::-1])
        labels = Labels(axes)
        axes.add_patch(
            Rectangle(
                scale((0.0, base)), scale(length), scale(top - base), facecolor=FLOOR,
                edgecolor=WALL, lw=1.5, zorder=0.1,
            )
        )  # fmt: skip

        def onto(points: Floats) -> Floats:
            along = (points[:, :2] - first) @ way
            found: Floats = scale(np.stack((along, points[:, 2] - ground), axis=-1))
            return found

        window = onto(self._opening().world(self._opening().rectangle))
        axes.add_patch(Polygon(window, facecolor=PAPER, edgecolor=GLASS, lw=1.4, zorder=0.3))
        labels.avoid(window, closed=True, cost=3.0)
        seen = [onto(piece.corners()) for piece in self.position.pieces]
        for corners in seen:
            _black(axes, corners, alpha=0.82)
            labels.avoid(corners, closed=True, cost=6.0)
            labels.avoid_spot(corners.mean(axis=0), 8.0)
        labels.add(wrapped(self.option.opening, 0.9), window.mean(axis=0), away=0.0, colour=GLASS)
        every = np.concatenate(seen)
        self._heights(axes, labels, scale, every, whole[0])
        point = (axes.get_ylim()[1] - axes.get_ylim()[0]) / axes.bbox.height
        for count, stop in enumerate(one for one in (start, end) if abs(one) > EDGE_ON_M):
            y = float(scale(whole[1][1])) + (STEP_PT * (count + 0.6)) * point
            x = float(scale(stop))
            axes.plot([x, x], [every[:, 1].max(), y], color=SOFT, lw=0.5, zorder=1.0)
            labels.avoid([(x, every[:, 1].max()), (x, y)], cost=3.0)
            _measure(
                axes, labels, np.array([0.0, y]), np.array([x, y]), about(stop).render(scale.units)
            )
        labels.place()
        side = "from inside" if self.tape.indoors else "from outside"
        what = "floor" if self.tape.indoors else "ground"
        evenly(
            axes,
            f"wall {letter} {side}, from its first corner, {scale.units}",
            f"above the {what}, {scale.units}",
        )

    def _from_the_side(self, axes: Axes) -> None:
        """Floor, ceiling, mark and flag as seen along the flag, the opening's light between."""
        room, scale, mark = self.room, Scale(self.location), self.found.mark
        way = sideways(self.found.mark, self.position.hung)
        ground = self.option.ground_m

        def onto(points: Floats) -> Floats:
            found: Floats = scale(np.stack((points[:, :2] @ way, points[:, 2] - ground), axis=-1))
            return found

        outline = np.array(room.outline) @ way
        base = room.floor - ground
        across, tall = self._drawing()
        _limits(axes, scale, across, tall, over_pt=6.0)
        labels = Labels(axes)
        corner = scale((float(outline.min()), base))
        size = scale((float(np.ptp(outline)), room.height))
        axes.add_patch(
            Rectangle(corner, *size, facecolor=FLOOR, edgecolor=WALL, lw=1.5, zorder=0.1)
        )
        at = float(np.array(mark.at) @ way)
        foot = np.array([at - mark.width / 2, base + mark.height[0]])
        body = foot + np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [
            mark.width,
            mark.height[1] - mark.height[0],
        ]
        opening = self._opening()
        hole = onto(opening.world(opening.rectangle))
        light = shapely.MultiPoint(np.concatenate((scale(body), hole))).convex_hull
        if light.geom_type == "Polygon":
            ring = np.array(light.exterior.coords)
            axes.add_patch(Polygon(ring, facecolor=SUN_PALE, alpha=0.6, lw=0, zorder=0.2))
            labels.avoid(ring, cost=1.0)
        axes.add_patch(Polygon(scale(body), facecolor=MARK, edgecolor=INK, lw=0.8, zorder=0.5))
        labels.avoid(scale(body), closed=True, cost=4.0)
        labels.add(wrapped(mark.name, 0.9), scale(body).mean(axis=0), away=0.0)
        axes.plot(*hole[[0, 1, 2, 3, 0]].T, color=GLASS, lw=2.4, zorder=0.6)
        labels.avoid(hole, closed=True, cost=6.0)
        labels.add(
            wrapped(self.option.opening, 0.9), hole.mean(axis=0), away=7.0, colour=GLASS, thing=hole
        )
        seen = [onto(piece.corners()) for piece in self.position.pieces]
        for corners in seen:
            _black(axes, corners)
            labels.avoid(corners, closed=True, cost=8.0)
        self._stand(axes, labels, scale, float(self.position.centre[:2] @ way))
        self._heights(axes, labels, scale, np.concatenate(seen), across)
        labels.place()
        right = math.degrees(math.atan2(way[0], way[1])) + self.location.site.plan_up
        evenly(
            axes,
            f"seen from the side, right is {bearing(right)}, {scale.units}",
            f"above the floor, {scale.units}",
        )

    def _stand(self, axes: Axes, labels: Labels, scale: Scale, at: float) -> None:
        if self.option.stand is None:
            return
        head = self.option.head_m(self.position)
        line = scale(np.array([[at, 0.0], [at, head]]))
        axes.plot(*line.T, color=SOFT, lw=1.2, zorder=0.8)
        feet = scale(np.array([[at - 0.3, 0.0], [at, 0.25], [at + 0.3, 0.0]]))
        axes.plot(*feet.T, color=SOFT, lw=1.2, zorder=0.8)
        labels.avoid(line, cost=3.0)
        name = f"{self.option.stand.name},\nhead at {about(head).render(scale.units)}"
        labels.add(name, line.mean(axis=0), away=6.0, colour=SOFT, size=SMALL, thing=line)

    def _heights(
        self,
        axes: Axes,
        labels: Labels,
        scale: Scale,
        corners: Floats,
        across: tuple[float, float],
    ) -> None:
        """Up to the lower and the upper edge, beside the drawing on the side that is nearer."""
        edges = [self.tape.bottom_m]
        if self.tape.top_m - self.tape.bottom_m > EDGE_ON_M:
            edges.append(self.tape.top_m)
        low, high = scale(across[0]), scale(across[1])
        ends = corners[:, 0].min(), corners[:, 0].max()
        to_low = ends[0] - low < high - ends[1]
        near, side, way = (ends[0], low, -1.0) if to_low else (ends[1], high, 1.0)
        point = abs(axes.get_xlim()[1] - axes.get_xlim()[0]) / axes.bbox.width
        for count, edge in enumerate(edges):
            x = side + way * (STEP_PT * (count + 0.8)) * point
            y = float(scale(edge))
            axes.plot([near, x], [y, y], color=SOFT, lw=0.5, zorder=1.0)
            labels.avoid([(near, y), (x, y)], cost=3.0)
            _measure(
                axes, labels, np.array([x, 0.0]), np.array([x, y]), about(edge).render(scale.units)
            )


def _limits(
    axes: Axes,
    scale: Scale,
    across: tuple[float, float],
    up: tuple[float, float],
    *,
    over_pt: float,
) -> None:
    """Limits, as long as broad, round a drawing, metres: free for measures beside and over it."""
    wide, high = axes.bbox.width, axes.bbox.height
    per_point = max(
        (across[1] - across[0]) / (wide - 2 * BESIDE_PT),
        (up[1] - up[0]) / (high - UNDER_PT - over_pt),
    )
    middle = sum(across) / 2
    axes.set_xlim(*scale((middle - per_point * wide / 2, middle + per_point * wide / 2)))
    low = up[0] - per_point * UNDER_PT
    axes.set_ylim(*scale((low, low + per_point * high)))


def _black(axes: Axes, corners: Floats, *, alpha: float = 1.0) -> None:
    """A flag's outline, a line where it is seen edge on."""
    axes.add_patch(
        Polygon(
            corners, facecolor=(*to_rgb(FLAG), alpha), edgecolor=FLAG, lw=2.2, joinstyle="miter",
            zorder=2.0,
        )
    )  # fmt: skip


def _measure(axes: Axes, labels: Labels, start: Floats, end: Floats, text: str) -> None:
    """A line with a tick at each end and what it measures, data."""
    axes.plot([start[0], end[0]], [start[1], end[1]], color=INK, lw=HAIR, zorder=2.2)
    pixels = axes.transData.transform(np.stack((start, end)))
    way = pixels[1] - pixels[0]
    way = way / max(float(np.linalg.norm(way)), 1e-9)
    off = TICK_PT * np.array([way[0] - way[1], way[0] + way[1]]) / math.sqrt(2.0)
    for spot in pixels:
        tick = axes.transData.inverted().transform(np.stack((spot - off, spot + off)))
        axes.plot(*tick.T, color=INK, lw=HAIR, zorder=2.2)
    # Its own text breaks the line, where that is long enough; no other lies on it.
    broken = np.abs(way) @ (np.array(extent_pt(text, SMALL)) / 2 + CLEAR_PT)
    ends = [pixels]
    if 2 * broken < math.dist(*pixels) - 2 * TICK_PT:
        middle = pixels.mean(axis=0)
        ends = [
            np.stack((pixels[0], middle - broken * way)),
            np.stack((middle + broken * way, pixels[1])),
        ]
    for part in ends:
        labels.avoid(axes.transData.inverted().transform(part), cost=12.0)
    line = np.stack((start, end))
    labels.add(text, line.mean(axis=0), away=0.0, size=SMALL, thing=line)
