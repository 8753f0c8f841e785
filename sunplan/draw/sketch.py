"""A drawing for a printed sheet: lines, shapes and words in millimetres, y down the paper.

What it holds goes to the typesetter as plain figures; the template draws them. Words are set where
they lie on nothing that is there already, as far as any place is free.
"""

from __future__ import annotations

import itertools
import math
import textwrap
from collections.abc import Sequence
from typing import Any, Literal

import numpy as np

from ..sun.position import Floats

Spot = tuple[float, float]
Box = tuple[float, float, float, float]
Fill = Literal["none", "white", "pale", "grey", "dark", "black"]

LETTER_MM, LINE_MM = 2.05, 4.0  # of a 9 pt sans: the widest that names come to, and a line
LONGEST, MOST_LINES = 20, 3  # of a name; beside the drawing it stands whole
REACHES = (1.0, 1.8, 2.8)  # times as far off as asked
TURNS_DEG = (0, 180, 90, 270, 45, 135, 225, 315)
STEP_MM = 1.5  # along a line that words keep off
OUTSIDE = 30.0  # as bad as so many mm² of overlap: a word that leaves the drawing


class Sketch:
    """A drawing of a width and a height."""

    def __init__(self, width_mm: float, height_mm: float) -> None:
        self.width_mm, self.height_mm = width_mm, height_mm
        self._items: list[dict[str, Any]] = []
        self._taken: list[Box] = []

    def figures(self) -> dict[str, Any]:
        """What the template draws."""
        return {"width": self.width_mm, "height": self.height_mm, "items": self._items}

    def polygon(
        self, points: Sequence[Spot], *, fill: Fill = "none", pt: float = 0.0, dashed: bool = False
    ) -> None:
        """A closed shape; a line of no width is none."""
        self._items.append(
            {
                "kind": "polygon",
                "points": [list(one) for one in points],
                "fill": fill,
                "pt": pt,
                "dashed": dashed,
            }
        )

    def line(self, start: Spot, end: Spot, *, pt: float, dashed: bool = False) -> None:
        """A straight line."""
        self._items.append(
            {"kind": "line", "points": [list(start), list(end)], "pt": pt, "dashed": dashed}
        )

    def circle(self, at: Spot, radius_mm: float, *, fill: Fill = "none", pt: float = 0.0) -> None:
        """A circle."""
        self._items.append(
            {"kind": "circle", "at": list(at), "radius": radius_mm, "fill": fill, "pt": pt}
        )

    def words(
        self, text: str, at: Spot, *, bold: bool = False, fill: Fill = "black", halo: bool = True
    ) -> None:
        """Words with their middle there; nothing else is set onto them."""
        self._items.append(
            {"kind": "words", "text": text, "at": list(at), "bold": bold, "fill": fill,
             "halo": halo}
        )  # fmt: skip
        self._taken.append(_box(at, text))

    def disc(self, text: str, at: Spot) -> None:
        """A number on a black disc."""
        self.circle(at, 2.3, fill="black")
        self.words(text, at, bold=True, fill="white", halo=False)
        self.keep_clear(at, 2.5)

    def keep_clear(self, at: Spot, radius_mm: float) -> None:
        """No words here."""
        x, y = at
        self._taken.append((x - radius_mm, y - radius_mm, x + radius_mm, y + radius_mm))

    def keep_clear_of(self, points: Sequence[Spot]) -> None:
        """No words on what these corners span."""
        xs, ys = zip(*points, strict=True)
        self._taken.append((min(xs), min(ys), max(xs), max(ys)))

    def label(
        self, text: str, at: Spot, *, away_mm: float, toward: Spot = (1.0, 0.0), bold: bool = False
    ) -> None:
        """Words beside a spot, in the direction asked if they are free there."""
        lines = textwrap.wrap(text, LONGEST, max_lines=MOST_LINES, placeholder="…")
        text = "\n".join(lines)
        first = math.degrees(math.atan2(toward[1], toward[0]))
        wide, high = _half(text)
        best: tuple[float, Spot] | None = None
        for reach in REACHES:
            middles = []
            for turn in TURNS_DEG:
                angle = math.radians(first + turn)
                x, y = math.cos(angle), math.sin(angle)
                # So far that the near edge of the words is away by what was asked.
                off = min(
                    wide / abs(x) if abs(x) > 1e-9 else math.inf,
                    high / abs(y) if abs(y) > 1e-9 else math.inf,
                )
                far = off + away_mm * reach
                middles.append((at[0] + x * far, at[1] + y * far))
            covered = self._hidden([_box(middle, text) for middle in middles])
            for hidden, middle in zip(covered, middles, strict=True):
                if best is None or hidden < best[0] - 0.1:
                    best = (hidden, middle)
            if best is not None and best[0] < 0.1:
                break
        assert best is not None
        if math.dist(best[1], at) > wide + 3 * away_mm:
            self.line(at, best[1], pt=0.4)
        self.words(text, best[1], bold=bold)

    def measure(self, start: Spot, end: Spot, text: str) -> None:
        """A line with a tick at each end, and what it measures."""
        self.line(start, end, pt=0.7)
        length = math.dist(start, end)
        way = (1.0, 0.0) if length < 1e-6 else (
            (end[0] - start[0]) / length, (end[1] - start[1]) / length,
        )  # fmt: skip
        for x, y in (start, end):
            dx, dy = (way[0] - way[1]) * 0.8, (way[0] + way[1]) * 0.8
            self.line((x - dx, y - dy), (x + dx, y + dy), pt=0.9)
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        self.label(text, middle, away_mm=0.6, toward=(-way[1], way[0]))

    def keep_off(self, points: Sequence[Spot]) -> None:
        """No words across a line through these points, where they have another place."""
        for start, end in itertools.pairwise(points):
            count = max(1, round(math.dist(start, end) / STEP_MM))
            for step in range(count + 1):
                share = step / count
                x, y = (a + share * (b - a) for a, b in zip(start, end, strict=True))
                self.keep_clear((x, y), 0.5)

    def ruler_up(
        self, x: float, zero: float, stops: Sequence[tuple[float, str]], side: int
    ) -> None:
        """Heights on one upright line, their words on its left (-1) or right (1)."""
        if not stops:
            return
        top = min(y for y, _ in stops)
        self.line((x, zero), (x, top), pt=0.7)
        self.keep_off([(x, zero), (x, top)])
        for y in (zero, *(y for y, _ in stops)):
            self.line((x - 1.0, y), (x + 1.0, y), pt=0.9)
        for (_, text), y in zip(stops, _apart([y for y, _ in stops], LINE_MM), strict=True):
            self.words(text, (x + side * (1.6 + len(text) * LETTER_MM / 2), y))

    def ruler_along(self, y: float, zero: float, stops: Sequence[tuple[float, str]]) -> None:
        """Distances on one level line, their words over it."""
        if not stops:
            return
        ends = [zero, *(x for x, _ in stops)]
        self.line((min(ends), y), (max(ends), y), pt=0.7)
        for x in ends:
            self.line((x, y - 1.0), (x, y + 1.0), pt=0.9)
        wide = max(len(text) for _, text in stops) * LETTER_MM
        for (_, text), x in zip(stops, _apart([x for x, _ in stops], wide), strict=True):
            self.words(text, (x, y - 1.2 - LINE_MM / 2))

    def _hidden(self, boxes: Sequence[Box]) -> list[float]:
        """How much of each box lies on what is taken, or off the drawing, mm²."""
        asked = np.array(boxes)
        inside = _shared(asked, [(0.0, 0.0, self.width_mm, self.height_mm)])
        off = np.prod(asked[:, 2:] - asked[:, :2], axis=1) - inside
        hidden = _shared(asked, self._taken) + (OUTSIDE + 4.0 * off) * (off > 0.1)
        found: list[float] = hidden.tolist()
        return found


def _apart(places: Sequence[float], least: float) -> list[float]:
    """Two places moved away from each other until they are so far apart."""
    if len(places) < 2:
        return list(places)
    first, second = places
    lack = (least - abs(second - first)) / 2
    if lack <= 0:
        return [first, second]
    return [first - lack, second + lack] if first < second else [first + lack, second - lack]


def _half(text: str) -> Spot:
    """Half the width and half the height of words, of one line or more."""
    lines = text.split("\n")
    return max(map(len, lines)) * LETTER_MM / 2, len(lines) * LINE_MM / 2


def _box(middle: Spot, text: str) -> Box:
    wide, high = _half(text)
    return middle[0] - wide, middle[1] - high, middle[0] + wide, middle[1] + high


def _shared(boxes: Floats, others: Sequence[Box]) -> Floats:
    """How much of each box (N, 4) lies on others together, (N,)."""
    on = np.array(others).reshape(-1, 4)
    low = np.maximum(boxes[:, None, :2], on[:, :2])
    high = np.minimum(boxes[:, None, 2:], on[:, 2:])
    found: Floats = np.prod(np.maximum(high - low, 0.0), axis=-1).sum(axis=1)
    return found


class Onto:
    """Metres onto the paper: as large as a width and a height allow, the lowest corner below."""

    def __init__(
        self, low: Spot, high: Spot, *, width_mm: float, most_mm: float, edges_mm: Box
    ) -> None:
        left, over, right, under = edges_mm
        wide, tall = max(high[0] - low[0], 1e-6), max(high[1] - low[1], 1e-6)
        self.per_m = min((width_mm - left - right) / wide, (most_mm - over - under) / tall)
        self.width_mm, self.height_mm = width_mm, self.per_m * tall + over + under
        self._left = left + (width_mm - left - right - self.per_m * wide) / 2
        self._foot, self._low = self.height_mm - under, low

    def __call__(self, point: Sequence[float]) -> Spot:
        return (
            self._left + self.per_m * (float(point[0]) - self._low[0]),
            self._foot - self.per_m * (float(point[1]) - self._low[1]),
        )

    def all(self, points: Sequence[Sequence[float]]) -> list[Spot]:
        """Several points."""
        return [self(one) for one in points]

    def empty(self) -> Sketch:
        """A drawing of this size."""
        return Sketch(self.width_mm, self.height_mm)
