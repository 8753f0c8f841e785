"""The command line: parses, calls, formats; it computes nothing.

Exit status 0: answered. 2: a mistake in what was asked (file, option, folder), told in one
message. 1: anything else, a defect.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from datetime import date, time, timedelta
from pathlib import Path
from typing import Annotated, Any

import typer

from . import __version__
from .errors import InputError, SunplanError

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
Draw = Annotated[
    Path | None, typer.Option("--draw", metavar="PATH", help="Also draw it to a PNG or SVG.")
]


def _day(text: str, option: str = "--date") -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{option} {text}: is no date; expected YYYY-MM-DD such as 2026-10-24"
        ) from None


def _clock(text: str, option: str) -> time:
    try:
        return time.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{option} {text}: is no clock time; expected HH:MM such as 16:30"
        ) from None


def _print_json(answer: dict[str, Any]) -> None:
    typer.echo(json.dumps(answer, ensure_ascii=False, indent=1))


def _print(parts: Iterable[Any]) -> None:
    from .show.tables import console

    out = console()
    for part in parts:
        out.print(part, markup=False, highlight=False, soft_wrap=False)


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


@app.command(epilog="Example: sunplan check locations/lock-house.toml --draw rooms.png")
def check(file: File, draw: Draw = None) -> None:
    """What was understood of a location file: walls, openings, marks, setups."""
    from .location.read import read
    from .show import tables

    location = read(file)
    if draw is not None:
        from .show.drawing import draw_rooms

        draw_rooms(location, draw)
    _print(tables.check(location))


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
    from .show import answers, tables

    first = _day(date)
    last = first if to_date is None else _day(to_date, "--to-date")
    if last < first:
        raise InputError(f"--to-date {last}: lies before --date {first}")
    location = read(file)
    days = (
        day_entries(location, first + timedelta(days=ahead))
        for ahead in range((last - first).days + 1)
    )
    if as_json:
        found = [answers.entry(location, day) for day in days]
        _print_json(found[0] if to_date is None else {"days": found})
    elif as_csv:
        typer.echo(tables.entry_csv(location, days), nl=False)
    else:
        for day in days:
            _print(tables.entry(location, day))


def _run(call: Callable[[], Any]) -> int:
    try:
        call()
    except SunplanError as error:
        print(error, file=sys.stderr)
        return 2
    return 0


def main() -> None:
    """Entry point of the `sunplan` command."""
    sys.exit(_run(app))
