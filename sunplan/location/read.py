"""Reads a location file: every mistake told once, by name, with what would be right."""

from __future__ import annotations

import difflib
import json
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from ..data import table
from ..errors import InputError, LocationError, Problem
from . import kit as kits
from .geometry import outline_problem, room_problems, setup_problems
from .kit import Kit
from .lengths import Units
from .model import LocationFile, Outside, Room, Setup, Skyline

Model = TypeVar("Model", bound=BaseModel)

# Types of error that our own models raise: their message is complete as it stands.
_OWN_TYPES = {"opening", "camera"}


class Location(LocationFile):
    """A location file that was read, checked and completed: time zone known, kits at hand."""

    file: str
    kits: Mapping[str, Kit]

    @property
    def timezone(self) -> str:
        """IANA name of the place's time zone."""
        assert self.site.timezone is not None
        return self.site.timezone

    def kit_of(self, setup: Setup) -> Kit:
        """The kit that a setup uses."""
        return self.kits[kits.DEFAULT if setup.kit is None else setup.kit]


def read(path: str | Path) -> Location:
    """Read and check a location file.

    Raises ``LocationError`` with all mistakes of the file at once, ``InputError`` where it cannot
    be read at all.
    """
    path = Path(path)
    raw = _toml(path)
    units = _units(raw)
    model, problems = _validate(LocationFile, raw, units)
    problems += _geometry(raw, units)
    if model is not None:
        problems += _cross_references(model, path)
    timezone, zone_problem = _timezone(raw)
    if zone_problem is not None:
        problems.append(zone_problem)
    if problems or model is None:
        raise LocationError(str(path), problems)
    beside = path.resolve().parent
    wanted = {kits.DEFAULT if setup.kit is None else setup.kit for setup in model.setup}
    wanted.add(kits.DEFAULT)
    read_kits = {name: read_kit(file) for name in wanted if (file := kits.find(name, beside))}
    fields = {name: getattr(model, name) for name in LocationFile.model_fields}
    fields["site"] = model.site.model_copy(update={"timezone": timezone})
    return Location.model_construct(
        **fields, file=str(path), kits=MappingProxyType(read_kits)
    )


def read_kit(path: str | Path) -> Kit:
    """Read and check a kit file; errors as for :func:`read`."""
    path = Path(path)
    raw = _toml(path)
    model, problems = _validate(Kit, raw, "m")
    if model is not None:
        for kind in ("lamp", "frame", "flag", "stand", "gel"):
            problems += _twins(kind, "", [part.name for part in getattr(model, kind)])
    if problems or model is None:
        raise LocationError(str(path), problems)
    return model


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise InputError(f"{path}: no such file") from None
    except IsADirectoryError:
        raise InputError(f"{path}: is a folder; expected a TOML file") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise InputError(f"{path}: is not text in UTF-8; expected a TOML file") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path}: is not valid TOML: {error}") from None


def _units(raw: dict[str, Any]) -> Units:
    site = raw.get("location")
    units = site.get("units") if isinstance(site, dict) else None
    return "ft" if units == "ft" else "m"


def _validate(
    model: type[Model], raw: Any, units: Units
) -> tuple[Model | None, list[Problem]]:
    """The model, or None with the problems, one a key."""
    try:
        return model.model_validate(raw, context={"units": units}), []
    except ValidationError as error:
        problems: dict[str, Problem] = {}
        for entry in error.errors():
            problem = _told(model, raw, dict(entry))
            problems.setdefault(problem.where, problem)
        return None, list(problems.values())


def _told(model: type[BaseModel], raw: Any, entry: dict[str, Any]) -> Problem:
    """One pydantic error in our words."""
    kind, loc = entry["type"], entry["loc"]
    missing = kind == "missing"
    names: list[str] = []
    value, fields, description = raw, _fields(model), ""
    walked = loc[:-1] if missing else loc
    for part in walked:
        if isinstance(part, str) and isinstance(value, dict) and part in value:
            value = value[part]
            names.append(part)
            if part in fields:
                description = fields[part].description or ""
                fields = _fields(_model_within(fields[part].annotation))
        elif isinstance(part, int) and isinstance(value, list) and part < len(value):
            if not isinstance(value[part], dict):
                break  # an element of an array is told with its whole key
            value = value[part]
            names[-1] = _named(names[-1], value, part)
    key = str(loc[-1])
    where = " › ".join(names)
    if missing:
        known = fields.get(key)
        expected = known.description if known is not None else "a value"
        return Problem(f"{where} › {key}" if where else key, f"is missing; expected {expected}")
    if kind == "extra_forbidden":
        known_keys = [name for name in _fields_at(model, loc) if name != key]
        near = difflib.get_close_matches(key, known_keys, n=1, cutoff=0.5)
        hint = f'did you mean "{near[0]}"?' if near else f"known: {', '.join(known_keys)}"
        return Problem(where, f"unknown key; {hint}")
    if kind in _OWN_TYPES:
        return Problem(where, entry["msg"])
    return Problem(where, f"{_shown(value)} is not right; expected {description or entry['msg']}")


def _named(key: str, value: Any, index: int) -> str:
    name = value.get("name") if isinstance(value, dict) else None
    return f'{key} "{name}"' if isinstance(name, str) and name else f"{key} {index + 1}"


def _shown(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "…"


def _fields(model: type[BaseModel] | None) -> dict[str, Any]:
    """Fields of a model by the key that stands in the file."""
    if model is None:
        return {}
    return {field.alias or name: field for name, field in model.model_fields.items()}


def _model_within(annotation: Any) -> type[BaseModel] | None:
    """The model that a field holds, one or many."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for arg in get_args(annotation) if (found := _model_within(arg))), None)


def _fields_at(model: type[BaseModel], loc: tuple[str | int, ...]) -> list[str]:
    """Keys known at the place of an unknown one."""
    fields = _fields(model)
    for part in loc[:-1]:
        if isinstance(part, str) and part in fields:
            fields = _fields(_model_within(fields[part].annotation))
    return list(fields)


def _geometry(raw: dict[str, Any], units: Units) -> list[Problem]:
    """Geometry of every room that is whole by itself, however broken the rest of the file."""
    rooms = raw.get("room")
    site = raw.get("location")
    plan_up = site.get("plan_up") if isinstance(site, dict) else None
    problems: list[Problem] = []
    for index, one in enumerate(rooms if isinstance(rooms, list) else []):
        room, _ = _validate(Room, one, units)
        if room is not None:
            problems += room_problems(
                room,
                where=_named("room", one, index),
                units=units,
                plan_up_deg=float(plan_up) if isinstance(plan_up, int | float) else 0.0,
            )
    for index, one in enumerate(raw["skyline"] if isinstance(raw.get("skyline"), list) else []):
        skyline, _ = _validate(Skyline, one, units)
        if skyline is not None:
            turned = sum(
                (after[0] - before[0]) % 360
                for before, after in zip(skyline.points, skyline.points[1:], strict=False)
            )
            if turned > 360:
                problems.append(
                    Problem(
                        f"skyline {index + 1} › points",
                        "bearings go round more than once; expected them clockwise, in order",
                    )
                )
    return problems


def _twins(key: str, where: str, names: list[str]) -> Iterator[Problem]:
    for name in sorted({name for name in names if names.count(name) > 1}):
        path = f'{key} "{name}"'
        yield Problem(
            f"{where} › {path}" if where else path, "this name stands twice; names must differ"
        )


def _one_of(name: str, known: list[str]) -> str:
    near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    hint = f'did you mean "{near[0]}"?' if near else f"known: {', '.join(known) or 'none'}"
    return f'"{name}" is not known; {hint}'


def _cross_references(model: LocationFile, path: Path) -> list[Problem]:
    """Names that must mean something: twins, glasses, rooms, marks, kits, lamps."""
    problems: list[Problem] = []
    beside = path.resolve().parent
    units = model.site.units
    problems += _twins("room", "", [room.name for room in model.room])
    problems += _twins("setup", "", [setup.name for setup in model.setup])
    for room in model.room:
        where = f'room "{room.name}"'
        for key in ("opening", "mark", "practical"):
            problems += _twins(key, where, [part.name for part in getattr(room, key)])
        for opening in room.opening:
            for key, tables in (("glass", "glass"), ("dressing", "dressing")):
                name = getattr(opening, key)
                if name is not None and name not in table(tables):
                    problems.append(
                        Problem(
                            f'{where} › opening "{opening.name}" › {key}',
                            _one_of(name, list(table(tables))),
                        )
                    )
    for setup in model.setup:
        problems += _setup_references(setup, model, beside)
        rooms = [room for room in model.room if room.name == setup.room]
        if rooms and outline_problem(rooms[0]) is None:
            problems += setup_problems(
                setup, rooms[0], where=f'setup "{setup.name}"', units=units
            )
    return problems


def _setup_references(setup: Setup, model: LocationFile, beside: Path) -> Iterator[Problem]:
    where = f'setup "{setup.name}"'
    rooms = [room for room in model.room if room.name == setup.room]
    if not rooms:
        yield Problem(
            f"{where} › room", _one_of(setup.room, [room.name for room in model.room])
        )
    else:
        marks = [mark.name for mark in rooms[0].mark]
        if setup.mark not in marks:
            yield Problem(f"{where} › mark", _one_of(setup.mark, marks))
        toward = setup.camera.toward
        seen = [
            part.name
            for parts in (rooms[0].mark, rooms[0].opening, rooms[0].practical)
            for part in parts
        ]
        if isinstance(toward, str) and toward not in seen:
            yield Problem(f"{where} › camera › toward", _one_of(toward, seen))
    name = kits.DEFAULT if setup.kit is None else setup.kit
    file = kits.find(name, beside)
    if file is None:
        yield Problem(
            f"{where} › kit", f"{_one_of(name, kits.known(beside))} (shared/kits/{name}.toml)"
        )
        return
    try:
        kit = read_kit(file)
    except LocationError as error:
        yield Problem(f"{where} › kit", f"the kit's file has mistakes:\n{error}")
        return
    if setup.key is not None:
        lamps, frames = [lamp.name for lamp in kit.lamp], [frame.name for frame in kit.frame]
        if setup.key.lamp not in lamps:
            yield Problem(f"{where} › key › lamp", _one_of(setup.key.lamp, lamps))
        if setup.key.frame is not None and setup.key.frame not in frames:
            yield Problem(f"{where} › key › frame", _one_of(setup.key.frame, frames))


def _timezone(raw: dict[str, Any]) -> tuple[str | None, Problem | None]:
    """The zone the file names or its coordinates lie in, or what is wrong with it."""
    site = raw.get("location")
    if not isinstance(site, dict):
        return None, None
    name = site.get("timezone")
    if name is None:
        where = (site.get("latitude"), site.get("longitude"))
        if not all(isinstance(value, int | float) for value in where):
            return None, None
        from tzfpy import get_tz

        return get_tz(float(where[1]), float(where[0])) or "UTC", None  # type: ignore[arg-type]
    if not isinstance(name, str) or not name:
        return None, None  # the model has told it
    import zoneinfo

    try:
        zoneinfo.ZoneInfo(name)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
        known = sorted(zoneinfo.available_timezones())
        near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
        hint = f'did you mean "{near[0]}"?' if near else 'expected one such as "Europe/Amsterdam"'
        return None, Problem("location › timezone", f'"{name}" is no IANA time zone; {hint}')
    return name, None


__all__ = ["Location", "Outside", "read", "read_kit"]
