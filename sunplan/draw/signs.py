"""Signs, colours, lines and letters of all that is drawn: they stand here and nowhere else.

Things that stand beside each other differ in lightness, in dash or in sign, so that they are told
apart in grey and by colour-blind eyes; texts stand out from their grounds by 4.5 to 1 at least
(`tests/test_pictures.py` and `tests/test_page.py` measure both).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

# ------------------------------------------------------------------------------ colours by name

Palette = Mapping[str, str]
PICTURE: Palette = {
    "paper": "#ffffff", "ink": "#1f1d1a", "soft": "#5f594f", "line": "#cfc9be",
    "floor": "#f6f2ea", "laid": "#f6f2ea", "wall": "#4a463f", "glass": "#1d6372",
    "mark": "#5d4494", "mark-ground": "#d8cfe6", "camera": "#8a3b62", "lamp": "#855007",
    "flag": "#2a2825", "rim": "#ffffff", "block": "#dedbd4", "light": "#f5e8cc",
}  # fmt: skip
# Black on white, for an office printer and a dim room.
PRINT: Palette = {
    "paper": "#ffffff", "ink": "#000000", "soft": "#000000", "line": "#999999",
    "floor": "#f2f2f2", "laid": "#f2f2f2", "wall": "#333333", "glass": "#000000",
    "mark": "#000000", "mark-ground": "#ffffff", "camera": "#000000", "lamp": "#000000",
    "flag": "#000000", "rim": "#ffffff", "block": "#e6e6e6", "light": "#e2e2e2",
}  # fmt: skip
# The page's, which has more things to colour than its drawing; `rim` is round what is black.
DARK: Palette = {
    "ground": "#121417", "paper": "#1a1d22", "line": "#3b4048", "ink": "#f0ebe0",
    "soft": "#b9b2a4", "floor": "#262a30", "laid": "#20242a", "wall": "#a49c8d",
    "glass": "#7cc9d2", "sun": "#ffd56b", "sun-edge": "#fff0bf", "sun-ink": "#1d1b18",
    "mark": "#cbb8ec", "mark-ground": "#262a30", "camera": "#f0a4c8", "lamp": "#f2b06a",
    "flag": "#000000", "rim": "#ffffff", "block": "#20242a", "press": "#ece4d3",
    "press-ink": "#15171a", "focus": "#8fd8ff", "dark": "#08090b", "dusk": "#333a49",
    "light": "#6c7280",
}  # fmt: skip
LIGHT: Palette = {
    "ground": "#f4f0e7", "paper": "#fffdf8", "line": "#c9c1b1", "ink": "#1d1b18",
    "soft": "#58524a", "floor": "#dcd6c9", "laid": "#e6e1d6", "wall": "#4a463f",
    "glass": "#14616f", "sun": "#ffd75c", "sun-edge": "#5e4300", "sun-ink": "#1d1b18",
    "mark": "#5d4494", "mark-ground": "#dcd6c9", "camera": "#822c58", "lamp": "#85470a",
    "flag": "#000000", "rim": "#ffffff", "block": "#e6e1d6", "press": "#26231f",
    "press-ink": "#fffdf8", "focus": "#004f8a", "dark": "#59606e", "dusk": "#a7adba",
    "light": "#eae6dc",
}  # fmt: skip
PAGE_IN_PRINT: Palette = {
    **LIGHT, "ground": "#ffffff", "paper": "#ffffff", "line": "#999999", "ink": "#000000",
    "soft": "#333333", "floor": "#eeeeee", "laid": "#f7f7f7", "wall": "#222222",
    "mark-ground": "#eeeeee", "press": "#ffffff", "press-ink": "#000000",
}  # fmt: skip

# ------------------------------------------------------------------------ lines, areas and words


@dataclass(frozen=True)
class Style:
    """How a kind of area or line is drawn: colours by name, widths in points by 9 pt letters.

    `keep_off` is what a spot of it costs a text that lies on it.
    """

    fill: str | None = None
    line: str | None = None
    width: float = 0.0
    dash: tuple[float, ...] = ()
    opacity: float = 1.0  # of the fill
    keep_off: float = 0.0


@dataclass(frozen=True)
class Letters:
    """How a text of a kind is set: colours by name, its size as a share of the usual.

    `tag`: in a box of the colour `ground`, with an edge round it; else `ground` lies thinly below.
    """

    colour: str = "ink"
    bold: bool = False
    size: float = 1.0
    ground: str = "paper"
    edge: str | None = None
    tag: bool = False


STYLES: Mapping[str, Style] = {
    "block": Style("block", "soft", 0.8, keep_off=4.0),
    "house": Style("floor", "wall", 1.2, opacity=0.5, keep_off=4.0),
    "tie": Style(None, "line", 0.7, (1.5, 2.0)),
    "laid": Style("laid", "line", 0.8, keep_off=1.0),
    "face": Style("paper", "glass", 1.4, keep_off=3.0),
    "floor": Style("floor"),
    "field": Style("camera", "camera", 0.6, (5.0, 2.5), opacity=0.08, keep_off=1.0),
    "wall": Style("wall", "wall", 0.8, keep_off=60.0),
    "reveal": Style("paper", "wall", 0.8),
    "glass": Style(None, "glass", 2.6, keep_off=12.0),
    "hole": Style(None, "glass", 1.3, (4.0, 2.0), keep_off=5.0),
    "mark": Style("mark-ground", "mark", 1.1, keep_off=6.0),
    "aim": Style(None, "lamp", 0.7, (1.2, 1.8), keep_off=1.0),
    "frame": Style("paper", "lamp", 1.6, keep_off=8.0),
    "key": Style("paper", "lamp", 1.1, keep_off=40.0),
    "practical": Style("lamp", "lamp", 0.8, keep_off=40.0),
    "camera": Style("camera", "camera", 0.6, keep_off=40.0),
    "flag-edge": Style("rim", "rim", 4.6),
    "flag": Style("flag", "flag", 2.4, keep_off=12.0),
    "flag-veil": Style("flag", "flag", 2.4, opacity=0.8, keep_off=4.0),
    "flag-idle": Style(None, "ink", 1.1, (2.4, 2.0), keep_off=6.0),
    "negative": Style("flag", "flag", 2.4, keep_off=12.0),
    "section": Style("floor", "wall", 1.6, keep_off=4.0),
    "light": Style("light", None, keep_off=1.0),
    "stand": Style(None, "soft", 1.2, keep_off=3.0),
    "measure": Style(None, "ink", 0.9, keep_off=12.0),
    "hair": Style(None, "soft", 0.5, keep_off=3.0),
    "lead": Style(None, "ink", 0.6),
    "north": Style("ink", "ink", 0.9),
    "dial": Style(None, "soft", 1.0),
    "subject": Style("camera", "camera", 0.6, keep_off=40.0),
    "way": Style("camera", "camera", 1.2, keep_off=12.0),
}
# A wall is a bare letter, an opening a number in a frame, a flag stands white on black, a mark has
# an M or its name: none is taken for another.
TEXTS: Mapping[str, Letters] = {
    "wall": Letters("soft", bold=True),
    "opening": Letters("ink", bold=True, edge="glass", tag=True),
    "opening name": Letters("glass"),
    "flag": Letters("rim", bold=True, ground="flag", edge="rim", tag=True),
    "negative": Letters("rim", ground="flag", edge="rim", tag=True),
    "mark": Letters("ink"),
    "mark sign": Letters("ink", bold=True),
    "lit": Letters("ink", bold=True),
    "camera": Letters("camera"),
    "time": Letters("ink", bold=True),
    "lamp": Letters("lamp"),
    "measure": Letters("ink"),
    "small": Letters("soft"),
    "room": Letters("ink"),
    "scale": Letters("soft"),
    "north": Letters("ink", bold=True),
}
BASE_PT = 9.0  # letters that the widths of lines and the sizes of signs are meant for

Ring = tuple[tuple[float, float], ...]
# Signs, in points: x the way that they point, the place that they stand for at (0, 0). A ring is
# closed where it ends as it begins.
_ROUND: Ring = (
    (4.0, 0.0), (3.70, 1.53), (2.83, 2.83), (1.53, 3.70), (0.0, 4.0), (-1.53, 3.70),
    (-2.83, 2.83), (-3.70, 1.53), (-4.0, 0.0), (-3.70, -1.53), (-2.83, -2.83), (-1.53, -3.70),
    (0.0, -4.0), (1.53, -3.70), (2.83, -2.83), (3.70, -1.53), (4.0, 0.0),
)  # fmt: skip
SIGNS: Mapping[str, tuple[Ring, ...]] = {
    # Its point stands where the lens is, and shows where it looks.
    "camera": (((0.0, 0.0), (-13.0, 4.4), (-10.4, 0.0), (-13.0, -4.4), (0.0, 0.0)),),
    "key": (_ROUND, ((-2.83, -2.83), (2.83, 2.83)), ((-2.83, 2.83), (2.83, -2.83))),
    "practical": (((-2.5, -2.5), (2.5, -2.5), (2.5, 2.5), (-2.5, 2.5), (-2.5, -2.5)),),
    "subject": (tuple((0.7 * x, 0.7 * y) for x, y in _ROUND),),
    "tick": (((-2.2, -2.2), (2.2, 2.2)),),
    "north": (((-14.0, 0.0), (4.0, 0.0)), ((4.0, 0.0), (-2.0, 2.4), (-2.0, -2.4), (4.0, 0.0))),
    # The camera's way to a subject: where along it the camera stands nobody has told.
    "way": (((-27.0, 0.0), (-9.0, 0.0)), ((-6.0, 0.0), (-12.0, 2.4), (-12.0, -2.4), (-6.0, 0.0))),
}
SIGN_STYLE = {"tick": "measure"}  # else the sign's own name
DIAL_PT = 17.0  # from the middle of the page's dial to its rim

# ---------------------------------------------------------------------------- charts and pictures

PAPER, INK, SOFT, FRAME, FLOOR, BLOCK, GLASS = (
    PICTURE[name] for name in ("paper", "ink", "soft", "line", "floor", "block", "glass")
)
SUN, SUN_PALE, TOUCH, TOUCH_PALE = "#d79a2b", "#efd9ab", "#7c2f57", "#d6b9c9"
BAND, BAND_EDGE = "#b7d6c2", "#4c7d5e"  # where a level is wanted
TWILIGHT = ("#f7f4ee", "#e3e2e6", "#c9cbd6", "#b3b7c8")  # sun up, to 6°, to 12° down, darker
SEEN, HIDDEN, SKYLINE = "#d3e8ec", "#efece5", "#b9b2a4"  # of the sky over a mark
UNKNOWN = "#c8bfc4"
HOURS = ("#ddb040", "#c0702c", "#8b3a4e", "#3b2a57")  # morning to evening, light to dark
# Nothing to lose to the most, light to dark.
STOPS = ("#f5f2e6", "#c3d9d2", "#79adb3", "#357787", "#143a4c")

DASHES: tuple[tuple[float, ...], ...] = ((), (5, 2), (1.2, 1.2), (7, 1.5, 1.2, 1.5))
HATCHES = ("////", "....", "\\\\\\\\", "xxxx")
SKY_DASH = dict(zip(("clear", "overcast", "hazy", "broken"), DASHES, strict=True))
LEVELS = (GLASS, "#8a4b00", "#5b2a6e", INK)  # of openings on one chart, with a marker each
MARKERS = ("o", "s", "^", "D")

LARGE, TEXT, SMALL = 11.0, 8.5, 7.5  # points
STYLE: Any = {  # a dict of matplotlib's settings
    "font.family": "DejaVu Sans",  # comes with matplotlib: the same picture everywhere
    "font.size": TEXT,
    "text.color": INK,
    "text.parse_math": False,  # a name may hold a dollar
    "text.hinting": "none",  # a text is as wide at any size
    "axes.edgecolor": FRAME,
    "axes.facecolor": PAPER,
    "axes.labelcolor": SOFT,
    "axes.labelsize": SMALL,
    "axes.titlecolor": INK,
    "axes.linewidth": 0.8,
    "xtick.color": FRAME,
    "ytick.color": FRAME,
    "xtick.labelcolor": SOFT,
    "ytick.labelcolor": SOFT,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "xtick.major.size": 2.5,
    "ytick.major.size": 2.5,
    "hatch.linewidth": 0.5,
    "legend.fontsize": SMALL,
    "legend.frameon": False,
}
