"""The page: one HTML file with all of a day, that asks nothing of anywhere."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

from ...day.plan import Plan
from ...draw.signs import DARK, LIGHT, PAGE_IN_PRINT
from ...draw.svg import css, variables
from ...report.answers import finite
from . import cards, hours, scene

SOURCES = ("page.css", "words.js", "drawing.js", "cards.js", "strip.js", "page.js")


def data(plan: Plan) -> dict[str, Any]:
    """All that the page picks from; lengths in mm, stops in hundredths, moments in s since 1970."""
    location = plan.location
    setups = [
        {**scene.setup(plan, setup), **hours.setup(plan, setup), **cards.setup(plan, setup)}
        for setup in plan.setups
    ]
    outdoors = [
        {**scene.outdoors(location, setup), **cards.outdoors(plan, setup)}
        for setup in location.exterior
    ]
    return {
        "location": location.site.name,
        "units": location.site.units,
        "planUp": location.site.plan_up,
        **hours.day(plan),
        "rooms": [{**scene.room(plan, room), **hours.room(plan, room)} for room in location.room],
        "setups": setups,
        "outdoors": outdoors,
        "order": hours.order(plan),
        "day": cards.day(plan, [line for card in (*setups, *outdoors) for line in card["care"]]),
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
    for name, rules in _colours().items():
        page = _put(page, name, rules)
    return _put(page, "data", safe)


def _colours() -> dict[str, str]:
    """What the style sheet has of `draw/signs.py`: colours, and how each kind is drawn."""
    return {
        "dark": variables(DARK),
        "light": variables(LIGHT),
        "paper": variables(PAGE_IN_PRINT),
        "signs": css(scene.LETTERS_PX, scene.SCALE),
    }


def _put(page: str, mark: str, text: str) -> str:
    """The page with a text in place of its one mark."""
    before, after = page.split(f"/* {mark} */")
    return before + text + after


def _source(name: str) -> str:
    return (files(__package__) / name).read_text(encoding="utf-8")
