"""A day on one page: order, what hangs, levels, sun on marks, what to rent, what is dangerous."""

from __future__ import annotations

from collections.abc import Iterator

from ..day.exterior import ExteriorDay
from ..day.plan import Plan
from ..day.running_order import Slot
from ..light.resolved import ResolvedSetup
from . import as_rigged, order, pack
from .check import exposed
from .document import Block, Document, Line, Said, Section, Table
from .entry import moments, sun_line
from .words import between, titled


def report(plan: Plan) -> Document:
    """The day's first page; what is on it in few words is told in the chapters behind it."""
    location, day, zone = plan.location, plan.entries.date, plan.location.timezone
    intro = [sun_line(plan.entries.sun, day, zone)]
    blocks: list[Block] = []
    if plan.ordered is not None:
        intro.append(order.verdict(location, plan.ordered, plan.packed_for))
        blocks += [*order.timeline(location, plan.ordered), order.proven(plan.ordered)]
    if plan.slots:
        heading = "Levels while it is shot, as rigged; fill and wall against key, windows mid-grey"
        blocks.append(Section("levels", heading, map(_levels, plan.slots.values())))
    if rows := list(_suns(plan)):
        heads = "mark", "sun from", "to", "through", "against it"
        blocks.append(Section("suns", None, [Table(heads, rows, grouped=True)]))
    blocks.append(Section("load", None, _load(plan)))
    blocks.append(Section("outdoors", None, [_outdoors(it, zone) for it in plan.exteriors]))
    if dangers := _dangers(plan):
        safety = f"safety, in full at the end: {', '.join(dangers)}"
        blocks.append(Section("safety", None, [safety]))
    whole = [block for block in blocks if not isinstance(block, Section) or block.blocks]
    return Document(titled(location, day), whole, intro=intro)


def _levels(slot: Slot) -> Line:
    """A setup's exposure, and what the meter reads once all hangs."""
    said = f"{slot.setup.name}: {exposed(slot.setup.exposure)}; {as_rigged.line(slot.levels)}"
    return Line(said, [f"NOT SOLVED: {lack}" for lack in slot.needs.unmet])


def _suns(plan: Plan) -> Iterator[tuple[Said, ...]]:
    """When the sun is on a setup's mark, and what keeps it off."""
    for touched in plan.entries.marks:
        setups = [
            setup
            for setup in plan.setups
            if (setup.room, setup.mark) == (touched.room, touched.mark)
        ]
        for interval in touched.intervals if setups else ():
            stops = dict.fromkeys(_against(plan, setup, touched.opening) for setup in setups)
            yield (
                touched.mark,
                *moments(interval, plan.location.timezone, plan.entries),
                touched.opening,
                " or ".join(stops),
            )


def _against(plan: Plan, setup: ResolvedSetup, opening: str) -> str:
    """What keeps the sun through an opening off a setup's mark."""
    slot = plan.slots.get(setup.name)
    if slot is not None and opening in slot.needs.treated.covered:
        return "blacked out then"
    flags = [flag for flag in plan.flags_of(setup).taken if flag.opening == opening]
    return ", ".join(f"{flag.name} {flag.placement}" for flag in flags) or "no flag; see FLAGS"


def _load(plan: Plan) -> Iterator[str]:
    """What is carried, and what the kit does not have."""
    if plan.pack is not None and plan.pack.lines:
        yield f"load: {pack.heavy(plan.pack)}"
        yield from pack.lacking(plan.pack.lines)


def _outdoors(outside: ExteriorDay, zone: str) -> str:
    """A setup outdoors in a line."""
    day, night = outside.date, outside.night
    words = [f"{outside.exterior.name}, outdoors, reads as {outside.exterior.plays}"]
    if outside.exterior.plays != "day":
        dark = "no night" if night is None else f"dark {between(night.civil_dark, zone, day)}"
        words.append(dark)
        if night is not None:
            moon = [between((it.start_s, it.end_s), zone, day) for it in night.moon]
            words.append(f"moon {', '.join(moon)}" if moon else "no moon")
    words += [
        f"sun behind {between((light.start_s, light.end_s), zone, day)}, {light.side}"
        for light in outside.backlight
    ]
    return "; ".join(words)


def _dangers(plan: Plan) -> list[str]:
    slots = plan.slots.values()
    return list(dict.fromkeys(hazard for slot in slots for hazard in slot.needs.hazards))
