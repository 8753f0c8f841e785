"""Which weather the odds of sun come from: words and JSON."""

from __future__ import annotations

from ..day.sun_odds import SUNSHINE_W_M2, WITHIN_DAYS, Odds
from .answers import Answer, fields
from .words import bearing

FAR_M = 100e3  # farther than this, weather is another; common practice, no source
NOT_KNOWN = "Odds of sun are not known: --weather-file FILE (EPW or TMY3) adds them."


def lines(odds: Odds | None) -> list[str]:
    """Where the odds come from and what they mean, for people; None: there are none."""
    if odds is None:
        return [NOT_KNOWN]
    first, last = odds.years
    months = f"{first}" if first == last else f"{first} to {last}"
    far = f", MORE THAN {FAR_M / 1000:g} km: its weather may be another" * (odds.distance_m > FAR_M)
    if odds.latitude_deg * odds.location.site.latitude < 0:
        far += "; IN THE OTHER HALF OF THE EARTH: its seasons are turned round"
    return [
        f"weather: {odds.file} ({odds.kind}), a typical year of months from {months}, station "
        f"{odds.distance_m / 1000:.0f} km off toward {bearing(odds.bearing_deg)}{far}",
        f"odds of sun: share of days within {WITHIN_DAYS} days of the date on which the sun shines "
        f"(over {SUNSHINE_W_M2:g} W/m², WMO)",
    ]


def answer(odds: Odds | None) -> Answer | None:
    """Where the odds come from and what they mean; None: there are none."""
    if odds is None:
        return None
    return {
        **fields(odds, "file", "kind", "years"),
        "station": {
            "latitude": odds.latitude_deg,
            "longitude": odds.longitude_deg,
            "distance_m": odds.distance_m,
            "bearing_deg": odds.bearing_deg,
        },
        "sun_over_w_m2": SUNSHINE_W_M2,
        "within_days": WITHIN_DAYS,
    }
