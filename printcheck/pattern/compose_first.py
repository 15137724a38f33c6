"""The sheet of an ink head as it was first laid out: mid-tones in a low band, solids one swath tall.

Nothing prints it any more; sheets printed before are still read.
"""

from __future__ import annotations

from dataclasses import dataclass

from printcheck.pattern.code import FIRST_INKJET_LAYOUT
from printcheck.pattern.compose import MID_TONE, Composer, Plan, batched, first_that_fits
from printcheck.pattern.elements import Patch
from printcheck.pattern.heads import Head
from printcheck.pattern.inks import INKS
from printcheck.pattern.layout import Layout
from printcheck.pattern.pages import Page

__all__ = ["compose_ink_first"]

_TINT_MM = 8.0


@dataclass(frozen=True, slots=True)
class _Plan(Plan):
    solids: int = 1


_PLANS = (
    _Plan(1, 1, 1.0, 1), _Plan(1, 2, 1.0, 2), _Plan(1, 2, 1.0, 4),
    _Plan(2, 2, 1.0, 2), _Plan(2, 2, 1.0, 4), _Plan(2, 4, 1.0, 4),
)  # fmt: skip


def compose_ink_first(head: Head, page: Page) -> Layout:
    """Lay out `head` on `page`; raises `PatternError` where its ladders don't fit the page."""
    return first_that_fits(_FirstComposer(head, page, plan) for plan in _PLANS)


class _FirstComposer(Composer):
    version = FIRST_INKJET_LAYOUT

    def __init__(self, head: Head, page: Page, plan: _Plan) -> None:
        super().__init__(head, page, plan)
        self.solids_in_a_row = plan.solids

    def place_bands(self, top: int, bottom: int) -> bool:
        y = self.place_tints(self.place_ladders(top, None))
        y = self.place_ladders(y, tuple(self.ladders))
        return self.place_wedges(self.place_swaths(y)) <= bottom

    def place_tints(self, y: int) -> int:
        """Place a mid-tone of each ink, and the overprints of every pair of colours, and of all three."""
        y += self.gap
        names = [ink.ink for ink in self.head.inks]
        colours = [name for name in names if name != "K"]
        paints: list[tuple[str, tuple[str, ...], float]] = [("tint", (name,), MID_TONE) for name in names]
        paints += [("overprint", inks, 1.0) for inks in self.overprints()]
        bottom = y + self.d(_TINT_MM)
        self.head_band("tints", self.x0, self.x1, y, "mid-tones, overprints" if colours else "mid-tone", "")
        for (kind, inks, tone), (x0, x1) in zip(paints, self.spans(len(paints)), strict=True):
            self.patches.append(Patch(kind, inks, tone, self.box(x0, y, x1, bottom)))
        return bottom

    def place_swaths(self, y: int) -> int:
        """Place a solid of each ink, one swath tall."""
        for group in batched(self.head.inks, self.solids_in_a_row):
            y += self.gap
            bottom = y
            for ink, (x0, x1) in zip(group, self.spans(len(group)), strict=True):
                row = self.raster // ink.rows_per_inch
                top = -(-y // row) * row
                end = top + ink.rows * row
                self.patches.append(Patch("solid", (ink.ink,), 1.0, self.box(x0, top, x1, end)))
                word = INKS[ink.ink].word
                self.head_band(f"solid-{ink.ink}", x0, x1, top, f"{word} solid", word)
                bottom = max(bottom, end)
            y = bottom
        return y
