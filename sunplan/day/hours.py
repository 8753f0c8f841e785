"""Which hours: for each setup the stretches of some dates in which nature does most of the work.

All quarter hours are looked at. A stretch is a run of them in which the same can be said: which sun
falls where, what brings each window in frame into its look, whether daylight leaves the shadows
alone. It is as long as that holds. The dates of the best are looked at again from minute to minute.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, time
from pathlib import Path

from ..light.daylight import Weather
from ..light.face import Faces, faces
from ..light.resolved import ResolvedSetup
from ..location.model import Exterior
from ..location.read import Location
from ..location.tolerances import unsure
from ..rig.flags import setup_flags
from ..rig.stretch_levels import StretchLevels, stretch_levels
from ..room.best_measurement import BestMeasurement
from ..room.sun_check import SunCheck, sun_check
from ..sun.local_time import MINUTE_S, to_local
from .dusk import Dusk, dusks
from .exterior import ExteriorDay, exterior_day
from .quarter_hours import HourFacts, QuarterHours, calendar, quarter_hours, shines
from .rigging_plan import rigging_plan
from .stretch import Stretch
from .sun_odds import Odds, odds_of
from .tolerance import Shown, firm, measure_first

TRIED = 4  # times as many stretches as are wanted are looked at closely


@dataclass(frozen=True, eq=False)
class SetupHours:
    """A setup's quarter hours and its best stretches, the best first."""

    quarters: QuarterHours
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, eq=False)
class Hours:
    """The hours of a span of dates: setups indoors with their stretches, dusks, setups outdoors.

    Setups outdoors are those of the span's first and last date. `odds` are None where no weather
    file was given, `measure_first` where no measurement would make sun on the marks surer.
    """

    setups: list[SetupHours]
    dusks: list[Dusk]
    exteriors: dict[date, list[ExteriorDay]]
    odds: Odds | None
    measure_first: BestMeasurement | None


def all_hours(
    location: Location,
    indoors: Sequence[ResolvedSetup],
    outdoors: Sequence[Exterior],
    first: date,
    last: date,
    *,
    between: tuple[time, time],
    weathers: tuple[Weather, Weather],
    best: int,
    weather_file: Path | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> Hours:
    """All that is to be said of the hours of a span of dates.

    Parameters
    ----------
    indoors, outdoors
        Setups; either may be empty.
    first, last
        The span's local dates.
    between, weathers, best, tell
        As `hours` takes them.
    weather_file
        An EPW or TMY3 file, for how often the sun shines.

    Raises
    ------
    InputError
        Where the weather file is not one.

    Examples
    --------
    >>> from sunplan import read
    >>> house, day = read("locations/lock-house.toml"), date(2027, 3, 20)
    >>> skies, noon = (Weather("clear"), Weather("overcast")), (time(12), time(14))
    >>> lock = all_hours(
    ...     house, [], house.exterior, day, day, between=noon, weathers=skies, best=1
    ... )
    >>> [exterior.exterior.name for exterior in lock.exteriors[day]], lock.setups
    (['the lock at night'], [])
    """
    odds = None if weather_file is None else odds_of(weather_file, location)
    ranked = hours(
        location,
        indoors,
        first,
        last,
        between=between,
        weathers=weathers,
        best=best,
        odds=odds,
        tell=tell,
    )
    ends = dict.fromkeys((first, last) if outdoors else ())
    return Hours(
        setups=ranked,
        dusks=dusks(location, indoors, first, last, weathers),
        exteriors={day: [exterior_day(location, setup, day) for setup in outdoors] for day in ends},
        odds=odds,
        measure_first=measure_first(location, first, indoors),
    )


def hours(
    location: Location,
    setups: Sequence[ResolvedSetup],
    first: date,
    last: date,
    *,
    between: tuple[time, time],
    weathers: tuple[Weather, Weather],
    best: int,
    odds: Odds | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> list[SetupHours]:
    """Rank the hours of a span of dates, between two clock times, for each setup.

    Parameters
    ----------
    weathers
        The sky to look at and one to compare with, one of them without sun.
    best
        How many stretches of each setup; of those alike the best.
    odds
        How often the sun shines: then both skies count by that.
    tell
        Hears what is worked on, `steps` times.

    Returns
    -------
    list of SetupHours
        One a setup, in their order.

    Examples
    --------
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> house = read("locations/lock-house.toml")
    >>> kettle, day = resolve(house)[2], date(2027, 3, 20)
    >>> skies, noon = (Weather("clear"), Weather("overcast")), (time(12), time(14))
    >>> (ranked,) = hours(house, [kettle], day, day, between=noon, weathers=skies, best=1)
    >>> [stretch.minutes for stretch in ranked.stretches]
    [120.0]
    """
    if not setups:
        return []
    rooms = faces(location, setups)
    moments, day = calendar(location, first, last, between)
    dates = _Dates(location, rooms, first, weathers)
    ranked = []
    for quarters in quarter_hours(location, rooms, setups, moments, day, weathers, tell):
        tell(f"stretches: {quarters.setup.name}")
        sampled = HourFacts(location, quarters, first, odds).stretches()
        days = {stretch.day for stretch in _unlike(sampled, TRIED * best)}
        exact = [
            stretch
            for likely in sorted(days)
            for stretch in dates.facts(quarters, likely, odds).stretches()
        ]
        close = [
            dates.rigged(replace(stretch, dates=_count(stretch, sampled)), quarters)
            for stretch in _unlike(exact, TRIED * best)
        ]
        close.sort(key=lambda stretch: (stretch.expected_cost, -stretch.minutes, stretch.start_s))
        kept = close[:best]
        if quarters.sunny and unsure(location):
            kept = [dates.firm(stretch) for stretch in kept]
        ranked.append(SetupHours(quarters, tuple(kept)))
    return ranked


def _unlike(stretches: Sequence[Stretch], most: int) -> list[Stretch]:
    """The best of those of which the same can be said at about the same time of day."""
    # A quarter hour alone is no time to shoot in, unless nature does it all just then.
    lasting = [stretch for stretch in stretches if stretch.minutes or stretch.fits] or stretches
    kept: list[Stretch] = []
    for stretch in sorted(lasting, key=lambda stretch: stretch.expected_cost):
        if len(kept) < most and not any(other.like(stretch) for other in kept):
            kept.append(stretch)
    return kept


def _count(stretch: Stretch, sampled: Sequence[Stretch]) -> int:
    """On how many dates there is one like it."""
    return len({other.day for other in sampled if other.like(stretch)} | {stretch.day})


@dataclass(frozen=True, eq=False)
class _Dates:
    """Single dates of a span, worked out from minute to minute, each once."""

    location: Location
    rooms: Sequence[Faces]
    first: date
    weathers: tuple[Weather, Weather]
    known: dict[tuple[str, date, str], list[StretchLevels]] = field(default_factory=dict)

    def facts(self, quarters: QuarterHours, day: date, odds: Odds | None) -> HourFacts:
        """What can be said of a setup on one date."""
        setup, moments = quarters.setup, self._moments(quarters, day)
        light = self._light(quarters, day, self.weathers[0])
        if len(moments) < len(quarters.moments):
            dated = [0] * len(moments)
            (quarters,) = quarter_hours(
                self.location, [self._room(setup)], [setup], moments, dated, self.weathers
            )
        return HourFacts(self.location, quarters, day, odds, light)

    def rigged(self, stretch: Stretch, quarters: QuarterHours) -> Stretch:
        """A stretch with what must hang through it."""
        span = stretch.start_s, stretch.end_s
        flags = setup_flags(self.location, stretch.setup, start_s=span[0], end_s=span[1] + MINUTE_S)
        rigging, other_rigging = (
            rigging_plan(
                self._light(quarters, stretch.day, weather),
                flags.taken if shines(weather) else (),
                *span,
            )
            for weather in self.weathers
        )
        return replace(stretch, rigging=rigging, other_rigging=other_rigging)

    def firm(self, stretch: Stretch) -> Stretch:
        """A stretch with how far its ends may move."""
        shown = Shown(stretch.on_mark, stretch.behind, stretch.in_frame)
        span = stretch.start_s, stretch.end_s
        room = self._room(stretch.setup)
        return replace(stretch, firm=firm(self.location, room, stretch.setup, span, shown))

    def _room(self, setup: ResolvedSetup) -> Faces:
        return next(room for room in self.rooms if setup in room.setups)

    def _moments(self, quarters: QuarterHours, day: date) -> list[float]:
        moments: list[float] = quarters.moments[quarters.day == (day - self.first).days].tolist()
        return moments

    def _light(self, quarters: QuarterHours, day: date, weather: Weather) -> StretchLevels:
        """A setup's light from minute to minute of a date's quarter hours."""
        setup, key = quarters.setup, (quarters.setup.room, day, weather.name)
        room = self._room(setup)
        if key not in self.known:
            ends = self._moments(quarters, day)
            self.known[key] = stretch_levels(self.location, room.setups, [room], ends, [weather])
        return self.known[key][room.index(setup)]


def facts_at(
    location: Location,
    setups: Sequence[ResolvedSetup],
    moment_s: float,
    weathers: tuple[Weather, Weather],
) -> list[tuple[SunCheck, HourFacts]]:
    """Where the sun stands for each setup at one moment, and what can be said of it then.

    Parameters
    ----------
    moment_s
        Seconds since 1970 UTC.
    weathers
        The sky to look at and one to compare with, one of them without sun.
    """
    day = to_local(moment_s, location.timezone).date()
    at_moment = quarter_hours(location, faces(location, setups), setups, [moment_s], [0], weathers)
    return [
        (
            sun_check(location, quarters.setup.in_room, moment_s),
            HourFacts(location, quarters, day),
        )
        for quarters in at_moment
    ]


def steps(setups: Sequence[ResolvedSetup]) -> int:
    """How often `hours` tells what it does."""
    return 1 + 2 * len({setup.room for setup in setups}) + len(setups)
