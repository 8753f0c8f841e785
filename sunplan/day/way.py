"""A setup shot from one moment to another: what must hang then, and how far off its windows are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..light.gap import OpeningGap
from ..location.model import Setup
from ..location.read import Location
from ..rig import minutes
from ..rig.flags import FlagOption
from ..rig.needs import Job, flag_jobs, key_jobs, opening_jobs
from ..rig.treat import Levels, decided

STOP_MINUTES = 4.0  # what a stop of a window is worth in minutes of rigging; a choice, no source
MOST_STOPS = 12.0  # more than this is as bad as anything
DARK_STOPS = 40.0  # what a window too dark for its look counts as: nothing that hangs mends it
DARK_FROM = 0.75  # stops under the middle of its band


@dataclass(frozen=True, eq=False)
class Way:
    """A setup from one moment to another: what hangs then, how many stops its windows are off."""

    setup: Setup
    start_s: float
    end_s: float
    jobs: tuple[Job, ...]
    stops: float

    @property
    def too_dark(self) -> bool:
        """Whether a window in frame gets darker than its look while it is shot."""
        return self.stops >= DARK_STOPS

    @property
    def minutes(self) -> float:
        """To rig it from nothing."""
        return sum(job.minutes for job in self.jobs)

    @property
    def cost(self) -> float:
        """Minutes to rig it, the stops in them."""
        return self.minutes + STOP_MINUTES * self.stops


def way(
    location: Location, light: Levels, flags: Sequence[FlagOption], start_s: float, end_s: float
) -> Way:
    """What a setup takes from one moment to another, of those that its light is known for.

    `flags` are those to take over a time that holds this one.
    """
    setup = light.setup
    kit = location.kit_of(setup)
    done = decided(location, light, start_s, end_s)
    hit = [
        option
        for option in flags
        if option.opening not in done.covered
        and any(first < end_s and last > start_s for first, last in option.spans)
    ]
    jobs = [
        *opening_jobs(done, kit),
        *flag_jobs(location, setup, hit, kit),
        *key_jobs(setup, kit),
    ]
    chosen = light.within(start_s, end_s)
    if setup.contrast is not None and light.ratio(done.passing, chosen) < setup.contrast:
        label = f"{setup.name}: negative"
        jobs.append(Job(label, "negative fill", minutes.of("panel"), (), ("stands",)))
    looks = [openings for moment in light.gaps[chosen] for openings in moment]
    return Way(setup, start_s, end_s, tuple(jobs), max(map(_off, looks)))


def _off(openings: Sequence[OpeningGap]) -> float:
    """How many stops the windows in frame are off their bands together."""
    total = 0.0
    for one in openings:
        if one.in_frame:
            off = MOST_STOPS if one.sun_in_frame else min(one.lose_stops or 0.0, MOST_STOPS)
            total += DARK_STOPS if (one.raise_stops or 0.0) > DARK_FROM else off
    return total
