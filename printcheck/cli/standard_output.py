"""Standard output that takes no more: a full disk behind it is told, a reader that has gone away is not."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from contextlib import suppress

from printcheck.errors import ExitCode, OutputError

__all__ = ["refused_output"]


def refused_output(error: OSError) -> OutputError | SystemExit | None:
    """What ends the program where `error` is standard output's; none where it is another's.

    Standard output leads nowhere afterwards: what is left in its buffer would be a second fault when Python ends.
    """
    frames = traceback.extract_tb(error.__traceback__)
    if not frames or frames[-1].name != "echo":  # through which everything is printed, and which opens no file
        return None
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if error.errno == errno.EPIPE:  # as `| head` ends it, which has what it wanted
        return SystemExit(int(ExitCode.OUTPUT))
    return OutputError(f"standard output can't be written: {error.strerror or error}; send it to another place")
