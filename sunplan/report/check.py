"""What was understood of a location file."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from ..light.glass import DEFAULT_GLASS
from ..location.model import (
    Exposure,
    Exterior,
    Mark,
    Opening,
    Outside,
    Room,
    Setup,
    Skyline,
    wall_letter,
)
from ..location.read import Location
from ..survey.plausibility import doubts, untold
from . import circuits
from .answers import Answer, place
from .document import (
    Block,
    Document,
    Line,
    More,
    Quantity,
    Said,
    Section,
    Table,
    Text,
    joined,
    text,
)
from .words import bearing, by, coordinates, signed

ROWS = {
    "openings": ("room", "opening"),
    "marks": ("room", "mark"),
    "practicals": ("room", "practical"),
    "outside": ("outside",),
}  # of its answer, by kind


def _faces(room: Room, opening: Opening, plan_up_deg: float) -> str:
    if opening.ceiling:
        if opening.pitch and opening.faces is not None:
            return f"{bearing(opening.faces)}, pitch {opening.pitch:g}°"
        return "straight up"
    assert opening.wall is not None
    index = room.wall_number(opening.wall)
    return f"{bearing(room.faces_deg(index, plan_up_deg))} ({wall_letter(index)})"


def _glazing(opening: Opening) -> tuple[Said, ...]:
    """Glass, reveal, curtain or blind; what else takes light."""
    glass = DEFAULT_GLASS if opening.glass is None else opening.glass
    if opening.transmittance is not None:
        glass = f"lets {100 * opening.transmittance:.0f} % through"
    takes = (("bars", opening.bars), ("dirt", opening.dirt))
    besides = [f"{name} {100 * share:.0f} %" for name, share in takes if share]
    dressing = "none" if opening.dressing is None else opening.dressing
    return glass, Quantity(opening.depth), dressing, ", ".join(besides) or "—"


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
        "mains": circuits.mains(location),
        **fields,
        "doubts": list(doubts(location)),
        "untold": list(untold(location)),
    }


def _spot(at: Sequence[float]) -> Text:
    return joined(", ", map(Quantity, at[:2]))


def _span(low_m: float, high_m: float) -> Text:
    return joined(" – ", [Quantity(low_m), Quantity(high_m)])


def setup_line(setup: Setup) -> str:
    """Where a setup is, and what it reads as."""
    wants = "" if setup.contrast is None else f", {setup.contrast:g}:1"
    kit = "" if setup.kit is None else f"; kit {setup.kit}"
    own = "".join(f"; {hours}" for hours in _own_hours(setup))
    return f"{setup.room}, {setup.mark}; reads as {setup.plays}{wants}{kit}{own}"


def _own_hours(setup: Setup) -> Iterator[str]:
    """When a setup must be shot, in words."""
    if setup.start is not None:
        yield f"starts at {setup.start:%H:%M}"
    if setup.after is not None:
        yield f"starts at {setup.after:%H:%M} or later"
    if setup.after_sunset is not None:
        side = "before" if setup.after_sunset < 0 else "after"
        yield f"starts {abs(setup.after_sunset):g} min {side} sunset or later"
    if setup.before is not None:
        yield f"shot by {setup.before:%H:%M}"


def camera_lines(setup: Setup) -> Iterator[Said]:
    """A setup's camera, exposure and key."""
    camera = setup.camera
    aim = camera.toward if isinstance(camera.toward, str) else _spot(camera.toward)
    across, up = camera.view_deg
    place = text("camera at ", _spot(camera.at), ", ", Quantity(camera.height), " high")
    yield text(place, ", toward ", aim, f", sees {across:.0f}° × {up:.0f}°")
    yield f"{exposed(setup.exposure)}; {setup.minutes:g} min to shoot"
    if setup.key is not None:
        place = text(" from ", _spot(setup.key.at), ", ", Quantity(setup.key.height), " high")
        yield f"key {setup.key.named}" + place


def outlook_lines(setup: Exterior) -> Iterator[Said]:
    """The subject, camera and exposure of a setup outdoors."""
    camera = setup.camera
    across, up = camera.view_deg
    wall = "" if setup.wall is None else f"; a wall faces {bearing(setup.wall)}"
    subject = text("subject at ", _spot(setup.at), ", ", Quantity(setup.height), " tall", wall)
    yield text(subject, "; camera ", Quantity(camera.height)) + (
        f" high, toward {bearing(camera.bearing)}, tilted {signed(camera.tilt, 0)}°, sees "
        f"{across:.0f}° × {up:.0f}°"
    )
    yield f"{exposed(setup.exposure)}; {setup.minutes:g} min to shoot"


def _skyline(line: Skyline) -> str:
    points = (f"{bearing(toward)} {altitude:g}° up" for toward, altitude in line.points)
    return f"skyline: {', '.join(points)}"


def _own_errors(parts: Iterable[Opening | Mark | Outside]) -> Iterator[Said]:
    """Parts that have a ± of their own, a line each."""
    for part in parts:
        errors = {"place": part.place_error}
        if not isinstance(part, Mark):
            errors = {"size": part.size_error, **errors}
        own = [
            text(f"its {kind} ±", Quantity(error_m))
            for kind, error_m in errors.items()
            if error_m is not None
        ]
        if own:
            yield f"{part.name}: " + joined(", ", own)


def report(location: Location) -> Document:
    """What was understood of a location file: what looks odd or is assumed first."""
    title, *intro = _site(location)
    return Document(
        title,
        [
            Section("verdict", None, _verdict(location)),
            *_asks(location),
            _rooms(location),
            *_tables(location),
            Section("setups", "Setups", _setups(location)),
            *_around(location),
            More(
                "walls, glass, cameras and exposures",
                [
                    *(_room(room, location.site.plan_up) for room in location.room),
                    *(
                        Section("setup", f"setup {setup.name}", camera_lines(setup))
                        for setup in location.setup
                    ),
                    *(
                        Section("setup", f"setup {setup.name}, outdoors", outlook_lines(setup))
                        for setup in location.exterior
                    ),
                ],
            ),
        ],
        intro=intro,
    )


def _verdict(location: Location) -> Iterator[Block]:
    """Whether anything looks odd, and what is taken for granted."""
    odd = list(doubts(location))
    yield Line("No mistake found, but this looks odd:", odd) if odd else "No mistake found."
    yield from circuits.assumed(location, (room.name for room in location.room))
    unnamed = [
        f"{room.name}: {opening.name}"
        for room in location.room
        for opening in room.opening
        if opening.glass is None and opening.transmittance is None
    ]
    if unnamed:
        yield f"assumed, no glass named for {', '.join(unnamed)}: {DEFAULT_GLASS}"
    hours = location.day
    lunch = (
        "" if hours.lunch is None else f", lunch {hours.lunch[0]:%H:%M} – {hours.lunch[1]:%H:%M}"
    )
    last = f"{hours.wrap:%H:%M}"
    if hours.after_sunset is not None:
        last += f" or {hours.after_sunset:g} min after sunset"
    weighs = "; order prefers time to the picture" if hours.prefer == "time" else ""
    yield f"call {hours.call:%H:%M}, wrap {last}{lunch}{weighs}"


def _setups(location: Location) -> Iterator[str]:
    yield from (f"{setup.name}: {setup_line(setup)}" for setup in location.setup)
    yield from (f"{setup.name}: outdoors; reads as {setup.plays}" for setup in location.exterior)


def _site(location: Location) -> Iterator[Said]:
    """Where it is, which way its plan points, how far its lengths may be off."""
    site = location.site
    yield text(
        f"{site.name}: {coordinates(site.latitude, site.longitude)}, ",
        Quantity(site.elevation),
        f" above the sea, local time ({location.timezone})",
    )
    sure = f", ±{site.plan_up_error:g}°" if site.plan_up_error else ""
    yield f"the plan's up is {bearing(site.plan_up)}, true{sure}"
    if site.size_error:
        yield text("sizes of openings and blocks ±", Quantity(site.size_error))
    if site.place_error:
        yield text("places of openings, marks and blocks ±", Quantity(site.place_error))


def _asks(location: Location) -> list[Section]:
    """What the file leaves out and work is planned by."""
    asks = Section("untold", "Not told yet; ask, and put it in the file:", untold(location))
    return [asks] if asks.blocks else []


def _tabled(id: str, columns: Sequence[str], rows: Iterable[Sequence[Said]]) -> list[Section]:
    """A table as a section by itself, where it has rows."""
    table = Table(columns, rows)
    return [Section(id, None, [table])] if table.rows else []


def _lines(id: str, lines: Iterable[Said]) -> list[Section]:
    """Lines as a section by themselves, where there are any."""
    section = Section(id, None, lines)
    return [section] if section.blocks else []


def _rooms(location: Location) -> Section:
    """Every room in a row."""
    up = location.site.plan_up
    rows = [
        (
            room.name,
            Quantity(room.floor),
            Quantity(room.height),
            "wet" if room.wet else "—",
            ", ".join(
                f"{wall_letter(index)} {bearing(room.faces_deg(index, up))}"
                for index in range(len(room.outline))
            ),
        )
        for room in location.room
    ]
    heads = ("room", "above ground", "height", "water", "walls face")
    return Section("rooms", None, [Table(heads, rows)])


def _tables(location: Location) -> Iterator[Section]:
    """Openings, marks and practicals of all rooms, and which have a ± of their own."""
    up = location.site.plan_up
    openings = [
        (
            f"{room.name}: {opening.name}",
            by(*opening.size),
            _faces(room, opening, up),
            _outside(opening),
        )
        for room in location.room
        for opening in room.opening
    ]
    marks = [
        (f"{room.name}: {mark.name}", _spot(mark.at), _span(*mark.height) + " high")
        for room in location.room
        for mark in room.mark
    ]
    practicals = [
        (
            f"{room.name}: {lamp.name}",
            _spot(lamp.at),
            Quantity(lamp.height),
            f"{lamp.lumens:g} lm, {lamp.balance:g} K",
        )
        for room in location.room
        for lamp in room.practical
    ]
    yield from _tabled("openings", ("opening", "size", "faces (wall)", "outside"), openings)
    yield from _tabled("marks", ("mark", "at", "keep sun off"), marks)
    yield from _tabled("practicals", ("practical", "at", "up", "bulb"), practicals)
    for room in location.room:
        yield from _lines("errors", _own_errors((*room.opening, *room.mark)))


def _outside(opening: Opening) -> str:
    """What lies before an opening, where it is told."""
    return "—" if opening.before is None else f"{opening.before} before it"


def _room(room: Room, plan_up_deg: float) -> Section:
    """A room's walls and its glass."""
    walls = [
        (
            wall_letter(index),
            bearing(room.faces_deg(index, plan_up_deg)),
            Quantity(math.dist(*room.wall(index))),
        )
        for index in range(len(room.outline))
    ]
    places = [
        (opening.name, Quantity(opening.size[0] * opening.size[1], "area"), _where(opening))
        for opening in room.opening
    ]
    glazed = [(opening.name, *_glazing(opening)) for opening in room.opening]
    glazing = "opening", "glass", "set back", "curtain or blind", "besides"
    return Section(
        "room",
        room.name,
        [
            Table(("wall", "faces outward", "length"), walls),
            *_tabled("places", ("opening", "area", "where"), places),
            *_tabled("glazing", glazing, glazed),
        ],
    )


def _where(opening: Opening) -> Text:
    if opening.at is not None:
        return text("centre ", _spot(opening.at))
    along, sill = opening.along or 0.0, opening.sill or 0.0
    return text(Quantity(along), " along, ", Quantity(sill), " up")


def _around(location: Location) -> Iterator[Section]:
    """What stands outside, and the circuits."""
    blocks = [
        (
            block.name,
            _spot(block.at),
            by(*block.size[:2]),
            _span(block.base, block.base + block.size[2]),
        )
        for block in location.outside
    ]
    named = [
        (
            circuit.name,
            f"{circuit.amps:g} A",
            f"{circuit.volts:g} V",
            ", ".join(circuit.rooms) or "all",
        )
        for circuit in location.circuit
    ]
    yield from _tabled("outside", ("outside", "corner at", "size", "above ground"), blocks)
    yield from _lines("errors", _own_errors(location.outside))
    yield from _lines("skyline", map(_skyline, location.skyline))
    yield from _tabled("circuits", ("circuit", "fuse", "mains", "rooms"), named)
