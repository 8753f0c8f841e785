"""`python -m sunplan`."""

from .cli import main

main()
