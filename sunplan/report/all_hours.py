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
from .rows import records as rows_of


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


def kinds(location: Location, hours: Hours, answer: Answer) -> dict[str, list[Record]]:
    """Ranked stretches indoors, their quarter hours, and what each window in frame is in them."""
    quarters = list(indoors.quarter_hours(location, hours.setups))
    return {
        "stretches": rows_of(answer, "setups", "stretches"),
        "quarter_hours": [quarter for quarter, _ in quarters],
        "windows": [
            {"setup": quarter["setup"], "time": quarter["time"], **window}
            for quarter, windows in quarters
            for window in windows
        ],
    }


def records(location: Location, hours: Hours) -> list[Record]:
    """All quarter hours indoors, a row for each window in frame."""
    return [
        quarter | window
        for quarter, windows in indoors.quarter_hours(location, hours.setups)
        for window in windows or [{}]
    ]
