"""How bright is each window in frame from moment to moment, with nothing done to it?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..location.model import Setup
from ..location.read import Location
from ..room.beam import beam_of
from ..sun.position import Floats
from ..sun.search import Bools
from .daylight import Skies, Weather, skies
from .gap import windows
from .look import Band, look_of
from .meter import grey_cd_m2, stops
from .window_luminance import Window

LEAST_STOPS = -60.0  # no light at all
STEP_S = 600.0  # between moments that a line may join


def moments(start_s: float, end_s: float) -> list[float]:
    """Moments from start to end, both among them, near enough for a line."""
    count = max(2, math.ceil((end_s - start_s) / STEP_S) + 1)
    found: list[float] = np.linspace(start_s, end_s, count).tolist()
    return found


@dataclass(frozen=True, eq=False)
class WindowSeries:
    """A window in frame under one sky: `stops` over mid-grey at moments (T,).

    `band` is where the look wants it; `black_reads`: below it does as well.
    """

    setup: Setup
    window: Window
    above: Skies
    sky: str
    stops: Floats
    band: Band
    black_reads: bool

    @property
    def opening(self) -> str:
        """The window's name."""
        return self.window.opening.name

    @property
    def moments(self) -> Floats:
        """Seconds since 1970 UTC, (T,)."""
        return np.array([one.unix_s for one in self.above])

    @property
    def sun_in_frame(self) -> Bools:
        """Whether the sun itself stands in it, (T,)."""
        return self.window.sun_in_frame(self.above)


def window_series(
    location: Location,
    setups: Sequence[Setup],
    times: Sequence[float],
    weathers: Sequence[Weather],
) -> list[WindowSeries]:
    """All windows in frame at some moments, setup by setup, window by window, sky by sky."""
    above = {one.name: skies(location, times, one) for one in weathers}
    found = []
    for setup in setups:
        room = beam_of(location, location.room_named(setup.room))
        grey, wanted = grey_cd_m2(setup.exposure), look_of(setup, location.kit_of(setup))
        for seen in windows(location, setup, room):
            if not seen.in_frame:
                continue
            band = wanted.band(seen.opening.opening.dressing)
            for name, sky in above.items():
                level = [stops(at, grey) for at in seen.luminance_cd_m2(sky).tolist()]
                found.append(
                    WindowSeries(
                        setup=setup,
                        window=seen,
                        above=sky,
                        sky=name,
                        stops=np.maximum(np.array(level), LEAST_STOPS),
                        band=band,
                        black_reads=wanted.black_reads,
                    )
                )
    return found
