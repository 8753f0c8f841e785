"""What wind does to a flag outdoors."""

from __future__ import annotations

AIR_KG_M3 = 1.225  # at the sea and 15 °C; ISO 2533 standard atmosphere
DRAG = 1.2  # of a flat plate square to the wind, sides of 1:1 to 1:4; handbook values 1.1 to 1.2
MPH_M_S = 0.44704
LIGHT_MPH, FRESH_MPH = 10.0, 20.0  # what a plan tells of


def force_n(area_m2: float, speed_m_s: float) -> float:
    """Push of wind square on a flat area, N: the drag formula, ½ ρ v² c A.

    >>> round(force_n(1.4864, 10 * MPH_M_S))  # a 4x4 flag at 10 mph
    22
    """
    return 0.5 * AIR_KG_M3 * speed_m_s**2 * DRAG * area_m2
