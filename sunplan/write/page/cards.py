"""The words of the page: a card a setup, and the day's own; lines as in the plan's text."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from ...day.plan import Plan
from ...day.running_order import Slot
from ...location.lengths import Units
from ...location.model import Exterior, Setup
from ...location.read import Location
from ...report import check as check_report
from ...report import document
from ...report import entry as entry_report
from ...report import exteriors as exteriors_report
from ...report import flags as flags_report
from ...report import gap as gap_report
from ...report import key as key_report
from ...report import negative as negative_report
from ...report import order as order_report
from ...report import pack as pack_report
from ...report.cautions import SUN, cares, in_full
from ...report.document import Caution, Moment, Table, render
from ...report.layout import Part

Block = dict[str, Any]  # a line with its indent, or a table
UNITS: tuple[Units, Units] = ("m", "ft")


def _in(location: Location, units: Units) -> Location:
    return location.model_copy(update={"site": location.site.model_copy(update={"units": units})})


def blocks(told: Callable[[Location], Iterable[Part]], location: Location) -> list[Block]:
    """What is told of a location, in both units: lines and tables; cautions are left out."""
    metres, feet = (
        [one for one in told(_in(location, units)) if not isinstance(one, Caution)]
        for units in UNITS
    )
    found: list[Block] = []
    for one, other in zip(metres, feet, strict=True):
        if isinstance(one, Table):
            assert isinstance(other, Table)
            rows = zip(one.cells("m"), other.cells("ft"), strict=True)
            found.append(
                {
                    "head": list(one.columns),
                    "rows": [[_both(*pair) for pair in zip(*cells, strict=True)] for cells in rows],
                }
            )
            continue
        assert not isinstance(other, Table)
        pair = render(one, "m").split("\n"), render(other, "ft").split("\n")
        for line, same in zip(*pair, strict=True):
            deep = len(line) - len(line.lstrip())
            found.append({"in": deep // 2, "say": _both(line.strip(), same.strip())})
    return found


def _both(metres: str, feet: str) -> str | list[str]:
    return metres if metres == feet else [metres, feet]


def flat(inside: Iterable[document.Block], depth: int = 0) -> list[Block]:
    """The lines and tables of a section, in both units."""
    found: list[Block] = []
    for block in inside:
        if isinstance(block, Table):
            rows = zip(block.cells("m"), block.cells("ft"), strict=True)
            cells = [[_both(*pair) for pair in zip(*row, strict=True)] for row in rows]
            found.append({"head": list(block.columns), "rows": cells})
        elif isinstance(block, document.Line):
            found += [*flat([block.said], depth), *flat(block.under, depth + 1)]
        elif isinstance(block, str | document.Inline):
            found.append({"in": depth, "say": _both(render(block, "m"), render(block, "ft"))})
    return found


def cautions(told: Iterable[Part]) -> list[str]:
    """The cautions among what is told, each once."""
    return list(dict.fromkeys(one.said for one in told if isinstance(one, Caution)))


def _split(found: list[Block], skip: int) -> tuple[list[Block], list[Block]]:
    """What is told without its first lines, and the notes behind the last empty line."""
    empty = [at for at, one in enumerate(found) if one.get("say") == ""]
    end = max((at for at in empty if at >= skip), default=len(found))
    body = [one for one in found[skip:end] if one.get("say") != ""]
    return body, [one for one in found[end:] if one.get("say") != ""]


def setup(plan: Plan, one: Setup) -> dict[str, Any]:
    """A setup's card."""
    location, day = plan.location, plan.entries.date
    flags = [each for each in plan.flags if each.setup.name == one.name]
    keys = [each for each in plan.keys if each.setup.name == one.name]
    gap = next(each for each in plan.gaps if each.setup.name == one.name)
    slots = () if plan.pack is None else plan.pack.running.slots
    slot = next((each for each in slots if each.setup.name == one.name), None)
    hang = flags_report.report(location, day, flags)
    lamp = key_report.report(location, keys)
    look = [
        *(gap_report.framed(each) for each in gap.times[0].openings if each.in_frame),
        *(
            gap_report.fitting(each, location.timezone)
            for each in plan.fits
            if each.setup == one.name
        ),
        *(gap_report.dimming(each) for each in gap.times[0].practicals if each.in_frame),
        gap_report.colours(gap),
    ]
    care = [one.said for one in hang.cautions]
    care += [one.said for one in lamp.cautions] if keys else []
    if slot is not None:
        care += [each.said for each in in_full(h for job in slot.needs.jobs for h in job.hazards)]
    return {
        "line": check_report.setup_line(one),
        "lines": blocks(lambda at: check_report.camera_lines(one, at.site.units), location),
        "turn": _turn(plan, one),
        "rig": [] if slot is None else _rig(slot),
        "look": look,
        "hung": [block for one in hang.sections("setup") for block in flat(one.blocks)],
        "notes": [block for one in hang.sections("notes") for block in flat(one.blocks)],
        "negative": _negative(plan, one, slot),
        "lamp": [block for one in lamp.sections("lamp") for block in flat(one.blocks)],
        "takes": []
        if slot is None
        else [f"{count} × {thing.name}" for thing, count in slot.needs.things.items()],
        "care": list(dict.fromkeys(care)),
    }


def _turn(plan: Plan, one: Setup) -> list[str]:
    """When it is shot, and what is wrong with that."""
    assert plan.ordered is not None
    assert plan.pack is not None
    zone = plan.location.timezone
    best = plan.ordered.best
    turn = next((each for each in best.turns if each.way.setup.name == one.name), None)
    slot = next((s for s in plan.pack.running.slots if s.setup.name == one.name), None)
    if turn is None or slot is None:
        return ["does not fit into this day beside the others; see the order"]
    first, last = slot.shoot_s
    strike = f"strike {slot.strike_minutes:.0f} min, " if slot.strike_minutes else ""
    said = [
        f"from {Moment(slot.start_s, zone)}: {strike}rig {slot.rig_minutes:.0f} min",
        f"shoot {Moment(first, zone)} – {Moment(last, zone)}",
    ]
    if turn.way.too_dark:
        said.append("TOO DARK: a window in frame falls below its look in this time")
    said += [f"NOT SOLVED: {lack}" for lack in slot.needs.unmet]
    return said


def _rig(slot: Slot) -> list[str]:
    """What is rigged for a setup in its turn."""
    return [
        f"{job.words}, {f'{job.minutes:.0f} min' if job in slot.jobs else 'hangs already'}"
        + (f"; {cares(job.hazards)}" if job.hazards else "")
        for job in slot.needs.jobs
    ]


def _negative(plan: Plan, one: Setup, slot: Slot | None) -> list[Block]:
    panel = None if slot is None else slot.needs.panel
    if panel is None:
        return []
    return [
        {"in": 0, "say": f"{panel.stock.name}, black side to the face"},
        *blocks(lambda at: [negative_report.where(at, one, panel)], plan.location),
        {"in": 0, "say": f"brings the ratio to {panel.ratio:.1f}"},
    ]


def outdoors(plan: Plan, one: Exterior) -> dict[str, Any]:
    """The card of a setup outdoors."""
    location, day = plan.location, plan.entries.date
    mine = [each for each in plan.exteriors if each.exterior.name == one.name]
    told, notes = _split(blocks(lambda at: exteriors_report.told(at, day, mine), location), 4)
    return {
        "line": f"outdoors; plays {one.plays}",
        "lines": blocks(lambda at: check_report.outlook_lines(one, at.site.units), location),
        "told": told,
        "notes": notes,
        "care": cautions(exteriors_report.told(location, day, mine)),
    }


def day(plan: Plan, care: list[str]) -> dict[str, Any]:
    """What is the same for all setups: order, pack list, and the cautions of all their cards."""
    location, at = plan.location, plan.entries.date
    found: dict[str, Any] = {
        "sun": entry_report.sun_line(plan.entries.sun, at, location.timezone),
        "models": list(
            dict.fromkeys(
                f"{each.sky.name} sky: {each.sky.model}"
                for one in plan.gaps[:1]
                for each in one.times
            )
        ),
        "order": [],
        "pack": [],
        "care": list(dict.fromkeys([*care, SUN.said])),
    }
    if plan.ordered is not None:
        ordered, skies = plan.ordered, plan.packed_for
        told = blocks(lambda one: order_report.told(one, at, ordered, skies), location)[1:]
        # What is rigged stands on the setups' cards: neither it nor its heading here.
        heads = [one.get("in", 0) for one in told[1:]] + [0]
        found["order"] = [
            one
            for one, below in zip(told, heads, strict=True)
            if "head" in one or (one["say"] and not one["in"] and not below)
        ]
    if plan.pack is not None:
        packed = plan.pack
        told = blocks(
            lambda one: pack_report.told(one, at, packed, plan.packed_for, best=True), location
        )
        start = next(
            at for at, one in enumerate(told) if str(one.get("say", "")).startswith("all down")
        )
        found["pack"] = [one for one in told[start:] if one.get("say") != ""]
    return found
