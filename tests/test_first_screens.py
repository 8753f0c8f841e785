"""What a command says on its first screen: what one acts on. With more, all that it has to say."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import demos
import pytest
from demos import MARCH, NAMES, location, planned

from sunplan.day.hours import Hours
from sunplan.day.order import Ordered
from sunplan.day.pack import Pack
from sunplan.report import plan as plan_report
from sunplan.report.document import (
    Caution,
    Document,
    Line,
    Moment,
    More,
    Section,
    Table,
    render,
    walk,
)
from sunplan.room.entry import DayEntries
from sunplan.write import terminal

SCREEN, PAGE, WIDTH = 24, 60, 80
DAY = MARCH.isoformat()
QUESTIONS = "entry", "hours", "order", "pack"


def asked(name: str, question: str) -> Any:
    return demos.asked(name, question, **({} if question == "check" else {"date": DAY}))


def printed(document: Document, *, more: bool = False) -> list[str]:
    lines = terminal.text(document, "m", more=more).splitlines()
    assert max(map(len, lines)) <= WIDTH
    return lines


def screen(name: str, question: str) -> str:
    """The first lines, as one; a fold is a space."""
    lines = printed(asked(name, question).document)
    return " ".join(" ".join(lines[:SCREEN]).split())


def clock(moment_s: float, name: str) -> str:
    return str(Moment(moment_s, location(name).timezone))


@pytest.mark.parametrize("name", NAMES)
def test_order_opens_with_the_day(name: str) -> None:
    """Each setup with the time it is shot at, what has no time, and when all is down."""
    ordered: Ordered = asked(name, "order").value
    said = screen(name, "order")
    assert ordered.best.turns
    for turn in ordered.best.turns:
        setup, start = turn.rigging.setup, clock(turn.rigging.start_s, name)
        assert re.search(rf"{start} shoot {setup.minutes:g} .{{0,14}}{setup.name}", said)
    for setup in ordered.best.dropped:
        assert f"DOES NOT FIT: {setup.name}, {setup.minutes:g} min" in said
    assert f"wrapped out by {clock(ordered.end_s, name)}" in said


@pytest.mark.parametrize("name", NAMES)
def test_minutes_are_never_told_short(name: str) -> None:
    """A crew must have a part of a minute too."""
    ordered: Ordered = asked(name, "order").value
    said = " ".join(" ".join(printed(asked(name, "order").document)).split())
    for turn in ordered.best.turns[1:]:
        found = re.search(rf"for {turn.rigging.setup.name} \(strike (\d+), rig (\d+)\)", said)
        assert found is not None
        for told, minutes in zip(
            found.groups(), (turn.strike_minutes, turn.rig_minutes), strict=True
        ):
            assert minutes - 1e-3 <= int(told) < minutes + 1.0


@pytest.mark.parametrize("name", NAMES)
def test_pack_opens_with_wrap_and_load(name: str) -> None:
    pack: Pack = asked(name, "pack").value
    said, zone = screen(name, "pack"), location(name).timezone
    end = Moment(pack.running.end_s, zone, MARCH)
    assert f"wrapped out by {end}" in said
    assert ("LATER THAN WRAP" in said) == (pack.running.over_s > 60.0)
    assert f"{len(pack.cases)} cases and {len(pack.loose)} loose, {pack.weight_kg:.0f} kg" in said
    for line in pack.lines:
        if line.get:
            assert re.search(rf"{line.how}: [^:]*\b{line.get} {re.escape(line.thing.name)}", said)
    for slot in pack.running.slots:
        assert not slot.needs.unmet or re.search(
            rf"NOT SOLVED, see below: .*{slot.setup.name}", said
        )


@pytest.mark.parametrize("name", NAMES)
def test_hours_open_with_the_best_stretch(name: str) -> None:
    """Each setup indoors: when, when to begin, its score and what the score is the sum of."""
    hours: Hours = asked(name, "hours").value
    said = screen(name, "hours")
    for ranked in hours.setups:
        best = ranked.stretches[0]
        assert f"{ranked.quarters.setup.name}: {clock(best.start_s, name)}" in said
        parts = re.search(rf"score {best.cost:.0f}: ((?:\d+ [a-z ]+(?:, )?)+)", said)
        assert parts is not None
        told = sum(int(minutes) for minutes in re.findall(r"(\d+) (?:to|for) ", parts[1]))
        assert told == pytest.approx(best.cost, abs=0.5 * len(best.score_parts))
    assert "lower is better" in said


@pytest.mark.parametrize("name", NAMES)
def test_entry_opens_with_the_marks(name: str) -> None:
    """When the sun is on each, and which it leaves alone."""
    entries: DayEntries
    (entries,) = asked(name, "entry").value
    said = screen(name, "entry")
    place = location(name)
    touched = {f"{mark.room}: {mark.mark}" for mark in entries.marks if mark.intervals}
    for mark in entries.marks:
        for interval in mark.intervals:
            assert clock(interval.start_s, name) in said
    for room in place.room:
        for mark in room.mark:
            assert f"{room.name}: {mark.name}" in said
    assert touched or "No mark is touched" in said


@pytest.mark.parametrize("name", NAMES)
def test_check_opens_with_what_is_odd_or_assumed(name: str) -> None:
    said, place = screen(name, "check"), location(name)
    assert "No mistake found" in said
    assert ("assumed, no circuit named" in said) == any(
        not place.circuits_of(room.name) for room in place.room
    )
    assert f"call {place.day.call:%H:%M}, wrap {place.day.wrap:%H:%M}" in said


@pytest.mark.parametrize("name", NAMES)
def test_the_first_page_of_a_plan_is_the_whole_day(name: str) -> None:
    """Setups with their times or that they do not fit; sun on marks; load; hazards by name."""
    day = planned(name, MARCH)
    page = " ".join(" ".join(printed(plan_report.report(day))[:PAGE]).split())
    assert day.ordered is not None
    assert day.pack is not None
    turns = {turn.rigging.setup.name: turn.rigging for turn in day.ordered.best.turns}
    for setup in day.setups:
        if setup.name in turns:
            start = clock(turns[setup.name].start_s, name)
            assert re.search(rf"{start} shoot {setup.minutes:g} .{{0,14}}{setup.name}", page)
            assert re.search(rf"{setup.name}: ISO {setup.exposure.iso:g}", page)
        else:
            assert f"DOES NOT FIT: {setup.name}" in page
    used = {(setup.room, setup.mark) for setup in day.setups}
    for mark in day.entries.marks:
        for interval in mark.intervals if (mark.room, mark.mark) in used else ():
            assert clock(interval.start_s, name) in page
    assert f"{day.pack.weight_kg:.0f} kg in all" in page
    for slot in day.slots.values():
        for hazard in slot.needs.hazards:
            assert hazard in page
    for outside in day.exteriors:
        assert outside.exterior.name in page


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("question", [*QUESTIONS, "check", "plan"])
def test_with_more_all_is_told(name: str, question: str) -> None:
    """Every line, cell and caution of a document is printed; without, what is for more is not."""
    document = asked(name, question).document if question != "plan" else None
    if document is None:
        document = plan_report.report(planned(name, MARCH))
    whole = "".join("".join(printed(document, more=True)).split())
    for words in _words(document):
        assert "".join(words.split()) in whole
    short = printed(document)
    assert any(isinstance(block, More) for block in walk(document.blocks))
    assert len(short) < len(printed(document, more=True))
    assert "--more adds: " in " ".join(short)


def _words(document: Document) -> Iterator[str]:
    """What stands in its blocks, whatever they are for; of cells, which fold, each word."""
    for block in walk(document.blocks):
        match block:
            case Line(said=words):
                yield render(words, "m")
            case Table(columns=columns):
                for row in (columns, *block.cells("m")):
                    for cell in row:
                        yield from cell.split()
            case Section(heading=heading):
                yield "" if heading is None else render(heading, "m")
            case Caution(said=words):
                yield words
            case More() | Document():
                pass
            case words:
                yield render(words, "m")
