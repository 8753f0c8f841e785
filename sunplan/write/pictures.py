"""How does a figure become a file?"""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any, Literal

from matplotlib import rc_context
from matplotlib.figure import Figure
from matplotlib.text import Text

from ..draw.letters import lacking
from ..draw.signs import STYLE
from .files import check_picture, replace
from .prompts import note

DPI = 130
# An SVG's letters: as text they can be searched and edited, and want DejaVu Sans to be there; as
# outlines they look the same everywhere.
Letters = Literal["outlines", "text"]


def save(figure: Figure, path: Path, *, letters: Letters = "text") -> None:
    """Write a figure to a PNG or SVG, all or nothing."""
    check_picture(path)
    kind = path.suffix.lower()[1:]
    # Dates and random names stay out of the file: the same input gives the same drawing.
    svg: Any = {"svg.hashsalt": "sunplan", "svg.fonttype": "none" if letters == "text" else "path"}
    style: Any = {"text.hinting": STYLE["text.hinting"], **svg}
    # Flat colours: the quick filter of PNG makes them hardly larger.
    extra = (
        {"metadata": {"Date": None}}
        if kind == "svg"
        else {"metadata": {}, "pil_kwargs": {"compress_level": 2}}
    )
    with replace(path) as beside, rc_context(style), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from font")  # told below
        figure.savefig(beside, format=kind, dpi=DPI, **extra)
    texts = "".join(text.get_text() for text in figure.findobj(Text))
    if letters_lacking := lacking(texts):
        note(f"{path.name}: {' '.join(letters_lacking)} are drawn as boxes; the font lacks them")
