"""Which hours: JSON, CSV and words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from ..day.dusk import Dusk
from ..day.hours import SetupHours
from ..day.quarter_hours import HourFacts
from ..day.rigging_plan import STOP_MINUTES, UNMET_STOPS, RiggingPlan
from ..day.stretch import Stretch, WindowFact
from ..day.tolerance import Firm
from ..light.matching import MatchingInterval
from ..location.read import Location
from ..room.best_measurement import BestMeasurement
from ..room.sun_check import OpeningSun, SunCheck, SunState
from ..sun.local_time import MINUTE_S, clock_to_unix
from . import best_measurement
from .answers import Answer, fields, interval, iso, names, place, ranges
from .cautions import SUN, WEATHER
from .document import Block, Document, Line, Moment, Said, Section, Table, Text, text
from .gap import dressed
from .rows import Record
from .words import bearing, between, left_open, lies, signed

BEHIND: dict[SunState, str] = {
    "down": "the sun is down",
    "skyline": "the skyline hides the sun",
    "behind": "the sun stands behind its wall",
    "reveal": "its reveal is too deep for the sun's angle",
    "block": "something outside stands before the sun",
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
                **fields(dusk, "setup", "opening", "sky"),
                "date": dusk.day.isoformat(),
                "fits": _fits(dusk.fits, zone),
                "a_stop_more_inside": _fits(dusk.brighter, zone),
                "a_stop_less_inside": _fits(dusk.darker, zone),
            }
            for dusk in dusks
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
    """The hours for people; `odds` says what is known of the weather.

    `narrow` is what to measure first for the sun on these marks on the first date.
    """
    return Document(
        f"{location.site.name}, {_span(dates)}, local time ({location.timezone})",
        [
            *(_setup(location, dates, hours, skies) for hours in setups),
            *_dusks(dusks, dates, location.timezone),
            Section("notes", None, [*best_measurement.line(narrow, location), *odds, WEATHER, SUN]),
        ],
        intro=[
            f"{skies[0]} sky, {skies[1]} to compare. The best hours first: what counts are minutes "
            f"to rig, {STOP_MINUTES:g} for each stop that a window is off, 2 for each minute too "
            f"short, {UNMET_STOPS * STOP_MINUTES:g} for a look that nothing brings"
        ],
    )


def _setup(
    location: Location, dates: tuple[date, date], hours: SetupHours, skies: Sequence[str]
) -> Section:
    setup, zone = hours.quarters.setup, location.timezone
    pinned = "" if setup.start is None else f"; must start at {setup.start:%H:%M}, see order"
    many = (dates[1] - dates[0]).days + 1

    def lines() -> Iterator[Line]:
        for number, stretch in enumerate(hours.stretches, 1):
            alike = f" (alike on {stretch.dates} of {many} dates)" if many > 1 else ""
            spent = _spent(stretch, clock_to_unix(stretch.day, location.day.call, zone), zone)
            under = [*reasons(stretch, zone), *_sure(stretch.firm, location)]
            under.append(f"{skies[1]}: {_other(stretch)}")
            if stretch.sky_share is not None:
                under.append(_odds(stretch, skies[0]))
            when = _when(stretch, zone, dated=many > 1)
            yield Line(f"{when}{alike}{spent}", under, number=number)

    return Section(
        "setup",
        f"{setup.name} ({setup.room}), plays {setup.plays}, {setup.minutes:g} min to shoot{pinned}",
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
    if stretch.rigging is None:
        return ""
    begin = stretch.start_s - 60.0 * stretch.rigging.minutes
    early = ", BEFORE CALL" if begin < call_s else ""
    words = f": {stretch.rigging.minutes:.0f} min to rig, from {Moment(begin, zone)}{early}"
    if stretch.lacking_minutes:
        words += f"; {stretch.lacking_minutes:.0f} min short of its {stretch.setup.minutes:g}"
    return f"{words}{_unmet(stretch.rigging)}; counts as {stretch.cost:.0f}"


def _unmet(rigging: RiggingPlan) -> str:
    """What of its cost is for a look that nothing brings."""
    counts = f"+{UNMET_STOPS * STOP_MINUTES:g}"
    if rigging.unsolved:
        return f"; nothing brings {' and '.join(rigging.unsolved)} to the look: {counts}"
    return f"; a window gets too dark for the look: {counts}" if rigging.too_dark else ""


def _odds(stretch: Stretch, sky: str) -> str:
    assert stretch.sky_share is not None
    return (
        f"{sky} on {100 * stretch.sky_share:.0f} % of days at that hour: counts as "
        f"{stretch.expected_cost:.0f} on average, {stretch.worst_cost:.0f} at worst"
    )


def _sure(firm: Firm | None, location: Location) -> Iterator[str]:
    """How far the ends of a stretch may move, where they may by a minute or more."""
    if firm is None:
        return
    zone, within = location.timezone, left_open(location)
    (early, late), (first, last) = firm.start_range_s, firm.end_range_s
    if not firm.certain or late >= first:
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
    off = "its windows fit" if high <= 0 else f"its windows {_range(low, high)} stops off together"
    if not stretch.windows:
        off = "no window in frame"
    rig = ""
    if stretch.other_rigging is not None:
        minutes, unmet = stretch.other_rigging.minutes, _unmet(stretch.other_rigging)
        rig = f", {minutes:.0f} min to rig{unmet}; counts as {stretch.other_cost:.0f}"
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
    if patches := _patches(behind=stretch.behind, in_frame=stretch.in_frame):
        lines.append(f"A PATCH OF SUN {patches}")
    level = " to ".join(dict.fromkeys(signed(stops) for stops in stretch.fill_stops))
    held = "leaves the shadow side dark enough" if stretch.fill_fits else "fills the shadow side"
    lines.append(f"daylight {held}: {level} stops from key")
    return lines


def _patches(*, behind: bool, in_frame: bool) -> str:
    """Where patches of sun lie that the camera sees; nothing where none does."""
    return " and ".join(["on the wall behind the face"] * behind + ["in frame"] * in_frame)


def _window(window: WindowFact) -> str:
    over, treatment = f"{window.opening} {_range(*window.over_stops)} stops over", window.treatment
    other = f", or {dressed(treatment)}" if treatment.hang is not None else ""
    many = " + ".join(gel.name for gel in window.gels)
    if window.state == "fits":
        return f"{window.opening} fits by itself"
    if window.state == "gel":
        return f"{over}: {many} {'bring' if len(window.gels) > 1 else 'brings'} it{other}"
    if window.state == "exposure":
        gel = f"{many} and " if many else ""
        return f"{over}: {gel}the exposure {treatment.down_stops:.1f} down, the key up as much"
    if window.state in ("black", "tent"):
        cure = "no gel keeps the sun out of it" if treatment.sun_in_frame else "no gel brings it"
        only = "only black" if window.state == "black" else "only a tent outside"
        return f"{over}: {cure}, {only}{other}"
    if window.state == "dressing":
        return f"{over}: only {dressed(treatment)} brings it"
    if window.state == "nothing":
        return f"{over}: NOTHING BRINGS IT; another angle or another hour"
    if window.state == "dark":
        return f"{window.opening} TOO DARK for the look, {signed(window.stops[0])} stops"
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


def _dusks(dusks: Sequence[Dusk], dates: tuple[date, date], zone: str) -> Iterator[Section]:
    days, many = len({dusk.day for dusk in dusks}), (dates[1] - dates[0]).days + 1
    cases: dict[tuple[str, str], list[Dusk]] = {}
    for dusk in dusks:
        cases.setdefault((dusk.setup, dusk.opening), []).append(dusk)
    if cases:
        yield Section(
            "dusk",
            f"Dusk, {days} of {many} dates: when a window in frame fits by itself",
            [
                Line(
                    f"{setup}: {opening}; from – to (minutes)", _times(case, zone, alone=days == 1)
                )
                for (setup, opening), case in cases.items()
            ],
        )


def _times(dusks: Sequence[Dusk], zone: str, *, alone: bool) -> Iterator[Block]:
    """When one window fits: a date alone with a stop more and less of light inside as well."""

    def clocks(dusk: Dusk, fits: Sequence[MatchingInterval], *, evening: bool) -> str:
        return ", ".join(
            f"{between((fit.start_s, fit.end_s), zone)} ({fit.minutes:.0f})"
            for fit in fits
            if dusk.evening(fit) == evening
        )

    rows = [
        (
            dusk.day.isoformat(),
            dusk.sky,
            *[label] * alone,
            *(clocks(dusk, fits, evening=late) or "—" for late in (False, True)),
        )
        for dusk in dusks
        for label, fits in (
            ("as set", dusk.fits),
            ("a stop more", dusk.brighter),
            ("a stop less", dusk.darker),
        )
        if alone or fits is dusk.fits
    ]
    light = ["light inside"] * alone
    yield Table(("date", "sky", *light, "morning", "evening"), rows, grouped=True)
    if not alone:
        yield from _moves(dusks)


def _moves(dusks: Iterable[Dusk]) -> Iterator[str]:
    """What a stop more or less light in the room does to the minutes, where it only moves them."""
    moves = [
        abs(moved.start_s - fit.start_s) / MINUTE_S
        for dusk in dusks
        for others in (dusk.brighter, dusk.darker)
        for late in (False, True)
        for fit, moved in zip(
            *([fit for fit in fits if dusk.evening(fit) == late] for fits in (dusk.fits, others)),
            strict=False,
        )
    ]
    if moves:
        span = " to ".join(dict.fromkeys(f"{minutes:.0f}" for minutes in (min(moves), max(moves))))
        yield (
            f"with a stop more light inside {span} min later in the morning, earlier in the "
            "evening; with a stop less the other way"
        )


def why(check: SunCheck, facts: HourFacts, skies: Sequence[str]) -> Line:
    """One moment of one setup in full, before anything is rigged."""
    setup = facts.quarters.setup
    return Line(
        f"{setup.name} ({setup.room}) at {Moment(check.moment_s, facts.location.timezone)}: sun "
        f"{signed(check.altitude_deg)}° high, {bearing(check.bearing_deg)}",
        _why(check, facts, skies),
    )


def _why(check: SunCheck, facts: HourFacts, skies: Sequence[str]) -> Iterator[Said]:
    if not facts.quarters.sunny:
        yield "under this sky no sun shines; where it does:"
    for opening in check.openings:
        yield f"{opening.opening}: " + _comes(opening)
    levels, sun = facts.quarters.levels, facts.sun
    over, under = levels.over_stops, levels.under_stops
    for index, seen in enumerate(levels.windows):
        low, high = levels.bands[index]
        verdict = "fits by itself"
        if over[0, index]:
            verdict = f"{over[0, index]:.1f} over the middle"
        elif under[0, index]:
            verdict = f"{under[0, index]:.1f} under the middle, too dark"
        yield (
            f"{seen.opening.name} in frame: {signed(float(levels.stops[0, index]))} stops, wanted "
            f"{signed(float(low))} to {signed(float(high))}: {verdict}"
        )
    yield (
        f"daylight on the face: key side {signed(float(levels.face_stops[0]))}, shadow side "
        f"{signed(float(levels.fill_stops[0]))} stops from key; wanted at most "
        f"{signed(facts.look.fill[1])} on the shadow side"
    )
    patches = _patches(behind=bool(sun.behind[0]), in_frame=bool(sun.in_frame[0]))
    yield f"sun patch: {patches or 'none in frame'}"
    counts = facts.terms(levels, sunny=facts.quarters.sunny)
    terms = [(words, float(minutes[0])) for words, minutes in counts if minutes[0]]
    counted = ", ".join(f"{words} {minutes:.0f}" for words, minutes in terms)
    yield (
        f"off the look by {sum(minutes for _, minutes in terms):.0f} min, rigging left aside"
        + (f": {counted}" if counted else "")
    )
    yield f"{skies[1]}: {_compared(facts)}"


def _compared(facts: HourFacts) -> str:
    quarters = facts.quarters
    other = quarters.other_levels
    over, under = other.over_stops, other.under_stops
    windows = [
        f"{seen.opening.name} {signed(float(other.stops[0, index]))} stops"
        + (f", {over[0, index]:.1f} over" if over[0, index] else "")
        + (f", {under[0, index]:.1f} under" if under[0, index] else "")
        for index, seen in enumerate(other.windows)
    ]
    fill = f"shadow side {signed(float(other.fill_stops[0]))} stops from key"
    return "; ".join([*windows, fill])


def _comes(sun: OpeningSun) -> Text:
    if sun.state != "in":
        angle = ""
        if sun.state in ("reveal", "behind") and sun.off_deg is not None:
            angle = f", {abs(sun.off_deg):.0f}° from straight before it"
        return text(f"no sun: {BEHIND[sun.state]}{angle}")
    where = ("", "") if sun.patch_position is None else (", its patch ", lies(sun.patch_position))
    marks = f", ON {' and '.join(sun.marks)}" if sun.marks else ", on no mark"
    return text("sun comes in", *where, marks)
