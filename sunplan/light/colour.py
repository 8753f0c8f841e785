"""Colour of light against the white balance, in mired, and the gel that makes them meet."""

from __future__ import annotations

from dataclasses import dataclass

from ..data import table

DAYLIGHT_K = 5600.0  # sun and sky together by day, as cameras count it
NEAR_MIRED = 12.0  # nobody sees less; common practice, no source


@dataclass(frozen=True)
class ColourCast:
    """How light of one colour temperature looks at a white balance.

    Attributes
    ----------
    kelvin
        Of the light.
    shift_mired
        What would make it neutral; positive is warming, so the light reads blue without.
    gel
        The nearest correction, None where none is needed or none helps.
    loss_stops
        What that gel takes, 0 without.
    """

    kelvin: float
    shift_mired: float
    gel: str | None
    loss_stops: float


def mired(kelvin: float) -> float:
    """Micro reciprocal degrees of a colour temperature, 10⁶ / T, MK⁻¹: equal steps look alike.

    >>> round(mired(3200.0), 1), round(mired(3200.0) - mired(5600.0), 1)
    (312.5, 133.9)
    """
    return 1e6 / kelvin


def colour_cast(kelvin: float, balance_kelvin: float) -> ColourCast:
    """How light of a colour temperature looks at a white balance, both K, and what matches them.

    Gels are the rows of `data/correction.toml`; less than `NEAR_MIRED` needs none.

    >>> colour_cast(5600.0, 3200.0).gel, colour_cast(5600.0, 5500.0).gel
    ('3/4 CTO', None)
    """
    shift = mired(balance_kelvin) - mired(kelvin)
    gels = table("correction")
    missed = {name: abs(shift - gel["mired"]) for name, gel in gels.items()}
    nearest = min(missed, key=lambda name: missed[name])
    if abs(shift) < NEAR_MIRED or missed[nearest] >= abs(shift):
        return ColourCast(kelvin, shift, None, 0.0)
    return ColourCast(kelvin, shift, nearest, float(gels[nearest]["loss"]))
