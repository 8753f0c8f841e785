"""The search for places at which a flag stops the light: fewest moves, out of frame, out of key.

Every ray that must be stopped crosses a plane somewhere; the rectangle round all crossings is what
a flag must span there. A flag holds as long as that rectangle fits its size.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ..light.screen import Screen
from ..room.aperture import Aperture
from ..sun.position import DISK_DEG, Floats
from ..sun.search import Bools, Indices
from .blocked_rays import Bundle
from .flag_placement import Covers, Placement, Position, Surroundings, own_wall
from .flag_planes import Planes, candidate_planes, extents, margin_m
from .flag_stock import Stock

HAND_M = 0.05  # a flag is larger than needed by this: hands set it no better; no source
MOST_MOVES = 8  # a flag that is moved more often is no plan
EDGE_SHARE = 2.0 * math.tan(math.radians(DISK_DEG / 2))  # of a shadow's soft edge by its throw
SPOTS = 5  # of what a flag must span, each way, to see that it is in frame wherever it hangs
SHIFTS = np.array([[0, 0], [-1, 0], [1, 0], [0, -1], [0, 1], [-1, -1], [-1, 1], [1, -1], [1, 1]])
MOST_SHIFTS = 2  # of those that hold, looked at closely
MOST_TRIES = 60  # places that are tried for one flag: the best of them come first


class _Candidate(NamedTuple):
    """A flag in a plane, how many moments it holds there, and how much it must span by then."""

    moments: int
    tilted: bool
    area_m2: float
    plane: int
    stock: Stock

    @property
    def rank(self) -> tuple[int, bool, float]:
        """The longest first; of those an upright or level one, then that with most to spare."""
        return -self.moments, self.tilted, self.area_m2


@dataclass(frozen=True, eq=False)
class PlacementSearch:
    """All ways to hang flags in planes (C) of one kind.

    Attributes
    ----------
    surroundings, opening, placement
        What is there, and what the light comes through; which kind of places is looked at.
    bundle
        The rays that must be stopped, at T moments.
    planes
        Where a flag may lie, C.
    low, high
        What a flag must span there at each moment, metres along its axes from the plane's origin,
        (T, C, 2) each; NaN where it cannot.
    """

    surroundings: Surroundings
    opening: Aperture
    placement: Placement
    bundle: Bundle
    planes: Planes
    low: Floats
    high: Floats

    @property
    def ground_m(self) -> float:
        """What a stand stands on, metres above ground."""
        outside = self.placement == "outside"
        return self.opening.ground_m if outside else self.surroundings.room.room.floor

    def positions(self, stocks: Sequence[Stock]) -> tuple[Position, ...] | None:
        """The places that a flag takes in turn, as few as can be; None where it cannot do it.

        `stocks` are its turns. More than `MOST_MOVES` are no plan.
        """
        positions: list[Position] = []
        start = 0
        while start < len(self.bundle.moments):
            longest = self._longest(stocks, start)
            if longest is None or len(positions) > MOST_MOVES:
                return None
            position, start = longest
            positions.append(position)
        return tuple(positions)

    def _longest(self, stocks: Sequence[Stock], start: int) -> tuple[Position, int] | None:
        """The position that holds longest from a moment on, and the moment it fails at."""
        # NaN spreads: a plane that fails at a moment fails from there on.
        low = np.minimum.accumulate(self.low[start:], axis=0)
        high = np.maximum.accumulate(self.high[start:], axis=0)
        candidates = sorted(
            self._candidates(stocks, high - low), key=lambda candidate: candidate.rank
        )
        candidates = candidates[:MOST_TRIES]
        if not candidates:
            return None
        last = np.array([candidate.moments - 1 for candidate in candidates])
        planes = np.array([candidate.plane for candidate in candidates])
        spans = low[last, planes], high[last, planes]
        in_frame = self._surely_in_frame(planes, *spans).tolist()
        best: tuple[Position, int] | None = None
        for candidate, shown, *span in zip(candidates, in_frame, *spans, strict=True):
            end = start + candidate.moments
            if best is not None and end < best[1]:
                break
            if best is not None and shown:
                continue  # no better than the best
            needed = self.planes.rectangle(candidate.plane, *span)
            position = self._hang(candidate.stock, needed, (start, end), in_frame=shown)
            if position is not None and (best is None or position.better_than(best[0])):
                best = position, end
            if position is not None and position.clear:
                break
        return best

    def _candidates(self, stocks: Sequence[Stock], extent: Floats) -> Iterator[_Candidate]:
        """Flags that hold for a while what they must span till a moment, (T, C, 2)."""
        for stock in stocks:
            holds = np.all(extent <= np.array(stock.size) - HAND_M, axis=-1)
            moments = np.where(holds.all(axis=0), len(holds), holds.argmin(axis=0))
            for plane in np.flatnonzero(moments):
                area = float(np.prod(extent[moments[plane] - 1, plane]))
                tilted = 0.01 < abs(float(self.planes.normal[plane, 2])) < 0.99
                yield _Candidate(int(moments[plane]), tilted, area, int(plane), stock)

    def _surely_in_frame(self, planes: Indices, low: Floats, high: Floats) -> Bools:
        """Whether whatever spans low to high corners (N, 2) of planes (N) is in frame, (N,).

        By spots of it; False proves nothing. Without this `flags` takes 10 % longer: 2.46 s instead
        of 2.23 s for a day of the lock-keeper's house, 1.76 s instead of 1.53 s of the gate house.
        """
        if self.placement == "outside":  # seen through windows only
            return np.zeros(len(planes), dtype=bool)
        share = np.linspace(0.02, 0.98, SPOTS)
        a, b = (axis.ravel()[:, None] for axis in np.meshgrid(share, share))
        chosen, span = self.planes[planes], high - low
        spots = (
            chosen.origin[:, None]
            + (low[:, None, :1] + a * span[:, None, :1]) * chosen.across[:, None]
            + (low[:, None, 1:] + b * span[:, None, 1:]) * chosen.up[:, None]
        )
        wall = own_wall(self.opening, self.placement)
        seen = self.surroundings.spots_in_frame(spots.reshape(-1, 3), wall)
        return np.asarray(seen.reshape(len(planes), -1).any(axis=1))

    def _hang(
        self, stock: Stock, needed: Screen, moments: tuple[int, int], *, in_frame: bool
    ) -> Position | None:
        """A flag over all that is needed, shifted within its spare size until it fits.

        `in_frame`: wherever it is shifted to, it is.
        """
        axes = needed.across, needed.up
        # However it is shifted, hands have their margin all round.
        off = SHIFTS * (np.array(stock.size) - HAND_M - needed.size) / 2
        centres = needed.centre + off[:, :1] * needed.across + off[:, 1:] * needed.up
        best: Position | None = None
        tried = 0
        # Those first that are surely out of frame, the least shifted of them.
        corners = Screen(np.zeros(3), *axes, stock.size).corners()
        missed = self.surroundings.setup.view.surely_misses(corners, centres)
        for which in np.argsort(~missed, kind="stable"):
            if best is not None and (in_frame or tried >= MOST_SHIFTS):
                break
            hung = Screen(centres[which], *axes, stock.size)
            pieces = stock.hung(hung.centre, *axes)
            if not self._can_hang(stock, hung, pieces):
                continue
            tried += 1
            position = self._position(hung, pieces, needed, moments, in_frame=in_frame)
            if best is None or position.better_than(best):
                best = position
            if position.clear:
                break
        return best

    def _can_hang(self, stock: Stock, hung: Screen, pieces: Sequence[Screen]) -> bool:
        """Whether a stand of the kit carries it, and there is room for all of it."""
        if self.placement != "over the opening":
            bottom, top = (hung.heights - self.ground_m).tolist()
            if (
                self.surroundings.kit.stand_for(
                    bottom, top, max(flag.weight for flag in stock.flags)
                )
                is None
            ):
                return False
        return all(
            self.surroundings.has_room_for(piece.corners(), self.opening, self.placement)
            for piece in pieces
        )

    def _position(
        self,
        hung: Screen,
        pieces: tuple[Screen, ...],
        needed: Screen,
        moments: tuple[int, int],
        *,
        in_frame: bool,
    ) -> Position:
        """What hangs there from one moment of the bundle till another; `in_frame`: it surely is."""
        first, last = moments
        edges, around = self.bundle.edges(), self.surroundings
        toward = self.bundle.headings[first:last].sum(axis=0)
        throw_m = float((hung.centre - around.middle) @ toward / np.linalg.norm(toward))
        return Position(
            start_s=float(edges[first]),
            end_s=float(edges[last]),
            hung=hung,
            pieces=pieces,
            needs_m=needed.size,
            needs_centre=needed.centre,
            clear_of_frame=not in_frame
            and not any(around.in_frame(piece, self.opening, self.placement) for piece in pieces),
            clear_of_key=not any(around.blocks_key(piece) for piece in pieces),
            edge_m=EDGE_SHARE * throw_m,
        )


def searches(
    surroundings: Surroundings, opening: Aperture, bundle: Bundle, covers: Covers
) -> Iterator[PlacementSearch]:
    """A search for each placement that an opening allows, for a bundle that is not empty."""
    for placement, planes in candidate_planes(bundle, opening, surroundings).items():
        on_wall = placement == "over the opening" and opening.wall is not None
        beyond = None if on_wall or placement == "outside" else surroundings.body()
        margin = margin_m(covers, placement)
        low, high = extents(bundle, planes, beyond=beyond, margin_m=margin)
        yield PlacementSearch(surroundings, opening, placement, bundle, planes, low, high)
