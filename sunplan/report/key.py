"""Is the lamp enough: its level at the face, how soft it is, what buys a stop."""

from __future__ import annotations

from collections.abc import Sequence

from ..light.key_light import KeyChange, KeyLight
from ..light.meter import exposure_value
from ..location.read import Location
from ..rig import hazards
from ..rig.hazards import Hazard
from . import circuits
from .answers import Answer, fields, place
from .cautions import in_full
from .document import Document, More, Said, Section, Table, text
from .words import about, over, percent, ratio

ROWS = {"setups": ("setups",)}  # of its answer, by kind


def answer(location: Location, lights: Sequence[KeyLight]) -> Answer:
    """Answer of `sunplan key`."""
    return {
        "location": location.site.name,
        "place": place(location),
        "mains": circuits.mains(location),
        "setups": [
            {
                "setup": light.setup.name,
                "lamp": light.source.lamp.name,
                "frame": None if light.source.frame is None else light.source.frame.name,
                "needed_lux": light.needed_lux,
                "needed_ev": exposure_value(light.setup.exposure),
                **fields(light, "key_side_lux", "fill_side_lux", "stops", "ratio"),
                "distance_m": light.source.distance_m,
                "kind": light.kind,
                "in_frame": light.in_frame,
                "first_leg_m": light.source.first_leg_m,
                "angular_deg": light.source.angular_size_deg,
                "edge_mm_per_m": 1000.0 * light.source.penumbra_ratio,
                "eye_mm": light.source.catchlight_mm,
                "background_stops": light.background_stops,
                "watts": light.source.lamp.watts,
                "ways": [
                    {"way": change.description, "stops": change.stops, "distance_m": change.reach_m}
                    for change in light.changes
                ],
            }
            for light in lights
        ],
    }


def dimmed(light: KeyLight) -> str:
    """What takes from a lamp what it gives too much."""
    return f"dim to {percent(2.0**-light.stops)}, or stop down {light.stops:.1f}"


def report(location: Location, lights: Sequence[KeyLight]) -> Document:
    """The key lamps for people."""
    dangers: list[Hazard] = ["lamp", "circuits"]
    if any(light.kind == "off a mirror" for light in lights):
        dangers.append("mirror")
    dangers += [hazard for light in lights for hazard in hazards.of_room(light.setup.in_room)]
    return Document(
        f"{location.site.name}: key lamps at full, by night",
        [
            *(Section("verdict", None, [table(lights)]) for table in (_verdict, _levels) if lights),
            More("how soft each is, what buys a stop", map(_lamp, lights)),
            Section(
                "mains", None, circuits.assumed(location, (light.setup.room for light in lights))
            ),
            Section("notes", None, in_full(dangers)),
        ],
        intro=[] if lights else ["no setup has a key lamp"],
    )


def _verdict(lights: Sequence[KeyLight]) -> Table:
    rows = [
        (
            light.setup.name,
            f"{light.source.lamp.name} {light.kind}",
            over(light.stops, "key"),
            "; ".join([_do(light), *_seen(light)]),
        )
        for light in lights
    ]
    return Table(("setup", "key lamp", "face", "do"), rows)


def _do(light: KeyLight) -> str:
    """What sets the lamp to key: dim it, or the first of the changes that is enough."""
    if light.stops > 0:
        return dimmed(light)
    if light.stops == 0:
        return "nothing"
    enough = [change for change in light.changes if change.stops >= -light.stops]
    return enough[0].description if enough else "no one change is enough"


def _seen(light: KeyLight) -> list[str]:
    """What of the lamp the camera sees."""
    if not light.in_frame:
        return []
    return [f"{'lamp' if light.source.sheet is None else light.kind.split(' ', 1)[1]} IN FRAME"]


def _levels(lights: Sequence[KeyLight]) -> Table:
    rows = [
        (
            light.setup.name,
            f"{light.needed_lux:.0f} lx",
            f"{light.key_side_lux:.0f} lx",
            f"{light.fill_side_lux:.0f} lx",
            ratio(light.ratio),
            "—" if light.background_stops is None else over(light.background_stops),
        )
        for light in lights
    ]
    return Table(("setup", "needed", "key side", "fill side", "ratio", "wall vs key side"), rows)


def _lamp(light: KeyLight) -> Section:
    source, needed_ev = light.source, exposure_value(light.setup.exposure)
    leg = text(", the lamp ", about(source.first_leg_m), " from it") if source.first_leg_m else ""
    lines: list[Said] = [
        f"needed {light.needed_lux:.0f} lx (EV {needed_ev:.1f}); key side "
        f"{light.key_side_lux:.0f} lx, {over(light.stops, 'key')}; fill side "
        f"{light.fill_side_lux:.0f} lx, ratio {ratio(light.ratio)}",
        text("source ", about(source.distance_m), " from the face", leg)
        + f"; {source.angular_size_deg:.0f}° across as the face sees it; its catchlight "
        f"{source.catchlight_mm:.1f} mm; a shadow's edge is {100 * source.penumbra_ratio:.0f} mm "
        "soft for each 10 cm from what throws it",
        *_seen(light),
    ]
    if light.stops > 0:
        lines.append(f"for a face at key: {dimmed(light)}")
    if light.background_stops is not None:
        lines.append(f"wall behind the face: {over(light.background_stops, 'its key side')}")
    changes = [
        (_change(change), f"{abs(change.stops):.1f} {'more' if change.stops > 0 else 'less'}")
        for change in light.changes
    ]
    heading = f"{light.setup.name}: {source.lamp.name} {light.kind}, {source.lamp.watts:.0f} W"
    return Section("lamp", heading, [*lines, Table(("to change it", "stops"), changes)])


def _change(change: KeyChange) -> Said:
    if change.reach_m is None:
        return change.description
    return text(f"{change.description}, ", about(change.reach_m), " from the face")
