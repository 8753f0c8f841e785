"""A busy machine is no failure: no example of hypothesis has a deadline."""

from hypothesis import settings

settings.register_profile("patient", deadline=None)
settings.load_profile("patient")
