"""Short questions on a terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TypeVar

import typer

from ..errors import InputError
from ..location.messages import shown

Answer = TypeVar("Answer")


def on_a_terminal() -> bool:
    """Whether there is somebody to ask."""
    return sys.stdin.isatty()


def note(text: str) -> None:
    """A word on standard error, to a person there, not to a script."""
    if sys.stderr.isatty():
        print(f"note: {text}", file=sys.stderr)


def ask(question: str, read: Callable[[str], Answer], *, default: str | None = None) -> Answer:
    """What a person answers, asked again until `read` takes it; Enter alone is the default.

    Questions go to standard error. Raises ``InputError`` where the answers end.
    """

    def taken(said: str) -> Answer:
        try:
            return read(said.strip())
        except InputError as error:
            raise typer.BadParameter(f"{shown(said)}: {error}") from None

    try:
        answer: Answer = typer.prompt(
            question, default, value_proc=taken, show_default=bool(default), err=True
        )
    except typer.Abort:
        print(file=sys.stderr)
        raise InputError("no answer; nothing was written") from None
    return answer
