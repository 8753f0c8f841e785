"""A scene at its size: every corner in points on the drawing, and every label where it is free."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..sun.position import Floats
from .labels import APART_PT, Label, Labels, Placed, points_along
from .letters import extent_pt
from .primitives import Scene, Shape, Surface, circle
from .signs import BASE_PT, DIAL_PT, SIGNS, TEXTS

CORNER_PT = 5.0  # from north to what is drawn
FEET_M = 0.9144  # three of them, on the scale
Margins = tuple[float, float, float, float]  # left, upper, right, lower


@dataclass(frozen=True)
class Frame:
    """Metres to points on a drawing, from its lower left corner; y goes up.

    `mirrored`: x goes to the left.
    """

    width_pt: float
    height_pt: float
    per_m: float
    left_pt: float
    lower_pt: float
    low: tuple[float, float]
    mirrored: bool = False

    def put(self, points: Floats) -> Floats:
        """Points (N, 2) on the drawing."""
        off = self.per_m * (points - self.low)
        x = self.left_pt + off[:, 0]
        return np.stack(
            (self.width_pt - x if self.mirrored else x, self.lower_pt + off[:, 1]), axis=-1
        )

    def back(self, points: Floats) -> Floats:
        """Points of the drawing, (N, 2), in metres."""
        x = self.width_pt - points[:, 0] if self.mirrored else points[:, 0]
        off = np.stack((x - self.left_pt, points[:, 1] - self.lower_pt), axis=-1) / self.per_m
        metres: Floats = off + self.low
        return metres


def fitted(
    bounds: Floats, width_pt: float, most_pt: float, margins_pt: Margins, *, whole: bool = False,
    mirrored: bool = False,
) -> Frame:  # fmt: skip
    """As large as a width and a height allow, margins free.

    As high as it needs; with `whole` as high as allowed, its content in the middle.
    """
    left, upper, right, lower = margins_pt
    if mirrored:
        left, right = right, left
    wide, high = np.maximum(bounds[1] - bounds[0], 1e-6).tolist()
    per_m = min((width_pt - left - right) / wide, (most_pt - upper - lower) / high)
    height = most_pt if whole else per_m * high + upper + lower
    return Frame(
        width_pt, height, per_m, left + (width_pt - left - right - per_m * wide) / 2,
        lower + (height - upper - lower - per_m * high) / 2, (bounds[0, 0], bounds[0, 1]), mirrored,
    )  # fmt: skip


@dataclass(frozen=True, eq=False)
class DrawnLater:
    """Where something may be drawn later: the six figures that take millimetres to points."""

    name: str
    matrix: tuple[float, float, float, float, float, float]


@dataclass(frozen=True, eq=False)
class Drawing:
    """A scene at its size; lines and letters are `scale` times as large as beside 9 pt letters."""

    frame: Frame
    letters_pt: float
    items: tuple[Shape | DrawnLater, ...]  # rings in points
    texts: tuple[Placed, ...]
    dial: tuple[float, float] | None = None  # its middle

    @property
    def scale(self) -> float:
        """By what lines and signs are larger than beside letters of 9 pt."""
        return self.letters_pt / BASE_PT


def lay_out(
    scene: Scene,
    frame: Frame,
    letters_pt: float,
    *,
    plan_up_deg: float | None = None,
    dial: bool = False,
    scales: bool = False,
    grow: bool = True,
    apart_pt: float = APART_PT,
) -> Drawing:
    """A scene on a frame, its labels set.

    With `plan_up_deg` it has an arrow to true north in a free corner, or a `dial` to which a page
    adds the sun; where no corner is free it `grow`s upward. `scales`: with a metre and three feet
    in the lower left corner. `apart_pt` is free between two texts.
    """
    scale = letters_pt / BASE_PT
    items = [_on_drawing(item, frame, scale) for item in scene.items]
    middle = None
    if plan_up_deg is not None:
        reach = (DIAL_PT + 12.5 if dial else 17.0) * scale
        middle = _corner(items, frame, reach)
        if middle is None:
            band = 2 * reach if grow else 0.0
            frame = replace(frame, height_pt=frame.height_pt + band)
            middle = (frame.width_pt - reach - 1.0, frame.height_pt - reach - 1.0)
    edges = (0.5, 0.5, frame.width_pt - 0.5, frame.height_pt - 0.5)
    labels = Labels(edges, frame.put, letters_pt, apart_pt)
    fixed: list[Placed] = []
    for item in items:
        if isinstance(item, Shape) and item.look.keep_off:
            for ring in item.rings:
                ends = np.concatenate((ring, ring[:1])) if item.closed else ring
                labels.avoid_pt(ends, cost=item.look.keep_off, of=item.of)
    if middle is not None and plan_up_deg is not None:
        north, letter = _north(middle, plan_up_deg, letters_pt, dial=dial)
        items, fixed = [*items, *north], [letter]
        x, y = middle
        labels.block((x - reach, y - reach, x + reach, y + reach))
    if scales:
        bars, texts = _scales(frame, letters_pt)
        items, fixed = [*items, *bars], [*fixed, *texts]
        for text in texts:
            labels.block((0.0, 0.0, text.box[2], text.box[3]))
    for label in scene.labels:
        off = (label.off_pt[0] * scale, label.off_pt[1] * scale)
        wide = None if label.width_pt is None else label.width_pt * scale
        away = label.away_pt * scale
        labels.add(replace(label, away_pt=away, off_pt=off, width_pt=wide))
    return Drawing(frame, letters_pt, tuple(items), (*fixed, *labels.place()), middle)


def _on_drawing(item: Shape | Surface, frame: Frame, scale: float) -> Shape | DrawnLater:
    if isinstance(item, Surface):
        x, y = frame.put(item.origin[None])[0].tolist()
        per_mm = frame.per_m / 1000.0
        (a, b), (c, d) = (per_mm * item.along).tolist(), (per_mm * item.up).tolist()
        return DrawnLater(item.name, (a, b, c, d, x, y))
    rings = tuple(frame.put(ring) for ring in item.rings)
    if item.off_pt:
        rings = tuple(a + scale * b for a, b in zip(rings, item.off_pt, strict=True))
    return replace(item, rings=rings, off_pt=())


def _corner(
    items: Sequence[Shape | DrawnLater], frame: Frame, reach_pt: float
) -> tuple[float, float] | None:
    """The middle of a corner with nothing drawn so near; None where there is none."""
    every = np.concatenate(
        [
            points_along(np.concatenate((ring, ring[:1])) if item.closed else ring)
            for item in items
            if isinstance(item, Shape)
            for ring in item.rings
        ]
    )
    right, upper, near = frame.width_pt - reach_pt, frame.height_pt - reach_pt, reach_pt
    for corner in ((right, upper), (near, upper), (right, near)):
        if np.hypot(*(every - corner).T).min() > reach_pt + CORNER_PT:
            return corner
    return None


def _north(
    middle: tuple[float, float], plan_up_deg: float, letters_pt: float, *, dial: bool
) -> tuple[list[Shape], Placed]:
    """An arrow to true north with its letter, or the page's dial with a tick there."""
    scale, turn = letters_pt / BASE_PT, math.radians(90.0 + plan_up_deg)
    way = np.array([math.cos(turn), math.sin(turn)])
    across = np.array([-way[1], way[0]])
    rim = DIAL_PT * scale
    if dial:
        tick = np.array(middle) + np.array([[rim - 4.0 * scale], [rim]]) * way
        round_ = circle(middle, rim)
        paths = [
            Shape("dial", (round_,), True, "dial"),
            Shape("dial", (tick,), False),
        ]
    else:
        turned = scale * np.stack((way, across))
        rings = [np.array(middle) + np.array(ring) @ turned for ring in SIGNS["north"]]
        paths = [
            Shape("north", (ring,), closed)
            for ring, closed in zip(rings, (False, True), strict=True)
        ]
    far = rim + 5.5 * scale if dial else 10.0 * scale
    return paths, _text("N", np.array(middle) + far * way, letters_pt, "north")


def _text(text: str, middle: Floats, letters_pt: float, kind: str, of: str = "") -> Placed:
    """A text that has its place."""
    letters = TEXTS[kind]
    size = extent_pt(text, letters_pt * letters.size, bold=letters.bold)
    return Placed(Label(text, middle, letters, kind, of=of), text, middle, size, None)


def _scales(frame: Frame, letters_pt: float) -> tuple[list[Shape], list[Placed]]:
    """A metre, and three feet: whoever shows the drawing shows one of them."""
    x, y, tick = 0.6 * letters_pt, 0.6 * letters_pt, 0.4 * letters_pt
    bars, texts = [], []
    for unit, text, length_m in (("m", "1 m", 1.0), ("ft", "3 ft", FEET_M)):
        end = x + length_m * frame.per_m
        line = np.array([[x, y + tick], [x, y], [end, y], [end, y + tick]])
        bars.append(Shape("dial", (line,), False, f"scale {unit}"))
        half = extent_pt(text, letters_pt)[0] / 2
        middle = np.array([end + 0.4 * letters_pt + half, y + 0.3 * letters_pt])
        texts.append(_text(text, middle, letters_pt, "scale", f"scale {unit}"))
    return bars, texts
