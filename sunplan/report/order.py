"""Which order to shoot in: JSON, CSV and words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from ..day.order import Order, Ordered, Turn
from ..day.rigging_plan import STOP_MINUTES, UNMET_STOPS, RiggingPlan
from ..location.read import Location
from ..rig import hazards
from .answers import Answer, fields, head, iso, names
from .cautions import SUN, WEATHER, in_full
from .document import Document, Moment, Section, Table
from .pack import job_line
from .words import between, outdoors, titled

ROWS = {"setups": ("setups",)}  # of its answer, by kind
MATCH_DEG = 5.0  # of the sun's way: more shows in a patch; common practice, no source


def _turn(turn: Turn, zone: str) -> Answer:
    return {
        "setup": turn.rigging.setup.name,
        "room": turn.rigging.setup.room,
        "shoot_from": iso(turn.rigging.start_s, zone),
        "shoot_to": iso(turn.rigging.end_s, zone),
        **fields(turn, "strike_minutes", "rig_minutes"),
        "off_stops": turn.rigging.stops,
        "too_dark": turn.rigging.too_dark,
        "unsolved": list(turn.rigging.unsolved),
        "jobs": [
            {"what": job.words, "minutes": job.minutes, "hangs": job in turn.hangs}
            for job in turn.rigging.jobs
        ],
    }


def _order(order: Order, zone: str) -> Answer:
    return {
        "setups": [_turn(turn, zone) for turn in order.turns],
        "dropped": names(order.dropped),
        **fields(order, "rig_minutes", "strike_minutes"),
        "off_stops": order.stops,
        "cost_minutes": order.cost,
    }


def answer(location: Location, day: date, ordered: Ordered, skies: Sequence[str]) -> Answer:
    """Answer of `sunplan order`."""
    zone = location.timezone
    return {
        **head(location, day),
        "skies": list(skies),
        "call": iso(ordered.call_s, zone),
        "wrap": iso(ordered.wrap_s, zone),
        **_order(ordered.best, zone),
        "gap": 0.0,
        "as_filed": _order(ordered.as_filed, zone),
        "same_dusk": names(ordered.dusky),
        "sun_moves_deg": ordered.apart_deg,
    }


def report(location: Location, day: date, ordered: Ordered, skies: Sequence[str]) -> Document:
    """The order for people."""
    zone, best = location.timezone, ordered.best
    rows = [
        (
            f"{turn.strike_minutes:.0f} min",
            f"{turn.rig_minutes:.0f} min",
            between((turn.rigging.start_s, turn.rigging.end_s), zone),
            _off(turn.rigging),
            f"{turn.rigging.setup.name} ({turn.rigging.setup.room})",
        )
        for turn in best.turns
    ]
    dangers = [
        hazard
        for turn in best.turns
        for hazard in (
            *(hazard for job in turn.rigging.jobs for hazard in job.hazards),
            *hazards.of_room(turn.rigging.setup.in_room),
        )
    ]
    return Document(
        titled(location, day),
        [
            Section("order", None, [Table(("strike", "rig", "shoot", "off", "setup"), rows)]),
            *(_rigging(turn, zone) for turn in best.turns),
            Section("order", None, [*dropped(ordered), _summary(ordered), *clashes(ordered)]),
            Section("notes", None, [*in_full(dangers), WEATHER, SUN]),
        ],
        intro=[
            f"for {' and '.join(skies)} sky; from {Moment(ordered.call_s, zone)} to "
            f"{Moment(ordered.wrap_s, zone)}, all down by then; off: stops by which the windows in "
            "frame miss the look before anything hangs",
            *outdoors([exterior.name for exterior in location.exterior]),
        ],
    )


def _rigging(turn: Turn, zone: str) -> Section:
    """What is rigged for a setup, and what that does not solve."""
    plan = turn.rigging
    lines = [job_line(job, hangs=job in turn.hangs) for job in plan.jobs] or ["nothing to rig"]
    if plan.too_dark:
        lines.append(
            "TOO DARK: a window in frame falls below its look in this time, what hangs in it too; "
            "see gap"
        )
    lines += [
        f"NOT SOLVED: no gel brings {name} down, nobody can tent it; a curtain, another angle: "
        "see gap"
        for name in plan.unsolved
    ]
    return Section("rigging", f"{plan.setup.name}, {Moment(plan.start_s, zone)}", lines)


def dropped(ordered: Ordered) -> Iterable[str]:
    """What the day has no time for."""
    for setup in ordered.best.dropped:
        yield (
            f"DOES NOT FIT: {setup.name}, {setup.minutes:g} min, priority {setup.priority:g}: no "
            "start leaves time to rig it, shoot it and strike it beside the others"
        )


def clashes(ordered: Ordered) -> Iterable[str]:
    """Setups that want the same dusk, and how far the sun moves between those that match."""
    if ordered.dusky:
        names = " and ".join(setup.name for setup in ordered.dusky)
        yield f"ONE DUSK FOR BOTH: {names}; it comes once, give one of them another day or black"
    for group, moved in ordered.apart_deg.items():
        fits = "" if moved <= MATCH_DEG else f", MORE THAN {MATCH_DEG:g}°: its patch will not match"
        yield f"{group}: the sun moves {moved:.0f}° from its first shot to its last{fits}"


def _off(plan: RiggingPlan) -> str:
    if plan.unsolved:
        return "unmet"
    return "dark" if plan.too_dark else f"{plan.stops:.1f}"


def _summary(ordered: Ordered) -> str:
    best, filed = ordered.best, ordered.as_filed
    spent = best.rig_minutes + best.strike_minutes
    words = (
        f"rigging {best.rig_minutes:.0f} min, striking {best.strike_minutes:.0f} min, "
        f"{best.stops:.1f} stops off in all; proven the least on quarter hours, a stop counted as "
        f"{STOP_MINUTES:g} min, a window that is too dark or not solved as {UNMET_STOPS:g} stops"
    )
    names, as_filed = ([turn.rigging.setup.name for turn in order.turns] for order in (best, filed))
    if names == as_filed:
        return f"{words}; the file's own order is the best"
    saved = filed.rig_minutes + filed.strike_minutes - spent
    left = len(filed.dropped) - len(best.dropped)
    left_out = ", ".join(setup.name for setup in filed.dropped)
    more = f"; it leaves out {left_out}" if left > 0 else ""
    worse = filed.stops - best.stops
    unmet = [
        turn.rigging.setup.name
        for turn in filed.turns
        if turn.rigging.too_dark or turn.rigging.unsolved
    ]
    if len(unmet) > sum(1 for turn in best.turns if turn.rigging.too_dark or turn.rigging.unsolved):
        more += f"; but nothing brings the look of {', '.join(unmet)} then"
    return (
        f"{words}; the file's order takes {abs(saved):.0f} min {'less' if saved < 0 else 'more'} "
        f"and is {abs(worse):.1f} stops {'better' if worse < 0 else 'worse'}{more}"
    )
