"""Mistakes in a file, told in a crew's words: where by name, the value, what would be right."""

from __future__ import annotations

import contextlib
import difflib
import json
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from ..errors import Problem
from .lengths import EXAMPLES, Units
from .model import BREAKING, INDOORS, OUTDOORS, Exterior, is_name, outdoors

Model = TypeVar("Model", bound=BaseModel)
Loc = tuple[str | int, ...]

# Types of error that our own models raise for a whole table: their message stands as it is.
_OWN_TYPES = {"opening", "camera", "exposure", "stand", "off", "hours"}
_ADDED = {
    "length": f"; write a length like {EXAMPLES}",
    "far": "; at most 100 km",
    "small": "; at least 1 mm",
    "clock": '; write a clock time like "16:30"',
}
_LONGEST = 60  # characters of a value that are shown


@dataclass
class Mended:
    """A file's tables with the unknown keys told, and put right where the meaning is plain."""

    raw: dict[str, Any]
    problems: list[Problem] = field(default_factory=list)
    guessed: set[Loc] = field(default_factory=set)  # places whose key was put right


def mend(model: type[BaseModel], raw: dict[str, Any]) -> Mended:
    """Tell every unknown key once and take it as the known one it resembles, if that is free.

    So one misspelt key neither counts again as a missing one nor hides what stands below it.
    """
    mended = Mended({})
    mended.raw = _mend(model, raw, (), "", mended)
    return mended


def _mend(
    model: type[BaseModel], raw: dict[str, Any], loc: Loc, where: str, mended: Mended
) -> dict[str, Any]:
    fields = _fields(model)
    whole: dict[str, Any] = {key: value for key, value in raw.items() if key in fields}
    for key, value in raw.items():
        if key in fields:
            continue
        free = [name for name in fields if name not in raw and name not in whole]
        guess = nearest(key, free)
        near = guess if guess is not None else nearest(key, fields)
        mended.problems.append(
            Problem(_path(where, key), f"unknown key; {_hint(near, fields)}"),
        )
        if guess is not None:
            whole[guess] = value
            mended.guessed.add((*loc, guess))
    for key, value in whole.items():
        annotation = fields[key].annotation
        if isinstance(value, dict):
            whole[key] = _mend_below(annotation, value, (*loc, key), _path(where, key), mended)
        elif isinstance(value, list):
            whole[key] = [
                _mend_below(
                    annotation,
                    part,
                    (*loc, key, index),
                    _path(where, named(key, value, index)),
                    mended,
                )
                for index, part in enumerate(value)
            ]
    return whole


def _mend_below(annotation: Any, value: Any, loc: Loc, where: str, mended: Mended) -> Any:
    """A table within a field, mended; anything else as it is."""
    below = _model_within(annotation, value) if isinstance(value, dict) else None
    return value if below is None else _mend(below, value, loc, where, mended)


def validate(
    model: type[Model], raw: Any, units: Units, guessed: Iterable[Loc] = ()
) -> tuple[Model | None, list[Problem]]:
    """A file's tables as a model.

    Parameters
    ----------
    model : what they should be.
    raw : the tables.
    units : that bare lengths are in.
    guessed : places whose key was put right (`mend`): what is wrong there is not told again.

    Returns
    -------
    The model and no problems, or None with them, one a key.
    """
    try:
        return model.model_validate(raw, context={"units": units}), []
    except ValidationError as error:
        passed_over = set(guessed)
        problems: dict[tuple[Loc, str], Problem] = {}
        for entry in error.errors(include_url=False):
            place, problem = _problem_at(model, raw, dict(entry))
            own = entry["type"] in _OWN_TYPES
            if entry["type"] == "too_short" and not _short(raw, entry):
                continue  # it was long enough: what is wrong in it is told
            if place in passed_over or (own and any(guess[:-1] == place for guess in passed_over)):
                continue
            problems.setdefault((place, problem.where), problem)
        return None, list(problems.values())


def _short(raw: Any, entry: Mapping[str, Any]) -> bool:
    """Whether an array of the file has too few items itself, before any was refused."""
    value = raw
    for part in entry["loc"]:
        with contextlib.suppress(KeyError, IndexError, TypeError):  # a tag of the model's is no key
            value = value[part]
    return not isinstance(value, list) or len(value) < entry["ctx"]["min_length"]


def _problem_at(model: type[BaseModel], raw: Any, entry: dict[str, Any]) -> tuple[Loc, Problem]:
    """One pydantic error in our words, and the place it stands at."""
    kind = entry["type"]
    loc = tuple(part for part in entry["loc"] if part not in (INDOORS, OUTDOORS))
    missing = kind == "missing" and isinstance(loc[-1], str)
    value, fields, annotation, description = raw, _fields(model), None, ""
    where, outer, key = "", "", ""
    place: Loc = ()
    for part in loc[:-1] if missing else loc:
        if isinstance(part, str) and isinstance(value, dict) and part in value:
            value, key, outer = value[part], part, where
            where = _path(outer, key)
            if part in fields:
                description = fields[part].description or ""
                annotation = fields[part].annotation
                fields = _fields(_model_within(annotation, value))
        elif isinstance(part, int) and isinstance(value, list) and fields and part < len(value):
            if not isinstance(value[part], dict):
                break  # a stray element is told with its whole key
            where, value = _path(outer, named(key, value, part)), value[part]
            fields = _fields(_model_within(annotation, value))
        else:
            break  # an element of a plain array is told with its whole key
        place = (*place, part)
    if missing:
        expected = fields[loc[-1]].description if loc[-1] in fields else "a value"
        return (*place, loc[-1]), Problem(_path(where, loc[-1]), f"is missing; expected {expected}")
    if kind in _OWN_TYPES:
        return place, Problem(where, entry["msg"])
    expected = description if description else entry["msg"]
    return place, Problem(
        where, f"{shown(value)} is not right; expected {expected}{_ADDED.get(kind, '')}"
    )


def named(key: str, siblings: list[Any], index: int) -> str:
    """A table of an array by its name, or by its number where it has no name of its own."""
    name = name_of(siblings[index])
    if name is None:
        return f"{key} {index + 1}"
    if sum(name_of(part) == name for part in siblings) > 1:
        return f'{key} "{name}" (number {index + 1})'
    return f'{key} "{name}"'


def name_of(part: Any) -> str | None:
    """The name that a table carries, or None."""
    name = part.get("name") if isinstance(part, dict) else None
    return name if is_name(name) else None


def twins(key: str, where: str, parts: Any) -> Iterator[Problem]:
    """Names that more than one table of an array carries.

    >>> [str(problem) for problem in twins("mark", 'room "a"', [{"name": "x"}, {"name": "x"}])]
    ['room "a" › mark "x": this name stands 2 times; give each its own']
    """
    names = [name_of(part) for part in tables(parts)]
    for name in dict.fromkeys(name for name in names if name is not None):
        if names.count(name) > 1:
            path = f'{key} "{name}"'
            yield Problem(
                f"{where} › {path}" if where else path,
                f"this name stands {names.count(name)} times; give each its own",
            )


def tables(value: Any) -> list[dict[str, Any]]:
    """The tables of an array; none where it is no array."""
    return [part for part in value if isinstance(part, dict)] if isinstance(value, list) else []


def not_known(name: str, known: Iterable[str]) -> str:
    """What to say of a name that is none of the known ones.

    >>> not_known("kichen", ["kitchen", "attic"]), not_known("q", ["kitchen", "attic"])
    ('"kichen" is not known; did you mean "kitchen"?', '"q" is not known; known: kitchen, attic')
    """
    known = list(dict.fromkeys(known))
    return f"{shown(name)} is not known; {_hint(nearest(name, known), known)}"


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that was most likely meant: one slip of a key away, else the likest.

    >>> nearest("ao", ["along", "at"]), nearest("VAN", ["default", "van"]), nearest("q", ["at"])
    ('at', 'van', None)
    """
    plain = {name.lower(): name for name in known}
    wanted = word.lower()
    for name in plain:
        if _one_slip(wanted, name):
            return plain[name]
    near = difflib.get_close_matches(wanted[:200], plain, n=1, cutoff=0.6)
    return plain[near[0]] if near else None


def _one_slip(word: str, other: str) -> bool:
    """Whether a letter too many, too few, wrong, or two swapped tell two words apart."""
    if word == other:
        return True
    start = 0
    while word[start : start + 1] == other[start : start + 1] != "":
        start += 1
    a, b = word[start:], other[start:]
    end = 0
    while end < min(len(a), len(b)) and a[-1 - end] == b[-1 - end]:
        end += 1
    a, b = a[: len(a) - end], b[: len(b) - end]
    if min(len(word), len(other)) < 2:
        return False
    return max(len(a), len(b)) <= 1 or (len(a) == 2 and a == b[::-1])


def _hint(near: str | None, known: Iterable[str]) -> str:
    return f'did you mean "{near}"?' if near is not None else f"known: {', '.join(known) or 'none'}"


def shown(value: Any) -> str:
    """A value as it stands in a file, shortened.

    >>> shown([1, "a", True]), shown({"x": 1})
    ('[1, "a", true]', 'a table')
    """
    text = _toml(value, depth=0)
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"


def _toml(value: Any, *, depth: int) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value[:_LONGEST], ensure_ascii=False)
    if isinstance(value, int):
        # Python refuses to print whole numbers of thousands of digits.
        return str(value) if abs(value) < 10**_LONGEST else "a very large number"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, dict):
        return "{ … }" if depth else "a table"
    if isinstance(value, list):
        if depth > 3:
            return "[…]"
        if depth == 0 and value and all(isinstance(part, dict) for part in value):
            return "an array of tables"
        return f"[{', '.join(_toml(part, depth=depth + 1) for part in value[:_LONGEST])}]"
    return str(value)


def on_one_line(text: str) -> str:
    """Text with line breaks and control characters written out, as a message must be.

    >>> on_one_line("a\\nb")
    'a\\\\u000ab'
    """
    return "".join(
        f"\\u{ord(sign):04x}" if unicodedata.category(sign) in BREAKING else sign for sign in text
    )


def _path(where: str, key: str) -> str:
    return f"{where} › {key}" if where else key


def _fields(model: type[BaseModel] | None) -> dict[str, FieldInfo]:
    """Fields of a model by the key that stands in the file."""
    if model is None:
        return {}
    return {
        name if info.alias is None else info.alias: info
        for name, info in model.model_fields.items()
    }


def _model_within(annotation: Any, raw: Any) -> type[BaseModel] | None:
    """The model that a field holds, one or many; of two the one that a table is meant as."""
    models = list(_models_within(annotation))
    if Exterior in models and _means_outdoors(raw):
        return Exterior
    return next(iter(models), None)


def _models_within(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for arg in get_args(annotation):
        yield from _models_within(arg)


def _means_outdoors(raw: Any) -> bool:
    """Whether a setup is meant as one outdoors, were it by a misspelt key."""
    if not isinstance(raw, dict) or "outside" in raw:
        return outdoors(raw)
    return any(
        value is True and nearest(key, _fields(Exterior)) == "outside" for key, value in raw.items()
    )
