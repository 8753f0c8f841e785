"""What changes on the page with the clock: where the sun lies, stops, the order of the day."""

from __future__ import annotations

from datetime import date
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
    zone, steps = plan.location.timezone, plan.steps
    locals_ = [to_local(at, zone) for at in steps.moments_s]
    offsets = {at.utcoffset() for at in locals_}
    skies = [at.sky.name for one in plan.gaps_by_step[:1] for at in one.times]
    return {
        "date": plan.entries.date.isoformat(),
        "dateSaid": _date(plan.entries.date),
        "zone": zone,
        "start": round(steps.moments_s[0]),
        "every": round(STEP_S),
        # Minutes of the place's own clock, by date and offset: the reader's clock is not asked.
        "clock": [60 * at.hour + at.minute for at in locals_],
        "ahead": [(at.date() - plan.entries.date).days for at in locals_],
        "offset": [f"{at:%z}"[:3] + ":" + f"{at:%z}"[3:] for at in locals_]
        if len(offsets) > 1
        else None,
        "sun": [
            [round(float(up), 1), round(float(way)) % 360]
            for up, way in zip(steps.sun.altitude_deg, steps.sun.bearing_deg, strict=True)
        ],
        "moments": {
            name: None if at is None else round(at)
            for name, at in plan.entries.sun.moments().items()
        },
        "always": plan.entries.sun.always,
        "skies": list(dict.fromkeys(skies)),
        "hours": {"call": round(plan.clock.call_s), "wrap": round(plan.clock.wrap_s)},
    }


def _date(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B} {day.year}"


def room(plan: Plan, one: Room) -> dict[str, Any]:
    """The sun in a room: patches by step and opening; stretches by opening and mark."""
    names = [each.name for each in one.opening]
    patches: list[list[Any]] = [[] for _ in names]
    for step, look in enumerate(plan.steps.looks[one.name]):
        found: dict[int, list[Any]] = {}
        for patch in look.patches:
            found.setdefault(names.index(patch.opening), []).append(_patch(one, patch))
        for index, shapes in found.items():
            patches[index].append([step, shapes])
    said: dict[tuple[str, str], int] = {}
    landings = [_numbered(plan.steps.landings[one.name][name], said) for name in names]
    return {
        "patches": patches,
        "lands": landings,
        "said": [list(pair) for pair in said],
        "through": [
            [
                [
                    *map(round, (each.start_s, each.end_s)),
                    _sure(each.start_range_s, each.end_range_s),
                ]
                for found_ in plan.entries.openings
                if (found_.room, found_.opening) == (one.name, name)
                for each in found_.intervals
            ]
            for name in names
        ],
        "marks": [
            {
                "name": mark.name,
                "at": mm(mark.at),
                "radius": mm(mark.width / 2),
                "hits": sorted(
                    [
                        *map(round, (each.start_s, each.end_s)),
                        _sure(each.start_range_s, each.end_range_s),
                        names.index(hit.opening),
                    ]
                    for hit in plan.entries.marks
                    if (hit.room, hit.mark) == (one.name, mark.name)
                    for each in hit.intervals
                ),
            }
            for mark in one.mark
        ],
    }


def _sure(first: tuple[float, float], last: tuple[float, float]) -> list[int]:
    """The earliest start and the latest end."""
    return [round(first[0]), round(last[1])]


def _patch(one: Room, patch: SunPatch) -> list[Any]:
    """Surface, 0 for the floor and walls from 1, and rings as mm, x and y in turn."""
    index = 0
    if patch.surface != FLOOR:
        index = one.wall_number(patch.surface) + 1
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
    found = []
    for one in landings:
        if one is None:
            found.append(-1)
            continue
        lying = lies(one)
        words = lying.render("m"), lying.render("ft")
        found.append(said.setdefault(words, len(said)))
    return found


def setup(plan: Plan, one: ResolvedSetup) -> dict[str, Any]:
    """A setup's levels by sky and step: its windows, its face."""
    gap = next(each for each in plan.gaps_by_step if each.setup.name == one.name)
    room = one.in_room
    skies = list(dict.fromkeys(at.sky.name for at in gap.times))
    said: dict[str, int] = {}
    windows = [
        {
            "opening": [each.name for each in room.opening].index(seen.opening),
            "wanted": _band(gap, seen, room),
            "skies": [_window(gap, sky, at, said) for sky in skies],
        }
        for at, seen in enumerate(gap.times[0].openings)
        if seen.in_frame
    ]
    return {
        "windows": windows,
        "advice": list(said),
        "face": [_face(gap, sky) for sky in skies],
        "wants": {
            "fill": [hundredths(end) for end in gap.look.fill],
            "wall": [hundredths(end) for end in gap.look.background],
            "ratio": None if one.contrast is None else hundredths(one.contrast),
            "key": round(gap.key_lux),
        },
    }


def _band(gap: SetupGap, seen: OpeningGap, room: Room) -> list[int | None]:
    return [hundredths(end) for end in gap.look.band(room.opening_named(seen.opening).dressing)]


def _window(gap: SetupGap, sky: str, at: int, said: dict[str, int]) -> dict[str, list[Any]]:
    """One window by step: its stops, what is to be lost, and what does it."""
    levels = [one.openings[at] for one in gap.times if one.sky.name == sky]
    return {
        "stops": [hundredths(one.stops) for one in levels],
        "lose": [hundredths(one.lose_stops) for one in levels],
        "do": [said.setdefault(advice(one), len(said)) for one in levels],
    }


def _face(gap: SetupGap, sky: str) -> dict[str, list[int | None]]:
    """Key side, fill side and the wall behind, in stops from key, with the lamp at full."""
    faces = [one.face for one in gap.times if one.sky.name == sky]
    return {
        "key": [hundredths(stops(one.key_lux, gap.key_lux)) for one in faces],
        "fill": [hundredths(stops(one.fill_lux, gap.key_lux)) for one in faces],
        "wall": [hundredths(stops(one.wall_lux, gap.key_lux)) for one in faces],
        "ratio": [hundredths(one.ratio) for one in faces],
    }


def order(plan: Plan) -> list[dict[str, Any]]:
    """When each setup is rigged and shot in the best order."""
    if plan.pack is None:
        return []
    names = [one.name for one in plan.setups]
    return [
        {
            "setup": names.index(slot.setup.name),
            "rig": round(slot.start_s),
            "shoot": [round(end) for end in slot.shoot_s],
        }
        for slot in plan.pack.running.slots
    ]
