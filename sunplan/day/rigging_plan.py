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
from ..rig.window_treatment import Levels, decided

STOP_MINUTES = 4.0  # what a stop of a window is worth in minutes of rigging; a choice, no source
MOST_STOPS = 12.0  # more than this is as bad as anything
UNMET_STOPS = 40.0  # what a look counts as that nothing which hangs brings; a choice, no source
DARK_FROM = 0.75  # stops under the middle of its band


@dataclass(frozen=True, eq=False)
class RiggingPlan:
    """A setup from one moment to another: what hangs then, how many stops its windows are off.

    `too_dark`: a window in frame gets darker than its look in that time, with its gel on too.
    `unsolved` are windows that no gel brings down, and that nobody can tent.
    """

    setup: Setup
    start_s: float
    end_s: float
    jobs: tuple[Job, ...]
    stops: float
    too_dark: bool
    unsolved: tuple[str, ...]

    @property
    def minutes(self) -> float:
        """To rig it from nothing."""
        return sum(job.minutes for job in self.jobs)

    @property
    def cost(self) -> float:
        """Minutes to rig it, and what it is off the look, as minutes."""
        return self.minutes + self.off_minutes

    @property
    def off_minutes(self) -> float:
        """What its windows are off the look, as minutes."""
        unmet = UNMET_STOPS if self.too_dark or self.unsolved else 0.0
        return STOP_MINUTES * (self.stops + unmet)


def rigging_plan(
    location: Location, light: Levels, flags: Sequence[FlagOption], start_s: float, end_s: float
) -> RiggingPlan:
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
        jobs.append(
            Job(label, "negative fill, if pack has a panel", minutes.of("panel"), (), ("stands",))
        )
    looks = [openings for moment in light.gaps[chosen] for openings in moment]
    dark = any((one.raise_stops or 0.0) > DARK_FROM for openings in looks for one in openings)
    return RiggingPlan(
        setup=setup,
        start_s=start_s,
        end_s=end_s,
        jobs=tuple(jobs),
        stops=max(map(_off, looks)),
        too_dark=dark or any(one.too_dark for one in done.openings),
        unsolved=tuple(one.opening.name for one in done.openings if one.what == "nothing does it"),
    )


def _off(openings: Sequence[OpeningGap]) -> float:
    """How many stops the windows in frame are off their bands together."""
    total = 0.0
    for one in openings:
        if one.in_frame:
            off = (one.lose_stops or 0.0) + (one.raise_stops or 0.0)
            total += MOST_STOPS if one.sun_in_frame else min(off, MOST_STOPS)
    return total
