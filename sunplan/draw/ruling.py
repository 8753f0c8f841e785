"""What does a panel's edge measure? Its frame, ticks with their texts, and the unit.

Drawn here, since matplotlib's own axes take twice as long to make and to draw.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from .ink import FRAME, SMALL, SOFT
from .panels import POINT_IN, extent_pt

TICK_PT, OFF_PT = 3.0, 2.0  # a tick's length; from it to its text
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
APART_PT = 30.0  # at least, from one tick to the next


@dataclass(frozen=True)
class Rule:
    """One edge: places (data) with their texts, and what it measures, with its unit."""

    ticks: Sequence[float]
    texts: Sequence[str]
    label: str


def even(
    limits: tuple[float, float], length_pt: float, label: str, *, apart_pt: float = APART_PT
) -> Rule:
    """Few round ticks over an edge of this length.

    >>> even((-0.4, 2.2), 100.0, "x, m").texts
    ['0', '1', '2']
    """
    low, high = sorted(limits)
    step = next((one for one in STEPS if one * length_pt / (high - low) >= apart_pt), high - low)
    first, last = math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6)
    ticks = [count * step for count in range(first, last + 1)]
    digits = 1 if step < 1 else 0
    return Rule(ticks, [f"{one:.{digits}f}".replace("-", "−") for one in ticks], label)


def evenly(axes: Axes, across: str, up: str) -> None:
    """Frame a panel whose limits are final, with round ticks on both edges."""
    box = axes.bbox
    ruled(
        axes,
        even(axes.get_xlim(), box.width, across),
        even(axes.get_ylim(), box.height, up),
    )


def ruled(axes: Axes, across: Rule, up: Rule, *, frame: bool = True) -> None:
    """Frame a panel whose limits are final; a text that would touch its neighbour is left out."""
    axes.axison = False
    axes.set_xlabel(across.label)  # what a reader of the figure may ask for; drawn below
    axes.set_ylabel(up.label)
    figure, box = axes.figure, axes.bbox
    inches = figure.dpi_scale_trans
    left, bottom, right, top = (one * POINT_IN for one in box.extents)
    lines = [[(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)]] * frame
    tick, off = TICK_PT * POINT_IN, (TICK_PT + OFF_PT) * POINT_IN
    style: dict[str, Any] = {"fontsize": SMALL, "color": SOFT, "transform": inches}
    at = axes.transData.transform(np.array([(one, axes.get_ylim()[0]) for one in across.ticks]))
    done = -math.inf
    for (x, _), text in sorted(zip(at.tolist(), across.texts, strict=True)):
        half = extent_pt(text, SMALL)[0] / 2
        lines.append([(x * POINT_IN, bottom), (x * POINT_IN, bottom - tick)])
        if x - half > done:
            figure.text(x * POINT_IN, bottom - off, text, ha="center", va="top", **style)
            done = x + half + 5.0
    at = axes.transData.transform(np.array([(axes.get_xlim()[0], one) for one in up.ticks]))
    widest = 0.0
    for (_, y), text in zip(at.tolist(), up.texts, strict=True):
        lines.append([(left, y * POINT_IN), (left - tick, y * POINT_IN)])
        figure.text(left - off, y * POINT_IN, text, ha="right", va="center_baseline", **style)
        widest = max(widest, extent_pt(text, SMALL)[0])
    figure.add_artist(LineCollection(lines, colors=FRAME, linewidths=0.8, transform=inches))
    below = bottom - off - (SMALL * 1.15 + OFF_PT) * POINT_IN * bool(across.ticks)
    beside = left - off - (widest + OFF_PT) * POINT_IN
    figure.text((left + right) / 2, below, across.label, ha="center", va="top", **style)
    figure.text(beside, (bottom + top) / 2, up.label, ha="right", va="center", rotation=90, **style)
