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
    hits: Literal["mark", "frame"]
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

    Examples
    --------
    >>> from datetime import date
    >>> from sunplan import read
    >>> from sunplan.room.entry import day_entries
    >>> house = read("locations/lock-house.toml")
    >>> alerts(house, day_entries(house, date(2027, 3, 20)), [])  # nothing is shot
    ()
    """
    alerts_of_day = []
    for slot in slots:
        setup, dark = slot.setup, slot.needs.treated.covered
        flags = {flag.opening: flag for flag in slot.needs.flags}
        for mark in entries.marks:
            if (mark.room, mark.mark) == (setup.room, setup.mark) and mark.opening not in dark:
                spans = [(interval.start_s, interval.end_s) for interval in mark.intervals]
                alerts_of_day += [
                    Alert(setup, "mark", mark.opening, *span, flags.get(mark.opening))
                    for span in _within(spans, slot.shoot_s)
                ]
        for opening, spans in in_frame(location, setup, *slot.shoot_s).items():
            if opening not in dark:
                alerts_of_day += [Alert(setup, "frame", opening, *span, None) for span in spans]
    return tuple(
        sorted(alerts_of_day, key=lambda alert: (alert.start_s, alert.opening, alert.hits))
    )


def in_frame(
    location: Location, setup: ResolvedSetup, start_s: float, end_s: float
) -> dict[str, list[Span]]:
    """When a setup's camera sees the sun itself, by the opening it sees it through.

    The middle of the disk decides.

    Parameters
    ----------
    start_s, end_s
        From when to when, seconds since 1970 UTC.

    Returns
    -------
    dict
        Stretches by the opening's name; openings that show no sun are left out.

    Examples
    --------
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
        sees = np.zeros((count, len(times)), dtype=bool)
        sky = light.above_horizon(times)
        suns = light.plan_vectors(sky)
        framed = camera.in_frame(camera.position + suns)
        columns = np.searchsorted(times, sky.unix_s[framed])
        for index in range(count):
            reaches = sun_reaches(beam, index, camera.position[None], suns[framed])
            sees[index, columns] = reaches[:, 0]
        return sees

    def asked(times: Floats, rows: Indices) -> Bools:
        rising, columns = np.unique(times, return_inverse=True)
        holds: Bools = seen(rising)[rows, columns]
        return holds

    grid = time_grid(start_s, end_s, DAY_STEP_S)
    by_opening = zip(beam.apertures, intervals(asked, grid, seen(grid)), strict=True)
    return {aperture.name: spans for aperture, spans in by_opening if spans}


def _within(spans: Sequence[Span], limits: Span) -> list[Span]:
    """What of some stretches lies within limits."""
    cut = [(max(first, limits[0]), min(last, limits[1])) for first, last in spans]
    return [(first, last) for first, last in cut if first < last]
