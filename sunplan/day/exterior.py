"""A setup outdoors on a date: its night and moon, its backlight by day, its wall, its shadows.

The centres of sun and moon decide, as everywhere. They count as up only while the subject's head
sees them: over the level, over the far skyline, past the blocks outside and the rooms of the plan.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

import numpy as np

from ..light.daylight import skies
from ..light.exterior_luminance import SKY, ExteriorScene
from ..light.meter import key_lux, stops
from ..location.model import Exterior
from ..location.read import Location
from ..room.camera import CameraView, pinhole
from ..room.interval import Span
from ..room.obstructions import above_skyline, block_prism, room_prisms, skyline_altitude_deg
from ..sun.almanac import CIVIL_DEG, NAUTICAL_DEG, SunTimes, sun_times_of
from ..sun.local_time import HOUR_S, day_span, even_moments
from ..sun.moon import MoonPositions, moon_positions
from ..sun.position import Directions, Floats, wrapped_deg
from ..sun.search import DAY_STEP_S, Bools, Indices, intervals, refine, time_grid
from ..sun.track import track_over

# How far sun or moon stands from straight behind the subject, as the camera sees it on the level.
# Common practice, no source.
BACK_DEG, BACK_CROSS_DEG, SIDE_DEG = 30.0, 60.0, 120.0
HIGH_DEG = 10.0  # of the sun: high enough to light; common practice, no source
# Day for night: a textbook asks for 1 stop, a video magazine for 2, a production blog for 2 to 3;
# the middle, common practice.
UNDEREXPOSE_STOPS, UNDEREXPOSE_RANGE_STOPS = 2.0, (1.0, 3.0)
TUNGSTEN_K = 3200.0  # the balance that makes daylight blue for it; common practice, no source
DENSITY_PER_STOP = 0.3  # log10(2), as filters are named
LOOKS = (61, 35)  # rays over the frame, across and up
TILT_TO_DEG = 0.05  # how finely the tilt that loses the sky is found

Side = Literal["back", "back-cross", "side", "front"]
Event = Literal["night starts", "appears", "hour", "highest", "goes", "night ends"]


@dataclass(frozen=True)
class MoonLook:
    """The moon at one moment of a night, seconds since 1970 UTC.

    `lux` is on level ground under a clear sky, moonlight alone; `stops` is that over the light
    that the exposure is set for. `off_deg` is from the camera's bearing to the moon's, clockwise
    positive, −180 to 180. It appears and goes by rising and setting, or behind what hides it.
    """

    event: Event
    moment_s: float
    altitude_deg: float
    bearing_deg: float
    lit_share: float
    lux: float
    stops: float
    off_deg: float
    side: Side
    in_frame: bool


@dataclass(frozen=True)
class MoonStretch:
    """A stretch of the night in which the subject's head sees the moon, and looks at it."""

    start_s: float
    end_s: float
    looks: tuple[MoonLook, ...]


@dataclass(frozen=True)
class Night:
    """From a date's sunset to the next sunrise; from noon to noon where there is neither.

    `civil_dark` and `nautical_dark` are when the sun is 6° and 12° down, None for never that far.
    `moon_hidden` is when the moon stands over the level but behind skyline, block or room.
    """

    start_s: float
    end_s: float
    civil_dark: Span | None
    nautical_dark: Span | None
    moon: tuple[MoonStretch, ...]
    moon_hidden: tuple[Span, ...]


@dataclass(frozen=True)
class Backlight:
    """A stretch with the sun behind the subject, and what it is like in its middle.

    `level_lux` is on level ground under a clear sky, as an incident meter held up reads it;
    `over_stops` is that over the light that the exposure is set for, `lose_stops` what is too much
    for day for night, and `nd_density` the filter on the lens that loses it.
    """

    side: Side
    start_s: float
    end_s: float
    sun_altitude_deg: float
    sun_bearing_deg: float
    off_deg: float
    level_lux: float
    over_stops: float

    @property
    def lose_stops(self) -> float:
        """Stops to lose for day for night, 0 where it is dark enough."""
        return max(0.0, self.over_stops + UNDEREXPOSE_STOPS)

    @property
    def nd_density(self) -> float:
        """Density that loses them."""
        return self.lose_stops * DENSITY_PER_STOP


@dataclass(frozen=True)
class WallSun:
    """A stretch with sun on the wall; `incidence_deg` from its normal, in the stretch's middle."""

    start_s: float
    end_s: float
    incidence_deg: float


@dataclass(frozen=True)
class Shadow:
    """The subject's shadow on level ground: its length, and the true bearing that it points to."""

    moment_s: float
    length_m: float
    bearing_deg: float
    sun_altitude_deg: float


@dataclass(frozen=True)
class ExteriorDay:
    """All of a date for one setup outdoors.

    `night` is None where the sun does not set, `wall` where the setup names none. `lose_sky_deg`
    is by how much the camera must tilt down to lose the sky, 0 where its frame holds none.
    """

    exterior: Exterior
    date: date
    sun: SunTimes
    night: Night | None
    backlight: tuple[Backlight, ...]
    sun_in_frame: tuple[Span, ...]
    lose_sky_deg: float
    wall: tuple[WallSun, ...] | None
    shadows: tuple[Shadow, ...]


@dataclass(frozen=True, eq=False)
class _Viewpoint:
    """Where the subject stands: its head (3,) in the plan frame, and what is around it."""

    location: Location
    exterior: Exterior
    head: Floats
    around: ExteriorScene

    def sees(self, toward: Directions) -> Bools:
        """Whether the head sees what stands in these directions (T,)."""
        over = above_skyline(self.location.skyline, toward)
        rays = toward.plan(self.location.site.plan_up)
        free: Bools = self.around.unobstructed(self.head[None], rays, over[:, None])[:, 0]
        return over & free

    def off_deg(self, bearing_deg: Floats) -> Floats:
        """From the camera's bearing to others (T,), clockwise positive, −180 to 180."""
        return wrapped_deg(bearing_deg - self.exterior.camera.bearing)

    def view(self, tilt_deg: float) -> CameraView:
        """The camera's frame at a tilt, as from the subject's own place."""
        camera, up = self.exterior.camera, np.radians(tilt_deg)
        turn = np.radians(camera.bearing - self.location.site.plan_up)
        forward = np.array([np.cos(up) * np.sin(turn), np.cos(up) * np.cos(turn), np.sin(up)])
        return pinhole(np.array([*self.exterior.at, camera.height]), forward, camera.view_deg)

    def in_frame(self, toward: Directions) -> Bools:
        """Whether directions (T,) fall on the frame."""
        view = self.view(self.exterior.camera.tilt)
        return view.in_frame(view.position + toward.plan(self.location.site.plan_up))

    def frames_sky(self, tilt_deg: float) -> bool:
        """Whether any sky falls on the frame at a tilt, past skyline, blocks and rooms."""
        view = self.view(tilt_deg)
        across, up = (np.linspace(-1.0, 1.0, count) for count in LOOKS)
        x, y = np.meshgrid(across * view.half_tangents[0], up * view.half_tangents[1])
        rays = view.forward + x.reshape(-1, 1) * view.right + y.reshape(-1, 1) * view.up
        rays = rays.round(12)  # a hair off the level they would run beyond all numbers
        free = rays[self.around.trace(np.tile(view.position, (len(rays), 1)), rays).block == SKY]
        altitude = np.degrees(np.arctan2(free[:, 2], np.hypot(free[:, 0], free[:, 1])))
        bearing = np.degrees(np.arctan2(free[:, 0], free[:, 1])) + self.location.site.plan_up
        horizon = skyline_altitude_deg(self.location.skyline, bearing % 360.0)
        return bool((altitude > horizon).any())


def _viewpoint(location: Location, exterior: Exterior) -> _Viewpoint:
    prisms = [block_prism(block) for block in location.outside]
    prisms += [prism for room in location.room for prism in room_prisms(room)]
    return _Viewpoint(
        location,
        exterior,
        np.array([*exterior.at, exterior.height]),
        ExteriorScene(prisms, location.site.ground_reflectance),
    )


def side(off_deg: float) -> Side:
    """From where light comes for a camera.

    Parameters
    ----------
    off_deg
        How far the light stands off the camera's bearing on the level, −180 to 180.

    Examples
    --------
    >>> side(-20.0), side(45.0), side(90.0), side(-170.0)
    ('back', 'back-cross', 'side', 'front')
    """
    off = abs(off_deg)
    if off > SIDE_DEG:
        return "front"
    return "back" if off <= BACK_DEG else "back-cross" if off <= BACK_CROSS_DEG else "side"


def exteriors(location: Location, day: date) -> list[ExteriorDay]:
    """Every setup outdoors of a location on a local date, in the file's order; see `exterior_day`.

    >>> from sunplan import read
    >>> house = read("locations/lock-house.toml")
    >>> [lock.exterior.name for lock in exteriors(house, date(2027, 3, 20))]
    ['the lock at night']
    """
    return [exterior_day(location, exterior, day) for exterior in location.exterior]


def exterior_day(location: Location, exterior: Exterior, day: date) -> ExteriorDay:
    """One setup outdoors on a local date; stretches shorter than a minute may be missed.

    Returns
    -------
    ExteriorDay
        Of the night that starts on that date, and of the date's own day.

    Examples
    --------
    >>> from sunplan import read
    >>> house = read("locations/lock-house.toml")
    >>> lock = exterior_day(house, house.exterior[0], date(2027, 3, 20))
    >>> lock.night is not None, len(lock.shadows) > 3
    (True, True)
    """
    viewpoint = _viewpoint(location, exterior)
    start, end = day_span(day, location.timezone)
    track = track_over(location, start, end)
    facing = 0.0 if exterior.wall is None else exterior.wall
    outward = np.array([np.sin(np.radians(facing)), np.cos(np.radians(facing)), 0.0])

    def cases(times: Floats) -> Bools:
        sun = track.at(times)
        sunlit = viewpoint.sees(sun)
        lights = sunlit & (sun.altitude_deg >= HIGH_DEG)
        off = np.abs(viewpoint.off_deg(sun.bearing_deg))
        back, cross = off <= BACK_DEG, (off > BACK_DEG) & (off <= BACK_CROSS_DEG)
        on_wall = sunlit & (sun.enu @ outward > 0)
        return np.stack((lights & back, lights & cross, lights & viewpoint.in_frame(sun), on_wall))

    back, cross, framed, on_wall = _stretches(cases, time_grid(start, end, DAY_STEP_S))
    wall = None
    if exterior.wall is not None:
        middles = track.at([(first + last) / 2 for first, last in on_wall])
        incidence = np.degrees(np.arccos(np.clip(middles.enu @ outward, -1.0, 1.0)))
        wall = tuple(
            WallSun(*span, angle) for span, angle in zip(on_wall, incidence.tolist(), strict=True)
        )
    sun = track.at(even_moments(start, end, HOUR_S))
    sun = sun[viewpoint.sees(sun) & (sun.unix_s < end)]
    lengths = exterior.height / np.tan(np.radians(sun.altitude_deg))
    away_deg = (sun.bearing_deg + 180.0) % 360.0
    rows = np.column_stack((sun.unix_s, lengths, away_deg, sun.altitude_deg)).tolist()
    tilt = exterior.camera.tilt
    return ExteriorDay(
        exterior=exterior,
        date=day,
        sun=sun_times_of(location, day),
        night=_night(viewpoint, day),
        backlight=_backlight(viewpoint, sorted([*back, *cross])),
        sun_in_frame=tuple(framed),
        lose_sky_deg=tilt - _skyless_deg(viewpoint),
        wall=wall,
        shadows=tuple(Shadow(*row) for row in rows),
    )


def _stretches(cases: Callable[[Floats], Bools], grid: Floats) -> list[list[Span]]:
    """Stretches in which each of several cases holds; `cases` answers moments (T,) with (R, T)."""

    def asked(times: Floats, rows: Indices) -> Bools:
        holds: Bools = cases(times)[rows, np.arange(len(times))]
        return holds

    return intervals(asked, grid, cases(grid))


def _backlight(viewpoint: _Viewpoint, spans: list[Span]) -> tuple[Backlight, ...]:
    """What the sun behind the subject is like in the middle of stretches, in order."""
    if not spans:
        return ()
    key = key_lux(viewpoint.exterior.exposure)
    middles = skies(viewpoint.location, [(first + last) / 2 for first, last in spans])
    off_deg = viewpoint.off_deg(np.array([sky.sun_bearing_deg for sky in middles])).tolist()
    return tuple(
        Backlight(
            side(off),
            *span,
            sun_altitude_deg=sky.sun_altitude_deg,
            sun_bearing_deg=sky.sun_bearing_deg,
            off_deg=off,
            level_lux=sky.global_horizontal_lux,
            over_stops=stops(sky.global_horizontal_lux, key),
        )
        for span, sky, off in zip(spans, middles, off_deg, strict=True)
    )


def _skyless_deg(viewpoint: _Viewpoint) -> float:
    """The highest tilt, from the camera's own down, at which no sky falls on the frame."""
    tilt = viewpoint.exterior.camera.tilt
    if not viewpoint.frames_sky(tilt):
        return tilt
    # There the whole frame lies below the level.
    lowest = -viewpoint.exterior.camera.view_deg[1] / 2 - TILT_TO_DEG
    skyless = refine(
        lambda tilts: np.array([not viewpoint.frames_sky(tilt) for tilt in tilts.tolist()]),
        np.array([tilt]),
        np.array([lowest]),
        to_s=TILT_TO_DEG,
    )
    return float(skyless[0])


def _night(viewpoint: _Viewpoint, day: date) -> Night | None:
    location = viewpoint.location
    today, tomorrow = sun_times_of(location, day), sun_times_of(location, day + timedelta(days=1))
    start = today.noon if today.always == "down" else today.set
    if start is None:
        return None
    end = tomorrow.noon if tomorrow.rise is None else tomorrow.rise
    track = track_over(location, start, end)

    def dark(times: Floats) -> Bools:
        altitude = track.true_altitude_deg(times)
        return np.stack((altitude < CIVIL_DEG, altitude < NAUTICAL_DEG))

    def moon(times: Floats) -> MoonPositions:
        site = location.site
        return moon_positions(
            times,
            latitude_deg=site.latitude,
            longitude_deg=site.longitude,
            elevation_m=site.elevation,
        )

    def up(times: Floats) -> Bools:
        toward = moon(times).toward
        seen = viewpoint.sees(toward)
        return np.stack((seen, (toward.altitude_deg > 0.0) & ~seen))

    grid = time_grid(start, end, DAY_STEP_S)
    civil, nautical = (next(iter(spans), None) for spans in _stretches(dark, grid))
    seen, hidden = _stretches(up, grid)
    midnight = day_span(day, location.timezone)[0]
    hours = [hour for hour in even_moments(midnight, end, HOUR_S) if hour > start]
    highest = _culminations(moon, grid)
    stretches = []
    for first, last in seen:
        events: list[tuple[float, Event]] = [
            (first, "night starts" if first == start else "appears"),
            (last, "night ends" if last == end else "goes"),
        ]
        events += [(moment, "highest") for moment in highest if first < moment < last]
        others = [moment for moment, _ in events]
        events += [
            (hour, "hour")
            for hour in hours
            if first < hour < last and min(abs(hour - other) for other in others) > 60.0
        ]
        stretches.append(MoonStretch(first, last, _looks(viewpoint, moon, sorted(events))))
    return Night(start, end, civil, nautical, tuple(stretches), tuple(hidden))


def _culminations(moon: Callable[[Floats], MoonPositions], grid: Floats) -> list[float]:
    """Moments within a night at which the moon stops climbing."""
    altitude = moon(grid).true_altitude_deg
    peaks = 1 + np.flatnonzero((altitude[1:-1] > altitude[:-2]) & (altitude[1:-1] >= altitude[2:]))
    half = DAY_STEP_S / 2

    def sinks(times: Floats) -> Bools:
        before, after = (moon(times + off).true_altitude_deg for off in (-half, half))
        falls: Bools = after < before
        return falls

    highest: list[float] = refine(sinks, grid[peaks - 1], grid[peaks + 1]).tolist()
    return highest


def _looks(
    viewpoint: _Viewpoint,
    moon: Callable[[Floats], MoonPositions],
    events: list[tuple[float, Event]],
) -> tuple[MoonLook, ...]:
    positions = moon(np.array([moment for moment, _ in events]))
    toward, lux = positions.toward, positions.horizontal_lux.tolist()
    off_deg = viewpoint.off_deg(toward.bearing_deg).tolist()
    framed = viewpoint.in_frame(toward).tolist()
    key = key_lux(viewpoint.exterior.exposure)
    return tuple(
        MoonLook(
            event=event,
            moment_s=moment,
            altitude_deg=float(toward.altitude_deg[row]),
            bearing_deg=float(toward.bearing_deg[row]),
            lit_share=float(positions.lit_share[row]),
            lux=lux[row],
            stops=stops(lux[row], key),
            off_deg=off_deg[row],
            side=side(off_deg[row]),
            in_frame=framed[row],
        )
        for row, (moment, event) in enumerate(events)
    )
