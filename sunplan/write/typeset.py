"""Printed sheets: a template of this folder and the figures that go into it, as a PDF.

Templates are typst's language; `look.typ` has what our sheets share. Fonts are the compiler's
own and those that come with matplotlib, embedded in the file; other scripts fall back to the
machine's.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..draw.letters import font_folder, lacking
from ..draw.signs import PICTURE
from ..location.lengths import Units
from .files import put
from .prompts import note

FOLDER = Path(__file__).parent
USUAL: dict[Units, str] = {"m": "a4", "ft": "letter"}  # where lengths are given so
PAPERS = {"a4": "a4", "letter": "us-letter"}  # as typst calls them


def pages(template: str, figures: Mapping[str, Any], paper: str) -> int:
    """How many pages a template takes with these figures."""
    import typst

    counted = typst.query(
        FOLDER / template, "<pages>", field="value", one=True, **_given(figures, paper)
    )
    return int(json.loads(counted))


def typeset(template: str, figures: Mapping[str, Any], paper: str, path: Path) -> None:
    """Write a template with these figures to a PDF, all or nothing.

    A note tells which letters no font has.
    """
    import typst

    put(path, typst.compile(FOLDER / template, format="pdf", **_given(figures, paper)))
    if letters := missing(json.dumps(figures, ensure_ascii=False)):
        note(f"{path.name}: {' '.join(letters)} are drawn as boxes; no font here has them")


def missing(text: str) -> list[str]:
    """Letters of a text that neither our font nor any of this machine has."""
    letters = lacking(text)
    if not letters:
        return []
    import typst
    from fontTools.ttLib import TTFont

    for font in typst.Fonts().fonts():
        if letters and font.path is not None:
            with TTFont(font.path, fontNumber=font.index, lazy=True) as table:
                glyphs = table.getBestCmap() or {}
            letters = [letter for letter in letters if ord(letter) not in glyphs]
    return letters


def _given(figures: Mapping[str, Any], paper: str) -> dict[str, Any]:
    inputs = {
        "figures": json.dumps(figures),
        "colours": json.dumps(PICTURE),
        "paper": PAPERS[paper],
    }
    return {"root": FOLDER, "sys_inputs": inputs, "font_paths": [font_folder()]}
