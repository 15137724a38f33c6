"""A control strip beside a sheet in a simulated photo, and by itself on a simulated scanner."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from printcheck.capture.decode import read_captures
from printcheck.capture.result import Capture
from printcheck.cli.app import app
from printcheck.colour.calibration import fit_calibration
from printcheck.colour.control_strip import PatchValue, StripValues, load_strip_values, save_strip_values
from printcheck.colour.difference import delta_e00
from printcheck.errors import PrintcheckError, RescanError
from printcheck.measure.colouring import ColourSettings
from printcheck.measure.control_strip import calibrate_photo, read_strip_values
from printcheck.pattern.control_strip import control_strip, strip_patch_name
from printcheck.pipeline import score_image
from printcheck.register.control_strip import find_strips
from printcheck.register.result import Registration
from printcheck.register.sheet import register_sheet
from printcheck.simulate.capture import Capture as Simulated
from printcheck.simulate.control_strip import PrintedStrip, StripOnBench, placed_beside, print_strip, scan_strip
from printcheck.simulate.photo_scenario import random_photo
from printcheck.simulate.scanner import ScannerSettings
from printcheck.simulate.shop import generator

SEED = 41
NAMES = [strip_patch_name(patch) for patch in control_strip("A").patches]


@dataclass(frozen=True)
class Scene:
    """A photo on disk, as read, and what is known of it."""

    path: Path
    capture: Capture
    simulated: Simulated
    strip: PrintedStrip
    placed: StripOnBench
    sheet: Registration
    values: StripValues


def true_values(strip: PrintedStrip) -> StripValues:
    known = {n: PatchValue(p.lab_relative, (0.3, 0.3, 0.3)) for n, p in zip(NAMES, strip.patches, strict=True)}
    return StripValues("truth", 0.3, {f"{strip.name}/{strip.letter}": known})


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Scene:
    strip = print_strip(generator(SEED, "tune", 8), ink_set="pigment-b", paper="matte-coated")
    simulated = random_photo(
        SEED, split="tune", head="tri-192", page="A4", inks={}, ink_set="dye-a", megapixels=10.0, shadow=False,
        orientation=1, colour_truth=True, strip=strip, changes={"curve": 1.9},
    )  # fmt: skip
    path = tmp_path_factory.mktemp("strip") / "photo.jpg"
    path.write_bytes(simulated.encoded())
    capture = next(iter(read_captures(path, max_megapixels=200.0)))
    placed = placed_beside(strip, 210.0, 297.0, generator(SEED, "tune", 7))
    return Scene(path, capture, simulated, strip, placed, register_sheet(capture.pixels), true_values(strip))


def solid_errors(scene: Scene, settings: ColourSettings) -> tuple[list[float], tuple[str, ...]]:
    sheet = score_image(scene.path, colour=settings).sheet
    truth = {p.inks[0]: p.lab_relative for p in scene.simulated.truth.patches if p.kind == "solid"}
    return [float(delta_e00(s.lab, truth[s.ink])) for s in sheet.solids], sheet.capture.warnings


def test_its_patches_lie_where_the_photo_shows_them(scene: Scene) -> None:
    (found,) = find_strips(scene.capture.pixels)
    assert found.identity == "S1/A"
    centres = np.array([patch.box.centre for patch in found.registration.layout.patches])
    true = np.column_stack(scene.placed.to_px(scene.simulated.truth.mapping, centres[:, 0], centres[:, 1]))
    error_mm = np.linalg.norm(found.registration.to_px(centres) - true, axis=1) / found.registration.px_per_mm_x
    assert error_mm.max() < 0.7  # patches are read 0.8 mm clear of their edges


def test_the_sheet_is_found_as_if_no_strip_were_there(scene: Scene) -> None:
    assert scene.sheet.ticket == f"P{SEED}"
    points = np.array([[20.0, 30.0], [190.0, 30.0], [105.0, 150.0], [20.0, 270.0], [190.0, 270.0]])
    true = np.column_stack(scene.simulated.truth.page_to_px(points[:, 0], points[:, 1]))
    assert np.linalg.norm(scene.sheet.to_px(points) - true, axis=1).max() / scene.sheet.px_per_mm_x < 0.2


def test_solids_come_out_nearer_the_truth(scene: Scene) -> None:
    plain, _ = solid_errors(scene, ColourSettings())
    helped, warnings = solid_errors(scene, ColourSettings(strip=scene.values))
    assert np.mean(helped) < 0.6 * np.mean(plain)
    assert np.mean(helped) < 2.0  # common practice, no source: a capture fitted to printed colours errs by under 2
    assert len([w for w in warnings if "control strip" in w]) == 1
    assert any("calibrated by control strip S1/A" in w for w in warnings)


def test_the_photos_own_error_is_the_floor_of_what_it_knows(scene: Scene) -> None:
    found = calibrate_photo(scene.capture, scene.sheet, "photo", scene.values)
    assert found.calibration is not None
    sheet = score_image(scene.path, colour=ColourSettings(strip=scene.values)).sheet
    for solid in sheet.solids:
        assert solid.lab_sd is not None
        assert np.all(np.array(solid.lab_sd) >= np.array(found.calibration.sd) - 1e-6)


def hidden(scene: Scene, share: float) -> Capture:
    """The photo with the left `share` of the strip covered by something grey."""
    layout = control_strip("A")
    corners = np.array([[0.0, 0.0], [share, 0.0], [share, 1.0], [0.0, 1.0]]) * [layout.width_mm, layout.height_mm]
    at = np.column_stack(scene.placed.to_px(scene.simulated.truth.mapping, corners[:, 0], corners[:, 1]))
    pixels = cv2.fillConvexPoly(scene.capture.pixels.copy(), np.rint(at).astype(np.int32), (90, 90, 90))
    return replace(scene.capture, pixels=np.asarray(pixels))


def reversed_values(scene: Scene) -> StripValues:
    (patches,) = scene.values.strips.values()
    return replace(scene.values, strips={"S1/A": dict(zip(patches, list(patches.values())[::-1], strict=True))})


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ("absent", "no control strip is in the picture"),
        ("covered", "control strip"),
        ("another", "the strip in the picture is S1/A, values are those of S2/A"),
        ("other values", "does not fit its values"),
        ("scan", "this is a scan"),
        ("grey", "grey"),
    ],
)
def test_a_strip_that_cant_be_used_is_one_clear_warning(scene: Scene, change: str, says: str) -> None:
    capture, values, kind = scene.capture, scene.values, "photo"
    if change == "absent":
        capture = hidden(scene, 1.0)
    elif change == "covered":
        capture = hidden(scene, 0.3)  # its code and two marks
    elif change == "another":
        values = replace(values, strips={"S2/A": values.strips["S1/A"]})
    elif change == "other values":
        values = reversed_values(scene)
    elif change == "scan":
        kind = "scan"
    else:
        capture = replace(capture, pixels=np.ascontiguousarray(capture.pixels[..., 0]))
    found = calibrate_photo(capture, scene.sheet, kind, values)
    assert found.calibration is None
    (warning,) = found.warnings
    assert says in warning
    assert "\n" not in warning


@pytest.fixture(scope="module")
def scanned(tmp_path_factory: pytest.TempPathFactory, scene: Scene) -> Capture:
    path = tmp_path_factory.mktemp("scan") / "strip.png"
    scanner = ScannerSettings(sensor="scanner-led-a", matrix_share=0.8)
    cv2.imwrite(str(path), scan_strip(scene.strip, scanner, generator(SEED, "tune", 9)))
    return next(iter(read_captures(path, max_megapixels=200.0)))


def calibration_of(scene: Scene, scanned: Capture):
    """A calibration of the scanner, from every second patch of the strip itself."""
    from printcheck.measure.areas import AreaReader
    from printcheck.measure.paper import read_paper

    strip = find_strips(scanned.pixels)[0].registration
    paper = read_paper(scanned.pixels, strip)
    assert paper is not None
    reader = AreaReader(scanned.pixels, strip, paper, None)
    read = [reader.area(patch) for patch in strip.layout.patches[::2]]
    lab = np.array([p.lab_relative for p in scene.strip.patches[::2]])
    return fit_calibration(np.array([a.ratio for a in read if a is not None]), lab, "scan", scanned.profile)


def test_values_read_on_a_calibrated_scanner_are_true(scene: Scene, scanned: Capture, tmp_path: Path) -> None:
    values = read_strip_values(scanned, calibration_of(scene, scanned), "office")
    truth = dict(zip(NAMES, (p.lab_relative for p in scene.strip.patches), strict=True))
    (patches,) = values.strips.values()
    assert set(values.strips) == {"S1/A"}
    assert np.median([delta_e00(v.lab, truth[name]) for name, v in patches.items()]) < 1.0
    save_strip_values(values, tmp_path / "s.toml")
    kept = load_strip_values(tmp_path / "s.toml")
    assert kept.calibration == "office"
    assert np.allclose([v.lab for v in kept.strips["S1/A"].values()], [v.lab for v in patches.values()], atol=1e-3)


def test_a_strip_is_not_read_through_another_scanners_calibration(scene: Scene, scanned: Capture) -> None:
    other = replace(calibration_of(scene, scanned), profile="another")
    with pytest.raises(PrintcheckError, match="on the scanner that was calibrated"):
        read_strip_values(scanned, other, "other")


def test_a_strip_that_is_cut_off_is_told(scene: Scene, scanned: Capture) -> None:
    cut = replace(scanned, pixels=np.ascontiguousarray(scanned.pixels[:, : int(0.72 * scanned.pixels.shape[1])]))
    with pytest.raises(PrintcheckError, match=r"of 34 patches of control strip S1/A are in .*scan the whole strip"):
        read_strip_values(cut, calibration_of(scene, scanned), "office")


def test_a_strip_whose_paper_the_scan_cuts_is_told(scene: Scene, scanned: Capture) -> None:
    over = np.clip(scanned.pixels.astype(float) * [1.2, 1.0, 1.0], 0, 255).astype(np.uint8)
    with pytest.raises(PrintcheckError, match=r"paper of control strip S1/A is lighter .*less exposure"):
        read_strip_values(replace(scanned, pixels=over), calibration_of(scene, scanned), "office")


def test_values_less_sure_make_the_photo_less_sure(scene: Scene) -> None:
    (patches,) = scene.values.strips.values()
    unsure = {name: replace(value, sd=(9.0, 9.0, 9.0)) for name, value in patches.items()}
    sds = [
        [s.lab_sd for s in score_image(scene.path, colour=ColourSettings(strip=values)).sheet.solids]
        for values in (scene.values, replace(scene.values, strips={"S1/A": unsure}))
    ]
    assert np.all(np.array(sds[1]) > 8.0)
    assert np.all(np.array(sds[0]) < 6.0)


def test_a_picture_without_a_strip_gives_no_values(scene: Scene, scanned: Capture) -> None:
    blank = replace(scanned, pixels=np.full_like(scanned.pixels, 230))
    with pytest.raises(PrintcheckError, match="no control strip is in the picture"):
        read_strip_values(blank, calibration_of(scene, scanned), "office")


def test_a_strip_by_itself_is_no_sheet_and_is_called_by_its_name(scanned: Capture) -> None:
    with pytest.raises(RescanError, match="a control strip is in the picture, but no test sheet"):
        register_sheet(scanned.pixels)


def test_the_commands_go_hand_in_hand(
    scene: Scene,
    scanned: Capture,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    from printcheck.calibrate import save_calibration

    monkeypatch.setenv("PRINTCHECK_REFERENCES", str(tmp_path))
    save_calibration("office", calibration_of(scene, scanned))
    values = tmp_path / "strips.toml"
    words = ["strip", "read", str(scanned.path), "--calibration", "office", "--out", str(values)]
    app(words, standalone_mode=False)
    assert "control strip S1/A" in capsys.readouterr().err
    app(["score", str(scene.path), "--strip", str(values), "--json", str(tmp_path / "r.json")], standalone_mode=False)
    report = (tmp_path / "r.json").read_text()
    assert "calibrated by control strip S1/A" in report
