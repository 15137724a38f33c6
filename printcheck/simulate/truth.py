"""What is known of a simulated capture: every dash, every patch's colour, every fault, and the exact geometry."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from printcheck.geometry import Box
from printcheck.pattern.elements import Ladder
from printcheck.pattern.layout import Layout
from printcheck.simulate.dust import Speck
from printcheck.simulate.faults import InkState
from printcheck.simulate.inks import lab, xyz_weights
from printcheck.simulate.mapping import Floats, Mapping
from printcheck.simulate.page import InkLayer, PrintedPage

__all__ = ["DISPLACED_UM", "WEAK_VOLUME", "DashTruth", "PatchTruth", "Truth", "dash_truths", "patch_truths"]

WEAK_VOLUME = 0.8  # relative drop volume below which a dash counts as weak; healthy spread never gets there
DISPLACED_UM = 20.0  # landing error along the feed from which a dash counts as displaced
_SEARCH_ROWS = 3  # rows to either side where a scaled dash is looked for; dashes of a column are further apart


@dataclass(frozen=True, slots=True)
class DashTruth:
    """One dash as printed.

    Attributes
    ----------
    row, repeat : int
    nozzles : tuple of int
        That printed it; two where the passes share a row or scaling doubled it, none where scaling dropped it.
    volume : float
        Mean relative drop volume over its dots, 0 missing altogether.
    offset_um : float
        Mean landing error along the feed of the drops that came.
    state : str
        ``"present"``, ``"weak"`` (a volume under `WEAK_VOLUME`, or part of its dots missing), ``"missing"``,
        ``"displaced"``.
    strength : float or None
        Light it takes away on the paper, 1 for a sound dash; where it was asked for, see `strength.with_strengths`.
    """

    row: int
    repeat: int
    nozzles: tuple[int, ...]
    volume: float
    offset_um: float
    state: str
    strength: float | None = None


@dataclass(frozen=True, slots=True)
class PatchTruth:
    """Colour of a patch as printed: CIELAB D50, 2 degree, over its full height, missing rows and all.

    `cover` is the mean area cover of each of its inks. `lab` is absolute; `lab_relative` is relative to this paper's
    own white, without rows of dead nozzles and their neighbours, or of all where no row is left. `lightness` is
    absolute L* row by row of the print raster, `row_mm` apart from `top_mm` down: bands and fade as printed.
    """

    kind: str
    inks: tuple[str, ...]
    tone: float
    box: Box
    lab: tuple[float, float, float]
    lab_relative: tuple[float, float, float]
    cover: tuple[float, ...]
    top_mm: float
    row_mm: float
    lightness: NDArray[np.float32] = field(compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Truth:
    """All that is known of one capture.

    Attributes
    ----------
    head, page, ticket : str
    kind : str
        ``"scan"`` or ``"photo"``.
    seed : int
    split : str
    print_mode : str
    advance_rows : dict of str to int
        Rows the paper moved from swath to swath, by ink, in that ink's rows.
    inks : dict of str to InkState
    dashes : dict of str to tuple of DashTruth
    patches : tuple of PatchTruth
    paper_lab : (float, float, float)
    mapping : Mapping
        Ideal page to the pixels of the image as viewed (orientation tag applied).
    specks : tuple of Speck
        On the glass of a scan, in image pixels before quarter turns.
    settings : dict
        Everything else that was drawn, for the record.
    """

    head: str
    page: str
    ticket: str
    kind: str
    seed: int
    split: str
    print_mode: str
    advance_rows: dict[str, int]
    inks: dict[str, InkState]
    dashes: dict[str, tuple[DashTruth, ...]]
    patches: tuple[PatchTruth, ...]
    paper_lab: tuple[float, float, float]
    mapping: Mapping
    specks: tuple[Speck, ...]
    settings: dict[str, Any]

    def missing(self, ink: str, repeat: int = 0) -> tuple[int, ...]:
        """Rows of one printing of an ink's ladder that are missing."""
        return tuple(d.row for d in self.dashes[ink] if d.repeat == repeat and d.state == "missing")

    @property
    def clean(self) -> bool:
        """True where no dash of any ink is anything but present."""
        return all(d.state == "present" for rows in self.dashes.values() for d in rows)

    def page_to_px(self, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats]:
        """Pixel coordinates of points of the ideal page."""
        return self.mapping.page_to_px(x_mm, y_mm)

    def to_json(self) -> str:
        """Write the record as a JSON document; dashes that are simply present are left out."""
        out = {name: getattr(self, name) for name in ("head", "page", "ticket", "kind", "seed", "split")}
        out |= {"print_mode": self.print_mode, "advance_rows": self.advance_rows, "clean": self.clean}
        out["inks"] = {
            name: {
                **asdict(state),
                "nozzles": {
                    **asdict(state.nozzles),
                    "dead": sorted(state.nozzles.dead),
                },
            }
            for name, state in self.inks.items()
        }
        out["dashes"] = {
            name: [asdict(d) for d in rows if d.state != "present"] for name, rows in self.dashes.items()
        }
        out["patches"] = [{k: v for k, v in asdict(p).items() if k != "lightness"} for p in self.patches]
        out["paper_lab"] = self.paper_lab
        out["mapping"] = self.mapping.to_json()
        out["specks"] = [asdict(s) for s in self.specks]
        out["settings"] = self.settings
        return json.dumps(out, indent=1, default=str)


def dash_truths(layer: InkLayer, ladder: Ladder, scale: float, page_mm: tuple[float, float]) -> list[DashTruth]:
    """How each dash of a ladder came out of a layer printed at `scale` about the middle of the page."""
    pitch = layer.pitch_um / 1000.0
    out = []
    for row in range(ladder.rows):
        x_mm, y_mm = ladder.dash(row).centre
        x = page_mm[0] / 2 + scale * (x_mm - page_mm[0] / 2)
        y = page_mm[1] / 2 + scale * (y_mm - page_mm[1] / 2)
        middle = int(np.floor(y / pitch))
        # a draft mode fires every second dot, so look at a few columns
        column = int(x / pitch)
        near = np.arange(middle - _SEARCH_ROWS, middle + _SEARCH_ROWS + 1)
        near = near[(near >= 0) & (near < layer.dots.shape[0])]
        rows = near[layer.dots[near, column : column + 4].any(axis=1)]
        if not rows.size:
            out.append(DashTruth(row, ladder.repeat, (), 0.0, 0.0, "missing"))
            continue
        volume = layer.volume(rows)
        offset = layer.landing_um(rows)[0]
        nozzles = tuple(sorted({int(n) for n in layer.firing.nozzle[:, rows].ravel()}))
        alive = volume > 0
        shift = float(offset[alive].mean()) if alive.any() else 0.0
        mean = float(volume.mean())
        state = "present"
        if not alive.any():
            state = "missing"
        elif mean < WEAK_VOLUME:
            state = "weak"
        elif abs(shift) >= DISPLACED_UM:
            state = "displaced"
        out.append(DashTruth(row, ladder.repeat, nozzles, mean, shift, state))
    return out


_SAMPLE_MM = 2.0  # width of the part of a patch whose colour is worked out


def patch_truths(page: PrintedPage, layout: Layout, scale: float) -> tuple[PatchTruth, ...]:
    """Colour of every patch, from the page as the CIE observer sees it."""
    weights = xyz_weights()
    white = weights.sum(axis=1)
    per_mm = page.head.raster / 25.4
    paper = page.paper @ weights.T
    by_ink = {layer.ink: layer for layer in page.layers}
    out = []
    for patch in layout.patches:
        cx, cy = layout.width_mm / 2, layout.height_mm / 2
        x = cx + scale * (patch.box.centre[0] - cx)
        half = min(_SAMPLE_MM, patch.box.width - 0.6) / 2 * scale
        y0, y1 = (cy + scale * (v - cy) for v in (patch.box.y0, patch.box.y1))
        size = max(layer.cells_per_row for layer in page.layers)
        top, bottom = (round(v * per_mm / size) * size for v in (y0 + 0.2, y1 - 0.2))
        left, right = (round(v * per_mm / size) * size for v in (x - half, x + half))
        xyz = np.concatenate(list(page.reflectance(weights, top, bottom, left, right))).mean(axis=1)
        sound = np.ones(bottom - top, bool)
        covers = []
        for name in patch.inks:
            layer = by_ink[name]
            rows = np.arange(top // layer.cells_per_row, bottom // layer.cells_per_row)
            dead = np.repeat(~(layer.volume(rows) > 0).all(axis=0), layer.cells_per_row)[: sound.size]
            sound[: dead.size] &= np.convolve(dead, np.ones(5), "same") < 0.5
            cover = page.cover(layer, top, bottom, left, right)
            covers.append(0.0 if cover is None else float(cover.mean()))
        whole = xyz.mean(axis=0)
        out.append(
            PatchTruth(
                patch.kind,
                patch.inks,
                patch.tone,
                patch.box,
                _three(lab(whole, white)),
                _three(lab(xyz[sound].mean(axis=0) if sound.any() else whole, paper)),
                tuple(covers),
                top / per_mm,
                1 / per_mm,
                lab(xyz, white)[:, 0].astype(np.float32),
            )
        )
    return tuple(out)


def _three(values: Floats) -> tuple[float, float, float]:
    a, b, c = (float(v) for v in values)
    return a, b, c
