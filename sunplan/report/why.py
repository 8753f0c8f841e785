"""One moment of one setup in full: sun, levels, what counts for it and against it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..day.quarter_hours import HourFacts
from ..light.level_series import LevelSeries
from ..room.sun_check import OpeningSun, SunCheck, SunState
from .document import Line, Moment, Said, Text, text
from .hours import patches
from .words import band, bearing, lies, over

BEHIND: dict[SunState, str] = {
    "down": "the sun is down",
    "skyline": "the skyline hides the sun",
    "behind": "the sun stands behind its wall",
    "reveal": "its reveal is too deep for the sun's angle",
    "block": "something outside stands before the sun",
}


def report(check: SunCheck, facts: HourFacts, skies: Sequence[str]) -> Line:
    """One moment of one setup in full, before anything is rigged."""
    setup = facts.quarters.setup
    side = "up" if check.altitude_deg >= 0.0 else "down"
    return Line(
        f"{setup.name} ({setup.room}) at {Moment(check.moment_s, facts.location.timezone)}: sun "
        f"{abs(check.altitude_deg):.1f}° {side}, {bearing(check.bearing_deg)}",
        _why(check, facts, skies),
    )


def _why(check: SunCheck, facts: HourFacts, skies: Sequence[str]) -> Iterator[Said]:
    if not facts.quarters.sunny:
        yield "under this sky no sun shines; where it does:"
    for opening in check.openings:
        yield f"{opening.opening}: " + _comes(opening)
    levels, sun = facts.quarters.levels, facts.sun
    for index, seen in enumerate(levels.windows):
        low, high = map(float, levels.bands[index])
        stands = _stands(levels, index) or "matches untreated"
        yield (
            f"{seen.opening.name} in frame: {over(float(levels.stops[0, index]), 'mid-grey')}, "
            f"target {band(low, high, 'mid-grey')}: {stands}"
        )
    yield (
        f"daylight on the face: key side {over(float(levels.face_stops[0]), 'key')}, fill side "
        f"{over(float(levels.fill_stops[0]), 'key')}; target of the fill side: at most "
        f"{over(facts.look.fill[1], 'key')}"
    )
    where = patches(behind=bool(sun.behind[0]), in_frame=bool(sun.in_frame[0]))
    yield f"sun patch: {where or 'none in frame'}"
    counts = facts.terms(levels, sunny=facts.quarters.sunny)
    terms = [(words, float(minutes[0])) for words, minutes in counts if minutes[0]]
    counted = ", ".join(f"{words} {minutes:.0f}" for words, minutes in terms)
    yield (
        f"score {sum(minutes for _, minutes in terms):.0f} (lower is better), rigging left aside"
        + (f": {counted}" if counted else "")
    )
    yield f"{skies[1]}: {_compared(facts)}"


def _stands(levels: LevelSeries, index: int) -> str:
    """How far a window is from the middle of its target, if it does not match."""
    above, below = (float(stops[0, index]) for stops in (levels.over_stops, levels.under_stops))
    if above:
        return f"{above:.1f} over the middle of it"
    return f"{below:.1f} under the middle of it, too dark" if below else ""


def _compared(facts: HourFacts) -> str:
    levels = facts.quarters.other_levels
    windows = [
        ", ".join(
            filter(
                None,
                (
                    f"{seen.opening.name} {over(float(levels.stops[0, index]), 'mid-grey')}",
                    _stands(levels, index),
                ),
            )
        )
        for index, seen in enumerate(levels.windows)
    ]
    return "; ".join([*windows, f"fill side {over(float(levels.fill_stops[0]), 'key')}"])


def _comes(sun: OpeningSun) -> Text:
    if sun.state != "in":
        angle = ""
        if sun.state in ("reveal", "behind") and sun.off_deg is not None:
            angle = f", {abs(sun.off_deg):.0f}° from straight before it"
        return text(f"no sun: {BEHIND[sun.state]}{angle}")
    where = ("", "") if sun.patch_position is None else (", its patch ", lies(sun.patch_position))
    marks = f", ON {' and '.join(sun.marks)}" if sun.marks else ", on no mark"
    return text("sun comes in", *where, marks)
