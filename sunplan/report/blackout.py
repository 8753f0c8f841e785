"""Blacking out and gelling: what each opening needs, and the cut list. JSON, CSV and words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import date

from ..location.read import Location
from ..rig import hazards
from ..rig.hazards import Hazard
from ..rig.nesting import CutPiece, Piece
from ..rig.room_treatment import OpeningTreatment, RoomTreatment, gap_m
from ..rig.takeoff import Material, TakeOff
from ..rig.window_treatment import Action
from .answers import Answer, fields, head, interval, names
from .cautions import WEATHER, in_full
from .document import Block, Document, More, Quantity, Said, Section, Table, Text, joined, text
from .gap import TENT, dressed
from .words import between, by, over, titled

ROWS = {
    "pieces": ("materials", "laid"),
    "openings": ("setups", "openings"),
}
LEAST_GAP_M = 0.0005  # a gap that hands can tell from none; finer is told as none
TIGHT_M = 0.002  # what cloth and battens leave at best without tape; common practice, no source
LEGEND = "fill side: the most daylight that an opening untreated gives the fill side of the face"
DONE: dict[Action, str] = {
    "black": "black out",
    "tent": TENT,
    "nothing does it": "nothing does it: another angle, see gap",
}


def _laid(laid: CutPiece) -> Answer:
    where = fields(laid, "size_m", "across_m", "along_m", "turned")
    return {"piece": laid.piece.name, **where, "roll": laid.roll + 1}


def _piece(piece: Piece) -> Answer:
    return {"piece": piece.name, "size_m": [piece.width_m, piece.height_m]}


def material(used: Material) -> Answer:
    """One stock with what is cut from it."""
    stock, layout = used.stock, used.layout
    return {
        "stock": stock.name,
        "roll_m": [stock.width, stock.length],
        "rolls": used.rolls,
        "owned": stock.owned,
        "pieces": [_piece(piece) for piece in used.pieces],
        "laid": [] if layout is None else [_laid(laid) for laid in layout.laid],
        "used_m": None if layout is None else layout.used_m,
        "waste": None if layout is None else layout.waste,
        "over_least": None if layout is None else layout.gap,
        "unmet": used.why_not,
    }


def _treatment(treatment: OpeningTreatment, setup: RoomTreatment) -> Answer:
    leak = setup.leak_share if treatment.dark else None
    window = treatment.window
    return {
        "opening": treatment.opening.name,
        "do": treatment.action,
        "gels": names(treatment.gels),
        "hang": None if window is None else window.hang,
        "hang_gels": [] if window is None else names(window.hang_gels),
        **fields(treatment, "gives_lux", "lose_stops", "sunlit", "after_stops", "too_dark"),
        "gap_mm": None if leak is None else 1000.0 * gap_m(treatment.opening, leak),
    }


def answer(
    location: Location, day: date, done: Sequence[RoomTreatment], cut: TakeOff, skies: Sequence[str]
) -> Answer:
    """Answer of `sunplan blackout`."""
    return {
        **head(location, day),
        "skies": list(skies),
        "setups": [
            {
                "setup": setup.setup.name,
                "room": setup.setup.room,
                **interval(setup, location.timezone),
                **fields(setup, "down_stops", "allowed_lux", "left_lux", "leak_share"),
                "openings": [_treatment(treatment, setup) for treatment in setup.openings],
            }
            for setup in done
        ],
        "materials": [*map(material, cut.materials)],
        "uncut": [*map(_piece, cut.uncut)],
        "tape_m": cut.tape_m,
    }


def report(
    location: Location, day: date, done: Sequence[RoomTreatment], cut: TakeOff, skies: Sequence[str]
) -> Document:
    """What each opening needs, and what to cut."""
    asked = [hazard for setup in done for hazard in dangers(setup)]
    zone, rooms = location.timezone, dict.fromkeys(setup.setup.room for setup in done)
    rows = [
        row
        for name in rooms
        for row in _rows([setup for setup in done if setup.setup.room == name])
    ]
    heads = "room", "opening", "for", "do"
    return Document(
        titled(location, day),
        [
            Section(
                "verdict",
                None,
                [Table(heads, rows, grouped=True), *_leaks(done), *_exposures(done)],
            ),
            cut_list(cut),
            More("why: light, stops and leaks", [LEGEND, *(_setup(setup, zone) for setup in done)]),
            *in_full(asked),
            WEATHER,
        ],
        intro=[
            f"{between((done[0].start_s, done[0].end_s), zone, day)}, {' and '.join(skies)} sky"
        ],
    )


def _rows(setups: Sequence[RoomTreatment]) -> Iterator[tuple[str, str, str, str]]:
    """What is done about each opening of a room, setup by setup, alike ones in one row."""
    for index, opening in enumerate(setups[0].openings):
        whose: dict[str, list[str]] = {}
        for setup in setups:
            treatment = setup.openings[index]
            do = words(treatment, others=False)
            whose.setdefault(do, []).append(setup.setup.name)
        for do, names_ in whose.items():
            yield setups[0].setup.room, opening.opening.name, ", ".join(names_), do


def _leaks(done: Sequence[RoomTreatment]) -> Iterator[Said]:
    """What is to be taped, and where a gap may stay."""
    dark = [
        (setup.setup.name, treatment, gap_m(treatment.opening, setup.leak_share))
        for setup in done
        if setup.leak_share is not None
        for treatment in setup.openings
        if treatment.dark
    ]
    loose = [
        text(f"{treatment.opening.name} for {name} ", Quantity(gap, "gap"))
        for name, treatment, gap in dark
        if not treatment.sunlit and gap > TIGHT_M
    ]
    if len(loose) < len(dark):
        yield "light-leak check: tape every edge" + (" but where a gap may stay" if loose else "")
    if loose:
        yield text("a gap all round of at most: ", joined(", ", loose))


def _exposures(done: Sequence[RoomTreatment]) -> Iterator[str]:
    """The setups whose exposure comes down."""
    for setup in done:
        if setup.down_stops:
            yield (
                f"{setup.setup.name}: stop down {setup.down_stops:.1f} (lens, ISO or a filter), "
                "the key up as much"
            )


def _setup(done: RoomTreatment, zone: str) -> Section:
    """Why: the light through each opening, and how tight the black must be."""
    setup = done.setup
    rows = [
        (
            opening.opening.name,
            f"{opening.gives_lux:.0f} lx",
            "—" if not opening.lose_stops else f"{opening.lose_stops:.1f} stops",
            words(opening),
        )
        for opening in done.openings
    ]
    return Section(
        "setup",
        f"{setup.name} ({setup.room}), reads as {setup.plays}, "
        f"{between((done.start_s, done.end_s), zone)}: fill side {done.allowed_lux:.0f} lx of "
        f"daylight allowed, {done.left_lux:.0f} lx left",
        [Table(("opening", "fill side", "knock down", "do, or instead"), rows), *_leak(done)],
    )


def dangers(done: RoomTreatment) -> list[Hazard]:
    """What the black of a setup asks care for."""
    dark = [treatment for treatment in done.openings if treatment.dark]
    asked: list[Hazard] = [*hazards.of_room(done.setup.in_room)]
    if any(treatment.sunlit for treatment in dark):
        asked.append("hot glass")
    if dark:
        asked += ["dark room", "exits"]
    if any(treatment.action == "tent" for treatment in dark):
        asked += hazards.OUTSIDE
    if any(treatment.opening.wall is None for treatment in dark):
        asked += ["steps", "roof"]
    for treatment in dark:
        asked += hazards.at_opening(done.setup.in_room, treatment.opening.opening)
    return asked


def words(treatment: OpeningTreatment, *, others: bool = True) -> str:
    """What to do with an opening, how it then goes through the time, and the other ways."""
    window, other = treatment.window, ""
    if others and window is not None and window.hang is not None:
        other = f"; or {dressed(window)}"
    if treatment.action == "dressing":
        assert window is not None
        return dressed(window)
    if treatment.action not in ("leave", "gel"):
        return DONE[treatment.action] + other
    do = " + ".join(gel.name for gel in treatment.gels) if treatment.gels else "leave it"
    if treatment.after_stops is None:
        return do
    first, last = (over(stops) for stops in treatment.after_stops)
    goes = f"{do}: {first} to {last}" if first != last else f"{do}: {first}"
    if treatment.too_dark:
        return f"{goes}, TOO DARK then: pull gel in time, or shoot shorter"
    return goes + other


def _leak(done: RoomTreatment) -> Iterator[Said]:
    """How tight the black must be."""
    share = done.leak_share
    if share is None:
        return
    black = [opening for opening in done.openings if opening.dark]
    if not share:
        yield "light-leak check: no gap may stay open"
    else:
        gaps = (
            text(f"{opening.opening.name} ", _gap(gap_m(opening.opening, share)))
            for opening in black
        )
        yield text(
            f"light-leak check: at most {100 * share:.2g} % of the blacked out area may stay open "
            f"({-math.log2(share):.1f} stops knocked down); as a gap all round: ",
            joined(", ", gaps),
        )
    sunlit = [opening.opening.name for opening in black if opening.sunlit]
    if sunlit:
        yield f"direct sun on {', '.join(sunlit)}: any gap that it reaches fails"


def _gap(metres: float) -> Said:
    return "none" if metres < LEAST_GAP_M else Quantity(metres, "gap")


def cut_list(cut: TakeOff) -> Section:
    """Which pieces come off which roll."""
    if not cut.materials and not cut.uncut:
        return Section("cut-list", None, ["nothing to cut"])
    return Section(
        "cut-list",
        None,
        [
            "Cut list: across × along the roll; starts: how far along it a piece begins",
            *(block for used in cut.materials for block in _pieces(used)),
            *(
                text(f"{piece.name}, ", by(piece.width_m, piece.height_m)) + ": no cloth in the kit"
                for piece in cut.uncut
            ),
            text("tape: ", Quantity(cut.tape_m), ", round every piece and along seams"),
            More(
                "how black hangs",
                [
                    "black hangs from a batten at its head and one at its foot, or is a cut board "
                    "pressed into the reveal"
                ],
            ),
        ],
    )


def _pieces(used: Material) -> Iterator[Block]:
    """A stock, and the pieces off its rolls."""
    yield _roll(used)
    if used.layout is not None:
        rows = [
            (
                str(laid.roll + 1),
                by(*laid.size_m),
                text(Quantity(laid.along_m), _across(laid)),
                laid.piece.name,
            )
            for laid in used.layout.laid
        ]
        yield Table(("roll", "cut", "starts", "piece"), rows)


def _across(laid: CutPiece) -> Said:
    return text(", ", Quantity(laid.across_m), " across") if laid.across_m else ""


def _roll(material: Material) -> Text:
    """How much of which roll is used."""
    stock, layout = material.stock, material.layout
    name = text(f"{stock.name}, ", by(stock.width, stock.length), " a roll: ")
    if layout is None:
        return text(name, f"{material.why_not}")
    owned = "owned" if stock.owned >= material.rolls else f"{stock.owned} owned"
    rolls = f"{material.rolls} {'roll' if material.rolls == 1 else 'rolls'} ({owned})"
    minimum = "" if layout.gap < 5e-4 else f", {100 * layout.gap:.0f} % over the least possible"
    waste = f"{100 * layout.waste:.0f} % waste{minimum}"
    return text(name, Quantity(layout.used_m), f" of {rolls}, {waste}")
