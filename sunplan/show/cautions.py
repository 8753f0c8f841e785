"""Cautions, beside what they concern; they defer to local codes and to competent people."""

from __future__ import annotations


class Caution(str):
    """A line of caution, so that a plan can tell each once."""


SUN = Caution(
    "Never look at the sun, least of all through a lens or an optical finder: it can blind."
)
WEATHER = Caution("Not known: the weather, trees in leaf, and whatever the file does not name.")
STANDS = Caution(
    "Bag every stand; spread its legs and turn one under the load. Keep ways out clear."
)
OVERHEAD = Caution(
    "Overhead: safety-tie everything that hangs, nobody below while it goes up. What may hang from "
    "where, local codes and a competent rigger decide."
)
LADDER = Caution(
    "Higher than one can reach: steps or a ladder on level ground, one climbs, one holds; "
    "never lean out."
)
BLACKOUT = Caution(
    "Black on sunlit glass heats it: leave an air gap, never seal wired, coated or sealed double "
    "glass without asking the owner. Keep one way out light and free."
)
LAMP = Caution(
    "Lamps: bag the stand, keep cloth and paper off what gets hot, cables flat and off the way; "
    "count all that burns together against the circuit, and leave its wiring to an electrician."
)
