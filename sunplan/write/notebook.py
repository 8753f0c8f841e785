"""A document as HTML for a notebook: each table under its caption, cautions last, names escaped."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape

from ..location.lengths import Units
from ..report.document import Block, Caution, Document, Line, More, Said, Section, Table, render
from .terminal import BOX, plain

# Names are no formulas: notebooks leave what has one of these classes alone.
CLASSES = "sunplan tex2jax_ignore mathjax_ignore"


def html(document: Document, units: Units) -> str:
    """A document as a piece of HTML that stands by itself.

    >>> print(html(Document("Sun", [Table(["room", "from"], [["<attic>", "09:00"]])]), "m"))
    <div class="sunplan tex2jax_ignore mathjax_ignore">
    <table><caption style="text-align: left; white-space: nowrap"><strong>Sun</strong></caption>
    <thead><tr><th>room</th><th>from</th></tr></thead>
    <tbody>
    <tr><td>&lt;attic&gt;</td><td>09:00</td></tr>
    </tbody></table>
    </div>
    """
    parts = [*_document(document, units)]
    parts += [
        f"<p><strong>{_words(caution.said, units)}</strong></p>" for caution in document.cautions
    ]
    return "\n".join([f'<div class="{CLASSES}">', *parts, "</div>"])


def _words(said: Said, units: Units) -> str:
    return escape(plain(render(said, units)))


def _document(document: Document, units: Units) -> Iterator[str]:
    heads = [head for head in (document.chapter, document.title) if head is not None]
    caption = [f"<strong>{_words(head, units)}</strong>" for head in heads]
    caption += [_words(said, units) for said in document.intro]
    yield from _blocks(document.blocks, caption, units)


def _blocks(blocks: Iterable[Block], caption: list[str], units: Units) -> Iterator[str]:
    """Blocks; `caption` are lines that stand over the first, in a table as its caption."""
    for block in blocks:
        if isinstance(block, Caution):
            continue
        if isinstance(block, Table):
            yield _table(block, caption, units)
        else:
            if caption:
                yield f"<p>{'<br>'.join(caption)}</p>"
            yield from _block(block, units)
        caption = []
    if caption:
        yield f"<p>{'<br>'.join(caption)}</p>"


def _block(block: Said | Line | More | Section | Document, units: Units) -> Iterator[str]:
    match block:
        case Document():
            yield from _document(block, units)
        case More(about=about, blocks=inside):
            below = "\n".join(_blocks(inside, [], units))
            yield f"<details><summary>{_words(about, units)}</summary>\n{below}</details>"
        case Section(heading=heading, blocks=inside):
            caption = [] if heading is None else [f"<strong>{_words(heading, units)}</strong>"]
            yield from _blocks(inside, caption, units)
        case Line(said=said, under=under, number=number):
            bullet = "" if number is None else f"{number}. "
            below = "\n".join(_blocks(under, [], units))
            inside = f'\n<div style="margin-left: 2em">{below}</div>' if below else ""
            yield f"<div>{bullet}{_words(said, units)}{inside}</div>"
        case said:
            yield f"<div>{_words(said, units)}</div>"


def _table(table: Table, caption: list[str], units: Units) -> str:
    box_head, box_cell = ([""], [BOX]) if table.checklist else ([], [])
    head = "".join(f"<th>{_words(cell, units)}</th>" for cell in (*box_head, *table.columns))
    rows = [
        "<tr>" + "".join(f"<td>{_words(cell, units)}</td>" for cell in (*box_cell, *row)) + "</tr>"
        for row in table.cells(units)
    ]
    over = (
        f'<caption style="text-align: left; white-space: nowrap">{"<br>".join(caption)}</caption>'
        if caption
        else ""
    )
    lines = [f"<table>{over}", f"<thead><tr>{head}</tr></thead>", "<tbody>", *rows]
    return "\n".join([*lines, "</tbody></table>"])
