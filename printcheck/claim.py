"""Claims on a piece of work among several programs: a lock of the operating system on a file of its own.

The system lets go of the lock when its holder ends, however it ends, so that a killed program leaves no claim behind;
the empty file it may leave means nothing.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from printcheck.errors import OutputError

__all__ = ["claimed"]


@contextmanager
def claimed(path: Path) -> Iterator[bool]:
    """Claim what the file `path` stands for; gives False at once where another program holds the claim.

    Whoever gets the claim must look whether the work is done already: it may have been given back just now.

    Raises
    ------
    OutputError
        The file can't be made.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise OutputError(f"{path} can't be written: {error.strerror or error}; make its folder writable") from error
    try:
        if not _lock(file) or not _still(path, file):
            yield False
            return
        try:
            yield True
        finally:
            with suppress(OSError):  # some systems keep a file that is open: then it stays, empty
                path.unlink()
    finally:
        os.close(file)


def _still(path: Path, file: int) -> bool:
    """Tell whether the locked file is the one by that name, and not one whose holder has just put it away."""
    try:
        return os.path.samestat(path.stat(), os.fstat(file))
    except OSError:
        return False


def _lock(file: int) -> bool:
    """Lock an open file unless another has; the lock lasts until the file is closed."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
