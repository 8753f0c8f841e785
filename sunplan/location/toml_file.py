"""TOML files from disk, and the one refusal that tells all that is wrong with one."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from ..errors import InputError, LocationError, Problem
from .messages import on_one_line

TOML = "a TOML file"  # as messages name what is expected


def refusal(path: Path, problems: Iterable[Problem]) -> LocationError:
    """All mistakes of one file, each on one line and told once."""
    lines = (
        Problem(on_one_line(problem.where), on_one_line(problem.message)) for problem in problems
    )
    return LocationError(on_one_line(str(path)), list(dict.fromkeys(lines)))


def text_of(path: Path, expected: str, *, errors: str = "strict") -> str:
    """Text of a file in UTF-8, without the mark that some editors put first.

    Parameters
    ----------
    path : of the file.
    expected : what a message says that it should be, such as "a TOML file".
    errors : what becomes of bytes that are not UTF-8, as ``bytes.decode`` has it.

    Raises
    ------
    InputError : where it cannot be read.
    """
    try:
        return path.read_text(encoding="utf-8-sig", errors=errors)  # some editors put a mark first
    except FileNotFoundError:
        raise _unread(path, "no such file") from None
    except IsADirectoryError:
        raise _unread(path, f"is a folder; expected {expected}") from None
    except OSError as error:
        raise _unread(path, f"cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise _unread(path, f"is not text in UTF-8; save it as {expected} in UTF-8") from None
    except ValueError:  # a path with a null in it
        raise _unread(path, "is no file's name") from None


def load(path: Path) -> dict[str, Any]:
    """The tables of a TOML file.

    Raises
    ------
    InputError : where it cannot be read, or is no TOML.
    """
    return tables_of(text_of(path, TOML), path)


def tables_of(text: str, path: Path) -> dict[str, Any]:
    """The tables that a text is, as that of a TOML file at a path.

    Raises
    ------
    InputError : where it is no TOML.

    Examples
    --------
    >>> tables_of("x = 1", Path("a.toml"))
    {'x': 1}
    >>> tables_of("x =", Path("a.toml"))
    Traceback (most recent call last):
    ...
    sunplan.errors.InputError: a.toml: is not valid TOML: Invalid value (at line 1, column 4, ...)
    """
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        lines = text.split("\n")
        end = f"at line {len(lines)}, column {len(lines[-1]) + 1}, the end of the file"
        mistake = str(error).replace("at end of document", end)
    except ValueError:  # a number too long for Python
        mistake = "it holds a number of thousands of digits"
    except RecursionError:
        mistake = "too many tables or brackets within one another"
    raise _unread(path, f"is not valid TOML: {mistake}")


def _unread(path: Path, mistake: str) -> InputError:
    return InputError(on_one_line(f"{path}: {mistake}"))
