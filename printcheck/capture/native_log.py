"""What the decoders' C libraries say on file descriptor 2, heard instead of printed.

libjpeg, libpng and libtiff fill what they can't decode with grey or black and report that only on the process's
standard error. It is noise to a person and evidence to the reader: a page that was partly invented must not be
measured.
"""

from __future__ import annotations

import os
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO

__all__ = ["NativeLog", "native_log"]

_LOCK = threading.RLock()  # the descriptor is the process's own
_MAX_BYTES = 65536

# In libjpeg's words (jerror.h) a damaged scan, in libtiff's a failed strip, in libpng's a failed chunk
_LOSS = (
    "premature end",
    "Premature end",
    "bad Huffman code",
    "Inconsistent progression sequence",
    "found marker",  # "found marker 0x.. instead of RST.": resynchronised, blocks lost
    "Invalid SOS parameters",
    "Decoding error",
    "Read error",
    "TIFF_Error",
    "libpng error",
    "Unsupported marker",
)
_DOUBT = ("Corrupt JPEG data", "extraneous bytes", "libpng warning: IDAT")


class NativeLog:
    """Text heard while the block ran; empty until it ends."""

    def __init__(self) -> None:
        self.text = ""

    @property
    def data_lost(self) -> bool:
        """True where a library says that pixels are missing and were filled in."""
        return any(sign in self.text for sign in _LOSS)

    @property
    def doubtful(self) -> bool:
        """True where a library met bytes that it could not place, yet every pixel was decoded."""
        return not self.data_lost and any(sign in self.text for sign in _DOUBT)


@contextmanager
def native_log() -> Iterator[NativeLog]:
    """Divert file descriptor 2 into a log for the length of the block.

    Costs two system calls and a temporary file, about 0.1 ms. Where the process has no standard error the block
    runs unheard. Blocks in several threads share one diversion, so that each also hears what the others' decoders
    say while it runs; whoever diverts in a thread must be waited for before anything is told to the user.
    """
    log = NativeLog()
    begun = _HEARD.enter()
    try:
        yield log
    finally:
        log.text = _HEARD.leave(begun)


class _Diversion:
    """The one temporary file that descriptor 2 is diverted into while any block runs."""

    def __init__(self) -> None:
        self._blocks, self._kept = 0, -1
        self._file: IO[bytes] | None = None

    def enter(self) -> int | None:
        """Divert, if nobody has yet; where the file ends now, or none without a standard error."""
        with _LOCK:
            if self._file is None:
                try:
                    self._kept = os.dup(2)
                except OSError:
                    return None
                self._file = tempfile.TemporaryFile()  # noqa: SIM115 - closed by the last to leave
                os.dup2(self._file.fileno(), 2)
            self._blocks += 1
            return os.fstat(self._file.fileno()).st_size

    def leave(self, begun: int | None) -> str:
        """What was said since `begun`; the last to leave gives the descriptor back."""
        with _LOCK:
            if begun is None or self._file is None:
                return ""
            self._file.seek(begun)
            text = self._file.read(_MAX_BYTES).decode("utf-8", "replace")
            self._file.seek(0, os.SEEK_END)  # the descriptor shares its place with 2, which others still write to
            self._blocks -= 1
            if self._blocks == 0:
                os.dup2(self._kept, 2)
                os.close(self._kept)
                self._file.close()
                self._file = None
            return text


_HEARD = _Diversion()
