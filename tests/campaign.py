"""How many cases the campaigns of random cases take: fewer in `make test` than in `make thorough`.

Each module says how many; both kinds of run ask each kind of case, and check all that the other
does. THOROUGH=1 in the environment asks for the many.
"""

from __future__ import annotations

import os
from typing import TypeVar

THOROUGH = os.environ.get("THOROUGH", "0") == "1"


Cases = TypeVar("Cases")


def few_or_many(few: Cases, many: Cases) -> Cases:
    """The many where the run is a thorough one."""
    return many if THOROUGH else few
