"""The answers as the JSON that other programs read: SI, plan frame, ISO 8601."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from ..location.read import Location
from ..room.entry import Day, Stretch
from ..sun.calendar import to_local

Answer = dict[str, Any]


def iso(moment_s: float | None, timezone: str) -> str | None:
    """Local moment with its offset, to the second."""
    return None if moment_s is None else to_local(moment_s, timezone).isoformat()


def place(location: Location) -> Answer:
    """What an answer came from: the place and the plan's bearing."""
    site = location.site
    return {
        "latitude": site.latitude,
        "longitude": site.longitude,
        "elevation_m": site.elevation,
        "plan_up": site.plan_up,
        "plan_up_error": site.plan_up_error,
    }


def _stretch(stretch: Stretch, timezone: str) -> Answer:
    return {
        "from": iso(stretch.start_s, timezone),
        "to": iso(stretch.end_s, timezone),
        "from_range": [iso(moment, timezone) for moment in stretch.start_range_s],
        "to_range": [iso(moment, timezone) for moment in stretch.end_range_s],
        "certain": stretch.certain,
    }


def _possible(spans: tuple[tuple[float, float], ...], timezone: str) -> list[Answer]:
    return [{"from": iso(start, timezone), "to": iso(end, timezone)} for start, end in spans]


def sun(day: Day, timezone: str) -> Answer:
    """The sun's day."""
    return {
        **{name: iso(moment, timezone) for name, moment in day.sun.moments().items()},
        "always": day.sun.always,
    }


def entry(location: Location, day: Day) -> Answer:
    """Answer of `sunplan entry` for one date."""
    zone = location.timezone
    openings = [
        {
            "room": one.room,
            "opening": one.opening,
            "entries": [
                {
                    **_stretch(stretch, zone),
                    "largest_patch_m2": area,
                    "starts_on": None if first is None else asdict(first),
                    "ends_on": None if last is None else asdict(last),
                }
                for stretch, area, (first, last) in zip(
                    one.stretches, one.largest_patch_m2, one.landings, strict=True
                )
            ],
            "possible": _possible(one.possible, zone),
        }
        for one in day.openings
    ]
    marks: dict[tuple[str, str], Answer] = {
        (room.name, mark.name): {
            "room": room.name,
            "mark": mark.name,
            "entries": [],
            "possible": [],
        }
        for room in location.room
        for mark in room.mark
    }
    for touched in day.marks:
        row = marks[touched.room, touched.mark]
        row["entries"] += [
            {"opening": touched.opening, **_stretch(stretch, zone)} for stretch in touched.stretches
        ]
        row["possible"] += [
            {"opening": touched.opening, **span} for span in _possible(touched.possible, zone)
        ]
    for row in marks.values():
        row["entries"].sort(key=lambda one: one["from"])
    return {
        "location": location.site.name,
        "date": day.date.isoformat(),
        "timezone": zone,
        "place": place(location),
        "sun": sun(day, zone),
        "openings": openings,
        "marks": list(marks.values()),
    }
