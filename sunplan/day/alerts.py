"""What direct sun does to a setup while it is shot: onto its mark, or into its frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..light.resolved import ResolvedSetup
from ..location.read import Location
from ..rig.flags import FlagOption
from ..room.beam import beam_of
from ..room.entry import DayEntries, SunTests
from ..room.interval import Span
from ..room.sunlit_spots import sun_reaches
from ..sun.position import Floats
from ..sun.search import DAY_STEP_S, Bools, Indices, intervals, time_grid
from ..sun.track import track_over
from .running_order import Slot


@dataclass(frozen=True, eq=False)
class Alert:
    """A stretch of a shoot, seconds since 1970 UTC, with sun on its mark or itself in its frame.

    `flag` is what keeps it off the mark, None where nothing does and for sun in frame.
    """

    setup: ResolvedSetup
    what: Literal["mark", "frame"]
    opening: str
    start_s: float
    end_s: float
    flag: FlagOption | None


def alerts(location: Location, entries: DayEntries, slots: Sequence[Slot]) -> tuple[Alert, ...]:
    """All of a day's, in order; openings that are blacked or tented for a setup raise none.

    Parameters
    ----------
    entries
        The day's direct sun.
    slots
        When each setup is shot, and what hangs then.
    """
    found = []
    for slot in slots:
        setup, dark = slot.setup, slot.needs.treated.covered
        flags = {one.opening: one for one in slot.needs.flags}
        for one in entries.marks:
            if (one.room, one.mark) == (setup.room, setup.mark) and one.opening not in dark:
                spans = [(span.start_s, span.end_s) for span in one.intervals]
                found += [
                    Alert(setup, "mark", one.opening, *span, flags.get(one.opening))
                    for span in _within(spans, slot.shoot_s)
                ]
        for name, spans in in_frame(location, setup, *slot.shoot_s).items():
            if name not in dark:
                found += [Alert(setup, "frame", name, *span, None) for span in spans]
    return tuple(sorted(found, key=lambda one: (one.start_s, one.opening, one.what)))


def in_frame(
    location: Location, setup: ResolvedSetup, start_s: float, end_s: float
) -> dict[str, list[Span]]:
    """When a setup's camera sees the sun itself, by the opening it sees it through.

    The middle of the disk decides; between two moments, seconds since 1970 UTC.

    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> house, noon = read("locations/lock-house.toml"), 1805540400.0
    >>> in_frame(house, resolve(house)[1], noon, noon + 3600.0)
    {}
    """
    light = SunTests(location, track_over(location, start_s, end_s))
    beam, camera = beam_of(location, setup.in_room), setup.view
    count = len(beam.apertures)

    def seen(times: Floats) -> Bools:
        """By opening, (O, T)."""
        found = np.zeros((count, len(times)), dtype=bool)
        sky = light.above_horizon(times)
        suns = light.plan_vectors(sky)
        framed = camera.in_frame(camera.position + suns)
        places = np.searchsorted(times, sky.unix_s[framed])
        for index in range(count):
            found[index, places] = sun_reaches(beam, index, camera.position[None], suns[framed])[
                :, 0
            ]
        return found

    def asked(times: Floats, rows: Indices) -> Bools:
        order = np.argsort(times, kind="stable")
        holds = np.zeros(len(times), dtype=bool)
        holds[order] = seen(times[order])[rows[order], np.arange(len(times))]
        return holds

    grid = time_grid(start_s, end_s, DAY_STEP_S)
    found = intervals(asked, grid, seen(grid))
    return {one.name: spans for one, spans in zip(beam.apertures, found, strict=True) if spans}


def _within(spans: Sequence[Span], limits: Span) -> list[Span]:
    """What of some stretches lies within limits."""
    cut = [(max(first, limits[0]), min(last, limits[1])) for first, last in spans]
    return [(first, last) for first, last in cut if first < last]
