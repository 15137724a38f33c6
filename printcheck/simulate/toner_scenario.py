"""Random scans of toner sheets: one seed makes a cartridge, a printer, a scanner, and the truth."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.pages import page_named
from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import make_sheet
from printcheck.simulate.capture import Encoding, encode
from printcheck.simulate.inks import lab, xyz_weights
from printcheck.simulate.mapping import Floats, ScanMapping
from printcheck.simulate.scanner import scan_page
from printcheck.simulate.scenario import drawn_scan, paper_texture
from printcheck.simulate.screen import SCREENS, Screen
from printcheck.simulate.shop import CHOICES, generator
from printcheck.simulate.spectra import paper
from printcheck.simulate.texture import Texture
from printcheck.simulate.toner_faults import TonerState, random_toner_state
from printcheck.simulate.toner_page import TonerPage

__all__ = ["TonerCapture", "TonerTruth", "random_toner_scan"]

_WINDOW_MM = 4.0  # of a tint whose lightness is worked out


@dataclass(frozen=True, slots=True)
class TonerTruth:
    """What is known of one capture of a toner sheet.

    Attributes
    ----------
    page, ticket : str
    seed : int
    split : str
    state : TonerState
    lines_per_inch, angle_deg : float
        Of the screen.
    tint_lightness : tuple of (float, float)
        L* of each tint at its head and at its foot, relative to this paper.
    solid_density : float
        Over paper, of the four solids together.
    fog_dL : float
        L* of bare paper in the middle of the page less that of the paper itself: below 0 for fog.
    mapping : ScanMapping
    """

    page: str
    ticket: str
    seed: int
    split: str
    state: TonerState
    lines_per_inch: float
    angle_deg: float
    tint_lightness: tuple[tuple[float, float], ...]
    solid_density: float
    fog_dL: float  # noqa: N815
    mapping: ScanMapping

    def to_json(self) -> str:
        """Write the record as a JSON document."""
        out = {name: getattr(self, name) for name in self.__dataclass_fields__ if name not in ("state", "mapping")}
        return json.dumps({**out, "state": asdict(self.state), "mapping": self.mapping.to_json()}, indent=1)


@dataclass(frozen=True, slots=True)
class TonerCapture:
    """A picture (H, W, 3) uint8 BGR and what is known of it."""

    image: NDArray[np.uint8]
    encoding: Encoding
    truth: TonerTruth

    def encoded(self) -> bytes:
        """Encode as the file it would be; returns its bytes."""
        return encode(self.image, self.encoding)


def random_toner_scan(
    seed: int,
    *,
    split: str = "tune",
    page: str | None = None,
    ticket: str | None = None,
    dots_per_inch: int | None = None,
    state: TonerState | None = None,
    part: str | None = None,
    specks: int | None = None,
    streaks: int = 0,
    quarter_turns: int | None = None,
    encoding: str | None = None,
    changes: Mapping[str, Any] | None = None,
) -> TonerCapture:
    """Print a toner sheet with a random cartridge and scan it.

    Parameters
    ----------
    seed, split, page, ticket, dots_per_inch, quarter_turns, encoding, changes
        As of `scenario.random_scan`.
    state : TonerState, optional
        The cartridge outright; the next three then mean nothing.
    part, specks, streaks
        See `toner_faults.random_toner_state`.
    """
    choices = CHOICES[split]
    rng = generator(seed, split, 3)
    sheet = make_sheet(
        build_layout(load_head("toner-mono"), page_named(page or ("A4" if rng.random() < 0.7 else "Letter"))),
        f"T{seed}" if ticket is None else ticket,
    )
    layout = sheet.layout
    tints = tuple((patch.box.x0, patch.box.x1) for patch in layout.patches_of("tint"))
    drawn = random_toner_state(
        rng.spawn(1)[0], layout.width_mm, layout.height_mm, part=part, specks=specks, streaks=streaks, tints_mm=tints
    )
    cells = SCREENS[split]
    screen = Screen(*cells[int(rng.integers(0, len(cells)))], layout.raster)
    grain = Texture(((float(rng.uniform(0.04, 0.12)), 0.0), (float(rng.uniform(0.02, 0.05)), 3.0)), rng)
    printed = TonerPage(
        layout.head,
        np.ascontiguousarray(255 - compose_rgb(sheet)[..., 1]),
        screen,
        state or drawn,
        float(rng.uniform(1.25, 1.5)),
        paper(str(rng.choice(choices.papers))),
        float(rng.uniform(25, 60)),
        float(rng.uniform(18, 32)),
        grain,
    )
    rng = generator(seed, split, 4)
    scanner, mapping, dust = drawn_scan(sheet, 1.0, split, rng, dots_per_inch, quarter_turns, changes)
    image = scan_page(printed, scanner, mapping, paper_texture(printed, rng), dust, rng)
    kind = encoding or ("jpeg" if rng.random() < 0.5 else "png")
    how = Encoding(kind, int(rng.integers(80, 96)), "4:2:0", scanner.dots_per_inch)
    truth = TonerTruth(
        layout.page.name,
        sheet.ticket,
        seed,
        split,
        printed.state,
        screen.lines_per_inch,
        screen.angle_deg,
        *_seen(printed, layout),
        mapping,
    )
    return TonerCapture(image, how, truth)


def _seen(page: TonerPage, layout: Layout) -> tuple[tuple[tuple[float, float], ...], float, float]:
    """Lightness of the tints at head and foot, density of the solids, lightness lost to fog; marks left out."""
    plain = TonerPage.__new__(TonerPage)
    plain.__dict__.update(page.__dict__)
    plain.state = replace(page.state, repeats=(), streaks=(), specks=())
    white = page.paper @ xyz_weights().T
    tints = []
    for patch in layout.patches_of("tint"):
        x, ends = patch.box.centre[0], (patch.box.y0 + 5.0, patch.box.y1 - 5.0)
        values = [float(lab(_mean(plain, x, y), white)[0]) for y in ends]
        tints.append((values[0], values[1]))
    solids = [_mean(plain, *patch.box.centre)[1] / white[1] for patch in layout.patches_of("solid")]
    middle = layout.papers[len(layout.papers) // 2].box.centre
    return tuple(tints), float(-np.log10(np.mean(solids))), float(lab(_mean(plain, *middle), white)[0]) - 100.0


def _mean(page: TonerPage, x_mm: float, y_mm: float) -> Floats:
    """XYZ (3,) of a square about a place, as the CIE observer sees it."""
    per_mm = 1000.0 / page.cell_um
    x0, x1, y0, y1 = (
        round((v + d) * per_mm) for v, d in ((x_mm, -2.0), (x_mm, _WINDOW_MM - 2), (y_mm, -2.0), (y_mm, 2.0))
    )
    seen = np.concatenate(list(page.reflectance(xyz_weights(), y0, y1, x0, x1)))
    return np.asarray(seen.mean(axis=(0, 1)), np.float64)
