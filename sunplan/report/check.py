"""What was understood of a location file."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from ..light.glass import DEFAULT_GLASS
from ..location.lengths import FOOT_M, Units, format_length
from ..location.model import (
    Exposure,
    Exterior,
    Mark,
    Opening,
    Outside,
    Room,
    Setup,
    Skyline,
    wall_index,
    wall_letter,
)
from ..location.read import Location
from ..survey.plausibility import doubts
from .answers import Answer, place
from .layout import Part, table
from .words import bearing, by, signed

ROWS = (("room", "opening"),)  # of its answer, for spreadsheets


def _looks(room: Room, opening: Opening, plan_up_deg: float) -> str:
    if opening.ceiling:
        if opening.pitch and opening.faces is not None:
            return f"{bearing(opening.faces)}, pitch {opening.pitch:g}°"
        return "straight up"
    assert opening.wall is not None
    index = wall_index(opening.wall, len(room.outline))
    assert index is not None
    return f"{bearing(room.faces_deg(index, plan_up_deg))} ({wall_letter(index)})"


def _area(square_m: float, units: Units) -> str:
    return f"{square_m:.2f} m²" if units == "m" else f"{square_m / FOOT_M**2:.1f} ft²"


def _glazing(opening: Opening, units: Units) -> tuple[str, str, str, str]:
    """Glass, reveal, dressing; what else takes light, and what keeps people off it outside."""
    glass = DEFAULT_GLASS if opening.glass is None else opening.glass
    if opening.transmittance is not None:
        glass = f"lets {100 * opening.transmittance:.0f} % through"
    takes = (("bars", opening.bars), ("dirt", opening.dirt))
    besides = [f"{name} {100 * share:.0f} %" for name, share in takes if share]
    if opening.no_reach is not None:
        besides.append(f"no reach outside: {opening.no_reach}")
    dressing = "none" if opening.dressing is None else opening.dressing
    return glass, format_length(opening.depth, units), dressing, ", ".join(besides) or "—"


def exposed(exposure: Exposure) -> str:
    """What the camera is set to."""
    time = exposure.shutter_s
    shutter = f"{exposure.shutter:g}°" if time is None else f"1/{1 / time:.3g} s"
    return (
        f"ISO {exposure.iso:g}, stop {exposure.stop:g}, {exposure.fps:g} fps at {shutter}, "
        f"{exposure.balance:g} K"
    )


def answer(location: Location) -> Answer:
    """Answer of `sunplan check`: the file in metres and true degrees, walls with their bearings."""
    up = location.site.plan_up
    fields = location.model_dump(mode="json", by_alias=True, exclude={"file", "kits"})
    for room, made in zip(location.room, fields["room"], strict=True):
        made["walls"] = [
            {
                "wall": wall_letter(index),
                "faces_deg": room.faces_deg(index, up),
                "length_m": math.dist(*room.wall(index)),
            }
            for index in range(len(room.outline))
        ]
    return {
        "timezone": location.timezone,
        "place": place(location),
        **fields,
        "doubts": list(doubts(location)),
    }


def _spot(at: Sequence[float], units: Units) -> str:
    return ", ".join(format_length(one, units) for one in at[:2])


def setup_line(setup: Setup) -> str:
    """Where a setup is, and what it plays."""
    wants = "" if setup.contrast is None else f", {setup.contrast:g}:1"
    kit = "" if setup.kit is None else f"; kit {setup.kit}"
    return f"{setup.room}, {setup.mark}; plays {setup.plays}{wants}{kit}"


def camera_lines(setup: Setup, units: Units) -> Iterable[str]:
    """A setup's camera, exposure and key."""
    camera = setup.camera
    aim = camera.toward if isinstance(camera.toward, str) else _spot(camera.toward, units)
    across, up = camera.view_deg
    yield (
        f"camera at {_spot(camera.at, units)}, {format_length(camera.height, units)} high, toward "
        f"{aim}, sees {across:.0f}° × {up:.0f}°"
    )
    yield f"{exposed(setup.exposure)}; {setup.minutes:g} min to shoot"
    if setup.key is not None:
        yield (
            f"key {setup.key.named} from {_spot(setup.key.at, units)}, "
            f"{format_length(setup.key.height, units)} high"
        )


def outlook_lines(one: Exterior, units: Units) -> Iterable[str]:
    """The subject, camera and exposure of a setup outdoors."""
    camera = one.camera
    across, up = camera.view_deg
    wall = "" if one.wall is None else f"; a wall faces {bearing(one.wall)}"
    yield (
        f"subject at {_spot(one.at, units)}, {format_length(one.height, units)} tall{wall}; camera "
        f"{format_length(camera.height, units)} high, toward {bearing(camera.bearing)}, tilted "
        f"{signed(camera.tilt, 0)}°, sees {across:.0f}° × {up:.0f}°"
    )
    yield f"{exposed(one.exposure)}; {one.minutes:g} min to shoot"


def _skyline(line: Skyline) -> str:
    points = (f"{bearing(toward)} {altitude:g}° up" for toward, altitude in line.points)
    return f"skyline: {', '.join(points)}"


def _off_by(location: Location) -> Iterator[str]:
    """How far lengths may be off, of the whole file."""
    site = location.site
    for error_m, what in (
        (site.size_error, "sizes of openings and blocks"),
        (site.place_error, "places of openings, marks and blocks"),
    ):
        if error_m:
            yield f"{what} ±{format_length(error_m, site.units)}"


def _own_errors(parts: Iterable[Opening | Mark | Outside], units: Units) -> Iterator[str]:
    """Parts that have a ± of their own, a line each."""
    for one in parts:
        size_m = None if isinstance(one, Mark) else one.size_error
        own = [
            f"its {what} ±{format_length(error_m, units)}"
            for what, error_m in (("size", size_m), ("place", one.place_error))
            if error_m is not None
        ]
        if own:
            yield f"{one.name}: {', '.join(own)}"


def _spaced(lines: Iterable[str]) -> Iterator[str]:
    """Lines behind a blank one, where there are any."""
    for index, line in enumerate(lines):
        yield line if index else f"\n{line}"


def told(location: Location) -> Iterable[Part]:
    """What was understood of a location file."""
    site, units = location.site, location.site.units

    def length(metres: float) -> str:
        return format_length(metres, units)

    def spot(at: tuple[float, float]) -> str:
        return _spot(at, units)

    north = "N" if site.latitude >= 0 else "S"
    east = "E" if site.longitude >= 0 else "W"
    yield (
        f"{site.name}: {abs(site.latitude):g}° {north}, {abs(site.longitude):g}° {east}, "
        f"{length(site.elevation)} above the sea, clock of {location.timezone}"
    )
    sure = f", ±{site.plan_up_error:g}°" if site.plan_up_error else ""
    yield f"the plan's up is {bearing(site.plan_up)}, true{sure}"
    yield from _off_by(location)
    for room in location.room:
        yield f"\n{room.name}: floor {length(room.floor)} above ground, {length(room.height)} high"
        walls = [
            (
                wall_letter(index),
                bearing(room.faces_deg(index, site.plan_up)),
                length(math.dist(*room.wall(index))),
            )
            for index in range(len(room.outline))
        ]
        yield table(("wall", "faces outward", "length"), walls)
        openings = []
        for opening in room.opening:
            where = (
                f"centre {spot(opening.at)}"
                if opening.at is not None
                else f"{length(opening.along or 0.0)} along, {length(opening.sill or 0.0)} up"
            )
            size = by(*opening.size).render(units)
            area = _area(opening.size[0] * opening.size[1], units)
            looks = _looks(room, opening, site.plan_up)
            openings.append((opening.name, size, area, looks, where))
        if openings:
            yield ""
            yield table(("opening", "size", "area", "faces (wall)", "where"), openings)
            yield ""
            glazed = [(one.name, *_glazing(one, units)) for one in room.opening]
            yield table(("opening", "glass", "set back", "dressing", "besides"), glazed)
        marks = [
            (mark.name, spot(mark.at), f"{length(mark.height[0])} – {length(mark.height[1])} high")
            for mark in room.mark
        ]
        if marks:
            yield ""
            yield table(("mark", "at", "must stay clean"), marks)
        practicals = [
            (one.name, spot(one.at), length(one.height), f"{one.lumens:g} lm, {one.balance:g} K")
            for one in room.practical
        ]
        if practicals:
            yield ""
            yield table(("practical", "at", "up", "bulb"), practicals)
        yield from _spaced(_own_errors((*room.opening, *room.mark), units))
    for setup in location.setup:
        yield f"\nsetup {setup.name}: {setup_line(setup)}"
        yield from (f"  {line}" for line in camera_lines(setup, units))
    for one in location.exterior:
        yield f"\nsetup {one.name}: outdoors; plays {one.plays}"
        yield from (f"  {line}" for line in outlook_lines(one, units))
    blocks = [
        (
            one.name,
            spot(one.at),
            by(one.size[0], one.size[1]).render(units),
            f"{length(one.base)} – {length(one.base + one.size[2])}",
        )
        for one in location.outside
    ]
    if blocks:
        yield ""
        yield table(("outside", "corner at", "size", "above ground"), blocks)
    yield from _spaced(_own_errors(location.outside, units))
    yield from _spaced(_skyline(line) for line in location.skyline)
    circuits = [
        (one.name, f"{one.amps:g} A", f"{one.volts:g} V", ", ".join(one.rooms) or "all")
        for one in location.circuit
    ]
    if circuits:
        yield ""
        yield table(("circuit", "fuse", "mains", "rooms"), circuits)
    hours = location.day
    lunch = (
        "" if hours.lunch is None else f", lunch {hours.lunch[0]:%H:%M} – {hours.lunch[1]:%H:%M}"
    )
    last = f"{hours.wrap:%H:%M}"
    if hours.after_sunset is not None:
        last += f" or {hours.after_sunset:g} min after sunset"
    yield f"\nThe crew is there from {hours.call:%H:%M} to {last}{lunch}."
    odd = list(doubts(location))
    yield f"\nNo mistake found{', but this looks odd:' if odd else '.'}"
    yield from (f"  {one}" for one in odd)
