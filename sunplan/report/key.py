"""Is the lamp enough: its level at the face, how soft it is, what buys a stop."""

from __future__ import annotations

from collections.abc import Sequence

from ..light.key_light import KeyChange, KeyLight
from ..light.meter import exposure_value
from ..location.read import Location
from ..rig.hazards import Hazard
from .answers import Answer, place
from .cautions import in_full
from .document import Document, Said, Section, Table, text
from .words import about, percent, ratio, signed

ROWS = (("setups",),)  # of its answer, for spreadsheets


def answer(location: Location, found: Sequence[KeyLight]) -> Answer:
    """Answer of `sunplan key`."""
    return {
        "location": location.site.name,
        "place": place(location),
        "setups": [
            {
                "setup": one.setup.name,
                "lamp": one.source.lamp.name,
                "frame": None if one.source.frame is None else one.source.frame.name,
                "needed_lux": one.needed_lux,
                "needed_ev": exposure_value(one.setup.exposure),
                "key_side_lux": one.key_side_lux,
                "fill_side_lux": one.fill_side_lux,
                "stops": one.stops,
                "ratio": one.ratio,
                "distance_m": one.source.distance_m,
                "kind": one.kind,
                "in_frame": one.in_frame,
                "first_leg_m": one.source.first_leg_m,
                "angular_deg": one.source.angular_size_deg,
                "edge_mm_per_m": 1000.0 * one.source.penumbra_ratio,
                "eye_mm": one.source.catchlight_mm,
                "background_stops": one.background_stops,
                "watts": one.source.lamp.watts,
                "ways": [
                    {"way": way.description, "stops": way.stops, "distance_m": way.reach_m}
                    for way in one.changes
                ],
            }
            for one in found
        ],
    }


def dimmed(light: KeyLight) -> str:
    """What takes from a lamp what it gives too much."""
    return f"dim to {percent(2.0**-light.stops)}, or close {light.stops:.1f}"


def report(location: Location, lights: Sequence[KeyLight]) -> Document:
    """The key lamps for people."""
    hazards: list[Hazard] = ["lamp", "circuits"]
    if any(light.kind == "off a mirror" for light in lights):
        hazards.append("mirror")
    return Document(
        f"{location.site.name}: key lamps at full, by night; stops over what the exposure needs",
        [*map(_lamp, lights), Section("notes", None, in_full(hazards))],
        intro=[] if lights else ["no setup has a key lamp"],
    )


def _lamp(light: KeyLight) -> Section:
    source, needed_ev = light.source, exposure_value(light.setup.exposure)
    leg = text(", the lamp ", about(source.first_leg_m), " from it") if source.first_leg_m else ""
    lines: list[Said] = [
        f"needed {light.needed_lux:.0f} lx (EV {needed_ev:.1f}); key side "
        f"{light.key_side_lux:.0f}, fill side {light.fill_side_lux:.0f}: "
        f"{signed(light.stops)} stops, ratio {ratio(light.ratio)}",
        text("source ", about(source.distance_m), " from the face", leg)
        + f"; {source.angular_size_deg:.0f}° across from the face, in an eye "
        f"{source.catchlight_mm:.1f} mm; a shadow's edge is {100 * source.penumbra_ratio:.0f} mm "
        "soft for each 10 cm from what throws it",
    ]
    if light.in_frame:
        seen = "the lamp" if source.sheet is None else light.kind.split(" ", 1)[1]
        lines.append(f"IN FRAME: the camera sees {seen}")
    if light.stops > 0:
        lines.append(f"to sit at key: {dimmed(light)}")
    if light.background_stops is not None:
        lines.append(
            f"wall behind the face: {signed(light.background_stops)} stops against the face"
        )
    changes = [(_change(change), signed(change.stops)) for change in light.changes]
    heading = f"{light.setup.name}: {source.lamp.name} {light.kind}, {source.lamp.watts:.0f} W"
    return Section("lamp", heading, [*lines, Table(("to change it", "stops"), changes)])


def _change(change: KeyChange) -> Said:
    if change.reach_m is None:
        return change.description
    return text(f"{change.description}, ", about(change.reach_m), " from the face")
