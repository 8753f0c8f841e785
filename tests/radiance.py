"""Daylight in a room by Radiance: an outside authority that shares no code with the program.

The room of a location file is written as a Radiance scene, and rtrace (from the PyPI package
`pyradiance`) follows light backwards through it. The rooms are made of
    * the shell: floor, ceiling and walls without thickness, with rectangular holes; both sides
      of a wall have the reflectance of the wall;
    * for each opening the straight sides of its reveal or shaft (the walls' reflectance) and, at
      its end, the glass: Radiance's `glass`, one clear sheet of index 1.52;
    * the outside blocks and the ground.
Nothing else of the building exists: no roof, no neighbouring room, no floor below.

Conventions
    Plan frame: x to the right, y up the sheet, z up (0 = the ground), metres.
    Sky: the CIE standard general sky (ISO 15469:2004) with its five terms a ... e.
    Everything is grey. Lux and cd/m2 are Radiance's watts times 179.
    The ground is a disk of GROUND_RADIUS_M; beyond it the lower half of the world glows as
    ground does that nothing shades, which makes the ground endless. It lies GROUND_DROP_M below
    z = 0, so that it does not coincide with a floor at z = 0.

How rtrace is run
    Without a cache of indirect light (-aa 0): each of the -ad rays that leave a sensor goes on
    as one path with Russian roulette, so results carry noise but no interpolation error. Every
    ray is sent several times and the spread of the answers gives the standard error. The random
    numbers are uncorrelated (-u+) and start from no fixed seed: two runs differ by their noise.
    rtrace's own correlated sequence would repeat to the digit, but it lay 0.7 % off in a white
    room with a patch of sun and 0.2 % in an integrating sphere, where this one met the formula.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib import metadata
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import oneray
import pyradiance
import ray_parts
import shapely

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

LUMENS_PER_WATT = 179.0
"""Radiance's luminous efficacy of its grey watts, lm/W."""

SUN_DISK_DEG = 0.533
"""Angular diameter of the sun, degrees."""

GROUND_RADIUS_M = 300.0
"""Radius of the disk of ground that can be shaded, metres."""

GROUND_DROP_M = 0.001
"""How far below z = 0 that disk lies, metres."""


# --------------------------------------------------------------------------------------------
# the sky


@dataclass(frozen=True)
class Sky:
    """A CIE general sky and a sun."""

    terms: tuple[float, float, float, float, float]
    """a, b (gradation) and c, d, e (scattering indicatrix) of ISO 15469."""
    diffuse_horizontal_lux: float
    direct_normal_lux: float
    sun: tuple[float, float, float]
    """Unit vector toward the sun, plan frame; it turns the sky even when there is no sun."""

    def relative_luminance(self, directions: npt.ArrayLike) -> Floats:
        """Luminance (...) of unit vectors (..., 3) above the horizon, in the sky's own unit."""
        a, b, c, d, e = self.terms
        v = np.asarray(directions, float)
        cosine = np.clip(v @ np.asarray(self.sun, float), -1.0, 1.0)
        angle = np.arccos(cosine)
        gradation = 1.0 + a * np.exp(np.maximum(b / np.maximum(v[..., 2], 1e-4), -60.0))
        indicatrix = (
            1.0 + c * (np.exp(d * angle) - math.exp(d * 0.5 * math.pi)) + e * cosine * cosine
        )
        luminance: Floats = gradation * indicatrix
        return luminance

    def luminance_per_unit(self) -> float:
        """cd/m2 of one unit of `relative_luminance`: the sky then gives its diffuse lux."""
        count = 1500
        middle = (np.arange(count) + 0.5) / count
        azimuth = 2.0 * np.pi * middle
        # steps of equal horizontal illuminance: sin2 of the zenith distance runs evenly
        radius, height = np.sqrt(middle), np.sqrt(1.0 - middle)
        mean = np.mean(
            [
                self.relative_luminance(
                    np.stack([r * np.cos(azimuth), r * np.sin(azimuth), np.full(count, h)], axis=-1)
                ).mean()
                for r, h in zip(radius, height, strict=True)
            ]
        )
        return self.diffuse_horizontal_lux / (math.pi * float(mean))

    @property
    def horizontal_lux(self) -> float:
        """Illuminance of level ground that nothing shades."""
        return self.diffuse_horizontal_lux + self.direct_normal_lux * max(self.sun[2], 0.0)


SKY_CAL = """{ CIE standard general sky: A1 scale; A2 ... A6 terms; A7, A8, A9 toward the sun }
zcos = if(Dz - 1e-4, Dz, 1e-4);
power = if(A3/zcos + 60, A3/zcos, -60);
scos(x) = if(x - 1, 1, if(-1 - x, -1, x));
sdot = scos(Dx*A7 + Dy*A8 + Dz*A9);
sangle = acos(sdot);
gradation = 1 + A2*exp(power);
indicatrix = 1 + A4*(exp(A5*sangle) - exp(A5*PI/2)) + A6*sdot*sdot;
skybright = A1*gradation*indicatrix;
"""


def _sky_text(sky: Sky, ground_reflectance: float, cal: Path) -> str:
    terms = [sky.luminance_per_unit() / LUMENS_PER_WATT, *sky.terms, *sky.sun]
    lower = ground_reflectance * sky.horizontal_lux / math.pi / LUMENS_PER_WATT
    text = [
        f"void brightfunc sky_pattern\n2 skybright {cal}\n0\n9 {_numbers(terms)}",
        "sky_pattern glow sky_glow\n0\n0\n4 1 1 1 0",
        "sky_glow source sky\n0\n0\n4 0 0 1 180",
        f"void glow far_ground_glow\n0\n0\n4 {_numbers([lower] * 3)} 0",
        "far_ground_glow source far_ground\n0\n0\n4 0 0 -1 180",
    ]
    if sky.direct_normal_lux > 0.0:
        solid = 2.0 * math.pi * (1.0 - math.cos(math.radians(0.5 * SUN_DISK_DEG)))
        bright = sky.direct_normal_lux / solid / LUMENS_PER_WATT
        text += [
            f"void light sun_light\n0\n0\n3 {_numbers([bright] * 3)}",
            f"sun_light source sun\n0\n0\n4 {_numbers([*sky.sun, SUN_DISK_DEG])}",
        ]
    return "\n".join(text) + "\n"


# --------------------------------------------------------------------------------------------
# surfaces


@dataclass(frozen=True)
class Panel:
    """An opaque lambertian rectangle in the room; both sides are alike."""

    centre: tuple[float, float, float]
    across: tuple[float, float, float]
    """Unit vector along its width."""
    up: tuple[float, float, float]
    """Unit vector along its height, at right angles to `across`."""
    size_m: tuple[float, float]
    reflectance: float

    @property
    def corners(self) -> Floats:
        """Corners (4, 3), metres."""
        a = 0.5 * self.size_m[0] * np.asarray(self.across, float)
        u = 0.5 * self.size_m[1] * np.asarray(self.up, float)
        c = np.asarray(self.centre, float)
        return np.stack([c - a - u, c + a - u, c + a + u, c - a + u])


def transmissivity(transmittance: float) -> float:
    """Radiance's `glass` parameter for a transmittance at normal incidence (index 1.52)."""
    t = transmittance
    root = math.sqrt(0.8402528435 + 0.0072522239 * t * t)
    return (root - 0.9166530661) / 0.0036261119 / t


def glass_transmittance(transmittance: float, cosine: npt.ArrayLike) -> Floats:
    """What Radiance's `glass` lets through at an angle of incidence.

    One sheet of index 1.52 between air on both sides, both polarisations, all inner reflections.
    """
    index = 1.52
    outer = np.abs(np.asarray(cosine, float))
    inner = np.sqrt(1.0 - (1.0 - outer * outer) / index**2)
    through = transmissivity(transmittance) ** (1.0 / inner)
    total: Floats = np.zeros_like(outer)
    for reflected in (
        ((outer - index * inner) / (outer + index * inner)) ** 2,
        ((inner - index * outer) / (inner + index * outer)) ** 2,
    ):
        total = total + 0.5 * (1.0 - reflected) ** 2 * through / (1.0 - (reflected * through) ** 2)
    return total


def _numbers(values: Sequence[float]) -> str:
    return " ".join(repr(float(v)) for v in values)


def _plastic(name: str, reflectance: float) -> str:
    return f"void plastic {name}\n0\n0\n5 {_numbers([reflectance] * 3)} 0 0\n"


def _polygon(material: str, name: str, corners: npt.ArrayLike) -> str:
    flat = np.asarray(corners, float).reshape(-1)
    return f"{material} polygon {name}\n0\n0\n{len(flat)} {_numbers(list(flat))}\n"


def _sheet(material: str, name: str, shape: shapely.Geometry, plane: ray_parts.Plane) -> str:
    """A flat polygon with holes, in triangles."""
    text: list[str] = []
    for part in shapely.get_parts(shapely.constrained_delaunay_triangles(shape)):
        corners = np.asarray(part.exterior.coords, float)[:3]
        text.append(_polygon(material, f"{name}.{len(text)}", plane.lift(corners)))
    return "".join(text)


def _ground_text(reflectance: float) -> str:
    ring = f"8 0 0 {-GROUND_DROP_M} 0 0 1 0 {GROUND_RADIUS_M}"
    return _plastic("ground", reflectance) + f"ground ring ground_disk\n0\n0\n{ring}\n"


def _block_text(entry: Mapping[str, Any], index: int) -> str:
    x, y, height = (float(s) for s in entry["size"])
    base = float(entry.get("base", 0.0))
    turn = math.radians(float(entry.get("turn", 0.0)))
    u = np.array([math.cos(turn), math.sin(turn)])
    v = np.array([-math.sin(turn), math.cos(turn)])
    foot = np.asarray(entry["at"], float) + np.stack([0 * u, x * u, x * u + y * v, y * v])
    low = base if base > 0.0 else -GROUND_DROP_M
    bottom = np.column_stack([foot, np.full(4, low)])
    top = np.column_stack([foot, np.full(4, base + height)])
    material = f"block_{index}"
    text = [_plastic(material, float(entry["reflectance"]))]
    faces = [bottom, top]
    faces += [np.stack([bottom[i], bottom[i - 1], top[i - 1], top[i]]) for i in range(4)]
    text += [_polygon(material, f"{material}.{i}", face) for i, face in enumerate(faces)]
    return "".join(text)


# --------------------------------------------------------------------------------------------
# running rtrace


@dataclass(frozen=True)
class Settings:
    """How hard rtrace works."""

    divisions: int = 16384
    """-ad: rays that leave a sensor (or, for luminance, the first matt surface)."""
    bounces: int = 60
    """-ab: the longest path."""
    repeats: int = 16
    """How often each ray is sent; the spread gives the standard error."""
    wanted_error: float | None = None
    """A sensor whose standard error is a larger share of its lux is traced again, longer."""
    most_repeats: int = 480
    """The end of that."""

    def arguments(self) -> list[str]:
        """Command-line arguments of rtrace.

        Paths end by Russian roulette (a negative -lr) once they weigh less than -lw; roulette
        keeps the mean right at any -lw.
        """
        bounces, divisions = str(self.bounces), str(self.divisions)
        weight = f"{min(0.2 / self.divisions, 0.002):.3g}"
        text = f"-ab {bounces} -ad {divisions} -as 0 -aa 0 -av 0 0 0 -aw 0 -u+ "
        text += f"-lr -{max(self.bounces, 1) + 8} -lw {weight} -dj 0 -dt 0 -dc 1"
        return text.split()


@dataclass(frozen=True)
class Reading:
    """A mean with the standard error that its noise leaves."""

    value: Floats
    standard_error: Floats


def versions() -> dict[str, str]:
    """Versions of what the numbers hang on."""
    engine = pyradiance.rtrace(b"", "", version=True).decode().strip()
    return {"pyradiance": metadata.version("pyradiance"), "rtrace": engine}


def _rtrace(
    files: Mapping[str, str], rays: Floats, settings: Settings, *, irradiance: bool
) -> Floats:
    """Trace rays (N, 6) `repeats` times through scene text: lux or cd/m2 (repeats, N).

    files: names and texts; "@" in a text stands for the folder, "*.rad" are scene files.
    """
    rays = np.tile(np.asarray(rays, float), (settings.repeats, 1))
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        for name, text in files.items():
            (here / name).write_text(text.replace("@", folder), encoding="ascii")
        scene = sorted(here.glob("*.rad"))
        octree = here / "scene.oct"
        octree.write_bytes(pyradiance.oconv(*scene))
        answer = pyradiance.rtrace(
            rays.astype("<f8").tobytes(),
            octree,
            header=False,
            inform="d",
            outform="d",
            irradiance=irradiance,
            params=settings.arguments(),
        )
    rgb = np.frombuffer(answer, "<f8").reshape(settings.repeats, -1, 3)
    return LUMENS_PER_WATT * rgb[..., 1]


def _reading(samples: Floats) -> Reading:
    """Mean and standard error over the first axis."""
    count = len(samples)
    error = samples.std(axis=0, ddof=1) / math.sqrt(count) if count > 1 else samples[0] * np.nan
    return Reading(samples.mean(axis=0), np.asarray(error))


def _rays(origins: npt.ArrayLike, directions: npt.ArrayLike) -> Floats:
    o, d = np.broadcast_arrays(np.asarray(origins, float), np.asarray(directions, float))
    return np.concatenate([o, d], axis=-1).reshape(-1, 6)


# --------------------------------------------------------------------------------------------
# rooms


class Scene:
    """A room of a location, what stands outside, and a sky over it.

    raw: the dictionary of a parsed location file with units = "m" and plain numbers.
    glass: transmittance at normal incidence of the glasses that the file names.
    hung: black cloth and flags, in the room or outside. lit: a sheet that sends out so many lux,
    evenly and to one side alone, that from which its corners run counter-clockwise.
    black_room: the room (shell, reveals, panel) reflects nothing on either side; what is left is
    light that comes straight from outside. without_room: only the outside, no shell, no glass.
    even_ground: the ground glows everywhere as ground does that nothing shades and on which no
    wall throws light, so that the building and the blocks leave no trace on it.
    """

    def __init__(
        self,
        raw: Mapping[str, Any],
        room_name: str,
        *,
        sky: Sky,
        glass: Mapping[str, float] | None = None,
        panel: Panel | None = None,
        hung: Sequence[Panel] = (),
        lit: tuple[Panel, float] | None = None,
        black_room: bool = False,
        without_room: bool = False,
        even_ground: bool = False,
    ) -> None:
        """Write the scene; ValueError for a file with something that is not modelled."""
        if raw.get("skyline"):
            raise ValueError("a skyline is not modelled here")
        self.shape = oneray.Scene(dict(raw), room_name)
        self.sky = sky
        self.ground_reflectance = float(raw["location"].get("ground_reflectance", 0.2))
        room = next(r for r in raw["room"] if r["name"] == room_name)
        text = [] if even_ground else [_ground_text(self.ground_reflectance)]
        text += [_block_text(entry, i) for i, entry in enumerate(raw.get("outside", []))]
        if not without_room:
            share = 0.0 if black_room else 1.0
            text.append(self._shell_text(room["reflectance"], share))
            for opening, entry in zip(self.shape.openings, room.get("opening", []), strict=True):
                text.append(self._opening_text(opening, entry, {} if glass is None else glass))
            if panel is not None:
                text.append(_plastic("panel", share * panel.reflectance))
                text.append(_polygon("panel", "panel_sheet", panel.corners))
            for number, sheet in enumerate(hung):
                text.append(_plastic(f"hung_{number}", share * sheet.reflectance))
                text.append(_polygon(f"hung_{number}", f"hung_sheet_{number}", sheet.corners))
            if lit is not None:
                sheet, exitance_lux = lit
                radiance = exitance_lux / math.pi / LUMENS_PER_WATT
                text.append(f"void light frame_light\n0\n0\n3 {_numbers([radiance] * 3)}\n")
                text.append(_polygon("frame_light", "frame_sheet", sheet.corners))
        self._files = {
            "scene.rad": "\n".join(text),
            "sky.rad": _sky_text(sky, self.ground_reflectance, Path("@/sky.cal")),
            "sky.cal": SKY_CAL,
        }

    def _shell_text(self, reflectance: Mapping[str, float], share: float) -> str:
        shape = self.shape
        text = [_plastic(n, share * float(reflectance[n])) for n in ("floor", "walls", "ceiling")]
        floor = shape.surface_plane("floor")
        ceiling = ray_parts.Plane(np.array([0.0, 0.0, shape.ceiling_m]), floor.u, floor.v)
        cover: shapely.Geometry = shape.polygon
        for opening in shape.openings:
            if opening.wall is None:
                cover = cover.difference(shapely.Polygon(opening.aperture[:, :2]))
        text.append(_sheet("floor", "floor_sheet", shape.polygon, floor))
        text.append(_sheet("ceiling", "ceiling_sheet", cover, ceiling))
        for wall in range(len(shape.outline)):
            plane = shape.wall_plane(wall)
            sheet: shapely.Geometry = shapely.box(
                0.0, 0.0, shape.wall_length_m(wall), shape.height_m
            )
            for opening in shape.openings:
                if opening.wall == wall:
                    sheet = sheet.difference(shapely.Polygon(plane.lower(opening.aperture)))
            text.append(_sheet("walls", f"wall_{wall}", sheet, plane))
        return "".join(text)

    def _opening_text(
        self, opening: ray_parts.Opening, entry: Mapping[str, Any], glass: Mapping[str, float]
    ) -> str:
        if entry.get("dressing", "none") != "none":
            raise ValueError(f"{opening.name}: a dressing is not modelled here")
        if "transmittance" in entry:
            transmittance = float(entry["transmittance"])
        elif entry.get("glass") in glass:
            transmittance = float(glass[entry["glass"]])
        else:
            raise ValueError(f"{opening.name}: no transmittance for {entry.get('glass')!r}")
        name = f"opening_{opening.index}"
        clear = [transmissivity(transmittance)] * 3
        inner, outer = opening.aperture, opening.glass
        text = [f"void glass {name}_glass\n0\n0\n3 {_numbers(clear)}\n"]
        for i in range(4):
            side = np.stack([inner[i - 1], inner[i], outer[i], outer[i - 1]])
            text.append(_polygon("walls", f"{name}_side.{i}", side))
        text.append(_polygon(f"{name}_glass", f"{name}_pane", outer))
        return "".join(text)

    # -- asking

    def illuminance(
        self, points: npt.ArrayLike, normals: npt.ArrayLike, *, settings: Settings | None = None
    ) -> Reading:
        """Lux (N,) at points (N, 3) on small planes that face `normals` (N, 3)."""
        settings = Settings() if settings is None else settings
        rays = _rays(points, normals)
        first = _reading(_rtrace(self._files, rays, settings, irradiance=True))
        if settings.wanted_error is None or settings.repeats < 2:
            return first
        value, error = first.value.copy(), first.standard_error.copy()
        for i in np.flatnonzero(error > settings.wanted_error * value):
            wanted = settings.repeats * (error[i] / (settings.wanted_error * value[i])) ** 2
            repeats = min(math.ceil(1.1 * wanted), settings.most_repeats)
            more = replace(settings, repeats=max(repeats, settings.repeats))
            again = _reading(_rtrace(self._files, rays[i : i + 1], more, irradiance=True))
            value[i], error[i] = again.value[0], again.standard_error[0]
        return Reading(value, error)

    def direct_sun(self, points: npt.ArrayLike, normals: npt.ArrayLike) -> Floats:
        """Lux (N,) that come straight from the sun (its centre decides)."""
        only = Settings(bounces=0, divisions=1, repeats=1)
        return self.illuminance(points, normals, settings=only).value

    def luminance(
        self, origins: npt.ArrayLike, directions: npt.ArrayLike, *, settings: Settings | None = None
    ) -> Reading:
        """Mean luminance, cd/m2, over rays from origins (N, 3) or (3,) along directions (N, 3)."""
        settings = Settings(divisions=1024) if settings is None else settings
        samples = _rtrace(self._files, _rays(origins, directions), settings, irradiance=False)
        return _reading(samples.mean(axis=1))

    def view(self, camera: npt.ArrayLike, opening: int, cells: int = 12) -> Floats:
        """Directions (N, 3) from a camera through an opening.

        The inner face's rectangle is cut into cells x cells equal cells; a ray goes through each
        cell's centre and is kept when it passes the glass as well.
        """
        hole = self.shape.openings[opening]
        at = np.asarray(camera, float)
        share = (np.arange(cells) + 0.5) / cells
        uv = np.stack(np.meshgrid(share, share, indexing="ij"), axis=-1).reshape(-1, 2)
        through = hole.plane.lift(uv * np.asarray(hole.size_m))
        ways = (through - at) / np.linalg.norm(through - at, axis=-1, keepdims=True)
        corner = hole.glass[0]
        sides = np.stack([hole.glass[1] - corner, hole.glass[3] - corner], axis=-1)
        # at + t*way = corner + p*side + q*other; the glass is passed when 0 < p, q < 1
        system = np.concatenate(
            [np.broadcast_to(sides, (len(ways), 3, 2)), -ways[..., None]], axis=-1
        )
        right = np.broadcast_to((at - corner)[:, None], (len(ways), 3, 1))
        p, q, t = np.linalg.solve(system, right)[..., 0].T
        passes: Bools = (t > 0.0) & (p > 0.0) & (p < 1.0) & (q > 0.0) & (q < 1.0)
        kept: Floats = ways[passes]
        return kept


def even_surround(
    luminance_cd_m2: float,
    side_m: float,
    points: npt.ArrayLike,
    normals: npt.ArrayLike,
    *,
    panel: Panel | None = None,
    settings: Settings | None = None,
) -> Reading:
    """Lux (N,) in a closed cube about (0, 0, 0) whose inside glows evenly and reflects nothing."""
    settings = Settings() if settings is None else settings
    glow = [luminance_cd_m2 / LUMENS_PER_WATT] * 3
    text = [f"void glow even\n0\n0\n4 {_numbers(glow)} 0\n"]
    corners = 0.5 * side_m * np.array([[-1, -1, 1], [1, -1, 1], [1, 1, 1], [-1, 1, 1]], float)
    for axis in range(3):
        for sign in (-1.0, 1.0):
            face = np.roll(corners * np.array([1.0, 1.0, sign]), axis, axis=1)
            face = face[::-1] if sign > 0 else face  # a glow shines from its front only
            text.append(_polygon("even", f"cube.{axis}{'+' if sign > 0 else '-'}", face))
    if panel is not None:
        text += [_plastic("panel", panel.reflectance)]
        text.append(_polygon("panel", "panel_sheet", panel.corners))
    files = {"scene.rad": "".join(text)}
    return _reading(_rtrace(files, _rays(points, normals), settings, irradiance=True))


def sphere(
    luminance_cd_m2: float,
    reflectance: float,
    share: float,
    *,
    settings: Settings | None = None,
) -> tuple[Reading, float]:
    """Lux at the bottom of an integrating sphere, traced and by its closed formula.

    The top of the sphere, `share` of its area, glows and reflects nothing. With luminance L each
    place of the wall receives pi L share / (1 - reflectance (1 - share)).
    """
    settings = Settings() if settings is None else settings
    glow = [luminance_cd_m2 / LUMENS_PER_WATT] * 3
    height = 1.0 - 2.0 * share  # of the disk that closes the cap, in a sphere of radius 1
    text = [
        f"void glow lamp\n0\n0\n4 {_numbers(glow)} 0\n",
        _plastic("wall", reflectance),
        "wall bubble inside\n0\n0\n4 0 0 0 1\n",
        "lamp ring cap\n0\n0\n8 "
        f"{_numbers([0.0, 0.0, height, 0.0, 0.0, -1.0, 0.0, math.sqrt(1.0 - height**2)])}\n",
    ]
    files = {"scene.rad": "".join(text)}
    rays = np.array([[0.0, 0.0, -1.0 + 1e-4, 0.0, 0.0, 1.0]])
    exact = math.pi * luminance_cd_m2 * share / (1.0 - reflectance * (1.0 - share))
    return _reading(_rtrace(files, rays, settings, irradiance=True)), exact


def doubled(settings: Settings, *, bounces: bool = False, divisions: bool = False) -> Settings:
    """The same settings with twice the bounces or twice the divisions."""
    return replace(
        settings,
        bounces=settings.bounces * (2 if bounces else 1),
        divisions=settings.divisions * (2 if divisions else 1),
    )
