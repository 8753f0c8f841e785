"""A day's folder: plan in text, as a page, on paper, in JSON and for a calendar; its pictures.

Made beside its place and renamed.
"""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from ..day.concurrency import Workers
from ..day.plan import Plan
from ..errors import InputError, OutputError
from ..report import plan as plan_report
from ..report.answers import as_json
from ..report.plan import MADE
from . import calendar, page, sheet, terminal

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PLAN, PAGE = "plan.json", "plan.html"
FILES = ("plan.txt", PLAN, PAGE, "plan.ics", "plan.pdf")
DRAWN = re.compile(r"(rooms|day|gap|(sun|flags)-.+)\.png")
Picture = tuple[str, str]  # its kind; which room or setup, "" for the day
STEPS = 7  # how often `write` tells what it does


def write(
    plan: Plan,
    out: Path,
    *,
    paper: str | None = None,
    more: bool = False,
    tell: Callable[[str], None] = lambda _: None,
) -> list[str]:
    """Write a plan's folder and give its files' names; `paper` is what the sheet is for,
    `more` tells all in the text.

    A folder of that name is replaced if sunplan made it; ``InputError`` if it holds anything else,
    ``OutputError`` if it cannot be written. Until all is done, nothing changes.
    """
    check(out)
    try:
        beside = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.resolve().parent))
    except OSError as error:
        raise OutputError(f"{out}: cannot be written: {error.strerror}") from None
    try:
        made = beside / "new"
        made.mkdir()
        names = _fill(plan, made, paper, tell, more=more)
        if out.exists():
            out.rename(beside / "old")
        made.rename(out)
    except OSError as error:
        if (beside / "old").exists() and not out.exists():
            (beside / "old").rename(out)
        raise OutputError(f"{out}: cannot be written: {error.strerror}") from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return names


def check(out: Path) -> None:
    """Refuse a folder that cannot be written, before any work is done."""
    if not out.exists():
        if not out.resolve().parent.is_dir():
            raise OutputError(f"{out}: there is no folder {out.resolve().parent}")
        return
    if not out.is_dir():
        raise InputError(f"{out}: is a file; expected a folder's name")
    try:
        inside = sorted(path.name for path in out.iterdir())
        signed = json.loads((out / PLAN).read_text(encoding="utf-8")) if inside else MADE
    except (OSError, ValueError):
        signed = None
    if not isinstance(signed, dict) or not MADE.items() <= signed.items():
        raise InputError(
            f"{out}: holds files that sunplan did not make; expected a new or an empty folder"
        )
    if strange := [name for name in inside if name not in FILES and not DRAWN.fullmatch(name)]:
        raise InputError(
            f"{out}: holds {', '.join(strange)} besides what sunplan made, which would be lost; "
            "expected another name, or that somewhere else"
        )


def _fill(
    plan: Plan, folder: Path, paper: str | None, tell: Callable[[str], None], *, more: bool
) -> list[str]:
    names = list(FILES)
    asked: list[tuple[str, Picture]] = []
    for picture in _pictures(plan):
        asked.append((f"{_slug('-'.join(filter(None, picture)), names)}.png", picture))
        names.append(asked[-1][0])
    with Workers(1) as workers:
        # Pictures need nothing of the light in the rooms, which is by far the largest part.
        pictures = workers.start(_draw, replace(plan, rooms=()), asked, folder)
        tell("levels")
        _ = plan.gaps_by_step
        tell("order")
        _ = plan.ordered
        tell("pack")
        _ = plan.pack
        tell("text, calendar")
        words = terminal.text(plan_report.report(plan), plan.location.site.units, more=more)
        answer = plan_report.answer(plan)
        (folder / "plan.txt").write_text(words, encoding="utf-8")
        (folder / PLAN).write_text(as_json(answer), encoding="utf-8")
        (folder / "plan.ics").write_bytes(calendar.calendar(plan))
        tell("page")
        (folder / PAGE).write_text(page.html(plan), encoding="utf-8")
        tell("sheet")
        sheet.write(plan, folder / "plan.pdf", paper=paper)
        tell("pictures")
        pictures.result()
    return names


def _draw(plan: Plan, asked: Iterable[tuple[str, Picture]], folder: Path) -> None:
    from .pictures import save

    for name, (kind, which) in asked:
        save(_figure(plan, kind, which), folder / name)


def _pictures(plan: Plan) -> Iterator[Picture]:
    yield "rooms", ""
    yield "day", ""
    for room in plan.location.room:
        yield "sun", room.name
    if plan.courses:
        yield "gap", ""
    for flags in plan.flags:
        if flags.options:
            yield "flags", flags.setup.name


def _figure(plan: Plan, kind: str, which: str) -> Figure:
    """One picture: of what is known before the order is."""
    from ..draw import daystrip, gapchart, patches, rooms
    from ..draw import flags as flags_drawing

    location, day = plan.location, plan.entries
    if kind == "rooms":
        return rooms.figure_of_rooms(location)
    if kind == "day":
        return daystrip.figure_of_day(location, day)
    if kind == "sun":
        room = location.room_named(which)
        return patches.figure_of_patches(location, room, day, plan.patches[which])
    if kind == "gap":
        return gapchart.figure_of_gap(
            location, day.date, day.sun, plan.setups, plan.courses, plan.fits
        )
    flags = [flags for flags in plan.flags if flags.setup.name == which]
    return flags_drawing.figure_of_flags(location, day.date, flags)


def _slug(name: str, taken: list[str]) -> str:
    """A name as a file's, unlike those taken."""
    plain = re.sub(r"\W+", "-", name.lower()).strip("-") or "room"
    slug, count = plain, 1
    while f"{slug}.png" in taken:
        count += 1
        slug = f"{plain}-{count}"
    return slug
