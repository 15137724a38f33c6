"""Bytes of a small regular file: named pipes, devices and folders would hang or never end."""

from __future__ import annotations

import stat
from pathlib import Path

from printcheck.errors import InputError

__all__ = ["read_regular"]

_OPEN = ("/dev/fd", "/proc/self/fd")
_MOST_BYTES = 20_000_000  # a hundred times the largest table of values or settings


def read_regular(path: Path, what: str) -> bytes:
    """Return all of `path`; `what` says in refusals what to name instead.

    Raises
    ------
    InputError
        It can't be read, is no regular file, or is too large.
    """
    try:
        mode = path.stat().st_mode
        # a pipe that this process holds open already, as a shell's <(...) gives, ends when its writer does
        if not (stat.S_ISREG(mode) or (stat.S_ISFIFO(mode) and str(path.parent) in _OPEN)):
            kind = "a folder" if path.is_dir() else "no regular file"
            raise InputError(f"{path} can't be read: it is {kind}; name {what}")
        with path.open("rb") as file:
            data = file.read(_MOST_BYTES + 1)  # what a file says of its size need not be true
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"{path} can't be read: {reason}; name {what}") from error
    if len(data) > _MOST_BYTES:
        raise InputError(f"{path} is too large (over {_MOST_BYTES // 10**6} MB); name {what}")
    return data
