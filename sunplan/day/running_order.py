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

SLACK_S = 300.0  # early or late; at dusk a window loses a stop in as little
ROUNDS = 8  # of rigging for later and later
CLOSE_S = 300.0  # to which the first time is found at which less is needed
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
    for setup in setups:
        tell(setup.name)
        before = slots[-1] if slots else None
        begin = start_s if before is None else before.shoot_s[1]
        hangs = None if before is None else before.needs

        def shot_at(
            first_s: float,
            *,
            setup: Setup = setup,
            begin: float = begin,
            hangs: Needs | None = hangs,
        ) -> Slot:
            """The setup rigged from now on for what it needs if it is shot then."""
            wants = needs(
                location,
                setup,
                start_s=first_s - slack_s,
                end_s=first_s + 60.0 * setup.minutes + slack_s,
                weathers=weathers,
                room=light[setup.room],
            )
            return _slot(location, wants, begin, hangs, clock)

        first = begin
        if setup.start is not None:
            day = to_local(start_s, location.timezone).date()
            first = max(begin, clock_to_unix(day, setup.start, location.timezone))
        slots.append(_earliest(shot_at, first, slack_s))
    return RunningOrder(tuple(slots), clock)


def _earliest(shot_at: Callable[[float], Slot], first_s: float, slack_s: float) -> Slot:
    """The earliest time from a moment on by which all hangs that the setup needs at that time.

    `shot_at` rigs for a time and says when that is done. Where less is needed later, rigging for an
    earlier time may take until after it: then people wait, rather than rig what nobody needs.
    """
    slot, too_soon = shot_at(first_s), first_s
    for _ in range(ROUNDS):
        if slot.shoot_from_s <= first_s + 1.0:
            break
        too_soon, first_s = first_s, slot.shoot_from_s
        slot = shot_at(first_s)
    while first_s - (soonest := max(too_soon, slot.shoot_from_s)) > CLOSE_S:
        middle = CLOSE_S * round((first_s + soonest) / 2 / CLOSE_S)
        sooner = shot_at(middle)
        if sooner.shoot_from_s <= middle + 1.0:
            first_s, slot = middle, sooner
        else:
            too_soon = middle
    if first_s - slot.shoot_from_s <= slack_s:
        return slot
    return replace(slot, shoot_from_s=first_s)


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
