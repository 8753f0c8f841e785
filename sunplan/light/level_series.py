"""How bright is each window of a setup, and its face by daylight, from moment to moment?

One series of levels for all who ask: a row is a moment under a sky. What is not asked for is not
worked out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..location.read import Location
from ..room.beam import Beam, beam_of
from ..sun.position import Floats
from ..sun.search import Bools, Indices
from . import glass
from .daylight import Skies, Weather, skies
from .exterior_luminance import exterior_scene
from .face import FACE_POINTS, Faces
from .lamp import face_point
from .look import Band, Look, over, under
from .meter import grey_cd_m2, key_lux
from .resolved import ResolvedSetup
from .window_luminance import Window, window

CHART_STEP_S = 600.0  # between moments that a drawn line may join
DARK_STOPS = -60.0  # what no light at all is taken for
Reading = Callable[[Callable[[Skies], Floats]], Floats]
"""Levels (T, ...) of a series' moments, from a function that gives levels (K, ...) of skies (K)."""


@dataclass(frozen=True, eq=False)
class RoomSeries:
    """Daylight at the faces of a room's setups under skies (T,).

    Attributes
    ----------
    room
        The room's transfer and its setups' faces.
    skies
        (T,): the moments.
    reading
        How light that changes slowly is read off fewer moments; None works it out at every one.
    """

    room: Faces
    skies: Skies
    reading: Reading | None = None

    @cached_property
    def lux_by_opening(self) -> Floats:
        """Illuminance by the light that comes in through each opening, lx, (T, O, P).

        P are the points of the room's `Faces`, `FACE_POINTS` a setup.
        """
        transfer = self.room.transfer
        if self.reading is None:
            return transfer.lux_by_opening(self.skies)
        lit: Floats = self.reading(transfer.indirect_lux) + transfer.direct_lux(self.skies)
        return lit

    def sides_lux(self, setup: ResolvedSetup) -> Floats:
        """Illuminance of the two sides of a setup's face, lx, (T, O, 2).

        The side on the camera's left comes first.

        Raises
        ------
        ValueError
            If the setup is none of the room's.
        """
        first = self.room.index(setup) * FACE_POINTS
        return self.lux_by_opening[..., first : first + 2]

    def fill_side(self, setup: ResolvedSetup) -> Indices:
        """Which of the two sides is the fill side, as `Faces.fill_side` has it, (T,)."""
        return self.room.fill_side(setup, self.sides_lux(setup).sum(axis=1))


@dataclass(frozen=True, eq=False)
class LevelSeries:
    """A setup's levels under skies (T,) before anything is hung, one a window (W) in frame.

    Each level is worked out when it is first asked for.

    Attributes
    ----------
    setup, look
        The setup and the bands that its windows are held against.
    skies
        (T,): the moments.
    windows
        (W,): the openings in frame.
    room
        Daylight at the face; None where only the windows are asked for.
    reading
        How levels are read off fewer moments; None works them out at every one.
    """

    setup: ResolvedSetup
    look: Look
    skies: Skies
    windows: tuple[Window, ...]
    room: RoomSeries | None = None
    reading: Reading | None = None

    @cached_property
    def moments(self) -> Floats:
        """Seconds since 1970 UTC, (T,)."""
        return np.array([sky.unix_s for sky in self.skies])

    @cached_property
    def luminance_cd_m2(self) -> Floats:
        """Mean luminance of the part of each window that is in frame, cd/m², (T, W)."""
        columns = [self._read(seen.luminance_cd_m2) for seen in self.windows]
        return np.array(columns).reshape(len(self.windows), len(self.skies)).T

    @cached_property
    def stops(self) -> Floats:
        """The same in stops over mid-grey, (T, W); no light at all is `DARK_STOPS`."""
        return _stops(self.luminance_cd_m2, grey_cd_m2(self.setup.exposure))

    @cached_property
    def hung_stops(self) -> Floats:
        """Stops over mid-grey with each dressing that can be hung, (T, W, D).

        D are `glass.hangable_dressings()`.
        """
        shares = [glass.dressing_shares(name) for name in glass.hangable_dressings()]

        def hung(seen: Window) -> Floats:
            return self._read(lambda above: seen.dressed_cd_m2(above, shares).T)

        shape = (len(self.windows), len(self.skies), len(shares))
        by_time = np.moveaxis(np.array([*map(hung, self.windows)]).reshape(shape), 0, 1)
        return _stops(by_time, grey_cd_m2(self.setup.exposure))

    @cached_property
    def sun_in_frame(self) -> Bools:
        """Whether the sun itself stands in each window, (T, W)."""
        columns = [seen.sun_in_frame(self.skies) for seen in self.windows]
        return np.array(columns, dtype=bool).reshape(len(self.windows), len(self.skies)).T

    @cached_property
    def bands(self) -> Floats:
        """Where each window should sit, lowest and highest, stops over mid-grey, (W, 2)."""
        bands = [self.look.band(seen.opening.opening.dressing) for seen in self.windows]
        return np.array(bands).reshape(-1, 2)

    @cached_property
    def over_stops(self) -> Floats:
        """Stops over the middle of the band, (T, W); 0 within the band and below it."""
        return over(self.stops, *self.bands.T)

    @cached_property
    def under_stops(self) -> Floats:
        """Stops under the middle of the band, (T, W); 0 within it, above it, or if black reads."""
        if self.look.black_reads:
            return np.zeros_like(self.stops)
        return under(self.stops, *self.bands.T)

    @cached_property
    def sides_lux(self) -> Floats:
        """Daylight through each opening on the two sides of the face, lx, (T, O, 2).

        The side on the camera's left comes first. Only of a series that has its `room`.
        """
        assert self.room is not None
        return self.room.sides_lux(self.setup)

    @cached_property
    def fill_lux(self) -> Floats:
        """Daylight through each opening on the fill side of the face, lx, (T, O)."""
        assert self.room is not None
        rows = np.arange(len(self.skies))
        filled: Floats = self.sides_lux[rows, :, self.room.fill_side(self.setup)]
        return filled

    @cached_property
    def fill_stops(self) -> Floats:
        """All daylight on the fill side, stops from key, (T,); none at all is `DARK_STOPS`."""
        return _stops(self.fill_lux.sum(axis=1), key_lux(self.setup.exposure))

    @property
    def allowed_fill_lux(self) -> float:
        """The most daylight that the look leaves the fill side at the setup's exposure, lx."""
        return float(key_lux(self.setup.exposure) * 2.0 ** self.look.fill[1])

    @cached_property
    def face_stops(self) -> Floats:
        """All daylight on the key side, stops from key, (T,); none at all is `DARK_STOPS`."""
        keyed = (self.sides_lux.sum(axis=2) - self.fill_lux).sum(axis=1)
        return _stops(keyed, key_lux(self.setup.exposure))

    def by_window(self) -> list[WindowSeries]:
        """Its windows in frame one by one, (W,)."""
        return [WindowSeries(self, column) for column in range(len(self.windows))]

    def _read(self, levels: Callable[[Skies], Floats]) -> Floats:
        return levels(self.skies) if self.reading is None else self.reading(levels)


@dataclass(frozen=True, eq=False)
class WindowSeries:
    """One window of a series: a column of its levels."""

    series: LevelSeries
    column: int

    @property
    def setup(self) -> ResolvedSetup:
        """The setup that films it."""
        return self.series.setup

    @property
    def opening(self) -> str:
        """Its name."""
        return self.series.windows[self.column].opening.name

    @property
    def sky(self) -> str:
        """The sky's name."""
        return self.series.skies[0].name

    @property
    def moments(self) -> Floats:
        """Seconds since 1970 UTC, (T,)."""
        return self.series.moments

    @property
    def stops(self) -> Floats:
        """Stops over mid-grey, (T,)."""
        return self.series.stops[:, self.column]

    @property
    def band(self) -> Band:
        """Where the look wants it, lowest and highest, stops over mid-grey."""
        low, high = self.series.bands[self.column].tolist()
        return low, high

    @property
    def sun_in_frame(self) -> Bools:
        """Whether the sun itself stands in it, (T,)."""
        return self.series.sun_in_frame[:, self.column]


def level_series(
    location: Location,
    setups: Sequence[ResolvedSetup],
    above: Skies,
    *,
    rooms: Sequence[Faces] = (),
    reading: Reading | None = None,
    room_reading: Reading | None = None,
) -> dict[str, LevelSeries]:
    """Levels of setups under skies.

    Parameters
    ----------
    location
        The place that the setups are in.
    setups
        In any rooms of it.
    above
        (T,): moments, each under a sky.
    rooms
        The light of the setups' rooms, where their faces are asked for.
    reading, room_reading
        Where windows and faces are not worked out at every moment: how they are read instead.

    Returns
    -------
    A series a setup, by the setup's name.

    Examples
    --------
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> from sunplan.light.daylight import skies
    >>> house = read("locations/lock-house.toml")
    >>> coffee = resolve(house)[1]
    >>> series = level_series(house, [coffee], skies(house, [1805562000.0, 1805569200.0]))
    >>> series[coffee.name].stops.round(1).tolist()
    [[5.5], [-11.7]]
    """
    light = {room.transfer.beam.room.name: RoomSeries(room, above, room_reading) for room in rooms}
    beams: dict[str, Beam] = {name: series.room.transfer.beam for name, series in light.items()}
    by_setup = {}
    for setup in setups:
        if setup.room not in beams:
            beams[setup.room] = beam_of(location, setup.in_room)
        openings = windows(location, setup, beams[setup.room])
        by_setup[setup.name] = LevelSeries(
            setup=setup,
            look=setup.wanted,
            skies=above,
            windows=tuple(opening for opening in openings if opening.in_frame),
            room=light.get(setup.room),
            reading=reading,
        )
    return by_setup


def window_series(
    location: Location,
    setups: Sequence[ResolvedSetup],
    moments: Sequence[float],
    weathers: Sequence[Weather],
) -> list[WindowSeries]:
    """Levels of all windows in frame at some moments under each of some skies.

    Parameters
    ----------
    location, setups
        The place, and setups in any rooms of it.
    moments
        Seconds since 1970 UTC, (T,).
    weathers
        The skies' names, or measured light.

    Returns
    -------
    Setup by setup, in it window by window, of that sky by sky.

    Examples
    --------
    >>> from sunplan import read
    >>> from sunplan.light.resolved import resolve
    >>> house = read("locations/lock-house.toml")
    >>> weathers = [Weather("clear"), Weather("overcast")]
    >>> series = window_series(house, resolve(house)[1:2], [1805562000.0], weathers)
    >>> [(window.opening, window.sky, window.stops.round(1).tolist()) for window in series]
    [('canal window', 'clear', [5.5]), ('canal window', 'overcast', [4.4])]
    """
    by_sky = [
        level_series(location, setups, skies(location, moments, weather)) for weather in weathers
    ]
    return [
        window
        for setup in setups
        for under_skies in zip(*(series[setup.name].by_window() for series in by_sky), strict=True)
        for window in under_skies
    ]


def chart_moments(start_s: float, end_s: float) -> list[float]:
    """Moments for a drawn line from start to end, both among them, seconds since 1970 UTC.

    >>> chart_moments(0.0, 1500.0)
    [0.0, 500.0, 1000.0, 1500.0]
    """
    count = max(2, math.ceil((end_s - start_s) / CHART_STEP_S) + 1)
    moments: list[float] = np.linspace(start_s, end_s, count).tolist()
    return moments


def windows(location: Location, setup: ResolvedSetup, room: Beam) -> list[Window]:
    """All openings of a room as a setup's camera sees them, in frame or not, (O,)."""
    scene, face = exterior_scene(location, room.room), face_point(room.room, setup.at_mark)
    return [window(room, setup.view, index, scene, face) for index in range(len(room.apertures))]


def _stops(level: Floats, reference: float) -> Floats:
    with np.errstate(divide="ignore"):
        return np.maximum(np.log2(level / reference), DARK_STOPS)
