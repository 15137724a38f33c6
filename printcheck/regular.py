"""Bytes of a small regular file: named pipes, devices and folders would hang or never end."""

from __future__ import annotations

import stat
from pathlib import Path

from printcheck.errors import InputError

__all__ = ["read_regular", "regular_bytes"]

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
        return regular_bytes(path)
    except ValueError as error:
        raise InputError(f"{path} can't be read: {error}; name {what}") from error


def regular_bytes(path: Path, most: int = _MOST_BYTES) -> bytes:
    """Return all of `path`, `most` bytes of it at the most.

    Raises
    ------
    ValueError
        It can't be read, is no regular file, or is too large; the message says which, as in "it is a folder".
    """
    try:
        mode = path.stat().st_mode
        # a pipe that this process holds open already, as a shell's <(...) gives, ends when its writer does
        if not (stat.S_ISREG(mode) or (stat.S_ISFIFO(mode) and str(path.parent) in _OPEN)):
            raise ValueError(f"it is {'a folder' if stat.S_ISDIR(mode) else 'no regular file'}")
        with path.open("rb") as file:
            data = file.read(most + 1)  # what a file says of its size need not be true
    except OSError as error:
        raise ValueError(error.strerror or str(error)) from error
    if len(data) > most:
        raise ValueError(f"it is too large (over {most // 1000} kB)")
    return data
