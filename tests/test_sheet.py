"""The printed sheet: its PDF is read back with pypdf."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from functools import cache, cached_property
from pathlib import Path
from tempfile import TemporaryDirectory
from types import SimpleNamespace
from typing import Any
from unittest.mock import patch
from zoneinfo import ZoneInfo

import bench
import numpy as np
import places
import pypdf
import pytest
import typst
from demos import MARCH, NAMES, planned

from sunplan.day.plan import Plan, plan
from sunplan.draw.elevation import flag_elevation
from sunplan.draw.layout import fitted, lay_out
from sunplan.light.resolved import resolve
from sunplan.light.screen import Screen
from sunplan.location.model import Mark
from sunplan.location.read import read
from sunplan.rig.takeoff import gel_piece
from sunplan.rig.tape import sideways
from sunplan.write import sheet
from sunplan.write.typeset import FOLDER, _given

LOCATIONS = Path(__file__).parent.parent / "locations"
# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch.
SIZES = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (8.5 * 72, 11 * 72)}
INCH_M = 0.0254
# Typst's markup, in names: all of it must come out as it was written.
ODD = "#strong[a] *b* _c_ $d$ <e> @f `g` \\h //i ~ = 1. 'j' \"k\" Łódź Ωμέγα"
LONG = "Mitternachtsschleusenwärterhäuschenküchenfensterbrettblumentopf" * 2


@pytest.fixture(scope="module", params=NAMES)
def day(request: pytest.FixtureRequest) -> Plan:
    return planned(request.param, MARCH)


@pytest.fixture(scope="module")
def crowded(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """The lock-keeper's house, a setup so early that nobody can rig it."""
    folder = tmp_path_factory.mktemp("crowded")
    (folder / "shared").symlink_to(LOCATIONS.parent / "shared")
    (folder / "locations").mkdir()
    text = (LOCATIONS / "lock-house.toml").read_text(encoding="utf-8")
    early = text.replace('name = "last coffee"', 'name = "last coffee"\nstart = "09:00"')
    assert early != text
    file = folder / "locations" / "early.toml"
    file.write_text(early, encoding="utf-8")
    return plan(read(file), date(2027, 3, 20))


@pytest.fixture(scope="module")
def told(day: Plan) -> list[str]:
    """The words of each page."""
    return [one.words for one in pages(day)]


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """Names that would break a page if they could."""
    raw = places.bare()
    raw["location"]["name"] = f"site {ODD}"
    room, setup = raw["room"][0], raw["setup"][0]
    room["name"] = setup["room"] = f"room {ODD}"
    room["mark"][0]["name"] = setup["mark"] = f"mark {LONG}"
    room["opening"][0]["name"] = setup["camera"]["toward"] = f"opening {ODD} {LONG}"
    setup |= {"name": f"setup {LONG} {ODD}", "plays": "night", "minutes": 30}
    return plan(places.made(raw, tmp_path_factory.mktemp("odd")), date(2027, 3, 28))


figures = cache(sheet.figures)
"""What is set on either paper."""


@cache
def written(plan: Plan, paper: str | None) -> bytes:
    """The sheet of a plan, set once for all tests that read it."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / "plan.pdf"
        with patch.object(sheet, "figures", figures):
            sheet.write(plan, file, paper=paper)
        return file.read_bytes()


class Read:
    """A page of the PDF, its text read once."""

    def __init__(self, page: pypdf.PageObject) -> None:
        self.page = page

    @cached_property
    def _read(self) -> tuple[str, list[tuple[str, float, float]]]:
        found: list[tuple[str, float, float]] = []

        def visit(text: str, whole: Any, place: Any, _font: Any, size: float) -> None:
            if text.strip():
                found.append((text, whole[0] * place[4] + whole[4], whole[0] * size))

        return self.page.extract_text(visitor_text=visit), found

    @property
    def words(self) -> str:
        return re.sub(r"\s+", " ", self._read[0])

    @property
    def pieces(self) -> list[tuple[str, float, float]]:
        """What is set on it, with where it starts and its size, points."""
        return self._read[1]


@cache
def pages(plan: Plan, paper: str | None = None) -> list[Read]:
    return [Read(page) for page in pypdf.PdfReader(io.BytesIO(written(plan, paper))).pages]


def bare(text: str) -> str:
    """Without what lines and breaks within them put between letters."""
    return re.sub(r"[\s\u200b\u00ad]", "", text)


@pytest.mark.parametrize("paper", SIZES)
def test_a_cover_and_a_page_a_room(day: Plan, paper: str) -> None:
    found = pages(day, paper)
    assert len(found) == 1 + len(day.location.room)
    for page in found:
        assert [float(page.page.mediabox.width), float(page.page.mediabox.height)] == pytest.approx(
            SIZES[paper], abs=0.01
        )
    assert day.location.site.name in found[0].words
    for page, room in zip(found[1:], day.location.room, strict=True):
        assert page.words.startswith(room.name)


@pytest.mark.parametrize("paper", SIZES)
def test_a_page_a_room_where_a_setup_is_left_out(crowded: Plan, paper: str) -> None:
    """Then its flags are spare as well: what no page has room to draw is told in words."""
    assert crowded.ordered is not None
    assert [one.name for one in crowded.ordered.best.dropped] == ["last coffee"]
    _, *rooms = [one.words for one in pages(crowded, paper)]
    assert len(rooms) == len(crowded.location.room)
    for page, room in zip(rooms, crowded.location.room, strict=True):
        assert page.startswith(room.name)
        mine = [one for one in resolve(crowded.location) if one.room == room.name]
        mine.sort(key=lambda one: one.name == "last coffee")
        for one in sheet._flags(crowded, mine):
            width, height = one.position.stock_m
            assert f"{one.name} {one.option.name}" in page
            assert f"{width:.2f} × {height:.2f} m, of which" in page


@pytest.fixture(scope="module")
def busy(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    """The lock-keeper's house, six setups in its three rooms, four of them in the kitchen."""
    return plan(bench.six_setups(tmp_path_factory.mktemp("busy")), date(2027, 3, 20))


@pytest.mark.parametrize("paper", SIZES)
def test_a_page_a_room_of_many_setups(busy: Plan, paper: str) -> None:
    """What does not fit otherwise is set smaller, by a third at most; nothing is left out."""
    found = pages(busy, paper)
    assert len(found) == 1 + len(busy.location.room)
    assert busy.pack is not None
    assert len(resolve(busy.location)) == 6
    for page, room in zip(found[1:], busy.location.room, strict=True):
        text = page.words
        assert text.startswith(room.name)
        for slot in busy.pack.running.slots:
            if slot.setup.room == room.name:
                assert slot.setup.name in text
                assert all(job.words in text for job in slot.needs.jobs)
        assert min(size for _, _, size in page.pieces) >= 5.85 - 1e-3


def test_feet_are_on_letter_paper(day: Plan) -> None:
    width = float(pages(day)[0].page.mediabox.width)
    usual = "letter" if day.location.site.units == "ft" else "a4"
    assert width == pytest.approx(SIZES[usual][0], abs=0.01)


def test_setups_with_their_times(day: Plan, told: list[str]) -> None:
    zone = ZoneInfo(day.location.timezone)
    names = [one.name for one in day.location.room]
    assert day.pack is not None
    slots = day.pack.running.slots
    assert slots
    for slot in slots:
        first, last = (f"{datetime.fromtimestamp(at, zone):%H:%M}" for at in slot.shoot_s)
        page = told[1 + names.index(slot.setup.room)]
        for text in (told[0], page):
            assert f"{first} – {last} {slot.setup.name}" in text
        for job in slot.needs.jobs:
            assert job.words in page
    assert day.ordered is not None
    for setup in day.ordered.best.dropped:
        assert f"DOES NOT FIT: {setup.name}" in told[0]
        assert f"{setup.name} does not fit this day" in told[1 + names.index(setup.room)]


def sizes(name: str, units: str) -> set[str]:
    """A flag's size by its name in the trade, 24x36 in inches and 4x4 in feet; either way round."""
    match = re.match(r"(\d+)x(\d+) ", name)
    assert match is not None
    inches = [int(one) * (12 if int(one) < 12 else 1) for one in match.groups()]
    sides = [
        f"{one // 12}'{one % 12}\"" if units == "ft" else f"{one * INCH_M:.2f}" for one in inches
    ]
    end = "" if units == "ft" else " m"
    return {f"{a} × {b}{end}" for a, b in (sides, sides[::-1])}


def test_windows_are_read_while_it_is_shot(day: Plan) -> None:
    """At the worst of that time: nothing of it is farther from the wanted band."""
    assert day.pack is not None
    setups = {one["name"]: one for room in figures(day)["rooms"] for one in room["setups"]}
    slots = {one.setup.name: one for one in day.pack.running.slots}
    zone, read_ = ZoneInfo(day.location.timezone), 0
    for gap in day.gaps_by_step:
        told = setups[gap.setup.name]["gap"]
        if told is None:
            continue
        first, last = slots[gap.setup.name].shoot_s
        for row in told["rows"]:
            seen = {
                f"{datetime.fromtimestamp(at.sky.unix_s, zone):%H:%M}": one
                for at in gap.times
                if at.sky.name == row["sky"] and first <= at.sky.unix_s <= last
                for one in at.openings
                if one.opening == row["name"]
            }
            worst = seen[row["time"]]
            figure = f"{abs(worst.stops):.1f}"
            side = "over" if worst.stops > 0 else "under"
            said = "even" if figure == "0.0" else f"{figure} {side}"
            assert row["stops"] == said
            off = [
                (one.treatment.sun_in_frame, one.lose_stops, one.raise_stops)
                for one in seen.values()
            ]
            assert (worst.treatment.sun_in_frame, worst.lose_stops, worst.raise_stops) == max(off)
            read_ += 1
    assert read_


def test_every_flag_with_its_size(day: Plan, told: list[str]) -> None:
    names = [one.name for one in day.location.room]
    count = 0
    for one in day.flags:
        page = told[1 + names.index(one.setup.room)]
        for option in one.taken:
            assert f"{option.name} " in page
            assert len(option.flags) == 1
            assert any(size in page for size in sizes(option.name, day.location.site.units))
            count += 1
    assert count > 0


def test_no_place_of_a_flag_is_left_out(day: Plan) -> None:
    """However often it moves."""
    option = next(option for flags in day.flags for option in flags.taken)
    often = replace(option, positions=option.positions[:1] * 30)
    told = SimpleNamespace(
        slots={},
        location=day.location,
        flags_of=lambda _: SimpleNamespace(taken=[often]),
    )
    names = [flag.name for flag in sheet._flags(told, day.setups[:1])]  # type: ignore[arg-type]
    assert len(set(names)) == len(names) == 30
    assert names[:2] == ["F1a", "F1b"]


def test_no_alarm_for_sun_at_another_hour(tmp_path: Path) -> None:
    """The kit has no flag for the noon's sun on the mark; shot in the evening it wants none."""
    raw = places.bare()
    raw["setup"][0] |= {"plays": "day", "minutes": 15, "start": "18:15", "kit": "none"}
    raw["setup"][0]["camera"] |= {"at": [2.0, 0.3], "toward": [2.0, 2.9]}
    shelf = tmp_path / "shared" / "kits"
    shelf.mkdir(parents=True)
    (shelf / "none.toml").write_text('name = "none"\n', encoding="utf-8")
    found = plan(places.made(raw, tmp_path), date(2027, 3, 20))
    assert found.flags[0].unmet == ("window",)
    (room,) = sheet.figures(found)["rooms"]
    assert [one["time"] for one in room["setups"]] == ["18:15 – 18:30"]
    assert room["unmet"] == []
    assert not any("sun" in line for line in room["setups"][0]["lacks"])


def test_a_room_s_cut_list_has_no_other_room_s_pieces(day: Plan) -> None:
    """Not even where the other's name begins with its own name and a colon."""
    assert day.pack is not None
    kitchen = day.location.room[0].model_copy(update={"name": "kitchen"})
    treated = day.pack.running.slots[0].needs.treated.openings[0]
    names = kitchen.name, f"{kitchen.name}: east"
    material = day.pack.takeoff.materials[0]
    pieces = tuple(gel_piece(name, treated, 1) for name in names)
    (line,) = sheet._cut([replace(material, pieces=pieces)], kitchen)
    assert line.render("m").startswith(f"{material.stock.name}: {treated.opening.name} ")
    assert "east" not in line.render("m")


def test_care_on_every_page(day: Plan, told: list[str]) -> None:
    cover, *rooms = told
    assert all("Never look at the sun" in page for page in told)
    names = [one.name for one in day.location.room]
    assert day.pack is not None
    for slot in day.pack.running.slots:
        page = rooms[names.index(slot.setup.room)]
        for hazard in {hazard for job in slot.needs.jobs for hazard in job.hazards}:
            assert f"{hazard.capitalize()}:" in cover
            assert hazard in page


def fonts(page: pypdf.PageObject) -> Iterator[Any]:
    for one in page["/Resources"].get("/Font", {}).values():  # type: ignore[attr-defined]
        font = one.get_object()
        yield font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font


def test_fonts_are_in_the_file(day: Plan) -> None:
    found = [font for one in pages(day) for font in fonts(one.page)]
    assert found
    for font in found:
        held = set(font["/FontDescriptor"].get_object())
        assert held & {"/FontFile", "/FontFile2", "/FontFile3"}, font["/BaseFont"]
    assert any("DejaVuSans" in font["/BaseFont"] for font in found)


def test_the_same_plan_gives_the_same_file(day: Plan, tmp_path: Path) -> None:
    sheet.write(day, tmp_path / "again.pdf")
    again = (tmp_path / "again.pdf").read_bytes()
    assert again == written(day, None)
    assert b"CreationDate" not in again


def test_names_come_out_as_they_are(odd: Plan) -> None:
    cover, *rooms = (bare(one.words) for one in pages(odd))
    location = odd.location
    (room,), (setup,) = location.room, resolve(location)
    assert bare(location.site.name) in cover
    assert bare(setup.name) in cover
    everything = "".join(rooms)
    for name in (room.name, room.opening[0].name, room.mark[0].name, setup.name):
        assert bare(name) in everything


def test_rules_touch_no_text(day: Plan) -> None:
    """A rule that is as wide as a table stands two points off the letters over and below it.

    A letter of DejaVu Sans reaches up to 0.76 of its size (its font file: ascender of d, 1556 of
    2048); typst sets a line of 9 pt.
    """
    count = 0
    for page in pages(day):
        rules: list[tuple[float, float, float]] = []
        start = (0.0, 0.0)

        def seen(
            operator: bytes, operands: list[Any], matrix: list[float], _text: Any,
            rules: list[tuple[float, float, float]] = rules,
        ) -> None:  # fmt: skip
            nonlocal start
            if operator in (b"m", b"l"):
                x, y = (float(value) for value in operands)
                at = matrix[0] * x + matrix[4], matrix[3] * y + matrix[5]
                if operator == b"l" and abs(at[1] - start[1]) < 0.1 and at[0] - start[0] > 300.0:
                    rules.append((at[1], start[0], at[0]))
                start = at

        texts: list[tuple[float, float, float]] = []

        def put(
            text: str, matrix: list[float], place: list[float], _font: Any, size: float,
            texts: list[tuple[float, float, float]] = texts,
        ) -> None:  # fmt: skip
            if text.strip():
                x, y = place[4], place[5]
                texts.append(
                    (matrix[0] * x + matrix[4], matrix[3] * y + matrix[5], abs(matrix[0]) * size)
                )

        page.page.extract_text(visitor_operand_before=seen, visitor_text=put)
        for rule, left, right in rules:
            for x, foot, size in texts:
                if left - 1.0 <= x <= right and abs(foot - rule) < 14.0:
                    count += 1
                    assert foot - rule >= 2.0 or rule - (foot + 0.76 * size) >= 2.0, (rule, foot)
    assert count > 10


def test_no_word_runs_off_the_page(odd: Plan) -> None:
    for paper in SIZES:
        for page in pages(odd, paper):
            # Half an em is less than what the sans takes on average.
            ends = [left + 0.5 * size * len(text.strip()) for text, left, size in page.pieces]
            assert max(ends) > 100
            assert max(ends) < float(page.page.mediabox.width)


def test_the_template_gives_no_warnings(odd: Plan) -> None:
    given = {**_given(figures(odd), "a4"), "ignore_system_fonts": True}
    assert typst.compile_with_warnings(FOLDER / sheet.TEMPLATE, format="pdf", **given)[1] == []


def test_type_is_no_smaller_than_nine_points(day: Plan, odd: Plan) -> None:
    """But where a page would not hold it, and then not under two thirds of that."""
    for one, least in ((day, 9.0), (odd, 5.85)):
        sizes = [size for page in pages(one) for _, _, size in page.pieces]
        assert len(sizes) > 50
        assert min(sizes) >= least - 1e-3


def test_what_is_measured_is_drawn_to_scale(day: Plan) -> None:
    """The heights of every flag, by where its elevation's floor and ceiling lie on the paper."""
    seen = 0
    for one in day.flags:
        room = day.location.room_named(one.setup.room)
        for option in one.taken:
            for position in option.positions:
                side = flag_elevation(day.location, room, one.mark, option, position)
                frame = fitted(side.scene.bounds(), 164.0, 108.0, side.margins_pt)
                shapes = {item.kind: item for item in lay_out(side.scene, frame, 9.0).items}
                section = shapes["section"].rings[0][:, 1]
                floor, per_m = section.min(), np.ptp(section) / room.height
                heights = position.hung.corners()[:, 2] - option.ground_m
                base = room.floor - option.ground_m
                flag = shapes["flag" if "flag" in shapes else "flag-veil"].rings[0][:, 1]
                ys = [floor + (float(z) - base) * per_m for z in (heights.min(), heights.max())]
                assert [flag.min(), flag.max()] == pytest.approx(ys, abs=0.01)
                seen += 1
    assert seen > 0


def test_an_elevation_is_square_to_the_flag() -> None:
    mark = Mark(name="a", at=(1.0, 1.0), height=(1.0, 1.5))
    north, up = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])
    upright = Screen(np.array([2.0, 1.5, 1.2]), north, up, (0.6, 0.9))
    assert sideways(mark, upright) == pytest.approx([1.0, 0.0])
    level = Screen(np.array([1.0, 3.0, 2.0]), np.array([1.0, 0.0, 0.0]), north, (0.6, 0.9))
    assert abs(sideways(mark, level)) == pytest.approx([0.0, 1.0])
