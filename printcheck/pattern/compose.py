"""Where everything lies on the sheet of an ink head.

All positions are whole dots of the head's raster, handed out as mm. From the top: a head line with text and
code, the first printing of every ink's dash ladder, overprints, the ladders again, a solid and a mid-tone of each
ink side by side, wedges, a foot with the second code, hairlines and text; run-off strips down the right side; marks
down both sides.

The solids and mid-tones are as tall as the page has room for, two swaths of the tallest ink wherever that can be
had: in anything shorter the rows of the head, each a little stronger or weaker, can't be told from a band. A
mid-tone shows ten times of a band what a solid of drops that overlap does, so it gets the greater width.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from printcheck.errors import PatternError
from printcheck.geometry import Box
from printcheck.pattern.code import INKJET_LAYOUT
from printcheck.pattern.elements import Code, Hairline, Ladder, Paper, Patch, Text
from printcheck.pattern.heads import Head, HeadInk
from printcheck.pattern.inks import INKS
from printcheck.pattern.layout import CODE_SIDE_MM, CODE_STAGGER_MM, WEDGE_TONES, Layout
from printcheck.pattern.marks import mark_side_dots, place_marks
from printcheck.pattern.pages import EDGE_MM, Page
from printcheck.units import dots_to_mm

__all__ = ["MID_TONE", "Composer", "Plan", "batched", "column_order", "compose_ink", "first_that_fits"]

MID_TONE = 0.5

_DASH_SPACING_MM = 0.48  # least distance of dashes in a column: 2.8 pixels at 150 dots/inch
_DASH_MIN_MM = {"Y": 12.0}  # yellow needs the longest average; the others below
_DASH_MIN_OTHER_MM = 8.0
_DASH_GAP_MM = 0.5  # bare paper between the ends of neighbouring dashes
_GAP_MM = 3.0  # between bands: a label and bare paper to measure against
_STRIP_MM, _STRIP_GAP_MM = 2.4, 1.2
_MARK_CLEAR_MM = 2.4  # quiet zone of a mark: two of its modules
_OVERPRINT_MM, _WEDGE_MM = 8.0, 4.6
_TALLEST_MM = 72.0  # of solids and mid-tones: four swaths of the common heads; more costs ink and tells little
_SOLID_SHARE = 0.4  # of the width of a solid and its mid-tone
_PAIR_MM = 100.0  # widest: a head of one ink would soak the paper
_BETWEEN_MM = 2.4  # bare paper between these, wide enough to be measured against
_LABEL_MM = 1.9
_LABEL_ROOM_MM, _SHORT_LABEL_ROOM_MM = 34.0, 12.0  # what the labels of a wide and of a narrow band may take


@lru_cache(maxsize=64)
def column_order(columns: int) -> tuple[int, ...]:
    """Which column each of `columns` successive rows goes to.

    Rows that are neighbours in the head must lie far apart on paper, and the dashes must not climb in even steps.
    Found by backtracking: the first order in which neighbours (the wrap to the next group included) are at least
    a third of the columns apart, next-but-one neighbours do not touch, and no step is taken twice running; the
    demands are loosened one at a time where a small number of columns can't meet them.
    """
    for apart, second, repeat_ok in itertools.product(range(columns // 3, 0, -1), (2, 1), (False, True)):
        found = _search_order((0,), columns, apart, second, repeat_ok)
        if found is not None:
            return found
    return tuple(range(columns))


def _search_order(
    head: tuple[int, ...], columns: int, apart: int, second: int, repeat_ok: bool
) -> tuple[int, ...] | None:
    def allowed(order: Sequence[int]) -> bool:
        steps = [b - a for a, b in itertools.pairwise(order)]
        if any(abs(step) < apart for step in steps[-2:]):
            return False
        if any(abs(order[k] - order[k + 2]) < second for k in range(max(0, len(order) - 4), len(order) - 2)):
            return False
        return repeat_ok or all(a != b for a, b in itertools.pairwise(steps[-3:]))

    if len(head) == columns:
        return head if allowed((*head, *head[:2])) else None
    for column in range(columns):
        if column not in head and allowed((*head, column)):
            found = _search_order((*head, column), columns, apart, second, repeat_ok)
            if found is not None:
                return found
    return None


@dataclass(frozen=True, slots=True)
class Plan:
    """How many inks stand side by side in each kind of band, and the least height of solids and mid-tones.

    Attributes
    ----------
    ladders, wedges : int
        Inks in a row.
    swaths : float
        Least height of the solids and mid-tones, in heights of the tallest ink.
    """

    ladders: int
    wedges: int
    swaths: float


# long dashes first, then tall mid-tones, then long wedges
_PLANS = (
    Plan(1, 1, 2.0), Plan(1, 2, 2.0), Plan(1, 2, 1.0), Plan(1, 4, 1.0),
    Plan(2, 2, 2.0), Plan(2, 4, 2.0), Plan(2, 2, 1.0), Plan(2, 4, 1.0),
)  # fmt: skip


def compose_ink(head: Head, page: Page) -> Layout:
    """Lay out the sheet of an ink head; raises `PatternError` where its ladders don't fit the page."""
    return first_that_fits(Composer(head, page, plan) for plan in _PLANS)


def first_that_fits(composers: Iterable[Composer]) -> Layout:
    """Return the layout of the first plan that the page has room for; raises `PatternError` where it has for none."""
    for composer in composers:
        layout = composer.compose()
        if layout is not None:
            return layout
    head = composer.head
    tallest = max(head.inks, key=lambda ink: ink.swath_mm)
    raise PatternError(
        f"head '{head.name}' does not fit {composer.page.name}: {len(head.inks)} inks, {tallest.ink} alone "
        f"{tallest.swath_mm:.0f} mm tall, need more room; split the inks over two head files"
    )


class Composer:
    """Places bands from the top down, in dots; one use."""

    version = INKJET_LAYOUT

    def __init__(self, head: Head, page: Page, plan: Plan) -> None:
        self.head, self.page, self.plan = head, page, plan
        self.raster = head.raster
        self.marks = place_marks(page, self.raster, head.paints)
        self.ladders: list[Ladder] = []
        self.patches: list[Patch] = []
        self.papers: list[Paper] = []
        self.hairlines: list[Hairline] = []
        self.texts: list[Text] = []
        side = mark_side_dots(self.raster)
        self.edge = -(-int(EDGE_MM * self.raster * 1000 / 25.4) // 1000)
        self.x0 = self.edge + side + self.d(_MARK_CLEAR_MM)
        self.right = int((page.width_mm - EDGE_MM) * self.raster / 25.4) - side - self.d(_MARK_CLEAR_MM)
        self.x1 = self.right - len(head.inks) * self.d(_STRIP_MM + _STRIP_GAP_MM)
        self.gap = self.d(_GAP_MM)

    def d(self, mm: float) -> int:
        """Whole dots nearest to `mm`."""
        return round(mm * self.raster / 25.4)

    def box(self, x0: int, y0: int, x1: int, y1: int) -> Box:
        return Box(*(dots_to_mm(v, self.raster) for v in (x0, y0, x1, y1)))

    def compose(self) -> Layout | None:
        code = self.d(CODE_SIDE_MM)
        foot = self.edge + self.d(CODE_STAGGER_MM[self.page.name])
        codes = (
            Code(self.box(self.right - code, self.edge, self.right, self.edge + code), self.head.paints[0]),
            Code(self.box(self.x0, foot, self.x0 + code, foot + code), self.head.paints[-1]),
        )
        top = self.edge + code + self.d(1.0)
        bottom = foot - self.d(2.0)
        if not self.place_bands(top, bottom) or not self.dashes_long_enough():
            return None
        self.place_strips(top + self.gap, bottom)
        self.place_foot(self.x0 + code + self.d(4.0), foot)
        self.place_head()
        width = round(self.page.width_mm * self.raster / 25.4)
        height = round(self.page.height_mm * self.raster / 25.4)
        return Layout(
            self.version,
            self.head,
            self.page,
            self.raster,
            dots_to_mm(width, self.raster),
            dots_to_mm(height, self.raster),
            self.marks,
            codes,
            tuple(self.ladders),
            tuple(self.patches),
            tuple(self.papers),
            tuple(self.hairlines),
            tuple(self.texts),
        )

    def place_bands(self, top: int, bottom: int) -> bool:
        """Place all that lies between the head and the foot; False where there is no room."""
        y = self.place_overprints(self.place_ladders(top, None))
        y = self.place_ladders(y, tuple(self.ladders))
        rows = -(-len(self.head.inks) // self.plan.wedges)
        left = bottom - rows * (self.gap + self.d(_WEDGE_MM))
        height = self.height_within(y + self.gap, left)
        if height is None:
            return False
        return self.place_wedges(self.place_solids(y, height)) <= bottom

    def label(self, x: int, band_top: int, text: str) -> None:
        """Put a label in the gap above a band."""
        baseline = band_top - self.d(0.8)
        self.texts.append(Text(dots_to_mm(x, self.raster), dots_to_mm(baseline, self.raster), _LABEL_MM, text))

    def paper(self, near: str, x0: int, y0: int, x1: int, y1: int) -> None:
        """Keep bare paper, 0.4 mm clear of what surrounds it."""
        clear = self.d(0.4)
        self.papers.append(Paper(near, self.box(x0 + clear, y0 + clear, x1 - clear, y1 - clear)))

    def head_band(self, near: str, x0: int, x1: int, band_top: int, text: str, short: str) -> None:
        """Use the gap above a band: its label, in a narrow band the short one, and bare paper right of that."""
        narrow = x1 - x0 < self.d(_LABEL_ROOM_MM + 2.0)
        self.label(x0, band_top, short if narrow else text)
        left = x0 + self.d(_SHORT_LABEL_ROOM_MM if narrow else _LABEL_ROOM_MM)
        self.paper(near, left, band_top - self.gap, x1, band_top)

    def spans(
        self, count: int, weights: Sequence[float] | None = None, between: int | None = None
    ) -> list[tuple[int, int]]:
        """Return the content's width shared out among `count` neighbours, a gap between them."""
        weights = weights or [1.0] * count
        between = self.d(2.0) if between is None else between
        room = self.x1 - self.x0 - between * (count - 1)
        out, x = [], self.x0
        for weight in weights:
            width = int(room * weight / sum(weights))
            out.append((x, x + width))
            x += width + between
        return out

    # -- bands -----------------------------------------------------------------------------------------------

    def columns_of(self, ink: HeadInk) -> int:
        return -(-round(_DASH_SPACING_MM * 1000) // round(ink.pitch_mm * 1000))

    def place_ladders(self, y: int, before: tuple[Ladder, ...] | None) -> int:
        """One printing of every ladder; the next ones whole swaths below their first."""
        repeat = 0 if before is None else 1
        for group in batched(self.head.inks, self.plan.ladders):
            y += self.gap
            weights = [self.columns_of(ink) * (_dash_min(ink.ink) + _DASH_GAP_MM) for ink in group]
            bottom = y
            for ink, (x0, x1) in zip(group, self.spans(len(group), weights), strict=True):
                row = self.raster // ink.rows_per_inch
                height = ink.rows * row
                top = -(-y // row) * row  # on the grid of printed rows, which starts at the page's top edge
                if before is not None:
                    at = next(round(p.box.y0 * self.raster / 25.4) for p in before if p.ink == ink.ink)
                    top = at + -(-(y - at) // height) * height  # whole swaths further down
                self.ladders.append(self.ladder(ink, repeat, x0, x1, top))
                word, nth = INKS[ink.ink].word, "first" if repeat == 0 else "second"
                self.head_band(f"ladder-{ink.ink}-{repeat}", x0, x1, top, f"{word} rows, {nth} printing", word)
                bottom = max(bottom, top + height)
            y = bottom
        return y

    def ladder(self, ink: HeadInk, repeat: int, x0: int, x1: int, top: int) -> Ladder:
        count = self.columns_of(ink)
        pitch = (x1 - x0 + self.d(_DASH_GAP_MM)) // count
        dash = pitch - self.d(_DASH_GAP_MM)
        columns = tuple(
            (dots_to_mm(x0 + k * pitch, self.raster), dots_to_mm(x0 + k * pitch + dash, self.raster))
            for k in range(count)
        )
        bottom = top + ink.rows * (self.raster // ink.rows_per_inch)
        box = self.box(x0, top, x0 + (count - 1) * pitch + dash, bottom)
        return Ladder(ink.ink, repeat, ink.rows, ink.pitch_mm, box, columns, column_order(count))

    def dashes_long_enough(self) -> bool:
        return all(x1 - x0 >= _dash_min(lad.ink) for lad in self.ladders for x0, x1 in lad.columns)

    def overprints(self) -> list[tuple[str, ...]]:
        """Every pair of colours, and all three where no black ink is there that a driver would print instead."""
        colours = [ink.ink for ink in self.head.inks if ink.ink != "K"]
        mixed: list[tuple[str, ...]] = list(itertools.combinations(colours, 2))
        return [*mixed, tuple(colours)] if len(colours) == 3 == len(self.head.inks) else mixed

    def place_overprints(self, y: int) -> int:
        """Place the overprints of every pair of colours, and of all three; nothing where there are no two colours."""
        pairs = self.overprints()
        if not pairs:
            return y
        y += self.gap
        bottom = y + self.d(_OVERPRINT_MM)
        self.head_band("overprints", self.x0, self.x1, y, "overprints", "")
        for inks, (x0, x1) in zip(pairs, self.spans(len(pairs)), strict=True):
            self.patches.append(Patch("overprint", inks, 1.0, self.box(x0, y, x1, bottom)))
        return bottom

    def height_within(self, y: int, bottom: int) -> int | None:
        """Height of the solids and mid-tones between `y` and `bottom`; none where that is under the plan's least."""
        tallest = max(ink.rows * (self.raster // ink.rows_per_inch) for ink in self.head.inks)
        height = min(bottom - y, max(self.d(_TALLEST_MM), tallest))
        return height if height >= self.plan.swaths * tallest else None

    def place_solids(self, y: int, height: int) -> int:
        """Place a solid and a mid-tone of each ink, all of them side by side, bare paper between."""
        y += self.gap
        bottom = y + height
        between = self.d(_BETWEEN_MM)
        for ink, (x0, end) in zip(self.head.inks, self.spans(len(self.head.inks), between=between), strict=True):
            x1 = min(end, x0 + self.d(_PAIR_MM))
            x = x0 + round((x1 - x0 - between) * _SOLID_SHARE)
            self.patches.append(Patch("solid", (ink.ink,), 1.0, self.box(x0, y, x, bottom)))
            self.patches.append(Patch("tint", (ink.ink,), MID_TONE, self.box(x + between, y, x1, bottom)))
            word = INKS[ink.ink].word
            self.head_band(f"solid-{ink.ink}", x0, end, y, f"{word} solid, mid-tone", word)
            self.paper(f"solid-{ink.ink}", x, y, x + between, bottom)
            if x1 + between <= self.x1:
                self.paper(f"tint-{ink.ink}", x1, y, x1 + between, bottom)
        return bottom

    def place_wedges(self, y: int) -> int:
        """Place a stepped wedge of each ink, light to solid; steps touch, so a missing step can't be missed."""
        for group in batched(self.head.inks, self.plan.wedges):
            y += self.gap
            bottom = y + self.d(_WEDGE_MM)
            for ink, (x0, x1) in zip(group, self.spans(len(group)), strict=True):
                step = (x1 - x0) // len(WEDGE_TONES)
                word = INKS[ink.ink].word
                self.head_band(f"wedge-{ink.ink}", x0, x1, y, f"{word} steps", word)
                for number, tone in enumerate(WEDGE_TONES):
                    left = x0 + number * step
                    self.patches.append(Patch("wedge", (ink.ink,), tone, self.box(left, y, left + step, bottom)))
            y = bottom
        return y

    def place_strips(self, top: int, bottom: int) -> None:
        """Place the run-off strip of each ink, down the page; bare paper to the left of each."""
        width, gap = self.d(_STRIP_MM), self.d(_STRIP_GAP_MM)
        for number, ink in enumerate(self.head.inks):
            x = self.x1 + number * (width + gap) + gap
            self.patches.append(Patch("strip", (ink.ink,), 1.0, self.box(x, top, x + width, bottom)))
            clear = self.d(0.3)
            self.papers.append(Paper(f"strip-{ink.ink}", self.box(x - gap + clear, top, x - clear, bottom)))

    def place_foot(self, x0: int, y: int) -> None:
        """Place hairlines in both directions in each ink, and a line of text, right of the lower code."""
        dot = max(1, round(self.raster / 600))
        names = [ink.ink for ink in self.head.inks]
        width = (self.right - x0) // len(names)
        for number, name in enumerate(names):
            left = x0 + number * width
            for k, thick in enumerate((1, 2, 3)):
                at = y + self.d(2.0) + k * self.d(2.6)
                self.hairlines.append(
                    Hairline((name,), "x", self.box(left, at, left + self.d(12.0), at + thick * dot))
                )
                across = left + self.d(14.0) + k * self.d(2.6)
                self.hairlines.append(
                    Hairline(
                        (name,),
                        "y",
                        self.box(across, y + self.d(1.0), across + thick * dot, y + self.d(9.0)),
                    )
                )
        mm = dots_to_mm(x0, self.raster)
        line = dots_to_mm(y, self.raster)
        self.texts.append(
            Text(mm, line + 14.4, 3.2, "Five wizards quickly jumped over a box of grey violets. 0123456789")
        )
        self.texts.append(
            Text(
                mm,
                line + 19.0,
                2.2,
                "This sheet is read by printcheck. Keep both codes and most of the squares in the picture.",
            )
        )

    def place_head(self) -> None:
        """Place the title and plain instructions, left of the upper code."""
        x = dots_to_mm(self.x0, self.raster)
        y = dots_to_mm(self.edge, self.raster)
        self.texts.append(Text(x, y + 5.0, 5.0, "Cartridge test sheet", bold=True))
        self.texts.append(Text(x, y + 11.6, 2.5, f"{self.head.title} ({self.head.name}), {self.page.name}"))
        for k, line in enumerate(
            (
                "Print at 100 %, no scaling or fitting, on plain paper, normal or draft quality, colours unadjusted.",
                "Let it dry a minute. Scan flat at 300 or 600 dots/inch in colour, or photograph it whole and sharp,",
                "straight from above in even light. Do not write over anything printed.",
            )
        ):
            self.texts.append(Text(x, y + 14.9 + 2.9 * k, 2.3, line))


def batched(inks: tuple[HeadInk, ...], size: int) -> list[tuple[HeadInk, ...]]:
    """Return `inks` in groups of `size`, the last one maybe smaller."""
    return [inks[k : k + size] for k in range(0, len(inks), size)]


def _dash_min(ink: str) -> float:
    return _DASH_MIN_MM.get(ink, _DASH_MIN_OTHER_MM)
