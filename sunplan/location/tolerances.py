"""What was measured for a location, how far it may be off, and the place with one number changed.

Every ± is 95 %, two standard deviations, and each number is off on its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Any, Literal

from .geometry import least_shaft_m
from .model import Mark, Opening, Outside, Room
from .read import Location

BEARING_DEG = 1.0  # what a shadow or a map gives with care: see `sunplan bearing`
TAPE_M = 0.01  # a steel tape, held by two; common practice, no source
OUTSIDE_M = 0.3  # paced, or off a map's scale; common practice, no source
LEAST_M = 0.01  # no size gets smaller
SIZES = ("size", "depth", "height")
SHAFT_M = 0.1  # of a skylight: what is less deep lets light in as slant as this


Path = tuple[str | int, ...]  # to a number of a location: keys and indices from the top


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
    """One number of a location, the one that `path` leads to.

    It belongs to one room or opening, or to all of them where that is None.
    """

    measure: Measure
    room: str | None
    opening: str | None
    location: Location
    path: Path

    @property
    def ends(self) -> tuple[Location, Location]:
        """The place with it less, and more, by all that it may be off."""
        less, more = (
            _moved(self.location, self.path, by_m)
            for by_m in (-self.measure.error, self.measure.error)
        )
        return less, more

    def touches(self, room: str, opening: str) -> bool:
        """Whether it changes anything for sun through an opening."""
        return self.room in (None, room) and self.opening in (None, opening)


def bearing(location: Location) -> Measure:
    """The plan's bearing, its ± and what care brings that to."""
    return Measure("the plan's bearing", "deg", location.site.plan_up_error, BEARING_DEG)


def lengths(location: Location) -> list[UncertainLength]:
    """All lengths that may be off: those with a ± above 0, of their own or the location's.

    >>> from .read import read
    >>> place = read("locations/lock-house.toml")
    >>> len(lengths(place))  # none has a ± there
    0
    >>> off = place.site.model_copy(update={"size_error": 0.02})
    >>> first, *_ = lengths(place.model_copy(update={"site": off}))
    >>> first.measure.name, [round(end.room[0].opening[0].size[0], 2) for end in first.ends]
    ('gauge room: street window, its width, height and depth', [1.08, 1.12])
    """
    of_rooms = (_of_room(location, index) for index in range(len(location.room)))
    of_blocks = (_of_block(location, index) for index in range(len(location.outside)))
    return [
        UncertainLength(measure, room, opening, location, path)
        for measure, room, opening, paths in chain(*of_rooms, *of_blocks)
        if measure.error
        for path in paths
    ]


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
    wall, along, sill = opening.in_wall
    length = math.dist(*room.wall(room.wall_number(wall)))
    left, right = max(0.0, along - place_m), min(length, along + place_m + width + size_m)
    low, high = max(0.0, sill - place_m), min(room.height, sill + place_m + height + size_m)
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


_Numbers = tuple[Measure, str | None, str | None, list[Path]]  # with their room and opening


def _of_room(location: Location, index: int) -> Iterator[_Numbers]:
    room = location.room[index]
    top: Path = ("room", index)
    for row, opening in enumerate(room.opening):
        name, part = f"{room.name}: {opening.name}", (*top, "opening", row)
        size_m, place_m = (_own(location, opening, key) for key in ("size_error", "place_error"))
        sizes = Measure(f"{name}, its width, height and depth", "m", size_m, TAPE_M)
        paths: list[Path] = [(*part, "size", 0), (*part, "size", 1), (*part, "depth")]
        yield sizes, room.name, opening.name, paths
        where, paths = "wall", [(*part, "along"), (*part, "sill")]
        if opening.ceiling:
            where, paths = "ceiling", [(*part, "at", 0), (*part, "at", 1)]
        place = Measure(f"{name}, its place on the {where}", "m", place_m, TAPE_M)
        yield place, room.name, opening.name, paths
    for row, mark in enumerate(room.mark):
        spot, place_m = (*top, "mark", row, "at"), _own(location, mark, "place_error")
        place = Measure(f"{room.name}: {mark.name}, its place", "m", place_m, TAPE_M)
        yield place, room.name, None, [(*spot, 0), (*spot, 1)]
    if any(opening.ceiling for opening in room.opening):
        height = Measure(f"{room.name}, its height", "m", location.site.size_error, TAPE_M)
        yield height, room.name, None, [(*top, "height")]


def _of_block(location: Location, index: int) -> Iterator[_Numbers]:
    block = location.outside[index]
    for quantity, key, axes in (("size", "size", 3), ("place", "at", 2)):
        error_m = _own(location, block, f"{quantity}_error")
        measure = Measure(f"{block.name}, its {quantity}", "m", error_m, OUTSIDE_M)
        yield measure, None, None, [("outside", index, key, axis) for axis in range(axes)]


def _moved(part: Any, path: Path, by_m: float, key: str = "") -> Any:
    """A part with the number at a path changed; what is a size stays above nothing."""
    if not path:
        return max(LEAST_M, part + by_m) if key in SIZES else part + by_m
    first, rest = path[0], path[1:]
    if isinstance(first, int):
        return (*part[:first], _moved(part[first], rest, by_m, key), *part[first + 1 :])
    return part.model_copy(update={first: _moved(getattr(part, first), rest, by_m, first)})
