"""When a window in frame matches its look untreated, morning and evening: tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from ..day.dusk import Dusk
from ..light.matching import MatchingInterval
from ..sun.local_time import MINUTE_S
from .document import Block, Line, More, Section, Table
from .words import between


def matches(dusks: Sequence[Dusk], zone: str, sky: str) -> Iterator[Section]:
    """When a window in frame matches untreated, under one sky."""
    alone = len({dusk.day for dusk in dusks}) == 1
    rows = [
        (
            f"{dusk.setup}: {dusk.opening}",
            *[dusk.day.isoformat()] * (not alone),
            *(_clocks(dusk, dusk.fits, zone, evening=late) or "—" for late in (False, True)),
        )
        for dusk in sorted(dusks, key=lambda dusk: (dusk.setup, dusk.opening, dusk.day))
        if dusk.sky == sky
    ]
    if rows:
        heads = ("window", *["date"] * (not alone), "morning (min)", "evening (min)")
        heading = f"A window in frame matches untreated, {sky} sky"
        yield Section("matches", heading, [Table(heads, rows, grouped=True)])


def sky_by_sky(dusks: Sequence[Dusk], dates: tuple[date, date], zone: str) -> Iterator[More]:
    days, many = len({dusk.day for dusk in dusks}), (dates[1] - dates[0]).days + 1
    cases: dict[tuple[str, str], list[Dusk]] = {}
    for dusk in dusks:
        cases.setdefault((dusk.setup, dusk.opening), []).append(dusk)
    if cases:
        lines = [
            Line(f"{setup}: {opening}; from – to (minutes)", _times(case, zone, alone=days == 1))
            for (setup, opening), case in cases.items()
        ]
        heading = f"Dusk, {days} of {many} dates: when a window in frame matches untreated"
        yield More("dusk sky by sky", [Section("dusk", heading, lines)])


def _clocks(dusk: Dusk, fits: Sequence[MatchingInterval], zone: str, *, evening: bool) -> str:
    """When a window matches, before or after noon."""
    return ", ".join(
        f"{between((fit.start_s, fit.end_s), zone)} ({fit.minutes:.0f})"
        for fit in fits
        if dusk.evening(fit) == evening
    )


def _times(dusks: Sequence[Dusk], zone: str, *, alone: bool) -> Iterator[Block]:
    """When one window matches: a date alone with a stop more and less of light inside as well."""
    rows = [
        (
            dusk.day.isoformat(),
            dusk.sky,
            *[label] * alone,
            *(_clocks(dusk, fits, zone, evening=late) or "—" for late in (False, True)),
        )
        for dusk in dusks
        for label, fits in (
            ("as set", dusk.fits),
            ("+1 stop", dusk.brighter),
            ("−1 stop", dusk.darker),
        )
        if alone or fits is dusk.fits
    ]
    light = ["interior"] * alone
    yield Table(("date", "sky", *light, "morning", "evening"), rows, grouped=True)
    if not alone:
        yield from _moves(dusks)


def _moves(dusks: Iterable[Dusk]) -> Iterator[str]:
    """What a stop more or less light in the room does to the minutes, where it only moves them."""
    moves = [
        abs(moved.start_s - fit.start_s) / MINUTE_S
        for dusk in dusks
        for others in (dusk.brighter, dusk.darker)
        for late in (False, True)
        for fit, moved in zip(
            *([fit for fit in fits if dusk.evening(fit) == late] for fits in (dusk.fits, others)),
            strict=False,
        )
    ]
    if moves:
        span = " to ".join(dict.fromkeys(f"{minutes:.0f}" for minutes in (min(moves), max(moves))))
        yield (
            f"with the interior +1 stop {span} min later in the morning, earlier in the evening; "
            "with −1 stop the other way"
        )
