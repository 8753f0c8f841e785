"""How large is a text? Measured by the font itself, DejaVu Sans, which comes with matplotlib.

Read straight from its files: a sheet or page needs nothing else of matplotlib, which is slow to
load.
"""

from __future__ import annotations

import importlib.util
import textwrap
import unicodedata
from functools import lru_cache
from pathlib import Path

LINE = 1.25  # of a line of text, in sizes of its letters
SET = 1.02  # of a line's width: letters on a grid of pixels come a little wider
WIDE, OTHER = 1.0, 0.7  # in sizes, of letters that the font lacks: East Asian ones, and others


def font_folder() -> Path:
    """The folder of DejaVu Sans."""
    spec = importlib.util.find_spec("matplotlib")
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / "mpl-data/fonts/ttf"


@lru_cache(maxsize=2)
def _widths(*, bold: bool) -> tuple[dict[int, str], dict[str, tuple[int, int]], float]:
    """Glyph names by letter, their advance widths, and how many of its units a size has."""
    from fontTools.ttLib import TTFont

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    with TTFont(font_folder() / name, lazy=True) as font:
        return font.getBestCmap(), font["hmtx"].metrics, float(font["head"].unitsPerEm)


@lru_cache(maxsize=4096)
def _line(text: str, *, bold: bool) -> float:
    """A line's width in sizes of its letters."""
    glyphs, widths, units = _widths(bold=bold)
    total = 0.0
    for letter in text:
        glyph = glyphs.get(ord(letter))
        if glyph is not None:
            total += widths[glyph][0] / units
        elif unicodedata.category(letter) not in ("Mn", "Cf"):  # those have no width of their own
            total += WIDE if unicodedata.east_asian_width(letter) in "WF" else OTHER
    return total


def lacking(text: str) -> list[str]:
    """Letters of a text that the font does not have.

    >>> lacking("łuk 水 月")
    ['月', '水']
    """
    glyphs, _, _ = _widths(bold=False)
    seen = {letter for letter in text if unicodedata.category(letter)[0] not in "CZ"}
    return sorted(letter for letter in seen if ord(letter) not in glyphs)


def extent_pt(text: str, size: float, *, bold: bool = False) -> tuple[float, float]:
    """Width and height of a text of one or more lines, in what `size` is in.

    >>> wide, high = extent_pt("A", 10.0)
    >>> round(wide, 2), high  # the font's own table: A is 1401 of 2048 wide
    (6.98, 12.5)
    """
    lines = text.split("\n")
    return SET * size * max(_line(line, bold=bold) for line in lines), LINE * size * len(lines)


def wrapped(text: str, width: float, size: float, *, bold: bool = False) -> str:
    """The same text in lines that are no wider than this, where its words allow."""
    if extent_pt(text, size, bold=bold)[0] <= width:
        return text
    if "\n" in text:
        return "\n".join(wrapped(line, width, size, bold=bold) for line in text.split("\n"))
    count = max(int(len(text) * width / extent_pt(text, size, bold=bold)[0]), 4)
    while True:
        folded = "\n".join(textwrap.wrap(text, count))
        if count <= 4 or extent_pt(folded, size, bold=bold)[0] <= width:
            return folded
        count -= 1
