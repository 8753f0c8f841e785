"""Setups through many moments under one sky, as arrays: what `gap` tells of one moment each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..location.model import Setup
from ..location.read import Location
from ..room.aperture import Aperture
from ..sun.position import Floats
from ..sun.search import Bools
from .daylight import Skies
from .face import FACE_POINTS, Faces
from .gap import windows
from .look import look_of
from .meter import grey_cd_m2, key_lux
from .sun_interpolator import SunInterpolator

MOST_EXACT = 1000  # moments; for more, light is read off a net of the sun's places
DARK_STOPS = -60.0  # what no light at all is taken for


@dataclass(frozen=True, eq=False)
class LevelSeries:
    """A setup at moments (T,), before anything is hung.

    `windows` (W) are the openings in frame; `stops` (T, W) where they sit over mid-grey, and
    `disk` (T, W) whether the sun itself stands in them. `face_stops` and `fill_stops` (T,) are what
    daylight alone gives the key side and the fill side of the face, in stops from key.
    """

    setup: Setup
    windows: tuple[Aperture, ...]
    stops: Floats
    disk: Bools
    face_stops: Floats
    fill_stops: Floats

    def bands(self, location: Location) -> Floats:
        """Where each window should sit, lowest and highest, (W, 2)."""
        wanted = look_of(self.setup, location.kit_of(self.setup))
        bands = [wanted.band(one.opening.dressing) for one in self.windows]
        return np.array(bands).reshape(-1, 2)

    def off_stops(self, location: Location) -> tuple[Floats, Floats]:
        """How far each window is over the middle of its band, and under it, (T, W); 0 within it."""
        wanted = look_of(self.setup, location.kit_of(self.setup))
        low, high = self.bands(location).T
        middle = (low + high) / 2
        over = np.where(self.stops > high, self.stops - middle, 0.0)
        under = np.where((self.stops < low) & (not wanted.black_reads), middle - self.stops, 0.0)
        return over, under


def level_series(
    location: Location,
    rooms: Sequence[Faces],
    skies: Skies,
    *,
    tell: Callable[[str], None] = lambda _: None,
) -> dict[str, LevelSeries]:
    """All setups of some rooms under skies of one kind, by name; `tell` hears what is worked on."""
    net = SunInterpolator(location, skies) if len(skies) > MOST_EXACT else None
    found = {}
    for room in rooms:
        tell(f"light: {room.transfer.beam.room.name}")
        indoors = room.transfer
        lit = indoors.indirect_lux(skies) if net is None else net.read(indoors.indirect_lux)
        daylight = (
            (lit + indoors.direct_lux(skies)).sum(axis=1).reshape(len(skies), -1, FACE_POINTS)
        )
        for index, setup in enumerate(room.setups):
            seen = [one for one in windows(location, setup, indoors.beam) if one.in_frame]
            levels = [
                one.luminance_cd_m2(skies) if net is None else net.read(one.luminance_cd_m2)
                for one in seen
            ]
            grey = grey_cd_m2(setup.exposure)
            sides = daylight[:, index, :2]
            lamp = room.lamp_lux[index][:2]
            deciding = np.broadcast_to(lamp, sides.shape) if lamp.any() else sides
            key = np.argmax(deciding, axis=1)[:, None]
            asked = key_lux(setup.exposure)
            shape = (len(skies), len(seen))
            found[setup.name] = LevelSeries(
                setup=setup,
                windows=tuple(one.opening for one in seen),
                stops=_stops(np.array(levels).T.reshape(shape), grey),
                disk=np.array([one.sun_in_frame(skies) for one in seen], dtype=bool).T.reshape(
                    shape
                ),
                face_stops=_stops(np.take_along_axis(sides, key, axis=1)[:, 0], asked),
                fill_stops=_stops(np.take_along_axis(sides, 1 - key, axis=1)[:, 0], asked),
            )
    return found


def _stops(level: Floats, reference: float) -> Floats:
    with np.errstate(divide="ignore"):
        stops: Floats = np.log2(level / reference)
    return np.maximum(stops, DARK_STOPS)
