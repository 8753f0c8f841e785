"""Tables for people: rich on a terminal, plain text when piped, 80 columns."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterable, Iterator, Sequence

from rich import box
from rich.console import Console
from rich.table import Table

from .cautions import Caution

Part = Table | str  # what an answer for people is made of: tables, and lines of text
WIDTH = 80  # what a piped table and a narrow terminal hold
GAP = 3  # between columns
LEAST = 6  # of the last column


def console(*, wide: int | None = None) -> Console:
    """Where tables go: as wide as the terminal, 80 columns when piped."""
    plain = Console()
    return plain if plain.is_terminal and wide is None else Console(width=wide or WIDTH)


def cautions_last(parts: Iterable[Part]) -> Iterator[Part]:
    """The same parts, each caution once and at the end."""
    cautions: dict[str, None] = {}
    for part in parts:
        if isinstance(part, Caution):
            cautions[part] = None
        else:
            yield part
    yield from map(Caution, cautions)


def show(parts: Iterable[Part], out: Console | None = None) -> None:
    """Print an answer; lines too long are folded under their own indent."""
    out = console() if out is None else out
    for part in parts:
        if isinstance(part, str):
            for line in part.split("\n"):
                indent = " " * (len(line) - len(line.lstrip()))
                deeper = indent + "  " * bool(indent)
                folded = textwrap.wrap(line, out.width, subsequent_indent=deeper)
                out.print("\n".join(folded), markup=False, highlight=False, soft_wrap=True)
        else:
            with out.capture() as caught:
                out.print(part)
            lines = caught.get().split("\n")
            out.file.write("\n".join(line.rstrip() for line in lines))


def text(parts: Iterable[Part]) -> str:
    """An answer as plain text, 80 columns wide."""
    file = io.StringIO()
    out = Console(file=file, width=WIDTH, no_color=True, force_terminal=False)
    show(parts, out)
    return file.getvalue()


def table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> Table:
    """A plain table; only the last column wraps, and no cell is ever cut short."""
    made = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    cells = [tuple(row) for row in rows]
    widths = [max(len(row[at]) for row in (columns, *cells)) for at in range(len(columns))]
    for at, column in enumerate(columns):
        # As wide as its widest cell, as long as that leaves the last column something.
        fits = sum(widths[:-1]) + GAP * (len(columns) - 1) + LEAST <= WIDTH
        last = at == len(columns) - 1
        made.add_column(column, overflow="fold", no_wrap=fits and not last)
    for row in cells:
        made.add_row(*row)
    return made


def once(rows: Iterable[tuple[str, ...]]) -> Iterator[tuple[str, ...]]:
    """Rows whose first cells are told only where they change.

    >>> list(once([("a", "b", "1"), ("a", "c", "2"), ("a", "c", "3")]))
    [('a', 'b', '1'), ('', 'c', '2'), ('', '', '3')]
    """
    last: tuple[str, ...] = ()
    for row in rows:
        same = 0
        while same < min(2, len(last)) and row[same] == last[same]:
            same += 1
        yield (*("" for _ in range(same)), *row[same:])
        last = row
