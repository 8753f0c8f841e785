"""The one measurement that would narrow an answer's moments most: a line, and JSON."""

from __future__ import annotations

from ..location.read import Location
from ..location.tolerances import Measure
from ..room.best_measurement import BestMeasurement
from .answers import Answer, iso
from .document import Moment, plus_minus


def answer(found: BestMeasurement | None, zone: str) -> Answer | None:
    """What to measure, and what that does to the moment that gains most."""
    if found is None:
        return None
    at = found.moment
    return {
        "measure": found.measure.what,
        "to": found.measure.care,
        "unit": found.measure.unit,
        "room": at.room,
        "opening": at.opening,
        "mark": at.mark,
        "moment": "from" if at.starts else "to",
        "time": iso(at.moment_s, zone),
        "range_now": [iso(moment, zone) for moment in found.now_s],
        "range_then": [iso(moment, zone) for moment in found.then_s],
    }


def line(found: BestMeasurement | None, location: Location) -> list[str]:
    """What to measure first, where any measurement gains a minute."""
    if found is None:
        return []
    at, zone = found.moment, location.timezone
    where = f"{at.room}: {at.opening}" + ("" if at.mark is None else f' on the mark "{at.mark}"')
    then, now = (
        plus_minus(at.moment_s, one).strip() or "±0" for one in (found.then_s, found.now_s)
    )
    return [
        f"Most is gained by measuring {found.measure.what} to {_care(found.measure)}: "
        f"{where}, sun {'from' if at.starts else 'until'} {Moment(at.moment_s, zone)}, would be "
        f"known to {then} min instead of {now}."
    ]


def _care(measure: Measure) -> str:
    if measure.unit == "deg":
        return f"±{measure.care:g}°, see bearing"
    return f"±{100 * measure.care:g} cm"
