"""The form and the sheet of answers into files, each by its name's ending."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from ..errors import InputError
from ..location.read import Location
from ..report.ask import sheet_rows
from ..survey.questions import Sheet
from .files import check_free, put
from .form import draw_form
from .message import message
from .typeset import USUAL

ENDINGS = (".pdf", ".txt", ".csv")


def write(
    location: Location,
    asked: Sheet,
    paths: Sequence[Path],
    *,
    paper: str | None = None,
    force: bool = False,
) -> str:
    """Write each, all or nothing, and say so, a line a file.

    It is on the `paper` given, else by the file's units. ``InputError`` where an ending is none of
    `ENDINGS`, or a file would take another's place without `force`.
    """
    for path in paths:
        check_free(path, force=force)
    for path in paths:
        if path.suffix.lower() not in ENDINGS:
            raise InputError(f"--out {path}: expected a name that ends in {', '.join(ENDINGS)}")
    usual = USUAL[location.site.units]
    for path in paths:
        match path.suffix.lower():
            case ".pdf":
                draw_form(location, asked, usual if paper is None else paper, path)
            case ".txt":
                put(path, message(location, asked))
            case _:
                # A spreadsheet knows UTF-8 by the mark at its start.
                put(path, "\ufeff" + sheet_rows(asked))
    return "".join(f"{path}: written\n" for path in paths)
