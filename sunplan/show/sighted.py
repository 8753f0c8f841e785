"""Tables put at the end of a location file, all or nothing."""

from __future__ import annotations

from pathlib import Path

from ..location.read import read_text
from ..location.rewrite import MARK, with_tables
from .writing import replace


def appended(path: Path, tables: str) -> None:
    """Put tables at a location file's end; nothing is written where it could not be read then.

    Raises ``LocationError`` with what would be wrong in it.
    """
    after = with_tables(path.read_bytes().decode("utf-8"), tables)
    read_text(after.removeprefix(MARK), path)
    with replace(path) as beside:
        beside.write_bytes(after.encode("utf-8"))
