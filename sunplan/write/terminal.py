"""A document as plain text: on a terminal, in a file, 80 columns when piped."""

from __future__ import annotations

import io
import re
import textwrap
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from ..location.lengths import Units
from ..report.document import (
    COMMAND,
    Block,
    Caution,
    Document,
    Line,
    More,
    Section,
    Table,
    render,
    walk,
)

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table as RichTable

WIDTH = 80  # what a piped table and a narrow terminal hold
GAP = 3  # between columns
LAST = 6  # what a table's last column has at least
STEP = "  "  # a level deeper
BOX = "[ ]"  # to tick off
CAUTIONS = "SAFETY"
IN_FULL = "the cautions in full"
# Control characters; what turns the direction of all that follows (Unicode 15, UAX 9); line ends.
UNSAFE = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
HELD, FILL = (
    0x100000,
    "\U000f0000",
)  # for signs that take none or several cells: Unicode's private use
# Blank lines; a line as its indent, its words and whether it stays whole.
Printed = int | tuple[str, str, bool] | Table


def console() -> Console:
    """Where documents go: as wide as the terminal, 80 columns when piped."""
    from rich.console import Console

    plain = Console()
    return plain if plain.is_terminal else Console(width=WIDTH)


def text(document: Document, units: Units, *, more: bool = False) -> str:
    """A document as plain text, 80 columns wide."""
    from rich.console import Console

    file = io.StringIO()
    out = Console(file=file, width=WIDTH, no_color=True, force_terminal=False)
    show(document, units, out, more=more)
    return file.getvalue()


def show(
    document: Document, units: Units, out: Console | None = None, *, more: bool = False
) -> None:
    """Print a document; lines too long are folded under their own indent.

    Without `more` its `More` blocks are left out, and each caution is told in brief, but for
    documents of chapters.
    """
    out = console() if out is None else out
    blank = -1  # lines before what comes next; none before the first
    for printed in _cautions_last(document, units, more):
        if isinstance(printed, int):
            blank = max(blank, printed if blank >= 0 else blank)
            continue
        out.file.write("\n" * blank)
        blank = 0
        if isinstance(printed, Table):
            with out.capture() as caught:
                out.print(_table(printed, units))
            lines = [line.rstrip() for line in caught.get().split("\n")]
            out.file.write("\n".join(lines))
            continue
        indent, words, whole = printed
        line, under = indent + plain(words), indent + STEP * bool(indent)
        lines = [line] if whole else folded(line, out.width, under)
        out.print("\n".join(lines), markup=False, emoji=False, highlight=False, soft_wrap=True)


def folded(line: str, width: int, under: str = "") -> list[str]:
    """A text in lines of at most so many cells of a terminal, `under` before all but the first.

    >>> folded("水門 水門 水門", 10)  # a sign of these takes two cells
    ['水門 水門', '水門']
    """
    from rich.cells import cell_len

    if all(cell_len(sign) == 1 for sign in set(line)):
        return textwrap.wrap(line, width, subsequent_indent=under)
    signs: list[str] = []  # each with the accents and joiners behind it, which take no cell
    for sign in line:
        if signs and not cell_len(sign) and not sign.isspace():
            signs[-1] += sign
        else:
            signs.append(sign)
    # textwrap counts signs: one that takes two cells becomes two that it does not part.
    counted = "".join(
        sign
        if len(sign) == 1 and sign < FILL and (cell_len(sign) == 1 or sign.isspace())
        else FILL * (cell_len(sign) - 1) + chr(HELD + number)
        for number, sign in enumerate(signs)
    )
    lines: list[str] = []
    for count in (width, width - 1):  # where a sign of two was parted all the same: a cell less
        parts = textwrap.wrap(counted, count, subsequent_indent=under)
        lines = [
            "".join(signs[ord(sign) - HELD] if ord(sign) >= HELD else sign for sign in part)
            for part in (part.replace(FILL, "") for part in parts)
        ]
        if all(cell_len(line) <= width for line in lines):
            break
    return lines


def plain(words: str) -> str:
    """Words that a terminal shows and does not obey: what steers it is written as its number.

    >>> plain("a\\x1b[2Jb")
    'a\\\\x1b[2Jb'
    """
    return UNSAFE.sub(lambda sign: sign[0].encode("unicode_escape").decode(), words)


def _flat(document: Document, units: Units, more: bool) -> Iterator[Printed]:
    """A document's lines and tables in their order."""
    if document.chapter is not None:
        yield 2
        yield "", document.chapter, False
    if document.title is not None:
        yield "", render(document.title, units), False
    yield from (("", render(said, units), False) for said in document.intro)
    yield from _blocks(document.blocks, "", units, more)


def _blocks(blocks: Iterable[Block], indent: str, units: Units, more: bool) -> Iterator[Printed]:
    for block in blocks:
        match block:
            case Table():
                yield block
            case Caution():
                continue
            case More(blocks=inside):
                if more:
                    yield from _blocks(inside, indent, units, more)
            case Document():
                yield 1
                yield from _flat(block, units, more)
            case Section(heading=heading, blocks=inside):
                if heading is not None:
                    yield 1
                    yield indent, render(heading, units), False
                elif not isinstance(next(iter(inside), None), Section):
                    yield 1
                yield from _blocks(inside, indent + STEP * (heading is not None), units, more)
            case Line(said=said, under=under, number=number):
                bullet = "" if number is None else f"{number}. "
                yield indent, bullet + render(said, units), block.role == COMMAND
                yield from _blocks(under, indent + (" " * len(bullet) or STEP), units, more)
            case said:
                yield indent, render(said, units), False


def _cautions_last(document: Document, units: Units, more: bool) -> Iterator[Printed]:
    """A document's lines and tables, then each caution once; behind chapters as one more.

    A document of chapters is the day's paper: it has room for cautions in full.
    """
    yield from _flat(document, units, more)
    cautions = document.cautions
    chapters = _chapters(document)
    if chapters and cautions:
        yield 2
        yield "", CAUTIONS, False
    elif cautions:
        yield 1
    yield from (
        ("", caution.said if more or chapters else caution.brief, False) for caution in cautions
    )
    if not more and (about := list(left_out(document))):
        yield 1
        yield "", f"--more adds: {'; '.join(about)}", False


def left_out(document: Document) -> Iterator[str]:
    """What a document tells only to those who ask for more, in a few words each."""
    yield from dict.fromkeys(
        block.about for block in walk(document.blocks) if isinstance(block, More)
    )
    if not _chapters(document) and any(it.one_line is not None for it in document.cautions):
        yield IN_FULL


def _chapters(document: Document) -> bool:
    return any(isinstance(block, Document) and block.chapter for block in document.blocks)


def _table(table: Table, units: Units) -> RichTable:
    """Only the last column wraps, and no cell is ever cut short."""
    from rich.box import SIMPLE_HEAD
    from rich.cells import cell_len
    from rich.table import Table as RichTable
    from rich.text import Text as Literally

    box_head, box_cell = ([""], [BOX]) if table.checklist else ([], [])
    rows = [[*box_head, *map(plain, table.columns)]]
    rows += [[*box_cell, *map(plain, row)] for row in table.cells(units)]
    widths = [max(map(cell_len, column)) for column in zip(*rows, strict=True)]
    # As wide as its widest cell, as long as that leaves the last column something.
    fits = sum(widths[:-1]) + GAP * (len(widths) - 1) + LAST <= WIDTH
    made = RichTable(box=SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for number, column in enumerate(rows[0], 1):
        made.add_column(Literally(column), overflow="fold", no_wrap=fits and number < len(widths))
    for row in rows[1:]:
        made.add_row(*map(Literally, row))
    return made
