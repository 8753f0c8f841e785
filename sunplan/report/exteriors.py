"""What a date does to setups outdoors: night and moon, backlight, wall, shadows: JSON, tables."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from datetime import date

from ..day.exterior import (
    BACK_CROSS_DEG,
    BACK_DEG,
    HIGH_DEG,
    SIDE_DEG,
    TUNGSTEN_K,
    UNDEREXPOSE_RANGE_STOPS,
    UNDEREXPOSE_STOPS,
    Backlight,
    ExteriorDay,
    Night,
)
from ..location.read import Location
from ..room.interval import Span
from .answers import Answer, head, iso, sun
from .cautions import NIGHT, SUN, WEATHER
from .document import Moment
from .entry import sun_line
from .layout import Part, table
from .words import about, bearing, between, signed


def _span(span: Span | None, zone: str) -> Answer | None:
    return None if span is None else {"from": iso(span[0], zone), "to": iso(span[1], zone)}


def _night_answer(night: Night, zone: str) -> Answer:
    return {
        "from": iso(night.start_s, zone),
        "to": iso(night.end_s, zone),
        "civil_dark": _span(night.civil_dark, zone),
        "nautical_dark": _span(night.nautical_dark, zone),
        "moon": [
            {
                "from": iso(one.start_s, zone),
                "to": iso(one.end_s, zone),
                "looks": [
                    {"time": iso(each.moment_s, zone), **_without(asdict(each), "moment_s")}
                    for each in one.looks
                ],
            }
            for one in night.moon
        ],
        "moon_hidden": [_span(one, zone) for one in night.moon_hidden],
    }


def _backlight_answer(one: Backlight, zone: str) -> Answer:
    return {
        "from": iso(one.start_s, zone),
        "to": iso(one.end_s, zone),
        **_without(asdict(one), "start_s", "end_s"),
        "lose_stops": one.lose_stops,
        "nd_density": one.nd_density,
    }


def _without(fields: Answer, *names: str) -> Answer:
    return {name: value for name, value in fields.items() if name not in names}


def answer(location: Location, day: date, found: Sequence[ExteriorDay]) -> Answer:
    """Answer for the setups outdoors on one date."""
    zone = location.timezone
    return {
        **head(location, day),
        "backlight_is": {
            "back_deg": BACK_DEG,
            "back_cross_deg": BACK_CROSS_DEG,
            "sun_altitude_deg": HIGH_DEG,
            "underexpose_stops": UNDEREXPOSE_STOPS,
            "source": "common practice, no source",
        },
        "setups": [
            {
                "setup": one.exterior.name,
                "plays": one.exterior.plays,
                "camera_bearing_deg": one.exterior.camera.bearing,
                "sun": sun(one.sun, zone),
                "night": None if one.night is None else _night_answer(one.night, zone),
                "backlight": [_backlight_answer(each, zone) for each in one.backlight],
                "sun_in_frame": [_span(each, zone) for each in one.sun_in_frame],
                "sky_in_frame": one.lose_sky_deg > 0,
                "lose_sky_deg": one.lose_sky_deg,
                "wall": None
                if one.wall is None
                else [
                    {
                        "from": iso(each.start_s, zone),
                        "to": iso(each.end_s, zone),
                        "incidence_deg": each.incidence_deg,
                    }
                    for each in one.wall
                ],
                "shadows": [
                    {"time": iso(each.moment_s, zone), **_without(asdict(each), "moment_s")}
                    for each in one.shadows
                ],
            }
            for one in found
        ],
    }


def told(location: Location, day: date, found: Sequence[ExteriorDay]) -> Iterable[Part]:
    """The setups outdoors on a date, one after the other, and what the words mean."""
    zone = location.timezone
    yield f"{location.site.name}, {day:%A} {day.isoformat()}, clock of {zone}"
    for sun_times in found[:1]:
        yield sun_line(sun_times.sun, day, zone)
    for one in found:
        camera = one.exterior.camera
        tilt = "level" if camera.tilt == 0 else f"tilted {signed(camera.tilt, 0)}°"
        yield (
            f"\n{one.exterior.name}, plays {one.exterior.plays}; camera toward "
            f"{bearing(camera.bearing)}, {tilt}"
        )
        if one.exterior.plays != "day":
            yield from _night(one, zone)
        yield from _behind(one, zone)
        if one.wall is not None:
            yield from _wall(one, zone)
        yield from _shadows(location, one)
    yield ""
    yield (
        f"Light by the sun's or moon's bearing against the camera's: back to {BACK_DEG:.0f}°, "
        f"back-cross to {BACK_CROSS_DEG:.0f}°, side to {SIDE_DEG:.0f}°, else front; the sun lights "
        f"from {HIGH_DEG:.0f}° up. Common practice, no source."
    )
    yield (
        "They are up while the subject's head sees them past skyline, blocks and rooms; lux and "
        "stops are on the level, clear sky, against what the exposure is set for. Sky in frame is "
        "judged from the subject's place: from farther back blocks look lower."
    )
    if any(one.exterior.plays != "day" for one in found):
        yield NIGHT
    yield WEATHER
    yield SUN


def _night(one: ExteriorDay, zone: str) -> Iterable[Part]:
    day, night = one.date, one.night
    if night is None:
        yield "  no night: the sun does not set"
        return
    yield (
        f"  dark: sun 6° down {between(night.civil_dark, zone, day)}; "
        f"12° down {between(night.nautical_dark, zone, day)}"
    )
    hidden = ", ".join(between(span, zone, day) for span in night.moon_hidden)
    if hidden:
        yield f"  the moon hidden by skyline, blocks or rooms: {hidden}"
    if not night.moon:
        yield "  no moon in this night"
        return
    rows = [
        (
            Moment(each.moment_s, zone, day),
            "" if each.event == "hour" else each.event,
            f"{each.altitude_deg:.0f}°",
            bearing(each.bearing_deg),
            f"{100 * each.lit_share:.0f} %",
            f"{each.lux:.3f}",
            signed(each.stops),
            each.side + (", IN FRAME" if each.in_frame else ""),
        )
        for stretch in night.moon
        for each in stretch.looks
    ]
    yield table(("time", "moon", "up", "bearing", "lit", "lux", "stops", "light"), rows)


def _behind(one: ExteriorDay, zone: str) -> Iterable[Part]:
    day, darker = one.date, one.exterior.plays != "day"
    if one.backlight:
        yield "\n  sun behind the subject; levels are those in the middle of each stretch"
        rows = []
        for each in one.backlight:
            row = (
                each.side,
                Moment(each.start_s, zone, day),
                Moment(each.end_s, zone, day),
                f"{each.sun_altitude_deg:.0f}°",
                bearing(each.sun_bearing_deg),
                signed(each.over_stops),
            )
            lose = (f"{each.lose_stops:.1f}", f"nd {each.nd_density:.1f}")
            rows.append(row + lose if darker else row)
        heads = ("light", "from", "to", "sun up", "bearing", "stops")
        yield table((*heads, "lose", "all by filter") if darker else heads, rows)
    else:
        yield "\n  the sun never stands behind the subject, high enough to light"
    if darker and one.backlight:
        low, high = UNDEREXPOSE_RANGE_STOPS
        yield (
            f"  lose: for day for night, {UNDEREXPOSE_STOPS:g} stops under (common practice "
            f"{low:g} to {high:g}); ISO and stop may take a part; balance to tungsten, "
            f"{TUNGSTEN_K:.0f} K"
        )
    for span in one.sun_in_frame:
        yield f"  the sun itself is IN FRAME {between(span, zone, day)}"
    if one.lose_sky_deg > 0:
        yield f"  sky in frame; tilt down by {math.ceil(one.lose_sky_deg)}° to lose it"
    else:
        yield "  no sky in frame"


def _wall(one: ExteriorDay, zone: str) -> Iterable[Part]:
    assert one.exterior.wall is not None
    assert one.wall is not None
    name = f"the wall that faces {bearing(one.exterior.wall)}"
    for each in one.wall:
        yield (
            f"  sun on {name}: {between((each.start_s, each.end_s), zone, one.date)}, "
            f"{each.incidence_deg:.0f}° off square in the middle"
        )
    if not one.wall:
        yield f"  no sun on {name}"


def _shadows(location: Location, one: ExteriorDay) -> Iterable[Part]:
    if not one.shadows:
        yield "  no sun on the subject at any full hour"
        return
    units = location.site.units
    tall = about(one.exterior.height).render(units)
    yield f"\n  shadow of the subject, {tall} tall, on level ground"
    rows = [
        (
            Moment(each.moment_s, location.timezone, one.date),
            f"{each.sun_altitude_deg:.0f}°",
            about(each.length_m).render(units),
            bearing(each.bearing_deg),
        )
        for each in one.shadows
    ]
    yield table(("time", "sun up", "long", "points to"), rows)
