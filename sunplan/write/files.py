"""Files are written beside their place and renamed: a failed run leaves what was there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import InputError, OutputError

PICTURES = (".png", ".svg")


def check_free(path: Path, *, force: bool) -> None:
    """``InputError`` where a new file would replace another, unless forced, or has no folder."""
    if path.is_dir():
        raise InputError(f"{path}: is a folder; expected a file to write")
    if path.exists() and not force:
        raise InputError(f"{path}: exists already; give another name, or --force to replace it")
    if not path.parent.is_dir():
        raise InputError(f"{path}: there is no folder {path.parent}; make it first")


def check_picture(path: Path) -> None:
    """``InputError`` where a name is no picture's."""
    if path.suffix.lower() not in PICTURES:
        raise InputError(f"{path}: a drawing's name must end in {' or '.join(PICTURES)}")


@contextmanager
def replace(path: Path) -> Iterator[Path]:
    """A name to write to; it takes the place of `path` when all went well.

    It keeps that one's permissions. Raises ``OutputError`` where the folder cannot be written, or
    the file may not.
    """
    mode = path.stat().st_mode & 0o777 if path.is_file() else 0o666 & ~_umask()
    if not mode & 0o200:
        raise OutputError(f"{path}: cannot be written: it is read-only")
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        os.close(handle)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror}") from None
    beside = Path(name)
    try:
        yield beside
        beside.chmod(mode)
        beside.replace(path)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written: {error.strerror}") from None
    finally:
        beside.unlink(missing_ok=True)


def put(path: Path, content: str | bytes) -> None:
    """Write a file, all or nothing; text as UTF-8 with its line ends as they are.

    Raises ``OutputError`` as `replace` does.
    """
    with replace(path) as beside:
        beside.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
