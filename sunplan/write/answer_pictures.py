"""What `--draw` writes beside an answer: its picture."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import InputError
from ..location.messages import not_known
from ..location.model import Mark, Room
from ..location.read import Location
from .pictures import save

if TYPE_CHECKING:
    from ..day.days import RankedDays
    from ..day.hours import SetupHours
    from ..light.daylight import Weather
    from ..light.matching import MatchingInterval
    from ..light.resolved import ResolvedSetup
    from ..rig.flags import SetupFlags
    from ..room.entry import DayEntries
    from ..room.interval import Span


def draw_rooms(location: Location, path: Path) -> None:
    """What was understood of a file: the plan of each room."""
    from ..draw.rooms import figure_of_rooms

    save(figure_of_rooms(location), path)


def draw_entry(location: Location, entries: DayEntries, path: Path) -> None:
    """The strip of a date, and its rooms with patches by the hour."""
    from ..draw.entry import figure_of_entry
    from ..room.patches_by_hour import patches_by_hour

    patches = {room.name: patches_by_hour(location, room, entries) for room in location.room}
    save(figure_of_entry(location, entries, patches), path)


def draw_sky(location: Location, entries: DayEntries, mark_name: str, path: Path) -> None:
    """The sky over a mark; its room's name may stand before the mark's: "kitchen: at the stove".

    Raises
    ------
    InputError
        Where no mark is called so, or several are.
    """
    from ..draw.skydome import figure_of_dome
    from ..room.sky_dome import sky_dome, sun_paths

    room, mark = _mark(location, mark_name)
    dome = sky_dome(location, room, mark)
    save(figure_of_dome(location, entries, dome, sun_paths(location, entries.date)), path)


def _mark(location: Location, name: str) -> tuple[Room, Mark]:
    marks = {
        f"{room.name}: {mark.name}": (room, mark) for room in location.room for mark in room.mark
    }
    if name in marks:
        return marks[name]
    called_so = [(room, mark) for room, mark in marks.values() if mark.name == name]
    if len(called_so) > 1:
        rooms = " or ".join(f'"{room.name}: {name}"' for room, _ in called_so)
        raise InputError(f"--over-mark {name}: stands in several rooms; give {rooms}")
    if not called_so:
        raise InputError(f"--over-mark {not_known(name, list(marks))}")
    return called_so[0]


def draw_flags(location: Location, day: date, flags: Sequence[SetupFlags], path: Path) -> None:
    """Where the flags of setups hang, on the plan and from the side."""
    from ..draw.flags import figure_of_flags

    save(figure_of_flags(location, day, flags), path)


def draw_gap(
    location: Location,
    day: date,
    setups: Sequence[ResolvedSetup],
    weathers: Sequence[Weather],
    fits: Sequence[MatchingInterval],
    path: Path,
    *,
    span_s: Span | None,
) -> None:
    """The levels of setups' windows in frame through a span, seconds since 1970 UTC.

    From dawn to dark where none is given.
    """
    from ..draw.gapchart import figure_of_gap
    from ..light.level_series import chart_moments, window_series
    from ..sun.almanac import sun_times_of

    sun = sun_times_of(location, day)
    shown_s = sun.dawn_to_dark(day, location.timezone) if span_s is None else span_s
    series = window_series(location, setups, chart_moments(*shown_s), weathers)
    save(figure_of_gap(location, day, sun, setups, series, fits), path)


def draw_hours(
    location: Location,
    dates: tuple[date, date],
    setups: Sequence[SetupHours],
    sky: str,
    path: Path,
) -> None:
    """The quarter hours of dates as a map, setup by setup."""
    from ..draw.hourmap import figure_of_hours

    save(figure_of_hours(location, dates, setups, sky), path)


def draw_days(location: Location, dates: tuple[date, date], ranked: RankedDays, path: Path) -> None:
    """A calendar of dates, one cell a date, by how far each is from the best."""
    from ..draw.datemap import figure_of_days

    save(figure_of_days(location, dates, ranked), path)
