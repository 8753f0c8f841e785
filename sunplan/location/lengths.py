"""Lengths as people write them, in metres inside the program.

Not by pint: it takes "7 ft 6 in" for an area and `6'4"` for no length, and a second to import.
"""

from __future__ import annotations

import math
import re
from typing import Literal

Units = Literal["m", "ft"]

FOOT_M = 0.3048  # international foot, exact (1959 agreement)
INCH_M = FOOT_M / 12

_UNIT_M = {
    "mm": 0.001,
    "cm": 0.01,
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1.0),
    **dict.fromkeys(("ft", "feet", "foot", "'", "′", "’"), FOOT_M),
    **dict.fromkeys(("in", "inch", "inches", "''", '"', "″", "”"), INCH_M),
}
# "4 1/2" or "4-1/2", "11/16", then "4.5": the fraction first, or "11" would be taken from it.
_NUMBER = r"(?:(?:(\d+)[\s-]+)?(\d+)\s*/\s*(\d+)|(\d+(?:\.\d*)?|\.\d+))"
_TERM = re.compile(
    _NUMBER + r"\s*(mm|cm|met(?:re|er)s?|m|feet|foot|ft|inches|inch|in|''|['′’\"″”])(?![a-z])\s*",
    re.ASCII | re.IGNORECASE,
)
_FRACTIONS = {
    sign: f" {over}/{under}"
    for sign, over, under in (
        ("½", 1, 2),
        ("¼", 1, 4),
        ("¾", 3, 4),
        ("⅛", 1, 8),
        ("⅜", 3, 8),
        ("⅝", 5, 8),
        ("⅞", 7, 8),
    )
}

EXAMPLES = '1.9, "190 cm", "6 ft 4 in" or "6\'4\\""'


def unit_m(units: Units) -> float:
    """Metres of the unit that a file's bare lengths are in.

    >>> unit_m("ft"), unit_m("m")
    (0.3048, 1.0)
    """
    return FOOT_M if units == "ft" else 1.0


def parse_length(text: str) -> float:
    """Length in metres from text that carries its unit.

    Understands mm, cm, m, feet and inches (words, ``ft``/``in``, primes), feet followed by
    inches, and fractions.

    Raises
    ------
    ValueError : for anything else, a number without a unit too.

    Examples
    --------
    >>> parse_length("190 cm")
    1.9
    >>> round(parse_length("7 ft 6 in"), 4), round(parse_length("6'4 1/2\\""), 4)
    (2.286, 1.9431)
    >>> parse_length("a yard")
    Traceback (most recent call last):
    ...
    ValueError: not a length: 'a yard'
    """
    refusal = ValueError(f"not a length: {text!r}")
    if len(text) > 100:  # no length is written so; spares Python's refusal of endless numbers
        raise refusal
    rest = text.strip().replace("−", "-")
    for sign, written in _FRACTIONS.items():
        rest = rest.replace(sign, written)
    negative = rest.startswith("-")
    rest = rest[1:] if rest.startswith(("+", "-")) else rest
    rest = rest.lstrip()
    total = 0.0
    terms: list[float] = []
    while rest:
        term = _TERM.match(rest)
        if term is None:
            raise refusal
        whole, over, under, decimal, unit = term.groups()
        unit_m = _UNIT_M[unit.lower()]
        if decimal is not None:
            value = float(decimal)
        elif int(under) == 0:
            raise refusal
        else:
            value = (0 if whole is None else int(whole)) + int(over) / int(under)
        # Only feet then inches may follow each other: "1 m 20 m" is a slip, not a sum.
        if terms and [*terms, unit_m] != [FOOT_M, INCH_M]:
            raise refusal
        terms.append(unit_m)
        total += value * unit_m
        rest = rest[term.end() :]
        if unit_m == FOOT_M:
            rest = re.sub(r"^-\s*", "", rest)  # 6'-4", as on architects' drawings
            if not rest and term.string[term.end() :]:
                raise refusal
    if not terms or not math.isfinite(total):
        raise refusal
    total = round(total, 9)  # 1.9, not 1.9000000000000001
    return -total if negative else total


def format_length(metres: float, units: Units) -> str:
    """Length for people: metres to the centimetre, or feet and inches to the half inch.

    >>> format_length(1.234, "m"), format_length(1.9431, "ft"), format_length(0.3048, "ft")
    ('1.23 m', '6\\'4½"', '1\\'0"')
    """
    if units == "m":
        text = f"{abs(metres):.2f} m"
        return f"−{text}" if metres < 0 and text != "0.00 m" else text
    halves = round(abs(metres) / INCH_M * 2)
    sign = "−" if metres < 0 and halves else ""
    feet, rest = divmod(halves, 24)
    whole, half = divmod(rest, 2)
    inches = f'{whole if whole or feet or not half else ""}{"½" if half else ""}"'
    return f"{sign}{feet}'{inches}" if feet else f"{sign}{inches}"
