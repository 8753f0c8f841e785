"""A stretch of quarter hours in which the same can be said of a setup, and what it counts as."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from ..light.resolved import ResolvedSetup
from ..location.kit import Gel
from ..rig import minutes
from ..rig.window_treatment import WindowTreatment
from ..sun.local_time import DAY_S, MINUTE_S
from .rigging_plan import MOST_STOPS, STOP_MINUTES, UNMET_STOPS, RiggingPlan
from .tolerance import Firm

PATCH_STOPS = 4.0  # what a patch of sun in frame counts as: it gives the hour away; a choice
LACKING_MINUTES = 2.0  # what each minute counts for that a stretch is too short; a choice

State = Literal["fits", "gel", "black", "tent", "dressing", "exposure", "nothing", "dark", "sun"]
ScorePart = Literal["rig", "off_look", "unmet", "sun_patch", "sun_in_window", "too_short"]
UNMET: tuple[State, ...] = ("nothing", "dark", "sun")


@dataclass(frozen=True, eq=False)
class WindowFact:
    """What can be said of a window in frame through a stretch: what the rule says of it.

    `stops` are where it sits, darkest and brightest.
    """

    opening: str
    stops: tuple[float, float]
    over_stops: tuple[float, float]
    treatment: WindowTreatment

    @property
    def state(self) -> State:
        """In a word: it fits by itself, what brings it into its band, or why nothing does."""
        treatment = self.treatment
        if treatment.sun_in_frame and treatment.action not in ("black", "tent"):
            return "sun"
        if treatment.too_dark:
            return "dark"
        match treatment.action:
            case "nothing does it":
                return "nothing"
            case "leave" | "gel":
                fits: State = "gel" if treatment.gels else "fits"
                return "exposure" if treatment.down_stops else fits
            case covered:
                return covered

    @property
    def gels(self) -> tuple[Gel, ...]:
        """What goes on its glass."""
        return self.treatment.gels


@dataclass(frozen=True, eq=False)
class Stretch:
    """A run of quarter hours, from the first to the last, seconds since 1970 UTC.

    `on_mark` are the openings that sun comes through onto the mark. `fill_stops` is daylight on the
    face's darker side, least and most, in stops from key, `fill_fits` whether the look allows it.
    `until_s` and `since_s` say by opening when, on that date, sun on the mark comes next or went
    last. `rigging` is what must hang, None where that was not looked at; `lacking_minutes` what is
    too short for the setup. `other_off` are the stops that all windows are off together under the
    other sky, least and most. `sky_share` is the share of days on which the sky is as it is looked
    at, None where it is not known; `other_minutes` is what the other sky counts as, about; `dates`
    are how many dates have one like it. `firm` is how far its ends may move by what may be off,
    None where nothing may.
    """

    setup: ResolvedSetup
    day: date
    start_s: float
    end_s: float
    on_mark: tuple[str, ...]
    behind: bool
    in_frame: bool
    windows: tuple[WindowFact, ...]
    fill_stops: tuple[float, float]
    fill_fits: bool
    since_s: dict[str, float]
    until_s: dict[str, float]
    other_off: tuple[float, float]
    sky_share: float | None
    other_minutes: float
    rigging: RiggingPlan | None = None
    other_rigging: RiggingPlan | None = None
    dates: int = 1
    firm: Firm | None = None

    @property
    def minutes(self) -> float:
        """How long it lasts."""
        return (self.end_s - self.start_s) / MINUTE_S

    @property
    def fits(self) -> bool:
        """Whether there are windows in frame, and all fit by themselves."""
        return bool(self.windows) and all(window.state == "fits" for window in self.windows)

    def like(self, other: Stretch) -> bool:
        """Whether the same can be said of another at about the same time of day."""
        same = self._said == other._said
        moved = DAY_S * round((other.start_s - self.start_s) / DAY_S)
        shared = min(self.end_s, other.end_s - moved) - max(self.start_s, other.start_s - moved)
        shorter = min(self.end_s - self.start_s, other.end_s - other.start_s)
        return same and shared >= shorter / 2

    @property
    def _said(self) -> tuple[object, ...]:
        windows = [(window.state, window.gels) for window in self.windows]
        return self.on_mark, self.behind, self.in_frame, self.fill_fits, windows

    @property
    def lacking_minutes(self) -> float:
        """By how much it is too short to shoot all of the setup."""
        return max(0.0, self.setup.minutes - self.minutes)

    @property
    def cost(self) -> float:
        """In minutes: rigging, stops, a patch in frame, what is lacking, what nothing mends.

        Before what must hang is looked at it is a guess.
        """
        return sum(self.score_parts.values())

    @property
    def score_parts(self) -> dict[ScorePart, float]:
        """What its cost is the sum of, minutes by part."""
        rigging = self.rigging
        stops = 0.0 if rigging is None else STOP_MINUTES * rigging.stops
        return {
            "rig": self._guess if rigging is None else rigging.minutes,
            "off_look": stops,
            "unmet": 0.0 if rigging is None else rigging.off_minutes - stops,
            "sun_patch": PATCH_STOPS * STOP_MINUTES * (self.in_frame or self.behind),
            "sun_in_window": UNMET_STOPS
            * STOP_MINUTES
            * any(window.state == "sun" for window in self.windows),
            "too_short": LACKING_MINUTES * self.lacking_minutes,
        }

    @property
    def other_cost(self) -> float:
        """The same under the other sky."""
        spent = self.other_minutes if self.other_rigging is None else self.other_rigging.cost
        return spent + LACKING_MINUTES * self.lacking_minutes

    @property
    def _guess(self) -> float:
        """About what rigging and stops will count as."""
        spent = 0.0
        for window in self.windows:
            spent += STOP_MINUTES * min(window.over_stops[1], MOST_STOPS)
            spent += minutes.of("gel_in_frame") * len(window.gels)
            task = {"black": "cloth", "tent": "tent", "dressing": "dressing"}.get(window.state)
            spent += minutes.of(task) if task else 0.0
        unmet = any(window.state in UNMET[:2] for window in self.windows)
        spent += UNMET_STOPS * STOP_MINUTES * unmet
        spent += (minutes.of("small_flag") + minutes.of("steps")) * len(self.on_mark)
        return spent + (minutes.of("cloth") + minutes.of("leaks")) * (not self.fill_fits)

    @property
    def expected_cost(self) -> float:
        """By the odds of the sky that is looked at; its cost where they are not known."""
        if self.sky_share is None:
            return self.cost
        return self.sky_share * self.cost + (1.0 - self.sky_share) * self.other_cost

    @property
    def worst_cost(self) -> float:
        """Under whichever sky costs more."""
        return max(self.cost, self.other_cost)
