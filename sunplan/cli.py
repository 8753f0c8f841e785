"""The command line: parses, calls, formats; it computes nothing.

Exit status 0: answered. 2: a mistake in what was asked (file, option, folder), told in one
message. 1: anything else, a defect.
"""

from __future__ import annotations

import contextlib
import io
import os
import signal
import sys
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

import typer

from . import __version__
from .errors import InputError, SunplanError, in_command
from .light.sky_names import SkyName, WeatherName
from .location.lengths import Units

if TYPE_CHECKING:
    from .api import Result
    from .location.place import Place
    from .location.read import Location
    from .report.document import Document
    from .survey.corrections import Corrections
    from .survey.first_location import FirstRoom


Answer = TypeVar("Answer")
INTERRUPTED = 130  # as shells tell it: 128 and the signal's number


Paper = Literal["a4", "letter"]

app = typer.Typer(
    help="What sun and sky will do to every setup, from a floor plan, a bearing and a date.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
)
# The phases of the job, by which --help groups the commands.
PLACE, DAY, LIGHT, SHOOT = "Know the place", "Choose the day", "Light it", "On the day"


def _option(option: str, metavar: str, help: str) -> Any:
    return typer.Option(option, metavar=metavar, help=help)


def _command(phase: str, example: str) -> Callable[[Any], Any]:
    """A command, where --help lists it, and an example of it."""
    return app.command(rich_help_panel=phase, epilog=f"Example: sunplan {example}")


def _alone(ctx: typer.Context, param: typer.CallbackParam, wanted: bool) -> bool:
    """Whether an answer is wanted in this form, and then in no other."""
    forms = {"more": "--more", "as_json": "--json", "as_csv": "--csv"}
    given = [option for form, option in forms.items() if form == param.name or ctx.params.get(form)]
    if wanted and len(given) > 1:
        raise InputError(f"{' and '.join(given)}: give one of them")
    return wanted


def _picture(path: Path | None) -> Path | None:
    from .write.files import check_picture

    if path is not None:
        check_picture(path)
    return path


def _planned(given: str) -> date:
    """A date to plan for; a person on a terminal is told where it lies in the past."""
    from .day.arguments import a_date

    day = a_date(given)
    _note_past("--date", day)
    return day


def _note_past(option: str, day: date) -> None:
    """Tell a person on a terminal that a date to plan for is over."""
    from .sun.local_time import today
    from .write.prompts import note

    # Wherever on Earth that is, yesterday is over.
    if day < today() - timedelta(days=1):
        note(f"{option} {day} lies in the past; is the year right?")


Given = str | None  # what an option says, if it is given
Readings = list[str] | None  # of one that may be given again, each a text
File = Annotated[Path, typer.Argument(metavar="FILE", help="The location file (TOML).")]
Day = Annotated[
    date,
    typer.Option("--date", metavar="D", parser=_planned, help="Local date, YYYY-MM-DD."),
]
LastDate = Annotated[Given, _option("--to-date", "D", "Last date of a span; else only --date.")]
From = Annotated[Given, _option("--from", "T", "From here; else from the file's call.")]
To = Annotated[Given, _option("--to", "T", "Until here; else until the file's wrap.")]
OneSetup = Annotated[Given, _option("--setup", "NAME", "Only this setup; else all.")]
ThisSky = Annotated[SkyName, typer.Option("--sky", help="How the sky is.")]
OneSky = Annotated[
    SkyName | None, typer.Option("--sky", help="How the sky is; else clear and overcast.")
]
ForWeather = Annotated[
    WeatherName, typer.Option("--weather", help="For what the sun does, or for any weather.")
]
OtherUnits = Annotated[
    Units | None, typer.Option("--units", help="Tell lengths in these; else in the file's.")
]
Draw = Annotated[
    Path | None,
    typer.Option("--draw", metavar="PATH", callback=_picture, help="Also draw it to a PNG or SVG."),
]
More = Annotated[
    bool,
    typer.Option(
        "--more", callback=_alone, help="Also the reasons, other ways and the cautions in full."
    ),
]
Json = Annotated[
    bool, typer.Option("--json", callback=_alone, help="One JSON object on standard output.")
]
Csv = Annotated[
    bool, typer.Option("--csv", callback=_alone, help="Comma-separated rows on standard output.")
]


def _located(file: Path, units: Units | None) -> Location:
    """A location, its lengths told in the file's unit or in another."""
    from .location.read import read

    location = read(file)
    if units is None:
        return location
    site = location.site.model_copy(update={"units": units})
    return location.model_copy(update={"site": site})


def _print(result: Result[Any], *, as_json: bool, as_csv: bool, more: bool = False) -> None:
    """Tables for a person, or JSON or rows for a program."""
    if as_json:
        _print_json(result.answer)
    elif as_csv:
        typer.echo(result.csv, nl=False)
    else:
        _show(result.document, result.location.site.units, more=more)


def _show(document: Document, units: Units, *, more: bool = False) -> None:
    from .write.terminal import show

    show(document, units, more=more)


def _print_json(answer: dict[str, Any]) -> None:
    from .report.answers import as_json

    typer.echo(as_json(answer))


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


def _given(option: str, text: str, read: Callable[[str], Answer]) -> Answer:
    """What an option says, as `read` understands it."""
    from .location.messages import shown

    try:
        return read(text)
    except InputError as error:
        raise InputError(f"{option} {shown(text)}: {error}") from None


def _asked(
    option: str, text: str | None, read: Callable[[str], Answer], question: str, usual: str
) -> Answer:
    """What an option says, else a person on a terminal, else what is usual."""
    from .write.prompts import ask, on_a_terminal

    if text is not None:
        return _given(option, text, read)
    return ask(question, read, default=usual) if on_a_terminal() else read(usual)


def _place(place: str | None, town: str | None) -> Place:
    """Where --place or --town say it is, else a person on a terminal."""
    from .location.place import parse_place
    from .survey.towns import place_of, town_place
    from .write.prompts import ask, on_a_terminal

    if place is not None and town is not None:
        raise InputError("--place and --town: give one of them")
    if place is not None:
        return _given("--place", place, parse_place)
    if town is not None:
        return _given("--town", town, town_place)
    if not on_a_terminal():
        raise InputError('the place is missing; give --place, such as "52.0907,5.1214", or --town')
    return ask("Where is it: coordinates, or a town", place_of)


def _room_asked(room: Given, unit: Units) -> FirstRoom:
    """The first room: its name and its size."""
    from .survey import first_location

    return _asked(
        "--first-room",
        room,
        lambda text: first_location.parse_room(text, unit),
        f"A room to begin with: its name, width x depth x height in {unit}",
        first_location.USUAL_ROOM[unit],
    )


def _bearing_asked(plan_up: str | None, plan_up_error: str | None) -> tuple[float | None, float]:
    """The bearing of the plan's up, None where it is not known, and how far it may be off."""
    from .survey import first_location

    up = _asked(
        "--plan-up",
        plan_up,
        first_location.parse_plan_up,
        "True bearing that the plan's up points to, degrees; Enter if not known",
        "",
    )
    if up is None:
        return None, first_location.NOT_KNOWN_DEG
    question, usual = "How far may that be off, ± degrees", f"{first_location.BY_HAND_DEG:g}"
    return up, _asked("--plan-up-error", plan_up_error, first_location.parse_error, question, usual)


@_command(
    PLACE,
    'new house.toml --place "52.0907,5.1214" --first-room "kitchen 4.2 x 3.1 x 2.5" --plan-up 12',
)
def new(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="The file to write (TOML).")],
    place: Annotated[
        Given, _option("--place", "PLACE", "Coordinates as maps give them, or geo: link.")
    ] = None,
    town: Annotated[Given, _option("--town", "TOWN", "Or a town, such as Utrecht.")] = None,
    name: Annotated[Given, _option("--name", "NAME", "The location's; else the file's.")] = None,
    first_room: Annotated[
        Given, _option("--first-room", "ROOM", "Its name, width x depth x height.")
    ] = None,
    plan_up: Annotated[
        Given, _option("--plan-up", "DEG", "True bearing that the plan's up points to.")
    ] = None,
    plan_up_error: Annotated[
        Given, _option("--plan-up-error", "DEG", "How far that may be off, ±.")
    ] = None,
    units: Annotated[
        Units | None, typer.Option("--units", help="Of bare lengths; else the country's.")
    ] = None,
    date: Annotated[
        Given, _option("--date", "D", "Of the compass's declination; else today.")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Replace a file that is there.")] = False,
) -> None:
    """A first location file, to edit; asks on a terminal for what is not given."""
    from .day.arguments import a_date
    from .location.place import units_of
    from .report import new as new_report
    from .sun.local_time import today
    from .survey import first_location
    from .survey.compass import declination_note
    from .write.files import check_free, put

    day = today() if date is None else a_date(date)
    check_free(path, force=force)
    if plan_up_error is not None and plan_up is None:
        raise InputError("--plan-up-error: give --plan-up with it")
    site = _place(place, town)
    unit = units_of(site.timezone) if units is None else units
    usual = path.stem if site.town is None else site.town
    named = _asked("--name", name, first_location.parse_name, "What is it called", usual)
    room = _room_asked(first_room, unit)
    up_deg, error_deg = _bearing_asked(plan_up, plan_up_error)
    made = first_location.First(
        name=named,
        place=site,
        units=unit,
        plan_up_deg=up_deg,
        plan_up_error_deg=error_deg,
        room=room,
        compass=declination_note(
            latitude_deg=site.latitude_deg,
            longitude_deg=site.longitude_deg,
            elevation_m=0.0 if site.elevation_m is None else site.elevation_m,
            day=day,
        ),
    )
    put(path, new_report.text(made))
    _show(new_report.report(made, path), unit)


@_command(
    PLACE,
    "check locations/lock-house.toml --draw rooms.png",
)
def check(
    file: File,
    draw: Draw = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """What was understood of a location file: walls, openings, marks, setups; or of a kit."""
    from . import api
    from .location.kit import is_kit, read_kit
    from .report import kit as kit_report

    if is_kit(file):
        if draw is not None:
            raise InputError(f"--draw {draw}: {file} is a kit; there is nothing to draw")
        if as_csv:
            raise InputError(f"--csv: {file} is a kit; it is told as text or with --json")
        kit = read_kit(file)
        if as_json:
            _print_json(kit_report.answer(kit))
        else:
            _show(kit_report.report(kit), "m", more=more)
        return
    location = _located(file, units)
    if draw is not None:
        from .write.answer_pictures import draw_rooms

        draw_rooms(location, draw)
    _print(api.check(location), as_json=as_json, as_csv=as_csv, more=more)


Points = Annotated[
    Readings,
    _option(
        "--points",
        "TEXT",
        "Two points of a map, on the wall's line or a street along it, in the wall's sense: "
        '"kitchen A: 52.0907,5.1214 52.0909,5.1220 ±2m"; geo: URIs, degrees and minutes too.',
    ),
]
Compass = Annotated[
    Readings,
    _option(
        "--compass", "TEXT", 'A compass along the wall, to magnetic north: "kitchen A: 104 ±5".'
    ),
]
CompassTrue = Annotated[
    Readings, _option("--compass-true", "TEXT", 'A phone set to true north: "kitchen A: 106 ±5".')
]
Shadow = Annotated[
    Readings,
    _option(
        "--shadow",
        "TEXT",
        "The angle between the wall and the shadow of something upright on the floor: "
        '"kitchen A: 2027-03-20 15:10 ±1min, 41 left ±1"; left: the wall\'s left part, facing '
        "it from inside; left out: both. ? for the time: when it lies so.",
    ),
]
PatchEdge = Annotated[
    Readings,
    _option(
        "--patch",
        "TEXT",
        "A point x,y on the plan, of the edge that a window's jamb gives its patch of sun: "
        '"kitchen canal window: 2027-03-20 15:10, left, 3.10,2.20 ±1cm"; left sill or left '
        "head for a corner, which proves the clock.",
    ),
]
Grazes = Annotated[
    Readings,
    _option(
        "--grazes",
        "TEXT",
        "When direct sun comes to the outside of a wall or leaves it: "
        '"kitchen A: 2027-03-20 13:05 leaves".',
    ),
]


@_command(
    PLACE,
    "bearing locations/lock-house.toml "
    '--points "kitchen A: 52.0907,5.1214 52.09059,5.12226" '
    '--shadow "kitchen A: 2027-03-20 15:10, 60 left"',
)
def bearing(
    file: File,
    points: Points = None,
    compass: Compass = None,
    compass_true: CompassTrue = None,
    shadow: Shadow = None,
    patch: PatchEdge = None,
    grazes: Grazes = None,
    date: Annotated[Given, _option("--date", "D", "When the compass was read; else today.")] = None,
    write: Annotated[
        bool, typer.Option("--write", help="Put plan_up and plan_up_error into the file.")
    ] = False,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which way the plan's up points: by a map, a compass, shadows, the sun on a wall.

    A reading starts with what it is of: "kitchen A" is along that wall, from its
    first corner to its second: right to left as one sees it from inside;
    "kitchen A outward" is the way it faces; or "plan up". Every ± is 95 %, two
    standard deviations. Each option may be given again: all readings combine.
    Never look at the sun: read shadows instead.
    """
    from .api import reported
    from .location.read import read
    from .report import bearing as bearing_report
    from .survey.observations import observed
    from .survey.sun_bearing import bearings
    from .write.location_file import write_bearing

    location = read(file)
    day = _read_on(location, date)
    given = {
        "--points": points,
        "--compass": compass,
        "--compass-true": compass_true,
        "--shadow": shadow,
        "--patch": patch,
        "--grazes": grazes,
    }
    texts = {option: readings for option, readings in given.items() if readings is not None}
    measured = bearings(location, observed(location, texts), day)
    if write:
        write_bearing(location, measured)
    result = reported(measured, location, bearing_report, measured, written=write)
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


def _read_on(location: Location, given: Given) -> date:
    """When something was read: on a date that is given, else today."""
    from .day.arguments import a_date
    from .sun.local_time import today

    return today(location.timezone) if given is None else a_date(given)


FormFiles = Annotated[
    list[Path] | None,
    _option(
        "--out",
        "PATH",
        "Write the form to a .pdf or .txt, the sheet of answers to a .csv; may be given again.",
    ),
]
SheetCsv = Annotated[
    bool,
    typer.Option(
        "--csv",
        callback=_alone,
        help="The sheet on standard output; with --fill, what changed.",
    ),
]


@_command(
    PLACE,
    "ask locations/lock-house.toml --out form.pdf --out answers.csv",
)
def ask(
    file: File,
    answers: Annotated[
        Path | None,
        typer.Argument(metavar="ANSWERS", help="With --fill: the sheet of answers (CSV)."),
    ] = None,
    fill: Annotated[bool, typer.Option("--fill", help="Put the answers into the file.")] = False,
    room: Annotated[Given, _option("--room", "NAME", "Ask of this room only; else all.")] = None,
    out: FormFiles = None,
    paper: Annotated[
        Paper | None, typer.Option("--paper", help="Of the PDF; else by the file's units.")
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="With --out: replace files that are there.")
    ] = False,
    as_json: Json = False,
    as_csv: SheetCsv = False,
) -> None:
    """A form for the owner of a house that nobody of the crew has seen: what to measure.

    Send the form; put what comes back into the sheet's column `answer`; then
    sunplan ask --fill FILE ANSWERS.
    """
    from .location.read import read
    from .report import ask as ask_report
    from .survey.questions import of_room, sheet

    location = read(file)
    if fill:
        if answers is None:
            raise InputError("--fill: the sheet of answers is missing; give it behind the file")
        if room is not None or out or paper is not None:
            raise InputError("--fill: goes without --room, --out and --paper")
        _print(_filled(location, answers), as_json=as_json, as_csv=as_csv)
        return
    if answers is not None:
        raise InputError(f"{answers}: give --fill to put answers into {file}")
    asked = sheet(location)
    if room is not None:
        asked = of_room(asked, room)
    if out:
        from .write import form_files

        if as_json or as_csv:
            raise InputError("--out: goes without --json and --csv")
        typer.echo(form_files.write(location, asked, out, paper=paper, force=force), nl=False)
    elif as_json:
        _print_json(ask_report.answer(location, asked))
    elif as_csv:
        typer.echo(ask_report.sheet_rows(asked), nl=False)
    else:
        from .write.message import message

        typer.echo(message(location, asked), nl=False)


def _filled(location: Location, answers: Path) -> Result[Corrections]:
    """A sheet of answers, put into the location's file."""
    from .api import Result
    from .report import corrections as report
    from .report.rows import kinds
    from .survey.corrections import corrections
    from .write.location_file import write_corrections

    corrected = corrections(location, answers)
    write_corrections(location, corrected)
    return Result(
        corrected,
        location,
        lambda: report.answer(location, corrected),
        lambda: report.report(location, answers, corrected),
        lambda answer: kinds(answer, report.ROWS),
    )


@_command(
    PLACE,
    'skyline locations/lock-house.toml --sight "80: 4" --sight "120: 9"',
)
def skyline(
    file: File,
    sight: Annotated[
        Readings,
        _option(
            "--sight", "TEXT", 'Bearing and degrees up of a point of the far horizon: "80: 4".'
        ),
    ] = None,
    building: Annotated[
        Readings,
        _option(
            "--building",
            "TEXT",
            'A block across the way: "210: 35 m away, 12 m high, 20 m wide", or "18° up".',
        ),
    ] = None,
    spot: Annotated[
        Given, _option("--spot", "X,Y", "The spot on the plan they were seen from.")
    ] = None,
    magnetic: Annotated[
        bool, typer.Option("--magnetic", help="The bearings are a compass's, to magnetic north.")
    ] = False,
    date: Annotated[Given, _option("--date", "D", "When it was read; else today.")] = None,
    write: Annotated[bool, typer.Option("--write", help="Put the tables into the file.")] = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    r"""A few sightings from the spot as [\[skyline]] and [\[outside]] tables."""
    from .location.read import read
    from .report import rows
    from .report import skyline as skyline_report
    from .survey import sightings
    from .write.location_file import write_tables

    location = read(file)
    if not sight and not building:
        raise InputError("--sight, --building: give at least one")
    declined = _declined(location, date) if magnetic else 0.0
    tables = sightings.tables(
        location,
        [sightings.sight(text, declined_deg=declined) for text in sight or ()],
        [sightings.building(text, declined_deg=declined) for text in building or ()],
        None if spot is None else sightings.spot(spot, location.site.units),
    )
    if write:
        write_tables(file, tables)
    answer = skyline_report.answer(location, tables, written=write)
    if as_json:
        _print_json(answer)
    elif as_csv:
        typer.echo(rows.as_csv(rows.all_kinds(rows.kinds(answer, skyline_report.ROWS))), nl=False)
    else:
        typer.echo(skyline_report.text(file, tables, written=write))


def _declined(location: Location, date: Given) -> float:
    """How far a compass points east of true north there, when it was read."""
    from .survey.compass import check_day, decimal_year, declination

    day, site = _read_on(location, date), location.site
    check_day(day, instead="true bearings without --magnetic")
    return declination(site.latitude, site.longitude, year=decimal_year(day)).degrees


@_command(
    DAY,
    "entry locations/lock-house.toml --date 2026-10-24",
)
def entry(
    file: File,
    day: Day,
    to_date: LastDate = None,
    setup: OneSetup = None,
    draw: Draw = None,
    over_mark: Annotated[
        Given, _option("--over-mark", "NAME", "Draw the sky over this mark instead.")
    ] = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """When direct sun enters each opening, where it lands, which marks it touches."""
    from . import api

    if draw is not None and to_date is not None:
        raise InputError(f"--draw {draw}: draws one date; leave --to-date out")
    if over_mark is not None and draw is None:
        raise InputError(f"--over-mark {over_mark}: says what --draw draws; give it as well")
    location = _located(file, units)
    result = api.entry(location, day, to_date=to_date, setup=setup)
    location = result.location
    if draw is not None:
        from .write.answer_pictures import draw_entry, draw_sky

        entries = result.value[0]
        if over_mark is None:
            draw_entry(location, entries, draw)
        else:
            draw_sky(location, entries, over_mark, draw)
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


@_command(
    LIGHT,
    "flags locations/lock-house.toml --date 2026-10-24 --from 09:00 --to 17:00",
)
def flags(
    file: File,
    day: Day,
    start: From = None,
    end: To = None,
    setup: OneSetup = None,
    covers: Annotated[
        Literal["sun", "all"],
        typer.Option("--covers", help="Stop direct sun, or all light of an opening."),
    ] = "sun",
    sure: Annotated[
        bool, typer.Option("--sure", help="Large enough whatever is true within the file's ±.")
    ] = False,
    draw: Draw = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """What blocks it: which flag, where, how high, and when to move it."""
    from . import api

    location = _located(file, units)
    result = api.flags(
        location,
        day,
        from_=start,
        to=end,
        setup=setup,
        covers=covers,
        sure=sure,
    )
    if draw is not None:
        from .write.answer_pictures import draw_flags

        draw_flags(location, day, result.value, draw)
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


@_command(
    LIGHT,
    "gap locations/lock-house.toml --date 2026-10-24 --at 16:00",
)
def gap(
    file: File,
    day: Day,
    at: Annotated[Given, _option("--at", "T", "At this clock time only.")] = None,
    start: Annotated[Given, _option("--from", "T", "From here; else from sunrise.")] = None,
    end: Annotated[Given, _option("--to", "T", "Until here; else until dark.")] = None,
    step: Annotated[
        Given, _option("--step", "STEP", "Between looks, such as 15min; else 1h.")
    ] = None,
    sky: OneSky = None,
    turbidity: Annotated[
        float | None, _option("--turbidity", "TL", "Linke's; else the month's.")
    ] = None,
    direct_lux: Annotated[
        float | None, _option("--direct-lux", "LX", "Measured, square to the sun.")
    ] = None,
    diffuse_lux: Annotated[
        float | None, _option("--diffuse-lux", "LX", "Measured, level, the sun shaded off.")
    ] = None,
    setup: OneSetup = None,
    draw: Draw = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """How far from the look: each window in frame, in stops, and what closes the gap."""
    from . import api

    if draw is not None and at is not None:
        raise InputError(f"--draw {draw}: draws a stretch; give --from and --to, or neither")
    location = _located(file, units)
    result = api.gap(
        location,
        day,
        at=at,
        from_=start,
        to=end,
        step=step,
        sky=sky,
        turbidity=turbidity,
        direct_lux=direct_lux,
        diffuse_lux=diffuse_lux,
        setup=setup,
    )
    if draw is not None:
        from .day.arguments import interval
        from .write.answer_pictures import draw_gap

        gaps = result.value
        draw_gap(
            location,
            day,
            [setup_gap.setup for setup_gap in gaps.setups],
            gaps.weathers,
            gaps.fits,
            draw,
            span_s=None if start is None or end is None else interval(location, day, start, end),
        )
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


WeatherFile = Annotated[
    Path | None, _option("--weather-file", "FILE", "EPW or TMY3: how often the sun shines.")
]


@_command(
    DAY,
    "hours locations/lock-house.toml --date 2027-03-15 --to-date 2027-03-21",
)
def hours(
    file: File,
    day: Day,
    to_date: LastDate = None,
    start: From = None,
    end: To = None,
    setup: OneSetup = None,
    sky: ThisSky = "clear",
    most: Annotated[
        int, typer.Option("--most", metavar="N", min=1, help="How many stretches a setup.")
    ] = 3,
    why: Annotated[
        Given, _option("--why", "T", "Explain this clock time of the first date.")
    ] = None,
    weather_file: WeatherFile = None,
    draw: Draw = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which hours: natural matches and what the rest takes, ranked."""
    from . import api
    from .day.arguments import all_setups, dates
    from .day.hours import steps
    from .write.progress import progress

    span = dates(day, to_date, ("date", "to_date"))
    location = _located(file, units)
    inside, _ = all_setups(location, setup)
    if why is not None:
        if as_json or as_csv or draw is not None or weather_file is not None:
            raise InputError(
                f"--why {why}: told alone, without --json, --csv, --draw, --weather-file"
            )
        if not inside:
            raise InputError(f"--why {why}: explains setups indoors; {setup} stands outdoors")
        document = api.why(location, span[0], why, sky=sky, setup=setup)
        _show(document, location.site.units, more=more)
        return
    if draw is not None and not inside:
        raise InputError(f"--draw {draw}: there is no setup indoors to draw")
    with progress(steps(inside)) as tell:
        result = api.hours(
            location,
            span[0],
            to_date=span[1],
            from_=start,
            to=end,
            setup=setup,
            sky=sky,
            most=most,
            weather_file=weather_file,
            tell=tell,
        )
    if draw is not None:
        from .write.answer_pictures import draw_hours

        draw_hours(location, span, result.value.setups, sky, draw)
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


@_command(
    DAY,
    "days locations/lock-house.toml --from-date 2027-03-15 --to-date 2027-03-21",
)
def days(
    file: File,
    from_date: Annotated[str, _option("--from-date", "D", "First date of a span, YYYY-MM-DD.")],
    to_date: Annotated[str, _option("--to-date", "D", "Last date of a span.")],
    weather: ForWeather = "sun",
    setup: Annotated[
        list[str] | None,
        _option("--setup", "NAME", "Only this setup; give it again for more; else all."),
    ] = None,
    weather_file: WeatherFile = None,
    draw: Draw = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which day: dates by the best whole day of all setups together, and why."""
    from . import api
    from .day.arguments import dates
    from .day.days import steps
    from .write.progress import progress

    span = dates(from_date, to_date, ("from_date", "to_date"))
    _note_past("--from-date", span[0])
    location = _located(file, units)
    with progress(steps(*span)) as tell:
        result = api.days(
            location, *span, weather=weather, setup=setup, weather_file=weather_file, tell=tell
        )
    if draw is not None:
        from .write.answer_pictures import draw_days

        draw_days(location, span, result.value, draw)
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


@_command(LIGHT, "key locations/lock-house.toml")
def key(
    file: File,
    setup: OneSetup = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Is the lamp enough: its level at the face, how soft it is, what buys a stop."""
    from . import api

    _print(api.key(_located(file, units), setup=setup), as_json=as_json, as_csv=as_csv, more=more)


@_command(
    LIGHT,
    "negfill locations/lock-house.toml --date 2027-03-20 --at 16:00",
)
def negfill(
    file: File,
    day: Day,
    at: Annotated[
        Given, _option("--at", "T", "At this clock time; else amid each shoot, as in pack.")
    ] = None,
    sky: ThisSky = "clear",
    setup: OneSetup = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Negative fill: which black panel at which distance gives the contrast."""
    from . import api

    result = api.negfill(_located(file, units), day, at, sky=sky, setup=setup)
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


@_command(
    LIGHT,
    "blackout locations/lock-house.toml --date 2027-03-20 --from 14:00 --to 18:00",
)
def blackout(
    file: File,
    day: Day,
    start: From = None,
    end: To = None,
    weather: ForWeather = "sun",
    setup: OneSetup = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Black and gel: what each opening needs, what to cut from which roll, how tight."""
    from . import api

    location = _located(file, units)
    result = api.blackout(location, day, from_=start, to=end, weather=weather, setup=setup)
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


@_command(
    SHOOT,
    "order locations/lock-house.toml --date 2027-03-20",
)
def order(
    file: File,
    day: Day,
    weather: ForWeather = "sun",
    setup: OneSetup = None,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Which order: natural matches where they are, the least rigged twice."""
    from . import api
    from .write.progress import progress

    location = _located(file, units)
    with progress(len(location.setup)) as tell:
        result = api.order(location, day, weather=weather, setup=setup, tell=tell)
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


@_command(
    SHOOT,
    "pack locations/lock-house.toml --date 2027-03-20",
)
def pack(
    file: File,
    day: Day,
    start: From = None,
    weather: ForWeather = "sun",
    setup: OneSetup = None,
    best: Annotated[
        bool, typer.Option("--best", help="In the order and at the times that `order` finds.")
    ] = False,
    units: OtherUnits = None,
    more: More = False,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """What to take: the most of each thing at one time, own or rent, weight, cases, minutes."""
    from . import api
    from .write.progress import progress

    location = _located(file, units)
    with progress(len(location.setup) * (2 if best else 1)) as tell:
        result = api.pack(
            location, day, from_=start, weather=weather, setup=setup, best=best, tell=tell
        )
    _print(result, as_json=as_json, as_csv=as_csv, more=more)


@_command(
    SHOOT,
    "plan locations/lock-house.toml --date 2026-10-24 --out day",
)
def plan(
    file: File,
    day: Day,
    out: Annotated[Path, _option("--out", "PATH", "The folder to write it into.")],
    setup: OneSetup = None,
    sky: OneSky = None,
    units: OtherUnits = None,
    paper: Annotated[
        Paper | None, typer.Option("--paper", help="Of the sheet; else by the file's units.")
    ] = None,
    more: More = False,
) -> None:
    """All of it into a folder: plan, sheet to print, calendar, drawings, a timeline."""
    from . import api
    from .day.plan import steps
    from .write import folder
    from .write.progress import progress

    location = _located(file, units)
    folder.check(out)
    with progress(steps(location) + folder.STEPS) as tell:
        day_plan = api.plan(location, day, setup=setup, sky=sky, tell=tell).value
        names = folder.write(day_plan, out, paper=paper, more=more, tell=tell)
    typer.echo(f"{out}: " + ", ".join(names))


def _run(call: Callable[[], Any]) -> int:
    try:
        call()
    except SunplanError as error:
        print(error, file=sys.stderr)
        return 2
    except OSError as error:  # a name too long, a disk that is full
        file = "standard output" if error.filename is None else error.filename
        print(f"{file}: {error.strerror}", file=sys.stderr)
        return 2
    except BaseException:
        if not Interrupted.came:
            raise
        print("interrupted: nothing was written", file=sys.stderr)
        return INTERRUPTED
    return 0


class Interrupted(BaseException):
    """Ctrl-C, as ours: the parser would end without a word.

    `came`: some imports make another error of it.
    """

    came = False


def _interrupt(_signal: int, _frame: FrameType | None) -> None:
    Interrupted.came = True
    raise Interrupted


def _speak() -> None:
    """Words as UTF-8 where a file or another program reads them, as a terminal can elsewhere."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            coding = None if stream.isatty() else "utf-8"
            stream.reconfigure(encoding=coding, errors="replace")
    # A reader that has enough, such as head, ends it without a word.
    if hasattr(signal, "SIGPIPE") and isinstance(sys.stdout, io.TextIOWrapper):
        signal.signal(signal.SIGPIPE, signal.SIG_DFL)


def _flushed(call: Callable[[], Any]) -> None:
    """What is said has gone out when it ends; where it cannot, nothing is tried again."""
    try:
        try:
            call()
        finally:
            sys.stdout.flush()
    except OSError:
        with contextlib.suppress(OSError, ValueError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise


def main() -> None:
    """Entry point of the `sunplan` command."""
    # The matrices are small: more threads would only spin, in the way of work done beside.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    in_command.set(True)
    signal.signal(signal.SIGINT, _interrupt)
    Interrupted.came = False
    _speak()
    sys.exit(_run(lambda: _flushed(app)))
