"""For reports that are not documents yet: their parts, taken for a document's blocks."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from .document import Block, Caution, Document, Said, Section, Table

Part = Said | Table | Caution


def as_document(parts: Iterable[Part]) -> Document:
    """Parts one behind the other; lines keep the blanks before them."""

    def blocks() -> Iterator[Block]:
        for part in parts:
            if isinstance(part, str):
                yield from (line if line else Section("", None, ()) for line in part.split("\n"))
            else:
                yield part

    return Document(None, blocks())


def table(columns: Sequence[str], rows: Iterable[Sequence[Said]]) -> Table:
    """A table."""
    return Table(columns, rows)


def once(rows: Iterable[tuple[Said, ...]]) -> Iterator[tuple[Said, ...]]:
    """Rows whose first cells are told only where they change."""
    last: tuple[Said, ...] = ()
    for row in rows:
        same = 0
        while same < min(2, len(last)) and row[same] == last[same]:
            same += 1
        yield (*("" for _ in range(same)), *row[same:])
        last = row
