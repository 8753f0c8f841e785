"""All answers for a date in one: JSON, and a document of chapters."""

from __future__ import annotations

from dataclasses import replace

from ..day.plan import Plan
from . import day_page, entry, exteriors, flags, gap, key, order, pack
from .answers import Answer, head
from .document import Document
from .words import between, titled

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
    """The day on a page, then a chapter a question; the cut list is told, it is needed at home."""
    location, day, skies = plan.location, plan.entries.date, plan.packed_for
    chapters = [
        ("THE DAY", day_page.report(plan)),
        ("DIRECT SUN", entry.report(location, plan.entries)),
    ]
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
        packed = pack.report(location, day, plan.pack, skies, best=True, whole=True)
        chapters.append(("PACK", packed))
    return Document(titled(location, day), (_chapter(plan, *chapter) for chapter in chapters))


def _chapter(plan: Plan, name: str, document: Document) -> Document:
    """A document as a chapter; the place and the date stand once, over the first."""
    same = document.title == titled(plan.location, plan.entries.date)
    return replace(document, chapter=name, title=None if same else document.title)
