"""Negative fill: JSON and a table."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from ..location.lengths import Units, format_length
from ..location.model import Setup
from ..location.read import Location
from ..rig.negative_fill import Negative, Panel
from ..rig.tape import tape
from .answers import Answer, head
from .cautions import in_full
from .flags import from_mark, hung
from .gap import sky_answer
from .layout import Part, once, table
from .words import about, by, clock, ratio

ROWS = (("setups", "panels"),)  # of its answer, for spreadsheets


def answer(location: Location, day: date, found: Sequence[Negative]) -> Answer:
    """Answer of `sunplan negative`."""
    zone = location.timezone
    return {
        **head(location, day),
        "setups": [
            {
                "setup": one.setup.name,
                "sky": sky_answer(one.sky, zone),
                "fill_lux_before": one.before.fill_lux,
                "ratio_before": one.before.ratio,
                "wanted_ratio": one.setup.contrast,
                "panels": [
                    {
                        "stock": panel.stock.name,
                        "owned": panel.stock.owned,
                        "stand": None if panel.stand is None else panel.stand.name,
                        "size_m": list(panel.screen.size),
                        "distance_m": panel.distance_m,
                        "centre": panel.screen.centre.tolist(),
                        "across": panel.screen.across.tolist(),
                        "up": panel.screen.up.tolist(),
                        "fill_lux": panel.fill_lux,
                        "ratio": panel.ratio,
                        "clear_of_frame": panel.clear_of_frame,
                    }
                    for panel in one.panels
                ],
                "advice": advice(one, "m"),
            }
            for one in found
        ],
    }


def advice(one: Negative, units: Units) -> str:
    """Which panel to take."""
    wanted = one.setup.contrast
    if wanted is None:
        return "no contrast is wanted in the file; choose from the table"
    if one.before.ratio >= wanted:
        return "none needed: the ratio is there without"
    if one.best is not None:
        away = about(one.best.distance_m, units)
        return f"take: {one.best.stock.name} at {away}"
    clear = [panel.ratio for panel in one.panels if panel.clear_of_frame]
    reach = f"the best out of frame gives {max(clear):.1f}; " if clear else ""
    return f"no panel does it: {reach}a darker wall, the other side, more key, or less daylight"


def where(location: Location, setup: Setup, panel: Panel) -> str:
    """Where a panel stands, as a helper measures it."""
    room, units = location.room_named(setup.room), location.site.units
    mark = room.mark_named(setup.mark)
    found = tape(room, mark, panel.screen, plan_up_deg=location.site.plan_up)
    stand = "no stand of the kit holds it there" if panel.stand is None else panel.stand.name
    head = float(panel.screen.centre[2]) - room.floor
    if panel.stand is not None:
        head = min(max(head, panel.stand.lowest), panel.stand.highest)
    height = about(head, units)
    return f"{hung(found, units)}; {from_mark(found, units)}; {stand}, head at {height}"


def told(location: Location, day: date, found: Sequence[Negative]) -> Iterable[Part]:
    """Panels for people."""
    zone, units = location.timezone, location.site.units
    yield f"{location.site.name}, {day:%A} {day.isoformat()}, clock of {zone}"
    yield (
        "a black panel upright before the fill side of the face, square to it, long side up; "
        "the key at full; ratio: (key + fill) : fill"
    )
    for one in found:
        wish = "" if one.setup.contrast is None else f", wanted {one.setup.contrast:g}"
        yield (
            f"\n{one.setup.name} at {clock(one.sky.unix_s, zone)}, {one.sky.name} sky: fill "
            f"{one.before.fill_lux:.0f} lx, ratio {ratio(one.before.ratio)}{wish}"
        )
        yield f"  {advice(one, units)}"
        if one.best is not None and one.before.ratio < (one.setup.contrast or 0.0):
            yield f"    {where(location, one.setup, one.best)}"
        rows = [
            (
                f"{panel.stock.name}, {by(*panel.screen.size, units)}",
                format_length(panel.distance_m, units),
                f"{panel.fill_lux:.0f}",
                ratio(panel.ratio),
                "out" if panel.clear_of_frame else "IN FRAME",
            )
            for panel in one.panels
        ]
        if rows:
            yield table(("panel", "from the face", "fill, lx", "ratio", "frame"), once(rows))
    yield ""
    yield from in_full(["stands"])
