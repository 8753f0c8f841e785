"""What blocks the light: JSON, and words that a helper can rig from."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from ..location.lengths import Units
from ..location.model import Room
from ..location.read import Location
from ..rig.flags import FlagOption, Position, SetupFlags
from ..rig.tape import Tape, tape
from .answers import Answer, head, iso
from .cautions import LADDER, OVERHEAD, STANDS, SUN, WEATHER
from .layout import Part
from .words import about, bearing, by, clock

SQUARE_DEG = 3.0  # less is square for anyone with a tape
REACH_M = 2.2  # what is rigged higher needs steps; common practice, no source


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
        "stand_height_m": option.height_m(position),
        "clear_of_frame": position.clear_of_frame,
    }


def answer(location: Location, day: date, found: Sequence[SetupFlags]) -> Answer:
    """Answer of `sunplan flags`: a flag's own keys are those of its first position."""
    zone = location.timezone
    return {
        **head(location, day),
        "setups": [
            {
                "setup": one.setup.name,
                "room": one.setup.room,
                "mark": one.mark.name,
                "flags": [
                    {
                        "opening": option.opening,
                        "covers": option.covers,
                        "placement": option.placement,
                        "stock": option.flag.name,
                        "owned": option.flag.owned,
                        "stand": None if option.stand is None else option.stand.name,
                        **_position(option.positions[0], option, zone),
                        "clear_of_frame": option.clear_of_frame,
                        "moves": [iso(moment, zone) for moment in option.moves],
                        "spans": [
                            {"from": iso(first, zone), "to": iso(last, zone)}
                            for first, last in option.spans
                        ],
                        "positions": [_position(each, option, zone) for each in option.positions],
                    }
                    for option in one.options
                ],
                "unmet": list(one.unmet),
            }
            for one in found
        ],
    }


def _hung(found: Tape, units: Units) -> str:
    """Where a flag hangs, from walls and floor."""
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
        return f"flat on wall {wall}, {reach}; {edges}"
    lean = "upright" if found.hangs == "upright" else f"leaning back {found.tilt_deg:.0f}°"
    turned = "" if found.faces_deg is None else f", facing {bearing(found.faces_deg)}"
    return f"{lean}{turned}; {edges}; its middle {middle}"


def told(location: Location, day: date, found: Sequence[SetupFlags]) -> Iterable[Part]:
    """Flags for people: the first of each opening is the one to take."""
    zone, units = location.timezone, location.site.units
    yield f"{location.site.name}, {day:%A} {day.isoformat()}, clock of {zone}"
    overhead = high = False
    for one in found:
        room = location.room_named(one.setup.room)
        yield f"\n{one.setup.name} ({room.name}, {one.mark.name})"
        if not one.options and not one.unmet:
            yield "  nothing to flag: no such light reaches the mark"
        last = None
        for option in one.options:
            if option.opening != last:
                yield f"  {option.opening}: {_what(option, zone)}"
                choice = "take"
            else:
                choice = "or"
            last = option.opening
            owned = "" if option.flag.owned else ", not owned"
            yield f"    {choice}: {option.flag.name}{owned}, {option.placement}"
            yield from _places(location, room, one, option, zone, units)
            heights = [option.height_m(each) for each in option.positions]
            high = high or max(heights) > REACH_M
            overhead = overhead or any(each.tilt_deg > 30.0 for each in option.positions)
        for opening in one.unmet:
            yield (
                f"  {opening}: no single flag of the kit does it; "
                "black or gel on the glass, another mark, or another hour"
            )
    yield ""
    if any(option.covers == "sun" for one in found for option in one.options):
        yield "Times are those of the sun's edge, a little wider than entry's, by its middle."
    if location.site.plan_up_error:
        yield (
            f"Set for plan_up as given: within its ±{location.site.plan_up_error:g}° the sun comes "
            "earlier or later, see entry; allow for it."
        )
    yield STANDS
    if overhead:
        yield OVERHEAD
    if high:
        yield LADDER
    yield WEATHER
    yield SUN


def _what(option: FlagOption, zone: str) -> str:
    if option.covers == "all":
        return "all its light, at any hour"
    spans = [f"{clock(first, zone)} – {clock(last, zone)}" for first, last in option.spans]
    return f"direct sun, {', '.join(spans)}"


def _places(
    location: Location,
    room: Room,
    one: SetupFlags,
    option: FlagOption,
    zone: str,
    units: Units,
) -> Iterable[str]:
    for index, position in enumerate(option.positions):
        found = tape(room, one.mark, position, plan_up_deg=location.site.plan_up)
        if len(option.positions) > 1:
            verb = "from" if index == 0 else "move by"
            yield f"      {verb} {clock(position.start_s, zone)}:"
        yield f"      {_hung(found, units)}"
        frame = "out of frame" if position.clear_of_frame else "IN FRAME"
        yield (
            f"      {about(found.from_mark_m, units)} from the mark on the plan; {frame}; needs "
            f"{by(*position.needs_m, units)} of its {by(*position.stock_m, units)}"
        )
        height = about(option.height_m(position), units)
        if option.stand is None:
            yield f"      no stand of the kit holds it at {height}: clamp or tape it"
        else:
            yield f"      {option.stand.name}, head at {height}"
