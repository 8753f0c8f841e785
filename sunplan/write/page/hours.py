"""What changes on the page with the clock: where the sun lies, stops, the order of the day."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from ...day.plan import Plan
from ...day.time_steps import STEP_S
from ...light.meter import stops
from ...light.resolved import ResolvedSetup
from ...location.model import Room
from ...report.gap import advice
from ...report.words import lies
from ...rig.gap import OpeningGap, SetupGap
from ...room.interval import SunInterval
from ...room.patch_position import PatchPosition
from ...room.patches import FLOOR, SunPatch
from ...sun.local_time import to_local
from .scene import mm

Said = str | list[str]  # words for all, or those in metres and those in feet


def hundredths(value: float | None) -> int | None:
    """A level in hundredths; None for none, or no light at all."""
    return None if value is None or not np.isfinite(value) else round(100.0 * value)


def day(plan: Plan) -> dict[str, Any]:
    """The date, its steps with the place's clock, the sun."""
    zone, steps, day = plan.location.timezone, plan.steps, plan.entries.date
    locals_ = [to_local(moment_s, zone) for moment_s in steps.moments_s]
    offsets = {clock.utcoffset() for clock in locals_}
    skies = [moment.sky.name for gap in plan.gaps_by_step[:1] for moment in gap.times]
    return {
        "date": day.isoformat(),
        "dateSaid": f"{day:%A} {day.day} {day:%B} {day.year}",
        "zone": zone,
        "start": round(steps.moments_s[0]),
        "every": round(STEP_S),
        # Minutes of the place's own clock, by date and offset: the reader's clock is not asked.
        "clock": [60 * clock.hour + clock.minute for clock in locals_],
        "ahead": [(clock.date() - day).days for clock in locals_],
        "offset": [f"{clock:%z}"[:3] + ":" + f"{clock:%z}"[3:] for clock in locals_]
        if len(offsets) > 1
        else None,
        "sun": [
            [round(float(up), 1), round(float(way)) % 360]
            for up, way in zip(steps.sun.altitude_deg, steps.sun.bearing_deg, strict=True)
        ],
        "moments": {
            name: None if moment_s is None else round(moment_s)
            for name, moment_s in plan.entries.sun.moments().items()
        },
        "always": plan.entries.sun.always,
        "skies": list(dict.fromkeys(skies)),
        "hours": {"call": round(plan.clock.call_s), "wrap": round(plan.clock.wrap_s)},
    }


def room(plan: Plan, shown: Room) -> dict[str, Any]:
    """The sun in a room: patches by step and opening; stretches by opening and mark."""
    names = [opening.name for opening in shown.opening]
    patches: list[list[Any]] = [[] for _ in names]
    for step, look in enumerate(plan.steps.looks[shown.name]):
        lit: dict[int, list[Any]] = {}
        for patch in look.patches:
            lit.setdefault(names.index(patch.opening), []).append(_patch(shown, patch))
        for index, shapes in lit.items():
            patches[index].append([step, shapes])
    said: dict[tuple[str, str], int] = {}
    landings = [_numbered(plan.steps.landings[shown.name][name], said) for name in names]
    return {
        "patches": patches,
        "lands": landings,
        "said": [list(pair) for pair in said],
        "through": [
            [
                _interval(interval)
                for entry in plan.entries.openings
                if (entry.room, entry.opening) == (shown.name, name)
                for interval in entry.intervals
            ]
            for name in names
        ],
        "marks": [
            {
                "name": mark.name,
                "at": mm(mark.at),
                "radius": mm(mark.width / 2),
                "hits": sorted(
                    [*_interval(interval), names.index(hit.opening)]
                    for hit in plan.entries.marks
                    if (hit.room, hit.mark) == (shown.name, mark.name)
                    for interval in hit.intervals
                ),
            }
            for mark in shown.mark
        ],
    }


def _interval(sun: SunInterval) -> list[Any]:
    """Its start and end, then the earliest start and the latest end."""
    ends = [round(sun.start_s), round(sun.end_s)]
    return [*ends, [round(sun.start_range_s[0]), round(sun.end_range_s[1])]]


def _patch(room: Room, patch: SunPatch) -> list[Any]:
    """Surface, 0 for the floor and walls from 1, and rings as mm, x and y in turn."""
    index = 0
    if patch.surface != FLOOR:
        index = room.wall_number(patch.surface) + 1
    rings = [
        mm(np.array(ring.coords)[:-1].ravel())
        for part in shapely.get_parts(patch.shape)
        for ring in (part.exterior, *part.interiors)
    ]
    return [index, *rings]


def _numbered(
    landings: tuple[PatchPosition | None, ...], said: dict[tuple[str, str], int]
) -> list[int]:
    """Where the sun lies at each step, as numbers of what is said; −1 for no sun."""
    numbers = []
    for landing in landings:
        if landing is None:
            numbers.append(-1)
            continue
        lying = lies(landing)
        words = lying.render("m"), lying.render("ft")
        numbers.append(said.setdefault(words, len(said)))
    return numbers


def setup(plan: Plan, shown: ResolvedSetup) -> dict[str, Any]:
    """A setup's levels by sky and step: its windows, its face."""
    gap, room = plan.gap_of(shown), shown.in_room
    skies = list(dict.fromkeys(moment.sky.name for moment in gap.times))
    said: dict[str, int] = {}
    windows = [
        {
            "opening": [opening.name for opening in room.opening].index(seen.opening),
            "wanted": _band(gap, seen, room),
            "skies": [_window(gap, sky, index, said) for sky in skies],
        }
        for index, seen in enumerate(gap.times[0].openings)
        if seen.in_frame
    ]
    return {
        "windows": windows,
        "advice": list(said),
        "face": [_face(gap, sky) for sky in skies],
        "wants": {
            "fill": [hundredths(end) for end in gap.look.fill],
            "wall": [hundredths(end) for end in gap.look.background],
            "ratio": None if shown.contrast is None else hundredths(shown.contrast),
            "key": round(gap.key_lux),
        },
    }


def _band(gap: SetupGap, seen: OpeningGap, room: Room) -> list[int | None]:
    return [hundredths(end) for end in gap.look.band(room.opening_named(seen.opening).dressing)]


def _window(gap: SetupGap, sky: str, index: int, said: dict[str, int]) -> dict[str, list[Any]]:
    """One window by step: its stops, what is to be lost, and what does it."""
    levels = [moment.openings[index] for moment in gap.times if moment.sky.name == sky]
    return {
        "stops": [hundredths(opening.stops) for opening in levels],
        "lose": [hundredths(opening.lose_stops) for opening in levels],
        "do": [said.setdefault(advice(opening), len(said)) for opening in levels],
    }


def _face(gap: SetupGap, sky: str) -> dict[str, list[int | None]]:
    """Key side, fill side and the wall behind, in stops from key, with the lamp at full."""
    faces = [moment.face for moment in gap.times if moment.sky.name == sky]
    return {
        "key": [hundredths(stops(face.key_lux, gap.key_lux)) for face in faces],
        "fill": [hundredths(stops(face.fill_lux, gap.key_lux)) for face in faces],
        "wall": [hundredths(stops(face.wall_lux, gap.key_lux)) for face in faces],
        "ratio": [hundredths(face.ratio) for face in faces],
    }


def order(plan: Plan) -> list[dict[str, Any]]:
    """When each setup is rigged and shot in the best order."""
    names = [setup.name for setup in plan.setups]
    return [
        {
            "setup": names.index(name),
            "rig": round(slot.start_s),
            "shoot": [round(end) for end in slot.shoot_s],
        }
        for name, slot in plan.slots.items()
    ]
