"""The one import of OpenCV that explains itself.

The ordinary wheel links the windowing libraries, which a bare server or container lacks; the import then fails
with the name of a shared object that tells a bench technician nothing.
"""

from __future__ import annotations

from functools import cache
from types import ModuleType

from printcheck.errors import PrintcheckError

__all__ = ["cv"]

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
        reason = str(error).strip().split("\n", 1)[0]
        if any(library in reason for library in _SYSTEM_LIBRARIES):
            raise PrintcheckError(
                f"OpenCV can't start ({reason}): install the system libraries (Debian, Ubuntu: apt-get install "
                "libgl1 libglib2.0-0), or replace the package: pip uninstall opencv-python; "
                "pip install opencv-python-headless"
            ) from None
        raise PrintcheckError(f"OpenCV can't be loaded ({reason}): pip install opencv-python") from None
    return cv2
