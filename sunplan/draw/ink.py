"""Colours, lines and letters of every picture.

Things that stand beside each other differ in lightness, or in dash or sign, so that they are told
apart in grey and by colour-blind eyes; texts stand out from their grounds by 4.5 to 1 at least
(`tests/test_pictures.py` reckons both).
"""

from __future__ import annotations

from typing import Any

from matplotlib.colors import LinearSegmentedColormap

PAPER, INK, SOFT, FRAME = "#ffffff", "#1f1d1a", "#5f594f", "#cfc9be"
FLOOR, WALL, BLOCK, MARK = "#f6f2ea", "#4a463f", "#dedbd4", "#d8cfe6"
GLASS, CAMERA, LAMP = "#1d6372", "#8a3b62", "#855007"  # openings; cameras and marks; lamps
SUN, SUN_PALE, TOUCH, TOUCH_PALE = "#d79a2b", "#efd9ab", "#7c2f57", "#d6b9c9"
FLAG, NEEDED = "#2a2825", "#9a9388"
BAND, BAND_EDGE = "#b7d6c2", "#4c7d5e"  # where a level is wanted
TWILIGHT = ("#f7f4ee", "#e3e2e6", "#c9cbd6", "#b3b7c8")  # sun up, to 6°, to 12° down, darker
SEEN, HIDDEN, SKYLINE = "#d3e8ec", "#efece5", "#b9b2a4"  # of the sky over a mark
UNKNOWN = "#c8bfc4"

# Morning to evening, light to dark.
HOURS = LinearSegmentedColormap.from_list("hours", ("#ddb040", "#c0702c", "#8b3a4e", "#3b2a57"))
# Nothing to lose to the most, light to dark.
STOPS = LinearSegmentedColormap.from_list(
    "stops", ("#f5f2e6", "#c3d9d2", "#79adb3", "#357787", "#143a4c")
)

DASHES: tuple[Any, ...] = ("-", (0, (5, 2)), (0, (1.2, 1.2)), (0, (7, 1.5, 1.2, 1.5)))
HATCHES = ("////", "....", "\\\\\\\\", "xxxx")
SKY_DASH: dict[str, Any] = dict(
    zip(("clear", "overcast", "hazy", "broken"), DASHES, strict=True)
)  # of a level under each sky
LEVELS = (GLASS, "#8a4b00", "#5b2a6e", INK)  # of openings on one chart, with a sign each
SIGNS = ("o", "s", "^", "D")

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


def of_hour(share: float) -> tuple[float, float, float]:
    """The colour of a moment, by its share of the time from sunrise to sunset."""
    red, green, blue, _ = HOURS(min(max(share, 0.0), 1.0))
    return red, green, blue
