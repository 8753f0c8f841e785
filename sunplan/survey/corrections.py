"""What answers change in a location file, what they contradict, and what is only to be known."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import TypeAdapter

from ..errors import InputError, LocationError, Problem
from ..location.edit import MARK, Edit, edited, with_tables
from ..location.lengths import Units, parse_length, unit_m
from ..location.messages import shown
from ..location.model import Opening, Point, is_name, wall_letter
from ..location.read import Location, read_text
from ..location.toml_file import load, refusal
from .observations import OUTWARD
from .questions import (
    OpeningAsked,
    Question,
    RoomAsked,
    Sheet,
    before_words,
    exactly,
    first_side,
    from_left_m,
    into_room_m,
    sheet,
)
from .replies import Reply, ReplyError, bearing_deg, before, north, number, replies, rooms, wet
from .slips import SAME_M, odd_hint, plausible_m

T = TypeVar("T")

AGREE_M = 0.02  # between opposite walls of a rectangle: common practice, no source
OWNER_M: dict[Units, tuple[float, str]] = {  # a tape in an owner's hands; no source
    "m": (0.02, "2 cm"),
    "ft": (0.0254, "1 in"),
}
_CORNERS: TypeAdapter[tuple[Point, ...]] = TypeAdapter(tuple[Point, ...])


@dataclass(frozen=True)
class Change:
    """A value of the file that becomes another: by which answers, and what looks odd about it."""

    by: tuple[Reply, ...]
    value: str
    was: str
    now: str
    odd: str = ""


@dataclass(frozen=True)
class Surer:
    """An opening whose size was measured: its ± may be smaller, once what lacks is measured too."""

    opening: str
    line: str
    was: str
    lacking: tuple[str, ...]


@dataclass
class Corrections:
    """A location file's text with the answers in it.

    `contradicted` are answers that the outline does not agree with, `known` those that have no
    place in the file, `compass` readings as `sunplan bearing` takes them; `north` is which one the
    phone shows, where told. `volts_taken` is a mains voltage that nobody told; `about` are lengths
    that were guessed, `surer` openings that may have a smaller ± now.
    """

    text: str = ""
    changes: list[Change] = field(default_factory=list)
    same: int = 0
    contradicted: list[str] = field(default_factory=list)
    known: list[tuple[str, str]] = field(default_factory=list)
    compass: list[str] = field(default_factory=list)
    north: str | None = None
    volts_taken: float | None = None
    about: list[Reply] = field(default_factory=list)
    surer: list[Surer] = field(default_factory=list)


def corrections(location: Location, answers: Path) -> Corrections:
    """A location file with the answers of a sheet; nothing is written.

    Parameters
    ----------
    location : as it was read; its file is read again.
    answers : the sheet that came back, comma-separated rows.

    Raises
    ------
    LocationError : with every wrong row at once.
    InputError : where either file cannot be read or edited.
    """
    path = Path(location.file)
    asked = sheet(location)
    answered, problems = replies(answers, asked)
    work = _Work(location, asked, {reply.question.key: reply for reply in answered}, problems)
    work.take()
    try:
        text = edited(path, work.edits)
    except ValueError as wrong:
        raise InputError(
            f"{path}: cannot be edited: {wrong}; expected each key on a line of its own below a "
            'heading such as [location], as "sunplan new" writes them'
        ) from None
    if work.tables:
        text = with_tables(text, work.tables)
    try:
        read_text(text.removeprefix(MARK), path)
    except LocationError as error:
        problems += _by_row(error, work, problems)
    if problems:
        raise refusal(answers, sorted(problems, key=_row))
    work.made.text = text
    return work.made


def _row(problem: Problem) -> int:
    head = problem.where.removeprefix("row ").partition(",")[0]
    return int(head) if head.isdigit() else 0


def _by_row(error: LocationError, work: _Work, problems: Sequence[Problem]) -> Iterator[Problem]:
    """What does not fit, with the rows it may come from; not what follows from a wrong row."""
    wrong = {problem.where for problem in problems}
    for problem in error.problems:
        mine = [
            reply
            for reply in work.replies.values()
            if reply.question.where and reply.question.where in str(problem)
        ]
        if any(reply.label in wrong for reply in mine):
            continue
        changed = {id(reply) for change in work.made.changes for reply in change.by}
        rows = [reply for reply in mine if id(reply) in changed]
        where = f"rows {', '.join(f'{reply.row} ({reply.question.id})' for reply in rows)}"
        if len(rows) == 1:
            where = rows[0].label
        yield Problem(where if rows else "with these answers", str(problem))


class _Work:
    """The answers on their way into the file: what they edit, and what is wrong with them."""

    def __init__(
        self, location: Location, asked: Sheet, answered: dict[str, Reply], problems: list[Problem]
    ) -> None:
        self.location, self.asked, self.replies = location, asked, answered
        self.units = location.site.units
        self.raw = load(Path(location.file))
        self.problems = problems
        self.edits: list[Edit] = []
        self.tables: list[str] = []
        self.made = Corrections()

    def take(self) -> None:
        """Go through all that was asked."""
        for room in self.asked.rooms:
            lengths = self._outline(room)
            height = self._length(room.top, room.room.height, ("height",))
            for asked in room.openings:
                if asked.from_walls is None:
                    self._window(room, asked, lengths, height)
                else:
                    self._skylight(room, asked, asked.from_walls)
            for lamp in room.lamps:
                for question in lamp.questions:
                    self._number(question, beside="lumens")
            self._compass(room)
            self._wet(room)
        self.made.about = [reply for reply in self.replies.values() if reply.about]
        self.made.north = self._value(self.asked.north, north)
        self._circuits()
        for question in self.asked.questions():
            if question.kind == "text" and not question.key.startswith("circuit."):
                reply = self.replies.get(question.key)
                if reply is not None:
                    self.made.known.append((question.text, reply.text))

    def _value(self, question: Question, read: Callable[[Reply], T]) -> T | None:
        """What an answer says, or None where there is none, or a wrong one, which is told."""
        reply = self.replies.get(question.key)
        if reply is None:
            return None
        try:
            return read(reply)
        except ReplyError as wrong:
            self.problems.append(Problem(reply.label, str(wrong)))
            return None

    def _metres(
        self, question: Question, was_m: float, most: tuple[float, str] | None = None
    ) -> float | None:
        """A length that was told; `most` as `plausible_m` has it."""
        return self._value(
            question, lambda reply: plausible_m(reply, self.units, was_m=was_m, most=most)
        )

    def _put(
        self, path: tuple[str | int, ...], metres: float, *, said: str = "", beside: str = ""
    ) -> None:
        """A length into the file: as it was said where text stands there, else a bare number."""
        text = str(round(metres / unit_m(self.units), 4))
        if said and isinstance(self._stands(path), str) and _is_said(said, metres):
            text = _text(said)
        self.edits.append(Edit(path, text, beside))

    def _stands(self, path: tuple[str | int, ...]) -> Any:
        """What the file has there, as it is written; None where it has nothing."""
        value: Any = self.raw
        for key in path:
            if isinstance(value, dict) and key not in value:
                return None
            value = value[key]
        return value

    def _same(self, now_m: float, was_m: float) -> bool:
        """Whether a length is the file's own, which is counted."""
        same = abs(now_m - was_m) < SAME_M
        self.made.same += same
        return same

    def _moved(
        self,
        questions: Sequence[Question],
        value: str,
        was_m: float,
        now_m: float,
        odd: str | None = None,
    ) -> None:
        """A length that changes; what looks odd about it is worked out where it is not given."""
        was, now = (exactly(metres, self.units) for metres in (was_m, now_m))
        odd = odd_hint(now_m, was_m, self.units) if odd is None else odd
        self._changed(questions, value, was, now, odd)

    def _changed(
        self, questions: Sequence[Question], value: str, was: str, now: str, odd: str = ""
    ) -> None:
        by = tuple(
            self.replies[question.key] for question in questions if question.key in self.replies
        )
        self.made.changes.append(Change(by, value, was, now, odd))

    def _length(
        self,
        question: Question,
        old_m: float,
        within: tuple[str | int, ...],
        *,
        beside: str = "",
        most: tuple[float, str] | None = None,
    ) -> float:
        """A length that stands in the file as it is asked; the one that holds from now on."""
        metres = self._metres(question, old_m, most)
        if metres is None or self._same(metres, old_m):
            return old_m
        said = self.replies[question.key].text
        self._put((*question.path, *within), metres, said=said, beside=beside)
        self._moved([question], question.title, old_m, metres)
        return metres

    def _window(
        self, room: RoomAsked, asked: OpeningAsked, lengths: Sequence[float], height: float
    ) -> None:
        opening = asked.opening
        w, h, u, c, d, o, _ = asked.questions
        self._before(o, opening)
        wall, old_along, sill = opening.in_wall
        index = room.room.wall_number(wall)
        length = lengths[index]
        wide = length, f"wall {wall_letter(index)} is"
        high = height, "the room's height is"
        width = self._length(w, opening.size[0], ("size", 0), most=wide)
        self._length(h, opening.size[1], ("size", 1), most=high)
        self._length(u, sill, ("sill",), most=high)
        self._length(d, opening.depth, ("depth",), beside="sill")
        self._surer(opening, (w, h, d))
        was = from_left_m(room.room, opening)
        left = self._metres(c, was, wide)
        if left is None:
            return
        # Told from the left corner; a wall runs from its right one.
        along = length - left - width
        if not self._same(along, old_along):
            self._put((*c.path, "along"), along)
            odd = odd_hint(left, was, self.units)
            self._moved([c], f"{c.of}, along", old_along, along, odd)

    def _surer(self, opening: Opening, sizes: Sequence[Question]) -> None:
        """Whether an opening's ± may be smaller by what was measured, and what lacks for it."""
        error = self.location.site.size_error if opening.size_error is None else opening.size_error
        smallest, text = OWNER_M[self.units]
        wrong = {problem.where for problem in self.problems}
        replied = [self.replies.get(question.key) for question in sizes]
        measured = [
            reply is not None and not reply.about and reply.label not in wrong for reply in replied
        ]
        if error > smallest and any(measured):
            lacking = [
                question.name for question, has in zip(sizes, measured, strict=True) if not has
            ]
            was = exactly(error, self.units)
            line = f"size_error = {_text(text)}"
            self.made.surer.append(Surer(sizes[0].of, line, was, tuple(lacking)))

    def _skylight(self, room: RoomAsked, asked: OpeningAsked, walls: tuple[int, int]) -> None:
        opening = asked.opening
        assert opening.at is not None
        w, h, m, n, d, _ = asked.questions
        side = first_side(room.room, opening)
        for question, axis in ((w, side), (h, 1 - side)):
            self._length(question, opening.size[axis], ("size", axis))
        self._length(d, opening.depth, ("depth",), beside="name")
        self._surer(opening, (w, h, d))
        was = [into_room_m(room.room, opening.at, wall) for wall in walls]
        measured = [self._metres(*pair) for pair in zip((m, n), was, strict=True)]
        given = [metres for metres in measured if metres is not None]
        off = [0.0 if new is None else new - old for new, old in zip(measured, was, strict=True)]
        if not given:
            return
        if max(map(abs, off)) < SAME_M:
            self.made.same += len(given)
            return
        for axis, shift in enumerate(_shift(room, walls, (off[0], off[1]))):
            if abs(shift) >= SAME_M:
                self._put((*m.path, "at", axis), opening.at[axis] + shift)
        for question, new, old in zip((m, n), measured, was, strict=True):
            if new is not None and not self._same(new, old):
                self._moved([question], question.title, old, new)

    def _outline(self, room: RoomAsked) -> list[float]:
        """Walls measured: a rectangle's corners move, any other outline is only compared.

        The walls' lengths from now on, metres.
        """
        outline = room.room.outline
        was = [math.dist(*room.room.wall(index)) for index in range(len(outline))]
        measured = [self._metres(*pair) for pair in zip(room.walls, was, strict=True)]
        if not _square(outline):
            for question, new, old in zip(room.walls, measured, was, strict=True):
                if new is not None:
                    self._compared(room, question, new, old)
            return was
        lengths = list(was)
        for index in (0, 1):
            pair = (index, index + 2)
            given = [metres for wall in pair if (metres := measured[wall]) is not None]
            if not given:
                continue
            if max(given) - min(given) > AGREE_M:
                a, b = (exactly(metres, self.units) for metres in given)
                first, second = (wall_letter(wall) for wall in pair)
                self.made.contradicted.append(
                    f"{room.room.name}: wall {first} is {a}, wall {second} across from it {b}; "
                    "the file has both the same, and keeps them as they are"
                )
                continue
            new = math.fsum(given) / len(given)
            if abs(new - was[index]) < SAME_M:
                self.made.same += len(given)
                continue
            lengths[index] = lengths[index + 2] = new
            both = " and ".join(wall_letter(wall) for wall in pair)
            questions = [room.walls[wall] for wall in pair]
            self._moved(questions, f"{room.room.name}, walls {both}", was[index], new)
        self._corners(room, was, lengths)
        return lengths

    def _compared(self, room: RoomAsked, question: Question, new: float, old: float) -> None:
        if self._same(new, old):
            return
        a, b = exactly(old, self.units), exactly(new, self.units)
        odd = odd_hint(new, old, self.units)
        self.made.contradicted.append(
            f"{room.room.name}: wall {question.name}: the file has {a}, measured {b}; its outline "
            f"is no plain rectangle and stays as it is{f' ({odd})' if odd else ''}"
        )

    def _corners(self, room: RoomAsked, was: Sequence[float], lengths: Sequence[float]) -> None:
        """A rectangle's other corners, its first one kept."""
        outline = room.room.outline
        first = outline[0]
        level = abs(outline[1][1] - first[1]) < SAME_M  # wall A runs along x, else along y
        for index, corner in enumerate(outline):
            place = -index % 4 if self._goes_clockwise(room) else index
            for axis, wall in enumerate((0, 1) if level else (1, 0)):
                new = first[axis] + (corner[axis] - first[axis]) * lengths[wall] / was[wall]
                if abs(new - corner[axis]) >= SAME_M:
                    self._put((*room.top.path, "outline", place, axis), new)

    def _goes_clockwise(self, room: RoomAsked) -> bool:
        """Whether the file gives the corners the other way round."""
        written = self.raw["room"][room.number - 1]["outline"]
        corners = _CORNERS.validate_python(written, context={"units": self.units})
        return corners[1] != room.room.outline[1]

    def _number(self, question: Question, *, beside: str) -> None:
        value = self._value(question, number)
        if value is None:
            return
        if question.now and float(question.now) == value:
            self.made.same += 1
            return
        unit = question.unit
        self.edits.append(Edit((*question.path, question.name), f"{value:g}", beside))
        was = f"{question.now} {unit}" if question.now else "—"
        odd = odd_hint(value, float(question.now), None) if question.now else ""
        self._changed([question], question.title, was, f"{value:g} {unit}", odd)

    def _compass(self, room: RoomAsked) -> None:
        degrees = self._value(room.way, bearing_deg)
        if degrees is not None:
            wall = f"{room.room.name} {wall_letter(room.facing)}{OUTWARD}"
            self.made.compass.append(f"{wall}: {degrees:g}")

    def _wet(self, room: RoomAsked) -> None:
        now = self._value(room.wet, wet)
        if now is not None:
            words = "yes" if now else "no"
            self._said(room.wet, words, {"wet": "true" if now else "false"}, beside="height")

    def _before(self, question: Question, opening: Opening) -> None:
        told = self._value(question, lambda reply: before(reply, self.units))
        if told is None:
            return
        kind, down_m = told
        down_m = opening.to_ground if down_m is None else down_m
        keys = {"before": _text(kind)}
        if down_m is not None:
            keys["to_ground"] = str(round(down_m / unit_m(self.units), 4))
        self._said(question, before_words(kind, down_m, self.units), keys, beside="sill")

    def _said(self, question: Question, now: str, keys: dict[str, str], *, beside: str) -> None:
        """An answer in words, which becomes one key or two of its table."""
        if now == question.now:
            self.made.same += 1
            return
        table = question.path
        self.edits += [Edit((*table, key), text, beside) for key, text in keys.items()]
        self._changed([question], question.title, question.now or "—", now)

    def _circuits(self) -> None:
        known = self.location.circuit
        volts = self._value(self.asked.volts, number)
        for (name, amps, fed), circuit in zip(self.asked.circuits, known, strict=False):
            self._named(name, circuit.name)
            self._number(amps, beside="name")
            self._fed(fed, circuit.rooms)
        for index, circuit in enumerate(known):
            if volts is not None and volts != circuit.volts:
                self.edits.append(Edit(("circuit", index, "volts"), f"{volts:g}"))
                was, now = f"{circuit.volts:g} V", f"{volts:g} V"
                self._changed([self.asked.volts], f"{circuit.name}, volts", was, now)
        asked = enumerate(self.asked.circuits[len(known) :], start=1)
        circuits = [self._new_circuit(questions, f"fuse {number}") for number, questions in asked]
        made = [circuit for circuit in circuits if circuit is not None]
        if made and volts is None:
            volts = known[0].volts if known else self.location.mains.volts
            self.made.volts_taken = volts
        for called, amps_a, fed_rooms in made:
            lines = ["[[circuit]]", f"name = {_text(called)}", f"amps = {amps_a:g}"]
            lines.append(f"volts = {volts:g}")
            lines += [f"rooms = {_text(fed_rooms)}"] * bool(fed_rooms)
            self.tables.append("\n".join((*lines, "")))

    def _new_circuit(
        self, asked: Sequence[Question], usual: str
    ) -> tuple[str, float, tuple[str, ...]] | None:
        """A circuit that the file has not; one that it has by that name is made the same."""
        label, amps, fed = asked
        said = self.replies.get(label.key)
        name = usual if said is None else said.text
        amps_a = self._value(amps, number)
        fed_rooms = self._value(fed, self._rooms)
        if said is not None and not is_name(name):
            self.problems.append(Problem(said.label, f"{shown(name)} is no name on one line"))
            return None
        if amps_a is None:
            words = [
                self.replies[question.key].text
                for question in (label, fed)
                if question.key in self.replies
            ]
            if words and amps.key not in self.replies:
                self.made.known.append((f"{usual}, its amperes not told", ", ".join(words)))
            return None
        for index, circuit in enumerate(self.location.circuit):
            if circuit.name == name:
                path: tuple[str | int, ...] = ("circuit", index)
                self._number(replace(amps, path=path, now=f"{circuit.amps:g}"), beside="name")
                self._fed(replace(fed, path=path), circuit.rooms)
                return None
        now = f"{amps_a:g} A" + (f", {', '.join(fed_rooms)}" if fed_rooms else "")
        self._changed(asked, f"circuit {name}", "—", now)
        return name, amps_a, fed_rooms or ()

    def _rooms(self, reply: Reply) -> tuple[str, ...]:
        return rooms(reply, [room.name for room in self.location.room])

    def _named(self, question: Question, was: str) -> None:
        reply = self.replies.get(question.key)
        if reply is None:
            return
        if reply.text == was:
            self.made.same += 1
        elif not is_name(reply.text):
            self.problems.append(Problem(reply.label, "is no name on one line"))
        else:
            self.edits.append(Edit((*question.path, "name"), _text(reply.text)))
            self._changed([question], f"circuit {was}, name", was, reply.text)

    def _fed(self, question: Question, was: Sequence[str]) -> None:
        fed = self._value(question, self._rooms)
        if fed is None:
            return
        if set(fed) == set(was):
            self.made.same += 1
            return
        every = fed or tuple(room.name for room in self.location.room)
        self.edits.append(Edit((*question.path, "rooms"), _text(every), "name"))
        fed_rooms = [", ".join(names) or "all" for names in (was, fed)]
        self._changed([question], question.title, *fed_rooms)


def _square(outline: Sequence[Point]) -> bool:
    """Whether an outline is a rectangle whose sides run along the plan's own axes."""
    sides = zip(outline, (*outline[1:], outline[0]), strict=True)
    return len(outline) == 4 and all(
        min(abs(b - a) for a, b in zip(*side, strict=True)) < SAME_M for side in sides
    )


def _shift(room: RoomAsked, walls: tuple[int, int], off_m: tuple[float, float]) -> Point:
    """What to add to a place so that it lies so much further in from each of two walls."""
    (a, b), (c, d) = ((-y, x) for _, (x, y) in map(room.room.wall_way, map(wall_letter, walls)))
    across = a * d - b * c
    return (d * off_m[0] - b * off_m[1]) / across, (a * off_m[1] - c * off_m[0]) / across


def _is_said(text: str, metres: float) -> bool:
    try:
        return abs(parse_length(text) - metres) < SAME_M
    except ValueError:
        return False


def _text(value: str | Sequence[str]) -> str:
    """A name or several as TOML has them."""
    return json.dumps(value, ensure_ascii=False)
