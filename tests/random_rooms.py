"""Random valid locations of one room, as location files, and suns that shine into it."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from flag_rays import on_rectangle
from oneray import Location, Scene, block_mesh
from ray_triangles import Floats


def aimed_suns(scene: Scene, opening: int, count: int, rng: np.random.Generator) -> Floats:
    """Sun vectors (K, 3), K <= count, of rays from random points of the room to the opening.

    All are above the horizon. A good half of them light something through the opening.
    """
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    points = np.column_stack(
        [
            rng.uniform(low[0], high[0], count),
            rng.uniform(low[1], high[1], count),
            scene.floor_m + scene.height_m * rng.uniform(0.0, 1.0, count) ** 2,
        ]
    )
    toward = on_rectangle(scene.openings[opening].aperture, count, rng) - points
    toward /= np.linalg.norm(toward, axis=1, keepdims=True)
    keep = scene.inside(points) & (toward[:, 2] > 1e-3)
    return toward[keep & (toward @ scene.openings[opening].plane.normal > 1e-3)]


def _random_outline(rng: np.random.Generator) -> Floats:
    """A counter-clockwise outline (3 to 8, 2), metres: convex, skewed, L- or U-shaped."""
    kind = rng.choice(["box", "triangle", "quad", "convex", "L", "U", "skewed"])
    w, d = rng.uniform(2.5, 7.0, 2)
    box = np.array([[0.0, 0.0], [w, 0.0], [w, d], [0.0, d]])
    if kind == "box":
        outline = box
    elif kind == "triangle":
        outline = np.array([[0.0, 0.0], [w + 1.0, 0.0], [rng.uniform(-0.3, 1.2) * w, d + 1.0]])
    elif kind == "quad":
        outline = box + rng.uniform(-0.6, 0.6, (4, 2))
    elif kind == "convex":
        n = int(rng.integers(5, 9))
        angle = 2.0 * np.pi * (np.arange(n) + rng.uniform(-0.3, 0.3, n)) / n
        outline = np.column_stack([0.7 * w * np.cos(angle), 0.7 * d * np.sin(angle)])
    else:
        w, d = w + 1.5, d + 1.5
        a, b = rng.uniform(0.3, 0.65) * w, rng.uniform(0.3, 0.65) * d
        ell = np.array([[0, 0], [w, 0], [w, b], [a, b], [a, d], [0, d]])
        p, q = rng.uniform(0.25, 0.4) * w, rng.uniform(0.6, 0.75) * w
        you = np.array([[0, 0], [w, 0], [w, d], [q, d], [q, b], [p, b], [p, d], [0, d]])
        if kind == "skewed":
            outline = ell if rng.uniform() < 0.5 else you
            outline = outline + rng.uniform(-0.35, 0.35, outline.shape)
            outline[:, 0] += rng.uniform(-0.4, 0.4) * outline[:, 1]
        else:
            outline = ell if kind == "L" else you
    if rng.uniform() < 0.6:
        turn = rng.uniform(0.0, 2.0 * np.pi)
        c, s = np.cos(turn), np.sin(turn)
        outline = outline @ np.array([[c, s], [-s, c]])
    outline = outline + rng.uniform(-5.0, 5.0, 2)
    return np.round(np.roll(outline, rng.integers(0, len(outline)), axis=0), 3)


def _good_outline(outline: Floats) -> bool:
    polygon = shapely.Polygon(outline)
    edges = np.linalg.norm(np.roll(outline, -1, axis=0) - outline, axis=1)
    ok = polygon.is_valid and polygon.exterior.is_ccw and edges.min() > 0.6
    return bool(ok and polygon.buffer(-0.45).area > 0.3)


def _round(value: float, digits: int = 3) -> float:
    return round(float(value), digits)


def _random_windows(
    outline: Floats, height: float, count: int, rng: np.random.Generator
) -> tuple[list[dict[str, Any]], shapely.Geometry]:
    """Windows that keep the rules, and the room's plan with their reveals."""
    room = shapely.Polygon(outline)
    windows: list[dict[str, Any]] = []
    reveals: list[shapely.Polygon] = []
    for _ in range(200):
        if len(windows) == count:
            break
        wall = int(rng.integers(0, len(outline)))
        start, end = outline[wall], outline[(wall + 1) % len(outline)]
        length = float(np.linalg.norm(end - start))
        if length < 0.6:
            continue
        w = _round(rng.uniform(0.2, min(2.5, length - 0.2)))
        along = _round(rng.uniform(0.05, length - w - 0.05))
        sill = _round(rng.choice([0.05, rng.uniform(0.05, 1.4)]))
        h = _round(rng.uniform(0.3, height - sill - 0.05))
        depth = _round(rng.uniform(0.05, 0.5))
        u = (end - start) / length
        out = depth * np.array([u[1], -u[0]])
        near, far = start + along * u, start + (along + w) * u
        reveal = shapely.Polygon([near, far, far + out, near + out])
        if room.intersection(reveal).area > 1e-7:
            continue
        if any(reveal.distance(other) < 0.02 for other in reveals):
            continue
        reveals.append(reveal)
        window: dict[str, Any] = {
            "name": f"window {len(windows) + 1}",
            "wall": chr(ord("A") + wall),
            "along": along,
            "sill": sill,
            "size": [w, h],
            "depth": depth,
            "before": "ground",
        }
        if rng.uniform() < 0.5:
            window["glass"] = "double clear"
        else:
            window["transmittance"] = _round(rng.uniform(0.4, 0.9), 2)
        windows.append(window)
    return windows, shapely.union_all([room, *reveals])


def _random_skylights(
    outline: Floats, count: int, plan_up_deg: float, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Skylights and roof windows that keep the rules: level or pitched, square or turned."""
    free = shapely.Polygon(outline).buffer(-0.05)
    low, high = outline.min(axis=0), outline.max(axis=0)
    lights: list[dict[str, Any]] = []
    for _ in range(200):
        if len(lights) == count:
            break
        w, h = (_round(x) for x in rng.uniform(0.3, 1.2, 2))
        at = [_round(x) for x in rng.uniform(low, high)]
        turn = _round(rng.uniform(-90.0, 90.0), 1) if rng.uniform() < 0.6 else 0.0
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        local = 0.5 * np.array([[-w, -h], [w, -h], [w, h], [-w, h]])
        corners = local @ np.array([[c, s], [-s, c]]) + at
        hole = shapely.Polygon(corners)
        if not free.contains(hole):
            continue
        light: dict[str, Any] = {
            "name": f"skylight {len(lights) + 1}",
            "ceiling": True,
            "at": at,
            "size": [w, h],
            "turn": turn,
            "glass": "acrylic dome",
        }
        depth = float(rng.uniform(0.05, 0.8))
        if rng.uniform() < 0.5:
            pitch, faces = _round(rng.uniform(5.0, 50.0), 1), _round(rng.uniform(0.0, 359.9), 1)
            down = math.radians(faces - plan_up_deg)
            reach = float(np.max((corners - at) @ [math.sin(down), math.cos(down)]))
            depth = max(depth, reach * math.tan(math.radians(pitch)) + 0.02)
            light |= {"pitch": pitch, "faces": faces}
        light["depth"] = _round(depth + 0.0005)
        lights.append(light)
        free = free.difference(hole.buffer(0.05))
    return lights


def _random_blocks(
    plan: shapely.Geometry, count: int, rng: np.random.Generator
) -> list[dict[str, Any]]:
    """Blocks that stand clear of the room and its reveals in plan."""
    middle = np.array([plan.centroid.x, plan.centroid.y])
    blocks: list[dict[str, Any]] = []
    for _ in range(200):
        if len(blocks) == count:
            break
        near = rng.uniform() < 0.4
        w, d = rng.uniform(0.2, 4.0, 2) if near else rng.uniform(2.0, 18.0, 2)
        away = rng.uniform(2.0, 9.0) if near else rng.uniform(8.0, 35.0)
        angle = rng.uniform(0.0, 2.0 * np.pi)
        at = middle + away * np.array([np.cos(angle), np.sin(angle)])
        floating = near and rng.uniform() < 0.6
        block: dict[str, Any] = {
            "name": f"block {len(blocks) + 1}",
            "at": [_round(at[0]), _round(at[1])],
            "size": [_round(w), _round(d), _round(0.3 if floating else rng.uniform(2.0, 15.0))],
            "base": _round(rng.uniform(1.5, 8.0)) if floating else 0,
            "turn": _round(rng.uniform(-180.0, 180.0), 1) if rng.uniform() < 0.7 else 0,
            "reflectance": _round(rng.uniform(0.05, 0.7), 2),
        }
        mesh = block_mesh(block)
        foot = shapely.MultiPoint(np.asarray(mesh.vertices)[:, :2]).convex_hull
        if foot.distance(plan) > 0.02:
            blocks.append(block)
    return blocks


def _random_inside(
    area: shapely.Geometry, rng: np.random.Generator, tries: int = 200
) -> list[float] | None:
    """A random point of an area, metres, rounded to the millimetre; None if none was found."""
    if area.is_empty:
        return None
    low_x, low_y, high_x, high_y = area.bounds
    for _ in range(tries):
        x, y = _round(rng.uniform(low_x, high_x)), _round(rng.uniform(low_y, high_y))
        if area.contains(shapely.Point(x, y)):
            return [x, y]
    return None


def random_location(rng: np.random.Generator) -> Location:
    """A random valid location of one room named "room", as a parsed location file, metres.

    3 to 8 walls (convex, skewed, L, U), 1 to 3 windows, 0 to 2 skylights (level, turned,
    pitched), 1 to 3 marks, 0 to 3 outside blocks, sometimes skylines, one setup with its camera
    in the room; latitude -65 to 65, any plan_up.
    """
    while True:
        found = _try_location(rng)
        if found is not None:
            return found


def _try_location(rng: np.random.Generator) -> Location | None:
    outline = _random_outline(rng)
    if not _good_outline(outline):
        return None
    height = _round(rng.uniform(2.2, 4.0), 2)
    plan_up = _round(rng.uniform(0.0, 359.9), 1)
    windows, plan = _random_windows(outline, height, int(rng.integers(1, 4)), rng)
    if not windows:
        return None
    openings = windows + _random_skylights(outline, int(rng.integers(0, 3)), plan_up, rng)
    polygon = shapely.Polygon(outline)
    marks: list[dict[str, Any]] = []
    for _ in range(int(rng.integers(1, 4))):
        width = _round(rng.uniform(0.3, 0.8), 2)
        spot = _random_inside(polygon.buffer(-0.5 * width - 0.02), rng)
        if spot is None:
            continue
        low = _round(rng.uniform(0.0, 1.4), 2)
        high = _round(rng.uniform(low + 0.2, min(low + 1.0, height - 0.1)), 2)
        name = f"mark {len(marks) + 1}"
        marks.append({"name": name, "at": spot, "height": [low, high], "width": width})
    if not marks:
        return None
    star = marks[int(rng.integers(0, len(marks)))]
    clear = polygon.buffer(-0.15).difference(
        shapely.Point(star["at"]).buffer(0.5 * star["width"] + 0.5)
    )
    camera = _random_inside(clear, rng)
    if camera is None:
        return None
    longitude = _round(rng.uniform(-179.0, 179.0), 4)
    hours = round(longitude / 15.0)
    place: dict[str, Any] = {
        "name": "a random place",
        "latitude": _round(rng.uniform(-65.0, 65.0), 4),
        "longitude": longitude,
        "timezone": "Etc/GMT" if hours == 0 else f"Etc/GMT{-hours:+d}",
        "elevation": _round(rng.uniform(0.0, 800.0), 0),
        "units": "m",
        "plan_up": plan_up,
        "plan_up_error": _round(rng.choice([0.0, rng.uniform(0.0, 5.0)]), 1),
        "ground_reflectance": 0.2,
    }
    location: Location = {"location": place}
    blocks = _random_blocks(plan, int(rng.integers(0, 4)), rng)
    if blocks:
        location["outside"] = blocks
    if rng.uniform() < 0.35:
        bearings = np.unique(np.round(rng.uniform(0.0, 360.0, int(rng.integers(2, 7))), 1))
        points = [[_round(b, 1), _round(rng.uniform(0.0, 15.0), 1)] for b in bearings if b < 360]
        if len(points) >= 2:
            location["skyline"] = [{"points": points}]
    location["room"] = [
        {
            "name": "room",
            "outline": outline.tolist(),
            "floor": _round(rng.choice([0.0, rng.uniform(0.0, 9.0)]), 2),
            "height": height,
            "reflectance": {"floor": 0.3, "walls": 0.7, "ceiling": 0.8},
            "opening": openings,
            "mark": marks,
        }
    ]
    location["setup"] = [
        {
            "name": "the setup",
            "room": "room",
            "mark": star["name"],
            "camera": {
                "at": camera,
                "height": _round(rng.uniform(0.8, 1.8), 2),
                "toward": star["name"],
                "view": [40, 23],
            },
            "exposure": {"iso": 800, "stop": 2.8, "fps": 24, "shutter": 180, "balance": 3200},
            "plays": str(rng.choice(["day", "dusk", "evening", "night"])),
            "minutes": int(rng.integers(10, 91)),
            "contrast": 4,
        }
    ]
    return location


def _toml_value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{k} = {_toml_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml_value(v) for v in value) + "]"
    return repr(value)


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)


def _toml_table(table: Mapping[str, Any], path: str) -> list[str]:
    lines = [f"{k} = {_toml_value(v)}" for k, v in table.items() if not _is_tables(v)]
    for key, rows in table.items():
        if _is_tables(rows):
            for row in rows:
                lines += ["", f"[[{path}.{key}]]", *_toml_table(row, f"{path}.{key}")]
    return lines


def location_toml(location: Location) -> str:
    """Text of a location file; reading it back with tomllib gives the same dictionary."""
    lines: list[str] = []
    for key, value in location.items():
        if _is_tables(value):
            for row in value:
                lines += ["", f"[[{key}]]", *_toml_table(row, key)]
        else:
            lines += ["", f"[{key}]", *_toml_table(value, key)]
    return "\n".join(lines).lstrip() + "\n"


def write_location(location: Location, path: Path) -> None:
    """Write a location file (TOML, UTF-8)."""
    path.write_text(location_toml(location), encoding="utf-8")


def read_location(path: Path) -> Location:
    """Read a location file into the dictionary that Scene takes."""
    return tomllib.loads(path.read_text(encoding="utf-8"))
