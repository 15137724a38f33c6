"""Page sizes. A new size is one row here; everything is placed from its printable box."""

from __future__ import annotations

from dataclasses import dataclass

from printcheck.errors import PatternError

__all__ = ["EDGE_MM", "PAGES", "Page", "page_named"]

EDGE_MM = 12.7  # nothing is printed nearer to a paper edge: half an inch, inside every desktop printer's reach


@dataclass(frozen=True, slots=True)
class Page:
    """A paper size.

    Attributes
    ----------
    name : str
    width_mm, height_mm : float
        Size of the sheet, portrait.
    first_mark : int
        Number of the page's first registration mark; each page has numbers of its own, so the marks tell the
        page.
    """

    name: str
    width_mm: float
    height_mm: float
    first_mark: int


PAGES: dict[str, Page] = {
    page.name: page
    for page in (
        Page("A4", 210.0, 297.0, 0),  # ISO 216
        Page("Letter", 215.9, 279.4, 25),  # ANSI/ASME Y14.1
    )
}


def page_named(name: str) -> Page:
    """Return the page called `name`, in any case; raises `PatternError` for an unknown one."""
    for page in PAGES.values():
        if page.name.lower() == name.lower():
            return page
    raise PatternError(f"page '{name}' is not known; use one of: {', '.join(PAGES)}")
