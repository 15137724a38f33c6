"""From a path to bytes: one read, one hash, and a plain refusal of everything that is no readable file."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Callable
from functools import cache
from pathlib import Path

from printcheck.errors import NO_PERMISSION, InputError
from printcheck.machine import meanwhile

__all__ = ["MAX_FILE_BYTES", "Source", "read_source", "shown"]

MAX_FILE_BYTES = 4 * 1024**3  # 200 megapixels of 16-bit RGBA are 1.6 GB; beyond this nothing can be a page
# hashed beside the decoding: a large uncompressed scan would take a third longer. A JPEG, of which two threads decode
# already, would only take their time unless it is large
_WORTH_A_THREAD, _JPEG_WORTH_A_THREAD = 1024**2, 16 * 1024**2
_JPEG = b"\xff\xd8"

_REFUSALS = {
    errno.ENOENT: "there is no such file: check the name and the folder",
    errno.ENOTDIR: "there is no such file: a part of its path is no folder",
    errno.EACCES: NO_PERMISSION,
    errno.EPERM: NO_PERMISSION,
    errno.ENAMETOOLONG: "the name is too long: give the file a shorter one",
    errno.ELOOP: "the link leads back to itself: name the image file itself",
}


class Source:
    """A file as read.

    Parameters
    ----------
    path : str
        As given; characters that are no valid Unicode are written as escapes, so that it fits UTF-8 output.
    data : bytes
        The whole file, or the part of it that is the image.
    digest : callable
        Gives the SHA-256 of the whole file.
    file : (str, os.stat_result), optional
        Name of the file that `data` is all of, and its status before it was read.
    """

    __slots__ = ("_digest", "_file", "data", "path")

    def __init__(
        self, path: str, data: bytes, digest: Callable[[], str], file: tuple[str, os.stat_result] | None = None
    ) -> None:
        self.path, self.data, self._digest, self._file = path, data, digest, file

    @property
    def sha256(self) -> str:
        """SHA-256 of the file, 64 hexadecimal digits; waits for it where need be."""
        return self._digest()

    def file(self) -> str | None:
        """Name of the file that holds just `data`; none for a part of one, or where it was changed since."""
        if self._file is None:
            return None
        name, before = self._file
        try:
            now = os.stat(name)  # noqa: PTH116 - as in `read_source`
        except OSError:
            return None
        same = all(getattr(now, key) == getattr(before, key) for key in ("st_ino", "st_size", "st_mtime_ns"))
        return name if same else None

    def part(self, data: bytes) -> Source:
        """Return an image embedded in this file, which keeps the file's name and hash."""
        return Source(self.path, data, self._digest)


def shown(path: str | os.PathLike[str]) -> str:
    """`path` as one line of valid Unicode: control characters and undecodable bytes become escapes."""
    text = os.fsdecode(path).encode("utf-8", "backslashreplace").decode("utf-8")
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def read_source(path: str | os.PathLike[str]) -> Source:
    """Read and hash the file at `path`.

    Raises
    ------
    InputError
        Missing, a directory, no regular file (a pipe is never opened, so it can't hang), no permission, empty,
        or larger than `MAX_FILE_BYTES`.
    """
    name = shown(path)
    try:
        status = os.stat(path)  # noqa: PTH116 - Path.stat can't take a name with a null character apart
        if stat.S_ISDIR(status.st_mode):
            raise InputError(f"{name}: this is a folder: name one image file in it")
        if not stat.S_ISREG(status.st_mode):
            raise InputError(f"{name}: this is a pipe or a device, not a file: save the image to a file first")
        if status.st_size > MAX_FILE_BYTES:
            raise InputError(f"{name}: larger than 4 GiB, no scan of one page: scan the page again")
        data = Path(path).read_bytes()
    except OSError as error:
        refusal = _REFUSALS.get(error.errno or 0, f"can't be read ({error.strerror}): copy it to a local folder")
        raise InputError(f"{name}: {refusal}") from None
    except ValueError:  # a null character in the name
        raise InputError(f"{name}: no valid file name: check the name") from None
    except MemoryError:
        raise InputError(f"{name}: too large for this computer's memory: scan at a lower resolution") from None
    if not data:
        raise InputError(f"{name}: the file is empty: scan or copy it again")

    def digest() -> str:
        return hashlib.sha256(data).hexdigest()

    least = _JPEG_WORTH_A_THREAD if data.startswith(_JPEG) else _WORTH_A_THREAD
    beside = meanwhile(digest) if len(data) > least else cache(digest)
    return Source(name, data, beside, (os.fsdecode(path), status))
