"""Drawings for printed sheets: a scene as SVG at its size on the paper, and the signs' legend."""

from __future__ import annotations

from typing import NotRequired, TypedDict

import numpy as np

from .labels import APART_PT
from .layout import Frame, Margins, fitted, lay_out
from .primitives import Scene, circle
from .signs import BASE_PT, PRINT, SIGNS, Palette
from .svg import svg

MM_PER_PT = 25.4 / 72.0
MARGINS_PT: Margins = (30.0, 22.0, 30.0, 22.0)  # round a room, for what stands outside it
WORDS = {
    "camera": "camera",
    "key": "key",
    "mark": "mark",
    "frame": "frame, board",
    "practical": "practical",
    "opening": "opening",
    "flag": "flag",
    "flag-idle": "flag not needed now",
}
SIGN_PT, LOW_PT, REACH_PT = 16.0, 13.0, 4.5  # a legend's sign: its place, and how large an area is


class Printed(TypedDict):
    """What a typesetter needs of a drawing."""

    svg: str
    width: float  # points
    text: NotRequired[str]  # what a legend's sign means


def on_paper(
    scene: Scene,
    width_mm: float,
    most_mm: float,
    margins_pt: Margins = MARGINS_PT,
    *,
    palette: Palette = PRINT,
    letters_pt: float = BASE_PT,
    plan_up_deg: float | None = None,
    mirrored: bool = False,
    apart_pt: float = APART_PT,
) -> Printed:
    """A scene as large as its place on the paper allows."""
    size = width_mm / MM_PER_PT, most_mm / MM_PER_PT
    frame = fitted(scene.bounds(), *size, margins_pt, mirrored=mirrored)
    drawing = lay_out(scene, frame, letters_pt, plan_up_deg=plan_up_deg, apart_pt=apart_pt)
    return {"svg": svg(drawing, palette), "width": drawing.frame.width_pt}


def legend() -> list[Printed]:
    """The signs of a room's drawing, one by one."""
    frame = Frame(SIGN_PT, LOW_PT, 1.0, SIGN_PT / 2, LOW_PT / 2, (0.0, 0.0))
    return [
        {
            "svg": svg(lay_out(_sign(name), frame, BASE_PT), PRINT),
            "width": SIGN_PT,
            "text": text,
        }
        for name, text in WORDS.items()
    ]


def _sign(name: str) -> Scene:
    """A sign alone, a metre of it a point."""
    scene = Scene()
    if name in SIGNS:
        middle = np.mean([np.mean(ring, axis=0) for ring in SIGNS[name]], axis=0)
        scene.sign(name, (0.0, 0.0), off_pt=tuple(-middle))
    elif name == "mark":
        scene.area(name, circle((0.0, 0.0), REACH_PT))
    elif name in ("frame", "flag-idle"):
        scene.area(name, REACH_PT * np.array([[-1.4, -0.5], [1.4, -0.5], [1.4, 0.5], [-1.4, 0.5]]))
    else:
        scene.label(name, {"flag": "F1", "opening": "1"}[name], (0.0, 0.0), away_pt=0.0)
    return scene
