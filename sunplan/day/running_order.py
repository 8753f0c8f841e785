"""The running order: when each setup is rigged and shot, in the order of the file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from ..light.daylight import Weather, skies_by_weather
from ..light.face import Faces, faces, faces_by_room
from ..light.resolved import ResolvedSetup
from ..location.read import Location
from ..rig import minutes
from ..rig.needs import Job, Needs, needs
from ..rig.rigged_levels import RiggedLevels, rigged_levels
from ..sun.local_time import clock_to_unix, to_local
from .working_day import WorkingDay, working_day

SLACK_S = 300.0  # early or late; at dusk a window loses a stop in as little
ROUNDS = 8  # of rigging for later and later
CLOSE_S = 300.0  # to which the first time is found at which less is needed
LATE_S = 60.0


@dataclass(frozen=True, eq=False)
class Slot:
    """A setup's time, seconds since 1970 UTC, with what it needs then.

    It is rigged from `start_s` to `ready_s`; `waits`: then people wait until what hangs will do.
    `jobs` are those that do not hang yet; `struck` are those of the setup before that come down.
    `late`: it is shot later than it must start. `levels` are those as rigged at the start, the
    middle and the end of the shoot, under each sky.
    """

    needs: Needs
    start_s: float
    ready_s: float
    shoot_from_s: float
    late: bool
    jobs: tuple[Job, ...]
    struck: tuple[Job, ...]
    moved: bool
    waits: bool = False
    levels: tuple[RiggedLevels, ...] = ()

    @property
    def setup(self) -> ResolvedSetup:
        """The setup."""
        return self.needs.setup

    @property
    def strike_minutes(self) -> float:
        """To take down what the setup before leaves and this one does not want."""
        return minutes.of("strike") * sum(job.minutes for job in self.struck)

    @property
    def wait_minutes(self) -> float:
        """How long people wait because less is needed later; not for a time that is set."""
        return (self.shoot_from_s - self.ready_s) / 60.0 if self.waits else 0.0

    @property
    def rig_minutes(self) -> float:
        """To rig what does not hang yet, and to carry over from another room."""
        return sum(job.minutes for job in self.jobs) + (minutes.of("room") if self.moved else 0.0)

    @property
    def shoot_s(self) -> tuple[float, float]:
        """When it is shot."""
        return self.shoot_from_s, self.shoot_from_s + 60.0 * self.setup.minutes

    @property
    def middle_s(self) -> float:
        """The middle of its shooting."""
        return self.shoot_from_s + 30.0 * self.setup.minutes


@dataclass(frozen=True, eq=False)
class RunningOrder:
    """All setups in turn, on one working day; moments in seconds since 1970 UTC."""

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
    setups: Sequence[ResolvedSetup],
    *,
    start_s: float,
    weathers: Sequence[Weather],
    slack_s: float = SLACK_S,
    rooms: Sequence[Faces] | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> RunningOrder:
    """Run through setups in their order from a moment on, within the hours of the day.

    Nobody works at lunch, and a setup that must start at a time waits for it. What a setup needs is
    worked out for the time it is shot; where less is needed later, and rigging for sooner would
    take until then, people wait.

    Parameters
    ----------
    start_s
        When rigging may begin, seconds since 1970 UTC.
    weathers
        What hangs must do under all of them.
    slack_s
        By how much a setup may be shot earlier or later, and what hangs still does.
    rooms
        Saves working out the light of their rooms again.
    tell
        Hears each setup's name as it is worked out.

    Raises
    ------
    InputError
        Where sunset leaves no working day.

    Examples
    --------
    >>> from sunplan import read
    >>> house = read("locations/lock-house.toml")
    >>> running_order(house, [], start_s=1805529600.0, weathers=[Weather("clear")]).slots
    ()
    """
    light = faces_by_room(faces(location, setups) if rooms is None else rooms)
    clock = working_day(location, to_local(start_s, location.timezone).date())
    slots: list[Slot] = []
    for setup in setups:
        tell(setup.name)
        before = slots[-1] if slots else None
        begin = start_s if before is None else before.shoot_s[1]

        def wanted(first_s: float, setup: ResolvedSetup = setup) -> Needs:
            return needs(
                location,
                setup,
                start_s=first_s - slack_s,
                end_s=first_s + 60.0 * setup.minutes + slack_s,
                weathers=weathers,
                room=light[setup.room],
            )

        turn = _NextSlot(location, wanted, begin, None if before is None else before.needs, clock)
        first = begin
        if setup.start is not None:
            day = to_local(start_s, location.timezone).date()
            first = max(begin, clock_to_unix(day, setup.start, location.timezone))
        slots.append(_with_levels(location, turn.earliest(first, slack_s), weathers, light))
    return RunningOrder(tuple(slots), clock)


def _with_levels(
    location: Location, slot: Slot, weathers: Sequence[Weather], light: Mapping[str, Faces]
) -> Slot:
    """A slot with its levels as rigged."""
    wanted = slot.needs
    moments = [slot.shoot_s[0], slot.middle_s, slot.shoot_s[1]]
    levels = rigged_levels(
        location,
        wanted.treated,
        skies_by_weather(location, moments, weathers),
        room=light[slot.setup.room],
        flags=wanted.flags,
        panel=wanted.panel,
    )
    return replace(slot, levels=tuple(levels))


@dataclass(frozen=True, eq=False)
class _NextSlot:
    """A setup rigged from `begin_s` on after the one before; `wanted` is what it needs if shot at
    a moment."""

    location: Location
    wanted: Callable[[float], Needs]
    begin_s: float
    before: Needs | None
    clock: WorkingDay

    def earliest(self, first_s: float, slack_s: float) -> Slot:
        """The earliest time from a moment on by which all hangs that it needs at that time.

        Where less is needed later, rigging for an earlier time may take until after it: then people
        wait, rather than rig what nobody needs.
        """
        slot, too_soon = self._shot_at(first_s), first_s
        for _ in range(ROUNDS):
            if slot.shoot_from_s <= first_s + 1.0:
                break
            too_soon, first_s = first_s, slot.shoot_from_s
            slot = self._shot_at(first_s)
        while first_s - (soonest := max(too_soon, slot.shoot_from_s)) > CLOSE_S:
            middle = CLOSE_S * round((first_s + soonest) / 2 / CLOSE_S)
            middle = self.clock.clear_of_lunch(middle, slot.setup.minutes)
            if middle >= first_s:
                break
            sooner = self._shot_at(middle)
            if sooner.shoot_from_s <= middle + 1.0:
                first_s, slot = middle, sooner
            else:
                too_soon = middle
        if first_s - slot.shoot_from_s <= slack_s:
            return slot
        return replace(slot, shoot_from_s=first_s, waits=True)

    def _shot_at(self, first_s: float) -> Slot:
        """The setup with all that it needs if it is shot then, and when it can be."""
        needed = self.wanted(first_s)
        setup, before, clock = needed.setup, self.before, self.clock
        hanging = {} if before is None else {job.label: job for job in before.jobs}
        moved = before is not None and before.setup.room != setup.room
        kept = set() if moved else {job.label for job in needed.jobs}
        jobs = tuple(job for job in needed.jobs if moved or job.label not in hanging)
        struck = tuple(job for label, job in hanging.items() if label not in kept)
        begin = self.begin_s
        slot = Slot(needed, begin, begin, begin, False, jobs, struck, moved)
        ready = clock.after(begin, slot.strike_minutes + slot.rig_minutes)
        first, late = ready, False
        if setup.start is not None:
            zone = self.location.timezone
            asked = clock_to_unix(to_local(begin, zone).date(), setup.start, zone)
            first, late = max(ready, asked), ready > asked + LATE_S
        return replace(
            slot,
            ready_s=ready,
            shoot_from_s=clock.clear_of_lunch(first, setup.minutes),
            late=late,
        )
