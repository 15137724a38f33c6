"""Writing a result without ever leaving half of it: beside its place first, then renamed into it."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path

from printcheck.errors import OutputError

__all__ = ["write_aside"]


def write_aside(path: Path, data: bytes) -> None:
    """Write `data` to `path`, replacing what is there only once all of it is on disk.

    Whatever stops the writing (a full disk, an interrupt) leaves the old file as it was, and nothing beside it.

    Raises
    ------
    OutputError
        `path` is no regular file, is write-protected, or its folder can't be written to.
    """
    try:
        target = path.resolve()  # a link stays a link, its target is replaced
        if target.exists() and not target.is_file():
            raise OutputError(f"{path} is a {'folder' if target.is_dir() else 'device'}; name a file to write")
        if target.exists() and not os.access(target, os.W_OK):
            raise OutputError(f"{path} can't be written: it is write-protected; choose another file")
        aside = target.with_name(f".{target.name[:60]}.{secrets.token_hex(6)}.part")
        try:
            # mode "x": never somebody else's file; permissions follow the umask, as for any new file
            with aside.open("xb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            aside.replace(target)
        except BaseException:
            with suppress(OSError):
                aside.unlink(missing_ok=True)
            raise
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        if isinstance(error, FileNotFoundError):
            reason = f"there is no folder {path.parent}"
        else:
            reason = getattr(error, "strerror", None) or str(error)
        raise OutputError(f"{path} can't be written: {reason}; choose another place") from error
