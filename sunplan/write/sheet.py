"""The day on paper: a cover, and a page a room, to be read by two people in a dim room."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from ..day.exterior import ExteriorDay
from ..day.pack import Pack
from ..day.plan import Plan
from ..day.running_order import Slot
from ..draw.elevation import flag_elevation
from ..draw.paper import legend, on_paper
from ..draw.scene import Hanging, Standing, flag_scene, numbers_of, room_scene
from ..light.resolved import ResolvedSetup
from ..location.model import Point, Room, wall_letter
from ..location.read import Location
from ..report import as_rigged, circuits
from ..report.cautions import LIFTING, NIGHT, OUTDOORS, SUN, WEATHER, cares, in_full
from ..report.check import exposed
from ..report.document import Moment, Said, Text, joined, rendered, text
from ..report.entry import moments, sun_line
from ..report.flags import from_mark, held, hung, stops, two
from ..report.gap import advice, wanted
from ..report.jobs import spent
from ..report.key import dimmed
from ..report.negfill import where
from ..report.order import clashes, dropped
from ..report.pack import cases, costs, heavy, lacks, rigging, wrap
from ..report.words import about, bearing, between, by, left_open, moves, outdoors, over
from ..rig import hazards
from ..rig.flag_placement import Position
from ..rig.flags import FlagOption
from ..rig.hazards import Hazard
from ..rig.takeoff import Material
from ..rig.tape import two_walls
from ..sun.local_time import HOUR_S, to_local
from .typeset import USUAL, typeset

TEMPLATE = "sheet.typ"
PLAN_MM, PLAN_MOST_MM = 88.0, 58.0  # a room's drawing
FLAG_MM, FLAG_MOST_MM = 58.0, 38.0  # a flag's, each of two
LAMP: tuple[Hazard, ...] = ("lamp", "circuits")
FLAG_MARGINS_PT = (20.0, 20.0, 20.0, 20.0)
HANGS = "HANGS"  # what the order hangs; other flags are spare
Figures = dict[str, Any]


@dataclass(frozen=True, eq=False)
class Hung:
    """One place of a flag with the name that it has on the sheet."""

    name: str
    setup: ResolvedSetup
    option: FlagOption
    position: Position
    status: str  # `HANGS`, or why it is spare


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
        "zone": f"local time ({location.timezone})",
        "sun": sun_line(plan.entries.sun, day, location.timezone),
        "never": SUN.said,
        "signs": legend(),
        "cover": _cover(plan, rooms),
        "rooms": rooms,
    }
    said: Figures = rendered(sheet, location.site.units)
    return said


def _cover(plan: Plan, rooms: Sequence[Figures]) -> Figures:
    location, zone, day = plan.location, plan.location.timezone, plan.entries.date
    site, pack, order = location.site, plan.pack, plan.ordered
    call, wrapped_out = (Moment(end_s, zone) for end_s in (plan.clock.call_s, plan.clock.wrap_s))
    error = f" ±{site.plan_up_error:g}°" if site.plan_up_error else ""
    night = any(outside.exterior.plays != "day" for outside in plan.exteriors)
    dangers = dict.fromkeys(hazard for room in rooms for hazard in room["hazards"])
    cautions = [
        SUN,
        *in_full(dangers),
        *([] if pack is None else [LIFTING]),
        *([OUTDOORS] if plan.exteriors else []),
        *([NIGHT] if night else []),
        WEATHER,
    ]
    return {
        "facts": [
            f"call {call}, wrapped out {wrapped_out}",
            *([] if pack is None else [f"for {' and '.join(plan.packed_for)} sky"]),
            f"the plan's up is {bearing(site.plan_up)}{error}",
        ],
        "order": _order(plan),
        "notes": [] if order is None else [*dropped(order), *clashes(order)],
        "mains": list(circuits.assumed(location, (setup.room for setup in plan.setups))),
        "late": [] if pack is None else _wrapped(pack, zone, day),
        "outdoors": [_outdoors(outside, zone) for outside in plan.exteriors],
        "uncounted": outdoors([exterior.name for exterior in location.exterior]),
        "pack": None if pack is None else _pack(pack),
        "care": [caution.said for caution in cautions],
        "sure": _sure(location),
        "date": day.isoformat(),
    }


def _sure(location: Location) -> str:
    error = left_open(location)
    does = "do" if " and " in error else "does"
    return f"± minutes: what {error} {does} to that moment; allow for it." if error else ""


def _wrapped(pack: Pack, zone: str, day: date) -> list[str]:
    done, *late = wrap(pack, zone, day)
    visits = "for two who have done it before; half as much again on a first visit"
    return [f"{done}, {visits}", *late]


@dataclass(frozen=True)
class _Scale:
    """The hours of the day as shares of a bar's width."""

    start_s: float
    end_s: float

    def share(self, moment_s: float) -> float:
        """Where a moment lies."""
        return min(max((moment_s - self.start_s) / (self.end_s - self.start_s), 0.0), 1.0)

    def bar(self, kind: str, from_s: float, to_s: float) -> Figures:
        """From one moment to another."""
        return {"kind": kind, "from": self.share(from_s), "to": self.share(to_s)}

    def hours(self, zone: str) -> list[Figures]:
        """About six hours to write below."""
        step_h = max(1, round((self.end_s - self.start_s) / HOUR_S / 6))
        first = to_local(self.start_s, zone)
        clocks = (first + timedelta(hours=ahead) for ahead in range(0, 30, step_h))
        return [
            {"at": self.share(clock.timestamp()), "text": f"{clock:%H}"}
            for clock in clocks
            if self.start_s <= clock.timestamp() <= self.end_s
        ]


def _scale(plan: Plan) -> _Scale:
    """Whole hours of the clock, from call to wrap or dark."""
    zone, dusk, wrap_s = plan.location.timezone, plan.entries.sun.civil_dusk, plan.clock.wrap_s
    last_s = max(wrap_s, dusk) if dusk is not None and dusk < wrap_s + 3 * HOUR_S else wrap_s
    start, end = (
        to_local(moment_s, zone).replace(minute=0, second=0).timestamp()
        for moment_s in (plan.clock.call_s, last_s + HOUR_S - 1.0)
    )
    return _Scale(start, end)


def _order(plan: Plan) -> Figures:
    """Setups as they follow each other, over a clock; below them the sun on their marks."""
    scale, sun, lunch_s = _scale(plan), plan.entries.sun, plan.clock.lunch_s
    shade = (("dusk", sun.set), ("dark", sun.civil_dusk))
    turns = () if plan.ordered is None else plan.ordered.best.turns
    dark = {turn.rigging.setup.name for turn in turns if turn.rigging.too_dark}
    return {
        "rows": [
            _turn(slot, scale, plan.location.timezone, too_dark=name in dark)
            for name, slot in plan.slots.items()
        ],
        "suns": [
            {
                "name": f"sun: {touched.mark}",
                "room": f"{touched.room}, {touched.opening}",
                "bars": [scale.bar("sun", span.start_s, span.end_s) for span in touched.intervals],
            }
            for touched in plan.entries.marks
            if any(
                span.end_s > scale.start_s and span.start_s < scale.end_s
                for span in touched.intervals
            )
        ],
        "shade": [
            scale.bar(kind, down_s, scale.end_s) for kind, down_s in shade if down_s is not None
        ],
        "lunch": [] if lunch_s is None else [scale.bar("lunch", *lunch_s)],
        "hours": scale.hours(plan.location.timezone),
    }


def _turn(slot: Slot, scale: _Scale, zone: str, *, too_dark: bool) -> Figures:
    warnings = (("TOO DARK", too_dark), ("NOT SOLVED", slot.needs.unmet), ("LATE", slot.late))
    return {
        "rig": Moment(slot.start_s, zone),
        "shoot": between(slot.shoot_s, zone),
        "name": slot.setup.name,
        "room": slot.setup.room,
        "warn": [warning for warning, holds in warnings if holds],
        "bars": [
            scale.bar("rig", slot.start_s, slot.ready_s),
            scale.bar("shoot", *slot.shoot_s),
        ],
    }


def _outdoors(outside: ExteriorDay, zone: str) -> Figures:
    """A setup outdoors in a few lines."""
    day, camera = outside.date, outside.exterior.camera
    lines = [f"camera toward {bearing(camera.bearing)}"]
    if outside.exterior.plays != "day":
        if outside.night is None:
            lines.append("no night: the sun does not set")
        else:
            lines.append(f"dark, sun 6° down: {between(outside.night.civil_dark, zone, day)}")
            moon = [between((span.start_s, span.end_s), zone, day) for span in outside.night.moon]
            lines.append(f"moon: {', '.join(moon)}" if moon else "no moon")
    lines += [
        f"sun behind the subject, {light.side}: {between((light.start_s, light.end_s), zone, day)}"
        for light in outside.backlight
    ]
    lines += [
        f"the sun itself IN FRAME: {between(span, zone, day)}" for span in outside.sun_in_frame
    ]
    return {"name": outside.exterior.name, "plays": outside.exterior.plays, "lines": lines}


def _pack(pack: Pack) -> Figures:
    lacks = [f"{line.how} {line.get}" if line.get else "" for line in pack.lines]
    return {
        "things": [
            {"need": line.need, "thing": line.thing.name, "lack": lack}
            for line, lack in zip(pack.lines, lacks, strict=True)
        ],
        "heavy": heavy(pack),
        "cases": list(cases(pack)),
        "costs": list(costs(pack.lines)),
        "rolls": [_rolls(material) for material in pack.takeoff.materials],
        "tape": "tape: " + about(pack.takeoff.tape_m) if pack.takeoff.tape_m else "",
    }


def _rolls(material: Material) -> Text:
    stock, layout = material.stock, material.layout
    name = text(f"{stock.name}, ", by(stock.width, stock.length), " a roll: ")
    if layout is None:
        return text(name, f"{material.why_not}")
    return text(name, about(layout.used_m), f" of {material.rolls}")


def _room(plan: Plan, room: Room) -> Figures:
    location, slots = plan.location, plan.slots
    setups = [setup for setup in plan.setups if setup.room == room.name]
    # Those that are shot first, in their order.
    setups.sort(key=lambda setup: slots[setup.name].start_s if setup.name in slots else math.inf)
    flags = _flags(plan, setups)
    drawn = room_scene(
        location,
        room,
        numbers=numbers_of(room),
        standing=[_standing(plan, setup, slots.get(setup.name)) for setup in setups],
        hanging=[Hanging(flag.name, flag.position, idle=flag.status != HANGS) for flag in flags],
    )
    shot = [slots[setup.name] for setup in setups if setup.name in slots]
    dangers: dict[Hazard, None] = dict.fromkeys(
        [
            *(hazard for slot in shot for hazard in slot.needs.hazards),
            *(hazard for flag in flags for hazard in hazards.flags(flag.option, room)),
            *hazards.of_room(room),
            *(LAMP if any(setup.key is not None for setup in setups) else ()),
        ]
    )
    return {
        "name": room.name,
        "facts": text("floor ", about(room.floor), " above ground, ", about(room.height), " high"),
        "plan": on_paper(drawn, PLAN_MM, PLAN_MOST_MM, plan_up_deg=location.site.plan_up),
        "openings": _openings(plan, room),
        "marks": _marks(plan, room),
        "setups": [_setup(plan, room, setup, slots.get(setup.name)) for setup in setups],
        "flags": [_flag(plan, room, flag) for flag in flags],
        "unmet": [
            f"{flags.setup.name}: no flag of the kit keeps the sun through {name} off the mark"
            for flags in plan.flags
            if flags.setup.room == room.name
            and flags.setup.name not in slots  # else its own box does
            for name in flags.unmet
        ],
        "cut": [] if plan.pack is None else _cut(plan.pack.takeoff.materials, room),
        "hazards": list(dangers),
        "care": [caution.said for caution in in_full(dangers)],
        "short": cares(dangers) if dangers else "",
    }


def _standing(plan: Plan, setup: ResolvedSetup, slot: Slot | None) -> Standing:
    """A setup as it is drawn: its camera by the time at which it is shot."""
    gap = plan.gap_of(setup)
    sheet = None if gap.source is None else gap.source.sheet
    panel = None if slot is None or slot.needs.panel is None else slot.needs.panel.screen
    return Standing(setup, _time(plan, slot), sheet=sheet, panel=panel)


def _time(plan: Plan, slot: Slot | None) -> str:
    return "does not fit" if slot is None else f"{Moment(slot.shoot_s[0], plan.location.timezone)}"


def _openings(plan: Plan, room: Room) -> list[Figures]:
    """Each opening with its number, and when direct sun comes through it."""
    zone, day, number = plan.location.timezone, plan.entries, numbers_of(room)
    sunlit = {entry.opening: entry for entry in day.openings if entry.room == room.name}
    return [
        {
            "number": number[opening.name],
            "name": opening.name,
            "size": by(*opening.size),
            "spans": [
                {"span": joined(" – ", moments(interval, zone, day)), "falls": moves(*landing)}
                for interval, landing in zip(entry.intervals, entry.patch_positions, strict=True)
            ],
            "perhaps": _perhaps(plan, entry.possible),
        }
        for opening in room.opening
        for entry in [sunlit[opening.name]]
    ]


def _perhaps(plan: Plan, spans: Sequence[tuple[float, float]]) -> list[str]:
    return [f"perhaps {between(span, plan.location.timezone, plan.entries.date)}" for span in spans]


def _marks(plan: Plan, room: Room) -> list[Figures]:
    zone, number = plan.location.timezone, numbers_of(room)
    rows: dict[str, list[Figures]] = {mark.name: [] for mark in room.mark}
    for touched in plan.entries.marks:
        if touched.room == room.name:
            spans = [
                joined(" – ", moments(interval, zone, plan.entries))
                for interval in touched.intervals
            ]
            spans += map(text, _perhaps(plan, touched.possible))
            rows[touched.mark].append({"number": number[touched.opening], "spans": spans})
    return [{"name": name, "rows": touched_by} for name, touched_by in rows.items()]


def _spot(room: Room, at: Point) -> Text:
    """A place on the floor by tape, from two walls."""
    walls = two_walls(room, at)
    return joined(" and ", (about(away) + f" from wall {wall}" for wall, away in walls))


def _setup(plan: Plan, room: Room, setup: ResolvedSetup, slot: Slot | None) -> Figures:
    zone = plan.location.timezone
    lines = [*_aimed(room, setup), *_key(plan, room, setup, slot)]
    said: Figures = {"name": setup.name, "lines": lines}
    if slot is None:
        beside = "does not fit this day" if plan.pack is not None else ""
        without: Figures = {"rig": "", "jobs": [], "lacks": [], "gap": None}
        return {"time": "", "beside": beside, **said, **without}
    panel = slot.needs.panel
    if panel is not None:
        place = where(plan.location, setup, panel)
        lines.append(("black", text(f"{panel.stock.name}: ", place)))
    lines.append(("meter", as_rigged.line(slot.levels)))
    lines += [("mains", line) for line in circuits.lines(slot.needs.load, lamps=False)]
    return {
        **said,
        "time": between(slot.shoot_s, zone),
        "beside": f"{setup.minutes:g} min",
        "rig": f"from {Moment(slot.start_s, zone)} {rigging(slot)}; ready "
        f"{Moment(slot.ready_s, zone)}",
        "jobs": [
            {
                "what": job.words,
                "spent": spent(job, hangs=job not in slot.jobs),
                "care": cares(job.hazards) if job.hazards else "",
            }
            for job in slot.needs.jobs
        ],
        "lacks": [*lacks(slot), *_alerts(plan, setup)],
        "gap": _gap(plan, room, setup, slot),
    }


def _aimed(room: Room, setup: ResolvedSetup) -> Iterator[tuple[str, Said]]:
    """Mark, camera and exposure, each with what it is called."""
    camera = setup.camera
    toward = f"toward {camera.toward}" if isinstance(camera.toward, str) else "as drawn"
    wants = "" if setup.contrast is None else f", {setup.contrast:g}:1"
    yield "mark", f"{setup.mark}; reads as {setup.plays}{wants}"
    yield "camera", text(about(camera.height), " high, ", _spot(room, camera.at), f", {toward}")
    yield "set to", exposed(setup.exposure)


def _key(
    plan: Plan, room: Room, setup: ResolvedSetup, slot: Slot | None
) -> Iterator[tuple[str, Said]]:
    """Where the key stands; what it is set to stands among the levels of a setup that is shot."""
    key = setup.key
    if key is None:
        return
    light = next(light for light in plan.keys if light.setup.name == setup.name)
    framed = "; IN FRAME" if light.in_frame else ""
    spot = _spot(room, key.at)
    yield "key", text(f"{key.named}, ", about(key.height), " high, ", spot, framed)
    if light.stops > 0 and slot is None:
        yield "", f"set to key by night: {dimmed(light)}"


def _alerts(plan: Plan, setup: ResolvedSetup) -> Iterator[str]:
    """Sun in this setup while it is shot."""
    zone, day = plan.location.timezone, plan.entries.date
    for alert in plan.alerts:
        if alert.setup.name == setup.name:
            span = between((alert.start_s, alert.end_s), zone, day)
            if alert.hits == "frame":
                yield f"SUN IN FRAME through {alert.opening}, {span}"
            elif alert.flag is None:
                yield f"SUN ON THE MARK through {alert.opening}, {span}"
            else:
                yield f"sun on the mark without {alert.flag.name}, {alert.opening}: {span}"


def _gap(plan: Plan, room: Room, setup: ResolvedSetup, slot: Slot) -> Figures | None:
    """The windows in frame while it is shot, each when it is farthest from the look."""
    zone, number = plan.location.timezone, numbers_of(room)
    gap = plan.gap_of(setup)
    rows = [
        {
            "number": number[window.opening],
            "name": window.opening,
            "sky": sky.name,
            "time": Moment(sky.unix_s, zone),
            "stops": over(window.stops),
            "lose": f"{window.lose_stops:.1f}" if window.lose_stops else "—",
            "do": advice(window),
        }
        for sky, window in gap.worst(*slot.shoot_s)
        if window.stops is not None
    ]
    if not rows:
        return None
    return {
        "head": f"windows untreated, at the worst of the shoot; target {wanted(gap)}",
        "rows": rows,
        "fits": _fits(plan, room, setup),
    }


def _fits(plan: Plan, room: Room, setup: ResolvedSetup) -> list[str]:
    """When a window in frame is right untreated, a line a window."""
    zone, day = plan.location.timezone, plan.entries.date
    spans: dict[str, dict[str, list[str]]] = {name: {} for name in numbers_of(room)}
    for fit in plan.fits:
        if fit.setup == setup.name:
            span = between((fit.start_s, fit.end_s), zone, day)
            spans[fit.opening].setdefault(fit.sky, []).append(span)
    return [
        f"{number} matches untreated: "
        + "; ".join(f"{sky} {', '.join(times)}" for sky, times in spans[name].items())
        for name, number in numbers_of(room).items()
        if spans[name]
    ]


def _flags(plan: Plan, setups: Sequence[ResolvedSetup]) -> list[Hung]:
    """Flags to draw with their names: those the order hangs, then what another hour asks for."""
    slots, zone = plan.slots, plan.location.timezone
    options: list[tuple[ResolvedSetup, FlagOption, str]] = []
    for setup in setups:
        slot = slots.get(setup.name)
        hung_up = () if slot is None else slot.needs.flags
        options += [(setup, option, HANGS) for option in hung_up]
        names = {option.opening for option in hung_up}
        for option in plan.flags_of(setup).taken:
            if option.opening in names:
                continue
            if slot is None:
                reason = "only if it is shot after all"
            elif option.opening in slot.needs.treated.covered:
                reason = f"{option.opening} is blacked out"
            else:
                reason = f"not at {Moment(slot.shoot_s[0], zone)}"
            options.append((setup, option, f"not needed: {reason}"))
    return [
        Hung(f"F{number}{letter}", setup, option, position, status)
        for number, (setup, option, status) in enumerate(options, 1)
        for place, position in enumerate(option.positions)
        for letter in [wall_letter(place).lower() if len(option.positions) > 1 else ""]
    ]


def _flag(plan: Plan, room: Room, flag: Hung) -> Figures:
    location, zone = plan.location, plan.location.timezone
    setup, option, position = flag.setup, flag.option, flag.position
    mark = setup.at_mark
    tape = option.measured(location, room, mark, position.hung)
    numbers = numbers_of(room)
    number = numbers[option.opening]
    side = flag_elevation(location, room, mark, option, position, number=number)
    above = flag_scene(location, room, mark, Hanging(flag.name, position), tape, numbers=numbers)
    span = stops(option, zone)
    if len(option.positions) > 1:
        start, end = Moment(position.start_s, zone), Moment(position.end_s, zone)
        first = position is option.positions[0]
        span = f"there {start} – {end}" if first else f"MOVE by {start}, to {end}"
    unheld = "no stand holds it: clamp or tape it"
    pieces = [option.measured(location, room, mark, piece) for piece in position.pieces]
    care, drawn = hazards.flags(option, room), setup.name in plan.slots
    return {
        "name": flag.name,
        "status": flag.status,
        "stock": option.name + ("" if option.owned else ", not owned"),
        "for": f"{setup.name}: {number} {option.opening}, {option.placement}",
        "span": span,
        "lines": [
            text(by(*position.stock_m), ", of which ", by(*position.needs_m), " is needed"),
            hung(tape),
            text(from_mark(tape), "; ", unheld if option.stand is None else held(option, position)),
            *([two(option, pieces)] if len(pieces) > 1 else []),
        ],
        "warn": [
            *([] if position.clear_of_frame else ["IN FRAME"]),
            *([] if position.clear_of_key else ["TAKES KEY LIGHT from the face"]),
        ],
        "care": cares(care) if care else "",
        "plan": on_paper(above, FLAG_MM, FLAG_MOST_MM, FLAG_MARGINS_PT) if drawn else None,
        "side": on_paper(side.scene, FLAG_MM, FLAG_MOST_MM, side.margins_pt, mirrored=side.mirrored)
        if drawn
        else None,
        "seen": side.seen,
    }


def _cut(materials: Sequence[Material], room: Room) -> list[Text]:
    """Pieces of cloth and gel for a room, with their sizes."""
    lines = []
    for material in materials:
        pieces = [
            text(piece.name.removeprefix(f"{room.name}: "), " ", by(piece.width_m, piece.height_m))
            for piece in material.pieces
            if piece.room == room.name
        ]
        if pieces:
            lines.append(text(f"{material.stock.name}: ", joined("; ", pieces)))
    return lines
