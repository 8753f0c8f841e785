"""The day on paper: a cover, and a page a room, to be read by two people in a dim room."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

from ..day.exterior import ExteriorDay
from ..day.plan import Plan
from ..day.running_order import Slot
from ..draw.elevation import flag_elevation, measured
from ..draw.paper import legend, on_paper
from ..draw.scene import Hanging, Standing, flag_scene, numbers_of, room_scene
from ..location.model import Point, Room, Setup
from ..location.read import Location
from ..report.cautions import NIGHT, SUN, WEATHER, cares, in_full
from ..report.check import exposed
from ..report.document import Caution, Moment, Said, Text, joined, rendered, text
from ..report.entry import moments, sun_line
from ..report.flags import from_mark, held, hung, stops, two
from ..report.gap import advice, wanted
from ..report.key import dimmed
from ..report.negative import where
from ..report.order import clashes, dropped
from ..report.pack import cases, costs, heavy, lacks, rigging
from ..report.words import about, bearing, between, by, left_open, moves, outdoors, signed
from ..rig import hazards
from ..rig.electrical_load import Load
from ..rig.flag_placement import Position
from ..rig.flags import FlagOption
from ..rig.hazards import Hazard
from ..rig.tape import two_walls
from ..sun.local_time import to_local
from .typeset import USUAL, typeset

TEMPLATE = "sheet.typ"
PLAN_MM, PLAN_MOST_MM = 88.0, 58.0  # a room's drawing
FLAG_MM, FLAG_MOST_MM = 58.0, 38.0  # a flag's, each of two
HOUR_S = 3600.0
FLAG_MARGINS_PT = (20.0, 20.0, 20.0, 20.0)
HANGS = "HANGS"  # what the order hangs; other flags are spare
Figures = dict[str, Any]


@dataclass(frozen=True, eq=False)
class Hung:
    """One place of a flag with the name that it has on the sheet."""

    name: str
    option: FlagOption
    position: Position


def write(plan: Plan, path: Path, *, paper: str | None = None) -> None:
    """Write the sheet to a PDF, on the paper given or else by the file's units."""
    usual = USUAL[plan.location.site.units]
    typeset(TEMPLATE, figures(plan), usual if paper is None else paper, path)


def figures(plan: Plan) -> Figures:
    """What the template sets."""
    location, day = plan.location, plan.entries.date
    rooms = [_room(plan, room) for room in location.room]
    sheet: Figures = {
        "site": location.site.name,
        "day": f"{day:%A} {day.isoformat()}",
        "zone": f"clock of {location.timezone}",
        "sun": sun_line(plan.entries.sun, day, location.timezone),
        "never": SUN.said,
        "signs": legend(),
        "cover": _cover(plan, rooms),
        "rooms": rooms,
    }
    said: Figures = rendered(sheet, location.site.units)
    return said


def _slots(plan: Plan) -> dict[str, Slot]:
    """The times of setups that are shot, by name, in their order."""
    if plan.pack is None:
        return {}
    return {one.setup.name: one for one in plan.pack.running.slots}


def _cover(plan: Plan, rooms: Sequence[Figures]) -> Figures:
    location, zone, day = plan.location, plan.location.timezone, plan.entries.date
    site = location.site
    hours = f"{Moment(plan.clock.call_s, zone)} call, {Moment(plan.clock.wrap_s, zone)} all down"
    error = f" ±{site.plan_up_error:g}°" if site.plan_up_error else ""
    asked = dict.fromkeys(hazard for room in rooms for hazard in room["hazards"])
    care: list[Caution] = [SUN, *in_full(asked)]
    if any(one.exterior.plays != "day" for one in plan.exteriors):
        care.append(NIGHT)
    return {
        "facts": [
            hours,
            *([f"for {' and '.join(plan.packed_for)} sky"] if plan.pack is not None else []),
            f"the plan's up is {bearing(site.plan_up)}{error}",
        ],
        "order": _order(plan),
        "notes": [] if plan.ordered is None else [*dropped(plan.ordered), *clashes(plan.ordered)],
        "late": _late(plan),
        "outdoors": [_outdoors(one, zone) for one in plan.exteriors],
        "uncounted": outdoors([one.name for one in location.exterior]),
        "pack": None if plan.pack is None else _pack(plan),
        "care": [caution.said for caution in (*care, WEATHER)],
        "sure": _sure(location),
        "date": day.isoformat(),
    }


def _sure(location: Location) -> str:
    error = left_open(location)
    does = "do" if " and " in error else "does"
    return f"± minutes: what {error} {does} to that moment; allow for it." if error else ""


def _late(plan: Plan) -> list[str]:
    if plan.pack is None:
        return []
    running, zone, day = plan.pack.running, plan.location.timezone, plan.entries.date
    found = [
        f"all down {Moment(running.end_s, zone, day)}; rigging {running.rig_minutes:.0f} min, "
        f"striking {running.strike_minutes:.0f} min in all, for two who have done it before; "
        "half as much again on a first visit"
    ]
    if running.over_s > 60.0:
        found.append(f"LATER THAN WRAP by {running.over_s / 60.0:.0f} min")
    return found


def _order(plan: Plan) -> Figures:
    """Setups as they follow each other, over a clock; below them the sun on their marks."""
    zone, at = plan.location.timezone, plan.entries.sun
    ends = [plan.clock.wrap_s]
    if at.civil_dusk is not None and at.civil_dusk < plan.clock.wrap_s + 3 * HOUR_S:
        ends.append(at.civil_dusk)
    # Whole hours of the clock, from call to wrap or dark.
    first = to_local(plan.clock.call_s, zone).replace(minute=0, second=0)
    last = to_local(max(ends) + HOUR_S - 1.0, zone).replace(minute=0, second=0)
    start, end = first.timestamp(), last.timestamp()

    def share(moment_s: float) -> float:
        return min(max((moment_s - start) / (end - start), 0.0), 1.0)

    def bar(kind: str, from_s: float, to_s: float) -> Figures:
        return {"kind": kind, "from": share(from_s), "to": share(to_s)}

    shade = []
    if at.set is not None:
        shade.append(bar("dusk", at.set, end))
    if at.civil_dusk is not None:
        shade.append(bar("dark", at.civil_dusk, end))
    rows = []
    turns = {} if plan.ordered is None else {
        turn.way.setup.name: turn for turn in plan.ordered.best.turns
    }  # fmt: skip
    for name, slot in _slots(plan).items():
        shot = slot.shoot_s
        way = turns[name].way
        rows.append(
            {
                "rig": Moment(slot.start_s, zone),
                "shoot": f"{Moment(shot[0], zone)} – {Moment(shot[1], zone)}",
                "name": name,
                "room": slot.setup.room,
                "warn": [
                    *(["TOO DARK"] if way.too_dark else []),
                    *(["NOT SOLVED"] if slot.needs.unmet else []),
                    *(["LATE"] if slot.late else []),
                ],
                "bars": [bar("rig", slot.start_s, slot.ready_s), bar("shoot", *shot)],
            }
        )
    suns = [
        {
            "name": f"sun: {one.mark}",
            "room": f"{one.room}, {one.opening}",
            "bars": [bar("sun", span.start_s, span.end_s) for span in one.intervals],
        }
        for one in plan.entries.marks
        if any(span.end_s > start and span.start_s < end for span in one.intervals)
    ]
    step = max(1, round((end - start) / HOUR_S / 6))
    hours = (first + timedelta(hours=ahead) for ahead in range(0, 30, step))
    return {
        "rows": rows,
        "suns": suns,
        "shade": shade,
        "lunch": [bar("lunch", *plan.clock.lunch_s)] if plan.clock.lunch_s is not None else [],
        "hours": [
            {"at": share(one.timestamp()), "text": f"{one:%H}"}
            for one in hours
            if start <= one.timestamp() <= end
        ],
    }


def _outdoors(one: ExteriorDay, zone: str) -> Figures:
    """A setup outdoors in a few lines."""
    day, camera = one.date, one.exterior.camera
    lines = [f"camera toward {bearing(camera.bearing)}"]
    if one.exterior.plays != "day":
        if one.night is None:
            lines.append("no night: the sun does not set")
        else:
            lines.append(f"dark, sun 6° down: {between(one.night.civil_dark, zone, day)}")
            moon = [between((span.start_s, span.end_s), zone, day) for span in one.night.moon]
            lines.append(f"moon: {', '.join(moon)}" if moon else "no moon")
    lines += [
        f"sun behind the subject, {each.side}: {between((each.start_s, each.end_s), zone, day)}"
        for each in one.backlight
    ]
    lines += [f"the sun itself IN FRAME: {between(span, zone, day)}" for span in one.sun_in_frame]
    return {"name": one.exterior.name, "plays": one.exterior.plays, "lines": lines}


def _pack(plan: Plan) -> Figures:
    pack = plan.pack
    assert pack is not None
    rolls = []
    for one in pack.takeoff.materials:
        name = text(f"{one.stock.name}, ", by(one.stock.width, one.stock.length), " a roll: ")
        if one.layout is None:
            rolls.append(text(name, one.why_not or ""))
        else:
            rolls.append(text(name, about(one.layout.used_m), f" of {one.rolls}"))
    return {
        "things": [
            {
                "need": one.need,
                "thing": one.thing.name,
                "lack": f"{one.how} {one.get}" if one.get else "",
            }
            for one in pack.lines
        ],
        "heavy": heavy(pack),
        "cases": list(cases(pack)),
        "costs": list(costs(pack.lines)),
        "rolls": rolls,
        "tape": "tape: " + about(pack.takeoff.tape_m) if pack.takeoff.tape_m else "",
    }


def _room(plan: Plan, room: Room) -> Figures:
    location, slots = plan.location, _slots(plan)
    mine = [one for one in location.setup if one.room == room.name]
    shot = [one for one in mine if one.name in slots]
    shot.sort(key=lambda one: slots[one.name].start_s)
    left = [one for one in mine if one.name not in slots]
    flags = _flags(plan, [*shot, *left])
    drawn = room_scene(
        location,
        room,
        numbers=numbers_of(room),
        standing=[_standing(plan, one, slots.get(one.name)) for one in (*shot, *left)],
        hanging=[
            Hanging(each.name, each.position, idle=status != HANGS) for _, each, status in flags
        ],
    )
    asked = [
        *(h for one in shot for job in slots[one.name].needs.jobs for h in job.hazards),
        *(h for _, each, _ in flags for h in hazards.flags(each.option, room)),
        *_lamp_hazards(mine),
    ]
    return {
        "name": room.name,
        "facts": text("floor ", about(room.floor), " above ground, ", about(room.height), " high"),
        "plan": on_paper(drawn, PLAN_MM, PLAN_MOST_MM, plan_up_deg=location.site.plan_up),
        "openings": _openings(plan, room),
        "marks": _marks(plan, room),
        "setups": [_setup(plan, room, one, slots.get(one.name)) for one in (*shot, *left)],
        "flags": [_flag(plan, room, *one) for one in flags],
        "unmet": [
            f"{one.setup.name}: no flag of the kit keeps the sun through {name} off the mark"
            for one in plan.flags
            if one.setup.room == room.name and one.setup.name not in slots  # else its own box does
            for name in one.unmet
        ],
        "cut": _cut(plan, room),
        "hazards": list(dict.fromkeys(asked)),
        "care": [caution.said for caution in in_full(asked)],
        "short": cares(dict.fromkeys(asked)) if asked else "",
    }


def _lamp_hazards(setups: Iterable[Setup]) -> list[Hazard]:
    return ["lamp", "circuits"] if any(one.key is not None for one in setups) else []


def _standing(plan: Plan, setup: Setup, slot: Slot | None) -> Standing:
    """A setup as it is drawn: its camera by the time at which it is shot."""
    gap = next(one for one in plan.gaps_by_step if one.setup.name == setup.name)
    sheet = None if gap.source is None else gap.source.sheet
    panel = None if slot is None or slot.needs.panel is None else slot.needs.panel.screen
    return Standing(setup, _time(plan, slot), sheet=sheet, panel=panel)


def _time(plan: Plan, slot: Slot | None) -> str:
    return "left out" if slot is None else f"{Moment(slot.shoot_s[0], plan.location.timezone)}"


def _openings(plan: Plan, room: Room) -> list[Figures]:
    """Each opening with its number, and when direct sun comes through it."""
    location, day = plan.location, plan.entries
    named = numbers_of(room)
    found = []
    for opening in room.opening:
        one = next(
            one for one in day.openings if (one.room, one.opening) == (room.name, opening.name)
        )
        spans = [
            {
                "span": joined(" – ", moments(stretch, location.timezone, day)),
                "falls": moves(*landing),
            }
            for stretch, landing in zip(one.intervals, one.patch_positions, strict=True)
        ]
        found.append(
            {
                "number": named[opening.name],
                "name": opening.name,
                "size": by(*opening.size),
                "spans": spans,
                "perhaps": _perhaps(plan, one.possible),
            }
        )
    return found


def _perhaps(plan: Plan, spans: Sequence[tuple[float, float]]) -> list[str]:
    return [f"perhaps {between(one, plan.location.timezone, plan.entries.date)}" for one in spans]


def _marks(plan: Plan, room: Room) -> list[Figures]:
    found, named = [], numbers_of(room)
    for mark in room.mark:
        rows = []
        for one in plan.entries.marks:
            if (one.room, one.mark) == (room.name, mark.name):
                spans = [
                    joined(" – ", moments(span, plan.location.timezone, plan.entries))
                    for span in one.intervals
                ]
                rows.append(
                    {
                        "number": named[one.opening],
                        "spans": [*spans, *_perhaps(plan, one.possible)],
                    }
                )
        found.append({"name": mark.name, "rows": rows})
    return found


def _spot(room: Room, at: Point) -> Text:
    """A place on the floor by tape, from two walls."""
    walls = two_walls(room, at)
    return joined(" and ", (about(away) + f" from wall {wall}" for wall, away in walls))


def _setup(plan: Plan, room: Room, setup: Setup, slot: Slot | None) -> Figures:
    location, zone = plan.location, plan.location.timezone
    camera, key = setup.camera, setup.key
    toward = f"toward {camera.toward}" if isinstance(camera.toward, str) else "as drawn"
    wants = "" if setup.contrast is None else f", {setup.contrast:g}:1"
    lines: list[tuple[str, Said]] = [
        ("mark", f"{setup.mark}; plays {setup.plays}{wants}"),
        (
            "camera",
            text(about(camera.height), " high, ", _spot(room, camera.at), f", {toward}"),
        ),
        ("set to", exposed(setup.exposure)),
    ]
    if key is not None:
        place = text(about(key.height), " high, ", _spot(room, key.at))
        lines.append(("key", text(f"{key.named}, ", place)))
        light = next(one for one in plan.keys if one.setup.name == setup.name)
        if light.stops > 0:
            lines.append(("", f"to sit at key, by night: {dimmed(light)}"))
        if light.in_frame:
            lines.append(("", "IN FRAME: the camera sees it"))
    if slot is None:
        return {
            "time": "left out",
            "name": setup.name,
            "beside": "does not fit this day" if plan.pack is not None else "",
            "rig": "",
            "lines": lines,
            "jobs": [],
            "lacks": [],
            "gap": None,
        }
    if slot.needs.panel is not None:
        stock = slot.needs.panel.stock.name
        lines.append(("black", text(f"{stock}: ", where(location, setup, slot.needs.panel))))
    lines += [("mains", line) for line in _circuits(slot.needs.load)]
    first, last = (Moment(at, zone) for at in slot.shoot_s)
    return {
        "time": f"{first} – {last}",
        "name": setup.name,
        "beside": f"{setup.minutes:g} min",
        "rig": f"from {Moment(slot.start_s, zone)} {rigging(slot)}; ready "
        f"{Moment(slot.ready_s, zone)}",
        "lines": lines,
        "jobs": [
            {
                "what": job.words,
                "spent": f"{job.minutes:.0f} min" if job in slot.jobs else "hangs already",
                "care": cares(job.hazards) if job.hazards else "",
            }
            for job in slot.needs.jobs
        ],
        "lacks": [*lacks(slot), *_alerts(plan, setup)],
        "gap": _gap(plan, room, setup, slot),
    }


def _circuits(load: Load) -> Iterator[str]:
    """What a setup draws, a line a circuit."""
    for one in load.circuits:
        if one.lamps:
            guess = " (assumed)" if load.assumed else ""
            over = f"; {one.over_watts:.0f} W TOO MUCH" if one.over_watts else ""
            yield f"{one.circuit.name}{guess}: {one.watts:.0f} of {one.allowed_watts:.0f} W{over}"


def _alerts(plan: Plan, setup: Setup) -> Iterator[str]:
    """Sun in this setup while it is shot."""
    zone, day = plan.location.timezone, plan.entries.date
    for one in plan.alerts:
        if one.setup.name == setup.name:
            span = between((one.start_s, one.end_s), zone, day)
            if one.what == "frame":
                yield f"SUN IN FRAME through {one.opening}, {span}"
            elif one.flag is None:
                yield f"SUN ON THE MARK through {one.opening}, {span}"
            else:
                yield f"sun on the mark but for {one.flag.name}, {one.opening}: {span}"


def _gap(plan: Plan, room: Room, setup: Setup, slot: Slot) -> Figures | None:
    """The windows in frame while it is shot, each when it is farthest from the look."""
    zone, named = plan.location.timezone, numbers_of(room)
    gap = next(one for one in plan.gaps_by_step if one.setup.name == setup.name)
    rows = [
        {
            "number": named[each.opening],
            "name": each.opening,
            "sky": sky.name,
            "time": Moment(sky.unix_s, zone),
            "stops": signed(each.stops),
            "lose": f"{each.lose_stops:.1f}" if each.lose_stops else "—",
            "do": advice(each),
        }
        for sky, each in gap.worst(*slot.shoot_s)
        if each.stops is not None
    ]
    if not rows:
        return None
    return {
        "head": "windows as they are, at the worst of the shoot; wanted, stops: "
        f"{wanted(plan.location, gap)}",
        "rows": rows,
        "fits": _fits(plan, room, setup),
    }


def _fits(plan: Plan, room: Room, setup: Setup) -> list[str]:
    """When a window in frame is right by itself, a line a window."""
    zone, day, lines = plan.location.timezone, plan.entries.date, []
    for name, number in numbers_of(room).items():
        mine = [one for one in plan.fits if (one.setup, one.opening) == (setup.name, name)]
        told = []
        for sky in dict.fromkeys(one.sky for one in mine):
            spans = [between((one.start_s, one.end_s), zone, day) for one in mine if one.sky == sky]
            told.append(f"{sky} {', '.join(spans)}")
        if told:
            lines.append(f"{number} right by itself: {'; '.join(told)}")
    return lines


def _flags(plan: Plan, setups: Sequence[Setup]) -> list[tuple[Setup, Hung, str]]:
    """Flags to draw with their names: those the order hangs, then what another hour asks for."""
    slots, zone = _slots(plan), plan.location.timezone
    found: list[tuple[Setup, FlagOption, str]] = []
    for setup in setups:
        slot = slots.get(setup.name)
        planned = () if slot is None else slot.needs.flags
        found += [(setup, one, HANGS) for one in planned]
        names = {one.opening for one in planned}
        others = next(one for one in plan.flags if one.setup.name == setup.name).taken
        for one in others:
            if one.opening in names:
                continue
            if slot is None:
                reason = "if it is shot after all"
            elif one.opening in slot.needs.treated.covered:
                reason = f"{one.opening} is blacked"
            else:
                reason = f"not at {Moment(slot.shoot_s[0], zone)}"
            found.append((setup, one, f"spare: {reason}"))
    made = []
    for count, (setup, option, status) in enumerate(found, 1):
        several = len(option.positions) > 1
        for at, position in enumerate(option.positions):
            name = f"F{count}{'abcdefghijklmnop'[at] if several else ''}"
            made.append((setup, Hung(name, option, position), status))
    return made


def _flag(plan: Plan, room: Room, setup: Setup, one: Hung, status: str) -> Figures:
    location, zone = plan.location, plan.location.timezone
    option, position = one.option, one.position
    mark = room.mark_named(setup.mark)
    found = measured(location, room, mark, option, position.hung)
    number = numbers_of(room)[option.opening]
    side = flag_elevation(location, room, mark, option, position, number=number)
    hanging = Hanging(one.name, position)
    above = flag_scene(location, room, mark, hanging, found, numbers=numbers_of(room))
    owned = "" if option.owned else ", not owned"
    first = option.positions[0]
    span = stops(option, zone)
    if len(option.positions) > 1:
        start, end = Moment(position.start_s, zone), Moment(position.end_s, zone)
        span = f"there {start} – {end}" if position is first else f"MOVE by {start}, to {end}"
    stand: Said = "no stand holds it: clamp or tape it"
    if option.stand is not None:
        stand = held(option, position)
    care, drawn = hazards.flags(option, room), setup.name in _slots(plan)
    lines = [
        text(by(*position.stock_m), ", of which ", by(*position.needs_m), " is needed"),
        hung(found),
        text(from_mark(found), "; ", stand),
    ]
    if len(position.pieces) > 1:
        pieces = [measured(location, room, mark, option, piece) for piece in position.pieces]
        lines.append(two(option, pieces))
    warn = [
        *([] if position.clear_of_frame else ["IN FRAME"]),
        *([] if position.clear_of_key else ["TAKES KEY LIGHT from the face"]),
    ]
    return {
        "name": one.name,
        "status": status,
        "stock": f"{option.name}{owned}",
        "for": f"{setup.name}: {numbers_of(room)[option.opening]} {option.opening}, "
        f"{option.placement}",
        "span": span,
        "lines": lines,
        "warn": warn,
        "care": cares(care) if care else "",
        "plan": on_paper(above, FLAG_MM, FLAG_MOST_MM, FLAG_MARGINS_PT) if drawn else None,
        "side": on_paper(side.scene, FLAG_MM, FLAG_MOST_MM, side.margins_pt, mirrored=side.mirrored)
        if drawn
        else None,
        "seen": side.seen,
    }


def _cut(plan: Plan, room: Room) -> list[Text]:
    """Pieces of cloth and gel for a room, with their sizes."""
    if plan.pack is None:
        return []
    start = f"{room.name}: "
    found = []
    for one in plan.pack.takeoff.materials:
        pieces = [
            text(f"{piece.name.removeprefix(start)} ", by(piece.width_m, piece.height_m))
            for piece in one.pieces
            if piece.name.startswith(start)
        ]
        if pieces:
            found.append(text(f"{one.stock.name}: ", joined("; ", pieces)))
    return found
