"""Plain text for a terminal or a mail: lines of even width, and what to do with its cautions."""

from __future__ import annotations

import textwrap

from printcheck.verdict.result import Assessment

__all__ = ["to_do", "wrapped"]

_WIDTH = 96  # characters


def wrapped(text: str, first: str, rest: str) -> list[str]:
    """`text` in lines, the first one after `first`, the others after `rest`."""
    return textwrap.wrap(text, _WIDTH, initial_indent=first, subsequent_indent=rest)


def to_do(assessment: Assessment) -> list[str]:
    """The next steps, and the cautions that go with them."""
    out = ["Next:"] if assessment.next_steps else []
    for number, step in enumerate(assessment.next_steps, 1):
        out += wrapped(step, f"  {number}. ", "     ")
    if assessment.cautions:
        out.append("Take care:")
    for caution in assessment.cautions:
        out += wrapped(caution, "  ! ", "    ")
    return out
