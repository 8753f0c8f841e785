"""What can be said of a setup at quarter hours, and the stretches in which the same holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from functools import cached_property

import numpy as np

from ..light.daylight import Weather, skies
from ..light.face import Faces
from ..light.level_series import LevelSeries, level_series
from ..light.look import Look, over
from ..light.resolved import ResolvedSetup
from ..light.sun_interpolator import SunInterpolator
from ..location.read import Location
from ..rig.stretch_levels import StretchLevels
from ..rig.window_treatment import DRESSING, Decisions, WindowRule, levels_at
from ..sun.local_time import QUARTER_S, clock_to_unix, even_moments
from ..sun.position import Floats
from ..sun.search import Bools, Indices
from .rigging_plan import DARK_FROM, MOST_STOPS, STOP_MINUTES, UNMET_STOPS
from .runs import Extent, Runs, doing
from .stretch import PATCH_STOPS, Stretch, WindowFact
from .sun_odds import Odds
from .sunlight import Sunlight, sunlight

MARK_STOPS = 2.0  # what sun on the mark counts as, a flag's work; a choice, no source
MOST_EXACT = 1000  # moments; for more, light is read off a grid of the sun's places


@dataclass(frozen=True, eq=False)
class QuarterHours:
    """A setup at quarter hours (T,), seconds since 1970 UTC; `day` (T,) counts dates.

    `levels` is its light under the sky that is looked at, `other_levels` under the one to compare
    with; `sunny`: the sun shines in the first, and not in the other. `spare_stops` is what its key
    gives more than the exposure asks.
    """

    setup: ResolvedSetup
    moments: Floats
    day: Indices
    sunlight: Sunlight
    levels: LevelSeries
    other_levels: LevelSeries
    sunny: bool
    spare_stops: float

    def lose_stops(self) -> Floats:
        """How many stops its windows must lose together, (T,); NaN where one is too dark.

        Without a window in frame: what daylight fills the face's darker side over its look.
        """
        levels = self.levels
        if not levels.windows:
            return np.clip(levels.fill_stops - levels.look.fill[1], 0.0, MOST_STOPS)
        total: Floats = np.minimum(levels.over_stops, MOST_STOPS).sum(axis=1)
        return np.where((levels.under_stops > 0).any(axis=1), np.nan, total)


def calendar(
    location: Location, first: date, last: date, between: tuple[time, time]
) -> tuple[list[float], list[int]]:
    """All quarter hours between two clock times of a span of dates.

    Returns
    -------
    tuple of (list of float, list of int)
        Seconds since 1970 UTC, and the number of their date, the first 0.

    Examples
    --------
    >>> from sunplan import read
    >>> house, day = read("locations/lock-house.toml"), date(2027, 3, 20)
    >>> moments, number = calendar(house, day, day + timedelta(1), (time(12), time(13)))
    >>> len(moments), number
    (10, [0, 0, 0, 0, 0, 1, 1, 1, 1, 1])
    """
    moments: list[float] = []
    day: list[int] = []
    for ahead in range((last - first).days + 1):
        start, end = (
            clock_to_unix(first + timedelta(days=ahead), clock, location.timezone)
            for clock in between
        )
        of_date = even_moments(start, end, QUARTER_S)
        moments += of_date
        day += [ahead] * len(of_date)
    return moments, day


def quarter_hours(
    location: Location,
    rooms: Sequence[Faces],
    setups: Sequence[ResolvedSetup],
    moments: Sequence[float],
    day: Sequence[int],
    weathers: tuple[Weather, Weather],
    tell: Callable[[str], None] = lambda _: None,
) -> list[QuarterHours]:
    """Setups at moments under the sky to look at and the one to compare with.

    Parameters
    ----------
    rooms
        The light of the setups' rooms.
    moments
        Seconds since 1970 UTC, (T,), rising; of more than `MOST_EXACT` the light is read off a
        grid of the sun's places.
    day
        The number of each moment's date, (T,).
    tell
        Hears what is worked on.

    Returns
    -------
    list of QuarterHours
        One a setup, in their order.
    """
    times = np.array(moments)
    many = len(moments) > MOST_EXACT
    tell("sun on marks")
    suns = sunlight(location, rooms, times, coarse=many)
    by_sky = []
    for weather in weathers:
        sky = skies(location, moments, weather)
        reading = SunInterpolator(location, sky).read if many else None
        by_sky.append(
            level_series(location, setups, sky, rooms=rooms, reading=reading, room_reading=reading)
        )
        for room in rooms:
            tell(f"light: {room.transfer.beam.room.name}")
    room_of = {setup.name: room for room in rooms for setup in room.setups}
    return [
        QuarterHours(
            setup,
            times,
            np.array(day),
            suns[setup.name],
            by_sky[0][setup.name],
            by_sky[1][setup.name],
            sunny=shines(weathers[0]),
            spare_stops=room_of[setup.name].spare_stops(setup),
        )
        for setup in setups
    ]


def shines(weather: Weather) -> bool:
    """Whether a sky shows the sun.

    >>> shines(Weather("hazy")), shines(Weather("overcast"))
    (True, False)
    """
    return weather.name != "overcast"


@dataclass(frozen=True, eq=False)
class HourFacts:
    """What can be said of a setup at all its quarter hours; days are counted from `first`.

    `light` is its light from minute to minute of the sky that is looked at; without it what lies
    between quarter hours is not looked at.
    """

    location: Location
    quarters: QuarterHours
    first: date
    odds: Odds | None = None
    light: StretchLevels | None = None

    @cached_property
    def sun(self) -> Sunlight:
        """Direct sun under the sky that is looked at."""
        shining = self.quarters.sunlight
        return shining if self.quarters.sunny else shining.clouded()

    @property
    def look(self) -> Look:
        """The setup's look."""
        return self.quarters.levels.look

    @cached_property
    def rule(self) -> WindowRule:
        """What its windows are held against."""
        return WindowRule.of(self.quarters.levels, spare_stops=self.quarters.spare_stops)

    @cached_property
    def decisions(self) -> Decisions:
        """What the windows need at each moment."""
        return self.rule.decide(levels_at(self.quarters.levels))

    @cached_property
    def fill_fits(self) -> Bools:
        """Whether daylight leaves the face's darker side as dark as the look wants it, (T,)."""
        fits: Bools = self.quarters.levels.fill_stops <= self.look.fill[1]
        return fits

    def terms(self, levels: LevelSeries, *, sunny: bool) -> list[tuple[str, Floats]]:
        """What each quarter hour counts as, about, in minutes, (T,) by reason.

        A first look, before what must be rigged; `sunny`: with what direct sun does.
        """
        sun = self.quarters.sunlight
        lose = np.where(levels.sun_in_frame, MOST_STOPS, np.minimum(levels.over_stops, MOST_STOPS))
        dark = (levels.under_stops > DARK_FROM).any(axis=1)
        fill = np.clip(levels.fill_stops - self.look.fill[1], 0.0, MOST_STOPS)
        terms = [
            ("windows", STOP_MINUTES * lose.sum(axis=1)),
            ("too dark", STOP_MINUTES * UNMET_STOPS * dark),
            ("fill side", STOP_MINUTES * fill),
        ]
        if sunny:
            terms += [
                ("sun on the mark", STOP_MINUTES * MARK_STOPS * sun.on_mark.sum(axis=1)),
                ("sun patch", STOP_MINUTES * PATCH_STOPS * (sun.in_frame | sun.behind)),
            ]
        return terms

    @cached_property
    def sky_share(self) -> Floats | None:
        """Share of days on which the sky is as it is looked at, (T,); None where not known."""
        if self.odds is None:
            return None
        sun = self.odds.share(self.quarters.moments)
        return sun if self.quarters.sunny else 1.0 - sun

    @cached_property
    def other_minutes(self) -> Floats:
        """What each quarter hour counts as under the other sky, about, (T,)."""
        quarters = self.quarters
        terms = self.terms(quarters.other_levels, sunny=not quarters.sunny)
        total: Floats = np.sum([minutes for _, minutes in terms], axis=0)
        return total

    @cached_property
    def other_off(self) -> Floats:
        """The stops that all windows are off together under the other sky, (T,)."""
        other = self.quarters.other_levels
        total: Floats = (other.over_stops + other.under_stops).sum(axis=1)
        return total

    def stretches(self) -> list[Stretch]:
        """All stretches, as long as the same holds, date by date; they may overlap."""
        start, last, extent = Runs(self.rule, *self._extents(), self._parts()).longest()
        levels = replace(extent.windows, hung=lambda: self._hung(start, last))
        decisions = self.rule.decide(levels)
        return [
            self._stretch(slice(first, end + 1), decisions, row)
            for row, (first, end) in enumerate(zip(start.tolist(), last.tolist(), strict=True))
        ]

    def _parts(self) -> list[tuple[int, int]]:
        """Where the same is said of sun and face, and the same is done about each window."""
        sun = self.sun
        same = np.column_stack(
            (
                self.quarters.day,
                sun.on_mark,
                sun.behind,
                sun.in_frame,
                doing(self.decisions),
                self.fill_fits,
            )
        ).astype(np.intp)
        breaks = np.flatnonzero((same[1:] != same[:-1]).any(axis=1)) + 1
        return list(zip([0, *breaks.tolist()], [*breaks.tolist(), len(same)], strict=True))

    def _extents(self) -> tuple[Extent, Extent]:
        """What windows and face do at each quarter hour (T), and from each to the next (T − 1)."""
        levels, moments = self.quarters.levels, self.quarters.moments
        # Dressings are asked for only where all else fails.
        dressed = (self.decisions.action >= DRESSING).any()
        hung = levels.hung_stops if dressed else np.zeros((*levels.stops.shape, 0))
        over_fill = ~self.fill_fits
        sun = levels.sun_in_frame
        moments_alone = Extent((levels.stops, -levels.stops, sun, over_fill, hung, -hung))
        if self.light is None:
            return moments_alone, moments_alone[:-1].joined(moments_alone[1:])
        between = self.light.windows(moments[:-1], moments[1:])
        brightest, darkest = between.hung() if dressed else (hung[1:], hung[1:])
        fill = [
            self.light.fill_lux(start, end).sum(axis=1).max()
            for start, end in zip(moments[:-1].tolist(), moments[1:].tolist(), strict=True)
        ]
        over_fill = np.array(fill).reshape(-1) > self.light.allowed_fill_lux
        stops, sun = (between.brightest, -between.darkest), between.sun_in_frame
        return moments_alone, Extent((*stops, sun, over_fill, brightest, -darkest))

    def _hung(self, start: Indices, last: Indices) -> tuple[Floats, Floats]:
        """Where windows sit with each dressing through runs (N), brightest and darkest."""
        quarters = self.quarters
        if self.light is not None:
            return self.light.windows(quarters.moments[start], quarters.moments[last]).hung()
        rows = [slice(*ends) for ends in zip(start.tolist(), (last + 1).tolist(), strict=True)]
        hung = quarters.levels.hung_stops
        return np.array([hung[row].max(axis=0) for row in rows]), np.array(
            [hung[row].min(axis=0) for row in rows]
        )

    def _stretch(self, chosen: slice, decisions: Decisions, row: int) -> Stretch:
        quarters, sun, first = self.quarters, self.sun, chosen.start
        levels = quarters.levels
        start, end = float(quarters.moments[chosen][0]), float(quarters.moments[chosen][-1])
        names = [opening.name for opening in quarters.setup.in_room.opening]
        since, until = self._sun_beside(names, first, start, end)
        # Windows (W) at their darkest and brightest, (2, W).
        stops = np.stack((decisions.levels.darkest[row], decisions.levels.brightest[row]))
        over_stops = over(stops, self.rule.low, self.rule.high)
        return Stretch(
            setup=quarters.setup,
            day=self.first + timedelta(days=int(quarters.day[first])),
            start_s=start,
            end_s=end,
            on_mark=tuple(name for name, lit in zip(names, sun.on_mark[first], strict=True) if lit),
            behind=bool(sun.behind[first]),
            in_frame=bool(sun.in_frame[first]),
            windows=tuple(
                WindowFact(
                    opening=seen.opening.name,
                    stops=_pair(stops[:, column]),
                    over_stops=_pair(over_stops[:, column]),
                    treatment=decisions.treatment(row, column),
                )
                for column, seen in enumerate(levels.windows)
            ),
            fill_stops=_ends(levels.fill_stops[chosen]),
            fill_fits=bool(self.fill_fits[first]),
            since_s=since,
            until_s=until,
            other_off=_ends(self.other_off[chosen]),
            sky_share=None if self.sky_share is None else float(self.sky_share[chosen].mean()),
            other_minutes=float(self.other_minutes[chosen].mean()),
        )

    def _sun_beside(
        self, names: Sequence[str], row: int, start_s: float, end_s: float
    ) -> tuple[dict[str, float], dict[str, float]]:
        """When sun on the mark went last and comes next on a row's date, by opening."""
        that_day = self.quarters.moments[self.quarters.day == self.quarters.day[row]]
        since: dict[str, float] = {}
        until: dict[str, float] = {}
        for name, spans in zip(names, self.sun.spans, strict=True):
            before = [last for _, last in spans if that_day[0] <= last <= start_s]
            after = [begin for begin, _ in spans if end_s <= begin <= that_day[-1]]
            since |= {name: max(before)} if before else {}
            until |= {name: min(after)} if after else {}
        return since, until


def _ends(values: Floats) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def _pair(values: Floats) -> tuple[float, float]:
    return float(values[0]), float(values[1])
