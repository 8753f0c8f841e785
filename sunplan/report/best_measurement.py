"""The one measurement that would narrow an answer's moments most: a line, and JSON."""

from __future__ import annotations

from ..location.read import Location
from ..room.best_measurement import BestMeasurement
from .answers import Answer, fields, iso
from .document import Moment, plus_minus


def answer(best: BestMeasurement | None, zone: str) -> Answer | None:
    """What to measure, and what that does to the moment that gains most."""
    if best is None:
        return None
    measure, moment = best.measure, best.moment
    return {
        "measure": measure.name,
        "to": measure.care,
        "unit": measure.unit,
        **fields(moment, "room", "opening", "mark"),
        "moment": "from" if moment.starts else "to",
        "time": iso(moment.moment_s, zone),
        "range_now": [iso(end, zone) for end in best.now_s],
        "range_then": [iso(end, zone) for end in best.then_s],
    }


def line(best: BestMeasurement | None, location: Location) -> list[str]:
    """What to measure first, where any measurement gains a minute."""
    if best is None:
        return []
    measure, moment = best.measure, best.moment
    care = f"{measure.care:g}°, see bearing"
    if measure.unit != "deg":
        care = f"{100 * measure.care:g} cm"
    mark = "" if moment.mark is None else f' on the mark "{moment.mark}"'
    then, now = (
        plus_minus(moment.moment_s, ends_s).strip() or "±0" for ends_s in (best.then_s, best.now_s)
    )
    return [
        f"Most is gained by measuring {measure.name} to ±{care}: {moment.room}: {moment.opening}"
        f"{mark}, sun {'from' if moment.starts else 'until'} "
        f"{Moment(moment.moment_s, location.timezone)}, would be known to {then} min instead of "
        f"{now}."
    ]
