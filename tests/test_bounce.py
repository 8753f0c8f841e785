"""Exchange of light in a room against published factors and the closed room's own arithmetic."""

from __future__ import annotations

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from places import bare, made

from sunplan.data import table
from sunplan.light.form_factors import form_factor, form_factor_above, solid_angle
from sunplan.light.interreflection import Interreflection, interreflection
from sunplan.light.key_light import key_lights
from sunplan.light.lamp import aimed_lamp
from sunplan.light.resolved import resolve
from sunplan.light.screen import Screen
from sunplan.light.sky_luminance import cie_sky, sky_patches
from sunplan.location.kit import DiffusionFrame, Lamp
from sunplan.rig.negative_fill import BLACK
from sunplan.room.beam import beam_of

AUTHORITIES = Path(__file__).parent / "authorities"
FOOT_M = 0.3048


def over(width: float, depth: float, gap: float, *, centred: bool = False) -> np.ndarray:
    """A rectangle over the origin, seen from below; its corner there, or its middle."""
    x, y = (-width / 2, -depth / 2) if centred else (0.0, 0.0)
    ring = [(x, y), (x, y + depth), (x + width, y + depth), (x + width, y)]
    return np.array([[*spot, gap] for spot in ring])[None]


def beside(height: float, width: float, distance: float) -> np.ndarray:
    """An upright rectangle on the plane of the origin, one lower corner straight ahead."""
    ring = [(0, 0), (0, height), (width, height), (width, 0)]
    return np.array([[distance, across, up] for across, up in ring])[None]


@pytest.mark.parametrize(
    ("polygon", "expected"),
    [
        # Element to rectangle, Siegel & Howell p. 842 and BR 187, to seven digits by closed form.
        (over(1, 1, 1), 0.1385316),
        (over(2, 1, 1), 0.1673750),
        (over(1, 2, 0.5), 0.2207776),
        (over(3, 2, 0.5), 0.2408940),
        (over(1, 1, 1, centred=True), 0.2394565),
        (over(2, 2, 1, centred=True), 0.5541264),
        # Element square to the rectangle: the sky factor of a window.
        (beside(1, 1, 1), 0.0557342),
        (beside(2, 1, 1), 0.0950679),
        (beside(1, 2, 1), 0.0686973),
        (beside(2, 2, 1), 0.1242689),
        (beside(1, 1, 2), 0.0139277),
    ],
)
def test_configuration_factors(polygon: np.ndarray, expected: float) -> None:
    factor = form_factor(np.zeros((1, 3)), np.array([[0.0, 0, 1]]), polygon)[0, 0]
    assert factor == pytest.approx(expected, abs=1e-6)


def test_seen_from_behind_is_nothing() -> None:
    below = form_factor(np.zeros((1, 3)), np.array([[0.0, 0, -1]]), over(1, 1, 1))
    assert below[0, 0] == 0.0


def test_solid_angles() -> None:
    """4 asin(ab / …) for a centred square; a sphere to a rectangle 1 by 2 at 0.5: 0.0836."""
    centred = solid_angle(np.zeros((1, 3)), over(1, 1, 1, centred=True))[0, 0]
    assert centred == pytest.approx(0.8054317, abs=1e-6)
    corner = solid_angle(np.zeros((1, 3)), over(1, 2, 0.5))[0, 0]
    assert corner / (4 * math.pi) == pytest.approx(0.0836, abs=5e-5)  # Howell B-106


def closed(folder: Path, outline: list[list[float]], height: float) -> Interreflection:
    raw = bare()
    del raw["setup"]
    raw["room"][0].update(outline=outline, height=height, opening=[], mark=[])
    location = made(raw, folder)
    return interreflection(beam_of(location, location.room[0]))


SQUARE = [[0.0, 0.0], [3.0, 0.0], [3.0, 3.0], [0.0, 3.0]]
ELL = [[0.0, 0.0], [5.0, 0.0], [5.0, 2.0], [2.0, 2.0], [2.0, 5.0], [0.0, 5.0]]


def test_faces_of_a_cube(tmp_path: Path) -> None:
    """Parallel unit squares at 1: 0.1998249; with a common edge: 0.2000438 (Howell C-11, C-14)."""
    cube = closed(tmp_path, SQUARE, 3.0)
    mesh = cube.mesh
    floor = mesh.surface == 0
    for surface in range(1, 6):
        there = mesh.surface == surface
        flow = (mesh.areas[floor, None] * cube.form_factors[np.ix_(floor, there)]).sum()
        expected = 0.1998249 if surface == 1 else 0.2000438
        assert flow / 9.0 == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize("outline", [SQUARE, ELL], ids=["square", "L"])
def test_nothing_is_lost(outline: list[list[float]], tmp_path: Path) -> None:
    """All that leaves a piece arrives, as much one way as the other; areas are the room's."""
    room = closed(tmp_path, outline, 2.5)
    assert np.allclose(room.form_factors.sum(axis=1), 1.0, atol=1e-6)
    flow = room.mesh.areas[:, None] * room.form_factors
    assert np.allclose(flow, flow.T, atol=1e-12)
    corners = np.array(outline)
    walls = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).sum() * 2.5
    x, y = corners.T
    plan = 0.5 * abs((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
    assert room.mesh.areas.sum() == pytest.approx(2 * plan + walls)


@pytest.mark.parametrize("outline", [SQUARE, ELL], ids=["square", "L"])
@pytest.mark.parametrize("reflectance", [0.2, 0.8, 0.95])
def test_closed_room(outline: list[list[float]], reflectance: float, tmp_path: Path) -> None:
    """The integrating sphere: what comes in is what is absorbed; evenly lit it is E / (1 − ρ)."""
    made_of = closed(tmp_path, outline, 2.5)
    count = len(made_of.mesh.areas)
    room = replace(made_of, reflectance=np.full(count, reflectance))
    assert np.allclose(room.solve(np.ones(count)), 1.0 / (1.0 - reflectance), rtol=1e-6)
    first = np.random.default_rng(1).uniform(size=count)
    settled = room.solve(first)
    came = (first * room.mesh.areas).sum()
    absorbed = ((1.0 - reflectance) * settled * room.mesh.areas).sum()
    assert absorbed == pytest.approx(came, rel=1e-3)
    bounced = ((settled - first) * room.mesh.areas).sum() / room.mesh.areas.sum()
    sphere = came / room.mesh.areas.sum() * reflectance / (1.0 - reflectance)
    assert bounced == pytest.approx(sphere, rel=1e-3)


def test_a_spot_sees_all_of_a_room(tmp_path: Path) -> None:
    """Half the room lies before any free spot: factors sum to 1."""
    room = closed(tmp_path, SQUARE, 2.5)
    rng = np.random.default_rng(2)
    points = rng.uniform([0.8, 0.8, 0.8], [2.2, 2.2, 1.7], (20, 3))
    normals = rng.normal(size=(20, 3))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    assert np.allclose(room.form_factors_from(points, normals).sum(axis=1), 1.0, atol=0.02)


def test_what_stands_round_the_corner_is_not_seen(tmp_path: Path) -> None:
    room = closed(tmp_path, ELL, 2.5)
    free = room.visibility(np.array([[4.5, 1.0, 1.0]]))[0]
    far = room.mesh.middles[:, 1] > 4.0
    assert not free[far].any()
    assert free[room.mesh.middles[:, 1] < 0.5].all()


def test_a_sheet_that_the_plane_of_a_side_cuts() -> None:
    """A frame beside the face: only what stands before a side lights it, as its parts summed say.

    Against the definition, cos cos / pi r^2 over the sheet, in 600 by 600 parts.
    """
    random = np.random.default_rng(7)
    share = (np.arange(600) + 0.5) / 600 - 0.5
    partial = 0
    for _ in range(20):
        normal, across = random.normal(size=(2, 3))
        normal /= np.linalg.norm(normal)
        across /= np.linalg.norm(across)
        up = np.cross(across, random.normal(size=3))
        up /= np.linalg.norm(up)
        centre = 1.2 * random.normal(size=3)
        if np.cross(across, up) @ centre > 0:  # its lit side to the point
            across = -across
        sheet = centre + share[:, None, None] * 1.5 * across + share[:, None] * 1.1 * up
        reach = np.linalg.norm(sheet, axis=-1)
        seen = np.maximum(sheet @ normal, 0.0) * np.abs(sheet @ np.cross(across, up)) / reach**4
        corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2 * [1.5, 1.1] @ [across, up]
        placed = (centre + corners)[None]
        mine = form_factor_above(np.zeros((1, 3)), normal[None], placed)[0, 0]
        assert mine == pytest.approx(seen.mean() * 1.5 * 1.1 / math.pi, rel=1e-3, abs=1e-6)
        before = (centre + corners) @ normal > 0
        partial += bool(before.any() and not before.all())
    assert partial >= 5


@pytest.mark.parametrize(
    ("side_ft", "distance_m", "share"),
    # The panel's configuration factor, closed form: a side away 0.2394565, half a side 0.5541264.
    # That is 0.40 and 1.17 stops for dead black, 0.36 and 1.03 for 4 % before an even 50 %.
    [(4, 1.2192, 0.2394565), (8, 2.4384, 0.2394565), (4, 0.6096, 0.5541264)],
)
def test_negative_fill_in_an_even_surround(
    side_ft: float, distance_m: float, share: float, tmp_path: Path
) -> None:
    outline = [[0.0, 0.0], [6.0, 0.0], [6.0, 6.0], [0.0, 6.0]]
    room = closed(tmp_path, outline, 6.0)
    face, normal = np.array([[3.0, 3.0, 3.0]]), np.array([[1.0, 0.0, 0.0]])
    x, y, z = np.eye(3)
    size = side_ft * FOOT_M
    screen = Screen(face[0] + distance_m * x, y, z, (size, size))
    open_ = room.form_factors_from(face, normal).sum()
    left = room.form_factors_from(face, normal, {0: (screen,)}).sum()
    lost = math.log2(open_ / left)
    assert lost == pytest.approx(-math.log2(1.0 - share), abs=0.08)
    grey = math.log2(open_ / (left + (open_ - left) * BLACK / 0.5))
    assert grey == pytest.approx(-math.log2(1.0 - share * (1.0 - BLACK / 0.5)), abs=0.07)


def lamp(**keys: float) -> Lamp:
    return Lamp.model_validate({"name": "l", "lux_at_1m": 1000, "watts": 10, "beam": 60, **keys})


def test_a_bare_lamp() -> None:
    """Inverse square on the axis; half at half its beam; nothing behind."""
    at, aim = np.zeros(3), np.array([4.0, 0.0, 0.0])
    source = aimed_lamp(lamp(), None, at, aim)
    spots = np.array([[1.0, 0, 0], [2.0, 0, 0], [-1.0, 0, 0]])
    toward = np.array([[-1.0, 0, 0], [-1.0, 0, 0], [1.0, 0, 0]])
    assert source.illuminance_lux(spots, toward).tolist() == pytest.approx([1000.0, 250.0, 0.0])
    edge = np.array([[math.cos(math.radians(30)), math.sin(math.radians(30)), 0.0]])
    assert source.illuminance_lux(edge, -edge)[0] == pytest.approx(500.0)


def test_a_frame_far_away_is_a_point() -> None:
    """At five widths a lambertian source is within about 1 % of the inverse square."""
    frame = DiffusionFrame.model_validate({"name": "f", "size": [1.0, 1.0], "loss": 0.75})
    source = aimed_lamp(lamp(beam=90), frame, np.zeros(3), np.array([20.0, 0.0, 0.0]))
    middle = source.sheet.centre
    away = [middle + np.array([distance, 0, 0]) for distance in (5.0, 10.0)]
    near, far = source.illuminance_lux(np.array(away), np.tile([-1.0, 0, 0], (2, 1)))
    assert near / far == pytest.approx(4.0, rel=0.02)
    assert near / far < 4.0


def test_a_frame_costs_what_it_loses() -> None:
    at, aim = np.zeros(3), np.array([3.0, 0.0, 0.0])
    spot, toward = aim[None], np.array([[-1.0, 0, 0]])
    levels = []
    for loss in (0.75, 1.75):
        frame = DiffusionFrame.model_validate({"name": "f", "size": [1.2, 1.2], "loss": loss})
        levels.append(aimed_lamp(lamp(), frame, at, aim).illuminance_lux(spot, toward)[0])
    assert math.log2(levels[0] / levels[1]) == pytest.approx(1.0)


def test_softness() -> None:
    """A source's shadow edge grows as its width over its distance; the sun's, 9.3 mm a metre."""
    source = aimed_lamp(lamp(), None, np.zeros(3), np.array([2.0, 0.0, 0.0]))
    assert source.penumbra_ratio == pytest.approx(source.size_m / 2.0)
    assert source.angular_size_deg == pytest.approx(
        math.degrees(2 * math.atan(source.size_m / 4.0))
    )


HORIZONTAL = {"Eh_over_Lz_Zs30": 30.0, "Eh_over_Lz_Zs60": 60.0}
with (AUTHORITIES / "cie_general_sky.csv").open(encoding="utf-8") as file:
    SKIES = list(csv.DictReader(file))


@pytest.mark.parametrize("row", SKIES, ids=[row["type"] for row in SKIES])
def test_all_general_skies(row: dict[str, str]) -> None:
    """ISO 15469: parameters, relative luminances to 1 %, level light over zenith to 0.5 %."""
    terms = table("sky")["cie"][row["type"]]
    assert terms == [float(row[name]) for name in "abcde"]

    def toward(zenith_deg: float, turn_deg: float) -> np.ndarray:
        z, b = math.radians(zenith_deg), math.radians(turn_deg)
        return np.array([math.sin(z) * math.sin(b), math.sin(z) * math.cos(b), math.cos(z)])

    def relative(zenith_deg: float, turn_deg: float, sun_deg: float) -> float:
        rays = np.array([toward(zenith_deg, turn_deg), [0.0, 0.0, 1.0]])
        at, zenith = cie_sky(terms, rays, toward(sun_deg, 0.0))
        return float(at / zenith)

    assert relative(45, 180, 30) == pytest.approx(float(row["Lrel_Z45_dAz180_Zs30"]), rel=0.01)
    assert relative(60, 0, 60) == pytest.approx(float(row["Lrel_at_sun_Zs60"]), rel=0.01)
    for name, sun_deg in HORIZONTAL.items():
        rays, share = sky_patches()
        sun = toward(sun_deg, 0.0)
        level = (cie_sky(terms, rays, sun) * rays[:, 2] * share).sum()
        zenith = cie_sky(terms, np.array([[0.0, 0.0, 1.0]]), sun)[0]
        assert level / zenith == pytest.approx(float(row[name]), rel=0.005)


def thrown(off: dict, folder: Path, reflectance: float = 0.7):  # type: ignore[no-untyped-def]
    """A setup whose key is thrown off something."""
    raw = bare()
    raw["room"][0].update(reflectance={"walls": reflectance}, opening=[])
    raw["setup"][0]["camera"]["toward"] = "chair"
    raw["setup"][0]["key"] = {"lamp": "led 150", "from": [3.4, 0.6], "height": 1.3, "off": off}
    location = made(raw, folder)
    return key_lights(location, resolve(location))[0]


def test_off_a_mirror_the_path_counts_whole(tmp_path: Path) -> None:
    """As hard and as weak as a lamp that far away: inverse square of both legs, less the loss."""
    off = {"at": [0.6, 0.8], "height": 1.3, "size": [0.5, 0.5], "reflectance": 0.9, "mirror": True}
    light = thrown(off, tmp_path)
    first = math.dist((3.4, 0.6, 1.3), (0.6, 0.8, 1.3))
    second = math.dist((0.6, 0.8, 1.3), (2.0, 1.6, 0.7 + 0.875 * 0.7))
    assert light.source.distance_m == pytest.approx(first + second)
    straight = 25000.0 * 0.9 / (first + second) ** 2  # led 150 of the kit, square on
    face = light.source.face
    toward = (light.source.position - face) / np.linalg.norm(light.source.position - face)
    assert light.source.illuminance_lux(face[None], toward[None])[0] == pytest.approx(
        straight, rel=1e-6
    )
    beside = face + np.array([-0.6, 1.0, 0.0])
    assert light.source.illuminance_lux(beside[None], toward[None])[0] == 0.0


def test_off_a_board_or_a_wall(tmp_path: Path) -> None:
    """Half the reflectance is a stop off a board; off a wall at least that, for the room helps."""
    board = {"at": [0.6, 0.8], "height": 1.3, "reflectance": 0.8}
    grey = board | {"reflectance": 0.4}
    black = 0.0001
    lost = math.log2(
        thrown(board, tmp_path, black).key_side_lux / thrown(grey, tmp_path, black).key_side_lux
    )
    assert lost == pytest.approx(1.0, abs=0.02)
    white, dark = (thrown({"wall": "D"}, tmp_path, share).key_side_lux for share in (0.8, 0.4))
    assert math.log2(white / dark) > 1.0
    assert thrown(board, tmp_path).source.angular_size_deg > 30.0
