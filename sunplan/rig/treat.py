"""What each opening needs through a setup: left as it is, gel, black, or a tent outside.

A window in frame is brought into the look. An opening out of frame is blacked only where its light
fills the shadows more than the look allows, the strongest first. What is left of the allowance says
how large a gap in the black may stay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from ..light.daylight import Weather, skies_of
from ..light.face import SPOTS, Faces, faces
from ..light.gap import STOPS_PER_DENSITY, OpeningGap, gaps_in, gels_for
from ..light.look import look_of
from ..light.meter import key_lux
from ..location.kit import Gel
from ..location.model import Setup
from ..location.read import Location
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.entry import Light, track_over
from ..sun.calendar import every
from ..sun.position import Floats
from ..sun.search import Bools

STEP_S = 900.0
SUN_STEP_S = 60.0
What = Literal["leave", "gel", "black", "tent", "nothing does it"]


@dataclass(frozen=True, eq=False)
class Treatment:
    """What one opening needs from one moment to another.

    `gives_lux` is the most daylight that the face's fill side gets through it untreated.
    `lose_stops` is the most that it must lose in frame, None out of frame; `after_stops` where it
    then sits, brightest and darkest, and `too_dark` whether that falls below its band. `sunlit`:
    direct sun comes through in that time.
    """

    opening: Aperture
    what: What
    gels: tuple[Gel, ...]
    gives_lux: float
    lose_stops: float | None
    sunlit: bool
    after_stops: tuple[float, float] | None = None
    too_dark: bool = False

    @property
    def dark(self) -> bool:
        """Whether nothing comes in any more."""
        return self.what in ("black", "tent")

    @property
    def passes(self) -> float:
        """Share of its light that still comes in."""
        if self.dark:
            return 0.0
        return float(10.0 ** -sum(gel.density for gel in self.gels))


@dataclass(frozen=True, eq=False)
class Treated:
    """All openings of a setup's room through its time, seconds since 1970 UTC.

    `allowed_lux` is the daylight that the look leaves the fill side, `left_lux` what there is of
    it after all treatments.
    """

    setup: Setup
    start_s: float
    end_s: float
    openings: tuple[Treatment, ...]
    allowed_lux: float
    left_lux: float

    @property
    def leak_share(self) -> float | None:
        """How much of the blacked openings' area may stay open before the room is too light.

        None where nothing is blacked; 0 where there is nothing to spare.
        """
        kept_out = sum(one.gives_lux for one in self.openings if one.dark)
        if not kept_out:
            return None
        return min(1.0, max(0.0, self.allowed_lux - self.left_lux) / kept_out)

    @property
    def covered(self) -> set[str]:
        """Names of the openings that nothing comes through any more."""
        return {one.opening.name for one in self.openings if one.dark}

    @property
    def passing(self) -> Floats:
        """Share of its light that each opening is left, (O,)."""
        return np.array([one.passes for one in self.openings])


def gap_m(opening: Aperture, share: float) -> float:
    """How wide a gap all round is that leaves a share of an opening's area open, metres.

    2 mm all round a window of 1.2 by 1.5 m are 0.6 % of it.
    """
    return share * opening.width * opening.height / (2.0 * (opening.width + opening.height))


@dataclass(frozen=True, eq=False)
class Levels:
    """A setup's light at moments (T,) under each of some skies (W), before anything is hung.

    `sides` (T, W, O, 2) is what each opening gives the two sides of the face, lx, `lamp` (2,) what
    the key does; `gaps` are the openings as the camera sees them, by moment and sky. At the moments
    `sun_s` (S,), closer together, `sunlit` (S, O) says through which direct sun comes.
    """

    setup: Setup
    room: Faces
    moments: Floats
    sides: Floats
    lamp: Floats
    gaps: tuple[tuple[tuple[OpeningGap, ...], ...], ...]
    sun_s: Floats
    sunlit: Bools

    @cached_property
    def gives(self) -> Floats:
        """What each opening gives the darker side of the face at most, lx, (T, O)."""
        deciding = self.sides.sum(axis=2)
        if self.lamp.any():
            deciding[:] = self.lamp
        fill = np.argmin(deciding, axis=-1)[:, :, None, None]
        found: Floats = np.take_along_axis(self.sides, fill, axis=-1)[..., 0].max(axis=1)
        return found

    def ratio(self, passing: Floats, chosen: slice) -> float:
        """The least (key + fill) : fill at some of the moments, by openings' shares left (O,)."""
        both = np.einsum("twos,o->tws", self.sides[chosen], passing) + self.lamp
        least = np.maximum(both.min(axis=-1), 1e-9)
        return float((both.max(axis=-1) / least).min())

    def at(self, moments: Sequence[float]) -> Levels:
        """The same at some of its moments alone; direct sun as before."""
        rows = np.flatnonzero(np.isin(self.moments, moments))
        return replace(
            self,
            moments=self.moments[rows],
            sides=self.sides[rows],
            gaps=tuple(self.gaps[row] for row in rows),
        )

    def within(self, start_s: float, end_s: float) -> slice:
        """Those of the moments that lie in a stretch of time, its ends among them."""
        return _within(self.moments, start_s, end_s)

    def sunny(self, start_s: float, end_s: float) -> Bools:
        """Through which openings direct sun comes in a stretch of time, (O,)."""
        found: Bools = np.any(self.sunlit[_within(self.sun_s, start_s, end_s)], axis=0)
        return found


def _within(moments: Floats, start_s: float, end_s: float) -> slice:
    first, last = np.searchsorted(moments, (start_s - 1e-3, end_s + 1e-3))
    return slice(int(first), int(last))


def levels(
    location: Location,
    setups: Sequence[Setup],
    room: Faces,
    moments: Sequence[float],
    weathers: Sequence[Weather],
) -> list[Levels]:
    """Work out the light of setups in one room at rising moments; `room` is the room's light."""
    skies = skies_of(location, moments, weathers)
    by_opening = room.room.by_opening(skies)
    many = len(weathers)
    sun_s = np.unique([*every(moments[0], moments[-1], SUN_STEP_S), *moments])
    sunlit = _sunlit(location, room.room.beam, sun_s)
    found = []
    for one in gaps_in(location, room, skies, only=setups, by_opening=by_opening):
        index = room.index(one.setup)
        sides = by_opening[..., index * SPOTS : index * SPOTS + 2]
        found.append(
            Levels(
                setup=one.setup,
                room=room,
                moments=np.array(moments),
                sides=sides.reshape(len(moments), many, -1, 2),
                lamp=room.lamps[index][:2],
                gaps=tuple(
                    tuple(at.openings for at in one.times[row * many : (row + 1) * many])
                    for row in range(len(moments))
                ),
                sun_s=sun_s,
                sunlit=sunlit,
            )
        )
    return found


def treated(
    location: Location,
    setup: Setup,
    *,
    start_s: float,
    end_s: float,
    weathers: Sequence[Weather],
    room: Faces | None = None,
) -> Treated:
    """What the openings of a setup's room need from one moment to another.

    `room` saves working out the light of the setup's room again.
    """
    moments = list(dict.fromkeys([*every(start_s, end_s, STEP_S), end_s]))
    room = faces(location, [setup])[0] if room is None else room
    (light,) = levels(location, [setup], room, moments, weathers)
    return decided(location, light, start_s, end_s)


def decided(location: Location, light: Levels, start_s: float, end_s: float) -> Treated:
    """The same from light that is worked out already."""
    setup, chosen = light.setup, light.within(start_s, end_s)
    apertures = light.room.room.beam.apertures
    gives = light.gives[chosen].max(axis=0)
    kit, wanted = location.kit_of(setup), look_of(setup, location.kit_of(setup))
    allowed = key_lux(setup.exposure) * 2.0 ** wanted.fill[1]
    sunlit = light.sunny(start_s, end_s)
    looks = [openings for moment in light.gaps[chosen] for openings in moment]
    found: list[Treatment] = []
    for row, opening in enumerate(apertures):
        seen = [each[row] for each in looks if each[row].in_frame]
        lose = max((one.lose_stops or 0.0 for one in seen), default=None)
        what: What = "leave"
        gels: tuple[Gel, ...] = ()
        if lose:
            seen_at = [one.stops for one in seen if one.stops is not None]
            brightest, darkest = max(seen_at), min(seen_at)
            band = wanted.band(opening.opening.dressing)
            gels = gels_for(kit, brightest, band, darkest_stops=darkest)
            gels = () if wanted.black_reads else gels
            what = "gel" if gels else _without_gel(seen, black_reads=wanted.black_reads)
        after, dark = None, False
        if seen and what in ("leave", "gel"):
            taken = STOPS_PER_DENSITY * sum(gel.density for gel in gels)
            left = [one.stops - taken for one in seen if one.stops is not None]
            after = max(left), min(left)
            dark = not wanted.black_reads and after[1] < wanted.band(opening.opening.dressing)[0]
        found.append(
            Treatment(
                opening,
                what,
                gels,
                float(gives[row]),
                lose,
                bool(sunlit[row]),
                after,
                dark,
            )
        )
    found = _blacked(found, allowed)
    rest = sum(one.gives_lux * one.passes for one in found)
    return Treated(setup, start_s, end_s, tuple(found), allowed, rest)


def _without_gel(seen: Sequence[OpeningGap], *, black_reads: bool) -> What:
    if black_reads:
        return "black"
    return "tent" if seen[0].tent else "nothing does it"


def _blacked(found: Sequence[Treatment], allowed_lux: float) -> list[Treatment]:
    """The same with openings out of frame blacked, the strongest first, as far as is needed."""
    left = sum(one.gives_lux * one.passes for one in found)
    after = list(found)
    order = sorted(range(len(after)), key=lambda index: -after[index].gives_lux)
    for index in order:
        one = after[index]
        if left <= allowed_lux:
            break
        if one.lose_stops is None and one.what == "leave":
            after[index] = replace(one, what="black")
            left -= one.gives_lux
    return after


def _sunlit(location: Location, room: Beam, moments: Floats) -> Bools:
    """Through which openings direct sun comes at moments, (T, O)."""
    light = Light(location, track_over(location, moments[0], moments[-1]))
    net = light.over(moments)
    found = np.zeros((len(moments), len(room.apertures)), dtype=bool)
    for index in range(len(room.apertures)):
        found[net.places, index] = room.passes(index, net.suns)
    return found
