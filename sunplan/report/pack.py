"""The pack list: JSON, CSV, and a checklist."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date

from ..day.pack import Pack, PackItem
from ..day.running_order import RunningOrder, Slot
from ..location.read import Location
from . import as_rigged, circuits, jobs
from .answers import Answer, fields, head, iso, names
from .blackout import cut_list, material
from .cautions import LIFTING, SUN, WEATHER, in_full
from .document import Block, Document, Line, Moment, More, Section, Table
from .words import between, outdoors, titled

VISITS = "Minutes are for two people who have done it before; half as much again on a first visit."
ROWS = {"items": ("items",), "pieces": ("materials", "laid")}  # of its answer, by kind


def _line(line: PackItem) -> Answer:
    return {
        **fields(line, "kit", "kind"),
        "thing": line.thing.name,
        **fields(line, "need", "take", "get"),
        "how": line.how if line.get else None,
        **fields(line, "weight_kg", "price"),
    }


def _slot(slot: Slot, zone: str) -> Answer:
    first, last = slot.shoot_s
    return {
        "setup": slot.setup.name,
        "room": slot.setup.room,
        "from": iso(slot.start_s, zone),
        "shoot_from": iso(first, zone),
        "shoot_to": iso(last, zone),
        "late": slot.late,
        "holds_from": iso(slot.needs.treated.start_s, zone),
        "holds_to": iso(slot.needs.treated.end_s, zone),
        **fields(slot, "wait_minutes", "strike_minutes", "rig_minutes"),
        "jobs": [
            {
                "what": job.words,
                "minutes": job.minutes,
                "things": {thing.name: count for thing, count in job.things},
                "hazards": list(job.hazards),
                "hangs": job not in slot.jobs,
            }
            for job in slot.needs.jobs
        ],
        "load": circuits.loads(slot.needs.load),
        "levels": [as_rigged.moment(levels, zone) for levels in slot.levels],
        "unmet": list(slot.needs.unmet),
    }


def answer(
    location: Location, day: date, pack: Pack, skies: Sequence[str], *, best: bool = False
) -> Answer:
    """Answer of `sunplan pack`; `best`: setups stand in the best order, else in the file's."""
    zone = location.timezone
    return {
        **head(location, day),
        "mains": circuits.mains(location),
        "skies": list(skies),
        "best": best,
        "running": [_slot(slot, zone) for slot in pack.running.slots],
        "ends": iso(pack.running.end_s, zone),
        "after_wrap_minutes": pack.running.over_s / 60.0,
        **fields(pack.running, "rig_minutes", "strike_minutes"),
        "items": [_line(line) for line in pack.lines],
        "materials": [material(used) for used in pack.takeoff.materials],
        "tape_m": pack.takeoff.tape_m,
        "cases": [
            {
                "case": packed.case.name,
                "inside": names(packed.inside),
                "weight_kg": packed.weight_kg,
            }
            for packed in pack.cases
        ],
        "loose": names(pack.loose),
        "weight_kg": pack.weight_kg,
    }


def report(
    location: Location,
    day: date,
    pack: Pack,
    skies: Sequence[str],
    *,
    best: bool = False,
    whole: bool = False,
) -> Document:
    """Wrap and load, then the checklist; the day in its order, or the `best`.

    The jobs one by one and the cut list are for more, unless the `whole` is wanted.
    """
    slots, zone = pack.running.slots, location.timezone
    dangers = [hazard for slot in slots for hazard in slot.needs.hazards]
    rooms = (slot.setup.room for slot in slots)
    each = [_slot_section(slot, zone, day) for slot in slots]
    assumed = Section("mains", None, circuits.assumed(location, rooms))
    cut = cut_list(pack.takeoff)
    in_turn = [_in_turn(slot, zone, day) for slot in slots]
    brief: list[Block] = [
        *([Section("in-turn", "Setups in turn", in_turn)] if in_turn else []),
        More("each job, its safety words and circuit", each),
        assumed,
        More("the cut list", [cut]),
    ]
    return Document(
        titled(location, day),
        [
            Section("wrap", None, wrap(pack, zone, day)),
            Section("load", None, _load(pack)),
            _checklist(pack),
            Section("cases", "Cases", cases(pack)),
            *([*each, assumed, cut] if whole else brief),
            Section("notes", None, [VISITS, *in_full(dangers), LIFTING, WEATHER, SUN]),
        ],
        intro=[
            f"for {' and '.join(skies)} sky; setups in the "
            f"{'best order' if best else 'order given'}{_slack(slots)}",
            *outdoors([exterior.name for exterior in location.exterior]),
        ],
    )


def _load(pack: Pack) -> Iterator[str]:
    """How much it is, what the kit does not have, and what that costs."""
    yield f"load: {heavy(pack)}"
    yield from lacking(pack.lines)
    yield from costs(pack.lines)


def _slack(slots: Sequence[Slot]) -> str:
    """For how much later than planned all that hangs still holds."""
    late_s = min((slot.needs.treated.end_s - slot.shoot_s[1] for slot in slots), default=0.0)
    return f"; what hangs holds for {late_s / 60.0:.0f} min late" if late_s >= 60.0 else ""


def wrap(pack: Pack, zone: str, day: date) -> Iterator[str]:
    """When all is down, and by how much that is too late."""
    running = pack.running
    yield (
        f"wrapped out by {Moment(running.end_s, zone, day)}; "
        f"{jobs.turnaround(running.strike_minutes, running.rig_minutes)} in all"
    )
    yield from (f"{late}: see order for what fits" for late in overrun(running))
    unmet = [slot.setup.name for slot in running.slots if slot.needs.unmet]
    if unmet:
        yield f"NOT SOLVED, see below: {', '.join(unmet)}"


def lacking(lines: Sequence[PackItem]) -> Iterator[str]:
    """What the kit does not have, to rent or to buy."""
    for how in dict.fromkeys(line.how for line in lines if line.get):
        things = [f"{line.get} {line.thing.name}" for line in lines if line.get and line.how == how]
        yield f"{how}: {', '.join(things)}"


def overrun(running: RunningOrder) -> list[str]:
    """By how much all is down after the crew's wrap, if it is."""
    over_min = running.over_s / 60.0
    return [f"LATER THAN WRAP by {over_min:.0f} min"] if over_min > 1.0 else []


def _checklist(pack: Pack) -> Section:
    rows = [
        (
            line.thing.name,
            str(line.need),
            str(line.thing.owned),
            f"{line.how} {line.get}" if line.get else "—",
            f"{line.weight_kg:.1f} kg",
        )
        for line in pack.lines
    ]
    things = Table(("thing", "need", "own", "lacking", "weight"), rows, checklist=True)
    heading = "To take; need is the most at one time"
    return Section("pack-list", None, [heading, things])


def _slot_section(slot: Slot, zone: str, day: date) -> Section:
    """A setup's jobs one by one, and its lamps on their circuits."""
    return Section(
        "setup",
        _when(slot, zone, day),
        [
            *rigged(slot),
            f"to meter: {as_rigged.line(slot.levels)}",
            *lacks(slot),
            *(f"on {line}" for line in circuits.lines(slot.needs.load)),
        ],
    )


def _in_turn(slot: Slot, zone: str, day: date) -> Line:
    """A setup's time, what hangs in few words, and what is wrong."""
    new = [job for job in slot.needs.jobs if job in slot.jobs]
    return Line(
        f"{_when(slot, zone, day)}; {jobs.in_short(new)}",
        [*lacks(slot), *(f"on {line}" for line in circuits.lines(slot.needs.load, over=True))],
    )


def _when(slot: Slot, zone: str, day: date) -> str:
    return (
        f"{slot.setup.name} ({slot.setup.room}): from {Moment(slot.start_s, zone, day)} "
        f"{rigging(slot)}; shoot {between(slot.shoot_s, zone, day)}"
    )


def rigging(slot: Slot) -> str:
    """How long a setup's rigging takes, with what comes before it."""
    over = ", the way over with it" if slot.moved else ""
    wait = f", wait {slot.wait_minutes:.0f} min: less is needed then" if slot.wait_minutes else ""
    if slot.struck:
        return f"{jobs.turnaround(slot.strike_minutes, slot.rig_minutes)}{over}{wait}"
    return f"rig {jobs.whole(slot.rig_minutes)} min{over}{wait}"


def rigged(slot: Slot, *, with_care: bool = True) -> list[str]:
    """What is rigged, a line a job."""
    lines = [
        jobs.line(job, hangs=job not in slot.jobs, with_care=with_care) for job in slot.needs.jobs
    ]
    return lines or [jobs.NOTHING]


def lacks(slot: Slot) -> Iterator[str]:
    """What is late, and what nothing solves."""
    if slot.late and slot.setup.start is not None:
        yield f"LATE: it must start at {slot.setup.start:%H:%M}"
    yield from (f"NOT SOLVED: {lack}" for lack in slot.needs.unmet)


def costs(lines: Sequence[PackItem]) -> Iterator[str]:
    """What the renting costs, as far as it is known."""
    prices = [line.price for line in lines if line.get and line.how == "rent"]
    known = [price for price in prices if price is not None]
    if known:
        rest = len(prices) - len(known)
        yield f"to rent: {sum(known):.0f} a day" + (f", {rest} of no known price" if rest else "")


def heavy(pack: Pack) -> str:
    """How much it is in all."""
    return f"{len(pack.cases)} cases and {len(pack.loose)} loose, {pack.weight_kg:.0f} kg in all"


def cases(pack: Pack) -> Iterator[str]:
    """What goes into which case, a line a case."""
    owned: Counter[str] = Counter()
    for number, packed in enumerate(pack.cases, 1):
        case = packed.case
        owned[case.name] += 1
        lack = " (not owned)" if owned[case.name] > case.owned else ""
        inside = Counter(thing.name for thing in packed.inside)
        listed = ", ".join(name if many == 1 else f"{many} {name}" for name, many in inside.items())
        yield f"{number}. {case.name}{lack}, {packed.weight_kg:.0f} kg: {listed}"
    loose = Counter(thing.name for thing in pack.loose)
    if loose:
        yield "loose: " + ", ".join(f"{many} {name}" for name, many in loose.items())
