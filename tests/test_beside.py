"""Work done beside other work: its result, what it raises, and a copy that dies."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pytest

from sunplan.day import concurrency
from sunplan.day.concurrency import Beside
from sunplan.errors import InputError


def test_it_is_done_by_another_process() -> None:
    one, other = Beside(os.getpid), Beside(os.getpid)
    assert len({os.getpid(), one.result(), other.result()}) == 3


def test_what_it_raises_is_raised_where_it_is_asked_for() -> None:
    def wrong() -> None:
        raise InputError("no such thing")

    work = Beside(wrong)
    with pytest.raises(InputError, match="no such thing"):
        work.result()


def test_a_copy_that_dies_is_made_up_for() -> None:
    first = os.getpid()

    def once() -> str:
        if os.getpid() != first:
            os.kill(os.getpid(), signal.SIGKILL)
        return "done here"

    assert Beside(once).result() == "done here"


def test_one_processor_does_it_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(concurrency.os, "cpu_count", lambda: 1)
    assert Beside(os.getpid).result() == os.getpid()


def test_it_ends_where_something_else_goes_wrong(tmp_path: Path) -> None:
    """No copy goes on writing into a folder that is given up."""
    late = tmp_path / "late"

    def work() -> None:
        time.sleep(2.0)
        late.touch()

    with pytest.raises(InputError), Beside(work):
        raise InputError("the sheet")
    time.sleep(2.5)
    assert not late.exists()
