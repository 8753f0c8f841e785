"""An answer as rows: of the same names as its JSON, for spreadsheets and data frames."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from .answers import Answer

if TYPE_CHECKING:
    import pandas as pd

Record = dict[str, Any]
MOMENT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")


def records(answer: Answer, *path: str, outer: Mapping[str, Any] | None = None) -> list[Record]:
    """A row for each item of the lists that a path of keys leads through.

    A row has what its item says, and what all that hold it say; what lies in a table has its name
    before it, and so has a name that stands already. Lists of tables off the path are left out.

    >>> answer = {"setups": [{"setup": "a", "times": [{"time": 1, "sky": {"lux": 5}}]}]}
    >>> records(answer, "setups", "times")
    [{'setup': 'a', 'time': 1, 'sky_lux': 5}]
    """
    return list(_rows(answer[path[0]], path[0], path[1:], outer or {}))


def _rows(
    items: Iterable[Answer], name: str, path: Sequence[str], outer: Mapping[str, Any]
) -> Iterator[Record]:
    for item in items:
        row = dict(outer)
        for key, value in _plain(item):
            row[key if key not in row else f"{name}_{key}"] = value
        if path:
            yield from _rows(item[path[0]], path[0], path[1:], row)
        else:
            yield row


def _plain(item: Answer, before: str = "") -> Iterator[tuple[str, Any]]:
    """All that a table says outright: tables in it opened up, ranges and figures side by side."""
    for key, value in item.items():
        name = before + key
        if isinstance(value, dict):
            yield from _plain(value, f"{name}_")
        elif not isinstance(value, list):
            yield name, value
        elif key.endswith("_range"):
            early, late = value
            yield name.replace("_range", "_earliest"), early
            yield name.replace("_range", "_latest"), late
        elif all(isinstance(part, int | float) for part in value):
            yield from ((f"{name}_{number}", part) for number, part in enumerate(value, 1))
        elif not any(isinstance(part, dict | list) for part in value):
            yield name, value


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


def as_frame(rows: Sequence[Record], zone: str) -> pd.DataFrame:
    """Rows as a pandas data frame; moments are those of a time zone."""
    import pandas as pd

    frame = pd.DataFrame(rows)
    for column in frame.columns:
        texts = [cell for cell in frame[column] if isinstance(cell, str)]
        if texts and all(MOMENT.match(cell) for cell in texts):
            frame[column] = pd.to_datetime(frame[column], utc=True).dt.tz_convert(zone)
    return frame
