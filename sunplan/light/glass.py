"""What glass and dressing let through.

References
----------
.. [1] Duffie, J. A., Beckman, W. A., Solar Engineering of Thermal Processes, chapter 5.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..data import table
from ..location.model import Opening
from ..sun.position import Floats

REFRACTIVE_INDEX = 1.526  # soda-lime glass; [1]
DEFAULT_GLASS = "double clear"


def fresnel_transmittance(cosine: Floats, panes: int) -> Floats:
    """Share of light that panes let through by reflection alone.

    Fresnel for both polarisations, all bounces between the surfaces: eq. 5.1.1 to 5.3.1 of [1].
    Air to glass, `REFRACTIVE_INDEX`, no absorption. (pvlib's `iam.physical` has one pane with
    absorption.)

    Parameters
    ----------
    cosine
        Of the angle of incidence, 0 to 1, (N,).
    panes
        How many, 0 for an open hole.

    Returns
    -------
    0 to 1, (N,): 0 at grazing incidence. NaN for NaN.

    Examples
    --------
    >>> fresnel_transmittance(np.cos(np.radians([0.0, 60.0])), 1).round(4)
    array([0.9169, 0.8421])
    """
    if panes == 0:
        return np.ones_like(cosine)
    sine = np.sqrt(np.clip(1.0 - cosine**2, 0.0, 1.0))
    refracted = np.sqrt(1.0 - (sine / REFRACTIVE_INDEX) ** 2)
    through = np.zeros_like(cosine)
    for first, second in (
        (cosine, REFRACTIVE_INDEX * refracted),
        (REFRACTIVE_INDEX * cosine, refracted),
    ):
        reflected = ((first - second) / (first + second)) ** 2
        through += 0.5 * (1.0 - reflected) / (1.0 + (2 * panes - 1) * reflected)
    return through


def transmittance(opening: Opening, cosine: Floats) -> Floats:
    """Visible transmittance of an opening's glass with its dirt, falling off as Fresnel's panes.

    Parameters
    ----------
    opening
        A glass given by its transmittance alone falls off as `DEFAULT_GLASS` does.
    cosine
        Of the angle of incidence, (N,); below 0, from behind, nothing passes.

    Returns
    -------
    0 to 1, (N,).

    Examples
    --------
    >>> window = {"name": "w", "wall": "A", "along": 0, "sill": 0, "size": [1, 1], "dirt": 0.1}
    >>> transmittance(Opening.model_validate(window), np.array([1.0, 0.5, -1.0])).round(3)
    array([0.729, 0.653, 0.   ])
    """
    row: dict[str, Any] = table("glass")[DEFAULT_GLASS if opening.glass is None else opening.glass]
    normal = row["transmittance"] if opening.transmittance is None else opening.transmittance
    panes = int(row["panes"])
    clean = normal / float(fresnel_transmittance(np.ones(1), panes)[0])
    return fresnel_transmittance(np.clip(cosine, 0.0, 1.0), panes) * (clean * (1.0 - opening.dirt))


def glazed_share(opening: Opening) -> float:
    """Share of an opening that is glass and not bars; a room gets that much of the light."""
    return 1.0 - opening.bars


def dressing_shares(name: str | None) -> tuple[float, float]:
    """Regular and diffuse transmittance of a dressing, τ_r and τ_d; of None (1, 0).

    The regular goes straight through, the diffuse comes out evenly scattered.

    Raises
    ------
    KeyError
        For a name that `data/dressing.toml` has not.

    Examples
    --------
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
    """Share of the room's own light that an opening throws back, its dressing or bare glass.

    >>> window = {"name": "w", "wall": "A", "along": 0, "sill": 0, "size": [1, 1]}
    >>> curtained = Opening.model_validate({**window, "dressing": "curtain"})
    >>> inside_reflectance(curtained) > inside_reflectance(Opening.model_validate(window))
    True
    """
    name = "none" if opening.dressing is None else opening.dressing
    return float(table("dressing")[name]["reflectance"])
