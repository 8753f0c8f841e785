"""What blocks it: which stock flag, where, how high, and when it must be moved.

A flag is a rectangle in a plane. Planes are tried over the opening, outside before the glass, level
under a skylight, and on a stand at several distances between opening and mark: upright, level, or
tilted square to the sun. The smallest stock size that holds what is needed is what is hung; where
no single flag does it, two that overlap are tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations_with_replacement

import numpy as np

from ..light.resolved import ResolvedSetup
from ..light.screen import Screen
from ..location.kit import Flag, Stand
from ..location.model import Mark, Room
from ..location.read import Location
from ..location.tolerances import widest
from ..room.aperture import Aperture
from ..room.beam import beam_of
from .blocked_rays import AllRays, Bundle, RayFamily, SunRays
from .flag_placement import Covers, Placement, Position, surroundings_of
from .flag_planes import Planes
from .flag_search import PlacementSearch, searches
from .flag_stock import Stock, all_owned, pair, single, total_area_m2
from .minimal_extent import minimal_extent
from .tape import TapeMeasures, tape


@dataclass(frozen=True, eq=False)
class FlagOption:
    """One way of stopping the light: a flag of the kit with the places it takes in turn.

    Attributes
    ----------
    opening, covers, placement
        What the light comes through, which light, and where it is stopped.
    flags
        One, or two that overlap.
    stand
        What carries each in all its places; None where nothing does, or over an opening.
    positions
        The places, in time's order.
    ground_m
        What the stand stands on, metres above ground.
    spans
        When there is light to stop, seconds since 1970 UTC.
    """

    opening: str
    covers: Covers
    placement: Placement
    flags: tuple[Flag, ...]
    stand: Stand | None
    positions: tuple[Position, ...]
    ground_m: float
    spans: tuple[tuple[float, float], ...]

    @property
    def name(self) -> str:
        """What is taken."""
        return " + ".join(flag.name for flag in self.flags)

    @property
    def owned(self) -> bool:
        """Whether the kit owns all of it."""
        return all_owned(self.flags)

    @property
    def clear_of_frame(self) -> bool:
        """Whether it stays out of frame wherever it hangs."""
        return all(position.clear_of_frame for position in self.positions)

    @property
    def clear_of_key(self) -> bool:
        """Whether it never stands between the key and the face."""
        return all(position.clear_of_key for position in self.positions)

    @property
    def moves(self) -> tuple[float, ...]:
        """Moments at which it must have been moved, seconds since 1970 UTC."""
        return tuple(position.start_s for position in self.positions[1:])

    @property
    def rank(self) -> tuple[bool, bool, int, bool, int, float]:
        """To compare; the lowest is the one to take.

        Out of frame, out of the key's light, fewest moves, owned, one rather than two, smallest.
        """
        return (
            not self.clear_of_frame,
            not self.clear_of_key,
            len(self.positions),
            not self.owned,
            len(self.flags),
            total_area_m2(self.flags),
        )

    @property
    def faultless(self) -> bool:
        """Whether it stays where it is, out of frame and out of the key's light."""
        return self.clear_of_frame and self.clear_of_key and len(self.positions) == 1

    def height_m(self, position: Position) -> float:
        """Height of the flag's middle above what its stand stands on, metres."""
        return float(position.centre[2]) - self.ground_m

    def head_m(self, position: Position) -> float:
        """Height of the stand's head, metres: as near the flag's middle as the stand can."""
        if self.stand is None:
            return self.height_m(position)
        return min(max(self.height_m(position), self.stand.lowest), self.stand.highest)

    def measured(self, location: Location, room: Room, mark: Mark, hung: Screen) -> TapeMeasures:
        """Where one of its flags hangs, as two people with a tape measure find the place."""
        wall = room.opening_named(self.opening).wall
        outside = None if wall is None or self.placement != "outside" else wall.strip().upper()
        return tape(
            room,
            mark,
            hung,
            plan_up_deg=location.site.plan_up,
            outside=outside,
            ground_m=self.ground_m,
        )


@dataclass(frozen=True, eq=False)
class SetupFlags:
    """All flags for one setup.

    Attributes
    ----------
    setup, mark
        What is filmed, and what is to stay clean.
    options
        Opening by opening, the one to take first.
    unmet
        Names of openings whose light reaches the mark unstopped.
    unreached
        Those that nobody reaches outside.
    """

    setup: ResolvedSetup
    mark: Mark
    options: tuple[FlagOption, ...]
    unmet: tuple[str, ...]
    unreached: tuple[Aperture, ...]

    @property
    def taken(self) -> tuple[FlagOption, ...]:
        """The option to take for each opening."""
        first: dict[str, FlagOption] = {}
        for option in self.options:
            first.setdefault(option.opening, option)
        return tuple(first.values())


def _option(search: PlacementSearch, stocks: Sequence[Stock], covers: Covers) -> FlagOption | None:
    """What one flag or pair, in its turns, does there; None where it cannot do it."""
    positions = search.positions(stocks)
    if positions is None:
        return None
    flags, ground_m = stocks[0].flags, search.ground_m
    # One stand for all the places it takes in turn.
    heights = np.array([position.hung.heights for position in positions]) - ground_m
    low, high = float(heights[:, 0].max()), float(heights[:, 1].min())
    heaviest = max(flag.weight for flag in flags)
    return FlagOption(
        opening=search.opening.name,
        covers=covers,
        placement=search.placement,
        flags=flags,
        stand=search.surroundings.kit.stand_for(low, high, heaviest) if low <= high else None,
        positions=positions,
        ground_m=ground_m,
        spans=search.bundle.spans(),
    )


def _best(search: PlacementSearch, covers: Covers) -> FlagOption | None:
    """The kit's flag that does it best there; where none does, its pair that does."""
    options: list[FlagOption] = []
    by_size = sorted(search.surroundings.kit.flag, key=lambda flag: total_area_m2((flag,)))
    for flag in sorted(by_size, key=lambda flag: not all_owned((flag,))):
        option = _option(search, single(flag), covers)
        options += [option] if option is not None else []
        if option is not None and option.faultless:
            break  # those that follow are not owned, or larger
    if options:
        return min(options, key=lambda option: option.rank)
    smallest = sorted(
        combinations_with_replacement(search.surroundings.kit.flag, 2), key=total_area_m2
    )
    for two in sorted(smallest, key=lambda two: not all_owned(two)):
        option = _option(search, pair(*two), covers)
        if option is not None:
            return option
    return None


def _closed_in(
    family: RayFamily, bundle: Bundle, options: Sequence[FlagOption]
) -> list[FlagOption]:
    """The same, each position with the least that it must span, closed in on."""
    positions = [position for option in options for position in option.positions]
    closed: dict[Position, Position] = {}
    for span in dict.fromkeys((position.start_s, position.end_s) for position in positions):
        mine = [position for position in positions if (position.start_s, position.end_s) == span]
        axes = ((position.needs_centre, position.across, position.up) for position in mine)
        planes = Planes(*map(np.array, zip(*axes, strict=True)))
        half = np.array([position.needs_m for position in mine]) / 2
        mine_only = replace(family, start_s=span[0], end_s=span[1])
        low, high = minimal_extent(mine_only, bundle.within(*span), planes)
        low, high = np.where(np.isnan(low), -half, low), np.where(np.isnan(high), half, high)
        for index, position in enumerate(mine):
            needed = planes.rectangle(index, low[index], high[index])
            closed[position] = replace(position, needs_m=needed.size, needs_centre=needed.centre)
    return [
        replace(option, positions=tuple(closed[position] for position in option.positions))
        for option in options
    ]


def setup_flags(
    location: Location,
    setup: ResolvedSetup,
    *,
    start_s: float,
    end_s: float,
    covers: Covers = "sun",
    sure: bool = False,
) -> SetupFlags:
    """Flags that keep one setup's mark clean through an interval.

    Parameters
    ----------
    location, setup
        The place and what is filmed.
    start_s, end_s
        The interval, seconds since 1970 UTC.
    covers
        "sun": all rays from the sun's whole disk; "all": all through an opening from outside.
    sure
        Whatever the place truly is, within ± plan_up_error, size_error and place_error.

    Returns
    -------
    The best flag for each opening and placement, best first; empty where no light that must be
    stopped gets to the mark.

    Examples
    --------
    >>> from sunplan.light.resolved import resolve
    >>> from sunplan.location.read import read
    >>> location = read("locations/lock-house.toml")
    >>> at_five = 1805558400.0  # 2027-03-20 17:00 at the place
    >>> flags = setup_flags(location, resolve(location)[2], start_s=at_five, end_s=at_five + 1800.0)
    >>> [(option.opening, option.name, option.placement) for option in flags.taken]
    [('canal window', '24x36 flag', 'on a stand')]
    """
    surroundings = surroundings_of(location, setup)
    error_deg = location.site.plan_up_error if sure else 0.0
    wide = widest(location) if sure else location
    wide_room = beam_of(wide, wide.room_named(setup.room)) if sure else surroundings.room
    wide_mark = wide_room.room.mark_named(setup.mark)
    options: list[FlagOption] = []
    unmet: list[str] = []
    unreached: list[Aperture] = []
    for index, opening in enumerate(surroundings.room.apertures):
        family: RayFamily = (
            SunRays(wide, wide_room, index, wide_mark, start_s, end_s, error_deg)
            if covers == "sun"
            else AllRays(wide_room, index, wide_mark, start_s, end_s)
        )
        bundle = family.bundle()
        if bundle.empty:
            continue
        if not opening.from_ground:
            unreached.append(opening)
        tried = searches(surroundings, opening, bundle, covers)
        best = [option for search in tried if (option := _best(search, covers)) is not None]
        mine = _closed_in(family, bundle, best)
        options += sorted(mine, key=lambda option: option.rank)
        if not mine:
            unmet.append(opening.name)
    return SetupFlags(setup, setup.at_mark, tuple(options), tuple(unmet), tuple(unreached))
