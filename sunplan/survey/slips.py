"""Is an answer's figure far from what the file has, and is it in another unit than was meant?"""

from __future__ import annotations

from ..location.lengths import Units
from ..location.messages import shown
from .questions import exactly
from .replies import Reply, ReplyError, length_m, slip

SAME_M = 0.0005  # as the file has it: a sheet's figures are given to this
ODD_SHARE, ODD_M = 0.3, 0.05  # off the file's value, and at least so much; no source
SLIPS = (  # what an answer may be times too large or too small, and how that comes about
    (2.54, "inches for centimetres, or the other way round?"),
    (3.281, "feet for metres, or the other way round?"),
    (10.0, "a decimal point off?"),
    (12.0, "inches for feet, or the other way round?"),
    (39.37, "inches for metres, or the other way round?"),
    (100.0, "centimetres for metres, or the other way round?"),
    (1000.0, "millimetres for metres, or the other way round?"),
)
UNLIKELY = 8.0  # times what the file has: a bare number is one in another unit; no source
LIKELY = 2.5  # times off the file's, at most, with that unit; no source
POSSIBLE = 10.0  # the same, of what cannot be as it was told
SLIP = 0.1  # by which such a factor may be missed


def plausible_m(
    reply: Reply, units: Units, *, was_m: float, most: tuple[float, str] | None = None
) -> float:
    """An answer's length, metres.

    Parameters
    ----------
    reply : the answer.
    units : those of the file; a bare number without a unit of its row is in them.
    was_m : what the file has.
    most : what it can be, metres, and what keeps it from more, for a message.

    Raises
    ------
    ReplyError : where it is no length, more than it can be, or a bare number that is far more
        likely in another unit.

    Examples
    --------
    >>> from .questions import Question
    >>> width = Question("w1", "width", "how wide", "size")
    >>> plausible_m(Reply(2, width, "112 cm", ""), "m", was_m=1.1)
    1.12
    >>> plausible_m(Reply(2, width, "112", ""), "m", was_m=1.1)
    Traceback (most recent call last):
    ...
    sunplan.survey.replies.ReplyError: "112" is 112 m here, the file has 1.1 m: is it 112 cm? ...
    """
    metres = length_m(reply, units)
    said = shown(reply.text)
    is_m = f"{said} is {exactly(metres, units)} here," if reply.bare else f"{said} is"
    if most is not None and metres > most[0] + SAME_M:
        meant = slip(reply, like_m=was_m, most_m=most[0], times=POSSIBLE)
        hint = f"is it {meant}?" if meant else odd_hint(metres, was_m, units)
        limit = f"{most[1]} {exactly(most[0], units)}"
        raise ReplyError(f"{is_m} more than there is room for ({limit}): {hint}")
    if reply.bare and metres > UNLIKELY * was_m:
        meant = slip(reply, like_m=was_m, most_m=metres, times=LIKELY)
        if meant:
            raise ReplyError(
                f"{is_m} the file has {exactly(was_m, units)}: is it {meant}? "
                "expected it with its unit"
            )
    return metres


def odd_hint(new: float, old: float, units: Units | None) -> str:
    """What looks odd about a figure beside the file's, or nothing.

    Lengths are in metres; `units` is None for a figure that is none.

    >>> odd_hint(2.54, 1.0, "m"), odd_hint(1.1, 1.0, "m")
    ('2.5 times what the file has: inches for centimetres, or the other way round?', '')
    """
    smallest = 0.0 if units is None else ODD_M
    if abs(new - old) <= max(smallest, ODD_SHARE * old):
        return ""
    if min(new, old) <= 0.0:
        return "far from what the file has"
    times = new / old
    factor = max(times, 1.0 / times)
    times_off = f"{factor:.2g} times {'what' if times > 1.0 else 'less than'} the file has"
    for wrong, hint in SLIPS if units is not None else ():
        if abs(factor / wrong - 1.0) < SLIP:
            return f"{times_off}: {hint}"
    return times_off
