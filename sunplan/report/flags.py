"""What blocks the light: JSON, and words that a helper can rig from."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date

from ..location.model import Mark, NobodyOutside, Room
from ..location.read import Location
from ..rig import hazards, minutes
from ..rig.flag_placement import Position
from ..rig.flags import FlagOption, SetupFlags
from ..rig.hazards import Hazard
from ..rig.tape import TapeMeasures
from ..rig.wind import FRESH_MPH, LIGHT_MPH, MPH_M_S, force_n
from ..room.best_measurement import BestMeasurement
from . import best_measurement
from .answers import Answer, fields, hanging, head, interval, iso, names, span
from .cautions import SUN, WEATHER, cares, in_full
from .document import Block, Document, Line, Moment, Said, Section, Text, joined, text
from .words import about, bearing, between, by, left_open, titled

ROWS = {"positions": ("setups", "flags", "positions"), "options": ("setups", "flags")}
_PLACE = "from", "to", "centre_x", "centre_y", "centre_z", "needs_width_m", "needs_height_m"
COLUMNS = dict.fromkeys(ROWS, ("setup", "room", "mark", "opening", "stock", "placement", *_PLACE))
TAKE, OTHER = "take", "other"  # roles of an opening's options
SQUARE_DEG = 3.0  # less is square for anyone with a tape
REASONS = (  # by what the flags are ranked
    *("out of frame", "out of the key's light", "fewest moves", "owned", "one flag, not two"),
    "smallest",
)


def _position(position: Position, option: FlagOption, timezone: str) -> Answer:
    return {
        **interval(position, timezone),
        **hanging(position.hung),
        "needs_m": list(position.needs_m),
        "needs_centre": position.needs_centre.tolist(),
        "stock_m": list(position.stock_m),
        "pieces": [
            {"stock": flag.name, "centre": piece.centre.tolist(), "stock_m": list(piece.size)}
            for flag, piece in zip(option.flags, position.pieces, strict=True)
        ],
        "stand_height_m": option.head_m(position),
        **fields(position, "clear_of_frame", "clear_of_key"),
        "edge_mm": 1000.0 * position.edge_m if option.covers == "sun" else None,
    }


def _option(option: FlagOption, room: Room, timezone: str) -> Answer:
    return {
        **fields(option, "opening", "covers", "placement"),
        "stock": option.name,
        "owned": option.owned,
        "stand": None if option.stand is None else option.stand.name,
        **_position(option.positions[0], option, timezone),
        **fields(option, "clear_of_frame", "clear_of_key"),
        "moves": [iso(moment, timezone) for moment in option.moves],
        "minutes": minutes.flags(option),
        "hazards": list(hazards.flags(option, room)),
        "spans": [span(ends_s, timezone) for ends_s in option.spans],
        "positions": [_position(position, option, timezone) for position in option.positions],
    }


# Why nobody works before an opening; "high" is told with its height.
NOBODY_OUTSIDE: dict[NobodyOutside, str] = {
    "roof": "it is in the roof, out of reach from the ground",
    "not told": "the file does not say that one can stand before it (before)",
    "water": "there is water before it",
    "street": "there is a street before it",
    "drop": "there is a drop before it",
    "blocked": "something stands before it",
}


def answer(
    location: Location,
    day: date,
    setups: Sequence[SetupFlags],
    *,
    sure: bool = False,
    narrow: BestMeasurement | None = None,
) -> Answer:
    """Answer of `sunplan flags`: a flag's own keys are those of its first position."""
    return {
        **head(location, day),
        "sure": sure,
        "narrow": best_measurement.answer(narrow, location.timezone),
        "setups": [
            {
                "setup": setup.setup.name,
                "room": setup.setup.room,
                "mark": setup.mark.name,
                "flags": [
                    _option(option, setup.setup.in_room, location.timezone)
                    for option in setup.options
                ],
                "unmet": list(setup.unmet),
                "unreached": names(setup.unreached),
            }
            for setup in setups
        ],
    }


def hung(measured: TapeMeasures) -> Text:
    """Where a flag or panel hangs, from walls and floor."""
    bottom, top = about(measured.bottom_m), about(measured.top_m)
    if measured.hangs == "level":
        assert measured.long_side is not None
        wall, turn = measured.long_side
        way = f"along wall {wall}"
        if abs(turn) > SQUARE_DEG:
            hand = "clockwise" if turn > 0 else "counter-clockwise"
            way = f"turned {abs(turn):.0f}° {hand} from wall {wall}, seen from above"
        return text("level, ", bottom, " up; ", _middle(measured), f"; long side {way}")
    edges = text("bottom edge ", bottom, " up, top ", top, " up")
    if measured.along_m is not None:
        wall, start, end = measured.walls[0][0], *map(about, measured.along_m)
        reach = text("from ", start, " to ", end, " along it; ", edges)
        if measured.indoors:
            return text(f"flat on wall {wall}, ", reach)
        off = about(measured.walls[0][1])
        before = text("outdoors, ", off, f" before wall {wall}'s inner face, ")
        return text(before, reach, " from the ground")
    lean = "upright" if measured.hangs == "upright" else f"leaning back {measured.tilt_deg:.0f}°"
    turned = "" if measured.faces_deg is None else f", facing {bearing(measured.faces_deg)}"
    return text(f"{lean}{turned}; ", edges, "; ", _middle(measured))


def _middle(measured: TapeMeasures) -> Text:
    walls = (about(away) + f" from wall {wall}" for wall, away in measured.walls)
    return "its middle " + joined(" and ", walls)


def from_mark(measured: TapeMeasures) -> Said:
    """How far it is from the mark, and which way."""
    if measured.toward is None:
        return "right above the mark"
    return about(measured.from_mark_m) + f" from the mark toward wall {measured.toward}"


def why(options: Sequence[FlagOption]) -> str:
    """Why the first of some options, the rest in their order, is the one to take."""
    best, *others = (option.rank for option in options)
    if not others:
        return "the only way found"
    ahead = set()
    for rank in others:
        better = (mine < theirs for mine, theirs in zip(best, rank, strict=True))
        ahead |= {next((REASONS[place] for place, wins in enumerate(better) if wins), None)}
    reasons = [reason for reason in REASONS if reason in ahead]
    return ", ".join(reasons) if reasons else "as good as the other"


def report(
    location: Location,
    day: date,
    setups: Sequence[SetupFlags],
    *,
    sure: bool = False,
    narrow: BestMeasurement | None = None,
) -> Document:
    """Flags for people: the first of each opening is the one to take.

    `narrow` is what to measure first for the moments of sun on these marks.
    """
    notes: list[Block] = []
    asked: list[Hazard] = []
    for setup in setups:
        for option in setup.options:
            asked += hazards.flags(option, setup.setup.in_room)
            if option.covers == "sun" and not notes:
                notes.append(
                    "Times are those of the sun's edge, a little wider than entry's, by its middle."
                )
    error = left_open(location)
    if error and sure:
        notes.append(
            f"Large enough, and at hand long enough, whatever is true within {error}, all at its "
            "worst at once: more than entry's ±, which is what happens in 95 of 100 places."
        )
    elif error:
        notes.append(
            f"Set for all as given: within {error} the sun comes earlier or later, see entry; "
            "allow for it, or ask with --sure."
        )
    notes += [*best_measurement.line(narrow, location), *in_full(asked), WEATHER, SUN]
    sections = [_setup(location, setup) for setup in setups]
    return Document(titled(location, day), [*sections, Section("notes", None, notes)])


def _setup(location: Location, setup: SetupFlags) -> Section:
    """What a setup's openings ask for."""
    openings = dict.fromkeys(option.opening for option in setup.options)
    blocks: list[Block] = [_opening(location, setup, name) for name in openings]
    blocks += [
        f"{name}: no flag of the kit does it, nor two; black or gel on the glass, another mark, or "
        "another hour"
        for name in setup.unmet
    ]
    return Section(
        "setup",
        f"{setup.setup.name} ({setup.setup.room}, {setup.mark.name})",
        blocks or ["nothing to flag: no such light reaches the mark"],
    )


def _opening(location: Location, setup: SetupFlags, name: str) -> Line:
    """One opening's flags, the one to take first."""
    room = setup.setup.in_room
    options = [option for option in setup.options if option.opening == name]
    lines: list[Line] = []
    for option in options:
        owned = "" if option.owned else ", not owned"
        dangers = hazards.flags(option, room)
        care = f"; {cares(dangers)}" if dangers else ""
        choice, role = ("or", OTHER) if lines else (f"take ({why(options)})", TAKE)
        lines.append(
            Line(
                f"{choice}: {option.name}{owned}, {option.placement}",
                [
                    *places(location, room, setup.mark, option),
                    f"{minutes.flags(option):.0f} min to rig{care}",
                ],
                role,
            )
        )
    if all(option.placement != "outside" for option in options):
        lines.append(Line("not outside: " + _not_outside(setup, name)))
    return Line(f"{name}: {stops(options[0], location.timezone)}", lines)


def stops(option: FlagOption, zone: str) -> str:
    """What light a flag stops, and when."""
    if option.covers == "all":
        return "all its light, at any hour"
    return f"direct sun, {', '.join(between(span, zone) for span in option.spans)}"


def _not_outside(setup: SetupFlags, name: str) -> Said:
    unreached = next((opening for opening in setup.unreached if opening.name == name), None)
    if unreached is None:
        return "no flag of the kit is large enough there, or finds room"
    why = unreached.nobody_outside
    if why == "high":
        sill = about(float(unreached.origin[2]) - unreached.ground_m)
        return text("its sill is ", sill, " above the ground, out of reach from there")
    assert why is not None
    return NOBODY_OUTSIDE[why]


def places(location: Location, room: Room, mark: Mark, option: FlagOption) -> Iterator[Said]:
    """Where each flag of an option hangs in turn, and on what; a line a measure."""
    zone = location.timezone
    for before, position in zip((None, *option.positions), option.positions, strict=False):
        if before is not None:
            far = about(math.dist(before.centre, position.centre))
            yield text(f"move by {Moment(position.start_s, zone)}, ", far, ":")
        elif len(option.positions) > 1:
            yield f"from {Moment(position.start_s, zone)}:"
        measures = option.measured(location, room, mark, position.hung)
        yield hung(measures)
        if len(position.pieces) > 1:
            pieces = [option.measured(location, room, mark, piece) for piece in position.pieces]
            yield two(option, pieces)
        frame = "out of frame" if position.clear_of_frame else "IN FRAME"
        shades = "" if position.clear_of_key else "; TAKES KEY LIGHT from the face"
        yield text(
            from_mark(measures),
            f"; {frame}{shades}; needs ",
            by(*position.needs_m),
            " of its ",
            by(*position.stock_m),
        )
        edge = f"; its shadow's edge {1000 * position.edge_m:.0f} mm soft"
        yield text(held(option, position), edge if option.covers == "sun" else "")
        if option.placement == "outside":
            area = sum(math.prod(piece.size) for piece in position.pieces)
            light, fresh = (force_n(area, mph * MPH_M_S) for mph in (LIGHT_MPH, FRESH_MPH))
            yield (
                f"wind pushes it with {light:.0f} N at {LIGHT_MPH:.0f} mph (16 km/h), "
                f"{fresh:.0f} N at {FRESH_MPH:.0f} mph (32 km/h)"
            )


def held(option: FlagOption, position: Position) -> Text:
    """What holds it, and how high."""
    height = about(option.head_m(position))
    if option.stand is None:
        return text("no stand of the kit holds it at ", height, ": clamp or tape it")
    many = f"{len(option.flags)} × " if len(option.flags) > 1 else ""
    return text(f"{many}{option.stand.name}, head at ", height)


def two(option: FlagOption, pieces: Sequence[TapeMeasures]) -> Text:
    """Where each of two overlapping flags hangs."""
    return joined(
        "; ",
        (
            text(f"{flag.name}: ", _piece(piece))
            for flag, piece in zip(option.flags, pieces, strict=True)
        ),
    )


def _piece(measured: TapeMeasures) -> Text:
    """Where one of two flags hangs, as shortly as it can be measured."""
    up = text(about(measured.bottom_m), " to ", about(measured.top_m), " up")
    if measured.along_m is not None:
        start, end = map(about, measured.along_m)
        return text(start, " to ", end, " along the wall, ", up)
    return text(_middle(measured), ", ", up)
