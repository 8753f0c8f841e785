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
from .answers import Answer, fields, head, interval, names
from .cautions import WEATHER, in_full
from .document import Document, Quantity, Said, Section, Table, Text, joined, text
from .gap import dressed
from .words import between, by, signed, titled

ROWS = {
    "pieces": ("materials", "laid"),
    "openings": ("setups", "openings"),
}
LEAST_GAP_M = 0.0005  # a gap that hands can tell from none; finer is told as none


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
    return Document(
        titled(location, day),
        [
            *(_setup(setup, location.timezone) for setup in done),
            cut_list(cut),
            *in_full(asked),
            WEATHER,
        ],
        intro=[
            f"{' and '.join(skies)} sky; gives: the most daylight on the face's fill side through "
            "an opening as it is"
        ],
    )


def _setup(done: RoomTreatment, zone: str) -> Section:
    setup = done.setup
    rows = [
        (
            opening.opening.name,
            f"{opening.gives_lux:.0f}",
            "—" if opening.lose_stops is None else f"{opening.lose_stops:.1f}",
            words(opening),
        )
        for opening in done.openings
    ]
    lines: list[Said] = []
    if done.down_stops:
        lines.append(
            f"with the exposure {done.down_stops:.1f} stops down (lens, ISO or a filter), the key "
            "up as much"
        )
    return Section(
        "setup",
        f"{setup.name} ({setup.room}), plays {setup.plays}, "
        f"{between((done.start_s, done.end_s), zone)}: fill side {done.allowed_lux:.0f} lx of "
        f"daylight allowed, {done.left_lux:.0f} left",
        [Table(("opening", "gives, lx", "lose in frame", "do"), rows), *lines, *_leak(done)],
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


def words(treatment: OpeningTreatment) -> str:
    """What to do with an opening, and how it then goes through the time."""
    other = ""
    if (
        treatment.window is not None
        and treatment.window.hang is not None
        and treatment.action != "dressing"
    ):
        other = f"; or {dressed(treatment.window)}"
    if treatment.action in ("leave", "gel"):
        do = " + ".join(gel.name for gel in treatment.gels) if treatment.gels else "leave it"
        if treatment.after_stops is None:
            return do
        first, last = (signed(stops) for stops in treatment.after_stops)
        goes = f"{do}: {first} to {last}" if first != last else f"{do}: {first}"
        if treatment.too_dark:
            return f"{goes}, TOO DARK then: pull gel in time, or shoot shorter"
        return goes + other
    if treatment.action == "dressing":
        assert treatment.window is not None
        return dressed(treatment.window)
    done = {
        "black": "black",
        "tent": "tent outside, dimly lit",
        "nothing does it": "nothing does it: another angle, see gap",
    }[treatment.action]
    return done + other


def _leak(done: RoomTreatment) -> Iterator[Said]:
    """How tight the black must be."""
    share = done.leak_share
    if share is None:
        return
    black = [opening for opening in done.openings if opening.dark]
    if not share:
        yield "leaks: nothing to spare, not a chink"
    else:
        gaps = (
            text(f"{opening.opening.name} ", _gap(gap_m(opening.opening, share)))
            for opening in black
        )
        yield text(
            f"leaks: at most {100 * share:.2g} % of the blacked area may stay open "
            f"({signed(math.log2(share))} stops); as a gap all round: ",
            joined(", ", gaps),
        )
    sunlit = [opening.opening.name for opening in black if opening.sunlit]
    if sunlit:
        yield f"the sun stands on {', '.join(sunlit)}: there any gap that it sees fails"


def _gap(metres: float) -> Said:
    return "none" if metres < LEAST_GAP_M else Quantity(metres, "gap")


def cut_list(cut: TakeOff) -> Section:
    """Which pieces come off which roll."""
    if not cut.materials and not cut.uncut:
        return Section("cut-list", None, ["nothing to cut"])
    rows = [
        (
            f"{material.stock.name}, roll {laid.roll + 1}",
            by(*laid.size_m),
            text(Quantity(laid.along_m), " along", _across(laid)),
            laid.piece.name,
        )
        for material in cut.materials
        for laid in (() if material.layout is None else material.layout.laid)
    ]
    return Section(
        "cut-list",
        None,
        [
            "Cut list; along and across say where a piece's corner lies on the roll",
            Table(("from", "across × along", "at", "piece"), rows),
            *map(_roll, cut.materials),
            *(
                text(f"{piece.name}, ", by(piece.width_m, piece.height_m)) + ": no cloth in the kit"
                for piece in cut.uncut
            ),
            text(
                "tape: ",
                Quantity(cut.tape_m),
                ", round every piece and along seams; black hangs from a batten at its head "
                "and one at its foot, or is a cut board pressed into the reveal",
            ),
        ],
    )


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
    minimum = "" if layout.gap < 5e-4 else f", {100 * layout.gap:.0f} % over the least"
    waste = f"{100 * layout.waste:.0f} % waste{minimum}"
    return text(name, Quantity(layout.used_m), f" of {rolls}, {waste}")
