"""Random photographs: `random_photo` makes one phone picture with its truth from one seed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from printcheck.pattern.control_strip import control_strip
from printcheck.pattern.sheet import Sheet
from printcheck.simulate.bench import BENCHES
from printcheck.simulate.capture import Capture, Encoding
from printcheck.simulate.control_strip import PrintedStrip, StripOnBench, placed_beside
from printcheck.simulate.faults import InkState
from printcheck.simulate.phone import PhoneSettings, photograph
from printcheck.simulate.printer import PrintMode
from printcheck.simulate.scenario import paper_texture, printed, random_feed, tell_truth
from printcheck.simulate.shop import CHOICES, generator
from printcheck.simulate.spectra import sensor
from printcheck.simulate.strength import with_strengths
from printcheck.simulate.view import PhoneMapping

__all__ = ["random_photo"]

_MARGIN = 1.06  # least room around the sheet in the picture


def random_photo(
    seed: int,
    *,
    split: str = "tune",
    head: str | None = None,
    page: str | None = None,
    megapixels: float = 12.0,
    ticket: str | None = None,
    clean: bool | None = None,
    arrangement: str | None = None,
    inks: Mapping[str, InkState] | None = None,
    modes: Mapping[str, PrintMode] | None = None,
    max_tilt_deg: float = 25.0,
    glare: bool | None = None,
    shadow: bool | None = None,
    orientation: int | None = None,
    paper: str | None = None,
    ink_set: str | None = None,
    colour_truth: bool = False,
    strength_truth: bool = False,
    changes: Mapping[str, Any] | None = None,
    strip: PrintedStrip | None = None,
) -> Capture:
    """Print a sheet with random faults on a random printer and photograph it on a bench.

    Parameters
    ----------
    seed, split, head, page, ticket, clean, arrangement, inks, modes, paper, ink_set, colour_truth
        As for `scenario.random_scan`.
    megapixels : float
        Of the picture, 4:3.
    max_tilt_deg : float
        Tilt is drawn between 0 and this.
    glare, shadow : bool, optional
        A lamp's reflection, a shadow edge; by default none, and in a third of the pictures.
    orientation : int, optional
        EXIF orientation, 1 to 8; drawn from those phones write (1, 3, 6, 8) by default.
    strength_truth : bool
        Work out the strength of every dash too, see `strength.with_strengths` (a second or two).
    changes : mapping, optional
        Fields of `PhoneSettings` and `PhoneMapping` to set outright, e.g. ``{"defocus_px": 4.0}``.
    strip : PrintedStrip, optional
        A control strip to lie beside the sheet.
    """
    choices = CHOICES[split]
    rng = generator(seed, split, 3)
    sheet, settings, states, printed_page = printed(
        rng, split, head=head, page=page, ticket=f"P{seed}" if ticket is None else ticket, clean=clean,
        arrangement=arrangement, inks=inks, modes=modes, print_scale=1.0, halftone=None, paper=paper,
        ink_set=ink_set,
    )  # fmt: skip
    rng = generator(seed, split, 4)
    changes = dict(changes or {})
    curve, contrast, vividness = _random_rendering(seed, split)
    phone = PhoneSettings(
        str(rng.choice(choices.cameras)),
        curve,
        float(rng.uniform(0.7, 1.0)),
        (float(rng.uniform(0.93, 1.07)), 1.0, float(rng.uniform(0.9, 1.1))),
        float(rng.uniform(0.65, 0.95)),
        float(rng.uniform(0.4, 0.9)),
        float(rng.choice([0.0, 0.0, rng.uniform(1.0, 1.8)])),
        float(rng.uniform(0, 180)),
        float(rng.uniform(0.001, 0.004)),
        float(rng.uniform(0.008, 0.03)),
        float(rng.uniform(0.8, 1.6)),
        float(rng.uniform(0.0, 0.5) if split == "tune" else rng.uniform(0.1, 0.7)),
        float(rng.uniform(0.1, 0.9)),
        float(rng.uniform(0.0, 0.35)),
        float(rng.uniform(0, 360)),
        float(rng.uniform(0.0, 0.06)),
        float(rng.uniform(0.2, 0.5)) if (rng.random() < 1 / 3 if shadow is None else shadow) else 0.0,
        float(rng.uniform(-0.5, 0.5)),
        float(rng.uniform(0, 360)),
        float(rng.uniform(5, 150)),
        float(rng.uniform(0.5, 1.5)) if glare else 0.0,
        float(rng.uniform(0.25, 0.75)),
        float(rng.uniform(0.2, 0.8)),
        float(rng.uniform(0.02, 0.07)),
        str(rng.choice(BENCHES)),
        contrast,
        vividness,
    )
    phone = replace(phone, **{k: v for k, v in changes.items() if k in PhoneSettings.__dataclass_fields__})
    size = (sheet.layout.width_mm, sheet.layout.height_mm)
    beside = None if strip is None else placed_beside(strip, *size, generator(seed, split, 7))
    mapping = _random_view(sheet, rng, megapixels, max_tilt_deg, beside)
    mapping = replace(mapping, **{k: v for k, v in changes.items() if k in PhoneMapping.__dataclass_fields__})
    image = photograph(printed_page, phone, mapping, paper_texture(printed_page, rng), rng, beside)
    tag = int(rng.choice([1, 3, 6, 8])) if orientation is None else orientation
    how = Encoding("jpeg", int(rng.integers(84, 97)), "4:2:0", 72, tag)
    truth = tell_truth(
        "photo", seed, split, sheet, settings, states, printed_page, mapping, colour_truth,
        {"phone": asdict(phone), "encoding": asdict(how)},
    )  # fmt: skip
    if strength_truth:
        truth = with_strengths(truth, printed_page, sheet.layout, sensor(phone.sensor))
    return Capture(image, how, truth)


def _random_rendering(seed: int, split: str) -> tuple[float | str, float, float]:
    """Tone curve, contrast and vividness: one phone in two writes sRGB's curve, none leaves it at that.

    The exponents are those of cameras that were measured to fit one, 1.9 to 2.6 (from memory); an S on top and chroma
    that is 5 to 25 % more than the scene's are common practice, no source.
    """
    rng = generator(seed, split, 13)  # its own stream, so that nothing else about a seed depends on it
    wide = split == "report"
    exponent = float(rng.uniform(1.95, 2.55) if wide else rng.uniform(2.0, 2.4))
    curve: float | str = "srgb" if rng.random() < 0.5 else exponent
    contrast = float(rng.uniform(0.0, 0.4 if wide else 0.3))
    return curve, contrast, float(rng.uniform(1.0, 1.25) if wide else rng.uniform(0.97, 1.15))


def _random_view(
    sheet: Sheet, rng: np.random.Generator, megapixels: float, max_tilt_deg: float, beside: StripOnBench | None
) -> PhoneMapping:
    """Place a camera so that all of the sheet and of a strip beside it is seen, as a person would frame them."""
    short = round(np.sqrt(megapixels * 1e6 * 3 / 4))
    width, height = short, round(short * 4 / 3)
    feed = random_feed(sheet, 1.0, rng)
    focal = float(rng.uniform(0.78, 1.0)) * height
    roll = float(rng.choice([0.0, 180.0], p=[0.85, 0.15]) + rng.normal(0, 3))
    view = PhoneMapping(
        feed,
        float(rng.uniform(0, max_tilt_deg)),
        float(rng.uniform(0, 360)),
        roll,
        350.0,
        focal,
        ((width - 1) / 2, (height - 1) / 2),
        float(rng.uniform(-0.04, 0.02)),
        float(rng.uniform(-0.01, 0.01)),
        float(rng.uniform(-1.0, 6.0)),
        float(rng.uniform(0, 180)),
        float(rng.uniform(-1.5, 1.5)),
        width,
        height,
    )
    edge = np.linspace(0, 1, 9)
    x = np.concatenate([edge, edge, 0 * edge, 0 * edge + 1]) * feed.width_mm
    y = np.concatenate([0 * edge, 0 * edge + 1, edge, edge]) * feed.height_mm
    room = _MARGIN * float(rng.uniform(1.0, 1.12))
    for _ in range(12):  # step back or forward, and aim, until the sheet just fits
        px, py = view.print_to_px(x, y)
        if beside is not None:
            piece = control_strip(beside.strip.letter)
            corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [piece.width_mm, piece.height_mm]
            more = beside.to_px(view, corners[:, 0], corners[:, 1])
            px, py = np.concatenate([px, more[0]]), np.concatenate([py, more[1]])
        fill = max(np.ptp(px) / width, np.ptp(py) / height) * room
        cx = view.centre_px[0] + (width - 1) / 2 - (px.max() + px.min()) / 2
        cy = view.centre_px[1] + (height - 1) / 2 - (py.max() + py.min()) / 2
        view = replace(view, distance_mm=view.distance_mm * float(fill), centre_px=(float(cx), float(cy)))
    return view
