"""Pictures a bench really takes: what lies on the sheet, what a phone does to it, how the file is turned.

The captures are the sample scans with their known dead rows; what is done to them is drawn here with OpenCV, Pillow
and pillow-heif; only a display under a camera is the simulator's. A right answer each: the dead rows, or a plain word
on what to do.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from printcheck.document import ScoredSheet
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import make_sheet
from printcheck.pipeline import score_image
from printcheck.simulate.display import Display, photograph_display
from printcheck.simulate.faults import InkState, NozzleFaults
from printcheck.simulate.mapping import Feed
from printcheck.simulate.phone import PhoneSettings
from printcheck.simulate.printer import PrintMode
from printcheck.simulate.scenario import random_scan
from printcheck.simulate.view import PhoneMapping
from printcheck.verdict.result import Action
from tests.support.drawn_pages import PAPER, drawn_page

_PHASES = {"C": 116, "M": 178, "Y": 65}  # rows from the page's top to the first swath, as drawn for that shop

SAMPLES = Path(__file__).parents[1] / "sample_scans"
Picture = np.ndarray


def truth(name: str) -> dict[str, set[int]]:
    found = tomllib.loads((SAMPLES / f"{name}.toml").read_text())["missing"]
    return {ink: set(rows) for ink, rows in found.items()}


def sample(name: str) -> Picture:
    return cv2.imread(str(SAMPLES / f"{name}.jpg"))


def scored(picture: Picture, folder: Path, name: str = "picture.jpg") -> ScoredSheet:
    path = folder / name
    cv2.imwrite(str(path), picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return score_image(path).sheet


def found(sheet: ScoredSheet) -> dict[str, set[int]]:
    return {lines.ink: set(lines.missing) | set(lines.intermittent) for lines in sheet.lines}


def coffee(picture: Picture) -> Picture:
    """Two brown rings, half as dark again where the cup stood longest."""
    height, width = picture.shape[:2]
    v, u = np.mgrid[0:height, 0:width].astype(np.float32)
    stain = np.zeros((height, width), np.float32)
    for x, y, radius in ((0.35, 0.3, 0.12), (0.6, 0.5, 0.15)):
        away = np.hypot(u - x * width, v - y * height) / width
        stain += 0.5 * np.exp(-(((away - radius) / 0.008) ** 2)) + 0.15 * (away < radius)
    tint = np.array([0.75, 0.5, 0.35], np.float32)  # blue goes first
    return np.clip(picture * (1 - stain[..., None] * tint), 0, 255).astype(np.uint8)


def crumpled(picture: Picture) -> Picture:
    """Facets at an angle to the light, and the paper drawn in by up to 0.1 mm where it is folded."""
    height, width = picture.shape[:2]
    rng = np.random.default_rng(4)
    coarse = cv2.resize(
        rng.standard_normal((9, 7)).astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR
    )
    shade = 1 + 0.08 * coarse
    v, u = np.mgrid[0:height, 0:width].astype(np.float32)
    moved = cv2.remap(picture, u + 1.2 * coarse, v + 1.2 * np.roll(coarse, 300, 1), cv2.INTER_LINEAR)
    return np.clip(moved * shade[..., None], 0, 255).astype(np.uint8)


def cabled(picture: Picture) -> Picture:
    """A grey cable across a corner square and a few dashes."""
    height, width = picture.shape[:2]
    s = np.linspace(0, 1, 200)
    x = width * (0.02 + 0.5 * s)
    y = height * (0.05 + 0.45 * s**2)
    points = np.stack([x, y], axis=1).astype(np.int32)
    out = picture.copy()
    cv2.polylines(out, [points], False, (70, 70, 75), width // 60, cv2.LINE_AA)
    return out


def thumbed(picture: Picture) -> Picture:
    """A thumb over the lower right corner."""
    out = picture.copy()
    height, width = out.shape[:2]
    cv2.ellipse(
        out, (width, height - width // 12), (width // 6, width // 12), 20, 0, 360, (120, 150, 205), -1, cv2.LINE_AA
    )
    return out


def portrait(picture: Picture) -> Picture:
    """What a phone's portrait mode does: denoised flat, then sharpened hard."""
    smooth = cv2.bilateralFilter(picture, 5, 18, 3)
    return cv2.addWeighted(smooth, 2.0, cv2.GaussianBlur(smooth, (0, 0), 1.5), -1.0, 0)


@pytest.mark.parametrize("name", ["four-ink-few", "four-ink-phone"])
@pytest.mark.parametrize("change", [coffee, crumpled, cabled, thumbed, portrait], ids=lambda f: f.__name__)
def test_dead_rows_are_found_whatever_lies_on_the_sheet(
    name: str, change: Callable[[Picture], Picture], tmp_path: Path
) -> None:
    sheet = scored(change(sample(name)), tmp_path)
    assert sheet.assessment.action.value in ("purge", "rescan")
    if sheet.assessment.action.value == "purge":
        for ink, rows in truth(name).items():
            reading = next(lines for lines in sheet.lines if lines.ink == ink)
            assert found(sheet)[ink] <= rows  # nothing that is covered counts as missing
            assert rows <= found(sheet)[ink] | set(reading.unreadable)


def test_a_photocopy_keeps_its_lines_and_loses_its_colour(tmp_path: Path) -> None:
    grey = cv2.cvtColor(cv2.cvtColor(sample("four-ink-few"), cv2.COLOR_BGR2GRAY), cv2.COLOR_GRAY2BGR)
    sheet = scored(grey, tmp_path)
    assert any("grey" in warning for warning in sheet.capture.warnings)
    assert [(solid.lab, solid.delta_e00) for solid in sheet.solids] == [(None, None)] * 4
    assert sheet.assessment.action.value in ("purge", "rescan")
    assert found(sheet)["K"] == truth("four-ink-few")["K"]


@pytest.mark.parametrize(("name", "action"), [("tricolour-good", "rescan"), ("black-good", "top-off")])
def test_a_grey_picture_passes_no_coloured_inks(name: str, action: str, tmp_path: Path) -> None:
    """What swapped chambers print shows in its colour alone; black has none to show."""
    grey = cv2.cvtColor(sample(name), cv2.COLOR_BGR2GRAY)
    sheet = scored(grey, tmp_path)
    assert sheet.assessment.action.value == action
    assert ("in colour" in sheet.assessment.next_steps[0]) == (action == "rescan")
    assert any("grey" in warning for warning in sheet.capture.warnings)  # why colour is null
    assert any("not given" in warning for warning in sheet.capture.warnings) == (action == "rescan")


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_exif_orientation_gives_the_same_rows(orientation: int, tmp_path: Path) -> None:
    """EXIF 2.3 (CIPA DC-008), tag 0x0112; Pillow undoes it, and the picture is stored so that it does."""
    undo = {
        1: None, 2: Image.Transpose.FLIP_LEFT_RIGHT, 3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM, 5: Image.Transpose.TRANSPOSE, 6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE, 8: Image.Transpose.ROTATE_270,
    }[orientation]  # fmt: skip
    image = Image.open(SAMPLES / "four-ink-phone.jpg").convert("RGB")
    stored = image if undo is None else image.transpose(undo)
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = tmp_path / "turned.jpg"
    stored.save(path, exif=exif, quality=92)
    sheet = score_image(path).sheet
    assert sheet.assessment.action.value == "purge"
    assert found(sheet) == truth("four-ink-phone")


def test_a_heic_photo_is_judged_like_any_other(tmp_path: Path) -> None:
    heif = pytest.importorskip("pillow_heif", reason="the extra 'heic' is not installed")
    path = tmp_path / "photo.heic"
    heif.from_pillow(Image.open(SAMPLES / "four-ink-phone.jpg").convert("RGB")).save(
        path, quality=80, enc_params={"preset": "ultrafast"}
    )
    sheet = score_image(path).sheet
    assert sheet.assessment.action.value == "purge"
    assert found(sheet) == truth("four-ink-phone")


def test_half_a_sheet_is_asked_for_whole(tmp_path: Path) -> None:
    picture = sample("four-ink-few")
    sheet = scored(picture[: int(0.45 * picture.shape[0])], tmp_path)
    assert sheet.assessment.action.value == "rescan"
    assert any("whole" in step for step in sheet.assessment.next_steps)


def test_a_sheet_whose_foot_is_cut_off_is_not_passed_though_every_row_shows(tmp_path: Path) -> None:
    """A black head's ladders stand in the upper third: bands, fade and air are looked for down to the foot."""
    picture = sample("black-good")
    upper = scored(picture[: int(0.45 * picture.shape[0])], tmp_path)
    assert upper.lines[0].unreadable == upper.lines[0].missing == ()
    assert upper.assessment.action.value == "rescan"
    assert [reason.measure for reason in upper.assessment.reasons] == ["sheet_outside"]
    assert any("whole sheet" in step for step in upper.assessment.next_steps)
    # what does show still counts
    clogged = sample("black-clogged")
    assert scored(clogged[: int(0.45 * clogged.shape[0])], tmp_path).assessment.action.value == "purge"


def test_a_scan_that_loses_the_margins_alone_is_passed(tmp_path: Path) -> None:
    picture = sample("black-good")
    clear = round(5 / 25.4 * 300)
    assert scored(picture[clear:-clear, clear:-clear], tmp_path).assessment.action.value == "top-off"


def on_display(picture: Picture, rows: int, tilt_deg: float = 6.0) -> Picture:
    """`picture` of an A4 page shown over `rows` pixels of a display, photographed at 8 megapixels."""
    width, height = 2448, 3264
    mapping = PhoneMapping(
        Feed(210.0, 297.0), tilt_deg, 40.0, 1.5, 318.0, 0.95 * height, ((width - 1) / 2, (height - 1) / 2), 0.0, 0.0,
        0.0, 0.0, 0.0, width, height,
    )  # fmt: skip
    phone = PhoneSettings(defocus_px=0.45, exposure=0.75)
    return photograph_display(picture, Display(rows), phone, mapping, np.random.default_rng(1))


@pytest.mark.parametrize("rows", [1600, 2160], ids=["a laptop's", "an office monitor of 2160 rows"])
def test_a_picture_of_a_screen_is_no_picture_of_a_sheet(rows: int, tmp_path: Path) -> None:
    sheet = scored(on_display(sample("four-ink-few"), rows), tmp_path)
    assert sheet.assessment.action.value == "rescan"
    assert "picture of a screen" in sheet.assessment.reasons[0].text
    assert sheet.assessment.next_steps == ("Photograph the printed sheet itself.",)
    assert sheet.lines == ()


def test_a_sheet_too_small_for_its_dashes_is_refused_though_all_its_marks_are_found(tmp_path: Path) -> None:
    """80 dots/inch, lossless and sharp: marks and codes are easily read, and no dash can be."""
    little = cv2.resize(sample("four-ink-few"), None, fx=80 / 300, fy=80 / 300, interpolation=cv2.INTER_AREA)
    wide = np.full((1500, 1500, 3), 90, np.uint8)
    wide[100 : 100 + len(little), 200 : 200 + little.shape[1]] = little
    sheet = scored(wide, tmp_path, "small.png")
    assert sheet.assessment.action.value == "rescan"
    assert [reason.measure for reason in sheet.assessment.reasons] == ["sheet_dots_per_inch"]
    assert "go closer" in sheet.assessment.reasons[0].text


def test_an_older_layout_stays_readable(tmp_path: Path) -> None:
    """A sheet as shops printed them before layout 3: 12 dead nozzles of magenta, 16 apart. Newer: `test_refusals`."""
    kept = cv2.imread(str(Path(__file__).parent / "register" / "data" / "first-layout.jpg"))
    assert kept is not None
    sheet = scored(kept, tmp_path)
    assert sheet.layout is not None
    assert sheet.layout.version == 1
    assert [lines.missing for lines in sheet.lines] == [(), tuple(range(8, 192, 16)), ()]
    assert sheet.assessment.action.value == "reject"
    assert sheet.evenness is not None
    assert [reading is not None for reading in sheet.evenness.banding] == [True] * 3
    assert [solid.lab is not None for solid in sheet.solids] == [True] * 3


def test_a_file_with_two_sheets_is_refused_and_both_are_named(tmp_path: Path) -> None:
    """A feeder's scans in one file: which one is meant is not ours to guess, and the other may be the bad one."""
    good, clogged = (Image.open(SAMPLES / f"black-{name}.jpg") for name in ("good", "clogged"))
    blank = Image.new("RGB", good.size, "white")
    both, one = tmp_path / "both.tif", tmp_path / "one.tif"
    good.save(both, save_all=True, append_images=[blank, clogged], dpi=good.info["dpi"])
    blank.save(one, save_all=True, append_images=[good, blank], dpi=good.info["dpi"])
    assert score_image(one).sheet.assessment.action.value == "top-off"
    refused = score_image(both).sheet.assessment
    assert refused.action.value == "rescan"
    (reason,) = refused.reasons
    assert reason.measure == "sheets"
    for ticket, page in (("good", 1), ("clogged", 3)):
        number = score_image(SAMPLES / f"black-{ticket}.jpg").sheet.ticket
        assert f"{number} on page {page}" in reason.text


def test_a_compact_pdf_is_asked_for_again_and_nobody_is_sent_to_clean(tmp_path: Path) -> None:
    """Text as a mask of two levels over a background of a third of the pixels (ISO/IEC 16485)."""
    scan = cv2.cvtColor(sample("tricolour-good"), cv2.COLOR_BGR2RGB)
    high, wide = scan.shape[:2]
    text = (scan.min(axis=2) < 150).astype(np.uint8)
    sheet = Canvas(str(tmp_path / "compact.pdf"), pagesize=(wide * 0.24, high * 0.24))
    background = Image.fromarray(scan).resize((wide // 3, high // 3))
    for layer in (background, Image.fromarray(np.dstack([scan // 2, 255 * text]))):
        sheet.drawImage(ImageReader(layer), 0, 0, wide * 0.24, high * 0.24, mask="auto")
    sheet.save()
    told = score_image(tmp_path / "compact.pdf").sheet.assessment
    assert told.action.value == "rescan"
    assert "layers" in told.reasons[0].text
    assert "plain PDF" in told.reasons[0].text


def test_a_picture_compressed_to_blocks_is_asked_for_in_full_quality(tmp_path: Path) -> None:
    """JPEG's chroma at half the resolution holds no yellow line then, and bare paper looks speckled."""
    path = tmp_path / "sent.jpg"
    for name, missing in (("four-ink-phone", ("C", 103)), ("tricolour-good", None)):
        Image.open(SAMPLES / f"{name}.jpg").save(path, quality=8)
        sheet = score_image(path).sheet
        assert sheet.assessment.action.value == "rescan", name
        assert "full quality" in sheet.assessment.next_steps[0]
        assert sheet.evenness is not None
        assert sheet.evenness.dirt is None
        assert {(lines.ink, row) for lines in sheet.lines for row in lines.missing} <= {missing}


@pytest.mark.parametrize("quality", [12, 25])
def test_blocks_of_a_compressed_toner_sheet_are_no_marks_of_a_part(quality: int, tmp_path: Path) -> None:
    """The scan's small skew makes blocks of a halftone differ at even distances, as a part that turns does."""
    whole = Image.open(SAMPLES / "toner-drum.jpg")
    path = tmp_path / "sent.jpg"
    whole.save(path, quality=quality, dpi=whole.info["dpi"])
    sheet = score_image(path).sheet
    assert sheet.toner is not None
    assert sheet.toner.repeats is None
    assert sheet.assessment.action.value == "rescan"
    assert "full quality" in sheet.assessment.next_steps[0]
    whole.save(path, quality=50, dpi=whole.info["dpi"])
    assert score_image(path).sheet.toner.repeats is not None


def test_a_photo_of_a_sheet_printed_smaller_asks_for_another_print(tmp_path: Path) -> None:
    """A driver that fits the sheet to the page drops rows of dots; OpenCV's nearest does so as well."""
    sheet = compose_rgb(make_sheet(build_layout(load_head("mono-416"), page_named("A4")), "S-7"))[..., ::-1]
    height, width = sheet.shape[:2]
    smaller = cv2.resize(sheet, (round(0.97 * width), round(0.97 * height)), interpolation=cv2.INTER_NEAREST)
    margin = [(full - part) // 2 for full, part in zip(sheet.shape, smaller.shape[:2], strict=False)]
    page = cv2.copyMakeBorder(
        smaller, margin[0], margin[0], margin[1], margin[1], cv2.BORDER_CONSTANT, value=(255,) * 3
    )
    page = cv2.resize(cv2.GaussianBlur(page, (0, 0), 1.0), None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    corners = np.array([[0, 0], [2479, 0], [2479, 3507], [0, 3507]], np.float32)
    seen = np.array([[160, 110], [2590, 140], [2640, 3600], [120, 3560]], np.float32)
    photo = cv2.warpPerspective(
        page,
        cv2.getPerspectiveTransform(corners, seen),
        (2760, 3700),
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(60,) * 3,
    )
    found = scored((photo * 0.85).astype(np.uint8), tmp_path).assessment
    assert found.action.value == "rescan"
    assert [reason.measure for reason in found.reasons] == ["print_scale"]
    assert found.reasons[0].value == pytest.approx(3.0, abs=0.1)
    assert "at 100 %" in found.next_steps[0]


def averaged(head: str, dots_per_inch: float) -> Picture:
    """A4 sheet of `head` as a scanner without noise or blur sees perfect ink: the dots averaged over its pixels."""
    layout = build_layout(load_head(head), page_named("A4"))
    sheet = compose_rgb(make_sheet(layout, "S-7"))[..., ::-1]
    scale = dots_per_inch / 25.4 * layout.width_mm / sheet.shape[1]
    return cv2.resize(sheet, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)


@pytest.mark.parametrize(("head", "blur_px", "name"), [("quad-180", 0.0, "scan.png"), ("tri-192", 1.5, "scan.jpg")])
def test_a_channel_as_light_as_the_paper_keeps_no_dash_from_being_read(
    head: str, blur_px: float, name: str, tmp_path: Path
) -> None:
    """Cyan without any green or blue absorption: there, rounding and the label's skirt are all there is to see."""
    seen = averaged(head, 300)
    if blur_px:
        seen = cv2.GaussianBlur(seen, (0, 0), blur_px)
    path = tmp_path / name
    Image.fromarray(seen[..., ::-1]).save(path, dpi=(300, 300), quality=90)
    sheet = score_image(path).sheet
    assert all(not lines.unreadable and not lines.missing for lines in sheet.lines)
    assert sheet.assessment.action.value == "top-off"


@pytest.mark.parametrize(("head", "quality"), [("quad-180", 85), ("quad-416-192", 90)])
def test_lines_that_halved_chroma_draws_together_are_not_off_their_places(
    head: str, quality: int, tmp_path: Path
) -> None:
    """On a sheet laid straight, colour kept for every second row of pixels shifts lines by up to half a pixel."""
    path = tmp_path / "scan.jpg"
    Image.fromarray(averaged(head, 300)[..., ::-1]).save(path, dpi=(300, 300), quality=quality)
    sheet = score_image(path).sheet
    assert all(len(lines.displaced) <= 1 for lines in sheet.lines)
    assert sheet.assessment.action.value == "top-off"
    assert not sheet.assessment.reasons  # nor does a strip spray whose edge it smears
    assert "cyan: spray beside its strip not measured: the file keeps colour at half the resolution" in (
        sheet.capture.warnings
    )


@pytest.mark.parametrize(("ending", "how"), [("jpg", {"subsampling": 1}), ("webp", {})])
def test_no_spray_is_read_where_another_file_than_a_usual_jpeg_halves_chroma(
    ending: str, how: dict[str, int], tmp_path: Path
) -> None:
    """Kept at half the width alone (4:2:2), and in a lossy WebP (RFC 6386)."""
    path = tmp_path / f"scan.{ending}"
    Image.fromarray(averaged("quad-180", 300)[..., ::-1]).save(path, dpi=(300, 300), quality=90, **how)
    sheet = score_image(path).sheet
    assert sheet.assessment.action.value == "top-off"
    assert any("spray beside its strip not measured" in warning for warning in sheet.capture.warnings)


def test_a_file_that_rounds_yellow_alike_in_both_printings_throws_no_rows(tmp_path: Path) -> None:
    """Its chroma is halved at quality 82, and the sheet lies as straight as the second printing repeats the first.

    Simulated: two rows are missing, none is off its place by as much as 20 um.
    """
    capture = random_scan(
        65980, split="report", head="tri-192", ticket="P32990", page="A4", dots_per_inch=300,
        modes={ink: PrintMode("two-pass-rows", None, phase, 3.7083891581525537) for ink, phase in _PHASES.items()},
        inks={"Y": InkState(NozzleFaults(frozenset({53, 67, 77, 95, 158, 185})))},
    )  # fmt: skip
    path = tmp_path / f"scan.{capture.encoding.kind}"
    path.write_bytes(capture.encoded())
    yellow = next(lines for lines in score_image(path).sheet.lines if lines.ink == "Y")
    assert not any(dash.state == "displaced" for dash in capture.truth.dashes["Y"])
    assert len(yellow.missing) == 2
    assert not yellow.displaced


def test_a_coarse_scan_of_a_sound_sheet_is_asked_for_again_and_nobody_cleans(tmp_path: Path) -> None:
    """Averaged down to 180 dots/inch, sound lines lie up to half a pixel off their places: 0.07 mm."""
    path = tmp_path / "scan.png"
    Image.fromarray(averaged("tri-192", 180)[..., ::-1]).save(path, dpi=(180, 180))
    found = score_image(path).sheet.assessment
    assert found.action.value == "rescan"
    assert "only 180 dots/inch: scan it at 300 or 600" in found.next_steps[0]


@pytest.mark.parametrize(("lit", "aside"), [(-1, 0), (1, 60)])
def test_an_ink_that_is_not_there_is_told_under_a_shadows_edge_too(lit: int, aside: int, tmp_path: Path) -> None:
    """A shadow takes from all channels alike what an ink takes from its own; nothing is mixed into bare paper."""
    sheet = drawn_page(300)
    picture = sheet.pixels.copy()
    blue, green, red = (picture[..., k].astype(int) for k in range(3))
    picture[(green < 150) & (red > 200) & (blue > 150)] = PAPER  # all that magenta printed alone
    height, width = picture.shape[:2]
    (solid,) = sheet.layout.patches_of("solid", "M")
    x, y = (np.array(solid.box.centre) * 300 / 25.4).round()
    v, u = np.mgrid[0:height, 0:width].astype(np.float32)
    shadow = 1 - 0.4 / (1 + np.exp(lit * (u - x - aside - 0.2 * (v - y)) / 10))
    found = scored((picture * shadow[..., None]).astype(np.uint8), tmp_path)
    assert {line.ink for line in found.lines if line.absent} == {"M"}
    assert [reason.text for reason in found.assessment.reasons if reason.ink == "M"] == [
        "magenta lays down no ink at all"
    ]
    assert next(reading for reading in found.contamination if reading.ink == "M").foreign is None
    assert "magenta: foreign ink not measured: lays down no ink" in found.capture.warnings


@pytest.mark.parametrize(("depth", "kind"), [(0.4, "photo"), (0.06, "scan")])
def test_a_shadow_over_a_sheet_that_an_app_laid_straight_makes_it_a_photo(
    depth: float, kind: str, tmp_path: Path
) -> None:
    """Its pixels lie as a scan's; under a lid no shadow falls (common practice, no source)."""
    sheet = drawn_page(300)
    height, width = sheet.pixels.shape[:2]
    v, u = np.mgrid[0:height, 0:width].astype(np.float32)
    shadow = 1 - depth / (1 + np.exp((u - 0.2 * v - 0.4 * width) / 40))
    found = scored((sheet.pixels * shadow[..., None]).astype(np.uint8), tmp_path)
    assert found.capture.kind == kind
    assert any("more than under a scanner's lid: read as a photo is" in w for w in found.capture.warnings) is (
        kind == "photo"
    )
    assert found.assessment.action is not Action.PURGE


def test_most_rows_at_half_their_ink_are_weak_and_the_others_not_too_strong(tmp_path: Path) -> None:
    """Forty nozzles of a hundred are dead, and each row is printed by two of them: eighty rows get half their dots.

    Simulated; the truth of each row is the simulator's volume.
    """
    dead = frozenset(range(30, 70))
    capture = random_scan(
        8, head="tri-100", page="A4", dots_per_inch=200, encoding="png", inks={"Y": InkState(NozzleFaults(dead))}
    )
    path = tmp_path / "scan.png"
    path.write_bytes(capture.encoded())
    sheet = score_image(path).sheet
    yellow = next(lines for lines in sheet.lines if lines.ink == "Y")
    assert set(yellow.weak) == {dash.row for dash in capture.truth.dashes["Y"] if dash.state == "weak"}
    assert sheet.assessment.action is Action.PURGE
