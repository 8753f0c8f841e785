"""How far is each window and practical in frame from the look, in stops; and what closes it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations_with_replacement

import numpy as np

from ..location.kit import Gel, Kit
from ..location.model import Practical, Setup
from ..location.read import Location
from ..room.beam import Beam
from ..room.camera import CameraView, camera_view
from ..sun.position import Floats
from . import glass
from .daylight import Skies, Sky
from .exterior_luminance import exterior_scene
from .face import DimmedKey, FaceLight, Faces, faces
from .lamp import LightSource, face_point
from .look import Band, Look, look_of, over, under
from .meter import grey_cd_m2, key_lux, stops
from .window_luminance import Window, window

STOPS_PER_DENSITY = 1.0 / math.log10(2.0)  # density 0.30103 halves the light
LAYERS = 2  # of gel; more show every wrinkle: common practice, no source
MUCH_STOPS = 2.0  # a lamp that is more than this over key is told dimmed; a choice, no source
SHADE_SHARE = 0.7  # of a bulb's light that leaves its shade's side; from memory, no source


@dataclass(frozen=True)
class OpeningGap:
    """An opening in frame against the look.

    Levels are None out of frame. `gels` are the kit's that bring it into the band, none where
    nothing is to be lost or no gel will do (`black`: then only black, which `black_fits` at night).
    `hang` is the lightest dressing that does it with fewer `hang_gels`; None where none does or
    something hangs there. `tent`: the glass can be reached outside, from the ground.
    `stop_down` are the stops by which the key is too much for the exposure, as far as they help:
    with the lens closed by them `gels_then` do. `frame_share` is how much of the frame it fills;
    `pan_deg` the least pan that takes it out and leaves the face in, to the right if positive,
    None where there is none.
    """

    opening: str
    in_frame: bool
    luminance_cd_m2: float | None = None
    stops: float | None = None
    wanted_stops: float | None = None
    lose_stops: float | None = None
    raise_stops: float | None = None
    gels: tuple[Gel, ...] = ()
    hang: str | None = None
    hang_gels: tuple[Gel, ...] = ()
    tent: bool = False
    black: bool = False
    black_fits: bool = False
    sun_in_frame: bool = False
    stop_down: float = 0.0
    gels_then: tuple[Gel, ...] = ()
    frame_share: float = 0.0
    pan_deg: float | None = None

    @property
    def off(self) -> tuple[bool, float, float, float]:
        """How far from the look it is, to compare: sun in frame, stops over, stops under, level."""
        found = (self.lose_stops, self.raise_stops, self.stops)
        assert None not in found
        lose, lacks, level = (float(one) for one in found if one is not None)
        return self.sun_in_frame, lose, lacks, level

    @property
    def gel_density(self) -> float | None:
        """Density of all layers, None without."""
        return round(sum(gel.density for gel in self.gels), 6) if self.gels else None


@dataclass(frozen=True)
class PracticalGap:
    """A practical as the camera meters it, undimmed, against the look."""

    practical: str
    in_frame: bool
    luminance_cd_m2: float
    stops: float
    wanted_stops: float
    lumens: float

    @property
    def fitting_lumens(self) -> float:
        """The bulb that would sit right without a dimmer."""
        return float(self.lumens * 2.0**-self.dim_stops)

    @property
    def dim_stops(self) -> float:
        """What a dimmer or a smaller bulb must take off; below 0 it is too weak."""
        return self.stops - self.wanted_stops


@dataclass(frozen=True, eq=False)
class TimeGap:
    """One setup at one moment."""

    sky: Sky
    face: FaceLight
    openings: tuple[OpeningGap, ...]
    practicals: tuple[PracticalGap, ...]


@dataclass(frozen=True, eq=False)
class SetupGap:
    """One setup through its moments. `key_lux` is what its exposure asks of a face at key."""

    setup: Setup
    look: Look
    key_lux: float
    source: LightSource | None
    times: tuple[TimeGap, ...]

    def at(self, moments_s: Sequence[float]) -> SetupGap:
        """The same at those of its moments alone."""
        kept = set(moments_s)
        return replace(self, times=tuple(one for one in self.times if one.sky.unix_s in kept))

    def dimmed(self) -> list[tuple[TimeGap, DimmedKey]]:
        """Its moments at which the lamp is much too strong: the least filled then, and the most."""
        found = []
        for one in self.times:
            dimmed = one.face.dimmed(self.key_lux)
            if dimmed is not None and stops(one.face.key_lux, self.key_lux) > MUCH_STOPS:
                found.append((one, dimmed))
        found.sort(key=lambda each: each[1].fill_lux)
        return found[:1] + found[1:][-1:]

    def worst(self, start_s: float, end_s: float) -> list[tuple[Sky, OpeningGap]]:
        """Each opening in frame under each sky when it is farthest from the look, in a while.

        Where none of its moments lies in the while, at the one nearest to its middle.
        """
        middle = (start_s + end_s) / 2
        found = []
        for name in dict.fromkeys(one.sky.name for one in self.times):
            mine = [one for one in self.times if one.sky.name == name]
            asked = [one for one in mine if start_s <= one.sky.unix_s <= end_s]
            asked = asked or [min(mine, key=lambda one: abs(one.sky.unix_s - middle))]
            for index, opening in enumerate(asked[0].openings):
                if opening.in_frame:
                    worst = max(asked, key=lambda one: one.openings[index].off)
                    found.append((worst.sky, worst.openings[index]))
        return found


def gels_for(
    kit: Kit,
    level_stops: float,
    band: Band,
    *,
    most: int = LAYERS,
    darkest_stops: float | None = None,
) -> tuple[Gel, ...]:
    """The fewest layers of the kit's gel that bring a level into a band.

    Empty where none does. Of several the one nearest the band's middle; before all one that keeps
    the `darkest_stops` of a while in the band as well, if any does.
    """
    low, high = band
    darkest = level_stops if darkest_stops is None else darkest_stops
    fits: list[tuple[bool, int, float, tuple[Gel, ...]]] = []
    for taken, chosen in _layers(kit.gel, most):
        left = level_stops - taken
        if low - 1e-9 <= left <= high + 1e-9:
            falls = darkest - taken < low - 1e-9
            fits.append((falls, len(chosen), abs(left - (low + high) / 2), chosen))
    return min(fits, key=lambda one: one[:3])[3] if fits else ()


@cache
def _layers(gels: tuple[Gel, ...], most: int) -> list[tuple[float, tuple[Gel, ...]]]:
    """All that so many layers of gel can be, with the stops that they take."""
    return [
        (STOPS_PER_DENSITY * sum(gel.density for gel in chosen), chosen)
        for layers in range(1, most + 1)
        for chosen in combinations_with_replacement(gels, layers)
    ]


def practical_cd_m2(practical: Practical) -> float:
    """Mean luminance of a lit shade, cd/m²: a matt cylinder as wide and high as its face."""
    width, height = practical.shade
    return SHADE_SHARE * practical.lumens / (math.pi * math.pi * width * height)


def _practical_gap(
    one: Practical, camera: CameraView, floor_m: float, grey: float, wanted: Look
) -> PracticalGap:
    level = practical_cd_m2(one)
    middle = np.array([[*one.at, floor_m + one.height]])
    return PracticalGap(
        practical=one.name,
        in_frame=bool(camera.in_frame(middle)[0]),
        luminance_cd_m2=level,
        stops=stops(level, grey),
        wanted_stops=sum(wanted.practical) / 2,
        lumens=one.lumens,
    )


Dressing = tuple[str | None, tuple[Gel, ...]]
NO_DRESSING: Dressing = (None, ())


def _dressing(levels: Floats, grey: float, wanted: Look, kit: Kit) -> Dressing:
    """The lightest dressing that brings an opening into its band, alone or with one gel.

    `levels` (D,) are its luminances with each that can be hung.
    """
    found: list[tuple[int, Dressing]] = []
    for name, level in zip(glass.hangable_dressings(), levels, strict=True):
        at, band = stops(float(level), grey), wanted.band(name)
        if over(at, band):
            gels = gels_for(kit, at, band, most=1)
            found += [(len(gels), (name, gels))] if gels else []
        elif wanted.black_reads or not under(at, band):
            found.append((0, (name, ())))
    return min(found, key=lambda each: each[0])[1] if found else NO_DRESSING


def _closed(
    kit: Kit, at: float, band: Band, spare_stops: float, *, gel: bool
) -> tuple[float, tuple[Gel, ...]]:
    """How far the lens closes, and the gel on top; no closing where that is not enough.

    As far as the key has stops to spare, or as it takes; else as far as the fewest layers leave.
    """
    lose, middle = over(at, band), sum(band) / 2
    close = max(0.0, min(lose, spare_stops))
    then = gels_for(kit, at - close, band) if gel else ()
    if lose <= close or then:
        return close, then
    if gel:
        for taken, chosen in sorted(_layers(kit.gel, LAYERS), key=lambda one: len(one[1])):
            rest = at - taken - middle
            if 0.0 < rest <= close:
                return rest, chosen
    return 0.0, ()


def _opening_gaps(
    one: Window, skies: Skies, grey: float, wanted: Look, kit: Kit, spare_stops: Sequence[float]
) -> list[OpeningGap]:
    """An opening at each moment; `spare_stops` (T,) is what the key then has too much."""
    name, opening = one.opening.name, one.opening.opening
    if not one.in_frame:
        return [OpeningGap(name, in_frame=False)] * len(skies)
    levels, suns = one.luminance_cd_m2(skies), one.sun_in_frame(skies)
    band = wanted.band(opening.dressing)
    above = [over(stops(float(level), grey), band) for level in levels]
    bare = opening.dressing in (None, "none")
    asked = np.flatnonzero(np.array(above, dtype=bool) & ~suns & bare)
    hung = dict.fromkeys(range(len(skies)), NO_DRESSING)
    if len(asked):
        shares = [glass.dressing_shares(each) for each in glass.hangable_dressings()]
        dressed = one.dressed_cd_m2(skies[asked], shares).T
        for which, column in zip(asked.tolist(), dressed, strict=True):
            hung[which] = _dressing(column, grey, wanted, kit)
    share, pan = one.frame_share, one.pan_deg
    found = []
    for row, (level, lose) in enumerate(zip(levels.tolist(), above, strict=True)):
        at, sun = stops(level, grey), bool(suns[row])
        gels = gels_for(kit, at, band) if lose and not sun else ()
        close, then = _closed(kit, at, band, spare_stops[row] if lose else 0.0, gel=not sun)
        hang, hang_gels = hung[row]
        if gels and len(hang_gels) >= len(gels):
            hang, hang_gels = NO_DRESSING  # it would save no gel
        found.append(
            OpeningGap(
                opening=name,
                in_frame=True,
                luminance_cd_m2=level,
                stops=at,
                wanted_stops=sum(band) / 2,
                lose_stops=lose,
                raise_stops=0.0 if wanted.black_reads else under(at, band),
                gels=gels,
                hang=hang,
                hang_gels=hang_gels,
                tent=one.opening.from_ground,
                black=bool(lose) and not gels,
                black_fits=wanted.black_reads,
                sun_in_frame=sun,
                stop_down=close,
                gels_then=then,
                frame_share=share,
                pan_deg=pan,
            )
        )
    return found


def gaps(
    location: Location,
    setups: Sequence[Setup],
    skies: Skies,
    *,
    rooms: Sequence[Faces] | None = None,
) -> list[SetupGap]:
    """The gaps of setups under each of the skies, in the setups' order.

    `rooms` saves working out the light of their rooms again.
    """
    found: dict[str, SetupGap] = {}
    for room in faces(location, setups) if rooms is None else rooms:
        found |= {one.setup.name: one for one in gaps_in(location, room, skies)}
    return [found[one.name] for one in setups]


def gaps_in(
    location: Location,
    room: Faces,
    skies: Skies,
    *,
    only: Sequence[Setup] | None = None,
    lux_by_opening: Floats | None = None,
) -> list[SetupGap]:
    """The same for the setups of one room, or some of them, its light worked out already.

    `lux_by_opening` is that of its spots under the skies, where it is known.
    """
    lights = room.illuminances(skies, lux_by_opening=lux_by_opening)
    return [
        _setup_gap(
            location, room.setups[at], room.transfer.beam, room.sources[at], skies, lights[at]
        )
        for at in map(room.index, room.setups if only is None else only)
    ]


def windows(location: Location, setup: Setup, room: Beam) -> list[Window]:
    """All openings of a room as a setup's camera sees them."""
    camera, around = camera_view(room.room, setup), exterior_scene(location, room.room)
    face = face_point(room.room, room.room.mark_named(setup.mark))
    return [window(room, camera, index, around, face) for index in range(len(room.apertures))]


def _setup_gap(
    location: Location,
    setup: Setup,
    room: Beam,
    source: LightSource | None,
    skies: Skies,
    lights: Sequence[FaceLight],
) -> SetupGap:
    camera, kit = camera_view(room.room, setup), location.kit_of(setup)
    wanted, grey = look_of(setup, kit), grey_cd_m2(setup.exposure)
    asked = key_lux(setup.exposure)
    practicals = tuple(
        _practical_gap(one, camera, room.room.floor, grey, wanted) for one in room.room.practical
    )
    spare = [_spare(source, light, asked) for light in lights]
    columns = [
        _opening_gaps(one, skies, grey, wanted, kit, spare)
        for one in windows(location, setup, room)
    ]
    times = [
        TimeGap(
            sky=at,
            face=lights[row],
            openings=tuple(column[row] for column in columns),
            practicals=practicals,
        )
        for row, at in enumerate(skies)
    ]
    return SetupGap(setup, wanted, asked, source, tuple(times))


def _spare(source: LightSource | None, light: FaceLight, asked_lux: float) -> float:
    """How many stops the lamp gives more than the exposure asks; 0 without a lamp."""
    return 0.0 if source is None else stops(light.key_lux, asked_lux)
