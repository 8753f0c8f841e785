"""Which way the plan's up points: what was measured, how sure that is, what fits together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ..location.edit import written_values
from ..location.read import Location
from ..survey.bearing import Measured
from ..survey.combining import Combined
from ..survey.observations import Compass
from ..survey.sun_bearing import Bearings, Times
from .answers import Answer, iso, place
from .cautions import SHADOWS, SUN
from .document import Moment
from .layout import Part, table
from .words import POINTS

ROWS = (("measured", "solutions"),)  # of its answer, for spreadsheets


def answer(location: Location, found: Bearings, *, written: bool) -> Answer:
    """Answer of `sunplan bearing`; every ± is 95 %, two standard deviations."""
    decided = found.decided
    return {
        "location": location.site.name,
        "place": place(location),
        "plan_up": None if decided is None else decided.mean.bearing_deg,
        "plan_up_error": None if decided is None else decided.mean.error_deg,
        "written": written,
        "measured": [_measured(one) for one in found.measured],
        "together": [
            _together(found, one, off)
            for one, off in zip(found.together, found.off_deg(location.site.plan_up), strict=True)
        ],
        "times": [
            {
                "of": one.reading.of.name,
                "date": one.reading.when.day.isoformat(),
                "angle_deg": one.reading.angle_deg,
                "error_deg": one.error_deg,
                "fits": [
                    {"side": hand, "from": iso(start, zone), "to": iso(end, zone)}
                    for hand, spans in one.fits
                    for start, end in spans
                ],
            }
            for one in found.times
            for zone in [location.timezone]
        ],
    }


def _measured(one: Measured) -> Answer:
    return {
        "of": one.of.name,
        "by": one.how,
        **one.facts,
        "error_deg": one.error_deg,
        "limit": one.limit,
        "doubt": one.doubt or None,
        "errors": [{"by": term.what, "deg": term.error_deg} for term in one.terms],
        "solutions": [
            {"side": each.word or None, "bearing_deg": each.bearing_deg, "plan_up": up}
            for each, up in zip(one.solutions, one.plan_ups_deg, strict=True)
        ],
    }


def _together(found: Bearings, one: Combined, off_deg: float) -> Answer:
    odd = one.odd
    return {
        "plan_up": one.mean.bearing_deg,
        "plan_up_error": one.mean.error_deg,
        "chi_square": one.mean.chi_square,
        "off_the_file_deg": off_deg,
        "sides": _sides(found, one),
        "weights": list(one.weights),
        "odd": None
        if odd is None
        else {
            "measured": odd.index,
            "sigmas": odd.sigmas,
            "others_plan_up": odd.others.bearing_deg,
            "others_plan_up_error": odd.others.error_deg,
        },
    }


def _sides(found: Bearings, one: Combined) -> list[str | None]:
    """Which solution of each measurement was taken; None where there is but one."""
    return [
        each.solutions[at].word if len(each.solutions) > 1 else None
        for each, at in zip(found.measured, one.picked, strict=True)
    ]


def told(location: Location, found: Bearings, *, written: bool) -> Iterator[Part]:
    """The plan's bearing for people."""
    yield f"{location.site.name}: true bearings; ± is 95 %, two standard deviations"
    if found.measured:
        yield ""
        yield table(("measured", "bearing", "±", "plan up", "by"), _rows(found.measured))
        yield ""
        yield from _summed(location, found)
    for one in found.times:
        yield ""
        yield from _times(location, one)
    if written:
        yield f"\n{location.file}: plan_up and plan_up_error are written"
    yield ""
    yield SUN
    yield SHADOWS


def tenths(degrees: float) -> str:
    """A bearing to a tenth of a degree."""
    return f"{round(degrees % 360.0, 1) % 360.0:.1f}°"


def _sure(error_deg: float) -> str:
    return f"±{written_values(0.0, error_deg)[1]:.1f}°"


def _up(plan_up_deg: float, error_deg: float) -> str:
    point = POINTS[round(plan_up_deg / 45.0) % 8]
    return f"{tenths(plan_up_deg)} {point} {_sure(error_deg)}"


def _rows(measured: Iterable[Measured]) -> Iterator[tuple[str, ...]]:
    for one in measured:
        for each, up in zip(one.solutions, one.plan_ups_deg, strict=True):
            word = f", {each.word}" if len(one.solutions) > 1 else ""
            by = f"{one.how}{word}; ± mostly {one.limit}"
            yield one.of.name, tenths(each.bearing_deg), _sure(one.error_deg), tenths(up), by


def _summed(location: Location, found: Bearings) -> Iterator[str]:
    site, measured = location.site, found.measured
    for one in measured:
        if one.doubt:
            yield f"DOUBT: {one.of.name}, {one.how}: {one.doubt}"
    if sum(isinstance(one.reading, Compass) for one in measured) > 1:
        yield "Near steel compass readings err together: many are hardly better than one."
    for way, off in zip(found.together, found.off_deg(site.plan_up), strict=True):
        sides = ", ".join(side for side in _sides(found, way) if side is not None)
        given = f" if {sides}" if len(found.together) > 1 else f", taken {sides}" if sides else ""
        file = f"the file says {site.plan_up:g}°"
        file += f" ±{site.plan_up_error:g}°" if site.plan_up_error else ""
        up = _up(way.mean.bearing_deg, way.mean.error_deg)
        yield f"The plan's up points {up}{given}; {file}, {off:.1f}° away."
        if len(measured) > 1:
            heaviest = way.weights.index(max(way.weights))
            best = measured[heaviest]
            yield f"  mostly by {best.of.name}, {best.how}: {100 * max(way.weights):.0f} %"
        yield from _odd(measured, way)
    if len(found.together) > 1:
        yield "Which of them it is: say left or right, comes or leaves, or measure once more."


def _odd(measured: tuple[Measured, ...], one: Combined) -> Iterator[str]:
    odd = one.odd
    if odd is None:
        return
    if len(measured) == 2:
        yield (
            f"  THESE TWO DO NOT AGREE: {odd.sigmas:.1f} standard deviations apart; one is wrong "
            "or its ± too small"
        )
        return
    stray = measured[odd.index]
    yield (
        f"  ODD ONE OUT: {stray.of.name}, {stray.how}, {odd.sigmas:.1f} standard deviations from "
        f"the others, which alone give {_up(odd.others.bearing_deg, odd.others.error_deg)}"
    )


def _times(location: Location, one: Times) -> Iterator[str]:
    reading = one.reading
    yield (
        f"{reading.of.name}, {reading.when.day}: a shadow at {reading.angle_deg:g}°, by the file's "
        f"plan_up, all told ±{one.error_deg:.1f}°"
    )
    for hand, spans in one.fits:
        fits = [
            f"{Moment(start, location.timezone)} – {Moment(end, location.timezone)}"
            for start, end in spans
        ]
        yield f"  {hand}: {', '.join(fits) or 'at no time of that date'}"
