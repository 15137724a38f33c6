"""A simulated photo from file to reading: where the page lies, whichever way the file is turned, and its rows.

The seed belongs to no survey. benchmarks/survey.py has the rates; this shows at once when a change breaks photos.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from printcheck.capture.decode import read_captures
from printcheck.pipeline import score_image
from printcheck.register.sheet import register_sheet
from printcheck.simulate.capture import Capture
from printcheck.simulate.photo_scenario import random_photo

RMS_MM = 0.08  # over the page; dashes of a column stand 0.5 mm apart
STATED = (0.7, 1.4)  # sd of the strengths' errors over what is stated for them, of one photo; of many, 0.8 to 1.25


@pytest.fixture(scope="module")
def photo() -> Capture:
    """At a slant of up to 20 degrees, curled, without a shadow: what the README asks for and a little worse."""
    cv2.setNumThreads(1)
    return random_photo(
        9210, head="quad-180", page="A4", clean=False, max_tilt_deg=20, shadow=False, strength_truth=True
    )


@pytest.mark.parametrize("orientation", range(1, 9))
def test_the_page_lies_where_the_camera_saw_it_however_the_file_is_turned(
    orientation: int, photo: Capture, tmp_path: Path
) -> None:
    """EXIF 2.3 (CIPA DC-008), tag 0x0112: pixels stay as stored, mirrorings are undone, and so is the truth."""
    turned = replace(photo, encoding=replace(photo.encoding, orientation=orientation))
    path = tmp_path / "photo.jpg"
    path.write_bytes(turned.encoded())
    capture = next(iter(read_captures(path, max_megapixels=100)))
    registration = register_sheet(capture.pixels)
    layout = registration.layout
    x, y = (v.ravel() for v in np.meshgrid(np.linspace(14, 196, 15), np.linspace(30, 280, 21)))
    assert layout.page.name == "A4"
    truth = np.stack(turned.page_to_stored_px(x, y), axis=1)
    off = registration.to_px(np.stack([x, y], axis=1)) - truth
    scale = np.sqrt(registration.px_per_mm_x * registration.px_per_mm_y)
    assert np.sqrt(np.mean(np.sum(off**2, axis=1))) / scale < RMS_MM


def test_rows_and_strengths_of_a_photo_are_those_printed(photo: Capture, tmp_path: Path) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(photo.encoded())
    sheet = score_image(path).sheet
    assert sheet.capture.kind == "photo"
    standardised, displaced = [], []
    for lines in sheet.lines:
        known = {(dash.row, dash.repeat): dash for dash in photo.truth.dashes[lines.ink]}
        for dash in lines.dashes:
            true = known[dash.row, dash.repeat]
            if true.state == "missing":
                assert dash.state in ("missing", "unreadable")
            elif dash.state == "missing":
                assert true.state == "weak"
            if dash.strength is not None and dash.state != "unreadable":
                standardised.append((dash.strength - true.strength) / dash.strength_sd)
            if dash.state == "displaced":
                displaced.append(true.state == "displaced")
    assert len(standardised) > 1200
    assert STATED[0] < np.std(standardised) < STATED[1]
    assert not displaced or np.mean(displaced) >= 0.9
    assert sheet.assessment.action.value in ("purge", "reject")


def test_the_photo_holds_what_it_is_for(photo: Capture) -> None:
    states = [dash.state for rows in photo.truth.dashes.values() for dash in rows]
    assert states.count("missing") >= 10
    assert states.count("present") > 1000
