"""How bright do windows get between two moments, and how dark; how much daylight reaches the face?

Whoever asks about a stretch of time gets the same answer, and a part of it is never brighter than
the whole: levels are looked at at moments of the clock that hang on nobody's question. Those are
every whole minute, every five seconds about a minute at which a window's level turns, and the
stretch's own ends. Whole minutes alone miss at most 0.05 stops of the brightest and 0.13 of the
darkest on the demos, looked at every five seconds.

Daylight on the face comes straight at every whole minute; what the room throws about is worked out
every five minutes, in proportion to the sky's level, and read linearly between.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..light.daylight import Skies, Sky, Weather, skies
from ..light.face import Faces, faces_by_room
from ..light.level_series import LevelSeries, Reading, level_series
from ..light.resolved import ResolvedSetup
from ..light.sun_interpolator import SunInterpolator
from ..location.read import Location
from ..room.beam import Beam
from ..room.entry import SunTests
from ..sun.local_time import MINUTE_S
from ..sun.position import Floats
from ..sun.search import Bools
from ..sun.track import track_over
from .window_treatment import WindowLevels

FINE_S = 5.0  # about a turn of a window's level
ROOM_S = 300.0  # between moments at which the room's own light is worked out
TURN_STOPS = 1e-3  # a level that turns by less is smooth: nothing rises between the minutes


@dataclass(frozen=True, eq=False)
class StretchLevels:
    """A setup's light over a span of time under some skies, before anything is hung.

    Stretches that it is asked about lie within the span and start and end where it was told.

    Attributes
    ----------
    setup, room
        The setup, and the light of its room.
    by_minute
        A series a sky, at whole minutes and at the ends of the stretches.
    fine
        The windows alone at moments between, a series a sky; empty where no level turns.
    sunlit
        Through which openings direct sun comes at the moments of `by_minute`, (T, O).
    """

    setup: ResolvedSetup
    room: Faces
    by_minute: tuple[LevelSeries, ...]
    fine: tuple[LevelSeries, ...]
    sunlit: Bools

    @property
    def allowed_fill_lux(self) -> float:
        """The most daylight that the look leaves the fill side at the setup's exposure, lx."""
        return self.by_minute[0].allowed_fill_lux

    def windows(self, start_s: Floats, end_s: Floats) -> WindowLevels:
        """How bright and how dark the windows in frame get in some stretches.

        Parameters
        ----------
        start_s, end_s
            Their ends, seconds since 1970 UTC, (N,) each.

        Returns
        -------
        (N, W): what the rule is asked about.
        """

        def extremes(values: Callable[[LevelSeries], Floats]) -> tuple[Floats, Floats]:
            return self._over(values, start_s, end_s, np.max), self._over(
                values, start_s, end_s, np.min
            )

        def sun(series: LevelSeries) -> Floats:
            return series.sun_in_frame.astype(np.float64)

        return WindowLevels(
            *extremes(lambda series: series.stops),
            self._over(sun, start_s, end_s, np.max).astype(bool),
            lambda: extremes(lambda series: series.hung_stops),
        )

    def off_stops(self, start_s: Floats, end_s: Floats, *, most_stops: float) -> Floats:
        """How far all windows together are off their bands at each stretch's worst, stops, (N,).

        A window counts at most `most_stops`, and as much where the sun stands in it.
        """

        def off(series: LevelSeries) -> Floats:
            by_window = np.where(
                series.sun_in_frame, most_stops, series.over_stops + series.under_stops
            )
            together: Floats = np.minimum(by_window, most_stops).sum(axis=1)
            return together

        return self._over(off, start_s, end_s, np.max)

    def left_stops(
        self, taken_stops: Floats, start_s: float, end_s: float, *, most_stops: float
    ) -> Floats:
        """How far each window is outside its band in the mean of a stretch's time, stops, (W,).

        Too dark counts as too bright does, except where black reads; the worst sky counts.

        Parameters
        ----------
        taken_stops
            What gel and the exposure take from each, (W,).
        start_s, end_s
            The stretch, seconds since 1970 UTC.
        most_stops
            What a window counts at most, and where the sun stands in it.
        """
        by_sky = []
        for series in self.by_minute:
            rows = _within(series, start_s, end_s)
            level, (low, high) = series.stops[rows] - taken_stops, series.bands.T
            under = np.zeros_like(level) if series.look.black_reads else low - level
            off = np.clip(np.maximum(level - high, under), 0.0, most_stops)
            off = np.where(series.sun_in_frame[rows], most_stops, off)
            by_sky.append(_mean(off, series.moments[rows]))
        worst: Floats = np.max(by_sky, axis=0)
        return worst

    def sun_altitude_deg(self, moment_s: float) -> float:
        """The sun's altitude at the whole minute of a moment, degrees."""
        series = self.by_minute[0]
        row = int(np.searchsorted(series.moments, moment_s - 1e-3))
        return float(series.skies[row].sun_altitude_deg)

    def fill_lux(self, start_s: float, end_s: float) -> Floats:
        """What each opening gives the fill side, lx, (M, O): sky by sky, minute by minute."""
        return np.concatenate(
            [series.fill_lux[_within(series, start_s, end_s)] for series in self.by_minute]
        )

    def ratio(self, opening_shares: Floats, start_s: float, end_s: float) -> tuple[float, Sky]:
        """The least (key + fill) : fill of a stretch, and the minute and sky that it is under.

        Parameters
        ----------
        opening_shares
            The share of its light that each opening is left, (O,).
        start_s, end_s
            The stretch, seconds since 1970 UTC.
        """
        by_sky = []
        for series in self.by_minute:
            rows = _within(series, start_s, end_s)
            daylight = np.einsum("tos,o->ts", series.sides_lux[rows], opening_shares)
            ratios = self.room.ratios(self.setup, daylight)
            row = int(ratios.argmin())
            by_sky.append((float(ratios[row]), series.skies[rows.start + row]))
        return min(by_sky, key=lambda pair: pair[0])

    def sun_comes_in(self, start_s: float, end_s: float) -> Bools:
        """Through which openings direct sun comes at any time of a stretch, (O,)."""
        rows = _within(self.by_minute[0], start_s, end_s)
        return np.asarray(self.sunlit[rows].any(axis=0))

    def _over(
        self,
        values: Callable[[LevelSeries], Floats],
        start_s: Floats,
        end_s: Floats,
        reduce: Callable[..., Floats],
    ) -> Floats:
        """The most or the least of values (T, ...) in each stretch, (N, ...)."""
        levels = [(series, values(series)) for series in (*self.by_minute, *self.fine)]
        extremes = []
        for stretch in zip(start_s.tolist(), end_s.tolist(), strict=True):
            rows = [level[_within(series, *stretch)] for series, level in levels]
            extremes.append(reduce(np.concatenate(rows), axis=0))
        return np.array(extremes)


def _mean(values: Floats, moments: Floats) -> Floats:
    """The mean of values (T, ...) over the time between moments (T,), straight between them."""
    if len(moments) == 1:
        first: Floats = values[0]
        return first
    mean: Floats = np.trapezoid(values, moments, axis=0) / (moments[-1] - moments[0])
    return mean


def _within(series: LevelSeries, start_s: float, end_s: float) -> slice:
    first, last = np.searchsorted(series.moments, (start_s - 1e-3, end_s + 1e-3))
    return slice(int(first), int(last))


def stretch_levels(
    location: Location,
    setups: Sequence[ResolvedSetup],
    rooms: Sequence[Faces],
    ends_s: Sequence[float],
    weathers: Sequence[Weather],
) -> list[StretchLevels]:
    """The light of setups over a span of time, for questions about its stretches.

    Parameters
    ----------
    location
        The place.
    setups
        Those that will be asked about.
    rooms
        The light of their rooms, with the setups' faces among its own.
    ends_s
        The starts and ends of all stretches that will be asked about, seconds since 1970 UTC.
    weathers
        The skies that a stretch must be met under, all of them.

    Returns
    -------
    One a setup, in the order given.

    Raises
    ------
    ValueError
        If `ends_s` is empty.

    Examples
    --------
    >>> from sunplan import read
    >>> from sunplan.light.face import faces
    >>> from sunplan.light.resolved import resolve
    >>> house = read("locations/lock-house.toml")
    >>> coffee = resolve(house)[1]
    >>> ends = [1805562000.0, 1805565600.0]  # 18:00 to 19:00
    >>> (light,) = stretch_levels(house, [coffee], faces(house, [coffee]), ends, [Weather()])
    >>> levels = light.windows(np.array(ends[:1]), np.array(ends[1:]))
    >>> levels.brightest.round(1).tolist(), levels.darkest.round(1).tolist()
    ([[5.5]], [[1.1]])
    """
    start, end = min(ends_s), max(ends_s)
    minutes = _whole(start - MINUTE_S, end + MINUTE_S, MINUTE_S)  # one more at each end, for turns
    moments = np.unique([*minutes, *ends_s])
    series, fine = [], []
    for weather in weathers:
        above = skies(location, moments.tolist(), weather)
        reading = _every_few_minutes(location, above, weather)
        lit = level_series(location, setups, above, rooms=rooms, room_reading=reading)
        series.append(lit)
        fine.append(_fine(location, lit, minutes, weather))
    return _by_setup(location, setups, rooms, moments, series, fine)


def levels_by_sun(
    location: Location,
    setups: Sequence[ResolvedSetup],
    rooms: Sequence[Faces],
    moments: Floats,
    weathers: Sequence[Weather],
) -> list[StretchLevels]:
    """The same for many dates: only at the moments given, read off a grid of the sun's places.

    Parameters
    ----------
    moments
        Rising, seconds since 1970 UTC, (T,); every start and every end among them.
    """
    series = []
    for weather in weathers:
        above = skies(location, moments.tolist(), weather)
        read = SunInterpolator(location, above).read
        series.append(
            level_series(location, setups, above, rooms=rooms, reading=read, room_reading=read)
        )
    return _by_setup(location, setups, rooms, moments, series)


def _by_setup(
    location: Location,
    setups: Sequence[ResolvedSetup],
    rooms: Sequence[Faces],
    moments: Floats,
    series: Sequence[Mapping[str, LevelSeries]],
    fine: Sequence[Mapping[str, LevelSeries]] = (),
) -> list[StretchLevels]:
    """Series a sky as they belong to setups, with the sun through the openings at the moments."""
    light = faces_by_room(rooms)
    sunlit = {name: _sunlit(location, light[name].transfer.beam, moments) for name in light}
    return [
        StretchLevels(
            setup,
            light[setup.room],
            tuple(by_setup[setup.name] for by_setup in series),
            tuple(by_setup[setup.name] for by_setup in fine if setup.name in by_setup),
            sunlit[setup.room],
        )
        for setup in setups
    ]


def _whole(start_s: float, end_s: float, step_s: float) -> Floats:
    """All moments from start to end that are whole steps since 1970."""
    steps = np.arange(np.ceil(start_s / step_s - 1e-9), np.floor(end_s / step_s + 1e-9) + 1)
    whole: Floats = step_s * steps
    return whole


def _fine(
    location: Location, series: Mapping[str, LevelSeries], minutes: Floats, weather: Weather
) -> dict[str, LevelSeries]:
    """Series about the minutes at which a level turns, of the setups of which one does."""
    about = {name: _about_turns(by_minute, minutes) for name, by_minute in series.items()}
    moments = np.unique(np.concatenate([*about.values()]))
    if not len(moments):
        return {}
    above = skies(location, moments.tolist(), weather)
    fine: dict[str, LevelSeries] = {}
    for name, own in about.items():
        if len(own):
            own_skies = above[np.searchsorted(moments, own)]
            fine |= level_series(location, [series[name].setup], own_skies)
    return fine


def _about_turns(series: LevelSeries, minutes: Floats) -> Floats:
    """Moments between the minutes at which a window's level turns and those beside them."""
    step = np.diff(series.stops[np.isin(series.moments, minutes)], axis=0)
    steeper = np.abs(step[:-1]).clip(min=np.abs(step[1:]))
    turns = (step[:-1] * step[1:] <= 0) & (steeper > TURN_STOPS)
    between = np.arange(-MINUTE_S + FINE_S, MINUTE_S, FINE_S)
    middles = minutes[1:-1][turns.any(axis=1)]
    moments: Floats = np.unique(middles[:, None] + between[between != 0.0])
    return moments


def _every_few_minutes(location: Location, above: Skies, weather: Weather) -> Reading:
    """Reads light that a room throws about off moments farther apart than those of some skies."""
    moments = np.array([sky.unix_s for sky in above])
    first = ROOM_S * np.floor(moments[0] / ROOM_S)
    knots = _whole(first, moments[-1] + ROOM_S, ROOM_S)
    fewer = skies(location, knots.tolist(), weather)

    def read(levels: Callable[[Skies], Floats]) -> Floats:
        from scipy.interpolate import RegularGridInterpolator

        at_knots = levels(fewer)
        shape = (-1, *(1,) * (at_knots.ndim - 1))
        relative = at_knots / fewer.diffuse_horizontal_lux.reshape(shape)
        lit: Floats = RegularGridInterpolator((knots,), relative)(moments[:, None])
        return lit * above.diffuse_horizontal_lux.reshape(shape)

    return read


def _sunlit(location: Location, room: Beam, moments: Floats) -> Bools:
    """Through which openings direct sun comes at moments, (T, O)."""
    tests = SunTests(location, track_over(location, moments[0], moments[-1]))
    grid = tests.grid(moments)
    sunlit = np.zeros((len(moments), len(room.apertures)), dtype=bool)
    for index in range(len(room.apertures)):
        sunlit[grid.rows, index] = room.passes(index, grid.suns)
    return sunlit
