"""Which day: ranked whole days as JSON, rows and words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from ..day.days import EQUAL_MINUTES, FLAG_MINUTES, SURE, DayRun, RankedDay, RankedDays, Shoot
from ..day.order import Ordered
from ..location.read import Location
from . import jobs, weather
from . import order as order_report
from .answers import Answer, fields, iso, origin, place
from .cautions import SUN, WEATHER
from .document import Block, Document, Moment, More, Said, Section, Table
from .words import outdoors, over

ROWS = {"days": ("days",), "setups": ("days", "setups")}  # of its answer, by kind
MOST_RUNS = 6  # that are told without --more
PART_WORDS = {
    "rigging": "rigging",
    "striking": "striking",
    "off_look": "windows off their look when all hangs",
    "treatments": "gel, cloth and tents in the picture",
    "false_hour": "dusk played at another hour",
    "does_not_fit": "setups that do not fit",
}


def kept(location: Location, day: date, ordered: Ordered) -> Answer:
    """What is kept of a day that was worked out exactly: its JSON, and words on what is amiss."""
    return {
        "answer": order_report.day_answer(location, day, ordered),
        "amiss": [*order_report.dropped(ordered), *order_report.clashes(ordered)],
    }


def answer(
    location: Location, span: tuple[date, date], ranked: RankedDays, skies: Sequence[str]
) -> Answer:
    """Answer of `sunplan days`."""
    return {
        **origin(location),
        "place": place(location),
        "from_date": span[0].isoformat(),
        "to_date": span[1].isoformat(),
        "skies": list(skies),
        "weather": weather.answer(ranked.odds),
        "outlines_off_by": ranked.off,
        "no_working_day": [day.isoformat() for day in ranked.closed],
        "days": [_day(day, location.timezone) for day in ranked.days],
    }


def _day(day: RankedDay, zone: str) -> Answer:
    outlined = {
        "date": day.day.isoformat(),
        **fields(day, "score", "parts"),
        "setups": [_setup(shoot, zone) for shoot in day.shoots],
        "does_not_fit": [
            {"setup": name, "short_minutes": None, "concessions": []} for name in day.dropped
        ],
        "proven": False,
    }
    of_order = outlined if day.told is None else day.told["answer"]
    shares = [shoot.sun_share for shoot in day.shoots]
    setups = [
        {**setup, "sun_share": share}
        for setup, share in zip(of_order["setups"], shares, strict=True)
    ]
    return {
        **of_order,
        "setups": setups,
        **fields(day, "exact", "outline_score", "sun_share"),
    }


def _setup(shoot: Shoot, zone: str) -> Answer:
    return {
        **fields(shoot, "setup", "room"),
        "from": iso(shoot.start_s, zone),
        "to": iso(shoot.end_s, zone),
        "ready": iso(shoot.ready_s, zone),
        **fields(shoot, "rig_minutes", "strike_minutes"),
        "over_stops": shoot.stops,
    }


def report(
    location: Location, span: tuple[date, date], ranked: RankedDays, skies: Sequence[str]
) -> Document:
    """The days for people: on which to go, why, its order; then every date for those who ask."""
    said: list[Block] = []
    more: list[Block] = []
    if ranked.days:
        runs = ranked.runs
        said += [
            Section("best", None, [_runs(runs[:MOST_RUNS], ranked), order_report.WINDOWS]),
            *_why(runs),
            *_order(ranked.days[0], location.timezone),
        ]
        every = [Section("every", "Every date, the best first", [_every(ranked)])]
        more += [More("every date", every), More("how a date is scored", [_scored(ranked)])]
    closed = (
        [
            f"no working day on {len(ranked.closed)} dates, the first {ranked.closed[0]}: sunset "
            "comes too early"
        ]
        if ranked.closed
        else []
    )
    return Document(
        f"{location.site.name}, {_span(span)}, local time ({location.timezone})",
        [
            *said,
            *more,
            Section("notes", None, [*closed, *weather.lines(ranked.odds), WEATHER, SUN]),
        ],
        intro=[
            _verdict(ranked, skies),
            *outdoors([exterior.name for exterior in location.exterior]),
        ],
    )


def _span(span: tuple[date, date]) -> str:
    return f"{span[0]}" if span[0] == span[1] else f"{span[0]} to {span[1]}"


def _verdict(ranked: RankedDays, skies: Sequence[str]) -> str:
    """On which date to go, and how many of the setups it holds."""
    if not ranked.days:
        return "no date has a working day: sunset leaves none"
    best = ranked.days[0]
    run = next(run for run in ranked.runs if best in run.days)
    equal = f" ({_run(run)}: equal within {EQUAL_MINUTES:g} min)" if len(run.days) > 1 else ""
    return (
        f"go on {best.day:%A} {best.day}{equal}: {_fit(best)}, score {best.score:.0f} (minutes, "
        f"lower is better); for {' and '.join(skies)} sky"
    )


def _fit(day: RankedDay) -> str:
    every = len(day.shoots) + len(day.dropped)
    if day.dropped:
        return f"{len(day.shoots)} of {every} setups fit"
    return "all setups fit" if every > 1 else "the setup fits"


def _run(run: DayRun) -> str:
    """Its dates, of which no two are a year apart."""
    first, last = run.first, run.last
    if first == last:
        return _short(first)
    month = "" if (first.year, first.month) == (last.year, last.month) else f" {first:%b}"
    return f"{first.day}{month} – {_short(last)}"


def _short(day: date) -> str:
    return f"{day.day} {day:%b}"


def _runs(runs: Sequence[DayRun], ranked: RankedDays) -> Table:
    """Stretches of dates that are as good as one another, the best first."""
    with_odds = ranked.odds is not None
    head = ("dates", "best", "fit", "score", "rig, strike", "windows", "sun", "does not fit")
    rows = [
        (
            _run(run),
            _short(run.best.day),
            f"{len(run.best.shoots)}",
            f"{run.best.score:.0f}",
            f"{jobs.whole(run.best.parts['rigging'] + run.best.parts['striking'])} min",
            over(sum(shoot.stops for shoot in run.best.shoots)),
            _percent(run.best.sun_share),
            ", ".join(run.best.dropped) or "–",
        )
        for run in runs
    ]
    sun = head.index("sun")
    if not with_odds:
        return Table(head[:sun] + head[sun + 1 :], [row[:sun] + row[sun + 1 :] for row in rows])
    return Table(head, rows)


def _percent(share: float | None) -> str:
    return "–" if share is None else f"{100 * share:.0f} %"


def _why(runs: Sequence[DayRun]) -> Iterator[Section]:
    """Why the first stretch of dates beats the second."""
    if len(runs) < 2:
        return
    best, second = runs[0].best, runs[1].best
    lines = [*_differences(best, second)]
    if not lines:
        yield Section("why", None, [f"{best.day} and {second.day} are equal: take either"])
        return
    heading = f"Why {best.day} beats {second.day}, by {second.score - best.score:.0f}"
    yield Section("why", heading, lines)


def _differences(best: RankedDay, second: RankedDay) -> Iterator[str]:
    """Which parts of the score differ, the most first; and which setups."""
    parts = {name: second.parts[name] - best.parts[name] for name in best.parts}
    for name, minutes in sorted(parts.items(), key=lambda part: -abs(part[1])):
        if abs(minutes) < 0.5:
            continue
        words = PART_WORDS.get(name, name.replace("_", " "))
        if name == "does_not_fit":
            lost = [setup for setup in second.dropped if setup not in best.dropped]
            words += f" ({', '.join(lost)})" if lost else ""
        yield f"{words}: {abs(minutes):.0f} {'less' if minutes > 0 else 'more'}"
    there = {shoot.setup: shoot for shoot in second.shoots}
    for shoot in best.shoots:
        other = there.get(shoot.setup)
        if other is not None and abs(other.stops - shoot.stops) >= 0.5:
            yield f"{shoot.setup}: windows {over(shoot.stops)}, then {over(other.stops)}"


def _order(best: RankedDay, zone: str) -> Iterator[Section]:
    """The order of the best day, a line a setup."""
    rows = [
        (
            f"{Moment(shoot.start_s, zone)} – {Moment(shoot.end_s, zone)}",
            f"{shoot.setup} ({shoot.room})",
            f"{jobs.whole(shoot.strike_minutes + shoot.rig_minutes)} min",
            f"{Moment(shoot.ready_s, zone)}",
            "UNMET" if shoot.unmet else over(shoot.stops),
            *([_percent(shoot.sun_share)] * (best.sun_share is not None)),
        )
        for shoot in best.shoots
    ]
    head = ("shoot", "setup", "turnaround", "ready", "windows")
    columns = (*head, *(["sun"] * (best.sun_share is not None)))
    amiss = [] if best.told is None else best.told["amiss"]
    blocks: list[Said | Table] = [*([Table(columns, rows)] if rows else []), *amiss]
    yield Section("order", f"{best.day:%A} {best.day}, as `order` has it in full", blocks)


def _every(ranked: RankedDays) -> Table:
    return Table(
        ("date", "score", "fit", "windows", "exact", "sun", "order"),
        [
            (
                f"{day.day}",
                f"{day.score:.1f}",
                f"{len(day.shoots)}",
                over(sum(shoot.stops for shoot in day.shoots)),
                "yes" if day.exact else "no",
                _percent(day.sun_share),
                ", ".join(shoot.setup for shoot in day.shoots) or "nothing fits",
            )
            for day in ranked.days
        ],
    )


def _listed() -> str:
    return ", ".join(PART_WORDS.values())


def _scored(ranked: RankedDays) -> Section:
    exact = sum(day.exact for day in ranked.days)
    return Section(
        "score",
        None,
        [
            f"score: the sum of minutes, and of what counts as minutes: {_listed()}",
            f"every date is outlined: light every 5 minutes, sun on a mark as "
            f"one flag of {FLAG_MINUTES:g} min; the {exact} best are worked out as `order` "
            f"does, the best {min(SURE, exact)} of all among them; there the outline was off by "
            f"{ranked.off:.1f} at most",
            "odds of sun are told beside a date and count for nothing in its score",
        ],
    )
