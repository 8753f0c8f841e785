"""Which order to shoot in: JSON, CSV and words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from itertools import chain

from ..day.concessions import Concession, DoesNotFit
from ..day.order import Order, Ordered, Turn
from ..day.rigging_plan import RiggingPlan
from ..day.working_day import WorkingDay
from ..location.read import Location
from ..rig import hazards
from ..rig.hazards import Hazard
from ..sun.local_time import MINUTE_S
from . import jobs
from .answers import Answer, fields, head, iso, names
from .cautions import SUN, WEATHER, in_full
from .document import Block, Document, Moment, More, Section, Table
from .words import outdoors, over, titled

ROWS = {"setups": ("setups",)}  # of its answer, by kind
WINDOWS = "windows: stops off the look, all in frame together, before anything hangs"
MATCH_DEG = 5.0  # of the sun path: more shows in a patch; common practice, no source


def _setup(order: Order, turn: Turn, clock: WorkingDay, zone: str) -> Answer:
    plan = turn.rigging
    return {
        "setup": plan.setup.name,
        "room": plan.setup.room,
        "from": iso(plan.start_s, zone),
        "to": iso(plan.end_s, zone),
        "ready": iso(order.ready_s(turn, clock), zone),
        **fields(turn, "rig_minutes", "strike_minutes"),
        "over_stops": plan.stops,
        "too_dark": plan.too_dark,
        "unsolved": list(plan.unsolved),
        "jobs": [
            {"what": job.words, "minutes": job.minutes, "hangs": job in turn.hangs}
            for job in plan.jobs
        ],
    }


def _missing(missing: DoesNotFit, zone: str) -> Answer:
    return {
        "setup": missing.setup.name,
        "short_minutes": missing.short_minutes,
        "concessions": [_concession(concession, zone) for concession in missing.concessions],
    }


def _concession(concession: Concession, zone: str) -> Answer:
    before, after = concession.before, concession.after
    if isinstance(before, float) and isinstance(after, float) and _is_clock(concession):
        ends: Answer = {"from": iso(before, zone), "to": iso(after, zone)}
    else:
        ends = {"from": before, "to": after}
    return {"change": concession.change, "detail": concession.detail, **ends}


def _is_clock(concession: Concession) -> bool:
    return concession.change in ("wrap", "call")


def _order(order: Order, clock: WorkingDay, zone: str) -> Answer:
    return {
        "score": order.score,
        "parts": order.parts,
        "setups": [_setup(order, turn, clock, zone) for turn in order.turns],
        "does_not_fit": [{"setup": setup.name} for setup in order.dropped],
        **fields(order, "rig_minutes", "strike_minutes", "last_strike_minutes"),
        "over_stops": order.stops,
    }


def day_answer(location: Location, day: date, ordered: Ordered) -> Answer:
    """One day of an answer: its best order, what that comes to, and what does not fit."""
    zone = location.timezone
    best = _order(ordered.best, ordered.clock, zone)
    if ordered.missing:
        best["does_not_fit"] = [_missing(missing, zone) for missing in ordered.missing]
    return {"date": day.isoformat(), **best, "proven": True}


def answer(location: Location, day: date, ordered: Ordered, skies: Sequence[str]) -> Answer:
    """Answer of `sunplan order`."""
    zone = location.timezone
    return {
        **head(location, day),
        "skies": list(skies),
        "call": iso(ordered.clock.call_s, zone),
        "wrap": iso(ordered.clock.wrap_s, zone),
        **day_answer(location, day, ordered),
        "as_filed": _order(ordered.as_filed, ordered.clock, zone),
        "same_dusk": names(ordered.dusky),
        "sun_moves_deg": ordered.apart_deg,
    }


def report(location: Location, day: date, ordered: Ordered, skies: Sequence[str]) -> Document:
    """The order for people: the day as a timeline, then the jobs of each setup."""
    turns = ordered.best.turns
    each = [hazards_of(turn.rigging) for turn in turns]
    safety = [
        f"{turn.rigging.setup.name}: {', '.join(dangers)}"
        for turn, dangers in zip(turns, each, strict=True)
        if dangers
    ]
    rigged = [_rigging(turn, location.timezone) for turn in turns]
    return Document(
        titled(location, day),
        [
            *timeline(location, ordered),
            *(
                [Section("safety", "Safety by setup; each in a line at the end", safety)]
                * bool(safety)
            ),
            More("each job's minutes and safety words", rigged),
            proven(ordered),
            Section("notes", None, [*in_full(chain(*each)), WEATHER, SUN]),
        ],
        intro=[
            verdict(location, ordered, skies),
            *outdoors([exterior.name for exterior in location.exterior]),
        ],
    )


def hazards_of(plan: RiggingPlan) -> tuple[Hazard, ...]:
    """What is dangerous about a setup's jobs, and about its room."""
    of_jobs = (hazard for job in plan.jobs for hazard in job.hazards)
    return tuple(dict.fromkeys((*of_jobs, *hazards.of_room(plan.setup.in_room))))


def _rigging(turn: Turn, zone: str) -> Section:
    """What is rigged for a setup."""
    plan = turn.rigging
    lines = [jobs.line(job, hangs=job in turn.hangs) for job in plan.jobs] or [jobs.NOTHING]
    return Section("rigging", f"{plan.setup.name}, {Moment(plan.start_s, zone)}", lines)


def verdict(location: Location, ordered: Ordered, skies: Sequence[str]) -> str:
    """How much of the day fits, and until when it takes."""
    zone, best, clock = location.timezone, ordered.best, ordered.clock
    every = len(best.turns) + len(best.dropped)
    fits = f"{len(best.turns)} of {every} setups fit" if best.dropped else "all setups fit"
    return (
        f"{fits}; call {Moment(clock.call_s, zone)}, wrapped out by {Moment(ordered.end_s, zone)}, "
        f"wrap {Moment(clock.wrap_s, zone)}; for {' and '.join(skies)} sky"
    )


def timeline(location: Location, ordered: Ordered) -> Iterator[Section]:
    """The day in its order, and what is wrong with it."""
    zone = location.timezone
    rows = [
        (Moment(moment_s, zone), what, minutes, off, said)
        for moment_s, what, minutes, off, said in sorted(_rows(ordered))
    ]
    table = Table(("from", "what", "min", "windows", "setup, and what it takes"), rows)
    blocks: list[Block] = [*dropped(ordered)]
    blocks += [table, WINDOWS] if rows else []
    for turn in ordered.best.turns:
        blocks += _unmet(turn.rigging)
    yield Section("order", None, [*blocks, *clashes(ordered)])


def in_lines(location: Location, ordered: Ordered) -> Iterator[str]:
    """The timeline where there is no room for a table: a line a row."""
    for moment_s, what, minutes, off, said in sorted(_rows(ordered)):
        spent = f" {minutes} min" if minutes else ""
        windows = f"; windows {off}" if off else ""
        yield f"{Moment(moment_s, location.timezone)} {what}{spent}" + (
            f": {said}{windows}" if said else ""
        )


def _rows(ordered: Ordered) -> Iterator[tuple[float, str, str, str, str]]:
    """What begins when: its minutes, how far its windows are off, and words."""
    clock, turns = ordered.clock, ordered.best.turns
    last_s = clock.call_s
    for number, turn in enumerate(turns):
        plan, setup = turn.rigging, turn.rigging.setup
        strike, rig = jobs.whole(turn.strike_minutes), jobs.whole(turn.rig_minutes)
        parts = f" (strike {strike}, rig {rig})" if number else ""
        takes = jobs.in_short(job for job in plan.jobs if job not in turn.hangs)
        what = "turnaround" if number else "rig"
        yield last_s, what, f"{strike + rig}", "", f"for {setup.name}{parts}: {takes}"
        off = _off(plan)
        yield plan.start_s, "shoot", f"{setup.minutes:g}", off, f"{setup.name} ({setup.room})"
        last_s = plan.end_s
    if turns:
        minutes = jobs.whole(ordered.best.last_strike_minutes)
        yield last_s, "strike", f"{minutes}", "", turns[-1].rigging.setup.name
        yield ordered.end_s, "wrapped out", "", "", ""
    if clock.lunch_s is not None:
        start_s, end_s = clock.lunch_s
        yield start_s, "lunch", f"{(end_s - start_s) / MINUTE_S:.0f}", "", "nobody works"


def _off(plan: RiggingPlan) -> str:
    """How far its windows in frame are off their look, before anything hangs."""
    windows = [treated.window for treated in plan.treated.openings if treated.window is not None]
    if plan.unsolved:
        return "UNMET"
    if plan.too_dark:
        return f"{_short_stops(plan):.1f} too dark"
    if not windows:
        return "none"
    return "at look" if plan.stops < 0.05 else over(plan.stops)


def _short_stops(plan: RiggingPlan) -> float:
    """How far its windows fall below their bands, at the darkest of the shoot."""
    look = plan.setup.wanted
    return max(
        look.band(treated.opening.opening.dressing)[0] - treated.after_stops[1]
        for treated in plan.treated.openings
        if treated.too_dark and treated.after_stops is not None
    )


def _unmet(plan: RiggingPlan) -> Iterator[str]:
    """What of a setup's look hanging does not solve."""
    if plan.too_dark:
        yield (
            f"TOO DARK: {plan.setup.name}: a window falls {_short_stops(plan):.1f} stops below its "
            "look in that time; see gap"
        )
    for name in plan.unsolved:
        yield (
            f"NOT SOLVED: {plan.setup.name}: no gel brings {name} down, nobody can tent it; a "
            "curtain, another angle: see gap"
        )


def dropped(ordered: Ordered) -> Iterable[str]:
    """What the day has no time for, and what would make it fit."""
    known = {missing.setup.name: missing for missing in ordered.missing}
    for setup in ordered.best.dropped:
        words = f"DOES NOT FIT: {setup.name}, {setup.minutes:g} min"
        if setup.priority != 1.0:
            words += f", priority {setup.priority:g}"
        missing = known.get(setup.name)
        if missing is not None:
            ways = [_way(it, ordered.timezone) for it in missing.concessions if it.change != "drop"]
            instead = [it.detail for it in missing.concessions if it.change == "drop"]
            ways += [f"without {name}" for name in instead[:1]]
            if missing.short_minutes is not None:
                words += f", {missing.short_minutes} min short"
            words += f": fits {', or '.join(ways)}" if ways else ": no one change makes it fit"
        yield words


def _way(concession: Concession, zone: str) -> str:
    """A change with which a setup fits, in words."""
    match concession:
        case Concession("wrap", _, _, float(after)):
            return f"if wrap is {Moment(after, zone)}"
        case Concession("call", _, _, float(after)):
            return f"if call is {Moment(after, zone)}"
        case Concession("minutes", _, _, float(after)):
            return f"in {after:g} minutes"
        case Concession("pan", hidden, _, float(after)):
            side = "right" if after > 0 else "left"
            hides = f" ({hidden} out of frame)" if hidden else ""
            return f"with a pan of {abs(after):.0f}° {side}{hides}"
        case Concession("curtain", hung, _, _):
            return f"with {hung} in place of a tent"
    raise AssertionError(concession.change)


def clashes(ordered: Ordered) -> Iterable[str]:
    """Setups that want the same dusk, and how far the sun moves between those that match."""
    if ordered.dusky:
        names = " and ".join(setup.name for setup in ordered.dusky)
        yield f"ONE DUSK FOR BOTH: {names}; it comes once: another day for one, or black it out"
    for group, moved in ordered.apart_deg.items():
        fits = "" if moved <= MATCH_DEG else f", MORE THAN {MATCH_DEG:g}°: its patch will not match"
        yield f"{group}: the sun moves {moved:.0f}° from its first shoot to its last{fits}"


def proven(ordered: Ordered) -> More:
    """What the order comes to, and how it stands against the file's own."""
    return More("how the order was proven", [Section("order", None, [_summary(ordered)])])


def _summary(ordered: Ordered) -> str:
    best, filed = ordered.best, ordered.as_filed
    spent = best.rig_minutes + best.strike_minutes
    words = (
        f"{jobs.turnaround(best.strike_minutes, best.rig_minutes)} in all; the picture loses "
        f"{best.picture_stops:.1f} stops, each scored as {best.stop_minutes:g} min; proven to be "
        "the least on quarter hours, and every 5 min near sunrise and sunset"
    )
    names, as_filed = ([turn.rigging.setup.name for turn in order.turns] for order in (best, filed))
    if names == as_filed:
        return f"{words}; the file's own order is the best"
    saved = filed.rig_minutes + filed.strike_minutes - spent
    left = len(filed.dropped) - len(best.dropped)
    left_out = ", ".join(setup.name for setup in filed.dropped)
    more = f"; does not fit then: {left_out}" if left > 0 else ""
    worse = filed.picture_stops - best.picture_stops
    unmet = [
        turn.rigging.setup.name
        for turn in filed.turns
        if turn.rigging.too_dark or turn.rigging.unsolved
    ]
    if len(unmet) > sum(1 for turn in best.turns if turn.rigging.too_dark or turn.rigging.unsolved):
        more += f"; but nothing brings the look of {', '.join(unmet)} then"
    return (
        f"{words}; the file's order takes {abs(saved):.0f} min {'less' if saved < 0 else 'more'} "
        f"and its picture loses {abs(worse):.1f} stops {'less' if worse < 0 else 'more'}"
        f"{more}"
    )
