"""Nesting: how pieces of cloth or gel lie on rolls so that the least length comes off.

Pieces may be turned by a quarter. What is wider than the roll is cut in panels. In whole steps,
which all sums of sides are made of, `strip_packing` does the rest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import InputError
from .strip_packing import Orientation, attainable_width, pack

OVERLAP_M = 0.05  # of panels side by side, for tape; common practice, no source
SIZES_M = (0.01, 100.0)  # of pieces and rolls; outside this it is a slip of the pen
MOST_PIECES = 500  # at a time; more take too long
GRAIN = 1e6  # lengths become whole micrometres: sums of sides are then exact
HAIR = 1e-3  # of a micrometre: what a float may be off a length written in decimals


@dataclass(frozen=True)
class Piece:
    """A piece that is needed, as it hangs; `room` is where, if it is for one."""

    name: str
    width_m: float
    height_m: float
    room: str = ""


@dataclass(frozen=True)
class CutPiece:
    """Where a piece lies.

    Attributes
    ----------
    piece
        As it hangs.
    across_m, along_m
        Its lower left corner on the roll, metres from the roll's side and start.
    turned
        Whether its height lies across the roll.
    roll
        Which roll, counted from 0.
    """

    piece: Piece
    across_m: float
    along_m: float
    turned: bool
    roll: int

    @property
    def size_m(self) -> tuple[float, float]:
        """Its sides across and along the roll, metres."""
        size = self.piece.width_m, self.piece.height_m
        return (size[1], size[0]) if self.turned else size


@dataclass(frozen=True)
class Layout:
    """All pieces laid on rolls of one width.

    Attributes
    ----------
    roll_width_m, laid
        The rolls' width, and where each piece or panel lies.
    lengths_m
        What is used of each roll, metres.
    bound_m
        What no layout undercuts, of all rolls together.
    """

    roll_width_m: float
    laid: tuple[CutPiece, ...]
    lengths_m: tuple[float, ...]
    bound_m: float

    @property
    def used_m(self) -> float:
        """Length used of all rolls together, metres."""
        return sum(self.lengths_m)

    @property
    def waste(self) -> float:
        """Share of the length used that ends up in no piece, 0 to 1."""
        area = sum(math.prod(cut_piece.size_m) for cut_piece in self.laid)
        return max(0.0, 1 - area / (self.used_m * self.roll_width_m)) if self.laid else 0.0

    @property
    def gap(self) -> float:
        """How much longer than the best layout this one can be at most, as a share of the best."""
        return self.used_m / self.bound_m - 1 if self.laid else 0.0


def panels(
    piece: Piece,
    roll_width_m: float,
    *,
    overlap_m: float = OVERLAP_M,
    roll_length_m: float | None = None,
) -> tuple[Piece, ...]:
    """A piece in strips of equal width that lie along the roll and overlap; itself if it fits.

    All upright or all level, whichever takes less length off the roll.

    Parameters
    ----------
    piece
        As it hangs.
    roll_width_m, roll_length_m
        Of the roll, metres; without a length it is as long as it takes.
    overlap_m
        Of strips side by side, metres.

    Raises
    ------
    InputError
        For a size below 1 cm or above 100 m, an overlap of more than half the roll's width, and a
        piece that is longer than the roll both ways.

    Examples
    --------
    >>> for strip in panels(Piece("bay", 2.4, 1.9), 1.37):
    ...     print(strip.name, round(strip.width_m, 3), strip.height_m)
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
    if orientations([piece], roll_width_m, roll_length_m):
        return (piece,)
    width, height = piece.width_m, piece.height_m
    in_strips = []
    # What would fit a longer roll stays whole: strips across it would be many and short.
    if not orientations([piece], roll_width_m, None):
        for across, along, upright in ((width, height, True), (height, width, False)):
            count = math.ceil((across - overlap_m) / (roll_width_m - overlap_m) - 1e-9)
            strip = (across + (count - 1) * overlap_m) / count
            size = (strip, along) if upright else (along, strip)
            parts = [
                Piece(f"{piece.name}, part {k} of {count}", *size) for k in range(1, count + 1)
            ]
            if orientations(parts[:1], roll_width_m, roll_length_m):
                in_strips.append((count * along, count * along * strip, parts))
    if not in_strips:
        raise InputError(
            f"{piece.name}, {width:g} × {height:g} m: is longer than the roll, {roll_width_m:g} × "
            f"{roll_length_m:g} m; expected a longer roll, or the piece in parts"
        )
    return tuple(min(in_strips, key=lambda strips: strips[:2])[2])


def lay_out(
    pieces: Sequence[Piece],
    roll_width_m: float,
    *,
    roll_length_m: float | None = None,
    overlap_m: float = OVERLAP_M,
) -> Layout:
    """Lay pieces on as few rolls as can be found, and on these so that the least comes off.

    Parameters
    ----------
    pieces
        At most 500; what is wider than the roll is cut in `panels`.
    roll_width_m, roll_length_m, overlap_m
        Of a roll, which without a length is as long as it takes; of panels side by side.

    Raises
    ------
    InputError
        As `panels`, and for more pieces.

    Examples
    --------
    >>> panes = [Piece("left", 0.9, 1.1), Piece("right", 0.9, 1.1), Piece("door", 2.2, 0.45)]
    >>> cut = lay_out(panes, 1.37)
    >>> cut.lengths_m, round(cut.waste, 3), cut.gap
    ((2.2,), 0.015, 0.0)
    >>> [placed.piece.name for placed in cut.laid if placed.turned]
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
    ways = orientations(parts, roll_width_m, roll_length_m)
    # Pushed down and left, pieces lie at sums of sides: whole steps of their common measure.
    step = math.gcd(*(side for way in ways for side in way[1:3]))
    ways = [Orientation(k, across // step, along // step, turn) for k, across, along, turn in ways]
    width = attainable_width(ways, roll_um(roll_width_m) // step)
    length = math.inf if roll_length_m is None else roll_um(roll_length_m) // step
    packing, bound = pack(ways, width, length)
    laid = tuple(
        CutPiece(
            piece=parts[placed.orientation.piece],
            across_m=placed.x * step / GRAIN,
            along_m=placed.y * step / GRAIN,
            turned=placed.orientation.turned,
            roll=placed.roll,
        )
        for placed in sorted(packing.placed, key=lambda placed: (placed.roll, placed.y, placed.x))
    )
    # Rounded to the nanometre: a sum of decimals comes out as written.
    ends = [(cut.roll, round(cut.along_m + cut.size_m[1], 9)) for cut in laid]
    lengths = [max(end for on, end in ends if on == roll) for roll in range(packing.rolls)]
    bound_m = min(round(bound * step / GRAIN, 9), sum(lengths))
    return Layout(roll_width_m, laid, tuple(lengths), bound_m)


def _check(side: str, size_m: float) -> None:
    """Refuse a size that no piece or roll has; nan is none."""
    low, high = SIZES_M
    if not low <= size_m <= high:
        raise InputError(f"{side} {size_m:g} m: expected from {low:g} to {high:g} m")


def roll_um(size_m: float) -> int:
    """A roll's side in whole micrometres, rounded up: the bound must hold for the roll itself."""
    return math.ceil(size_m * GRAIN - HAIR)


def orientations(
    pieces: Sequence[Piece], roll_width_m: float, roll_length_m: float | None
) -> list[Orientation]:
    """How pieces can lie on a roll, in micrometres: upright, turned, both, or not at all.

    Sides are rounded down: three thirds of a roll fit its width.

    >>> orientations([Piece("pane", 0.9, 1.5)], 1.37, None)
    [Orientation(piece=0, across=900000, along=1500000, turned=False)]
    """
    width = roll_um(roll_width_m)
    length = math.inf if roll_length_m is None else roll_um(roll_length_m)
    ways = []
    for k, piece in enumerate(pieces):
        size = math.floor(piece.width_m * GRAIN + HAIR), math.floor(piece.height_m * GRAIN + HAIR)
        for turned, (across, along) in enumerate(dict.fromkeys((size, size[::-1]))):
            if across <= width and along <= length:
                ways.append(Orientation(k, across, along, bool(turned)))
    return ways
