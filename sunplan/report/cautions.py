"""Cautions, beside what they concern; they defer to local codes and to competent people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ..rig.hazards import Hazard
from .document import Caution

SUN = Caution(
    "Never look at the sun, least of all through a lens or an optical finder: it can blind.",
    "Never look at the sun, least of all through a lens or finder: it can blind.",
)
SHADOWS = Caution("Take no bearing of the sun itself: read shadows instead.")
OUTDOORS = Caution(
    "Outdoors: know the water's edge, traffic and lines overhead first; shade and water in the "
    "heat, indoors at thunder.",
    "Outdoors: know the water's edge, traffic and lines overhead first",
)
LIFTING = Caution("Lifting: two carry what is heavy or long.")
NIGHT = Caution(
    "By night: walk the place by day first, light the way you walk; one person as lookout.",
    "By night: walk the place by day first, light the way; one as lookout",
)
WEATHER = Caution("Not known: the weather, trees in leaf, and whatever the file does not name.")
# By what the plan asks for: rig/hazards.py.
CAUTIONS: dict[Hazard, Caution] = {
    "stands": Caution(
        "Stands: bag every one, spread its legs, turn one under the load; its plate says what it "
        "may carry.",
        "Stands: bag every one, spread its legs, turn one under the load",
    ),
    "overhead": Caution(
        "Overhead: safety-tie everything that hangs, nobody below while it goes up; local codes "
        "and a competent rigger decide what may hang from where.",
        "Overhead: safety-tie all that hangs, nobody below; a competent rigger decides",
    ),
    "steps": Caution(
        "Steps: higher than one can reach; level ground, one climbs, one holds, never lean out; "
        "local rules for work at height hold.",
        "Steps: level ground, one climbs and one holds, never lean out",
    ),
    "roof": Caution(
        "Roof: rig from inside; a roof window is a hole, never step, sit or lean on it. The roof "
        "is for the owner and a roofer.",
        "Roof: rig from inside; never step on a roof window; the roof is for a roofer",
    ),
    "power lines": Caution(
        "Power lines: look up first; poles, frames and ladders stay 10 ft (3 m) away, more where "
        "the utility says so.",
        "Power lines: look up first; stay 10 ft (3 m) away, or as the utility says",
    ),
    "window over a drop": Caution(
        "Window over a drop: shut and latched while one works at it; never lean out; nothing to "
        "fall on whoever is below.",
        "Window over a drop: shut and latched while one works at it; never lean out",
    ),
    "wet room": Caution(
        "Wet room: battery lamps first. Mains only as far from bath, shower and basin as local "
        "codes say, out of reach of wet hands, plugs dry, off the floor, on a residual-current "
        "device (RCD, GFCI); an electrician decides.",
        "Wet room: battery lamps first; mains only by local codes, on an RCD (GFCI)",
    ),
    "wind": Caution(
        "Wind: outdoors somebody holds every flag; two bags a stand, clear of the water's edge, "
        "traffic and the public; when it gusts it comes down.",
        "Wind: somebody holds every flag; two bags a stand; in gusts it comes down",
    ),
    "hot glass": Caution(
        "Hot glass: black on sunlit glass heats it and can crack it. Where the light permits "
        "leave a hand's breadth open above and below; its light side to the glass, off after the "
        "shot; never on wired, tinted or coated glass without the owner, who asks a glazier.",
        "Hot glass: sunlit glass behind black can crack; leave air, off after the shot",
    ),
    "dark room": Caution(
        "Dark room: a sealed room gets hot and stuffy; breaks, water, a door that opens; no flame "
        "or engine in it.",
        "Dark room: hot and stuffy when sealed; breaks, water, a door that opens",
    ),
    "exits": Caution(
        "Exits: one way out light, free and two feet (0.6 m) wide; no cloth over alarms, vents or "
        "heaters; flame-treated cloth only; the fire officer decides.",
        "Exits: one way out free; nothing over alarms; the fire officer decides",
    ),
    "lamp": Caution(
        "Lamp: bag its stand; cloth and paper half a metre off beside it, a metre and a half "
        "before it, more if its label says so; cables flat and off the way; an extinguisher near.",
        "Lamp: bag its stand; cloth 0.5 m off beside it, 1.5 m before it",
    ),
    "circuits": Caution(
        "Circuits: planned at 80 % of the fuse; what else runs in the house counts too. Its wiring "
        "is for an electrician.",
        "Circuits: planned at 80 % of the fuse; wiring is for an electrician",
    ),
    "mirror": Caution(
        "Mirror: it throws the sun into eyes and onto what burns; cover it between shots, never a "
        "hollow one.",
        "Mirror: throws sun into eyes and can start a fire; cover it between shots",
    ),
}


def cares(hazards: Iterable[Hazard]) -> str:
    """What a thing asks care for, in a few words beside it; the lines at the end say how.

    >>> cares(["overhead", "steps"])
    'safety: overhead, steps'
    """
    return "safety: " + ", ".join(hazards)


def in_full(hazards: Iterable[Hazard]) -> Iterator[Caution]:
    """The whole caution of each hazard, once."""
    return (CAUTIONS[hazard] for hazard in dict.fromkeys(hazards))
