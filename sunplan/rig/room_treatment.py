"""What does each opening of a setup's room need from one moment to another?

A window in frame is brought into the look by the rule in `window_treatment`. An opening out of
frame is blacked only where its light fills the shadows more than the look allows, the strongest
first. What is left of the allowance says how large a gap in the black may stay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..light.daylight import Skies, Weather
from ..light.face import Faces, faces
from ..light.level_series import LevelSeries, level_series
from ..light.resolved import ResolvedSetup
from ..location.kit import Gel
from ..location.read import Location
from ..room.aperture import Aperture
from ..room.interval import Span
from ..sun.position import Floats
from ..sun.search import Bools
from .stretch_levels import StretchLevels, stretch_levels
from .window_treatment import Action, Decisions, WindowRule, WindowTreatment, levels_at


@dataclass(frozen=True, eq=False)
class OpeningTreatment:
    """What one opening needs from one moment to another.

    Attributes
    ----------
    opening, action
        The opening, and what is done.
    gives_lux
        The most daylight that the face's fill side gets through it untreated.
    sunlit
        Whether direct sun comes through in that time.
    window
        What the rule says of it in frame, None out of frame.
    """

    opening: Aperture
    action: Action
    gives_lux: float
    sunlit: bool
    window: WindowTreatment | None

    @property
    def gels(self) -> tuple[Gel, ...]:
        """What goes on its glass."""
        return () if self.window is None else self.window.gels

    @property
    def lose_stops(self) -> float | None:
        """The most stops that it must lose in frame, None out of frame."""
        return None if self.window is None else self.window.lose_stops

    @property
    def after_stops(self) -> tuple[float, float] | None:
        """Brightest and darkest then, stops over mid-grey; None out of frame, and if covered."""
        return None if self.window is None else self.window.after_stops

    @property
    def too_dark(self) -> bool:
        """Whether it falls below its band, left or gelled."""
        return self.window is not None and self.window.too_dark

    @property
    def dark(self) -> bool:
        """Whether nothing comes in any more."""
        return self.action in ("black", "tent")

    @property
    def share_left(self) -> float:
        """Share of its light that still comes in; a dressing is taken to leave all."""
        if self.dark:
            return 0.0
        return float(10.0 ** -sum(gel.density for gel in self.gels))


@dataclass(frozen=True, eq=False)
class RoomTreatment:
    """All openings (O) of a setup's room through its time.

    Attributes
    ----------
    setup, start_s, end_s
        What is filmed, and when, seconds since 1970 UTC.
    openings
        In the room's order, (O,).
    down_stops
        How far the exposure comes down, and the key up.
    allowed_lux, left_lux
        Daylight on the fill side: what the look leaves it at the setup's own exposure, and the most
        there is after all treatments.
    """

    setup: ResolvedSetup
    start_s: float
    end_s: float
    openings: tuple[OpeningTreatment, ...]
    down_stops: float
    allowed_lux: float
    left_lux: float

    @property
    def leak_share(self) -> float | None:
        """How much of the blacked openings' area may stay open before the room is too light.

        None where nothing is blacked; 0 where there is nothing to spare.
        """
        kept_out = sum(opening.gives_lux for opening in self.openings if opening.dark)
        if not kept_out:
            return None
        return min(1.0, max(0.0, self.allowed_lux - self.left_lux) / kept_out)

    @property
    def covered(self) -> set[str]:
        """Names of the openings that nothing comes through any more."""
        return {opening.opening.name for opening in self.openings if opening.dark}

    @property
    def too_dark(self) -> bool:
        """Whether a window falls below its band."""
        return any(opening.too_dark for opening in self.openings)

    @property
    def unsolved(self) -> tuple[str, ...]:
        """Names of the windows that nothing brings into their bands."""
        return tuple(
            opening.opening.name for opening in self.openings if opening.action == "nothing does it"
        )

    @cached_property
    def shares_left(self) -> Floats:
        """Share of its light that each opening is left, (O,)."""
        return np.array([opening.share_left for opening in self.openings])


def gap_m(opening: Aperture, share: float) -> float:
    """How wide a gap all round is that leaves a share of an opening's area open, metres.

    >>> from sunplan import read
    >>> from sunplan.room.beam import beam_of
    >>> house = read("locations/lock-house.toml")
    >>> window = beam_of(house, house.room[0]).apertures[0]  # 1.1 m by 1.2 m
    >>> round(1000 * gap_m(window, 0.01), 1)  # millimetres for a hundredth
    2.9
    """
    return share * opening.width * opening.height / (2.0 * (opening.width + opening.height))


def room_treatment(
    location: Location,
    setup: ResolvedSetup,
    *,
    start_s: float,
    end_s: float,
    weathers: Sequence[Weather],
    room: Faces | None = None,
) -> RoomTreatment:
    """What the openings of a setup's room need from one moment to another.

    Parameters
    ----------
    location, setup
        The place and what is filmed.
    start_s, end_s
        Seconds since 1970 UTC; they may be the same.
    weathers
        It must do under all of them.
    room
        The light of the setup's room, where it is worked out already.

    Raises
    ------
    ValueError
        If the setup is none of that room's.

    Examples
    --------
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan import read
    >>> from sunplan.light.daylight import Weather
    >>> house = read("locations/lock-house.toml")
    >>> kettle, nine = resolve(house)[2], 1805529600.0
    >>> clear = [Weather("clear")]
    >>> done = room_treatment(house, kettle, start_s=nine, end_s=nine + 3600, weathers=clear)
    >>> [(treated.opening.name, treated.action) for treated in done.openings]
    [('canal window', 'black'), ('gable window', 'gel'), ('yard door', 'black')]
    """
    room = faces(location, [setup])[0] if room is None else room
    (light,) = stretch_levels(location, [setup], [room], [start_s, end_s], weathers)
    return treatment_between(light, start_s, end_s)


def window_rule(light: StretchLevels) -> WindowRule:
    """What a setup's windows in frame are held against, and what its kit has for them."""
    return WindowRule.of(light.by_minute[0], spare_stops=light.room.spare_stops(light.setup))


def treatment_between(light: StretchLevels, start_s: float, end_s: float) -> RoomTreatment:
    """What a setup's openings need in a stretch of the time that its light is worked out for."""
    return treatments_between(light, np.array([start_s]), np.array([end_s]))[0]


def treatments_between(
    light: StretchLevels, start_s: Floats, end_s: Floats, *, tents: bool = True
) -> list[RoomTreatment]:
    """What they need in each of some stretches (N), whose ends are given.

    `tents`: whether windows may be tented.
    """
    rule = window_rule(light)
    if not tents:
        rule = replace(rule, tent=np.zeros_like(rule.tent))
    decisions = rule.decide(light.windows(start_s, end_s))
    return [
        _treatment(
            light.by_minute[0],
            decisions,
            row,
            stretch,
            light.fill_lux(*stretch),
            light.sun_comes_in(*stretch),
        )
        for row, stretch in enumerate(zip(start_s.tolist(), end_s.tolist(), strict=True))
    ]


def treatments_at(
    location: Location, setup: ResolvedSetup, above: Skies, *, room: Faces
) -> tuple[LevelSeries, list[RoomTreatment]]:
    """What a setup's openings need at moments, each by itself, (T,); and its levels then.

    That the sun comes in is not looked at.

    Raises
    ------
    ValueError
        If the setup is none of that room's.
    """
    (series,) = level_series(location, [setup], above, rooms=[room]).values()
    rule = WindowRule.of(series, spare_stops=room.spare_stops(setup))
    decisions, fill_lux = rule.decide(levels_at(series)), series.fill_lux
    dark = np.zeros(fill_lux.shape[1], dtype=bool)
    return series, [
        _treatment(series, decisions, row, (moment, moment), fill_lux[row : row + 1], dark)
        for row, moment in enumerate(series.moments.tolist())
    ]


def untreated(treated: RoomTreatment) -> RoomTreatment:
    """The same with nothing done at all: the room as it is found."""
    openings = tuple(replace(opening, action="leave", window=None) for opening in treated.openings)
    return replace(treated, openings=openings, down_stops=0.0)


def _treatment(
    series: LevelSeries,
    decisions: Decisions,
    row: int,
    span: Span,
    fill_lux: Floats,
    sunlit: Bools,
) -> RoomTreatment:
    """A row of decisions, with the openings out of frame; `fill_lux` (M, O), `sunlit` (O,)."""
    assert series.room is not None
    windows = {
        seen.index: decisions.treatment(row, column) for column, seen in enumerate(series.windows)
    }
    openings = [
        OpeningTreatment(
            opening=opening,
            action=windows[index].action if index in windows else "leave",
            gives_lux=float(gives),
            sunlit=bool(sunlit),
            window=windows.get(index),
        )
        for index, (opening, gives, sunlit) in enumerate(
            zip(
                series.room.room.transfer.beam.apertures,
                fill_lux.max(axis=0),
                sunlit,
                strict=True,
            )
        )
    ]
    allowed = series.allowed_fill_lux
    openings, left = _blacked(openings, fill_lux, allowed)
    down = float(decisions.down_stops[row])
    return RoomTreatment(series.setup, *span, tuple(openings), down, allowed, left)


def _blacked(
    openings: list[OpeningTreatment], fill_lux: Floats, allowed_lux: float
) -> tuple[list[OpeningTreatment], float]:
    """The same with those out of frame blacked, the strongest first, as far as is needed.

    And the most daylight that is left on the fill side; `fill_lux` (M, O) is untreated.
    """
    shares = np.array([opening.share_left for opening in openings])
    done = list(openings)
    for index in sorted(range(len(done)), key=lambda index: -done[index].gives_lux):
        if (fill_lux @ shares).max() <= allowed_lux:
            break
        if done[index].window is None:
            done[index] = replace(done[index], action="black")
            shares[index] = 0.0
    return done, float((fill_lux @ shares).max())
