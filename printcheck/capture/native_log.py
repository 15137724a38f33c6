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

__all__ = ["NativeLog", "native_log"]

_LOCK = threading.RLock()  # the descriptor is the process's own: one listener at a time
_MAX_BYTES = 65536

# In libjpeg's words (jerror.h) a damaged scan, in libtiff's a failed strip, in libpng's a failed chunk
_LOSS = (
    "premature end",
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
    runs unheard.
    """
    log = NativeLog()
    with _LOCK, tempfile.TemporaryFile() as heard:
        try:
            kept = os.dup(2)
        except OSError:
            yield log
            return
        try:
            os.dup2(heard.fileno(), 2)
            try:
                yield log
            finally:
                os.dup2(kept, 2)
        finally:
            os.close(kept)
        heard.seek(0)
        log.text = heard.read(_MAX_BYTES).decode("utf-8", "replace")
