"""What answers changed in a location file, what they contradict, what to know on the day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from ..location.read import Location
from ..survey.corrections import Corrections, Surer
from ..survey.replies import Reply
from .answers import Answer, fields
from .document import COMMAND, Block, Document, Line, Section, Table
from .words import quoted

ROWS = {"changes": ("changes",)}  # of its answer, by kind


def answer(location: Location, corrections: Corrections) -> Answer:
    """Answer of `sunplan ask --fill`; `rows` are the sheet's, counted as a spreadsheet does."""

    def by(replies: Sequence[Reply]) -> Answer:
        return {
            "by": [reply.question.id for reply in replies],
            "rows": [reply.row for reply in replies],
        }

    return {
        "location": location.site.name,
        "changes": [
            {
                **by(change.by),
                "what": change.value,
                **fields(change, "was", "now"),
                "odd": change.odd or None,
            }
            for change in corrections.changes
        ],
        "same": corrections.same,
        "about": [{**by([reply]), "said": reply.text} for reply in corrections.about],
        "contradicted": corrections.contradicted,
        "volts_taken": corrections.volts_taken,
        "compass": {"north": corrections.north, "readings": corrections.compass},
        "known": [{"question": question, "said": said} for question, said in corrections.known],
        "measured": [
            {
                "what": surer.opening,
                "line": surer.line,
                "was": f"±{surer.was}",
                "lacking": list(surer.lacking),
            }
            for surer in corrections.surer
        ],
    }


def report(location: Location, answers: Path, corrections: Corrections) -> Document:
    """The answers for people, once they are in the file."""
    count = len(corrections.changes)
    done = f"{count} {'value' if count == 1 else 'values'} changed" if count else "nothing changed"
    same = f", {corrections.same} of the answers as the file had it" if corrections.same else ""
    rows = [
        (" ".join(reply.question.id for reply in change.by), change.was, change.now, change.value)
        for change in corrections.changes
    ]
    then = f"Next: sunplan check {quoted(location.file)} --draw rooms.png"
    sections = [
        *([Section("changes", None, [Table(("by", "was", "now", "what"), rows)])] if rows else []),
        Section("odd", "Odd, but written; look again:", _odd(answers, corrections)),
        Section(
            "about",
            "Told as about; measure it where it counts:",
            [f"{answers} {reply.label}: about {reply.text}" for reply in corrections.about],
        ),
        Section(
            "contradicted",
            "Not written, the outline says otherwise; if the tape is right, draw it anew:",
            corrections.contradicted,
        ),
        Section("volts", None, _volts(corrections)),
        Section(
            "compass",
            "The phone's compass, to be weighed; with --write it goes into the file:",
            _compass(location, corrections),
        ),
        Section(
            "known",
            "To know on the day; not in the file:",
            [f"{question}: {said}" for question, said in corrections.known],
        ),
        Section(
            "surer",
            "Measured; if with a tape, its own ± can be smaller, by a line below its size:",
            map(_surer, corrections.surer),
        ),
        Section("next", None, [Line(then, role=COMMAND)]),
    ]
    title = f"{location.file}: {done}{same}"
    return Document(title, [section for section in sections if section.blocks])


def _odd(answers: Path, corrections: Corrections) -> Iterator[str]:
    for change in corrections.changes:
        if change.odd:
            rows = " and ".join(f"{reply.row} ({reply.question.id})" for reply in change.by)
            yield f"{answers} row {rows}, {change.value}, {change.by[0].text}: {change.odd}"


def _volts(corrections: Corrections) -> Iterator[str]:
    volts = corrections.volts_taken
    if volts is not None:
        yield f"The mains voltage was not told: {volts:g} V is in the file; check it."


def _compass(location: Location, corrections: Corrections) -> Iterator[Block]:
    """The command that weighs the readings, over several lines as shells join them."""
    if not corrections.compass:
        return
    option = "--compass-true" if corrections.north == "true" else "--compass"
    *first, last = [f"{option} {quoted(reading)}" for reading in corrections.compass]
    command = f"sunplan bearing {quoted(location.file)} \\"
    lines = (Line(reading, role=COMMAND) for reading in (*(f"{it} \\" for it in first), last))
    yield Line(command, lines, COMMAND)
    if corrections.north is None:
        yield "Which north it shows was not told: magnetic is taken, else --compass-true."


def _surer(surer: Surer) -> str:
    lacking = f", once measured too: {', '.join(surer.lacking)}" if surer.lacking else ""
    return f"{surer.opening}: {surer.line} (so far ±{surer.was}){lacking}"
