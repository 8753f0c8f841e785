"""A day's folder: plan in text, as a page, on paper, in JSON and for a calendar; its pictures.

Made beside its place and renamed.
"""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from ..day.beside import Beside
from ..day.plan import Plan
from ..errors import InputError, OutputError
from . import diary, entering, exteriors, flagging, keying, levels, ordering, packing, page, sheet
from .answers import Answer, as_json, head
from .cautions import Caution
from .layout import Part, cautions_last, text
from .words import clock

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PLAN, PAGE, SIGN = "plan.json", "plan.html", "made_by"
STEPS = 5  # how often `write` tells what it does


def answer(plan: Plan) -> Answer:
    """All answers of a day in one."""
    location, day, skies = plan.location, plan.entries.date, plan.packed_for
    narrow = plan.entries.narrowing({(one.room, one.mark) for one in location.setup})
    return {
        SIGN: "sunplan",
        **head(location, day),
        "entry": entering.answer(location, plan.entries),
        "flags": flagging.answer(location, day, plan.flags, narrow=narrow),
        "gap": levels.answer(location, day, plan.gaps, plan.fits) if plan.gaps else None,
        "key": keying.answer(location, plan.keys),
        "order": plan.ordered and ordering.answer(location, day, plan.ordered, skies),
        "pack": plan.pack and packing.answer(location, day, plan.pack, skies),
        "exteriors": exteriors.answer(location, day, plan.exteriors),
    }


def told(plan: Plan) -> Iterable[Part]:
    """The plan in text, every caution once and at its end."""
    location, day = plan.location, plan.entries.date
    chapters: list[tuple[str, Iterable[Part]]] = [
        ("DIRECT SUN", entering.told(location, plan.entries))
    ]
    if plan.ordered is not None:
        skies = plan.packed_for
        chapters.insert(0, ("ORDER", ordering.told(location, day, plan.ordered, skies)))
    if location.setup:
        span = " – ".join(
            clock(at, location.timezone) for at in (plan.clock.call_s, plan.clock.wrap_s)
        )
        chapters += [
            (f"FLAGS, {span}", flagging.told(location, day, plan.flags)),
            ("HOW FAR FROM THE LOOK", levels.told(location, day, plan.gaps, plan.fits)),
            ("KEY", keying.told(location, plan.keys)),
        ]
    if plan.exteriors:
        chapters.append(("OUTDOORS", exteriors.told(location, day, plan.exteriors)))
    if plan.pack is not None:
        chapters.append(("PACK", packing.told(location, day, plan.pack, skies, best=True)))
    parts = (
        part
        for index, (title, chapter) in enumerate(chapters)
        for part in (("\n\n" if index else "") + title, *chapter)
    )
    told_care = False
    for part in cautions_last(parts):
        if isinstance(part, Caution) and not told_care:
            told_care = True
            yield "\n\nTAKE CARE"
        yield part


def write(
    plan: Plan,
    out: Path,
    *,
    paper: str | None = None,
    tell: Callable[[str], None] = lambda _: None,
) -> list[str]:
    """Write a plan's folder and give its files' names; `paper` is what the sheet is for.

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
        names = _fill(plan, made, paper, tell)
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
        inside = list(out.iterdir())
        signed = json.loads((out / PLAN).read_text(encoding="utf-8")) if inside else {SIGN: ""}
    except (OSError, ValueError):
        signed = None
    if not isinstance(signed, dict) or SIGN not in signed:
        raise InputError(
            f"{out}: holds files that sunplan did not make; expected a new or an empty folder"
        )


def _fill(plan: Plan, folder: Path, paper: str | None, tell: Callable[[str], None]) -> list[str]:
    from .picture.saving import save

    tell("pictures")
    names = ["plan.txt", PLAN, PAGE, "plan.ics", "plan.pdf"]
    drawn: list[tuple[str, Callable[[], Figure]]] = []
    for stem, draw in _pictures(plan):
        name = f"{_slug(stem, names)}.png"
        drawn.append((name, draw))
        names.append(name)

    def save_all(some: Iterable[tuple[str, Callable[[], Figure]]]) -> None:
        for name, draw in some:
            save(draw(), folder / name)

    # All that is no picture takes about as long as half of them.
    share = 2 * len(drawn) // 3
    with Beside(lambda: save_all(drawn[:share])) as others:
        tell("text, calendar")
        (folder / "plan.txt").write_text(text(told(plan)), encoding="utf-8")
        (folder / PLAN).write_text(as_json(answer(plan)), encoding="utf-8")
        (folder / "plan.ics").write_bytes(diary.calendar(plan))
        tell("page")
        (folder / PAGE).write_text(page.html(plan), encoding="utf-8")
        tell("sheet")
        sheet.write(plan, folder / "plan.pdf", paper=paper)
        tell("pictures")
        save_all(drawn[share:])
        others.result()
    return names


def _pictures(plan: Plan) -> Iterator[tuple[str, Callable[[], Figure]]]:
    """Each picture's name, and how it is drawn."""
    from .picture import daystrip, gapchart, hanging, patches, understood  # loads matplotlib

    location, day = plan.location, plan.entries
    yield "rooms", lambda: understood.figure_of_rooms(location)
    yield "day", lambda: daystrip.figure_of_day(location, day)
    for room in location.room:
        seen = plan.patches[room.name]
        yield (
            f"sun-{room.name}",
            partial(patches.figure_of_patches, location, room, day, seen),
        )
    if plan.courses:
        yield (
            "gap",
            lambda: gapchart.figure_of_gap(
                location, day.date, day.sun, location.setup, plan.courses, plan.fits
            ),
        )
    for one in plan.flags:
        if one.options:
            name = one.setup.name
            draw = partial(hanging.figure_of_flags, location, day.date, [one])
            yield f"flags-{name}", draw


def _slug(name: str, taken: list[str]) -> str:
    """A name as a file's, unlike those taken."""
    plain = re.sub(r"\W+", "-", name.lower()).strip("-") or "room"
    slug, count = plain, 1
    while f"{slug}.png" in taken:
        count += 1
        slug = f"{plain}-{count}"
    return slug
