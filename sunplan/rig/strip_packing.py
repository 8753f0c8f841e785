"""Strip packing: rectangles on as few rolls of one width, and on these so that the least is used.

All lengths are whole steps; x runs across the roll, y along it. A layout is found by always filling
the lowest gap with the piece that fits it best; which of equals goes first is bettered by swaps,
with a fixed seed. A bound that no layout undercuts says how far off it can be at most; few pieces
are tried exhaustively.

References
----------
.. [1] Martello, S., Pisinger, D., Vigo, D., The three-dimensional bin packing problem, Operations
   Research 48(2), 2000, 256-267; from memory.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, islice
from typing import NamedTuple

TRUST = 1 - 1e-12  # a sum of floats is not over by more
ROUNDS, WORK = 4000, 4_800_000  # swaps tried: the most, and this by the square of the orientations
STALE_ROUNDS = 200  # without gain until another order is started from
MOST_CUTS = 3000  # across the roll, for the bound; above that, many small pieces, area says most
EXACT_PIECES = 9  # so many are tried exhaustively ...
EXACT_STATES = 30_000  # ... unless that takes more states than this, about half a second


class Orientation(NamedTuple):
    """One of the two ways a piece can lie: its number, its sides across and along the roll."""

    piece: int
    across: int
    along: int
    turned: bool


class PlacedPiece(NamedTuple):
    """Where a piece lies: its lower left corner, on which roll."""

    orientation: Orientation
    x: int
    y: int
    roll: int


class Packing(NamedTuple):
    """All pieces on rolls; of two packings the lesser is the better: fewer rolls, less length."""

    rolls: int
    length: int
    placed: tuple[PlacedPiece, ...]


Shares = dict[Orientation, float]
Stairs = tuple[tuple[int, int], ...]  # where each step begins across, and its height


def pack(orientations: Sequence[Orientation], width: int, length: float) -> tuple[Packing, int]:
    """The best packing that is found, and a length that none undercuts.

    Parameters
    ----------
    orientations
        How each piece may lie, those of a piece one after another, pieces numbered from 0.
    width, length
        Of a roll; the length may be infinite.

    Examples
    --------
    >>> strips = [Orientation(0, 3, 4, False), Orientation(1, 2, 4, False)]
    >>> pack(strips, 5, math.inf)[0].length, pack(strips, 4, math.inf)[0].length
    (4, 8)
    """
    shares = least_shares(orientations, width)
    bound = lower_bound(shares)
    best = greedy(orientations, width, length, bound)
    if orientations[-1].piece < EXACT_PIECES and best[:2] > (1, bound):
        limit = best.length if best.rolls == 1 else int(length) + 1
        exact = _Exhaustive(shares, width, limit)
        complete = exact.complete()
        best = best if exact.best is None else exact.best
        if complete:
            bound = max(bound, exact.limit)
    return best, bound


def _by_piece(orientations: Iterable[Orientation]) -> list[tuple[Orientation, ...]]:
    return [tuple(ways) for _, ways in groupby(orientations, key=lambda way: way.piece)]


def attainable_width(orientations: Sequence[Orientation], width: int) -> int:
    """The width that pieces side by side can take up at most: no packing needs more of the roll.

    >>> strips = [Orientation(0, 3, 4, False), Orientation(1, 4, 4, False)]
    >>> attainable_width(strips, 6), attainable_width(strips, 7)
    (4, 7)
    """
    sums = 1  # bit k: a row k wide can be made
    for ways in _by_piece(orientations):
        longer = sums
        for way in ways:
            longer |= sums << way.across
        sums = longer & ((2 << width) - 1)
    return sums.bit_length() - 1


def lower_bound(shares: Shares) -> int:
    """A length that no packing undercuts: all shares together, or the longest piece.

    `shares` are those of `least_shares`.
    """
    pieces = _by_piece(shares)
    together = sum(min(shares[way] for way in ways) for ways in pieces)
    longest = max(min(way.along for way in ways) for ways in pieces)
    return max(math.ceil(together * TRUST), longest)


def least_shares(orientations: Sequence[Orientation], width: int) -> Shares:
    """What each piece takes of any packing's length at least, by the way it lies.

    Give each width a weight such that no cut across the roll weighs more than 1; then a piece takes
    its weight times its length. Shares of the roll's width are such weights (by area); the best
    ones for all pieces together a linear program finds.

    Parameters
    ----------
    orientations, width
        As `pack` takes them.

    Returns
    -------
    A length by each orientation.
    """
    import numpy as np
    from scipy.optimize import linprog

    # Pieces of one size are one kind; a row is a kind and a way it lies.
    kinds = Counter(tuple(sorted(way[1:3] for way in ways)) for ways in _by_piece(orientations))
    rows = [(k, *size) for k, kind in enumerate(kinds) for size in kind]
    counts = tuple(kinds.values())
    cuts = list(islice(_cuts(rows, counts, width), MOST_CUTS + 1))
    if len(cuts) > MOST_CUTS:
        return {way: way.across * way.along / width for way in orientations}
    weighed = np.zeros((len(cuts), len(rows)))
    for line, cut in enumerate(cuts):
        np.add.at(weighed[line], cut, 1.0)
    along = np.array([float(row[2]) for row in rows])
    scale = along.max()
    # Unknown are the rows' weights, and what each kind takes: at most its lighter way.
    takes = np.array([[float(k == row[0]) for k in range(len(kinds))] for row in rows])
    solved = linprog(
        np.concatenate((np.zeros(len(rows)), -np.array(counts, dtype=float))),
        A_ub=np.block(
            [[weighed, np.zeros((len(cuts), len(kinds)))], [-np.diag(along / scale), takes]]
        ),
        b_ub=np.concatenate((np.ones(len(cuts)), np.zeros(len(rows)))),
    )
    # Made to keep to every cut, so that the bound needs no trust in the solver.
    weights = np.maximum(solved.x[: len(rows)], 0.0)
    weights /= (weighed @ weights).max()
    share = dict(zip([row[1:] for row in rows], (weights * along).tolist(), strict=True))
    return {way: share[way[1:3]] for way in orientations}


def _cuts(
    rows: Sequence[tuple[int, int, int]], counts: tuple[int, ...], width: int, first: int = 0
) -> Iterator[list[int]]:
    """What can lie side by side, as row numbers; all that nothing can be added to, and more.

    From row `first` on, with so many of each kind.
    """
    full = True
    for row in range(first, len(rows)):
        kind, across, _ = rows[row]
        if across <= width and counts[kind]:
            full = False
            left = (*counts[:kind], counts[kind] - 1, *counts[kind + 1 :])
            for cut in _cuts(rows, left, width - across, row):
                yield [row, *cut]
    if full:
        yield []


def greedy(orientations: Sequence[Orientation], width: int, length: float, bound: int) -> Packing:
    """The best packing of many orders, each made from another by a swap.

    Parameters
    ----------
    orientations, width, length
        As `pack` takes them.
    bound
        A length that no packing undercuts: one that has it is not bettered.
    """
    rng = random.Random(0)
    starts = [
        sorted(orientations, key=lambda way: (-way.across * way.along, -way.across)),
        sorted(orientations, key=lambda way: (-way.along, -way.across)),
        sorted(orientations, key=lambda way: (-way.across, -way.along)),
        sorted(orientations, key=lambda way: (-way.across - way.along, -way.across)),
    ]
    tried = [(_fill(order, width, length), order) for order in starts]
    packing, order = min(tried, key=lambda filled: filled[0][:2])
    best, stale = packing, 0
    for _ in range(min(ROUNDS, WORK // len(orientations) ** 2)):
        if best.length <= bound and best.rolls <= max(1, math.ceil(bound / length)):
            break
        if stale == STALE_ROUNDS:
            # Large ones first, but not strictly.
            loose = {way: way.across * way.along * rng.uniform(0.5, 1.5) for way in orientations}
            order, stale = sorted(orientations, key=lambda way: -loose[way]), 0
            packing = _fill(order, width, length)
        else:
            a, b = rng.randrange(len(orientations)), rng.randrange(len(orientations))
            other = order.copy()
            other[a], other[b] = order[b], order[a]
            new = _fill(other, width, length)
            stale = 0 if new[:2] < packing[:2] else stale + 1
            if new[:2] <= packing[:2]:
                packing, order = new, other
        best = min(best, packing, key=lambda candidate: candidate[:2])
    return best


def _fill(order: Sequence[Orientation], width: int, length: float) -> Packing:
    """Fill the lowest gap with what fits best; first in the order among equals.

    A piece fits better for filling the gap's width, and for ending level with what is beside it.
    """
    left = list(order)
    placed: list[PlacedPiece] = []
    tops = [0]
    # The placed pieces' upper edge: start, height and width of each level stretch.
    line = [(0, 0, width)]
    while left:
        here = min(range(len(line)), key=lambda k: line[k][1])
        x, y, gap = line[here]
        before = line[here - 1][1] if here else math.inf
        after = line[here + 1][1] if here + 1 < len(line) else math.inf
        best, fit = None, -1
        for way in left:
            _, across, along, _ = way
            if across <= gap and y + along <= length:
                flush = y + along in (before, after)
                rank = 2 * (across == gap) + flush
                if rank > fit:
                    best, fit = way, rank
        if best is None:
            if len(line) == 1:
                line = [(0, 0, width)]
                tops.append(0)
            else:
                line[here] = (x, int(min(before, after)), gap)
                line = _joined(line)
            continue
        top = y + best.along
        # Against the side it ends level with, else the higher one.
        right = top == after or (top != before and after > before)
        start = x + gap - best.across if right else x
        placed.append(PlacedPiece(best, start, y, len(tops) - 1))
        tops[-1] = max(tops[-1], top)
        rest = (x if right else x + best.across, y, gap - best.across)
        new = [rest, (start, top, best.across)] if right else [(start, top, best.across), rest]
        line[here : here + 1] = [stretch for stretch in new if stretch[2]]
        line = _joined(line)
        left = [way for way in left if way.piece != best.piece]
    return Packing(len(tops), sum(tops), tuple(placed))


def _joined(line: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
    """An edge with neighbours of one height made one stretch."""
    joined = line[:1]
    for x, y, gap in line[1:]:
        last_x, last_y, last_gap = joined[-1]
        if y == last_y:
            joined[-1] = (last_x, y, last_gap + gap)
        else:
            joined.append((x, y, gap))
    return joined


class _Exhaustive:
    """The shortest packing on one roll below a limit, by trying all.

    Below and left of every placed piece's upper right corner all counts as taken; the edge of that
    runs down in stairs. Any packing comes about by always putting the next piece into a corner of
    the stairs, in some order [1]. `limit` falls to the length of the `best` as it is found.
    """

    def __init__(self, shares: Shares, width: int, limit: int) -> None:
        pieces = _by_piece(shares)
        self.shares, self.width, self.limit = shares, width, limit
        self.best: Packing | None = None
        self._seen: set[tuple[frozenset[int], int, Stairs]] = set()
        self._lightest = [min(shares[way] for way in ways) for ways in pieces]
        self._area = [ways[0].across * ways[0].along for ways in pieces]
        # By mirroring, the largest piece lies in the lower left half both ways.
        self._largest = self._area.index(max(self._area))
        # Of like pieces, the largest apart, the first named goes first.
        size = [sorted(way[1:3] for way in ways) for ways in pieces]
        size[self._largest] = []
        self._before = [
            next((j for j in reversed(range(k)) if size[j] == size[k]), None)
            for k in range(len(pieces))
        ]

    def complete(self) -> bool:
        """Try all; False if that was broken off."""
        return self._lay(frozenset(range(len(self._area))), ((0, 0),), ())

    def _lay(self, todo: frozenset[int], stairs: Stairs, placed: tuple[PlacedPiece, ...]) -> bool:
        """Put the pieces to do upon the stairs; False if broken off."""
        if stairs[0][1] >= self.limit:  # a shorter packing was found meanwhile
            return True
        if not todo:
            self.limit = stairs[0][1]
            self.best = Packing(1, self.limit, placed)
            return True
        left = [way for way in self.shares if way.piece in todo]
        corners, lost, floor = self._corners(left, stairs)
        # With these alike, all that can follow is alike.
        state = todo, stairs[0][1], tuple(corners)
        if state in self._seen:
            return True
        self._seen.add(state)
        if len(self._seen) > EXACT_STATES:
            return False
        if self._too_long(todo, placed, lost, floor):
            return True
        return all(
            self._lay(todo - {way.piece}, self._risen(stairs, way, x, y), (*placed, put))
            for way in left
            if self._before[way.piece] not in todo
            for x, y in corners
            if self._fits(put := PlacedPiece(way, x, y, 0))
        )

    def _ends(self, stairs: Stairs) -> list[int]:
        return [x for x, _ in stairs[1:]] + [self.width]

    def _corners(
        self, left: Sequence[Orientation], stairs: Stairs
    ) -> tuple[list[tuple[int, int]], int, int]:
        """Corners with room for a piece that is left, area that is lost, height of the lowest.

        Lost is all that nothing can lie in any more: the whole length left of the first corner with
        room, and right of the last one what is below that.
        """
        narrowest = min(way.across for way in left)
        shortest = min(way.along for way in left)
        corners, lost, floor = [], 0, self.limit - 1
        for (x, y), end in zip(stairs, self._ends(stairs), strict=True):
            if self.width - x >= narrowest and self.limit - y > shortest:
                corners.append((x, y))
                floor = y
            lost += (end - x) * floor
        return corners, lost, floor

    def _too_long(
        self, todo: frozenset[int], placed: Sequence[PlacedPiece], lost: int, floor: int
    ) -> bool:
        """Whether what is to do surely leads to no shorter packing: by area, or by shares."""
        if lost + sum(self._area[k] for k in todo) > self.width * (self.limit - 1):
            return True
        # What is above the lowest corner must hold the shares of all that comes and sticks out.
        above = sum(self._lightest[k] for k in sorted(todo))
        for way, _, y, _ in placed:
            above += self.shares[way] * min(1.0, max(0.0, (y + way.along - floor) / way.along))
        return above * TRUST > self.limit - 1 - floor

    def _fits(self, put: PlacedPiece) -> bool:
        """Whether a piece stays on the roll, below the limit; the largest in its quarter."""
        (piece, across, along, _), x, y, _ = put
        if x + across > self.width or y + along >= self.limit:
            return False
        return piece != self._largest or (
            2 * x + across <= self.width and 2 * y + along < self.limit
        )

    def _risen(self, stairs: Stairs, way: Orientation, x: int, y: int) -> Stairs:
        """The stairs with a piece in one of their corners."""
        right, top = x + way.across, y + way.along
        higher = [step for step in stairs if step[1] > top]
        lower = [
            (max(step[0], right), step[1])
            for step, end in zip(stairs, self._ends(stairs), strict=True)
            if end > right and step[1] < top
        ]
        return (*higher, (stairs[len(higher)][0], top), *lower)
