"""Sample scans worn by a general document-augmentation library, which knows nothing of this program.

Library: augraphy (MIT licence), the extra ``augment``. Bars a notch below those of clean captures: 0.95 recall and
precision of missing dashes over the dashes read, and no sheet with dead rows passed. What the library does to a page
is unseen input: nothing was tuned on it.
"""

from __future__ import annotations

import random
import tomllib
import warnings
from collections import Counter
from pathlib import Path

import cv2
import numpy as np
import pytest

from printcheck.measure.components import Component
from printcheck.measure.toner_result import TonerReading
from printcheck.pipeline import score_image

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    augraphy = pytest.importorskip("augraphy", reason="the extra 'augment' is not installed")

pytestmark = pytest.mark.filterwarnings("ignore")  # the library's own

SAMPLES = Path(__file__).parents[1] / "sample_scans"
PARTS = (Component("drum", 30.0), Component("developer roller", 20.0), Component("charge roller", 12.0))
NAMES = ("four-ink-few", "black-clogged")
WEAR = {
    "ink bleeds": lambda: augraphy.InkBleed(intensity_range=(0.2, 0.3), kernel_size=(3, 3), severity=(0.2, 0.3), p=1),
    "noise": lambda: augraphy.SubtleNoise(subtle_range=12, p=1),
    "grain": lambda: augraphy.NoiseTexturize(sigma_range=(3, 6), turbulence_range=(2, 4), p=1),
    "brightness": lambda: augraphy.Brightness(brightness_range=(0.75, 1.2), p=1),
    "tone": lambda: augraphy.Gamma(gamma_range=(0.8, 1.2), p=1),
    "recompressed": lambda: augraphy.Jpeg(quality_range=(60, 80), p=1),
    "print shows through": lambda: augraphy.BleedThrough(p=1),
    "specks": lambda: augraphy.BadPhotoCopy(p=1),
    "dirty rollers": lambda: augraphy.DirtyRollers(p=1),
    "colour fringes": lambda: augraphy.ColorShift(p=1),
}


def _worn(wear: str, name: str, folder: Path) -> tuple[Counter[str], str, bool]:
    """What was said of a worn sample: dashes by truth and reading, the verdict, and whether it has dead rows."""
    for seed in (random.seed, np.random.seed, cv2.setRNGSeed):
        seed(11)
    out = WEAR[wear]()(cv2.imread(str(SAMPLES / f"{name}.jpg")))
    path = folder / f"{name}.jpg"
    cv2.imwrite(str(path), out, [cv2.IMWRITE_JPEG_QUALITY, 92])
    sheet = score_image(path).sheet
    truth = tomllib.loads((SAMPLES / f"{name}.toml").read_text())["missing"]
    counts: Counter[str] = Counter()
    for lines in sheet.lines:
        for dash in lines.dashes:
            dead = dash.row in truth[lines.ink]  # both printings fall on the same rows in these samples
            counts[("dead" if dead else "sound") + "->" + dash.state] += 1
    return counts, sheet.assessment.action.value, any(truth.values())


def test_missing_dashes_are_told_on_worn_sheets(tmp_path: Path) -> None:
    total: Counter[str] = Counter()
    passed = []
    for wear in WEAR:
        for name in NAMES:
            counts, action, faulty = _worn(wear, name, tmp_path)
            total += counts
            if faulty and action == "top-off":
                passed.append((wear, name))
    assert passed == []
    read = sum(n for key, n in total.items() if key.startswith("dead->") and key != "dead->unreadable")
    called = total["dead->missing"] + total["sound->missing"]
    assert read > 0.7 * sum(n for key, n in total.items() if key.startswith("dead->"))
    assert total["dead->missing"] / read >= 0.95
    assert total["dead->missing"] / called >= 0.95


def _toner(wear: object, folder: Path, seed: int = 11) -> TonerReading:
    for start in (random.seed, np.random.seed, cv2.setRNGSeed):
        start(seed)
    path = folder / "toner.jpg"
    cv2.imwrite(str(path), wear(cv2.imread(str(SAMPLES / "toner-drum.jpg"))), [cv2.IMWRITE_JPEG_QUALITY, 92])
    reading = score_image(path, components=PARTS).sheet.toner
    assert reading is not None
    return reading


def test_low_ink_lines_that_come_back_are_lines_across_the_page_and_the_drum_is_still_named(tmp_path: Path) -> None:
    """Six lines down 3489 rows of 300 dots/inch: one every 581 rows, 49.2 mm; 93.85 mm is the sample's own mark."""
    wear = augraphy.LowInkPeriodicLines(count_range=(1, 1), period_range=(6, 6), p=1)
    repeats = _toner(wear, tmp_path).repeats
    across = [r for r in repeats if r.across]
    assert across
    assert all(not r.dark and r.spacing_mm == pytest.approx(581 / 300 * 25.4, rel=0.005) for r in across)
    (mark,) = [r for r in repeats if not r.across and r.dark]
    assert [part.name for part in mark.parts] == ["drum"]
    assert mark.spacing_mm == pytest.approx(93.85, rel=0.005)


def test_lines_at_random_heights_are_no_roller(tmp_path: Path) -> None:
    wear = augraphy.LowInkRandomLines(count_range=(8, 8), p=1)
    assert [[part.name for part in r.parts] for r in _toner(wear, tmp_path).repeats] == [["drum"]]


def test_dirt_along_the_feed_is_streaks_and_no_part(tmp_path: Path) -> None:
    """A dirty drum's noise in stripes down the page: hundreds of marks, many of them one above the other."""
    wear = augraphy.DirtyDrum(direction=1, noise_intensity=0.5, p=1)
    reading = _toner(wear, tmp_path, seed=2)
    assert reading.marks > 100
    assert reading.streaks
    assert reading.repeats is None  # among so many, marks that come back evenly say nothing
