"""What lies where on the page: one head kind, one page and one version of the arrangement make one layout.

The arrangements themselves stand in modules of their own: `compose` (ink heads), `compose_first` (ink heads as they
were first laid out: sheets printed then are still read) and `toner`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from printcheck.geometry import Box
from printcheck.pattern.code import FIRST_INKJET_LAYOUT, INKJET_LAYOUT
from printcheck.pattern.elements import Code, Hairline, Ladder, Mark, Paper, Patch, Text
from printcheck.pattern.heads import Head
from printcheck.pattern.pages import Page

__all__ = ["CODE_SIDE_MM", "CODE_STAGGER_MM", "WEDGE_TONES", "Layout", "build_layout"]

CODE_SIDE_MM = 21.0
WEDGE_TONES = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)
CODE_STAGGER_MM = {"A4": 237.6, "Letter": 220.2}
"""Distance between the two codes: about half a swath past a whole number of swaths for heads of 17.6 and 25.4 mm,
so that a band of dead nozzles can't cut both in the same place."""


@dataclass(frozen=True, slots=True)
class Layout:
    """A sheet as data.

    Attributes
    ----------
    version : int
    head : Head
    page : Page
    raster : int
        Dots per inch the sheet is composed at.
    width_mm, height_mm : float
        The page in whole dots.
    marks, codes, ladders, patches, papers, hairlines, texts : tuple
        The elements, in the order they are placed.
    ticket_box : Box or None
        Room for ticket, date and name; right of the upper middle mark where it is none.
    """

    version: int
    head: Head
    page: Page
    raster: int
    width_mm: float
    height_mm: float
    marks: tuple[Mark, ...]
    codes: tuple[Code, ...]
    ladders: tuple[Ladder, ...]
    patches: tuple[Patch, ...]
    papers: tuple[Paper, ...]
    hairlines: tuple[Hairline, ...]
    texts: tuple[Text, ...]
    ticket_box: Box | None = None

    def ladders_of(self, ink: str) -> tuple[Ladder, ...]:
        """Return the printings of one ink's ladder, from the top."""
        return tuple(ladder for ladder in self.ladders if ladder.ink == ink)

    def patches_of(self, kind: str, *inks: str) -> tuple[Patch, ...]:
        """Return the patches of one kind; with `inks`, those of just these inks."""
        return tuple(p for p in self.patches if p.kind == kind and (not inks or p.inks == inks))


@lru_cache(maxsize=32)
def build_layout(head: Head, page: Page, version: int = INKJET_LAYOUT) -> Layout:
    """Lay out `head` on `page`, as `version` of the ink sheets has it; a toner sheet has one only.

    Raises
    ------
    PatternError
        The head's ladders don't fit the page.
    """
    # each makes a `Layout`
    from printcheck.pattern.compose import compose_ink
    from printcheck.pattern.compose_first import compose_ink_first
    from printcheck.pattern.toner import compose_toner

    if head.toner:
        return compose_toner(head, page)
    return compose_ink_first(head, page) if version == FIRST_INKJET_LAYOUT else compose_ink(head, page)
