"""sunplan from Python: read a location, ask, and get dataclasses, tables, JSON, data frames.

    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> found = sunplan.entry(location, "2027-03-20")

Each function asks what the command of its name asks, with the same words; dates and clock times may
be text or `date` and `time`. What comes back is a `Result`: `found` are frozen dataclasses in SI
units and seconds since 1970 UTC, `answer` is what `--json` prints, `frame` a pandas data frame of
what `--csv` prints, and `print` shows the tables of the command.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, Literal, Protocol, TypeVar, get_args

from .day import arguments
from .errors import InputError
from .location.read import Location as Location
from .location.read import read as read
from .report import entry as entry_report
from .report.answers import Answer
from .report.document import Document
from .report.rows import Record, as_csv, as_frame, records
from .sun.local_time import clock_to_unix

if TYPE_CHECKING:
    import pandas as pd

    from .day.dusk import Dusk
    from .day.exterior import ExteriorDay
    from .day.hours import SetupHours
    from .day.order import Ordered
    from .day.pack import Pack
    from .day.plan import Plan
    from .day.sun_odds import Odds
    from .light.daylight import Weather
    from .light.key_light import KeyLight
    from .light.matching import MatchingInterval
    from .location.model import Setup
    from .rig.flags import SetupFlags
    from .rig.gap import SetupGap
    from .rig.negative_fill import Negative
    from .rig.room_treatment import RoomTreatment
    from .rig.takeoff import TakeOff
    from .room.best_measurement import BestMeasurement
    from .room.entry import DayEntries

T = TypeVar("T")
Date = str | date
Clock = str | time
Tell = Callable[[str], None]  # hears what is being worked on
SkyName = Literal["clear", "hazy", "broken", "overcast"]
For = Literal["sun", "any"]  # what the sun does, or any weather
ALL_SKIES: tuple[SkyName, ...] = get_args(SkyName)
SKIES: tuple[SkyName, ...] = ("clear", "overcast")  # the two that a scout must reckon with
FOR: dict[For, tuple[str, ...]] = {"sun": SKIES[:1], "any": SKIES}


def nobody(_what: str) -> None:
    """Hears nothing."""


@dataclass(frozen=True, eq=False)
class Result(Generic[T]):
    """What a question comes back with: dataclasses, and all ways to tell them.

    Attributes
    ----------
    found
        Frozen dataclasses in SI units and seconds since 1970 UTC.
    location : Location
        What was asked about; its units are those that `str` and `print` use.

    Examples
    --------
    >>> import sunplan
    >>> result = sunplan.key(sunplan.read("locations/lock-house.toml"), setup="the kettle")
    >>> print(str(result).splitlines()[3])
    the kettle: led 150 through 4x4 half, 180 W
    """

    found: T
    location: Location
    _answer: Callable[[], Answer]
    _report: Callable[[], Document]
    _records: Callable[[Answer], list[Record]]

    @cached_property
    def answer(self) -> Answer:
        """What the command prints with --json, as a dictionary."""
        return self._answer()

    @cached_property
    def records(self) -> list[Record]:
        """What the command prints with --csv, a dictionary a row."""
        return self._records(self.answer)

    @property
    def csv(self) -> str:
        """The same as text."""
        return as_csv(self.records)

    @property
    def frame(self) -> pd.DataFrame:
        """The same as a pandas data frame, its moments aware of the place's time zone."""
        return as_frame(self.records, self.location.timezone)

    @cached_property
    def document(self) -> Document:
        """What the command prints for people, before units and a medium are chosen."""
        return self._report()

    def __str__(self) -> str:
        from .write.terminal import text

        return text(self.document, self.location.site.units)


class Reporting(Protocol):
    """A module of `report/` that answers one question."""

    @property
    def ROWS(self) -> Sequence[Sequence[str]]: ...  # noqa: N802

    @property
    def answer(self) -> Callable[..., Answer]: ...

    @property
    def report(self) -> Callable[..., Document]: ...


def reported(
    found: T, location: Location, module: Reporting, *results: Any, **options: Any
) -> Result[T]:
    """What was found, told by a module of `report/` from these results."""
    return Result(
        found,
        location,
        partial(module.answer, location, *results, **options),
        partial(module.report, location, *results, **options),
        rows_of(*module.ROWS),
    )


def rows_of(*paths: Sequence[str]) -> Callable[[Answer], list[Record]]:
    """Rows of an answer by the paths to their lists."""
    return lambda answer: [row for path in paths for row in records(answer, *path)]


def entry(
    location: Location, date: Date, *, to_date: Date | None = None
) -> Result[list[DayEntries]]:
    """When direct sun comes through each opening, where it lies, which marks it touches, by date.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    date : str or date
        Local date, as text YYYY-MM-DD.
    to_date : str or date, optional
        Last date of a span; else only the first.

    Returns
    -------
    Result of list of Day
        A day a date: intervals of direct sun, each with what the file's ± does to its ends.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> found = sunplan.entry(location, "2027-03-20")
    >>> found.frame.loc[1, ["room", "opening", "from"]].tolist()
    ['bathroom', 'skylight', Timestamp('2027-03-20 09:38:...+0100', tz='Europe/Amsterdam')]
    """
    from .room.entry import day_entries

    first, last = arguments.dates(date, to_date, ("date", "to_date"))
    ahead = range((last - first).days + 1)
    found = [day_entries(location, first + timedelta(days=each)) for each in ahead]

    def answer() -> Answer:
        days = [entry_report.answer(location, day) for day in found]
        return days[0] if to_date is None else {"days": days}

    def report() -> Document:
        return Document(None, [entry_report.report(location, day) for day in found])

    def rows(answer: Answer) -> list[Record]:
        return _of_dates(answer.get("days", [answer]))

    return Result(found, location, answer, report, rows)


def _of_dates(days: Sequence[Answer]) -> list[Record]:
    return [
        row
        for day in days
        for path in entry_report.ROWS
        for row in records(day, *path, outer={"date": day["date"]})
    ]


def flags(
    location: Location,
    date: Date,
    *,
    start: Clock = "00:00",
    end: Clock = arguments.MIDNIGHT,
    setup: str | None = None,
    covers: Literal["sun", "all"] = "sun",
    sure: bool = False,
) -> Result[list[SetupFlags]]:
    """What blocks it: which flag, where, how high, and when to move it.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    date : str or date
        Local date, as text YYYY-MM-DD.
    start, end : str or time
        Clock times of the stretch that a flag must hold; the whole date if left out.
    setup : str, optional
        Only the setup of this name; else all indoors.
    covers : {"sun", "all"}
        Stop direct sun, or all light of an opening.
    sure : bool
        Flags large enough, and hung long enough, whatever is true within the file's ±.

    Returns
    -------
    Result of list of SetupFlags
        Per setup the ways for each opening, best first, and the openings that no flag closes.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> noon = {"start": "12:00", "end": "16:00", "setup": "getting ready"}
    >>> found = sunplan.flags(location, "2027-03-20", **noon)
    >>> found.found[0].taken[0].name
    '24x36 flag'
    """
    from .report import flags as flags_report
    from .rig.flags import setup_flags

    day = arguments.a_date(date)
    start_s, end_s = arguments.interval(location, day, start, end)
    found = [
        setup_flags(location, one, start_s=start_s, end_s=end_s, covers=covers, sure=sure)
        for one in arguments.setups(location, setup)
    ]
    narrow = _narrow(location, day, [one.setup for one in found])
    return reported(found, location, flags_report, day, found, sure=sure, narrow=narrow)


def _narrow(location: Location, day: date, setups: Sequence[Setup]) -> BestMeasurement | None:
    """What to measure first for sun on the marks of setups on a date, if anything may be off."""
    from .location.tolerances import unsure
    from .room.entry import day_entries

    if not unsure(location):
        return None
    return day_entries(location, day).best_measurement({(one.room, one.mark) for one in setups})


@dataclass(frozen=True, eq=False)
class Gaps:
    """How far setups are from the look, and when windows fit by themselves; under which skies."""

    setups: list[SetupGap]
    fits: list[MatchingInterval]
    weathers: list[Weather]


def gap(
    location: Location,
    date: Date,
    *,
    at: Clock | None = None,
    start: Clock | None = None,
    end: Clock | None = None,
    step: str | None = None,
    sky: SkyName | None = None,
    turbidity: float | None = None,
    direct_lux: float | None = None,
    diffuse_lux: float | None = None,
    setup: str | None = None,
) -> Result[Gaps]:
    """How far from the look: each window in frame, in stops, and what closes the gap.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    date : str or date
        Local date, as text YYYY-MM-DD.
    at : str or time, optional
        At this clock time only.
    start, end : str or time, optional
        From here to there by `step`; from sunrise until dark if all are left out.
    step : str, optional
        Such as "15min"; an hour if left out.
    sky : {"clear", "hazy", "broken", "overcast"}, optional
        How the sky is; clear and overcast, one after the other, if left out.
    turbidity : float, optional
        Linke's; the month's if left out.
    direct_lux, diffuse_lux : float, optional
        Measured, square to the sun, and level with the sun shaded off; both or none.
    setup : str, optional
        Only the setup of this name; else all indoors.

    Returns
    -------
    Result of Gaps
        Luminances in cd/m² and stops over mid-grey, illuminances of the face in lux.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood, or one measured level lacks the other.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> found = sunplan.gap(location, "2027-03-20", at="18:00", sky="clear", setup="last coffee")
    >>> found.frame.query("in_frame")[["opening", "stops", "lose_stops"]].round(1).values.tolist()
    [['canal window', 5.5, 7.0]]
    """
    from .light.daylight import Weather, skies_by_weather
    from .light.matching import matching_intervals
    from .report import gap as gap_report
    from .rig.gap import gaps

    day = arguments.a_date(date)
    chosen = arguments.setups(location, setup)
    if (direct_lux is None) != (diffuse_lux is None):
        both = f"{arguments.option_name('direct_lux')} and {arguments.option_name('diffuse_lux')}"
        raise InputError(f"{both}: give both or none")
    moments = arguments.moments(location, day, at=at, start=start, end=end, step=step)
    names: Sequence[str] = SKIES if sky is None else (arguments.one_of(sky, ALL_SKIES, "sky"),)
    weathers = [Weather(name, turbidity, direct_lux, diffuse_lux) for name in names]
    found = gaps(location, chosen, skies_by_weather(location, moments, weathers))
    waits = matching_intervals(location, chosen, [day], weathers)
    return reported(Gaps(found, waits, weathers), location, gap_report, day, found, waits)


def key(location: Location, *, setup: str | None = None) -> Result[list[KeyLight]]:
    """Is the lamp enough: its level at the face, how soft it is, what buys a stop.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    setup : str, optional
        Only the setup of this name; else all indoors.

    Returns
    -------
    Result of list of KeyLight
        Levels in lux with the lamp at full and no daylight, stops over what the exposure needs.

    Raises
    ------
    InputError
        A name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> sunplan.key(location).frame.set_index("setup").stops.round(1).to_dict()
    {'getting ready': ..., 'last coffee': ..., 'the kettle': ..., 'cannot sleep': ...}
    """
    from .light.key_light import key_lights
    from .report import key as key_report

    found = key_lights(location, arguments.setups(location, setup))
    return reported(found, location, key_report, found)


def negative(
    location: Location, date: Date, at: Clock, *, sky: SkyName = "clear", setup: str | None = None
) -> Result[list[Negative]]:
    """Negative fill: which black panel at which distance gives the contrast.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    date : str or date
        Local date, as text YYYY-MM-DD.
    at : str or time
        Clock time.
    sky : {"clear", "hazy", "broken", "overcast"}
        How the sky is.
    setup : str, optional
        Only the setup of this name; else all indoors.

    Returns
    -------
    Result of list of Negative
        Per setup the fill in lux and the ratio without a panel and with each.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> found = sunplan.negative(location, "2027-03-20", "16:00", setup="the kettle")
    >>> found.found[0].panels[0].ratio > found.found[0].before.ratio
    True
    """
    from .light.daylight import Weather, skies_by_weather
    from .report import negative as negative_report
    from .rig.negative_fill import negative as worked_out

    day = arguments.a_date(date)
    moment = clock_to_unix(day, arguments.a_clock(at, "at"), location.timezone)
    above = skies_by_weather(
        location, [moment], [Weather(arguments.one_of(sky, ALL_SKIES, "sky"))]
    )[0]
    found = [worked_out(location, one, above) for one in arguments.setups(location, setup)]
    return reported(found, location, negative_report, day, found)


@dataclass(frozen=True, eq=False)
class Hours:
    """The hours of a span of dates: setups indoors with their stretches, dusks, setups outdoors."""

    setups: list[SetupHours]
    dusks: list[Dusk]
    exteriors: dict[date, list[ExteriorDay]]
    odds: Odds | None


def hours(
    location: Location,
    from_date: Date,
    *,
    to_date: Date | None = None,
    between: str | tuple[time, time] | None = None,
    setup: str | None = None,
    sky: SkyName = "clear",
    best: int = 3,
    weather: str | Path | None = None,
    tell: Tell = nobody,
) -> Result[Hours]:
    """Which hours: stretches in which nature does the work, ranked, with their reasons.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    from_date, to_date : str or date
        First and last local date; only the first if the last is left out.
    between : str or tuple of time, optional
        Clock times such as "12:00-14:00"; from call to wrap if left out.
    setup : str, optional
        Only the setup of this name; else all, outdoors too.
    sky : {"clear", "hazy", "broken", "overcast"}
        How the sky is; overcast, or for that clear, is told beside it.
    best : int
        How many stretches a setup.
    weather : str or Path, optional
        An EPW or TMY3 file, for how often the sun shines.
    tell : callable, optional
        Hears the name of each step of the work as it begins.

    Returns
    -------
    Result of Hours
        Stretches of quarter hours, the best first: what counts are minutes, lower is better.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood, or the weather file is not one.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> found = sunplan.hours(location, "2027-03-20", between="12:00-14:00", setup="the kettle")
    >>> [one.minutes for one in found.found.setups[0].stretches]
    [120.0]
    """
    from .day.dusk import dusks
    from .day.exterior import exterior_day
    from .day.hours import hours as worked_out
    from .day.sun_odds import odds_of
    from .light.daylight import Weather

    first, last = arguments.dates(from_date, to_date, ("from_date", "to_date"))
    inside, outdoors = arguments.all_setups(location, setup)
    skies = compared(sky)
    weathers = (Weather(skies[0]), Weather(skies[1]))
    span = arguments.between(location, between)
    odds = None if weather is None else odds_of(Path(weather), location)
    found: list[SetupHours] = []
    if inside:
        found = worked_out(
            location,
            inside,
            first,
            last,
            between=span,
            weathers=weathers,
            best=best,
            odds=odds,
            tell=tell,
        )
    ends = dict.fromkeys((first, last) if outdoors else ())
    outside = {day: [exterior_day(location, setup, day) for setup in outdoors] for day in ends}
    hours = Hours(found, dusks(location, inside, first, last, weathers), outside, odds)
    return _hours_result(location, (first, last), skies, hours, _narrow(location, first, inside))


def _hours_result(
    location: Location,
    dates: tuple[date, date],
    skies: tuple[str, str],
    hours: Hours,
    narrow: BestMeasurement | None,
) -> Result[Hours]:
    """Hours indoors and outdoors as one answer, and as chapters of one document."""
    from .report import exteriors as exteriors_report
    from .report import hours as hours_report
    from .report import weather as weather_report

    indoors = location, dates, hours.setups, hours.dusks, skies

    def answer() -> Answer:
        outdoors = (exteriors_report.answer(location, *day) for day in hours.exteriors.items())
        return {
            **hours_report.answer(*indoors, narrow),
            "weather": weather_report.answer(hours.odds),
            "exteriors": list(outdoors),
        }

    def report() -> Document:
        chapters = [exteriors_report.report(location, *day) for day in hours.exteriors.items()]
        if hours.setups:
            known = weather_report.lines(hours.odds)
            chapters.insert(0, hours_report.report(*indoors, known, narrow))
        return Document(None, chapters)

    return Result(
        hours, location, answer, report, lambda _: hours_report.records(location, hours.setups)
    )


def why(
    location: Location, date: Date, at: Clock, *, sky: SkyName = "clear", setup: str | None = None
) -> Document:
    """One moment explained, setup by setup: the sun, each opening, what counts for and against it.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    date : str or date
        Local date, as text YYYY-MM-DD.
    at : str or time
        Clock time.
    sky : {"clear", "hazy", "broken", "overcast"}
        How the sky is.
    setup : str, optional
        Only the setup of this name; else all indoors.

    Returns
    -------
    Document
        For people only.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> document = sunplan.api.why(location, "2027-03-20", "16:45", setup="last coffee")
    >>> "last coffee" in document.blocks[0].said
    True
    """
    from .day.hours import facts_at
    from .light.daylight import Weather
    from .report import hours as hours_report
    from .room.sun_check import sun_check

    skies = compared(sky)
    moment = clock_to_unix(arguments.a_date(date), arguments.a_clock(at, "why"), location.timezone)
    weathers = (Weather(skies[0]), Weather(skies[1]))
    return Document(
        None,
        [
            hours_report.why(sun_check(location, room, moment), facts, skies)
            for facts in facts_at(location, arguments.setups(location, setup), moment, weathers)
            for room in [facts.quarters.setup.in_room]
        ],
    )


def compared(sky: SkyName) -> tuple[str, str]:
    """The sky to look at, and the one that `hours` compares it with: one of them has no sun."""
    arguments.one_of(sky, ALL_SKIES, "sky")
    return sky, "clear" if sky == "overcast" else "overcast"


def cut(
    location: Location,
    date: Date,
    start: Clock,
    end: Clock,
    *,
    weather: For = "any",
    setup: str | None = None,
) -> Result[tuple[list[RoomTreatment], TakeOff]]:
    """Black and gel: what each opening needs, what to cut from which roll, how tight.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    date : str or date
        Local date, as text YYYY-MM-DD.
    start, end : str or time
        Clock times of the shoot.
    weather : {"sun", "any"}
        For a clear sky only, or for a clear and an overcast one.
    setup : str, optional
        Only the setup of this name; else all indoors.

    Returns
    -------
    Result of tuple of (list of Treated, TakeOff)
        Per setup what hangs in each opening; what is cut from which roll, in metres.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> found = sunplan.cut(location, "2027-03-20", "16:30", "17:30", setup="the kettle")
    >>> found.answer["tape_m"] > 0
    True
    """
    from .light.daylight import Weather
    from .report import cut as cut_report
    from .rig.room_treatment import room_treatment
    from .rig.takeoff import takeoff

    day = arguments.a_date(date)
    start_s, end_s = arguments.interval(location, day, start, end)
    skies = FOR[arguments.one_of(weather, FOR, "weather")]
    weathers = [Weather(name) for name in skies]
    done = [
        room_treatment(location, one, start_s=start_s, end_s=end_s, weathers=weathers)
        for one in arguments.setups(location, setup)
    ]
    found = takeoff(done)
    return reported((done, found), location, cut_report, day, done, found, skies)


def order(
    location: Location, date: Date, *, weather: For = "sun", tell: Tell = nobody
) -> Result[Ordered]:
    """Which order: setups where nature does the work and the least is rigged twice.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    date : str or date
        Local date, as text YYYY-MM-DD.
    weather : {"sun", "any"}
        For a clear sky only, or for a clear and an overcast one.
    tell : callable, optional
        Hears the name of each step of the work as it begins.

    Returns
    -------
    Result of Ordered
        The best order with its times, proven on quarter hours, and the file's own beside it.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> found = sunplan.order(location, "2027-03-20").found
    >>> [turn.rigging.setup.name for turn in found.best.turns]
    ['getting ready', 'last coffee', 'cannot sleep']
    """
    from .day.order import order as worked_out
    from .light.daylight import Weather
    from .report import order as order_report

    day = arguments.a_date(date)
    skies = FOR[arguments.one_of(weather, FOR, "weather")]
    found = worked_out(
        location,
        arguments.setups(location, None),
        day,
        weathers=[Weather(name) for name in skies],
        tell=tell,
    )
    return reported(found, location, order_report, day, found, skies)


def pack(
    location: Location,
    date: Date,
    *,
    start: Clock | None = None,
    weather: For = "sun",
    best: bool = False,
    tell: Tell = nobody,
) -> Result[Pack]:
    """What to take: the most of each thing at one time, own or rent, weight, cases, minutes.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    date : str or date
        Local date, as text YYYY-MM-DD.
    start : str or time, optional
        When rigging starts; the file's call if left out.
    weather : {"sun", "any"}
        For a clear sky only, or for a clear and an overcast one.
    best : bool
        In the order and at the times that `order` finds; else in the file's.
    tell : callable, optional
        Hears the name of each step of the work as it begins.

    Returns
    -------
    Result of Pack
        Counts, kilograms, minutes for two people.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> found = sunplan.pack(location, "2027-03-20", best=True)
    >>> {"thing", "need", "get"} <= set(found.frame.columns)
    True
    """
    from .day.order import order as in_order
    from .day.pack import pack as worked_out
    from .day.running_order import SLACK_S
    from .light.daylight import Weather
    from .report import pack as pack_report

    day = arguments.a_date(date)
    setups = arguments.setups(location, None)
    skies = FOR[arguments.one_of(weather, FOR, "weather")]
    weathers = [Weather(name) for name in skies]
    if best:
        ordered = in_order(location, setups, day, weathers=weathers, tell=tell)
        setups = list(ordered.best.setups(location.timezone))
    begin = location.day.call if start is None else arguments.a_clock(start, "start")
    found = worked_out(
        location,
        setups,
        start_s=clock_to_unix(day, begin, location.timezone),
        weathers=weathers,
        slack_s=0.0 if best else SLACK_S,  # the best order's times are kept to the minute
        tell=tell,
    )
    return reported(found, location, pack_report, day, found, skies, best=best)


def plan(
    location: Location, date: Date, *, skies: Sequence[SkyName] = SKIES, tell: Tell = nobody
) -> Result[Plan]:
    """All of it for a date; `frame` is that of `entry`.

    Parameters
    ----------
    location : Location
        As `read` gives it.
    date : str or date
        Local date, as text YYYY-MM-DD.
    skies : sequence of {"clear", "hazy", "broken", "overcast"}
        Skies that the gaps are worked out for.
    tell : callable, optional
        Hears the name of each step of the work as it begins.

    Returns
    -------
    Result of Plan
        Worked out as it is asked for.

    Raises
    ------
    InputError
        The date is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> day = sunplan.plan(location, "2027-03-20", skies=["clear"])
    >>> day.answer["order"]["rig_minutes"] == day.found.ordered.best.rig_minutes
    True
    """
    from .day.plan import plan as worked_out
    from .report import plan as plan_report

    found = worked_out(location, arguments.a_date(date), skies=skies, tell=tell)
    return Result(
        found,
        location,
        lambda: plan_report.answer(found),
        lambda: plan_report.report(found),
        lambda answer: _of_dates([answer["entry"]]),
    )


def check(location: Location) -> Result[Location]:
    """What was understood of a location file: walls, openings, marks, setups; what looks odd.

    Parameters
    ----------
    location : Location
        As `read` gives it.

    Returns
    -------
    Result of Location
        Metres and true degrees.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> sunplan.check(location).frame.opening_name.tolist()[:2]
    ['street window', 'skylight']
    """
    from .report import check as check_report

    return Result(
        location,
        location,
        lambda: check_report.answer(location),
        lambda: check_report.report(location),
        rows_of(*check_report.ROWS),
    )
