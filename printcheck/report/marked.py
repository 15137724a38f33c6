"""The page with its marks and the row numbers in its margins; no words beyond those."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from printcheck.capture.result import Capture
from printcheck.geometry import Box
from printcheck.measure.evenness_result import Evenness
from printcheck.measure.result import LinesReading
from printcheck.measure.toner_result import TonerReading
from printcheck.pattern.elements import Ladder
from printcheck.pattern.layout import Layout
from printcheck.register.result import Registration
from printcheck.report.callouts import Callout, callouts_of
from printcheck.report.canvas import Canvas, text_width
from printcheck.report.evenness_marks import Note, draw_evenness, notes_of, notes_width
from printcheck.report.findings import findings_of
from printcheck.report.palette import RULE, STATE, Rgb
from printcheck.report.picture import flattened
from printcheck.report.shapes import draw_absent, draw_state
from printcheck.report.toner_marks import draw_toner
from printcheck.report.words import ink_word

__all__ = ["PageFrame", "PagePlan", "draw_page", "plan_page"]

_INSET_MM = 6.0  # cut off all around: printers leave 12.7 mm bare
_LABEL_MM = 2.3  # letters of the row numbers
_LINE_MM = 3.0
_OVERHANG_MM = 7.0  # how far row numbers may run beyond their ladder
_ELBOW_MM = 5.0  # between the page and its row numbers
_WORDS_MM = 2.5  # between the page, or its row numbers, and words on what is uneven
_LEADER: Rgb = (236, 168, 120)  # the colour of missing, lighter


@dataclass(frozen=True, slots=True)
class PageFrame:
    """Where the page lies on a picture.

    Attributes
    ----------
    box : Box
        The part of the page that is shown, mm.
    x, y : int
        Its top-left corner on the picture, px.
    scale : float
        px a mm.
    """

    box: Box
    x: int
    y: int
    scale: float

    def to_px(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Place on the picture of a place on the page; pixel k covers k to k + 1."""
        return self.x + (x_mm - self.box.x0) * self.scale, self.y + (y_mm - self.box.y0) * self.scale

    def box_px(self, box: Box) -> Box:
        """The same for a box."""
        return Box(*self.to_px(box.x0, box.y0), *self.to_px(box.x1, box.y1))


@dataclass(frozen=True, slots=True)
class PagePlan:
    """A marked page laid out but not drawn.

    Attributes
    ----------
    layout : Layout
    lines : tuple of LinesReading
    box : Box
        The part of the page that is shown, mm.
    scale : float
        px a mm.
    left, right : tuple of Callout
        Row numbers in the margins.
    left_px, right_px, width_px, height_px : int
        Widths of the margins; size of it all.
    toner : TonerReading or None
        What a toner sheet gave.
    evenness : Evenness or None
        What is uneven about an ink sheet.
    notes : tuple of Note
        Words on that for the right margin.
    """

    layout: Layout
    lines: tuple[LinesReading, ...]
    box: Box
    scale: float
    left: tuple[Callout, ...]
    right: tuple[Callout, ...]
    left_px: int
    right_px: int
    width_px: int
    height_px: int
    toner: TonerReading | None = None
    evenness: Evenness | None = None
    notes: tuple[Note, ...] = ()

    def frame(self, x: int, y: int) -> PageFrame:
        """Where the page lies when the whole is drawn with its corner at (x, y)."""
        return PageFrame(self.box, x + self.left_px, y, self.scale)


def plan_page(
    layout: Layout,
    lines: tuple[LinesReading, ...],
    scale: float,
    toner: TonerReading | None = None,
    evenness: Evenness | None = None,
) -> PagePlan:
    """Lay out the page and its margins at `scale` px a mm."""
    box = Box(0, 0, layout.width_mm, layout.height_mm).inset(_INSET_MM)
    sides: dict[bool, list[Ladder]] = {True: [], False: []}
    for ladder in layout.ladders:
        sides[not _has_left_neighbour(ladder, layout)].append(ladder)
    left, right = (tuple(_callouts(sides[side], lines, left=side)) for side in (True, False))
    left_px, right_px = _margin(left, scale), _margin(right, scale)
    width, height = round(box.width * scale), round(box.height * scale)
    notes = notes_of(evenness, layout)
    whole = left_px + width + right_px + notes_width(notes, scale)
    return PagePlan(layout, lines, box, scale, left, right, left_px, right_px, whole, height, toner, evenness, notes)


def draw_page(canvas: Canvas, plan: PagePlan, capture: Capture, registration: Registration, x: int, y: int) -> None:
    """Draw the page with its corner, margins included, at (x, y)."""
    frame = plan.frame(x, y)
    s = plan.scale
    page = flattened(capture, registration, plan.box, s)
    canvas.paste(page, frame.x, frame.y)
    edge = Box(frame.x, frame.y, frame.x + page.shape[1], frame.y + page.shape[0])
    canvas.line(list(edge.corners), RULE, 1, closed=True)
    for callouts, is_left in ((plan.left, True), (plan.right, False)):
        for callout in callouts:
            _draw_callout(canvas, callout, frame, edge, left=is_left)
    if plan.evenness is not None:
        words = edge.x1 + plan.right_px + _WORDS_MM * s
        draw_evenness(canvas, plan.evenness, plan.layout, plan.notes, frame.to_px, s, words)
    if plan.toner is not None:
        draw_toner(canvas, plan.toner, frame.to_px, s, plan.layout.width_mm)
    for reading in plan.lines:
        if reading.absent:
            for ladder in plan.layout.ladders_of(reading.ink):
                draw_absent(canvas, frame.box_px(ladder.box), s, f"{ink_word(reading.ink)}: no ink at all")
        for finding in findings_of(plan.layout, reading):
            draw_state(
                canvas, finding.state, frame.box_px(finding.box), s,
                offset_mm=finding.offset_mm, room_mm=finding.room_mm,
            )  # fmt: skip


def _has_left_neighbour(ladder: Ladder, layout: Layout) -> bool:
    """True where another ladder stands between this one and the left margin."""
    return any(
        other.box.x1 <= ladder.box.x0 and other.box.y0 < ladder.box.y1 and ladder.box.y0 < other.box.y1
        for other in layout.ladders
    )


def _callouts(ladders: list[Ladder], lines: tuple[LinesReading, ...], *, left: bool) -> list[Callout]:
    """Row numbers of all missing dashes of `ladders`, which stand one below the other."""
    missing: dict[tuple[str, int], list[int]] = {}
    for reading in lines:
        for dash in () if reading.absent else reading.dashes:
            if dash.state == "missing":
                missing.setdefault((reading.ink, dash.repeat), []).append(dash.row)
    ordered = sorted(ladders, key=lambda ladder: ladder.box.y0)
    # half the gap to the next ladder each, but not beyond what still reads as belonging to this one
    bounds = [
        min(_OVERHANG_MM, max(0.0, (after.box.y0 - before.box.y1) / 2))
        for before, after in itertools.pairwise(ordered)
    ]
    above, below = [_OVERHANG_MM, *bounds], [*bounds, _OVERHANG_MM]
    out: list[Callout] = []
    for ladder, up, down in zip(ordered, above, below, strict=False):
        rows = tuple(missing.get((ladder.ink, ladder.repeat), ()))
        out += callouts_of(ladder, rows, ladder.box.y0 - up, ladder.box.y1 + down, _LINE_MM, left=left)
    return out


def _margin(callouts: tuple[Callout, ...], scale: float) -> int:
    if not callouts:
        return 0
    widest = max(text_width(callout.text, _LABEL_MM * scale, bold=True) for callout in callouts)
    return round(widest + (_ELBOW_MM + 1.5) * scale)


def _draw_callout(canvas: Canvas, callout: Callout, frame: PageFrame, edge: Box, *, left: bool) -> None:
    s = frame.scale
    page_edge = edge.x0 if left else edge.x1
    away = -1 if left else 1
    y = frame.to_px(0, callout.y)[1]
    label = page_edge + away * _ELBOW_MM * s
    for x_mm, y_mm in callout.targets:
        start_x, start_y = frame.to_px(x_mm, y_mm)
        start_x += away * 0.5 * s
        # dotted, so that it hides next to nothing of the dashes it passes
        canvas.dashed([(page_edge, start_y), (start_x, start_y)], _LEADER, 1, 0.25 * s, 0.75 * s)
        canvas.line([(page_edge, start_y), (page_edge + away * 1.2 * s, start_y), (label, y)], _LEADER, 1)
    anchor = "rm" if left else "lm"
    rgb = STATE["missing"]
    canvas.text(label + away * 0.8 * s, y, callout.text, _LABEL_MM * s, rgb, bold=True, anchor=anchor)
