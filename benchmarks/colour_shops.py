"""Simulated shops for the colour survey: a known-good cartridge, then others in the same printer and scanner.

The reference sheet and the sheets to judge share printer, ink set and capture device, as in a real shop; everything
else differs: nozzle by nozzle health, drop volume from cartridge to cartridge, grain, dust, noise, placement, and in
a quarter of the sheets the paper.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.pattern.sheet import make_sheet
from printcheck.simulate.capture import Capture, Encoding
from printcheck.simulate.dust import random_specks
from printcheck.simulate.faults import Contamination, Flow, InkState
from printcheck.simulate.mapping import ScanMapping
from printcheck.simulate.phone import PhoneSettings, photograph
from printcheck.simulate.photo_scenario import random_photo
from printcheck.simulate.press import PrintSettings, print_sheet
from printcheck.simulate.printer import PrintMode
from printcheck.simulate.scanner import ScannerSettings, scan_page
from printcheck.simulate.scenario import paper_texture, random_feed, random_scan, tell_truth
from printcheck.simulate.shop import CHOICES, generator

__all__ = ["KINDS", "shop"]

HEADS = ("tri-192", "tri-100", "quad-416-192", "quad-180")
KINDS = ("clean", "faded", "weak-dye", "steady", "clearing", "growing", "swapped")
_VOLUME_SD = 0.01  # of the spot's diameter, from cartridge to cartridge


def random_states(names: tuple[str, ...], kind: str, rng: np.random.Generator) -> dict[str, InkState]:
    """One cartridge of a kind; each colour of a contaminated one has its own foreign ink, or none."""
    if kind == "clean":
        return {}
    if kind == "faded":
        depth = {n: float(rng.uniform(0.05, 0.45)) for n in names}
        return {n: InkState(flow=(Flow("fade", 40.0, 260.0, d),)) for n, d in depth.items()}
    if kind == "weak-dye":
        return {n: InkState(strength=float(rng.uniform(0.7, 0.97))) for n in names}
    colours = [n for n in names if n != "K"]
    if kind == "swapped":
        a, b = (str(v) for v in rng.choice(colours, 2, replace=False))
        return {x: InkState(contamination=(Contamination(y, 1.0),)) for x, y in ((a, b), (b, a))}
    states = {}
    hit = [str(v) for v in rng.permutation(colours)[: int(rng.integers(1, 3))]]
    for name in hit:
        foreign = str(rng.choice([n for n in colours if n != name]))
        least = 0.03 if name == "Y" else 0.05
        share = float(least * (0.25 / least) ** rng.uniform(0, 1))
        if kind == "steady":
            part = Contamination(foreign, share)
        elif kind == "clearing":
            part = Contamination(foreign, max(share, 2 * least), "clearing", float(rng.uniform(60, 280)))
        else:
            part = Contamination(foreign, share / 2, "growing", float(rng.uniform(60, 250)))
        states[name] = InkState(contamination=(part,))
    return states


def shop(
    seed: int, split: str, kinds: tuple[str, ...], *, photo: bool = False, dpi: int | None = None
) -> Iterator[tuple[str, Capture]]:
    """Yield ``("reference", capture)`` and then one capture for each of `kinds`."""
    rng = generator(seed, split, 9)
    head = str(rng.choice(HEADS))
    page = "A4" if rng.random() < 0.7 else "Letter"
    common: dict[str, Any] = {"split": split, "head": head, "page": page, "inks": {}, "colour_truth": True}
    # a photo cannot carry a reference of its own: the house reference is scored on the shop's scanner
    first = random_scan(seed, dots_per_inch=dpi, encoding="jpeg", **common)
    yield "reference", first
    drawn = first.truth.settings
    settings = _settings(drawn["print"])
    scanner = ScannerSettings(**drawn["scanner"])
    layout = build_layout(load_head(head), page_named(page))
    names = tuple(ink.ink for ink in layout.head.inks)
    for number, kind in enumerate(kinds):
        spots = settings.spot_ratio or {}
        ratios = {n: v * float(1 + _VOLUME_SD * rng.standard_normal()) for n, v in spots.items()}
        other = rng.random() < 0.25
        paper = str(rng.choice(CHOICES[split].papers)) if other else settings.paper
        mine = replace(settings, spot_ratio=ratios, paper=paper)
        states = random_states(names, kind, rng)
        sheet = make_sheet(layout, f"{kind[:6]}-{seed}-{number}")
        printed = print_sheet(sheet, mine, states, rng)
        if photo:
            yield kind, _photo(seed * 100 + number, split, sheet, mine, states, printed, rng)
            continue
        per_mm = scanner.dots_per_inch / 25.4
        mapping = ScanMapping(
            random_feed(sheet, 1.0, rng), float(np.clip(rng.normal(0, 0.7), -2.5, 2.5)),
            (float(rng.uniform(0, 3)), float(rng.uniform(0, 3))), per_mm * float(1 + rng.uniform(-0.001, 0.001)),
            per_mm * float(1 + rng.uniform(-0.001, 0.001)), 0.0, 60.0, 0.0,
            round((layout.width_mm + 4) * per_mm), round((layout.height_mm + 4) * per_mm), 0,
        )  # fmt: skip
        specks = random_specks(30, mapping.width_px, mapping.height_px, per_mm, rng)
        image = scan_page(printed, scanner, mapping, paper_texture(printed, rng), specks, rng)
        how = Encoding("jpeg", int(rng.integers(80, 96)), "4:2:0", scanner.dots_per_inch)
        truth = tell_truth(
            "scan", seed, split, sheet, mine, {n: states.get(n, InkState()) for n in names}, printed, mapping, True,
            {"scanner": drawn["scanner"]},
        )  # fmt: skip
        yield kind, Capture(image, how, truth)


def _settings(drawn: dict[str, Any]) -> PrintSettings:
    return PrintSettings(**{**drawn, "modes": {n: PrintMode(**m) for n, m in drawn["modes"].items()}})


def _photo(
    seed: int, split: str, sheet: Any, settings: PrintSettings, states: dict[str, InkState], printed: Any,
    rng: np.random.Generator,
) -> Capture:  # fmt: skip
    like = _phone_draw(seed, split, sheet)
    phone, mapping = like
    image = photograph(printed, phone, mapping, paper_texture(printed, rng), rng)
    how = Encoding("jpeg", int(rng.integers(86, 96)), "4:2:0", 72, 1)
    names = [ink.ink for ink in sheet.layout.head.inks]
    truth = tell_truth(
        "photo", seed, split, sheet, settings, {n: states.get(n, InkState()) for n in names}, printed, mapping, True,
        {"phone": asdict(phone)},
    )  # fmt: skip
    return Capture(image, how, truth)


def _phone_draw(seed: int, split: str, sheet: Any) -> tuple[PhoneSettings, Any]:
    """A phone and its view, as `random_photo` would draw them."""
    drawn = random_photo(
        seed, split=split, head=sheet.layout.head.name, page=sheet.layout.page.name, inks={}, megapixels=12.0
    )
    return PhoneSettings(**drawn.truth.settings["phone"]), drawn.truth.mapping
