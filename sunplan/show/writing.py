"""Files are written beside their place and renamed: a failed run leaves what was there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import OutputError


@contextmanager
def replace(path: Path) -> Iterator[Path]:
    """A name to write to; it takes the place of `path` when all went well.

    Raises ``OutputError`` where the folder cannot be written.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        os.close(handle)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror}") from None
    beside = Path(name)
    try:
        yield beside
        beside.chmod(0o666 & ~_umask())
        beside.replace(path)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror}") from None
    finally:
        beside.unlink(missing_ok=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
