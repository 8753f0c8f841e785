"""A first location file as text, with comments that say what to do with it."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from pathlib import Path

from ..location.lengths import Units
from ..location.mains import usual_mains
from ..survey.first_location import First
from ..survey.towns import ATTRIBUTION
from .document import COMMAND, Document, Line
from .words import coordinates, quoted

# A reveal and a block outside that could be: common practice, no source.
_EXAMPLES: dict[Units, tuple[str, str, str]] = {
    "m": ("25 cm", "[-2, -9]", "[8, 5, 6]"),
    "ft": ("10 in", "[-6, -30]", "[25, 16, 20]"),
}


def text(first: First) -> str:
    """The file: valid TOML, which `check` passes as it is."""
    return "\n".join((*_site(first), *_room(first), *_setup(first), *_more(first), ""))


def report(first: First, path: Path) -> Document:
    """What was written, and what to do next."""
    place = first.place
    spot = coordinates(place.latitude_deg, place.longitude_deg)
    lines = [f"{first.name}: {spot}, local time ({place.timezone}), lengths in {first.units}"]
    if place.remark is not None:
        lines.append(place.remark)
    if place.town is not None:
        town = f"the middle of {place.town} stands for the house; its own coordinates are better"
        lines += [town, ATTRIBUTION]
    if first.plan_up_deg is None:
        lines.append("plan_up is not known yet: put it right before trusting any time")
    then = f"Next: put the room right, then sunplan check {quoted(str(path))} --draw rooms.png"
    return Document(f"{path}: written", [*lines, first.compass, Line(then, role=COMMAND)])


def _site(first: First) -> Iterator[str]:
    place, known = first.place, first.plan_up_deg is not None
    yield "# Measure, edit, and run `sunplan check` again: it tells every mistake."
    yield from _comment(
        "Lengths without a unit are in `units`; text carries its own: " + '"190 cm".'
    )
    yield ""
    yield "[location]"
    yield f"name = {_text(first.name)}"
    if place.town is not None:
        yield from _comment(f"the middle of {place.town}; the house's own coordinates are better")
        yield from _comment(ATTRIBUTION)
    if place.remark is not None:
        yield from _comment(place.remark)
    if place.uncertainty_m is not None:
        yield from _comment(f"the coordinates are good to {_number(place.uncertainty_m)} m")
    yield f"latitude = {_decimal(place.latitude_deg)}"
    yield f"longitude = {_decimal(place.longitude_deg)}"
    yield f"timezone = {_text(place.timezone)}"
    if place.elevation_m is None:
        yield _line("# elevation = 5", "metres above the sea")
    else:
        yield _line(f"elevation = {_number(place.elevation_m)}", "metres above the sea")
    yield f"units = {_text(first.units)}"
    yield ""
    yield from _comment(
        "plan_up is the true bearing that the top of your sheet points to: 0 north, 90 east. Stand "
        "along a wall that is drawn upright, look toward the sheet's top, and read a compass away "
        "from iron; or measure that wall's bearing on a map."
    )
    yield from _comment(first.compass)
    if not known:
        yield from _comment("not known yet: no time can be trusted until it is")
    yield f"plan_up = {_decimal(first.plan_up_deg if first.plan_up_deg is not None else 0.0)}"
    yield _line(f"plan_up_error = {_decimal(first.plan_up_error_deg)}", "how far it may be off, ±")
    yield ""


def _room(first: First) -> Iterator[str]:
    room, inside = first.room, first.furnishing
    reveal = _EXAMPLES[first.units][0]
    wide, deep = room.width.written, room.depth.written
    yield from _comment(
        "Corners [x, y] counter-clockwise, x to the right, y up the sheet. Walls are A, B, C … "
        "from the first edge on: A is the lower one."
    )
    yield "[[room]]"
    yield f"name = {_text(room.name)}"
    yield f"outline = [[0, 0], [{wide}, 0], [{wide}, {deep}], [0, {deep}]]"
    yield _line("floor = 0", "above the ground outside")
    yield f"height = {room.height.written}"
    yield ""
    yield "  [[room.opening]]"
    yield '  name = "window"'
    yield '  wall = "A"'
    yield _line(f"  along = {_number(inside.along)}", "from the wall's first corner")
    yield _line(f"  sill = {_number(inside.sill)}", "above the floor")
    yield f"  size = {_pair(inside.window)}"
    yield _line(f'  depth = "{reveal}"', "from the inner face of the wall to the glass")
    yield '  glass = "double clear"'
    yield ""
    yield "  [[room.mark]]"
    yield _line('  name = "mark"', "where the talent stands")
    yield f"  at = {_pair(inside.mark)}"
    yield _line(f"  height = {_pair(inside.stands)}", "what must stay free of sun")
    yield f"  width = {_number(inside.stands_wide)}"
    yield ""


def _setup(first: First) -> Iterator[str]:
    inside = first.furnishing
    camera = f"at = {_pair(inside.camera)}, height = {_number(inside.camera_up)}"
    yield "[[setup]]"
    yield 'name = "first"'
    yield f"room = {_text(first.room.name)}"
    yield 'mark = "mark"'
    yield f'camera = {{ {camera}, toward = "window", view = [40, 23] }}'
    yield "exposure = { iso = 800, stop = 2.8, fps = 24, shutter = 180, balance = 3200 }"
    yield _line('plays = "dusk"', 'or "day", "evening", "night"')
    yield "minutes = 30"
    yield ""


def _more(first: First) -> Iterator[str]:
    _, corner, size = _EXAMPLES[first.units]
    mains = usual_mains(
        latitude_deg=first.place.latitude_deg, longitude_deg=first.place.longitude_deg
    )
    yield "# What else a file may say; take the # away to use it."
    yield "#"
    yield _line("# [[outside]]", "what shades or reflects: a house, a tree as a block")
    yield '# name = "boat shed"'
    yield f"# at = {corner}"
    yield _line(f"# size = {size}", "along x, along y, height")
    yield "#"
    yield _line("# [[skyline]]", "the far horizon: true bearing and altitude, clockwise")
    yield "# points = [[230, 2], [260, 5], [300, 3]]"
    yield "#"
    yield _line("# [[circuit]]", "a fused circuit")
    yield f'# name = "sockets"\n# amps = {mains.amps:g}\n# volts = {mains.volts:g}'
    yield f"# rooms = [{_text(first.room.name)}]"
    yield "#"
    yield _line("# [day]", "the hours that people are there")
    yield '# call = "09:00"\n# wrap = "19:00"\n# lunch = ["12:30", "13:15"]'


def _line(said: str, remark: str) -> str:
    return f"{said:<27}# {remark}"


def _comment(text: str) -> list[str]:
    return textwrap.wrap(text, 96, initial_indent="# ", subsequent_indent="# ")


def _text(name: str) -> str:
    return json.dumps(name, ensure_ascii=False)


def _pair(pair: tuple[float, float]) -> str:
    return f"[{_number(pair[0])}, {_number(pair[1])}]"


def _decimal(value: float) -> str:
    """A number with at least one decimal, at most six."""
    whole, _, part = f"{value:.6f}".partition(".")
    return f"{whole}.{part.rstrip('0') or '0'}"


def _number(value: float) -> str:
    return _decimal(value).removesuffix(".0")
