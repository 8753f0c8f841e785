"""Cautions, beside what they concern; they defer to local codes and to competent people."""

SUN = "Never look at the sun, least of all through a lens or an optical finder: it can blind."
WEATHER = "Clear sky assumed: the weather is not known. Trees and curtains are not known either."
STANDS = "Bag every stand; spread its legs and turn one under the load. Keep ways out clear."
OVERHEAD = (
    "Overhead: safety-tie everything that hangs, nobody below while it goes up. What may hang from "
    "where, local codes and a competent rigger decide."
)
LADDER = (
    "Higher than one can reach: steps or a ladder on level ground, one climbs, one holds; "
    "never lean out."
)
