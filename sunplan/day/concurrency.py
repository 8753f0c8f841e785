"""Work done beside other work: in a process of its own, where there is a second processor."""

from __future__ import annotations

import multiprocessing
import os
import pickle
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Generic, TypeVar

T = TypeVar("T")


class Beside(Generic[T]):
    """Begins a piece of work at once; `result` waits for it.

    The work is done in a copy of this process, so that nothing has to be handed over to it; what it
    gives back is. Where processes cannot be copied, or there is one processor, it is done when its
    result is asked for. What it raises is raised there.
    """

    def __init__(self, work: Callable[[], T]) -> None:
        self._work = work
        self._copy = None
        if "fork" not in multiprocessing.get_all_start_methods() or (os.cpu_count() or 1) < 2:
            return
        context = multiprocessing.get_context("fork")
        self._ear, mouth = context.Pipe(duplex=False)
        self._copy = context.Process(target=_done, args=(work, mouth), daemon=True)
        self._copy.start()
        mouth.close()

    def __enter__(self) -> Beside[T]:
        return self

    def __exit__(self, *_: object) -> None:
        """End it, if something else went wrong meanwhile."""
        if self._copy is not None:
            self._copy.terminate()
            self._copy.join()

    def result(self) -> T:
        """What the work gives."""
        if self._copy is None:
            return self._work()
        try:
            found = pickle.loads(self._ear.recv_bytes())
        except EOFError:  # it was killed
            return self._work()
        finally:
            self._copy.join()
        if isinstance(found, BaseException):
            raise found
        answer: T = found
        return answer


def _done(work: Callable[[], object], mouth: Connection) -> None:
    found: object
    try:
        found = work()
    except BaseException as error:  # whatever it is, it belongs where the result is asked for
        found = error
    mouth.send_bytes(pickle.dumps(found))
