"""Negative fill: JSON and a table."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ..light.resolved import ResolvedSetup
from ..location.read import Location
from ..rig import hazards
from ..rig.negative_fill import Negative, Panel
from ..rig.tape import tape
from .answers import Answer, fields, hanging, head
from .cautions import in_full
from .document import (
    Block,
    Document,
    Line,
    Moment,
    Quantity,
    Said,
    Section,
    Table,
    Text,
    render,
    text,
)
from .flags import from_mark, hung
from .gap import sky_answer
from .words import about, by, ratio, titled

ROWS = {"panels": ("setups", "panels")}  # of its answer, by kind


def answer(location: Location, day: date, fills: Sequence[Negative]) -> Answer:
    """Answer of `sunplan negfill`."""
    zone = location.timezone
    return {
        **head(location, day),
        "setups": [
            {
                "setup": fill.setup.name,
                "sky": sky_answer(fill.sky, zone),
                "fill_lux_before": fill.before.fill_lux,
                "ratio_before": fill.before.ratio,
                "wanted_ratio": fill.setup.contrast,
                "panels": [
                    {
                        "stock": panel.stock.name,
                        "owned": panel.stock.owned,
                        "stand": None if panel.stand is None else panel.stand.name,
                        "size_m": list(panel.screen.size),
                        "distance_m": panel.distance_m,
                        **hanging(panel.screen),
                        **fields(panel, "fill_lux", "ratio", "clear_of_frame"),
                    }
                    for panel in fill.panels
                ],
                "advice": render(advice(fill), "m"),
            }
            for fill in fills
        ],
    }


def advice(fill: Negative) -> Said:
    """Which panel to take."""
    wanted = fill.setup.contrast
    if wanted is None:
        return "no contrast is wanted in the file; choose from the table"
    if fill.before.ratio >= wanted:
        return "none needed: the ratio is there without"
    if fill.best is not None:
        return text(f"take: {fill.best.stock.name} at ", about(fill.best.distance_m))
    clear = [panel.ratio for panel in fill.panels if panel.clear_of_frame]
    reach = f"the best out of frame gives {max(clear):.1f}; " if clear else ""
    return f"no panel does it: {reach}a darker wall, the other side, more key, or less daylight"


def where(location: Location, setup: ResolvedSetup, panel: Panel) -> Text:
    """Where a panel stands, as a helper measures it."""
    room = setup.in_room
    measured = tape(room, setup.at_mark, panel.screen, plan_up_deg=location.site.plan_up)
    stand = "no stand of the kit holds it there" if panel.stand is None else panel.stand.name
    head_m = float(panel.screen.centre[2]) - room.floor
    if panel.stand is not None:
        head_m = min(max(head_m, panel.stand.lowest), panel.stand.highest)
    return text(hung(measured), "; ", from_mark(measured), f"; {stand}, head at ", about(head_m))


def report(location: Location, day: date, fills: Sequence[Negative]) -> Document:
    """Panels for people."""
    wet = [hazard for fill in fills for hazard in hazards.of_room(fill.setup.in_room)]
    return Document(
        titled(location, day),
        [
            *(_setup(location, fill) for fill in fills),
            Section("notes", None, in_full(["stands", *wet])),
        ],
        intro=[
            "a black panel upright before the fill side of the face, square to it, long side up; "
            "the key at full; ratio: (key + fill) : fill"
        ],
    )


def _setup(location: Location, fill: Negative) -> Section:
    wish = "" if fill.setup.contrast is None else f", wanted {fill.setup.contrast:g}"
    places = []
    if fill.best is not None and fill.before.ratio < (fill.setup.contrast or 0.0):
        places.append(where(location, fill.setup, fill.best))
    blocks: list[Block] = [Line(advice(fill), places)]
    rows = [
        (
            text(f"{panel.stock.name}, ", by(*panel.screen.size)),
            Quantity(panel.distance_m),
            f"{panel.fill_lux:.0f}",
            ratio(panel.ratio),
            "out" if panel.clear_of_frame else "IN FRAME",
        )
        for panel in fill.panels
    ]
    if rows:
        heads = ("panel", "from the face", "fill, lx", "ratio", "frame")
        blocks.append(Table(heads, rows, grouped=True))
    return Section(
        "setup",
        f"{fill.setup.name} at {Moment(fill.sky.unix_s, location.timezone)}, {fill.sky.name} sky: "
        f"fill {fill.before.fill_lux:.0f} lx, ratio {ratio(fill.before.ratio)}{wish}",
        blocks,
    )
