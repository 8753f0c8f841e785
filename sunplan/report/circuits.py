"""What runs on which circuit, and what is assumed where the file names none."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from ..location.mains import Mains
from ..location.read import Location
from ..rig.electrical_load import CONTINUOUS, Load, OnCircuit, a_socket
from .answers import Answer, fields, names

_WITH_THE = re.compile(r"(United|Netherlands|Philippines|Bahamas|Gambia|Maldives|.*(Rep|Islands))")


def mains(location: Location) -> Answer:
    """The place's usual mains, and what a socket of it is planned to carry."""
    usual = location.mains
    return {
        **fields(usual, "country", "amps", "volts", "of"),
        "planned_share": CONTINUOUS,
        "by_code": usual.by_code,
        **fields(OnCircuit(a_socket(usual), ()), "allowed_watts"),
    }


def loads(load: Load) -> Answer:
    """A setup's lamps on their circuits."""
    return {
        **fields(load, "assumed", "over_watts"),
        "circuits": [
            {
                "circuit": circuit.circuit.name,
                **fields(circuit, "allowed_watts", "watts"),
                "lamps": names(circuit.lamps),
            }
            for circuit in load.circuits
        ],
    }


def assumed(location: Location, rooms: Iterable[str]) -> Iterator[str]:
    """The mains that is assumed for those of some rooms that no circuit is named for, and why."""
    without = [room for room in dict.fromkeys(rooms) if not location.circuits_of(room)]
    if without:
        named = f" for {', '.join(without)}" if location.circuit else ""
        yield f"assumed, no circuit named{named}: {usual(location.mains)}"


def usual(mains: Mains) -> str:
    """What a socket gives by its country, why, and what of it is planned with.

    >>> usual(Mains(amps=15, volts=120, of="circuit", country="United States", by_code=True))
    'one 15 A, 120 V circuit, as usual in the United States; planned at 80 %, its code for three
    hours or more: 1440 W'
    """
    watts = OnCircuit(a_socket(mains), ()).allowed_watts
    share = f"planned at {CONTINUOUS:.0%}".replace("%", " %")
    share += ", its code for three hours or more" if mains.by_code else ", a margin"
    if mains.country is None:
        least = f"{mains.amps:g} A at {mains.volts:g} V, the least there is anywhere"
        return f"{least}, as the mains of this place are not known; {share}: {watts:.0f} W"
    the = "the " if _WITH_THE.match(mains.country) else ""
    one = f"one {mains.amps:g} A, {mains.volts:g} V {mains.of}"
    return f"{one}, as usual in {the}{mains.country}; {share}: {watts:.0f} W"


def lines(load: Load, *, lamps: bool = True, over: bool = False) -> Iterator[str]:
    """What runs on which circuit, a line a circuit; with its lamps, or what they draw in all.

    `over`: only those that carry too much.
    """
    for drawn in load.circuits:
        if not drawn.lamps or (over and not drawn.over_watts):
            continue
        guess = " (assumed)" if load.assumed else ""
        too_much = f": {drawn.over_watts:.0f} W TOO MUCH" if drawn.over_watts else ""
        named = ", ".join(f"{lamp.name} {lamp.watts:.0f} W" for lamp in drawn.lamps)
        yield (
            f"{drawn.circuit.name}, {drawn.circuit.amps:g} A {drawn.circuit.volts:g} V{guess}: "
            f"{named + '; ' if lamps else ''}"
            f"{drawn.watts:.0f} of {drawn.allowed_watts:.0f} W{too_much}"
        )
