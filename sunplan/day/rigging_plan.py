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
# What a window in frame loses to what hangs before it, in stops off its look. Choices, no source:
# cloth hides the view, a tent fakes its hour, each layer of gel reflects and shows its edges.
TREATED_STOPS = {"black": 1.0, "dressing": 3.0, "tent": 9.0}
LAYER_STOPS = 0.5  # a layer of gel
LEFT_FACTOR = 3.0  # a stop still off when all hangs counts as so many taken off; a choice
HOUR_STOPS = 5.0  # a view in frame of another hour than the scene plays; a choice
# The sun's altitude through each hour of a film, degrees; night from the end of civil twilight on,
# the others common practice, no source.
HOUR_DEG = {"day": (5.0, 90.0), "evening": (-4.0, 8.0), "dusk": (-8.0, 1.0), "night": (-90.0, -6.0)}
DARK_FROM = 0.75  # stops under the middle of its band


@dataclass(frozen=True)
class PictureLoss:
    """How much worse windows in frame read than untreated ones in their look at its real hour.

    In stops, one a kind: `off_look` is what they are still off when all hangs, in the mean of the
    minutes shot, `LEFT_FACTOR` times; `treatments` what gel, cloth and tents take; `false_hour` a
    view that shows another hour than the scene plays.
    """

    off_look: float
    treatments: float
    false_hour: float

    @property
    def stops(self) -> float:
        """All together."""
        return self.off_look + self.treatments + self.false_hour


@dataclass(frozen=True, eq=False)
class RiggingPlan:
    """A setup from one moment to another: what hangs then, how many stops its windows are off.

    `treated` says what each opening of its room needs, `stops` how far all windows in frame are off
    their bands together at the worst moment, before anything is hung; `picture` what they lose.
    """

    setup: ResolvedSetup
    treated: RoomTreatment
    jobs: tuple[Job, ...]
    stops: float
    picture: PictureLoss

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


def _picture(light: StretchLevels, treated: RoomTreatment) -> PictureLoss:
    """What a setup's windows in frame lose to their hour and to what hangs before them."""
    windows = light.by_minute[0].windows
    openings = [treated.openings[seen.index] for seen in windows]
    if not openings:
        return PictureLoss(0.0, 0.0, 0.0)
    taken = [0.0 if it.window is None else it.window.taken_stops for it in openings]
    start_s, end_s = treated.start_s, treated.end_s
    left = light.left_stops(np.array(taken), start_s, end_s, most_stops=MOST_STOPS)
    covered = np.array([opening.action in TREATED_STOPS for opening in openings])
    low_deg, high_deg = HOUR_DEG[treated.setup.plays]
    altitude_deg = light.sun_altitude_deg((start_s + end_s) / 2.0)
    false_hour = not low_deg <= altitude_deg <= high_deg
    return PictureLoss(
        off_look=LEFT_FACTOR * float(left[~covered].sum()),
        treatments=sum(
            TREATED_STOPS.get(opening.action, 0.0) + LAYER_STOPS * len(opening.gels)
            for opening in openings
        ),
        false_hour=HOUR_STOPS * float((~covered).sum()) if false_hour else 0.0,
    )


def rigging_plan(
    light: StretchLevels,
    flags: Sequence[FlagOption],
    start_s: float,
    end_s: float,
    *,
    tents: bool = True,
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
    tents
        Whether windows may be tented; else a curtain where one does.
    """
    ends = np.array([start_s]), np.array([end_s])
    return rigging_plans(light, flags, *ends, tents=tents)[0]


def rigging_plans(
    light: StretchLevels,
    flags: Sequence[FlagOption],
    start_s: Floats,
    end_s: Floats,
    *,
    tents: bool = True,
) -> list[RiggingPlan]:
    """What a setup takes in each of some stretches (N), whose ends are given."""
    off = light.off_stops(start_s, end_s, most_stops=MOST_STOPS).tolist()
    treatments = treatments_between(light, start_s, end_s, tents=tents)
    return [
        RiggingPlan(
            setup=light.setup,
            treated=treated,
            jobs=_jobs(light, flags, treated),
            stops=stops,
            picture=_picture(light, treated),
        )
        for treated, stops in zip(treatments, off, strict=True)
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
