"""What to pack: of each thing the most that any setup takes at one time, against what is owned."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from ..location.kit import Batten, Cloth, Gel, Kit, Owned, TapeRoll
from ..rig.cases import Packed, stow
from ..rig.takeoff import TakeOff, takeoff
from .running_order import RunningOrder

BOUGHT = (Cloth, Gel, TapeRoll, Batten)  # cheap or used up: nobody rents them


@dataclass(frozen=True)
class PackItem:
    """One thing of the list: how many are needed, and how many of them are owned."""

    kit: str
    thing: Owned
    need: int

    @property
    def kind(self) -> str:
        """What kind of thing it is, as the kit calls its tables."""
        return self.thing.kind

    @property
    def take(self) -> int:
        """How many to take of one's own."""
        return min(self.need, self.thing.owned)

    @property
    def get(self) -> int:
        """How many are lacking."""
        return self.need - self.take

    @property
    def how(self) -> str:
        """How to get what is lacking."""
        return "buy" if isinstance(self.thing, BOUGHT) else "rent"

    @property
    def weight_kg(self) -> float:
        """Of all that are needed."""
        return self.need * self.thing.weight

    @property
    def price(self) -> float | None:
        """To rent what is lacking for a day, in the kit's money; None where it is not known."""
        if not self.get:
            return 0.0
        return None if self.thing.rent is None else self.get * self.thing.rent


@dataclass(frozen=True, eq=False)
class Pack:
    """The whole list for a day: its things, the cases that they go into, and what fits in none."""

    running: RunningOrder
    takeoff: TakeOff
    lines: tuple[PackItem, ...]
    cases: tuple[Packed, ...]
    loose: tuple[Owned, ...]

    @property
    def weight_kg(self) -> float:
        """Of everything, cases too."""
        return sum(line.weight_kg for line in self.lines) + sum(
            packed.case.weight for packed in self.cases
        )


def pack(running: RunningOrder) -> Pack:
    """What setups, shot in a running order, take with them.

    Gel, cloth, tape and battens are counted over the whole day: they are used up.

    Examples
    --------
    >>> from datetime import date
    >>> from sunplan import read
    >>> from sunplan.day.working_day import working_day
    >>> clock = working_day(read("locations/lock-house.toml"), date(2027, 3, 20))
    >>> pack(RunningOrder((), clock)).weight_kg
    0
    """
    cut = takeoff([slot.needs.treated for slot in running.slots])
    most: Counter[tuple[str, Owned]] = Counter()
    kits = {slot.setup.from_kit.name: slot.setup.from_kit for slot in running.slots}
    for slot in running.slots:
        own = slot.setup.from_kit.name
        for thing, count in slot.needs.things.items():
            most[own, thing] = max(most[own, thing], count)
    for material in cut.materials:
        owner = next(name for name, kit in kits.items() if material.stock in (*kit.cloth, *kit.gel))
        most[owner, material.stock] = material.rolls
    for name, kit in kits.items():
        if kit.tape and cut.tape_m:
            most[name, kit.tape[0]] = math.ceil(cut.tape_m / kit.tape[0].length)
            break
    lines = [PackItem(kit, thing, count) for (kit, thing), count in most.items() if count]
    things = [line.thing for line in lines for _ in range(line.need)]
    cases = {case.name: case for kit in kits.values() for case in kit.case}
    packed, loose = stow(things, tuple(cases.values()))
    order = list(Kit.model_fields)
    lines.sort(key=lambda line: (order.index(line.kind), line.thing.name))
    return Pack(running, cut, tuple(lines), packed, loose)
