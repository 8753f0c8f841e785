"""Which order to shoot in: JSON, CSV and words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from ..day.order import Order, Ordered, Turn
from ..day.rigging_plan import STOP_MINUTES, UNMET_STOPS, RiggingPlan
from ..location.read import Location
from ..rig.hazards import Hazard
from .answers import Answer, head, iso
from .cautions import SUN, WEATHER, cares, in_full
from .document import Moment
from .layout import Part, table
from .words import outdoors

ROWS = (("setups",),)  # of its answer, for spreadsheets
MATCH_DEG = 5.0  # of the sun's way: more shows in a patch; common practice, no source


def _turn(one: Turn, zone: str) -> Answer:
    return {
        "setup": one.way.setup.name,
        "room": one.way.setup.room,
        "shoot_from": iso(one.way.start_s, zone),
        "shoot_to": iso(one.way.end_s, zone),
        "strike_minutes": one.strike_minutes,
        "rig_minutes": one.rig_minutes,
        "off_stops": one.way.stops,
        "too_dark": one.way.too_dark,
        "unsolved": list(one.way.unsolved),
        "jobs": [
            {"what": job.words, "minutes": job.minutes, "hangs": job in one.hangs}
            for job in one.way.jobs
        ],
    }


def _order(one: Order, zone: str) -> Answer:
    return {
        "setups": [_turn(turn, zone) for turn in one.turns],
        "dropped": [setup.name for setup in one.dropped],
        "rig_minutes": one.rig_minutes,
        "strike_minutes": one.strike_minutes,
        "off_stops": one.stops,
        "cost_minutes": one.cost,
    }


def answer(location: Location, day: date, found: Ordered, skies: Sequence[str]) -> Answer:
    """Answer of `sunplan order`."""
    zone = location.timezone
    return {
        **head(location, day),
        "skies": list(skies),
        "call": iso(found.call_s, zone),
        "wrap": iso(found.wrap_s, zone),
        **_order(found.best, zone),
        "gap": 0.0,
        "as_filed": _order(found.as_filed, zone),
        "same_dusk": [setup.name for setup in found.dusky],
        "sun_moves_deg": found.apart_deg,
    }


def told(location: Location, day: date, found: Ordered, skies: Sequence[str]) -> Iterable[Part]:
    """The order for people."""
    zone, best = location.timezone, found.best
    yield f"{location.site.name}, {day:%A} {day.isoformat()}, clock of {zone}"
    yield (
        f"for {' and '.join(skies)} sky; from {Moment(found.call_s, zone)} to "
        f"{Moment(found.wrap_s, zone)}, all down by then; off: stops by which the windows in frame "
        "miss the look before anything hangs"
    )
    yield from outdoors([one.name for one in location.exterior])
    yield ""
    yield table(
        ("strike", "rig", "shoot", "off", "setup"),
        [
            (
                f"{one.strike_minutes:.0f} min",
                f"{one.rig_minutes:.0f} min",
                f"{Moment(one.way.start_s, zone)} – {Moment(one.way.end_s, zone)}",
                _off(one.way),
                f"{one.way.setup.name} ({one.way.setup.room})",
            )
            for one in best.turns
        ],
    )
    asked: list[Hazard] = []
    for one in best.turns:
        yield f"\n{one.way.setup.name}, {Moment(one.way.start_s, zone)}"
        for job in one.way.jobs:
            spent = "hangs already" if job in one.hangs else f"{job.minutes:.0f} min"
            care = f"; {cares(job.hazards)}" if job.hazards else ""
            yield f"  {job.words}, {spent}{care}"
            asked += job.hazards
        if not one.way.jobs:
            yield "  nothing to rig"
        if one.way.too_dark:
            yield (
                "  TOO DARK: a window in frame falls below its look in this time, what hangs in it "
                "too; see gap"
            )
        for name in one.way.unsolved:
            yield (
                f"  NOT SOLVED: no gel brings {name} down, nobody can tent it; a curtain, another "
                "angle: see gap"
            )
    yield ""
    yield from dropped(found)
    yield _summary(found)
    yield from clashes(found)
    yield ""
    yield from in_full(asked)
    yield WEATHER
    yield SUN


def dropped(found: Ordered) -> Iterable[str]:
    """What the day has no time for."""
    for setup in found.best.dropped:
        yield (
            f"DOES NOT FIT: {setup.name}, {setup.minutes:g} min, worth {setup.worth:g}: no start "
            "leaves time to rig it, shoot it and strike it beside the others"
        )


def clashes(found: Ordered) -> Iterable[str]:
    """Setups that want the same dusk, and how far the sun moves between those that match."""
    if found.dusky:
        names = " and ".join(setup.name for setup in found.dusky)
        yield f"ONE DUSK FOR BOTH: {names}; it comes once, give one of them another day or black"
    for group, moved in found.apart_deg.items():
        fits = "" if moved <= MATCH_DEG else f", MORE THAN {MATCH_DEG:g}°: its patch will not match"
        yield f"{group}: the sun moves {moved:.0f}° from its first shot to its last{fits}"


def _off(one: RiggingPlan) -> str:
    if one.unsolved:
        return "unmet"
    return "dark" if one.too_dark else f"{one.stops:.1f}"


def _summary(found: Ordered) -> str:
    best, filed = found.best, found.as_filed
    spent = best.rig_minutes + best.strike_minutes
    words = (
        f"rigging {best.rig_minutes:.0f} min, striking {best.strike_minutes:.0f} min, "
        f"{best.stops:.1f} stops off in all; proven the least on quarter hours, a stop counted as "
        f"{STOP_MINUTES:g} min, a window that is too dark or not solved as {UNMET_STOPS:g} stops"
    )
    if [one.way.setup.name for one in best.turns] == [one.way.setup.name for one in filed.turns]:
        return f"{words}; the file's own order is the best"
    saved = filed.rig_minutes + filed.strike_minutes - spent
    left = len(filed.dropped) - len(best.dropped)
    names = ", ".join(setup.name for setup in filed.dropped)
    more = f"; it leaves out {names}" if left > 0 else ""
    worse = filed.stops - best.stops
    unmet = [turn.way.setup.name for turn in filed.turns if turn.way.too_dark or turn.way.unsolved]
    if len(unmet) > sum(1 for turn in best.turns if turn.way.too_dark or turn.way.unsolved):
        more += f"; but nothing brings the look of {', '.join(unmet)} then"
    return (
        f"{words}; the file's order takes {abs(saved):.0f} min {'less' if saved < 0 else 'more'} "
        f"and is {abs(worse):.1f} stops {'better' if worse < 0 else 'worse'}{more}"
    )
