"""What a shop would vary, drawn at random: printers, papers, inks, faults. Tuning and reporting draw apart.

The two splits share no seed stream, and where it makes sense no choice either: other halftones, papers, ink sets,
sensors and tone curves, so that what was tuned on one is really tested on the other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from printcheck.pattern.heads import Head, HeadInk
from printcheck.simulate.faults import InkState, NozzleFaults, random_dead
from printcheck.simulate.press import PrintSettings
from printcheck.simulate.printer import PrintMode

__all__ = ["CHOICES", "Choices", "generator", "random_inks", "random_print"]


@dataclass(frozen=True, slots=True)
class Choices:
    """What one split chooses from."""

    halftones: tuple[str, ...]
    papers: tuple[str, ...]
    ink_sets: tuple[str, ...]
    scanners: tuple[str, ...]
    cameras: tuple[str, ...]
    curves: tuple[float | str, ...]
    row_noise: bool
    stream: int


CHOICES: dict[str, Choices] = {
    "tune": Choices(
        ("bayer", "floyd-steinberg"),
        ("office-white", "recycled-grey", "matte-coated"),
        ("dye-a", "pigment-b"),
        ("scanner-led-a", "scanner-lamp-a"),
        ("camera-a",),
        ("srgb", 1.8),
        False,
        11,
    ),
    "report": Choices(
        ("blue-noise", "jarvis"),
        ("bright-white", "natural", "cream"),
        ("dye-b", "pigment-a"),
        ("scanner-led-b", "scanner-lamp-b"),
        ("camera-b",),
        ("srgb", 2.2, 2.0),
        True,
        23,
    ),
}


def generator(seed: int, split: str, purpose: int) -> np.random.Generator:
    """Start the random numbers of one seed; no two splits or purposes share any."""
    return np.random.default_rng(np.random.SeedSequence([CHOICES[split].stream, purpose, seed]))


def random_inks(
    head: Head, rng: np.random.Generator, *, clean: bool, arrangement: str | None = None
) -> dict[str, InkState]:
    """State of each ink of a cartridge.

    Parameters
    ----------
    clean : bool
        Healthy throughout. Otherwise at least one ink has dead nozzles; others may; some are weak or displaced.
    arrangement : str, optional
        Of the dead nozzles (see ``faults.ARRANGEMENTS``); drawn by default.
    """
    if clean:
        return {ink.ink: InkState() for ink in head.inks}
    sure = int(rng.integers(0, len(head.inks)))
    return {
        ink.ink: InkState(_random_nozzles(ink, rng, number == sure or rng.random() < 0.5, arrangement))
        for number, ink in enumerate(head.inks)
    }


def _random_nozzles(ink: HeadInk, rng: np.random.Generator, dead: bool, arrangement: str | None) -> NozzleFaults:
    kind = arrangement or str(rng.choice(["scattered", "scattered", "run", "stride", "mixed"]))
    planted = random_dead(ink.nozzles, kind if dead else "none", rng)
    free = [n for n in range(ink.nozzles) if n not in planted.dead]
    count = int(rng.integers(0, 5)) if rng.random() < 0.5 else 0
    picked = [int(n) for n in rng.permutation(free)[: 2 * count]]
    weak = {n: float(rng.uniform(0.35, 0.75)) for n in picked[:count]}
    displaced = {n: float(rng.choice([-1, 1]) * rng.uniform(22.0, 40.0)) for n in picked[count:]}
    return NozzleFaults(planted.dead, weak, displaced, False, planted.arrangement, planted.stride)


def random_modes(head: Head, rng: np.random.Generator) -> dict[str, PrintMode]:
    """One way of printing for the whole head, with a swath phase for each ink."""
    interlaced = any(ink.passes > 1 for ink in head.inks)
    if interlaced:
        kind = str(rng.choice(["interlaced", "paired"]))
    else:
        kind = str(rng.choice(["single", "single", "two-pass-dots", "two-pass-rows"]))
    feed, bidirectional = float(rng.uniform(0, 6)), float(rng.choice([0.0, rng.normal(0, 12)]))
    # the paper moves once for all inks: as far as the shortest ink reaches, or each ink runs alone
    share = len({ink.nozzles for ink in head.inks}) > 1 and rng.random() < 0.5
    short = min(ink.nozzles for ink in head.inks)
    trimmed = int(rng.integers(1, 12)) if kind == "single" and rng.random() < 0.3 else 0
    modes = {}
    for ink in head.inks:
        advance: int | None = None
        if kind == "single":
            advance = (short if share else ink.nozzles) - trimmed
        modes[ink.ink] = PrintMode(kind, advance, int(rng.integers(0, ink.rows)), feed, bidirectional, draft=False)
    return modes


def random_print(
    head: Head,
    split: str,
    rng: np.random.Generator,
    *,
    modes: Mapping[str, PrintMode] | None = None,
    scale: float = 1.0,
    halftone: str | None = None,
    paper: str | None = None,
    ink_set: str | None = None,
) -> PrintSettings:
    """Draw a printer, ink set and paper; what is given is kept."""
    choices = CHOICES[split]
    drawn = random_modes(head, rng)
    spots = {ink.ink: float(rng.uniform(1.40, 1.66)) for ink in head.inks}
    picked = (str(rng.choice(choices.halftones)), str(rng.choice(choices.ink_sets)), str(rng.choice(choices.papers)))
    return PrintSettings(
        modes or drawn,
        halftone or picked[0],
        scale,
        ink_set or picked[1],
        paper or picked[2],
        spots,
        float(rng.uniform(0.34, 0.5)),
        float(rng.uniform(25, 60)),
        float(rng.uniform(0.06, 0.18)),
        float(rng.uniform(0.015, 0.045)),
        float(rng.uniform(1.5, 4.0)),
    )
