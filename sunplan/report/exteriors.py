"""What a date does to setups outdoors: night and moon, backlight, wall, shadows: JSON, tables."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
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
    MoonLook,
    Night,
    Shadow,
)
from ..location.read import Location
from .answers import Answer, head, interval, iso, span, sun
from .cautions import NIGHT, OUTDOORS, SUN, WEATHER
from .document import Block, Document, Moment, More, Section, Table, text
from .entry import sun_line
from .words import about, bearing, between, over, signed, spread, titled

LEGEND = (
    f"Light by the sun's or moon's bearing against the camera's: back to {BACK_DEG:.0f}°, "
    f"back-cross to {BACK_CROSS_DEG:.0f}°, side to {SIDE_DEG:.0f}°, else front; the sun lights "
    f"from {HIGH_DEG:.0f}° up. Common practice, no source.",
    "They are up while the subject's head sees them past skyline, blocks and rooms; lx and levels "
    "are on the level, clear sky, over or under what the exposure is set for. Sky in frame is "
    "judged from the subject's place: from farther back blocks look lower.",
)
EVENTS = {"hour": "", "goes": "out of sight", "appears": "in sight"}  # by rising, or from behind


def _night_answer(night: Night, zone: str) -> Answer:
    return {
        **interval(night, zone),
        "civil_dark": night.civil_dark and span(night.civil_dark, zone),
        "nautical_dark": night.nautical_dark and span(night.nautical_dark, zone),
        "moon": [
            {
                **interval(stretch, zone),
                "looks": [_at(look, zone) for look in stretch.looks],
            }
            for stretch in night.moon
        ],
        "moon_hidden": [span(hidden, zone) for hidden in night.moon_hidden],
    }


def _at(seen: MoonLook | Shadow, zone: str) -> Answer:
    fields = asdict(seen)
    return {"time": iso(fields.pop("moment_s"), zone), **fields}


def _backlight_answer(light: Backlight, zone: str) -> Answer:
    fields = asdict(light)
    return {
        **span((fields.pop("start_s"), fields.pop("end_s")), zone),
        **fields,
        "lose_stops": light.lose_stops,
        "nd_density": light.nd_density,
    }


def answer(location: Location, day: date, setups: Sequence[ExteriorDay]) -> Answer:
    """Answer for the setups outdoors on one date."""
    return {
        **head(location, day),
        "backlight_is": {
            "back_deg": BACK_DEG,
            "back_cross_deg": BACK_CROSS_DEG,
            "sun_altitude_deg": HIGH_DEG,
            "underexpose_stops": UNDEREXPOSE_STOPS,
            "source": "common practice, no source",
        },
        "setups": [_answer(setup, location.timezone) for setup in setups],
    }


def _answer(setup: ExteriorDay, zone: str) -> Answer:
    wall = setup.wall
    return {
        "setup": setup.exterior.name,
        "plays": setup.exterior.plays,
        "camera_bearing_deg": setup.exterior.camera.bearing,
        "sun": sun(setup.sun, zone),
        "night": None if setup.night is None else _night_answer(setup.night, zone),
        "backlight": [_backlight_answer(light, zone) for light in setup.backlight],
        "sun_in_frame": [span(seen, zone) for seen in setup.sun_in_frame],
        "sky_in_frame": setup.lose_sky_deg > 0,
        "lose_sky_deg": setup.lose_sky_deg,
        "wall": None
        if wall is None
        else [{**interval(lit, zone), "incidence_deg": lit.incidence_deg} for lit in wall],
        "shadows": [_at(shadow, zone) for shadow in setup.shadows],
    }


def report(location: Location, day: date, setups: Sequence[ExteriorDay]) -> Document:
    """The setups outdoors on a date, each in a few lines; hour by hour, and the terms, for more."""
    night = [NIGHT] if any(setup.exterior.plays != "day" for setup in setups) else []
    zone = location.timezone
    return Document(
        titled(location, day),
        [
            *(_setup(setup, zone) for setup in setups),
            More("legend of the terms outdoors", [Section("legend", None, LEGEND)]),
            Section("notes", None, [OUTDOORS, *night, WEATHER, SUN]),
        ],
        intro=[sun_line(setup.sun, day, zone) for setup in setups[:1]],
    )


def _setup(setup: ExteriorDay, zone: str) -> Section:
    exterior, camera = setup.exterior, setup.exterior.camera
    tilt = "level" if camera.tilt == 0 else f"tilted {signed(camera.tilt, 0)}°"
    night = exterior.plays != "day"
    tables = [*(_moon_table(setup, zone) if night else []), *_backlight_table(setup, zone)]
    return Section(
        "setup",
        f"{exterior.name}, reads as {exterior.plays}; camera toward {bearing(camera.bearing)}, "
        f"{tilt}",
        [
            *(_night(setup, zone) if night else []),
            *_behind(setup, zone),
            *_wall(setup, zone),
            *([] if setup.shadows else ["no sun on the subject at any full hour"]),
            More("moon, sun and shadows hour by hour", [*tables, *_shadows(setup, zone)]),
        ],
    )


def _night(setup: ExteriorDay, zone: str) -> Iterator[Block]:
    """When it is dark, and when the moon is up."""
    day, night = setup.date, setup.night
    if night is None:
        yield "no night: the sun does not set"
        return
    yield (
        f"dark: sun 6° down {between(night.civil_dark, zone, day)}; "
        f"12° down {between(night.nautical_dark, zone, day)}"
    )
    hidden = ", ".join(between(behind, zone, day) for behind in night.moon_hidden)
    if hidden:
        yield f"the moon hidden by skyline, blocks or rooms: {hidden}"
    if not night.moon:
        yield "no moon in this night"
        return
    looks = [look for stretch in night.moon for look in stretch.looks]
    spans = ", ".join(between((it.start_s, it.end_s), zone, day) for it in night.moon)
    sides = ", ".join(dict.fromkeys(look.side for look in looks))
    dimmest, brightest = (pick(looks, key=lambda look: look.lux) for pick in (min, max))
    frame = ", IN FRAME" if any(look.in_frame for look in looks) else ""
    yield (
        f"moon {spans}: {sides}{frame}; up to {_lux(brightest.lux)}, "
        f"{spread((dimmest.stops, brightest.stops), 'what the exposure wants')}"
    )


def _lux(level: float) -> str:
    """Moonlight, or that there is as good as none.

    >>> _lux(0.0812), _lux(4e-7)
    ('0.081 lx', 'under 0.001 lx')
    """
    return f"{level:.3f} lx" if level >= 0.001 else "under 0.001 lx"


def _moon_table(setup: ExteriorDay, zone: str) -> Iterator[Block]:
    """The moon hour by hour."""
    if setup.night is None or not setup.night.moon:
        return
    rows = [
        (
            Moment(look.moment_s, zone, setup.date),
            EVENTS.get(look.event, look.event),
            f"{look.altitude_deg:.0f}°",
            bearing(look.bearing_deg),
            f"{100 * look.lit_share:.0f} %",
            f"{look.lux:.3f}",
            over(look.stops),
            look.side + (", IN FRAME" if look.in_frame else ""),
        )
        for stretch in setup.night.moon
        for look in stretch.looks
    ]
    yield Table(("time", "moon", "up", "bearing", "lit", "lx", "level", "light"), rows)


def _behind(setup: ExteriorDay, zone: str) -> Iterator[Block]:
    """When the sun stands behind the subject, and what to do then; what the frame shows."""
    day, darker = setup.date, setup.exterior.plays != "day"
    for light in setup.backlight:
        span = between((light.start_s, light.end_s), zone, day)
        cure = (
            f"; day for night: knock down {light.lose_stops:.1f} stops, nd {light.nd_density:.1f}"
            if darker
            else ""
        )
        yield f"sun behind the subject {span}, {light.side}: {over(light.over_stops)}{cure}"
    if not setup.backlight:
        yield "the sun never stands behind the subject, high enough to light"
    elif darker:
        yield f"balance to tungsten, {TUNGSTEN_K:.0f} K; ISO and stop may take a part of it"
    for seen in setup.sun_in_frame:
        yield f"the sun itself is IN FRAME {between(seen, zone, day)}"
    if setup.lose_sky_deg > 0:
        yield f"sky in frame; tilt down by {math.ceil(setup.lose_sky_deg)}° to lose it"
    else:
        yield "no sky in frame"


def _backlight_table(setup: ExteriorDay, zone: str) -> Iterator[Block]:
    """Where the sun stands behind the subject."""
    if not setup.backlight:
        return
    darker = setup.exterior.plays != "day"
    yield "sun behind the subject; levels are those in the middle of each stretch"
    rows = [
        (
            light.side,
            Moment(light.start_s, zone, setup.date),
            Moment(light.end_s, zone, setup.date),
            f"{light.sun_altitude_deg:.0f}°",
            bearing(light.sun_bearing_deg),
            over(light.over_stops),
            *((f"{light.lose_stops:.1f} stops", f"nd {light.nd_density:.1f}") if darker else ()),
        )
        for light in setup.backlight
    ]
    heads = ("light", "from", "to", "sun up", "bearing", "level")
    yield Table((*heads, "knock down", "by filter") if darker else heads, rows)
    if darker:
        low, high = UNDEREXPOSE_RANGE_STOPS
        yield (
            f"knock down: for day for night, to {UNDEREXPOSE_STOPS:g} stops under (common practice "
            f"{low:g} to {high:g})"
        )


def _wall(setup: ExteriorDay, zone: str) -> Iterator[str]:
    if setup.wall is None or setup.exterior.wall is None:
        return
    name = f"the wall that faces {bearing(setup.exterior.wall)}"
    for lit in setup.wall:
        yield (
            f"sun on {name}: {between((lit.start_s, lit.end_s), zone, setup.date)}, "
            f"{lit.incidence_deg:.0f}° off square in the middle"
        )
    if not setup.wall:
        yield f"no sun on {name}"


def _shadows(setup: ExteriorDay, zone: str) -> Iterator[Block]:
    """How long the subject's shadow is, and where it points."""
    if not setup.shadows:
        return
    yield text("shadow of the subject, ", about(setup.exterior.height), " tall, on level ground")
    rows = [
        (
            Moment(shadow.moment_s, zone, setup.date),
            f"{shadow.sun_altitude_deg:.0f}°",
            about(shadow.length_m),
            bearing(shadow.bearing_deg),
        )
        for shadow in setup.shadows
    ]
    yield Table(("time", "sun up", "length", "points to"), rows)
