"""Where does direct sun fall for a setup, moment by moment: on its mark, behind it, in frame?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..light.face import Faces
from ..location.read import Location
from ..room.entry import SunTests
from ..room.interval import Span
from ..room.sunlit_spots import before_openings, sun_reaches
from ..sun.position import Floats
from ..sun.search import DAY_STEP_S, Bools, time_grid
from ..sun.track import track_over
from .tolerance import COARSE, watched

FRAME = 64, 36  # spots that are looked for sun, across the frame and up; in a long span `COARSE`


@dataclass(frozen=True, eq=False)
class Sunlight:
    """Direct sun and one setup at moments (T,).

    `on_mark` (T, O) by opening of its room; `spans` are the same to the second, by opening.
    `behind` (T,) is the spot of wall straight behind the face, `in_frame` (T,) any that is filmed.
    """

    on_mark: Bools
    behind: Bools
    in_frame: Bools
    spans: tuple[tuple[Span, ...], ...]

    def clouded(self) -> Sunlight:
        """The same where no sun shines."""
        return Sunlight(
            np.zeros_like(self.on_mark),
            np.zeros_like(self.behind),
            np.zeros_like(self.in_frame),
            tuple(() for _ in self.spans),
        )


def sunlight(
    location: Location, rooms: Sequence[Faces], times: Floats, *, coarse: bool
) -> dict[str, Sunlight]:
    """Direct sun for all setups of some rooms.

    Parameters
    ----------
    times
        Rising moments (T,), seconds since 1970 UTC.
    coarse
        Whether to look at fewer spots of the frame, for a long span.

    Returns
    -------
    dict
        By the setups' names.
    """
    light = SunTests(location, track_over(location, times[0], times[-1]))
    net = light.grid(time_grid(times[0], times[-1], DAY_STEP_S))
    sky = light.above_horizon(times)
    rows, suns = np.searchsorted(times, sky.unix_s), light.plan_vectors(sky)
    by_setup = {}
    for room in rooms:
        beam = room.transfer.beam
        through = [
            light.opening_intervals(beam, index, net) for index in range(len(beam.apertures))
        ]
        for setup in room.setups:
            spans = tuple(tuple(opening.touching[setup.mark][0]) for opening in through)
            spots = watched(room, setup, COARSE if coarse else FRAME)
            # What falls on glass leaves the room.
            solid = ~before_openings(beam, spots)
            lit = np.zeros((len(times), len(spots)), dtype=bool)
            on_mark = np.zeros((len(times), len(beam.apertures)), dtype=bool)
            for index, touching in enumerate(spans):
                lit[rows] |= sun_reaches(beam, index, spots, suns) & solid
                on_mark[:, index] = _within(times, touching)
            in_frame: Bools = np.asarray(lit[:, 1:].any(axis=1))
            by_setup[setup.name] = Sunlight(on_mark, lit[:, 0], in_frame, spans)
    return by_setup


def _within(times: Floats, spans: Sequence[Span]) -> Bools:
    """Whether moments (T,) lie in stretches that follow one another."""
    edges = np.array(spans).ravel()
    inside: Bools = np.searchsorted(edges, times, side="right") % 2 == 1
    return inside
