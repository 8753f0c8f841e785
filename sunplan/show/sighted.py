"""Tables put into a location file, all or nothing."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

from ..location.questions import unit_m
from ..location.read import Location, read_text
from ..location.rewrite import MARK, with_tables
from ..location.sightings import Tables
from .answers import Answer
from .writing import replace

ROWS = (("skyline", "points"), ("outside",))  # of its answer, for spreadsheets


def put(path: Path, tables: Tables) -> None:
    """Put new tables into a location file; nothing is written where it could not be read then.

    Raises ``LocationError`` with what would be wrong in it.
    """
    if not tables.new:
        return
    after = with_tables(path.read_bytes().decode("utf-8"), list(tables.new.values()))
    read_text(after.removeprefix(MARK), path)
    with replace(path.resolve()) as beside:
        beside.write_bytes(after.encode("utf-8"))


def answer(location: Location, tables: Tables, *, written: bool) -> Answer:
    """Answer of `sunplan skyline`: the new tables, lengths in metres; what stands there already."""
    made, unit = tomllib.loads("\n".join(tables.new.values())), unit_m(location.site.units)
    return {
        "location": location.site.name,
        "written": written,
        "there": tables.there,
        "skyline": [
            {
                "skyline": number,
                "points": [
                    {"bearing_deg": bearing, "altitude_deg": altitude}
                    for bearing, altitude in one["points"]
                ],
            }
            for number, one in enumerate(made.get("skyline", ()), 1)
        ],
        "outside": [
            {
                "name": one["name"],
                "at": [each * unit for each in one["at"]],
                "size": [each * unit for each in one["size"]],
                "turn": one["turn"],
            }
            for one in made.get("outside", ())
        ],
    }


def told(path: Path, tables: Tables, *, written: bool) -> Iterator[str]:
    """The tables, whether they were written, and what stands in the file already."""
    if tables.new:
        yield "\n".join(tables.new.values()).removesuffix("\n")
    sign = "" if written else "# "  # what is not written may be pasted, this line too
    if tables.new and written:
        yield f"\n{path}: written: {', '.join(tables.new)}"
    if tables.there:
        yield f"{sign}{path}: {', '.join(tables.there)}: stands there already"
