"""The texts of gap, flags, blackout, negfill and key: the first screen, and all with more.

And of all commands: no figure has a bare sign.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

import demos
import pytest
from demos import MARCH, NAMES

import sunplan
from sunplan.api import Result
from sunplan.report.gap import advice
from sunplan.report.words import over
from sunplan.write import terminal

LINES = 24  # of a terminal of 80 columns: DEC VT100, 1978
DAY = MARCH.isoformat()
# What may have a sign: dates; by how much a moment may come sooner and later; the next day behind
# a clock time; a camera's tilt; a stop more or less in a room.
RIGHTLY = re.compile(
    r"\d{4}-\d\d-\d\d|\s−\d+\s+\+\d+(?!\.?\d)|\s[+−]\d\sd\b|\btilted\s[+−]\d+°|[+−]1\sstop\b"
)
SIGNED = re.compile(r"(?<!\w)[+−-]\d+(?:\.\d+)?")
ASKED: dict[str, tuple[str, dict[str, str]]] = {
    "entry": ("entry", {"date": DAY}),
    "flags": ("flags", {"date": DAY}),
    "flags, all light": ("flags", {"date": DAY, "covers": "all"}),
    "gap": ("gap", {"date": DAY}),
    "gap at dusk": ("gap", {"date": DAY, "at": "18:00"}),
    "key": ("key", {}),
    "negfill": ("negfill", {"date": DAY}),
    "negfill at noon": ("negfill", {"date": DAY, "at": "12:00"}),
    "blackout": ("blackout", {"date": DAY}),
    "blackout, any weather": ("blackout", {"date": DAY, "weather": "any"}),
    "hours": ("hours", {"date": DAY}),
    "order": ("order", {"date": DAY}),
    "pack": ("pack", {"date": DAY}),
    "plan": ("plan", {"date": DAY}),
}


def asked(name: str, question: str) -> Result:
    """A demo's answer to a question."""
    of, options = ASKED[question]
    return demos.asked(name, of, **options)


def text(result: Result, *, more: bool = False) -> str:
    """What the command prints."""
    return terminal.text(result.document, result.location.site.units, more=more)


@pytest.fixture
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal on which no row is folded."""
    monkeypatch.setattr(terminal, "WIDTH", 10_000)


def rows(said: str) -> list[list[str]]:
    """Cells of all lines of a wide text."""
    return [re.split(r" {2,}", line.strip()) for line in said.splitlines()]


def gap_verdict(result: Result) -> Iterator[tuple[str, ...]]:
    """The worst of each window in frame, over all moments and skies, from the numbers."""
    for setup in result.value.setups:
        for index, opening in enumerate(setup.times[0].openings):
            if opening.in_frame:
                most = max(moment.openings[index].lose_stops for moment in setup.times)
                down = f"{most:.1f} stops" if most else "—"
                yield opening.opening, down
        yield (setup.setup.name,)


def flags_verdict(result: Result) -> Iterator[tuple[str, ...]]:
    for setup in result.value:
        for option in setup.taken:
            yield option.opening, option.flags[0].name
        yield (setup.setup.name,)


def blackout_verdict(result: Result) -> Iterator[tuple[str, ...]]:
    treatments, _ = result.value
    for setup in treatments:
        yield from ((opening.opening.name,) for opening in setup.openings)
        yield (setup.setup.name,)


def negfill_verdict(result: Result) -> Iterator[tuple[str, ...]]:
    for fill in result.value:
        yield fill.setup.name, f"{fill.before.ratio:.1f}".replace("inf", "∞")


def key_verdict(result: Result) -> Iterator[tuple[str, ...]]:
    for light in result.value:
        yield light.setup.name, over(light.stops, "key")


VERDICTS = {
    "gap": gap_verdict,
    "gap at dusk": gap_verdict,
    "flags": flags_verdict,
    "blackout": blackout_verdict,
    "negfill": negfill_verdict,
    "negfill at noon": negfill_verdict,
    "key": key_verdict,
}


@pytest.mark.parametrize("question", VERDICTS)
@pytest.mark.parametrize("name", NAMES)
def test_the_verdict_is_on_the_first_screen(name: str, question: str) -> None:
    """Each setup and each window, with what there is to do or how bad it is in the same line."""
    result = asked(name, question)
    screen = text(result).splitlines()[:LINES]
    for cells in VERDICTS[question](result):
        assert any(all(cell in line for cell in cells) for line in screen), cells


@pytest.mark.parametrize("question", ASKED)
@pytest.mark.parametrize("name", NAMES)
def test_no_figure_has_a_bare_sign(name: str, question: str) -> None:
    """It is over or under, more or less, up or down.

    But in `check`, which tells coordinates of the plan.
    """
    assert not signed(text(asked(name, question), more=True))


def signed(said: str) -> list[str]:
    """The figures of a text that have a bare sign."""
    return SIGNED.findall(RIGHTLY.sub("", said))


def test_a_bare_sign_would_be_found() -> None:
    """What was told before, beside what is told rightly."""
    for said in ("+4.3 / +1.3", "(−8.0 stops)", "at −5.0 to −3.0", "sun +7°", "−2.0 +1.0"):
        assert signed(said), said
    for said in ("08:39 ±14", "08:39 −2 +20", "00:10 +1 d", "A-1", "09:00 – 19:00", DAY, "+1 stop"):
        assert not signed(said), said


@pytest.mark.usefixtures("wide")
@pytest.mark.parametrize("name", NAMES)
def test_more_of_gap_has_every_moment(name: str) -> None:
    """Every window, face and practical at every moment under every sky."""
    result = asked(name, "gap")
    told = rows(text(result, more=True))
    said = {" | ".join(row) for row in told}
    for setup in result.value.setups:
        for moment in setup.times:
            face = moment.face
            lux = f"{face.daylight_key_lux:.0f} | {face.daylight_fill_lux:.0f} | "
            assert any(lux in row for row in said)
            for opening in moment.openings:
                if opening.in_frame:
                    level = f"{moment.sky.name} | {over(opening.stops)} | "
                    assert any(level in row and row.endswith(advice(opening)) for row in said)
            for practical in moment.practicals:
                if practical.in_frame:
                    bulb = f"a bulb of {practical.fitting_lumens:.0f} lm"
                    assert any(practical.practical in row and bulb in row for row in said)


@pytest.mark.usefixtures("wide")
@pytest.mark.parametrize("name", NAMES)
def test_more_of_flags_has_every_way(name: str) -> None:
    result = asked(name, "flags")
    short, full = text(result), text(result, more=True)
    for setup in result.value:
        for option in setup.options:
            choice = "hang" if option in setup.taken else "or"
            line = f"{choice} {option.name} {option.placement}"
            assert line in full
            assert (line in short) == (choice == "hang") or option.name in short
            for position in option.positions:
                assert f"its shadow's edge {1000 * position.edge_m:.0f} mm soft" in full


@pytest.mark.usefixtures("wide")
@pytest.mark.parametrize("name", NAMES)
def test_more_of_negfill_key_and_blackout_has_every_row(name: str) -> None:
    panels = {" | ".join(row) for row in rows(text(asked(name, "negfill"), more=True))}
    for fill in asked(name, "negfill").value:
        for panel in fill.panels:
            figure = "∞" if math.isinf(panel.ratio) else f"{panel.ratio:.1f}"
            ends = f"{panel.fill_lux:.0f} lx | {figure} | "
            frame = "out" if panel.clear_of_frame else "IN FRAME"
            assert any(row.endswith(ends + frame) for row in panels)
    lamps = {" | ".join(row) for row in rows(text(asked(name, "key"), more=True))}
    for light in asked(name, "key").value:
        for change in light.changes:
            side = "more" if change.stops > 0 else "less"
            end = f"| {abs(change.stops):.1f} {side}"
            assert any(row.startswith(change.description) and row.endswith(end) for row in lamps), (
                change
            )
    openings = {" | ".join(row) for row in rows(text(asked(name, "blackout"), more=True))}
    treatments, _ = asked(name, "blackout").value
    for setup in treatments:
        for treated in setup.openings:
            row = f"{treated.opening.name} | {treated.gives_lux:.0f} lx | "
            assert any(told.startswith(row) for told in openings)


@pytest.mark.parametrize("name", NAMES)
def test_a_face_with_its_lamp_set(name: str) -> None:
    """Light adds up: the lamp's share and daylight are at key, or as near as a lamp brings it."""
    shares = set()
    for setup in asked(name, "gap").value.setups:
        for moment, found in zip(setup.times, setup.found, strict=True):
            light, share = moment.face, found.lamp_share
            key, fill = (
                alone + share * (both - alone)
                for alone, both in (
                    (light.daylight_key_lux, light.key_lux),
                    (light.daylight_fill_lux, light.fill_lux),
                )
            )
            assert found.key_lux == pytest.approx(key, rel=1e-9)
            assert found.fill_lux == pytest.approx(fill, rel=1e-9)
            assert found.key_stops == pytest.approx(_stops(key, setup.key_lux), abs=1e-9)
            assert found.ratio == pytest.approx(key / fill)
            if 0.0 < share < 1.0:
                assert found.key_stops == pytest.approx(0.0, abs=1e-9)
            shares.add(share)
    assert len(shares) > 2


@pytest.mark.parametrize("name", NAMES)
def test_what_hangs_never_brightens_a_window(name: str) -> None:
    """As rigged each window is at its target, or no brighter than as found."""
    for setup in asked(name, "gap").value.setups:
        for found, rigged in zip(setup.found, setup.rigged, strict=True):
            for bare, hung in zip(found.windows, rigged.windows, strict=True):
                assert hung.opening == bare.opening
                assert hung.stops <= bare.stops + 1e-9 or hung.off_stops == 0.0
            assert rigged.daylight_fill_lux <= found.daylight_fill_lux + 1e-6 or rigged.windows


def _stops(level: float, reference: float) -> float:
    return math.log2(level / reference) if level > 0 else -math.inf


@pytest.mark.parametrize("name", NAMES)
def test_negfill_without_a_time_is_amid_each_shoot(name: str) -> None:
    """As `pack` has it, all setups in the file's order; of one setup alone the same."""
    slots = asked(name, "pack").value.running.slots
    middles = {slot.setup.name: sum(slot.shoot_s) / 2 for slot in slots}
    fills = asked(name, "negfill").value
    assert {fill.setup.name: fill.sky.unix_s for fill in fills} == pytest.approx(middles)
    last = fills[-1].setup.name
    (alone,) = sunplan.negfill(asked(name, "negfill").location, DAY, setup=last).value
    assert alone.sky.unix_s == pytest.approx(middles[last])
