"""Values put into a location file's text; every other byte stays."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..errors import InputError
from .source import load
from .tell import on_one_line

STEP_DEG = 0.1  # the ± is written to this, upward
MARK = "\ufeff"  # some editors put it first


@dataclass(frozen=True)
class Edit:
    """A value, as TOML has it, at the end of a way of keys and indices from the file's top.

    Where the last key is lacking it goes behind `beside`, a key of the same table whose value
    is a number or text.
    """

    at: tuple[str | int, ...]
    text: str
    beside: str = ""


@dataclass
class _Spot:
    """A value in the text that a mark stands for, and the keys that go behind it."""

    mark: str
    old: str
    new: str
    inline: bool
    added: list[tuple[str, str]] = field(default_factory=list)


def written_values(plan_up_deg: float, error_deg: float) -> tuple[float, float]:
    """What is written of a bearing and its ±: hundredths, and tenths rounded up.

    >>> written_values(359.999, 1.23)
    (0.0, 1.3)
    """
    steps = math.ceil(round(error_deg / STEP_DEG, 6))
    return round(plan_up_deg, 2) % 360.0, round(max(1, steps) * STEP_DEG, 1)


def rewritten(path: Path, plan_up_deg: float, error_deg: float) -> bytes:
    """A location file's bytes with a new bearing and its ±.

    Raises ``InputError`` where the file cannot be read, or not be carried over byte by byte.
    """
    plan_up, error = written_values(plan_up_deg, error_deg)
    edits = (
        Edit(("location", "plan_up"), str(plan_up)),
        Edit(("location", "plan_up_error"), str(error), beside="plan_up"),
    )
    try:
        return edited(path, edits).encode("utf-8")
    except ValueError as wrong:
        what = f"{path} cannot be edited: {wrong}; expected plan_up = {plan_up} by hand"
        raise InputError(on_one_line(f"--write: {what}")) from None


def edited(path: Path, edits: Sequence[Edit]) -> str:
    """A location file's text with other values; a mark at its start is kept.

    Raises ``InputError`` where the file cannot be read, ``ValueError`` where it cannot be carried
    over byte by byte.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = Path(folder) / "a.toml"
    ...     _ = file.write_text("a = [1,  2] # two\\n")
    ...     print(edited(file, [Edit(("a", 1), "3.5")]))
    a = [1,  3.5] # two
    """
    wanted = load(path)  # tells what keeps it from being read
    whole = path.read_bytes().decode("utf-8")
    text = whole.removeprefix(MARK)
    marked, spots = _marked(text, edits)
    for spot in spots:
        if marked.count(spot.mark) != 1:
            raise ValueError("it does not come back byte by byte")
    if _filled(marked, [(spot.mark, spot.old) for spot in spots]) != text:
        raise ValueError("it does not come back byte by byte")
    for spot in spots:
        marked = _with_keys(marked, spot, "\r\n" if "\r\n" in text else "\n")
    new = _filled(marked, [(spot.mark, spot.new) for spot in spots])
    for edit in edits:
        _holder(wanted, edit)[edit.at[-1]] = tomllib.loads(f"value = {edit.text}")["value"]
    if tomllib.loads(new) != wanted:
        raise ValueError("its keys are written in an unusual way")
    return whole[: len(whole) - len(text)] + new


def with_tables(text: str, tables: str) -> str:
    """A file's text with tables at its end, behind a blank line."""
    ending = "\r\n" if "\r\n" in text else "\n"
    end = "" if text.endswith("\n") else ending
    return f"{text}{end}{ending}{tables.replace(chr(10), ending)}"


def _holder(document: Any, edit: Edit) -> Any:
    """The table or array that an edit's last key or index is of."""
    for key in edit.at[:-1]:
        document = document[key]
    return document


def _marked(text: str, edits: Sequence[Edit]) -> tuple[str, list[_Spot]]:
    """The text with a mark in the place of each value that is edited, or stands beside one."""
    import tomlkit
    from tomlkit.items import InlineTable

    base = 271828
    while str(base) in text:
        base = base * 10 + 1
    document: Any = tomlkit.parse(text)
    spots: dict[tuple[str | int, ...], _Spot] = {}
    for edit in edits:
        holder, key = _holder(document, edit), edit.at[-1]
        lacking = isinstance(key, str) and key not in holder
        at = (*edit.at[:-1], edit.beside) if lacking else edit.at
        if at not in spots:
            if isinstance(at[-1], str) and at[-1] not in holder:
                raise ValueError(f"it has no {at[-1] or key}")
            old = holder[at[-1]].as_string()
            mark = f"{base}{len(spots):06d}"
            spots[at] = _Spot(mark, old, old, isinstance(holder, InlineTable))
            holder[at[-1]] = int(mark)
        if lacking:
            spots[at].added.append((str(key), edit.text))
        else:
            spots[at].new = edit.text
    return document.as_string(), list(spots.values())


def _filled(marked: str, values: Sequence[tuple[str, str]]) -> str:
    for mark, value in values:
        marked = marked.replace(mark, value)
    return marked


def _with_keys(marked: str, spot: _Spot, ending: str) -> str:
    """The text with the keys that go behind a value: each on a line of its own, written as it."""
    for key, value in reversed(spot.added):
        head, _, tail = marked.partition(spot.mark)
        if spot.inline:
            marked = f"{head}{spot.mark}, {key} = {value}{tail}"
            continue
        line, end, rest = tail.partition("\n")
        line = line.removesuffix("\r")
        own = head[head.rfind("\n") + 1 :]
        before, beside, equals = _around_key(own)
        new = f"{before}{beside.replace(_bare(beside), key)}{equals}{value}"
        marked = f"{head}{spot.mark}{line}{ending}{new}{ending if end else ''}{rest}"
    return marked


def _around_key(line: str) -> tuple[str, str, str]:
    """What stands before a line's last key, the key, and from there to its value."""
    stem = line.rstrip()
    stem = stem.removesuffix("=").rstrip()
    start = max(stem.rfind(sign) for sign in " \t.") + 1
    return stem[:start], stem[start:], line[len(stem) :]


def _bare(key: str) -> str:
    return key.strip("\"'")
