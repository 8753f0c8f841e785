"""How far is each window and practical in frame from the look, in stops; and what closes it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..light.daylight import Skies, Sky
from ..light.face import FACE_POINTS, FaceLight, Faces, faces, faces_by_room
from ..light.lamp import LightSource
from ..light.level_series import LevelSeries, level_series
from ..light.look import Look
from ..light.meter import grey_cd_m2, key_lux, stops
from ..light.practicals import PracticalGap, practical_gap
from ..light.resolved import ResolvedSetup
from ..location.kit import Gel
from ..location.read import Location
from ..room.interval import Span
from ..sun.search import Bools
from .flags import SetupFlags, setup_flags
from .rigged_levels import RiggedLevels, rigged_series
from .room_treatment import treatments_at, untreated
from .window_treatment import Decisions, WindowRule, WindowTreatment, levels_at


@dataclass(frozen=True)
class OpeningGap:
    """An opening against the look at one moment; out of frame all but the first two are unset.

    Attributes
    ----------
    opening, in_frame
        Its name, and whether any of it is in frame.
    luminance_cd_m2, stops, wanted_stops
        As the camera sees it; over mid-grey; the middle of its band.
    lose_stops, raise_stops
        How far it is over the middle of its band, and under it; 0 within the band.
    frame_share
        How much of the frame it fills.
    pan_deg
        The least pan that takes it out and leaves the face in, to the right if positive; None where
        there is none.
    treatment
        What the rule says of it.
    """

    opening: str
    in_frame: bool
    luminance_cd_m2: float | None = None
    stops: float | None = None
    wanted_stops: float | None = None
    lose_stops: float | None = None
    raise_stops: float | None = None
    frame_share: float = 0.0
    pan_deg: float | None = None
    treatment: WindowTreatment | None = None

    @property
    def off(self) -> tuple[bool, float, float, float]:
        """How far from the look it is, to compare: sun in frame, stops over, stops under, level."""
        assert self.treatment is not None
        assert self.lose_stops is not None
        assert self.raise_stops is not None
        assert self.stops is not None
        return self.treatment.sun_in_frame, self.lose_stops, self.raise_stops, self.stops

    @property
    def gels(self) -> tuple[Gel, ...]:
        """The gels that bring it into its band with nothing else."""
        return () if self.treatment is None else self.treatment.gels_alone

    @property
    def gel_density(self) -> float | None:
        """Density of all their layers, None without."""
        return round(sum(gel.density for gel in self.gels), 6) if self.gels else None

    @property
    def black(self) -> bool:
        """Whether something is to be lost that no gel takes."""
        sunny = self.treatment is not None and self.treatment.sun_in_frame
        return (bool(self.lose_stops) or sunny) and not self.gels


@dataclass(frozen=True, eq=False)
class TimeGap:
    """One setup at one moment: the sky, its face, all openings of its room, all practicals."""

    sky: Sky
    face: FaceLight
    openings: tuple[OpeningGap, ...]
    practicals: tuple[PracticalGap, ...]


@dataclass(frozen=True, eq=False)
class SetupGap:
    """One setup through its moments.

    Attributes
    ----------
    setup, look
        What is filmed, and what it is held against.
    key_lux
        What its exposure asks of a face at key.
    source
        Its key lamp, None without one.
    times
        One a moment and sky.
    found, rigged
        The levels at the same moments with the key set to key: in the room as it is, and once all
        hangs that each moment needs. Empty where nobody asked.
    """

    setup: ResolvedSetup
    look: Look
    key_lux: float
    source: LightSource | None
    times: tuple[TimeGap, ...]
    found: tuple[RiggedLevels, ...] = ()
    rigged: tuple[RiggedLevels, ...] = ()

    def at(self, moments_s: Sequence[float]) -> SetupGap:
        """The same setup at those of its moments alone, seconds since 1970 UTC."""
        kept = set(moments_s)
        return replace(
            self,
            times=tuple(gap for gap in self.times if gap.sky.unix_s in kept),
            found=tuple(levels for levels in self.found if levels.sky.unix_s in kept),
            rigged=tuple(levels for levels in self.rigged if levels.sky.unix_s in kept),
        )

    def worse_skies(self) -> list[tuple[TimeGap, RiggedLevels]]:
        """Each moment under the sky that is farther from the look, with its levels as rigged.

        By its windows, then by its face; where skies are alike, the first.
        """
        by_moment: dict[float, list[tuple[TimeGap, RiggedLevels]]] = {}
        for gap, levels in zip(self.times, self.rigged, strict=True):
            by_moment.setdefault(gap.sky.unix_s, []).append((gap, levels))

        def off(pair: tuple[TimeGap, RiggedLevels]) -> tuple[tuple[float, ...], float]:
            windows = [opening.off for opening in pair[0].openings if opening.in_frame]
            return max(windows, default=()), pair[1].off_stops

        return [max(pairs, key=off) for pairs in by_moment.values()]

    def worst_windows(self) -> list[tuple[Sky, OpeningGap]]:
        """Each opening in frame at the moment and under the sky at which it is farthest off."""
        return [
            max(
                ((gap.sky, gap.openings[index]) for gap in self.times),
                key=lambda pair: pair[1].off,
            )
            for index, opening in enumerate(self.times[0].openings)
            if opening.in_frame
        ]

    def worst_face(self) -> tuple[RiggedLevels, RiggedLevels]:
        """The levels as found and as rigged when the face as rigged is farthest off."""
        pairs = zip(self.found, self.rigged, strict=True)
        return max(pairs, key=lambda pair: pair[1].off_stops)

    def worst(self, start_s: float, end_s: float) -> list[tuple[Sky, OpeningGap]]:
        """Each opening in frame under each sky when it is farthest from the look, in a stretch.

        Where none of its moments lies in that, at the one nearest to its middle.
        """
        middle = (start_s + end_s) / 2
        worst_by_opening = []
        for name in dict.fromkeys(gap.sky.name for gap in self.times):
            mine = [gap for gap in self.times if gap.sky.name == name]
            asked = [gap for gap in mine if start_s <= gap.sky.unix_s <= end_s]
            asked = asked or [min(mine, key=lambda gap: abs(gap.sky.unix_s - middle))]
            for index, opening in enumerate(asked[0].openings):
                if opening.in_frame:
                    worst = max(asked, key=lambda gap: gap.openings[index].off)
                    worst_by_opening.append((worst.sky, worst.openings[index]))
        return worst_by_opening


def gaps(
    location: Location,
    setups: Sequence[ResolvedSetup],
    skies: Skies,
    *,
    rooms: Sequence[Faces] | None = None,
) -> list[SetupGap]:
    """How far setups are from the look.

    Parameters
    ----------
    location, setups
        The place, and setups in any rooms of it.
    skies
        The moments, each under a sky.
    rooms
        The light of the setups' rooms, where it is worked out already.

    Returns
    -------
    In the setups' order, each with all moments.

    Examples
    --------
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> from sunplan.light.daylight import skies
    >>> house = read("locations/lock-house.toml")
    >>> (gap,) = gaps(house, [resolve(house)[1]], skies(house, [1805562000.0]))
    >>> [round(window.lose_stops, 1) for window in gap.times[0].openings if window.in_frame]
    [7.0]
    """
    rooms = faces(location, setups) if rooms is None else rooms
    filmed = [setup for room in rooms for setup in room.setups]
    series = level_series(location, filmed, skies, rooms=rooms)
    by_setup: dict[str, SetupGap] = {}
    for room in rooms:
        daylight = series[room.setups[0].name].room
        assert daylight is not None
        lights = room.illuminances(skies, lux_by_opening=daylight.lux_by_opening)
        for setup, source, mine in zip(room.setups, room.sources, lights, strict=True):
            by_setup[setup.name] = SetupGap(
                setup,
                series[setup.name].look,
                key_lux(setup.exposure),
                source,
                tuple(_times(room, series[setup.name], mine)),
            )
    return [by_setup[setup.name] for setup in setups]


def as_rigged(
    location: Location,
    gaps: Sequence[SetupGap],
    *,
    rooms: Sequence[Faces],
    hours_s: Span,
    flags: Sequence[SetupFlags] | None = None,
) -> list[SetupGap]:
    """The same gaps with the levels as found and as rigged beside them, the key set to key.

    What hangs is what each moment asks for by itself; at moments at which the sun is on the face
    also the flags that keep it off the mark through all hours of work.

    Parameters
    ----------
    location, gaps
        The place, and setups with their moments.
    rooms
        The light of their rooms.
    hours_s
        The hours of work, seconds since 1970 UTC.
    flags
        Those that the setups want through them, where they are known.

    Examples
    --------
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> from sunplan.light.daylight import skies
    >>> house = read("locations/lock-house.toml")
    >>> coffee, six = resolve(house)[1], skies(house, [1805562000.0])
    >>> rooms = faces(house, [coffee])
    >>> bare, hours = gaps(house, [coffee], six, rooms=rooms), (1805529600.0, 1805565600.0)
    >>> (gap,) = as_rigged(house, bare, rooms=rooms, hours_s=hours)
    >>> [(window.opening, round(window.stops, 1)) for window in gap.rigged[0].windows]
    [('canal window', -1.5)]
    """
    known = {} if flags is None else {own.setup.name: own.taken for own in flags}
    light, rigged = faces_by_room(rooms), []
    for gap in gaps:
        setup, room = gap.setup, light[gap.setup.room]
        above = Skies(tuple(moment.sky for moment in gap.times))
        series, treatments = treatments_at(location, setup, above, room=room)
        sunlit = _sun_on_face(series)
        taken = known.get(setup.name)
        if taken is None:
            start_s, end_s = hours_s
            taken = (
                setup_flags(location, setup, start_s=start_s, end_s=end_s).taken
                if sunlit.any()
                else ()
            )
        bare = [untreated(done) for done in treatments]
        found = rigged_series(location, series, bare)
        hung = rigged_series(location, series, treatments, flags=taken, flagged=sunlit)
        rigged.append(replace(gap, found=tuple(found), rigged=tuple(hung)))
    return rigged


def _sun_on_face(series: LevelSeries) -> Bools:
    """Whether direct sun is on any side of a setup's face, (T,)."""
    assert series.room is not None
    room = series.room.room
    first = room.index(series.setup) * FACE_POINTS
    lux = room.transfer.direct_lux(series.skies)[..., first : first + 3]
    return np.asarray(lux.any(axis=(1, 2)))


def _times(room: Faces, series: LevelSeries, faces_lit: Sequence[FaceLight]) -> Iterator[TimeGap]:
    """A setup at each of its moments."""
    setup, inside = series.setup, series.setup.in_room
    rule = WindowRule.of(series, spare_stops=room.spare_stops(setup))
    decisions = rule.decide(levels_at(series))
    unseen = [OpeningGap(opening.name, in_frame=False) for opening in inside.opening]
    columns = [_openings(series, decisions, column) for column in range(len(series.windows))]
    practicals = tuple(practical_gap(practical, setup) for practical in inside.practical)
    for row, (sky, face) in enumerate(zip(series.skies, faces_lit, strict=True)):
        openings = list(unseen)
        for seen, column in zip(series.windows, columns, strict=True):
            openings[seen.index] = column[row]
        yield TimeGap(sky, face, tuple(openings), practicals)


def _openings(series: LevelSeries, decisions: Decisions, column: int) -> list[OpeningGap]:
    """A window in frame at each moment."""
    seen, grey = series.windows[column], grey_cd_m2(series.setup.exposure)
    share, pan_deg = seen.frame_share, seen.pan_deg
    # Without any light it is infinitely too dark, where that matters.
    unlit = 0.0 if series.look.black_reads else math.inf
    return [
        OpeningGap(
            opening=seen.opening.name,
            in_frame=True,
            luminance_cd_m2=level,
            stops=stops(level, grey),
            wanted_stops=float(series.bands[column].mean()),
            lose_stops=lose,
            raise_stops=lacks if level else unlit,
            frame_share=share,
            pan_deg=pan_deg,
            treatment=decisions.treatment(row, column),
        )
        for row, (level, lose, lacks) in enumerate(
            zip(
                series.luminance_cd_m2[:, column].tolist(),
                series.over_stops[:, column].tolist(),
                series.under_stops[:, column].tolist(),
                strict=True,
            )
        )
    ]
