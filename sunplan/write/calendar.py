"""The day as a calendar file (RFC 5545): for a phone in the pocket, with a nudge before it counts.

Rigging and shooting are events of their own: what is on, and what comes next, is read at a glance.
Times are written in UTC: each calendar shows them in its own zone, no change of clocks can shift
them. Words give the clock of the place. The same plan gives the same file, a plan anew the same
names of its events, so that a calendar may put the new ones in the place of the old.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from ..day.alerts import Alert
from ..day.plan import Plan
from ..day.running_order import Slot
from ..report.document import Moment, render
from ..report.flags import places
from ..report.pack import jobs, lacks, rigging
from ..report.words import between
from ..rig import hazards
from ..rig.flags import FlagOption
from ..rig.hazards import Hazard
from ..sun.local_time import to_local

NAMES = uuid.UUID("6f9f1c52-6f0b-5a0e-9a55-0d1f6d0c8a31")  # of events; drawn once, by no rule
SOON_MIN, WRAP_SOON_MIN = 10, 30  # a nudge comes this long before
SHORT_S = 300.0  # what only has a moment is shown as long


@dataclass(frozen=True)
class Entry:
    """One event: moments in seconds since 1970 UTC; `soon_min` is when to be told before.

    `key` tells it from all others of the day, whatever its times.
    """

    key: str
    title: str
    start_s: float
    end_s: float
    place: str
    text: str
    soon_min: int | None = None
    busy: bool = True


def entries(plan: Plan) -> list[Entry]:
    """The day's events in their order."""
    found = [*_work(plan), *_sun(plan), *_dusk(plan), *_wrap(plan)]
    return sorted(found, key=lambda one: (one.start_s, one.end_s, one.key))


def calendar(plan: Plan) -> bytes:
    """The calendar file."""
    import icalendar  # takes a while to load

    location, site = plan.location, plan.location.site
    day = plan.entries.date.isoformat()
    made = icalendar.Calendar()
    made.add("prodid", "-//sunplan//a day of light//EN")
    made.add("version", "2.0")
    made.add("name", f"{site.name}, {day}")
    for one in entries(plan):
        event = icalendar.Event()
        name = f"{site.latitude} {site.longitude} {location.site.name} {day} {one.key}"
        event.add("uid", str(uuid.uuid5(NAMES, name)))
        event.add("dtstamp", _utc(plan.clock.call_s))
        event.add("dtstart", _utc(one.start_s))
        event.add("dtend", max(_utc(one.end_s), _utc(one.start_s) + timedelta(minutes=1)))
        event.add("summary", one.title)
        event.add("location", one.place)
        event.add("geo", (site.latitude, site.longitude))
        if one.text:
            event.add("description", one.text)
        event.add("transp", "OPAQUE" if one.busy else "TRANSPARENT")
        if one.soon_min is not None:
            alarm = icalendar.Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("description", f"In {one.soon_min} min: {one.title}")
            alarm.add("trigger", timedelta(minutes=-one.soon_min))
            event.add_component(alarm)
        made.add_component(event)
    text: bytes = made.to_ical()
    return text


def _utc(moment_s: float) -> datetime:
    """To the minute, as the tables have it."""
    return to_local(round(moment_s / 60.0) * 60.0, "UTC").astimezone(UTC)


def _told(lines: Iterable[str]) -> str:
    return "\n".join(lines)


def _work(plan: Plan) -> Iterator[Entry]:
    """Rigging, shooting, moving flags, striking."""
    if plan.pack is None or not plan.pack.running.slots:
        return
    slots = plan.pack.running.slots
    for slot in slots:
        name, place = slot.setup.name, f"{plan.location.site.name}, {slot.setup.room}"
        rigged = _told(_rigging(plan, slot))
        yield from _parts(plan, "Rig", name, (slot.start_s, slot.ready_s), place, rigged)
        shot = _told(_shooting(plan, slot))
        yield Entry(f"shoot {name}", f"Shoot: {name}", *slot.shoot_s, place, shot, SOON_MIN)
        for option in slot.needs.flags:
            yield from _moves(plan, slot, option, place)
    running = plan.pack.running
    last = slots[-1].setup
    down = [one.words for one in slots[-1].needs.jobs]
    yield from _parts(
        plan,
        "Strike",
        last.name,
        (slots[-1].shoot_s[1], running.end_s),
        f"{plan.location.site.name}, {last.room}",
        _told([f"{running.last_strike_minutes:.0f} min", *down, _care(())]),
    )


def _parts(
    plan: Plan, what: str, name: str, span: tuple[float, float], place: str, text: str
) -> Iterator[Entry]:
    """Work at which nobody is while lunch lasts."""
    for count, (start, end) in enumerate(plan.clock.parts(*span), 1):
        again = "" if count == 1 else ", after lunch"
        key = f"{what.lower()} {name}" + ("" if count == 1 else f" {count}")
        yield Entry(key, f"{what}{again}: {name}", start, end, place, text)


def _care(asked: Iterable[Hazard], *, night: bool = False) -> str:
    """The cautions in one line: the sheet has them in full."""
    dark = ("water and traffic by night",) if night else ()
    words = [*dict.fromkeys(asked), *dark, "never look at the sun"]
    return f"Care: {', '.join(words)}; in full on plan.pdf"


def _rigging(plan: Plan, slot: Slot) -> Iterator[str]:
    location, zone, units = plan.location, plan.location.timezone, plan.location.site.units
    room = location.room_named(slot.setup.room)
    mark = room.mark_named(slot.setup.mark)
    ready, first = Moment(slot.ready_s, zone), Moment(slot.shoot_s[0], zone)
    yield f"{rigging(slot)}; ready {ready}, shoot {first}"
    yield from jobs(slot, with_care=False)
    for option in slot.needs.flags:
        yield f"{option.name} for {option.opening}, {option.placement}:"
        yield from (render(said, units) for said in places(location, room, mark, option))
    yield from lacks(slot)
    yield _care(hazard for job in slot.needs.jobs for hazard in job.hazards)


def _shooting(plan: Plan, slot: Slot) -> Iterator[str]:
    zone, setup = plan.location.timezone, slot.setup
    first, last = (Moment(at, zone) for at in slot.shoot_s)
    yield f"{first} – {last}, clock of {zone}; {setup.mark}; plays {setup.plays}"
    yield from lacks(slot)
    for one in plan.alerts:
        if one.setup.name == setup.name:
            yield f"{_alert(one)}, {Moment(one.start_s, zone)} – {Moment(one.end_s, zone)}"
    yield _care(())


def _moves(plan: Plan, slot: Slot, option: FlagOption, place: str) -> Iterator[Entry]:
    location, setup, units = plan.location, slot.setup, plan.location.site.units
    room = location.room_named(setup.room)
    mark = room.mark_named(setup.mark)
    for count, moment in enumerate(option.moves, 1):
        at = Moment(moment, location.timezone)
        lines = [
            *(render(said, units) for said in places(location, room, mark, option)),
            _care(hazards.flags(option, room)),
        ]
        yield Entry(
            f"move {setup.name} {option.opening} {count}",
            f"By {at} move {option.name} ({option.opening}): {setup.name}",
            moment,
            moment + SHORT_S,
            place,
            _told(lines),
            SOON_MIN,
        )


def _alert(one: Alert) -> str:
    """What the sun does, in a few words."""
    if one.what == "frame":
        return f"Sun IN FRAME through {one.opening}"
    stopped = "nothing stops it" if one.flag is None else f"{one.flag.name} must stop it"
    return f"Sun on {one.setup.mark} through {one.opening}: {stopped}"


def _sun(plan: Plan) -> Iterator[Entry]:
    """Direct sun in a setup while it is shot."""
    zone = plan.location.timezone
    counts: dict[str, int] = {}
    for one in plan.alerts:
        key = f"sun {one.what} {one.setup.name} {one.opening}"
        counts[key] = counts.get(key, 0) + 1
        yield Entry(
            f"{key} {counts[key]}",
            _alert(one),
            one.start_s,
            one.end_s,
            f"{plan.location.site.name}, {one.setup.room}",
            _told(
                (
                    f"{one.setup.name}: {Moment(one.start_s, zone)} – {Moment(one.end_s, zone)}",
                    _care(()),
                )
            ),
            SOON_MIN,
            busy=False,
        )


def _dusk(plan: Plan) -> Iterator[Entry]:
    """From sunset until the sun is 6° down, with what waits for it outdoors."""
    location, at, day = plan.location, plan.entries.sun, plan.entries.date
    zone = location.timezone
    if at.set is None:
        return
    end = at.set + SHORT_S if at.civil_dusk is None else at.civil_dusk
    lines = [f"sunset {Moment(at.set, zone, day)}"]
    for down, moment in ((6, at.civil_dusk), (12, at.nautical_dusk)):
        if moment is not None:
            lines.append(f"sun {down}° down {Moment(moment, zone, day)}")
    for one in plan.exteriors:
        if one.night is not None and one.exterior.plays != "day":
            dark = between(one.night.civil_dark, zone, day)
            lines.append(f"outdoors, in no order: {one.exterior.name}; dark {dark}")
    night = any(one.exterior.plays != "day" for one in plan.exteriors)
    yield Entry(
        "dusk",
        "Dusk: sunset" + ("" if at.civil_dusk is None else " until the sun is 6° down"),
        at.set,
        end,
        location.site.name,
        _told((*lines, _care((), night=night))),
        busy=False,
    )


def _wrap(plan: Plan) -> Iterator[Entry]:
    """Lunch, when all is down, and when it must be."""
    clocked, site, zone = plan.clock, plan.location.site, plan.location.timezone
    if clocked.lunch_s is not None:
        yield Entry("lunch", "Lunch", *clocked.lunch_s, site.name, "Nobody works.")
    lines = []
    if plan.pack is not None:
        running = plan.pack.running
        down = Moment(running.end_s, zone, plan.entries.date)
        late = (
            f"LATER THAN WRAP by {running.over_s / 60.0:.0f} min" if running.over_s > 60.0 else ""
        )
        end = running.end_s + SHORT_S
        yield Entry("down", "All down", running.end_s, end, site.name, late)
        lines += [f"all down {down}", *([late] if late else [])]
    if plan.ordered is not None:
        lines += [f"DOES NOT FIT: {one.name}" for one in plan.ordered.best.dropped]
    end = clocked.wrap_s + SHORT_S
    yield Entry("wrap", "Wrap", clocked.wrap_s, end, site.name, _told(lines), WRAP_SOON_MIN)
