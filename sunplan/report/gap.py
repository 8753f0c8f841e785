"""How far from the look, in stops: JSON, CSV rows and tables."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from functools import partial
from itertools import groupby

from ..light.colour import DAYLIGHT_K, ColourCast, colour_cast
from ..light.daylight import Sky
from ..light.face import FaceLight
from ..light.matching import MatchingInterval
from ..light.meter import stops
from ..light.practicals import PracticalGap
from ..location.kit import Gel
from ..location.read import Location
from ..rig.gap import OpeningGap, SetupGap, TimeGap
from ..rig.rigged_levels import RiggedLevels
from ..rig.window_treatment import WindowTreatment
from . import as_rigged
from .answers import Answer, fields, head, interval, iso, names
from .cautions import SUN, WEATHER, in_full
from .document import Block, Caution, Document, Line, Moment, More, Said, Section, Table
from .words import band, between, over, ratio, spread, titled

LEGEND = (
    "level: over mid-grey, as a spot meter reads it, a window's the mean over its glass; knock "
    "down: to the middle of its target; do: what blackout, order and pack plan, then other ways; "
    "gel goes on the glass; stop down: the lens, with the key "
    "up as much; found: in the room as it is; rigged: with what each moment needs; ratio: "
    "(key + fill) : fill"
)
FILLS = "fill side against key, the lamp set to key: in the room as found, and as rigged"
COMMON = "Targets are common practice, no source; opinions differ by a stop."
TENT = "tent outside, lit dusk blue"
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


def _face_answer(light: FaceLight) -> Answer:
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
                        **_face_answer(moment.face),
                        "openings": [_opening(opening) for opening in moment.openings],
                        "practicals": [
                            fields(practical, "practical", "in_frame", *LEVEL)
                            for practical in moment.practicals
                        ],
                        "rigged": as_rigged.answer(levels),
                    }
                    for moment, levels in zip(gap.times, gap.rigged, strict=True)
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
    return "; ".join(_ways(opening))


def _ways(opening: OpeningGap, *, with_stops: bool = True) -> list[str]:
    """The ways to close an opening's gap, what is planned first."""
    treatment = opening.treatment
    if treatment is None:
        return ["out of frame"]
    assert opening.raise_stops is not None
    if opening.raise_stops and not treatment.sun_in_frame:
        if math.isinf(opening.raise_stops):
            return ["black: let some light in"]
        under = f" by {opening.raise_stops:.1f} stops" if with_stops else ""
        return [f"too dark{under}: another hour"]
    if treatment.sun_in_frame:
        return ["sun in frame: another angle or hour"]
    ways = list(dict.fromkeys((*_planned(treatment), *_others(treatment))))
    if ways:
        return ways
    return ["nothing does it: another angle or hour" if opening.lose_stops else "leave it"]


def _planned(treatment: WindowTreatment) -> Iterator[str]:
    """What is done about a window in frame, where something is and does it."""
    match treatment.action:
        case "leave" | "gel" if treatment.down_stops:
            yield _stopped_down(treatment.down_stops, treatment.gels)
        case "gel":
            yield _layers(treatment.gels)
        case "black":
            yield "black out inside, or tent outside" if treatment.tent else "black out inside"
        case "tent":
            yield TENT
        case "dressing":
            yield dressed(treatment)


def _others(treatment: WindowTreatment) -> Iterator[str]:
    """The other ways for a window, each by itself."""
    if treatment.hang is not None:
        yield dressed(treatment)
    if treatment.gels_alone:
        yield _layers(treatment.gels_alone)
    if treatment.stop_down:
        yield _stopped_down(treatment.stop_down, treatment.gels_then)


def _stopped_down(stops_down: float, gels: Sequence[Gel]) -> str:
    return f"stop down {stops_down:.1f}" + (f" with {_layers(gels)}" if gels else "")


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
    cautions: list[Caution] = [WEATHER, SUN]
    if any(opening.black for gap in gaps for moment in gap.times for opening in moment.openings):
        cautions = [*in_full(["hot glass", "dark room", "exits"]), *cautions]
    moments = dict.fromkeys(moment.sky.unix_s for moment in gaps[0].times)
    skies = dict.fromkeys((moment.sky.name, moment.sky.model) for moment in gaps[0].times)
    through = [_through(location, day, gap) for gap in gaps] if len(moments) > 1 else []
    models = [f"{name} sky: {model}" for name, model in skies]
    return Document(
        titled(location, day),
        [
            Section("verdict", None, _verdict(location, day, gaps)),
            *through,
            Section(
                "targets",
                "Targets, stops: windows over or under mid-grey; fill and wall under key",
                _targets(gaps),
            ),
            Section("matches", None, _matches(location, day, gaps, fits)),
            Section("colour", None, [*_colours(gaps), *_practicals(gaps)]),
            More(
                "every moment under every sky, with the other ways",
                _in_full(location, day, gaps, fits),
            ),
            More("legend, models of the skies", [LEGEND, *models]),
            Section("notes", None, [COMMON, *cautions]),
        ],
        intro=[_asked(location, day, list(moments), [name for name, _ in skies])],
    )


def _asked(location: Location, day: date, moments: Sequence[float], skies: Sequence[str]) -> str:
    """The moments and the skies that it is about."""
    worse = "the worse of " if len(skies) > 1 else ""
    sky = f"{worse}{' and '.join(skies)} sky"
    first, last = (Moment(end, location.timezone, day) for end in (moments[0], moments[-1]))
    if len(moments) == 1:
        return f"at {first}, {sky}"
    return f"{len(moments)} moments, {first} – {last}; each window and face at its worst, {sky}"


def _verdict(location: Location, day: date, gaps: Sequence[SetupGap]) -> list[Block]:
    """Each window in frame, then each face, at its worst."""
    where = partial(_when, location, day, gaps[0])
    windows = [
        (
            *(gap.setup.name, window.opening, *where(sky)),
            *(_down(window.lose_stops or 0.0), _ways(window)[0]),
        )
        for gap in gaps
        for sky, window in gap.worst_windows()
    ]
    faces = [
        (gap.setup.name, *where(levels.sky), over(found.fill_stops), *_rigged(levels))
        for gap in gaps
        for found, levels in [gap.worst_face()]
    ]
    worst = _when_heads(gaps[0])
    heads = "setup", "window in frame", *worst, "knock down", "do"
    face_heads = "face", *worst, "found", "rigged", "ratio", "do"
    return [
        Table(heads, windows, grouped=True) if windows else "no window in frame",
        Section("faces", FILLS, [Table(face_heads, faces)]),
    ]


def _when(location: Location, day: date, gap: SetupGap, sky: Sky) -> list[str]:
    """The moment and the sky, as far as there are several."""
    moments, skies = _several(gap)
    when = [f"{Moment(sky.unix_s, location.timezone, day)}"] * moments + [sky.name] * skies
    return [", ".join(when)] if when else []


def _when_heads(gap: SetupGap) -> list[str]:
    moments, skies = _several(gap)
    return ["worst"] if moments else ["sky"] * skies


def _several(gap: SetupGap) -> tuple[bool, bool]:
    """Whether there are several moments, and several skies."""
    moments = {moment.sky.unix_s for moment in gap.times}
    skies = {moment.sky.name for moment in gap.times}
    return len(moments) > 1, len(skies) > 1


def _stops_off(window: OpeningGap) -> tuple[str, str]:
    """A window's level over mid-grey, and what is to be knocked down."""
    assert window.stops is not None
    assert window.lose_stops is not None
    return over(window.stops), _down(window.lose_stops)


def _down(stops_over: float) -> str:
    return f"{stops_over:.1f} stops" if stops_over else "—"


def _rigged(levels: RiggedLevels) -> tuple[str, ...]:
    """The fill against key and the contrast once all hangs, and what is still to do."""
    return over(levels.fill_stops), ratio(levels.ratio), as_rigged.do(levels)


def _through(location: Location, day: date, gap: SetupGap) -> Section:
    """A setup through its moments, the worse sky of each; a row as long as the same is to do."""
    worse, zone = gap.worse_skies(), location.timezone
    usual = Counter(moment.sky.name for moment, _ in worse).most_common(1)[0][0]
    rows: list[tuple[Said, ...]] = []
    for do, group in groupby(worse, key=lambda pair: _to_do(*pair)):
        alike, levels = zip(*group, strict=True)
        ends = (f"{Moment(end.sky.unix_s, zone, day)}" for end in (alike[0], alike[-1]))
        skies = {moment.sky.name for moment in alike}
        other = [] if usual in skies else sorted(skies)
        most = [
            opening.lose_stops or 0.0
            for moment in alike
            for opening in moment.openings
            if opening.in_frame
        ]
        fills = [level.fill_stops for level in levels]
        rows.append(
            (
                ", ".join([" – ".join(dict.fromkeys(ends)), *other]),
                *([_down(max(most))] if most else []),
                spread((min(fills), max(fills))),
                do,
            )
        )
    windows = [opening.opening for opening in gap.times[0].openings if opening.in_frame]
    names_ = ", ".join(windows) if windows else "no window in frame"
    heads = "time", *(["knock down"] if windows else []), "fill as rigged", "do"
    heading = f"{gap.setup.name} ({gap.setup.room}), {names_}; {usual} sky"
    return Section("through", heading, [Table(heads, rows)])


def _to_do(moment: TimeGap, levels: RiggedLevels) -> str:
    """What a moment asks for, without figures."""
    windows: dict[str, list[str]] = {}
    for opening in moment.openings:
        if opening.in_frame:
            windows.setdefault(_ways(opening, with_stops=False)[0], []).append(opening.opening)
    face = as_rigged.do(levels)
    if not windows:
        return face
    each = [f"{', '.join(names_)}: {do}" for do, names_ in windows.items()]
    return "; ".join([*(each if len(windows) > 1 else windows), f"face: {face}"])


def _targets(gaps: Sequence[SetupGap]) -> list[Block]:
    rows: list[tuple[Said, ...]] = []
    for gap in gaps:
        setup, (window, *others) = gap.setup, _wanted(gap)
        fill, wall = _under(*gap.look.fill), _under(*gap.look.background)
        contrast = "—" if setup.contrast is None else f"{setup.contrast:g}"
        rows.append((setup.name, setup.plays, window, fill, wall, contrast))
        rows += [("", "", other, "", "", "") for other in others]
    return [Table(("setup", "reads as", "window", "fill under", "wall under", "ratio"), rows)]


def _under(low: float, high: float) -> str:
    """A band below a head that says "under"."""
    return f"{abs(high):g} to {-low:g}" if high <= 0 else band(low, high)


def wanted(gap: SetupGap) -> str:
    """Where its windows in frame should be, in stops; each by name where they differ."""
    return ", ".join(_wanted(gap))


def _wanted(gap: SetupGap) -> list[str]:
    room = gap.setup.in_room
    bands = {
        opening.opening: gap.look.band(room.opening_named(opening.opening).dressing)
        for opening in gap.times[0].openings
        if opening.in_frame
    }
    if len(set(bands.values())) > 1:
        return [f"{band(*ends)} ({name})" for name, ends in bands.items()]
    return [band(*next(iter(bands.values()), gap.look.window))]


def _matches(
    location: Location, day: date, gaps: Sequence[SetupGap], fits: Sequence[MatchingInterval]
) -> list[Block]:
    """When each window in frame is in its look with nothing on it, a line a window."""
    lines: list[Block] = []
    for gap in gaps:
        mine = [fit for fit in fits if fit.setup == gap.setup.name]
        for opening in dict.fromkeys(fit.opening for fit in mine):
            spans: dict[str, list[str]] = {}
            for fit in mine:
                if fit.opening == opening:
                    span = between((fit.start_s, fit.end_s), location.timezone, day)
                    spans.setdefault(fit.sky, []).append(span)
            when = "; ".join(f"{sky} {', '.join(times)}" for sky, times in spans.items())
            if any(fit.open_end for fit in mine if fit.opening == opening):
                when += "; and all the dark"
            lines.append(Line(f"{gap.setup.name}: {opening} matches untreated {when}", role=REMARK))
    return lines


def _colours(gaps: Sequence[SetupGap]) -> Iterator[Line]:
    """How daylight and lamps read, once for all setups that share it."""
    setups: dict[str, list[str]] = {}
    for gap in gaps:
        setups.setdefault(colours(gap), []).append(gap.setup.name)
    for said, names_ in setups.items():
        whose = f"{', '.join(names_)}, " if len(setups) > 1 else ""
        yield Line(f"colour, {whose}{said}", role=REMARK)


def colours(gap: SetupGap) -> str:
    """How daylight and lamp read at the balance, and what corrects them."""
    balance = gap.setup.exposure.balance
    lights = {"daylight": ("glass", DAYLIGHT_K)}
    if gap.source is not None:
        lights["key lamp"] = "lamp", gap.source.lamp.balance
    casts: dict[ColourCast, list[str]] = {}
    for name, (_, kelvin) in lights.items():
        casts.setdefault(colour_cast(kelvin, balance), []).append(name)
    readings = []
    for cast, names_ in casts.items():
        goes_on = " and ".join(lights[name][0] for name in names_)
        side = "blue" if cast.shift_mired > 0 else "orange"
        reads = f"{side}: {cast.gel} on {goes_on}" if cast.gel else "neutral"
        figures = f" ({abs(cast.shift_mired):.0f} mired, {cast.loss_stops:g} stops)"
        readings.append(
            f"{' and '.join(names_)} ({cast.kelvin:.0f} K) read{'s'[len(names_) - 1 :]} {reads}"
            + (figures if cast.gel else "")
        )
    return f"camera at {balance:.0f} K: " + "; ".join(readings)


def _practicals(gaps: Sequence[SetupGap]) -> Iterator[Line]:
    for gap in gaps:
        for practical in gap.times[0].practicals:
            if practical.in_frame:
                yield Line(f"{gap.setup.name}: {dimming(practical)}", role=REMARK)


def dimming(practical: PracticalGap) -> str:
    """What brings a practical to its level."""
    dim = f"dim it {practical.dim_stops:.1f} stops, or" if practical.dim_stops > 0 else "use"
    return (
        f"practical {practical.practical} {over(practical.stops, 'mid-grey')}, target "
        f"{over(practical.wanted_stops)}: {dim} a bulb of {practical.fitting_lumens:.0f} lm"
    )


def _in_full(
    location: Location, day: date, gaps: Sequence[SetupGap], fits: Sequence[MatchingInterval]
) -> Iterator[Section]:
    """Every moment of a setup under every sky."""
    for gap in gaps:
        setup = gap.setup
        framing = [
            Line(framed(opening), role=REMARK)
            for opening in gap.times[0].openings
            if opening.in_frame
        ]
        matching = [
            f"{fit.opening}, {fit.sky}: matches untreated "
            f"{between((fit.start_s, fit.end_s), location.timezone, day)} ({fit.minutes:.0f} min"
            f"{', and all the dark' if fit.open_end else ''})"
            for fit in fits
            if fit.setup == setup.name
        ]
        yield Section(
            "setup",
            f"{setup.name} ({setup.room}), reads as {setup.plays}",
            [
                _windows(location, day, gap),
                *framing,
                *matching,
                *_faces(location, day, gap),
                *_levels(location, day, gap),
            ],
        )


def framed(opening: OpeningGap) -> str:
    """How much of the frame an opening fills, and the pan that takes it out."""
    share = f"{opening.opening}: {100 * opening.frame_share:.0f} % of the frame"
    if opening.pan_deg is None:
        return f"{share}; no pan takes it out and keeps the face"
    side = "right" if opening.pan_deg > 0 else "left"
    return f"{share}; a pan of {abs(opening.pan_deg):.0f}° to the {side} takes it out"


def _windows(location: Location, day: date, gap: SetupGap) -> Block:
    rows: list[tuple[Said, ...]] = [
        (
            Moment(moment.sky.unix_s, location.timezone, day),
            opening.opening,
            moment.sky.name,
            *_stops_off(opening),
            advice(opening),
        )
        for moment in gap.times
        for opening in moment.openings
        if opening.in_frame
    ]
    if not rows:
        return "no window in frame"
    heads = "time", "window", "sky", "level", "knock down", "do, or instead"
    return _by_sky(heads, rows)


def _faces(location: Location, day: date, gap: SetupGap) -> Iterator[Block]:
    """The face through all moments, the lamp at full, in lux and in stops; a table a sky."""
    lamp = "no key lamp" if gap.source is None else f"{gap.source.lamp.name} at full"
    heads = "time", "sun", "key side", "fill side", "key", "fill", "wall", "ratio"
    for sky in dict.fromkeys(moment.sky.name for moment in gap.times):
        yield (
            f"face, {sky} sky: key side and fill side by daylight alone, lx; with {lamp} key, fill "
            f"and wall against key ({gap.key_lux:.0f} lx)"
        )
        yield Table(
            heads,
            [_face(location, day, gap, moment) for moment in gap.times if moment.sky.name == sky],
        )


def _face(location: Location, day: date, gap: SetupGap, moment: TimeGap) -> tuple[Said, ...]:
    face, altitude_deg = moment.face, moment.sky.sun_altitude_deg
    levels = (face.key_lux, face.fill_lux, face.wall_lux)
    return (
        Moment(moment.sky.unix_s, location.timezone, day),
        f"{abs(altitude_deg):.0f}° {'down' if altitude_deg < 0 else 'up'}",
        f"{face.daylight_key_lux:.0f}",
        f"{face.daylight_fill_lux:.0f}",
        *(over(stops(level, gap.key_lux)) for level in levels),
        ratio(face.ratio),
    )


def _levels(location: Location, day: date, gap: SetupGap) -> Iterator[Block]:
    """The face once all hangs, through all moments; a table a sky."""
    heads = "time", "lamp", "wall", "fill", "ratio", "do"
    for sky in dict.fromkeys(levels.sky.name for levels in gap.rigged):
        yield f"face as rigged, {sky} sky: fill and wall against key"
        yield Table(
            heads,
            [
                (
                    Moment(levels.sky.unix_s, location.timezone, day),
                    *(as_rigged.lamp(levels), over(levels.wall_stops), *_rigged(levels)),
                )
                for levels in gap.rigged
                if levels.sky.name == sky
            ],
        )


def _by_sky(heads: Sequence[str], rows: Sequence[Sequence[Said]]) -> Table:
    """A table of moments, without the sky's name where there is only one."""
    sky = heads.index("sky")
    if len({row[sky] for row in rows}) == 1:
        heads = [*heads[:sky], *heads[sky + 1 :]]
        rows = [[*row[:sky], *row[sky + 1 :]] for row in rows]
    return Table(heads, rows, grouped=True)
