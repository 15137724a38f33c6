"""A scanner whose colours lie a pixel or two apart: no movement of the paper, though each ink's ladder says so.

The sheet is drawn, its channels are moved by OpenCV along the feed, as a lamp that lights them in turn does.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from drawn_pages import Drawn, drawn_page, noisy

from printcheck.measure.ladder import LadderReader, ladder_box
from printcheck.pattern.inks import INKS
from printcheck.register.sheet import register_sheet
from printcheck.register.view import look_at

APART_PX = 2.4  # of 600 dots/inch: 0.1 mm


@pytest.fixture(scope="module")
def drawn() -> Drawn:
    return drawn_page(600, head="tri-192")


def _apart(drawn: Drawn) -> np.ndarray:
    height, width = drawn.pixels.shape[:2]
    moved = [
        cv2.warpAffine(
            np.ascontiguousarray(drawn.pixels[..., channel]),
            np.array([[1.0, 0.0, 0.0], [0.0, 1.0, (channel - 1) * APART_PX]]),
            (width, height),
            borderMode=cv2.BORDER_REPLICATE,
        )
        for channel in range(3)
    ]
    return noisy(cv2.GaussianBlur(np.dstack(moved), (0, 0), 1.2), 2.0)


def test_lines_between_two_colours_ladders_keep_their_weight(drawn: Drawn) -> None:
    """The feed's curve through ladders 0.1 mm to either side is steep between them, and the dashes there are not."""
    picture = _apart(drawn)
    found = register_sheet(picture)
    for ladder in drawn.layout.ladders:
        view = look_at(picture, found, ladder_box(ladder), INKS[ladder.ink].bgr, most_x=6.0, light=True)
        signal = LadderReader(view, ladder).signal
        ends = np.concatenate([signal.amplitude[:24], signal.amplitude[-24:]])
        assert np.median(ends) == pytest.approx(np.median(signal.amplitude[60:-60]), rel=0.03)
