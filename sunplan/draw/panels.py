"""Where things stand on a picture, in inches from its upper left corner."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.axis import XAxis, YAxis
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path

from .ink import INK, LARGE, SMALL, SOFT, STYLE, TEXT

POINT_IN = 1.0 / 72.0
EDGE_IN = 0.14  # that a picture keeps free all round
LEFT_IN, BELOW_IN = 0.5, 0.42  # that a panel's axes need for ticks and units
SET = 1.02  # of a line's width: letters on a grid of pixels come a little wider
HANDLE, BETWEEN = 2.6, 1.6  # of a legend: a sign's length, from column to column, in letters
LINE = 1.25  # of a line of text, in sizes of its letters


def page(width_in: float, height_in: float) -> Figure:
    """An empty picture; a pixel of it is a point."""
    figure = Figure(figsize=(width_in, height_in), dpi=72, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


class _Across(XAxis):
    """An axis whose own ticks nobody sees: to clip them, matplotlib would make them."""

    set_clip_path = Artist.set_clip_path


class _Up(YAxis):
    """The same, upright."""

    set_clip_path = Artist.set_clip_path


class _Panel(Axes):
    """Axes without ticks or a grid of their own; `ruling.py` draws what is there.

    For those that nobody sees matplotlib takes as long as for all that is drawn in a small panel.
    """

    def _init_axis(self) -> None:  # as projections of one's own do
        self.xaxis, self.yaxis = _Across(self, clear=False), _Up(self, clear=False)
        for sides, axis in ((("bottom", "top"), self.xaxis), (("left", "right"), self.yaxis)):
            for side in sides:
                self.spines[side].register_axis(axis)

    def grid(self, *_: Any, **__: Any) -> None:
        """Nothing: to switch it off, matplotlib would make ticks."""


def panel(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Axes that fill a box of the picture."""
    wide, high = figure.get_size_inches()
    box = (left / wide, 1.0 - (top + height) / high, width / wide, height / high)
    return figure.add_axes(_Panel(figure, box))


def write(figure: Figure, left: float, top: float, text: str, **style: Any) -> None:
    """Text whose upper left corner is there."""
    wide, high = figure.get_size_inches()
    style = {"fontsize": TEXT, "color": INK, "linespacing": LINE, **style}
    figure.text(left / wide, 1.0 - top / high, text, ha="left", va="top", **style)


@lru_cache(maxsize=4096)
def _line_pt(text: str, size: float, weight: str) -> float:
    font = FontProperties(family=STYLE["font.family"], size=size, weight=weight)
    return float(text_to_path.get_text_width_height_descent(text, font, ismath=False)[0])


def extent_pt(text: str, size: float = TEXT, weight: str = "normal") -> tuple[float, float]:
    """Width and height of a text of one or more lines, points."""
    lines = text.split("\n")
    return SET * max(_line_pt(one, size, weight) for one in lines), LINE * size * len(lines)


def wrapped(text: str, width_in: float, size: float = TEXT, weight: str = "normal") -> str:
    """The same text in lines that are no wider than this."""
    most = width_in / POINT_IN
    if extent_pt(text, size, weight)[0] <= most:
        return text
    if "\n" in text:
        return "\n".join(wrapped(one, width_in, size, weight) for one in text.split("\n"))
    signs = max(int(len(text) * most / extent_pt(text, size, weight)[0]), 4)
    while signs > 4:
        lines = textwrap.wrap(text, signs)
        if extent_pt("\n".join(lines), size, weight)[0] <= most:
            break
        signs -= 1
    return "\n".join(lines)


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
    wide = [extent_pt(str(one.get_label()), SMALL)[0] for one in handles]
    for columns in range(len(handles), 1, -1):
        rows, longer = divmod(len(handles), columns)
        ends = np.cumsum([rows + (at < longer) for at in range(columns)]).tolist()
        widest = [max(wide[a:b]) for a, b in zip([0, *ends], ends, strict=False)]
        if (sum(widest) + columns * (HANDLE + BETWEEN + 0.8) * SMALL) * POINT_IN <= width_in:
            return columns
    return 1


def tall_in(text: str, size: float = TEXT) -> float:
    """How high a text is."""
    return extent_pt(text, size)[1] * POINT_IN


class Heading:
    """A picture's title and what is said below it, wrapped to the picture's width."""

    def __init__(self, title: str, under: str, width_in: float) -> None:
        free = width_in - 2 * EDGE_IN
        self._title = wrapped(title, free, LARGE, "bold")
        self._under = wrapped(under, free, SMALL) if under else ""

    @property
    def height_in(self) -> float:
        """What it takes from the picture's upper edge, with some air below."""
        under = tall_in(self._under, SMALL) + 0.04 if self._under else 0.0
        return EDGE_IN + tall_in(self._title, LARGE) + under + 0.12

    def write(self, figure: Figure) -> None:
        """Put it on the picture."""
        write(figure, EDGE_IN, EDGE_IN, self._title, fontsize=LARGE, weight="bold")
        if self._under:
            top = EDGE_IN + tall_in(self._title, LARGE) + 0.04
            write(figure, EDGE_IN, top, self._under, fontsize=SMALL, color=SOFT)
