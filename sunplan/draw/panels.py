"""Where things stand on a picture, in inches from its upper left corner."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from .letters import LINE, extent_pt, wrapped
from .signs import FRAME, INK, LARGE, SMALL, SOFT, TEXT

POINT_IN = 1.0 / 72.0
WIDTH_IN = 10.0  # of a picture, unless another is asked for
EDGE_IN = 0.14  # that a picture keeps free all round
LEFT_IN, BELOW_IN = 0.5, 0.42  # that a panel's axes need for ticks and units
HANDLE, BETWEEN = 2.6, 1.6  # of a legend: a sign's length, from column to column, in letters
TICK_PT, OFF_PT = 3.0, 2.0  # a tick's length; from it to its text
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
APART_PT = 30.0  # at least, from one tick to the next


def page(width_in: float, height_in: float) -> Figure:
    """An empty picture; a pixel of it is a point."""
    figure = Figure(figsize=(width_in, height_in), dpi=72, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def headed(title: str, under: str, width_in: float, below_in: float) -> tuple[Figure, float]:
    """A picture with its title, what is said under that, and so much below; where that begins."""
    free = width_in - 2 * EDGE_IN
    title = fold(title, free, LARGE, bold=True)
    under = fold(under, free, SMALL) if under else ""
    said = EDGE_IN + tall_in(title, LARGE)
    top = said + (tall_in(under, SMALL) + 0.04 if under else 0.0) + 0.12
    figure = page(width_in, top + below_in)
    write(figure, EDGE_IN, EDGE_IN, title, fontsize=LARGE, weight="bold")
    if under:
        write(figure, EDGE_IN, said + 0.04, under, fontsize=SMALL, color=SOFT)
    return figure, top


def panel(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Axes that fill a box of the picture; `ruled` draws their frame and ticks."""
    wide, high = figure.get_size_inches()
    box = (left / wide, 1.0 - (top + height) / high, width / wide, height / high)
    return figure.add_axes(box)


def write(figure: Figure, left: float, top: float, text: str, **style: Any) -> None:
    """Text whose upper left corner is there."""
    wide, high = figure.get_size_inches()
    style = {"fontsize": TEXT, "color": INK, "linespacing": LINE, **style}
    figure.text(left / wide, 1.0 - top / high, text, ha="left", va="top", **style)


def legend(
    figure: Figure, left: float, top: float, width_in: float, handles: Sequence[Artist]
) -> None:
    """What signs mean, in as many columns as fit, its upper left corner there."""
    wide, high = figure.get_size_inches()
    figure.legend(
        handles=handles,
        loc="upper left",
        bbox_to_anchor=(left / wide, 1.0 - top / high),
        ncols=_columns(handles, width_in),
        borderaxespad=0.0,
        borderpad=0.0,
        handlelength=HANDLE,
        columnspacing=BETWEEN,
    )


def legend_in(handles: Sequence[Artist], width_in: float) -> float:
    """How high that is."""
    rows = math.ceil(len(handles) / _columns(handles, width_in))
    return rows * 1.55 * SMALL * POINT_IN


def _columns(handles: Sequence[Artist], width_in: float) -> int:
    """The most columns that fit; they are filled one after the other, each as wide as it needs."""
    wide = [extent_pt(str(handle.get_label()), SMALL)[0] for handle in handles]
    for columns in range(len(handles), 1, -1):
        rows, longer = divmod(len(handles), columns)
        ends = np.cumsum([rows + (column < longer) for column in range(columns)]).tolist()
        widest = [max(wide[a:b]) for a, b in zip([0, *ends], ends, strict=False)]
        if (sum(widest) + columns * (HANDLE + BETWEEN + 0.8) * SMALL) * POINT_IN <= width_in:
            return columns
    return 1


def steps_bar(
    figure: Figure, left: float, top: float, steps: Sequence[tuple[Any, str]], label: str
) -> None:
    """A row of colours, each with what it stands for, then what all of them measure."""
    wide, high = figure.get_size_inches()
    x = left
    for colour, name in steps:
        box = Rectangle(
            (x / wide, 1.0 - (top + 0.16) / high), 0.2 / wide, 0.16 / high,
            facecolor=colour, edgecolor=FRAME, lw=0.6, transform=figure.transFigure,
        )  # fmt: skip
        figure.add_artist(box)
        write(figure, x + 0.25, top + 0.02, name, fontsize=SMALL)
        x += 0.25 + text_in(name, SMALL) + 0.14
    write(figure, x, top + 0.02, label, fontsize=SMALL, color=SOFT)


def text_in(text: str, size: float = TEXT, *, bold: bool = False) -> float:
    """How wide a text is."""
    return extent_pt(text, size, bold=bold)[0] * POINT_IN


def tall_in(text: str, size: float = TEXT) -> float:
    """How high a text is."""
    return extent_pt(text, size)[1] * POINT_IN


def fold(text: str, width_in: float, size: float = TEXT, *, bold: bool = False) -> str:
    """The same text in lines that are no wider than this."""
    return wrapped(text, width_in / POINT_IN, size, bold=bold)


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
    step = next((step for step in STEPS if step * length_pt / (high - low) >= apart_pt), high - low)
    first, last = math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6)
    ticks = [count * step for count in range(first, last + 1)]
    digits = 1 if step < 1 else 0
    return Rule(ticks, [f"{tick:.{digits}f}".replace("-", "−") for tick in ticks], label)


def ruled(axes: Axes, across: Rule, up: Rule, *, frame: bool = True) -> None:
    """Frame a panel whose limits are final; a text that would touch its neighbour is left out."""
    axes.axison = False
    axes.set_xlabel(across.label)  # what a reader of the figure may ask for; drawn below
    axes.set_ylabel(up.label)
    figure, box = axes.figure, axes.bbox
    inches = figure.dpi_scale_trans
    left, bottom, right, top = (edge * POINT_IN for edge in box.extents)
    lines = [[(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)]] * frame
    tick, off = TICK_PT * POINT_IN, (TICK_PT + OFF_PT) * POINT_IN
    style: dict[str, Any] = {"fontsize": SMALL, "color": SOFT, "transform": inches}
    low = axes.get_ylim()[0]
    spots = axes.transData.transform(np.array([(x, low) for x in across.ticks]))
    done = -math.inf
    for (x, _), text in sorted(zip(spots.tolist(), across.texts, strict=True)):
        half = extent_pt(text, SMALL)[0] / 2
        lines.append([(x * POINT_IN, bottom), (x * POINT_IN, bottom - tick)])
        if x - half > done:
            figure.text(x * POINT_IN, bottom - off, text, ha="center", va="top", **style)
            done = x + half + 5.0
    first = axes.get_xlim()[0]
    spots = axes.transData.transform(np.array([(first, y) for y in up.ticks]))
    widest = 0.0
    for (_, y), text in zip(spots.tolist(), up.texts, strict=True):
        lines.append([(left, y * POINT_IN), (left - tick, y * POINT_IN)])
        figure.text(left - off, y * POINT_IN, text, ha="right", va="center_baseline", **style)
        widest = max(widest, extent_pt(text, SMALL)[0])
    figure.add_artist(LineCollection(lines, colors=FRAME, linewidths=0.8, transform=inches))
    below = bottom - off - (SMALL * 1.15 + OFF_PT) * POINT_IN * bool(across.ticks)
    beside = left - off - (widest + OFF_PT) * POINT_IN
    figure.text((left + right) / 2, below, across.label, ha="center", va="top", **style)
    figure.text(beside, (bottom + top) / 2, up.label, ha="right", va="center", rotation=90, **style)
