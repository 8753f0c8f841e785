"""What is rigged for a setup, in words: a job a line, or in few words."""

from __future__ import annotations

import math
from collections.abc import Iterable

from ..rig.needs import Job
from .cautions import cares

ABOUT = " on ", " before ", " for ", " outside ", " over ", " out "  # what a job is done to
NOTHING = "nothing to rig"
LEAKS = ": leaks"  # how the label of the check for them ends


def whole(minutes: float) -> int:
    """Minutes that somebody must have: a part of one is taken whole.

    >>> whole(42.5), whole(42.0), whole(42.0000001)
    (43, 42, 42)
    """
    return math.ceil(minutes - 1e-3)


def turnaround(strike_minutes: float, rig_minutes: float) -> str:
    """What lies between one setup and the next.

    >>> turnaround(42.5, 108.0)
    'turnaround 151 min (strike 43, rig 108)'
    """
    strike, rig = whole(strike_minutes), whole(rig_minutes)
    return f"turnaround {strike + rig} min (strike {strike}, rig {rig})"


def spent(job: Job, *, hangs: bool) -> str:
    """What a job takes, unless it is done already."""
    return "hangs already" if hangs else f"{whole(job.minutes)} min"


def line(job: Job, *, hangs: bool, with_care: bool = True) -> str:
    """A job with its minutes, or that it is done already."""
    care = f"; {cares(job.hazards)}" if job.hazards and with_care else ""
    return f"{job.words}, {spent(job, hangs=hangs)}{care}"


def in_short(jobs: Iterable[Job]) -> str:
    """What hangs and stands, in few words; what begins alike is told together.

    >>> jobs = [Job("a", f"black out {name}", 15.0, (), ()) for name in ("roof light", "yard door")]
    >>> in_short([*jobs, Job("attic: leaks", "light-leak check", 13.0, (), ())])
    'black out roof light, yard door'
    """
    together: dict[str, list[str]] = {}
    for job in jobs:
        if not job.label.endswith(LEAKS):
            verb, thing = _parted(job.words)
            together.setdefault(verb, []).append(thing)
    return "; ".join(verb + ", ".join(things) for verb, things in together.items()) or NOTHING


def _parted(words: str) -> tuple[str, str]:
    """The start of a job's words, up to what it is done to; and that, if it is done to a thing."""
    for about in ABOUT:
        start, found, thing = words.partition(about)
        if found:
            return start + about, thing
    return words, ""
