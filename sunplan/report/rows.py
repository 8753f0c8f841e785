"""An answer as rows: of the same names as its JSON, for spreadsheets and data frames.

A column's name ends with its unit where its JSON key does. A list of figures becomes a column each:
a point or a direction `_x`, `_y`, `_z` in the plan frame, a size `_width`, `_height`, a span of
levels `_min`, `_max`.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import TYPE_CHECKING, Any

from .answers import Answer

if TYPE_CHECKING:
    import pandas as pd

Record = dict[str, Any]
Kinds = Mapping[str, Sequence[str]]  # kinds of rows: paths of keys to the lists that hold them
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")
MOMENTS = "from", "to", "time", "earliest", "latest"  # what columns of moments end with
UNIT = re.compile(r"(?:(.*)_)?(m|stops)")  # at the end of a list's name, behind what it is of
AXES = "x", "y", "z"
POINTS = "at", "from"  # lists of two figures that are points on the plan
PAIRS = {  # what the two figures of other lists are
    **{"roll_m": ("width", "length"), "height": ("low", "high"), "view": ("across", "up")},
    **{"size": ("width", "height"), "shade": ("width", "height"), "m": ("width", "height")},
    "stops": ("min", "max"),
}
MAYBE = {*POINTS, "after_stops", "colour_lamp"}  # lists, tables; where missing, no column
RESTATED = ("positions",)  # what holds them says of itself what it says of the first
DIRECTIONS = "across", "up"  # unit vectors
UNITS = {  # by a column's name, or by what it ends with
    **{"cd_m2": "cd/m²", "m2": "m²", "mm_per_m": "mm/m", "mm": "mm", "m": "m", "kg": "kg"},
    **{"lux": "lx", "ev": "EV", "stops": "stops", "down": "stops", "kelvin": "K", "balance": "K"},
    **{"mired": "MK⁻¹", "deg": "°", "minutes": "min", "watts": "W", "lumens": "lm"},
    "score": "min",
    **{"rigging": "min", "striking": "min", "off_look": "min", "treatments": "min"},
    **{"false_hour": "min", "does_not_fit": "min"},
    "price": "of the kit",  # in its own currency
    **{"floor": "m", "height": "m", "along": "m", "sill": "m", "depth": "m", "width": "m"},
    **{"low": "m", "high": "m", "base": "m", "error": "m", "x": "m", "y": "m", "z": "m"},
    **{"turn": "°", "pitch": "°", "faces": "°"},
    # of the light at a face, by its sides
    **{f"lux_{where}": "lx" for where in ("before", "key_side", "fill_side", "horizontal")},
}


def records(answer: Answer, *path: str, outer: Mapping[str, Any] | None = None) -> list[Record]:
    """A row for each item of the lists that a path of keys leads through.

    A row has what its item says, and what all that hold it say. What lies in a table has its name
    before it; where an item says what its holder says too, the holder's has the holder's name
    before it. Lists of tables off the path are left out.

    >>> answer = {"setups": [{"setup": "a", "at": 0, "times": [{"at": 1, "sky": {"lux": 5}}]}]}
    >>> records(answer, "setups", "times")
    [{'setup': 'a', 'setup_at': 0, 'at': 1, 'sky_lux': 5}]
    """
    return list(_rows(answer[path[0]], path, outer or {}))


def _rows(
    items: Iterable[Answer], path: Sequence[str], outer: Mapping[str, Any], holder: str = ""
) -> Iterator[Record]:
    for item in items:
        own = dict(_plain(item))
        if path[0] not in RESTATED:
            row = {f"{holder}_{key}" if key in own else key: it for key, it in outer.items()} | own
        else:
            row = {key: it for key, it in outer.items() if key not in own} | own
        if len(path) > 1:
            yield from _rows(item[path[1]], path[1:], row, path[0].removesuffix("s"))
        else:
            yield row


def _plain(item: Answer, before: str = "") -> Iterator[tuple[str, Any]]:
    """All that a table says outright: tables in it opened up, ranges and figures side by side."""
    for key, value in item.items():
        name = before + key
        if isinstance(value, dict):
            yield from _plain(value, f"{name}_")
        elif value is None and {key, name} & MAYBE:
            continue
        elif not isinstance(value, list):
            yield name, value
        elif key.endswith("_range"):
            early, late = value
            yield name.replace("_range", "_earliest"), early
            yield name.replace("_range", "_latest"), late
        elif not value:
            continue
        elif all(isinstance(part, int | float) for part in value):
            yield from zip(_columns(name, key, len(value)), value, strict=True)
        elif not any(isinstance(part, dict | list) for part in value):
            yield name, value


def _columns(name: str, key: str, count: int) -> list[str]:
    """The columns of a list of figures.

    >>> _columns("needs_m", "needs_m", 2), _columns("camera_at", "at", 2)
    (['needs_width_m', 'needs_height_m'], ['camera_at_x', 'camera_at_y'])
    """
    if count == len(AXES) or key in POINTS:
        return [f"{name}_{axis}" for axis in AXES[:count]]
    of, unit = match.groups() if (match := UNIT.fullmatch(name)) else (name, None)
    numbered = tuple(map(str, range(1, count + 1)))
    parts = PAIRS.get(key, PAIRS.get(key if unit is None else unit, numbered))
    return ["_".join(filter(None, (of, part, unit))) for part in parts]


def kinds(answer: Answer, paths: Kinds) -> dict[str, list[Record]]:
    """Rows of an answer by what one is of.

    >>> kinds({"setups": [{"setup": "a", "lux": 5}]}, {"setups": ["setups"]})
    {'setups': [{'setup': 'a', 'lux': 5}]}
    """
    return {kind: records(answer, *path) for kind, path in paths.items()}


def all_kinds(rows: Mapping[str, list[Record]]) -> list[Record]:
    """Rows of all kinds, one kind after the other, for what knows one table only."""
    return list(chain.from_iterable(rows.values()))


def as_csv(rows: Sequence[Record]) -> str:
    """Rows as comma-separated text, RFC 4180; lists as their items with a plus between.

    >>> print(as_csv([{"a": 1.5, "b": ["x", "y"]}, {"a": None, "c": True}]), end="")
    a,b,c
    1.5,x + y,
    ,,yes
    """
    out = io.StringIO()
    columns = list(dict.fromkeys(key for row in rows for key in row))
    writer = csv.DictWriter(out, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows({key: _cell(value) for key, value in row.items()} for row in rows)
    return out.getvalue()


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return " + ".join(str(part) for part in value)
    return f"{value:.6g}" if isinstance(value, float) else value


def as_frame(rows: Sequence[Record], zone: str, columns: Sequence[str] = ()) -> pd.DataFrame:
    """Rows as a pandas data frame: moments of a time zone, lists as text, units in its `attrs`.

    `columns` are those of a frame without rows.

    >>> as_frame([], "UTC", ["mark", "from"]).dtypes.astype(str).to_dict()
    {'mark': 'object', 'from': 'datetime64[us, UTC]'}
    """
    import pandas as pd

    frame = pd.DataFrame(
        [
            {key: _cell(cell) if isinstance(cell, list) else cell for key, cell in row.items()}
            for row in rows
        ],
        columns=None if rows else columns,
        dtype=None if rows else object,
    )
    for column in frame.columns:
        texts = [cell for cell in frame[column] if isinstance(cell, str)]
        if texts and all(MOMENT.match(cell) for cell in texts):
            frame[column] = pd.to_datetime(frame[column], utc=True).dt.tz_convert(zone)
        elif not rows:
            kind = f"datetime64[us, {zone}]" if column.split("_")[-1] in MOMENTS else object
            frame[column] = frame[column].astype(kind)
        elif frame[column].isna().all() and unit_of(column) != "1":
            frame[column] = frame[column].astype(float)
    numbers = frame.select_dtypes("number").columns
    frame.attrs["units"] = {column: unit_of(column) for column in numbers}
    return frame


def unit_of(column: str) -> str:
    """The unit of a column of numbers; 1 of counts, shares, ratios and unit vectors.

    >>> [unit_of(name) for name in ("face_lux_key_side", "needs_centre_x", "up_x", "take", "floor")]
    ['lx', 'm', '1', '1', 'm']
    """
    words = column.split("_")
    if "reflectance" in words or (words[-1] in AXES and words[-2] in DIRECTIONS):
        return "1"
    ends = ("_".join(words[start:]) for start in range(len(words)))
    return next((UNITS[end] for end in ends if end in UNITS), "1")
