"""One drawing for page, sheet, form and pictures: the same primitives, and labels that stay apart.

Boxes of labels are measured on demos and on seeded random rooms; that they hold what is drawn is
measured by matplotlib's own extents in `test_pictures.py`.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from datetime import date
from functools import cache
from itertools import combinations
from pathlib import Path

import numpy as np
import places
import pytest
import shapely

from sunplan.day.plan import Plan, plan
from sunplan.draw import axes as on_axes
from sunplan.draw import paper
from sunplan.draw.elevation import flag_elevation
from sunplan.draw.labels import Label, Labels
from sunplan.draw.layout import Drawing, fitted, lay_out
from sunplan.draw.panels import page, panel
from sunplan.draw.primitives import Scene, Shape
from sunplan.draw.scene import Hanging, flag_scene, named, numbers_of, room_scene
from sunplan.draw.signs import PRINT, SIGNS, STYLES, TEXTS
from sunplan.draw.site import site_scene
from sunplan.draw.svg import svg
from sunplan.light.resolved import resolve
from sunplan.location.lengths import unit_m
from sunplan.location.read import Location, read
from sunplan.write.page import scene as page_scene

LOCATIONS = Path(__file__).parent.parent / "locations"
DEMOS = ["lock-house", "ferry-shop", "gate-house"]
DAY = date(2027, 3, 20)
# Width and most height, margins, and size of letters: a sheet's room and flag, a form's room, a
# picture's panel, the page on a telephone and on more.
SIZES = {
    "sheet": (250.0, 165.0, 30.0, 9.0),
    "flag": (164.0, 108.0, 20.0, 9.0),
    "form": (125.0, 110.0, 19.0, 8.5),
    "picture": (310.0, 270.0, 45.0, 8.5),
    "telephone": (*page_scene.SIZES_PX[0], 28.0, 13.0),
    "page": (*page_scene.SIZES_PX[1], 28.0, 13.0),
}


@cache
def planned(name: str) -> Plan:
    return plan(read(LOCATIONS / f"{name}.toml"), DAY)


def laid_out(scene: Scene, size: str, plan_up_deg: float | None = 12.0) -> Drawing:
    width, most, margin, letters = SIZES[size]
    frame = fitted(scene.bounds(), width, most, (margin,) * 4)
    return lay_out(scene, frame, letters, plan_up_deg=plan_up_deg)


def faults(drawing: Drawing) -> list[str]:
    """Labels that overlap, or leave the drawing."""
    frame, boxes = drawing.frame, [(text.text, text.box) for text in drawing.texts]
    wrong = [
        f"{text!r} leaves the drawing"
        for text, (left, low, right, high) in boxes
        if min(left, low) < 0 or right > frame.width_pt or high > frame.height_pt
    ]
    for (text, one), (other, two) in combinations(boxes, 2):
        wide = min(one[2], two[2]) - max(one[0], two[0])
        high = min(one[3], two[3]) - max(one[1], two[1])
        if min(wide, high) > 1e-6:
            wrong.append(f"{text!r} on {other!r}")
    return wrong


def demo_scenes(name: str) -> dict[str, tuple[Scene, list[str]]]:
    """Every plan and elevation of a demo, with the sizes at which it is drawn."""
    made = planned(name)
    location = made.location
    scenes: dict[str, tuple[Scene, list[str]]] = {"site": (site_scene(location), ["picture"])}
    for room in location.room:
        standing = [named(setup) for setup in resolve(location) if setup.room == room.name]
        flags = [
            Hanging(f"F{count}", position)
            for count, (option, position) in enumerate(
                (option, position)
                for one in made.flags
                if one.setup.room == room.name
                for option in one.taken
                for position in option.positions
            )
        ]
        numbers = numbers_of(room)
        named_scene = room_scene(location, room, standing=standing)
        scenes[room.name] = named_scene, ["picture"]
        full = room_scene(location, room, numbers=numbers, standing=standing, hanging=flags)
        scenes[f"{room.name}, by number"] = full, ["sheet", "page"]
        bare = room_scene(location, room, numbers=numbers, marks=(), practicals=False)
        scenes[f"{room.name}, bare"] = bare, ["form", "flag", "telephone"]
    for one in made.flags:
        room = location.room_named(one.setup.room)
        for option in one.taken:
            for index, position in enumerate(option.positions):
                what = f"{one.setup.name}, {option.name}, {option.opening} {index}"
                tape = option.measured(location, room, one.mark, position.hung)
                above = flag_scene(
                    location, room, one.mark, Hanging("F1", position), tape,
                    numbers=numbers_of(room),
                )  # fmt: skip
                scenes[f"{what}, above"] = above, ["flag"]
                side = flag_elevation(location, room, one.mark, option, position, number="2")
                scenes[f"{what}, side"] = side.scene, ["sheet"]
    return scenes


@pytest.mark.parametrize("name", DEMOS)
def test_labels_of_the_demos_stay_apart_and_inside(name: str) -> None:
    wrong, checked = {}, 0
    for what, (scene, sizes) in demo_scenes(name).items():
        for size in sizes:
            drawing = laid_out(scene, size)
            checked += len(drawing.texts)
            if found := faults(drawing):
                wrong[what, size] = found
    assert wrong == {}
    assert checked > 100


@pytest.mark.parametrize("name", DEMOS)
def test_labels_of_the_page_stay_apart_and_inside(name: str) -> None:
    """Of its own drawings, read back: with the longest texts, and all that is ever shown."""
    made = planned(name)
    subjects = [page_scene.setup(made, one) for one in made.setups]
    subjects += [page_scene.outdoors(made.location, one) for one in made.location.exterior]
    checked = 0
    for subject in subjects:
        for text in subject["drawings"]:
            root = ET.fromstring(text)
            whole = shapely.box(0, 0, *(float(root.get(key, "")) for key in ("width", "height")))
            boxes = {}
            for group in root.iter("g"):
                if group.get("class", "").startswith("label "):
                    x, y, wide, high = (
                        float(group[0].get(key, "")) for key in ("x", "y", "width", "height")
                    )
                    box = shapely.box(x, y, x + wide, y + high)
                    boxes.setdefault(group.get("data-of", ""), []).append(box)
            assert all(whole.contains(box) for some in boxes.values() for box in some)
            for unit in ("m", "ft"):  # their scales take turns
                shown = [box for of, some in boxes.items() if of != f"scale {unit}" for box in some]
                assert len(shown) == sum(map(len, boxes.values())) - 1
                assert not any(a.intersection(b).area > 0.01 for a, b in combinations(shown, 2))
            checked += len(boxes)
    assert checked > 30


def random_room(rng: np.random.Generator) -> dict[str, object]:
    """A room with a corner cut out or not, windows, a skylight, marks and lamps."""
    wide, deep = rng.uniform(2.5, 9.0, 2).round(2).tolist()
    outline = [[0.0, 0.0], [wide, 0.0], [wide, deep], [0.0, deep]]
    if rng.random() < 0.5:
        x, y = (rng.uniform(0.4, 0.8, 2) * (wide, deep)).round(2).tolist()
        outline = [[0.0, 0.0], [wide, 0.0], [wide, y], [x, y], [x, deep], [0.0, deep]]
    openings = []
    for index in range(len(outline)):
        first, second = outline[index], outline[(index + 1) % len(outline)]
        length = abs(first[0] - second[0]) + abs(first[1] - second[1])
        for count in range(int(rng.integers(0, 3)) if length > 1.6 else 0):
            openings.append(
                {
                    "name": f"window {index}{count}", "wall": "ABCDEF"[index],
                    "along": round(0.1 + count * length / 2, 3), "sill": 0.9,
                    "size": [round(length / 2 - 0.3, 3), 1.1],
                    "depth": round(float(rng.uniform(0.05, 0.4)), 2),
                }
            )  # fmt: skip
    spots = rng.uniform(0.35, min(wide, deep) * 0.4 - 0.1, (8, 2)).round(2).tolist()
    return {
        "name": "room", "outline": outline, "height": 2.5,
        "opening": [
            *openings,
            {"name": "skylight", "ceiling": True, "at": [wide * 0.2, deep * 0.2],
             "size": [0.3, 0.3], "depth": 0.3},
        ],
        "mark": [
            {"name": name, "at": spots[i], "height": [0.7, 1.5], "width": 0.5}
            for i, name in enumerate(("at the long table", "door")[: rng.integers(1, 3)])
        ],
        "practical": [
            {"name": f"wall lamp {i}", "at": spots[3 + i], "height": 1.5, "shade": [0.2, 0.2],
             "lumens": 400, "balance": 2700}
            for i in range(int(rng.integers(0, 3)))
        ],
    }  # fmt: skip


def random_location(seed: int, folder: Path) -> Location:
    raw = places.bare()
    raw["room"] = [random_room(np.random.default_rng(seed))]
    mark = raw["room"][0]["mark"][0]
    raw["setup"] = [
        raw["setup"][0] | {"name": "the long watch", "mark": mark["name"]},
    ]
    raw["setup"][0]["camera"] |= {"at": [0.15, 0.2], "toward": mark["name"]}
    return places.made(raw, folder)


@pytest.mark.parametrize("seed", range(24))
def test_labels_of_random_rooms_stay_apart_and_inside(seed: int, tmp_path: Path) -> None:
    location = random_location(seed, tmp_path)
    (room,), standing = location.room, [named(one) for one in resolve(location)]
    by_number = room_scene(location, room, numbers=numbers_of(room), standing=standing)
    by_name = room_scene(location, room, standing=standing)
    for scene, size in ((by_number, "sheet"), (by_number, "page"), (by_name, "picture")):
        drawing = laid_out(scene, size, plan_up_deg=15.0 * seed)
        assert faults(drawing) == [], size
        kinds = [text.label.kind for text in drawing.texts]
        assert kinds.count("wall") == len(room.outline)
        number = "opening" if scene is by_number else "opening name"
        assert kinds.count(number) == len(room.opening)


def test_a_planted_fault_of_labels_is_found() -> None:
    """Two labels on one spot, and one beyond the edge, are seen."""
    scene = Scene()
    scene.area("floor", [(0.0, 0.0), (3.0, 0.0), (3.0, 2.0), (0.0, 2.0)])
    scene.label("mark", "here", (1.0, 1.0))
    drawing = laid_out(scene, "form", plan_up_deg=None)
    assert faults(drawing) == []
    (here,) = drawing.texts
    object.__setattr__(drawing, "texts", (here, here))
    assert faults(drawing) == ["'here' on 'here'"]
    object.__setattr__(here, "middle", here.middle - 200.0)
    object.__setattr__(drawing, "texts", (here,))
    assert faults(drawing) == ["'here' leaves the drawing"]


def test_what_is_not_needed_is_left_out_and_nothing_else() -> None:
    """On a drawing that holds four words at most."""
    labels = Labels((0.0, 0.0, 80.0, 36.0), lambda points: points, 9.0)
    for count in range(12):
        needed = count in (5, 9)
        labels.add(Label(f"word {count}", (40.0, 18.0), needed=needed))
    texts = [placed.text for placed in labels.place()]
    assert {"word 5", "word 9"} <= set(texts)
    assert 2 <= len(texts) <= 4


def shapes(drawing: Drawing) -> list[tuple[str, list[np.ndarray]]]:
    """Kinds and corners of what is drawn, in metres."""
    frame = drawing.frame
    return [
        (item.kind, [frame.back(ring) for ring in item.rings])
        for item in drawing.items
        if isinstance(item, Shape) and item.kind not in SIGNS
    ]


def in_svg(text: str, drawing: Drawing) -> list[tuple[str, list[np.ndarray]]]:
    """The same, read back from an SVG."""
    frame, found = drawing.frame, []
    for element in ET.fromstring(text.replace('xmlns="', 'xmlns:x="')):
        if element.tag not in ("polygon", "polyline", "path"):
            continue
        kind = element.get("class", "")
        if kind in SIGNS or kind == "lead":
            continue
        rings = element.get("d", element.get("points", "")).strip("MZ").split("ZM")
        metres = []
        for ring in rings:
            flat = np.array([float(part) for part in re.findall(r"-?[\d.]+", ring)])
            points = flat.reshape(-1, 2) * [1, -1] + [0, frame.height_pt]
            metres.append(frame.back(points))
        found.append((kind, metres))
    return found


def agree(one: list[tuple[str, list[np.ndarray]]], two: list[tuple[str, list[np.ndarray]]]) -> None:
    assert [kind for kind, _ in one] == [kind for kind, _ in two]
    for (_, rings), (_, others) in zip(one, two, strict=True):
        for ring, other in zip(rings, others, strict=True):
            assert np.allclose(ring, other, atol=0.0002)  # SVGs have thousandths of a point


@pytest.mark.parametrize("name", DEMOS)
def test_page_sheet_and_picture_draw_one_scene(name: str) -> None:
    """Kinds and corners of a room, read back from each medium in metres, are the same."""
    location = planned(name).location
    unit = unit_m(location.site.units)
    for room in location.room:
        standing = [named(setup) for setup in resolve(location) if setup.room == room.name]
        scene = room_scene(location, room, numbers=numbers_of(room), standing=standing)
        drawings = {size: laid_out(scene, size, plan_up_deg=None) for size in SIZES}
        wanted = shapes(drawings["sheet"])
        assert {"floor", "field", "wall", "reveal", "mark"} & {kind for kind, _ in wanted}
        for drawing in drawings.values():
            agree(shapes(drawing), wanted)
        agree(in_svg(svg(drawings["sheet"], PRINT), drawings["sheet"]), wanted)
        agree(in_svg(svg(drawings["page"]), drawings["page"]), wanted)
        printed = paper.on_paper(scene, 88.0, 58.0)
        frame = fitted(scene.bounds(), 88.0 / paper.MM_PER_PT, 58.0 / paper.MM_PER_PT,
                       paper.MARGINS_PT)  # fmt: skip
        agree(in_svg(printed["svg"], lay_out(scene, frame, 9.0)), wanted)
        axes = panel(page(5.0, 4.0), 0.0, 0.0, 5.0, 4.0)
        on_axes.onto(axes, drawings["picture"], unit)
        drawn = []
        for artist in axes.patches:
            if artist.get_gid() in STYLES and artist.get_gid() not in SIGNS:
                paths = artist.get_path().to_polygons(closed_only=False)
                closed = [ring[:-1] if np.allclose(ring[0], ring[-1]) else ring for ring in paths]
                drawn.append((artist.get_gid(), [unit * ring for ring in closed]))
        agree(drawn, wanted)


def test_kinds_of_labels_have_signs_of_their_own() -> None:
    """A wall is a bare letter, an opening a framed number, a flag white on black."""
    wall, opening, flag = (TEXTS[kind] for kind in ("wall", "opening", "flag"))
    assert not wall.tag
    assert opening.tag
    assert opening.ground == "paper"
    assert flag.tag
    assert flag.ground == "flag"
    assert PRINT["flag"] == "#000000" != PRINT[opening.ground]
