"""What each opening needs through a setup: left as it is, gel, black, or a tent outside.

A window in frame is brought into the look. Where neither gel alone nor a tent does it, the exposure
comes down (lens, ISO or a filter before it) and the key goes up as much, as far as it can. An
opening out of frame is blacked only where its light fills the shadows more than the look allows,
the strongest first. What is left of the allowance says how large a gap in the black may stay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from ..light.daylight import Weather, skies_by_weather
from ..light.face import FACE_POINTS, Faces, faces
from ..light.gap import STOPS_PER_DENSITY, OpeningGap, gaps_in, gels_for
from ..light.look import Band, Look, look_of
from ..light.meter import key_lux
from ..location.kit import Gel, Kit
from ..location.model import Setup
from ..location.read import Location
from ..room.aperture import Aperture
from ..room.beam import Beam
from ..room.entry import SunTests
from ..sun.local_time import even_moments
from ..sun.position import Floats
from ..sun.search import Bools
from ..sun.track import track_over

STEP_S = 900.0
SUN_STEP_S = 60.0
THIRD = 1.0 / 3.0  # of a stop: the steps that lenses and meters are marked in
What = Literal["leave", "gel", "black", "tent", "nothing does it"]


@dataclass(frozen=True, eq=False)
class Treatment:
    """What one opening needs from one moment to another.

    `gives_lux` is the most daylight that the face's fill side gets through it untreated.
    `lose_stops` is the most that it must lose in frame, None out of frame; `after_stops` where it
    then sits, brightest and darkest, with its gel on and the exposure down, and `too_dark` whether
    that falls below its band. `sunlit`: direct sun comes through in that time.
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

    `down_stops` is how far the exposure comes down, the key up as much. `allowed_lux` is the
    daylight that the look leaves the fill side at the setup's own exposure, `left_lux` what there
    is of it after all treatments.
    """

    setup: Setup
    start_s: float
    end_s: float
    openings: tuple[Treatment, ...]
    down_stops: float
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
    skies = skies_by_weather(location, moments, weathers)
    by_opening = room.transfer.lux_by_opening(skies)
    many = len(weathers)
    sun_s = np.unique([*even_moments(moments[0], moments[-1], SUN_STEP_S), *moments])
    sunlit = _sunlit(location, room.transfer.beam, sun_s)
    found = []
    for one in gaps_in(location, room, skies, only=setups, lux_by_opening=by_opening):
        index = room.index(one.setup)
        sides = by_opening[..., index * FACE_POINTS : index * FACE_POINTS + 2]
        found.append(
            Levels(
                setup=one.setup,
                room=room,
                moments=np.array(moments),
                sides=sides.reshape(len(moments), many, -1, 2),
                lamp=room.lamp_lux[index][:2],
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
    moments = list(dict.fromkeys([*even_moments(start_s, end_s, STEP_S), end_s]))
    room = faces(location, [setup])[0] if room is None else room
    (light,) = levels(location, [setup], room, moments, weathers)
    return decided(location, light, start_s, end_s)


def decided(location: Location, light: Levels, start_s: float, end_s: float) -> Treated:
    """The same from light that is worked out already."""
    setup, chosen = light.setup, light.within(start_s, end_s)
    apertures = light.room.transfer.beam.apertures
    gives = light.gives[chosen].max(axis=0)
    kit, wanted = location.kit_of(setup), look_of(setup, location.kit_of(setup))
    sunlit = light.sunny(start_s, end_s)
    looks = [openings for moment in light.gaps[chosen] for openings in moment]
    filmed = [
        _filmed(opening, [each[row] for each in looks], wanted)
        for row, opening in enumerate(apertures)
    ]
    down = 0.0
    if not wanted.black_reads:
        down = _down([one for one in filmed if one], kit, light.room.spare_stops(setup))
    found: list[Treatment] = []
    for row, (opening, seen) in enumerate(zip(apertures, filmed, strict=True)):
        what: What = "leave"
        gels: tuple[Gel, ...] = ()
        if seen and seen.lose_stops:
            brings = None if wanted.black_reads else seen.gels(kit, down)
            gels = brings or ()
            if brings is None:
                what = _without_gel(seen, black_reads=wanted.black_reads)
            elif gels:
                what = "gel"
        after, dark = None, False
        if seen and what in ("leave", "gel"):
            after = seen.after(gels, down)
            dark = not wanted.black_reads and after[1] < seen.band[0]
        found.append(
            Treatment(
                opening,
                what,
                gels,
                float(gives[row]),
                seen.lose_stops if seen else None,
                bool(sunlit[row]),
                after,
                dark,
            )
        )
    allowed = key_lux(setup.exposure) * 2.0 ** wanted.fill[1]
    found = _blacked(found, allowed)
    rest = sum(one.gives_lux * one.passes for one in found)
    return Treated(setup, start_s, end_s, tuple(found), down, allowed, rest)


@dataclass(frozen=True)
class _Filmed:
    """A window in frame through a while: its most and least stops, and the band it should sit in.

    `lose_stops` is the most it must lose; `tent`: somebody can work outside before it.
    """

    most: float
    least: float
    band: Band
    lose_stops: float
    tent: bool

    def gels(self, kit: Kit, down: float) -> tuple[Gel, ...] | None:
        """The gel it takes with the exposure so far down; None where none brings it there."""
        if self.most - down <= self.band[1] + 1e-9:
            return ()
        return gels_for(kit, self.most - down, self.band, darkest_stops=self.least - down) or None

    def after(self, gels: Sequence[Gel], down: float) -> tuple[float, float]:
        """Where it then sits, brightest and darkest."""
        taken = STOPS_PER_DENSITY * sum(gel.density for gel in gels) + down
        return self.most - taken, self.least - taken


def _filmed(opening: Aperture, seen: Sequence[OpeningGap], wanted: Look) -> _Filmed | None:
    levels = [one.stops for one in seen if one.in_frame and one.stops is not None]
    if not levels:
        return None
    return _Filmed(
        most=max(levels),
        least=min(levels),
        band=wanted.band(opening.opening.dressing),
        lose_stops=max(one.lose_stops or 0.0 for one in seen if one.in_frame),
        tent=opening.from_ground,
    )


def _down(filmed: Sequence[_Filmed], kit: Kit, spare_stops: float) -> float:
    """How far the exposure comes down so that gel brings all windows into their bands.

    0 where gel alone does, where a tent does the rest, or where nothing does. Else so far that the
    fewest layers do, rather none too dark then, and no farther than that takes.
    """
    if all(one.tent for one in filmed if one.gels(kit, 0.0) is None):
        return 0.0
    ways: list[tuple[bool, int, float]] = []
    for third in range(1, int(spare_stops / THIRD + 1e-9) + 1):
        down = third * THIRD
        gels = [one.gels(kit, down) for one in filmed]
        if any(each is None for each in gels):
            continue
        ends = [one.after(each or (), down)[1] for one, each in zip(filmed, gels, strict=True)]
        dark = any(end < one.band[0] for one, end in zip(filmed, ends, strict=True))
        ways.append((dark, sum(len(each or ()) for each in gels), down))
    return min(ways)[2] if ways else 0.0


def _without_gel(seen: _Filmed, *, black_reads: bool) -> What:
    if black_reads:
        return "black"
    return "tent" if seen.tent else "nothing does it"


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
    light = SunTests(location, track_over(location, moments[0], moments[-1]))
    net = light.grid(moments)
    found = np.zeros((len(moments), len(room.apertures)), dtype=bool)
    for index in range(len(room.apertures)):
        found[net.rows, index] = room.passes(index, net.suns)
    return found
