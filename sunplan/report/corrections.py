"""What answers changed in a location file, what they contradict, what to know on the day."""

from __future__ import annotations

import shlex
from collections.abc import Iterator, Sequence
from pathlib import Path

from ..location.read import Location
from ..survey.corrections import Corrections
from ..survey.replies import Reply
from .answers import Answer
from .layout import Part, table

ROWS = (("changes",),)  # of its answer, for spreadsheets


def answer(location: Location, found: Corrections) -> Answer:
    """Answer of `sunplan ask --fill`; `rows` are the sheet's, counted as a spreadsheet does."""

    def by(replies: Sequence[Reply]) -> Answer:
        return {"by": [one.question.id for one in replies], "rows": [one.row for one in replies]}

    return {
        "location": location.site.name,
        "changes": [
            {**by(one.by), "what": one.what, "was": one.was, "now": one.now, "odd": one.odd or None}
            for one in found.changes
        ],
        "same": found.same,
        "about": [{**by([one]), "said": one.text} for one in found.about],
        "contradicted": found.contradicted,
        "volts_taken": found.volts_taken,
        "compass": {"north": found.north, "readings": found.compass},
        "known": [{"question": what, "said": said} for what, said in found.known],
        "measured": [
            {
                "what": one.what,
                "line": one.line,
                "was": f"±{one.was}",
                "lacking": list(one.lacking),
            }
            for one in found.surer
        ],
    }


def told(location: Location, answers: Path, found: Corrections) -> Iterator[Part]:
    """The answers for people, once they are in the file."""
    count = len(found.changes)
    done = f"{location.file}: {count} {'value' if count == 1 else 'values'} changed"
    same = f", {found.same} of the answers as the file had it" if found.same else ""
    yield f"{done if count else f'{location.file}: nothing changed'}{same}"
    if found.changes:
        yield ""
        yield table(
            ("by", "was", "now", "what"),
            [
                (" ".join(one.question.id for one in each.by), each.was, each.now, each.what)
                for each in found.changes
            ],
        )
    odd = [each for each in found.changes if each.odd]
    if odd:
        yield ""
        yield "Odd, but written; look again:"
        for each in odd:
            rows = " and ".join(f"{one.row} ({one.question.id})" for one in each.by)
            yield f"  {answers} row {rows}, {each.what}, {each.by[0].text}: {each.odd}"
    if found.about:
        yield ""
        yield "Told as about; measure it where it counts:"
        yield from (f"  {answers} {one.label}: about {one.text}" for one in found.about)
    if found.contradicted:
        yield ""
        yield "Not written, the outline says otherwise; if the tape is right, draw it anew:"
        yield from (f"  {one}" for one in found.contradicted)
    if found.volts_taken is not None:
        yield ""
        yield f"The mains voltage was not told: {found.volts_taken:g} V is in the file; check it."
    yield from _compass(location, found)
    if found.known:
        yield ""
        yield "To know on the day; not in the file:"
        yield from (f"  {what}: {said}" for what, said in found.known)
    if found.surer:
        yield ""
        yield "Measured; if with a tape, its own ± can be smaller, by a line below its size:"
        for surer in found.surer:
            lacking = f", once measured too: {', '.join(surer.lacking)}" if surer.lacking else ""
            yield f"  {surer.what}: {surer.line} (so far ±{surer.was}){lacking}"
    yield ""
    yield f"Next: sunplan check {_quoted(location.file)} --draw rooms.png"


def _compass(location: Location, found: Corrections) -> Iterator[str]:
    if not found.compass:
        return
    yield ""
    yield "The phone's compass, to be weighed; with --write it goes into the file:"
    option = "--compass-true" if found.north == "true" else "--compass"
    yield f"  sunplan bearing {_quoted(location.file)} \\"
    last = len(found.compass) - 1
    for index, reading in enumerate(found.compass):
        more = "" if index == last else " \\"
        yield f"    {option} {_quoted(reading)}{more}"
    if found.north is None:
        yield "  Which north it shows was not told: magnetic is taken, else --compass-true."


def _quoted(text: str) -> str:
    """A word as a shell takes it; double quotes, which all shells know, where they do."""
    if shlex.quote(text) == text or any(sign in text for sign in '"$`\\!'):
        return shlex.quote(text)
    return f'"{text}"'
