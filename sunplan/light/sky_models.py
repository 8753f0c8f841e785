"""How much light the sun and the sky give: illuminance outdoors by the sun's altitude.

pvlib has the clear sky's irradiance; it has no luminous efficacy, no twilight and no IES skies.
Figures and sources: `data/sky.toml`.
"""

from __future__ import annotations

import numpy as np

from ..data import table
from ..location.model import Site
from ..sun.position import Floats, pressure_hpa

WATER_CM = 1.5  # precipitable water, a mid-latitude middle; from memory, hardly matters
DARK_DEG = -18.0  # twilight's end


def twilight_lux(altitude_deg: Floats) -> Floats:
    """Illuminance of level ground under a clear, moonless sky, Seidelmann 1992.

    Parameters
    ----------
    altitude_deg
        The sun's altitude without refraction, (N,); lower than −18 counts as that.

    Returns
    -------
    lx, (N,): sun and sky together. NaN for NaN.

    Examples
    --------
    >>> twilight_lux(np.array([0.0, -6.0, np.nan])).round(1)
    array([758.6,   3.4,   nan])
    """
    figures = table("sky")["seidelmann_1992"]
    starts, terms = np.array(figures["from"]), np.array(figures["terms"])
    altitude = np.clip(altitude_deg, DARK_DEG, 90.0)
    row = np.searchsorted(starts, altitude, side="right") - 1
    powers = (altitude / 90.0)[:, None] ** np.arange(4)
    lux: Floats = 10.0 ** (terms[row] * powers).sum(axis=-1)
    return lux


def perez_1990_lux(
    dni: Floats, dhi: Floats, *, zenith_deg: Floats, extra: Floats, airmass: Floats
) -> tuple[Floats, Floats]:
    """Illuminance from irradiance by the luminous efficacy of Perez et al. 1990.

    Parameters
    ----------
    dni, dhi
        Direct normal and diffuse horizontal irradiance, W/m², (N,).
    zenith_deg
        Zenith angle of the sun, below 90, (N,).
    extra
        Extraterrestrial normal irradiance, W/m², (N,).
    airmass
        Relative optical air mass, (N,).

    Returns
    -------
    Direct normal and diffuse horizontal illuminance, lx, (N,) each. No light gives none; NaN
    for NaN.

    Examples
    --------
    >>> noon = {"zenith_deg": 30.0, "extra": 1361.0, "airmass": 1.15}
    >>> noon = {name: np.array([value]) for name, value in noon.items()}
    >>> [lux.round(-2).tolist() for lux in perez_1990_lux(np.array([850]), np.array([100]), **noon)]
    [[87300.0], [13300.0]]
    """
    figures = table("sky")["perez_1990"]
    z = np.radians(zenith_deg)
    k = 1.041 * z**3
    with np.errstate(divide="ignore", invalid="ignore"):
        clearness = np.where(dhi > 0, ((dhi + dni) / dhi + k) / (1.0 + k), 1.0)
        brightness = np.maximum(dhi * airmass / extra, 1e-6)
    row = np.clip(np.searchsorted(figures["clearness"], clearness, side="right") - 1, 0, 7)
    # Table 4: a + b W + c f(z) + d g(Δ), W the precipitable water.
    a, b, c, d = np.array(figures["direct"])[row].T
    of_direct = a + b * WATER_CM + c * np.exp(5.73 * z - 5.0) + d * brightness
    a, b, c, d = np.array(figures["diffuse"])[row].T
    of_diffuse = a + b * WATER_CM + c * np.cos(z) + d * np.log(brightness)
    return dni * np.maximum(of_direct, 0.0), dhi * np.maximum(of_diffuse, 0.0)


def clear_lux(
    site: Site, unix_s: Floats, altitude_deg: Floats, *, turbidity: float | None
) -> tuple[Floats, Floats]:
    """Illuminance under a cloudless sky: pvlib's Ineichen irradiance by Perez's 1990 efficacy.

    Parameters
    ----------
    site
        The place: its turbidity by month, its height.
    unix_s, altitude_deg
        Moments, seconds since 1970 UTC, and the sun's refracted altitude then, above 0, (N,).
    turbidity
        Linke's; None takes pvlib's map for the month.

    Returns
    -------
    Direct normal and diffuse horizontal illuminance, lx, (N,) each.
    """
    import pandas as pd
    from pvlib import atmosphere, clearsky, irradiance

    times = pd.to_datetime(unix_s, unit="s", utc=True)
    zenith = 90.0 - altitude_deg
    airmass = atmosphere.get_relative_airmass(zenith)
    pressure_pa = 100.0 * pressure_hpa(site.elevation)
    if turbidity is None:
        linke = clearsky.lookup_linke_turbidity(times, site.latitude, site.longitude).to_numpy()
    else:
        linke = turbidity
    extra = np.asarray(irradiance.get_extra_radiation(times), dtype=np.float64)
    clear = clearsky.ineichen(
        zenith,
        atmosphere.get_absolute_airmass(airmass, pressure_pa),
        linke,
        altitude=site.elevation,
        dni_extra=extra,
    )
    return perez_1990_lux(
        clear["dni"], clear["dhi"], zenith_deg=zenith, extra=extra, airmass=airmass
    )


def ies_1984_lux(name: str, altitude_deg: Floats) -> tuple[Floats, Floats]:
    """Illuminance under broken clouds or an overcast sky, IES 1984.

    Parameters
    ----------
    name
        "broken" or "overcast".
    altitude_deg
        The sun's altitude without refraction, above 0, (N,).

    Returns
    -------
    Direct normal and diffuse horizontal illuminance, lx, (N,) each; NaN for NaN.

    Raises
    ------
    KeyError
        For another name.

    Examples
    --------
    >>> [lux.round().tolist() for lux in ies_1984_lux("overcast", np.array([30.0]))]
    [[0.0], [10800.0]]
    """
    figures = table("sky")["ies_1984"]
    sine = np.sin(np.radians(altitude_deg))
    diffuse = figures["horizon"] + figures[name] * sine
    if name == "overcast":
        return np.zeros(len(sine)), diffuse
    return figures["sun"] * np.exp(-figures["broken_extinction"] / sine), diffuse
