"""The look: where things should sit for a time of day, in stops over mid-grey."""

from __future__ import annotations

from dataclasses import dataclass

from ..data import table
from ..location.model import Plays

Band = tuple[float, float]


@dataclass(frozen=True)
class Look:
    """Bands of stops that read as one time of day; common practice, no source.

    `black_reads`: a window that is darker than its band, down to black, does as well.
    """

    window: Band
    practical: Band
    black_reads: bool


def look(plays: Plays) -> Look:
    """The look of a time of day.

    >>> look("dusk").window
    (-2.0, -1.0)
    """
    row = table("look")[plays]
    return Look(
        window=tuple(row["window"]),
        practical=tuple(row["practical"]),
        black_reads=row.get("black_reads", False),
    )


def over(stops: float, band: Band) -> float:
    """How far above a band's middle: what must be lost; 0 within the band and below it.

    >>> over(2.0, (-2.0, -1.0)), over(-1.2, (-2.0, -1.0)), over(-4.0, (-2.0, -1.0))
    (3.5, 0.0, 0.0)
    """
    return stops - sum(band) / 2 if stops > band[1] else 0.0


def under(stops: float, band: Band) -> float:
    """How far below a band's middle; 0 within the band and above it."""
    return sum(band) / 2 - stops if stops < band[0] else 0.0
