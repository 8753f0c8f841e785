"""The day as a calendar file (RFC 5545): for a phone in the pocket, with a nudge before it counts.

Rigging and shooting are events of their own: what is on, and what comes next, is read at a glance.
Times are written in UTC: each calendar shows them in its own zone, no change of clocks can shift
them. Words give the clock of the place. The same plan gives the same file, a plan anew the same
names of its events, so that a calendar may put the new ones in the place of the old.
"""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from ..day.alerts import Alert
from ..day.plan import Plan
from ..day.running_order import Slot
from ..light.resolved import ResolvedSetup
from ..report.document import Moment, render
from ..report.flags import covering, places
from ..report.pack import lacks, overrun, rigged, rigging
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
    events = [*_work(plan), *_sun(plan), *_dusk(plan), *_wrap(plan)]
    return sorted(events, key=lambda event: (event.start_s, event.end_s, event.key))


def calendar(plan: Plan) -> bytes:
    """The calendar file."""
    import icalendar  # takes a while to load

    location, site = plan.location, plan.location.site
    day = plan.entries.date.isoformat()
    made = icalendar.Calendar()
    made.add("prodid", "-//sunplan//a day of light//EN")
    made.add("version", "2.0")
    made.add("name", f"{site.name}, {day}")
    for entry in entries(plan):
        event = icalendar.Event()
        name = f"{site.latitude} {site.longitude} {location.site.name} {day} {entry.key}"
        event.add("uid", str(uuid.uuid5(NAMES, name)))
        event.add("dtstamp", _utc(plan.clock.call_s))
        event.add("dtstart", _utc(entry.start_s))
        event.add("dtend", max(_utc(entry.end_s), _utc(entry.start_s) + timedelta(minutes=1)))
        event.add("summary", entry.title)
        event.add("location", entry.place)
        event.add("geo", (site.latitude, site.longitude))
        if entry.text:
            event.add("description", entry.text)
        event.add("transp", "OPAQUE" if entry.busy else "TRANSPARENT")
        if entry.soon_min is not None:
            alarm = icalendar.Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("description", f"In {entry.soon_min} min: {entry.title}")
            alarm.add("trigger", timedelta(minutes=-entry.soon_min))
            event.add_component(alarm)
        made.add_component(event)
    text: bytes = made.to_ical()
    return text


def _utc(moment_s: float) -> datetime:
    """To the minute, as the tables have it."""
    return to_local(round(moment_s / 60.0) * 60.0, "UTC").astimezone(UTC)


def _work(plan: Plan) -> Iterator[Entry]:
    """Rigging, shooting, moving flags, striking."""
    if plan.pack is None or not plan.pack.running.slots:
        return
    running = plan.pack.running
    for slot in running.slots:
        name, place = slot.setup.name, _place(plan, slot.setup)
        span = slot.start_s, slot.ready_s
        yield from _parts(plan, "Rig", name, span, place, _rigging(plan, slot))
        shot = "\n".join(_shooting(plan, slot))
        yield Entry(f"shoot {name}", f"Shoot: {name}", *slot.shoot_s, place, shot, SOON_MIN)
        for option in slot.needs.flags:
            yield from _moves(plan, slot, option, place)
    last = running.slots[-1]
    span = last.shoot_s[1], running.end_s
    down = [job.words for job in last.needs.jobs]
    lines = [f"{running.last_strike_minutes:.0f} min", *down, _care(())]
    yield from _parts(plan, "Strike", last.setup.name, span, _place(plan, last.setup), lines)


def _place(plan: Plan, setup: ResolvedSetup) -> str:
    return f"{plan.location.site.name}, {setup.room}"


def _parts(
    plan: Plan,
    work: str,
    name: str,
    span: tuple[float, float],
    place: str,
    lines: Iterable[str],
) -> Iterator[Entry]:
    """Work at which nobody is while lunch lasts."""
    text = "\n".join(lines)
    for count, (start_s, end_s) in enumerate(plan.clock.parts(*span), 1):
        again = "" if count == 1 else ", after lunch"
        key = f"{work.lower()} {name}" + ("" if count == 1 else f" {count}")
        yield Entry(key, f"{work}{again}: {name}", start_s, end_s, place, text)


def _care(asked: Iterable[Hazard], *, night: bool = False) -> str:
    """The cautions in one line: the sheet has them in full."""
    dark = ("water and traffic by night",) if night else ()
    words = [*dict.fromkeys(asked), *dark, "never look at the sun"]
    return f"Care: {', '.join(words)}; in full on plan.pdf"


def _rigging(plan: Plan, slot: Slot) -> Iterator[str]:
    zone = plan.location.timezone
    ready, first = Moment(slot.ready_s, zone), Moment(slot.shoot_s[0], zone)
    yield f"{rigging(slot)}; ready {ready}, shoot {first}"
    yield from rigged(slot, with_care=False)
    for option in slot.needs.flags:
        yield f"{option.name} for {option.opening}, {option.placement}:"
        yield from _places(plan, slot.setup, option)
    yield from lacks(slot)
    yield _care(slot.needs.hazards)


def _places(plan: Plan, setup: ResolvedSetup, option: FlagOption) -> list[str]:
    """Where a flag hangs, in the file's units."""
    location = plan.location
    lines = places(location, setup.in_room, setup.at_mark, option)
    covered = covering(option, location.timezone)
    return [render(line, location.site.units) for line in (*lines, *covered)]


def _shooting(plan: Plan, slot: Slot) -> Iterator[str]:
    zone, setup = plan.location.timezone, slot.setup
    clock = f"{between(slot.shoot_s, zone)}, local time ({zone})"
    yield f"{clock}; {setup.mark}; reads as {setup.plays}"
    yield from lacks(slot)
    for alert in plan.alerts:
        if alert.setup.name == setup.name:
            yield f"{_alert(alert)}, {between((alert.start_s, alert.end_s), zone)}"
    yield _care(())


def _moves(plan: Plan, slot: Slot, option: FlagOption, place: str) -> Iterator[Entry]:
    setup = slot.setup
    care = _care(hazards.flags(option, setup.in_room))
    text = "\n".join([*_places(plan, setup, option), care])
    for count, moment_s in enumerate(option.moves, 1):
        by = Moment(moment_s, plan.location.timezone)
        yield Entry(
            f"move {setup.name} {option.opening} {count}",
            f"By {by} move {option.name} ({option.opening}): {setup.name}",
            moment_s,
            moment_s + SHORT_S,
            place,
            text,
            SOON_MIN,
        )


def _alert(alert: Alert) -> str:
    """What the sun does, in a few words."""
    if alert.hits == "frame":
        return f"Sun IN FRAME through {alert.opening}"
    stopped = "nothing stops it" if alert.flag is None else f"{alert.flag.name} must stop it"
    return f"Sun on {alert.setup.mark} through {alert.opening}: {stopped}"


def _sun(plan: Plan) -> Iterator[Entry]:
    """Direct sun in a setup while it is shot."""
    counts: Counter[str] = Counter()
    for alert in plan.alerts:
        setup, span = alert.setup, (alert.start_s, alert.end_s)
        key = f"sun {alert.hits} {setup.name} {alert.opening}"
        counts[key] += 1
        text = f"{setup.name}: {between(span, plan.location.timezone)}\n{_care(())}"
        place = _place(plan, setup)
        yield Entry(f"{key} {counts[key]}", _alert(alert), *span, place, text, SOON_MIN, busy=False)


def _dusk(plan: Plan) -> Iterator[Entry]:
    """From sunset until the sun is 6° down, with what waits for it outdoors."""
    location, sun, day = plan.location, plan.entries.sun, plan.entries.date
    zone = location.timezone
    if sun.set is None:
        return
    lines = [f"sunset {Moment(sun.set, zone, day)}"]
    for down, moment_s in ((6, sun.civil_dusk), (12, sun.nautical_dusk)):
        if moment_s is not None:
            lines.append(f"sun {down}° down {Moment(moment_s, zone, day)}")
    for outside in plan.exteriors:
        if outside.night is not None and outside.exterior.plays != "day":
            dark = between(outside.night.civil_dark, zone, day)
            lines.append(f"outdoors, in no order: {outside.exterior.name}; dark {dark}")
    night = any(outside.exterior.plays != "day" for outside in plan.exteriors)
    until, end_s = " until the sun is 6° down", sun.civil_dusk
    if end_s is None:
        until, end_s = "", sun.set + SHORT_S
    text = "\n".join((*lines, _care((), night=night)))
    site = location.site.name
    yield Entry("dusk", f"Dusk: sunset{until}", sun.set, end_s, site, text, busy=False)


def _wrap(plan: Plan) -> Iterator[Entry]:
    """Lunch, when all is down, and when it must be."""
    clocked, site, zone = plan.clock, plan.location.site.name, plan.location.timezone
    if clocked.lunch_s is not None:
        yield Entry("lunch", "Lunch", *clocked.lunch_s, site, "Nobody works.")
    lines = []
    if plan.pack is not None:
        running = plan.pack.running
        late = overrun(running)
        end_s = running.end_s
        yield Entry("down", "Wrapped out", end_s, end_s + SHORT_S, site, "\n".join(late))
        lines += [f"wrapped out by {Moment(end_s, zone, plan.entries.date)}", *late]
    if plan.ordered is not None:
        lines += [f"DOES NOT FIT: {setup.name}" for setup in plan.ordered.best.dropped]
    wrap_s, text = clocked.wrap_s, "\n".join(lines)
    yield Entry("wrap", "Wrap", wrap_s, wrap_s + SHORT_S, site, text, WRAP_SOON_MIN)
