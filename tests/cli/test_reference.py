"""``printcheck reference`` and ``printcheck calibrate`` as a shop calls them, on a drawn sheet.

The sheet is drawn, not simulated; what its patches truly are is worked out by scikit-image from the very pixels.
"""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from drawn_pages import drawn_page, noisy
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2xyz, xyz2lab

from printcheck.geometry import Box

DPI = 300
Call = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture(scope="session")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sound sheet of a tricolour head, as a scan with its resolution and a device of its own."""
    path = tmp_path_factory.mktemp("drawn") / "sound.png"
    save(path, noisy(drawn_page(DPI).pixels, 2.0))
    return path


def save(path: Path, pixels: Any, device: str = "scanner one") -> None:
    exif = Image.Exif()
    exif[0x0110] = device  # Model, EXIF 2.3 (CIPA DC-008)
    Image.fromarray(np.ascontiguousarray(pixels[..., ::-1])).save(path, dpi=(DPI, DPI), exif=exif)


def refused(done: subprocess.CompletedProcess[str], said: str) -> None:
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert "Traceback" not in done.stderr


def test_a_reference_is_kept_listed_used_and_removed(call: Call, sheet: Path, tmp_path: Path) -> None:
    assert "no reference is kept" in call("reference", "list").stdout
    done = call("reference", "add", sheet, "--name", "front plain")
    assert (done.returncode, done.stderr) == (0, "")
    assert "kept 'front plain': tri-100, scan, inks C M Y" in done.stdout
    listed = call("reference", "list").stdout
    assert "front plain: tri-100, scan, sRGB assumed" in listed
    # sRGB's cyan, in ink: the drawn solid lacks red light
    cyan = next(line for line in listed.splitlines() if line.split()[0] == "C")
    assert float(cyan.split("a*")[1].split()[0]) < -30

    scored = call("score", sheet, "--reference", "front plain", "--json", "-")
    assert scored.returncode == 0
    for ink in json.loads(scored.stdout)["inks"]:
        assert ink["solid"]["reference"] == "house front plain"
        assert ink["solid"]["delta_e00"] < 0.2  # with itself
        assert ink["contamination"]["foreign"] == []

    done = call("reference", "remove", "front plain")
    assert (done.returncode, done.stdout) == (0, "removed 'front plain'\n")
    refused(call("score", sheet, "--reference", "front plain"), "there is no reference 'front plain'")
    refused(call("reference", "remove", "front plain"), "there is no reference")


def test_a_sheet_that_is_not_sound_is_no_reference(call: Call, samples: Path, tmp_path: Path) -> None:
    refused(call("reference", "add", samples / "tricolour-step.jpg", "--name", "x"), "use a sound sheet")
    assert not (tmp_path / "kept").exists()
    refused(call("reference", "add", samples / "tricolour-good.jpg", "--name", "../x"), "can't name a reference")
    refused(call("reference", "add", tmp_path / "gone.png", "--name", "x"), "gone.png")


@pytest.mark.parametrize("data", [b"", b"{}", b"[1]", b"\xff\xfe", b'{"schema": "another/1"}'])
def test_a_damaged_reference_hides_no_other_and_can_be_removed(
    call: Call, sheet: Path, tmp_path: Path, data: bytes
) -> None:
    assert call("reference", "add", sheet, "--name", "sound").returncode == 0
    (tmp_path / "kept" / "broken.json").write_bytes(data)
    listed = call("reference", "list")
    assert listed.returncode == 0
    assert "sound: tri-100" in listed.stdout
    assert listed.stderr.startswith("printcheck: reference ")
    assert listed.stderr.count("\n") == 1
    assert "broken.json" in listed.stderr
    assert call("reference", "remove", "broken").stdout == "removed 'broken'\n"
    assert call("reference", "list").stderr == ""
    (tmp_path / "kept" / "folder.json").mkdir()
    done = call("reference", "remove", "folder")
    assert (done.returncode, done.stderr.count("\n")) == (3, 1)
    assert "folder.json can't be removed" in done.stderr


@pytest.mark.parametrize(
    ("ink", "key", "values"),
    [
        ("C", "ratio", [float("nan")] * 3),
        ("C", "ratio", [-1.0, -1.0, -1.0]),
        ("M", "ratio", [0.0, 0.0, 0.0]),
        ("Y", "ratio", [1.1, 7.0, 0.1]),
        ("Y", "ratio_sd", [-0.1, 0.1, 0.1]),
        ("M", "lab", [400.0, 0.0, 0.0]),
        ("M", "lab", [50.0, float("inf"), 0.0]),
        (None, "paper", [0.0, 0.9, 0.9]),
        (None, "kind", "fax"),
        (None, "inks", {}),
    ],
)
def test_a_reference_whose_values_no_print_has_is_not_judged_by(
    call: Call, sheet: Path, tmp_path: Path, ink: str | None, key: str, values: Any
) -> None:
    """By densities that are no numbers nothing foreign shows, and mixed chambers would top off."""
    assert call("reference", "add", sheet, "--name", "sound").returncode == 0
    document = json.loads((tmp_path / "kept" / "sound.json").read_bytes())
    (document if ink is None else document["inks"][ink])[key] = values
    (tmp_path / "kept" / "spoilt.json").write_text(json.dumps(document))
    refused(call("score", sheet, "--reference", "spoilt"), "add it again, or remove it")
    listed = call("reference", "list")
    assert "sound: tri-100" in listed.stdout
    assert "spoilt" not in listed.stdout
    assert "spoilt.json" in listed.stderr
    assert listed.stderr.count("\n") == 1


def test_a_reference_that_lacks_an_ink_is_not_used(call: Call, sheet: Path, tmp_path: Path) -> None:
    assert call("reference", "add", sheet, "--name", "whole").returncode == 0
    document = json.loads((tmp_path / "kept" / "whole.json").read_bytes())
    del document["inks"]["M"]
    (tmp_path / "kept" / "part.json").write_text(json.dumps({**document, "name": "part"}))
    scored = json.loads(call("score", sheet, "--reference", "part", "--json", "-").stdout)
    assert any("part tells nothing of magenta: not used" in warning for warning in scored["capture"]["warnings"])
    assert {ink["contamination"]["basis"].split()[0] for ink in scored["inks"]} == {"published"}


def test_a_photo_as_a_reference_says_what_it_is_good_for(
    call: Call, sheet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from dataclasses import replace

    from printcheck import house

    assert call("reference", "add", sheet, "--name", "scanned").stderr == ""
    taken = house.reference_of
    monkeypatch.setattr(house, "reference_of", lambda *a, **k: replace(taken(*a, **k), kind="photo"))
    done = call("reference", "add", sheet, "--name", "photographed")
    assert done.returncode == 0
    assert done.stderr.count("\n") == 1
    assert "no colour difference is given; add a scan" in done.stderr
    scored = json.loads(call("score", sheet, "--reference", "photographed", "--json", "-").stdout)
    assert {ink["solid"]["delta_e00"] for ink in scored["inks"]} == {None}
    assert [ink["contamination"]["foreign"] for ink in scored["inks"]] == [[]] * len(scored["sheet"]["inks"])  # read


def test_another_device_sees_the_reference_differently(call: Call, sheet: Path, tmp_path: Path) -> None:
    assert call("reference", "add", sheet, "--name", "front").returncode == 0
    other = tmp_path / "other.png"
    save(other, noisy(drawn_page(DPI).pixels, 2.0), device="scanner two")
    scored = json.loads(call("score", other, "--reference", "front", "--json", "-").stdout)
    assert any("another device" in warning for warning in scored["capture"]["warnings"])


def true_lab(box: Box) -> np.ndarray[Any, Any]:
    """CIELAB of part of the drawn page, by scikit-image, relative to its paper."""
    pixels = drawn_page(DPI).pixels
    per_mm = DPI / 25.4
    inner = box.inset(0.8, 0.8)
    y0, y1, x0, x1 = (round(v * per_mm) for v in (inner.y0, inner.y1, inner.x0, inner.x1))
    part = rgb2xyz(pixels[y0:y1, x0:x1, ::-1]).mean(axis=(0, 1))
    paper = rgb2xyz(np.full((1, 1, 3), 232, np.uint8))[0, 0]
    white = np.array([0.95047, 1.0, 1.08883])  # D65, as scikit-image has it
    return np.asarray(xyz2lab((part / paper * white)[None, None], illuminant="D65")[0, 0])


def values_of(path: Path) -> Path:
    """The drawn sheet's patches as a table of measurements."""
    rows = ['"paper" 100 0 0']
    for patch in drawn_page(DPI).layout.patches:
        if patch.kind == "strip":
            continue
        name = f"{patch.kind} {''.join(patch.inks)}"
        name += f" {round(100 * patch.tone)}" if patch.kind == "wedge" else ""
        rows.append(f'"{name}" ' + " ".join(f"{v:.3f}" for v in true_lab(patch.box)))
    table = "BEGIN_DATA_FORMAT\nSAMPLE_NAME LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n"
    path.write_text("CGATS.17\n" + table + "\n".join(rows) + "\nEND_DATA\n", encoding="utf-8")
    return path


def test_a_scanner_is_calibrated_by_a_sheet_and_only_that_scanner(call: Call, sheet: Path, tmp_path: Path) -> None:
    values = values_of(tmp_path / "measured.txt")
    done = call("calibrate", sheet, "--values", values, "--name", "office")
    assert (done.returncode, done.stderr) == (0, "")
    assert "kept 'office'" in done.stdout
    # D65 values of an sRGB picture, so the map differs from the assumed one by an adaptation the fit must find
    scored = json.loads(call("score", sheet, "--calibration", "office", "--json", "-").stdout)
    solids = {ink["ink"]: ink["solid"]["lab"] for ink in scored["inks"]}
    for patch in drawn_page(DPI).layout.patches_of("solid"):
        assert float(deltaE_ciede2000(np.array(solids[patch.inks[0]]), true_lab(patch.box))) < 2.0

    other = tmp_path / "other.png"
    save(other, noisy(drawn_page(DPI).pixels, 2.0), device="scanner two")
    scored = json.loads(call("score", other, "--calibration", "office", "--json", "-").stdout)
    warned = [w for w in scored["capture"]["warnings"] if "calibration" in w]
    assert any("another device" in w and "not used" in w for w in warned)


def test_calibrating_by_what_cannot_serve_is_refused(call: Call, sheet: Path, tmp_path: Path) -> None:
    values = values_of(tmp_path / "measured.txt")
    refused(call("score", sheet, "--calibration", "office"), "there is no calibration 'office'")
    refused(call("calibrate", sheet, "--values", tmp_path / "gone.txt"), "gone.txt can't be read")
    text = values.read_text(encoding="utf-8")
    values.write_text(text.replace('"paper" 100 0 0\n', ""), encoding="utf-8")
    refused(call("calibrate", sheet, "--values", values), "no sample 'paper'")
    values.write_text(text, encoding="utf-8")
    refused(call("calibrate", sheet, "--values", values, "--name", "../x"), "can't name a calibration")
    photo = tmp_path / "photo.jpg"
    cv2.imwrite(str(photo), np.full((400, 400, 3), 128, np.uint8))
    refused(call("calibrate", photo, "--values", values), "can't be calibrated by")


def test_a_toner_sheet_has_no_colours_to_calibrate_by(call: Call, samples: Path, tmp_path: Path) -> None:
    values = values_of(tmp_path / "measured.txt")
    refused(call("calibrate", samples / "toner-drum.jpg", "--values", values), "shows a toner sheet")


def test_a_sheet_whose_paper_the_scan_cuts_is_refused(call: Call, tmp_path: Path) -> None:
    over = tmp_path / "over.png"
    save(over, np.clip(noisy(drawn_page(DPI).pixels, 2.0).astype(float) * [1.2, 1.0, 1.0], 0, 255).astype(np.uint8))
    refused(call("calibrate", over, "--values", values_of(tmp_path / "m.txt")), "its paper is lighter than")


def test_values_of_other_patches_are_refused_and_a_replaced_fit_is_told(
    call: Call, sheet: Path, tmp_path: Path
) -> None:
    values = values_of(tmp_path / "measured.txt")
    assert "replaces" not in call("calibrate", sheet, "--values", values).stdout
    assert "it replaces one of " in call("calibrate", sheet, "--values", values).stdout
    kept = (tmp_path / "kept" / "calibrations" / "scanner.json").read_bytes()
    text = values.read_text(encoding="utf-8")
    for one, other, told in (
        ("solid C", "solid M", "solid C"),
        ("solid Y", "wedge C 10", "'wedge C 10' and 'solid Y' fit much better with their values exchanged"),
    ):
        names = text.replace(f'"{one}"', "#").replace(f'"{other}"', f'"{one}"').replace("#", f'"{other}"')
        values.write_text(names, encoding="utf-8")
        refused(call("calibrate", sheet, "--values", values), told)
    values.write_text(text.replace('"paper" 100 0 0', '"paper" 0 0 0'), encoding="utf-8")
    refused(call("calibrate", sheet, "--values", values), "lighter than the paper")
    assert (tmp_path / "kept" / "calibrations" / "scanner.json").read_bytes() == kept
