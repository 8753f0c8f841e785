"""TOML files from disk, and the one refusal that tells all that is wrong with one."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from ..errors import InputError, LocationError, Problem
from .tell import on_one_line


def refusal(path: Path, problems: Iterable[Problem]) -> LocationError:
    """All mistakes of one file, each on one line and told once."""
    lines = (Problem(on_one_line(one.where), on_one_line(one.what)) for one in problems)
    return LocationError(on_one_line(str(path)), list(dict.fromkeys(lines)))


def load(path: Path) -> dict[str, Any]:
    """The tables of a TOML file; ``InputError`` where it cannot be read."""

    def unread(what: str) -> InputError:
        return InputError(on_one_line(f"{path}: {what}"))

    text = ""
    try:
        text = path.read_text(encoding="utf-8-sig")  # some editors put a mark in front
        return tomllib.loads(text)
    except FileNotFoundError:
        raise unread("no such file") from None
    except IsADirectoryError:
        raise unread("is a folder; expected a TOML file") from None
    except OSError as error:
        raise unread(f"cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise unread("is not text in UTF-8; save it as a TOML file in UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        lines = text.split("\n")
        end = f"at line {len(lines)}, column {len(lines[-1]) + 1}, the end of the file"
        what = str(error).replace("at end of document", end)
        raise unread(f"is not valid TOML: {what}") from None
    except ValueError:  # a path with a null in it, or a number too long for Python
        if not text:
            raise unread("is no file's name") from None
        raise unread("is not valid TOML: it holds a number of thousands of digits") from None
    except RecursionError:
        raise unread("is not valid TOML: too many tables or brackets within one another") from None
