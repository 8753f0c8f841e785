"""A busy machine is no failure: no example of hypothesis has a deadline, no thread only spins."""

import os

from hypothesis import settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does

settings.register_profile("patient", deadline=None)
settings.load_profile("patient")
