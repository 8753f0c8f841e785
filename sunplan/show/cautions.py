"""Cautions, beside what they concern; they defer to local codes and to competent people."""

SUN = "Never look at the sun, least of all through a lens or an optical finder: it can blind."
WEATHER = "Not known: the weather, trees in leaf, and whatever the file does not name."
STANDS = "Bag every stand; spread its legs and turn one under the load. Keep ways out clear."
OVERHEAD = (
    "Overhead: safety-tie everything that hangs, nobody below while it goes up. What may hang from "
    "where, local codes and a competent rigger decide."
)
LADDER = (
    "Higher than one can reach: steps or a ladder on level ground, one climbs, one holds; "
    "never lean out."
)
BLACKOUT = (
    "Black on sunlit glass heats it: leave an air gap, never seal wired, coated or sealed double "
    "glass without asking the owner. Keep one way out light and free."
)
