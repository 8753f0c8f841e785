"""The meter: exposure to lux, cd/m² and stops.

References
----------
.. [1] ISO 2720:1974, Photography: general purpose photographic exposure meters; N²/t = L S / K
   and N²/t = E S / C.
"""

from __future__ import annotations

import math

from ..location.model import Exposure

# [1] leaves 10.6 to 13.4 for K and 240 to 400 for C on a flat receptor; these are the usual ones.
K_REFLECTED = 12.5
C_INCIDENT = 250.0


def exposure_time_s(exposure: Exposure) -> float:
    """Exposure time, s, as given or from shutter angle and frame rate.

    >>> round(1 / exposure_time_s(Exposure(iso=800, stop=2.8)), 1)
    48.0
    >>> exposure_time_s(Exposure(iso=800, stop=2.8, shutter_s=0.02))
    0.02
    """
    if exposure.shutter_s is not None:
        return exposure.shutter_s
    return exposure.shutter / 360.0 / exposure.fps


def grey_cd_m2(exposure: Exposure) -> float:
    """Luminance that comes out as mid-grey, 0 stops, cd/m²: L = K N² / (t S) [1].

    >>> round(grey_cd_m2(Exposure(iso=800, stop=2.8)), 2)
    5.88
    """
    return K_REFLECTED * exposure.stop**2 / (exposure_time_s(exposure) * exposure.iso)


def key_lux(exposure: Exposure) -> float:
    """Incident light that the exposure is set for, a face at key, lx: E = C N² / (t S) [1].

    >>> round(key_lux(Exposure(iso=800, stop=2.8)), 1)
    117.6
    """
    return C_INCIDENT * exposure.stop**2 / (exposure_time_s(exposure) * exposure.iso)


def exposure_value(exposure: Exposure) -> float:
    """Exposure value at ISO 100 of what comes out as mid-grey: log₂(N² / t · 100 / S).

    >>> round(exposure_value(Exposure(iso=100, stop=16, fps=50, shutter=180)), 1)  # sunny 16
    14.6
    """
    return math.log2(exposure.stop**2 / exposure_time_s(exposure) * 100.0 / exposure.iso)


def stops(level: float, reference: float) -> float:
    """Stops by which a level lies over a reference, log₂ of their ratio; −inf for no level.

    >>> stops(4.0, 1.0), stops(0.0, 1.0)
    (2.0, -inf)
    """
    return math.log2(level / reference) if level > 0 else -math.inf
