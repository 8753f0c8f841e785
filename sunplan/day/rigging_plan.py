"""A setup shot from one moment to another: what must hang then, and how far off its windows are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..light.resolved import ResolvedSetup
from ..rig import minutes
from ..rig.flags import FlagOption
from ..rig.needs import Job, flag_jobs, key_jobs, opening_jobs, too_filled
from ..rig.room_treatment import RoomTreatment, treatments_between
from ..rig.stretch_levels import StretchLevels
from ..sun.position import Floats

STOP_MINUTES = 4.0  # what a stop of a window is worth in minutes of rigging; a choice, no source
MOST_STOPS = 12.0  # more than this is as bad as anything
UNMET_STOPS = 40.0  # what a look counts as that nothing which hangs brings; a choice, no source
DARK_FROM = 0.75  # stops under the middle of its band


@dataclass(frozen=True, eq=False)
class RiggingPlan:
    """A setup from one moment to another: what hangs then, how many stops its windows are off.

    `treated` says what each opening of its room needs, `stops` how far all windows in frame are off
    their bands together at the worst moment, before anything is hung.
    """

    setup: ResolvedSetup
    treated: RoomTreatment
    jobs: tuple[Job, ...]
    stops: float

    @property
    def start_s(self) -> float:
        """When it begins, seconds since 1970 UTC."""
        return self.treated.start_s

    @property
    def end_s(self) -> float:
        """When it ends."""
        return self.treated.end_s

    @property
    def too_dark(self) -> bool:
        """Whether a window in frame falls below its look in that time, with its gel on too."""
        return self.treated.too_dark

    @property
    def unsolved(self) -> tuple[str, ...]:
        """The windows that nothing brings into the look."""
        return self.treated.unsolved

    @property
    def minutes(self) -> float:
        """To rig it from nothing, for two people."""
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
    light: StretchLevels,
    flags: Sequence[FlagOption],
    start_s: float,
    end_s: float,
) -> RiggingPlan:
    """What a setup takes from one moment to another.

    Parameters
    ----------
    light
        The setup's, from moment to moment.
    flags
        Those to take over a time that holds this one; what has no sun then is left out.
    start_s, end_s
        Seconds since 1970 UTC, of the moments that the light is known for.
    """
    return rigging_plans(light, flags, np.array([start_s]), np.array([end_s]))[0]


def rigging_plans(
    light: StretchLevels, flags: Sequence[FlagOption], start_s: Floats, end_s: Floats
) -> list[RiggingPlan]:
    """What a setup takes in each of some stretches (N), whose ends are given."""
    off = light.off_stops(start_s, end_s, most_stops=MOST_STOPS).tolist()
    return [
        RiggingPlan(light.setup, treated, _jobs(light, flags, treated), stops)
        for treated, stops in zip(treatments_between(light, start_s, end_s), off, strict=True)
    ]


def _jobs(
    light: StretchLevels, flags: Sequence[FlagOption], treated: RoomTreatment
) -> tuple[Job, ...]:
    setup, covered = light.setup, treated.covered
    hit = [
        option
        for option in flags
        if option.opening not in covered
        and any(first < treated.end_s and last > treated.start_s for first, last in option.spans)
    ]
    jobs = [
        *opening_jobs(treated),
        *flag_jobs(setup, hit),
        *key_jobs(setup),
    ]
    if too_filled(light, treated) is not None:
        label, words = f"{setup.name}: negative", "negative fill, if pack has a panel"
        jobs.append(Job(label, words, minutes.of("panel"), (), ("stands",)))
    return tuple(jobs)
