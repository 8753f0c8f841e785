"""Blacking out and gelling: what each opening needs, and the cut list. JSON, CSV and words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date

from ..location.lengths import Units, format_length
from ..location.read import Location
from ..rig.hazards import Hazard
from ..rig.nesting import Laid
from ..rig.takeoff import Material, TakeOff
from ..rig.window_treatment import Treated, Treatment, gap_m
from .answers import Answer, head, iso
from .cautions import WEATHER, in_full
from .document import Moment
from .layout import Part, table
from .words import by, signed

ROWS = (("materials", "laid"),)  # of its answer, for spreadsheets
LEAST_GAP_M = 0.0005  # a gap that hands can tell from none; finer is told as none


def _laid(one: Laid) -> Answer:
    return {
        "piece": one.piece.name,
        "size_m": list(one.size_m),
        "across_m": one.across_m,
        "along_m": one.along_m,
        "turned": one.turned,
        "roll": one.roll + 1,
    }


def material(one: Material) -> Answer:
    """One stock with what is cut from it."""
    return {
        "stock": one.stock.name,
        "roll_m": [one.stock.width, one.stock.length],
        "rolls": one.rolls,
        "owned": one.stock.owned,
        "pieces": [
            {"piece": each.name, "size_m": [each.width_m, each.height_m]} for each in one.pieces
        ],
        "laid": [] if one.layout is None else [_laid(each) for each in one.layout.laid],
        "used_m": None if one.layout is None else one.layout.used_m,
        "waste": None if one.layout is None else one.layout.waste,
        "over_least": None if one.layout is None else one.layout.gap,
        "unmet": one.why_not,
    }


def _treatment(one: Treatment, done: Treated) -> Answer:
    leak = done.leak_share if one.dark else None
    return {
        "opening": one.opening.name,
        "do": one.what,
        "gels": [gel.name for gel in one.gels],
        "gives_lux": one.gives_lux,
        "lose_stops": one.lose_stops,
        "sunlit": one.sunlit,
        "after_stops": None if one.after_stops is None else list(one.after_stops),
        "too_dark": one.too_dark,
        "gap_mm": None if leak is None else 1000.0 * gap_m(one.opening, leak),
    }


def answer(
    location: Location, day: date, done: Sequence[Treated], cut: TakeOff, skies: Sequence[str]
) -> Answer:
    """Answer of `sunplan cut`."""
    zone = location.timezone
    return {
        **head(location, day),
        "skies": list(skies),
        "setups": [
            {
                "setup": one.setup.name,
                "room": one.setup.room,
                "from": iso(one.start_s, zone),
                "to": iso(one.end_s, zone),
                "down_stops": one.down_stops,
                "allowed_lux": one.allowed_lux,
                "left_lux": one.left_lux,
                "leak_share": one.leak_share,
                "openings": [_treatment(each, one) for each in one.openings],
            }
            for one in done
        ],
        "materials": [material(one) for one in cut.materials],
        "uncut": [{"piece": one.name, "size_m": [one.width_m, one.height_m]} for one in cut.uncut],
        "tape_m": cut.tape_m,
    }


def told(
    location: Location, day: date, done: Sequence[Treated], cut: TakeOff, skies: Sequence[str]
) -> Iterable[Part]:
    """What each opening needs, and what to cut."""
    zone, units = location.timezone, location.site.units
    yield f"{location.site.name}, {day:%A} {day.isoformat()}, clock of {zone}"
    yield (
        f"{' and '.join(skies)} sky; gives: the most daylight on the face's fill side through an "
        "opening as it is"
    )
    asked: list[Hazard] = []
    for one in done:
        yield (
            f"\n{one.setup.name} ({one.setup.room}), plays {one.setup.plays}, "
            f"{Moment(one.start_s, zone)} – {Moment(one.end_s, zone)}: fill side "
            f"{one.allowed_lux:.0f} lx of daylight allowed, {one.left_lux:.0f} left"
        )
        yield table(
            ("opening", "gives, lx", "lose in frame", "do"),
            [
                (
                    each.opening.name,
                    f"{each.gives_lux:.0f}",
                    "—" if each.lose_stops is None else f"{each.lose_stops:.1f}",
                    words(each),
                )
                for each in one.openings
            ],
        )
        if one.down_stops:
            yield (
                f"  with the exposure {one.down_stops:.1f} stops down (lens, ISO or a filter), the "
                "key up as much"
            )
        yield from _leak(one, units)
        asked += dangers(one)
    yield ""
    yield from cut_list(cut, units)
    yield from in_full(asked)
    yield WEATHER


def dangers(done: Treated) -> list[Hazard]:
    """What the black of a setup asks care for."""
    black = [one for one in done.openings if one.dark]
    found: list[Hazard] = []
    if any(one.sunlit for one in black):
        found.append("hot glass")
    if black:
        found += ["dark room", "exits"]
    if any(one.what == "tent" for one in black):
        found.append("wind")
    if any(one.opening.wall is None for one in black):
        found += ["steps", "roof"]
    return found


def words(one: Treatment) -> str:
    """What to do with an opening, and how it then goes through the time."""
    if one.what in ("leave", "gel"):
        do = " + ".join(gel.name for gel in one.gels) if one.gels else "leave it"
        if one.after_stops is None:
            return do
        first, last = (signed(stops) for stops in one.after_stops)
        goes = f"{do}: {first} to {last}" if first != last else f"{do}: {first}"
        if one.too_dark:
            return f"{goes}, TOO DARK then: pull gel in time, or shoot shorter"
        return goes
    return {
        "black": "black",
        "tent": "tent outside, dimly lit",
        "nothing does it": "no gel does it: see gap",
    }[one.what]


def _leak(one: Treated, units: Units) -> Iterable[str]:
    share = one.leak_share
    if share is None:
        return
    black = [each for each in one.openings if each.dark]
    if not share:
        yield "  leaks: nothing to spare, not a chink"
    else:
        gaps = ", ".join(
            f"{each.opening.name} {_gap(gap_m(each.opening, share), units)}" for each in black
        )
        yield (
            f"  leaks: at most {100 * share:.2g} % of the blacked area may stay open "
            f"({signed(math.log2(share))} stops); as a gap all round: {gaps}"
        )
    sunlit = [each.opening.name for each in black if each.sunlit]
    if sunlit:
        yield f"  the sun stands on {', '.join(sunlit)}: there any gap that it sees fails"


def _gap(gap: float, units: Units) -> str:
    if gap < LEAST_GAP_M:
        return "none"
    return f"{1000 * gap:.0f} mm" if units == "m" else f'{gap / 0.0254:.2f}"'


def cut_list(cut: TakeOff, units: Units) -> Iterable[Part]:
    """Which pieces come off which roll."""
    if not cut.materials and not cut.uncut:
        yield "nothing to cut"
        return
    yield "Cut list; along and across say where a piece's corner lies on the roll"
    lines = []
    for one in cut.materials:
        for each in () if one.layout is None else one.layout.laid:
            place = f"{format_length(each.along_m, units)} along"
            place += f", {format_length(each.across_m, units)} across" if each.across_m else ""
            roll = f"{one.stock.name}, roll {each.roll + 1}"
            lines.append((roll, by(*each.size_m).render(units), place, each.piece.name))
    yield table(("from", "across × along", "at", "piece"), lines)
    for one in cut.materials:
        name = f"{one.stock.name}, {by(one.stock.width, one.stock.length).render(units)} a roll"
        if one.layout is None:
            yield f"{name}: {one.why_not}"
            continue
        owned = "owned" if one.stock.owned >= one.rolls else f"{one.stock.owned} owned"
        waste = f"{100 * one.layout.waste:.0f} % waste"
        least = "" if one.layout.gap < 5e-4 else f", {100 * one.layout.gap:.0f} % over the least"
        yield (
            f"{name}: {format_length(one.layout.used_m, units)} of {one.rolls} "
            f"{'roll' if one.rolls == 1 else 'rolls'} ({owned}), {waste}{least}"
        )
    for piece in cut.uncut:
        size = by(piece.width_m, piece.height_m).render(units)
        yield f"{piece.name}, {size}: no cloth in the kit"
    yield (
        f"tape: {format_length(cut.tape_m, units)}, round every piece and along seams; black hangs "
        "from a batten at its head and one at its foot, or is a cut board pressed into the reveal"
    )
