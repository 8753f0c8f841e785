"""Where does a text go, so that it lies on no other and on little else?

The one labeller, of plans, elevations and charts. All places are weighed by moving boxes: what a
text should not cover is a set of points. No two boxes overlap and none leaves the drawing; a text
that may be left out is, where no place is free.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import ArrayLike

from ..sun.position import Floats, wrapped_deg
from .letters import extent_pt, wrapped
from .signs import Letters

REACHES_PT = (0.0, 5.0, 11.0, 18.0, 27.0, 38.0, 52.0, 70.0, 95.0, 130.0)
TURNS_DEG = np.arange(0.0, 360.0, 15.0)
APART_PT = 1.6  # between two texts, unless another is asked for
CLEAR_PT = 2.0  # between a text and a line
STEP_PT = 3.0  # between the points of a line that is kept clear
LEADS_PT = 12.0  # a text that is farther off gets a line to what it names
NEVER = 1e4  # what a place on another text, or beyond the frame, costs a square point
LEADS_OVER = 6.0  # what a line over a text costs, for each of nine spots of it
ASTRAY = 14.0  # what it costs to stand as near to what another text names
BESIDE_PT = 4.0  # so much nearer to its own is near enough
LIKING_PT = 0.35  # what a point farther off costs
SLANTING = 8.0  # what it costs a text to stand askew before a line
TRIES = 6
TAG_PT = 2.0  # from a tag's letters to its edge
GRID = 40  # each way, of places to which a text is sent that finds none near

Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Label:
    """A text, where it belongs, and where it would like to be; places in a scene's own units.

    `at` (2,), or (K, 2) of which the first are liked best. It stands `away_pt` from there, best in
    the direction `toward_deg`, counter-clockwise from x; 0: right on it. `thing` (N, 2) is the
    outline of what it names, where that is more than the place; `off_pt` moves the place on the
    drawing. `straight`: rather that direction or the opposite than askew. One that is not `needed`
    is left out where no place is free. `of` tells whose it is.
    """

    text: str
    at: ArrayLike
    letters: Letters = field(default_factory=Letters)
    kind: str = ""
    away_pt: float = 5.0
    toward_deg: float = 0.0
    thing: ArrayLike | None = None
    off_pt: tuple[float, float] = (0.0, 0.0)
    straight: bool = False
    needed: bool = True
    of: str = ""
    width_pt: float | None = None  # a longer text takes a second line


@dataclass(frozen=True, eq=False)
class Placed:
    """A label as it is set: its text, its box's middle (2,) and size, its line; points."""

    label: Label
    text: str
    middle: Floats
    size: tuple[float, float]
    lead: Floats | None

    @property
    def box(self) -> Box:
        """Left, lower, right and upper edge."""
        return _box(self.middle, self.size)


@dataclass(frozen=True, eq=False)
class _Wish:
    """A label on the drawing: its text, box, anchors (K, 2) and thing (N, 2), all in points."""

    label: Label
    text: str
    size: tuple[float, float]
    anchors: Floats
    thing: Floats


class Labels:
    """Texts set beside their anchors on one drawing.

    `edges` are the drawing's left, lower, right and upper edge and `put` takes places (N, 2) to
    points on it; `letters_pt` is the usual size of its letters,
    `apart_pt` what is free between two texts.
    """

    def __init__(
        self,
        edges: Box,
        put: Callable[[Floats], Floats],
        letters_pt: float,
        apart_pt: float = APART_PT,
    ) -> None:
        self._edges, self._put, self._letters_pt = np.array(edges), put, letters_pt
        self._apart_pt = apart_pt
        self._wishes: list[_Wish] = []
        self._points: list[Floats] = []
        self._costs: list[Floats] = []
        self._of: list[str] = []
        self._boxes: list[Box] = []

    def _on_drawing(self, points: ArrayLike) -> Floats:
        return self._put(np.atleast_2d(np.asarray(points, dtype=np.float64)))

    def add(self, label: Label) -> None:
        """A text to set."""
        letters = label.letters
        size = self._letters_pt * letters.size
        text = label.text
        if label.width_pt is not None:
            text = wrapped(text, label.width_pt, size, bold=letters.bold)
        wide, high = extent_pt(text, size, bold=letters.bold)
        if letters.tag:
            wide, high = wide + 2 * TAG_PT, high + 1.0
        anchors = self._on_drawing(label.at) + label.off_pt
        thing = anchors[:1] if label.thing is None else points_along(self._on_drawing(label.thing))
        self._wishes.append(_Wish(label, text, (wide, high), anchors, thing))

    def avoid(self, points: ArrayLike, *, cost: float = 2.0, of: str = "") -> None:
        """Rather no text on this line, (N, 2)."""
        self.avoid_pt(self._on_drawing(points), cost=cost, of=of)

    def avoid_pt(self, ends: Floats, *, cost: float, of: str = "") -> None:
        """The same, of points on the drawing; what it is `of` may lie on it."""
        points = points_along(ends)
        self._points.append(points)
        self._costs.append(np.full(len(points), cost))
        self._of += [of] * len(points)

    def avoid_spot(self, at: ArrayLike, radius_pt: float, *, cost: float = 40.0) -> None:
        """No text on a sign of this size, if it can be helped."""
        off = np.linspace(-radius_pt, radius_pt, 3)
        ring = np.stack(np.meshgrid(off, off), axis=-1).reshape(-1, 2)
        for point in self._on_drawing(at) + ring:
            self.avoid_pt(point[None], cost=cost)

    def block(self, box: Box) -> None:
        """No text in this box, points."""
        self._boxes.append(box)

    def block_text(self, text: str, at: ArrayLike, size: float) -> None:
        """No text on one that is centred there already."""
        self.block(_box(self._on_drawing(at)[0], extent_pt(text, size, bold=True)))

    def place(self) -> list[Placed]:
        """Set all texts, in their order."""
        points = np.concatenate(self._points) if self._points else np.empty((0, 2))
        costs = np.concatenate(self._costs) if self._costs else np.empty(0)
        # What is needed has the first choice.
        order = sorted(range(len(self._wishes)), key=lambda i: not self._wishes[i].label.needed)
        best: tuple[float, dict[int, Floats]] = (math.inf, {})
        for _ in range(TRIES):
            placed, stuck, total = self._try(order, points, costs)
            if total < best[0]:
                best = total, placed
            if not any(self._wishes[index].label.needed for index in stuck):
                break
            order = stuck + [index for index in order if index not in stuck]
        return [self._set(self._wishes[index], best[1][index]) for index in sorted(best[1])]

    def _try(
        self, order: Sequence[int], points: Floats, costs: Floats
    ) -> tuple[dict[int, Floats], list[int], float]:
        """Middles of texts set in this order, those that found no free place, and what all cost."""
        placed: dict[int, Floats] = {}
        boxes, stuck, total = list(self._boxes), [], 0.0
        for index in order:
            wish = self._wishes[index]
            cost, middle = self._choose(wish, points, costs, boxes)
            if cost >= NEVER:
                stuck.append(index)
                if not wish.label.needed:
                    total += NEVER / 10
                    continue
                cost, middle = self._anywhere(wish, points, costs, boxes)
            total += cost
            placed[index] = middle
            boxes.append(_box(middle, wish.size))
        return placed, stuck, total

    def _choose(
        self, wish: _Wish, points: Floats, costs: Floats, boxes: Sequence[Box]
    ) -> tuple[float, Floats]:
        """What the best place near its anchors costs, and its middle."""
        label, half = wish.label, np.array(wish.size) / 2
        turns_deg = TURNS_DEG[::2] if label.straight else TURNS_DEG
        turns = np.radians(turns_deg + label.toward_deg)
        way = np.stack((np.cos(turns), np.sin(turns)), axis=-1)
        turned = np.abs(wrapped_deg(turns_deg)) / 30.0
        if label.straight:
            turned = SLANTING * np.abs(np.sin(np.radians(turns_deg))) + turned
        # The corner of a slanting place comes nearer: the box is set by its nearest point.
        off = np.clip(way * 1.5, -1.0, 1.0) * half
        taken = np.array(boxes).reshape(-1, 4)
        rank = 4.0 * np.arange(len(wish.anchors)) / len(wish.anchors)
        best = (math.inf, wish.anchors[0])
        if label.away_pt == 0.0:
            weighed = rank + self._cost(wish, wish.anchors, points, costs, taken)
            best = float(weighed.min()), wish.anchors[int(np.argmin(weighed))]
        reaches = [reach for reach in REACHES_PT if reach > label.away_pt]
        for reach in [label.away_pt, *reaches[: 3 if label.straight else None]]:
            liking = (reach - label.away_pt) * LIKING_PT + turned
            if best[0] <= liking.min():
                break
            middles = (wish.anchors[:, None] + off + reach * way).reshape(-1, 2)
            weighed = (rank[:, None] + liking).ravel()
            weighed = weighed + self._cost(wish, middles, points, costs, taken)
            # Whether it stands astray is asked last, and only of places that may yet be the best.
            for some in np.array_split(np.argsort(weighed, kind="stable"), len(weighed) // 12):
                some = some[weighed[some] < best[0]]
                if not len(some):
                    break
                whole = weighed[some] + ASTRAY * self._astray(wish, middles[some])
                index = int(np.argmin(whole))
                if whole[index] < best[0]:
                    best = float(whole[index]), middles[some[index]]
        return best

    def _anywhere(
        self, wish: _Wish, points: Floats, costs: Floats, boxes: Sequence[Box]
    ) -> tuple[float, Floats]:
        """The best place of the whole drawing, when there is none near."""
        half = np.array(wish.size) / 2 + 0.1
        low, high = self._edges[:2] + half, self._edges[2:] - half
        xs, ys = (np.linspace(a, max(a, b), GRID) for a, b in zip(low, high, strict=True))
        middles = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
        far = np.hypot(*(middles - wish.anchors[0]).T)
        taken = np.array(boxes).reshape(-1, 4)
        weighed = LIKING_PT * far + self._cost(wish, middles, points, costs, taken)
        index = int(np.argmin(weighed))
        return float(weighed[index]), middles[index]

    def _astray(self, wish: _Wish, middles: Floats) -> Floats:
        """How many other things are as near to a text at its places (C, 2) as its own, (C,)."""
        things = [other.thing for other in self._wishes]
        starts = np.cumsum([0, *map(len, things[:-1])])
        over = np.abs(np.concatenate(things) - middles[:, None]) - np.array(wish.size) / 2
        apart = np.hypot(*np.moveaxis(np.maximum(over, 0.0), -1, 0))
        nearest = np.minimum.reduceat(apart, starts, axis=1)
        own = self._wishes.index(wish)
        astray: Floats = (nearest < nearest[:, [own]] + BESIDE_PT).sum(axis=1) - 1.0
        return astray

    def _cost(
        self, wish: _Wish, middles: Floats, points: Floats, costs: Floats, taken: Floats
    ) -> Floats:
        """What a text's places (C, 2) cover, (C,)."""
        half = np.array(wish.size) / 2
        low, high = middles - half, middles + half
        over = np.maximum(self._edges[:2] - low, 0.0) + np.maximum(high - self._edges[2:], 0.0)
        # Any place beyond the edge costs NEVER at least.
        cost: Floats = NEVER * (over.sum(axis=1) + (over > 0.0).any(axis=1))
        # From here x and y each by themselves: it takes half the time of pairs.
        (left, lower), (right, upper) = low.T[..., None], high.T[..., None]
        if len(taken):
            apart = self._apart_pt
            left_taken, lower_taken, right_taken, upper_taken = taken.T
            wide = np.minimum(right, right_taken + apart) - np.maximum(left, left_taken - apart)
            tall = np.minimum(upper, upper_taken + apart) - np.maximum(lower, lower_taken - apart)
            overlap = np.maximum(wide, 0.0) * np.maximum(tall, 0.0)
            cost += NEVER * (overlap + (overlap > 0.0)).sum(axis=1)
            # A line to what it names runs over no text either.
            share = np.linspace(0.0, 1.0, 9)[:, None]
            leads: Floats = wish.anchors[0] + share * (middles - wish.anchors[0])[:, None]
            x, y = leads[..., 0, None], leads[..., 1, None]
            over_text = (x > left_taken) & (x < right_taken)
            over_text &= (y > lower_taken) & (y < upper_taken)
            cost += LEADS_OVER * over_text.max(axis=2).sum(axis=1)
        if len(points):
            near = (points > low.min(axis=0) - CLEAR_PT) & (points < high.max(axis=0) + CLEAR_PT)
            rows = np.flatnonzero(near[:, 0] & near[:, 1])
            if wish.label.away_pt == 0.0 and wish.label.of:
                rows = np.array([i for i in rows if self._of[i] != wish.label.of], dtype=int)
            x, y = points[rows].T
            inside = (x > left - CLEAR_PT) & (x < right + CLEAR_PT)
            inside &= (y > lower - CLEAR_PT) & (y < upper + CLEAR_PT)
            cost += inside @ costs[rows]
        return cost

    @staticmethod
    def _set(wish: _Wish, middle: Floats) -> Placed:
        half = np.array(wish.size) / 2
        spots = wish.anchors if wish.label.thing is None else wish.thing
        anchor = spots[int(np.argmin(np.hypot(*(spots - middle).T)))]
        near = np.clip(anchor, middle - half, middle + half)
        if len(wish.thing) > 2 and shapely.Polygon(wish.thing).contains(shapely.Point(middle)):
            return Placed(wish.label, wish.text, middle, wish.size, None)  # it lies on its thing
        free = max(LEADS_PT, wish.label.away_pt + 1.0)
        far = math.dist(near, anchor) > (free / 2 if wish.label.straight else free)
        return Placed(
            wish.label, wish.text, middle, wish.size, np.stack((anchor, near)) if far else None
        )


def points_along(ends: Floats) -> Floats:
    """Points every few points of a line."""
    if len(ends) < 2:
        return ends
    span = np.hypot(*np.diff(ends, axis=0).T)
    along = np.concatenate(([0.0], np.cumsum(span)))
    places = np.linspace(0.0, along[-1], max(2, int(along[-1] / STEP_PT)))
    return np.stack([np.interp(places, along, ends[:, axis]) for axis in (0, 1)], axis=-1)


def _box(middle: ArrayLike, size: tuple[float, float]) -> Box:
    (x, y), (wide, high) = np.asarray(middle, dtype=np.float64).tolist(), size
    return (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
