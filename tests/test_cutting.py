"""Layouts on the roll: published instances, all ways tried, and shapes that shapely lays over."""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Iterator, Sequence

import pytest
import shapely
from campaign import few_or_many
from hypothesis import given, settings
from hypothesis import strategies as st

from sunplan.errors import InputError
from sunplan.rig import nesting, strip_packing
from sunplan.rig.nesting import Layout, Piece, lay_out, panels
from sunplan.rig.strip_packing import Orientation, Packing, PlacedPiece

# Pieces are laid by whole micrometres; a few of them side by side may be off by as many.
OFF_M = 1e-5
NEAR = 0.05  # the share by which a layout may be longer than the best

# Hopper and Turton, European Journal of Operational Research 128 (2001), 34-57, classes C1 and C2,
# as carried by a packing library on PyPI. Each is a rectangle cut up, to be put together again with
# quarter turns allowed, so the best length is known: the areas add up to width times length.
PUBLISHED = {
    "C1 a": (20, 20, "2x12 7x12 8x6 3x6 3x5 5x5 3x12 3x7 5x7 2x6 3x2 4x2 3x4 4x4 9x2 11x2"),
    "C1 b": (20, 20, "4x1 4x5 9x4 3x5 3x9 1x4 5x3 4x1 5x5 7x2 9x3 3x13 2x8 15x4 5x4 10x6 7x2"),
    "C1 c": (20, 20, "4x14 5x2 2x2 9x7 5x5 2x5 7x7 3x5 6x5 3x2 6x2 4x6 6x3 10x3 6x3 10x3"),
    "C2 a": (
        40,
        15,
        "11x3 13x3 9x2 7x2 9x3 7x3 11x2 13x2 11x4 13x4 3x5 11x2 2x2 11x3 2x3 5x4 6x4 12x2 1x2 3x5 "
        "13x5 12x4 1x4 5x2 6x2",
    ),
    "C2 b": (
        40,
        15,
        "11x2 2x3 10x7 8x4 9x5 7x2 4x1 6x1 4x5 8x3 1x3 5x5 3x1 12x4 6x2 2x4 11x4 10x2 3x2 11x2 3x4 "
        "26x4 8x4 3x2 6x2",
    ),
    "C2 c": (
        40,
        15,
        "12x7 7x7 7x1 5x1 3x2 6x2 7x2 5x2 3x1 6x1 12x6 9x6 12x2 7x2 10x3 4x1 5x1 16x3 5x3 4x2 5x2 "
        "10x3 9x3 16x3 5x3",
    ),
}


def named(sizes: Sequence[tuple[float, float]]) -> list[Piece]:
    return [Piece(f"piece {k}", *size) for k, size in enumerate(sizes)]


def check(layout: Layout, pieces: Sequence[Piece], roll_length_m: float = math.inf) -> None:
    """Each piece lies once, on the roll, upon no other, and the figures follow from that."""
    assert Counter(one.piece for one in layout.laid) == Counter(pieces)
    order = [(one.roll, one.along_m, one.across_m) for one in layout.laid]
    assert order == sorted(order)
    boxes: list[list[shapely.Polygon]] = [[] for _ in layout.lengths_m]
    for one in layout.laid:
        across, along = one.piece.width_m, one.piece.height_m
        if one.turned:
            across, along = along, across
        x, y = one.across_m, one.along_m
        boxes[one.roll].append(shapely.box(x, y, x + across, y + along))
    area_m2 = 0.0
    for length, on_roll in zip(layout.lengths_m, boxes, strict=True):
        assert on_roll
        assert length <= roll_length_m + OFF_M
        roll = shapely.box(-OFF_M, -OFF_M, layout.roll_width_m + OFF_M, length + OFF_M)
        assert all(roll.contains(box) for box in on_roll)
        inner = [box.buffer(-OFF_M, join_style="mitre") for box in on_roll]
        apart_m2 = sum(box.area for box in inner)
        assert shapely.unary_union(inner).area == pytest.approx(apart_m2, rel=1e-9)
        assert max(box.bounds[3] for box in on_roll) == pytest.approx(length, abs=OFF_M)
        area_m2 += sum(box.area for box in on_roll)
    assert layout.used_m == pytest.approx(sum(layout.lengths_m), rel=1e-12)
    cut_m2 = layout.used_m * layout.roll_width_m
    assert layout.waste == pytest.approx(1 - area_m2 / cut_m2, abs=1e-6)
    assert 0 < layout.bound_m <= layout.used_m
    assert layout.gap == pytest.approx((layout.used_m - layout.bound_m) / layout.bound_m, abs=1e-12)


def shortest(sizes: Sequence[tuple[int, int]], width: int) -> int:
    """The least length for whole sizes on a roll of whole width: every cell filled or left empty.

    The first free cell, row by row, is some piece's lower left one or stays empty.
    """

    def fits(left: tuple[tuple[int, int], ...], rows: tuple[int, ...], spare: int) -> bool:
        if not left:
            return True
        cells = ((y, x) for y, row in enumerate(rows) for x in range(width) if not row >> x & 1)
        cell = next(cells, None)
        if cell is None:
            return False
        y, x = cell
        for k, size in enumerate(left):
            for across, along in {size, size[::-1]}:
                if x + across > width or y + along > len(rows):
                    continue
                bits = (1 << across) - 1 << x
                if any(row & bits for row in rows[y : y + along]):
                    continue
                laid = [row | bits if y <= j < y + along else row for j, row in enumerate(rows)]
                if fits(left[:k] + left[k + 1 :], tuple(laid), spare):
                    return True
        if not spare:
            return False
        holed = [row | 1 << x if j == y else row for j, row in enumerate(rows)]
        return fits(left, tuple(holed), spare - 1)

    area = sum(a * b for a, b in sizes)
    length = -(-area // width)
    while not fits(tuple(sizes), (0,) * length, width * length - area):
        length += 1
    return length


def tiny(seed: int) -> tuple[int, list[tuple[int, int]]]:
    """A roll's width and three to six pieces, in whole numbers."""
    rng = random.Random(seed)
    width = rng.randint(4, 7)
    sizes: list[tuple[int, int]] = []
    for _ in range(rng.randint(3, 6)):
        sizes.append((rng.randint(1, width), rng.randint(1, 6)))
    return width, sizes


def bound_m(pieces: Sequence[Piece], roll_width_m: float) -> float:
    """The bound before anything is laid, for pieces that need no panels."""
    ways = nesting.orientations(pieces, roll_width_m, None)
    width = strip_packing.attainable_width(ways, nesting.roll_um(roll_width_m))
    shares = strip_packing.least_shares(ways, width)
    return strip_packing.lower_bound(shares) / nesting.GRAIN


def windows(seed: int, count: int, roll_width_m: float) -> list[Piece]:
    """Openings of a house by the centimetre, none of which needs panels."""
    rng = random.Random(seed)
    sizes: list[tuple[float, float]] = []
    while len(sizes) < count:
        size = rng.randint(40, 180) / 100, rng.randint(40, 230) / 100
        if min(size) <= roll_width_m:
            sizes.append(size)
    return named(sizes)


@pytest.mark.parametrize("name", PUBLISHED)
def test_published_instances_are_solved(name: str) -> None:
    width, length, text = PUBLISHED[name]
    sizes = [tuple(map(int, one.split("x"))) for one in text.split()]
    assert sum(a * b for a, b in sizes) == width * length
    pieces = named([(a, b) for a, b in sizes])
    layout = lay_out(pieces, width)
    check(layout, pieces)
    assert layout.bound_m == length
    assert layout.used_m <= length * (1 + NEAR)


@pytest.mark.parametrize("seed", range(40))
def test_few_pieces_as_well_as_by_trying_every_cell(seed: int) -> None:
    width, sizes = tiny(seed)
    pieces = named([(a / 10, b / 10) for a, b in sizes])
    layout = lay_out(pieces, width / 10)
    check(layout, pieces)
    assert layout.used_m == pytest.approx(shortest(sizes, width) / 10, abs=1e-9)
    assert layout.gap == 0


@pytest.mark.parametrize(
    ("width", "sizes"),
    [
        *map(tiny, range(40, 80)),
        # Two ways to the same corners that differ in the length so far.
        (7, [(4, 3), (3, 4), (5, 3), (5, 3)]),
        (6, [(4, 5), (1, 6), (4, 5)]),
    ],
)
def test_exact_needs_no_good_start(
    width: int, sizes: list[tuple[int, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The search gives only a pile, one piece upon the other; the rest is done by trying all."""

    def pile(ways: Sequence[Orientation], *_: object) -> Packing:
        first = {way.piece: way for way in reversed(ways)}
        spots, top = [], 0
        for way in first.values():
            spots.append(PlacedPiece(way, 0, top, 0))
            top += way.along
        return Packing(1, top, tuple(spots))

    monkeypatch.setattr(strip_packing, "greedy", pile)
    pieces = named([(a / 10, b / 10) for a, b in sizes])
    layout = lay_out(pieces, width / 10)
    check(layout, pieces)
    assert layout.used_m == pytest.approx(shortest(sizes, width) / 10, abs=1e-9)
    assert layout.gap == 0


@pytest.mark.parametrize(
    ("width", "sizes"),
    [
        *map(tiny, range(80, 120)),
        # Two of a size, written both ways.
        (6, [(2, 5), (5, 3), (3, 5)]),
        (6, [(2, 5), (2, 5), (5, 3), (3, 5)]),
    ],
)
@pytest.mark.parametrize(
    "cuts", [0, strip_packing.MOST_CUTS]
)  # by area alone, by the linear program
def test_bound_is_none_too_long(
    width: int, sizes: list[tuple[int, int]], cuts: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(strip_packing, "MOST_CUTS", cuts)
    pieces = named([(a / 10, b / 10) for a, b in sizes])
    assert bound_m(pieces, width / 10) <= shortest(sizes, width) / 10 + 1e-9


def test_bound_knows_what_cannot_lie_side_by_side() -> None:
    """Three of 0.8 by 1 m go one after another, the short side along: 2.4 m; by area 1.75 m."""
    pieces = named([(0.8, 1.0), (1.0, 0.8), (0.8, 1.0)])
    assert bound_m(pieces, 1.37) == pytest.approx(2.4, abs=1e-9)


def test_bound_knows_the_longest_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    """By area 0.67 m: side by side the pieces are 0.6 m wide. The one of 1.5 m cannot be turned."""
    monkeypatch.setattr(strip_packing, "MOST_CUTS", 0)
    assert bound_m(named([(1.5, 0.1), (0.5, 0.5)]), 1.37) == pytest.approx(1.5, abs=1e-9)


def test_trying_all_is_broken_off(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(strip_packing, "EXACT_STATES", 3)
    pieces = windows(3, 8, 1.37)
    layout = lay_out(pieces, 1.37)
    check(layout, pieces)
    assert layout.gap > 0


@pytest.mark.parametrize("roll_width_m", [1.22, 1.37])
@pytest.mark.parametrize("count", [7, 10, 20, 30])
def test_windows_of_a_house_come_near_the_bound(count: int, roll_width_m: float) -> None:
    for seed in range(2):
        pieces = windows(seed, count, roll_width_m)
        layout = lay_out(pieces, roll_width_m)
        check(layout, pieces)
        assert layout.gap <= NEAR


def test_the_same_every_time() -> None:
    pieces = windows(5, 12, 1.37)
    assert lay_out(pieces, 1.37) == lay_out(pieces, 1.37)


def test_three_thirds_of_a_roll_fit_its_width() -> None:
    pieces = named([(1.37 / 3, 3.1)] * 3)
    layout = lay_out(pieces, 1.37)
    check(layout, pieces)
    assert (layout.lengths_m, layout.gap) == ((3.1,), 0.0)


def test_a_hair_less_than_a_micrometre_leaves_no_gap() -> None:
    pieces = named([(0.9, 0.4999999992)])
    layout = lay_out(pieces, 1.37)
    check(layout, pieces)
    assert layout.gap == 0


def test_a_piece_as_wide_as_the_roll_in_other_units() -> None:
    pieces = [Piece("gel", 4 * 0.3048, 2.0)]
    assert lay_out(pieces, 48 * 0.0254).used_m == 2.0


def test_turned_where_only_that_fits() -> None:
    layout = lay_out([Piece("door", 2.1, 0.9), Piece("sash", 0.9, 2.1)], 1.0)
    assert {one.piece.name: one.turned for one in layout.laid} == {"door": True, "sash": False}
    assert [one.size_m for one in layout.laid] == [(0.9, 2.1)] * 2
    assert layout.used_m == 4.2


def test_nothing_to_cut() -> None:
    layout = lay_out([], 1.37)
    assert (layout.laid, layout.used_m, layout.bound_m) == ((), 0, 0)
    assert (layout.waste, layout.gap) == (0, 0)


def test_several_rolls() -> None:
    """Two of 10 m just hold 5 + 3 + 2 and 4 + 3 + 3; longest first, 5 + 4 and 3 + 3 + 3 leave 2."""
    pieces = named([(1.3, length) for length in (5, 4, 3, 3, 3, 2)])
    layout = lay_out(pieces, 1.37, roll_length_m=10)
    check(layout, pieces, 10)
    assert layout.lengths_m == (10, 10)
    assert layout.gap == 0


def test_one_roll_is_found_where_the_search_needs_two(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two strips of 3 m beside three of 2 m just take 6 m; the search is told that it has 4 m."""
    pieces = named([(0.6, 3.0), (0.6, 3.0), (0.7, 2.0), (0.7, 2.0), (0.7, 2.0)])
    search = strip_packing.greedy

    def two_rolls(ways: Sequence[Orientation], width: int, length: float, _: int) -> Packing:
        assert length < math.inf
        return search(ways, width, length * 2 / 3, 10**9)

    monkeypatch.setattr(strip_packing, "greedy", two_rolls)
    layout = lay_out(pieces, 1.3, roll_length_m=6)
    check(layout, pieces, 6)
    assert layout.lengths_m == (6,)


def test_what_is_too_long_for_one_roll_stays_on_two() -> None:
    """On one strip 2 m beside 1.2 and 1.2 m: 2.4 m. The roll has 2.2 m."""
    pieces = named([(0.5, 2.0), (0.5, 1.2), (0.5, 1.2)])
    assert lay_out(pieces, 1.0).lengths_m == (2.4,)
    layout = lay_out(pieces, 1.0, roll_length_m=2.2)
    check(layout, pieces, 2.2)
    assert sorted(layout.lengths_m) == [1.2, 2.0]
    assert 2.2 < layout.bound_m <= 2.4


def test_no_single_roll_can_do_raises_the_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """By area three of 0.8 by 0.8 m take 1.48 m; a roll of 2 m holds two of them."""
    monkeypatch.setattr(strip_packing, "MOST_CUTS", 0)
    pieces = named([(0.8, 0.8)] * 3)
    layout = lay_out(pieces, 1.3, roll_length_m=2)
    check(layout, pieces, 2)
    assert layout.lengths_m == (1.6, 0.8)
    assert 2 < layout.bound_m <= 2.4


def test_a_longer_roll_changes_nothing() -> None:
    pieces = windows(2, 9, 1.37)
    assert lay_out(pieces, 1.37, roll_length_m=50) == lay_out(pieces, 1.37)


def splits(width_m: float, height_m: float, roll_m: float, overlap_m: float) -> Iterator[float]:
    """The lengths that the least number of upright, and of level, strips take off the roll."""
    for across, along in ((width_m, height_m), (height_m, width_m)):
        count = 1
        while count * roll_m - (count - 1) * overlap_m < across:
            count += 1
        yield count * along


@given(
    width_m=st.floats(1.5, 12),
    height_m=st.floats(1.5, 12),
    roll_m=st.floats(0.3, 1.5),
    share=st.floats(0, 0.5),
)
def test_panels_cover_the_opening(
    width_m: float, height_m: float, roll_m: float, share: float
) -> None:
    overlap_m = share * roll_m
    parts = panels(Piece("bay", width_m, height_m), roll_m, overlap_m=overlap_m)
    if len(parts) == 1:
        assert parts[0] == Piece("bay", width_m, height_m)
        assert min(width_m, height_m) <= roll_m + 1e-6
        return
    assert [one.name for one in parts] == [
        f"bay, part {k} of {len(parts)}" for k in range(1, len(parts) + 1)
    ]
    strip, along = parts[0].width_m, parts[0].height_m
    assert {(one.width_m, one.height_m) for one in parts} == {(strip, along)}
    upright = along == height_m
    if not upright:
        strip, along = along, strip
    across = width_m if upright else height_m
    assert along == (height_m if upright else width_m)
    assert strip <= roll_m + 1e-6
    # The first begins and the last ends with the opening; each lies over the one before.
    assert strip + (len(parts) - 1) * (strip - overlap_m) == pytest.approx(across, abs=1e-9)
    taken = len(parts) * along
    assert taken <= min(splits(width_m, height_m, roll_m, overlap_m)) + 1e-6


@pytest.mark.parametrize(
    ("size", "overlap_m", "roll_length_m", "parts"),
    [
        # Upright 2 × 1.9, level 2 × 2.4 m off the roll.
        ((2.4, 1.9), 0.05, None, [(1.225, 1.9)] * 2),
        ((1.9, 2.4), 0.05, None, [(1.9, 1.225)] * 2),
        # A longer overlap takes a third strip: 2.7 + 0.1 m would be two of 1.4 m.
        ((2.7, 1.9), 0.0, None, [(1.35, 1.9)] * 2),
        ((2.7, 1.9), 0.1, None, [(2.7, 1.0)] * 2),
        # Exactly two widths of the roll.
        ((2.74, 1.9), 0.0, None, [(1.37, 1.9)] * 2),
        # Level strips would take less, 3 × 7 m against 6 × 4 m, but the roll is too short.
        ((7.0, 4.0), 0.05, None, [(7.0, 4.1 / 3)] * 3),
        ((7.0, 4.0), 0.05, 5.0, [(7.25 / 6, 4.0)] * 6),
        # As long upright, but the strips would be wider: 3 × 1.033 by 2 m, 2 × 1.025 by 3 m.
        ((3.0, 2.0), 0.05, None, [(3.0, 1.025)] * 2),
        # It fits: nothing is split.
        ((9.0, 1.2), 0.05, None, [(9.0, 1.2)]),
    ],
)
def test_panels_by_hand(
    size: tuple[float, float],
    overlap_m: float,
    roll_length_m: float | None,
    parts: list[tuple[float, float]],
) -> None:
    found = panels(Piece("bay", *size), 1.37, overlap_m=overlap_m, roll_length_m=roll_length_m)
    sizes = [size for one in found for size in (one.width_m, one.height_m)]
    assert sizes == pytest.approx([size for one in parts for size in one], abs=1e-9)


def test_panels_are_laid_with_the_rest() -> None:
    bay, sash = Piece("bay", 2.4, 1.9), Piece("sash", 0.9, 1.2)
    layout = lay_out([bay, sash], 1.37, overlap_m=0.1)
    check(layout, [*panels(bay, 1.37, overlap_m=0.1), sash])


SIDE_M = st.one_of(
    st.integers(5, 250).map(lambda k: k / 100),
    st.integers(2, 98).map(lambda k: k * 0.0254),
    st.floats(0.05, 2.5),
)


@settings(max_examples=few_or_many(30, 60), deadline=None)
@given(
    sizes=st.lists(st.tuples(SIDE_M, SIDE_M), min_size=1, max_size=5),
    roll_width_m=st.floats(0.6, 2.0),
    roll_length_m=st.none() | st.floats(2.5, 6.0),
)
def test_whatever_is_needed_lies_on_rolls(
    sizes: list[tuple[float, float]], roll_width_m: float, roll_length_m: float | None
) -> None:
    pieces = named(sizes)
    layout = lay_out(pieces, roll_width_m, roll_length_m=roll_length_m)
    parts = [one for piece in pieces for one in panels(piece, roll_width_m)]
    check(layout, parts, math.inf if roll_length_m is None else roll_length_m)
    # One piece less cannot need more.
    assert lay_out(pieces[:-1], roll_width_m).bound_m <= layout.used_m + OFF_M


PANE = Piece("pane", 1.0, 2.0)


@pytest.mark.parametrize(
    ("piece", "roll", "message"),
    [
        (Piece("bay", 0, 1), {}, "bay, width 0 m: expected from 0.01 to 100 m"),
        (Piece("bay", 1, -2), {}, "bay, height -2 m: expected from 0.01 to 100 m"),
        (Piece("bay", math.nan, 1), {}, "bay, width nan m: expected from 0.01 to 100 m"),
        (Piece("bay", 1, math.inf), {}, "bay, height inf m: expected from 0.01 to 100 m"),
        (Piece("bay", 101, 1), {}, "bay, width 101 m: expected from 0.01 to 100 m"),
        (PANE, {"roll_width_m": 0}, "roll width 0 m: expected from 0.01 to 100 m"),
        (PANE, {"roll_width_m": math.nan}, "roll width nan m: expected from 0.01 to 100 m"),
        (PANE, {"roll_length_m": -1}, "roll length -1 m: expected from 0.01 to 100 m"),
        (PANE, {"roll_length_m": math.nan}, "roll length nan m: expected from 0.01 to 100 m"),
        (
            PANE,
            {"overlap_m": -0.1},
            "overlap -0.1 m: expected from 0 to half the roll's width, 0.685 m",
        ),
        (
            PANE,
            {"overlap_m": math.nan},
            "overlap nan m: expected from 0 to half the roll's width, 0.685 m",
        ),
        (
            PANE,
            {"overlap_m": 0.7},
            "overlap 0.7 m: expected from 0 to half the roll's width, 0.685 m",
        ),
        (
            Piece("bay", 1.2, 30),
            {"roll_length_m": 25},
            "bay, 1.2 × 30 m: is longer than the roll, 1.37 × 25 m; "
            "expected a longer roll, or the piece in parts",
        ),
        (
            Piece("bay", 30, 26),
            {"roll_length_m": 25},
            "bay, 30 × 26 m: is longer than the roll, 1.37 × 25 m; "
            "expected a longer roll, or the piece in parts",
        ),
    ],
)
def test_bad_input_is_one_message(piece: Piece, roll: dict[str, float], message: str) -> None:
    with pytest.raises(InputError) as told:
        lay_out([PANE, piece], **{"roll_width_m": 1.37, **roll})
    assert str(told.value) == message


def test_too_many_pieces() -> None:
    with pytest.raises(InputError) as told:
        lay_out([PANE] * 501, 1.37)
    assert str(told.value) == "501 pieces: expected at most 500 at a time"
