"""Sheets whose faults are known because they are cut out of the drawn sheet, then turned and scored."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import make_sheet
from printcheck.pipeline import Scored, score_image
from printcheck.units import mm_to_dots

HOSTILE_TICKET = "<script>x()</script>&\"'"
DEAD = {"C": (7, 40, 41, 42), "Y": (90,)}


def capture_of(folder: Path, head: str, ticket: str, dead: dict[str, tuple[int, ...]], dpi: int = 300) -> Path:
    """A turned scan of `head`'s sheet with the dashes of `dead` rows left out of both printings."""
    sheet = make_sheet(build_layout(load_head(head), page_named("A4")), ticket)
    layout = sheet.layout
    page = compose_rgb(sheet).copy()
    for ink, rows in dead.items():
        for ladder in layout.ladders_of(ink):
            for row in rows:
                box = ladder.dash(row)
                x0, y0, x1, y1 = (mm_to_dots(v, layout.raster) for v in (box.x0, box.y0, box.x1, box.y1))
                page[y0:y1, x0:x1] = 255
    scale = dpi / layout.raster
    small = cv2.resize(page, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)[..., ::-1]
    grey = cv2.GaussianBlur((40 + 200 * (small / np.float32(255))).astype(np.float32), (0, 0), 0.5)
    height, width = grey.shape[:2]
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), 0.6, 1.0)
    scan = cv2.warpAffine(grey, turn, (width, height), flags=cv2.INTER_LINEAR, borderValue=(240, 240, 240))
    noise = np.random.default_rng(5).normal(0, 1.5, (height, width, 1)).astype(np.float32)
    scan = np.clip(scan + noise, 0, 255).astype(np.uint8)
    path = folder / f"{head}.png"
    cv2.imwrite(str(path), scan, [cv2.IMWRITE_PNG_COMPRESSION, 1])
    return path


@pytest.fixture(scope="session")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Scored:
    return score_image(capture_of(tmp_path_factory.mktemp("faulty"), "tri-100", HOSTILE_TICKET, DEAD))


@pytest.fixture(scope="session")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Scored:
    return score_image(capture_of(tmp_path_factory.mktemp("clean"), "tri-100", "A-1207", {}))


@pytest.fixture(scope="session")
def refused(tmp_path_factory: pytest.TempPathFactory) -> Scored:
    path = tmp_path_factory.mktemp("refused") / "desk.png"
    cv2.imwrite(str(path), np.full((700, 500, 3), 190, np.uint8))
    return score_image(path)


@pytest.fixture
def dead() -> dict[str, tuple[int, ...]]:
    """The rows cut out of `faulty`."""
    return DEAD


@pytest.fixture
def hostile_ticket() -> str:
    """The ticket of `faulty`."""
    return HOSTILE_TICKET
