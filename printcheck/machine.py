"""What the machine has to offer."""

from __future__ import annotations

import multiprocessing
import os
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from typing import TypeVar

__all__ = ["cores", "has_idle_core", "meanwhile", "one_core", "short_turns"]

T = TypeVar("T")

_TURN_S = 2e-4  # a thread keeps the interpreter for: twice a typical call into OpenCV; saves 5 % of a score


def cores() -> int:
    """Count the cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


_ONE_CORE = ContextVar("one_core", default=False)


def has_idle_core() -> bool:
    """True where a second thread finds a core of its own; workers of a batch have taken all of them already."""
    return multiprocessing.parent_process() is None and not _ONE_CORE.get() and cores() > 1


@contextmanager
def one_core() -> Iterator[None]:
    """Leave all other cores to others, as a worker of a batch does."""
    before = _ONE_CORE.set(True)
    try:
        yield
    finally:
        _ONE_CORE.reset(before)


@contextmanager
def short_turns() -> Iterator[None]:
    """Let threads take shorter turns: two that each make hundreds of short calls wait for one another after each.

    Nothing changes where there is no idle core, nor after it.
    """
    before = sys.getswitchinterval()
    if has_idle_core():
        sys.setswitchinterval(min(before, _TURN_S))
    try:
        yield
    finally:
        sys.setswitchinterval(before)


def meanwhile(work: Callable[[], T]) -> Callable[[], T]:
    """Start `work` in a thread, where a core would else be idle; the returned function waits for what it gives.

    Without an idle core `work` is done when its result is first asked for. What it raises is raised there.
    """
    if not has_idle_core():
        return cache(work)
    pool = ThreadPoolExecutor(max_workers=1)
    future = pool.submit(work)
    pool.shutdown(wait=False)
    return future.result
