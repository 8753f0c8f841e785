"""A skyline and buildings from a few sightings: a bearing and an altitude, or how far and how high.

What a phone's level and compass give from the spot, or a map, becomes `[[skyline]]` and
`[[outside]]` tables.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import count, pairwise

from ..errors import InputError
from ..location.lengths import Units, parse_length, unit_m
from ..location.model import Outside, Point
from ..location.read import Location
from ..sun.position import wrapped_deg

EYE_M = 1.6  # that an altitude is sighted from; common practice, no source
DEEP_M = 5.0  # of a building whose back nobody sees
WIDE_M = 10.0  # of one whose width is not told
WRITTEN_M, WRITTEN_DEG = 0.006, 0.06  # to which a building is written, and a hair
APART_DEG = 45.0  # between sightings: no straight line goes as far
SIGHT = '"80: 4", true bearing and degrees up'
BUILDING = '"210: 35 m away, 12 m high, 20 m wide", or "… 18° up …" for its height'
_NUMBER = r"[+-]?\d+(?:\.\d+)?"


@dataclass(frozen=True)
class Sighting:
    """A point of the far horizon: true bearing and altitude, degrees."""

    bearing_deg: float
    altitude_deg: float


@dataclass(frozen=True)
class Building:
    """A block across the way: true bearing of its face's middle, how far, high and wide it is."""

    bearing_deg: float
    distance_m: float
    height_m: float
    width_m: float


def sight(text: str, *, declined_deg: float = 0.0) -> Sighting:
    """A sighting from its text; `declined_deg` makes a magnetic bearing true.

    Raises
    ------
    InputError : where it is none.

    Examples
    --------
    >>> sight("80: 4.5", declined_deg=2.0)
    Sighting(bearing_deg=82.0, altitude_deg=4.5)
    """
    match = re.fullmatch(rf"\s*({_NUMBER})\s*°?\s*:\s*({_NUMBER})\s*°?\s*", text)
    if match is None:
        raise InputError(f"--sight {text}: is no sighting; expected one such as {SIGHT}")
    altitude = float(match[2])
    if not -5.0 <= altitude < 90.0:
        raise InputError(f"--sight {text}: expected an altitude from -5 to below 90 degrees")
    return Sighting(_bearing(text, "--sight", match[1], declined_deg), altitude)


def building(text: str, *, declined_deg: float = 0.0, eye_m: float = EYE_M) -> Building:
    """A building from its text; an altitude is that of its top, sighted `eye_m` above the ground.

    Raises
    ------
    InputError : where it is none.

    Examples
    --------
    >>> building("210: 35 m away, 12 m high, 20 m wide")
    Building(bearing_deg=210.0, distance_m=35.0, height_m=12.0, width_m=20.0)
    >>> round(building("210: 20 m away, 45° up").height_m, 2)
    21.6
    """
    match = re.fullmatch(rf"\s*({_NUMBER})\s*°?\s*:\s*(.+)", text)
    parts: dict[str, str] = {}
    for part in match[2].split(",") if match is not None else ():
        words = re.fullmatch(r"\s*(.+?)\s*(away|high|wide|up)\s*", part)
        if words is None or words[2] in parts:
            raise _no_building(text)
        parts[words[2]] = words[1]
    if match is None or "away" not in parts or ("high" in parts) == ("up" in parts):
        raise _no_building(text)
    distance = _length(text, parts["away"])
    if "high" in parts:
        height = _length(text, parts["high"])
    else:
        angle = re.fullmatch(rf"({_NUMBER})\s*°?", parts["up"])
        if angle is None or not 0.0 < float(angle[1]) < 90.0:
            raise _no_building(text)
        height = eye_m + distance * math.tan(math.radians(float(angle[1])))
    width = _length(text, parts["wide"]) if "wide" in parts else WIDE_M
    return Building(_bearing(text, "--building", match[1], declined_deg), distance, height, width)


def _no_building(text: str) -> InputError:
    return InputError(f"--building {text}: is no building; expected one such as {BUILDING}")


def _length(text: str, length: str) -> float:
    try:
        metres = parse_length(length)
    except ValueError:
        raise _no_building(text) from None
    if not 0.0 < metres < 100_000.0:
        raise _no_building(text)
    return metres


def _bearing(text: str, option: str, number: str, declined_deg: float) -> float:
    bearing = float(number)
    if not -360.0 <= bearing <= 360.0:
        raise InputError(f"{option} {text}: expected a bearing from 0 to 360 degrees")
    return round((bearing + declined_deg) % 360.0, 2) % 360.0


def spot(text: str, units: Units) -> Point:
    """A spot X,Y of the plan, in the file's unit, to metres.

    Raises
    ------
    InputError : where it is none.

    Examples
    --------
    >>> spot("1.5, -2", "m")
    (1.5, -2.0)
    """
    match = re.fullmatch(rf"\s*({_NUMBER})\s*,\s*({_NUMBER})\s*", text)
    if match is None:
        raise InputError(f"--spot {text}: expected a spot of the plan such as 1.5,2.0")
    return float(match[1]) * unit_m(units), float(match[2]) * unit_m(units)


def skylines(sights: Sequence[Sighting]) -> list[list[Sighting]]:
    """Sightings clockwise, parted where they lie far apart.

    Raises
    ------
    InputError : for one that stands alone, since a line needs two ends, and for two in one place.

    Examples
    --------
    >>> [[sighting.bearing_deg for sighting in line] for line in skylines(
    ...     [Sighting(350, 2), Sighting(10, 4), Sighting(120, 9), Sighting(100, 5)])]
    [[100, 120], [350, 10]]
    """
    rising = sorted(sights, key=lambda sighting: sighting.bearing_deg)
    for sighting, after in pairwise(rising):
        if sighting.bearing_deg == after.bearing_deg:
            raise InputError(
                f"--sight: two at {sighting.bearing_deg:g} degrees; expected one each way"
            )
    gaps = [
        (after.bearing_deg - sighting.bearing_deg) % 360.0
        for sighting, after in zip(rising, rising[1:] + rising[:1], strict=True)
    ]
    breaks = [index + 1 for index, gap in enumerate(gaps) if gap > APART_DEG]
    if len(rising) == 1:
        breaks = [0]
    if not breaks and rising:
        # All round: the line comes back to where it starts.
        return [[*rising, rising[0]]]
    lines = []
    for start, end in zip(breaks, breaks[1:] + breaks[:1], strict=True):
        many = (end - start) % len(rising) or len(rising)
        line = [rising[(start + step) % len(rising)] for step in range(many)]
        if len(line) < 2:
            raise InputError(
                f"--sight: the one at {line[0].bearing_deg:g} degrees stands alone; expected "
                f"another within {APART_DEG:g} degrees of it"
            )
        lines.append(line)
    return sorted(lines, key=lambda sighting: sighting[0].bearing_deg)


def corner(block: Building, spot: Point, *, plan_up_deg: float) -> tuple[Point, float]:
    """Where a building's block starts on the plan, and its turn, counter-clockwise, degrees.

    Its face looks square at the spot that it was sighted from, plan metres.

    >>> corner(Building(0.0, 20.0, 10.0, 8.0), (0.0, 0.0), plan_up_deg=0.0)
    ((-4.0, 20.0), 0.0)
    """
    angle = math.radians(block.bearing_deg - plan_up_deg)
    away, right = (math.sin(angle), math.cos(angle)), (math.cos(angle), -math.sin(angle))
    x, y = (
        spot[axis] + block.distance_m * away[axis] - block.width_m / 2 * right[axis]
        for axis in (0, 1)
    )
    return (x, y), wrapped_deg(plan_up_deg - block.bearing_deg)


@dataclass(frozen=True)
class Tables:
    """TOML tables for a location file by what they are, and what stands in it already."""

    new: dict[str, str]
    there: list[str]


def tables(
    location: Location,
    sights: Sequence[Sighting],
    buildings: Sequence[Building],
    spot: Point | None,
) -> Tables:
    """Tables for a location file, in its unit; what it has already is not made again.

    Parameters
    ----------
    location : the file as it stands.
    sights, buildings : what was seen.
    spot : of the plan, metres, from which the buildings were.

    Raises
    ------
    InputError : for buildings without a spot, and as `skylines` does.
    """
    file_unit_m = unit_m(location.site.units)
    made = Tables({}, [])
    lines = [skyline.points for skyline in location.skyline]
    for line in skylines(sights):
        points = tuple((sighting.bearing_deg, sighting.altitude_deg) for sighting in line)
        heading = f"[[skyline]] from {points[0][0]:g}° to {points[-1][0]:g}°"
        if points in lines:
            made.there.append(heading)
            continue
        pairs = ", ".join(f"[{bearing:g}, {altitude:g}]" for bearing, altitude in points)
        made.new[heading] = f"[[skyline]]\npoints = [{pairs}]\n"
    taken = {block.name for block in location.outside}
    for sighted in buildings:
        if spot is None:
            raise InputError(
                "--spot: is missing; a building needs the spot X,Y of the plan it was seen from"
            )
        (x, y), turn = corner(sighted, spot, plan_up_deg=location.site.plan_up)
        size = (sighted.width_m, DEEP_M, sighted.height_m)
        stands = next(
            (block for block in location.outside if _same(block, (x, y), size, turn)), None
        )
        if stands is not None:
            made.there.append(f'[[outside]] "{stands.name}"')
            continue
        sides = [round(side / file_unit_m, 2) for side in size]
        name = next(name for name in map("building {}".format, count(1)) if name not in taken)
        taken.add(name)
        made.new[f'[[outside]] "{name}"'] = (
            f'[[outside]]\nname = "{name}"\nat = [{x / file_unit_m:.2f}, {y / file_unit_m:.2f}]\n'
            f"size = {sides}\nturn = {turn:.1f}\n"
        )
    return made


def _same(block: Outside, spot: Point, size_m: tuple[float, float, float], turn_deg: float) -> bool:
    """Whether a block of the file is that one, as it is written."""
    off_m = max(abs(a - b) for a, b in zip((*block.at, *block.size), (*spot, *size_m), strict=True))
    off_deg = wrapped_deg(block.turn - turn_deg)
    return off_m <= WRITTEN_M and abs(off_deg) <= WRITTEN_DEG
