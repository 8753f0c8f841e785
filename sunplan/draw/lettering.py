"""Where does a text go, so that it lies on no other and on little else?

All places are weighed by moving boxes: a text's size is measured once, what it should not cover is
a set of points, and only the chosen place becomes an artist.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from numpy.typing import ArrayLike

from ..sun.position import Floats
from .ink import INK, PAPER, TEXT
from .panels import LINE, extent_pt

REACHES_PT = (0.0, 5.0, 11.0, 18.0, 27.0, 38.0, 52.0, 70.0, 95.0, 130.0)
TURNS_DEG = np.arange(0.0, 360.0, 15.0)
APART_PT = 1.6  # between two texts
CLEAR_PT = 2.0  # between a text and a line
STEP_PT = 3.0  # between the points of a line that is kept clear
LEADS_PT = 12.0  # a text that is farther off gets a line to what it names
NEVER = 1e4  # what a place on another text, or beyond the frame, costs a square point
LEADS_OVER = 6.0  # what a line over a text costs, for each of nine spots of it
ASTRAY = 14.0  # what it costs to stand as near to what another text names
BESIDE_PT = 4.0  # so much nearer to its own is near enough
LIKING_PT = 0.35  # what a point farther off costs
TRIES = 6
# What is below a text that lies on something.
GROUND: Any = {"facecolor": PAPER, "edgecolor": "none", "alpha": 0.8, "lw": 0.9, "pad": 0.7}


@dataclass(frozen=True, eq=False)
class _Wish:
    """A text, its size in points, where it belongs (pixels), and where it would like to be.

    `thing` (N, 2) are pixels of what it names.
    """

    text: str
    size: tuple[float, float]
    anchor: Floats
    thing: Floats
    away_pt: float
    toward_deg: float
    colour: str
    fontsize: float
    weight: str
    edge: str


class Labels:
    """Texts set beside their anchors on one panel, whose limits must be final."""

    def __init__(self, axes: Axes) -> None:
        self._axes = axes
        self._wishes: list[_Wish] = []
        self._points: list[Floats] = []
        self._costs: list[Floats] = []
        self._boxes: list[tuple[float, float, float, float]] = []

    def _pixels(self, points: ArrayLike) -> Floats:
        found: Floats = self._axes.transData.transform(np.atleast_2d(np.asarray(points, float)))
        return found

    def add(
        self,
        text: str,
        at: ArrayLike,
        *,
        away: float = 5.0,
        toward_deg: float = 0.0,
        colour: str = INK,
        size: float = TEXT,
        weight: str = "normal",
        edge: str = "none",
        thing: ArrayLike | None = None,
    ) -> None:
        """A text `away` points from its anchor (data), best in this direction; 0: right on it.

        `edge` is the colour of the line round it; `thing` (N, 2) the outline of what it names,
        where that is more than the anchor.
        """
        extent = extent_pt(text, size, weight)
        anchor = self._pixels(at)[0]
        named = anchor[None] if thing is None else self._along(self._pixels(thing))
        self._wishes.append(
            _Wish(text, extent, anchor, named, away, toward_deg, colour, size, weight, edge)
        )

    @staticmethod
    def _along(ends: Floats) -> Floats:
        """Points every few pixels of a line."""
        if len(ends) < 2:
            return ends
        span = np.hypot(*np.diff(ends, axis=0).T)
        along = np.concatenate(([0.0], np.cumsum(span)))
        at = np.linspace(0.0, along[-1], max(2, int(along[-1] / STEP_PT)))
        return np.stack([np.interp(at, along, ends[:, axis]) for axis in (0, 1)], axis=-1)

    def avoid(self, points: ArrayLike, *, cost: float = 2.0, closed: bool = False) -> None:
        """Rather no text on this line, points (N, 2) in data."""
        ends = self._pixels(points)
        if closed:
            ends = np.concatenate((ends, ends[:1]))
        ends = self._along(ends)
        self._points.append(ends)
        self._costs.append(np.full(len(ends), cost))

    def avoid_spot(self, at: ArrayLike, radius_pt: float, *, cost: float = 40.0) -> None:
        """No text on a sign of this size, if it can be helped."""
        off = np.linspace(-radius_pt, radius_pt, 3)
        ring = np.stack(np.meshgrid(off, off), axis=-1).reshape(-1, 2)
        self._points.append(self._pixels(at)[0] + ring)
        self._costs.append(np.full(len(ring), cost))

    def avoid_box(self, low: ArrayLike, high: ArrayLike) -> None:
        """No text in a box (data) that holds another."""
        (x0, y0), (x1, y1) = self._pixels(low)[0], self._pixels(high)[0]
        self._boxes.append((min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))

    def avoid_text(self, text: str, at: ArrayLike, size: float) -> None:
        """No text on one that is centred there."""
        x, y = self._pixels(at)[0]
        wide, high = extent_pt(text, size, "bold")
        self._boxes.append((x - wide / 2, y - high / 2, x + wide / 2, y + high / 2))

    def place(self) -> None:
        """Set all texts."""
        frame = self._axes.bbox
        edge = np.array([frame.x0 + 1, frame.y0 + 1, frame.x1 - 1, frame.y1 - 1])
        points = np.concatenate(self._points) if self._points else np.empty((0, 2))
        costs = np.concatenate(self._costs) if self._costs else np.empty(0)
        order = list(range(len(self._wishes)))
        best: tuple[float, dict[int, Floats]] | None = None
        for _ in range(TRIES):
            found: dict[int, Floats] = {}
            boxes = list(self._boxes)
            stuck: list[int] = []
            total = 0.0
            for which in order:
                cost, middle = self._choose(self._wishes[which], edge, points, costs, boxes)
                total += cost
                if cost >= NEVER:
                    stuck.append(which)
                found[which] = middle
                boxes.append(_box(middle, self._wishes[which].size))
            if best is None or total < best[0]:
                best = total, found
            if not stuck:
                break
            order = stuck + [one for one in order if one not in stuck]
        assert best is not None
        for which, middle in best[1].items():
            self._set(self._wishes[which], middle)

    def _choose(
        self,
        wish: _Wish,
        edge: Floats,
        points: Floats,
        costs: Floats,
        boxes: Iterable[tuple[float, float, float, float]],
    ) -> tuple[float, Floats]:
        """What the best place costs, and its middle."""
        half = np.array(wish.size) / 2
        turns = np.radians(TURNS_DEG + wish.toward_deg)
        way = np.stack((np.cos(turns), np.sin(turns)), axis=-1)
        turned = np.abs((TURNS_DEG + 180.0) % 360.0 - 180.0) / 30.0
        # The corner of a slanting place comes nearer: the box is set by its nearest point.
        off = np.clip(way * 1.5, -1.0, 1.0) * half
        taken = np.array(list(boxes)).reshape(-1, 4)
        best = (math.inf, wish.anchor)
        if wish.away_pt == 0.0:
            here = wish.anchor[None]
            best = float(self._cost(wish, here, edge, points, costs, taken)[0]), wish.anchor
        for reach in [one for one in REACHES_PT if one >= wish.away_pt] or [wish.away_pt]:
            liking = (reach - wish.away_pt) * LIKING_PT + turned
            if best[0] <= liking.min():
                break
            middles = wish.anchor + off + reach * way
            cost = liking + self._cost(wish, middles, edge, points, costs, taken)
            cost += ASTRAY * self._astray(wish, middles)
            at = int(np.argmin(cost))
            if cost[at] < best[0]:
                best = float(cost[at]), middles[at]
        return best

    def _astray(self, wish: _Wish, middles: Floats) -> Floats:
        """How many other things are as near to a text at its places (C, 2) as its own, (C,)."""

        def off(thing: Floats) -> Floats:
            over = np.maximum(np.abs(thing - middles[:, None]) - np.array(wish.size) / 2, 0.0)
            found: Floats = np.hypot(*np.moveaxis(over, -1, 0)).min(axis=1)
            return found

        own = off(wish.thing)
        others = [off(one.thing) < own + BESIDE_PT for one in self._wishes if one is not wish]
        found: Floats = np.sum(others, axis=0, dtype=np.float64) if others else np.zeros(len(own))
        return found

    @staticmethod
    def _cost(
        wish: _Wish, middles: Floats, edge: Floats, points: Floats, costs: Floats, taken: Floats
    ) -> Floats:
        """What a text's places (C, 2) cover, (C,)."""
        half = np.array(wish.size) / 2
        low, high = middles - half, middles + half
        over = np.maximum(edge[:2] - low, 0.0) + np.maximum(high - edge[2:], 0.0)
        cost: Floats = NEVER * over.sum(axis=1)
        if len(taken):
            shared = np.minimum(high[:, None], taken[:, 2:] + APART_PT) - np.maximum(
                low[:, None], taken[:, :2] - APART_PT
            )
            cost += NEVER * np.prod(np.maximum(shared, 0.0), axis=-1).sum(axis=1)
            # A line to what it names runs over no text either.
            share = np.linspace(0.0, 1.0, 9)[:, None]
            leads: Floats = wish.anchor + share * (middles - wish.anchor)[:, None]
            over_text = (leads[:, :, None] > taken[:, :2]) & (leads[:, :, None] < taken[:, 2:])
            cost += LEADS_OVER * over_text.all(axis=-1).max(axis=2).sum(axis=1)
        if len(points):
            near = (points > low.min(axis=0) - CLEAR_PT) & (points < high.max(axis=0) + CLEAR_PT)
            rows = np.flatnonzero(near.all(axis=1))
            some = points[rows]
            inside = (some > low[:, None] - CLEAR_PT) & (some < high[:, None] + CLEAR_PT)
            cost += inside.all(axis=-1) @ costs[rows]
        return cost

    def _set(self, wish: _Wish, middle: Floats) -> None:
        half = np.array(wish.size) / 2
        near = np.clip(wish.anchor, middle - half, middle + half)
        if math.dist(near, wish.anchor) > LEADS_PT:
            line = self._axes.transData.inverted().transform(np.stack((wish.anchor, near)))
            self._axes.add_line(Line2D(*line.T, color=wish.colour, lw=0.6, zorder=4.0))
        x, y = self._axes.transData.inverted().transform(middle)
        self._axes.text(
            x,
            y,
            wish.text,
            ha="center",
            va="center",
            color=wish.colour,
            fontsize=wish.fontsize,
            weight=wish.weight,
            linespacing=LINE,
            zorder=5.0,
            bbox={**GROUND, "edgecolor": wish.edge},
        )


def _box(middle: Floats, size: tuple[float, float]) -> tuple[float, float, float, float]:
    (x, y), (wide, high) = middle, size
    return (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
