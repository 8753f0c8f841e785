"""What does a socket give where the file names no circuit? What is usual in the place's country."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from ..data import table
from .place import country_at, country_name


@dataclass(frozen=True)
class Mains:
    """A socket's or circuit's amperes and volts, as `data/mains.toml` has them for a country.

    Attributes
    ----------
    amps, volts
        What a plan counts on.
    of
        What has them, in words: a circuit, a socket, a plug.
    country
        Its name; None where the place lies in none, or in one that the table lacks.
    by_code
        Whether the country's code limits long loads to the share that is planned with.
    """

    amps: float
    volts: float
    of: str
    country: str | None
    by_code: bool


@cache
def usual_mains(*, latitude_deg: float, longitude_deg: float) -> Mains:
    """The mains that are usual where a spot lies; the least of all where that is not known.

    >>> usual = usual_mains(latitude_deg=44.4759, longitude_deg=-73.2121)
    >>> usual.amps, usual.volts, usual.country
    (15.0, 120.0, 'United States')
    >>> usual_mains(latitude_deg=40.0, longitude_deg=-40.0).country is None
    True
    """
    figures = table("mains")
    code = country_at(latitude_deg=latitude_deg, longitude_deg=longitude_deg)
    row = next((row for row in figures["mains"] if code in row["countries"]), None)
    known = figures["unknown"] if row is None else row
    return Mains(
        amps=float(known["amps"]),
        volts=float(known["volts"]),
        of=known.get("of", "circuit"),
        country=None if row is None or code is None else country_name(code),
        by_code=known.get("by_code", False),
    )
