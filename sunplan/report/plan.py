"""All answers for a date in one: JSON, and a document of chapters."""

from __future__ import annotations

from dataclasses import replace

from ..day.plan import Plan
from . import entry, exteriors, flags, gap, key, order, pack
from .answers import Answer, head
from .document import Document
from .words import between

MADE = {"made_by": "sunplan"}  # by which a folder is known to be one that may be replaced


def answer(plan: Plan) -> Answer:
    """The JSON of a plan."""
    location, day, skies = plan.location, plan.entries.date, plan.packed_for
    narrow = plan.entries.best_measurement({(setup.room, setup.mark) for setup in location.setup})
    return {
        **MADE,
        **head(location, day),
        "entry": entry.answer(location, plan.entries),
        "flags": flags.answer(location, day, plan.flags, narrow=narrow),
        "gap": gap.answer(location, day, plan.gaps, plan.fits) if plan.gaps else None,
        "key": key.answer(location, plan.keys),
        "order": plan.ordered and order.answer(location, day, plan.ordered, skies),
        "pack": plan.pack and pack.answer(location, day, plan.pack, skies, best=True),
        "exteriors": exteriors.answer(location, day, plan.exteriors),
    }


def report(plan: Plan) -> Document:
    """The plan, a chapter a question."""
    location, day, skies = plan.location, plan.entries.date, plan.packed_for
    chapters: list[tuple[str, Document]] = []
    if plan.ordered is not None:
        ordered = order.report(location, day, plan.ordered, skies)
        chapters.append(("ORDER", ordered))
    chapters.append(("DIRECT SUN", entry.report(location, plan.entries)))
    if location.setup:
        span = between((plan.clock.call_s, plan.clock.wrap_s), location.timezone)
        gaps = gap.report(location, day, plan.gaps, plan.fits)
        chapters += [
            (f"FLAGS, {span}", flags.report(location, day, plan.flags)),
            ("HOW FAR FROM THE LOOK", gaps),
            ("KEY", key.report(location, plan.keys)),
        ]
    if plan.exteriors:
        outdoors = exteriors.report(location, day, plan.exteriors)
        chapters.append(("OUTDOORS", outdoors))
    if plan.pack is not None:
        packed = pack.report(location, day, plan.pack, skies, best=True)
        chapters.append(("PACK", packed))
    return Document(None, (replace(document, chapter=name) for name, document in chapters))
