"""Figures with their source beside them, one TOML file a table."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def table(name: str) -> dict[str, Any]:
    """A data table by its file's name, as a dictionary.

    >>> table("glass")["single clear"]["transmittance"]
    0.9
    """
    return tomllib.loads((files(__package__) / f"{name}.toml").read_text(encoding="utf-8"))
