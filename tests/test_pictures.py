"""Pictures: what they show is what was computed, and every text can be read.

Texts are measured by matplotlib's own extents, contrast on the rendered picture.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from datetime import date
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from demos import JUNE, MARCH, NAMES, planned
from matplotlib import rc_context
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.text import Text

from sunplan.draw import daystrip, gapchart, hourmap, patches, rooms, signs, skydome
from sunplan.draw import entry as entry_drawing
from sunplan.draw import flags as flags_drawing
from sunplan.draw.axes import RAMP_HOURS, RAMP_STOPS, labels_on, put
from sunplan.draw.labels import Label
from sunplan.draw.letters import extent_pt
from sunplan.draw.panels import page, panel
from sunplan.light.daylight import Weather, skies_by_weather
from sunplan.light.resolved import resolve
from sunplan.location.lengths import FOOT_M
from sunplan.location.read import Location
from sunplan.rig.gap import gaps
from sunplan.room.camera import aim_point
from sunplan.room.sky_dome import STEP_DEG, sky_dome, sun_path, sun_paths
from sunplan.write.pictures import save

ROOT = Path(__file__).parent.parent
TOUCH_PX = 0.5  # of overlap at 150 dots an inch: the edge of two letters' smoothing
UNITS = re.compile(r", (m|ft|h)$|^stops over mid-grey$|^date$|°")


def figures(name: str, day: date) -> Iterator[tuple[str, Figure]]:
    """Every picture of a demo and a date; that of `entry` has the strip and all rooms in one."""
    made = planned(name, day)
    place, found = made.location, made.entries
    if day == JUNE:
        yield "entry", entry_drawing.figure_of_entry(place, found, made.patches)
    for room in place.room:
        if day == MARCH:
            seen = made.patches[room.name]
            yield room.name, patches.figure_of_patches(place, room, found, seen)
        for mark in room.mark:
            above, ways = sky_dome(place, room, mark), sun_paths(place, day)
            yield mark.name, skydome.figure_of_dome(place, found, above, ways)
    gap = gapchart.figure_of_gap(place, day, found.sun, resolve(place), made.courses, made.fits)
    yield "gap", gap
    yield "flags", flags_drawing.figure_of_flags(place, day, made.flags)
    if day == MARCH:
        yield "rooms", rooms.figure_of_rooms(place)
        yield "day", daystrip.figure_of_day(place, found)
        yield "narrow", daystrip.figure_of_day(place, found, width_in=7.0)


def texts(figure: Figure) -> list[Text]:
    """All texts that are drawn: ticks and names of matplotlib's own axes are not."""
    hidden = {
        id(one)
        for axes in figure.axes
        if not axes.axison
        for axis in (axes.xaxis, axes.yaxis)
        for one in axis.findobj(Text)
    }
    return [
        one
        for one in figure.findobj(Text)
        if one.get_visible() and one.get_text().strip() and id(one) not in hidden
    ]


def faults(figure: Figure) -> list[str]:
    """Texts that lie on each other or beyond the picture's edge."""
    figure.set_dpi(150)
    with rc_context({"text.hinting": "none"}):
        figure.draw_without_rendering()
        renderer = figure.canvas.get_renderer()
        boxes = [(one.get_text(), one.get_window_extent(renderer)) for one in texts(figure)]
    page_box, found = figure.bbox, []
    for index, (name, box) in enumerate(boxes):
        if not (page_box.x0 <= box.x0 and box.x1 <= page_box.x1):
            found.append(f"{name!r} beyond the left or right edge")
        if not (page_box.y0 <= box.y0 and box.y1 <= page_box.y1):
            found.append(f"{name!r} beyond the lower or upper edge")
        for other, beside in boxes[index + 1 :]:
            wide = min(box.x1, beside.x1) - max(box.x0, beside.x0)
            high = min(box.y1, beside.y1) - max(box.y0, beside.y0)
            if min(wide, high) > TOUCH_PX:
                found.append(f"{name!r} on {other!r}")
    return found


def units_lacking(figure: Figure) -> list[str]:
    """Panels whose edges do not say what they measure, and in what."""
    drawn = {one.get_text() for one in texts(figure)}
    lacking = []
    for axes in figure.axes:
        round_one = axes.get_xlim() == axes.get_ylim()  # the dome has one text for all round it
        names = [axes.get_xlabel()] if round_one else [axes.get_xlabel(), axes.get_ylabel()]
        if axes.yaxis_inverted() and not axes.get_ylabel():
            names = names[:1]  # a strip: its rows are names, no measure
        lacking += [one for one in names if one not in drawn or not UNITS.search(one)]
    return lacking


@pytest.mark.parametrize("day", [MARCH, JUNE], ids=str)
@pytest.mark.parametrize("name", NAMES)
def test_every_text_can_be_read_and_every_axis_has_a_unit(name: str, day: date) -> None:
    found, checked = {}, 0
    for what, figure in figures(name, day):
        wrong = faults(figure) + [f"no unit: {one!r}" for one in units_lacking(figure)]
        checked += len(texts(figure))
        if day == MARCH:
            wrong += [f"{one!r} stands out too little" for one in weak(figure)]
        if wrong:
            found[what] = wrong
    assert not found
    assert checked > 200


def test_a_planted_fault_is_found() -> None:
    """The checks above see a collision, a text over the edge and a missing unit."""
    made = planned("lock-house", MARCH)
    figure = daystrip.figure_of_day(made.location, made.entries)
    assert not faults(figure)
    assert not units_lacking(figure)
    one, other = (text for text in texts(figure) if text.get_text() in ("09:08", "09:38"))
    assert not weak(figure)
    other.set_position(one.get_position())
    assert faults(figure) == ["'09:08' on '09:38'"]
    one.set_alpha(1.0)
    one.set_color(signs.SUN_PALE)
    assert weak(figure) == ["09:08"]
    other.set_position((other.get_position()[0] + 90000.0, 3.0))
    assert any("beyond the left or right edge" in wrong for wrong in faults(figure))
    figure.axes[0].set_xlabel("clock")
    assert units_lacking(figure) == ["clock"]


def test_hours_by_date() -> None:
    """The year's picture, too, for two spans."""
    from datetime import time

    from sunplan.day.hours import hours

    place = planned("gate-house", MARCH).location
    weathers = Weather("clear"), Weather("overcast")
    for last in (date(2027, 3, 20), date(2027, 3, 21)):
        span = (MARCH, last)
        found = hours(
            place,
            resolve(place)[:2],
            *span,
            between=(time(12), time(19)),
            weathers=weathers,
            best=1,
        )
        figure = hourmap.figure_of_hours(place, span, found, "clear")
        assert not faults(figure)
        assert not units_lacking(figure)


def luminance(colour: np.ndarray) -> np.ndarray:
    """Relative luminance of sRGB (..., 3) from 0 to 1: WCAG 2.2, definition."""
    line = np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)
    return line @ [0.2126, 0.7152, 0.0722]


def contrast(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Contrast ratio of two luminances: WCAG 2.2, definition."""
    return (np.maximum(one, other) + 0.05) / (np.minimum(one, other) + 0.05)


def lightness(colour: object) -> float:
    """CIE L* of an sRGB colour: CIE 15:2018, eq. 8.1, white at 1."""
    share = float(luminance(np.array(to_rgb(colour))))
    return 116.0 * share ** (1 / 3) - 16.0 if share > (6 / 29) ** 3 else share * (29 / 3) ** 3


def weak(figure: Figure) -> list[str]:
    """Texts that stand out by less than 4.5 : 1 (WCAG 2.2, 1.4.3) from what is drawn below them.

    Lines and signs may cross a fifth of a text's box. Its letters are made clear for it.
    """
    figure.set_dpi(72)
    every = texts(figure)
    colours = [luminance(np.array(to_rgb(one.get_color()))) for one in every]
    for one in every:
        one.set_alpha(0.0)
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()
    boxes = [one.get_window_extent(renderer) for one in every]
    image = np.asarray(figure.canvas.buffer_rgba())[::-1, :, :3] / 255.0
    found = []
    for text, colour, box in zip(every, colours, boxes, strict=True):
        rows = slice(int(box.y0), math.ceil(box.y1))
        under = luminance(image[rows, int(box.x0) : math.ceil(box.x1)])
        if np.quantile(contrast(colour, under), 0.2) < 4.5:
            found.append(text.get_text())
    return found


def test_colours_differ_in_grey() -> None:
    """What is told apart by colour alone differs in lightness; ramps only fall."""
    pairs = [
        (signs.SUN, signs.TOUCH),
        (signs.SUN, signs.SUN_PALE),
        (signs.TOUCH, signs.TOUCH_PALE),
        (signs.SUN, signs.TWILIGHT[0]),
        (signs.PICTURE["wall"], signs.FLOOR),
        (signs.PICTURE["flag"], signs.FLOOR),
        (signs.PICTURE["flag"], signs.SUN_PALE),
        (signs.SKYLINE, signs.BLOCK),
        (signs.TOUCH, signs.SEEN),
        (signs.SUN, signs.SEEN),
    ]
    for one, other in pairs:
        assert abs(lightness(one) - lightness(other)) > 10.0, (one, other)
    down = [lightness(one) for one in signs.TWILIGHT]
    assert all(a - b > 4.0 for a, b in pairwise(down))
    for ramp in (RAMP_HOURS, RAMP_STOPS):
        steps = [lightness(ramp(share)) for share in np.linspace(0.0, 1.0, 9)]
        assert all(a - b > 4.0 for a, b in pairwise(steps))
    assert len(set(map(str, signs.DASHES))) == len(signs.DASHES)
    assert len(set(signs.MARKERS)) == len(signs.MARKERS) == len(signs.LEVELS)


def test_crowded_names_stay_apart() -> None:
    """Fourteen names of one spot, by matplotlib's own extents."""
    with rc_context(signs.STYLE):
        figure = page(5.0, 4.0)
        axes = panel(figure, 0.1, 0.1, 4.8, 3.8)
        axes.axison = False
        labels = labels_on(axes)
        labels.avoid([(0.0, 0.5), (1.0, 0.5)])
        for count in range(14):
            labels.add(Label(f"name {count}\nof many", (0.5, 0.5)))
        put(axes, labels)
    assert not faults(figure)
    assert len(axes.lines) > 8  # those that are farther off have a line to their spot


def test_a_name_stands_nearest_to_what_it_names() -> None:
    """A name that must go aside, best to where another thing is."""
    with rc_context(signs.STYLE):
        figure = page(5.0, 4.0)
        axes = panel(figure, 0.1, 0.1, 4.8, 3.8)
        axes.set_xlim(0.0, axes.bbox.width)
        axes.set_ylim(0.0, axes.bbox.height)
        labels = labels_on(axes)
        box = np.array([[-18, -25], [18, -25], [18, 25], [-18, 25], [-18, -25]], dtype=float)
        at, beside = np.array([150.0, 130.0]), np.array([230.0, 145.0])
        rims = {"roof window": box + at, "armchair": box / 2 + beside}
        for grown in np.linspace(1.0, 1.8, 5):
            labels.avoid(box * grown + at, cost=20.0)
        labels.avoid(rims["armchair"], cost=20.0)
        for name, rim in rims.items():
            labels.add(Label(name, rim[:-1].mean(axis=0), away_pt=0.0, thing=rim))
        put(axes, labels)
    renderer = figure.canvas.get_renderer()
    for text in axes.texts:
        extent = text.get_window_extent(renderer).transformed(axes.transData.inverted())
        box = shapely.box(*extent.extents)
        off = {name: box.distance(shapely.LineString(rim)) for name, rim in rims.items()}
        assert min(off, key=lambda one: off[one]) == text.get_text()


def test_a_camera_points_where_it_looks() -> None:
    """Its sign's point lies ahead of the rest, where the lens is, and it is longer than broad."""
    place = planned("lock-house", MARCH).location
    axes = rooms.figure_of_rooms(place).axes[0]
    (setup,) = (one for one in resolve(place) if one.room == place.room[0].name)
    (sign,) = (one for one in axes.patches if one.get_gid() == "camera")
    at, looked_at = np.array(setup.camera.at), np.array(aim_point(place.room[0], setup)[:2])
    sun_path = (looked_at - at) / math.dist(looked_at, at)
    corners = sign.get_path().vertices
    ahead = corners @ sun_path
    assert np.allclose(corners[np.argmax(ahead)], at)
    assert np.ptp(ahead) > 1.4 * np.ptp(corners @ [-sun_path[1], sun_path[0]])


@pytest.mark.parametrize("text", ["12:30", "at the gauge", "camera:\nlast coffee", '½" and 1\'0"'])
def test_a_text_is_as_large_as_it_is_measured(text: str) -> None:
    """Sizes that texts are set by hold what matplotlib then draws, and not much more."""
    figure = page(4.0, 4.0)
    with rc_context({**signs.STYLE}):
        made = figure.text(0.5, 0.5, text, fontsize=8.5, linespacing=1.25)
        box = made.get_window_extent(figure.canvas.get_renderer())
    wide, high = extent_pt(text, 8.5)
    assert box.width <= wide <= box.width * 1.05 + 1.0
    assert box.height - 0.1 <= high <= box.height * 1.02


@pytest.mark.parametrize("name", NAMES)
def test_patches_lie_where_they_were_computed(name: str) -> None:
    made = planned(name, MARCH)
    place = made.location
    unit_m = FOOT_M if place.site.units == "ft" else 1.0
    shown = 0
    for room in place.room:
        seen = made.patches[room.name]
        plan_axes = patches.figure_of_patches(place, room, made.entries, seen).axes[0]
        drawn = [one.get_path().vertices * unit_m for one in plan_axes.patches if _is_patch(one)]
        floor = [p.shape for look in seen for p in look.patches if p.surface == "floor"]
        assert len(drawn) == len(floor)
        for ring, shape in zip(drawn, floor, strict=True):
            assert np.allclose(ring.min(axis=0), shape.bounds[:2], atol=1e-9)
            assert np.allclose(ring.max(axis=0), shape.bounds[2:], atol=1e-9)
        assert plan_axes.get_xlabel() == f"x, {place.site.units}"
        shown += len(floor)
    assert shown


def _is_patch(artist: object) -> bool:
    """Only patches of sun are drawn this see-through."""
    return isinstance(artist, PathPatch) and artist.get_facecolor()[3] == pytest.approx(
        patches.SHEER
    )


@pytest.mark.parametrize("name", NAMES)
def test_bars_of_the_day(name: str) -> None:
    """Solid bars cover each stretch from its first to its last moment, and nothing else."""
    made = planned(name, MARCH)
    (axes,) = daystrip.figure_of_day(made.location, made.entries).axes
    solid = [to_rgb(signs.SUN), to_rgb(signs.TOUCH)]
    bars = sorted(
        (one.get_x(), one.get_x() + one.get_width())
        for one in axes.patches
        if isinstance(one, Rectangle) and one.get_facecolor()[:3] in solid
    )
    openings = [(s.start_s, s.end_s) for one in made.entries.openings for s in one.intervals]
    moments = [bar for bar in bars if any(np.allclose(bar, one) for one in openings)]
    assert len(moments) >= len(openings)
    for mark in made.entries.marks:
        for span in mark.intervals:
            assert any(low <= span.start_s and span.end_s <= high for low, high in bars)
    names = {text.get_text() for text in axes.figure.texts}
    for room in made.location.room:
        assert {one.name for one in room.opening} <= names
        assert {f"on the mark: {one.name}" for one in room.mark} <= names


@pytest.mark.parametrize("name", NAMES)
def test_levels_drawn_are_those_of_gap(name: str) -> None:
    """At moments of the line `gap` tells the same stops."""
    made = planned(name, MARCH)
    place = made.location
    assert made.courses
    moments = made.courses[0].moments[30:60:15]
    told = gaps(
        place, resolve(place), skies_by_weather(place, moments.tolist(), [Weather("clear")])
    )
    checked = 0
    for one in made.courses:
        if one.sky != "clear":
            continue
        mine = next(each for each in told if each.setup.name == one.setup.name)
        for moment, at in zip(moments, mine.times, strict=True):
            window = next(each for each in at.openings if each.opening == one.opening)
            assert window.stops == pytest.approx(one.stops[one.moments == moment][0], abs=1e-6)
            checked += 1
    assert checked


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("day", [MARCH, JUNE], ids=str)
def test_the_sky_over_a_mark_agrees_with_entry(name: str, day: date) -> None:
    """Where the sun's way runs through an opening's part of the sky, `entry` has it on the mark."""
    made = planned(name, day)
    place = made.location
    track = sun_path(place, day)
    inside = 0
    for room in place.room:
        for mark in room.mark:
            above = sky_dome(place, room, mark)
            cells = np.rint((track.points - above.grid[0]) / STEP_DEG).astype(int)
            for opening, holds in above.reached_through.items():
                spans = [
                    (span.start_s, span.end_s)
                    for one in made.entries.marks
                    if (one.room, one.mark, one.opening) == (room.name, mark.name, opening)
                    for span in one.intervals
                ]
                for moment, (i, j) in zip(track.moments, cells, strict=True):
                    ends = [abs(moment - end) for span in spans for end in span]
                    if min(ends, default=1e9) < 420.0:  # the sun moves half a place in 90 s or more
                        continue
                    on_it = any(start < moment < end for start, end in spans)
                    if on_it:
                        assert holds[j, i]
                        inside += 1
                    elif holds[j, i]:
                        near = holds[j - 1 : j + 2, i - 1 : i + 2]
                        assert not near.all(), (mark.name, opening, moment)
    assert inside or (name, day) == ("gate-house", JUNE)


@pytest.mark.parametrize("name", NAMES)
def test_flags_are_drawn_where_they_hang(name: str) -> None:
    """Every flag's outline on its plan, in the file's units, and its measures told."""
    made = planned(name, MARCH)
    place = made.location
    unit_m = FOOT_M if place.site.units == "ft" else 1.0
    figure = flags_drawing.figure_of_flags(place, MARCH, made.flags)
    plans = figure.axes[::2]
    taken = [
        position for one in made.flags for option in one.taken for position in option.positions
    ]
    assert len(plans) == len(taken)
    for axes, position in zip(plans, taken, strict=True):
        black = [one for one in axes.patches if _is_flag(one)]
        assert len(black) == len(position.pieces)
        for drawn, piece in zip(black, position.pieces, strict=True):
            assert np.allclose(
                drawn.get_path().vertices[:4] * unit_m, piece.corners()[:, :2], atol=1e-9
            )


def _is_flag(artist: object) -> bool:
    return isinstance(artist, PathPatch) and artist.get_edgecolor()[:3] == to_rgb(
        signs.PICTURE["flag"]
    )


def test_every_sign_of_a_level_is_in_the_legend() -> None:
    """With the name of its window; a window that is alone in its panel needs none."""
    made = planned("gate-house", MARCH)
    place, sun = made.location, made.entries.sun
    figure = gapchart.figure_of_gap(place, MARCH, sun, resolve(place), made.courses, made.fits)
    told = {(one.get_marker(), one.get_label()) for one in figure.legends[0].legend_handles
            if isinstance(one, Line2D)}  # fmt: skip
    drawn = set()
    for axes in figure.axes:
        levels = [line for line in axes.lines if len(line.get_xdata()) > 20]
        signs = {line.get_marker() for line in levels} - {"", "None"}
        assert len(signs) != 1
        drawn |= signs
    assert drawn
    assert drawn <= {sign for sign, _ in told}
    named = {one.opening for one in made.courses}
    for sign, label in told:
        assert sign not in drawn or set(label.split(", ")) <= named


def test_a_setup_outdoors_stands_on_the_site() -> None:
    place = planned("lock-house", MARCH).location
    figure = rooms.figure_of_rooms(place)
    site = figure.axes[-1]
    (setup,) = place.exterior
    assert setup.name in {one.get_text() for one in site.texts}
    (dot,) = (one.get_path() for one in site.patches if one.get_gid() == "subject")
    assert np.allclose(dot.get_extents().get_points().mean(axis=0), setup.at)


@pytest.mark.parametrize("letters", ["text", "outlines"])
def test_svg(tmp_path: Path, letters: str) -> None:
    """A vector drawing, the same bytes each time, its letters as asked for."""
    one, two = tmp_path / "one.svg", tmp_path / "two.svg"
    for path in (one, two):
        save(rooms.figure_of_rooms(_named_oddly()), path, letters=letters)
    assert ET.parse(one).getroot().tag.endswith("svg")
    assert one.read_bytes() == two.read_bytes()
    assert ("gate$room$" in one.read_text(encoding="utf-8").replace("<!-- gate$room$ -->", "")) == (
        letters == "text"
    )


def _named_oddly() -> Location:
    """A demo with a name that would be a formula if names were read as such."""
    place = planned("lock-house", MARCH).location
    first = place.room[0].model_copy(update={"name": "gate$room$"})
    setups = tuple(
        setup.model_copy(update={"room": first.name}) if setup.room == place.room[0].name else setup
        for setup in place.setup
    )
    return place.model_copy(update={"room": (first, *place.room[1:]), "setup": setups})
