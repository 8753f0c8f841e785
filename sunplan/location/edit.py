"""Values put into a location file's text; every other byte stays.

tomlkit keeps the bytes of a section, which is a heading with its keys, but not those of a whole
file: it joins the tables of an array that stand apart, and moves what stands between them. So a
file is cut before its headings, and one section edited at a time.
"""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from ..errors import InputError
from .messages import on_one_line
from .toml_file import load

STEP_DEG = 0.1  # the ± is written to this, upward
MARK = "\ufeff"  # some editors put it first
_UNUSUAL = "its keys are written in an unusual way"


@dataclass(frozen=True)
class Edit:
    """A value, as TOML has it, at a path of keys and indices from the file's top.

    Where the last key is lacking it goes behind `beside`, a key of the same table.
    """

    path: tuple[str | int, ...]
    text: str
    beside: str = ""


def written_values(plan_up_deg: float, error_deg: float) -> tuple[float, float]:
    """What is written of a bearing and its ±: hundredths, and tenths rounded up.

    >>> written_values(359.999, 1.23)
    (0.0, 1.3)
    """
    steps = math.ceil(round(error_deg / STEP_DEG, 6))
    return round(plan_up_deg, 2) % 360.0, round(max(1, steps) * STEP_DEG, 1)


def rewritten(path: Path, plan_up_deg: float, error_deg: float) -> bytes:
    """A location file's bytes with a new bearing and its ±, rounded as `written_values` has it.

    Raises
    ------
    InputError : where the file cannot be read or edited.
    """
    plan_up, error = written_values(plan_up_deg, error_deg)
    edits = (
        Edit(("location", "plan_up"), str(plan_up)),
        Edit(("location", "plan_up_error"), str(error), beside="plan_up"),
    )
    try:
        return edited(path, edits).encode("utf-8")
    except ValueError as wrong:
        message = f"{path} cannot be edited: {wrong}; expected plan_up = {plan_up} by hand"
        raise InputError(on_one_line(f"--write: {message}")) from None


def edited(path: Path, edits: Sequence[Edit]) -> str:
    """A location file's text with other values; a mark at its start is kept.

    Raises
    ------
    InputError : where the file cannot be read.
    ValueError : where a value cannot be put into it: nothing is there to put it behind, or what
        comes out would not read as the file with just these values.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "a.toml"
    ...     _ = file.write_text("a = [1,  2] # two\\n")
    ...     print(edited(file, [Edit(("a", 1), "3.5")]))
    a = [1,  3.5] # two
    """
    wanted = load(path)  # says what keeps it from being read
    whole = path.read_bytes().decode("utf-8")
    text = whole.removeprefix(MARK)
    sections = _sections(text)
    grown = [tomllib.loads("".join(sections[: index + 1])) for index in range(len(sections))]
    for edit in reversed(edits):  # so that of keys put behind the same one the first comes first
        lacking = not _has(grown[-1], edit.path)
        path_there = (*edit.path[:-1], edit.beside) if lacking else edit.path
        # The first section after which the file has the value is the one that it stands in.
        index = next((index for index, has in enumerate(grown) if _has(has, path_there)), None)
        if index is None:
            raise ValueError(f"it has no {edit.beside or edit.path[-1]}")
        ending = "\r\n" if "\r\n" in text else "\n"
        sections[index] = _with_value(sections[index], edit, ending if lacking else None)
        _holder(wanted, edit.path)[edit.path[-1]] = tomllib.loads(f"value = {edit.text}")["value"]
    new = "".join(sections)
    if _read(new) != wanted:
        raise ValueError(_UNUSUAL)
    return whole[: len(whole) - len(text)] + new


def with_tables(text: str, tables: Sequence[str]) -> str:
    """A file's text with more tables, such as `[[skyline]]` and its keys.

    Each stands behind the last of its name, behind a blank line; at the end where there is none.

    >>> print(with_tables("[[a]]\\nx = 1\\n\\n[[b]]\\ny = 2\\n", ["[[a]]\\nx = 3\\n"]), end="")
    [[a]]
    x = 1
    <BLANKLINE>
    [[a]]
    x = 3
    <BLANKLINE>
    [[b]]
    y = 2
    """
    ending = "\r\n" if "\r\n" in text else "\n"
    mark, text = text[: text.startswith(MARK)], text.removeprefix(MARK)
    for table in tables:
        sections = _sections(text)
        (name,) = tomllib.loads(table)
        own = [
            index for index, part in enumerate(sections) if index and name in tomllib.loads(part)
        ]
        if own:
            last, after = sections[own[-1]], "".join(sections[own[-1] + 1 :])
            kept = _without_tail(last)
            head = "".join(sections[: own[-1]]) + kept
            tail = last[len(kept) :] + after
        else:
            head, tail = text, ""
        broken = "" if not head or head.endswith("\n") else ending
        new = table.strip("\n").replace("\n", ending) + ending
        text = f"{head}{broken}{ending}{new}{tail}"
    return mark + text


def _read(text: str) -> dict[str, Any] | None:
    """The tables of a text; None where it is no TOML."""
    try:
        return tomllib.loads(text)
    except ValueError:
        return None


def _sections(text: str) -> list[str]:
    """What stands before the first heading, and each heading with what follows it."""
    cuts = [0]
    for bracket in re.finditer(r"^[ \t]*\[", text, re.MULTILINE):
        # One within a string or an array is no heading: what stands before it cannot be read.
        if _read(text[cuts[-1] : bracket.start()]) is not None:
            cuts.append(bracket.start())
    return [text[start:end] for start, end in pairwise([*cuts, len(text)])]


def _without_tail(section: str) -> str:
    """A section up to the end of its last value's line."""
    lines = re.findall(r"[^\n]*\n|[^\n]+", section)
    while _read("".join(lines[:-1])) == tomllib.loads(section):
        lines.pop()
    return "".join(lines)


def _has(tables: Any, path: Sequence[str | int]) -> bool:
    try:
        _ = _holder(tables, path)[path[-1]]
    except (KeyError, IndexError, TypeError):
        return False
    return True


def _holder(tables: Any, path: Sequence[str | int]) -> Any:
    """The table or array that the last key or index of a path is of."""
    for key in path[:-1]:
        tables = tables[key]
    return tables


def _with_value(section: str, edit: Edit, ending: str | None) -> str:
    """A section with a value in its place; with an `ending` of lines, as a key that it lacks."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError
    from tomlkit.items import AoT, Array, InlineTable

    try:
        document = tomlkit.parse(section)
        holder: Any = document
        for key in edit.path[:-1]:
            if isinstance(holder, AoT):
                holder = holder[0]  # the section holds one table of an array
            elif isinstance(key, str) or isinstance(holder, Array):
                holder = holder[key]
        if document.as_string() != section:
            raise ValueError(_UNUSUAL)
        if ending is None:
            holder[edit.path[-1]] = tomlkit.value(edit.text)
            return document.as_string()
        slot = f'"{"x" * len(section)}"'  # longer than the section: it cannot stand there already
        holder[edit.beside] = tomlkit.value(slot)
        before, after = document.as_string().split(slot)
        value = section[len(before) : len(section) - len(after)]
    except (TOMLKitError, LookupError, TypeError):
        raise ValueError(_UNUSUAL) from None
    if isinstance(holder, InlineTable):
        return f"{before}{value}, {edit.path[-1]} = {edit.text}{after}"
    own = before[before.rfind("\n") + 1 :]
    line = re.sub(r"([\"']?)[^\"'.\s]+\1(\s*=\s*)$", rf"\g<1>{edit.path[-1]}\1\2", own) + edit.text
    comment, broken, rest = after.partition("\n")
    return f"{before}{value}{comment}{broken or ending}{line}{ending if broken else ''}{rest}"
