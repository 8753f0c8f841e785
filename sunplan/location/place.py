"""A place as people give it: coordinates, degrees and minutes, a geo: link; and what follows."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from urllib.parse import unquote

from ..errors import InputError
from .lengths import Units
from .messages import shown

EXAMPLES = (
    "52.0907,5.1214, 52°05'26.5\"N 5°07'17.0\"E or geo:52.0907,5.1214 (latitude first, then "
    "longitude)"
)
TWO = "52.0907,5.1214 52.0909,5.122"
LOWEST_M, HIGHEST_M = -500.0, 9000.0  # what a location file takes as its elevation
_LONGEST = 100  # signs; no place is written longer
_IN_FEET = {"US", "LR", "MM"}  # countries that measure rooms in feet: common practice, no source

# What maps and keyboards print for degrees, minutes, seconds and minus.
_PLAIN = str.maketrans(
    {
        **dict.fromkeys("º˚", "°"),
        **dict.fromkeys("′’‘ʹʼ´`", "'"),
        **dict.fromkeys("″”“ʺ˝", '"'),
        **dict.fromkeys("−–", "-"),
    }
)
_NUMBER = r"\d+(?:[.,]\d+)?"
_ANGLE = re.compile(
    rf"""(?P<before>[NSEWO])?\s*(?P<sign>[+-])?
    (?:
      (?P<whole>\d+)(?:\s*°\s*|\s+)
      (?:(?P<minutes>\d+)(?:\s*'\s*|\s+)(?P<seconds>{_NUMBER})(?:\s*")?
        |(?P<last_minutes>{_NUMBER})(?:\s*')?)
      |(?P<degrees>{_NUMBER})(?:\s*°)?
    )\s*(?P<after>[NSEWO])?""",
    re.ASCII | re.IGNORECASE | re.VERBOSE,
)
_COORDINATE = r"(-?\d+(?:\.\d+)?)"
_GEO = re.compile(
    rf"geo:{_COORDINATE},{_COORDINATE}(?:,{_COORDINATE})?((?:;[a-z0-9-]+(?:=[^;=?#\s]+)?)*)",
    re.ASCII | re.IGNORECASE,
)


@dataclass(frozen=True, kw_only=True)
class Place:
    """A spot on the earth: WGS 84 degrees, north and east positive.

    `elevation_m` is above the sea, `uncertainty_m` the radius it lies within, `remark` how it was
    understood where that could surprise; a town gives its name and its time zone.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float | None = None
    uncertainty_m: float | None = None
    remark: str | None = None
    town: str | None = None
    town_timezone: str | None = None

    @property
    def timezone(self) -> str:
        """IANA name of the time zone: the town's, or the one that the spot lies in."""
        if self.town_timezone is not None:
            return self.town_timezone
        return timezone_at(latitude_deg=self.latitude_deg, longitude_deg=self.longitude_deg)


def timezone_at(*, latitude_deg: float, longitude_deg: float) -> str:
    """IANA name of the time zone that a spot lies in.

    >>> timezone_at(latitude_deg=52.0907, longitude_deg=5.1214)
    'Europe/Amsterdam'
    """
    from tzfpy import get_tz  # loads its map of the world: only when asked

    return get_tz(longitude_deg, latitude_deg) or "UTC"


def units_of(timezone: str) -> Units:
    """The unit that a zone's country measures rooms in.

    >>> units_of("America/Chicago"), units_of("Africa/Monrovia"), units_of("America/Toronto")
    ('ft', 'ft', 'm')
    """
    return "ft" if _countries().get(timezone) in _IN_FEET else "m"


def country_at(*, latitude_deg: float, longitude_deg: float) -> str | None:
    """ISO 3166 code of the country that a spot lies in; None at sea.

    By its time zone, each of which is one country's in tzdata's table and ends at its border;
    overseas territories are countries of their own. (The nearest town is less sure: of 34 000 towns
    840 have one of another country as their nearest, and 39 a zone of another.) Only the north of
    Vietnam keeps another country's time, Bangkok's.

    >>> country_at(latitude_deg=52.0907, longitude_deg=5.1214)
    'NL'
    >>> country_at(latitude_deg=21.03, longitude_deg=105.85)
    'VN'
    >>> country_at(latitude_deg=40.0, longitude_deg=-40.0) is None
    True
    """
    code = _countries().get(timezone_at(latitude_deg=latitude_deg, longitude_deg=longitude_deg))
    # East of Laos, or north of all Thailand that lies so far east.
    north = longitude_deg > 105.3 or (latitude_deg > 18.5 and longitude_deg > 101.8)
    return "VN" if code == "TH" and latitude_deg > 16.0 and north else code


def country_name(code: str) -> str:
    """English name of a country by its ISO 3166 code, as tzdata's table has it.

    >>> country_name("NL")
    'Netherlands'
    """
    return next(name for listed, name, *_ in _rows("iso3166.tab") if listed == code)


@cache
def _countries() -> dict[str, str]:
    """Country code of each time zone, by tzdata's table."""
    return {zone: country for country, _, zone, *_ in _rows("zone.tab")}


@cache
def _rows(name: str) -> list[list[str]]:
    """Rows of a table of tzdata."""
    text = (files("tzdata") / "zoneinfo" / name).read_text(encoding="utf-8")
    return [line.split("\t") for line in text.splitlines() if not line.startswith("#")]


def parse_place(text: str) -> Place:
    """A place from coordinates in any of the usual forms, or from a geo: URI (RFC 5870).

    Decimal degrees, degrees with decimal minutes, degrees minutes seconds; letters before or behind
    (O is west, as Spanish and French have it), decimal points or commas.

    Raises
    ------
    InputError : for anything else, with what would be right.

    Examples
    --------
    >>> parse_place("52°05'26.5\\"N 5°07'17.0\\"E").latitude_deg
    52.090694
    >>> parse_place("geo:48.2010,16.3695,183").elevation_m
    183.0
    """
    text = text.strip()
    if len(text) > _LONGEST:
        raise InputError(f"is too long for a place; expected one such as {EXAMPLES}")
    if text.lower().startswith("geo:"):
        place = _geo(text)
    else:
        readings = set(_readings(_plain(text)))
        if len(readings) > 1:
            readings = {pair for pair in readings if _possible(*pair)} or readings
        if not readings:
            raise InputError(f"is no place; expected one such as {EXAMPLES}")
        if len(readings) > 1:
            raise InputError(f"can be read in more than one way; write it as {EXAMPLES}")
        place = _spot(*readings.pop())
    # A hand's breadth on the ground, which no map's coordinates reach; and no −0.
    latitude_deg, longitude_deg = (
        round(degrees, 6) + 0.0 for degrees in (place.latitude_deg, place.longitude_deg)
    )
    return replace(place, latitude_deg=latitude_deg, longitude_deg=longitude_deg)


def parse_points(text: str) -> tuple[Place, Place]:
    """Two points from one text, each in any of the forms of `parse_place`, to the last digit.

    What maps add to a geo: URI behind a question mark is passed over.

    Raises
    ------
    InputError : for anything else, with what would be right.

    Examples
    --------
    >>> [point.longitude_deg for point in parse_points("52.0907 N 5.1214 E, 52.0909 N 5.122 E")]
    [5.1214, 5.122]
    """
    if text.lower().startswith("geo:"):
        points = [_geo(part.strip(",;").partition("?")[0]) for part in text.split()]
    elif len(text) > 2 * _LONGEST:
        points = []
    else:
        readings = {
            (*first, *second)
            for head, rest in _cuts(_plain(text))
            for first in _readings(head)
            for second in _readings(rest)
        }
        if len(readings) > 1:
            readings = {ends for ends in readings if _possible(*ends[:2]) and _possible(*ends[2:])}
        ends = readings.pop() if len(readings) == 1 else ()
        points = [_spot(*ends[:2]), _spot(*ends[2:])] if ends else []
    if len(points) != 2:
        raise InputError(f"is not two points, each latitude first; expected two such as {TWO}")
    return points[0], points[1]


def _geo(text: str) -> Place:
    match = _GEO.fullmatch(text)
    if match is None:
        raise InputError("is no geo: link; expected one such as geo:52.0907,5.1214,5;u=40")
    parameters = [part.partition("=") for part in match[4].split(";")[1:]]
    names = [name.lower() for name, _, _ in parameters]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputError(f"has {twice} twice; give it once")
    values = {name: unquote(part[2]) for name, part in zip(names, parameters, strict=True)}
    crs = values.get("crs", "wgs84")
    if crs.lower() != "wgs84":
        raise InputError(f"is in the reference system {shown(crs)}; expected WGS 84 (crs=wgs84)")
    within = values.get("u")
    if within is not None and re.fullmatch(r"\d+(\.\d+)?", within, re.ASCII) is None:
        raise InputError(f"has {shown(within)} as its u; expected metres, such as u=40")
    elevation_m = None if match[3] is None else float(match[3])
    if elevation_m is not None and not LOWEST_M <= elevation_m <= HIGHEST_M:
        raise InputError(f"is {elevation_m:g} m above the sea; expected −500 to 9000 m")
    return _on_earth(
        float(match[1]),
        float(match[2]),
        elevation_m=elevation_m,
        uncertainty_m=None if within is None else float(within),
    )


@dataclass(frozen=True)
class _Angle:
    degrees: float
    letter: str
    marked: bool  # with a degree sign
    sixties: tuple[float, ...]  # its minutes and seconds

    @property
    def north(self) -> bool:
        return self.letter in "NS"


def _plain(text: str) -> str:
    return text.translate(_PLAIN).replace("''", '"')


def _spot(latitude: _Angle, longitude: _Angle) -> Place:
    if any(not part < 60 for part in (*latitude.sixties, *longitude.sixties)):
        raise InputError("has minutes or seconds of 60 or more; expected less than 60")
    west = "O is read as west (oeste, ouest); write E for east" if longitude.letter == "O" else None
    return _on_earth(latitude.degrees, longitude.degrees, remark=west)


def _cuts(text: str) -> Iterator[tuple[str, str]]:
    """All ways to part a text between two coordinates."""
    for cut in range(1, len(text)):
        between = text[cut] in ",;/" or text[cut].isspace()
        if between or text[cut - 1].isalpha() or text[cut].isalpha():
            yield text[:cut].strip(), re.sub(r"^\s*[,;/]?\s*", "", text[cut:])


def _readings(text: str) -> Iterator[tuple[_Angle, _Angle]]:
    """All ways to take a text for a latitude and a longitude."""
    for first, second in ((_angle(head), _angle(rest)) for head, rest in _cuts(text)):
        if first is None or second is None or first.marked != second.marked:
            continue
        if not first.letter and not second.letter:
            yield first, second
        elif first.letter and second.letter and first.north != second.north:
            yield (first, second) if first.north else (second, first)


def _angle(text: str) -> _Angle | None:
    match = _ANGLE.fullmatch(text)
    if match is None:
        return None
    letters = "".join(match[side] or "" for side in ("before", "after")).upper()
    marked = "°" in text
    sixties = [match[part] for part in ("minutes", "seconds", "last_minutes")]
    # Bare numbers in a row are degrees and minutes only where a letter says so.
    if len(letters) > 1 or (letters and match["sign"]):
        return None
    if match["whole"] is not None and not marked and not letters:
        return None
    parts = tuple(float(part.replace(",", ".")) for part in sixties if part is not None)
    degrees = float((match["whole"] or match["degrees"]).replace(",", "."))
    degrees += sum(part / 60 ** (power + 1) for power, part in enumerate(parts))
    negative = match["sign"] == "-" or letters in {"S", "W", "O"}
    return _Angle(-degrees if negative else degrees, letters, marked, parts)


def _possible(latitude: _Angle, longitude: _Angle) -> bool:
    return abs(latitude.degrees) <= 90 and abs(longitude.degrees) <= 180


def _on_earth(
    latitude_deg: float,
    longitude_deg: float,
    *,
    elevation_m: float | None = None,
    uncertainty_m: float | None = None,
    remark: str | None = None,
) -> Place:
    if not abs(latitude_deg) <= 90:
        raise InputError(
            f"has the latitude {latitude_deg:g}; expected −90 to 90, latitude first, then longitude"
        )
    if not abs(longitude_deg) <= 180:
        raise InputError(f"has the longitude {longitude_deg:g}; expected −180 to 180")
    return Place(
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
        uncertainty_m=uncertainty_m,
        remark=remark,
    )
