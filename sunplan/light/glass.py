"""What glass and dressing let through."""

from __future__ import annotations

import numpy as np

from ..data import table
from ..location.model import Opening
from ..sun.position import Floats

REFRACTIVE_INDEX = 1.526  # soda-lime glass; Duffie & Beckman, ch. 5
DEFAULT_GLASS = "double clear"


def fresnel_transmittance(cosine: Floats, count: int) -> Floats:
    """Share of light that panes let through by reflection alone, at cosines of incidence (N,).

    Fresnel for both polarisations, all bounces between the surfaces; Duffie & Beckman eq. 5.1.1
    to 5.3.1. Air to glass, `REFRACTIVE_INDEX`, no absorption.

    >>> fresnel_transmittance(np.cos(np.radians([0.0, 60.0])), 1).round(4)
    array([0.9169, 0.8421])
    """
    if count == 0:
        return np.ones_like(cosine)
    sine = np.sqrt(np.clip(1.0 - cosine**2, 0.0, 1.0))
    inner = np.sqrt(1.0 - (sine / REFRACTIVE_INDEX) ** 2)
    through = np.zeros_like(cosine)
    for first, second in ((cosine, REFRACTIVE_INDEX * inner), (REFRACTIVE_INDEX * cosine, inner)):
        reflected = ((first - second) / (first + second)) ** 2
        through += 0.5 * (1.0 - reflected) / (1.0 + (2 * count - 1) * reflected)
    return through


def normal_transmittance(opening: Opening) -> float:
    """Visible transmittance of an opening's glass, square on."""
    if opening.transmittance is not None:
        return opening.transmittance
    return float(_glass(opening)["transmittance"])


def _glass(opening: Opening) -> dict[str, float]:
    row: dict[str, float] = table("glass")[
        DEFAULT_GLASS if opening.glass is None else opening.glass
    ]
    return row


def transmittance(opening: Opening, cosine: Floats) -> Floats:
    """Visible transmittance at cosines of incidence (N,), dirt in it; falls off as Fresnel's."""
    count = 2 if opening.glass is None else int(_glass(opening)["panes"])
    square_on = float(fresnel_transmittance(np.ones(1), count)[0])
    clean = normal_transmittance(opening) / square_on
    return fresnel_transmittance(np.clip(cosine, 0.0, 1.0), count) * (clean * (1.0 - opening.dirt))


def glazed_share(opening: Opening) -> float:
    """Share of an opening that is glass; a room gets that much of the light."""
    return 1.0 - opening.bars


def dressing_shares(name: str | None) -> tuple[float, float]:
    """Regular and diffuse transmittance of a dressing: straight through, scattered; None is bare.

    >>> dressing_shares("sheer"), dressing_shares(None)
    ((0.25, 0.45), (1.0, 0.0))
    """
    row = table("dressing")["none" if name is None else name]
    return float(row["straight"]), float(row["scattered"])


def hangable_dressings() -> tuple[str, ...]:
    """Dressings that a crew can bring and hang, the lightest first.

    >>> hangable_dressings()
    ('net', 'sheer', 'frosted film', 'blind', 'curtain')
    """
    return tuple(name for name, row in table("dressing").items() if row.get("hangs", False))


def inside_reflectance(opening: Opening) -> float:
    """Share of the room's own light that an opening, dressed as it is, throws back."""
    name = "none" if opening.dressing is None else opening.dressing
    return float(table("dressing")[name]["reflectance"])
