"""The marked picture: the sheet laid flat, every finding ringed in its place, the verdict on top."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from printcheck.geometry import Box
from printcheck.pattern.layout import Layout
from printcheck.pipeline import Scored
from printcheck.register.result import Registration
from printcheck.report.banner import Banner
from printcheck.report.canvas import Canvas
from printcheck.report.marked import PageFrame, PagePlan, draw_page, plan_page
from printcheck.report.palette import PAPER, RULE
from printcheck.report.panel import draw_panel
from printcheck.report.picture import flattened_dpi, reduced
from printcheck.units import px_per_mm
from printcheck.verdict.result import Action

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["marked_page", "marked_picture", "marked_png", "page_frame"]

_PANEL_MM = 76.0
_EDGE_MM = 5.0
_REFUSED_WIDTH_PX, _REFUSED_HEIGHT_PX = 1500, 1400
_REFUSED_SCALE = 6.0  # px a mm for the letters on a picture without a scale


def marked_png(scored: Scored) -> bytes:
    """The marked picture as a PNG file: 150 to 200 dots/inch, sRGB."""
    picture = cv2.cvtColor(marked_picture(scored), cv2.COLOR_RGB2BGR)
    done, data = cv2.imencode(".png", picture, [cv2.IMWRITE_PNG_COMPRESSION, 4])
    assert done  # it fails only for a format that OpenCV was built without
    return data.tobytes()


def marked_picture(scored: Scored) -> NDArray[np.uint8]:
    """Banner, marked page, row numbers and side panel; the capture under a banner where no sheet was found.

    Returns
    -------
    (H, W, 3) uint8
        sRGB.
    """
    sheet = scored.sheet
    if scored.registration is None or sheet.layout is None:
        return _refused(scored)
    plan = _plan(scored, scored.registration, sheet.layout)
    s = plan.scale
    width, edge, banner = _around_page(scored, plan)
    top = banner.height + edge
    canvas = Canvas(width, top + plan.height_px + edge, PAPER)
    banner.draw(canvas)
    draw_page(canvas, plan, scored.capture, scored.registration, edge, top)
    frame = plan.frame(edge, top)
    first = {ladder.ink: ladder.box.y0 for ladder in sheet.layout.ladders if ladder.repeat == 0}
    panel = Box(width - round(_PANEL_MM * s) - edge, top, width - edge, top + plan.height_px)
    draw_panel(canvas, sheet, panel, s, lambda ink: frame.to_px(0, first[ink])[1])
    return canvas.finish()


def marked_page(scored: Scored) -> NDArray[np.uint8]:
    """The marked page and its row numbers alone, or the capture reduced; (H, W, 3) uint8, sRGB."""
    if scored.registration is None or scored.sheet.layout is None:
        return reduced(scored.capture, _REFUSED_WIDTH_PX, _REFUSED_HEIGHT_PX)
    plan = _plan(scored, scored.registration, scored.sheet.layout)
    canvas = Canvas(plan.width_px, plan.height_px, PAPER)
    draw_page(canvas, plan, scored.capture, scored.registration, 0, 0)
    return canvas.finish()


def page_frame(scored: Scored) -> PageFrame | None:
    """Where the page lies on the marked picture; none where no sheet was found."""
    if scored.registration is None or scored.sheet.layout is None:
        return None
    plan = _plan(scored, scored.registration, scored.sheet.layout)
    _, edge, banner = _around_page(scored, plan)
    return plan.frame(edge, banner.height + edge)


def _around_page(scored: Scored, plan: PagePlan) -> tuple[int, int, Banner]:
    """Width of the picture and of its edges, px, and the banner above the page."""
    edge, panel_width = round(_EDGE_MM * plan.scale), round(_PANEL_MM * plan.scale)
    width = edge + plan.width_px + edge + panel_width + edge
    return width, edge, Banner(scored.sheet, width, plan.scale)


def _plan(scored: Scored, registration: Registration, layout: Layout) -> PagePlan:
    sheet = scored.sheet
    toner = None if sheet.assessment.action is Action.RESCAN else sheet.toner
    evenness = None if sheet.assessment.action is Action.RESCAN else sheet.evenness
    return plan_page(layout, sheet.lines, px_per_mm(flattened_dpi(registration)), toner, evenness)


def _refused(scored: Scored) -> NDArray[np.uint8]:
    picture = reduced(scored.capture, _REFUSED_WIDTH_PX, _REFUSED_HEIGHT_PX)
    s = _REFUSED_SCALE
    edge = round(_EDGE_MM * s)
    width = max(picture.shape[1], _REFUSED_WIDTH_PX) + 2 * edge
    banner = Banner(scored.sheet, width, s)
    top = banner.height + edge
    canvas = Canvas(width, top + picture.shape[0] + edge, PAPER)
    banner.draw(canvas)
    x = (width - picture.shape[1]) // 2
    canvas.paste(picture, x, top)
    frame = Box(x, top, x + picture.shape[1], top + picture.shape[0])
    canvas.line(list(frame.corners), RULE, 1, closed=True)
    return canvas.finish()
