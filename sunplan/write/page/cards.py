"""The words of the page: a card a setup, and the day's own, from the documents' sections."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ...day.plan import Plan
from ...day.running_order import Slot
from ...light.resolved import ResolvedSetup
from ...location.model import Exterior
from ...report import as_rigged
from ...report import check as check_report
from ...report import entry as entry_report
from ...report import exteriors as exteriors_report
from ...report import flags as flags_report
from ...report import gap as gap_report
from ...report import key as key_report
from ...report import negfill as negfill_report
from ...report import order as order_report
from ...report import pack as pack_report
from ...report.cautions import SUN, in_full
from ...report.document import (
    Block,
    Caution,
    Document,
    Line,
    Moment,
    More,
    Said,
    Section,
    Table,
    render,
    walk,
)
from ...report.words import between

Words = str | list[str]  # for all, or in metres and in feet
TICK = "☐"


def said(words: Said) -> Words:
    """A text, in both units where they differ."""
    metres, feet = render(words, "m"), render(words, "ft")
    return metres if metres == feet else [metres, feet]


def content(blocks: Iterable[Block]) -> list[dict[str, Any]]:
    """Lines with what is under them, and tables; cautions have a place of their own."""
    lines: list[dict[str, Any]] = []
    for block in blocks:
        match block:
            case Caution() | Document():
                continue
            case Table(columns=columns, checklist=checklist):
                box = [TICK] if checklist else []
                both = zip(block.cells("m"), block.cells("ft"), strict=True)
                rows = [
                    [*box, *(m if m == ft else [m, ft] for m, ft in zip(*row, strict=True))]
                    for row in both
                ]
                lines.append({"head": [*[""][: len(box)], *columns], "rows": rows})
            case More(blocks=inside):
                lines += content(inside)
            case Section(heading=heading, blocks=inside):
                below = content(inside)
                if heading is None:
                    lines += below
                elif any("head" in part for part in below):  # tables stand by themselves
                    lines += [{"say": said(heading)}, *below]
                else:
                    lines.append({"say": said(heading), "under": below})
            case Line(said=words, under=under, role=role):
                entry: dict[str, Any] = {"say": said(words)}
                if below := content(under):
                    entry["under"] = below
                lines.append({**entry, "role": role} if role else entry)
            case words:
                lines.append({"say": said(words)})
    return lines


def sections(document: Document, *ids: str) -> list[dict[str, Any]]:
    """What sections of a document say, but for their headings."""
    return [
        line for id in ids for section in document.sections(id) for line in content(section.blocks)
    ]


def _care(*documents: Document) -> list[str]:
    return [caution.said for document in documents for caution in document.cautions]


def setup(plan: Plan, setup: ResolvedSetup) -> dict[str, Any]:
    """A setup's card."""
    location, day = plan.location, plan.entries.date
    flags = flags_report.report(location, day, [plan.flags_of(setup)])
    lamps = [light for light in plan.keys if light.setup.name == setup.name]
    lamp = key_report.report(location, lamps)
    gaps = [gap for gap in plan.gaps if gap.setup.name == setup.name]
    look = gap_report.report(location, day, gaps, plan.fits)
    slot = plan.slots.get(setup.name)
    care = _care(flags, *([lamp] if lamps else []))
    care += [caution.said for caution in in_full(() if slot is None else slot.needs.hazards)]
    return {
        "line": check_report.setup_line(setup),
        "lines": content(check_report.camera_lines(setup)),
        "turn": _turn(plan, setup, slot),
        "rig": [] if slot is None or not slot.needs.jobs else pack_report.rigged(slot),
        "look": [
            said(line.said)
            for line in walk(look.blocks)
            if isinstance(line, Line) and line.role == gap_report.REMARK
        ],
        "hung": sections(flags, "setup"),
        "notes": sections(flags, "notes"),
        "negative": _negative(plan, setup, slot),
        "lamp": sections(lamp, "lamp", "mains"),
        "takes": []
        if slot is None
        else [f"{count} × {thing.name}" for thing, count in slot.needs.things.items()],
        "care": list(dict.fromkeys(care)),
    }


def _turn(plan: Plan, setup: ResolvedSetup, slot: Slot | None) -> list[str]:
    """When it is shot, and what is wrong with that."""
    assert plan.ordered is not None
    turn = next(
        (turn for turn in plan.ordered.best.turns if turn.rigging.setup.name == setup.name), None
    )
    if turn is None or slot is None:
        return ["does not fit this day: see the order"]
    zone = plan.location.timezone
    dark = "TOO DARK: a window in frame falls below its look in this time"
    return [
        f"from {Moment(slot.start_s, zone)}: {pack_report.rigging(slot)}",
        f"shoot {between(slot.shoot_s, zone)}",
        f"as rigged: {as_rigged.line(slot.levels)}",
        *([dark] if turn.rigging.too_dark else []),
        *pack_report.lacks(slot),
    ]


def _negative(plan: Plan, setup: ResolvedSetup, slot: Slot | None) -> list[dict[str, Any]]:
    panel = None if slot is None else slot.needs.panel
    if panel is None:
        return []
    return content(
        [
            f"{panel.stock.name}, black side to the face",
            negfill_report.where(plan.location, setup, panel),
            f"brings the ratio to {panel.ratio:.1f}",
        ]
    )


def outdoors(plan: Plan, setup: Exterior) -> dict[str, Any]:
    """The card of a setup outdoors."""
    mine = [outside for outside in plan.exteriors if outside.exterior.name == setup.name]
    document = exteriors_report.report(plan.location, plan.entries.date, mine)
    return {
        "line": f"outdoors; reads as {setup.plays}",
        "lines": content(check_report.outlook_lines(setup)),
        "told": sections(document, "setup"),
        "notes": sections(document, "notes"),
        "care": _care(document),
    }


def day(plan: Plan, care: list[str]) -> dict[str, Any]:
    """What is the same for all setups: order, pack list, and the cautions of all their cards."""
    location, date, skies = plan.location, plan.entries.date, plan.packed_for
    order: list[dict[str, Any]] = []
    pack: list[dict[str, Any]] = []
    if plan.ordered is not None:
        # What is rigged stands on the setups' cards.
        document = order_report.report(location, date, plan.ordered, skies)
        # A phone has no room for the timeline as a table.
        lines = order_report.in_lines(location, plan.ordered)
        rest = [line for line in sections(document, "order") if "head" not in line]
        order = [*content(document.intro), *content(lines), *rest]
    if plan.pack is not None:
        document = pack_report.report(location, date, plan.pack, skies, best=True)
        pack = [
            *sections(document, "wrap", "load", "pack-list"),
            *content(document.sections("cases")),
        ]
        pack += sections(document, "cut-list", "mains")
    return {
        "sun": entry_report.sun_line(plan.entries.sun, date, location.timezone),
        "models": list(
            dict.fromkeys(
                f"{moment.sky.name} sky: {moment.sky.model}"
                for gap in plan.gaps[:1]
                for moment in gap.times
            )
        ),
        "order": order,
        "pack": pack,
        "care": list(dict.fromkeys([*care, SUN.said])),
    }
