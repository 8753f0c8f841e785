"""Daylight outdoors at moments in some weather: where it comes from, and how much.

Clear and hazy: pvlib's Ineichen model with the month's turbidity or a given one, made light by the
Perez 1990 luminous efficacy. Broken and overcast: IES 1984. All are spread over the sky by the CIE
standard general sky. Near and below the horizon the level goes over to Seidelmann's twilight, and
by night to his moonlight. A measured level takes the place of all that.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import overload

import numpy as np

from ..data import table
from ..errors import InputError
from ..location.read import Location
from ..room.obstructions import above_skyline
from ..sun.moon import moon_positions
from ..sun.position import Directions, Floats
from ..sun.search import Bools, Indices
from ..sun.track import track_over
from .sky_luminance import cie_sky, level_illuminance, sky_patches
from .sky_models import clear_lux, ies_1984_lux, twilight_lux
from .sky_names import CLOUDY

BLEND_DEG = 5.0  # below this altitude of the sun the models give way to twilight
MOON_DEG = -6.0  # of the sun: above this the moon adds nothing that shows


@dataclass(frozen=True, eq=False)
class Sky:
    """Daylight at one moment: levels outdoors, and the sky's pattern by its name.

    Attributes
    ----------
    name, model
        One of `sky_names.SKY_NAMES`, and what the levels rest on.
    unix_s
        The moment, seconds since 1970 UTC.
    sun
        Unit vector toward the sun's centre in the plan frame, also below the horizon, (3,).
    sun_altitude_deg, sun_bearing_deg
        Of the sun, refracted and true.
    direct_normal_lux, diffuse_horizontal_lux
        Square to sun or moon; from the sky alone on the level.
    moon
        Unit vector toward the moon where that gives the direct light, (3,).
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
        """Unit vector toward what gives the direct light, sun or moon, (3,)."""
        return self.sun if self.moon is None else self.moon

    @property
    def global_horizontal_lux(self) -> float:
        """Illuminance of level ground in the open, lx."""
        direct = self.direct_normal_lux * max(0.0, float(self.light_vector[2]))
        return self.diffuse_horizontal_lux + direct


@dataclass(frozen=True, eq=False)
class Skies:
    """A sequence of skies, (T,), with what is asked of all of them at once.

    An integer index gives a `Sky`, a slice or an array of indices gives `Skies`.
    """

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
        if isinstance(chosen, int):
            return self.skies[chosen]
        return Skies(tuple(np.array(self.skies, dtype=np.object_)[chosen]))

    @cached_property
    def direct_normal_lux(self) -> Floats:
        """Illuminance square to sun or moon, lx, (T,)."""
        return np.array([sky.direct_normal_lux for sky in self])

    @cached_property
    def diffuse_horizontal_lux(self) -> Floats:
        """Illuminance of level ground by the sky alone, lx, (T,)."""
        return np.array([sky.diffuse_horizontal_lux for sky in self])

    @cached_property
    def global_horizontal_lux(self) -> Floats:
        """Illuminance of level ground in the open, lx, (T,)."""
        return np.array([sky.global_horizontal_lux for sky in self])

    @cached_property
    def light_vector(self) -> Floats:
        """Unit vectors toward what gives the direct light, sun or moon, (T, 3)."""
        return np.array([sky.light_vector for sky in self])

    @cached_property
    def has_direct_light(self) -> Bools:
        """Whether sun or moon shines, (T,)."""
        shines: Bools = (self.direct_normal_lux > 0) & (self.light_vector[:, 2] > 0)
        return shines

    def luminance_cd_m2(self, directions: Floats) -> Floats:
        """Luminance of the sky toward unit vectors (N, 3), cd/m², (T, N).

        Nothing below the horizon; no sun's disk.
        """
        luminance = np.zeros((len(self), len(directions)))
        bright = np.flatnonzero(self._scale)
        luminance[bright] = self._scale[bright, None] * self._patterns(directions, bright)
        return luminance

    @cached_property
    def patch_luminance_cd_m2(self) -> Floats:
        """Luminance of each of the `sky_patches`, cd/m², (T, P)."""
        return self._scale[:, None] * self._patch_patterns

    def sky_illuminance_lux(self, normals: Floats) -> Floats:
        """Illuminance of open surfaces with unit normals (N, 3) by the sky alone, lx, (T, N)."""
        toward, solid_angle = sky_patches()
        cosine = np.maximum(toward @ normals.T, 0.0)
        lux: Floats = self.patch_luminance_cd_m2 @ (cosine * solid_angle[:, None])
        return lux

    @cached_property
    def _scale(self) -> Floats:
        """What makes cd/m² of the pattern, (T,): its diffuse illuminance is the sky's."""
        horizontal = np.ones(len(self))
        for terms, same, suns in self._by_type(np.arange(len(self))):
            horizontal[same] = level_illuminance(terms, suns)
        lit = self.diffuse_horizontal_lux > 0
        scale: Floats = np.divide(
            self.diffuse_horizontal_lux, horizontal, out=np.zeros(len(self)), where=lit
        )
        return scale

    @cached_property
    def _patch_patterns(self) -> Floats:
        """The patterns toward the `sky_patches`, (T, P); 0 where the sky gives no light."""
        toward = sky_patches()[0]
        patterns = np.zeros((len(self), len(toward)))
        bright = np.flatnonzero(self.diffuse_horizontal_lux)
        patterns[bright] = self._patterns(toward, bright)
        return patterns

    def _patterns(self, toward: Floats, rows: Indices) -> Floats:
        """CIE general skies of some moments toward unit vectors (N, 3), unscaled, (R, N)."""
        patterns = np.empty((len(rows), len(toward)))
        for terms, same, suns in self._by_type(rows):
            patterns[same] = cie_sky(terms, toward, suns)
        return patterns

    def _by_type(self, rows: Indices) -> Iterator[tuple[tuple[float, ...], Bools, Floats]]:
        """The terms of each sky type among some moments, which of them it is, their suns."""
        figures = table("sky")
        names = np.array([self.skies[row].name for row in rows])
        suns = np.array([self.skies[row].sun for row in rows]).reshape(-1, 3)
        for name in np.unique(names):
            same = names == name
            yield tuple(figures["cie"][str(figures["names"][name])]), same, suns[same]


@dataclass(frozen=True)
class Weather:
    """What the sky is taken to be.

    Parameters
    ----------
    name
        One of `sky_names.SKY_NAMES`.
    turbidity
        Linke's, 1 to 20, for a clear or hazy sky; None takes the month's, or the hazy sky's.
    direct_lux, diffuse_lux
        Measured, square to the sun and on the level, together: then only the pattern is the name's.

    Raises
    ------
    InputError
        For a level or a turbidity that no sky has, and for what would be left out: turbidity of
        clouds, or beside measured levels; one measured level alone.

    Examples
    --------
    >>> Weather("hazy").turbidity is None
    True
    >>> Weather(diffuse_lux=1e6)
    Traceback (most recent call last):
    sunplan.errors.InputError: --diffuse-lux 1e+06: expected from 0.001 to 100000
    >>> Weather("overcast", turbidity=4.0)
    Traceback (most recent call last):
    sunplan.errors.InputError: --turbidity 4: goes with a clear or hazy sky, not with overcast
    """

    name: str = "clear"
    turbidity: float | None = None
    direct_lux: float | None = None
    diffuse_lux: float | None = None

    def __post_init__(self) -> None:
        for option, value, low, high in (
            ("turbidity", self.turbidity, 1.0, 20.0),
            ("direct-lux", self.direct_lux, 0.0, 150_000.0),
            ("diffuse-lux", self.diffuse_lux, 0.001, 100_000.0),
        ):
            if value is not None and not low <= value <= high:
                raise InputError(f"--{option} {value:g}: expected from {low:g} to {high:g}")
        if (self.direct_lux is None) != (self.diffuse_lux is None):
            raise InputError("--direct-lux and --diffuse-lux: give both or none")
        if self.turbidity is None:
            return
        given = f"--turbidity {self.turbidity:g}"
        if self.name in CLOUDY:
            raise InputError(f"{given}: goes with a clear or hazy sky, not with {self.name}")
        if self.diffuse_lux is not None:
            raise InputError(f"{given}: says nothing beside measured levels; leave one of them out")

    @property
    def model(self) -> str:
        """What the levels and the sky's pattern rest on: models by author and year.

        >>> Weather("overcast").model
        'IES 1984 overcast; CIE general sky type 1; Seidelmann 1992 twilight'
        """
        pattern = f"CIE general sky type {table('sky')['names'][self.name]}"
        if self.direct_lux is not None and self.diffuse_lux is not None:
            return f"as measured; {pattern}"
        if self.name in CLOUDY:
            return f"IES 1984 {self.name}; {pattern}; Seidelmann 1992 twilight"
        turbidity = self.turbidity_taken
        linke = "monthly turbidity" if turbidity is None else f"turbidity {turbidity:g}"
        return f"Ineichen with {linke}; Perez 1990 efficacy; {pattern}; Seidelmann 1992 twilight"

    @property
    def turbidity_taken(self) -> float | None:
        """Linke's, of a hazy sky too where none is given; None for the month's."""
        if self.turbidity is None and self.name == "hazy":
            return float(table("sky")["turbidity"]["hazy"])
        return self.turbidity


def skies(location: Location, times: Sequence[float], weather: Weather | None = None) -> Skies:
    """Daylight at moments of a place.

    Parameters
    ----------
    location
        The place; behind its skyline the sun gives no direct light, the sky is left whole.
    times
        Rising moments, seconds since 1970 UTC, (T,).
    weather
        None for a clear sky with the month's turbidity.

    Returns
    -------
    One sky a moment. The moon adds to it when the sun is more than 6° down, unless the level is
    measured.

    Examples
    --------
    >>> from sunplan import read
    >>> noon, midnight = skies(read("locations/lock-house.toml"), [1805542800.0, 1805583600.0])
    >>> round(noon.direct_normal_lux, -3), midnight.global_horizontal_lux < 1.0
    (79000.0, True)
    """
    weather = Weather() if weather is None else weather
    track = track_over(location, times[0], times[-1])
    directions = track.at(np.array(times))
    true_deg = track.true_altitude_deg(directions.unix_s)
    direct, diffuse = _levels(location, weather, directions, true_deg)
    model = weather.model
    direct[~above_skyline(location.skyline, directions)] = 0.0
    moon: dict[int, Floats] = {}
    if weather.diffuse_lux is None:
        moon = _add_moonlight(location, weather.name, directions, true_deg, direct, diffuse)
    suns, bearings = directions.plan(location.site.plan_up), directions.bearing_deg
    return Skies(
        tuple(
            Sky(
                name=weather.name,
                model=model,
                unix_s=float(directions.unix_s[index]),
                sun=suns[index],
                sun_altitude_deg=float(directions.altitude_deg[index]),
                sun_bearing_deg=float(bearings[index]),
                direct_normal_lux=float(direct[index]),
                diffuse_horizontal_lux=float(diffuse[index]),
                moon=moon.get(index),
            )
            for index in range(len(times))
        )
    )


def skies_by_weather(
    location: Location, times: Sequence[float], weathers: Sequence[Weather]
) -> Skies:
    """Daylight at each moment (T) in each weather (W): (T · W), the weathers of a moment together.

    >>> from sunplan import read
    >>> weathers = [Weather("clear"), Weather("overcast")]
    >>> house = read("locations/lock-house.toml")
    >>> [sky.name for sky in skies_by_weather(house, [1805542800.0, 1805546400.0], weathers)]
    ['clear', 'overcast', 'clear', 'overcast']
    """
    columns = [skies(location, times, weather) for weather in weathers]
    return Skies(tuple(sky for row in zip(*columns, strict=True) for sky in row))


def _levels(
    location: Location, weather: Weather, directions: Directions, true_deg: Floats
) -> tuple[Floats, Floats]:
    """Direct normal and diffuse horizontal illuminance, lx, (T,); no moon."""
    name, up = weather.name, true_deg > 0
    twilight = twilight_lux(true_deg)
    direct, diffuse = np.zeros(len(true_deg)), twilight.copy()
    if weather.diffuse_lux is not None and weather.direct_lux is not None:
        direct[up], diffuse[:] = weather.direct_lux, weather.diffuse_lux
        return direct, diffuse
    if name in CLOUDY:
        direct[up], diffuse[up] = ies_1984_lux(name, true_deg[up])
        # Below the horizon clouds keep the share of clear twilight that they have there.
        diffuse[~up] *= table("sky")["ies_1984"]["horizon"] / twilight_lux(np.zeros(1))[0]
        return direct, diffuse
    if up.any():
        direct[up], of_sky = clear_lux(
            location.site,
            directions.unix_s[up],
            directions.altitude_deg[up],
            turbidity=weather.turbidity_taken,
        )
        share = np.clip(true_deg[up] / BLEND_DEG, 0.0, 1.0)
        diffuse[up] = np.maximum(of_sky, 1e-9) ** share * twilight[up] ** (1.0 - share)
    return direct, diffuse


def _add_moonlight(
    location: Location,
    name: str,
    directions: Directions,
    true_deg: Floats,
    direct: Floats,
    diffuse: Floats,
) -> dict[int, Floats]:
    """Add the moon's light to the levels of the night; unit vectors to it where it is direct.

    Clouds, or a moon low over the horizon, make it diffuse.
    """
    night = np.flatnonzero(true_deg < MOON_DEG)
    if not len(night):
        return {}
    site = location.site
    moon = moon_positions(
        directions.unix_s[night],
        latitude_deg=site.latitude,
        longitude_deg=site.longitude,
        elevation_m=site.elevation,
    )
    toward = moon.toward.plan(site.plan_up)
    # Lower, most of its light comes by way of the sky.
    high = (moon.true_altitude_deg > BLEND_DEG) & (name not in CLOUDY)
    direct[night] = np.where(high, moon.horizontal_lux / np.maximum(toward[:, 2], 0.01), 0.0)
    clouds = diffuse[night] / twilight_lux(true_deg[night])
    diffuse[night] += np.where(high, 0.0, moon.horizontal_lux * clouds)
    return {int(night[row]): toward[row] for row in np.flatnonzero(direct[night] > 0)}
