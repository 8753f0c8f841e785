"""What was asked for: dates, clock times, stretches of time and setups, as people write them.

A message calls a value by its parameter's name, or in the command by its option's.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import date, time
from typing import TYPE_CHECKING, TypeVar

from ..errors import InputError, in_command
from ..location.clocks import parse_clock
from ..location.messages import not_known
from ..location.model import Exterior
from ..location.read import Location
from ..sun.local_time import clock_to_unix, day_span, even_moments

if TYPE_CHECKING:
    from ..light.resolved import ResolvedSetup

Word = TypeVar("Word", bound=str)
HOURLY = "1h"
YEARS = 1900, 2100  # for which the sun's and the moon's places are good
MIDNIGHT = "24:00"  # the end of a date


def option_name(name: str) -> str:
    """What a message calls a parameter: in the command it is an option.

    >>> option_name("to_date"), as_option("to_date"), as_option("from_")
    ('to_date', '--to-date', '--from')
    """
    return as_option(name) if in_command.get() else name


def as_option(name: str) -> str:
    """The option of a parameter: dashes for underscores; one behind a word of Python's goes."""
    return "--" + name.removesuffix("_").replace("_", "-")


def _refusal(name: str, given: object, fault: str) -> InputError:
    return InputError(f"{option_name(name)} {given}: {fault}")


def a_date(given: str | date, name: str = "date") -> date:
    """A local date, of a year that the sun's places are good for.

    Parameters
    ----------
    given : str or date
        As text YYYY-MM-DD.
    name : str
        The parameter that a message names.

    Raises
    ------
    InputError
        Where text is no date, or the year lies outside `YEARS`.

    Examples
    --------
    >>> a_date("2027-03-20")
    datetime.date(2027, 3, 20)
    >>> a_date("2500-01-01")
    Traceback (most recent call last):
    sunplan.errors.InputError: date 2500-01-01: expected a year from 1900 to 2100
    """
    try:
        day = date.fromisoformat(given) if isinstance(given, str) else given
    except ValueError:
        fault = "is no date; expected YYYY-MM-DD such as 2026-10-24"
        raise _refusal(name, given, fault) from None
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise _refusal(name, given, f"expected a year from {YEARS[0]} to {YEARS[1]}")
    return day


def a_clock(given: str | time, name: str) -> time:
    """A clock time.

    Parameters
    ----------
    given : str or time
        As text HH:MM, or with am or pm.
    name : str
        The parameter that a message names.

    Raises
    ------
    InputError
        Where text is no clock time.

    Examples
    --------
    >>> a_clock("4:30 pm", "at")
    datetime.time(16, 30)
    """
    try:
        return parse_clock(given) if isinstance(given, str) else given
    except ValueError:
        fault = "is no clock time; expected HH:MM such as 16:30"
        raise _refusal(name, given, fault) from None


def a_moment_s(location: Location, day: date, given: str | time, name: str) -> float:
    """A local clock time of a date, seconds since 1970 UTC.

    Raises
    ------
    InputError
        Where it is no clock time.
    """
    return clock_to_unix(day, a_clock(given, name), location.timezone)


def one_of(given: Word, known: Iterable[str], name: str) -> Word:
    """One of some words.

    Parameters
    ----------
    given : str
        The word.
    known : iterable of str
        Those that may be given.
    name : str
        The parameter that a message names.

    Raises
    ------
    InputError
        Where it is none of them; the message names the nearest.

    Examples
    --------
    >>> one_of("clear", ["clear", "hazy"], "sky")
    'clear'
    >>> one_of("clar", ["clear", "hazy"], "sky")
    Traceback (most recent call last):
    sunplan.errors.InputError: sky "clar" is not known; did you mean "clear"?
    """
    names = list(known)
    if given not in names:
        raise InputError(f"{option_name(name)} {not_known(str(given), names)}")
    return given


def a_step_s(text: str, name: str = "step") -> float:
    """Seconds of a step such as 15min, 1h or 90s.

    Raises
    ------
    InputError
        Where it is no such text, shorter than a second or longer than a day; the message calls it
        `name`.

    Examples
    --------
    >>> a_step_s("15min"), a_step_s("1h")
    (900.0, 3600.0)
    """
    if not isinstance(text, str):
        raise _refusal(name, text, "is no step; expected text such as 15min or 1h")
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(s|min|h)", text.strip())
    seconds = float(match[1]) * {"s": 1.0, "min": 60.0, "h": 3600.0}[match[2]] if match else 0.0
    if not 1.0 <= seconds <= 86400.0:
        raise _refusal(name, text, "is no step; expected one such as 15min or 1h")
    return seconds


def dates(first: str | date, last: str | date | None, names: tuple[str, str]) -> tuple[date, date]:
    """First and last of a span of dates; both the first where no last is given.

    Parameters
    ----------
    first, last : str or date
        As text YYYY-MM-DD.
    names : tuple of str
        The two parameters that a message names.

    Raises
    ------
    InputError
        Where one is no date, or the last lies before the first.

    Examples
    --------
    >>> dates("2027-03-20", None, ("date", "to_date"))
    (datetime.date(2027, 3, 20), datetime.date(2027, 3, 20))
    """
    start = a_date(first, names[0])
    end = start if last is None else a_date(last, names[1])
    if end < start:
        raise _refusal(names[1], end, f"lies before {option_name(names[0])} {start}")
    return start, end


def interval(
    location: Location, day: date, from_: str | time | None, to: str | time | None
) -> tuple[float, float]:
    """First and last moment that two clock times mean on a date; 24:00 is the date's end.

    One that is not given is that of the file's day, its call or its wrap.

    Returns
    -------
    tuple of float
        Seconds since 1970 UTC.

    Raises
    ------
    InputError
        Where one is no clock time, or the second does not lie after the first.

    Examples
    --------
    >>> from sunplan import read
    >>> start_s, end_s = interval(
    ...     read("locations/lock-house.toml"), date(2027, 3, 20), "22:00", "24:00"
    ... )
    >>> end_s - start_s
    7200.0
    """

    def moment(given: str | time, name: str) -> float:
        if given == MIDNIGHT:
            return day_span(day, location.timezone)[1]
        return clock_to_unix(day, a_clock(given, name), location.timezone)

    from_, to = _or_of_the_day(location, from_, to)
    start_s, end_s = moment(from_, "from_"), moment(to, "to")
    if end_s <= start_s:
        raise _out_of_order(from_, to)
    return start_s, end_s


def moments(
    location: Location,
    day: date,
    *,
    at: str | time | None,
    from_: str | time | None,
    to: str | time | None,
    step: str | None,
) -> list[float]:
    """The moments that one clock time asks for, or two and a step; else through the daylight.

    Parameters
    ----------
    at : str or time, optional
        One clock time, alone.
    from_, to : str or time, optional
        Both or none.
    step : str, optional
        Such as "15min"; `HOURLY` if left out.

    Returns
    -------
    list of float
        Seconds since 1970 UTC.

    Raises
    ------
    InputError
        Where `at` comes with others, or only one of `from_` and `to` is given.

    Examples
    --------
    >>> from sunplan import read
    >>> house, day = read("locations/lock-house.toml"), date(2027, 3, 20)
    >>> len(moments(house, day, at=None, from_="12:00", to="13:00", step="15min"))
    5
    """
    from ..sun.almanac import sun_times_of

    both = f"{option_name('from_')} and {option_name('to')}"
    if at is not None:
        if from_ is not None or to is not None:
            raise InputError(f"{option_name('at')}: give it, or {both}, not both")
        if step is not None:
            raise _refusal("step", step, f"goes with {both}, not with {option_name('at')}")
        return [a_moment_s(location, day, at, "at")]
    step_s = a_step_s(HOURLY if step is None else step)
    if from_ is None and to is None:
        daylight_s = sun_times_of(location, day).daylight(day, location.timezone)
        return even_moments(*daylight_s, step_s)
    if from_ is None or to is None:
        lacking = option_name("from_" if from_ is None else "to")
        raise InputError(f"{lacking}: is missing; give both {both}, or {option_name('at')}")
    return even_moments(*interval(location, day, from_, to), step_s)


def between(
    location: Location, from_: str | time | None, to: str | time | None
) -> tuple[time, time]:
    """Two clock times of every date; where one is not given, that of the file's day.

    Raises
    ------
    InputError
        Where one is no clock time, or the second does not lie after the first.

    Examples
    --------
    >>> from sunplan import read
    >>> between(read("locations/lock-house.toml"), "12:00", None)
    (datetime.time(12, 0), datetime.time(19, 0))
    """
    from_, to = _or_of_the_day(location, from_, to)
    first, last = a_clock(from_, "from_"), a_clock(to, "to")
    if not first < last:
        raise _out_of_order(from_, to)
    return first, last


def _or_of_the_day(
    location: Location, from_: str | time | None, to: str | time | None
) -> tuple[str | time, str | time]:
    """Two clock times as given; where one is not, the call or the wrap of the file's day."""
    day = location.day
    return day.call if from_ is None else from_, day.wrap if to is None else to


def _out_of_order(from_: str | time, to: str | time) -> InputError:
    start, end = (f"{at:%H:%M}" if isinstance(at, time) else at for at in (from_, to))
    return _refusal("to", end, f"does not lie after {option_name('from_')} {start}")


def narrowed(location: Location, wanted: str | None) -> Location:
    """The location with the setup of that name alone, its room and its mark; or all of it.

    Raises
    ------
    InputError
        Where there is none of that name, or it stands outdoors.

    Examples
    --------
    >>> from sunplan import read
    >>> kitchen = narrowed(read("locations/lock-house.toml"), "the kettle").room
    >>> [(room.name, [mark.name for mark in room.mark]) for room in kitchen]
    [('kitchen', ['at the stove'])]
    """
    if wanted is None:
        return location
    (setup,) = setups(location, wanted)
    room = setup.in_room.model_copy(update={"mark": (setup.at_mark,)})
    own = tuple(filed for filed in location.setup if filed.name == wanted)
    return location.model_copy(update={"room": (room,), "setup": own, "exterior": ()})


def setups(location: Location, wanted: str | None) -> list[ResolvedSetup]:
    """The setup of that name, or all that are indoors, with what they refer to.

    Raises
    ------
    InputError
        Where there is none of that name, or none indoors.

    Examples
    --------
    >>> from sunplan import read
    >>> [setup.room for setup in setups(read("locations/lock-house.toml"), "the kettle")]
    ['kitchen']
    """
    inside, outdoors = all_setups(location, wanted)
    if not inside and outdoors:
        raise InputError(
            f"{location.file}: its setups stand outdoors, which only `sunplan hours` tells of"
        )
    return list(inside)


def several_setups(location: Location, wanted: str | Sequence[str] | None) -> list[ResolvedSetup]:
    """The setups of those names in the file's order, each once, or all that are indoors.

    Raises
    ------
    InputError
        Where there is none of a name, or none indoors.

    Examples
    --------
    >>> from sunplan import read
    >>> house = read("locations/lock-house.toml")
    >>> [setup.name for setup in several_setups(house, ["the kettle", "last coffee"])]
    ['last coffee', 'the kettle']
    """
    if wanted is None or isinstance(wanted, str):
        return setups(location, wanted)
    names = {setup.name for name in wanted for setup in setups(location, name)}
    return [setup for setup in setups(location, None) if setup.name in names]


def all_setups(
    location: Location, wanted: str | None
) -> tuple[tuple[ResolvedSetup, ...], tuple[Exterior, ...]]:
    """The setup of that name, or all: indoors, and outdoors.

    Raises
    ------
    InputError
        Where the file has none, or none of that name.

    Examples
    --------
    >>> from sunplan import read
    >>> inside, outdoors = all_setups(read("locations/lock-house.toml"), None)
    >>> len(inside), [setup.name for setup in outdoors]
    (4, ['the lock at night'])
    """
    from ..light.resolved import resolve  # loads all of what is known about light

    names = [setup.name for setup in location.setup]
    names += [setup.name for setup in location.exterior]
    if not names:
        raise InputError(f"{location.file}: has no [[setup]]; expected at least one")
    if wanted is not None and wanted not in names:
        raise InputError(f"{option_name('setup')} {not_known(wanted, names)}")
    inside = [setup for setup in location.setup if wanted in (None, setup.name)]
    outdoors = [setup for setup in location.exterior if wanted in (None, setup.name)]
    return tuple(resolve(location, inside)), tuple(outdoors)
