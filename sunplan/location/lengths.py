"""Lengths as people write them, in metres inside the program."""

from __future__ import annotations

import re
from typing import Literal

Units = Literal["m", "ft"]

FOOT_M = 0.3048  # international foot, exact (1959 agreement)
INCH_M = FOOT_M / 12

_UNIT_M = {
    "mm": 0.001,
    "cm": 0.01,
    "m": 1.0,
    **dict.fromkeys(("ft", "feet", "foot", "'", "′", "’"), FOOT_M),
    **dict.fromkeys(("in", "inch", "inches", '"', "″", "”"), INCH_M),
}
_NUMBER = r"(\d+(?:\.\d+)?|\.\d+)?(?:\s*(\d+)\s*/\s*(\d+))?"
_TERM = re.compile(_NUMBER + r"\s*(mm|cm|m|feet|foot|ft|inches|inch|in|['′’\"″”])\s*")
_MIXED = re.compile(r"(\d+)[\s-]+(\d+)\s*/\s*(\d+)")

EXAMPLES = '1.9, "190 cm", "6 ft 4 in" or "6\'4\\""'


def parse_length(text: str) -> float:
    """Length in metres from text that carries its unit.

    Understands mm, cm, m, feet and inches (words, ``ft``/``in``, primes), feet followed by
    inches, and fractions. Raises ``ValueError`` for anything else.

    >>> parse_length("190 cm")
    1.9
    >>> round(parse_length("7 ft 6 in"), 4), round(parse_length("6'4 1/2\\""), 4)
    (2.286, 1.9431)
    >>> parse_length("a yard")
    Traceback (most recent call last):
    ...
    ValueError: not a length: 'a yard'
    """
    rest = text.strip().replace("−", "-")
    sign = -1.0 if rest.startswith("-") else 1.0
    rest = rest.lstrip("+-").lstrip()
    total, last_unit = 0.0, float("inf")
    if not rest:
        raise ValueError(f"not a length: {text!r}")
    while rest:
        mixed = _MIXED.match(rest)  # "4 1/2": whole and fraction
        if mixed:
            whole, over, under = (int(part) for part in mixed.groups())
            if under == 0:
                raise ValueError(f"not a length: {text!r}")
            rest = f"{whole + over / under!r}{rest[mixed.end() :]}"
        term = _TERM.match(rest)
        if term is None or (term[1] is None and term[2] is None):
            raise ValueError(f"not a length: {text!r}")
        value = float(term[1]) if term[1] is not None else 0.0
        if term[2] is not None:
            if term[1] is not None or int(term[3]) == 0:
                raise ValueError(f"not a length: {text!r}")
            value = int(term[2]) / int(term[3])
        unit_m = _UNIT_M[term[4]]
        # Only feet then inches may follow each other: "1 m 20 m" is a slip, not a sum.
        if last_unit != float("inf") and (last_unit, unit_m) != (FOOT_M, INCH_M):
            raise ValueError(f"not a length: {text!r}")
        total += value * unit_m
        last_unit = unit_m
        rest = rest[term.end() :]
    return sign * total


def format_length(metres: float, units: Units) -> str:
    """Length for people: metres to the centimetre, or feet and inches to the half inch.

    >>> format_length(1.234, "m"), format_length(1.9431, "ft"), format_length(0.3048, "ft")
    ('1.23 m', '6\\'4½"', '1\\'0"')
    """
    if units == "m":
        return f"{metres:.2f} m".replace("-", "−")
    sign = "−" if metres < -INCH_M / 4 else ""
    halves = round(abs(metres) / INCH_M * 2)
    feet, rest = divmod(halves, 24)
    inches = f'{rest // 2}{"½" if rest % 2 else ""}"'
    return f"{sign}{feet}'{inches}" if feet else f"{sign}{inches}"
