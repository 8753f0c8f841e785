"""Which day: the dates of a span by the best whole day that each gives all setups indoors together.

A day worked out as `order` does takes seconds; a year of them would take a quarter of an hour. So
every date is outlined first: the same rule, the same minutes of rigging and the same proven search
for the order, but

- light is looked at every five minutes, not every minute and every five seconds about a turn, and
  is read off a grid of the sun's places (`SunInterpolator`);
- sun on a mark counts as one flag, `FLAG_MINUTES`, wherever it hangs and however often it moves.

The best of the outlines are then worked out exactly, until the best few of all are exact.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from ..errors import InputError
from ..light.daylight import Weather
from ..light.face import Faces, faces
from ..light.resolved import ResolvedSetup
from ..location.read import Location
from ..rig import minutes
from ..rig.needs import Job
from ..rig.stretch_levels import levels_by_sun
from ..room.entry import SunTests
from ..room.interval import Span
from ..sun.position import Floats
from ..sun.search import DAY_STEP_S, time_grid
from ..sun.track import track_over
from .concurrency import Workers
from .order import Order, Ordered, best_order, order
from .rigging_plan import RiggingPlan, rigging_plans
from .sequence import expect_few
from .shoot_grid import ShootGrid, shoot_moments
from .sun_odds import Odds, odds_of
from .working_day import WorkingDay, working_day

MOST = 366  # dates of a span
EXACT = 10  # of the best outlines that are worked out exactly
SURE = 3  # of the best of all that are exact in the end
STEP_S = 300.0  # between moments at which light is looked at
FLAG_MINUTES = minutes.of("large_flag") + minutes.of("move")
DATES = 61  # that are outlined at a time
EQUAL_MINUTES = 15.0  # between scores of dates that are as good as one another; a choice, no source

Telling = Callable[[Location, date, Ordered], Any]


@dataclass(frozen=True)
class Shoot:
    """A setup's turn on a day, moments in seconds since 1970 UTC.

    `stops` are those that its windows in frame are off their look together, before anything hangs;
    `sun_share` is how often the sun shines then, 0 to 1, None where no weather file says.
    """

    setup: str
    room: str
    start_s: float
    end_s: float
    ready_s: float
    rig_minutes: float
    strike_minutes: float
    stops: float
    unmet: bool
    sun_share: float | None = None


@dataclass(frozen=True)
class RankedDay:
    """A date with its best whole day; `score` in minutes, lower is better, the sum of `parts`.

    `exact`: worked out as `order` does; else it is the outline. `outline_score` is what the outline
    came to. `told` is what the caller keeps of an exact day.
    """

    day: date
    exact: bool
    score: float
    outline_score: float
    parts: dict[str, float]
    shoots: tuple[Shoot, ...]
    dropped: tuple[str, ...]
    told: Any = None

    @property
    def sun_share(self) -> float | None:
        """How often the sun shines while it is shot, 0 to 1; None where not known."""
        known = [
            (shoot.sun_share, shoot.end_s - shoot.start_s)
            for shoot in self.shoots
            if shoot.sun_share is not None
        ]
        if not known:
            return None
        return sum(share * long for share, long in known) / sum(long for _, long in known)


@dataclass(frozen=True)
class DayRun:
    """Dates one after the other of which none is worse than `EQUAL_MINUTES` than the best."""

    days: tuple[RankedDay, ...]
    best: RankedDay

    @property
    def first(self) -> date:
        """Its first date."""
        return self.days[0].day

    @property
    def last(self) -> date:
        """Its last date."""
        return self.days[-1].day


@dataclass(frozen=True)
class RankedDays:
    """The dates of a span, the best first; `closed` are those without a working day."""

    days: tuple[RankedDay, ...]
    closed: tuple[date, ...]
    odds: Odds | None

    @cached_property
    def runs(self) -> tuple[DayRun, ...]:
        """All dates in stretches that are as good, by their best ones.

        Each is grown from the best date that is left, day by day, as far as days are as good.
        """
        left = {day.day: day for day in self.days}
        runs = []
        for best in self.days:
            if best.day not in left:
                continue
            run = [left.pop(best.day)]
            for step, place in ((-1, 0), (1, -1)):
                while True:
                    beside = left.get(run[place].day + timedelta(days=step))
                    if beside is None or beside.score > best.score + EQUAL_MINUTES:
                        break
                    run.insert(0 if step < 0 else len(run), left.pop(beside.day))
            runs.append(DayRun(tuple(run), best))
        return tuple(runs)

    @property
    def off(self) -> float:
        """By how much an outline was off the exact score, at most, where both are known."""
        return max(
            (abs(day.score - day.outline_score) for day in self.days if day.exact), default=0
        )


def days(
    location: Location,
    setups: Sequence[ResolvedSetup],
    first: date,
    last: date,
    *,
    weathers: Sequence[Weather],
    telling: Telling,
    weather_file: Path | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> RankedDays:
    """Rank the dates of a span by the best whole day of all setups together.

    Parameters
    ----------
    setups
        Those indoors.
    first, last
        The span's local dates, `MOST` at most.
    weathers
        What hangs must do under all of them.
    telling
        What to keep of an exact day: called with the location, the date and its `Ordered`, maybe in
        another process, so that it and what it gives must be what pickle can carry.
    weather_file
        An EPW or TMY3 file, for how often the sun shines.
    tell
        Hears what is worked on, about `steps` times.

    Raises
    ------
    InputError
        Of more dates than `MOST`, or more setups than a day can hold; or where the weather file is
        not one.

    Examples
    --------
    >>> from sunplan import read
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan.report.order import day_answer
    >>> house, day = read("locations/lock-house.toml"), date(2027, 3, 20)
    >>> night, sun = [resolve(house)[0]], [Weather("clear")]
    >>> (ranked,) = days(house, night, day, day, weathers=sun, telling=day_answer).days
    >>> ranked.exact, ranked.told["setups"][0]["setup"]
    (True, 'reading the gauge')
    """
    count = (last - first).days + 1
    if count > MOST:
        raise InputError(f"{first} to {last}: {count} dates; expected at most {MOST}")
    expect_few(len(setups))
    odds = None if weather_file is None else odds_of(weather_file, location)
    tell("light of the rooms")
    rooms = faces(location, setups)
    dates = [first + timedelta(days=ahead) for ahead in range(count)]
    open_dates = [day for day in dates if _open(location, day)]
    with Workers(2) as workers:
        tasks = [
            workers.start(_outlines, location, setups, rooms, part, weathers)
            for part in _parts(open_dates)
        ]
        ranked: dict[date, RankedDay] = {}
        for part, task in zip(_parts(open_dates), tasks, strict=True):
            tell(f"outlines: {part[0]} to {part[-1]}")
            ranked |= {day.day: day for day in task.result()}
        wanted = _best(ranked.values())[:EXACT]
        while wanted:
            exact = {
                day.day: workers.start(_exact, location, setups, rooms, day, weathers, telling)
                for day in wanted
            }
            for day, work in exact.items():
                tell(f"exactly: {day}")
                ranked[day] = work.result()
            wanted = [day for day in _best(ranked.values())[:SURE] if not day.exact]
    return RankedDays(
        days=tuple(_with_odds(day, odds) for day in _best(ranked.values())),
        closed=tuple(day for day in dates if day not in ranked),
        odds=odds,
    )


def steps(first: date, last: date) -> int:
    """How often `days` tells what it does, about.

    >>> steps(date(2027, 1, 1), date(2027, 1, 3))
    5
    """
    count = min((last - first).days + 1, MOST)
    return 1 + len(_parts([first] * count)) + min(count, EXACT)


def _best(ranked: Iterable[RankedDay]) -> list[RankedDay]:
    return sorted(ranked, key=lambda day: (round(day.score, 6), day.day))


def _parts(dates: Sequence[date]) -> list[Sequence[date]]:
    """Dates that are outlined in one go, as even as can be."""
    count = -(-len(dates) // DATES)
    edges = [len(dates) * part // max(count, 1) for part in range(count + 1)]
    return [dates[begin:end] for begin, end in pairwise(edges)]


def _open(location: Location, day: date) -> bool:
    """Whether a date has a working day: sunset may leave none."""
    try:
        working_day(location, day)
    except InputError:
        return False
    return True


def _with_odds(ranked: RankedDay, odds: Odds | None) -> RankedDay:
    if odds is None:
        return ranked
    shoots = tuple(
        replace(
            shoot,
            sun_share=float(odds.share(np.arange(shoot.start_s, shoot.end_s + 1.0, STEP_S)).mean()),
        )
        for shoot in ranked.shoots
    )
    return replace(ranked, shoots=shoots)


def _exact(
    location: Location,
    setups: Sequence[ResolvedSetup],
    rooms: Sequence[Faces],
    outline: RankedDay,
    weathers: Sequence[Weather],
    telling: Telling,
) -> RankedDay:
    ordered = order(location, setups, outline.day, weathers=weathers, rooms=rooms)
    exact = _ranked(outline.day, ordered.best, ordered.clock)
    told = telling(location, outline.day, ordered)
    return replace(exact, exact=True, outline_score=outline.score, told=told)


def _ranked(day: date, best: Order, clock: WorkingDay) -> RankedDay:
    return RankedDay(
        day=day,
        exact=False,
        score=best.score,
        outline_score=best.score,
        parts=best.parts,
        shoots=tuple(
            Shoot(
                setup=turn.rigging.setup.name,
                room=turn.rigging.setup.room,
                start_s=turn.rigging.start_s,
                end_s=turn.rigging.end_s,
                ready_s=best.ready_s(turn, clock),
                rig_minutes=turn.rig_minutes,
                strike_minutes=turn.strike_minutes,
                stops=turn.rigging.stops,
                unmet=turn.rigging.too_dark or bool(turn.rigging.unsolved),
            )
            for turn in best.turns
        ),
        dropped=tuple(setup.name for setup in best.dropped),
    )


def _outlines(
    location: Location,
    setups: Sequence[ResolvedSetup],
    rooms: Sequence[Faces],
    dates: Sequence[date],
    weathers: Sequence[Weather],
) -> list[RankedDay]:
    """The best day of each date, on light that is looked at every five minutes."""
    clocks = [working_day(location, day) for day in dates]
    starts = [
        shoot_moments(location, setups, day, clock.call_s, clock.wrap_s)
        for day, clock in zip(dates, clocks, strict=True)
    ]
    every = np.concatenate(starts)
    grids = [np.arange(clock.call_s, clock.wrap_s + 1.0, STEP_S) for clock in clocks]
    ends = [every + 60.0 * setup.minutes for setup in setups]
    moments = np.unique(np.concatenate([*grids, every, *ends]))
    hits = _on_marks(location, rooms, moments)
    plans = [
        _flagged(rigging_plans(light, (), every, end), hits[light.setup.name])
        for light, end in zip(
            levels_by_sun(location, setups, rooms, moments, weathers), ends, strict=True
        )
    ]
    edges = np.cumsum([0, *map(len, starts)]).tolist()
    outlines = []
    for day, clock, own, (first, last) in zip(dates, clocks, starts, pairwise(edges), strict=True):
        rows = tuple(tuple(row[first:last]) for row in plans)
        grid = ShootGrid(location, day, tuple(setups), own, rows, clock)
        outlines.append(_ranked(day, best_order(grid), clock))
    return outlines


def _on_marks(
    location: Location, rooms: Sequence[Faces], moments: Floats
) -> dict[str, dict[str, Sequence[Span]]]:
    """When direct sun touches each setup's mark, by setup and opening."""
    tests = SunTests(location, track_over(location, moments[0], moments[-1]))
    net = tests.grid(time_grid(moments[0], moments[-1], DAY_STEP_S))
    by_setup: dict[str, dict[str, Sequence[Span]]] = {}
    for room in rooms:
        beam = room.transfer.beam
        through = [
            tests.opening_intervals(beam, index, net).touching
            for index in range(len(beam.apertures))
        ]
        for setup in room.setups:
            by_setup[setup.name] = {
                aperture.name: touching[setup.mark][0]
                for aperture, touching in zip(beam.apertures, through, strict=True)
            }
    return by_setup


def _flagged(
    plans: Sequence[RiggingPlan], touching: dict[str, Sequence[Span]]
) -> list[RiggingPlan]:
    """The same, each with a flag for every opening whose sun touches the mark in its time."""
    edges = {name: np.array(spans) for name, spans in touching.items() if spans}
    flagged = []
    for plan in plans:
        jobs = []
        for name, spans in edges.items():
            after = int(np.searchsorted(spans[:, 1], plan.start_s, side="right"))
            hit = after < len(spans) and spans[after, 0] < plan.end_s
            if hit and name not in plan.treated.covered:
                label = f"{plan.setup.name}: flag {name}"
                jobs.append(Job(label, f"a flag for {name}", FLAG_MINUTES, (), ()))
        flagged.append(replace(plan, jobs=(*plan.jobs, *jobs)) if jobs else plan)
    return flagged
