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
from ..location.lengths import Units, parse_length
from ..location.messages import shown
from ..location.model import Opening, Point, is_name, wall_index, wall_letter
from ..location.read import Location, read_text
from ..location.toml_file import load, refusal
from .observations import OUTWARD
from .questions import (
    OpeningAsked,
    Question,
    RoomAsked,
    Sheet,
    exactly,
    first_side,
    from_left_m,
    into_room_m,
    sheet,
    unit_m,
)
from .replies import Reply, ReplyError, bearing_deg, length_m, north, number, replies, rooms, slip

T = TypeVar("T")

SAME_M = 0.0005  # as the file has it: a sheet's figures are given to this
AGREE_M = 0.02  # between opposite walls of a rectangle: common practice, no source
ODD_SHARE, ODD_M = 0.3, 0.05  # off the file's value, and at least so much; no source
SLIPS = (  # what an answer may be times too large or too small, and how that comes about
    (2.54, "inches for centimetres, or the other way round?"),
    (3.281, "feet for metres, or the other way round?"),
    (10.0, "a decimal point off?"),
    (12.0, "inches for feet, or the other way round?"),
    (39.37, "inches for metres, or the other way round?"),
    (100.0, "centimetres for metres, or the other way round?"),
    (1000.0, "millimetres for metres, or the other way round?"),
)
UNLIKELY = 8.0  # times what the file has: a bare number is one in another unit; no source
LIKELY = 2.5  # times off the file's, at most, with that unit; no source
POSSIBLE = 10.0  # the same, of what cannot be as it was told
OWNER_M: dict[Units, tuple[float, str]] = {  # a tape in an owner's hands; no source
    "m": (0.02, "2 cm"),
    "ft": (0.0254, "1 in"),
}
SLIP = 0.1  # by which such a factor may be missed
USUAL_VOLTS: dict[Units, float] = {"m": 230.0, "ft": 120.0}  # common practice, no source
_CORNERS: TypeAdapter[tuple[Point, ...]] = TypeAdapter(tuple[Point, ...])


@dataclass(frozen=True)
class Change:
    """A value of the file that becomes another: by which answers, and what looks odd about it."""

    by: tuple[Reply, ...]
    what: str
    was: str
    now: str
    odd: str = ""


@dataclass(frozen=True)
class Surer:
    """An opening whose size was measured: its ± may be smaller, once what lacks is measured too."""

    what: str
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

    Raises ``LocationError`` with every wrong row at once, ``InputError`` where either file cannot
    be read or edited.
    """
    path = Path(location.file)
    asked = sheet(location)
    found, problems = replies(answers, asked)
    work = _Work(location, asked, {one.question.key: one for one in found}, problems)
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


def _by_row(error: LocationError, work: _Work, told: Sequence[Problem]) -> Iterator[Problem]:
    """What does not fit, with the rows it may come from; not what follows from a wrong row."""
    wrong = {one.where for one in told}
    for problem in error.problems:
        mine = [
            one
            for one in work.replies.values()
            if one.question.where and one.question.where in str(problem)
        ]
        if any(one.label in wrong for one in mine):
            continue
        changed = {id(one) for change in work.made.changes for one in change.by}
        rows = [one for one in mine if id(one) in changed]
        where = f"rows {', '.join(f'{one.row} ({one.question.id})' for one in rows)}"
        if len(rows) == 1:
            where = rows[0].label
        yield Problem(where if rows else "with these answers", str(problem))


class _Work:
    """The answers on their way into the file: what they edit, and what is wrong with them."""

    def __init__(
        self, location: Location, asked: Sheet, found: dict[str, Reply], problems: list[Problem]
    ) -> None:
        self.location, self.asked, self.replies = location, asked, found
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
            top = f"{room.room.name}, height"
            height = self._length(room.top, room.room.height, ("height",), top)
            for one in room.openings:
                if one.from_walls is None:
                    self._window(room, one, lengths, height)
                else:
                    self._skylight(room, one, one.from_walls)
            for lamp in room.lamps:
                for question in lamp.questions:
                    self._number(question, beside="lumens")
            self._compass(room)
        self.made.about = [one for one in self.replies.values() if one.about]
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
        """A length that was told; `most` is what it can be, metres, and what keeps it from more."""

        def read(reply: Reply) -> float:
            metres = length_m(reply, self.units)
            told = shown(reply.text)
            is_m = f"{told} is {exactly(metres, self.units)} here," if reply.bare else f"{told} is"
            if most is not None and metres > most[0] + SAME_M:
                meant = slip(reply, like_m=was_m, most_m=most[0], times=POSSIBLE)
                hint = f"is it {meant}?" if meant else _odd(metres, was_m, self.units)
                limit = f"{most[1]} {exactly(most[0], self.units)}"
                raise ReplyError(f"{is_m} more than there is room for ({limit}): {hint}")
            if reply.bare and metres > UNLIKELY * was_m:
                meant = slip(reply, like_m=was_m, most_m=metres, times=LIKELY)
                if meant:
                    raise ReplyError(
                        f"{is_m} the file has {exactly(was_m, self.units)}: is it {meant}? "
                        "expected it with its unit"
                    )
            return metres

        return self._value(question, read)

    def _put(
        self, at: tuple[str | int, ...], metres: float, *, said: str = "", beside: str = ""
    ) -> None:
        """A length into the file: as it was said where text stands there, else a bare number."""
        text = f"{metres / unit_m(self.units):.4f}".rstrip("0")
        text += "0" * text.endswith(".")
        if said and isinstance(self._stands(at), str) and _is_said(said, metres):
            text = _text(said)
        self.edits.append(Edit(at, text, beside))

    def _stands(self, at: tuple[str | int, ...]) -> Any:
        """What the file has there, as it is written; None where it has nothing."""
        found: Any = self.raw
        for key in at:
            if isinstance(found, dict) and key not in found:
                return None
            found = found[key]
        return found

    def _same(self, now_m: float, was_m: float) -> bool:
        """Whether a length is the file's own, which is counted."""
        same = abs(now_m - was_m) < SAME_M
        self.made.same += same
        return same

    def _moved(
        self,
        questions: Sequence[Question],
        what: str,
        was_m: float,
        now_m: float,
        odd: str | None = None,
    ) -> None:
        """A length that changes; what looks odd about it is worked out where it is not given."""
        was, now = (exactly(metres, self.units) for metres in (was_m, now_m))
        odd = _odd(now_m, was_m, self.units) if odd is None else odd
        self._changed(questions, what, was, now, odd)

    def _changed(
        self, questions: Sequence[Question], what: str, was: str, now: str, odd: str = ""
    ) -> None:
        by = tuple(self.replies[one.key] for one in questions if one.key in self.replies)
        self.made.changes.append(Change(by, what, was, now, odd))

    def _length(
        self,
        question: Question,
        old_m: float,
        within: tuple[str | int, ...],
        what: str,
        *,
        beside: str = "",
        most: tuple[float, str] | None = None,
    ) -> float:
        """A length that stands in the file as it is asked; the one that holds from now on."""
        metres = self._metres(question, old_m, most)
        if metres is None or self._same(metres, old_m):
            return old_m
        said = self.replies[question.key].text
        self._put((*question.at, *within), metres, said=said, beside=beside)
        self._moved([question], what, old_m, metres)
        return metres

    def _window(
        self, room: RoomAsked, one: OpeningAsked, lengths: Sequence[float], height: float
    ) -> None:
        opening = one.opening
        w, h, u, c, d, _ = one.questions
        named = f"{room.room.name}, {opening.name}"
        assert opening.sill is not None
        assert opening.along is not None
        assert opening.wall is not None
        index = wall_index(opening.wall, len(lengths))
        assert index is not None
        length = lengths[index]
        wide = length, f"wall {wall_letter(index)} is"
        high = height, "the room's height is"
        width = self._length(w, opening.size[0], ("size", 0), f"{named}, width", most=wide)
        self._length(h, opening.size[1], ("size", 1), f"{named}, height", most=high)
        self._length(u, opening.sill, ("sill",), f"{named}, sill", most=high)
        self._length(d, opening.depth, ("depth",), f"{named}, depth", beside="sill")
        self._surer(named, opening, (w, h, d))
        was = from_left_m(room.room, opening)
        left = self._metres(c, was, wide)
        if left is None:
            return
        # Told from the left corner; a wall runs from its right one.
        along = length - left - width
        if not self._same(along, opening.along):
            self._put((*c.at, "along"), along)
            odd = _odd(left, was, self.units)
            self._moved([c], f"{named}, along", opening.along, along, odd)

    def _surer(self, named: str, opening: Opening, sizes: Sequence[Question]) -> None:
        """Whether an opening's ± may be smaller by what was measured, and what lacks for it."""
        error = self.location.site.size_error if opening.size_error is None else opening.size_error
        least, text = OWNER_M[self.units]
        wrong = {one.where for one in self.problems}
        replied = [self.replies.get(one.key) for one in sizes]
        measured = [one is not None and not one.about and one.label not in wrong for one in replied]
        if error > least and any(measured):
            lacking = [one.name for one, has in zip(sizes, measured, strict=True) if not has]
            was = exactly(error, self.units)
            line = f"size_error = {_text(text)}"
            self.made.surer.append(Surer(named, line, was, tuple(lacking)))

    def _skylight(self, room: RoomAsked, one: OpeningAsked, walls: tuple[int, int]) -> None:
        opening = one.opening
        assert opening.at is not None
        w, h, m, n, d, _ = one.questions
        named = f"{room.room.name}, {opening.name}"
        side = first_side(room.room, opening)
        for question, at in ((w, side), (h, 1 - side)):
            self._length(question, opening.size[at], ("size", at), f"{named}, {question.name}")
        self._length(d, opening.depth, ("depth",), f"{named}, depth", beside="name")
        self._surer(named, opening, (w, h, d))
        was = [into_room_m(room.room, opening.at, wall) for wall in walls]
        told = [self._metres(*pair) for pair in zip((m, n), was, strict=True)]
        given = [metres for metres in told if metres is not None]
        off = [0.0 if new is None else new - old for new, old in zip(told, was, strict=True)]
        if not given:
            return
        if max(map(abs, off)) < SAME_M:
            self.made.same += len(given)
            return
        for axis, shift in enumerate(_shift(room, walls, (off[0], off[1]))):
            if abs(shift) >= SAME_M:
                self._put((*m.at, "at", axis), opening.at[axis] + shift)
        for question, new, old in zip((m, n), told, was, strict=True):
            if new is not None and not self._same(new, old):
                self._moved([question], f"{named}, {question.name}", old, new)

    def _outline(self, room: RoomAsked) -> list[float]:
        """Walls measured: a rectangle's corners move, any other outline is only compared.

        The walls' lengths from now on, metres.
        """
        outline = room.room.outline
        was = [math.dist(*room.room.wall(index)) for index in range(len(outline))]
        told = [self._metres(*pair) for pair in zip(room.walls, was, strict=True)]
        if not _square(outline):
            for question, new, old in zip(room.walls, told, was, strict=True):
                if new is not None:
                    self._compared(room, question, new, old)
            return was
        lengths = list(was)
        for index in (0, 1):
            pair = (index, index + 2)
            given = [metres for at in pair if (metres := told[at]) is not None]
            if not given:
                continue
            if max(given) - min(given) > AGREE_M:
                a, b = (exactly(metres, self.units) for metres in given)
                first, second = (wall_letter(at) for at in pair)
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
            both = " and ".join(wall_letter(at) for at in pair)
            questions = [room.walls[at] for at in pair]
            self._moved(questions, f"{room.room.name}, walls {both}", was[index], new)
        self._corners(room, was, lengths)
        return lengths

    def _compared(self, room: RoomAsked, question: Question, new: float, old: float) -> None:
        if self._same(new, old):
            return
        a, b = exactly(old, self.units), exactly(new, self.units)
        odd = _odd(new, old, self.units)
        self.made.contradicted.append(
            f"{room.room.name}: wall {question.name}: the file has {a}, measured {b}; its outline "
            f"is no plain rectangle and stays as it is{f' ({odd})' if odd else ''}"
        )

    def _corners(self, room: RoomAsked, was: Sequence[float], lengths: Sequence[float]) -> None:
        """A rectangle's other corners, its first one kept."""
        outline = room.room.outline
        first = outline[0]
        along, across = (
            [
                lengths[index] * (end - start) / was[index]
                for start, end in zip(*room.room.wall(index), strict=True)
            ]
            for index in (0, 1)
        )
        for index, (a, b) in enumerate(((0, 0), (1, 0), (1, 1), (0, 1))):
            at = -index % 4 if self._goes_clockwise(room) else index
            for axis in (0, 1):
                new = first[axis] + a * along[axis] + b * across[axis]
                if abs(new - outline[index][axis]) >= SAME_M:
                    self._put((*room.top.at, "outline", at, axis), new)

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
        self.edits.append(Edit((*question.at, question.name), f"{value:g}", beside))
        was = f"{question.now} {unit}" if question.now else "—"
        odd = _odd(value, float(question.now), None) if question.now else ""
        self._changed([question], _what(question), was, f"{value:g} {unit}", odd)

    def _compass(self, room: RoomAsked) -> None:
        degrees = self._value(room.way, bearing_deg)
        if degrees is not None:
            wall = f"{room.room.name} {wall_letter(room.facing)}{OUTWARD}"
            self.made.compass.append(f"{wall}: {degrees:g}")

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
            volts = known[0].volts if known else USUAL_VOLTS[self.units]
            self.made.volts_taken = volts
        for called, amps_a, fed_rooms in made:
            lines = ["[[circuit]]", f"name = {_text(called)}", f"amps = {amps_a:g}"]
            lines.append(f"volts = {volts:g}")
            lines += [f"rooms = {_texts(fed_rooms)}"] * bool(fed_rooms)
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
            words = [self.replies[one.key].text for one in (label, fed) if one.key in self.replies]
            if words and amps.key not in self.replies:
                self.made.known.append((f"{usual}, its amperes not told", ", ".join(words)))
            return None
        for index, one in enumerate(self.location.circuit):
            if one.name == name:
                at: tuple[str | int, ...] = ("circuit", index)
                self._number(replace(amps, at=at, now=f"{one.amps:g}"), beside="name")
                self._fed(replace(fed, at=at), one.rooms)
                return None
        told = f"{amps_a:g} A" + (f", {', '.join(fed_rooms)}" if fed_rooms else "")
        self._changed(asked, f"circuit {name}", "—", told)
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
            self.edits.append(Edit((*question.at, "name"), _text(reply.text)))
            self._changed([question], f"circuit {was}, name", was, reply.text)

    def _fed(self, question: Question, was: Sequence[str]) -> None:
        fed = self._value(question, self._rooms)
        if fed is None:
            return
        if set(fed) == set(was):
            self.made.same += 1
            return
        every = fed or tuple(room.name for room in self.location.room)
        self.edits.append(Edit((*question.at, "rooms"), _texts(every), "name"))
        told = [", ".join(names) or "all" for names in (was, fed)]
        self._changed([question], _what(question), *told)


def _odd(new: float, old: float, units: Units | None) -> str:
    """What looks odd about a figure beside the file's, or nothing; lengths are in metres."""
    least = 0.0 if units is None else ODD_M
    if abs(new - old) <= max(least, ODD_SHARE * old):
        return ""
    if min(new, old) <= 0.0:
        return "far from what the file has"
    times = new / old
    factor = max(times, 1.0 / times)
    told = f"{factor:.2g} times {'what the file has' if times > 1.0 else 'less than the file has'}"
    for wrong, hint in SLIPS if units is not None else ():
        if abs(factor / wrong - 1.0) < SLIP:
            return f"{told}: {hint}"
    return told


def _square(outline: Sequence[Point]) -> bool:
    """Whether an outline is a rectangle whose sides run along the plan's own axes."""
    ends = zip(outline, (*outline[1:], outline[0]), strict=True)
    along = [
        tuple(abs(b - a) < SAME_M for a, b in zip(start, end, strict=True)) for start, end in ends
    ]
    return len(outline) == 4 and along in (
        [(False, True), (True, False)] * 2,
        [(True, False), (False, True)] * 2,
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


def _what(question: Question) -> str:
    return f"{question.text.partition(':')[0]}, {question.name}"


def _text(name: str) -> str:
    return json.dumps(name, ensure_ascii=False)


def _texts(names: Sequence[str]) -> str:
    return f"[{', '.join(map(_text, names))}]"
