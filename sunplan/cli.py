"""The command line: parses, calls, formats; it computes nothing.

Exit status 0: answered. 2: a mistake in what was asked (file, option, folder), told in one
message. 1: anything else, a defect.
"""

from __future__ import annotations

import re
import signal
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from enum import StrEnum
from itertools import chain, islice
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Any, TypeVar

import typer

from . import __version__
from .errors import InputError, SunplanError

if TYPE_CHECKING:
    from .day.hours import SetupHours
    from .location.model import Exterior, Setup
    from .location.place import Place
    from .location.read import Location
    from .room.narrowing import Narrowing


Answer = TypeVar("Answer")
YEARS = 1900, 2100  # for which the sun's and the moon's places are good
INTERRUPTED = 130  # as shells tell it: 128 and the signal's number


class Covers(StrEnum):
    """Which light a flag stops."""

    SUN = "sun"
    ALL = "all"


class SkyName(StrEnum):
    """How the sky is."""

    CLEAR = "clear"
    HAZY = "hazy"
    BROKEN = "broken"
    OVERCAST = "overcast"


OneSky = Annotated[
    SkyName | None, typer.Option("--sky", help="How the sky is; else clear and overcast.")
]

app = typer.Typer(
    help="What sun and sky will do to every setup, from a floor plan, a bearing and a date.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
)

File = Annotated[Path, typer.Argument(metavar="FILE", help="The location file (TOML).")]
Date = Annotated[str, typer.Option("--date", metavar="D", help="Local date, YYYY-MM-DD.")]
Json = Annotated[bool, typer.Option("--json", help="One JSON object on standard output.")]
Csv = Annotated[bool, typer.Option("--csv", help="Comma-separated rows on standard output.")]
From = Annotated[str, typer.Option("--from", metavar="T", help="From this clock time on.")]
To = Annotated[str, typer.Option("--to", metavar="T", help="Until this clock time.")]
OneSetup = Annotated[
    str | None, typer.Option("--setup", metavar="NAME", help="Only this setup; else all.")
]
Draw = Annotated[
    Path | None, typer.Option("--draw", metavar="PATH", help="Also draw it to a PNG or SVG.")
]


def _day(text: str, option: str = "--date") -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{option} {text}: is no date; expected YYYY-MM-DD such as 2026-10-24"
        ) from None
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise InputError(f"{option} {text}: expected a year from {YEARS[0]} to {YEARS[1]}")
    return day


def _planned(text: str, option: str = "--date") -> date:
    """A date to plan for; a person on a terminal is told where it lies in the past."""
    from .show.asking import note

    day = _day(text, option)
    # Wherever on Earth that is, yesterday is over.
    if day < (datetime.now(UTC) - timedelta(days=1)).date():
        note(f"{option} {text} lies in the past; is the year right?")
    return day


def _clock(text: str, option: str) -> time:
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{option} {text}: is no clock time; expected HH:MM such as 16:30"
        ) from None


def _interval(location: Location, day: date, start: str, end: str) -> tuple[float, float]:
    """First and last moment that --from and --to mean on a date; 24:00 is the date's end."""
    from .sun.calendar import at_clock, day_span

    def moment(text: str, option: str) -> float:
        if text == "24:00":
            return day_span(day, location.timezone)[1]
        return at_clock(day, _clock(text, option), location.timezone)

    start_s, end_s = moment(start, "--from"), moment(end, "--to")
    if end_s <= start_s:
        raise InputError(f"--to {end}: does not lie after --from {start}")
    return start_s, end_s


def _step_s(text: str) -> float:
    """Seconds of a step such as 15min, 1h or 90s."""
    found = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(s|min|h)", text.strip())
    seconds = float(found[1]) * {"s": 1.0, "min": 60.0, "h": 3600.0}[found[2]] if found else 0.0
    if not 1.0 <= seconds <= 86400.0:
        raise InputError(f"--step {text}: is no step; expected one such as 15min or 1h")
    return seconds


def _moments(
    location: Location, day: date, at: str | None, start: str | None, end: str | None, step: str
) -> list[float]:
    """The moments that --at, or --from, --to and --step ask for; else through the daylight."""
    from .room.entry import sun_of
    from .sun.calendar import at_clock, every

    if at is not None:
        if start is not None or end is not None:
            raise InputError("--at: give it, or --from and --to, not both")
        return [at_clock(day, _clock(at, "--at"), location.timezone)]
    step_s = _step_s(step)
    if start is None and end is None:
        times = sun_of(location, day)
        return every(*times.daylight(day, location.timezone), step_s)
    given = (("--from", start), ("--to", end))
    lacking = next((option for option, value in given if value is None), None)
    if lacking is not None or start is None or end is None:
        raise InputError(f"{lacking}: is missing; give both --from and --to, or --at")
    return every(*_interval(location, day, start, end), step_s)


def _setups(location: Location, name: str | None) -> tuple[Setup, ...]:
    """The setup of that name, or all that are indoors."""
    chosen, outdoors = _both(location, name)
    if not chosen and outdoors:
        raise InputError(
            f"{location.file}: its setups stand outdoors, which only `sunplan hours` tells of"
        )
    return chosen


def _both(location: Location, name: str | None) -> tuple[tuple[Setup, ...], tuple[Exterior, ...]]:
    """The setup of that name, or all: indoors, and outdoors."""
    from .location.tell import not_known

    everyone: tuple[Setup | Exterior, ...] = (*location.setup, *location.exterior)
    if not everyone:
        raise InputError(f"{location.file}: has no [[setup]]; expected at least one")
    inside = tuple(one for one in location.setup if name in (None, one.name))
    outside = tuple(one for one in location.exterior if name in (None, one.name))
    if not inside and not outside:
        known = not_known(str(name), [one.name for one in everyone])
        raise InputError(f"--setup {known}")
    return inside, outside


def _skies(sky: SkyName | None) -> tuple[str, ...]:
    """The sky asked for, or the two that a scout must reckon with."""
    return ("clear", "overcast") if sky is None else (sky.value,)


def _print_json(answer: dict[str, Any]) -> None:
    from .show.answers import as_json

    typer.echo(as_json(answer))


def _not_both(as_json: bool, as_csv: bool) -> None:
    if as_json and as_csv:
        raise InputError("--json and --csv: give one of them")


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"sunplan {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    pass


class UnitName(StrEnum):
    """What a bare length is in."""

    M = "m"
    FT = "ft"


def _given(option: str, text: str, read: Callable[[str], Answer]) -> Answer:
    """What an option says, as `read` understands it."""
    from .location.tell import shown

    try:
        return read(text)
    except InputError as error:
        raise InputError(f"{option} {shown(text)}: {error}") from None


def _asked(
    option: str, text: str | None, read: Callable[[str], Answer], question: str, usual: str
) -> Answer:
    """What an option says, else a person on a terminal, else what is usual."""
    from .show.asking import ask, on_a_terminal

    if text is not None:
        return _given(option, text, read)
    return ask(question, read, default=usual) if on_a_terminal() else read(usual)


def _place(at: str | None, town: str | None) -> Place:
    """Where --at or --town say it is, else a person on a terminal."""
    from .location.place import parse_place
    from .location.towns import place_of, town_place
    from .show.asking import ask, on_a_terminal

    if at is not None and town is not None:
        raise InputError("--at and --town: give one of them")
    if at is not None:
        return _given("--at", at, parse_place)
    if town is not None:
        return _given("--town", town, town_place)
    if not on_a_terminal():
        raise InputError('the place is missing; give --at, such as "52.0907,5.1214", or --town')
    return ask("Where is it: coordinates, or a town", place_of)


@app.command(
    epilog='Example: sunplan new house.toml --at "52.0907,5.1214" '
    '--room "kitchen 4.2 x 3.1 x 2.5" --plan-up 12'
)
def new(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="The file to write (TOML).")],
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="PLACE", help="Coordinates as maps give them, or geo: link."),
    ] = None,
    town: Annotated[
        str | None,
        typer.Option("--town", metavar="TOWN", help="Or a town, such as Utrecht."),
    ] = None,
    name: Annotated[
        str | None, typer.Option("--name", metavar="NAME", help="The location's; else the file's.")
    ] = None,
    room: Annotated[
        str | None,
        typer.Option("--room", metavar="ROOM", help="Its name, width x depth x height."),
    ] = None,
    plan_up: Annotated[
        str | None,
        typer.Option("--plan-up", metavar="DEG", help="True bearing that the plan's up points to."),
    ] = None,
    plan_up_error: Annotated[
        str | None,
        typer.Option("--plan-up-error", metavar="DEG", help="How far that may be off, ±."),
    ] = None,
    units: Annotated[
        UnitName | None, typer.Option("--units", help="Of bare lengths; else the country's.")
    ] = None,
    date: Annotated[
        str | None,
        typer.Option("--date", metavar="D", help="Of the compass's declination; else today."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
) -> None:
    """A first location file, to edit; asks on a terminal for what is not given."""
    from .location import first
    from .location.compass import declination_note
    from .location.place import units_of
    from .show import template
    from .show.layout import show
    from .show.writing import check_free, replace

    day = datetime.now(UTC).date() if date is None else _day(date)
    check_free(path, force=force)
    if plan_up_error is not None and plan_up is None:
        raise InputError("--plan-up-error: give --plan-up with it")
    place = _place(at, town)
    unit = units_of(place.timezone) if units is None else units.value
    named = _asked(
        "--name",
        name,
        first.parse_name,
        "What is it called",
        path.stem if place.town is None else place.town,
    )
    roomy = _asked(
        "--room",
        room,
        lambda text: first.parse_room(text, unit),
        f"A room to begin with: its name, width x depth x height in {unit}",
        first.USUAL_ROOM[unit],
    )
    up = _asked(
        "--plan-up",
        plan_up,
        first.parse_plan_up,
        "True bearing that the plan's up points to, degrees; Enter if not known",
        "",
    )
    error = first.NOT_KNOWN_DEG
    if up is not None:
        question = "How far may that be off, ± degrees"
        usual = f"{first.BY_HAND_DEG:g}"
        error = _asked("--plan-up-error", plan_up_error, first.parse_error, question, usual)
    made = first.First(
        name=named,
        place=place,
        timezone=place.timezone,
        units=unit,
        plan_up_deg=up,
        plan_up_error_deg=error,
        room=roomy,
        compass=declination_note(
            latitude_deg=place.latitude_deg,
            longitude_deg=place.longitude_deg,
            elevation_m=0.0 if place.elevation_m is None else place.elevation_m,
            day=day,
        ),
    )
    with replace(path) as beside:
        beside.write_text(template.text(made), encoding="utf-8", newline="\n")
    show(template.told(made, path))


@app.command(epilog="Example: sunplan check locations/lock-house.toml --draw rooms.png")
def check(file: File, draw: Draw = None, as_json: Json = False) -> None:
    """What was understood of a location file: walls, openings, marks, setups; or of a kit."""
    from .location.kit import is_kit, read_kit
    from .location.read import read
    from .show import stock, understood
    from .show.layout import show

    if is_kit(file):
        if draw is not None:
            raise InputError(f"--draw {draw}: {file} is a kit; there is nothing to draw")
        kit = read_kit(file)
        if as_json:
            _print_json(stock.answer(kit))
        else:
            show(stock.told(kit))
        return
    location = read(file)
    if draw is not None:
        from .show.drawing import draw_rooms

        draw_rooms(location, draw)
    if as_json:
        _print_json(understood.answer(location))
    else:
        show(understood.told(location))


def _readings(option: str, what: str) -> Any:
    """An option for readings of one kind; each is one text, and it may be given again."""
    return typer.Option(option, metavar="TEXT", help=what)


@app.command(
    epilog="Example: sunplan bearing locations/lock-house.toml "
    '--points "kitchen A: 52.0907,5.1214 52.09059,5.12226" '
    '--shadow "kitchen A: 2027-03-20 15:10, 60 left"'
)
def bearing(
    file: File,
    points: Annotated[
        list[str] | None,
        _readings(
            "--points",
            "Two points of a map, on the wall's line or a street along it, in the wall's sense: "
            '"kitchen A: 52.0907,5.1214 52.0909,5.1220 ±2m"; geo: URIs, degrees and minutes too.',
        ),
    ] = None,
    compass: Annotated[
        list[str] | None,
        _readings("--compass", 'A compass along the wall, to magnetic north: "kitchen A: 104 ±5".'),
    ] = None,
    compass_true: Annotated[
        list[str] | None,
        _readings("--compass-true", 'A phone set to true north: "kitchen A: 106 ±5".'),
    ] = None,
    shadow: Annotated[
        list[str] | None,
        _readings(
            "--shadow",
            "The angle between the wall and the shadow of something upright on the floor: "
            '"kitchen A: 2027-03-20 15:10 ±1min, 41 left ±1"; left: the wall\'s left part, facing '
            "it from inside; left out: both. ? for the time: when it lies so.",
        ),
    ] = None,
    patch: Annotated[
        list[str] | None,
        _readings(
            "--patch",
            "A point x,y on the plan, of the edge that a window's jamb gives its patch of sun: "
            '"kitchen canal window: 2027-03-20 15:10, left, 3.10,2.20 ±1cm"; left sill or left '
            "head for a corner, which proves the clock.",
        ),
    ] = None,
    grazes: Annotated[
        list[str] | None,
        _readings(
            "--grazes",
            "When direct sun comes to the outside of a wall or leaves it: "
            '"kitchen A: 2027-03-20 13:05 leaves".',
        ),
    ] = None,
    date: Annotated[
        str | None,
        typer.Option("--date", metavar="D", help="When the compass was read; else today."),
    ] = None,
    write: Annotated[
        bool, typer.Option("--write", help="Put plan_up and plan_up_error into the file.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Which way the plan's up points: by a map, a compass, shadows, the sun on a wall.

    A reading starts with what it is of: "kitchen A" is along that wall, from its
    first corner to its second: right to left as one sees it from inside;
    "kitchen A outward" is the way it faces; or "plan up". Every ± is 95 %, two
    standard deviations. Each option may be given again: all readings combine.
    Never look at the sun: read shadows instead.
    """
    from .location.observed import observed
    from .location.read import read
    from .show import bearings as bearing_words
    from .show.layout import show
    from .sun.calendar import today
    from .sun.north import bearings

    location = read(file)
    day = today(location.timezone) if date is None else _day(date)
    given = {
        "--points": points,
        "--compass": compass,
        "--compass-true": compass_true,
        "--shadow": shadow,
        "--patch": patch,
        "--grazes": grazes,
    }
    texts = {option: each for option, each in given.items() if each is not None}
    found = bearings(location, observed(location, texts), day)
    if write:
        bearing_words.write(location, found)
    if as_json:
        _print_json(bearing_words.answer(location, found, written=write))
    else:
        show(bearing_words.told(location, found, written=write))


class PaperName(StrEnum):
    """What a printed sheet is on."""

    A4 = "a4"
    LETTER = "letter"


@app.command(
    epilog="Example: sunplan ask locations/lock-house.toml --out form.pdf --out answers.csv"
)
def ask(
    file: File,
    answers: Annotated[
        Path | None,
        typer.Argument(metavar="ANSWERS", help="With --fill: the sheet of answers (CSV)."),
    ] = None,
    fill: Annotated[bool, typer.Option("--fill", help="Put the answers into the file.")] = False,
    room: Annotated[
        str | None, typer.Option("--room", metavar="NAME", help="Ask of this room only; else all.")
    ] = None,
    out: Annotated[
        list[Path] | None,
        typer.Option(
            "--out",
            metavar="PATH",
            help="Write the form to a .pdf or .txt, the sheet of answers to a .csv; may be given "
            "again.",
        ),
    ] = None,
    paper: Annotated[
        PaperName | None, typer.Option("--paper", help="Of the PDF; else by the file's units.")
    ] = None,
    as_csv: Annotated[
        bool, typer.Option("--csv", help="The sheet of answers on standard output.")
    ] = False,
) -> None:
    """A form for the owner of a house that nobody of the crew has seen: what to measure.

    Send the form; put what comes back into the sheet's column `answer`; then
    sunplan ask --fill FILE ANSWERS.
    """
    from .location.questions import of_room, sheet
    from .location.read import read
    from .show import form
    from .show.layout import show

    location = read(file)
    if fill:
        from .location.filled import filled
        from .show import filled as filling

        if answers is None:
            raise InputError("--fill: the sheet of answers is missing; give it behind the file")
        if room is not None or out or paper is not None or as_csv:
            raise InputError("--fill: goes without --room, --out, --paper and --csv")
        found = filled(location, answers)
        filling.write(location, found)
        show(filling.told(location, answers, found))
        return
    if answers is not None:
        raise InputError(f"{answers}: give --fill to put answers into {file}")
    asked = sheet(location)
    if room is not None:
        asked = of_room(asked, room)
    if out:
        from .show import handing

        chosen = None if paper is None else paper.value
        typer.echo(handing.write(location, asked, out, paper=chosen), nl=False)
    elif as_csv:
        typer.echo(form.sheet_rows(asked), nl=False)
    else:
        typer.echo(form.text(location, asked), nl=False)


@app.command(
    epilog='Example: sunplan skyline locations/lock-house.toml --sight "80: 4" --sight "120: 9"'
)
def skyline(
    file: File,
    sight: Annotated[
        list[str] | None,
        _readings("--sight", 'Bearing and degrees up of a point of the far horizon: "80: 4".'),
    ] = None,
    building: Annotated[
        list[str] | None,
        _readings(
            "--building",
            'A block across the way: "210: 35 m away, 12 m high, 20 m wide", or "18° up".',
        ),
    ] = None,
    start: Annotated[
        str | None,
        typer.Option("--from", metavar="X,Y", help="The spot on the plan they were seen from."),
    ] = None,
    magnetic: Annotated[
        bool, typer.Option("--magnetic", help="The bearings are a compass's, to magnetic north.")
    ] = False,
    date: Annotated[
        str | None, typer.Option("--date", metavar="D", help="When it was read; else today.")
    ] = None,
    write: Annotated[
        bool, typer.Option("--write", help="Put the tables at the end of the file.")
    ] = False,
) -> None:
    """A few sightings from the spot as [[skyline]] and [[outside]] tables."""
    from .location.compass import decimal_year, declination
    from .location.read import read
    from .location.sightings import building as a_building
    from .location.sightings import sight as a_sight
    from .location.sightings import spot, tables
    from .show.sighted import appended
    from .sun.calendar import today

    location = read(file)
    if not sight and not building:
        raise InputError("--sight, --building: give at least one")
    declined = 0.0
    if magnetic:
        day = today(location.timezone) if date is None else _day(date)
        site = location.site
        declined = declination(site.latitude, site.longitude, year=decimal_year(day)).degrees
    text = tables(
        location,
        [a_sight(one, declined_deg=declined) for one in sight or ()],
        [a_building(one, declined_deg=declined) for one in building or ()],
        None if start is None else spot(start, location.site.units),
    )
    if write:
        appended(file, text)
    typer.echo(text, nl=False)


@app.command(epilog="Example: sunplan entry locations/lock-house.toml --date 2026-10-24")
def entry(
    file: File,
    date: Date,
    to_date: Annotated[
        str | None, typer.Option("--to-date", metavar="D", help="Last date of a span.")
    ] = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """When direct sun enters each opening, where it lands, which marks it touches."""
    from .location.read import read
    from .room.entry import day_entries
    from .show import entering
    from .show.layout import cautions_last, show

    first = _planned(date)
    last = first if to_date is None else _day(to_date, "--to-date")
    if last < first:
        raise InputError(f"--to-date {last}: lies before --date {first}")
    location = read(file)
    days = (
        day_entries(location, first + timedelta(days=ahead))
        for ahead in range((last - first).days + 1)
    )
    _not_both(as_json, as_csv)
    if as_json:
        found = [entering.answer(location, day) for day in days]
        _print_json(found[0] if to_date is None else {"days": found})
    elif as_csv:
        typer.echo(entering.rows(location, days), nl=False)
    else:
        parts = (part for day in days for part in ("", *entering.told(location, day)))
        show(islice(cautions_last(parts), 1, None))


@app.command(
    epilog="Example: sunplan flags locations/lock-house.toml --date 2026-10-24 "
    "--from 09:00 --to 17:00"
)
def flags(
    file: File,
    date: Date,
    start: From = "00:00",
    end: To = "24:00",
    setup: OneSetup = None,
    covers: Annotated[
        Covers, typer.Option("--covers", help="Stop direct sun, or all light of an opening.")
    ] = Covers.SUN,
    sure: Annotated[
        bool, typer.Option("--sure", help="Large enough whatever is true within the file's ±.")
    ] = False,
    as_json: Json = False,
) -> None:
    """What blocks it: which flag, where, how high, and when to move it."""
    from .location.read import read
    from .rig.flags import setup_flags
    from .show import flagging
    from .show.layout import show

    day = _planned(date)
    location = read(file)
    start_s, end_s = _interval(location, day, start, end)
    found = [
        setup_flags(location, one, start_s=start_s, end_s=end_s, covers=covers.value, sure=sure)
        for one in _setups(location, setup)
    ]
    narrow = _narrow(location, day, [one.setup for one in found])
    if as_json:
        _print_json(flagging.answer(location, day, found, sure=sure, narrow=narrow))
    else:
        show(flagging.told(location, day, found, sure=sure, narrow=narrow))


def _narrow(location: Location, day: date, setups: Sequence[Setup]) -> Narrowing | None:
    """What to measure first for sun on the marks of setups on a date, if anything may be off."""
    from .location.measures import unsure
    from .room.entry import day_entries

    if not unsure(location):
        return None
    return day_entries(location, day).narrowing({(one.room, one.mark) for one in setups})


@app.command(epilog="Example: sunplan gap locations/lock-house.toml --date 2026-10-24 --at 16:00")
def gap(
    file: File,
    date: Date,
    at: Annotated[
        str | None, typer.Option("--at", metavar="T", help="At this clock time only.")
    ] = None,
    start: Annotated[
        str | None, typer.Option("--from", metavar="T", help="From here; else from sunrise.")
    ] = None,
    end: Annotated[
        str | None, typer.Option("--to", metavar="T", help="Until here; else until dark.")
    ] = None,
    step: Annotated[
        str, typer.Option("--step", metavar="STEP", help="Between looks, such as 15min.")
    ] = "1h",
    sky: OneSky = None,
    turbidity: Annotated[
        float | None, typer.Option("--turbidity", metavar="TL", help="Linke's; else the month's.")
    ] = None,
    direct_lux: Annotated[
        float | None,
        typer.Option("--direct-lux", metavar="LX", help="Measured, square to the sun."),
    ] = None,
    diffuse_lux: Annotated[
        float | None,
        typer.Option("--diffuse-lux", metavar="LX", help="Measured, level, the sun shaded off."),
    ] = None,
    setup: OneSetup = None,
    as_json: Json = False,
) -> None:
    """How far from the look: each window in frame, in stops, and what closes the gap."""
    from .light import daylight
    from .light.fits import fits
    from .light.gap import gaps
    from .location.read import read
    from .show import levels
    from .show.layout import show

    day = _planned(date)
    location = read(file)
    chosen = _setups(location, setup)
    if (direct_lux is None) != (diffuse_lux is None):
        raise InputError("--direct-lux and --diffuse-lux: give both or none")
    moments = _moments(location, day, at, start, end, step)
    weathers = [daylight.Weather(name, turbidity, direct_lux, diffuse_lux) for name in _skies(sky)]
    above = daylight.skies_of(location, moments, weathers)
    found = gaps(location, chosen, above)
    waits = fits(location, chosen, [day], weathers)
    if as_json:
        _print_json(levels.answer(location, day, found, waits))
    else:
        show(levels.told(location, day, found, waits))


@app.command(
    epilog="Example: sunplan hours locations/lock-house.toml --from-date 2027-03-15 "
    "--to-date 2027-03-21"
)
def hours(
    file: File,
    from_date: Annotated[
        str, typer.Option("--from-date", metavar="D", help="First local date, YYYY-MM-DD.")
    ],
    to_date: Annotated[
        str | None, typer.Option("--to-date", metavar="D", help="Last date; else only the first.")
    ] = None,
    between: Annotated[
        str | None,
        typer.Option("--between", metavar="T-T", help="Clock times; else from call to wrap."),
    ] = None,
    setup: OneSetup = None,
    sky: Annotated[SkyName, typer.Option("--sky", help="How the sky is.")] = SkyName.CLEAR,
    best: Annotated[
        int, typer.Option("--best", metavar="N", min=1, help="How many stretches a setup.")
    ] = 3,
    why: Annotated[
        str | None,
        typer.Option("--why", metavar="T", help="Explain this clock time of the first date."),
    ] = None,
    weather: Annotated[
        Path | None,
        typer.Option("--weather", metavar="FILE", help="EPW or TMY3: how often the sun shines."),
    ] = None,
    draw: Draw = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which hours: stretches in which nature does the work, ranked, with their reasons."""
    from .day.dusk import dusks
    from .day.exterior import exterior_day
    from .day.hours import facts_at, steps
    from .day.hours import hours as worked_out
    from .day.odds import odds_of
    from .light.daylight import Weather
    from .location.read import read
    from .room.why import sun_at
    from .show import exteriors, ranking
    from .show import weather as weathering
    from .show.layout import cautions_last, show
    from .show.progress import progress
    from .sun.calendar import at_clock

    _not_both(as_json, as_csv)
    first = _planned(from_date, "--from-date")
    last = first if to_date is None else _day(to_date, "--to-date")
    if last < first:
        raise InputError(f"--to-date {last}: lies before --from-date {first}")
    location = read(file)
    inside, outdoors = _both(location, setup)
    skies = (sky.value, "clear" if sky is SkyName.OVERCAST else "overcast")
    weathers = (Weather(skies[0]), Weather(skies[1]))
    if why is not None:
        beside = (as_json, as_csv, draw is not None, weather is not None)
        if any(beside):
            raise InputError(f"--why {why}: told alone, without --json, --csv, --draw, --weather")
        if not inside:
            raise InputError(f"--why {why}: explains setups indoors; {setup} stands outdoors")
        moment = at_clock(first, _clock(why, "--why"), location.timezone)
        for one in facts_at(location, _setups(location, setup), moment, weathers):
            room = location.room_named(one.quarters.setup.room)
            show(ranking.why(sun_at(location, room, moment), one, skies))
        return
    span = _between(location, between)
    odds = None if weather is None else odds_of(weather, location)
    found: list[SetupHours] = []
    if inside:
        with progress(steps(inside)) as tell:
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
    dusky = dusks(location, inside, first, last, weathers)
    dates = dict.fromkeys((first, last) if outdoors else ())
    out = {day: [exterior_day(location, one, day) for one in outdoors] for day in dates}
    narrow = _narrow(location, first, inside)
    if draw is not None:
        from .show.yearly import draw_hours

        if not inside:
            raise InputError(f"--draw {draw}: there is no setup indoors to draw")
        draw_hours(location, (first, last), found, draw, skies[0])
    if as_json:
        told = ranking.answer(location, (first, last), found, dusky, skies, narrow)
        _print_json(
            {
                **told,
                "weather": weathering.answer_odds(odds),
                "exteriors": [exteriors.answer(location, day, each) for day, each in out.items()],
            }
        )
    elif as_csv:
        typer.echo(ranking.rows(location, found), nl=False)
    else:
        known = weathering.told_odds(odds)
        parts = [ranking.told(location, (first, last), found, dusky, skies, known, narrow)] * bool(
            inside
        )
        parts += [exteriors.told(location, day, each) for day, each in out.items()]
        show(cautions_last(chain.from_iterable(parts)))


def _between(location: Location, text: str | None) -> tuple[time, time]:
    """Two clock times; those that the file's crew keeps where none are given."""
    if text is None:
        return location.day.call, location.day.wrap
    start, dash, end = text.partition("-")
    if not dash:
        raise InputError(f"--between {text}: expected two clock times such as 09:00-19:00")
    found = _clock(start.strip(), "--between"), _clock(end.strip(), "--between")
    if not found[0] < found[1]:
        raise InputError(f"--between {text}: the second time does not lie after the first")
    return found


@app.command(epilog="Example: sunplan key locations/lock-house.toml")
def key(file: File, setup: OneSetup = None, as_json: Json = False) -> None:
    """Is the lamp enough: its level at the face, how soft it is, what buys a stop."""
    from .light.key import keys
    from .location.read import read
    from .show import keying
    from .show.layout import show

    location = read(file)
    found = keys(location, _setups(location, setup))
    if as_json:
        _print_json(keying.answer(location, found))
    else:
        show(keying.told(location, found))


@app.command(
    epilog="Example: sunplan negative locations/lock-house.toml --date 2027-03-20 --at 16:00"
)
def negative(
    file: File,
    date: Date,
    at: Annotated[str, typer.Option("--at", metavar="T", help="At this clock time.")],
    sky: Annotated[SkyName, typer.Option("--sky", help="How the sky is.")] = SkyName.CLEAR,
    setup: OneSetup = None,
    as_json: Json = False,
) -> None:
    """Negative fill: which black panel at which distance gives the contrast."""
    from .light import daylight
    from .location.read import read
    from .rig.negative import negative as worked_out
    from .show import filling
    from .show.layout import show
    from .sun.calendar import at_clock

    day = _planned(date)
    location = read(file)
    moment = at_clock(day, _clock(at, "--at"), location.timezone)
    above = daylight.skies(location, [moment], daylight.Weather(sky.value)).each[0]
    found = [worked_out(location, one, above) for one in _setups(location, setup)]
    if as_json:
        _print_json(filling.answer(location, day, found))
    else:
        show(filling.told(location, day, found))


class Weathers(StrEnum):
    """For which weather to pack and cut."""

    SUN = "sun"
    ANY = "any"


ForWeather = Annotated[
    Weathers, typer.Option("--for", help="For what the sun does, or for any weather.")
]


def _for(weather: Weathers) -> tuple[str, ...]:
    return ("clear",) if weather is Weathers.SUN else ("clear", "overcast")


@app.command(
    epilog="Example: sunplan cut locations/lock-house.toml --date 2027-03-20 "
    "--from 14:00 --to 18:00"
)
def cut(
    file: File,
    date: Date,
    start: From,
    end: To,
    weather: ForWeather = Weathers.ANY,
    setup: OneSetup = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Black and gel: what each opening needs, what to cut from which roll, how tight."""
    from .light.daylight import Weather
    from .location.read import read
    from .rig.takeoff import takeoff
    from .rig.treat import treated
    from .show import cutting
    from .show.layout import show

    _not_both(as_json, as_csv)
    day = _planned(date)
    location = read(file)
    start_s, end_s = _interval(location, day, start, end)
    skies = _for(weather)
    weathers = [Weather(name) for name in skies]
    done = [
        treated(location, one, start_s=start_s, end_s=end_s, weathers=weathers)
        for one in _setups(location, setup)
    ]
    found = takeoff(location, done)
    if as_json:
        _print_json(cutting.answer(location, day, done, found, skies))
    elif as_csv:
        typer.echo(cutting.rows(found), nl=False)
    else:
        show(cutting.told(location, day, done, found, skies))


@app.command(epilog="Example: sunplan order locations/lock-house.toml --date 2027-03-20")
def order(
    file: File,
    date: Date,
    weather: ForWeather = Weathers.SUN,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which order: setups where nature does the work and the least is rigged twice."""
    from .day.order import order as worked_out
    from .light.daylight import Weather
    from .location.read import read
    from .show import ordering
    from .show.layout import show
    from .show.progress import progress

    _not_both(as_json, as_csv)
    day = _planned(date)
    location = read(file)
    setups = _setups(location, None)
    skies = _for(weather)
    with progress(len(setups)) as tell:
        found = worked_out(
            location, setups, day, weathers=[Weather(name) for name in skies], tell=tell
        )
    if as_json:
        _print_json(ordering.answer(location, day, found, skies))
    elif as_csv:
        typer.echo(ordering.rows(location, found), nl=False)
    else:
        show(ordering.told(location, day, found, skies))


@app.command(epilog="Example: sunplan pack locations/lock-house.toml --date 2027-03-20")
def pack(
    file: File,
    date: Date,
    start: Annotated[
        str | None,
        typer.Option("--from", metavar="T", help="When rigging starts; else the file's call."),
    ] = None,
    weather: ForWeather = Weathers.SUN,
    best: Annotated[
        bool, typer.Option("--best", help="In the order and at the times that `order` finds.")
    ] = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """What to take: the most of each thing at one time, own or rent, weight, cases, minutes."""
    from .day.order import order as in_order
    from .day.pack import pack as worked_out
    from .day.running import SLACK_S
    from .light.daylight import Weather
    from .location.read import read
    from .show import packing
    from .show.layout import show
    from .show.progress import progress
    from .sun.calendar import at_clock

    _not_both(as_json, as_csv)
    day = _planned(date)
    location = read(file)
    setups = _setups(location, None)
    skies = _for(weather)
    weathers = [Weather(name) for name in skies]
    with progress(len(setups) * (2 if best else 1)) as tell:
        if best:
            ordered = in_order(location, setups, day, weathers=weathers, tell=tell)
            setups = ordered.best.setups(location.timezone)
        found = worked_out(
            location,
            setups,
            start_s=at_clock(
                day,
                location.day.call if start is None else _clock(start, "--from"),
                location.timezone,
            ),
            weathers=weathers,
            # The best order's times are kept to the minute.
            slack_s=0.0 if best else SLACK_S,
            tell=tell,
        )
    if as_json:
        _print_json(packing.answer(location, day, found, skies))
    elif as_csv:
        typer.echo(packing.rows(found), nl=False)
    else:
        show(packing.told(location, day, found, skies, best=best))


@app.command(epilog="Example: sunplan plan locations/lock-house.toml --date 2026-10-24 --out day")
def plan(
    file: File,
    date: Date,
    out: Annotated[Path, typer.Option("--out", metavar="FOLDER", help="Where to write it.")],
    sky: OneSky = None,
    paper: Annotated[
        PaperName | None, typer.Option("--paper", help="Of the sheet; else by the file's units.")
    ] = None,
) -> None:
    """All of it into a folder: plan, sheet to print, calendar, drawings, a timeline."""
    from .day.plan import plan as worked_out
    from .day.plan import steps
    from .location.read import read
    from .show import folder
    from .show.progress import progress

    day = _planned(date)
    location = read(file)
    folder.check(out)
    with progress(steps(location) + folder.steps(location)) as tell:
        names = folder.write(
            worked_out(location, day, skies=_skies(sky), tell=tell),
            out,
            paper=None if paper is None else paper.value,
            tell=tell,
        )
    typer.echo(f"{out}: " + ", ".join(names))


def _run(call: Callable[[], Any]) -> int:
    try:
        call()
    except SunplanError as error:
        print(error, file=sys.stderr)
        return 2
    except Interrupted:
        print("interrupted: nothing was written", file=sys.stderr)
        return INTERRUPTED
    return 0


class Interrupted(BaseException):
    """Ctrl-C, as ours: the parser would end without a word."""


def _interrupt(_signal: int, _frame: FrameType | None) -> None:
    raise Interrupted


def main() -> None:
    """Entry point of the `sunplan` command."""
    signal.signal(signal.SIGINT, _interrupt)
    sys.exit(_run(app))
