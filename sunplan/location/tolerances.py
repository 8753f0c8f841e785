"""What was measured for a location, how far it may be off, and the place with one number changed.

Every ± is 95 %, two standard deviations, and each number is off on its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from .geometry import least_shaft_m
from .model import Mark, Opening, Outside, Room, wall_index
from .read import Location

BEARING_DEG = 1.0  # what a shadow or a map gives with care: see `sunplan bearing`
TAPE_M = 0.01  # a steel tape, held by two; common practice, no source
OUTSIDE_M = 0.3  # paced, or off a map's scale; common practice, no source
LEAST_M = 0.01  # no size gets smaller
SHAFT_M = 0.1  # of a skylight: what is less deep lets light in as slant as this


@dataclass(frozen=True)
class Measure:
    """What one goes and measures at one time.

    `name` is what it is; `error` how far it may be off now, ± degrees or metres, `care` what care
    brings it to.
    """

    name: str
    unit: Literal["deg", "m"]
    error: float
    care: float

    @property
    def share(self) -> float:
        """What care leaves of the error, 1 where it is as good already."""
        return 1.0 if self.error <= self.care else self.care / self.error


@dataclass(frozen=True, eq=False)
class UncertainLength:
    """One number of a location: `changed` gives the place in which it is larger by some metres.

    It belongs to one room or opening, or to all of them where that is None.
    """

    measure: Measure
    room: str | None
    opening: str | None
    changed: Callable[[float], Location]

    @property
    def ends(self) -> tuple[Location, Location]:
        """The place with it less, and more, by all that it may be off."""
        return self.changed(-self.measure.error), self.changed(self.measure.error)

    def touches(self, room: str, opening: str) -> bool:
        """Whether it changes anything for sun through an opening."""
        return self.room in (None, room) and self.opening in (None, opening)


def bearing(location: Location) -> Measure:
    """The plan's bearing."""
    return Measure("the plan's bearing", "deg", location.site.plan_up_error, BEARING_DEG)


def lengths(location: Location) -> list[UncertainLength]:
    """All lengths that may be off."""
    uncertain = [doubt for room in location.room for doubt in _of_room(location, room)]
    for index, block in enumerate(location.outside):
        uncertain += _of_block(location, index, block)
    return uncertain


def unsure(location: Location) -> bool:
    """Whether anything of a location may be off."""
    return bool(location.site.plan_up_error or lengths(location))


def widest(location: Location) -> Location:
    """The same place with all that lets light to the marks at its largest, the rest at its least.

    Openings grow to both sides and sit less deep, marks are as wide as the places they may have,
    blocks are smaller. It holds whatever the place truly is, within the ± of its lengths.
    """
    rooms, site = [], location.site
    for room in location.room:
        openings = tuple(
            _opened(
                room,
                part,
                _own(location, part, "size_error"),
                _own(location, part, "place_error"),
                site.size_error,
                site.plan_up,
            )
            for part in room.opening
        )
        marks = tuple(
            part.model_copy(
                update={
                    "width": part.width + 2 * math.sqrt(2) * _own(location, part, "place_error")
                }
            )
            for part in room.mark
        )
        rooms.append(room.model_copy(update={"opening": openings, "mark": marks}))
    blocks = [
        _shrunk(part, _own(location, part, "size_error"), _own(location, part, "place_error"))
        for part in location.outside
    ]
    kept = tuple(part for part in blocks if part is not None)
    return location.model_copy(update={"room": tuple(rooms), "outside": kept})


def _opened(
    room: Room, opening: Opening, size_m: float, place_m: float, height_m: float, plan_up_deg: float
) -> Opening:
    """An opening as large as it may be, wherever it may be; a window no larger than its wall."""
    width, height = opening.size
    if opening.ceiling:
        # A pitched glass lies deeper where its middle is farther up the slope.
        slope = math.tan(math.radians(opening.pitch))
        depth = max(LEAST_M, opening.depth - size_m - slope * math.sqrt(2) * place_m)
        grow = size_m + 2 * _turned(place_m, opening.turn)
        # Through a ceiling that is higher or lower the same ray passes beside, as slant as the
        # shaft lets it be.
        slant = 2 * height_m / max(depth, SHAFT_M)
        wider = opening.model_copy(
            update={"size": (width * (1 + slant) + grow, height * (1 + slant) + grow)}
        )
        return wider.model_copy(update={"depth": max(depth, least_shaft_m(wider, plan_up_deg))})
    update: dict[str, Any] = {"depth": max(LEAST_M, opening.depth - size_m)}
    assert opening.wall is not None
    assert opening.along is not None
    assert opening.sill is not None
    first, second = room.wall(wall_index(opening.wall, len(room.outline)) or 0)
    left = max(0.0, opening.along - place_m)
    right = min(math.dist(first, second), opening.along + place_m + width + size_m)
    low = max(0.0, opening.sill - place_m)
    high = min(room.height, opening.sill + place_m + height + size_m)
    return opening.model_copy(
        update=update | {"along": left, "sill": low, "size": (right - left, high - low)}
    )


def _shrunk(block: Outside, size_m: float, place_m: float) -> Outside | None:
    """The part of a block that stands whatever its size and place truly are."""
    x, y, z = block.size
    off = _turned(place_m, block.turn)
    size = (x - size_m - 2 * off, y - size_m - 2 * off, z - size_m)
    if min(size) <= 0:
        return None
    turn = math.radians(block.turn)
    corner = (
        block.at[0] + off * (math.cos(turn) - math.sin(turn)),
        block.at[1] + off * (math.sin(turn) + math.cos(turn)),
    )
    return block.model_copy(update={"at": corner, "size": size})


def _turned(place_m: float, turn_deg: float) -> float:
    """How far along its own axes a part may lie that is off along the plan's."""
    turn = math.radians(turn_deg)
    return place_m * (abs(math.cos(turn)) + abs(math.sin(turn)))


def _own(location: Location, part: Opening | Outside | Mark, key: str) -> float:
    """A part's own ±, else the location's."""
    own = getattr(part, key)
    error: float = getattr(location.site, key) if own is None else own
    return error


def _of_room(location: Location, room: Room) -> Iterator[UncertainLength]:
    room_index = location.room.index(room)

    def with_room(update: dict[str, Any]) -> Location:
        rooms = list(location.room)
        rooms[room_index] = room.model_copy(update=update)
        return location.model_copy(update={"room": tuple(rooms)})

    def changing(kind: str, index: int, key: str, axis: int | None) -> Callable[[float], Location]:
        parts = getattr(room, kind)

        def changed(by_m: float) -> Location:
            return with_room({kind: _put(parts, index, _moved(parts[index], key, axis, by_m))})

        return changed

    for index, opening in enumerate(room.opening):
        name = f"{room.name}: {opening.name}"
        size_m = _own(location, opening, "size_error")
        place_m = _own(location, opening, "place_error")
        sizes = Measure(f"{name}, its width, height and depth", "m", size_m, TAPE_M)
        where = "ceiling" if opening.ceiling else "wall"
        places = Measure(f"{name}, its place on the {where}", "m", place_m, TAPE_M)
        numbers: list[tuple[Measure, str, int | None]] = [
            (sizes, "size", 0),
            (sizes, "size", 1),
            (sizes, "depth", None),
        ]
        if opening.ceiling:
            numbers += [(places, "at", 0), (places, "at", 1)]
        else:
            numbers += [(places, "along", None), (places, "sill", None)]
        for measure, key, axis in numbers:
            if measure.error:
                change = changing("opening", index, key, axis)
                yield UncertainLength(measure, room.name, opening.name, change)
    for index, mark in enumerate(room.mark):
        place_m = _own(location, mark, "place_error")
        measure = Measure(f"{room.name}: {mark.name}, its place", "m", place_m, TAPE_M)
        for axis in (0, 1):
            if place_m:
                change = changing("mark", index, "at", axis)
                yield UncertainLength(measure, room.name, None, change)
    if location.site.size_error and any(opening.ceiling for opening in room.opening):
        measure = Measure(f"{room.name}, its height", "m", location.site.size_error, TAPE_M)
        yield UncertainLength(
            measure,
            room.name,
            None,
            lambda by_m: with_room({"height": max(LEAST_M, room.height + by_m)}),
        )


def _of_block(location: Location, index: int, block: Outside) -> Iterator[UncertainLength]:
    def changing(key: str, axis: int) -> Callable[[float], Location]:
        def changed(by_m: float) -> Location:
            blocks = _put(location.outside, index, _moved(block, key, axis, by_m))
            return location.model_copy(update={"outside": blocks})

        return changed

    for key, quantity, axes in (("size_error", "size", 3), ("place_error", "place", 2)):
        error = _own(location, block, key)
        if error:
            measure = Measure(f"{block.name}, its {quantity}", "m", error, OUTSIDE_M)
            for axis in range(axes):
                change = changing("size" if quantity == "size" else "at", axis)
                yield UncertainLength(measure, None, None, change)


def _moved(part: Any, key: str, axis: int | None, by_m: float) -> Any:
    """A part with one of its lengths changed; what is a size stays above nothing."""
    old = getattr(part, key)
    smallest = LEAST_M if key in ("size", "depth") else -float("inf")
    if axis is None:
        return part.model_copy(update={key: max(smallest, old + by_m)})
    new = tuple(
        max(smallest, length + by_m) if index == axis else length
        for index, length in enumerate(old)
    )
    return part.model_copy(update={key: new})


def _put(parts: tuple[Any, ...], index: int, part: Any) -> tuple[Any, ...]:
    return (*parts[:index], part, *parts[index + 1 :])
