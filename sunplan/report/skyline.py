"""Tables put into a location file, all or nothing."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

from ..location.read import Location
from ..survey.questions import unit_m
from ..survey.sightings import Tables
from .answers import Answer

ROWS = (("skyline", "points"), ("outside",))  # of its answer, for spreadsheets


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
