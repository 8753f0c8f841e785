"""Tables put at the end of a location file, all or nothing."""

from __future__ import annotations

import tempfile
from pathlib import Path

from ..location.read import read
from .writing import replace


def appended(path: Path, tables: str) -> None:
    """Put tables at a location file's end; nothing is written where it could not be read then.

    Raises ``LocationError`` with what would be wrong in it.
    """
    before = path.read_bytes()
    ending = b"" if before.endswith(b"\n") else b"\n"
    after = before + ending + b"\n" + tables.encode("utf-8")
    # Beside the file, so that its kits are found.
    with tempfile.NamedTemporaryFile(dir=path.resolve().parent, suffix=".toml") as trial:
        trial.write(after)
        trial.flush()
        read(trial.name)
    with replace(path) as beside:
        beside.write_bytes(after)
