"""Levels as rigged, in JSON and in words: what the meter reads once all that is planned hangs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from ..light.look import Band, outside
from ..rig.rigged_levels import RiggedLevels
from .answers import Answer, fields, iso
from .words import percent, ratio, spread

CLOSE_STOPS = 0.05  # to key, which is as near as a lamp is set


def moment(levels: RiggedLevels, zone: str) -> Answer:
    """One moment under its sky."""
    return {
        "time": iso(levels.sky.unix_s, zone),
        "sky": levels.sky.name,
        **answer(levels),
    }


def answer(levels: RiggedLevels) -> Answer:
    """The levels; what is blacked out has no stops."""
    return {
        "stop_down": levels.down_stops,
        **fields(levels, "lamp_share", "wanted_lux", "key_lux", "fill_lux", "wall_lux"),
        **fields(levels, "daylight_fill_lux", "spill_lux"),
        **fields(levels, "key_stops", "fill_stops", "wall_stops", "ratio"),
        "openings": [
            {
                "opening": window.opening,
                "stops": None if math.isinf(window.stops) else window.stops,
                "off_stops": window.off_stops,
            }
            for window in levels.windows
        ],
        "practicals": [
            fields(practical, "practical", "stops", "wanted_stops")
            for practical in levels.practicals
        ],
    }


def do(levels: RiggedLevels) -> str:
    """What a face still asks for once all hangs."""
    if levels.key_stops > CLOSE_STOPS:
        return "cut daylight, or more key"
    if levels.key_stops < -CLOSE_STOPS:
        return "add a key lamp" if levels.setup.key is None else "more key"
    if levels.fill_off_stops > 0:
        return "neg fill"
    return "add fill" if levels.fill_off_stops < 0 else "nothing"


def lamp(levels: RiggedLevels) -> str:
    """What the key lamp is set to."""
    if levels.setup.key is None:
        return "no lamp"
    if levels.lamp_share in (0.0, 1.0):
        return "off" if levels.lamp_share == 0.0 else "full"
    return percent(levels.lamp_share)


def line(levels: Sequence[RiggedLevels]) -> str:
    """All moments of a shoot in one line: from the least to the most of each level."""
    return "; ".join(parts(levels))


def parts(levels: Sequence[RiggedLevels]) -> Iterator[str]:
    """What the line is made of: lamp, face, wall, windows, practicals."""
    look = levels[0].setup.wanted
    yield _lamp(levels)
    fills = [level.fill_stops for level in levels]
    off = [level.fill_off_stops for level in levels]
    ratios = [level.ratio for level in levels]
    wanted = levels[0].setup.contrast
    contrast = " to ".join(dict.fromkeys(map(ratio, (min(ratios), max(ratios))))) + " : 1"
    contrast += "" if wanted is None else f" (target {wanted:g})"
    yield f"fill {spread((min(fills), max(fills)))}{_missed(off)}, ratio {contrast}"
    walls = [level.wall_stops for level in levels]
    yield f"wall {_against(walls, look.background)}{_spill(levels)}"
    for window in levels[0].windows:
        stops = [
            own.stops for level in levels for own in level.windows if own.opening == window.opening
        ]
        if not any(map(math.isinf, stops)):
            yield f"{window.opening} {_against(stops, window.band)}"
        else:
            yield f"{window.opening} blacked out"
    for practical in levels[0].practicals:
        yield f"{practical.practical} {_against([practical.stops], look.practical)}"


def _lamp(levels: Sequence[RiggedLevels]) -> str:
    shares = [level.lamp_share for level in levels]
    short = min(level.key_stops for level in levels)
    over = max(level.key_stops for level in levels)
    if short < -CLOSE_STOPS:
        lamp = "without a lamp" if levels[0].setup.key is None else "with the lamp at full"
        return f"KEY SHORT by {-short:.1f} stops {lamp}"
    if over > CLOSE_STOPS:
        return f"KEY {over:.1f} OVER by daylight alone"
    if not any(shares):
        return "key by daylight alone"
    return f"lamp dimmed to {' to '.join(dict.fromkeys(map(percent, (min(shares), max(shares)))))}"


def _against(stops: Sequence[float], band: Band) -> str:
    """From where to where, and by how much that misses its target."""
    off = [outside(level, *band) for level in stops]
    return spread((min(stops), max(stops))) + _missed(off)


def _spill(levels: Sequence[RiggedLevels]) -> str:
    """That the wall is too bright by the lamp itself, where it is."""
    bright = [level for level in levels if level.wall_stops > level.setup.wanted.background[1]]
    spilled = any(level.spill_lux > level.wall_lux / 2 for level in bright)
    return " by spill: flag the lamp off the wall" if spilled else ""


def _missed(off_stops: Sequence[float]) -> str:
    """By how much a target is missed, over or under it."""
    worst = max(off_stops, key=abs)
    if abs(worst) <= CLOSE_STOPS:
        return ""
    return f", {abs(worst):.1f} too {'bright' if worst > 0 else 'dark'}"
