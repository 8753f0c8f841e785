"""Tables put into a location file, all or nothing."""

from __future__ import annotations

import tomllib
from pathlib import Path

from ..location.lengths import unit_m
from ..location.read import Location
from ..survey.sightings import Tables
from .answers import Answer

ROWS = {"points": ("skyline", "points"), "outside": ("outside",)}  # of its answer, by kind


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
                    for bearing, altitude in skyline["points"]
                ],
            }
            for number, skyline in enumerate(made.get("skyline", ()), 1)
        ],
        "outside": [
            {
                "name": block["name"],
                "at": [length * unit for length in block["at"]],
                "size": [length * unit for length in block["size"]],
                "turn": block["turn"],
            }
            for block in made.get("outside", ())
        ],
    }


def text(path: Path, tables: Tables, *, written: bool) -> str:
    """The tables as they stand in a file, whether they were written, what stands there already.

    What is not written may be pasted, all of it: so no line is folded, and remarks are comments.
    """
    lines = ["\n".join(tables.new.values()).removesuffix("\n")] if tables.new else []
    if tables.new and written:
        lines.append(f"\n{path}: written: {', '.join(tables.new)}")
    if tables.there:
        sign = "" if written else "# "
        lines.append(f"{sign}{path}: {', '.join(tables.there)}: stands there already")
    return "\n".join(lines)
