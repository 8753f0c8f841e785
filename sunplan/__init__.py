"""sunplan: what sun and sky will do to every setup, from a floor plan and a date.

What `sunplan.api` offers is at hand here: `sunplan.read`, `sunplan.entry`, `sunplan.gap` …
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .api import Location as Location
    from .api import Result as Result
    from .api import blackout as blackout
    from .api import check as check
    from .api import days as days
    from .api import entry as entry
    from .api import flags as flags
    from .api import gap as gap
    from .api import hours as hours
    from .api import key as key
    from .api import negfill as negfill
    from .api import order as order
    from .api import pack as pack
    from .api import plan as plan
    from .api import read as read

__version__ = "0.1.0"
OFFERED = (
    *("Location", "Result", "check", "blackout", "days", "entry", "flags", "gap", "hours", "key"),
    *("negfill", "order", "pack", "plan", "read"),
)


def __getattr__(name: str) -> Any:
    if name not in OFFERED:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(".api", __name__), name)  # loaded when it is first asked for


def __dir__() -> list[str]:
    return sorted({*globals(), *OFFERED})
