"""What is in frame, against a pinhole camera built from turns instead of cross products (scipy)."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import shapely
from places import bare, made
from scipy.spatial.transform import Rotation

from sunplan.light.resolved import resolve
from sunplan.room.beam import beam_of
from sunplan.room.camera import aim_point, camera_view, field_of_view, visible_points

CASES = 200


def random_setup(seed: int, folder: Path):  # type: ignore[no-untyped-def]
    rng = np.random.default_rng(seed)
    raw = bare()
    raw["room"][0]["floor"] = 3.0
    camera = raw["setup"][0]["camera"]
    camera["at"] = rng.uniform([0.2, 0.2], [3.8, 2.8]).tolist()
    camera["height"] = float(rng.uniform(0.2, 2.2))
    camera["toward"] = [*rng.uniform([0.2, 0.2], [3.8, 2.8]).tolist(), float(rng.uniform(0.2, 2.2))]
    camera["view"] = rng.uniform([20, 12], [80, 50]).tolist()
    location = made(raw, folder)
    return location, camera, rng


def stand(camera: dict, floor: float) -> tuple[np.ndarray, Rotation]:
    """A camera's place, and its turn: yaw to the aim's bearing, then tilt; x ahead, z up."""
    at = np.array([*camera["at"], floor + camera["height"]])
    way = np.array([*camera["toward"][:2], floor + camera["toward"][2]]) - at
    yaw = math.degrees(math.atan2(way[1], way[0]))
    tilt = math.degrees(math.atan2(way[2], math.hypot(way[0], way[1])))
    return at, Rotation.from_euler("ZY", [yaw, -tilt], degrees=True)


def pinhole(camera: dict, floor: float, points: np.ndarray) -> np.ndarray:
    """Points on the frame, its edges at −1 and 1; NaN behind the camera."""
    at, turn = stand(camera, floor)
    x, y, z = turn.inv().apply(points - at).T
    half = np.radians(camera["view"]) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        framed = np.stack((-y / x, z / x), axis=-1) / np.tan(half)
    return np.where(x[:, None] > 0, framed, np.nan)


@pytest.mark.parametrize("seed", range(20))
def test_points(seed: int, tmp_path: Path) -> None:
    location, camera, rng = random_setup(seed, tmp_path)
    found = camera_view(location.room[0], resolve(location)[0])
    points = rng.uniform([-2, -2, 1], [6, 5, 7], (500, 3))
    expected = pinhole(camera, 3.0, points)
    ahead = ~np.isnan(expected[:, 0])
    assert np.allclose(found.project(points[ahead]), expected[ahead], atol=1e-9)
    inside = (np.abs(np.nan_to_num(expected, nan=9.0)) <= 1).all(axis=1)
    assert (found.in_frame(points) == inside).all()
    assert inside.any()


def test_rectangles(tmp_path: Path) -> None:
    """A flag is in frame when one of 90 000 rays through the frame hits it, and covers as much."""
    both = 0
    u, v = np.meshgrid(np.linspace(-1, 1, 300), np.linspace(-1, 1, 300))
    for seed in range(CASES):
        location, camera, rng = random_setup(seed, tmp_path)
        centre = rng.uniform([0, 0, 3.2], [4, 3, 5.3])
        axes = Rotation.random(random_state=seed).as_matrix()
        size = rng.uniform(0.4, 1.3, 2)
        half = np.tan(np.radians(camera["view"]) / 2)
        ahead = np.stack((np.ones(u.size), -u.ravel() * half[0], v.ravel() * half[1]), axis=-1)
        at, turn = stand(camera, 3.0)
        rays = turn.apply(ahead)
        reach = ((centre - at) @ axes[2]) / (rays @ axes[2])
        off = at + reach[:, None] * rays - centre
        hit = (reach > 0) & (np.abs(off @ axes[:2].T) <= size / 2).all(axis=1)
        corners = np.array(
            [
                centre + i * size[0] / 2 * axes[0] + j * size[1] / 2 * axes[1]
                for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))
            ]
        )
        part = camera_view(location.room[0], resolve(location)[0]).seen_part(corners)
        assert part.area / 4 == pytest.approx(hit.mean(), abs=0.01), seed
        both |= 1 << (not part.is_empty)
    assert both == 3  # in and out both occurred


def test_what_a_camera_looks_at(tmp_path: Path) -> None:
    raw = bare()
    raw["room"][0]["practical"] = [
        {"name": "lamp", "at": [1.0, 1.0], "height": 1.2, "shade": [0.2, 0.2], "lumens": 300}
    ]
    camera = raw["setup"][0]["camera"]
    expected = {
        "chair": (2.0, 1.6, 0.7 + 0.875 * 0.7),  # the middle of the upper quarter
        "lamp": (1.0, 1.0, 1.2),
        "window": (2.0, 0.0, 1.4),
    }
    for name, point in expected.items():
        camera["toward"] = name
        location = made(raw, tmp_path)
        assert aim_point(location.room[0], resolve(location)[0]) == pytest.approx(point)
    camera["toward"] = [3.0, 1.0]  # level
    location = made(raw, tmp_path)
    assert aim_point(location.room[0], resolve(location)[0]) == pytest.approx((3.0, 1.0, 1.4))


def test_a_lens_is_an_angle(tmp_path: Path) -> None:
    raw = bare()
    camera = raw["setup"][0]["camera"]
    del camera["view"]
    camera.update(lens_mm=28, sensor_mm=[24.9, 14.0])
    across, up = made(raw, tmp_path).setup[0].camera.view_deg
    # 2 atan(d / 2f), the angle of view of a rectilinear lens.
    assert across == pytest.approx(47.94, abs=0.01)
    assert up == pytest.approx(28.07, abs=0.01)


def test_a_corner_hides_an_opening(tmp_path: Path) -> None:
    """In an L the camera sees the near window whole, the far one past the corner not at all."""
    raw = bare()
    room = raw["room"][0]
    room["outline"] = [[0, 0], [6, 0], [6, 2], [2, 2], [2, 6], [0, 6]]
    room["opening"] = [
        {"name": "near", "wall": "B", "along": 0.5, "sill": 0.8, "size": [1, 1], "depth": 0.1},
        {"name": "far", "wall": "E", "along": 0.5, "sill": 0.8, "size": [1, 1], "depth": 0.1},
    ]
    room["mark"][0]["at"] = [3, 1]
    raw["setup"][0]["camera"].update(at=[2.5, 1.0], toward=[6.0, 1.0], view=[60, 40])
    location = made(raw, tmp_path)
    beam, camera = (
        beam_of(location, location.room[0]),
        camera_view(location.room[0], resolve(location)[0]),
    )
    seen = [len(visible_points(camera, location.room[0], one)) for one in beam.apertures]
    assert seen == [144, 0]
    raw["setup"][0]["camera"].update(toward=[1.0, 5.0], view=[120, 60])
    location = made(raw, tmp_path)
    camera = camera_view(location.room[0], resolve(location)[0])
    # From [2.5, 1] the line past the corner [2, 2] meets wall E at x = 0: all of it is hidden.
    assert len(visible_points(camera, location.room[0], beam.apertures[1])) == 0


@pytest.mark.parametrize("seed", range(20))
def test_the_field_on_the_plan(seed: int, tmp_path: Path) -> None:
    """A spot lies in it within the angle of view and with no wall before it, by shapely."""
    rng = np.random.default_rng(seed)
    raw = bare()
    raw["room"][0]["outline"] = [[0, 0], [4, 0], [4, 1.6], [2.2, 1.6], [2.2, 3], [0, 3]]
    raw["room"][0]["mark"][0]["at"] = [1.5, 1.0]
    camera = raw["setup"][0]["camera"]
    camera["at"] = rng.uniform([0.1, 0.1], [2.1, 2.9]).tolist()
    camera["toward"] = [*rng.uniform([0.1, 0.1], [2.1, 2.9]).tolist(), 1.0]
    camera["view"] = [float(rng.uniform(20, 100)), 30.0]
    location = made(raw, tmp_path)
    room, setup = location.room[0], resolve(location)[0]
    found = shapely.Polygon(field_of_view(camera_view(room, setup), room))
    outline = shapely.Polygon(room.outline)
    at = np.array(camera["at"])
    aimed = np.array(camera["toward"][:2]) - at
    checked = 0
    for spot in rng.uniform([0, 0], [4, 3], (200, 2)):
        point = shapely.Point(spot)
        near = min(found.boundary.distance(point), outline.boundary.distance(point))
        if near < 0.002 or not outline.contains(point):
            continue
        off = spot - at
        cosine = off @ aimed / (np.linalg.norm(off) * np.linalg.norm(aimed))
        within = math.degrees(math.acos(np.clip(cosine, -1.0, 1.0))) < camera["view"][0] / 2
        seen = within and outline.covers(shapely.LineString((at, spot)))
        assert found.contains(point) == seen, spot
        checked += 1
    assert checked > 50
