"""Does a whole file hold together? Names that must mean something, parts that must fit.

Every part that is sound by itself is checked, however broken the rest, so that one reading tells
all mistakes; what follows from a mistake that is told already is not told again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from ..data import table
from ..errors import InputError, LocationError, Problem
from . import kit as kits
from .geometry import CheckedRoom, block_problems, exterior_problems, room_problems, setup_problems
from .kit import Kit, read_kit
from .lengths import Units
from .messages import Model, name_of, named, not_known, tables, twins, validate
from .model import (
    Bearing,
    Camera,
    Exterior,
    FilePart,
    Key,
    Length,
    Mark,
    Opening,
    Outside,
    Practical,
    Room,
    Skyline,
    is_name,
    outdoors,
)

_A = {"opening": "an opening", "mark": "a mark", "practical": "a practical"}
_KINDS = tuple(_A)
_NAMELESS = "?"
# Stand-ins for what is told already, such that nothing follows from them.
_FAR = "100000 m"  # a ceiling that nothing reaches, a shaft that no pitch is too steep for
_NO_ROOM = [[0, 0], [0, 0], [0, 0]]
# What says where a part is: its model, the keys, what else the model needs, the stand-ins.
_PLACES: dict[str, tuple[type[FilePart], tuple[str, ...], dict[str, Any], dict[str, Any]]] = {
    "opening": (
        Opening,
        ("wall", "along", "sill", "ceiling", "at", "size", "depth", "turn", "pitch", "faces"),
        {},
        {"depth": _FAR},
    ),
    "mark": (Mark, ("at", "height"), {}, {"height": ["0 m", "0.001 m"]}),
    "practical": (
        Practical,
        ("at", "height"),
        {"shade": ["1 m", "1 m"], "lumens": 1},
        {"height": 0},
    ),
    "camera": (Camera, ("at", "height", "toward"), {"view": [40, 23]}, {"height": 0}),
    "key": (Key, ("from", "height", "off"), {"lamp": _NAMELESS}, {"height": 0}),
    "exterior": (
        Exterior,
        ("at", "height"),
        {
            "outside": True,
            "camera": {"bearing": 0, "height": 0, "view": [40, 23]},
            "exposure": {"iso": 800, "stop": 2.8},
            "plays": "night",
            "minutes": 1,
        },
        {"height": "1.8 m"},
    ),
}


class _PlanUp(BaseModel):
    plan_up: Bearing


class _Floor(BaseModel):
    floor: Length


def geometry(raw: dict[str, Any], units: Units | None) -> Iterator[Problem]:
    """What does not fit in the rooms, of blocks, setups and skylines too.

    Parameters
    ----------
    raw : the file's tables, unknown keys put right (`mend`).
    units : that its bare lengths are in; nothing is checked where that is not known.
    """
    if units is None:
        return
    site = raw.get("location")
    site = site if isinstance(site, dict) else {}
    north = _sound(_PlanUp, {"plan_up": site.get("plan_up")}, units)
    stand: dict[Any, list[CheckedRoom]] = {}
    for room, path in _named_tables(raw, "room"):
        standing = _standing(room, path, units)
        yield from room_problems(
            standing, units=units, plan_up_deg=None if north is None else north.plan_up
        )
        stand.setdefault(name_of(room), []).append(standing)
    every = [standing for same in stand.values() for standing in same]
    solid: list[tuple[Outside, str]] = []
    for part, path in _named_tables(raw, "outside"):
        block = _sound(Outside, part, units)
        if block is not None:
            solid.append((block, path))
            yield from block_problems(block, every, where=path)
    for setup, path in _named_tables(raw, "setup"):
        yield from _setup(setup, path, stand, solid, units)
    for part, path in _named_tables(raw, "skyline"):
        skyline = _sound(Skyline, part, units)
        if skyline is None:
            continue
        pairs = zip(skyline.points, skyline.points[1:], strict=False)
        if sum((after[0] - before[0]) % 360 for before, after in pairs) > 360:
            yield Problem(
                f"{path} › points",
                "the bearings go round more than once; expected them clockwise, in order",
            )


def _setup(
    setup: dict[str, Any],
    where: str,
    rooms: Mapping[Any, list[CheckedRoom]],
    blocks: list[tuple[Outside, str]],
    units: Units,
) -> Iterator[Problem]:
    """What does not fit between a setup and its room, or the place outdoors."""
    if outdoors(setup):
        subject = _placed("exterior", setup, units)
        if isinstance(subject, Exterior):
            every = [standing for same in rooms.values() for standing in same]
            yield from exterior_problems(
                subject.at, subject.height, every, blocks, where=where, units=units
            )
        return
    wanted = setup.get("room")
    own = rooms.get(wanted, []) if is_name(wanted) else []
    camera = _placed("camera", setup.get("camera"), units)
    key = _placed("key", setup.get("key"), units)
    if len(own) == 1:
        yield from setup_problems(
            camera if isinstance(camera, Camera) else None,
            key if isinstance(key, Key) else None,
            own[0],
            mark=setup.get("mark"),
            where=where,
            units=units,
        )


def references(raw: dict[str, Any], beside: Path) -> tuple[dict[str, Kit], list[Problem]]:
    """Names in a file that mean nothing or two things, and the kits that it uses.

    Parameters
    ----------
    raw : the file's tables, unknown keys put right (`mend`).
    beside : the folder that it stands in, where kits are looked for.

    Returns
    -------
    Kits by name so far as they could be read, the default one among them, and all problems.
    """
    problems = [*twins("room", "", raw.get("room")), *twins("setup", "", raw.get("setup"))]
    rooms = _parts(raw, "room")
    for room, path in _named_tables(raw, "room"):
        problems += _in_room(room, path)
    problems += twins("circuit", "", raw.get("circuit"))
    for circuit, path in _named_tables(raw, "circuit"):
        for name in _list(circuit.get("rooms")):
            problems += _unless_nameless(name, f"{path} › rooms", rooms)
    names = (_kit_name(setup) for setup, _ in _named_tables(raw, "setup"))
    owned, of_kits = _read_kits((kits.DEFAULT, *(name for name in names if name)), beside)
    problems += of_kits
    known = kits.known(beside)
    for setup, path in _named_tables(raw, "setup"):
        problems += _in_setup(setup, path, rooms, owned, known)
    return owned, problems


def _in_room(room: dict[str, Any], where: str) -> Iterator[Problem]:
    for key in _KINDS:
        yield from twins(key, where, room.get(key))
    for opening, path in _named_tables(room, "opening"):
        for key in ("glass", "dressing"):
            name = opening.get(key)
            if is_name(name) and name not in table(key):
                yield Problem(f"{where} › {path} › {key}", not_known(name, table(key)))


def _in_setup(
    setup: dict[str, Any], where: str, rooms: list[Any], owned: dict[str, Kit], known: list[str]
) -> Iterator[Problem]:
    wanted = setup.get("room")
    own_rooms = [room for room in tables(rooms) if name_of(room) == wanted]
    if not own_rooms:
        yield from _unless_nameless(wanted, f"{where} › room", rooms)
    elif is_name(wanted):
        yield from _in_its_room(setup, where, own_rooms)
    kit_name = _kit_name(setup)
    if kit_name is None:
        return
    if kit_name not in known:
        hint = not_known(kit_name, known)
        yield Problem(f"{where} › kit", f"{hint} (a kit is a file shared/kits/NAME.toml)")
    kit, key = owned.get(kit_name), setup.get("key")
    if kit is None or not isinstance(key, dict):
        return
    for part, stock in (("lamp", kit.lamp), ("frame", kit.frame)):
        name = key.get(part)
        names = [item.name for item in stock]
        if is_name(name) and name not in names:
            yield Problem(f"{where} › key › {part}", f'{not_known(name, names)} (kit "{kit_name}")')


def _in_its_room(
    setup: dict[str, Any], where: str, rooms: list[dict[str, Any]]
) -> Iterator[Problem]:
    parts = {key: [part for room in rooms for part in _parts(room, key)] for key in _KINDS}
    yield from _unless_nameless(setup.get("mark"), f"{where} › mark", parts["mark"])
    camera = setup.get("camera")
    toward = camera.get("toward") if isinstance(camera, dict) else None
    path = f"{where} › camera › toward"
    yield from _unless_nameless(toward, path, [part for key in _KINDS for part in parts[key]])
    kinds = [key for key in _KINDS if toward in [name_of(part) for part in parts[key]]]
    if is_name(toward) and len(kinds) > 1:
        yield Problem(
            path,
            f'"{toward}" is the name of {" and ".join(_A[key] for key in kinds)}; rename one',
        )


def _unless_nameless(name: Any, path: str, parts: list[Any]) -> Iterator[Problem]:
    """A name that no part carries; untold while a part's own name is still to be put right."""
    names = [name_of(part) for part in parts]
    if is_name(name) and name not in names and None not in names:
        yield Problem(path, not_known(name, [known for known in names if known is not None]))


def _read_kits(wanted: Iterable[str], beside: Path) -> tuple[dict[str, Kit], list[Problem]]:
    owned: dict[str, Kit] = {}
    problems: list[Problem] = []
    for name in dict.fromkeys(wanted):
        file = kits.find(name, beside)
        if file is None:
            continue
        try:
            owned[name] = read_kit(file)
        except LocationError as error:
            problems += [
                Problem(f'kit "{name}" ({file})', str(problem)) for problem in error.problems
            ]
        except InputError as error:
            problems.append(Problem(f'kit "{name}"', str(error)))
    return owned, problems


def _standing(raw: dict[str, Any], path: str, units: Units) -> CheckedRoom:
    """A room without its broken parts; what is told already has a stand-in that fits."""
    kept = {key: raw[key] for key in ("outline", "height") if key in raw} | {"name": _NAMELESS}
    if "floor" in raw and _sound(_Floor, {"floor": raw["floor"]}, units) is not None:
        kept["floor"] = raw["floor"]
    labels: dict[str, list[str]] = {}
    for key in _KINDS:
        parts = _list(raw.get(key))
        sound = [_placed(key, part, units) for part in parts]
        kept[key] = [part for part in sound if part is not None]
        labels[key] = [named(key, parts, i) for i, part in enumerate(sound) if part is not None]
    height, outline = {"height": _FAR}, {"outline": _NO_ROOM}
    stand_ins: tuple[dict[str, Any], ...] = ({}, height, outline, height | outline)
    for stand_in in stand_ins:
        room = _sound(Room, kept | stand_in, units)
        if room is not None:
            return CheckedRoom(room, path, labels, outline_stands_in="outline" in stand_in)
    raise AssertionError("a room of sound parts and stand-ins stands")


def _placed(key: str, raw: Any, units: Units) -> FilePart | None:
    """The part with what says where it is; None where that is broken."""
    if not isinstance(raw, dict):
        return None
    model, keys, filler, stand_in = _PLACES[key]
    kept = filler | {name: raw[name] for name in keys if name in raw}
    if "name" in model.model_fields:
        kept["name"] = raw["name"] if is_name(raw.get("name")) else _NAMELESS
    part = _sound(model, kept, units)
    return _sound(model, kept | stand_in, units) if part is None else part


def _sound(model: type[Model], raw: Any, units: Units) -> Model | None:
    return validate(model, raw, units)[0]


def _kit_name(setup: dict[str, Any]) -> str | None:
    """The kit that a setup uses; None for a name that is none, which is told elsewhere."""
    name = setup.get("kit", kits.DEFAULT)
    return name if is_name(name) else None


def _named_tables(raw: dict[str, Any], key: str) -> Iterator[tuple[dict[str, Any], str]]:
    """The tables of an array, each with what a message calls it."""
    parts = _list(raw.get(key))
    for index, part in enumerate(parts):
        if isinstance(part, dict):
            yield part, named(key, parts, index)


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _parts(raw: dict[str, Any], key: str) -> list[Any]:
    """An array of tables; where something else stands, which is told, one nameless part."""
    value = raw.get(key, [])
    broken = not isinstance(value, list) or (key == "room" and not value)
    return [None] if broken else value
