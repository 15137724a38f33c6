"""What the machine has to offer."""

from __future__ import annotations

import os

__all__ = ["cores"]


def cores() -> int:
    """Count the cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
