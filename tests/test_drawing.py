"""Drawings: what they show is what was computed, in the file's own units."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle

from sunplan.location.lengths import FOOT_M
from sunplan.location.read import read
from sunplan.room.entry import day_entries
from sunplan.room.hourly import looks
from sunplan.show import drawing

ROOT = Path(__file__).parent.parent
DEMOS = sorted((ROOT / "locations").glob("*.toml"))
DAY = date(2027, 2, 13)


@pytest.mark.parametrize("file", DEMOS, ids=lambda path: path.stem)
def test_patches_lie_where_they_were_computed(file: Path) -> None:
    location = read(file)
    unit_m = FOOT_M if location.site.units == "ft" else 1.0
    day = day_entries(location, DAY)
    shown = 0
    for room in location.room:
        seen = looks(location, room, day)
        axes = Figure().add_subplot()
        drawing.draw_plan(axes, location, room, seen=seen)
        drawn = [one.get_path().vertices * unit_m for one in axes.patches if _is_patch(one)]
        floor = [p.shape for look in seen for p in look.patches if p.surface == "floor"]
        assert len(drawn) == len(floor)
        for ring, shape in zip(drawn, floor, strict=True):
            assert np.allclose(ring.min(axis=0), shape.bounds[:2], atol=1e-9)
            assert np.allclose(ring.max(axis=0), shape.bounds[2:], atol=1e-9)
        assert axes.get_xlabel() == f"{location.site.units}, plan"
        shown += len(floor)
    assert shown


def _is_patch(artist: object) -> bool:
    """Only patches of sun are drawn this see-through."""
    return isinstance(artist, PathPatch) and artist.get_facecolor()[3] == pytest.approx(0.35)


@pytest.mark.parametrize("file", DEMOS, ids=lambda path: path.stem)
def test_bars_of_the_day(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One solid bar a stretch, from its first to its last moment, and all text within the page."""
    location = read(file)
    day = day_entries(location, DAY)
    kept: list[Figure] = []
    monkeypatch.setattr(drawing, "save", lambda figure, _: kept.append(figure))
    drawing.draw_day(location, day, tmp_path / "day.png")
    (axes,) = kept[0].axes
    bars = [
        (bar.get_x(), bar.get_x() + bar.get_width())
        for bar in axes.patches
        if isinstance(bar, Rectangle) and bar.get_alpha() is None and bar.get_height() < 1
    ]
    stretches = [s for one in (*day.openings, *day.marks) for s in one.stretches]
    expected = sorted((s.start_s, s.end_s) for s in stretches)
    assert np.allclose(sorted(bars), expected)
    assert len(axes.get_yticklabels()) == sum(
        len(room.opening) + len(room.mark) for room in location.room
    )


@pytest.mark.parametrize("file", DEMOS, ids=lambda path: path.stem)
def test_no_text_covers_another(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the plan of every room all texts are apart and inside the picture."""
    figures: list[Figure] = []
    original = Figure.savefig

    def keep(self: Figure, *args: object, **keys: object) -> None:
        figures.append(self)
        original(self, *args, **keys)

    monkeypatch.setattr(Figure, "savefig", keep)
    drawing.draw_rooms(read(file), tmp_path / "rooms.png")
    (figure,) = figures
    page, renderer = figure.bbox, FigureCanvasAgg(figure).get_renderer()
    checked = 0
    for axes in figure.axes:
        boxes = [
            (text.get_text(), text.get_window_extent(renderer))
            for text in axes.texts
            if text.get_text().strip()
        ]
        for index, (name, box) in enumerate(boxes):
            assert page.x0 <= box.x0 < box.x1 <= page.x1, name
            assert page.y0 <= box.y0 < box.y1 <= page.y1, name
            for other, beside in boxes[index + 1 :]:
                apart = (
                    box.x1 <= beside.x0 + 1
                    or beside.x1 <= box.x0 + 1
                    or box.y1 <= beside.y0 + 1
                    or beside.y1 <= box.y0 + 1
                )
                assert apart, (name, other)
                checked += 1
    assert checked


def test_svg(tmp_path: Path) -> None:
    """A vector drawing, the same bytes each time."""
    one, two = tmp_path / "one.svg", tmp_path / "two.svg"
    for path in (one, two):
        drawing.draw_rooms(read(DEMOS[0]), path)
    assert ET.parse(one).getroot().tag.endswith("svg")
    assert one.read_bytes() == two.read_bytes()
