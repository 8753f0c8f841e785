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
from ..rig.tape import TapeMeasures
from ..rig.wind import FRESH_MPH, LIGHT_MPH, MPH_M_S, force_n
from ..room.best_measurement import BestMeasurement
from . import best_measurement
from .answers import Answer, fields, hanging, head, interval, iso, names, span
from .cautions import SUN, WEATHER, cares, in_full
from .document import (
    Block,
    Document,
    Line,
    Moment,
    More,
    Said,
    Section,
    Table,
    Text,
    joined,
    text,
)
from .words import about, bearing, between, by, left_open, titled

ROWS = {"positions": ("setups", "flags", "positions"), "options": ("setups", "flags")}
_PLACE = "from", "to", "centre_x", "centre_y", "centre_z", "needs_width_m", "needs_height_m"
COLUMNS = dict.fromkeys(ROWS, ("setup", "room", "mark", "opening", "stock", "placement", *_PLACE))
TAKE, OTHER = "take", "other"  # roles of an opening's options
IN_FRAME, TAKES_KEY = "IN FRAME", "TAKES KEY LIGHT from the face"
NO_FLAG = (
    "no flag of the kit does it, nor two: black or gel on the glass, another mark or another hour"
)
REASONED = "the other ways, with reasons and sizes"
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
        return text("level, ", bottom, " up; ", _centre(measured), f"; long side {way}")
    edges = text("bottom edge ", bottom, " up, top edge ", top, " up")
    if measured.along_m is not None:
        wall = measured.walls[0][0]
        reach = text(_along(measured.along_m), " its first corner; ", edges)
        if measured.indoors:
            return text(f"flat on wall {wall}, ", reach)
        off = about(measured.walls[0][1])
        out = text("outdoors, ", off, f" out from the inner face of wall {wall}, ")
        return text(out, reach, " from the ground")
    lean = "upright" if measured.hangs == "upright" else f"leaning back {measured.tilt_deg:.0f}°"
    turned = "" if measured.faces_deg is None else f", facing {bearing(measured.faces_deg)}"
    return text(f"{lean}{turned}; ", edges, "; ", _centre(measured))


def _along(ends_m: tuple[float, float]) -> Text:
    """From where to where beside a wall's first corner.

    >>> _along((1.5, 2.1)).render("m"), _along((-0.6, 1.9)).render("m")
    ('1.5 m to 2.1 m past', '0.6 m before to 1.9 m past')
    """
    start, end = ends_m
    if end < 0:
        return text(about(-start), " to ", about(-end), " before")
    return text(about(abs(start)), " before to " if start < 0 else " to ", about(end), " past")


def _centre(measured: TapeMeasures) -> Text:
    walls = (about(away) + f" from wall {wall}" for wall, away in measured.walls)
    return "centre " + joined(" and ", walls)


def from_mark(measured: TapeMeasures) -> Said:
    """How far it is from the mark, and which way."""
    if measured.toward is None:
        return "right above the mark"
    return about(measured.from_mark_m) + f" from the mark toward wall {measured.toward}"


def why(options: Sequence[FlagOption]) -> str:
    """Why the first of some options, the rest in their order, is the one to hang."""
    best, *others = (option.rank for option in options)
    if not others:
        return "the only way found"
    ahead = set()
    for rank in others:
        better = (mine < theirs for mine, theirs in zip(best, rank, strict=True))
        ahead |= {next((REASONS[place] for place, wins in enumerate(better) if wins), None)}
    reasons = [reason for reason in REASONS if reason in ahead]
    return ", ".join(reasons) if reasons else "equal; pick by what hangs already"


def report(
    location: Location,
    day: date,
    setups: Sequence[SetupFlags],
    *,
    sure: bool = False,
    narrow: BestMeasurement | None = None,
) -> Document:
    """Flags for people: the first of each opening is the one to hang.

    `narrow` is what to measure first for the moments of sun on these marks.
    """
    options = [(setup, option) for setup in setups for option in setup.options]
    asked = [
        hazard for setup, option in options for hazard in hazards.flags(option, setup.setup.in_room)
    ]
    reasons: list[Block] = []
    if any(option.covers == "sun" for _, option in options):
        reasons.append(
            "Times are those of the sun's edge, a little wider than entry's, by its centre."
        )
    reasons += best_measurement.line(narrow, location)
    heads = "setup", "opening", _stopped(setups), "hang"
    rows = [row for setup in setups for row in _rows(location, setup)]
    notes: list[Block] = [
        *_sure(location, sure),
        More(REASONED, reasons),
        *in_full(asked),
        WEATHER,
        SUN,
    ]
    return Document(
        titled(location, day),
        [
            Section("verdict", None, [Table(heads, rows, grouped=True)]),
            *(
                _setup(location, setup)
                if setup.options or setup.unmet
                else More(REASONED, [_setup(location, setup)])
                for setup in setups
            ),
            Section("notes", None, notes),
        ],
    )


def _sure(location: Location, sure: bool) -> list[str]:
    """How what the file leaves open is met."""
    error = left_open(location)
    if error and sure:
        return [
            f"Large enough, and at hand long enough, whatever is true within {error}, all at its "
            "worst at once: more than entry's ±, which is what happens in 95 of 100 places."
        ]
    if error:
        return [
            f"Set for the file as it is: within {error} the sun comes earlier or later, see entry; "
            "allow for it, or ask with --sure."
        ]
    return []


def _stopped(setups: Sequence[SetupFlags]) -> str:
    covers = {option.covers for setup in setups for option in setup.options}
    return "light" if covers == {"all"} else "sun on the mark"


def _rows(location: Location, setup: SetupFlags) -> Iterator[tuple[str, ...]]:
    """What a setup hangs, a row an opening."""
    name, zone = setup.setup.name, location.timezone
    for option in setup.taken:
        light = "all" if option.covers == "all" else ", ".join(_spans(option, zone))
        moves = ", ".join(f"{Moment(moment_s, zone)}" for moment_s in option.moves)
        hang = [
            f"{option.name} {option.placement}",
            *([] if option.owned else ["not owned"]),
            "out of frame" if option.clear_of_frame else IN_FRAME,
            *([] if option.clear_of_key else [TAKES_KEY]),
            *([f"move by {moves}"] if moves else []),
        ]
        yield name, option.opening, light, ", ".join(hang)
    yield from ((name, opening, "yes", NO_FLAG) for opening in setup.unmet)
    if not setup.options and not setup.unmet:
        yield name, "—", "none", "nothing to flag"


def _setup(location: Location, setup: SetupFlags) -> Section:
    """Where a setup's flags hang."""
    openings = dict.fromkeys(option.opening for option in setup.options)
    blocks: list[Block] = [_opening(location, setup, name) for name in openings]
    blocks += [f"{name}: {NO_FLAG}" for name in setup.unmet]
    return Section(
        "setup",
        f"{setup.setup.name} ({setup.setup.room}, {setup.mark.name})",
        blocks or ["nothing to flag: no such light reaches the mark"],
    )


def _opening(location: Location, setup: SetupFlags, name: str) -> Line:
    """One opening's flags, the one to hang first."""
    options = [option for option in setup.options if option.opening == name]
    chosen, *others = options
    lines: list[Block] = [
        _hang(location, setup, chosen, "hang", TAKE),
        More(
            REASONED,
            [
                f"why this one: {why(options)}",
                *covering(chosen, location.timezone),
                *(_hang(location, setup, option, "or", OTHER) for option in others),
            ],
        ),
    ]
    if all(option.placement != "outside" for option in options):
        lines.append(More(REASONED, [Line("not outside: " + _not_outside(setup, name))]))
    return Line(f"{name}: {stops(chosen, location.timezone)}", lines)


def _hang(
    location: Location, setup: SetupFlags, option: FlagOption, choice: str, role: str
) -> Line:
    room = setup.setup.in_room
    owned = "" if option.owned else ", not owned"
    dangers = hazards.flags(option, room)
    care = f"; {cares(dangers)}" if dangers else ""
    under: list[Block] = [*places(location, room, setup.mark, option)]
    if role == OTHER:
        under += covering(option, location.timezone)
    rigging = f"{minutes.flags(option):.0f} min to rig"
    return Line(f"{choice} {option.name} {option.placement}{owned}, {rigging}{care}", under, role)


def stops(option: FlagOption, zone: str) -> str:
    """What light a flag stops, and when."""
    if option.covers == "all":
        return "all its light, at any hour"
    return f"direct sun {', '.join(_spans(option, zone))}"


def _spans(option: FlagOption, zone: str) -> list[str]:
    return [between(span, zone) for span in option.spans]


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
        faults = [IN_FRAME] * (not position.clear_of_frame) + [TAKES_KEY] * (
            not position.clear_of_key
        )
        yield joined("; ", [from_mark(measures), *faults, held(option, position)])
        if option.placement == "outside":
            area = sum(math.prod(piece.size) for piece in position.pieces)
            light, fresh = (force_n(area, mph * MPH_M_S) for mph in (LIGHT_MPH, FRESH_MPH))
            yield (
                f"wind pushes it with {light:.0f} N at {LIGHT_MPH:.0f} mph (16 km/h), "
                f"{fresh:.0f} N at {FRESH_MPH:.0f} mph (32 km/h)"
            )


def covering(option: FlagOption, zone: str) -> Iterator[Said]:
    """In each of a flag's places how much of it is needed, and how soft its shadow's edge is."""
    for position in option.positions:
        start = f"from {Moment(position.start_s, zone)} " if len(option.positions) > 1 else ""
        edge = f"; its shadow's edge {1000 * position.edge_m:.0f} mm soft"
        clear = "out of frame, " if position.clear_of_frame else ""
        yield text(
            f"{start}{clear}must cover ",
            by(*position.needs_m),
            " of its ",
            by(*position.stock_m),
            edge if option.covers == "sun" else "",
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
        return text(_along(measured.along_m), " the wall's first corner, ", up)
    return text(_centre(measured), ", ", up)
