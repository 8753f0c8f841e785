"""Towns by name, without a network: GeoNames' towns of over 15 000 people (CC BY 4.0)."""

from __future__ import annotations

import csv
import difflib
import gzip
import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from ..errors import InputError
from ..location.messages import shown
from ..location.place import Place, parse_place

ATTRIBUTION = "Town: GeoNames (geonames.org), CC BY 4.0"
_MOST = 20  # towns of one name that are listed
_NEAR = 5  # suggestions
_ALIKE = 0.75  # of difflib's ratio: two wrong letters in eight
_SAYINGS = {"uk": "GB", "usa": "US"}  # common practice, no source
_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})
_LETTERS = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i", "ə": "e"}
)


@dataclass(frozen=True)
class Town:
    """A town: WGS 84 degrees of its middle, people to two figures.

    `region` is its name where known, else ""; `seat` the largest town of the region.
    """

    name: str
    others: tuple[str, ...]
    country_code: str
    country: str
    region_code: str
    region: str
    latitude_deg: float
    longitude_deg: float
    people: int
    timezone: str
    seat: str

    @property
    def around(self) -> str:
        """The region as people call it: its name, or its largest town."""
        return self.region if self.region else f"region of {self.seat}"


@cache
def towns() -> tuple[Town, ...]:
    """All towns, the largest first."""
    packed = (files("sunplan.data") / "towns.csv.gz").read_bytes()
    lines = gzip.decompress(packed).decode().splitlines()
    rows = [row for row in csv.reader(lines) if not row[0].startswith("#")][1:]
    rows.sort(key=lambda row: -int(row[8]))
    seats: dict[tuple[str, str], str] = {}
    for row in rows:
        seats.setdefault((row[2], row[4]), row[0])
    return tuple(
        Town(
            name=row[0],
            others=tuple(row[1].split("|")) if row[1] else (),
            country_code=row[2],
            country=row[3],
            region_code=row[4],
            region=row[5],
            latitude_deg=float(row[6]),
            longitude_deg=float(row[7]),
            people=int(row[8]),
            timezone=row[9],
            seat=seats[row[2], row[4]],
        )
        for row in rows
    )


def town_place(text: str) -> Place:
    """The place of the one town that a text means.

    Raises
    ------
    InputError : as `find` does.
    """
    town = find(text)
    return Place(
        latitude_deg=town.latitude_deg,
        longitude_deg=town.longitude_deg,
        town=town.name,
        town_timezone=town.timezone,
    )


def place_of(text: str) -> Place:
    """The place that a text means: with a digit coordinates or a geo: URI, else a town's name.

    Raises
    ------
    InputError : as `parse_place` and `find` do.
    """
    return parse_place(text) if any(sign.isdigit() for sign in text) else town_place(text)


def find(text: str) -> Town:
    """The one town that ``Town``, ``Town, CC`` or ``Town, Region`` means.

    Accents and case do not matter.

    Raises
    ------
    InputError : with the list where several fit, and with what comes near where none does.

    Examples
    --------
    >>> find("Muenchen").name, find("paris, fr").timezone
    ('Munich', 'Europe/Paris')
    """
    fitting = _matches(text)
    if not fitting:
        raise InputError(_none(text))
    if len(fitting) > 1:
        several = f"{len(fitting)} towns are called so; give one of these:"
        raise InputError(f"{several}\n{_listed(fitting)}")
    return fitting[0]


def fold(name: str) -> str:
    """A name as it is compared: no accents, no capitals, no signs, Saint for St.

    >>> fold("São Paulo"), fold("St. John's"), fold("  Łódź ")
    ('sao paulo', 'saint johns', 'lodz')
    """
    letters = unicodedata.normalize("NFKD", unicodedata.normalize("NFKD", name).casefold())
    bare = "".join(letter for letter in letters if not unicodedata.combining(letter)).translate(
        _LETTERS
    )
    words = re.sub(r"[^\w]+|_", " ", re.sub(r"['’‘ʼʻ`´]", "", bare)).split()
    return " ".join("saint" if word == "st" else word for word in words)


def _keys(name: str) -> set[str]:
    """A name folded, and folded with its umlauts written out."""
    out = unicodedata.normalize("NFC", name).casefold().translate(_UMLAUTS)
    return {fold(name), fold(out)}


def _matches(text: str) -> list[Town]:
    """The towns that a text fits, the largest first: by name, or larger ones by another name."""
    parts = text.split(",")
    for end in range(len(parts), 0, -1):  # a few names hold commas themselves
        called: dict[Town, bool] = {}
        for key in _keys(",".join(parts[:end])):
            for town, own in _called().get(key, {}).items():
                called[town] = own or called.get(town, False)
        within = [_keys(part) for part in parts[end:]]
        fitting = [town for town in called if all(part & _areas(town) for part in within)]
        largest = max((town.people for town in fitting if called[town]), default=0)
        if fitting:
            kept = (town for town in fitting if called[town] or town.people > largest)
            return sorted(kept, key=lambda town: -town.people)
    return []


@cache
def _called() -> dict[str, dict[Town, bool]]:
    """By each folded name the towns that carry it, and whether it is the one they stand under."""
    index: dict[str, dict[Town, bool]] = {}
    for town in towns():
        for own, name in ((True, town.name), *((False, other) for other in town.others)):
            for key in _keys(name):
                index.setdefault(key, {}).setdefault(town, own)
    return index


def _areas(town: Town) -> set[str]:
    """What a town may be narrowed by, folded."""
    sayings = [saying for saying, code in _SAYINGS.items() if code == town.country_code]
    names = (town.country_code, town.country, town.region_code, town.region, town.seat, *sayings)
    return {key.removeprefix("the ") for name in names for key in _keys(name)} - {""}


def _listed(several: list[Town]) -> str:
    """Towns, each with what means it alone."""
    listed = [
        f"  {_narrowed(town)}: {town.around}, {town.country}, {_people(town)}"
        for town in several[:_MOST]
    ]
    more = [f"  and {len(several) - _MOST} smaller ones"] if len(several) > _MOST else []
    return "\n".join((*listed, *more))


def _people(town: Town) -> str:
    return f"{town.people:,}".replace(",", " ") + " people"


def _narrowed(town: Town) -> str:
    """The option that means this town alone: by its country, its region, else its coordinates."""
    region = town.region if town.region else town.seat
    extras = ((town.country_code,), (town.country,), (region,), (region, town.country_code))
    for extra in extras:
        text = ", ".join((town.name, *extra))
        if _matches(text) == [town]:
            return f'--town "{text}"'
    return f'--place "{town.latitude_deg:g},{town.longitude_deg:g}"'


def _none(text: str) -> str:
    name, _, area = (part.strip() for part in text.partition(","))
    there = _matches(name) if area else []
    if there:
        return f"there is none in {shown(area)}; known:\n{_listed(there)}"
    return "is no town of over 15 000 people" + _hint(name)


def _hint(name: str) -> str:
    near = difflib.get_close_matches(fold(name)[:60], _called(), n=_NEAR, cutoff=_ALIKE)
    meant = (next(iter(_called()[key])) for key in near)
    hits = dict.fromkeys(f"{town.name}, {town.country_code}" for town in meant)
    if hits:
        return f"; did you mean {' or '.join(shown(hit) for hit in hits)}?"
    return "; give a larger one nearby, or coordinates with --place"
