"""Which way the plan's up points, by the sun: shadows, the edge of a patch, a grazed wall.

A shadow of an upright edge runs away from the sun's bearing, whatever the sun's altitude. Each ±
is found by moving what was read by its own ± and seeing what that does to the bearing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from ..errors import InputError
from ..location.read import Location
from ..sun.local_time import clock_to_unix, day_span
from ..sun.position import SEMIDIAMETER_DEG, Floats, solar_positions, wrapped_deg
from ..sun.search import Bools, Indices, intervals, time_grid
from ..sun.track import track_over
from .bearing import MOST_DEG, Measured, Solution, Term, usable
from .combining import Combined, combined
from .compass import by_compass, by_points
from .observations import (
    HANDS,
    TURNS,
    CompassReading,
    GrazingReading,
    Hand,
    PatchReading,
    PointsReading,
    Reading,
    ShadowReading,
    When,
)

TIME_STEP_S = 10.0  # between looks for a shadow's moment: the sun rarely turns by 0.2° in it
RATE_S = 60.0  # over which the way of the sun's turning is judged
WALL_M = 0.1  # by which a point on a wall may miss the room; no source
FAR_TIMES = 3.0  # its own ±, or the file's: further off the file's plan_up it is doubted; no source
FAR_DEG = 90.0  # the same, where those are so large that they say little
REVERSED_DEG = 30.0  # by which two points against a wall's sense may miss 180°; no source
CLOCK_OFF_DEG = 3.0  # of altitude: more than a sill told 5 cm wrong; common practice, no source


@dataclass(frozen=True)
class Times:
    """When a shadow would lie so by the file's plan_up: stretches, seconds since 1970 UTC.

    `error_deg` is by how much plan_up and the angle leave it open; one list a hand.
    """

    reading: ShadowReading
    error_deg: float
    fits: tuple[tuple[Hand, tuple[tuple[float, float], ...]], ...]


@dataclass(frozen=True)
class Bearings:
    """All that was measured, what it says together (best first), and times that were asked for."""

    measured: tuple[Measured, ...]
    together: tuple[Combined, ...]
    times: tuple[Times, ...]

    def off_deg(self, plan_up_deg: float) -> tuple[float, ...]:
        """How far each of what it says together lies from a bearing, degrees."""
        return tuple(
            abs(wrapped_deg(solution.mean.bearing_deg - plan_up_deg)) for solution in self.together
        )

    @property
    def decided(self) -> Combined | None:
        """What it says together, where that is one thing."""
        return self.together[0] if len(self.together) == 1 else None


def bearings(location: Location, readings: Sequence[Reading], day: date) -> Bearings:
    """The plan's bearing by readings.

    Parameters
    ----------
    location : the place, its own bearing too: measurements far off it are doubted.
    readings : as `observed` has them.
    day : on which a compass was read.

    Raises
    ------
    InputError : for no reading, one that cannot be, or one that leaves the bearing open.

    Examples
    --------
    >>> from sunplan import read
    >>> from .observations import observed
    >>> location = read("locations/lock-house.toml")
    >>> given = observed(location, {"--compass-true": ["kitchen A: 102 ±5"]})
    >>> bearings(location, given, date(2027, 3, 20)).decided.mean.bearing_deg
    12.0
    """
    if not readings:
        raise InputError(
            "bearing: nothing was measured; expected --points, --compass, --compass-true, "
            "--shadow, --patch or --grazes"
        )
    measured: list[Measured] = []
    times: list[Times] = []
    for reading in readings:
        match reading:
            case PointsReading():
                measured.append(by_points(location, reading))
            case CompassReading():
                measured.append(by_compass(location, reading, day))
            case ShadowReading() if reading.when.clock is None:
                times.append(times_of(location, reading))
            case ShadowReading():
                measured.append(by_shadow(location, reading))
            case PatchReading():
                measured.append(by_patch(location, reading))
            case GrazingReading():
                measured.append(by_grazing(location, reading))
    measured = [_doubted(location, measured, index) for index in range(len(measured))]
    return Bearings(tuple(measured), combined(measured) if measured else (), tuple(times))


def _doubted(location: Location, measured: Sequence[Measured], index: int) -> Measured:
    """A measurement with what speaks against it: the file's plan_up, and the others."""
    measurement, site = measured[index], location.site
    if measurement.doubt:  # a wrong clock turns the bearing as well
        return measurement
    known = site.plan_up_error < MOST_DEG
    rest = [
        other.plan_ups_deg for other_index, other in enumerate(measured) if other_index != index
    ]
    rest += [(site.plan_up,)] * known
    off = _apart_deg(measurement.plan_ups_deg, (site.plan_up,))
    doubt = ""
    if isinstance(measurement.reading, PointsReading) and _reversed(measurement, rest):
        whose = "the others'" if len(measured) > 1 else "the file's"
        doubt = f"against {whose}, by about 180°: were its two points given in reverse?"
    elif off > min(FAR_TIMES * max(site.plan_up_error, measurement.error_deg), FAR_DEG):
        doubt = f"{off:.0f}° off the file's: another wall, or its other end?"
    return replace(measurement, doubt=doubt)


def _reversed(measurement: Measured, rest: Sequence[tuple[float, ...]]) -> bool:
    """Whether all else says that two points were given from the second to the first."""
    turned = [(up + 180.0) % 360.0 for up in measurement.plan_ups_deg]
    return bool(rest) and all(_apart_deg(turned, ups) <= REVERSED_DEG for ups in rest)


def _apart_deg(some_deg: Sequence[float], others_deg: Sequence[float]) -> float:
    """How far apart the nearest two of some bearings lie, degrees."""
    return min(abs(wrapped_deg(bearing - other)) for bearing in some_deg for other in others_deg)


def by_shadow(location: Location, reading: ShadowReading) -> Measured:
    """The bearing by the angle of an upright edge's shadow; two where its side is not known.

    Raises
    ------
    InputError : where the sun is not up, or the reading leaves the bearing open.
    """
    sun, clock = _sun(location, reading, reading.when)
    hands = HANDS if reading.hand is None else (reading.hand,)
    return usable(
        Measured(
            reading,
            f"shadow at {clock}, {reading.angle_deg:g}°",
            tuple(
                Solution((sun.bearing_deg + _ahead_deg(reading, hand)) % 360.0, hand)
                for hand in hands
            ),
            (sun.term, Term("the shadow's angle", reading.error_deg)),
            sun.facts,
        )
    )


def _ahead_deg(reading: ShadowReading, hand: Hand) -> float:
    """By how much the direction lies clockwise of the sun's bearing."""
    angle = reading.angle_deg
    if hand == "right" and reading.of.along_wall:
        return 180.0 + 180.0 - angle  # from the wall's other end, which lies on the right
    return 180.0 + (angle if hand == "left" else -angle)


def by_patch(location: Location, reading: PatchReading) -> Measured:
    """The bearing by a point of the edge that an opening's jamb gives its patch of sun.

    The plan's jamb is taken as exact. A corner also tells the sun's altitude, and so whether the
    clock can be right.

    Raises
    ------
    InputError : where the sun is not up, or the point lies outside the room or too near the jamb.
    """
    sun, clock = _sun(location, reading, reading.when)
    edge = _edge(reading)
    x, y = (edge.spot[axis] - reading.point[axis] for axis in (0, 1))
    metres = math.hypot(x, y)
    if metres <= reading.error_m:
        raise InputError(
            f"{reading.asked}: lies {metres:.2f} m from the jamb, no further than its ±; expected "
            "a point of the patch's edge far into the room"
        )
    off = Term(
        "the centimetres of the patch's edge",
        math.degrees(math.atan(reading.error_m / metres)),
    )
    plan_up = sun.bearing_deg - math.degrees(math.atan2(x, y))
    return usable(
        Measured(
            reading,
            f"patch by the {reading.opening.name}'s {reading.hand} jamb at {clock}, "
            f"{metres:.1f} m from it",
            (Solution((plan_up + reading.of.turn_deg) % 360.0),),
            (sun.term, off),
            {**sun.facts, "distance_m": metres},
            _clock_doubt(reading, edge, metres, sun.altitude_deg),
        )
    )


@dataclass(frozen=True)
class _Edge:
    """The upright edge that throws a point of a patch's edge.

    The point lies `inward_m` from the wall's inner face, the edge `outward_m` before it.
    """

    spot: tuple[float, float]
    inward_m: float
    outward_m: float


def _clock_doubt(reading: PatchReading, edge: _Edge, metres: float, altitude_deg: float) -> str:
    """What of the sun's altitude by a patch's corner speaks against the clock.

    `metres` is the way from the jamb's edge. The sill throws the corner by its inner edge, the head
    by its outer one, at the glass.
    """
    if reading.level is None:
        return ""
    opening = reading.opening
    _, _, high = opening.in_wall
    straight = (edge.inward_m + edge.outward_m) / metres
    deep = edge.inward_m
    if reading.level == "head":
        high, deep = high + opening.size[1], deep + opening.depth
    seen = math.degrees(math.atan2(high * straight, deep))
    if abs(seen - altitude_deg) <= CLOCK_OFF_DEG:
        return ""
    return (
        f"its corner has the sun {seen:.0f}° high, the clock {altitude_deg:.0f}°: look at the "
        "time, summer time and the corner"
    )


def _edge(reading: PatchReading) -> _Edge:
    """The edge of the jamb that throws the patch's edge, the inner or the outer one.

    The sun stands on the side from which the edge is thrown: what lies beyond the jamb was thrown
    by its inner edge, what lies before the opening by its outer one, at the glass.
    """
    opening, room = reading.opening, reading.room
    wall, near, _ = opening.in_wall
    first, way = room.wall_way(wall)
    off = [reading.point[axis] - first[axis] for axis in (0, 1)]
    along, inward = off[0] * way[0] + off[1] * way[1], off[1] * way[0] - off[0] * way[1]
    beside = any(
        not min(side) - WALL_M <= reading.point[axis] <= max(side) + WALL_M
        for axis, side in enumerate(zip(*room.outline, strict=True))
    )
    if beside or inward <= 0.0:
        raise InputError(
            f"{reading.asked}: the point does not lie in the {room.name}, in from wall "
            f"{wall}; expected x,y on the plan, where the patch's edge was"
        )
    jamb = near + opening.size[0] if reading.hand == "left" else near
    beyond = along > jamb if reading.hand == "left" else along < jamb
    out = 0.0 if beyond else opening.depth
    spot = first[0] + jamb * way[0] + out * way[1], first[1] + jamb * way[1] - out * way[0]
    return _Edge(spot, inward, out)


def by_grazing(location: Location, reading: GrazingReading) -> Measured:
    """The bearing by the moment at which the sun stands in a wall's plane; two where it is not
    known whether it comes to the wall or leaves it.

    Raises
    ------
    InputError : where the sun is not up, or the reading leaves the bearing open.
    """
    sun, clock = _sun(location, reading, reading.when)
    turns = TURNS if reading.turns is None else (reading.turns,)
    disc = SEMIDIAMETER_DEG / math.cos(math.radians(sun.altitude_deg))
    # Clockwise the sun comes to a wall from the end toward which it runs, and leaves by the other.
    from_end = {"comes": 0.0 if sun.clockwise else 180.0}
    from_end["leaves"] = 180.0 - from_end["comes"]
    return usable(
        Measured(
            reading,
            f"sun {'grazes' if reading.turns is None else reading.turns} at {clock}",
            tuple(Solution((sun.bearing_deg + from_end[turn]) % 360.0, turn) for turn in turns),
            (sun.term, Term("the width of the sun", disc)),
            sun.facts,
        )
    )


@dataclass(frozen=True)
class _Sun:
    """The sun at a moment that was told to some ±."""

    bearing_deg: float
    altitude_deg: float
    clockwise: bool
    term: Term

    @property
    def facts(self) -> dict[str, float]:
        return {"sun_bearing_deg": self.bearing_deg, "sun_altitude_deg": self.altitude_deg}


def _sun(location: Location, reading: Reading, when: When) -> tuple[_Sun, str]:
    """The sun at a reading's moment, and its clock time; ``InputError`` where it is not up."""
    assert when.clock is not None
    try:
        moment = clock_to_unix(when.day, when.clock, location.timezone)
    except InputError as error:
        raise InputError(f"{reading.asked}: {error}; expected another time") from None
    steps = np.array([0.0, -when.error_s, when.error_s, -RATE_S, RATE_S])
    site = location.site
    sun = solar_positions(
        moment + steps,
        latitude_deg=site.latitude,
        longitude_deg=site.longitude,
        elevation_m=site.elevation,
    )
    clock = f"{when.clock:%H:%M}"
    bearing, before, after, behind, ahead = sun.bearing_deg.tolist()
    altitude = float(sun.altitude_deg[0])
    if altitude <= 0.0:
        raise InputError(
            f"{reading.asked}: the sun stands {-altitude:.0f}° below the horizon at {clock} on "
            f"{when.day}, local time ({location.timezone}); expected a moment at which it shines"
        )
    off = max(abs(wrapped_deg(moved - bearing)) for moved in (before, after))
    clockwise = wrapped_deg(ahead - behind) > 0.0
    return _Sun(bearing, altitude, clockwise, Term("the time", off)), clock


def times_of(location: Location, reading: ShadowReading) -> Times:
    """When on its date a shadow lies so, by the location's plan_up and its ±.

    Stretches shorter than `TIME_STEP_S` may be missed; none where the sun is never there.
    """
    site = location.site
    start, end = day_span(reading.when.day, location.timezone)
    track = track_over(location, start, end)
    error = math.hypot(site.plan_up_error, reading.error_deg)
    along = site.plan_up + reading.of.turn_deg
    hands = HANDS if reading.hand is None else (reading.hand,)
    wanted = np.array([along - _ahead_deg(reading, hand) for hand in hands])

    def lies(times: Floats, rows: Indices) -> Bools:
        sun = track.at(times)
        off = wrapped_deg(sun.bearing_deg - wanted[rows])
        holds: Bools = (np.abs(off) <= error) & (sun.altitude_deg > 0.0)
        return holds

    grid = time_grid(start, end, TIME_STEP_S)
    holds = np.array([lies(grid, np.full(len(grid), row)) for row in range(len(hands))])
    stretches = intervals(lies, grid, holds)
    fits = tuple((hand, tuple(times_s)) for hand, times_s in zip(hands, stretches, strict=True))
    return Times(reading, error, fits)
