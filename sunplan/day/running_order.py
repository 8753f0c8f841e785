"""The running order: when each setup is rigged and shot, in the order of the file."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from ..light.daylight import Weather
from ..light.face import Faces, faces, faces_by_room
from ..location.model import Setup
from ..location.read import Location
from ..rig import minutes
from ..rig.needs import Job, Needs, needs
from ..sun.local_time import clock_to_unix, to_local
from .working_day import WorkingDay, working_day

RIG_S = 1800.0  # guessed first for rigging; where it takes longer, it is worked out again
SLACK_S = 300.0  # early or late; at dusk a window loses a stop in as little
ROUNDS = 5
LATE_S = 60.0


@dataclass(frozen=True, eq=False)
class Slot:
    """A setup's time, seconds since 1970 UTC, with what it needs then.

    It is rigged from `start_s` to `ready_s`. `jobs` are those that do not hang yet; `struck` are
    those of the setup before that come down. `late`: it is shot later than it must start.
    """

    needs: Needs
    start_s: float
    ready_s: float
    shoot_from_s: float
    late: bool
    jobs: tuple[Job, ...]
    struck: tuple[Job, ...]
    moved: bool

    @property
    def setup(self) -> Setup:
        """The setup."""
        return self.needs.setup

    @property
    def strike_minutes(self) -> float:
        """To take down what the setup before leaves and this one does not want."""
        return minutes.of("strike") * sum(job.minutes for job in self.struck)

    @property
    def rig_minutes(self) -> float:
        """To rig what does not hang yet, and to carry over from another room."""
        return sum(job.minutes for job in self.jobs) + (minutes.of("room") if self.moved else 0.0)

    @property
    def shoot_s(self) -> tuple[float, float]:
        """When it is shot."""
        return self.shoot_from_s, self.shoot_from_s + 60.0 * self.setup.minutes


@dataclass(frozen=True, eq=False)
class RunningOrder:
    """All setups in turn."""

    slots: tuple[Slot, ...]
    clock: WorkingDay

    @property
    def last_strike_minutes(self) -> float:
        """To take down the last one."""
        if not self.slots:
            return 0.0
        return minutes.of("strike") * sum(job.minutes for job in self.slots[-1].needs.jobs)

    @property
    def end_s(self) -> float:
        """When everything is down."""
        if not self.slots:
            return self.clock.call_s
        return self.clock.after(self.slots[-1].shoot_s[1], self.last_strike_minutes)

    @property
    def over_s(self) -> float:
        """How long after wrap that is, 0 if it is before."""
        return max(0.0, self.end_s - self.clock.wrap_s)

    @property
    def rig_minutes(self) -> float:
        """Of all setups."""
        return sum(slot.rig_minutes for slot in self.slots)

    @property
    def strike_minutes(self) -> float:
        """Of all setups, the last one too."""
        return sum(slot.strike_minutes for slot in self.slots) + self.last_strike_minutes


def running_order(
    location: Location,
    setups: Sequence[Setup],
    *,
    start_s: float,
    weathers: Sequence[Weather],
    slack_s: float = SLACK_S,
    rooms: Sequence[Faces] | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> RunningOrder:
    """Run through setups in their order from a moment on, within the hours of the day.

    Nobody works at lunch, and a setup that must start at a time waits for it. What a setup needs is
    worked out for the time it is shot, a slack early or late; `tell` hears its name. `rooms` saves
    working out the light of their rooms again.
    """
    light = faces_by_room(faces(location, setups) if rooms is None else rooms)
    clock = working_day(location, to_local(start_s, location.timezone).date())
    slots: list[Slot] = []
    at = start_s
    for setup in setups:
        tell(setup.name)
        before = slots[-1].needs if slots else None
        first = at + RIG_S
        if setup.start is not None:
            day = to_local(start_s, location.timezone).date()
            first = max(at, clock_to_unix(day, setup.start, location.timezone))
        earliest = latest = first
        for _ in range(ROUNDS):
            wants = needs(
                location,
                setup,
                start_s=earliest - slack_s,
                end_s=latest + 60.0 * setup.minutes + slack_s,
                weathers=weathers,
                room=light[setup.room],
            )
            slot = _slot(location, wants, at, before, clock)
            first, guess = slot.shoot_s[0], first
            if earliest - SLACK_S <= first <= latest + SLACK_S:
                break
            # Where the time of rigging swings, it is planned for both.
            swings = (first - guess) * (guess - at - RIG_S) < 0
            earliest, latest = (min(first, guess), max(first, guess)) if swings else (first, first)
        slots.append(slot)
        at = slot.shoot_s[1]
    return RunningOrder(tuple(slots), clock)


def _slot(
    location: Location, wants: Needs, start_s: float, before: Needs | None, clock: WorkingDay
) -> Slot:
    """A setup's time after what hangs for the one before."""
    setup = wants.setup
    hanging = {} if before is None else {job.label: job for job in before.jobs}
    moved = before is not None and before.setup.room != setup.room
    kept = set() if moved else {job.label for job in wants.jobs}
    jobs = tuple(job for job in wants.jobs if moved or job.label not in hanging)
    struck = tuple(job for label, job in hanging.items() if label not in kept)
    slot = Slot(wants, start_s, start_s, start_s, False, jobs, struck, moved)
    ready = clock.after(start_s, slot.strike_minutes + slot.rig_minutes)
    first, late = ready, False
    if setup.start is not None:
        day = to_local(start_s, location.timezone).date()
        asked = clock_to_unix(day, setup.start, location.timezone)
        first, late = max(ready, asked), ready > asked + LATE_S
    return replace(
        slot,
        ready_s=ready,
        shoot_from_s=clock.clear_of_lunch(first, setup.minutes),
        late=late,
    )
