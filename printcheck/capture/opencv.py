"""OpenCV that can't start, explained.

The ordinary wheel links the windowing libraries, which a bare server or container lacks; the import then fails
with the name of a shared object that tells a bench technician nothing. Modules that only compute import ``cv2``
plainly: whichever comes first, the command line asks here what its failure means.
"""

from __future__ import annotations

import os
from functools import cache
from types import ModuleType
from typing import TYPE_CHECKING, Any

from printcheck.errors import PrintcheckError

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["cv", "cv_refusal", "decoded_file"]

_SYSTEM_LIBRARIES = ("libGL", "libEGL", "libglib", "libgthread", "libSM", "libXext", "libxcb", "libX11")


@cache
def cv() -> ModuleType:
    """OpenCV, or a refusal that says how to install what it lacks.

    Returns
    -------
    module
        ``cv2``. Later ``import cv2`` statements anywhere in the program then succeed too.

    Raises
    ------
    PrintcheckError
        The library or one of the system libraries it links is absent.
    """
    try:
        import cv2
    except ImportError as error:
        raise cv_refusal(error) or error from None
    return cv2


def decoded_file(path: str, flags: int) -> NDArray[Any] | None:
    """Pixels of the image file at `path`; none where OpenCV can't open or read it.

    They are decoded straight into an array of NumPy's, for which Linux sets large pages of memory aside. Decoding
    bytes (``imdecode``) takes a third longer at 12 megapixels, for memory that comes in small pages and a copy of it.
    """
    try:
        path.encode()  # OpenCV takes names as UTF-8, and does not survive others
    except UnicodeEncodeError:
        return None
    if not path.isascii() and os.name != "posix":  # and Windows does not open UTF-8
        return None
    pixels: NDArray[Any] | None = cv().imread(path, dst=None, flags=flags)
    return pixels


def cv_refusal(error: ImportError) -> PrintcheckError | None:
    """What a failed import means to the user, with the remedy; none where it was not OpenCV's."""
    reason = str(error).strip().split("\n", 1)[0]
    if any(library in reason for library in _SYSTEM_LIBRARIES):
        return PrintcheckError(
            f"OpenCV can't start ({reason}): install the system libraries (Debian, Ubuntu: apt-get install "
            "libgl1 libglib2.0-0), or replace the package: pip uninstall opencv-python; "
            "pip install opencv-python-headless"
        )
    if error.name == "cv2" or "cv2" in reason:
        return PrintcheckError(f"OpenCV can't be loaded ({reason}): pip install opencv-python")
    return None
