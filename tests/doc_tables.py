"""The tables of docs/, made from the models, the data and the command line itself.

A document has `<!-- made: NAME -->` on a line of its own; the table under it is `TABLES[NAME]()`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import time
from functools import partial
from pathlib import Path
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from typer.main import get_command

from sunplan import data
from sunplan.cli import app
from sunplan.location import kit, model
from sunplan.report import cautions

ROOT = Path(__file__).parent.parent
PARTS: dict[str, type[model.FilePart]] = {
    name: part
    for module in (model, kit)
    for name, part in vars(module).items()
    if isinstance(part, type)
    and issubclass(part, model.FilePart)
    and part not in (model.FilePart, model.LocationFile)
}


def markdown(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """A Markdown table; a bar within a cell would end it."""
    head = tuple(head)
    lines = [head, ("---",) * len(head), *rows]
    return "".join(
        f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in line)} |\n" for line in lines
    )


# Keys of the files.

_BEFORE = {
    get_args(alias)[1]: word
    for alias, word in (
        (model.Length, "length"),
        (model.HeightAboveSea, "metres"),
        (model.ClockTime, "clock time"),
    )
}
_BEARING = next(entry for entry in get_args(model.Bearing) if hasattr(entry, "func"))
# What the columns `value` and `default` say, in the words of the descriptions.
_SAID_BESIDE = (
    r",? such as [^,]+, the default",
    r"[,;]? default [^;,]+(, level)?",
    r",? (each )?above 0( and)?(,? (below|at most) [\d.]+)?",
    r",? at most 1\b",
    r"(, |; bearings | from )-?\d+ to (below )?-?\d+( m| degrees)?(, altitudes .*)?",
    r",? \d or more",
    r": a whole number",
)


def _limits(metadata: Iterable[Any]) -> dict[str, float]:
    """The limits that an annotation sets: ge, gt, le, lt; of two of a kind the last."""
    limits: dict[str, float] = {}
    for entry in metadata:
        if isinstance(entry, FieldInfo):
            limits |= _limits(entry.metadata)
        limits |= {
            key: getattr(entry, key) for key in ("ge", "gt", "le", "lt") if hasattr(entry, key)
        }
    return limits


def _bounds(metadata: Iterable[Any], unit: str) -> str:
    limits = {key: f"{limit:g}" for key, limit in _limits(metadata).items()}
    match limits:
        case {"ge": low, "le": high}:
            return f", {low} to {high}{unit}"
        case {"ge": low, "lt": high}:
            return f", {low} to below {high}{unit}"
        case {"gt": low, "le": high}:
            return f", above {low}, at most {high}{unit}"
        case {"gt": low, "lt": high}:
            return f", above {low}, below {high}{unit}"
        case {"ge": low}:
            return f", {low} or more"
        case {"gt": low}:
            return f", above {low}"
    assert not limits
    return ""


def value_of(annotation: Any, metadata: Iterable[Any] = ()) -> str:
    """What a key may hold, in words.

    >>> value_of(model.Size), value_of(model.Share | None), value_of(model.Plays)
    ('length, above 0', 'number, 0 to 1', 'text')
    """
    metadata = tuple(metadata)
    if get_origin(annotation) is Annotated:
        base, *more = get_args(annotation)
        return value_of(base, (*more, *metadata))
    if get_origin(annotation) in (Union, UnionType):
        kinds = [value_of(part) for part in get_args(annotation) if part is not NoneType]
        return _either(dict.fromkeys(kinds))
    if get_origin(annotation) is Literal:
        return "text" if isinstance(get_args(annotation)[0], str) else "true or false"
    if get_origin(annotation) is tuple:
        return _several(annotation)
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "table"
    if _BEARING in metadata:
        return "degrees, 0 to 360"
    word = next((_BEFORE[entry] for entry in metadata if entry in _BEFORE), None)
    if word is None:
        word = {bool: "true or false", int: "whole number", float: "number"}.get(annotation, "text")
    return word + _bounds(metadata, " m" if word == "length" else "")


def _several(annotation: Any) -> str:
    """Of a list: how many of what."""
    kinds = [value_of(part) for part in get_args(annotation) if part is not Ellipsis]
    if Ellipsis in get_args(annotation):
        return "tables" if kinds == ["table"] else f"list of {_plural(kinds[0])}"
    if len(set(kinds)) > 1:
        return f"[{' and '.join(kinds)}]"
    return f"{len(kinds)} {_plural(kinds[0])}"


def _plural(kind: str) -> str:
    if kind.startswith("["):
        return kind
    noun, comma, limits = kind.partition(",")
    number, _, rest = noun.partition(" ")
    if number.isdigit():
        return f"[{', '.join([rest.removesuffix('s')] * int(number))}]"
    return f"{noun}s" + (f",{' each' if limits else ''}{limits}" if comma else "")


def _either(kinds: Iterable[str]) -> str:
    *first, last = kinds
    return f"{', '.join(first)} or {last}" if first else last


def meaning(field: FieldInfo) -> str:
    """A key's description without what other columns of its row say.

    >>> meaning(model.Site.model_fields["size_error"])
    'how far each size of an opening or a block may be off, ±'
    """
    words = field.description or ""
    for pattern in _SAID_BESIDE:
        words = re.sub(pattern, "", words)
    return words.strip(" ,;")


def default(field: FieldInfo) -> str:
    """What holds where a key is left out."""
    if field.is_required():
        return "required"
    value = field.default
    if value is None or isinstance(value, BaseModel) or value == ():
        return "—"
    lengths = "length" in value_of(field.annotation, field.metadata)
    return " × ".join(
        f"`{figure:%H:%M}`"
        if isinstance(figure, time)
        else str(figure).lower()
        if isinstance(figure, bool)
        else f"{figure:g} m"
        if lengths and figure
        else f"{figure:g}"
        if isinstance(figure, int | float)
        else f'`"{figure}"`'
        for figure in (value if isinstance(value, tuple) else (value,))
    )


def keys(part: type[BaseModel], without: Iterable[str] = ()) -> str:
    """A row a key of a part of a file."""
    return markdown(
        ("key", "meaning", "value", "default"),
        (
            (
                f"`{name if field.alias is None else field.alias}`",
                meaning(field),
                value_of(field.annotation, field.metadata),
                default(field),
            )
            for name, field in part.model_fields.items()
            if name not in without
        ),
    )


# Figures.


def glass() -> str:
    """Names of glass."""
    return markdown(
        ("glass", "transmittance", "panes"),
        (
            (f"`{name}`", f"{row['transmittance']:.2f}", str(row["panes"]))
            for name, row in data.table("glass").items()
        ),
    )


def dressing() -> str:
    """Names of what hangs before a window."""
    return markdown(
        ("name", "goes straight through", "comes out scattered"),
        (
            (f"`{name}`", f"{row['straight']:.2g}", f"{row['scattered']:.2g}")
            for name, row in data.table("dressing").items()
        ),
    )


def look() -> str:
    """Bands by time of day."""
    looks = data.table("look")
    bands = model.Bands.model_fields
    return markdown(
        ("plays", *(f"`{band}`" for band in bands)),
        (
            (
                time_of_day,
                *("{:g} to {:g}".format(*look[band]).replace("-", "−") for band in bands),
            )
            for time_of_day, look in looks.items()
        ),
    )


def default_kit() -> str:
    """What is in the kit of a setup that names none."""
    path = kit.find(kit.DEFAULT, ROOT / "tests" / "authorities")
    assert path is not None
    things = kit.read_kit(path)
    return markdown(
        ("kind", "owned, and known to rent or buy"),
        (
            (
                kind,
                ", ".join(
                    f"{thing.owned} × {thing.name}" if thing.owned else thing.name
                    for thing in getattr(things, kind)
                ),
            )
            for kind in kit.KINDS
            if getattr(things, kind)
        ),
    )


def cautions_in_full() -> str:
    """Every caution: what it is for, what to do."""
    whole = (*cautions.CAUTIONS.values(), cautions.LIFTING, cautions.OUTDOORS, cautions.NIGHT)
    rows = [caution.said.split(": ", 1) for caution in whole]
    rows += [["Sun", caution.said] for caution in (cautions.SUN, cautions.SHADOWS)]
    return markdown(("hazard", "what to do"), rows)


# The command line.


def _options() -> dict[str, dict[str, Any]]:
    """By option its parameter in each command that has it."""
    options: dict[str, dict[str, Any]] = {}
    for name, command in get_command(app).commands.items():  # type: ignore[attr-defined]
        for param in sorted(command.params, key=lambda param: param.opts):
            if param.param_type_name == "option":
                options.setdefault(param.opts[0], {})[name] = param
    return dict(sorted(options.items(), key=lambda item: -len(item[1])))


def commands() -> str:
    """What each command answers, by the phase of the job."""
    known = get_command(app).commands  # type: ignore[attr-defined]
    phases = list(dict.fromkeys(command.rich_help_panel for command in known.values()))
    return markdown(
        ("phase", "command", "what it answers"),
        (
            (phase, f"`{name}`", command.help.split("\n\n")[0].replace("\\[", "["))
            for phase in phases
            for name, command in known.items()
            if command.rich_help_panel == phase
        ),
    )


def shared_options() -> str:
    """Options that several commands have: a row an option, a column a command."""
    names = get_command(app).commands  # type: ignore[attr-defined]
    return markdown(
        ("", *names),
        (
            (
                f"`{option}`",
                *(
                    "" if name not in having else "◆" if having[name].required else "●"
                    for name in names
                ),
            )
            for option, having in _options().items()
            if len(having) > 1
        ),
    )


def _written(option: str, param: Any) -> str:
    """An option with what it takes, as --help has it."""
    if param.is_flag:
        return f"`{option}`"
    return f"`{option} {param.metavar or '|'.join(param.type_descriptor.choices)}`"


def option_meanings() -> str:
    """What each option means; where it differs, by command."""
    rows = []
    for option, having in _options().items():
        by_words: dict[str, list[str]] = {}
        for name, param in having.items():
            words = param.help.rstrip(".")
            if isinstance(param.default, str | int) and not param.is_flag:
                words += f"; else {param.default}"
            by_words.setdefault(f"{words}.", []).append(name)
        usual = max(by_words, key=lambda words: len(by_words[words]))
        told = [usual]
        for words, names in by_words.items():
            if words != usual:
                told.append(f"{', '.join(f'`{name}`' for name in names)}: {words}")
        name, param = next(iter(having.items()))
        of = "several" if len(having) > 1 else f"`{name}`"
        rows.append((_written(option, param), " ".join(told), of))
    return markdown(("option", "meaning", "of"), rows)


def _tables_of_keys() -> dict[str, Callable[[], str]]:
    """By part; what all things of a kit have stands once."""
    shared = kit.Owned.model_fields
    tables: dict[str, Callable[[], str]] = {}
    for name, part in PARTS.items():
        without = shared if issubclass(part, kit.Owned) and part is not kit.Owned else ()
        if part is not model.Lens and set(part.model_fields) - set(without):
            tables[f"keys of {name}"] = partial(keys, part, without)
    return tables


TABLES: dict[str, Callable[[], str]] = {
    **_tables_of_keys(),
    "glass": glass,
    "dressing": dressing,
    "look": look,
    "default kit": default_kit,
    "cautions": cautions_in_full,
    "commands": commands,
    "shared options": shared_options,
    "options": option_meanings,
}
