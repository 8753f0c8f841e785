"""Numbers as a crew says them."""

from __future__ import annotations

import math
import shlex
from collections.abc import Sequence
from datetime import date

from ..location.read import Location
from ..location.tolerances import lengths
from ..room.interval import Span
from ..room.patch_position import PatchPosition
from .document import Moment, Quantity, Text, text

POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def between(span: Span | None, zone: str, day: date | None = None) -> str:
    """From when to when, by the clock.

    >>> between((1767225600.0, 1767229200.0), "UTC"), between(None, "UTC")
    ('00:00 – 01:00', 'never')
    """
    return "never" if span is None else " – ".join(f"{Moment(end, zone, day)}" for end in span)


def signed(value: float, digits: int = 1) -> str:
    """Number with its sign, a true minus.

    >>> signed(2.34), signed(-0.5), signed(-0.01), signed(-math.inf)
    ('+2.3', '−0.5', '0.0', '−∞')
    """
    if math.isinf(value):
        return "+∞" if value > 0 else "−∞"
    text = f"{value:+.{digits}f}"
    return f"{0:.{digits}f}" if float(text) == 0 else text.replace("-", "−")


def over(value: float, than: str = "") -> str:
    """Stops above or below something, never a bare sign.

    >>> over(4.3, "key"), over(-2.2), over(0.04, "its look"), over(math.inf)
    ('4.3 over key', '2.2 under', 'at its look', '∞ over')
    """
    stops = signed(value)
    if stops == "0.0":
        return f"at {than}" if than else "even"
    side = "over" if value > 0 else "under"
    return f"{stops[1:]} {side}" + (f" {than}" if than else "")


def band(low: float, high: float, than: str = "") -> str:
    """From where to where in stops, never a bare sign.

    >>> band(-2.0, -1.0, "mid-grey"), band(0.0, 1.0), band(-0.5, 0.5, "key")
    ('1 to 2 under mid-grey', '0 to 1 over', '0.5 under to 0.5 over key')
    """
    behind = f" {than}" if than else ""
    ends = (f"{abs(end):g}" for end in (low, high))
    if low < 0.0 < high:
        return " under to ".join(ends) + f" over{behind}"
    first, last = ends if low >= 0.0 else reversed([*ends])
    return f"{first} to {last} {'over' if low >= 0.0 else 'under'}{behind}"


def spread(ends_stops: tuple[float, float], than: str = "") -> str:
    """From where to where to a tenth of a stop, or where.

    >>> spread((-1.21, 0.5), "key"), spread((2.01, 1.99), "key"), spread((-11.8, -8.53))
    ('1.2 under to 0.5 over key', '2.0 over key', '8.5 to 11.8 under')
    """
    low, high = sorted(round(stops, 1) for stops in ends_stops)
    return over(low, than) if low == high else band(low, high, than)


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


def coordinates(latitude_deg: float, longitude_deg: float) -> str:
    """A spot on the earth with its letters, to a hand's breadth.

    >>> coordinates(-23.55, -46.636)
    '23.55° S, 46.636° W'
    """
    north, east = "S" if latitude_deg < 0 else "N", "W" if longitude_deg < 0 else "E"
    return ", ".join(
        f"{abs(degrees):.6f}".rstrip("0").rstrip(".") + f"° {letter}"
        for degrees, letter in ((latitude_deg, north), (longitude_deg, east))
    )


def bearing(degrees: float) -> str:
    """Bearing with its nearest point of the compass.

    >>> bearing(192.3)
    '192° S'
    """
    whole = round(degrees) % 360
    return f"{whole}° {POINTS[round(degrees / 45.0) % 8]}"


def about(metres: float) -> Quantity:
    """Length as a crew paces it out: to the decimetre, or the half inch.

    >>> print(about(1.27).render("m"), about(1.27).render("ft"))
    1.3 m 4'2"
    """
    return Quantity(metres, "about")


def by(width_m: float, height_m: float) -> Text:
    """Width by height.

    >>> print(by(2.6, 1.7).render("m"), by(0.9144, 1.2192).render("ft"))
    2.60 × 1.70 m 3'0" × 4'0"
    """
    return text(Quantity(width_m, "side"), " × ", Quantity(height_m))


def outdoors(names: Sequence[str]) -> list[str]:
    """A line for setups that are not counted because they stand outdoors, if there are any.

    >>> outdoors(["the quay"]), outdoors([])
    (['not counted, outdoors: the quay; see hours'], [])
    """
    return [f"not counted, outdoors: {', '.join(names)}; see hours"] if names else []


def titled(location: Location, day: date) -> str:
    """The place and the date that a document is of."""
    return f"{location.site.name}, {day:%A} {day.isoformat()}, local time ({location.timezone})"


def left_open(location: Location) -> str:
    """What of a location may be off, in words; nothing where all is taken as it is."""
    site = location.site
    bearing = [f"plan_up ±{site.plan_up_error:g}°"] if site.plan_up_error else []
    return " and ".join(bearing + ["the lengths' own ±"] * bool(lengths(location)))


def lies(landing: PatchPosition | None) -> Text:
    """Where a patch lies.

    >>> lies(PatchPosition("floor", in_from="A", distance_m=1.2)).render("m")
    'floor, 1.2 m in from wall A'
    >>> lies(None).render("m")
    '—'
    """
    if landing is None:
        return text("—")
    if landing.distance_m is not None:
        return text("floor, ", about(landing.distance_m), f" in from wall {landing.in_from}")
    assert landing.height_m is not None
    return text(f"wall {landing.surface} at ", about(landing.height_m))


def surfaces(first: PatchPosition | None, last: PatchPosition | None) -> str:
    """From what to what a patch goes.

    >>> surfaces(PatchPosition("C", height_m=1.2), PatchPosition("floor", in_from="A"))
    'wall C → floor'
    >>> surfaces(PatchPosition("C", height_m=1.2), PatchPosition("C", height_m=0.4))
    'wall C'
    """
    ways = ("—" if it is None else _surface(it) for it in (first, last))
    return " → ".join(dict.fromkeys(ways))


def _surface(landing: PatchPosition) -> str:
    return landing.surface if landing.height_m is None else f"wall {landing.surface}"


def moves(first: PatchPosition | None, last: PatchPosition | None) -> Text:
    """From where to where a patch goes.

    >>> moves(PatchPosition("C", height_m=1.2), PatchPosition("C", height_m=0.4)).render("m")
    'wall C, 1.2 m → 0.4 m up'
    """
    if first is not None and last is not None and first.surface == last.surface:
        if first.height_m is not None and last.height_m is not None:
            ways = text(about(first.height_m), " → ", about(last.height_m))
            return text(f"wall {first.surface}, ", ways, " up")
        if first.in_from == last.in_from and first.distance_m is not None:
            assert last.distance_m is not None
            ways = text(about(first.distance_m), " → ", about(last.distance_m))
            return text("floor, ", ways, f" in from wall {first.in_from}")
    return text(lies(first), " → ", lies(last))


def quoted(text: str) -> str:
    """A word as a shell takes it; double quotes, which all shells know, where they do.

    >>> print(quoted("a house.toml"), quoted("house.toml"))
    "a house.toml" house.toml
    """
    if shlex.quote(text) == text or any(sign in text for sign in '"$`\\!'):
        return shlex.quote(text)
    return f'"{text}"'
