"""Is the lamp enough: its level at the face, how soft it is, what buys a stop."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ..light.key_light import KeyChange, KeyLight
from ..light.meter import exposure_value
from ..location.lengths import Units
from ..location.read import Location
from ..rig.hazards import Hazard
from .answers import Answer, place
from .cautions import in_full
from .layout import Part, table
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
                "angular_deg": one.source.angular_deg,
                "edge_mm_per_m": 1000.0 * one.source.edge_share,
                "eye_mm": one.source.eye_mm,
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


def _way(one: KeyChange, units: Units) -> str:
    far = "" if one.reach_m is None else f", {about(one.reach_m, units)} from the face"
    return one.description + far


def dimmed(one: KeyLight) -> str:
    """What takes from a lamp what it gives too much."""
    return f"dim to {percent(2.0**-one.stops)}, or close {one.stops:.1f}"


def told(location: Location, found: Sequence[KeyLight]) -> Iterable[Part]:
    """The key lamps for people."""
    units = location.site.units
    yield f"{location.site.name}: key lamps at full, by night; stops over what the exposure needs"
    for one in found:
        source = one.source
        yield f"\n{one.setup.name}: {source.lamp.name} {one.kind}, {source.lamp.watts:.0f} W"
        needed_ev = exposure_value(one.setup.exposure)
        yield (
            f"  needed {one.needed_lux:.0f} lx (EV {needed_ev:.1f}); key side "
            f"{one.key_side_lux:.0f}, fill side {one.fill_side_lux:.0f}: "
            f"{signed(one.stops)} stops, ratio {ratio(one.ratio)}"
        )
        where = f"{about(source.distance_m, units)} from the face"
        if source.first_leg_m:
            where += f", the lamp {about(source.first_leg_m, units)} from it"
        yield (
            f"  source {where}; {source.angular_deg:.0f}° across from the face, in an eye "
            f"{source.eye_mm:.1f} mm; a shadow's edge is {1000 * source.edge_share / 10:.0f} mm "
            "soft for each 10 cm from what throws it"
        )
        if one.in_frame:
            what = "the lamp" if source.sheet is None else one.kind.split(" ", 1)[1]
            yield f"  IN FRAME: the camera sees {what}"
        if one.stops > 0:
            yield f"  to sit at key: {dimmed(one)}"
        if one.background_stops is not None:
            yield f"  wall behind the face: {signed(one.background_stops)} stops against the face"
        yield table(
            ("to change it", "stops"),
            [(_way(way, units), signed(way.stops)) for way in one.changes],
        )
    if not found:
        yield "no setup has a key lamp"
    yield ""
    dangers: list[Hazard] = ["lamp", "circuits"]
    if any(one.kind == "off a mirror" for one in found):
        dangers.append("mirror")
    yield from in_full(dangers)
