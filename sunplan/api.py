"""sunplan from Python: read a location, ask, and get dataclasses, tables, JSON, data frames.

    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> result = sunplan.entry(location, "2027-03-20")

Each function asks what the command of its name asks. Its parameters are the command's options, with
underscores for dashes; a word of Python's own has one behind it: `--to-date` is `to_date`, `--from`
is `from_`. What comes back is a `Result`, which a notebook shows as the command's tables: `value`
are frozen dataclasses in SI units and seconds since 1970 UTC, `answer` is what `--json` prints,
`frame` and `frames` are pandas data frames, each of one kind of row, with units and provenance in
their `attrs`. Only `why`, which has no JSON either, gives a document for people.

What is asked in several functions means the same in all of them; a function's own docstring names
those that it shares, and says what is its own:

location : Location
    As `read` gives it.
date, to_date : str or datetime.date
    Local date, as text YYYY-MM-DD. `to_date` is the last one of a span; only the first if left out.
at, from_, to : str or datetime.time
    Local clock time, as text such as 16:30 or 4:30 pm; `to` may be 24:00, the end of the date.
setup : str, optional
    Only the setup of this name, in `entry` and `plan` with its room and mark alone; all if left
    out: those indoors, in `hours` those outdoors too.
sky : {"clear", "hazy", "broken", "overcast"}
    How the sky is.
weather : {"sun", "any"}
    For what the sun does, under a clear sky; or for any weather, under a clear and an overcast one.
tell : callable, optional
    Hears the name of each step of the work as it begins.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, time, timedelta
from functools import cached_property, partial, wraps
from inspect import signature
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, Literal, ParamSpec, Protocol, TypeVar

from .day import arguments
from .errors import InputError
from .light.sky_names import SCOUTED, SKIES_OF, SKY_NAMES, SkyName, WeatherName
from .location.read import Location as Location
from .location.read import read as read
from .report.answers import Answer, origin
from .report.document import Document
from .report.rows import Kinds, Record, all_kinds, as_csv, as_frame, kinds

if TYPE_CHECKING:
    import pandas as pd

    from .day.days import RankedDays
    from .day.hours import Hours
    from .day.order import Ordered
    from .day.pack import Pack
    from .day.plan import Plan
    from .light.daylight import Weather
    from .light.key_light import KeyLight
    from .light.matching import MatchingInterval
    from .light.resolved import ResolvedSetup
    from .rig.flags import SetupFlags
    from .rig.gap import SetupGap
    from .rig.negative_fill import Negative
    from .rig.room_treatment import RoomTreatment
    from .rig.takeoff import TakeOff
    from .room.entry import DayEntries

T = TypeVar("T")
P = ParamSpec("P")
Date = str | date
Clock = str | time
Tell = Callable[[str], None]


@dataclass(frozen=True, eq=False, repr=False)
class Result(Generic[T]):
    """What a question comes back with: dataclasses, and all ways to tell them.

    Attributes
    ----------
    value
        Frozen dataclasses in SI units and seconds since 1970 UTC.
    location : Location
        What was asked about; its units are those that `str` and `print` use.
    question : str
        The function that was asked.
    options : mapping
        What it was asked with, those included that were left out; texts, numbers, None.

    Examples
    --------
    >>> import sunplan
    >>> result = sunplan.key(sunplan.read("locations/lock-house.toml"), setup="the kettle")
    >>> result
    <sunplan.Result of key(setup='the kettle') for "Lock-keeper's house">
    >>> print(str(result).splitlines()[0])
    Lock-keeper's house: key lamps at full, by night
    >>> result.frame[["key_side_lux", "watts"]].round().values.tolist()
    [[4495.0, 180.0]]
    >>> result.frame.attrs["units"]["key_side_lux"]
    'lx'
    """

    value: T
    location: Location
    _answer: Callable[[], Answer]
    _report: Callable[[], Document]
    _kinds: Callable[[Answer], Mapping[str, list[Record]]]
    _records: Callable[[Answer], list[Record]] | None = None
    weathers: Sequence[Weather] = ()
    columns: Mapping[str, Sequence[str]] = field(default_factory=dict)
    question: str = ""
    options: Mapping[str, Any] = field(default_factory=dict)

    @cached_property
    def answer(self) -> Answer:
        """What the command prints with --json, as a dictionary."""
        return self._answer()

    @cached_property
    def records(self) -> list[Record]:
        """What the command prints with --csv, a dictionary a row."""
        if self._records is not None:
            return self._records(self.answer)
        return next(iter(self._kinds(self.answer).values()))

    @property
    def csv(self) -> str:
        """The same as text."""
        return as_csv(self.records)

    @property
    def frames(self) -> dict[str, pd.DataFrame]:
        """Data frames by the kind of their rows, the main one first.

        Moments are aware of the place's time zone. `attrs` of each has the unit of every column of
        numbers under `units`, and where it comes from: sunplan's version, the file, what was asked
        with which options, the models of the skies by name.
        """
        frames = {}
        for kind, rows in self._kinds(self.answer).items():
            columns = self.columns.get(kind, ())
            frames[kind] = as_frame(rows, self.location.timezone, columns)
            frames[kind].attrs |= {"rows": kind, **self.provenance}
        return frames

    @property
    def frame(self) -> pd.DataFrame:
        """The main one of the `frames`."""
        return next(iter(self.frames.values()))

    @property
    def provenance(self) -> dict[str, Any]:
        """Where the answer comes from, in texts and numbers only."""
        return {
            **origin(self.location),
            "question": self.question,
            "options": dict(self.options),
            "skies": {weather.name: weather.model for weather in self.weathers},
        }

    @cached_property
    def document(self) -> Document:
        """What the command prints for people, before units and a medium are chosen."""
        return self._report()

    def __str__(self) -> str:
        from .write.terminal import text

        return text(self.document, self.location.site.units)

    def __repr__(self) -> str:
        given = [f"{name}={value!r}" for name, value in self.options.items() if value is not None]
        asked = f"{self.question}({', '.join(given)})"
        return f"<sunplan.Result of {asked} for {self.location.site.name!r}>"

    def _repr_html_(self) -> str:
        """The document in a notebook."""
        from .write.notebook import html

        return html(self.document, self.location.site.units)


def _question(ask: Callable[P, Result[T]]) -> Callable[P, Result[T]]:
    """A function whose result keeps what it was asked with."""
    parameters = signature(ask)

    @wraps(ask)
    def asked(*given: P.args, **named: P.kwargs) -> Result[T]:
        bound = parameters.bind(*given, **named)
        bound.apply_defaults()
        options = {
            name: _told(value)
            for name, value in bound.arguments.items()
            if name not in ("location", "tell")
        }
        return replace(ask(*given, **named), question=ask.__name__, options=options)

    return asked


def _told(value: object) -> Any:
    """What an option was given as, in texts and numbers."""
    if value is None or isinstance(value, str | int | float):
        return value
    return [_told(part) for part in value] if isinstance(value, list | tuple) else str(value)


class Reporting(Protocol):
    """A module of `report/` that answers one question."""

    @property
    def ROWS(self) -> Kinds:  # noqa: N802
        """Kinds of rows, the main one first: paths of keys to the lists whose items they are."""

    @property
    def answer(self) -> Callable[..., Answer]:
        """Makes the JSON's dictionary of results."""

    @property
    def report(self) -> Callable[..., Document]:
        """Makes the document for people of them."""


def reported(
    value: T,
    location: Location,
    module: Reporting,
    *results: Any,
    weathers: Sequence[Weather] = (),
    **options: Any,
) -> Result[T]:
    """A result that a module of `report/` tells.

    Parameters
    ----------
    value
        What was worked out.
    module
        Its `answer` and `report` are called with the location, `results` and `options`, each when
        it is first asked for.
    weathers
        The skies that it was worked out for.
    """
    return Result(
        value,
        location,
        partial(module.answer, location, *results, **options),
        partial(module.report, location, *results, **options),
        partial(kinds, paths=module.ROWS),
        weathers=weathers,
        columns=getattr(module, "COLUMNS", {}),
    )


@_question
def entry(
    location: Location, date: Date, *, to_date: Date | None = None, setup: str | None = None
) -> Result[list[DayEntries]]:
    """When direct sun comes through each opening, where it lies, which marks it touches, by date.

    Parameters
    ----------
    location, date, to_date, setup
        See `sunplan.api`.

    Returns
    -------
    Result of list of DayEntries
        One a date: intervals of direct sun, each with what the file's ± does to its ends.
        Frames: `openings`, `marks`: a row an interval of sun.

    Raises
    ------
    InputError
        A date is not understood, the last lies before the first, or there is no such setup.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> result = sunplan.entry(location, "2027-03-20")
    >>> result.frame.loc[1, ["room", "opening", "from"]].tolist()
    ['gauge room', 'roof light', Timestamp('2027-03-20 09:38:...+0100', tz='Europe/Amsterdam')]
    """
    from .report import entry as entry_report
    from .room.entry import day_entries

    first, last = arguments.dates(date, to_date, ("date", "to_date"))
    location = arguments.narrowed(location, setup)
    dates = [first + timedelta(days=ahead) for ahead in range((last - first).days + 1)]
    entries = [day_entries(location, day) for day in dates]

    def answer() -> Answer:
        days = [entry_report.answer(location, day) for day in entries]
        return days[0] if to_date is None else {"days": days}

    def report() -> Document:
        return Document(None, [entry_report.report(location, day) for day in entries])

    def rows(answer: Answer) -> dict[str, list[Record]]:
        return entry_report.kinds(answer.get("days", [answer]))

    return Result(
        entries,
        location,
        answer,
        report,
        rows,
        lambda answer: all_kinds(rows(answer)),
        columns=entry_report.COLUMNS,
    )


@_question
def flags(
    location: Location,
    date: Date,
    *,
    from_: Clock | None = None,
    to: Clock | None = None,
    setup: str | None = None,
    covers: Literal["sun", "all"] = "sun",
    sure: bool = False,
) -> Result[list[SetupFlags]]:
    """What blocks it: which flag, where, how high, and when to move it.

    Parameters
    ----------
    location, date, setup
        See `sunplan.api`.
    from_, to : str or time, optional
        The stretch that a flag must hold; the file's call and wrap if left out.
    covers : {"sun", "all"}
        Stop direct sun, or all light of an opening.
    sure : bool
        Flags large enough, and hung long enough, whatever is true within the file's ±.

    Returns
    -------
    Result of list of SetupFlags
        Per setup the ways for each opening, best first, and the openings that no flag closes.
        Frames: `positions`, a row a place of a flag; `options`, a row a way to close an opening.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> noon = {"from_": "12:00", "to": "16:00", "setup": "reading the gauge"}
    >>> result = sunplan.flags(location, "2027-03-20", **noon)
    >>> result.value[0].taken[0].name
    '24x36 flag'
    """
    from .day.tolerance import measure_first
    from .report import flags as flags_report
    from .rig.flags import setup_flags

    day = arguments.a_date(date)
    start_s, end_s = arguments.interval(location, day, from_, to)
    setups = arguments.setups(location, setup)
    hung = [
        setup_flags(location, indoors, start_s=start_s, end_s=end_s, covers=covers, sure=sure)
        for indoors in setups
    ]
    narrow = measure_first(location, day, setups)
    return reported(hung, location, flags_report, day, hung, sure=sure, narrow=narrow)


@dataclass(frozen=True, eq=False)
class Gaps:
    """How far setups are from the look, and when windows fit by themselves; under which skies."""

    setups: list[SetupGap]
    fits: list[MatchingInterval]
    weathers: list[Weather]


@_question
def gap(
    location: Location,
    date: Date,
    *,
    at: Clock | None = None,
    from_: Clock | None = None,
    to: Clock | None = None,
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
    location, date, setup
        See `sunplan.api`.
    at : str or time, optional
        At this clock time only.
    from_, to : str or time, optional
        From here to there by `step`; from sunrise until dark if all are left out.
    step : str, optional
        Such as "15min"; an hour if left out.
    sky : {"clear", "hazy", "broken", "overcast"}, optional
        How the sky is; clear and overcast, one after the other, if left out.
    turbidity : float, optional
        Linke's; the month's if left out.
    direct_lux, diffuse_lux : float, optional
        Measured, square to the sun, and level with the sun shaded off; both or none.

    Returns
    -------
    Result of Gaps
        Luminances in cd/m² and stops over mid-grey, illuminances of the face in lux.
        Frames: `openings`, `practicals`, `faces`: a row a moment and sky for each.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood, or one measured level lacks the other.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> result = sunplan.gap(location, "2027-03-20", at="18:00", sky="clear", setup="last coffee")
    >>> result.frame.query("in_frame")[["opening", "stops", "lose_stops"]].round(1).values.tolist()
    [['canal window', 5.5, 7.0]]
    """
    from .light.daylight import Weather, skies_by_weather
    from .light.face import faces
    from .light.matching import matching_intervals
    from .report import gap as gap_report
    from .rig.gap import as_rigged, gaps

    day = arguments.a_date(date)
    setups = arguments.setups(location, setup)
    if sky is None and not (turbidity is None and direct_lux is None and diffuse_lux is None):
        given = "a turbidity or a measured level"
        raise InputError(f"{arguments.option_name('sky')}: say how the sky is, with {given}")
    moments = arguments.moments(location, day, at=at, from_=from_, to=to, step=step)
    names: Sequence[str] = SCOUTED if sky is None else (arguments.one_of(sky, SKY_NAMES, "sky"),)
    weathers = [Weather(name, turbidity, direct_lux, diffuse_lux) for name in names]
    rooms = faces(location, setups)
    bare = gaps(location, setups, skies_by_weather(location, moments, weathers), rooms=rooms)
    hours_s = arguments.interval(location, day, None, None)
    setup_gaps = as_rigged(location, bare, rooms=rooms, hours_s=hours_s)
    fits = matching_intervals(location, setups, [day], weathers)
    value = Gaps(setup_gaps, fits, weathers)
    return reported(value, location, gap_report, day, setup_gaps, fits, weathers=weathers)


@_question
def key(location: Location, *, setup: str | None = None) -> Result[list[KeyLight]]:
    """Is the lamp enough: its level at the face, how soft it is, what buys a stop.

    Parameters
    ----------
    location, setup
        See `sunplan.api`.

    Returns
    -------
    Result of list of KeyLight
        Levels in lux with the lamp at full and no daylight, stops over what the exposure needs.
        Frames: `setups`.

    Raises
    ------
    InputError
        The setup's name is not known, or no setup is indoors.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> sunplan.key(location).frame.set_index("setup").stops.round(1).to_dict()
    {'reading the gauge': ..., 'last coffee': ..., 'the kettle': ..., 'cannot sleep': ...}
    """
    from .light.key_light import key_lights
    from .report import key as key_report

    keys = key_lights(location, arguments.setups(location, setup))
    return reported(keys, location, key_report, keys)


@_question
def negfill(
    location: Location,
    date: Date,
    at: Clock | None = None,
    *,
    sky: SkyName = "clear",
    setup: str | None = None,
) -> Result[list[Negative]]:
    """Negative fill: which black panel at which distance gives the contrast, as it is shot.

    The key is set to key, and the openings have what they need at that moment.

    Parameters
    ----------
    location, date, sky, setup
        See `sunplan.api`.
    at : str or time, optional
        At this clock time; if left out, in the middle of each setup's shoot as `pack` has it with
        all setups in the file's order.

    Returns
    -------
    Result of list of Negative
        Per setup the fill in lux and the ratio without a panel and with each.
        Frames: `panels`, a row a panel at a distance.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> result = sunplan.negfill(location, "2027-03-20", "16:00", setup="the kettle")
    >>> result.value[0].panels[0].ratio > result.value[0].before.ratio
    True
    """
    from .light.daylight import Skies, Weather, skies_by_weather
    from .light.face import faces, faces_by_room
    from .report import negfill as negfill_report
    from .rig.negative_fill import negative as negative_fill
    from .rig.room_treatment import treatments_at

    day = arguments.a_date(date)
    weather = Weather(arguments.one_of(sky, SKY_NAMES, "sky"))
    setups = arguments.setups(location, setup)
    if at is None:
        slots = pack(location, day).value.running.slots
        moments = {slot.setup.name: slot.middle_s for slot in slots}
    else:
        moment_s = arguments.a_moment_s(location, day, at, "at")
        moments = dict.fromkeys((indoors.name for indoors in setups), moment_s)
    skies = skies_by_weather(location, [moments[indoors.name] for indoors in setups], [weather])
    rooms = faces_by_room(faces(location, setups))
    fills = []
    for indoors, sky_then in zip(setups, skies, strict=True):
        room = rooms[indoors.room]
        _, (treated,) = treatments_at(location, indoors, Skies((sky_then,)), room=room)
        shares = treated.shares_left
        fills.append(negative_fill(room, indoors, sky_then, opening_shares=shares))
    return reported(fills, location, negfill_report, day, fills, weathers=[weather])


@_question
def hours(
    location: Location,
    date: Date,
    *,
    to_date: Date | None = None,
    from_: Clock | None = None,
    to: Clock | None = None,
    setup: str | None = None,
    sky: SkyName = "clear",
    most: int = 3,
    weather_file: str | Path | None = None,
    tell: Tell = lambda _: None,
) -> Result[Hours]:
    """Which hours: natural matches and what the rest takes, ranked.

    Parameters
    ----------
    location, date, to_date, setup, tell
        See `sunplan.api`.
    from_, to : str or time, optional
        Of every date; the file's call and wrap if left out.
    sky : {"clear", "hazy", "broken", "overcast"}
        How the sky is; overcast, or for that clear, is told beside it.
    most : int
        How many stretches a setup.
    weather_file : str or Path, optional
        An EPW or TMY3 file, for how often the sun shines.

    Returns
    -------
    Result of Hours
        Stretches of quarter hours, the best first: what counts are minutes, lower is better.
        Frames: `stretches`, `quarter_hours`, and `windows`, a row a quarter hour for each in frame.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood, or the weather file is not one.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> result = sunplan.hours(
    ...     location, "2027-03-20", from_="12:00", to="14:00", setup="the kettle"
    ... )
    >>> [stretch.minutes for stretch in result.value.setups[0].stretches]
    [120.0]
    """
    from .day.hours import all_hours
    from .report import all_hours as hours_report

    dates = arguments.dates(date, to_date, ("date", "to_date"))
    indoors, outdoors = arguments.all_setups(location, setup)
    weathers = _compared(sky)
    worked_out = all_hours(
        location,
        indoors,
        outdoors,
        *dates,
        between=arguments.between(location, from_, to),
        weathers=weathers,
        best=most,
        weather_file=None if weather_file is None else Path(weather_file),
        tell=tell,
    )
    reporting = location, dates, worked_out, [weather.name for weather in weathers]
    return Result(
        worked_out,
        location,
        partial(hours_report.answer, *reporting),
        partial(hours_report.report, *reporting),
        partial(hours_report.kinds, location, worked_out),
        lambda _: hours_report.records(location, worked_out),
        weathers,
    )


@_question
def days(
    location: Location,
    from_date: Date,
    to_date: Date,
    *,
    weather: WeatherName = "sun",
    setup: str | Sequence[str] | None = None,
    weather_file: str | Path | None = None,
    tell: Tell = lambda _: None,
) -> Result[RankedDays]:
    """Which day: dates by the best whole day of all setups together, the best first.

    Parameters
    ----------
    location, weather, tell
        See `sunplan.api`.
    from_date, to_date : str or datetime.date
        The span's first and last local date, as text YYYY-MM-DD; 366 dates at most.
    setup : str or sequence of str, optional
        Only the setups of these names, in the file's order; all those indoors if left out.
    weather_file : str or Path, optional
        An EPW or TMY3 file, for how often the sun shines; it is told, the score is without it.

    Returns
    -------
    Result of RankedDays
        All dates, those that count less first: minutes. The best are as exact as `order`.
        Frames: `days`, a row a date; `setups`, a row a setup of a date.

    Raises
    ------
    InputError
        A date or a name is not understood, no setup is indoors, there are more dates, or more
        setups than a day can hold, or the weather file is not one.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> result = sunplan.days(location, "2027-03-20", "2027-03-21", setup="the kettle")
    >>> result.frames["setups"].setup.tolist()
    ['the kettle', 'the kettle']
    """
    from .day.days import days as day_days
    from .report import days as days_report

    span = arguments.dates(from_date, to_date, ("from_date", "to_date"))
    skies, weathers = _reckoned_with(weather)
    ranked = day_days(
        location,
        arguments.several_setups(location, setup),
        *span,
        weathers=weathers,
        telling=days_report.kept,
        weather_file=None if weather_file is None else Path(weather_file),
        tell=tell,
    )
    return reported(ranked, location, days_report, span, ranked, skies, weathers=weathers)


def why(
    location: Location, date: Date, at: Clock, *, sky: SkyName = "clear", setup: str | None = None
) -> Document:
    """One moment explained, setup by setup: the sun, each opening, what counts for and against it.

    Parameters
    ----------
    location, date, at, sky, setup
        See `sunplan.api`.

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
    from .report import why as why_report

    weathers = _compared(sky)
    moment_s = arguments.a_moment_s(location, arguments.a_date(date), at, "why")
    skies = [weather.name for weather in weathers]
    setups = arguments.setups(location, setup)
    checked = facts_at(location, setups, moment_s, weathers)
    lines = [why_report.report(check, facts, skies) for check, facts in checked]
    return Document(None, lines)


def _compared(sky: SkyName) -> tuple[Weather, Weather]:
    """The sky to look at, and the one that it is compared with: one of them has no sun."""
    from .light.daylight import Weather

    arguments.one_of(sky, SKY_NAMES, "sky")
    return Weather(sky), Weather("clear" if sky == "overcast" else "overcast")


@_question
def blackout(
    location: Location,
    date: Date,
    *,
    from_: Clock | None = None,
    to: Clock | None = None,
    weather: WeatherName = "sun",
    setup: str | None = None,
) -> Result[tuple[list[RoomTreatment], TakeOff]]:
    """Black and gel: what each opening needs, what to cut from which roll, how tight.

    Parameters
    ----------
    location, date, weather, setup
        See `sunplan.api`.
    from_, to : str or time, optional
        Clock times of the shoot; the file's call and wrap if left out.

    Returns
    -------
    Result of tuple of (list of RoomTreatment, TakeOff)
        Per setup what hangs in each opening; what is cut from which roll, in metres.
        Frames: `pieces`, as they lie on the rolls; `openings`.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> hour = {"from_": "16:30", "to": "17:30", "setup": "the kettle"}
    >>> result = sunplan.blackout(location, "2027-03-20", **hour)
    >>> result.answer["tape_m"] > 0
    True
    """
    from .report import blackout as blackout_report
    from .rig.room_treatment import room_treatment
    from .rig.takeoff import takeoff

    day = arguments.a_date(date)
    start_s, end_s = arguments.interval(location, day, from_, to)
    skies, weathers = _reckoned_with(weather)
    treatments = [
        room_treatment(location, indoors, start_s=start_s, end_s=end_s, weathers=weathers)
        for indoors in arguments.setups(location, setup)
    ]
    rolls = takeoff(treatments)
    results = day, treatments, rolls, skies
    return reported((treatments, rolls), location, blackout_report, *results, weathers=weathers)


def _reckoned_with(weather: WeatherName) -> tuple[tuple[str, ...], list[Weather]]:
    """The skies under which what hangs must do."""
    from .light.daylight import Weather

    skies = SKIES_OF[arguments.one_of(weather, SKIES_OF, "weather")]
    return skies, [Weather(sky) for sky in skies]


@_question
def order(
    location: Location,
    date: Date,
    *,
    weather: WeatherName = "sun",
    setup: str | None = None,
    tell: Tell = lambda _: None,
) -> Result[Ordered]:
    """Which order: natural matches where they are, the least rigged twice.

    Parameters
    ----------
    location, date, weather, setup, tell
        See `sunplan.api`.

    Returns
    -------
    Result of Ordered
        The best order with its times, proven on quarter hours, and the file's own beside it.
        Frames: `setups`, in their order.

    Raises
    ------
    InputError
        The date is not understood, no setup is indoors, or there are more than a day can hold.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> ordered = sunplan.order(location, "2027-03-20").value
    >>> [turn.rigging.setup.name for turn in ordered.best.turns]
    ['cannot sleep', 'reading the gauge', 'last coffee']
    """
    from .day.order import order as day_order
    from .report import order as order_report

    day = arguments.a_date(date)
    skies, weathers = _reckoned_with(weather)
    setups = arguments.setups(location, setup)
    ordered = day_order(location, setups, day, weathers=weathers, tell=tell)
    return reported(ordered, location, order_report, day, ordered, skies, weathers=weathers)


@_question
def pack(
    location: Location,
    date: Date,
    *,
    from_: Clock | None = None,
    weather: WeatherName = "sun",
    setup: str | None = None,
    best: bool = False,
    tell: Tell = lambda _: None,
) -> Result[Pack]:
    """What to take: the most of each thing at one time, own or rent, weight, cases, minutes.

    Parameters
    ----------
    location, date, weather, setup, tell
        See `sunplan.api`.
    from_ : str or time, optional
        When rigging starts; the file's call if left out.
    best : bool
        In the order and at the times that `order` finds; else in the file's.

    Returns
    -------
    Result of Pack
        Counts, kilograms, minutes for two people.
        Frames: `items`; `pieces`, as they lie on the rolls.

    Raises
    ------
    InputError
        A date, a clock time or a name is not understood.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> result = sunplan.pack(location, "2027-03-20", best=True)
    >>> {"thing", "need", "get"} <= set(result.frame.columns)
    True
    """
    from .day.order import order as day_order
    from .day.pack import pack as pack_list
    from .day.running_order import SLACK_S, running_order
    from .light.face import faces
    from .report import pack as pack_report

    day = arguments.a_date(date)
    setups: Sequence[ResolvedSetup] = arguments.setups(location, setup)
    skies, weathers = _reckoned_with(weather)
    rooms = faces(location, setups)
    if best:
        ordered = day_order(location, setups, day, weathers=weathers, rooms=rooms, tell=tell)
        setups = ordered.best.setups(location.timezone)
    begin = location.day.call if from_ is None else from_
    running = running_order(
        location,
        setups,
        start_s=arguments.a_moment_s(location, day, begin, "from_"),
        weathers=weathers,
        slack_s=0.0 if best else SLACK_S,  # the best order's times are kept to the minute
        rooms=rooms,
        tell=tell,
    )
    day_pack = pack_list(running)
    results = day, day_pack, skies
    return reported(day_pack, location, pack_report, *results, weathers=weathers, best=best)


@_question
def plan(
    location: Location,
    date: Date,
    *,
    setup: str | None = None,
    sky: SkyName | None = None,
    tell: Tell = lambda _: None,
) -> Result[Plan]:
    """All of it for a date; `frames` are those of `entry`.

    Parameters
    ----------
    location, date, setup, tell
        See `sunplan.api`.
    sky : {"clear", "hazy", "broken", "overcast"}, optional
        How the sky is; the gaps for clear and overcast, order and pack list for clear, if left out.

    Returns
    -------
    Result of Plan
        Worked out as it is asked for.
        Frames: `openings`, `marks`, as of `entry`.

    Raises
    ------
    InputError
        The date is not understood, or there is no such setup.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> result = sunplan.plan(location, "2027-03-20", sky="clear")
    >>> result.answer["order"]["rig_minutes"] == result.value.ordered.best.rig_minutes
    True
    """
    from .day.plan import plan as day_plan
    from .light.daylight import Weather
    from .report import entry as entry_report
    from .report import plan as plan_report

    skies = SCOUTED if sky is None else (arguments.one_of(sky, SKY_NAMES, "sky"),)
    location = arguments.narrowed(location, setup)
    whole = day_plan(location, arguments.a_date(date), skies=skies, tell=tell)
    return Result(
        whole,
        location,
        partial(plan_report.answer, whole),
        partial(plan_report.report, whole),
        lambda answer: entry_report.kinds([answer["entry"]]),
        columns=entry_report.COLUMNS,
        weathers=[Weather(name) for name in skies],
    )


@_question
def check(location: Location) -> Result[Location]:
    """What was understood of a location file: walls, openings, marks, setups; what looks odd.

    Parameters
    ----------
    location
        See `sunplan.api`.

    Returns
    -------
    Result of Location
        Metres and true degrees.
        Frames: `openings`, `marks`, `practicals`, `outside`.

    Examples
    --------
    >>> import sunplan
    >>> location = sunplan.read("locations/lock-house.toml")
    >>> sunplan.check(location).frame["name"].tolist()[:2]
    ['street window', 'roof light']
    """
    from .report import check as check_report

    return reported(location, location, check_report)
