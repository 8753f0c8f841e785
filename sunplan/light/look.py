"""The look: where things should sit for a time of day, in stops over mid-grey."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..data import table
from ..location.kit import Kit
from ..location.model import Bands, Plays, Setup
from ..sun.position import Floats

Band = tuple[float, float]
BAND_EDGE_STOPS = 1e-9  # what rounding may put a level past the edge of its band


@dataclass(frozen=True)
class Look:
    """Bands of stops that read as one time of day, lowest and highest; common practice, no source.

    Attributes
    ----------
    window, dressing
        What is seen through clear glass, and what hangs before it: over mid-grey.
    practical
        A lamp's shade in frame: over mid-grey.
    background, fill
        Incident, against key.
    black_reads
        Whether a window that is darker than its band, down to black, does as well.
    """

    window: Band
    dressing: Band
    practical: Band
    background: Band
    fill: Band
    black_reads: bool

    def band(self, dressing: str | None) -> Band:
        """Where an opening should sit with what hangs before it, None for nothing.

        Raises
        ------
        KeyError
            For a dressing that `data/dressing.toml` has not.

        Examples
        --------
        >>> dusk = look("dusk")
        >>> dusk.band(None), dusk.band("net"), dusk.band("sheer")
        ((-2.0, -1.0), (-2.0, -1.0), (-1.0, 0.0))
        """
        row = table("dressing")["none" if dressing is None else dressing]
        return self.window if row.get("see_through", False) else self.dressing


def look(plays: Plays, *overrides: Bands | None) -> Look:
    """The look of a time of day, with what a kit or a setup wants otherwise; the last one wins.

    Raises
    ------
    KeyError
        For a time of day that `data/look.toml` has not.

    Examples
    --------
    >>> look("dusk").window, look("dusk", Bands(window=(-3.0, -2.0))).window
    ((-2.0, -1.0), (-3.0, -2.0))
    """
    row = dict(table("look")[plays])
    for bands in overrides:
        if bands is not None:
            row |= bands.model_dump(exclude_none=True)
    black_reads = bool(row.pop("black_reads", False))
    stops: dict[str, Band] = {name: (float(low), float(high)) for name, (low, high) in row.items()}
    return Look(**stops, black_reads=black_reads)


def look_of(setup: Setup, kit: Kit) -> Look:
    """A setup's look: the package's, the kit's where it says so, the setup's own above all."""
    return look(setup.plays, getattr(kit.look, setup.plays), setup.look)


def outside(stops: float, low: float, high: float) -> float:
    """Stops by which a level is past the ends of its band: over it, or under it if negative.

    >>> outside(2.0, -2.0, -1.0), outside(-1.5, -2.0, -1.0), outside(-4.0, -2.0, -1.0)
    (3.0, 0.0, -2.0)
    """
    return max(0.0, stops - high) + min(0.0, stops - low)


def over(stops: Floats, low: Floats, high: Floats) -> Floats:
    """Stops by which levels lie above the middle of their bands; 0 within a band and below it.

    >>> over(np.array([2.0, -1.2, -4.0]), -2.0, -1.0)
    array([3.5, 0. , 0. ])
    """
    return np.where(stops > high + BAND_EDGE_STOPS, stops - (low + high) / 2, 0.0)


def under(stops: Floats, low: Floats, high: Floats) -> Floats:
    """Stops by which levels lie below the middle of their bands; 0 within a band and above it.

    >>> under(np.array([2.0, -1.2, -4.0]), -2.0, -1.0)
    array([0. , 0. , 2.5])
    """
    return np.where(stops < low - BAND_EDGE_STOPS, (low + high) / 2 - stops, 0.0)
