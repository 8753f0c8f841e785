"""The load: do the lamps that burn together go on the circuits that there are?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

from ..light.resolved import ResolvedSetup
from ..location.mains import Mains
from ..location.model import Circuit, Practical
from ..location.read import Location

# Share of a fuse that a plan uses. In North America the rule for loads of three hours or more: a
# fuse of at least 125 % of them (NEC 210.20(A), wires 210.19(A); CEC 8-104). Elsewhere a margin: a
# fuse by IEC 60898 carries all of its rating. From memory, no text at hand.
CONTINUOUS = 0.8
LUMENS_PER_WATT = 80.0  # of an LED bulb, the low end of published charts (80 to 100)
FEW = 7  # lamps that are put on circuits in every way; more go largest first


@dataclass(frozen=True)
class Burning:
    """A lamp that burns, and what it draws."""

    name: str
    watts: float


@dataclass(frozen=True)
class OnCircuit:
    """A circuit with the lamps on it."""

    circuit: Circuit
    lamps: tuple[Burning, ...]

    @property
    def allowed_watts(self) -> float:
        """What it is planned to carry, W: `CONTINUOUS` of its fuse.

        >>> OnCircuit(Circuit(name="a", amps=15, volts=120), ()).allowed_watts
        1440.0
        """
        return CONTINUOUS * self.circuit.amps * self.circuit.volts

    @property
    def watts(self) -> float:
        """What the lamps on it draw, W."""
        return sum(lamp.watts for lamp in self.lamps)

    @property
    def over_watts(self) -> float:
        """How much too much that is, W, 0 for none."""
        return max(0.0, self.watts - self.allowed_watts)


@dataclass(frozen=True)
class Load:
    """A setup's lamps shared out; `assumed`: the file names no circuit for the room."""

    setup: ResolvedSetup
    circuits: tuple[OnCircuit, ...]
    assumed: bool

    @property
    def over_watts(self) -> float:
        """What no sharing out puts right, W; 0 where it goes."""
        return sum(circuit.over_watts for circuit in self.circuits)


def draws(practical: Practical) -> float:
    """The watts of a practical, as the file says or as an LED of its lumens."""
    return practical.lumens / LUMENS_PER_WATT if practical.watts is None else practical.watts


def load(location: Location, setup: ResolvedSetup) -> Load:
    """A setup's key and the practicals of its room, on the circuits of that room.

    Where the file names no circuit, on one socket as usual in the country; see `Load.assumed`.
    """
    room, kit = setup.in_room, setup.from_kit
    lamps = [Burning(practical.name, draws(practical)) for practical in room.practical]
    if setup.key is not None:
        lamp = kit.lamp_named(setup.key.lamp)
        lamps.insert(0, Burning(lamp.name, lamp.watts))
    circuits = location.circuits_of(room.name)
    return Load(setup, share_out(lamps, circuits or (a_socket(location.mains),)), not circuits)


def a_socket(mains: Mains) -> Circuit:
    """The circuit that is assumed where none is known."""
    return Circuit(name="a socket", amps=mains.amps, volts=mains.volts)


def share_out(lamps: Sequence[Burning], circuits: Sequence[Circuit]) -> tuple[OnCircuit, ...]:
    """Lamps on circuits so that the least goes over, then on the fewest, then evenly.

    Up to `FEW` in the best of all ways; more go largest first, each where the most is left.

    Examples
    --------
    >>> ring = [Circuit(name=name, amps=10, volts=100) for name in "ab"]
    >>> shared = share_out([Burning("x", 500), Burning("y", 400), Burning("z", 300)], ring)
    >>> [on.watts for on in shared], [on.over_watts for on in shared]
    ([500, 700], [0.0, 0.0])
    """
    if len(lamps) <= FEW:
        ways = product(range(len(circuits)), repeat=len(lamps))
        return min((_shared(lamps, circuits, way) for way in ways), key=_badness)
    lamps = sorted(lamps, key=lambda lamp: -lamp.watts)
    way: list[int] = []
    for _ in lamps:
        left = [on.allowed_watts - on.watts for on in _shared(lamps[: len(way)], circuits, way)]
        way.append(left.index(max(left)))
    return _shared(lamps, circuits, way)


def _shared(
    lamps: Sequence[Burning], circuits: Sequence[Circuit], way: Sequence[int]
) -> tuple[OnCircuit, ...]:
    """Each lamp on the circuit of its number."""
    return tuple(
        OnCircuit(circuit, tuple(lamp for lamp, on in zip(lamps, way, strict=True) if on == index))
        for index, circuit in enumerate(circuits)
    )


def _badness(shared: tuple[OnCircuit, ...]) -> tuple[float, int, float]:
    used = [on.watts / on.allowed_watts for on in shared]
    return sum(on.over_watts for on in shared), sum(share > 0 for share in used), max(used)
