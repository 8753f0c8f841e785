"""`plan_up` and `plan_up_error` put into a location file's text; every other byte stays."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

from ..errors import InputError
from .source import text_of
from .tell import on_one_line

STEP_DEG = 0.1  # the ± is written to this, upward
MARK = "\ufeff"  # some editors put it first


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
    text_of(path, "a TOML file")  # tells what keeps it from being read
    whole = path.read_bytes().decode("utf-8")
    text = whole.removeprefix(MARK)
    plan_up, error = written_values(plan_up_deg, error_deg)
    try:
        wanted = tomllib.loads(text)
        lacking = "plan_up_error" not in wanted["location"]
        if not lacking:
            head, tail, _ = _around(text, "plan_up_error")
            text = f"{head}{error}{tail}"
        head, tail, inline = _around(text, "plan_up")
        new = f"{head}{plan_up}{tail}"
        if lacking and inline:
            new = f"{head}{plan_up}, plan_up_error = {error}{tail}"
        elif lacking:
            line, end, rest = tail.partition("\n")
            key = head[head.rfind("\n") + 1 :].replace("plan_up", "plan_up_error")
            ending = "\r\n" if "\r\n" in text else "\n"
            line = line.removesuffix("\r")
            new = f"{head}{plan_up}{line}{ending}{key}{error}{ending if end else ''}{rest}"
        wanted["location"] |= {"plan_up": plan_up, "plan_up_error": error}
        if tomllib.loads(new) != wanted:
            raise ValueError("its keys are written in an unusual way")
    except ValueError as wrong:
        what = f"{path} cannot be edited: {wrong}; expected plan_up = {plan_up} by hand"
        raise InputError(on_one_line(f"--write: {what}")) from None
    return (whole[: len(whole) - len(whole.removeprefix(MARK))] + new).encode("utf-8")


def _around(text: str, key: str) -> tuple[str, str, bool]:
    """What stands before and behind the value of a key of `[location]`; whether on one line.

    ``ValueError`` where the text does not come back as it was.
    """
    import tomlkit
    from tomlkit.items import InlineTable

    mark = 271828
    while str(mark) in text:
        mark = mark * 10 + 1
    document: Any = tomlkit.parse(text)
    site = document["location"]
    site[key] = mark
    head, _, tail = document.as_string().partition(str(mark))
    if not (text.startswith(head) and text.endswith(tail)):
        raise ValueError("it does not come back byte by byte")
    return head, tail, isinstance(site, InlineTable)
