"""Does a whole file hold together? Names that must mean something, parts that must fit.

Every part that is sound by itself is checked, however broken the rest, so that one reading tells
all mistakes; what follows from a mistake that is told already is not told again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, TypeGuard, TypeVar

from pydantic import BaseModel

from ..data import table
from ..errors import InputError, LocationError, Problem
from . import kit as kits
from .geometry import room_problems, setup_problems
from .kit import Kit, read_kit
from .lengths import Units
from .model import Bearing, Camera, Key, Mark, Opening, Part, Practical, Room, Skyline
from .tell import name_of, named, not_known, tables, twins, validate

Model = TypeVar("Model", bound=BaseModel)

_KINDS: dict[str, type[Part]] = {"opening": Opening, "mark": Mark, "practical": Practical}
_UNKNOWN_HEIGHT = "100 km"  # stands in for a height that is told already: nothing is above it


class _PlanUp(BaseModel):
    plan_up: Bearing


def geometry(raw: dict[str, Any], units: Units | None) -> Iterator[Problem]:
    """What does not fit in the rooms; nothing where the unit is not known."""
    if units is None:
        return
    site = raw.get("location")
    site = site if isinstance(site, dict) else {}
    north = _sound(_PlanUp, {"plan_up": site.get("plan_up")}, units)
    rooms = _list(raw.get("room"))
    stand: dict[Any, list[tuple[Room, str]]] = {}
    for index, one in enumerate(rooms):
        room = _standing(one, units)
        if room is None:
            continue
        where = named("room", rooms, index)
        yield from room_problems(
            room, where=where, units=units, plan_up_deg=None if north is None else north.plan_up
        )
        stand.setdefault(name_of(one), []).append((room, where))
    setups = _list(raw.get("setup"))
    for index, one in enumerate(setups):
        if not isinstance(one, dict):
            continue
        wanted = one.get("room")
        found = stand.get(wanted, []) if _is_name(wanted) else []
        if len(found) == 1:
            room, of_room = found[0]
            yield from setup_problems(
                _sound(Camera, one.get("camera"), units),
                _sound(Key, one.get("key"), units),
                room,
                where=named("setup", setups, index),
                of_room=of_room,
                units=units,
            )
    horizons = _list(raw.get("skyline"))
    for index, one in enumerate(horizons):
        skyline = _sound(Skyline, one, units)
        if skyline is None:
            continue
        pairs = zip(skyline.points, skyline.points[1:], strict=False)
        if sum((after[0] - before[0]) % 360 for before, after in pairs) > 360:
            yield Problem(
                f"{named('skyline', horizons, index)} › points",
                "the bearings go round more than once; expected them clockwise, in order",
            )


def references(raw: dict[str, Any], beside: Path) -> tuple[dict[str, Kit], list[Problem]]:
    """Names in a file that mean nothing or two things, and the kits that it uses."""
    problems = [*twins("room", "", raw.get("room")), *twins("setup", "", raw.get("setup"))]
    rooms = _list(raw.get("room"))
    for index, room in enumerate(rooms):
        if isinstance(room, dict):
            problems += _in_room(room, named("room", rooms, index))
    setups = _list(raw.get("setup"))
    wanted = {kits.DEFAULT: None}
    wanted |= {_kit_name(setup): None for setup in setups if isinstance(setup, dict)}
    owned, of_kits = _read_kits(wanted, beside)
    problems += of_kits
    known = kits.known(beside)
    for index, setup in enumerate(setups):
        if isinstance(setup, dict):
            where = named("setup", setups, index)
            problems += _in_setup(setup, where, rooms, owned, known)
    return owned, problems


def _in_room(room: dict[str, Any], where: str) -> Iterator[Problem]:
    for key in _KINDS:
        yield from twins(key, where, room.get(key))
    openings = _list(room.get("opening"))
    for index, opening in enumerate(openings):
        if not isinstance(opening, dict):
            continue
        for key in ("glass", "dressing"):
            name = opening.get(key)
            if _is_name(name) and name not in table(key):
                path = f"{where} › {named('opening', openings, index)} › {key}"
                yield Problem(path, not_known(name, table(key)))


def _in_setup(
    setup: dict[str, Any], where: str, rooms: list[Any], owned: dict[str, Kit], known: list[str]
) -> Iterator[Problem]:
    wanted = setup.get("room")
    found = [room for room in tables(rooms) if name_of(room) == wanted]
    if not found:
        yield from _unless_nameless(wanted, f"{where} › room", rooms)
    elif _is_name(wanted):
        yield from _in_its_room(setup, where, found)
    kit_name = _kit_name(setup)
    if kit_name not in known:
        hint = not_known(kit_name, known)
        yield Problem(f"{where} › kit", f"{hint} (a kit is a file shared/kits/NAME.toml)")
    kit, key = owned.get(kit_name), setup.get("key")
    if kit is None or not isinstance(key, dict):
        return
    for part, stock in (("lamp", kit.lamp), ("frame", kit.frame)):
        name = key.get(part)
        names = [one.name for one in stock]
        if _is_name(name) and name not in names:
            yield Problem(f"{where} › key › {part}", f'{not_known(name, names)} (kit "{kit_name}")')


def _in_its_room(
    setup: dict[str, Any], where: str, rooms: list[dict[str, Any]]
) -> Iterator[Problem]:
    parts = {key: [one for room in rooms for one in _list(room.get(key))] for key in _KINDS}
    yield from _unless_nameless(setup.get("mark"), f"{where} › mark", parts["mark"])
    camera = setup.get("camera")
    toward = camera.get("toward") if isinstance(camera, dict) else None
    path = f"{where} › camera › toward"
    yield from _unless_nameless(toward, path, [one for key in _KINDS for one in parts[key]])
    kinds = [key for key in _KINDS if toward in [name_of(one) for one in parts[key]]]
    if _is_name(toward) and len(kinds) > 1:
        yield Problem(
            path,
            f'"{toward}" is the name of {" and ".join(f"a {key}" for key in kinds)}; rename one',
        )


def _unless_nameless(name: Any, path: str, parts: list[Any]) -> Iterator[Problem]:
    """A name that no part carries; untold while a part's own name is still to be put right."""
    names = [name_of(part) for part in parts]
    if _is_name(name) and name not in names and None not in names:
        yield Problem(path, not_known(name, [known for known in names if known is not None]))


def _read_kits(wanted: Iterable[str], beside: Path) -> tuple[dict[str, Kit], list[Problem]]:
    owned: dict[str, Kit] = {}
    problems: list[Problem] = []
    for name in wanted:
        file = kits.find(name, beside)
        if file is None:
            continue
        try:
            owned[name] = read_kit(file)
        except LocationError as error:
            problems += [Problem(f'kit "{name}" ({file})', str(one)) for one in error.problems]
        except InputError as error:
            problems.append(Problem(f'kit "{name}"', str(error)))
    return owned, problems


def _standing(raw: Any, units: Units) -> Room | None:
    """A room without its broken parts, or None where its outline is not to be had."""
    if not isinstance(raw, dict):
        return None
    kept = {key: raw[key] for key in ("outline", "height") if key in raw}
    kept["name"] = "room"
    for key, kind in _KINDS.items():
        kept[key] = [one for one in _list(raw.get(key)) if _sound(kind, one, units) is not None]
    room = _sound(Room, kept, units)
    return _sound(Room, kept | {"height": _UNKNOWN_HEIGHT}, units) if room is None else room


def _sound(model: type[Model], raw: Any, units: Units) -> Model | None:
    return validate(model, raw, units)[0]


def _kit_name(setup: dict[str, Any]) -> str:
    """The kit that a setup uses; a name that is no name is told elsewhere."""
    name = setup.get("kit")
    return name if _is_name(name) else kits.DEFAULT


def _is_name(value: Any) -> TypeGuard[str]:
    return isinstance(value, str) and value.strip() != ""


def _list(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []
