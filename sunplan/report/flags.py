"""What blocks the light: JSON, and words that a helper can rig from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date

from ..location.lengths import Units
from ..location.model import Mark, Room
from ..location.read import Location
from ..rig import hazards, minutes
from ..rig.flags import FlagOption, Position, SetupFlags
from ..rig.hazards import Hazard
from ..rig.tape import Tape, tape
from ..rig.wind import FRESH_MPH, LIGHT_MPH, MPH_M_S, force_n
from ..room.best_measurement import Narrowing
from . import best_measurement
from .answers import Answer, head, iso
from .cautions import SUN, WEATHER, cares, in_full
from .layout import Part
from .words import about, bearing, by, clock, left_open

ROWS = (("setups", "flags", "positions"),)  # of its answer, for spreadsheets
SQUARE_DEG = 3.0  # less is square for anyone with a tape
REASONS = (  # by what the flags are ranked
    *("out of frame", "out of the key's light", "fewest moves", "owned", "one flag, not two"),
    "smallest",
)


def _position(position: Position, option: FlagOption, timezone: str) -> Answer:
    return {
        "from": iso(position.start_s, timezone),
        "to": iso(position.end_s, timezone),
        "centre": position.centre.tolist(),
        "across": position.across.tolist(),
        "up": position.up.tolist(),
        "needs_m": list(position.needs_m),
        "needs_centre": position.needs_centre.tolist(),
        "stock_m": list(position.stock_m),
        "pieces": [
            {"stock": flag.name, "centre": one.centre.tolist(), "stock_m": list(one.size)}
            for flag, one in zip(option.flags, position.pieces, strict=True)
        ],
        "stand_height_m": option.head_m(position),
        "clear_of_frame": position.clear_of_frame,
        "clear_of_key": position.clear_of_key,
        "edge_mm": 1000.0 * position.edge_m if option.covers == "sun" else None,
    }


def _option(option: FlagOption, room: Room, timezone: str) -> Answer:
    return {
        "opening": option.opening,
        "covers": option.covers,
        "placement": option.placement,
        "stock": option.name,
        "owned": option.owned,
        "stand": None if option.stand is None else option.stand.name,
        **_position(option.positions[0], option, timezone),
        "clear_of_frame": option.clear_of_frame,
        "clear_of_key": option.clear_of_key,
        "moves": [iso(moment, timezone) for moment in option.moves],
        "minutes": minutes.flags(option),
        "hazards": list(hazards.flags(option, room)),
        "spans": [
            {"from": iso(first, timezone), "to": iso(last, timezone)}
            for first, last in option.spans
        ],
        "positions": [_position(each, option, timezone) for each in option.positions],
    }


def answer(
    location: Location,
    day: date,
    found: Sequence[SetupFlags],
    *,
    sure: bool = False,
    narrow: Narrowing | None = None,
) -> Answer:
    """Answer of `sunplan flags`: a flag's own keys are those of its first position."""
    return {
        **head(location, day),
        "sure": sure,
        "narrow": best_measurement.answer(narrow, location.timezone),
        "setups": [
            {
                "setup": one.setup.name,
                "room": one.setup.room,
                "mark": one.mark.name,
                "flags": [
                    _option(option, location.room_named(one.setup.room), location.timezone)
                    for option in one.options
                ],
                "unmet": list(one.unmet),
                "unreached": [opening.name for opening in one.unreached],
            }
            for one in found
        ],
    }


def hung(found: Tape, units: Units) -> str:
    """Where a flag or panel hangs, from walls and floor."""
    middle = " and ".join(f"{about(away, units)} from wall {wall}" for wall, away in found.walls)
    if found.hangs == "level":
        assert found.long_side is not None
        wall, turn = found.long_side
        way = f"along wall {wall}"
        if abs(turn) > SQUARE_DEG:
            hand = "clockwise" if turn > 0 else "counter-clockwise"
            way = f"turned {abs(turn):.0f}° {hand} from wall {wall}, seen from above"
        return f"level, {about(found.bottom_m, units)} up; its middle {middle}; long side {way}"
    edges = f"bottom edge {about(found.bottom_m, units)} up, top {about(found.top_m, units)} up"
    if found.along_m is not None:
        wall, (start, end) = found.walls[0][0], found.along_m
        reach = f"from {about(start, units)} to {about(end, units)} along it"
        if found.indoors:
            return f"flat on wall {wall}, {reach}; {edges}"
        off = about(found.walls[0][1], units)
        return f"outdoors, {off} before wall {wall}'s inner face, {reach}; {edges} from the ground"
    lean = "upright" if found.hangs == "upright" else f"leaning back {found.tilt_deg:.0f}°"
    turned = "" if found.faces_deg is None else f", facing {bearing(found.faces_deg)}"
    return f"{lean}{turned}; {edges}; its middle {middle}"


def from_mark(found: Tape, units: Units) -> str:
    """How far it is from the mark, and which way."""
    if found.toward is None:
        return "right above the mark"
    return f"{about(found.from_mark_m, units)} from the mark toward wall {found.toward}"


def why(options: Sequence[FlagOption]) -> str:
    """Why the first of some options, the rest in their order, is the one to take."""
    first, *others = (one.rank for one in options)
    if not others:
        return "the only way found"
    better = (
        next(
            (at for at, (mine, theirs) in enumerate(zip(first, one, strict=True)) if mine < theirs),
            None,
        )
        for one in others
    )
    reasons = [REASONS[at] for at in sorted({at for at in better if at is not None})]
    return ", ".join(reasons) if reasons else "as good as the other"


def told(
    location: Location,
    day: date,
    found: Sequence[SetupFlags],
    *,
    sure: bool = False,
    narrow: Narrowing | None = None,
) -> Iterable[Part]:
    """Flags for people: the first of each opening is the one to take.

    `narrow` is what to measure first for the moments of sun on these marks.
    """
    zone = location.timezone
    yield f"{location.site.name}, {day:%A} {day.isoformat()}, clock of {zone}"
    asked: list[Hazard] = []
    for one in found:
        room = location.room_named(one.setup.room)
        yield f"\n{one.setup.name} ({room.name}, {one.mark.name})"
        if not one.options and not one.unmet:
            yield "  nothing to flag: no such light reaches the mark"
        for opening in dict.fromkeys(option.opening for option in one.options):
            mine = [option for option in one.options if option.opening == opening]
            yield f"  {opening}: {what(mine[0], zone)}"
            for option in mine:
                choice = f"take ({why(mine)})" if option is mine[0] else "or"
                owned = "" if option.owned else ", not owned"
                yield f"    {choice}: {option.name}{owned}, {option.placement}"
                yield from places(location, room, one.mark, option)
                dangers = hazards.flags(option, room)
                asked += dangers
                care = f"; {cares(dangers)}" if dangers else ""
                yield f"      {minutes.flags(option):.0f} min to rig{care}"
            if all(option.placement != "outside" for option in mine):
                yield f"    not outside: {_not_outside(one, opening, location.site.units)}"
        for opening in one.unmet:
            yield (
                f"  {opening}: no flag of the kit does it, nor two; "
                "black or gel on the glass, another mark, or another hour"
            )
    yield ""
    if any(option.covers == "sun" for one in found for option in one.options):
        yield "Times are those of the sun's edge, a little wider than entry's, by its middle."
    error = left_open(location)
    if error and sure:
        yield (
            f"Large enough, and at hand long enough, whatever is true within {error}, all at its "
            "worst at once: more than entry's ±, which is what happens in 95 of 100 places."
        )
    elif error:
        yield (
            f"Set for all as given: within {error} the sun comes earlier or later, see entry; "
            "allow for it, or ask with --sure."
        )
    yield from best_measurement.line(narrow, location)
    yield from in_full(asked)
    yield WEATHER
    yield SUN


def what(option: FlagOption, zone: str) -> str:
    """What light a flag stops, and when."""
    if option.covers == "all":
        return "all its light, at any hour"
    spans = [f"{clock(first, zone)} – {clock(last, zone)}" for first, last in option.spans]
    return f"direct sun, {', '.join(spans)}"


def _not_outside(one: SetupFlags, opening: str, units: Units) -> str:
    found = next((each for each in one.unreached if each.name == opening), None)
    if found is None:
        return "no flag of the kit is large enough there, or finds room"
    if found.wall is None:
        return "it is in the roof, out of reach from the ground"
    if found.opening.no_reach is not None:
        return f"nobody can work there: {found.opening.no_reach}"
    sill = about(float(found.origin[2]), units)
    return f"its sill is {sill} above the ground, out of reach from there"


def places(location: Location, room: Room, mark: Mark, option: FlagOption) -> Iterable[str]:
    """Where each flag of an option hangs in turn, and on what; a line a measure."""
    zone, units = location.timezone, location.site.units
    wall = room.opening_named(option.opening).wall
    outside = None if wall is None or option.placement != "outside" else wall.strip().upper()
    before: Position | None = None
    for position in option.positions:
        found = tape(room, mark, position.hung, plan_up_deg=location.site.plan_up, outside=outside)
        if before is not None:
            far = math.dist(before.centre, position.centre)
            yield f"      move by {clock(position.start_s, zone)}, {about(far, units)}:"
        elif len(option.positions) > 1:
            yield f"      from {clock(position.start_s, zone)}:"
        before = position
        yield f"      {hung(found, units)}"
        if len(position.pieces) > 1:
            middles = [
                tape(room, mark, piece, plan_up_deg=location.site.plan_up, outside=outside)
                for piece in position.pieces
            ]
            yield f"      {two(option, middles, units)}"
        frame = "out of frame" if position.clear_of_frame else "IN FRAME"
        shades = "" if position.clear_of_key else "; TAKES KEY LIGHT from the face"
        yield (
            f"      {from_mark(found, units)}; {frame}{shades}; needs "
            f"{by(*position.needs_m, units)} of its {by(*position.stock_m, units)}"
        )
        height = about(option.head_m(position), units)
        if option.stand is None:
            stand = f"no stand of the kit holds it at {height}: clamp or tape it"
        else:
            many = f"{len(option.flags)} × " if len(option.flags) > 1 else ""
            stand = f"{many}{option.stand.name}, head at {height}"
        edge = f"; its shadow's edge {1000 * position.edge_m:.0f} mm soft"
        yield f"      {stand}{edge if option.covers == 'sun' else ''}"
        if option.placement == "outside":
            area = sum(math.prod(piece.size) for piece in position.pieces)
            light, fresh = (force_n(area, mph * MPH_M_S) for mph in (LIGHT_MPH, FRESH_MPH))
            yield (
                f"      wind pushes it with {light:.0f} N at {LIGHT_MPH:.0f} mph (16 km/h), "
                f"{fresh:.0f} N at {FRESH_MPH:.0f} mph (32 km/h)"
            )


def two(option: FlagOption, found: Sequence[Tape], units: Units) -> str:
    """Where each of two overlapping flags hangs."""
    return "; ".join(
        f"{flag.name}: {_one(one, units)}" for flag, one in zip(option.flags, found, strict=True)
    )


def _one(found: Tape, units: Units) -> str:
    """Where one of two flags hangs, as shortly as it can be measured."""
    up = f"{about(found.bottom_m, units)} to {about(found.top_m, units)} up"
    if found.along_m is not None:
        start, end = found.along_m
        return f"{about(start, units)} to {about(end, units)} along the wall, {up}"
    middle = " and ".join(f"{about(away, units)} from wall {wall}" for wall, away in found.walls)
    return f"its middle {middle}, {up}"
