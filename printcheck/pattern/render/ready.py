"""The ready-made sheets as PDF: every head that ships on every page, without ticket, and pages of control strips.

``python -m printcheck.pattern.render.ready patterns`` writes them anew. PDF alone, since it is what a shop prints
from: PNG of the same sheets is one command away and would hold nothing more.
"""

from __future__ import annotations

import sys
from pathlib import Path

from printcheck.pattern.control_strip import control_strip_page, make_control_strips
from printcheck.pattern.heads import builtin_heads, load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import PAGES
from printcheck.pattern.render import write_sheet
from printcheck.pattern.sheet import Sheet, make_sheet

__all__ = ["ready_sheets", "write_ready_sheets"]


def ready_sheets() -> dict[str, Sheet]:
    """File name, ``HEAD-PAGE.pdf`` or ``strip-PAGE.pdf``, and sheet of each."""
    sheets = {
        f"{head}-{page}.pdf": make_sheet(build_layout(load_head(head), PAGES[page]))
        for head in builtin_heads(None)
        for page in PAGES
    }
    strips = {
        f"strip-{name}.pdf": make_control_strips(control_strip_page(page), "READY") for name, page in PAGES.items()
    }
    return {**sheets, **strips}


def write_ready_sheets(folder: Path) -> list[Path]:
    """Write every ready-made sheet into `folder`; returns the files. Raises `OutputError`."""
    written = []
    for name, sheet in ready_sheets().items():
        write_sheet(sheet, folder / name)
        written.append(folder / name)
    return written


if __name__ == "__main__":
    write_ready_sheets(Path(sys.argv[1] if len(sys.argv) > 1 else "patterns"))
