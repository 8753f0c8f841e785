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
    More,
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

RECKONED = (
    "a black panel upright before the fill side of the face, square to it, long side up; ratio: "
    "(key + fill) : fill"
)
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
    """Which panel to use."""
    wanted = fill.setup.contrast
    if wanted is None:
        return "the file wants no contrast: choose from the panels"
    if fill.before.ratio >= wanted:
        return "nothing: the ratio is there without"
    if fill.best is not None:
        ends = f", out of frame: ratio {ratio(fill.best.ratio)}"
        return text(f"{fill.best.stock.name} at ", about(fill.best.distance_m), ends)
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
            Section("verdict", None, _verdict(location, day, fills)),
            *(Section("out-of-frame", None, [table]) for table in _out_of_frame(fills)),
            More("every panel and distance", [_setup(location, day, fill) for fill in fills]),
            More("how it is reckoned", [RECKONED]),
            Section("notes", None, in_full(["stands", *wet])),
        ],
        intro=[_asked(location, day, fills)],
    )


def _asked(location: Location, day: date, fills: Sequence[Negative]) -> str:
    """The moment, where it is one, and what is taken for all setups."""
    moments = {fill.sky.unix_s for fill in fills}
    at = f"at {Moment(moments.pop(), location.timezone, day)}, " if len(moments) == 1 else ""
    return f"{at}{fills[0].sky.name} sky, as rigged, the key set to key"


def _verdict(location: Location, day: date, fills: Sequence[Negative]) -> list[Block]:
    """A row a setup, then where the panels stand that are to be used."""
    several = len({fill.sky.unix_s for fill in fills}) > 1
    rows = [
        (
            fill.setup.name,
            *([Moment(fill.sky.unix_s, location.timezone, day)] if several else []),
            ratio(fill.before.ratio),
            "—" if fill.setup.contrast is None else f"{fill.setup.contrast:g}",
            advice(fill),
        )
        for fill in fills
    ]
    heads = "setup", *(["at"] if several else []), "ratio now", "wanted", "do"
    places = [
        Line(
            text(
                f"{fill.setup.name}: {fill.best.stock.name}, ",
                where(location, fill.setup, fill.best),
            )
        )
        for fill in fills
        if fill.best is not None and fill.before.ratio < (fill.setup.contrast or 0.0)
    ]
    return [Table(heads, rows), *places]


def _out_of_frame(fills: Sequence[Negative]) -> list[Block]:
    """The best place of each panel that the camera does not see, for setups that want more."""
    rows: list[tuple[Said, ...]] = []
    for fill in fills:
        wanted = fill.setup.contrast
        if wanted is not None and fill.before.ratio >= wanted:
            continue
        clear = [panel for panel in fill.panels if panel.clear_of_frame]
        if not clear:
            rows.append((fill.setup.name, "none", "—", "—", "—"))
        for stock in dict.fromkeys(panel.stock.name for panel in clear):
            best = max(
                (panel for panel in clear if panel.stock.name == stock),
                key=lambda panel: panel.ratio,
            )
            rows.append((fill.setup.name, stock, *_left(best)))
    heads = "setup", "best out of frame", "from the face", "fill", "ratio"
    return [Table(heads, rows, grouped=True)] if rows else []


def _left(panel: Panel) -> tuple[Said, ...]:
    """How far a panel stands from the face, and what it leaves."""
    return Quantity(panel.distance_m), f"{panel.fill_lux:.0f} lx", ratio(panel.ratio)


def _setup(location: Location, day: date, fill: Negative) -> Section:
    """All panels of a setup."""
    wish = "" if fill.setup.contrast is None else f", wanted {fill.setup.contrast:g}"
    rows = [
        (
            text(f"{panel.stock.name}, ", by(*panel.screen.size)),
            *_left(panel),
            "out" if panel.clear_of_frame else "IN FRAME",
        )
        for panel in fill.panels
    ]
    heads = ("panel", "from the face", "fill", "ratio", "frame")
    return Section(
        "setup",
        f"{fill.setup.name} at {Moment(fill.sky.unix_s, location.timezone, day)}, {fill.sky.name} "
        f"sky: fill {fill.before.fill_lux:.0f} lx, ratio {ratio(fill.before.ratio)}{wish}",
        [Table(heads, rows, grouped=True) if rows else "no panel has room"],
    )
