"""What can go wrong, in one tree.

::

    SunplanError                anything sunplan itself says no to
    ├── InputError              the user's mistake: exit status 2
    │   └── LocationError       mistakes in a location or kit file, all told at once
    └── OutputError             an answer that could not be written: exit status 2

Everything else that is raised is a defect and leaves with exit status 1.
"""

from __future__ import annotations

from contextvars import ContextVar
from dataclasses import dataclass


class SunplanError(Exception):
    """Base of all errors that sunplan raises on purpose."""


class InputError(SunplanError):
    """A mistake in what was asked: what, where, and what would be right."""


class OutputError(SunplanError):
    """An answer could not be written; what was there before is untouched."""


@dataclass(frozen=True)
class Problem:
    """One mistake in a file: the key's path by name, and what is wrong with it.

    >>> str(Problem("location › latitude", "120 is too far"))
    'location › latitude: 120 is too far'
    """

    where: str
    message: str

    def __str__(self) -> str:
        return f"{self.where}: {self.message}" if self.where else self.message


class LocationError(InputError):
    """All mistakes found in one file.

    Parameters
    ----------
    file : str
        Its name, as the messages give it.
    problems : list of Problem
        The mistakes, in the order in which they are told.

    Examples
    --------
    >>> print(LocationError("house.toml", [Problem("location › latitude", "120 is too far")]))
    house.toml: location › latitude: 120 is too far
    """

    def __init__(self, file: str, problems: list[Problem]) -> None:
        self.file = file
        self.problems = tuple(problems)
        super().__init__(file, problems)  # what pickle makes it of again, for other processes

    def __str__(self) -> str:
        return "\n".join(f"{self.file}: {problem}" for problem in self.problems)


in_command: ContextVar[bool] = ContextVar("in_command", default=False)
"""Whether messages call what was asked for by the command's options, or by parameters."""
