"""Which way the plan's up points: what was measured, how sure that is, what fits together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ..location.edit import written_values
from ..location.read import Location
from ..survey.bearing import Measured
from ..survey.combining import Combined, Mean
from ..survey.observations import CompassReading
from ..survey.sun_bearing import Bearings, Times
from .answers import Answer, place, span
from .cautions import SHADOWS, SUN
from .document import Block, Document, Line, Section, Table
from .words import POINTS, between

ROWS = {"solutions": ("measured", "solutions")}  # of its answer, by kind


def answer(location: Location, bearings: Bearings, *, written: bool) -> Answer:
    """Answer of `sunplan bearing`; every ± is 95 %, two standard deviations."""
    decided, zone = bearings.decided, location.timezone
    return {
        "location": location.site.name,
        "place": place(location),
        "plan_up": None if decided is None else decided.mean.bearing_deg,
        "plan_up_error": None if decided is None else decided.mean.error_deg,
        "written": written,
        "measured": [_measured(measured) for measured in bearings.measured],
        "together": [
            _together(bearings, combined, off)
            for combined, off in zip(
                bearings.together, bearings.off_deg(location.site.plan_up), strict=True
            )
        ],
        "times": [
            {
                "of": times.reading.of.name,
                "date": times.reading.when.day.isoformat(),
                "angle_deg": times.reading.angle_deg,
                "error_deg": times.error_deg,
                "fits": [
                    {"side": hand, **span(ends_s, zone)}
                    for hand, spans in times.fits
                    for ends_s in spans
                ],
            }
            for times in bearings.times
        ],
    }


def _measured(measured: Measured) -> Answer:
    return {
        "of": measured.of.name,
        "by": measured.how,
        **measured.facts,
        "error_deg": measured.error_deg,
        "limit": measured.limit,
        "doubt": measured.doubt or None,
        "errors": [{"by": term.source, "deg": term.error_deg} for term in measured.terms],
        "solutions": [
            {"side": solution.word or None, "bearing_deg": solution.bearing_deg, "plan_up": up}
            for solution, up in zip(measured.solutions, measured.plan_ups_deg, strict=True)
        ],
    }


def _together(bearings: Bearings, combined: Combined, off_deg: float) -> Answer:
    odd = combined.odd
    return {
        "plan_up": combined.mean.bearing_deg,
        "plan_up_error": combined.mean.error_deg,
        "chi_square": combined.mean.chi_square,
        "off_the_file_deg": off_deg,
        "sides": _sides(bearings, combined),
        "weights": list(combined.weights),
        "odd": None
        if odd is None
        else {
            "measured": odd.index,
            "sigmas": odd.sigmas,
            "others_plan_up": odd.others.bearing_deg,
            "others_plan_up_error": odd.others.error_deg,
        },
    }


def _sides(bearings: Bearings, combined: Combined) -> list[str | None]:
    """Which solution of each measurement was taken; None where there is but one."""
    return [
        measured.solutions[picked].word if len(measured.solutions) > 1 else None
        for measured, picked in zip(bearings.measured, combined.picked, strict=True)
    ]


def report(location: Location, bearings: Bearings, *, written: bool) -> Document:
    """The plan's bearing for people."""
    sections = []
    if bearings.measured:
        columns = ("measured", "bearing", "±", "plan up", "by")
        sections += [
            Section("together", None, _summed(location, bearings)),
            Section("measured", None, [Table(columns, _rows(bearings.measured))]),
        ]
    sections += [_times(location, times) for times in bearings.times]
    if written:
        done = f"{location.file}: plan_up and plan_up_error are written"
        sections.append(Section("written", None, [done]))
    return Document(
        f"{location.site.name}: true bearings; ± is 95 %, two standard deviations",
        [*sections, Section("notes", None, [SUN, SHADOWS])],
    )


def tenths(degrees: float) -> str:
    """A bearing to a tenth of a degree."""
    return f"{round(degrees % 360.0, 1) % 360.0:.1f}°"


def _sure(error_deg: float) -> str:
    return f"±{written_values(0.0, error_deg)[1]:.1f}°"


def _up(mean: Mean) -> str:
    point = POINTS[round(mean.bearing_deg / 45.0) % 8]
    return f"{tenths(mean.bearing_deg)} {point} {_sure(mean.error_deg)}"


def _rows(bearings: Iterable[Measured]) -> Iterator[tuple[str, ...]]:
    for measured in bearings:
        for solution, up in zip(measured.solutions, measured.plan_ups_deg, strict=True):
            word = f", {solution.word}" if len(measured.solutions) > 1 else ""
            yield (
                measured.of.name,
                tenths(solution.bearing_deg),
                _sure(measured.error_deg),
                tenths(up),
                f"{measured.how}{word}; ± mostly {measured.limit}",
            )


def _summed(location: Location, bearings: Bearings) -> Iterator[Block]:
    site = location.site
    for measured in bearings.measured:
        if measured.doubt:
            yield f"DOUBT: {measured.of.name}, {measured.how}: {measured.doubt}"
    if sum(isinstance(measured.reading, CompassReading) for measured in bearings.measured) > 1:
        yield "Near steel compass readings err together: many are hardly better than one."
    file = f"the file says {site.plan_up:g}°"
    file += f" ±{site.plan_up_error:g}°" if site.plan_up_error else ""
    mirrored = len(bearings.together) > 1
    for combined, off in zip(bearings.together, bearings.off_deg(site.plan_up), strict=True):
        sides = ", ".join(side for side in _sides(bearings, combined) if side is not None)
        given = f" if {sides}" if mirrored else f", taken {sides}" if sides else ""
        yield Line(
            f"The plan's up points {_up(combined.mean)}{given}; {file}, {off:.1f}° away.",
            _weighed(bearings.measured, combined),
        )
    if mirrored:
        yield "Which of them it is: say left or right, comes or leaves, or measure once more."


def _weighed(bearings: Sequence[Measured], combined: Combined) -> Iterator[str]:
    """Which measurement counts most, and which does not fit the others."""
    if len(bearings) > 1:
        weight, best = max(
            zip(combined.weights, bearings, strict=True), key=lambda weighed: weighed[0]
        )
        yield f"mostly by {best.of.name}, {best.how}: {100 * weight:.0f} %"
    odd = combined.odd
    if odd is None:
        return
    if len(bearings) == 2:
        yield (
            f"THESE TWO DO NOT AGREE: {odd.sigmas:.1f} standard deviations apart; one is wrong "
            "or its ± too small"
        )
        return
    stray = bearings[odd.index]
    yield (
        f"ODD ONE OUT: {stray.of.name}, {stray.how}, {odd.sigmas:.1f} standard deviations from "
        f"the others, which alone give {_up(odd.others)}"
    )


def _times(location: Location, times: Times) -> Section:
    reading = times.reading
    fits = (
        (hand, ", ".join(between(span_s, location.timezone) for span_s in spans))
        for hand, spans in times.fits
    )
    return Section(
        "times",
        f"{reading.of.name}, {reading.when.day}: a shadow at {reading.angle_deg:g}°, by the file's "
        f"plan_up, all told ±{times.error_deg:.1f}°",
        [f"{hand}: {clocks or 'at no time of that date'}" for hand, clocks in fits],
    )
