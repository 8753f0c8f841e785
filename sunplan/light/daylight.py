"""Sun and sky: how bright they are, and from where.

Clear and hazy: pvlib's Ineichen model with the month's turbidity or a given one, made light by the
Perez 1990 luminous efficacy. Broken and overcast: IES 1984. All are spread over the sky by the CIE
standard general sky. Near and below the horizon the level goes over to Seidelmann's twilight, and
by night to his moonlight. A measured level takes the place of all that. Figures and sources:
`data/sky.toml`.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from typing import overload

import numpy as np
from numpy.typing import NDArray

from ..data import table
from ..errors import InputError
from ..location.read import Location
from ..room.entry import track_over
from ..room.obstructions import Indices, above_skyline
from ..sun.moon import moons
from ..sun.position import Directions, Floats, pressure_hpa
from ..sun.search import Bools

SKY_NAMES = ("clear", "hazy", "broken", "overcast")
WATER_CM = 1.5  # precipitable water, a mid-latitude middle; from memory, hardly matters
BLEND_DEG = 5.0  # below this altitude of the sun the models give way to twilight
DARK_DEG = -18.0  # twilight's end
MOON_DEG = -6.0  # of the sun: above this the moon adds nothing that shows
SKY_GRID = (45, 120)  # of the sky, up and round


@dataclass(frozen=True, eq=False)
class Sky:
    """Daylight at one moment: levels outdoors, and a pattern over the sky.

    `sun` (3,) points to the sun's centre in the plan frame, also below the horizon; `moon` (3,) to
    the moon's where it is the moon that gives the direct light.
    """

    name: str
    model: str
    unix_s: float
    sun: Floats
    sun_altitude_deg: float
    sun_bearing_deg: float
    direct_normal_lux: float
    diffuse_horizontal_lux: float
    moon: Floats | None = None

    @property
    def light_vector(self) -> Floats:
        """Unit vector toward what gives the direct light, (3,)."""
        return self.sun if self.moon is None else self.moon

    @property
    def global_horizontal_lux(self) -> float:
        """On level ground in the open."""
        return self.diffuse_horizontal_lux + self.direct_normal_lux * max(
            0.0, float(self.light_vector[2])
        )


@dataclass(frozen=True, eq=False)
class Skies:
    """Daylight at moments (T,), asked all at once."""

    skies: tuple[Sky, ...]

    def __len__(self) -> int:
        return len(self.skies)

    def __iter__(self) -> Iterator[Sky]:
        return iter(self.skies)

    @overload
    def __getitem__(self, chosen: int) -> Sky: ...

    @overload
    def __getitem__(self, chosen: slice | Indices) -> Skies: ...

    def __getitem__(self, chosen: int | slice | Indices) -> Sky | Skies:
        """One sky, or some of them with what is known of them already."""
        if isinstance(chosen, int):
            return self.skies[chosen]
        some = Skies(tuple(np.array(self.skies, dtype=np.object_)[chosen]))
        for name in ("patch_luminance_cd_m2", "_scale"):
            if name in self.__dict__:
                some.__dict__[name] = self.__dict__[name][chosen]
        return some

    @cached_property
    def direct_normal_lux(self) -> Floats:
        """Square to sun or moon, (T,)."""
        return np.array([one.direct_normal_lux for one in self.skies])

    @cached_property
    def global_horizontal_lux(self) -> Floats:
        """On level ground in the open, (T,)."""
        return np.array([one.global_horizontal_lux for one in self.skies])

    @cached_property
    def light_vector(self) -> Floats:
        """Unit vectors toward what gives the direct light, (T, 3)."""
        return np.array([one.light_vector for one in self.skies])

    @cached_property
    def has_direct_light(self) -> Bools:
        """Whether there is direct light, (T,)."""
        shines: Bools = (self.direct_normal_lux > 0) & (self.light_vector[:, 2] > 0)
        return shines

    def luminance_cd_m2(self, directions: Floats) -> Floats:
        """Of the sky toward directions (N, 3), cd/m², (T, N).

        Nothing below the horizon; no sun's disk.
        """
        found = np.zeros((len(self), len(directions)))
        bright = np.flatnonzero(self._scale)
        found[bright] = self._scale[bright, None] * self._patterns(directions, bright)
        return found

    @cached_property
    def patch_luminance_cd_m2(self) -> Floats:
        """Luminance of each patch of the sky, cd/m², (T, P)."""
        return self.luminance_cd_m2(sky_patches()[0])

    def sky_illuminance_lux(self, normals: Floats) -> Floats:
        """Illuminance of open surfaces with unit normals (N, 3) by the sky alone, (T, N)."""
        toward, share = sky_patches()
        lit: Floats = self.patch_luminance_cd_m2 @ (
            np.maximum(toward @ normals.T, 0.0) * share[:, None]
        )
        return lit

    @cached_property
    def _scale(self) -> Floats:
        toward, share = sky_patches()
        scale = np.array([one.diffuse_horizontal_lux for one in self.skies])
        bright = np.flatnonzero(scale)
        scale[bright] /= self._patterns(toward, bright) @ (toward[:, 2] * share)
        return scale

    def _patterns(self, toward: Floats, rows: Indices) -> Floats:
        """CIE general skies of some moments toward directions (N, 3), any scale, (R, N)."""
        figures = table("sky")
        found = np.empty((len(rows), len(toward)))
        names = np.array([self.skies[row].name for row in rows])
        suns = np.array([self.skies[row].sun for row in rows])
        for name in dict.fromkeys(names.tolist()):
            mine = names == name
            terms = figures["cie"][str(figures["names"][name])]
            found[mine] = cie_sky(terms, toward, suns[mine])
        return found


@cache
def sky_patches(grid: tuple[int, int] = SKY_GRID) -> tuple[Floats, Floats]:
    """Directions (P, 3) all over the sky, rows of even altitude, and their solid angles, (P,)."""
    rows, columns = grid
    edges = np.sin(np.linspace(0.0, math.pi / 2, rows + 1))
    height = (edges[1:] + edges[:-1]) / 2
    turn = (np.arange(columns) + 0.5) * (2 * math.pi / columns)
    flat = np.sqrt(1.0 - height**2)
    toward = np.stack(
        (
            np.outer(flat, np.cos(turn)).ravel(),
            np.outer(flat, np.sin(turn)).ravel(),
            np.repeat(height, columns),
        ),
        axis=-1,
    )
    return toward, np.repeat(np.diff(edges) * (2 * math.pi / columns), columns)


def hemisphere_rays(normal: Floats, grid: tuple[int, int]) -> tuple[Floats, Floats]:
    """Directions before a face (N, 3), up and down, and their cosines times solid angles, (N,)."""
    half, share = sky_patches(grid)
    toward, share = np.concatenate((half, half * [1.0, 1.0, -1.0])), np.tile(share, 2)
    cosine = toward @ normal
    front = cosine > 1e-3
    return toward[front], (cosine * share)[front]


def patch_index(toward: Floats) -> NDArray[np.intp]:
    """The patch of the sky that directions (N, 3) point into; those below it, into its rim."""
    rows, columns = SKY_GRID
    altitude = np.arcsin(np.clip(toward[:, 2], 0.0, 1.0)) / (math.pi / 2)
    turn = np.arctan2(toward[:, 1], toward[:, 0]) / (2 * math.pi) % 1.0
    row = np.minimum((altitude * rows).astype(np.intp), rows - 1)
    column = np.minimum((turn * columns).astype(np.intp), columns - 1)
    return row * columns + column


def cie_sky(terms: list[float], toward: Floats, sun: Floats) -> Floats:
    """Relative luminance of a CIE standard general sky, ISO 15469 eq. 1 to 4, unscaled, (T, N).

    `terms` are a to e of one type, `toward` (N, 3) and `sun` (T, 3) unit vectors with z up; (N,)
    for one sun (3,). A sun below the horizon brightens the horizon above it.
    """
    a, b, c, d, e = terms
    flat = sun * np.where(sun[..., 2:] < 0, [1.0, 1.0, 0.0], 1.0)
    flat = flat / np.maximum(np.linalg.norm(flat, axis=-1, keepdims=True), 1e-12)
    height = np.clip(toward[:, 2], 1e-6, 1.0)
    gradation = np.where(toward[:, 2] > 0, 1.0 + a * np.exp(b / height), 0.0)
    if not c and not e:
        return np.broadcast_to(gradation, (*sun.shape[:-1], len(toward)))
    cosine = np.clip(flat @ toward.T, -1.0, 1.0)
    chi = np.arccos(cosine)
    indicatrix = 1.0 + c * (np.exp(d * chi) - math.exp(d * math.pi / 2)) + e * cosine**2
    found: Floats = gradation * indicatrix
    return found


def twilight_lux(altitude_deg: Floats) -> Floats:
    """Level illuminance under a clear sky by altitude of the sun, Seidelmann 1992, lx.

    >>> twilight_lux(np.array([0.0, -6.0])).round(1)
    array([758.6,   3.4])
    """
    figures = table("sky")["seidelmann_1992"]
    starts, terms = np.array(figures["from"]), np.array(figures["terms"])
    inside = np.clip(altitude_deg, DARK_DEG, 90.0)
    row = np.clip(np.searchsorted(starts, inside, side="right") - 1, 0, len(starts) - 1)
    x = inside / 90.0
    powers = np.stack([x**power for power in range(4)], axis=-1)
    lux: Floats = 10.0 ** (terms[row] * powers).sum(axis=-1)
    return lux


def perez_1990_lux(
    dni: Floats, dhi: Floats, zenith_deg: Floats, extra: Floats, airmass: Floats
) -> tuple[Floats, Floats]:
    """Direct-normal and diffuse-horizontal illuminance from irradiances, W/m² to lx, (N,)."""
    figures = table("sky")["perez_1990"]
    z = np.radians(zenith_deg)
    k = 1.041 * z**3
    with np.errstate(divide="ignore", invalid="ignore"):
        clearness = np.where(dhi > 0, ((dhi + dni) / dhi + k) / (1.0 + k), 1.0)
        brightness = np.maximum(dhi * airmass / extra, 1e-6)
    row = np.searchsorted(figures["clearness"], clearness, side="right") - 1
    row = np.clip(row, 0, len(figures["clearness"]) - 1)
    direct, diffuse = np.array(figures["direct"])[row].T, np.array(figures["diffuse"])[row].T
    water = WATER_CM
    of_direct = (
        direct[0] + direct[1] * water + direct[2] * np.exp(5.73 * z - 5.0) + direct[3] * brightness
    )
    of_diffuse = (
        diffuse[0] + diffuse[1] * water + diffuse[2] * np.cos(z) + diffuse[3] * np.log(brightness)
    )
    return dni * np.maximum(of_direct, 0.0), dhi * np.maximum(of_diffuse, 0.0)


def _clear(location: Location, at: Directions, turbidity: float | None) -> tuple[Floats, Floats]:
    """Direct-normal and diffuse-horizontal illuminance of a cloudless sky, sun up, (N,)."""
    import pandas as pd
    from pvlib import atmosphere, clearsky, irradiance

    site = location.site
    times = pd.to_datetime(at.unix_s, unit="s", utc=True)
    zenith = 90.0 - at.altitude_deg
    airmass = atmosphere.get_relative_airmass(zenith)
    pressure_pa = 100.0 * pressure_hpa(site.elevation)
    linke = (
        clearsky.lookup_linke_turbidity(times, site.latitude, site.longitude).to_numpy()
        if turbidity is None
        else turbidity
    )
    extra = np.asarray(irradiance.get_extra_radiation(times), dtype=np.float64)
    found = clearsky.ineichen(
        zenith,
        atmosphere.get_absolute_airmass(airmass, pressure_pa),
        linke,
        altitude=site.elevation,
        dni_extra=extra,
    )
    return perez_1990_lux(found["dni"], found["dhi"], zenith, extra, airmass)


def _cloudy(name: str, true_deg: Floats) -> tuple[Floats, Floats]:
    """Direct-normal and diffuse-horizontal illuminance under clouds, sun up, (N,); IES 1984."""
    figures = table("sky")["ies_1984"]
    sine = np.sin(np.radians(true_deg))
    diffuse = figures["horizon"] + figures[name] * sine
    if name == "overcast":
        return np.zeros(len(sine)), diffuse
    return figures["sun"] * np.exp(-figures["broken_extinction"] / sine), diffuse


def _moonlight(
    location: Location, unix_s: Floats, name: str, veil: Floats
) -> Iterator[tuple[Floats, float, float]]:
    """Way to the moon (3,), its light square to it and what clouds scatter of it level, lx."""
    site = location.site
    at = moons(
        unix_s,
        latitude_deg=site.latitude,
        longitude_deg=site.longitude,
        elevation_m=site.elevation,
    )
    # Lower, most of its light comes by way of the sky.
    high = (at.true_altitude_deg > BLEND_DEG) & (name not in ("broken", "overcast"))
    toward = at.toward.plan(site.plan_up)
    normal = np.where(high, at.horizontal_lux / np.maximum(toward[:, 2], 0.01), 0.0)
    scattered = np.where(high, 0.0, at.horizontal_lux * veil)
    for row, way in enumerate(toward):
        yield way, float(normal[row]), float(scattered[row])


@dataclass(frozen=True)
class Weather:
    """What the sky is taken to be: one of `SKY_NAMES`.

    `turbidity` is Linke's, for a clear or hazy sky; `direct_lux` (square to the sun) and
    `diffuse_lux` (on the level) are measured, together, and leave only the pattern to the name.
    Raises ``InputError`` for levels that no sky has.
    """

    name: str = "clear"
    turbidity: float | None = None
    direct_lux: float | None = None
    diffuse_lux: float | None = None

    def __post_init__(self) -> None:
        for what, value, low, high in (
            ("turbidity", self.turbidity, 1.0, 20.0),
            ("direct-lux", self.direct_lux, 0.0, 150_000.0),
            ("diffuse-lux", self.diffuse_lux, 0.001, 100_000.0),
        ):
            if value is not None and not low <= value <= high:
                raise InputError(f"--{what} {value:g}: expected from {low:g} to {high:g}")


def skies(location: Location, times: Sequence[float], weather: Weather | None = None) -> Skies:
    """Daylight at rising moments, seconds since 1970 UTC; a clear sky where none is given."""
    weather = Weather() if weather is None else weather
    name = weather.name
    track = track_over(location, times[0], times[-1])
    at = track.at(np.array(times))
    # Twilight is tabled by the altitude without refraction.
    true = track.true_altitude_deg(at.unix_s)
    up = true > 0
    dusk = twilight_lux(true)
    direct, diffuse = np.zeros(len(true)), dusk.copy()
    pattern = f"CIE general sky type {table('sky')['names'][name]}"
    if weather.diffuse_lux is not None and weather.direct_lux is not None:
        model = f"as measured; {pattern}"
        direct[up], diffuse[:] = weather.direct_lux, weather.diffuse_lux
    elif name in ("broken", "overcast"):
        model = f"IES 1984 {name}; {pattern}; Seidelmann 1992 twilight"
        direct[up], diffuse[up] = _cloudy(name, true[up])
        # Below the horizon clouds keep the share of clear twilight that they have there.
        diffuse[~up] *= table("sky")["ies_1984"]["horizon"] / twilight_lux(np.zeros(1))[0]
    else:
        turbidity = weather.turbidity
        if turbidity is None and name == "hazy":
            turbidity = float(table("sky")["turbidity"]["hazy"])
        linke = "monthly turbidity" if turbidity is None else f"turbidity {turbidity:g}"
        model = f"Ineichen with {linke}; Perez 1990 efficacy; {pattern}; Seidelmann 1992 twilight"
        if up.any():
            direct[up], sky = _clear(location, at[up], turbidity)
            share = np.clip(true[up] / BLEND_DEG, 0.0, 1.0)
            level = share * np.log(np.maximum(sky, 1e-9)) + (1.0 - share) * np.log(dusk[up])
            diffuse[up] = np.exp(level)
    # Behind the far skyline the sun gives no direct light; the sky is left whole.
    direct[~above_skyline(location.skyline, at)] = 0.0
    suns, bearings = at.plan(location.site.plan_up), at.bearing_deg
    shining: dict[int, Floats] = {}
    night = np.flatnonzero(true < MOON_DEG)
    if len(night) and weather.diffuse_lux is None:
        veil = diffuse[night] / dusk[night]
        for index, (toward, normal, scattered) in zip(
            night.tolist(), _moonlight(location, at.unix_s[night], name, veil), strict=True
        ):
            direct[index], diffuse[index] = normal, diffuse[index] + scattered
            if normal > 0:
                shining[index] = toward
    return Skies(
        tuple(
            Sky(
                name=name,
                model=model,
                unix_s=float(at.unix_s[index]),
                sun=suns[index],
                sun_altitude_deg=float(at.altitude_deg[index]),
                sun_bearing_deg=float(bearings[index]),
                direct_normal_lux=float(direct[index]),
                diffuse_horizontal_lux=float(diffuse[index]),
                moon=shining.get(index),
            )
            for index in range(len(times))
        )
    )


def skies_by_weather(
    location: Location, times: Sequence[float], weathers: Sequence[Weather]
) -> Skies:
    """Daylight at each moment in each weather, moment by moment."""
    columns = [skies(location, times, weather) for weather in weathers]
    return Skies(tuple(sky for row in zip(*columns, strict=True) for sky in row))
