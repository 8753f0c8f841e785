"""Values put into a location file's text; every other byte stays."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import InputError
from .messages import on_one_line
from .positions import positions
from .toml_file import load

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


def written_values(plan_up_deg: float, error_deg: float) -> tuple[float, float]:
    """What is written of a bearing and its ±: hundredths, and tenths rounded up.

    >>> written_values(359.999, 1.23)
    (0.0, 1.3)
    """
    steps = math.ceil(round(error_deg / STEP_DEG, 6))
    return round(plan_up_deg, 2) % 360.0, round(max(1, steps) * STEP_DEG, 1)


def rewritten(path: Path, plan_up_deg: float, error_deg: float) -> bytes:
    """A location file's bytes with a new bearing and its ±.

    Raises ``InputError`` where the file cannot be read or edited.
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

    Raises ``InputError`` where the file cannot be read, ``ValueError`` where a value cannot be put
    into it.

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
    new = _with_values(text, edits)
    for edit in edits:
        _holder(wanted, edit)[edit.at[-1]] = tomllib.loads(f"value = {edit.text}")["value"]
    if _read(new) != wanted:
        raise ValueError("its keys are written in an unusual way")
    return whole[: len(whole) - len(text)] + new


def _read(text: str) -> dict[str, Any] | None:
    """A file's text as TOML has it; None where it is none."""
    try:
        return tomllib.loads(text)
    except ValueError:
        return None


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
    for table in tables:
        name = table[table.index("[[") + 2 : table.index("]]")].strip()
        body = text.removeprefix(MARK)
        ends = positions(body).ends
        at = len(text)
        if name in ends:
            at = _line_end(text, ends[name] + len(text) - len(body))
        head, tail = text[:at], text[at:]
        new = table.strip("\n").replace("\n", ending) + ending
        broken = "" if not head or head.endswith("\n") else ending
        text = f"{head}{broken}{ending}{new}{tail}"
    return text


def _holder(document: Any, edit: Edit) -> Any:
    """The table or array that an edit's last key or index is of."""
    for key in edit.at[:-1]:
        document = document[key]
    return document


def _with_values(text: str, edits: Sequence[Edit]) -> str:
    """The text with each value in its place; a lacking key on a line of its own."""
    spans = positions(text).values
    ending = "\r\n" if "\r\n" in text else "\n"
    put: dict[tuple[int, int], str] = {}
    for edit in edits:
        span = spans.get(edit.at)
        if span is not None:
            put[span.start, span.end] = edit.text
            continue
        span = spans.get((*edit.at[:-1], edit.beside))
        if span is None:
            raise ValueError(f"it has no {edit.beside or edit.at[-1]}")
        if span.inline:
            at, new = span.end, f", {edit.at[-1]} = {edit.text}"
        else:
            at = _line_end(text, span.end)
            own = text[text.rfind("\n", 0, span.start) + 1 : span.start]
            before, beside, equals = _around_key(own)
            key = beside.replace(_bare(beside), str(edit.at[-1]))
            line = f"{before}{key}{equals}{edit.text}"
            new = f"{line}{ending}" if text[:at].endswith("\n") else f"{ending}{line}"
        put[at, at] = put.get((at, at), "") + new
    for start, end in sorted(put, reverse=True):
        text = text[:start] + put[start, end] + text[end:]
    return text


def _line_end(text: str, at: int) -> int:
    """Where the next line starts, or the text ends."""
    return text.find("\n", at) + 1 or len(text)


def _around_key(line: str) -> tuple[str, str, str]:
    """What stands before a line's last key, the key, and from there to its value."""
    stem = line.rstrip()
    stem = stem.removesuffix("=").rstrip()
    start = max(stem.rfind(sign) for sign in " \t.") + 1
    return stem[:start], stem[start:], line[len(stem) :]


def _bare(key: str) -> str:
    return key.strip("\"'")
