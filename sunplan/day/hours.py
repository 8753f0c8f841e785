"""Which hours: for each setup the stretches of some dates in which nature does most of the work.

All quarter hours are looked at. A stretch is a run of them in which the same can be said: which sun
falls where, what brings each window in frame into its look, whether daylight leaves the shadows
alone. It is as long as that holds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from functools import cached_property
from itertools import combinations_with_replacement
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ..light.daylight import Weather, skies
from ..light.face import Faces, faces
from ..light.gap import LAYERS, STOPS_PER_DENSITY
from ..light.level_series import MOST_EXACT, LevelSeries, level_series
from ..light.look import Look, look_of
from ..location.kit import Gel, Kit
from ..location.model import Setup
from ..location.read import Location
from ..location.tolerances import unsure
from ..rig import minutes
from ..rig.flags import setup_flags
from ..rig.window_treatment import levels
from ..room.aperture import Aperture
from ..room.entry import SunTests
from ..room.interval import Span
from ..room.sunlit_spots import before_openings, sun_reaches
from ..sun.local_time import clock_to_unix, even_moments, to_local
from ..sun.position import Floats
from ..sun.search import Bools, time_grid
from ..sun.track import track_over
from .rigging_plan import (
    DARK_FROM,
    MOST_STOPS,
    STOP_MINUTES,
    UNMET_STOPS,
    RiggingPlan,
    rigging_plan,
)
from .sun_odds import Odds
from .tolerance import COARSE, Firm, Shown, firm, watched

QUARTER_S = 900.0
MINUTE_S = 60.0
DAY_S = 86400.0
MARK_STOPS = 2.0  # what sun on the mark counts as, a flag's work; a choice, no source
PATCH_STOPS = 4.0  # what a patch of sun in frame counts as: it gives the hour away; a choice
MOST_STACKS = 60
FRAME = 64, 36  # spots that are looked for sun, across the frame and up; in a long span COARSE
LACKING_MINUTES = 2.0  # what each minute counts for that a stretch is too short; a choice
TRIED = 4  # times as many stretches as are wanted are looked at closely

State = Literal["fits", "gel", "black", "tent", "exposure", "nothing", "dark", "sun"]
# As they are told apart first.
STATES: tuple[State, ...] = ("gel", "black", "tent", "exposure", "nothing", "dark", "sun")
UNMET: tuple[State, ...] = ("nothing", "dark", "sun")


@dataclass(frozen=True, eq=False)
class Sunlight:
    """Direct sun and one setup at moments (T,).

    `on_mark` (T, O) by opening of its room; `spans` are the same to the second, by opening.
    `behind` (T,) is the spot of wall straight behind the face, `in_frame` (T,) any that is filmed.
    """

    on_mark: Bools
    behind: Bools
    in_frame: Bools
    spans: tuple[tuple[Span, ...], ...]

    def clouded(self) -> Sunlight:
        """The same where no sun shines."""
        return Sunlight(
            np.zeros_like(self.on_mark),
            np.zeros_like(self.behind),
            np.zeros_like(self.in_frame),
            tuple(() for _ in self.spans),
        )


@dataclass(frozen=True, eq=False)
class Quarters:
    """A setup at all quarter hours (T,), seconds since 1970 UTC; `day` (T,) counts dates.

    `trace` is its light under the sky that is looked at, `other` under the one to compare with;
    `sunny`: the sun shines in the first, and not in the other. `spare_stops` is what its key gives
    more than the exposure asks.
    """

    setup: Setup
    moments: Floats
    day: NDArray[np.intp]
    sunlight: Sunlight
    trace: LevelSeries
    other: LevelSeries
    sunny: bool
    spare_stops: float

    def lose_stops(self, location: Location) -> Floats:
        """How many stops its windows must lose together, (T,); NaN where one is too dark.

        Without a window in frame: what daylight fills the face's darker side over its look.
        """
        if not self.trace.windows:
            wanted = look_of(self.setup, location.kit_of(self.setup)).fill[1]
            return np.clip(self.trace.fill_stops - wanted, 0.0, MOST_STOPS)
        over, under = self.trace.off_stops(location)
        total: Floats = np.minimum(over, MOST_STOPS).sum(axis=1)
        return np.where((under > 0).any(axis=1), np.nan, total)


@dataclass(frozen=True, eq=False)
class WindowFact:
    """What can be said of a window in frame through a stretch.

    `stops` are where it sits, least and most, `over_stops` how far that is over the middle of its
    band; `gels` bring it into the band all the time. Where no gel does, black may, or a tent before
    it, or `gels` with the exposure down and the key up as much, or nothing.
    """

    opening: str
    state: State
    gels: tuple[Gel, ...]
    stops: tuple[float, float]
    over_stops: tuple[float, float]


@dataclass(frozen=True, eq=False)
class Stretch:
    """A run of quarter hours, from the first to the last, seconds since 1970 UTC.

    `on_mark` are the openings that sun comes through onto the mark. `fill_stops` is daylight on the
    face's darker side, least and most, in stops from key, `fill_fits` whether the look allows it.
    `until_s` and `since_s` say by opening when, on that date, sun on the mark comes next or went
    last. `way` is what must hang, None where that was not looked at; `lacking_minutes` what is too
    short for the setup. `other_off` are the stops that all windows are off together under the
    other sky, least and most. `sky_share` is the share of days on which the sky is as it is looked
    at, None where it is not known; `other_minutes` is what the other sky counts as, about; `dates`
    are how many dates have one like it. `firm` is how far its ends may move by what may be off,
    None where nothing may.
    """

    setup: Setup
    day: date
    start_s: float
    end_s: float
    on_mark: tuple[str, ...]
    behind: bool
    in_frame: bool
    windows: tuple[WindowFact, ...]
    fill_stops: tuple[float, float]
    fill_fits: bool
    since_s: dict[str, float]
    until_s: dict[str, float]
    other_off: tuple[float, float]
    sky_share: float | None
    other_minutes: float
    way: RiggingPlan | None = None
    other_way: RiggingPlan | None = None
    dates: int = 1
    firm: Firm | None = None

    @property
    def minutes(self) -> float:
        """How long it lasts."""
        return (self.end_s - self.start_s) / MINUTE_S

    @property
    def fits(self) -> bool:
        """Whether there are windows in frame, and all fit by themselves."""
        return bool(self.windows) and all(one.state == "fits" for one in self.windows)

    def like(self, other: Stretch) -> bool:
        """Whether the same can be said of another at about the same time of day."""
        same = (self.on_mark, self.behind, self.in_frame, self.fill_fits) == (
            other.on_mark,
            other.behind,
            other.in_frame,
            other.fill_fits,
        ) and [(one.state, one.gels) for one in self.windows] == [
            (one.state, one.gels) for one in other.windows
        ]
        moved = DAY_S * round((other.start_s - self.start_s) / DAY_S)
        shared = min(self.end_s, other.end_s - moved) - max(self.start_s, other.start_s - moved)
        shorter = min(self.end_s - self.start_s, other.end_s - other.start_s)
        return same and shared >= shorter / 2

    @property
    def lacking_minutes(self) -> float:
        """By how much it is too short to shoot all of the setup."""
        return max(0.0, self.setup.minutes - self.minutes)

    @property
    def cost(self) -> float:
        """In minutes: rigging, stops, a patch in frame, what is lacking, what nothing mends.

        Before what must hang is looked at it is a guess.
        """
        patch = PATCH_STOPS * STOP_MINUTES * (self.in_frame or self.behind)
        spent = self._guess if self.way is None else self.way.cost
        glare = UNMET_STOPS * STOP_MINUTES * any(one.state == "sun" for one in self.windows)
        return spent + patch + glare + LACKING_MINUTES * self.lacking_minutes

    @property
    def other_cost(self) -> float:
        """The same under the other sky."""
        spent = self.other_minutes if self.other_way is None else self.other_way.cost
        return spent + LACKING_MINUTES * self.lacking_minutes

    @property
    def _guess(self) -> float:
        """About what rigging and stops will count as."""
        spent = sum(STOP_MINUTES * min(one.over_stops[1], MOST_STOPS) for one in self.windows)
        for one in self.windows:
            spent += minutes.of("gel_in_frame") * len(one.gels)
            if one.state in ("black", "tent"):
                spent += minutes.of("cloth" if one.state == "black" else "tent")
        spent += UNMET_STOPS * STOP_MINUTES * any(one.state in UNMET[:2] for one in self.windows)
        spent += (minutes.of("small_flag") + minutes.of("steps")) * len(self.on_mark)
        return spent + (minutes.of("cloth") + minutes.of("leaks")) * (not self.fill_fits)

    @property
    def expected_cost(self) -> float:
        """By the odds of the sky that is looked at; its cost where they are not known."""
        if self.sky_share is None:
            return self.cost
        return self.sky_share * self.cost + (1.0 - self.sky_share) * self.other_cost

    @property
    def worst_cost(self) -> float:
        """Under whichever sky costs more."""
        return max(self.cost, self.other_cost)


@dataclass(frozen=True, eq=False)
class SetupHours:
    """A setup's quarters and its best stretches, the best first."""

    quarters: Quarters
    stretches: tuple[Stretch, ...]


def hours(
    location: Location,
    setups: Sequence[Setup],
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

    `weathers` are the sky to look at and one to compare with, one of them without sun; with `odds`
    both count by how often the sun shines. Of stretches alike the best is told.
    """
    rooms = faces(location, setups)
    found = []
    moments, day = _calendar(location, first, last, between)
    for quarters in _quarters(location, rooms, setups, moments, day, weathers, tell):
        setup = quarters.setup
        tell(f"stretches: {setup.name}")
        room = next(one for one in rooms if setup in one.setups)
        facts = Facts(location, quarters, first, odds)
        every_one = list(facts.stretches())
        # A quarter hour alone is no time to shoot in, unless nature does it all just then.
        lasting = [one for one in every_one if one.minutes or one.fits] or every_one
        ranked = _unlike(sorted(lasting, key=lambda one: one.expected_cost), TRIED * best)
        close = [
            _closely(location, one, room, weathers)
            for one in _exact(location, facts, ranked, room, weathers)
        ]
        close.sort(key=lambda one: (one.expected_cost, -one.minutes, one.start_s))
        told = close[:best]
        if quarters.sunny and unsure(location):
            told = [_firmly(location, one, room) for one in told]
        found.append(SetupHours(quarters, tuple(told)))
    return found


def _firmly(location: Location, one: Stretch, room: Faces) -> Stretch:
    """A stretch with how far its ends may move."""
    shown = Shown(one.on_mark, one.behind, one.in_frame)
    span = one.start_s, one.end_s
    return replace(one, firm=firm(location, room, one.setup, span, shown))


def _unlike(ranked: Sequence[Stretch], most: int) -> list[Stretch]:
    """The best of those of which the same can be said at about the same time of day."""
    alike: list[list[Stretch]] = []
    for one in ranked:
        group = next((each for each in alike if each[0].like(one)), None)
        if group is not None:
            group.append(one)
        elif len(alike) < most:
            alike.append([one])
    return [replace(each[0], dates=len({one.day for one in each})) for each in alike]


def _exact(
    location: Location,
    facts: Facts,
    found: Sequence[Stretch],
    room: Faces,
    weathers: tuple[Weather, Weather],
) -> Iterator[Stretch]:
    """The same stretches, where light was read off a net, from that of their date worked out."""
    if len(facts.quarters.moments) <= MOST_EXACT:
        yield from found
        return
    setup = facts.quarters.setup
    for one in found:
        mine = facts.quarters.day == (one.day - facts.first).days
        moments = facts.quarters.moments[mine].tolist()
        (day,) = _quarters(location, [room], [setup], moments, [0] * len(moments), weathers)
        again = Facts(location, day, one.day, facts.odds).stretches()
        found_again = max(
            again,
            key=lambda each: min(each.end_s, one.end_s) - max(each.start_s, one.start_s),
        )
        yield replace(found_again, dates=one.dates)


def facts_at(
    location: Location, setups: Sequence[Setup], moment_s: float, weathers: tuple[Weather, Weather]
) -> list[Facts]:
    """What can be said of each setup at one moment, seconds since 1970 UTC."""
    day = to_local(moment_s, location.timezone).date()
    found = _quarters(location, faces(location, setups), setups, [moment_s], [0], weathers)
    return [Facts(location, one, day) for one in found]


def _calendar(
    location: Location, first: date, last: date, between: tuple[time, time]
) -> tuple[list[float], list[int]]:
    """All quarter hours between two clock times, and the number of their date."""
    moments: list[float] = []
    day: list[int] = []
    for ahead in range((last - first).days + 1):
        start, end = (
            clock_to_unix(first + timedelta(days=ahead), clock, location.timezone)
            for clock in between
        )
        mine = even_moments(start, end, QUARTER_S)
        moments += mine
        day += [ahead] * len(mine)
    return moments, day


def _quarters(
    location: Location,
    rooms: Sequence[Faces],
    setups: Sequence[Setup],
    moments: Sequence[float],
    day: Sequence[int],
    weathers: tuple[Weather, Weather],
    tell: Callable[[str], None] = lambda _: None,
) -> list[Quarters]:
    times = np.array(moments)
    tell("sun on marks")
    sunny = _shines(weathers[0])
    sunlight = _sunlight(location, rooms, times)
    traced, others = (
        level_series(location, rooms, skies(location, moments, weather), tell=tell)
        for weather in weathers
    )
    by_setup = {one.name: room for room in rooms for one in room.setups}
    return [
        Quarters(
            one,
            times,
            np.array(day),
            sunlight[one.name],
            traced[one.name],
            others[one.name],
            sunny,
            by_setup[one.name].spare_stops(one),
        )
        for one in setups
    ]


def steps(setups: Sequence[Setup]) -> int:
    """How often `hours` tells what it does."""
    return 1 + 2 * len({one.room for one in setups}) + len(setups)


def _shines(weather: Weather) -> bool:
    return weather.name != "overcast"


def _sunlight(location: Location, rooms: Sequence[Faces], times: Floats) -> dict[str, Sunlight]:
    """Direct sun for all setups, by name."""
    light = SunTests(location, track_over(location, times[0], times[-1]))
    net = light.grid(time_grid(times[0], times[-1], MINUTE_S))
    sky = light.above_horizon(times)
    grid = FRAME if len(times) <= MOST_EXACT else COARSE
    rows, suns = np.searchsorted(times, sky.unix_s), light.plan_vectors(sky)
    found = {}
    for room in rooms:
        beam = room.transfer.beam
        through = [
            light.opening_intervals(beam, index, net) for index in range(len(beam.apertures))
        ]
        for setup in room.setups:
            spans = tuple(tuple(one.touching[setup.mark][0]) for one in through)
            spots = watched(room, setup, grid)
            # What falls on glass leaves the room.
            solid = ~before_openings(beam, spots)
            lit = np.zeros((len(times), len(spots)), dtype=bool)
            for opening in range(len(beam.apertures)):
                lit[rows] |= sun_reaches(beam, opening, spots, suns) & solid
            found[setup.name] = Sunlight(
                on_mark=np.stack([_within(times, one) for one in spans], axis=-1)
                if spans
                else np.zeros((len(times), 0), dtype=bool),
                behind=lit[:, 0],
                in_frame=np.asarray(lit[:, 1:].any(axis=1)),
                spans=spans,
            )
    return found


def _within(times: Floats, spans: Sequence[Span]) -> Bools:
    """Whether moments (T,) lie in stretches that follow one another."""
    edges = np.array(spans).ravel()
    inside: Bools = np.searchsorted(edges, times, side="right") % 2 == 1
    return inside


def stacks(kit: Kit) -> list[tuple[Gel, ...]]:
    """All layers of gel that can be hung, none first, then the fewest and thinnest.

    Of those that take as much the fewest layers; no more than a number has bits for.
    """
    found = [
        chosen
        for layers in range(LAYERS + 1)
        for chosen in combinations_with_replacement(kit.gel, layers)
    ]
    found.sort(key=lambda one: (len(one), sum(gel.density for gel in one)))
    least = {round(sum(gel.density for gel in one), 3): one for one in reversed(found)}
    return [one for one in found if one in least.values()][:MOST_STACKS]


@dataclass(frozen=True, eq=False)
class Facts:
    """What can be said of a setup at all its quarter hours; days are counted from `first`."""

    location: Location
    quarters: Quarters
    first: date
    odds: Odds | None = None

    @cached_property
    def sun(self) -> Sunlight:
        """Direct sun under the sky that is looked at."""
        sunlight = self.quarters.sunlight
        return sunlight if self.quarters.sunny else sunlight.clouded()

    @cached_property
    def look(self) -> Look:
        """The setup's look."""
        setup = self.quarters.setup
        return look_of(setup, self.location.kit_of(setup))

    @cached_property
    def off(self) -> tuple[Floats, Floats]:
        """How far each window is over its band's middle, and under it, (T, W)."""
        return self.quarters.trace.off_stops(self.location)

    @cached_property
    def layers(self) -> list[tuple[Gel, ...]]:
        """Stacks of gel (K)."""
        return stacks(self.location.kit_of(self.quarters.setup))

    @cached_property
    def fits(self) -> Bools:
        """Whether each stack brings each window into its band at each moment, (T, W, K)."""
        return self._fits(self.layers, 0.0)

    @cached_property
    def layers_down(self) -> list[tuple[Gel, ...]]:
        """The same stacks for an exposure that comes down: the fewest, then the thickest (K)."""
        return sorted(self.layers, key=lambda one: (len(one), -sum(gel.density for gel in one)))

    @cached_property
    def fits_down(self) -> Bools:
        """Whether these do with the exposure as far down as it takes, the key up as much."""
        return self._fits(self.layers_down, self.quarters.spare_stops)

    def _fits(self, layers: Sequence[tuple[Gel, ...]], spare_stops: float) -> Bools:
        trace = self.quarters.trace
        taken = [STOPS_PER_DENSITY * sum(gel.density for gel in one) for one in layers]
        low, high = trace.bands(self.location).T[..., None]
        left = trace.stops[..., None] - np.array(taken)
        fits: Bools = (left >= low - 1e-9) & (left - spare_stops <= high + 1e-9)
        if self.look.black_reads:
            fits[..., 0] |= left[..., 0] <= high[:, 0] + 1e-9
        return fits & ~trace.disk[..., None]

    @cached_property
    def states(self) -> NDArray[np.intp]:
        """What can be done about each window at each moment: its number in `STATES`, (T, W)."""
        trace = self.quarters.trace
        without = np.array(
            [STATES.index(self._without_gel(one)) for one in trace.windows], dtype=np.intp
        )
        found = np.tile(without, (len(trace.stops), 1))
        nothing = found == STATES.index("nothing")
        found[nothing & self.fits_down.any(axis=-1)] = STATES.index("exposure")
        found[self.fits.any(axis=-1)] = STATES.index("gel")
        found[self.off[1] > 0] = STATES.index("dark")
        found[trace.disk] = STATES.index("sun")
        return found

    def _without_gel(self, window: Aperture) -> State:
        if self.look.black_reads:
            return "black"
        return "tent" if window.from_ground else "nothing"

    @cached_property
    def fill_fits(self) -> Bools:
        """Whether daylight leaves the face's darker side as dark as the look wants it, (T,)."""
        fits: Bools = self.quarters.trace.fill_stops <= self.look.fill[1]
        return fits

    def terms(self, trace: LevelSeries, *, sunny: bool) -> list[tuple[str, Floats]]:
        """What each quarter hour counts as, about, in minutes, (T,) by reason.

        A first look, before what must be rigged; `sunny`: with what direct sun does.
        """
        sun = self.quarters.sunlight
        over, under = trace.off_stops(self.location)
        lose = np.minimum(np.where(trace.disk, MOST_STOPS, over), MOST_STOPS).sum(axis=1)
        found = [
            ("windows", STOP_MINUTES * lose),
            ("too dark", STOP_MINUTES * UNMET_STOPS * (under > DARK_FROM).any(axis=1)),
            (
                "shadow side",
                STOP_MINUTES * np.clip(trace.fill_stops - self.look.fill[1], 0.0, MOST_STOPS),
            ),
        ]
        if sunny:
            found += [
                ("sun on the mark", STOP_MINUTES * MARK_STOPS * sun.on_mark.sum(axis=1)),
                ("sun patch", STOP_MINUTES * PATCH_STOPS * (sun.in_frame | sun.behind)),
            ]
        return found

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
        terms = self.terms(quarters.other, sunny=not quarters.sunny)
        total: Floats = np.sum([minutes for _, minutes in terms], axis=0)
        return total

    def stretches(self) -> Iterator[Stretch]:
        """All stretches, as long as the same holds, date by date; they may overlap."""
        quarters, sun = self.quarters, self.sun
        same = np.column_stack(
            (quarters.day, sun.on_mark, sun.behind, sun.in_frame, self.states, self.fill_fits)
        ).astype(np.intp)
        breaks = np.flatnonzero((same[1:] != same[:-1]).any(axis=1)) + 1
        masks = np.full(self.states.shape, -1)
        for state, fits in (("gel", self.fits), ("exposure", self.fits_down)):
            bits = (fits << np.arange(len(self.layers))).sum(axis=-1)
            masks = np.where(self.states == STATES.index(state), bits, masks)
        over, under = quarters.other.off_stops(self.location)
        other_off = (over + under).sum(axis=1)
        for begin, end in zip([0, *breaks], [*breaks, len(same)], strict=True):
            for start, stop, common in _runs(masks[begin:end]):
                chosen = slice(int(begin) + start, int(begin) + stop)
                yield self._stretch(chosen, common, other_off)

    def _stretch(self, chosen: slice, common: Sequence[int], other_off: Floats) -> Stretch:
        quarters, at = self.quarters, chosen.start
        sun, trace = self.sun, quarters.trace
        start, end = float(quarters.moments[chosen][0]), float(quarters.moments[chosen][-1])
        names = [one.name for one in self.location.room_named(quarters.setup.room).opening]
        that_day = quarters.moments[quarters.day == quarters.day[at]]
        since: dict[str, float] = {}
        until: dict[str, float] = {}
        for name, spans in zip(names, sun.spans, strict=True):
            before = [last for _, last in spans if that_day[0] <= last <= start]
            after = [begin for begin, _ in spans if end <= begin <= that_day[-1]]
            since |= {name: max(before)} if before else {}
            until |= {name: min(after)} if after else {}
        return Stretch(
            setup=quarters.setup,
            day=self.first + timedelta(days=int(quarters.day[at])),
            start_s=start,
            end_s=end,
            on_mark=tuple(name for name, lit in zip(names, sun.on_mark[at], strict=True) if lit),
            behind=bool(sun.behind[at]),
            in_frame=bool(sun.in_frame[at]),
            windows=tuple(
                self._window(index, chosen, common[index]) for index in range(len(trace.windows))
            ),
            fill_stops=_ends(trace.fill_stops[chosen]),
            fill_fits=bool(self.fill_fits[at]),
            since_s=since,
            until_s=until,
            other_off=_ends(other_off[chosen]),
            sky_share=None if self.sky_share is None else float(self.sky_share[chosen].mean()),
            other_minutes=float(self.other_minutes[chosen].mean()),
        )

    def _window(self, index: int, chosen: slice, taken: int) -> WindowFact:
        trace = self.quarters.trace
        state = STATES[int(self.states[chosen.start, index])]
        layers = {"gel": self.layers, "exposure": self.layers_down}.get(state)
        gels = layers[taken.bit_length() - 1] if layers else ()
        return WindowFact(
            opening=trace.windows[index].name,
            state="fits" if state == "gel" and not gels else state,
            gels=gels,
            stops=_ends(trace.stops[chosen, index]),
            over_stops=_ends(self.off[0][chosen, index]),
        )


def _runs(masks: NDArray[np.intp]) -> Iterator[tuple[int, int, list[int]]]:
    """The longest runs of moments (N, W) through which one choice of bits does for each window."""
    rows = [tuple(row) for row in masks.tolist()]
    at = 0
    while at < len(rows):
        common, stop = list(rows[at]), at + 1
        while stop < len(rows):
            both = [one & other for one, other in zip(common, rows[stop], strict=True)]
            if not all(both):
                break
            common, stop = both, stop + 1
        taken = [one & -one for one in common]  # the least bit: the fewest layers
        start = at
        while start and all(mine & one for mine, one in zip(taken, rows[start - 1], strict=True)):
            start -= 1
        last = stop
        while last < len(rows) and all(
            mine & one for mine, one in zip(taken, rows[last], strict=True)
        ):
            last += 1
        yield start, last, taken
        at = stop


def _ends(values: Floats) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def _closely(
    location: Location,
    one: Stretch,
    room: Faces,
    weathers: tuple[Weather, Weather],
) -> Stretch:
    """A stretch with what must hang through it."""
    grid = even_moments(one.start_s, one.end_s, QUARTER_S)
    flags = setup_flags(location, one.setup, start_s=one.start_s, end_s=one.end_s + MINUTE_S)

    def taken(weather: Weather) -> RiggingPlan:
        (light,) = levels(location, [one.setup], room, grid, [weather])
        hung = flags.taken if _shines(weather) else ()
        return rigging_plan(location, light, hung, one.start_s, one.end_s)

    return replace(one, way=taken(weathers[0]), other_way=taken(weathers[1]))
