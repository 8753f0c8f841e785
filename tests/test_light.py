"""Levels against published figures: the sky, glass, the meter, and an opening seen by a camera."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from places import bare, made

from sunplan.data import table
from sunplan.light import daylight, daylight_transfer, glass, meter, sky_luminance, sky_models
from sunplan.light.daylight import Weather, skies
from sunplan.light.daylight_transfer import trace_room
from sunplan.light.exterior_luminance import GROUND, SKY, exterior_scene
from sunplan.light.exterior_patches import PatchSorter
from sunplan.light.key_light import key_lights
from sunplan.light.look import look
from sunplan.light.opening_rays import FINE_CELL_M, rays_from_points
from sunplan.light.resolved import resolve
from sunplan.light.sky_names import SKY_NAMES
from sunplan.location.model import Exposure, Opening
from sunplan.location.read import Location
from sunplan.rig.gap import TimeGap, gaps
from sunplan.rig.gel_stacks import NO_STACK, gel_stacks
from sunplan.room.beam import beam_of
from sunplan.sun.local_time import even_moments
from sunplan.sun.position import solar_positions

NOON = datetime(2026, 3, 20, 11, 40, tzinfo=UTC).timestamp()
PARTS = 720  # of a hemisphere's integral


def one_second(stop: float) -> Exposure:
    """An exposure of one second at ISO 100."""
    return Exposure(iso=100, stop=stop, fps=0.5, shutter=180)


def test_meter() -> None:
    """ISO 2720:1974 with K 12.5 and C 250; values of the colour-hdri documentation."""
    assert meter.grey_cd_m2(one_second(8.0)) == pytest.approx(8.0)
    assert meter.key_lux(one_second(8.0)) == pytest.approx(160.0)
    assert meter.grey_cd_m2(one_second(1.0)) == pytest.approx(0.125)
    assert meter.key_lux(one_second(1.0)) == pytest.approx(2.5)
    assert meter.exposure_value(one_second(1.0)) == pytest.approx(0.0)
    # "Sunny 16", f/16 at 1/100 s: EV 14.644.
    sunny = Exposure(iso=100, stop=16, fps=50, shutter=180)
    assert meter.exposure_value(sunny) == pytest.approx(14.644, abs=5e-4)


def test_shutter_by_time() -> None:
    """1/48 s is 180° at 24 fps; both at once, or longer than a frame, is refused."""
    by_angle = Exposure(iso=800, stop=2.8, fps=24, shutter=180)
    by_time = Exposure(iso=800, stop=2.8, fps=24, shutter_s=1 / 48)
    assert meter.key_lux(by_time) == pytest.approx(meter.key_lux(by_angle))
    with pytest.raises(ValueError, match="not both"):
        Exposure(iso=800, stop=2.8, shutter=180, shutter_s=0.02)
    with pytest.raises(ValueError, match="longer than a frame"):
        Exposure(iso=800, stop=2.8, fps=24, shutter_s=0.05)


@pytest.mark.parametrize(
    ("angle_deg", "one_pane", "two_panes"),
    [
        (0, 0.91688, 0.84652),
        (30, 0.91452, 0.84407),
        (40, 0.90801, 0.83718),
        (50, 0.88972, 0.81681),
        (60, 0.84210, 0.75878),
        (70, 0.72356, 0.60518),
        (80, 0.45537, 0.30955),
    ],
)
def test_panes(angle_deg: float, one_pane: float, two_panes: float) -> None:
    """Fresnel at n = 1.526: 0.0434, 0.093, 0.85 and 0.76 of Duffie & Beckman 5.1.1 and 5.1.2."""
    cosine = np.cos(np.radians([angle_deg]))
    assert glass.fresnel_transmittance(cosine, 1)[0] == pytest.approx(one_pane, abs=1e-5)
    assert glass.fresnel_transmittance(cosine, 2)[0] == pytest.approx(two_panes, abs=1e-5)


def opening(**keys: object) -> Opening:
    return Opening.model_validate(
        {"name": "w", "wall": "A", "along": 0, "sill": 0, "size": [1, 1], **keys}
    )


def test_glass_falls_from_its_normal_value() -> None:
    square_on, slant = glass.transmittance(
        opening(glass="single clear"), np.cos(np.radians([0.0, 60.0]))
    )
    assert square_on == pytest.approx(0.90)  # ASHRAE-type table: single clear, centre of glass
    # LBNL's polynomial for clear glass gives 0.9003 of the normal value; Fresnel's panes 0.918.
    assert slant / square_on == pytest.approx(0.9003, abs=0.02)
    assert glass.transmittance(opening(transmittance=0.5), np.ones(1))[0] == pytest.approx(0.5)


def toward(zenith_deg: float, bearing_deg: float) -> np.ndarray:
    z, b = math.radians(zenith_deg), math.radians(bearing_deg)
    return np.array([math.sin(z) * math.sin(b), math.sin(z) * math.cos(b), math.cos(z)])


@pytest.mark.parametrize(("kind", "expected"), [("1", 0.83258464279644), ("12", 0.45445243068520)])
def test_cie_sky(kind: str, expected: float) -> None:
    """L/Lz at 45° from the zenith, opposite a sun at 30°: tests of the colour library's cie2003."""
    terms = table("sky")["cie"][kind]
    sun = toward(30.0, 0.0)
    at, zenith = sky_luminance.cie_sky(terms, np.array([toward(45.0, 180.0), [0.0, 0.0, 1.0]]), sun)
    assert at / zenith == pytest.approx(expected, rel=1e-3)  # refraction


@pytest.mark.parametrize(
    ("altitude_deg", "low", "high"),
    # AMS Glossary of Meteorology, "twilight": sunset, end of civil, nautical, astronomical.
    [(-0.8, 410.0, 585.0), (-6.0, 2.0, 3.5), (-12.0, 0.0075, 0.0085), (-18.0, 0.00055, 0.00065)],
)
def test_twilight(altitude_deg: float, low: float, high: float) -> None:
    assert low <= sky_models.twilight_lux(np.array([altitude_deg]))[0] <= high


def test_twilight_is_unbroken() -> None:
    """Seidelmann's pieces meet: no step over 2 % of a tenth of a degree's own change and 3 %."""
    altitude = np.arange(-18.0, 90.0, 0.01)
    steps = np.abs(np.diff(np.log(sky_models.twilight_lux(altitude))))
    assert steps.max() < 0.03


def test_perez_1990() -> None:
    """A row of the IWEC weather file of Amsterdam, 1996-06-21 hour 12.

    GHI 396, DNI 13, DHI 385, extraterrestrial 1322 W/m² give 1200 lx direct and 44 800 lx diffuse.
    """
    sun = solar_positions(
        [datetime(1996, 6, 21, 10, 30, tzinfo=UTC).timestamp()],
        latitude_deg=52.3,
        longitude_deg=4.77,
    )
    zenith = 90.0 - sun.true_altitude_deg
    direct, diffuse = sky_models.perez_1990_lux(
        np.array([13.0]),
        np.array([385.0]),
        zenith_deg=zenith,
        extra=np.array([1322.0]),
        airmass=1.0 / np.cos(np.radians(zenith)),
    )
    assert diffuse[0] == pytest.approx(44800.0, rel=0.01)
    assert direct[0] == pytest.approx(1200.0, rel=0.05)  # printed to the hundred


def from_sky(sky: daylight.Sky, normals: np.ndarray) -> np.ndarray:
    """What open surfaces get of one sky alone, lx."""
    return daylight.Skies((sky,)).sky_illuminance_lux(normals)[0]


def sky_at(location: Location, moment: float, name: str) -> daylight.Sky:
    return daylight.skies(location, [moment], daylight.Weather(name))[0]


@pytest.mark.parametrize("name", SKY_NAMES)
def test_sky_gives_the_light_it_says(name: str, tmp_path: Path) -> None:
    """Luminance integrated anew over the hemisphere is the diffuse level."""
    sky = sky_at(made(bare(), tmp_path), NOON, name)
    zenith = (np.arange(PARTS) + 0.5) * (math.pi / 2 / PARTS)
    turn = (np.arange(PARTS) + 0.5) * (2 * math.pi / PARTS)
    z, b = np.meshgrid(zenith, turn)
    all_round = np.stack((np.sin(z) * np.sin(b), np.sin(z) * np.cos(b), np.cos(z)), axis=-1)
    level = daylight.Skies((sky,)).luminance_cd_m2(all_round.reshape(-1, 3)).reshape(z.shape)
    lux = (level * np.cos(z) * np.sin(z)).sum() * (math.pi / 2 / PARTS) * (2 * math.pi / PARTS)
    assert lux == pytest.approx(sky.diffuse_horizontal_lux, rel=0.01)
    assert from_sky(sky, np.array([[0.0, 0.0, 1.0]]))[0] == pytest.approx(lux, rel=0.01)


def test_overcast_levels(tmp_path: Path) -> None:
    """IES 1984: 0.3 + 21 sin h klx; a wall gets 0.396 of it from the classic overcast sky."""
    sky = sky_at(made(bare(), tmp_path), NOON, "overcast")
    expected = 300.0 + 21000.0 * math.sin(math.radians(sky.sun_altitude_deg))
    assert sky.diffuse_horizontal_lux == pytest.approx(expected, rel=1e-3)  # refraction
    wall = from_sky(sky, np.array([[1.0, 0.0, 0.0]]))[0]
    # CIE type 1, integrated by quadrature: Ev / Eh = 0.92883 / 2.44954.
    assert wall / sky.diffuse_horizontal_lux == pytest.approx(0.92883 / 2.44954, rel=0.01)


def test_clear_levels(tmp_path: Path) -> None:
    """Within the spread of the models: IES 1984 clear sky and USNO Circular 171, same altitude."""
    sky = sky_at(made(bare(), tmp_path), NOON, "clear")
    assert sky.sun_altitude_deg == pytest.approx(38.0, abs=0.5)
    h = math.radians(sky.sun_altitude_deg)
    ies = (
        127500.0 * math.exp(-0.21 / math.sin(h)) * math.sin(h)
        + 800
        + 15500 * math.sqrt(math.sin(h))
    )
    assert sky.global_horizontal_lux == pytest.approx(ies, rel=0.15)


def test_levels_go_on_smoothly_past_the_horizon(tmp_path: Path) -> None:
    """The light only fades, by less than half a stop a minute."""
    location = made(bare(), tmp_path)
    start = datetime(2026, 3, 20, 16, 0, tzinfo=UTC).timestamp()
    for name in SKY_NAMES:
        skies = daylight.skies(
            location,
            [start + 60.0 * step for step in range(200)],
            daylight.Weather(name),
        )
        assert skies[0].sun_altitude_deg > 8 > -12 > skies[-1].sun_altitude_deg
        level = np.log2([sky.diffuse_horizontal_lux for sky in skies])
        # Seidelmann's pieces meet to 2 %; Perez's bins step where haze changes them.
        assert np.diff(level).max() < (0.15 if name == "hazy" else 0.03)
        assert np.diff(level).min() > -0.45


def seen(raw: dict, folder: Path, moment: float = NOON, name: str = "clear"):  # type: ignore[no-untyped-def]
    location = made(raw, folder)
    sky = sky_at(location, moment, name)
    return gaps(location, resolve(location)[:1], daylight.Skies((sky,)))[0].times[0], sky


def test_a_block_that_fills_the_frame(tmp_path: Path) -> None:
    """Its own face lit by sun, half the sky and the ground; the arithmetic by hand."""
    raw = bare()
    # North of the house looking north: the block's south face is in the noon sun.
    raw["room"][0]["opening"][0]["wall"] = "C"
    raw["setup"][0]["camera"]["at"] = [2.0, 0.2]
    raw["outside"] = [{"name": "b", "at": [-40, 4], "size": [84, 5, 60], "reflectance": 0.5}]
    at, sky = seen(raw, tmp_path)
    south = np.array([[0.0, -1.0, 0.0]])
    lux = sky.direct_normal_lux * float(south[0] @ sky.sun)
    lux += float(from_sky(sky, south)[0])
    lux += 0.5 * 0.2 * sky.global_horizontal_lux
    through = 0.81  # double clear, near enough square on
    assert at.openings[0].luminance_cd_m2 == pytest.approx(0.5 * lux / math.pi * through, rel=0.01)


def test_a_block_in_its_own_shade_is_darker(tmp_path: Path) -> None:
    raw = bare()
    raw["outside"] = [{"name": "b", "at": [-40, -6], "size": [84, 5, 60], "reflectance": 0.5}]
    at, sky = seen(raw, tmp_path)
    north = np.array([[0.0, 1.0, 0.0]])
    lux = float(from_sky(sky, north)[0]) + 0.5 * 0.2 * sky.global_horizontal_lux
    assert at.openings[0].luminance_cd_m2 == pytest.approx(0.5 * lux / math.pi * 0.81, rel=0.01)


def test_half_the_light_is_one_stop(tmp_path: Path) -> None:
    full, _ = seen(bare(), tmp_path)
    raw = bare()
    del raw["room"][0]["opening"][0]["glass"]
    raw["room"][0]["opening"][0]["transmittance"] = 0.405
    half, _ = seen(raw, tmp_path)
    assert full.openings[0].stops - half.openings[0].stops == pytest.approx(1.0, abs=1e-9)
    raw = bare()
    raw["setup"][0]["exposure"]["iso"] = 1600
    faster, _ = seen(raw, tmp_path)
    assert faster.openings[0].stops - full.openings[0].stops == pytest.approx(1.0, abs=1e-9)


def test_dirt_and_bars(tmp_path: Path) -> None:
    """Dirt dims pane and room alike; bars only the room. Nominal ND .3 is a stop, to 0.01."""
    levels = {}
    for name, change in {
        "plain": {},
        "dirt": {"dirt": 0.5},
        "bars": {"bars": 0.5},
        "gel": {"dressing": "nd .3"},
    }.items():
        raw = bare()
        raw["room"][0]["opening"][0].update(change)
        at, _ = seen(raw, tmp_path, name="overcast")
        levels[name] = (at.openings[0].luminance_cd_m2, at.face.daylight_key_lux)
    pane, face = levels["plain"]
    assert levels["dirt"] == pytest.approx((pane / 2, face / 2))
    assert levels["bars"] == pytest.approx((pane, face / 2))
    assert math.log2(pane / levels["gel"][0]) == pytest.approx(1.0, abs=0.01)
    assert math.log2(face / levels["gel"][1]) == pytest.approx(1.0, abs=0.05)


def test_dressing(tmp_path: Path) -> None:
    raw = bare()
    raw["room"][0]["opening"][0]["dressing"] = "blackout"
    assert seen(raw, tmp_path)[0].openings[0].luminance_cd_m2 == 0.0
    raw["room"][0]["opening"][0]["dressing"] = "frosted film"
    sunny, sky = seen(raw, tmp_path)
    # In the sun the film glows: at least what the beam alone scatters.
    beam = sky.direct_normal_lux * -sky.sun[1] * 0.81 * 0.65 / math.pi
    assert sunny.openings[0].luminance_cd_m2 > 0.9 * beam


def test_out_of_frame(tmp_path: Path) -> None:
    raw = bare()
    raw["setup"][0]["camera"].update(at=[2.0, 0.4], toward=[2.0, 3.0])
    gap = seen(raw, tmp_path)[0].openings[0]
    assert not gap.in_frame
    assert gap.stops is None


def test_a_dimmed_lamp_is_a_weaker_lamp(tmp_path: Path) -> None:
    """A kit whose lamp gives just that share leaves the same face, worked out anew."""
    (tmp_path / "shared/kits").mkdir(parents=True)

    def lit(lux_at_1m: float) -> TimeGap:
        kit = f'name = "one"\nlamp = [{{ name = "lamp", watts = 100, lux_at_1m = {lux_at_1m} }}]\n'
        (tmp_path / "shared/kits/one.toml").write_text(kit, encoding="utf-8")
        return seen(raw, tmp_path, name="overcast")[0]

    raw = bare()
    raw["setup"][0] |= {"kit": "one"}
    raw["setup"][0]["key"] = {"lamp": "lamp", "from": [0.5, 0.8], "height": 1.8}
    full = lit(50_000.0).face
    asked = 2.0 * full.daylight_key_lux
    share = (asked - full.daylight_key_lux) / (full.key_lux - full.daylight_key_lux)
    assert 0.0 < share < 0.5
    dark = lit(1e-6).face
    dimmed = full.with_lamp(share, dark.wall_lux)
    weaker = lit(50_000.0 * share).face
    assert weaker.key_lux == pytest.approx(asked, rel=1e-6)
    assert (weaker.fill_lux, weaker.ratio, weaker.wall_lux) == pytest.approx(
        (dimmed.fill_lux, dimmed.ratio, dimmed.wall_lux), rel=1e-6
    )


def test_a_camera_where_the_face_is(tmp_path: Path) -> None:
    """A shot through the character's own eyes: the face is lit as one that looks back at it."""
    raw = bare()
    raw["setup"][0]["camera"].update(at=[2.0, 1.6], toward=[2.0, 0.0])
    at, _ = seen(raw, tmp_path, name="overcast")
    raw["setup"][0]["camera"].update(at=[2.0, 1.7])
    beside, _ = seen(raw, tmp_path, name="overcast")
    assert at.face.daylight_key_lux == pytest.approx(beside.face.daylight_key_lux, rel=1e-6)
    assert at.face.wall_lux > 0


def test_a_room_without_openings(tmp_path: Path) -> None:
    raw = bare()
    raw["room"][0]["opening"] = []
    raw["setup"][0]["camera"]["toward"] = "chair"
    at, _ = seen(raw, tmp_path)
    assert at.openings == ()
    assert at.face.daylight_key_lux == 0.0
    assert at.face.ratio == math.inf


def test_level_rays_meet_the_sky(tmp_path: Path) -> None:
    """However rounding tips them; the horizon's luminance is 1 / (1 + 4 e^−0.7) of the zenith's.

    ISO 15469:2004, type 1. A ray that truly falls meets the ground.
    """
    location = made(bare(), tmp_path)
    scene, overcast = exterior_scene(location, location.room[0]), sky_at(location, NOON, "overcast")
    tips = np.array([1e-16, 0.0, -1e-16, -1e-6])
    level = np.stack((np.zeros(4), np.full(4, -1.0), tips), axis=-1)
    rays = np.concatenate((level, [[0.0, 0.0, 1.0]]))
    hits = scene.trace(np.tile([2.0, -0.5, 1.5], (5, 1)), rays)
    assert hits.block.tolist() == [SKY, SKY, SKY, GROUND, SKY]
    luminance = scene.luminance_cd_m2(hits, daylight.Skies((overcast,)))[0]
    assert luminance[:3] / luminance[4] == pytest.approx(1 / (1 + 4 * math.exp(-0.7)), rel=1e-5)
    patches = sky_luminance.patch_index(rays[:3])
    assert (patches == patches[0]).all()


def test_a_cell_level_with_a_point_is_half_sky(tmp_path: Path) -> None:
    """Half way between what a point a hair lower and one a hair higher see, whichever the last bit.

    The lower one looks up through that row of cells, the higher one down.
    """
    location = made(bare(), tmp_path)
    beam = beam_of(location, location.room[0])
    window, sorter = beam.apertures[0], PatchSorter(exterior_scene(location, beam.room))
    rows = math.ceil(window.height / FINE_CELL_M)
    level = window.origin[2] + (rows // 2 + 0.5) * window.height / rows
    middle = window.world(np.array([window.width / 2, 0.0]))[:2] - window.outward[:2]
    heights = level + np.array([-1e-4, -1e-15, 0.0, 1e-15, 1e-4])
    points = np.insert(np.tile(middle, (5, 1)), 2, heights, axis=1)
    normals = np.tile(window.outward, (5, 1))
    rays = rays_from_points(beam, window, points, normals, sorter, cell_m=FINE_CELL_M)
    of_sky = rays.weight * (rays.patch < len(sky_luminance.sky_patches()[0]))
    lower, *at_level, higher = np.bincount(rays.point, of_sky)
    assert lower > 1.02 * higher
    assert at_level == pytest.approx([(lower + higher) / 2] * 3, rel=1e-4)


def test_moonlight_falls_as_sunlight_does(tmp_path: Path) -> None:
    """A wall in the light of a full moon: the moon's share, the night sky's and the ground's."""
    location = made(bare(), tmp_path)
    night = sky_at(location, datetime(2026, 1, 3, 23, 50, tzinfo=UTC).timestamp(), "clear")
    assert night.moon is not None
    assert night.light_vector is night.moon
    assert 0.1 < night.direct_normal_lux < 0.4
    day = sky_at(location, NOON, "clear")
    assert day.moon is None
    assert day.light_vector is day.sun
    south = np.array([[0.0, -1.0, 0.0]])
    wall = exterior_scene(location, location.room[0]).illuminance_lux(
        np.array([[2.0, -0.1, 1.0]]), south, daylight.Skies((night,))
    )[0]
    shine = night.direct_normal_lux * float(south[0] @ night.moon)
    rest = float(from_sky(night, south)[0]) + 0.1 * night.global_horizontal_lux
    assert wall[0] == pytest.approx(shine + rest, rel=1e-6)
    assert not seen(bare(), tmp_path, night.unix_s)[0].openings[0].treatment.sun_in_frame


@pytest.mark.parametrize(
    ("hour", "sky", "hang", "layers", "tent"),
    [
        # Noon, dusk wanted: the south window is beyond any dressing and gel.
        (11, "clear", None, 0, True),
        # An overcast late afternoon: a blind and one gel, where gel alone takes two.
        (16, "overcast", "blind", 1, True),
        # Not long before dusk: cloth alone.
        (17, "overcast", "blind", 0, True),
    ],
)
def test_dressing_advised(
    hour: int, sky: str, hang: str | None, layers: int, tent: bool, tmp_path: Path
) -> None:
    """What is advised brings the opening into its band when it hangs there."""
    moment = datetime(2026, 3, 20, hour, 40, tzinfo=UTC).timestamp()
    raw = bare()
    raw["setup"][0]["plays"] = "dusk"
    window = seen(raw, tmp_path, moment, sky)[0].openings[0]
    ways = window.treatment
    assert ways is not None
    assert (ways.hang, len(ways.hang_gels), ways.tent) == (hang, layers, tent)
    if hang is not None:
        raw["room"][0]["opening"][0]["dressing"] = hang
        raw["room"][0]["opening"][0]["transmittance"] = 0.81 * 10.0 ** -sum(
            gel.density for gel in ways.hang_gels
        )
        del raw["room"][0]["opening"][0]["glass"]
        hung = seen(raw, tmp_path, moment, sky)[0].openings[0]
        assert hung.lose_stops == 0.0
        assert hung.treatment is not None
        assert hung.treatment.hang is None


def test_closing_is_told_wherever_it_does(tmp_path: Path) -> None:
    """A kit with one grade of gel: every closing that the key allows is tried, a hundredth apart.

    What is told brings the window into its band; where nothing is told, nothing does.
    """
    raw = bare()
    raw["setup"][0] |= {"plays": "dusk", "kit": "one"}
    raw["setup"][0]["key"] = {"lamp": "led 60", "from": [1.0, 2.4], "height": 1.8}
    shelf = tmp_path / "shared" / "kits"
    shelf.mkdir(parents=True)
    lamp = 'name = "led 60"\nlux_at_1m = 9000\nbeam = 55\nwatts = 70\nbalance = 5600\n'
    gel = '[[gel]]\nname = "nd .6"\ndensity = 0.6\n'
    (shelf / "one.toml").write_text(f'name = "one"\n[[lamp]]\n{lamp}{gel}', encoding="utf-8")
    place = made(raw, tmp_path)
    start = datetime(2026, 3, 20, 6, tzinfo=UTC).timestamp()
    above = daylight.skies(
        place, even_moments(start, start + 43200.0, 300.0), daylight.Weather("overcast")
    )
    gap = gaps(place, resolve(place), above)[0]
    low, high = gap.look.window
    (lamp_lux,) = (light.key_side_lux for light in key_lights(place, resolve(place)))
    short = 0
    for moment in gap.times:
        (window,) = moment.openings
        assert window.stops is not None
        assert window.treatment is not None
        if not window.lose_stops:
            continue
        spare = meter.stops(lamp_lux, gap.key_lux)  # without daylight, which may be kept out
        layer = 0.6 * math.log2(10.0)  # by definition of density
        taken = [layer * count for count in range(3)]
        left = window.stops - np.add.outer(np.arange(0.0, spare, 0.01), taken)
        does = bool(((left >= low) & (left <= high)).any())
        ways = window.treatment
        left_stops = window.stops - ways.stop_down - layer * len(ways.gels_then)
        if ways.stop_down:
            assert low - 0.01 <= left_stops <= high + 0.01
            short += ways.stop_down < min(spare, window.lose_stops) - 0.01
        assert (bool(ways.stop_down) or bool(window.gels)) == does
    assert short > 3


def test_no_tent_upstairs(tmp_path: Path) -> None:
    raw = bare()
    raw["room"][0]["floor"] = 3.0
    treatment = seen(raw, tmp_path)[0].openings[0].treatment
    assert treatment is not None
    assert not treatment.tent


def test_no_tent_over_water(tmp_path: Path) -> None:
    raw = bare()
    raw["room"][0]["opening"][0]["before"] = "water"
    window = seen(raw, tmp_path)[0].openings[0]
    assert window.black
    assert window.treatment is not None
    assert not window.treatment.tent


def test_sun_in_frame(tmp_path: Path) -> None:
    raw = bare()
    low = datetime(2026, 12, 21, 11, 40, tzinfo=UTC).timestamp()  # noon, 14.5° up
    raw["setup"][0]["camera"].update(at=[2.0, 1.9], height=1.2, toward=[2.0, -10.0])
    assert (
        not seen(raw, tmp_path, low)[0].openings[0].treatment.sun_in_frame
    )  # 14.5° is above 11.5°
    raw["setup"][0]["camera"]["view"] = [40, 32]
    hit = seen(raw, tmp_path, low)[0].openings[0]
    assert hit.treatment.sun_in_frame
    assert hit.black
    raw["outside"] = [{"name": "b", "at": [-40, -30], "size": [84, 5, 30]}]
    assert not seen(raw, tmp_path, low)[0].openings[0].treatment.sun_in_frame


@pytest.mark.parametrize(
    ("level", "density"),
    # Dusk wants −2 to −1: density 0.3 takes one stop.
    [(0.4, 0.6), (1.4, 0.9), (2.5, 1.2), (4.5, 1.8), (6.5, 2.4)],
)
def test_gel(level: float, density: float, tmp_path: Path) -> None:
    kit = made(bare(), tmp_path).kits["default"]
    band = look("dusk").window
    stacks, (low, high) = gel_stacks(kit.gel), np.array(band)[:, None]
    numbers, _ = stacks.first(np.array([level, 9.0]), np.zeros(2), (low, high), black_reads=True)
    chosen = stacks.stacks[numbers[0]]
    assert sum(gel.density for gel in chosen) == pytest.approx(density)
    left = level - density / 0.30103  # definition of density: log10 of 1/T
    assert band[0] <= left <= band[1]
    assert numbers[1] == NO_STACK


@pytest.mark.parametrize(
    ("name", "moment", "lux", "ev"),
    [
        # Orders of magnitude of illuminance as published: bright sun 111 000 lx, the brightest
        # 120 000; full daylight 10 000 to 25 000; end of nautical twilight 0.008. ANSI PH2.7:
        # a typical scene in full sun EV 15 at ISO 100 (82 to 108 klx), heavy overcast 12 to 13.
        ("clear", datetime(2026, 6, 21, 11, 40, tzinfo=UTC), (80e3, 120e3), (14.9, 15.6)),
        ("overcast", datetime(2026, 6, 21, 11, 40, tzinfo=UTC), (10e3, 25e3), (12.0, 13.3)),
        ("overcast", datetime(2026, 11, 21, 11, 20, tzinfo=UTC), (4e3, 10e3), (10.6, 12.0)),
        ("clear", datetime(2026, 3, 20, 19, 5, tzinfo=UTC), (0.004, 0.016), (-9.3, -7.3)),
        # Full moon, high: 0.1 to 0.3 lx in the lists, EV −3 to −2 in the guide, which is EV −4.6
        # to −3.1 by ISO 2720's constants: published values that differ by a stop.
        ("clear", datetime(2026, 1, 3, 23, 50, tzinfo=UTC), (0.1, 0.32), (-4.6, -3.0)),
        # Under cloud no more than the dark overcast night's neighbour by the same share as by day.
        ("overcast", datetime(2026, 1, 3, 23, 50, tzinfo=UTC), (0.03, 0.16), (-6.4, -4.0)),
        # No moon: starlight and airglow 0.0006 to 0.002 lx.
        ("clear", datetime(2026, 1, 18, 23, 50, tzinfo=UTC), (0.0005, 0.002), (-12.3, -10.3)),
    ],
    ids=[
        *("sunny", "overcast in summer", "overcast in winter", "deep twilight"),
        *("full moon", "full moon under cloud", "no moon"),
    ],
)
def test_levels_outdoors(
    name: str,
    moment: datetime,
    lux: tuple[float, float],
    ev: tuple[float, float],
    tmp_path: Path,
) -> None:
    level = sky_at(made(bare(), tmp_path), moment.timestamp(), name).global_horizontal_lux
    assert lux[0] < level < lux[1]
    assert ev[0] < math.log2(level / 2.5) < ev[1]  # ISO 2720, C 250: 2.5 lx at EV 0


def test_a_kept_trace_is_that_of_this_room_in_this_place(tmp_path: Path) -> None:
    """Asked again it gives the same to the last digit, and so does each place that differs."""
    spot, out = np.array([[2.0, 1.0, 1.2]]), np.array([[0.0, -1.0, 0.0]])
    known = []

    def lux(location: Location) -> np.ndarray:
        traced = trace_room(location, location.room[0])
        known.append(traced.sorter.patches().count)
        traced.transfer_to(0.5 * spot, out)  # what else is asked leaves nothing behind
        above = skies(location, [NOON], Weather("clear"))
        return traced.transfer_to(spot, out).lux_by_opening(above)

    asked = []
    for change in ("none", "plan_up", "ground_reflectance", "outside", "room"):
        raw = bare()
        if change in raw["location"]:
            raw["location"][change] += 0.1
        if change == "outside":
            raw["outside"] = [{"name": "shed", "at": [0.0, -4.0], "size": [3.0, 2.0, 3.0]}]
        if change == "room":
            raw["room"][0]["opening"][0]["glass"] = "single clear"
        asked.append(made(raw, tmp_path))
    kept = [lux(location) for location in (*asked, *asked)]
    fresh = []
    for location in asked:
        daylight_transfer._traced.cache_clear()
        fresh.append(lux(location))
    np.testing.assert_array_equal(kept, [*fresh, *fresh])
    assert len({one.tobytes() for one in fresh}) == len(asked)
    assert known == 3 * known[: len(asked)]
