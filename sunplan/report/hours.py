"""Which hours: JSON, CSV and words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from ..day.dusk import Dusk
from ..day.hours import SetupHours
from ..day.rigging_plan import STOP_MINUTES, UNMET_STOPS, RiggingPlan
from ..day.stretch import LACKING_MINUTES, PATCH_STOPS, ScorePart, Stretch, WindowFact
from ..day.tolerance import Firm
from ..light.matching import MatchingInterval
from ..location.read import Location
from ..room.best_measurement import BestMeasurement
from ..sun.local_time import MINUTE_S, clock_to_unix
from . import best_measurement, dusk
from .answers import Answer, fields, interval, iso, names, place, ranges
from .cautions import SUN, WEATHER
from .document import Document, Line, Moment, More, Said, Section
from .gap import TENT, dressed
from .jobs import in_short, whole
from .rows import Record
from .words import left_open, over, spread

# Parts of a score, in words.
PARTS: dict[ScorePart, str] = {
    "rig": "to rig",
    "off_look": "for stops off its look",
    "unmet": "for a look that nothing brings",
    "sun_patch": "for a patch of sun in frame",
    "sun_in_window": "for the sun in a window",
    "too_short": "for being too short",
}


def _fits(fits: Sequence[MatchingInterval], zone: str) -> list[Answer]:
    return [{**interval(fit, zone), "minutes": fit.minutes} for fit in fits]


def _window_answer(window: WindowFact) -> Answer:
    return {
        **fields(window, "opening", "state"),
        "gels": names(window.gels),
        **fields(window.treatment, "down_stops", "hang"),
        "hang_gels": names(window.treatment.hang_gels),
        **fields(window, "stops", "over_stops"),
    }


def _stretch(stretch: Stretch, zone: str) -> Answer:
    rigging = stretch.rigging
    return {
        "date": stretch.day.isoformat(),
        "alike_dates": stretch.dates,
        **interval(stretch, zone),
        "sun_on_mark": list(stretch.on_mark),
        "sun_behind": stretch.behind,
        "sun_in_frame": stretch.in_frame,
        "windows": [_window_answer(window) for window in stretch.windows],
        **fields(stretch, "fill_stops", "fill_fits"),
        "rig_minutes": None if rigging is None else rigging.minutes,
        "off_stops": None if rigging is None else rigging.stops,
        "lacking_minutes": stretch.lacking_minutes,
        "cost_minutes": stretch.cost,
        "score_parts": {
            f"{part}_minutes": minutes for part, minutes in stretch.score_parts.items()
        },
        "other_sky": {"off_stops": list(stretch.other_off), "cost_minutes": stretch.other_cost},
        "sky_share": stretch.sky_share,
        "expected_cost_minutes": stretch.expected_cost,
        "worst_cost_minutes": stretch.worst_cost,
        "reasons": reasons(stretch, zone),
        **({} if stretch.firm is None else ranges(stretch.firm, zone)),
    }


def answer(
    location: Location,
    span: tuple[date, date],
    setups: Sequence[SetupHours],
    dusks: Sequence[Dusk],
    skies: Sequence[str],
    narrow: BestMeasurement | None,
) -> Answer:
    """Answer of `sunplan hours`."""
    zone = location.timezone
    return {
        "location": location.site.name,
        "from_date": span[0].isoformat(),
        "to_date": span[1].isoformat(),
        "timezone": zone,
        "place": place(location),
        "sky": skies[0],
        "other_sky": skies[1],
        "narrow": best_measurement.answer(narrow, zone),
        "setups": [
            {
                "setup": hours.quarters.setup.name,
                "plays": hours.quarters.setup.plays,
                "stretches": [_stretch(stretch, zone) for stretch in hours.stretches],
            }
            for hours in setups
        ],
        "dusks": [
            {
                **fields(match, "setup", "opening", "sky"),
                "date": match.day.isoformat(),
                "fits": _fits(match.fits, zone),
                "a_stop_more_inside": _fits(match.brighter, zone),
                "a_stop_less_inside": _fits(match.darker, zone),
            }
            for match in dusks
        ],
    }


def quarter_hours(
    location: Location, setups: Sequence[SetupHours]
) -> Iterator[tuple[Record, list[Record]]]:
    """All quarter hours, and what the windows in frame are in each."""
    zone = location.timezone
    for hours in setups:
        quarters = hours.quarters
        sun, levels = quarters.sunlight, quarters.levels
        over, under = levels.over_stops, levels.under_stops
        names = [opening.name for opening in quarters.setup.in_room.opening]
        for row, moment in enumerate(quarters.moments.tolist()):
            quarter = {
                "setup": quarters.setup.name,
                "time": iso(moment, zone),
                "sun_on_mark": [n for n, on in zip(names, sun.on_mark[row], strict=True) if on],
                "sun_behind": bool(sun.behind[row]),
                "sun_in_frame": bool(sun.in_frame[row]),
                "face_stops": float(levels.face_stops[row]),
                "fill_stops": float(levels.fill_stops[row]),
            }
            yield (
                quarter,
                [
                    {
                        "window": seen.opening.name,
                        "stops": float(levels.stops[row, column]),
                        "over_stops": float(over[row, column]),
                        "under_stops": float(under[row, column]),
                        "sun_in_window": bool(levels.sun_in_frame[row, column]),
                    }
                    for column, seen in enumerate(levels.windows)
                ],
            )


def report(
    location: Location,
    dates: tuple[date, date],
    setups: Sequence[SetupHours],
    dusks: Sequence[Dusk],
    skies: Sequence[str],
    odds: Sequence[str],
    narrow: BestMeasurement | None,
) -> Document:
    """The hours for people: each setup's best stretch, then the next; why is for more.

    `odds` says what is known of the weather; `narrow` is what to measure first for the sun on
    these marks on the first date.
    """
    first = best_measurement.line(narrow, location)
    return Document(
        f"{location.site.name}, {_span(dates)}, local time ({location.timezone})",
        [
            Section("best", None, [_best(location, dates, hours, skies[0]) for hours in setups]),
            *dusk.matches(dusks, location.timezone, skies[0]),
            More(
                "why, and how each stretch is scored",
                [
                    _counted(skies),
                    *(_setup(location, dates, hours, skies) for hours in setups),
                ],
            ),
            *dusk.sky_by_sky(dusks, dates, location.timezone),
            *([More("what to measure first", first)] if first else []),
            Section("notes", None, [*odds, WEATHER, SUN]),
        ],
        intro=[f"{skies[0]} sky; the best stretch of each setup; score: minutes, lower is better"],
    )


def _counted(skies: Sequence[str]) -> Section:
    """What the score is made of."""
    said = (
        f"Score, {skies[0]} sky, {skies[1]} to compare: minutes to rig, {STOP_MINUTES:g} for each "
        f"stop that a window is off its look, {LACKING_MINUTES:g} for each minute too short, "
        f"{UNMET_STOPS * STOP_MINUTES:g} for a look that nothing brings, "
        f"{PATCH_STOPS * STOP_MINUTES:g} for a patch of sun in frame; lower is better"
    )
    return Section("score", None, [said])


def _best(location: Location, dates: tuple[date, date], hours: SetupHours, sky: str) -> Line:
    """A setup's best stretch: when, what hangs, how far its windows are off; then the next."""
    setup, zone = hours.quarters.setup, location.timezone
    if not hours.stretches:
        return Line(f"{setup.name}: no quarter hour in this time")
    dated = dates[0] != dates[1]
    best, *others = hours.stretches
    call_s = clock_to_unix(best.day, location.day.call, zone)
    pinned = "" if setup.start is None else f"; must start at {setup.start:%H:%M}, see order"
    rigging = best.rigging
    windows = [_standing(window) for window in best.windows] or ["no window in frame"]
    hangs = [] if rigging is None else [in_short(rigging.jobs)]
    under: list[Said] = [
        "; ".join([*windows, *hangs]),
        _score(best)
        + _later(best, location)
        + ("" if best.sky_share is None else f"; {_odds(best, sky)}"),
    ]
    if best.firm is not None and _doubtful(best.firm):
        under += _sure(best.firm, location)
    if others:
        next_ones = (f"{_when(it, zone, dated=dated)} score {it.cost:.0f}" for it in others)
        under.append(f"next: {'; '.join(next_ones)}")
    return Line(
        f"{setup.name}: {_when(best, zone, dated=dated)}{_spent(best, call_s, zone)}{pinned}", under
    )


def _standing(window: WindowFact) -> str:
    """How a window in frame stands against its look before anything hangs."""
    if window.state == "fits":
        return f"{window.opening} matches untreated"
    if window.state == "sun":
        return f"THE SUN STANDS IN {window.opening}"
    if window.state == "dark":
        return f"{window.opening} TOO DARK"
    return f"{window.opening} {_range(*window.over_stops)} over its look"


def _score(stretch: Stretch) -> str:
    """The score with what it is the sum of."""
    parts = [
        f"{minutes:.0f} {PARTS[part]}"
        for part, minutes in stretch.score_parts.items()
        if round(minutes)
    ]
    return f"score {stretch.cost:.0f}: {', '.join(parts)}"


def _setup(
    location: Location, dates: tuple[date, date], hours: SetupHours, skies: Sequence[str]
) -> Section:
    """All of a setup's stretches, with what speaks for each and against it."""
    setup, zone = hours.quarters.setup, location.timezone
    pinned = "" if setup.start is None else f"; must start at {setup.start:%H:%M}, see order"
    many = (dates[1] - dates[0]).days + 1

    def lines() -> Iterator[Line]:
        for number, stretch in enumerate(hours.stretches, 1):
            alike = f" (alike on {stretch.dates} of {many} dates)" if many > 1 else ""
            spent = _spent(stretch, clock_to_unix(stretch.day, location.day.call, zone), zone)
            under = [_score(stretch), *reasons(stretch, zone), *_sure(stretch.firm, location)]
            under.append(f"{skies[1]}: {_other(stretch)}")
            if stretch.sky_share is not None:
                under.append(_odds(stretch, skies[0]))
            when = _when(stretch, zone, dated=many > 1)
            yield Line(f"{when}{alike}{spent}", under, number=number)

    return Section(
        "setup",
        f"{setup.name} ({setup.room}), reads as {setup.plays}, {setup.minutes:g} min to shoot"
        f"{pinned}",
        lines() if hours.stretches else ["no quarter hour in this time"],
    )


def _span(span: tuple[date, date]) -> str:
    first, last = span
    if first == last:
        return f"{first:%A} {first.isoformat()}"
    return f"{first.isoformat()} to {last.isoformat()}"


def _when(stretch: Stretch, zone: str, *, dated: bool) -> str:
    start, end = Moment(stretch.start_s, zone), Moment(stretch.end_s, zone)
    times = f"{start}" if start == end else f"{start} – {end}"
    return f"{stretch.day:%a} {stretch.day.isoformat()} {times}" if dated else times


def _spent(stretch: Stretch, call_s: float, zone: str) -> str:
    """How long rigging takes, from when, and what is short of it."""
    if stretch.rigging is None:
        return ""
    minutes = whole(stretch.rigging.minutes)
    begin_s = stretch.start_s - MINUTE_S * minutes
    start = "needs call at" if begin_s < call_s else "from"
    words = f"; rig {minutes} min, {start} {Moment(begin_s, zone)}"
    if stretch.lacking_minutes:
        words += f"; {stretch.lacking_minutes:.0f} min short of its {stretch.setup.minutes:g}"
    return words + _unmet(stretch.rigging)


def _later(stretch: Stretch, location: Location) -> str:
    """When it is ready if it is rigged from call on, where rigging should begin before call."""
    if stretch.rigging is None:
        return ""
    zone, lunch = location.timezone, location.day.lunch
    call_s = clock_to_unix(stretch.day, location.day.call, zone)
    ready_s = call_s + MINUTE_S * whole(stretch.rigging.minutes)
    last_s = stretch.end_s - MINUTE_S * stretch.setup.minutes
    if lunch is not None:
        last_s = min(last_s, clock_to_unix(stretch.day, lunch[0], zone))
    if stretch.start_s < ready_s <= last_s:
        return f"; rigged from call on, ready at {Moment(ready_s, zone)}"
    return ""


def _unmet(rigging: RiggingPlan) -> str:
    """What of its cost is for a look that nothing brings."""
    counts = f"counts {UNMET_STOPS * STOP_MINUTES:g}"
    if rigging.unsolved:
        return f"; NOTHING BRINGS {' and '.join(rigging.unsolved)} to the look: {counts}"
    return f"; a window gets TOO DARK for the look: {counts}" if rigging.too_dark else ""


def _odds(stretch: Stretch, sky: str) -> str:
    assert stretch.sky_share is not None
    return (
        f"{sky} on {100 * stretch.sky_share:.0f} % of days at that hour: score "
        f"{stretch.expected_cost:.0f} on average, {stretch.worst_cost:.0f} at worst"
    )


def _doubtful(firm: Firm) -> bool:
    """Whether nothing of a stretch may hold."""
    return not firm.certain or firm.start_range_s[1] >= firm.end_range_s[0]


def _sure(firm: Firm | None, location: Location) -> Iterator[str]:
    """How far the ends of a stretch may move, where they may by a minute or more."""
    if firm is None:
        return
    zone, within = location.timezone, left_open(location)
    (early, late), (first, last) = firm.start_range_s, firm.end_range_s
    if _doubtful(firm):
        yield (
            f"NOT SURE: within {within} the sun may do this from {Moment(early, zone)} at the "
            f"earliest to {Moment(last, zone)} at the latest, or not at all"
        )
    elif max(late - early, last - first) >= MINUTE_S:
        yield (
            f"within {within} the sun does this surely from {Moment(late, zone)} to "
            f"{Moment(first, zone)}, perhaps from {Moment(early, zone)} to {Moment(last, zone)}"
        )


def _other(stretch: Stretch) -> str:
    low, high = stretch.other_off
    off = "its windows match untreated"
    if high > 0:
        off = f"its windows {_range(low, high)} stops off their look together"
    if not stretch.windows:
        off = "no window in frame"
    rig = ""
    if stretch.other_rigging is not None:
        minutes, unmet = stretch.other_rigging.minutes, _unmet(stretch.other_rigging)
        rig = f", rig {whole(minutes)} min{unmet}; score {stretch.other_cost:.0f}"
    return f"{off}{rig}"


def _range(low: float, high: float) -> str:
    """Two figures, or one where they are told alike.

    >>> _range(1.23, 1.21), _range(0.5, 2.0)
    ('1.2', '0.5 to 2.0')
    """
    first, last = f"{low:.1f}", f"{high:.1f}"
    return first if first == last else f"{first} to {last}"


def reasons(stretch: Stretch, zone: str) -> list[str]:
    """What speaks for a stretch and against it, in words."""
    lines = [_window(window) for window in stretch.windows]
    if not stretch.windows:
        lines.append("no window in frame")
    lines.append(_sun(stretch, zone))
    if where := patches(behind=stretch.behind, in_frame=stretch.in_frame):
        lines.append(f"A PATCH OF SUN {where}")
    held = "leaves the fill side dark enough" if stretch.fill_fits else "fills the fill side"
    lines.append(f"daylight {held}: {spread(stretch.fill_stops, 'key')}")
    return lines


def patches(*, behind: bool, in_frame: bool) -> str:
    """Where patches of sun lie that the camera sees; nothing where none does."""
    return " and ".join(["on the wall behind the face"] * behind + ["in frame"] * in_frame)


def _window(window: WindowFact) -> str:
    treatment = window.treatment
    off = f"{window.opening} {_range(*window.over_stops)} stops over its look"
    other = f", or {dressed(treatment)}" if treatment.hang is not None else ""
    many = " + ".join(gel.name for gel in window.gels)
    if window.state == "fits":
        return f"{window.opening} matches untreated"
    if window.state == "gel":
        return f"{off}: {many} {'bring' if len(window.gels) > 1 else 'brings'} it down{other}"
    if window.state == "exposure":
        gel = f"{many} and " if many else ""
        return f"{off}: {gel}stop down {treatment.down_stops:.1f}, the key up as much"
    if window.state in ("black", "tent"):
        cure = "no gel keeps the sun out of it" if treatment.sun_in_frame else "no gel is enough"
        only = "black it out" if window.state == "black" else TENT
        return f"{off}: {cure}; {only}{other}"
    if window.state == "dressing":
        return f"{off}: only {dressed(treatment)} brings it down"
    if window.state == "nothing":
        return f"{off}: NOTHING BRINGS IT DOWN; another angle or another hour"
    if window.state == "dark":
        return f"{window.opening} TOO DARK for the look, {over(window.stops[0], 'mid-grey')}"
    return f"THE SUN STANDS IN {window.opening} in frame"


def _sun(stretch: Stretch, zone: str) -> str:
    if stretch.on_mark:
        return f"SUN ON THE MARK through {' and '.join(stretch.on_mark)}: a flag"
    words = ["no sun on the mark, no flag"]
    words += [
        f"{name} until {Moment(moment_s, zone)}" for name, moment_s in stretch.since_s.items()
    ]
    words += [f"{name} from {Moment(moment_s, zone)}" for name, moment_s in stretch.until_s.items()]
    return words[0] + (f" (it comes through {', '.join(words[1:])})" if words[1:] else "")
