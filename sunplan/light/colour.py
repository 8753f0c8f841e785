"""Colour of light against the white balance, in mired, and the gel that makes them meet."""

from __future__ import annotations

from dataclasses import dataclass

from ..data import table

DAYLIGHT_K = 5600.0  # sun and sky together by day, as cameras count it
NEAR_MIRED = 12.0  # nobody sees less; common practice, no source


@dataclass(frozen=True)
class ColourCast:
    """How light of one colour temperature looks at a white balance.

    `shift_mired` would make it neutral: positive is warming, so the light reads blue without.
    `gel` is the nearest correction, None where none is needed or none helps.
    """

    kelvin: float
    shift_mired: float
    gel: str | None
    loss_stops: float


def mired(kelvin: float) -> float:
    """Micro reciprocal degrees.

    >>> round(mired(3200.0), 1), round(mired(3200.0) - mired(5600.0), 1)
    (312.5, 133.9)
    """
    return 1e6 / kelvin


def colour_cast(kelvin: float, balance_kelvin: float) -> ColourCast:
    """How a light looks at a white balance, and what makes it meet.

    >>> colour_cast(5600.0, 3200.0).gel, colour_cast(5600.0, 5500.0).gel
    ('3/4 CTO', None)
    """
    shift = mired(balance_kelvin) - mired(kelvin)
    rows = table("correction")
    left = {name: abs(shift - row["mired"]) for name, row in rows.items()}
    best = min(left, key=lambda name: left[name])
    if abs(shift) < NEAR_MIRED or left[best] >= abs(shift):
        return ColourCast(kelvin, shift, None, 0.0)
    return ColourCast(kelvin, shift, best, float(rows[best]["loss"]))
