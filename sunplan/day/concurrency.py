"""Work done beside other work: by worker processes, where there is a second processor."""

from __future__ import annotations

import multiprocessing
import os
import platform
import signal
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from typing import Any, Generic, Literal, TypeVar

from ..errors import in_command

T = TypeVar("T")
StartMethod = Literal["fork", "spawn"]


def start_method() -> StartMethod | None:
    """How worker processes are started; None where all work is done in this one.

    Linux forks: spawned workers import the package anew, which is 3 of 18 s of CPU time of the
    lock-keeper's plan. Elsewhere they are spawned, but not for a library's user: a script whose
    work does not stand under ``if __name__ == "__main__"`` would be run again by each.
    """
    if (os.cpu_count() or 1) < 2:
        return None
    if platform.system() == "Linux":
        return "fork"
    return "spawn" if in_command.get() else None


@dataclass(frozen=True)
class Task(Generic[T]):
    """A call that was handed to a worker; without one it is made when its result is asked for."""

    function: Callable[..., T]
    arguments: tuple[Any, ...]
    future: Future[T] | None

    def result(self) -> T:
        """What the call gives, or raises; made here if its worker was killed.

        >>> Task(divmod, (7, 2), None).result()
        (3, 1)
        """
        if self.future is not None:
            try:
                return self.future.result()
            except BrokenProcessPool:
                pass
        return self.function(*self.arguments)


class Workers:
    """Worker processes, ended with the block: at once if something went wrong in it.

    Parameters
    ----------
    count : int
        How many tasks may run at once.

    Examples
    --------
    >>> with Workers(1) as workers:
    ...     task = workers.start(divmod, 7, 2)
    ...     task.result()
    (3, 1)
    """

    def __init__(self, count: int) -> None:
        method = start_method()
        self._processes: list[BaseProcess] = []
        self._pool: ProcessPoolExecutor | None = None
        if method is not None:
            self._pool = ProcessPoolExecutor(
                count,
                mp_context=multiprocessing.get_context(method),
                initializer=_begin,
                initargs=(in_command.get(),),
            )

    def start(self, function: Callable[..., T], *arguments: Any) -> Task[T]:
        """Begin a call.

        Parameters
        ----------
        function, *arguments
            The call; they and what it gives must be what pickle can carry.
        """
        if self._pool is None:
            return Task(function, arguments, None)
        before = multiprocessing.active_children()
        future = self._pool.submit(function, *arguments)
        self._processes += [
            process for process in multiprocessing.active_children() if process not in before
        ]
        return Task(function, arguments, future)

    def __enter__(self) -> Workers:
        return self

    def __exit__(self, error: type[BaseException] | None, *_: object) -> None:
        if error is not None:
            for process in self._processes:
                process.terminate()
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)


def _begin(of_a_command: bool) -> None:
    """In a worker: messages as in the command, interrupts left to it, and gone when it is gone."""
    in_command.set(of_a_command)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    assert parent is not None

    def end_with_parent() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=end_with_parent, daemon=True).start()
