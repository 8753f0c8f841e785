"""Work done beside other work: its result, what it raises, and workers that die."""

from __future__ import annotations

import json
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from sunplan.day import concurrency
from sunplan.day.concurrency import StartMethod, Workers
from sunplan.errors import InputError, in_command

METHODS: tuple[StartMethod, ...] = ("fork", "spawn")


@pytest.fixture(params=METHODS)
def method(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> StartMethod:
    """Each way to start workers, that other systems than Linux have too."""
    if request.param not in multiprocessing.get_all_start_methods():
        pytest.skip(f"no {request.param} here")
    monkeypatch.setattr(concurrency, "start_method", lambda: request.param)
    chosen: StartMethod = request.param
    return chosen


def own_process(seconds: float) -> int:
    time.sleep(seconds)
    return os.getpid()


def of_a_command() -> bool:
    return in_command.get()


def wrong() -> None:
    raise InputError("no such thing")


def done_by(first: int) -> str:
    """Killed in any process but the first."""
    if os.getpid() != first:
        os.kill(os.getpid(), signal.SIGKILL)
    return "done here"


def touch_late(late: Path) -> None:
    late.with_name("begun").touch()
    time.sleep(2.0)
    late.touch()


@pytest.mark.usefixtures("method")
def test_it_is_done_by_other_processes() -> None:
    with Workers(2) as workers:
        tasks = [workers.start(own_process, 0.5) for _ in range(2)]
        assert os.getpid() not in [task.result() for task in tasks]
    with Workers(2) as workers:
        # Each holds one worker for long enough that the other has to take the other task.
        tasks = [workers.start(own_process, 3.0) for _ in range(2)]
        assert len({os.getpid(), *(task.result() for task in tasks)}) == 3


@pytest.mark.usefixtures("method")
def test_what_it_raises_is_raised_where_it_is_asked_for() -> None:
    with Workers(1) as workers:
        task = workers.start(wrong)
        with pytest.raises(InputError, match="no such thing"):
            task.result()


@pytest.mark.usefixtures("method")
def test_messages_are_those_of_the_command() -> None:
    token = in_command.set(True)
    try:
        with Workers(1) as workers:
            assert workers.start(of_a_command).result()
    finally:
        in_command.reset(token)
    with Workers(1) as workers:
        assert not workers.start(of_a_command).result()


@pytest.mark.usefixtures("method")
def test_a_worker_that_dies_is_made_up_for() -> None:
    with Workers(1) as workers:
        assert workers.start(done_by, os.getpid()).result() == "done here"


def test_one_processor_does_it_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(concurrency.os, "cpu_count", lambda: 1)
    with Workers(1) as workers:
        assert workers.start(os.getpid).result() == os.getpid()


def test_a_script_is_not_run_again_where_processes_cannot_be_copied(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(concurrency.os, "cpu_count", lambda: 2)
    monkeypatch.setattr(concurrency.platform, "system", lambda: "Windows")
    assert concurrency.start_method() is None
    token = in_command.set(True)
    try:
        assert concurrency.start_method() == "spawn"
    finally:
        in_command.reset(token)


@pytest.mark.usefixtures("method")
def test_it_ends_where_something_else_goes_wrong(tmp_path: Path) -> None:
    """No worker goes on writing into a folder that is given up."""
    late = tmp_path / "late"

    def begun_and_wrong(workers: Workers) -> None:
        workers.start(touch_late, late)
        until(late.with_name("begun").exists)
        raise InputError("the sheet")

    with pytest.raises(InputError), Workers(1) as workers:
        begun_and_wrong(workers)
    time.sleep(2.5)
    assert not late.exists()


PARENT = """
import os, time
from sunplan.day import concurrency
from test_concurrency import own_process

if __name__ == "__main__":
    concurrency.start_method = lambda: "{method}"
    with concurrency.Workers(2) as workers:
        first, other = (workers.start(own_process, 0.5) for _ in range(2))
        print(first.result(), other.result(), flush=True)
        workers.start(own_process, 60.0)
        time.sleep(60.0)
"""


def test_workers_end_with_a_killed_parent(method: StartMethod, tmp_path: Path) -> None:
    """One of them at work, one waiting for more."""
    script = tmp_path / "parent.py"
    script.write_text(PARENT.format(method=method))
    paths = os.pathsep.join([str(Path(__file__).parent), str(Path(__file__).parent.parent)])
    with subprocess.Popen(
        [sys.executable, script],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": paths},
    ) as parent:
        assert parent.stdout is not None
        workers = [int(word) for word in parent.stdout.readline().split()]
        assert len(workers) == 2
        assert all(map(alive, workers))
        parent.kill()
    until(lambda: not any(map(alive, workers)))


def alive(process: int) -> bool:
    """Whether a process runs; not one that ended and that nobody has asked after yet."""
    try:
        status = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return status not in "ZX"


def until(holds: Callable[[], bool], seconds: float = 120.0) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.mark.skipif("fork" not in multiprocessing.get_all_start_methods(), reason="no fork here")
def test_a_plan_is_the_same_however_workers_are_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Folder and all, byte by byte."""
    import places  # not above: what a spawned worker imports with this file stays little

    from sunplan.day.plan import plan
    from sunplan.write import folder

    raw = places.bare()
    location = places.made(raw, tmp_path)
    written = {}
    for name in METHODS:
        monkeypatch.setattr(concurrency, "start_method", lambda name=name: name)
        out = tmp_path / str(name)
        folder.write(plan(location, date(2027, 3, 20)), out)
        written[name] = {one.name: one.read_bytes() for one in out.iterdir()}
    assert json.loads(written["spawn"]["plan.json"])["made_by"] == "sunplan"
    assert len(written["spawn"]) >= 8
    assert written["spawn"] == written["fork"]
