"""Cutting: how pieces of cloth or gel lie on rolls so that the least length comes off.

Pieces may be turned by a quarter. A layout is found by always filling the lowest gap with the piece
that fits it best; which of equals goes first is bettered by swaps, with a fixed seed. A bound that
no layout undercuts says how far off it can be at most; few pieces are tried exhaustively.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, islice
from typing import NamedTuple

from ..errors import InputError

OVERLAP_M = 0.05  # of panels side by side, for tape; common practice, no source
SIZES_M = (0.01, 100.0)  # of pieces and rolls; outside this it is a slip of the pen
MOST_PIECES = 500  # at a time; more take too long
GRAIN = 1e6  # lengths become whole micrometres: sums of sides are then exact
HAIR = 1e-3  # of a micrometre: what a float may be off a length written in decimals
TRUST = 1 - 1e-12  # a sum of floats is not over by more
ROUNDS, WORK = 4000, 4_800_000  # swaps tried: the most, and this by the square of the ways to lie
STALE_ROUNDS = 200  # without gain until another order is started from
MOST_CUTS = 3000  # across the roll, for the bound; above that, many small pieces, area says most
EXACT_PIECES = 9  # so many are tried exhaustively ...
EXACT_STATES = 30_000  # ... unless that takes more states than this, about half a second


@dataclass(frozen=True)
class Piece:
    """A piece that is needed, as it hangs."""

    name: str
    width_m: float
    height_m: float


@dataclass(frozen=True)
class Laid:
    """Where a piece lies on which roll (counted from 0): its lower left corner.

    Turned, its height lies across the roll.
    """

    piece: Piece
    across_m: float
    along_m: float
    turned: bool
    roll: int

    @property
    def size_m(self) -> tuple[float, float]:
        """Across and along the roll."""
        size = self.piece.width_m, self.piece.height_m
        return (size[1], size[0]) if self.turned else size


@dataclass(frozen=True)
class Layout:
    """All pieces laid, the length used of each roll, and a length that no layout undercuts."""

    roll_width_m: float
    laid: tuple[Laid, ...]
    lengths_m: tuple[float, ...]
    bound_m: float

    @property
    def used_m(self) -> float:
        """Length used of all rolls together."""
        return sum(self.lengths_m)

    @property
    def waste(self) -> float:
        """Share of the length used that ends up in no piece, 0 to 1."""
        area = sum(one.piece.width_m * one.piece.height_m for one in self.laid)
        return max(0.0, 1 - area / (self.used_m * self.roll_width_m)) if self.laid else 0.0

    @property
    def gap(self) -> float:
        """How much longer than the best layout this one can be at most, as a share of the best."""
        return self.used_m / self.bound_m - 1 if self.laid else 0.0


class _RollOrientation(NamedTuple):
    """One of the two ways a piece can lie; sizes in steps."""

    piece: int
    across: int
    along: int
    turned: bool


class _Spot(NamedTuple):
    """Where a piece lies, in steps."""

    way: _RollOrientation
    x: int
    y: int
    roll: int


_Stairs = tuple[tuple[int, int], ...]  # where each step begins across, and its height


class _Plan(NamedTuple):
    """A layout in steps; of two plans the lesser is the better: fewer rolls, less length."""

    rolls: int
    length: int
    spots: tuple[_Spot, ...]


def panels(
    piece: Piece,
    roll_width_m: float,
    *,
    overlap_m: float = OVERLAP_M,
    roll_length_m: float | None = None,
) -> tuple[Piece, ...]:
    """A piece in strips of equal width that lie along the roll and overlap; itself if it fits.

    All upright or all level, whichever takes less length off the roll.

    >>> for one in panels(Piece("bay", 2.4, 1.9), 1.37):
    ...     print(one.name, round(one.width_m, 3), one.height_m)
    bay, part 1 of 2 1.225 1.9
    bay, part 2 of 2 1.225 1.9
    """
    _check("roll width", roll_width_m)
    if roll_length_m is not None:
        _check("roll length", roll_length_m)
    _check(f"{piece.name}, width", piece.width_m)
    _check(f"{piece.name}, height", piece.height_m)
    if not 0 <= overlap_m <= roll_width_m / 2:
        raise InputError(
            f"overlap {overlap_m:g} m: expected from 0 to half the roll's width, "
            f"{roll_width_m / 2:g} m"
        )
    if _ways([piece], roll_width_m, roll_length_m):
        return (piece,)
    width, height = piece.width_m, piece.height_m
    found = []
    # What would fit a longer roll stays whole: strips across it would be many and short.
    if not _ways([piece], roll_width_m, None):
        for across, along, upright in ((width, height, True), (height, width, False)):
            count = math.ceil((across - overlap_m) / (roll_width_m - overlap_m) - 1e-9)
            strip = (across + (count - 1) * overlap_m) / count
            size = (strip, along) if upright else (along, strip)
            parts = [
                Piece(f"{piece.name}, part {k} of {count}", *size) for k in range(1, count + 1)
            ]
            if _ways(parts[:1], roll_width_m, roll_length_m):
                found.append((count * along, count * along * strip, parts))
    if not found:
        raise InputError(
            f"{piece.name}, {width:g} × {height:g} m: is longer than the roll, {roll_width_m:g} × "
            f"{roll_length_m:g} m; expected a longer roll, or the piece in parts"
        )
    return tuple(min(found, key=lambda one: one[:2])[2])


def lay_out(
    pieces: Sequence[Piece],
    roll_width_m: float,
    *,
    roll_length_m: float | None = None,
    overlap_m: float = OVERLAP_M,
) -> Layout:
    """Lay pieces on as few rolls as can be found, and on these so that the least comes off.

    >>> panes = [Piece("left", 0.9, 1.1), Piece("right", 0.9, 1.1), Piece("door", 2.2, 0.45)]
    >>> cut = lay_out(panes, 1.37)
    >>> cut.lengths_m, round(cut.waste, 3), cut.gap
    ((2.2,), 0.015, 0.0)
    >>> [one.piece.name for one in cut.laid if one.turned]
    ['door']
    """
    if not pieces:
        return Layout(roll_width_m, (), (), 0.0)
    parts = [
        part
        for piece in pieces
        for part in panels(piece, roll_width_m, overlap_m=overlap_m, roll_length_m=roll_length_m)
    ]
    if len(parts) > MOST_PIECES:
        raise InputError(f"{len(parts)} pieces: expected at most {MOST_PIECES} at a time")
    ways = _ways(parts, roll_width_m, roll_length_m)
    # Pushed down and left, pieces lie at sums of sides: whole steps of their common measure.
    step = math.gcd(*(side for way in ways for side in way[1:3]))
    ways = [
        _RollOrientation(one.piece, one.across // step, one.along // step, one.turned)
        for one in ways
    ]
    width = _reach(ways, _up(roll_width_m) // step)
    length = math.inf if roll_length_m is None else _up(roll_length_m) // step
    shares = _shares(ways, width)
    bound = _bound(shares)
    plan = _search(ways, width, length, bound)
    if len(parts) <= EXACT_PIECES and plan[:2] > (1, bound):
        limit = plan.length if plan.rolls == 1 else int(length) + 1
        better, complete = _least(shares, width, limit)
        plan = plan if better is None else better
        if complete:
            bound = max(bound, limit if better is None else better.length)
    laid = tuple(
        Laid(
            piece=parts[spot.way.piece],
            across_m=spot.x * step / GRAIN,
            along_m=spot.y * step / GRAIN,
            turned=spot.way.turned,
            roll=spot.roll,
        )
        for spot in sorted(plan.spots, key=lambda spot: (spot.roll, spot.y, spot.x))
    )
    lengths = [
        # Rounded to the nanometre: a sum of decimals comes out as written.
        round(max(one.along_m + one.size_m[1] for one in laid if one.roll == roll), 9)
        for roll in range(plan.rolls)
    ]
    bound_m = min(round(bound * step / GRAIN, 9), sum(lengths))
    return Layout(roll_width_m, laid, tuple(lengths), bound_m)


def _check(what: str, size_m: float) -> None:
    """Refuse a size that no piece or roll has; nan is none."""
    low, high = SIZES_M
    if not low <= size_m <= high:
        raise InputError(f"{what} {size_m:g} m: expected from {low:g} to {high:g} m")


def _down(size_m: float) -> int:
    """A piece's side in whole micrometres, rounded down: three thirds of a roll fit its width."""
    return math.floor(size_m * GRAIN + HAIR)


def _up(size_m: float) -> int:
    """A roll's side in whole micrometres, rounded up: the bound must hold for the roll itself."""
    return math.ceil(size_m * GRAIN - HAIR)


def _ways(
    pieces: Sequence[Piece], roll_width_m: float, roll_length_m: float | None
) -> list[_RollOrientation]:
    """How pieces can lie on a roll, in micrometres: upright, turned, both, or not at all."""
    width = _up(roll_width_m)
    length = math.inf if roll_length_m is None else _up(roll_length_m)
    ways = []
    for k, piece in enumerate(pieces):
        size = _down(piece.width_m), _down(piece.height_m)
        for turned, (across, along) in enumerate(dict.fromkeys((size, size[::-1]))):
            if across <= width and along <= length:
                ways.append(_RollOrientation(k, across, along, bool(turned)))
    return ways


def _bound(shares: dict[_RollOrientation, float]) -> int:
    """A length that no layout undercuts, in steps: all shares, or the longest piece."""
    by_piece = [tuple(some) for _, some in groupby(shares, key=lambda way: way.piece)]
    together = sum(min(shares[way] for way in some) for some in by_piece)
    longest = max(min(way.along for way in some) for some in by_piece)
    return max(math.ceil(together * TRUST), longest)


def _search(ways: Sequence[_RollOrientation], width: int, length: float, bound: int) -> _Plan:
    """The best plan of many orders, each made from another by a swap; stops at the bound."""
    rng = random.Random(0)
    starts = [
        sorted(ways, key=lambda one: (-one.across * one.along, -one.across)),
        sorted(ways, key=lambda one: (-one.along, -one.across)),
        sorted(ways, key=lambda one: (-one.across, -one.along)),
        sorted(ways, key=lambda one: (-one.across - one.along, -one.across)),
    ]
    tried = [(_fill(order, width, length), order) for order in starts]
    plan, order = min(tried, key=lambda one: one[0][:2])
    best, stale = plan, 0
    for _ in range(min(ROUNDS, WORK // len(ways) ** 2)):
        if best.length <= bound and best.rolls <= max(1, math.ceil(bound / length)):
            break
        if stale == STALE_ROUNDS:
            # Large ones first, but not strictly.
            loose = {one: one.across * one.along * rng.uniform(0.5, 1.5) for one in ways}
            order, stale = sorted(ways, key=lambda one: -loose[one]), 0
            plan = _fill(order, width, length)
        else:
            a, b = rng.randrange(len(ways)), rng.randrange(len(ways))
            other = order.copy()
            other[a], other[b] = order[b], order[a]
            new = _fill(other, width, length)
            stale = 0 if new[:2] < plan[:2] else stale + 1
            if new[:2] <= plan[:2]:
                plan, order = new, other
        best = min(best, plan, key=lambda one: one[:2])
    return best


def _fill(order: Sequence[_RollOrientation], width: int, length: float) -> _Plan:
    """Fill the lowest gap with what fits best; first in the order among equals.

    A piece fits better for filling the gap's width, and for ending level with what is beside it.
    """
    left = list(order)
    spots: list[_Spot] = []
    tops = [0]
    # The laid pieces' upper edge: start, height and width of each level stretch.
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
        at = x + gap - best.across if right else x
        spots.append(_Spot(best, at, y, len(tops) - 1))
        tops[-1] = max(tops[-1], top)
        rest = (x if right else x + best.across, y, gap - best.across)
        new = [rest, (at, top, best.across)] if right else [(at, top, best.across), rest]
        line[here : here + 1] = [one for one in new if one[2]]
        line = _joined(line)
        left = [way for way in left if way.piece != best.piece]
    return _Plan(len(tops), sum(tops), tuple(spots))


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


def _reach(ways: Sequence[_RollOrientation], width: int) -> int:
    """The width that pieces side by side can take up at most: no layout needs more of the roll."""
    sums = 1  # bit k: a row k wide can be made
    for _, some in groupby(ways, key=lambda way: way.piece):
        longer = sums
        for way in some:
            longer |= sums << way.across
        sums = longer & ((2 << width) - 1)
    return sums.bit_length() - 1


def _shares(ways: Sequence[_RollOrientation], width: int) -> dict[_RollOrientation, float]:
    """What each piece takes of any layout's length at least, by the way it lies; in steps.

    Give each width a weight such that no cut across the roll weighs more than 1; then a piece takes
    its weight times its length. Shares of the roll's width are such weights (by area); the best
    ones for all pieces together a linear program finds.
    """
    import numpy as np
    from scipy.optimize import linprog

    by_piece = [tuple(some) for _, some in groupby(ways, key=lambda way: way.piece)]
    # Pieces of one size are one kind; a row is a kind and a way it lies.
    kinds = Counter(tuple(sorted(way[1:3] for way in some)) for some in by_piece)
    rows = [(k, *size) for k, kind in enumerate(kinds) for size in kind]
    counts = list(kinds.values())
    cuts = list(islice(_cuts(rows, counts, width), MOST_CUTS + 1))
    if len(cuts) > MOST_CUTS:
        return {way: way.across * way.along / width for way in ways}
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
    return {way: share[way[1:3]] for way in ways}


def _cuts(
    rows: Sequence[tuple[int, int, int]], counts: Sequence[int], width: int
) -> Iterator[list[int]]:
    """What can lie side by side, as row numbers; all that nothing can be added to, and more."""
    used = [0] * len(counts)

    def extend(first: int, room: int, cut: list[int]) -> Iterator[list[int]]:
        full = True
        for k in range(first, len(rows)):
            kind, across, _ = rows[k]
            if across <= room and used[kind] < counts[kind]:
                full = False
                used[kind] += 1
                yield from extend(k, room - across, [*cut, k])
                used[kind] -= 1
        if full:
            yield cut

    return extend(0, width, [])


def _least(
    shares: dict[_RollOrientation, float], width: int, limit: int
) -> tuple[_Plan | None, bool]:
    """The shortest plan on one roll below a limit, by trying all; False if that was broken off.

    Below and left of every laid piece's upper right corner all counts as taken; the edge of that
    runs down in stairs. Any layout comes about by always laying the next piece into a corner of the
    stairs, in some order (Operations Research 48 (2000), 256-267, from memory).
    """
    by_piece = [tuple(some) for _, some in groupby(shares, key=lambda way: way.piece)]
    count = len(by_piece)
    lightest = [min(shares[way] for way in some) for some in by_piece]
    area = [some[0].across * some[0].along for some in by_piece]
    # By mirroring, the largest piece lies in the lower left half both ways.
    large = max(range(count), key=lambda k: area[k])
    # Of like pieces, the largest apart, the first named goes first.
    size = [sorted(way[1:3] for way in some) for some in by_piece]
    size[large] = []
    like = [next((j for j in reversed(range(k)) if size[j] == size[k]), None) for k in range(count)]
    seen: set[tuple[int, int, _Stairs]] = set()
    best: _Plan | None = None

    def lay(todo: int, stairs: _Stairs, spots: tuple[_Spot, ...]) -> bool:
        """Lay what is to do (a bit for each piece) upon the stairs; False if broken off."""
        nonlocal best, limit
        if stairs[0][1] >= limit:  # a shorter plan was found meanwhile
            return True
        if not todo:
            limit = stairs[0][1]
            best = _Plan(1, limit, spots)
            return True
        left = [way for way in shares if todo >> way.piece & 1]
        narrowest = min(way.across for way in left)
        shortest = min(way.along for way in left)
        ends = [x for x, _ in stairs[1:]] + [width]
        # Lost is all that nothing can lie in any more: the whole length left of the first corner
        # with room, and right of the last one what is below that.
        corners, lost, floor = [], 0, limit - 1
        for (x, y), end in zip(stairs, ends, strict=True):
            if width - x >= narrowest and limit - y > shortest:
                corners.append((x, y))
                floor = y
            lost += (end - x) * floor
        # With these alike, all that can follow is alike.
        state = todo, stairs[0][1], tuple(corners)
        if state in seen:
            return True
        seen.add(state)
        if len(seen) > EXACT_STATES:
            return False
        if lost + sum(area[k] for k in range(count) if todo >> k & 1) > width * (limit - 1):
            return True
        # What is above the lowest corner must hold the shares of all that comes and sticks out.
        above = sum(lightest[k] for k in range(count) if todo >> k & 1)
        for way, _, y, _ in spots:
            above += shares[way] * min(1.0, max(0.0, (y + way.along - floor) / way.along))
        if above * TRUST > limit - 1 - floor:
            return True
        for way in left:
            first = like[way.piece]
            if first is not None and todo >> first & 1:
                continue
            for x, y in corners:
                right, top = x + way.across, y + way.along
                if right > width or top >= limit:
                    continue
                if way.piece == large and (x + right > width or y + top >= limit):
                    continue
                higher = [one for one in stairs if one[1] > top]
                lower = [
                    (max(one[0], right), one[1])
                    for one, end in zip(stairs, ends, strict=True)
                    if end > right and one[1] < top
                ]
                new = (*higher, (stairs[len(higher)][0], top), *lower)
                if not lay(todo & ~(1 << way.piece), new, (*spots, _Spot(way, x, y, 0))):
                    return False
        return True

    complete = lay((1 << count) - 1, ((0, 0),), ())
    return best, complete
