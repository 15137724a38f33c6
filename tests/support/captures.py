"""The first page of a file, for tests that have but one."""

from __future__ import annotations

import os
from typing import Any

from printcheck.capture.decode import read_captures
from printcheck.capture.result import Capture


def read_capture(path: str | os.PathLike[str], **options: Any) -> Capture:
    return next(iter(read_captures(path, **options)))
