"""How far from the look, in stops: JSON, CSV rows and tables."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from datetime import date

from ..light.colour import DAYLIGHT_K, ColourCast, colour_cast
from ..light.daylight import Sky
from ..light.face import DimmedKey, FaceLight
from ..light.matching import MatchingInterval
from ..light.meter import stops
from ..light.practicals import PracticalGap
from ..location.kit import Gel
from ..location.read import Location
from ..rig.gap import OpeningGap, SetupGap, TimeGap
from ..rig.window_treatment import WindowTreatment
from .answers import Answer, fields, head, interval, iso, names
from .cautions import SUN, WEATHER, in_full
from .document import Block, Caution, Document, Line, Moment, Said, Section, Table
from .words import between, percent, ratio, signed, titled

METERED = (
    "stops over mid-grey, as a spot meter reads them, a window's the mean over its glass; do: what "
    "blackout, order and pack plan, then other ways; gel goes on the glass; close: the lens, the "
    "key up as much; ratio: (key + fill) : fill"
)
REMARK = "remark"  # role of lines that hold for all moments
ROWS = {
    "openings": ("setups", "times", "openings"),
    "practicals": ("setups", "times", "practicals"),
    "faces": ("setups", "times"),
}  # of its answer, by kind
LEVEL = "luminance_cd_m2", "stops", "wanted_stops"  # what one is, and what it should be
NOT_TREATED: Answer = {  # out of frame
    **{"do": None, "gels": [], "down_stops": 0.0, "hang": None, "hang_gels": []},
    **{"tent": False, "sun_in_frame": False, "stop_down": 0.0},
}
FIGURED = re.compile(r"([A-Za-z]+) [.\d]+")  # a gel called by its density


def sky_answer(sky: Sky, timezone: str) -> Answer:
    """A sky with its levels."""
    return {
        "name": sky.name,
        "time": iso(sky.unix_s, timezone),
        "direct_normal_lux": sky.direct_normal_lux,
        "direct_from": "sun" if sky.moon is None else "moon",
        **fields(sky, "diffuse_horizontal_lux", "sun_altitude_deg", "sun_bearing_deg", "model"),
    }


def _opening(opening: OpeningGap) -> Answer:
    level = ("opening", "in_frame", *LEVEL, "lose_stops", "gel_density")
    return {
        **fields(opening, *level),
        "advice": advice(opening),
        **fields(opening, "frame_share", "pan_deg"),
        **(NOT_TREATED if opening.treatment is None else _treatment(opening.treatment)),
    }


def _treatment(treatment: WindowTreatment) -> Answer:
    """What a window in frame needs, and its other ways."""
    return {
        "do": treatment.action,
        "gels": names(treatment.gels),
        **fields(treatment, "down_stops", "hang"),
        "hang_gels": names(treatment.hang_gels),
        **fields(treatment, "tent", "sun_in_frame", "stop_down"),
    }


def _face(light: FaceLight) -> Answer:
    return {
        "face_lux": {"key_side": light.key_lux, "fill_side": light.fill_lux},
        "wall_lux": light.wall_lux,
        "ratio": light.ratio,
        "daylight_lux": {
            "key_side": light.daylight_key_lux,
            "fill_side": light.daylight_fill_lux,
            "horizontal": light.daylight_up_lux,
        },
    }


def _cast(cast: ColourCast) -> Answer:
    return fields(cast, "kelvin", "shift_mired", "gel")


def answer(
    location: Location, day: date, gaps: Sequence[SetupGap], fits: Sequence[MatchingInterval]
) -> Answer:
    """Answer of `sunplan gap`; its `sky` is that of the first moment, each moment has its own."""
    zone = location.timezone
    return {
        **head(location, day),
        "sky": sky_answer(gaps[0].times[0].sky, zone),
        "setups": [
            {
                "setup": gap.setup.name,
                "room": gap.setup.room,
                "plays": gap.setup.plays,
                "colour": {
                    "balance": gap.setup.exposure.balance,
                    "daylight": _cast(colour_cast(DAYLIGHT_K, gap.setup.exposure.balance)),
                    "lamp": None
                    if gap.source is None
                    else _cast(colour_cast(gap.source.lamp.balance, gap.setup.exposure.balance)),
                },
                "fits": [
                    {
                        **fields(fit, "opening", "sky"),
                        **interval(fit, zone),
                        "goes_on": fit.open_end,
                    }
                    for fit in fits
                    if fit.setup == gap.setup.name
                ],
                "times": [
                    {
                        "time": iso(moment.sky.unix_s, zone),
                        "sky": sky_answer(moment.sky, zone),
                        "key_lux": gap.key_lux,
                        **_face(moment.face),
                        "openings": [_opening(opening) for opening in moment.openings],
                        "practicals": [
                            fields(practical, "practical", "in_frame", *LEVEL)
                            for practical in moment.practicals
                        ],
                    }
                    for moment in gap.times
                ],
            }
            for gap in gaps
        ],
    }


def advice(opening: OpeningGap) -> str:
    """What closes an opening's gap: what `blackout` and `order` plan, then the other ways.

    >>> advice(OpeningGap("door", in_frame=False))
    'out of frame'
    """
    treatment = opening.treatment
    if treatment is None:
        return "out of frame"
    assert opening.raise_stops is not None
    if opening.raise_stops and not treatment.sun_in_frame:
        if math.isinf(opening.raise_stops):
            return "black: let some light in"
        return f"{opening.raise_stops:.1f} stops too dark: another hour"
    if treatment.sun_in_frame:
        return "sun in frame: another angle or hour"
    ways = list(dict.fromkeys((*_planned(treatment), *_others(treatment))))
    if ways:
        return "; ".join(ways)
    return "nothing does it: another angle or hour" if opening.lose_stops else "leave it"


def _planned(treatment: WindowTreatment) -> Iterator[str]:
    """What is done about a window in frame, where something is and does it."""
    match treatment.action:
        case "leave" | "gel" if treatment.down_stops:
            yield _closed(treatment.down_stops, treatment.gels)
        case "gel":
            yield _layers(treatment.gels)
        case "black":
            yield "black inside or a tent outside" if treatment.tent else "black inside"
        case "tent":
            yield "a tent outside, dimly lit"
        case "dressing":
            yield dressed(treatment)


def _others(treatment: WindowTreatment) -> Iterator[str]:
    """The other ways for a window, each by itself."""
    if treatment.hang is not None:
        yield dressed(treatment)
    if treatment.gels_alone:
        yield _layers(treatment.gels_alone)
    if treatment.stop_down:
        yield _closed(treatment.stop_down, treatment.gels_then)


def _closed(down_stops: float, gels: Sequence[Gel]) -> str:
    return f"close {down_stops:.1f}" + (f", {_layers(gels)}" if gels else "")


def dressed(treatment: WindowTreatment) -> str:
    """The dressing that does it, with its gel."""
    assert treatment.hang is not None
    gels = [_layers(treatment.hang_gels)] if treatment.hang_gels else []
    return " + ".join([treatment.hang, *gels])


def _layers(gels: Sequence[Gel]) -> str:
    """Gels one on the other; their kind is said once where only a figure follows it.

    >>> _layers([Gel(name="nd .9", density=0.9), Gel(name="nd .3", density=0.3)])
    'nd .9 + .3'
    """
    names = [gel.name for gel in gels]
    kinds = {named and named[1] for named in map(FIGURED.fullmatch, names)}
    if len(kinds) == 1 and None not in kinds:
        names[1:] = [name.split(" ")[1] for name in names[1:]]
    return " + ".join(names)


def report(
    location: Location, day: date, gaps: Sequence[SetupGap], fits: Sequence[MatchingInterval]
) -> Document:
    """Gaps for people; `fits` are the times at which windows in frame match untreated."""
    skies = dict.fromkeys((moment.sky.name, moment.sky.model) for moment in gaps[0].times)
    cautions: list[Caution] = [WEATHER, SUN]
    if any(opening.black for gap in gaps for moment in gap.times for opening in moment.openings):
        cautions = [*in_full(["hot glass", "dark room", "exits"]), *cautions]
    wish = "What is wanted is common practice, no source; opinions differ by a stop."
    return Document(
        titled(location, day),
        [
            *(_setup(location, day, gap, fits) for gap in gaps),
            Section("notes", None, [wish, *cautions]),
        ],
        intro=[
            *(f"{name} sky: {model}" for name, model in skies),
            METERED,
        ],
    )


def _setup(
    location: Location, day: date, gap: SetupGap, fits: Sequence[MatchingInterval]
) -> Section:
    setup, zone = gap.setup, location.timezone
    first = gap.times[0]
    openings = [framed(opening) for opening in first.openings if opening.in_frame]
    openings += [fitting(fit, zone) for fit in fits if fit.setup == setup.name]
    practicals = [dimming(practical) for practical in first.practicals if practical.in_frame]
    dimmed = dict.fromkeys(_dimmed(gap, *case, zone, day) for case in gap.dimmed())
    return Section(
        "setup",
        f"{setup.name} ({setup.room}), plays {setup.plays}: a window should sit at {wanted(gap)}",
        [
            _windows(gap, zone, day),
            *(Line(said, role=REMARK) for said in openings),
            _faces(gap, zone, day),
            *dimmed,
            *(Line(said, role=REMARK) for said in (colours(gap), *practicals)),
        ],
    )


def wanted(gap: SetupGap) -> str:
    """Where its windows in frame should sit, in stops; each by name where they differ."""
    room = gap.setup.in_room
    bands = {
        opening.opening: gap.look.band(room.opening_named(opening.opening).dressing)
        for opening in gap.times[0].openings
        if opening.in_frame
    }
    ranges = {name: f"{signed(low)} to {signed(high)}" for name, (low, high) in bands.items()}
    if len(set(bands.values())) > 1:
        return ", ".join(f"{words} ({name})" for name, words in ranges.items())
    low, high = gap.look.window
    return next(iter(ranges.values()), f"{signed(low)} to {signed(high)}")


def colours(gap: SetupGap) -> str:
    """How daylight and lamp read at the balance."""
    balance = gap.setup.exposure.balance
    lights = [("daylight", colour_cast(DAYLIGHT_K, balance))]
    if gap.source is not None:
        lights.append(("the lamp", colour_cast(gap.source.lamp.balance, balance)))
    readings = []
    for name, cast in lights:
        side = "blue" if cast.shift_mired > 0 else "orange"
        meets = f"; to meet {cast.gel}, {cast.loss_stops:g} stops" if cast.gel else ""
        reads = f"{abs(cast.shift_mired):.0f} mired {side}{meets}" if cast.gel else "neutral"
        readings.append(f"{name} ({cast.kelvin:.0f} K) reads {reads}")
    return f"colour at {balance:.0f} K: " + "; ".join(readings)


def framed(opening: OpeningGap) -> str:
    """How much of the frame an opening fills, and the pan that takes it out."""
    share = f"{opening.opening}: {100 * opening.frame_share:.0f} % of the frame"
    if opening.pan_deg is None:
        return f"{share}; no pan takes it out and keeps the face"
    side = "right" if opening.pan_deg > 0 else "left"
    return f"{share}; a pan of {abs(opening.pan_deg):.0f}° to the {side} takes it out"


def fitting(fit: MatchingInterval, zone: str) -> str:
    """When an opening fits by itself."""
    minutes = f"{fit.minutes:.0f} min" + (", and all the dark" if fit.open_end else "")
    when = between((fit.start_s, fit.end_s), zone)
    return f"{fit.opening}, {fit.sky}: fits by itself {when} ({minutes})"


def dimming(practical: PracticalGap) -> str:
    """What brings a practical to its level."""
    dim = f"dim it by {practical.dim_stops:.1f} stops, or" if practical.dim_stops > 0 else "take"
    return (
        f"practical {practical.practical}: {signed(practical.stops)}, wanted "
        f"{signed(practical.wanted_stops)}: {dim} a bulb of {practical.fitting_lumens:.0f} lm"
    )


def _windows(gap: SetupGap, zone: str, day: date) -> Block:
    rows: list[tuple[Said, ...]] = []
    for moment in gap.times:
        for opening in moment.openings:
            if opening.in_frame:
                assert opening.stops is not None
                assert opening.lose_stops is not None
                lose = f"{opening.lose_stops:.1f}" if opening.lose_stops else "—"
                level = (moment.sky.name, signed(opening.stops), lose, advice(opening))
                rows.append((Moment(moment.sky.unix_s, zone, day), opening.opening, *level))
    if not rows:
        return "no window in frame"
    return _by_sky(("time", "window", "sky", "stops", "lose", "do"), rows)


def _faces(gap: SetupGap, zone: str, day: date) -> Section:
    wish = "" if gap.setup.contrast is None else f", ratio {gap.setup.contrast:g}"
    lamp = "no key lamp" if gap.source is None else f"{gap.source.lamp.name} at full"
    fill, wall = (
        f"{signed(low)} to {signed(high)}" for low, high in (gap.look.fill, gap.look.background)
    )
    rows: list[tuple[Said, ...]] = []
    for moment in gap.times:
        face, sky = moment.face, moment.sky
        levels = (face.key_lux, face.fill_lux, face.wall_lux)
        rows.append(
            (
                Moment(sky.unix_s, zone, day),
                f"{signed(sky.sun_altitude_deg, 0)}°",
                sky.name,
                f"{face.daylight_key_lux:.0f} / {face.daylight_fill_lux:.0f}",
                " / ".join(signed(stops(level, gap.key_lux)) for level in levels),
                ratio(face.ratio),
            )
        )
    return Section(
        "face",
        f"key side / fill side of the face / wall behind it; {lamp}; wanted: key "
        f"{gap.key_lux:.0f} lx, fill {fill}, wall {wall} stops from key{wish}",
        [_by_sky(("time", "sun", "sky", "daylight alone, lx", "stops from key", "ratio"), rows)],
    )


def _dimmed(gap: SetupGap, moment: TimeGap, dimmed: DimmedKey, zone: str, day: date) -> str:
    """What a lamp that is much too strong leaves when it is dimmed, and what that asks for."""
    over, fill = (stops(level, gap.key_lux) for level in (moment.face.key_lux, dimmed.fill_lux))
    low, high = gap.look.fill
    do = "add fill" if fill < low else "as wanted"
    if fill > high:
        do = "less daylight, or negfill" if dimmed.by_daylight else "negfill"
    return (
        f"{Moment(moment.sky.unix_s, zone, day)}, {moment.sky.name}: lamp at full is "
        f"{signed(over)} over key; dimmed to {percent(dimmed.share)} fill sits at {signed(fill)}, "
        f"ratio {ratio(dimmed.ratio)}: {do}"
    )


def _by_sky(heads: Sequence[str], rows: Sequence[Sequence[Said]]) -> Table:
    """A table of moments, without the sky's name where there is only one."""
    sky = heads.index("sky")
    if len({row[sky] for row in rows}) == 1:
        heads = [*heads[:sky], *heads[sky + 1 :]]
        rows = [[*row[:sky], *row[sky + 1 :]] for row in rows]
    return Table(heads, rows, grouped=True)
