"""Numbers as a crew says them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from ..location.lengths import Units, format_length
from ..location.read import Location
from ..location.tolerances import lengths
from ..room.patch_position import Landing
from ..sun.calendar import to_local

POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def clock(moment_s: float | None, timezone: str, day: date | None = None) -> str:
    """Clock time to the minute; "+1" behind one that falls on another date.

    >>> clock(1767225600.0, "Europe/Amsterdam"), clock(None, "UTC")
    ('01:00', '—')
    """
    if moment_s is None:
        return "—"
    local = to_local(round(moment_s / 60.0) * 60.0, timezone)
    ahead = 0 if day is None else (local.date() - day).days
    return f"{local:%H:%M}" + (f" {ahead:+d} d".replace("-", "−") if ahead else "")


def signed(value: float, digits: int = 1) -> str:
    """Number with its sign, a true minus.

    >>> signed(2.34), signed(-0.5), signed(-0.01), signed(-math.inf)
    ('+2.3', '−0.5', '0.0', '−∞')
    """
    if math.isinf(value):
        return "+∞" if value > 0 else "−∞"
    text = f"{value:+.{digits}f}"
    return f"{0:.{digits}f}" if float(text) == 0 else text.replace("-", "−")


def ratio(value: float) -> str:
    """A contrast ratio.

    >>> ratio(4.03), ratio(math.inf)
    ('4.0', '∞')
    """
    return "∞" if math.isinf(value) else f"{value:.1f}"


def percent(share: float) -> str:
    """A share that a lamp is dimmed to; few lamps go lower than a hundredth.

    >>> percent(0.029), percent(0.0008)
    ('2.9 %', 'under 1 %')
    """
    return "under 1 %" if share < 0.01 else f"{100 * share:.2g} %"


def bearing(degrees: float) -> str:
    """Bearing with its nearest point of the compass.

    >>> bearing(192.3)
    '192° S'
    """
    whole = round(degrees) % 360
    return f"{whole}° {POINTS[round(degrees / 45.0) % 8]}"


def plus_minus(moment_s: float, range_s: tuple[float, float]) -> str:
    """How far a moment may move, in minutes; nothing where it may not.

    >>> plus_minus(1000.0, (400.0, 1660.0)), plus_minus(1000.0, (880.0, 2200.0))
    (' ±11', ' −2 +20')
    >>> plus_minus(1000.0, (1000.0, 1000.0))
    ''
    """
    less, more = (round(abs(moment_s - end) / 60.0) for end in range_s)
    if abs(less - more) <= 2:
        return f" ±{max(less, more)}" if max(less, more) else ""
    return f" −{less} +{more}"


def about(metres: float, units: Units) -> str:
    """Length as a crew paces it out: to the decimetre, or the half inch.

    >>> print(about(1.27, "m"), about(1.27, "ft"))
    1.3 m 4'2"
    """
    return f"{metres:.1f} m".replace("-", "−") if units == "m" else format_length(metres, units)


def by(width_m: float, height_m: float, units: Units) -> str:
    """Width by height.

    >>> print(by(2.6, 1.7, "m"), by(0.9144, 1.2192, "ft"))
    2.60 × 1.70 m 3'0" × 4'0"
    """
    width, height = format_length(width_m, units), format_length(height_m, units)
    return f"{width.removesuffix(' m')} × {height}"


def outdoors(names: Sequence[str]) -> list[str]:
    """A line for setups that are not counted because they stand outdoors, if there are any.

    >>> outdoors(["the quay"]), outdoors([])
    (['not counted, outdoors: the quay; see hours'], [])
    """
    return [f"not counted, outdoors: {', '.join(names)}; see hours"] if names else []


def left_open(location: Location) -> str:
    """What of a location may be off, in words; nothing where all is taken as it is."""
    site = location.site
    bearing = [f"plan_up ±{site.plan_up_error:g}°"] if site.plan_up_error else []
    return " and ".join(bearing + ["the lengths' own ±"] * bool(lengths(location)))


def lies(landing: Landing | None, units: Units) -> str:
    """Where a patch lies.

    >>> lies(Landing("floor", in_from="A", distance_m=1.2), "m"), lies(None, "m")
    ('floor, 1.2 m in from wall A', '—')
    """
    if landing is None:
        return "—"
    if landing.distance_m is not None:
        return f"floor, {about(landing.distance_m, units)} in from wall {landing.in_from}"
    assert landing.height_m is not None
    return f"wall {landing.surface} at {about(landing.height_m, units)}"


def moves(first: Landing | None, last: Landing | None, units: Units) -> str:
    """From where to where a patch goes.

    >>> moves(Landing("C", height_m=1.2), Landing("C", height_m=0.4), "m")
    'wall C, 1.2 m → 0.4 m up'
    """
    if first is not None and last is not None and first.surface == last.surface:
        if first.height_m is not None and last.height_m is not None:
            start, end = about(first.height_m, units), about(last.height_m, units)
            return f"wall {first.surface}, {start} → {end} up"
        if first.in_from == last.in_from and first.distance_m is not None:
            assert last.distance_m is not None
            start, end = about(first.distance_m, units), about(last.distance_m, units)
            return f"floor, {start} → {end} in from wall {first.in_from}"
    return f"{lies(first, units)} → {lies(last, units)}"
