"""The sheet of answers as it comes back from a spreadsheet: rows, each with its question."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..errors import Problem
from ..location.lengths import Units, parse_length, unit_m
from ..location.messages import nearest, shown
from ..location.model import FAR_M, Before
from ..location.toml_file import refusal, text_of
from .questions import Question, Sheet

COLUMNS = ("id", "question", "unit", "now", "answer", "key")
SIGNS = ",;\t"  # that spreadsheets part columns by
UNITS = ("mm", "cm", "m", "ft", "in")
LENGTHS = {"m": "1.12 m, 112 cm or 44 in", "ft": "3 ft 8 in, 44 in or 1.12 m"}
NORTHS = ("true", "magnetic")
YES, NO = ("yes", "y"), ("no", "n", "none")
BEFORE: dict[str, Before] = {  # words for what lies before a window, by what a file calls it
    **dict.fromkeys(("ground", "garden", "yard", "lawn", "terrace", "balcony"), "ground"),
    **dict.fromkeys(("water", "canal", "river", "pond", "sea", "lake"), "water"),
    **dict.fromkeys(("street", "road", "lane", "pavement", "sidewalk", "traffic"), "street"),
    **dict.fromkeys(("drop", "nothing", "upstairs"), "drop"),
    **dict.fromkeys(("blocked", "hedge", "fence", "wall", "neighbour"), "blocked"),
}
MOST = 1e6  # of amperes, lumens, kelvin: beyond it a number is a slip

_NUMBER = re.compile(r"\d+(?:\.\d*)?|\.\d+", re.ASCII)
_ABOUT = re.compile(
    r"(?:[~≈∼]|(?:about|approximately|approx|circa|ca|roughly|around)\b\.?)\s*", re.IGNORECASE
)
_NOTHING = re.compile(
    r"[?\-–—. ]+|(?:i )?(?:don'?t|do not) know|not known|unknown|no idea|n/?a", re.IGNORECASE
)
_FEET_ALONE = re.compile(r"(?:feet|foot|ft|['′’])[\s-]*\d+(?:\.\d+)?$", re.ASCII | re.IGNORECASE)
_POINT = re.compile(r"\s*[NESW]{1,3}$", re.IGNORECASE)


@dataclass(frozen=True)
class Reply:
    """An answer that is not empty: the sheet's row, counted as a spreadsheet does."""

    row: int
    question: Question
    text: str
    unit: str
    about: bool = False  # a length that was guessed, by its own words

    @property
    def bare(self) -> bool:
        """Whether it is a number without a unit of its own; a row's unit was there before."""
        return _NUMBER.fullmatch(_with_points(self.text)) is not None

    @property
    def label(self) -> str:
        """What a message calls it."""
        return f"row {self.row}, {self.question.id}"


def replies(path: Path, sheet: Sheet) -> tuple[list[Reply], list[Problem]]:
    """The answers in a sheet, and what is wrong with its rows.

    Raises
    ------
    InputError : where it cannot be read, or is no such sheet.
    """
    text = text_of(path, "comma-separated rows (CSV)")
    head = text.partition("\n")[0]
    sign = max(SIGNS, key=head.count)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=sign, strict=True))
    except csv.Error as error:
        raise refusal(path, [Problem("", f"is no sheet of answers ({error})")]) from None
    names = [name.strip().lower() for name in rows[0]] if rows else []
    if "answer" not in names or not {"id", "key"} & set(names):
        wanted = ",".join(COLUMNS)
        raise refusal(
            path, [Problem("", f"has no columns id and answer; expected a first row {wanted}")]
        )
    answers: list[Reply] = []
    problems: list[Problem] = []
    by_id = {question.id.lower(): question for question in sheet.questions()}
    by_key = {question.key: question for question in sheet.questions()}
    for number, cells in enumerate(rows[1:], start=2):
        row = dict(zip(names, (cell.strip() for cell in cells), strict=False))
        ident, key = row.get("id", ""), row.get("key", "")
        if any(cell.strip() for cell in cells[len(names) :]):
            quoted = f'put an answer with "{sign}" in it in quotes'
            problems.append(
                Problem(
                    f"row {number}, {ident}",
                    f"has {len(cells)} columns; expected {len(names)}: {quoted}",
                )
            )
            continue
        answer = row.get("answer", "")
        if not answer or _NOTHING.fullmatch(answer.replace("’", "'")):
            continue
        # The key holds when rooms were added meanwhile and numbers moved on.
        question = by_key.get(key) if key else by_id.get(ident.lower())
        if question is None:
            given, known = (
                (key, [*by_key]) if key else (ident, [question.id for question in by_id.values()])
            )
            near = nearest(given, known)
            hint = f'did you mean "{near}"?' if near else "expected one of the sheet's own"
            problems.append(
                Problem(f"row {number}", f"{shown(given)} is no question of this file; {hint}")
            )
            continue
        about = _ABOUT.match(answer) if question.kind in ("size", "distance") else None
        said = answer if about is None else answer[about.end() :]
        answers.append(Reply(number, question, said, row.get("unit", ""), about is not None))
    problems += _twice(answers)
    return answers, problems


def _twice(given: Sequence[Reply]) -> list[Problem]:
    first: dict[str, Reply] = {}
    problems = []
    for reply in given:
        before = first.setdefault(reply.question.key, reply)
        if before is not reply:
            mistake = f"is answered in row {before.row} already; expected one answer"
            problems.append(Problem(reply.label, mistake))
    return problems


class ReplyError(ValueError):
    """What is wrong with an answer, and what would be right."""


def length_m(reply: Reply, units: Units) -> float:
    """An answer's length, metres; a bare number is in its row's unit, else in the file's.

    Raises
    ------
    ReplyError : where it is none, or below what it can be.
    """
    text = _with_points(reply.text)
    unit = reply.unit.lower().rstrip(".")
    if unit and unit not in UNITS:
        raise ReplyError(f"the unit {shown(reply.unit)} is not known; expected {', '.join(UNITS)}")
    if _FEET_ALONE.search(text):
        text += " in"  # "3 ft 8", as people say it
    try:
        if _NUMBER.fullmatch(text):
            metres = parse_length(f"{text} {unit}") if unit else float(text) * unit_m(units)
        else:
            metres = parse_length(text)
    except (ValueError, OverflowError):
        raise ReplyError(f"{shown(reply.text)} is no length; expected {LENGTHS[units]}") from None
    limit = "above 0" if reply.question.kind == "size" else "0 or more"
    low = metres <= 0.0 if reply.question.kind == "size" else metres < 0.0
    if low or metres > FAR_M:
        raise ReplyError(f"{shown(reply.text)} is not right; expected a length {limit}")
    return metres


def slip(reply: Reply, *, like_m: float, most_m: float, times: float) -> str:
    """An answer's number with the unit that was most likely meant; nothing where none is likely.

    With that unit it is at most `most_m`, and by a factor of `times` at most unlike `like_m`.
    """
    figure = _NUMBER.match(_with_points(reply.text))
    if figure is None or like_m <= 0.0:
        return ""
    best, likely = times, ""
    for unit in UNITS:
        metres = parse_length(f"{figure[0]} {unit}")
        unlike = max(metres / like_m, like_m / metres) if metres > 0.0 else math.inf
        if metres <= most_m and unlike <= best:
            best, likely = unlike, f"{figure[0]} {unit}"
    return likely


def number(reply: Reply) -> float:
    """An answer's number, above 0, with or without its unit.

    Raises
    ------
    ReplyError : for anything else.
    """
    text, unit = _with_points(reply.text), reply.question.unit
    if text.lower().endswith(unit.lower()):
        text = text[: len(text) - len(unit)].strip()
    value = float(text) if _NUMBER.fullmatch(text) else 0.0
    if not 0.0 < value <= MOST:
        raise ReplyError(f"{shown(reply.text)} is no number above 0; expected one in {unit}")
    return value


def bearing_deg(reply: Reply) -> float:
    """What a compass showed, degrees from 0 to 360.

    Raises
    ------
    ReplyError : for anything else.
    """
    text = _POINT.sub("", _with_points(reply.text)).removesuffix("°").strip()
    value = float(text) if _NUMBER.fullmatch(text) else math.nan
    if not 0.0 <= value <= 360.0:
        raise ReplyError(
            f"{shown(reply.text)} is no compass reading; expected degrees, 0 to 360, such as 192"
        )
    return value


def north(reply: Reply) -> str:
    """Which north a phone shows: "true" or "magnetic".

    Raises
    ------
    ReplyError : for anything else.
    """
    word = reply.text.strip().lower().removesuffix("north").strip()
    if word not in NORTHS:
        raise ReplyError(
            f"{shown(reply.text)} is neither true nor magnetic; leave it empty where not known"
        )
    return word


def before(reply: Reply, units: Units) -> tuple[Before, float | None]:
    """What lies outside before an opening, and how far down it is, metres, where that is told.

    Raises
    ------
    ReplyError : for anything else.
    """
    word, _, rest = reply.text.strip().partition(" ")
    meant = BEFORE.get(word.strip(",;:.").lower())
    if meant is None:
        raise ReplyError(
            f"{shown(reply.text)} is not understood; expected ground, water, street, drop or "
            "blocked, and how far down it is, such as ground 1.4 m"
        )
    rest = rest.strip(" ,;:")
    return meant, length_m(replace(reply, text=rest), units) if rest else None


def wet(reply: Reply) -> bool:
    """Whether there is water in a room: yes or no.

    Raises
    ------
    ReplyError : for anything else.
    """
    word = reply.text.strip(" .!").lower()
    if word not in (*YES, *NO):
        raise ReplyError(f"{shown(reply.text)} is neither yes nor no; leave it empty if not known")
    return word in YES


def rooms(reply: Reply, known: Sequence[str]) -> tuple[str, ...]:
    """The rooms that a circuit feeds, of the known ones; none for all of them.

    Raises
    ------
    ReplyError : for an unknown one.
    """
    plain = {" ".join(name.split()).lower(): name for name in known}
    whole = " ".join(reply.text.split()).lower()
    if whole == "all":
        return ()
    words = [whole] if whole in plain else re.split(r"\s*[,;/&+]\s*|\s+and\s+", whole)
    strange = [word for word in words if word and word not in plain]
    if strange:
        raise ReplyError(
            f"{', '.join(map(shown, strange))}: no room of the file; expected of "
            f'{", ".join(known)}, or "all"'
        )
    return tuple(dict.fromkeys(plain[word] for word in words if word))


def _with_points(text: str) -> str:
    """Decimal commas as points; of whole millimetres a comma parts the thousands."""
    text = text.strip()
    if re.fullmatch(r"\d{1,3},\d{3}\s*mm", text):
        return text.replace(",", "")
    return re.sub(r"(?<=\d),(?=\d)", ".", text)
