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

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..light.daylight import Skies, Weather, skies
from ..light.face import Faces
from ..light.level_series import LevelSeries, Reading, level_series
from ..light.meter import key_lux
from ..light.resolved import ResolvedSetup
from ..location.read import Location
from ..room.beam import Beam
from ..room.entry import SunTests
from ..sun.position import Floats
from ..sun.search import Bools
from ..sun.track import track_over
from .window_treatment import WindowLevels

MINUTE_S = 60.0
FINE_S = 5.0  # about a turn of a window's level
ROOM_S = 300.0  # between moments at which the room's own light is worked out
TURN_STOPS = 1e-3  # a level that turns by less is smooth: nothing rises between the minutes


@dataclass(frozen=True, eq=False)
class StretchLevels:
    """A setup's light over a span of time under some skies, before anything is hung.

    `by_minute` has a series a sky, at whole minutes and at the ends of what is asked; `fine` one a
    sky at the moments between, its windows alone. `sunlit` (T, O): through which openings direct
    sun comes at the moments of `by_minute`.
    """

    setup: ResolvedSetup
    room: Faces
    by_minute: tuple[LevelSeries, ...]
    fine: tuple[LevelSeries, ...]
    sunlit: Bools

    @property
    def lamp_lux(self) -> Floats:
        """What the key gives the two sides of the face, (2,)."""
        sides: Floats = self.room.lamp_lux[self.room.index(self.setup)][:2]
        return sides

    @property
    def allowed_fill_lux(self) -> float:
        """The daylight that the look leaves the fill side at the setup's own exposure."""
        look = self.by_minute[0].look
        return float(key_lux(self.setup.exposure) * 2.0 ** look.fill[1])

    def windows(self, start_s: Floats, end_s: Floats) -> WindowLevels:
        """The windows in frame (W) through stretches (N): what the rule is asked about."""

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

    def off_stops(self, start_s: float, end_s: float, *, most_stops: float) -> float:
        """How far all windows are off their bands together at the worst moment.

        A window counts at most `most_stops`, and as much where the sun stands in it.
        """

        def off(series: LevelSeries) -> Floats:
            total = np.where(
                series.sun_in_frame, most_stops, series.over_stops + series.under_stops
            )
            summed: Floats = np.minimum(total, most_stops).sum(axis=1)
            return summed

        worst = self._over(off, np.array([start_s]), np.array([end_s]), np.max)
        return float(worst[0])

    def fill_lux(self, start_s: float, end_s: float) -> Floats:
        """What each opening gives the fill side, minute by minute and sky by sky, (M, O)."""
        return np.concatenate(
            [series.fill_lux[_within(series, start_s, end_s)] for series in self.by_minute]
        )

    def ratio(self, opening_shares: Floats, start_s: float, end_s: float) -> float:
        """The least (key + fill) : fill, by the shares of light that openings are left, (O,)."""
        sides = np.concatenate(
            [series.sides_lux[_within(series, start_s, end_s)] for series in self.by_minute]
        )
        both = np.einsum("tos,o->ts", sides, opening_shares) + self.lamp_lux
        least = np.maximum(both.min(axis=-1), 1e-9)
        return float((both.max(axis=-1) / least).min())

    def sun_comes_in(self, start_s: float, end_s: float) -> Bools:
        """Through which openings direct sun comes at any time, (O,)."""
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
        series = [each for each in (*self.by_minute, *self.fine) if len(each.skies)]
        known = [(each, values(each)) for each in series]
        found = []
        for stretch in zip(start_s.tolist(), end_s.tolist(), strict=True):
            rows = [level[_within(each, *stretch)] for each, level in known]
            found.append(reduce(np.concatenate(rows), axis=0))
        return np.array(found)


def _within(series: LevelSeries, start_s: float, end_s: float) -> slice:
    first, last = np.searchsorted(series.moments, (start_s - 1e-3, end_s + 1e-3))
    return slice(int(first), int(last))


def stretch_levels(
    location: Location,
    setups: Sequence[ResolvedSetup],
    room: Faces,
    ends_s: Sequence[float],
    weathers: Sequence[Weather],
) -> list[StretchLevels]:
    """The light of setups in one room from the first to the last of some moments.

    `ends_s` are the starts and ends of all stretches that will be asked for, seconds since 1970
    UTC; `room` is the light of the setups' room.
    """
    start, end = min(ends_s), max(ends_s)
    minutes = _whole(start - MINUTE_S, end + MINUTE_S, MINUTE_S)  # one more at each end, for turns
    moments = np.unique([*minutes, *ends_s])
    series = [
        level_series(
            location,
            setups,
            skies(location, moments.tolist(), weather),
            rooms=[room],
            room_reading=_every_few_minutes(location, moments, weather),
        )
        for weather in weathers
    ]
    fine = [
        _fine(location, found, minutes, weather)
        for found, weather in zip(series, weathers, strict=True)
    ]
    sunlit = _sunlit(location, room.transfer.beam, moments)
    return [
        StretchLevels(
            setup,
            room,
            tuple(found[setup.name] for found in series),
            tuple(found[setup.name] for found in fine if found),
            sunlit,
        )
        for setup in setups
    ]


def _whole(start_s: float, end_s: float, step_s: float) -> Floats:
    """All moments from start to end that are whole steps since 1970."""
    steps = np.arange(np.ceil(start_s / step_s - 1e-9), np.floor(end_s / step_s + 1e-9) + 1)
    whole: Floats = step_s * steps
    return whole


def _fine(
    location: Location, series: dict[str, LevelSeries], minutes: Floats, weather: Weather
) -> dict[str, LevelSeries]:
    """Series about the minutes at which a level turns; none where none does."""
    first = next(iter(series.values()))
    rows = np.isin(first.moments, minutes)
    between = np.arange(-MINUTE_S + FINE_S, MINUTE_S, FINE_S)
    found: set[float] = set()
    for each in series.values():
        step = np.diff(each.stops[rows], axis=0)
        turns = (step[:-1] * step[1:] <= 0) & (
            np.abs(step[:-1]).clip(min=np.abs(step[1:])) > TURN_STOPS
        )
        middles = minutes[1:-1][turns.any(axis=1)]
        found.update((middles[:, None] + between[between != 0.0]).ravel().tolist())
    if not found:
        return {}
    setups = [each.setup for each in series.values()]
    return level_series(location, setups, skies(location, sorted(found), weather))


def _every_few_minutes(location: Location, moments: Floats, weather: Weather) -> Reading:
    """Reads light that a room throws about off moments farther apart."""
    first = ROOM_S * np.floor(moments[0] / ROOM_S)
    knots = _whole(first, moments[-1] + ROOM_S, ROOM_S)

    def read(levels: Callable[[Skies], Floats]) -> Floats:
        from scipy.interpolate import RegularGridInterpolator

        above = skies(location, knots.tolist(), weather)
        at_knots = levels(above)
        shape = (-1, *(1,) * (at_knots.ndim - 1))
        relative = at_knots / above.diffuse_horizontal_lux.reshape(shape)
        lit: Floats = RegularGridInterpolator((knots,), relative)(moments[:, None])
        now = skies(location, moments.tolist(), weather).diffuse_horizontal_lux
        return lit * now.reshape(shape)

    return read


def _sunlit(location: Location, room: Beam, moments: Floats) -> Bools:
    """Through which openings direct sun comes at moments, (T, O)."""
    tests = SunTests(location, track_over(location, moments[0], moments[-1]))
    net = tests.grid(moments)
    found = np.zeros((len(moments), len(room.apertures)), dtype=bool)
    for index in range(len(room.apertures)):
        found[net.rows, index] = room.passes(index, net.suns)
    return found
