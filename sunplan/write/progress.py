"""A line of progress on long work; none where nobody sees it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn


@contextmanager
def progress(steps: int) -> Iterator[Callable[[str], None]]:
    """A function that shows what is being worked on, and how much of the steps is done."""
    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda _: None
        return
    columns = (BarColumn(bar_width=24), TextColumn("{task.description}", markup=False))
    with Progress(*columns, console=console, transient=True) as bar:
        task, done = bar.add_task("", total=steps), count()
        yield lambda step: bar.update(task, description=step, completed=next(done))
