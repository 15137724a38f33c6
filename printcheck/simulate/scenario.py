"""Random captures, ready to be scored: `random_scan` makes one flatbed scan with its truth from one seed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from printcheck.pattern.heads import builtin_heads, load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.pattern.sheet import Sheet, make_sheet
from printcheck.simulate.capture import Capture, Encoding
from printcheck.simulate.dust import Speck, random_specks
from printcheck.simulate.faults import InkState
from printcheck.simulate.inks import lab, xyz_weights
from printcheck.simulate.mapping import Feed, ScanMapping
from printcheck.simulate.mapping import Mapping as Geometry
from printcheck.simulate.page import PrintedPage, SeenPage
from printcheck.simulate.press import PrintSettings, print_sheet
from printcheck.simulate.printer import PrintMode
from printcheck.simulate.scanner import ScannerSettings, scan_page
from printcheck.simulate.shop import CHOICES, generator, random_inks, random_print
from printcheck.simulate.spectra import sensor
from printcheck.simulate.strength import with_strengths
from printcheck.simulate.texture import Texture
from printcheck.simulate.truth import Truth, dash_truths, patch_truths

__all__ = ["drawn_scan", "paper_texture", "printed", "random_feed", "random_scan", "tell_truth"]

_CLEAN_SHARE = 1 / 3


def printed(
    rng: np.random.Generator,
    split: str,
    *,
    head: str | None,
    page: str | None,
    ticket: str,
    clean: bool | None,
    arrangement: str | None,
    inks: Mapping[str, InkState] | None,
    modes: Mapping[str, PrintMode] | None,
    print_scale: float,
    halftone: str | None,
    paper: str | None,
    ink_set: str | None,
) -> tuple[Sheet, PrintSettings, dict[str, InkState], PrintedPage]:
    """Print a random sheet; what is given is kept, the rest is drawn."""
    drawn_head, drawn_page = str(rng.choice(sorted(builtin_heads()))), "A4" if rng.random() < 0.7 else "Letter"
    kind = load_head(head or drawn_head)
    sheet = make_sheet(build_layout(kind, page_named(page or drawn_page)), ticket)
    drawn_clean = bool(rng.random() < _CLEAN_SHARE)
    is_clean = drawn_clean if clean is None else clean
    # faults draw from a stream of their own: the same seed with another fault has the same printer
    states = random_inks(kind, rng.spawn(1)[0], clean=is_clean, arrangement=arrangement)
    if inks is not None:
        states = {ink.ink: inks.get(ink.ink, InkState()) for ink in kind.inks}
    settings = random_print(
        kind, split, rng, modes=modes, scale=print_scale, halftone=halftone, paper=paper, ink_set=ink_set
    )
    return sheet, settings, states, print_sheet(sheet, settings, states, rng)


def random_feed(sheet: Sheet, scale: float, rng: np.random.Generator) -> Feed:
    """How a printer moves paper: within 0.15 % of true, a roller out of round by up to 0.05 mm."""
    return Feed(
        sheet.layout.width_mm,
        sheet.layout.height_mm,
        scale,
        float(1.0 + rng.uniform(-0.0015, 0.0015)),
        float(rng.uniform(0, 0.05)),
        float(rng.uniform(30, 60)),
        float(rng.uniform(0, 6.28)),
    )


def paper_texture(page: SeenPage, rng: np.random.Generator) -> Texture:
    """Reflectance of plain paper: fibres, and a cloudy formation of a millimetre or two."""
    cell = page.cell_um / 1000.0
    return Texture(
        (
            (float(rng.uniform(0.004, 0.012)), 0.05 / cell),
            (float(rng.uniform(0.001, 0.004)), 0.5 / cell),
            (float(rng.uniform(0.0005, 0.0015)), 1.5 / cell),
        ),
        rng,
    )


def tell_truth(
    kind: str,
    seed: int,
    split: str,
    sheet: Sheet,
    settings: PrintSettings,
    states: dict[str, InkState],
    page: PrintedPage,
    mapping: Geometry,
    colour: bool,
    record: dict[str, object],
    specks: tuple[Speck, ...] = (),
) -> Truth:
    """Gather the truth of one capture."""
    layout = sheet.layout
    size = (layout.width_mm, layout.height_mm)
    dashes = {
        layer.ink: tuple(
            dash
            for ladder in layout.ladders_of(layer.ink)
            for dash in dash_truths(layer, ladder, settings.scale, size)
        )
        for layer in page.layers
    }
    weights = xyz_weights()
    paper = lab(page.paper @ weights.T, weights.sum(axis=1))
    return Truth(
        layout.head.name,
        layout.page.name,
        sheet.ticket,
        kind,
        seed,
        split,
        next(iter(settings.modes.values())).kind,
        {layer.ink: layer.firing.advance for layer in page.layers},
        states,
        dashes,
        patch_truths(page, layout, settings.scale) if colour else (),
        (float(paper[0]), float(paper[1]), float(paper[2])),
        mapping,
        specks,
        {"print": asdict(settings), **record},
    )


def drawn_scan(
    sheet: Sheet,
    scale: float,
    split: str,
    rng: np.random.Generator,
    dots_per_inch: int | None,
    quarter_turns: int | None,
    changes: Mapping[str, Any] | None,
) -> tuple[ScannerSettings, ScanMapping, tuple[Speck, ...]]:
    """Draw a scanner, how a sheet printed at `scale` lies on it, and the dust on its glass; see `random_scan`."""
    choices = CHOICES[split]
    dpi = dots_per_inch or int(rng.choice([300, 600]))
    lid = float(rng.choice([0.04, rng.uniform(0.6, 0.95)]))
    scanner = ScannerSettings(
        dpi,
        str(rng.choice(choices.scanners)),
        choices.curves[int(rng.integers(0, len(choices.curves)))],
        float(rng.uniform(0.3, 1.0)),
        float(rng.uniform(0.45, 0.8)) * (1.0 if dpi <= 300 else 1.25),
        float(rng.uniform(0.94, 1.1)),
        float(rng.uniform(0.002, 0.012)),
        float(rng.uniform(0.0005, 0.002)),
        float(rng.uniform(0.004, 0.014)),
        float(rng.uniform(0.0, 0.002)) if choices.row_noise else 0.0,
        float(rng.uniform(0.0, 0.002)),
        float(rng.uniform(0.0, 0.0015)),
        float(rng.uniform(1.5, 12.0)),
        float(rng.uniform(0.0, 0.05)),
        float(rng.choice([0.0, 0.0, rng.uniform(0.2, 0.8)])),
        (lid, lid, lid),
    )
    changes = dict(changes or {})
    scanner = replace(scanner, **{k: v for k, v in changes.items() if k in ScannerSettings.__dataclass_fields__})
    feed = random_feed(sheet, scale, rng)
    per_mm = dpi / 25.4
    offset = (float(rng.uniform(-2.0, 4.0)), float(rng.uniform(-2.0, 4.0)))
    extra = float(rng.uniform(-2.0, 6.0))
    turn = int(rng.choice([0, 0, 0, 0, 0, 0, 1, 2, 3])) if quarter_turns is None else quarter_turns
    mapping = ScanMapping(
        feed,
        float(np.clip(rng.normal(0, 0.7), -2.5, 2.5)),
        offset,
        per_mm * float(1 + rng.uniform(-0.0015, 0.0015)),
        per_mm * float(1 + rng.uniform(-0.003, 0.003)),
        float(rng.uniform(0, 0.04)),
        float(rng.uniform(25, 120)),
        float(rng.uniform(0, 6.28)),
        round((sheet.layout.width_mm + extra) * per_mm),
        round((sheet.layout.height_mm + extra) * per_mm),
        turn,
    )
    mapping = replace(mapping, **{k: v for k, v in changes.items() if k in ScanMapping.__dataclass_fields__})
    specks = random_specks(int(rng.integers(5, 90)), mapping.width_px, mapping.height_px, per_mm, rng)
    return scanner, mapping, specks


def random_scan(
    seed: int,
    *,
    split: str = "tune",
    head: str | None = None,
    page: str | None = None,
    dots_per_inch: int | None = None,
    ticket: str | None = None,
    clean: bool | None = None,
    arrangement: str | None = None,
    inks: Mapping[str, InkState] | None = None,
    modes: Mapping[str, PrintMode] | None = None,
    print_scale: float = 1.0,
    halftone: str | None = None,
    paper: str | None = None,
    ink_set: str | None = None,
    encoding: str | None = None,
    quarter_turns: int | None = None,
    colour_truth: bool = False,
    strength_truth: bool = False,
    changes: Mapping[str, Any] | None = None,
) -> Capture:
    """Print a sheet with random faults on a random printer and scan it on a random scanner.

    Parameters
    ----------
    seed : int
        Same seed, split and arguments, same capture.
    split : str
        ``"tune"`` or ``"report"``: see `shop`.
    head, page : str, optional
        Names (or the path of a head file); drawn by default.
    dots_per_inch : int, optional
        300 or 600 by default.
    clean : bool, optional
        No faults beyond healthy spread; one in three by default.
    arrangement : str, optional
        Of dead nozzles, see ``faults.ARRANGEMENTS``.
    inks : mapping of str to InkState, optional
        The cartridge's state outright; `clean` and `arrangement` then mean nothing.
    modes : mapping of str to PrintMode, optional
        How each ink is printed.
    print_scale : float
        Of the driver.
    halftone, paper, ink_set : str, optional
    encoding : str, optional
        ``"jpeg"``, ``"png"``, ``"tiff"`` or ``"webp"``; half JPEG by default.
    quarter_turns : int, optional
        Of the picture, anticlockwise; a quarter of the scans are turned by default.
    colour_truth : bool
        Work out the colour of every patch too (0.3 to 1 s).
    strength_truth : bool
        Work out the strength of every dash too, see `strength.with_strengths` (a second or two).
    changes : mapping, optional
        Fields of `ScannerSettings` and `ScanMapping` to set outright, e.g. ``{"blur_px": 3.0}``.

    Raises
    ------
    PatternError
        Unknown head or page.
    KeyError
        Unknown split.
    """
    rng = generator(seed, split, 1)
    sheet, settings, states, printed_page = printed(
        rng, split, head=head, page=page, ticket=f"S{seed}" if ticket is None else ticket, clean=clean,
        arrangement=arrangement, inks=inks, modes=modes, print_scale=print_scale, halftone=halftone, paper=paper,
        ink_set=ink_set,
    )  # fmt: skip
    rng = generator(seed, split, 2)  # the capture's own stream: another fault does not change the scanner
    scanner, mapping, specks = drawn_scan(sheet, settings.scale, split, rng, dots_per_inch, quarter_turns, changes)
    image = scan_page(printed_page, scanner, mapping, paper_texture(printed_page, rng), specks, rng)
    kind = encoding or ("jpeg" if rng.random() < 0.5 else str(rng.choice(["png", "png", "tiff"])))
    quality, chroma = int(rng.integers(78, 96)), str(rng.choice(["4:2:0", "4:2:0", "4:4:4"]))
    how = Encoding(kind, quality, chroma, scanner.dots_per_inch)
    record: dict[str, object] = {"scanner": asdict(scanner), "encoding": asdict(how)}
    truth = tell_truth(
        "scan", seed, split, sheet, settings, states, printed_page, mapping, colour_truth, record, specks
    )
    if strength_truth:
        truth = with_strengths(truth, printed_page, sheet.layout, sensor(scanner.sensor))
    return Capture(image, how, truth)
