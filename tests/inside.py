"""The command run within this process: its output, its message, its exit status.

What a start of Python costs is saved, a second or two each; warnings are errors, as in every test.
Tests of colours, terminals and interruption start processes of their own.
"""

from __future__ import annotations

import contextlib
import contextvars
import io
import os
import signal
import subprocess
import sys
from pathlib import Path
from unittest.mock import patch

from sunplan.cli import main


def command(
    *args: object, cwd: Path | None = None, stdin: str = "", **env: str
) -> subprocess.CompletedProcess[str]:
    """What `sunplan` with these arguments and in this environment does; there is no terminal."""
    told, said = io.StringIO(), io.StringIO()
    given = [str(one) for one in args]

    def called() -> int:
        before = sys.argv, sys.stdin
        sys.argv, sys.stdin = ["sunplan", *given], io.StringIO(stdin)
        try:
            main()
        except SystemExit as ended:
            return ended.code if isinstance(ended.code, int) else int(ended.code is not None)
        finally:
            sys.argv, sys.stdin = before
        return 0

    handler = signal.getsignal(signal.SIGINT)
    try:
        with (
            contextlib.redirect_stdout(told),
            contextlib.redirect_stderr(said),
            contextlib.chdir(Path.cwd() if cwd is None else cwd),
            patch.dict(os.environ, env),
        ):
            status = contextvars.copy_context().run(called)
    finally:
        signal.signal(signal.SIGINT, handler)
    return subprocess.CompletedProcess(
        ["sunplan", *given], status, told.getvalue(), said.getvalue()
    )
