"""The hours of a span of dates, indoors and outdoors: JSON, rows, and one document of chapters."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from ..day.hours import Hours
from ..location.read import Location
from . import exteriors, weather
from . import hours as indoors
from .answers import Answer
from .document import Document
from .rows import Record


def answer(
    location: Location, dates: tuple[date, date], hours: Hours, skies: Sequence[str]
) -> Answer:
    """Answer of `sunplan hours`; `skies` are the one looked at and the one compared with."""
    ranked = indoors.answer(location, dates, hours.setups, hours.dusks, skies, hours.measure_first)
    return {
        **ranked,
        "weather": weather.answer(hours.odds),
        "exteriors": [exteriors.answer(location, *day) for day in hours.exteriors.items()],
    }


def report(
    location: Location, dates: tuple[date, date], hours: Hours, skies: Sequence[str]
) -> Document:
    """A chapter for the setups indoors, then one for each date of those outdoors."""
    chapters = [exteriors.report(location, *day) for day in hours.exteriors.items()]
    if hours.setups:
        odds = weather.lines(hours.odds)
        chapters.insert(
            0,
            indoors.report(
                location, dates, hours.setups, hours.dusks, skies, odds, hours.measure_first
            ),
        )
    return Document(None, chapters)


def records(location: Location, hours: Hours) -> list[Record]:
    """All quarter hours indoors, a row for each window in frame."""
    return indoors.records(location, hours.setups)
