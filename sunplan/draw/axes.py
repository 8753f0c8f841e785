"""A drawing onto matplotlib's axes, in the units of a location file; labels of charts as well."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, to_rgba
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path as Outline

from ..location.lengths import Units, unit_m
from ..location.read import Location
from ..sun.position import Floats
from .labels import Labels, Placed
from .layout import Drawing, Frame, fitted, lay_out
from .letters import LINE
from .panels import POINT_IN, even, panel, ruled
from .primitives import Scene, Shape
from .signs import HOURS, PICTURE, STOPS, TEXT

MARGINS_PT = (45.0, 26.0, 45.0, 26.0)  # round a plan, for names
LEAST_IN = 1.8  # of a plan's height
LEAD, ON_TOP = 0.6, 3.0  # width of a line to what a text names; order of labels over all else
RAMP_HOURS, RAMP_STOPS = (
    LinearSegmentedColormap.from_list(name, colours)
    for name, colours in (("hours", HOURS), ("stops", STOPS))
)


def show(
    figure: Figure,
    scene: Scene,
    place_in: tuple[float, float, float, float],
    frame: Frame,
    *,
    units: Units,
    across: str = "x",
    up: str = "y",
    plan_up_deg: float | None = None,
) -> Axes:
    """A scene on a panel (left, top, width, height), its edges measured in the file's units."""
    axes, unit = panel(figure, *place_in), unit_m(units)
    drawing = lay_out(scene, frame, TEXT, plan_up_deg=plan_up_deg, grow=False)
    low, high = frame.back(np.array([[0.0, 0.0], [frame.width_pt, frame.height_pt]])) / unit
    axes.set_xlim(low[0], high[0])
    axes.set_ylim(low[1], high[1])
    onto(axes, drawing, unit)
    box = axes.bbox
    ruled(
        axes,
        even(axes.get_xlim(), box.width, f"{across}, {units}"),
        even(axes.get_ylim(), box.height, f"{up}, {units}"),
    )
    return axes


def height_in(scene: Scene, wide_in: float, most_in: float) -> float:
    """How high a panel of this width must be for a plan."""
    wide, high = np.ptp(scene.bounds(), axis=0).tolist()
    left, over, right, under = (margin * POINT_IN for margin in MARGINS_PT)
    needed = (wide_in - left - right) / wide * high + over + under
    return float(min(max(needed, LEAST_IN), most_in))


def show_plan(
    figure: Figure, location: Location, scene: Scene, place_in: tuple[float, float, float, float]
) -> Axes:
    """A plan on a panel (left, top, width, height), with north."""
    size = place_in[2] / POINT_IN, place_in[3] / POINT_IN
    frame = fitted(scene.bounds(), *size, MARGINS_PT, whole=True)
    site = location.site
    return show(figure, scene, place_in, frame, units=site.units, plan_up_deg=site.plan_up)


def onto(axes: Axes, drawing: Drawing, unit: float) -> None:
    """A drawing's areas, lines and texts as artists; each area's kind is its `gid`."""
    count = len(drawing.items)
    for order, item in enumerate(drawing.items):
        if isinstance(item, Shape):
            rings = [drawing.frame.back(ring) / unit for ring in item.rings]
            artist = _artist(rings, item, drawing.scale)
            artist.set_zorder(0.5 + order / count)
            axes.add_patch(artist)
    put = drawing.frame.back
    placed = [(text, put(text.middle[None])[0] / unit) for text in drawing.texts]
    for text, middle in placed:
        lead = None if text.lead is None else put(text.lead) / unit
        _text(axes, text, middle, lead, drawing.letters_pt)


def _artist(rings: list[Floats], path: Shape, scale: float) -> PathPatch:
    style = path.look
    return PathPatch(
        compound(rings, closed=path.closed),
        facecolor="none" if style.fill is None else to_rgba(_colour(style.fill), style.opacity),
        edgecolor="none" if style.line is None else _colour(style.line),
        lw=style.width * scale,
        ls=dashed(tuple(part * scale / max(style.width * scale, 1e-9) for part in style.dash)),
        joinstyle="miter",
        gid=path.kind,
    )


def compound(rings: list[Floats], *, closed: bool = True) -> Outline:
    """Rings as one outline; those within others are holes."""
    outlines = [
        Outline(np.concatenate((ring, ring[:1])) if closed else ring, closed=closed)
        for ring in rings
    ]
    return Outline.make_compound_path(*outlines)


def _colour(name: str) -> str:
    return PICTURE.get(name, name)


def dashed(dash: tuple[float, ...]) -> str | tuple[int, tuple[float, ...]]:
    """A dash as matplotlib has it, in widths of its line."""
    return (0, dash) if dash else "-"


def labels_on(axes: Axes) -> Labels:
    """Labels of a chart whose limits are final, at places in its data."""
    left, lower, right, upper = (float(edge) for edge in axes.bbox.padded(-1.0).extents)
    return Labels((left, lower, right, upper), axes.transData.transform, TEXT)


def put(axes: Axes, labels: Labels) -> None:
    """Set a chart's labels."""
    back = axes.transData.inverted().transform
    for text in labels.place():
        lead = None if text.lead is None else back(text.lead)
        _text(axes, text, back(text.middle), lead, TEXT)


def _text(
    axes: Axes, placed: Placed, middle: Floats, lead: Floats | None, letters_pt: float
) -> None:
    """A text on its ground, in data; with a line to what it names where that is far."""
    letters = placed.label.letters
    colour = _colour(letters.colour)
    if lead is not None:
        axes.add_line(Line2D(*lead.T, color=colour, lw=LEAD, zorder=ON_TOP))
    axes.text(
        float(middle[0]),
        float(middle[1]),
        placed.text,
        ha="center",
        va="center",
        color=colour,
        fontsize=letters_pt * letters.size,
        weight="bold" if letters.bold else "normal",
        linespacing=LINE,
        zorder=ON_TOP + 1.0,
        gid=placed.label.kind,
        bbox={
            "facecolor": _colour(letters.ground),
            "edgecolor": "none" if letters.edge is None else _colour(letters.edge),
            "alpha": 1.0 if letters.tag else 0.8,
            "lw": 0.9,
            "pad": 1.3 if letters.tag else 0.7,
        },
    )
