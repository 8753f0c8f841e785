"""A drawing as SVG: on paper with its colours, on the page with classes of its style sheet."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np

from ..sun.position import Floats
from .labels import Placed
from .layout import Drawing, DrawnLater
from .letters import LINE
from .primitives import Shape
from .signs import DIAL_PT, STYLES, TEXTS, Letters, Palette, Style

BASELINE = 0.36  # from a letter's middle down to its foot, in sizes
THINLY = 0.8  # of what lies below a text
NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")  # XML 1.0, 2.2: no characters


def svg(drawing: Drawing, palette: Palette | None = None) -> str:
    """The drawing as an element; without a palette its classes tell kinds, for `css`.

    Then it has no name space either, which the page's script gives it.
    """
    frame = drawing.frame
    root = ET.Element(
        "svg",
        {
            "viewBox": f"0 0 {_figure(frame.width_pt)} {_figure(frame.height_pt)}",
            "width": _figure(frame.width_pt),
            "height": _figure(frame.height_pt),
            "class": "plan",
        },
    )
    if palette is not None:
        root.set("xmlns", "http://www.w3.org/2000/svg")
    if drawing.dial is not None:
        x, y = drawing.dial
        root.set("data-dial", f"{_figure(x)} {_figure(frame.height_pt - y)}")
        root.set("data-rim", _figure(DIAL_PT * drawing.scale))
    for item in drawing.items:
        if isinstance(item, DrawnLater):
            a, b, c, d, x, y = item.matrix
            matrix = (a, -b, c, -d, x, frame.height_pt - y)
            figures = " ".join(f"{part:.9g}" for part in matrix)
            ET.SubElement(root, "g", {"data-surface": item.name, "transform": f"matrix({figures})"})
        else:
            _path(root, item, drawing, palette)
    for text in drawing.texts:
        if text.lead is not None:
            line = Shape("lead", (text.lead,), False, text.label.of)
            _path(root, line, drawing, palette, colour=text.label.letters.colour)
    for text in drawing.texts:
        _text(root, text, drawing, palette)
    return ET.tostring(root, encoding="unicode")


def _figure(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _points(ring: Floats, height_pt: float) -> str:
    flipped = np.stack((ring[:, 0], height_pt - ring[:, 1]), axis=-1)
    return " ".join(f"{_figure(x)},{_figure(y)}" for x, y in flipped.tolist())


def _path(
    root: ET.Element, path: Shape, drawing: Drawing, palette: Palette | None, colour: str = ""
) -> None:
    height = drawing.frame.height_pt
    if len(path.rings) == 1:
        name = "polygon" if path.closed else "polyline"
        element = ET.SubElement(root, name, {"points": _points(path.rings[0], height)})
    else:
        rings = "".join(f"M{_points(ring, height)}Z" for ring in path.rings)
        element = ET.SubElement(root, "path", {"d": rings, "fill-rule": "evenodd"})
    if path.of:
        element.set("data-of", path.of)
    element.set("class", path.kind)
    if palette is None:
        if colour:
            element.set("style", f"stroke:var(--{colour})")
        return
    element.attrib.update(_style(path.look, palette, drawing.scale))
    if colour:
        element.set("stroke", palette[colour])


def _style(style: Style, palette: Palette, scale: float) -> dict[str, str]:
    """Presentation attributes of a style."""
    attributes = {"fill": "none" if style.fill is None else palette.get(style.fill, style.fill)}
    if style.opacity < 1.0 and style.fill is not None:
        attributes["fill-opacity"] = _figure(style.opacity)
    if style.line is not None:
        attributes["stroke"] = palette.get(style.line, style.line)
        attributes["stroke-width"] = _figure(style.width * scale)
    if style.dash:
        attributes["stroke-dasharray"] = " ".join(_figure(part * scale) for part in style.dash)
    return attributes


def _text(root: ET.Element, placed: Placed, drawing: Drawing, palette: Palette | None) -> None:
    """A text on its ground; a tag in its box."""
    letters, of = placed.label.letters, placed.label.of
    group = ET.SubElement(root, "g", {"class": f"label {_label_class(placed.label.kind)}"})
    if of:
        group.set("data-of", of)
    left, low, right, high = placed.box
    top = drawing.frame.height_pt - high
    box = ET.SubElement(
        group,
        "rect",
        {
            "x": _figure(left), "y": _figure(top),
            "width": _figure(right - left), "height": _figure(high - low),
        },
    )  # fmt: skip
    size = drawing.letters_pt * letters.size
    lines = NOT_XML.sub("\N{REPLACEMENT CHARACTER}", placed.text).split("\n")
    x, y = (left + right) / 2, top + (high - low) / 2
    for number, line in enumerate(lines):
        foot = y + (number - (len(lines) - 1) / 2) * LINE * size + BASELINE * size
        element = ET.SubElement(group, "text", {"x": _figure(x), "y": _figure(foot)})
        element.text = line
        if palette is not None:
            element.attrib.update(
                {
                    "text-anchor": "middle", "font-family": "DejaVu Sans",
                    "font-size": _figure(size), "fill": palette[letters.colour],
                    "font-weight": "bold" if letters.bold else "normal",
                }
            )  # fmt: skip
    if palette is not None:
        box.attrib.update(_ground(letters, palette, drawing.scale))


def _label_class(kind: str) -> str:
    """Another than that of areas of the same kind."""
    return f"label-{kind.replace(' ', '-')}"


def _ground(letters: Letters, palette: Palette, scale: float) -> dict[str, str]:
    attributes = {"fill": palette[letters.ground]}
    if not letters.tag:
        attributes["fill-opacity"] = _figure(THINLY)
    if letters.edge is not None:
        attributes |= {
            "stroke": palette.get(letters.edge, letters.edge),
            "stroke-width": _figure(1.1 * scale),
        }
    return attributes


def css(letters_px: float, scale: float) -> str:
    """Rules for a page's drawings: kinds and texts, each colour a variable of the page's set."""
    rules = []
    for kind, style in STYLES.items():
        palette = {name: f"var(--{name})" for name in (style.fill, style.line) if name is not None}
        rules.append(_rule(f".{kind}", _style(style, palette, scale)))
    for kind, letters in TEXTS.items():
        names = {letters.colour, letters.ground, letters.edge} - {None}
        palette = {str(name): f"var(--{name})" for name in names}
        text = {
            "fill": palette[letters.colour], "font-size": f"{_figure(letters_px * letters.size)}px",
            "font-weight": "bold" if letters.bold else "normal",
        }  # fmt: skip
        name = f".{_label_class(kind)}"
        rules += [
            _rule(f"{name} text", text),
            _rule(f"{name} rect", _ground(letters, palette, scale)),
        ]
    return "\n".join(rules)


def _rule(name: str, values: dict[str, str]) -> str:
    return f"svg.plan {name} {{ {'; '.join(f'{key}: {value}' for key, value in values.items())} }}"


def variables(palette: Palette) -> str:
    """A palette as variables of a style sheet."""
    return " ".join(f"--{name}: {colour};" for name, colour in palette.items())
