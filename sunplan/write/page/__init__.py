"""The page: one HTML file with all of a day, that asks nothing of anywhere."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from ...day.plan import Plan
from ...report.answers import finite
from . import cards, hours, scene

SOURCES = ("page.css", "words.js", "sheet.js", "drawing.js", "cards.js", "strip.js", "page.js")


def data(plan: Plan) -> dict[str, Any]:
    """All that the page picks from; lengths in mm, stops in hundredths, moments in s since 1970."""
    location = plan.location
    setups = [
        {**scene.setup(plan, one), **hours.setup(plan, one), **cards.setup(plan, one)}
        for one in location.setup
    ]
    outdoors = [
        {**scene.outdoors(location, one), **cards.outdoors(plan, one)} for one in location.exterior
    ]
    return {
        "location": location.site.name,
        "units": location.site.units,
        "planUp": location.site.plan_up,
        **hours.day(plan),
        "rooms": [{**scene.room(location, one), **hours.room(plan, one)} for one in location.room],
        "setups": setups,
        "outdoors": outdoors,
        "site": scene.site(location),
        "order": hours.order(plan),
        "day": cards.day(plan, [line for one in (*setups, *outdoors) for line in one["care"]]),
    }


def html(plan: Plan) -> str:
    """The page, whole."""
    text = json.dumps(
        finite(data(plan)), ensure_ascii=False, separators=(",", ":"), allow_nan=False
    )
    # Names are free text: "<" ends no element that it is not seen in.
    safe = text.replace("<", "\\u003c")
    page = _source("page.html")
    for name in SOURCES:
        page = _put(page, name, _source(name))
    return _put(page, "data", safe)


def _put(page: str, mark: str, text: str) -> str:
    """The page with a text in place of its one mark."""
    before, after = page.split(f"/* {mark} */")
    return before + text + after


def _source(name: str) -> str:
    return (files(__package__) / name).read_text(encoding="utf-8")
