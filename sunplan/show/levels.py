"""How far from the look, in stops: JSON, CSV rows and tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from ..light.daylight import Sky
from ..light.gap import OpeningGap, PracticalGap, SetupGap
from ..location.read import Location
from .answers import Answer, head, iso
from .cautions import BLACKOUT, SUN, WEATHER
from .layout import Part, once, table
from .words import clock, signed


def _sky(sky: Sky, timezone: str) -> Answer:
    return {
        "name": sky.name,
        "time": iso(sky.unix_s, timezone),
        "direct_normal_lux": sky.direct_normal_lux,
        "diffuse_horizontal_lux": sky.diffuse_horizontal_lux,
        "sun_altitude_deg": sky.sun_altitude_deg,
        "sun_bearing_deg": sky.sun_bearing_deg,
        "model": sky.model,
    }


def _opening(one: OpeningGap) -> Answer:
    return {
        "opening": one.opening,
        "in_frame": one.in_frame,
        "luminance_cd_m2": one.luminance_cd_m2,
        "stops": one.stops,
        "wanted_stops": one.wanted_stops,
        "lose_stops": one.lose_stops,
        "gel_density": one.gel_density,
        "advice": advice(one),
        "sun_in_frame": one.sun_in_frame,
    }


def _practical(one: PracticalGap) -> Answer:
    return {
        "practical": one.practical,
        "in_frame": one.in_frame,
        "luminance_cd_m2": one.luminance_cd_m2,
        "stops": one.stops,
        "wanted_stops": one.wanted_stops,
    }


def answer(location: Location, day: date, found: Sequence[SetupGap]) -> Answer:
    """Answer of `sunplan gap`; its `sky` is that of the first moment, each moment has its own.

    What light the face gets is not computed yet: those keys hold null.
    """
    zone = location.timezone
    return {
        **head(location, day),
        "sky": _sky(found[0].times[0].sky, zone),
        "setups": [
            {
                "setup": one.setup.name,
                "room": one.setup.room,
                "plays": one.setup.plays,
                "times": [
                    {
                        "time": iso(at.sky.unix_s, zone),
                        "sky": _sky(at.sky, zone),
                        "key_lux": one.key_lux,
                        "face_lux": {"key_side": None, "fill_side": None},
                        "ratio": None,
                        "daylight_lux": {"key_side": None, "fill_side": None, "horizontal": None},
                        "openings": [_opening(each) for each in at.openings],
                        "practicals": [_practical(each) for each in at.practicals],
                    }
                    for at in one.times
                ],
            }
            for one in found
        ],
    }


def advice(one: OpeningGap) -> str:
    """What closes an opening's gap.

    >>> advice(OpeningGap("door", in_frame=False))
    'out of frame'
    """
    if not one.in_frame:
        return "out of frame"
    assert one.lose_stops is not None
    assert one.raise_stops is not None
    if one.sun_in_frame:
        return "sun in frame: another angle or hour"
    if one.gels:
        return " + ".join(gel.name for gel in one.gels) + " on the glass"
    if one.black:
        return "black, or another angle or hour"
    if one.raise_stops:
        return f"{one.raise_stops:.1f} too dark: another hour, a lamp outside"
    return "leave it"


def told(location: Location, day: date, found: Sequence[SetupGap]) -> Iterable[Part]:
    """Gaps for people."""
    zone = location.timezone
    yield f"{location.site.name}, {day:%A} {day.isoformat()}, clock of {zone}"
    yield f"sky: {found[0].times[0].sky.name} ({found[0].times[0].sky.model})"
    yield "stops over mid-grey, as a spot meter reads them; a window's is the mean over its glass"
    black = False
    for one in found:
        low, high = one.look.window
        yield (
            f"\n{one.setup.name} ({one.setup.room}), plays {one.setup.plays}: a window should sit "
            f"at {signed(low)} to {signed(high)}; key {one.key_lux:.0f} lx"
        )
        rows = []
        for at in one.times:
            seen = [each for each in at.openings if each.in_frame]
            black = black or any(each.black for each in seen)
            moment = clock(at.sky.unix_s, zone, day)
            for each in seen:
                assert each.stops is not None
                assert each.lose_stops is not None
                lose = f"{each.lose_stops:.1f}" if each.lose_stops else "—"
                sun = f"{signed(at.sky.sun_altitude_deg, 0)}°"
                rows.append((moment, sun, each.opening, signed(each.stops), lose, advice(each)))
        if rows:
            yield table(("time", "sun", "window", "stops", "lose", "do"), once(rows))
        else:
            yield "  no window in frame"
        for practical in one.times[0].practicals:
            if practical.in_frame:
                dim = practical.dim_stops
                do = f"dim it by {dim:.1f}" if dim > 0 else f"a bulb {-dim:.1f} stops stronger"
                yield (
                    f"  practical {practical.practical}: {signed(practical.stops)}, wanted "
                    f"{signed(practical.wanted_stops)}: {do}"
                )
    yield "\nWhat is wanted is common practice, no source; opinions differ by a stop."
    if black:
        yield BLACKOUT
    yield WEATHER
    yield SUN
