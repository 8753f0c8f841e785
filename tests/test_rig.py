"""Wind, load, cases, minutes and hazards against handbook figures and plain counting."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sunplan.location.kit import Case, Owned
from sunplan.location.model import Circuit
from sunplan.rig.cases import CARRY_KG, FILL, stow
from sunplan.rig.electrical_load import Burning, OnCircuit, share_out
from sunplan.rig.flag_search import EDGE_SHARE
from sunplan.rig.wind import MPH_M_S, force_n


@pytest.mark.parametrize(
    ("area_m2", "newtons"),
    [
        (1.486, (22, 49, 88, 137)),
        (3.345, (49, 111, 197, 308)),
        (5.946, (88, 197, 350, 547)),
        (13.378, (197, 443, 788, 1231)),
    ],
    ids=["4x4", "6x6", "8x8", "12x12"],
)
def test_wind(area_m2: float, newtons: tuple[int, ...]) -> None:
    """Drag formula with the coefficient 1.2 of a flat plate square to the wind (fluid-dynamics
    handbooks), worked for 10, 15, 20 and 25 mph on frames of nominal size; to 2 %."""
    for mph, force in zip((10, 15, 20, 25), newtons, strict=True):
        assert force_n(area_m2, mph * MPH_M_S) == pytest.approx(force, rel=0.02)


def test_shadow_edge() -> None:
    """9.3 mm a metre: the sun's published mean diameter of 0.533 degrees."""
    assert pytest.approx(9.30, abs=0.02) == 1000.0 * EDGE_SHARE


@pytest.mark.parametrize(
    ("amps", "volts", "watts"), [(15, 120, 1440), (20, 120, 1920), (16, 230, 2944)]
)
def test_four_fifths_of_a_fuse(amps: float, volts: float, watts: float) -> None:
    """1440 and 1920 W on 15 and 20 A at 120 V: the usual figures of electrical tips for crews."""
    on = OnCircuit(Circuit(name="a", amps=amps, volts=volts), (Burning("x", watts + 10.0),))
    assert on.allowed_watts == pytest.approx(watts)
    assert on.over_watts == pytest.approx(10.0)


def test_lamps_go_on_circuits_where_they_can() -> None:
    """Against every way of sharing out, 150 random loads: nothing over that need not be."""
    rng = np.random.default_rng(3)
    for _ in range(150):
        lamps = [Burning(f"l{n}", float(w)) for n, w in enumerate(rng.integers(50, 900, 5))]
        circuits = [
            Circuit(name=f"c{n}", amps=float(a), volts=120.0)
            for n, a in enumerate(rng.integers(5, 16, 2))
        ]
        best = min(
            sum(
                max(0.0, sum(x.watts for x, on in zip(lamps, way, strict=True) if on == n) - c)
                for n, c in enumerate(0.8 * circuit.amps * 120.0 for circuit in circuits)
            )
            for way in product(range(2), repeat=5)
        )
        shared = share_out(lamps, circuits)
        assert sum(circuit.over_watts for circuit in shared) == pytest.approx(best, abs=1e-6)
        assert sorted(lamp.name for circuit in shared for lamp in circuit.lamps) == [
            lamp.name for lamp in lamps
        ]


def test_many_lamps_are_all_placed() -> None:
    """Twelve lamps of 100 W on two circuits that carry 640 W each: six and six."""
    lamps = [Burning(f"l{n}", 100.0) for n in range(12)]
    shared = share_out(lamps, [Circuit(name=n, amps=8, volts=100) for n in "ab"])
    assert [circuit.watts for circuit in shared] == [600.0, 600.0]


sizes = st.floats(0.05, 1.5)
things = st.lists(
    st.builds(
        lambda n, size, kg: Owned(name=str(n), packed=size, weight=kg),
        st.integers(0, 99),
        st.tuples(sizes, sizes, st.floats(0.02, 0.4)),
        st.floats(0.0, 20.0),
    ),
    max_size=12,
)


@given(things=things)
def test_cases_hold_what_is_in_them(things: list[Owned]) -> None:
    """Every thing once; in a case only what goes in by its sides, its volume and its weight."""
    cases = [
        Case(name="long", inside=(1.4, 0.4, 0.35), weight=2.0),
        Case(name="flat", inside=(1.3, 1.3, 0.15), weight=2.5),
    ]
    packed, loose = stow(things, cases)
    inside = [thing for stowed in packed for thing in stowed.inside]
    assert sorted(thing.name for thing in (*inside, *loose)) == sorted(
        thing.name for thing in things
    )
    for stowed in packed:
        assert stowed.inside
        room = FILL * math.prod(stowed.case.inside)
        assert sum(math.prod(thing.packed or ()) for thing in stowed.inside) <= room + 1e-9
        weight = sum(thing.weight for thing in stowed.inside)
        assert len(stowed.inside) == 1 or weight <= CARRY_KG + 1e-9
        for thing in stowed.inside:
            assert thing.packed is not None
            for side, limit in zip(sorted(thing.packed), sorted(stowed.case.inside), strict=True):
                assert side <= limit + 1e-9
    for thing in loose:  # what is loose goes into no empty case
        assert thing.packed is not None
        assert not any(
            all(a <= b for a, b in zip(sorted(thing.packed), sorted(case.inside), strict=True))
            and math.prod(thing.packed) <= FILL * math.prod(case.inside)
            for case in cases
        )


def test_a_bag_more_is_a_case_more() -> None:
    stand = Owned(name="stand", packed=(1.3, 0.2, 0.2), weight=13.0)
    case = Case(name="long", inside=(1.4, 0.4, 0.35), weight=2.0)
    assert [len(stow([stand] * count, [case])[0]) for count in (1, 2, 3)] == [1, 2, 3]
    light = Owned(name="stand", packed=(1.3, 0.2, 0.2), weight=8.0)
    assert [len(stow([light] * count, [case])[0]) for count in (1, 2, 3)] == [1, 1, 2]
