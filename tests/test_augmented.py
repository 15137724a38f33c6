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

from printcheck.pipeline import score_image

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    augraphy = pytest.importorskip("augraphy", reason="the extra 'augment' is not installed")

pytestmark = pytest.mark.filterwarnings("ignore")  # the library's own

SAMPLES = Path(__file__).parents[1] / "sample_scans"
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
