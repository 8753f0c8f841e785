"""Every run is the same run: on one date, hypothesis with the same examples, without a deadline.

A busy machine is no failure, and no thread only spins.
"""

import os

from hypothesis import settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does

# Commands that tests start keep their byte code, as installed ones do.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# 2026-12-01 12:00 UTC, for this process and every command that a test starts.
os.environ["SOURCE_DATE_EPOCH"] = "1796126400"

settings.register_profile("patient", deadline=None, derandomize=True)
settings.load_profile("patient")
