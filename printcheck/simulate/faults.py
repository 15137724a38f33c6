"""What can be wrong with a cartridge: nozzles, flow of ink along the page, foreign ink. All as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "ARRANGEMENTS",
    "Band",
    "Contamination",
    "Flow",
    "InkState",
    "NozzleFaults",
    "NozzleHealth",
    "draw_health",
    "random_dead",
    "random_thrown",
]  # fmt: skip

ARRANGEMENTS = ("none", "scattered", "run", "stride", "mixed")


@dataclass(frozen=True, slots=True)
class NozzleFaults:
    """Planted faults of one ink, by nozzle number from the top of the head.

    Attributes
    ----------
    dead : frozenset of int
    weak : mapping of int to float
        Drop volume relative to the nominal, 0 to 1.
    displaced : mapping of int to float
        Landing error along the feed, um, positive down the page.
    absent : bool
        No cartridge, or a dead head: nothing is printed.
    arrangement : str
        How the dead nozzles were chosen, one of `ARRANGEMENTS`.
    stride : int or None
        The step of a stride.
    """

    dead: frozenset[int] = frozenset()
    weak: Mapping[int, float] = field(default_factory=dict)
    displaced: Mapping[int, float] = field(default_factory=dict)
    absent: bool = False
    arrangement: str = "none"
    stride: int | None = None


@dataclass(frozen=True, slots=True)
class Contamination:
    """Foreign ink in a chamber.

    Attributes
    ----------
    ink : str
        The foreign ink.
    fraction : float
        Its share at the top of the page, 0 to 1.
    trend : str
        ``"steady"``, ``"clearing"`` (falls to 1/e over `length_mm` of page) or ``"growing"`` (in proportion to
        the page printed, doubled after `length_mm`).
    length_mm : float
    """

    ink: str
    fraction: float
    trend: str = "steady"
    length_mm: float = 100.0

    def share_at(self, y_mm: float) -> float:
        """Share of the foreign ink at `y_mm` from the top of the page."""
        if self.trend == "clearing":
            return float(self.fraction * np.exp(-y_mm / self.length_mm))
        if self.trend == "growing":
            return float(min(1.0, self.fraction * (1.0 + y_mm / self.length_mm)))
        return self.fraction


@dataclass(frozen=True, slots=True)
class Flow:
    """Loss of drop volume along the page: ``"fade"`` (linear to the end), ``"starved"`` (linear, back at once after
    `end_mm`, as after a pause) or ``"slug"`` (air: nothing between start and end).

    `depth` is the share of the volume lost at the end.
    """  # noqa: D205

    kind: str
    start_mm: float
    end_mm: float
    depth: float

    def factor(self, y_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Volume factor at `y_mm`."""
        t = (y_mm - self.start_mm) / (self.end_mm - self.start_mm)
        if self.kind == "slug":
            return np.where((t >= 0) & (t < 1), 0.0, 1.0)
        ramp = np.where(t > 1, 0.0 if self.kind == "starved" else 1.0, np.clip(t, 0, 1))
        return np.asarray(1.0 - self.depth * ramp)


@dataclass(frozen=True, slots=True)
class Band:
    """Periodic variation of drop volume along the feed: ``1 + amplitude * sin(2 pi y / period + phase)``."""

    amplitude: float
    period_mm: float
    phase: float = 0.0

    def factor(self, y_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Volume factor at `y_mm`."""
        return np.asarray(1.0 + self.amplitude * np.sin(2 * np.pi * y_mm / self.period_mm + self.phase))


@dataclass(frozen=True, slots=True)
class InkState:
    """Everything planted in one ink; `strength` is dye load, 1 as delivered (diluted ink below)."""

    nozzles: NozzleFaults = NozzleFaults()
    contamination: tuple[Contamination, ...] = ()
    flow: tuple[Flow, ...] = ()
    bands: tuple[Band, ...] = ()
    strength: float = 1.0

    def volume_factor(self, y_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Product of all flow and band factors at `y_mm`."""
        out = np.ones_like(y_mm)
        for flow in self.flow:
            out = out * flow.factor(y_mm)
        for band in self.bands:
            out = out * band.factor(y_mm)
        return out


@dataclass(frozen=True, slots=True)
class NozzleHealth:
    """What each nozzle of one ink does: (n,) relative drop volume (0 dead), and landing error in um along the feed
    and along the stroke.
    """  # noqa: D205

    volume: NDArray[np.float64]
    aim_y_um: NDArray[np.float64]
    aim_x_um: NDArray[np.float64]


def draw_health(
    nozzles: int, faults: NozzleFaults, rng: np.random.Generator, *, volume_sd: float = 0.03, aim_sd_um: float = 3.0
) -> NozzleHealth:
    """Draw a head: healthy spread, cut off at 2.5 sd so that it is never a fault, and the planted faults."""

    def spread(sd: float) -> NDArray[np.float64]:
        return sd * np.clip(rng.standard_normal(nozzles), -2.5, 2.5)

    volume, aim_y, aim_x = 1.0 + spread(volume_sd), spread(aim_sd_um), spread(aim_sd_um)
    for number, value in faults.weak.items():
        volume[number] = value
    for number, value in faults.displaced.items():
        aim_y[number] = value
    volume[sorted(faults.dead)] = 0.0
    if faults.absent:
        volume[:] = 0.0
    return NozzleHealth(volume, aim_y, aim_x)


def random_dead(
    nozzles: int, arrangement: str, rng: np.random.Generator, *, share: float | None = None
) -> NozzleFaults:
    """Draw dead nozzles: scattered singles, one run, every n-th (an address line), or a run and singles."""
    if arrangement == "none":
        return NozzleFaults()
    count = max(1, round(nozzles * (share if share is not None else float(rng.uniform(0.005, 0.06)))))
    singles = frozenset(int(v) for v in rng.choice(nozzles, count, replace=False))
    length = int(rng.integers(3, max(5, nozzles // 10)))
    first = int(rng.integers(0, nozzles - length))
    run = frozenset(range(first, first + length))
    if arrangement == "scattered":
        return NozzleFaults(singles, arrangement=arrangement)
    if arrangement == "run":
        return NozzleFaults(run, arrangement=arrangement)
    if arrangement == "stride":
        step = int(rng.choice([8, 13, 16, 22, 26]))
        return NozzleFaults(
            frozenset(range(int(rng.integers(0, step)), nozzles, step)), arrangement=arrangement, stride=step
        )
    return NozzleFaults(run | frozenset(sorted(singles)[: max(1, count // 2)]), arrangement="mixed")


def random_thrown(nozzles: int, rng: np.random.Generator) -> NozzleFaults:
    """Draw 20 to 60 neighbours that a lifted plate throws 40 to 80 um off, with the aim of a healthy head besides.

    All alike, or turn by turn: every second one, or one this way and the next that.
    """
    length = min(int(rng.integers(20, 61)), 2 * nozzles // 5)
    first = int(rng.integers(0, nozzles - length + 1))
    um = float(rng.choice([-1, 1]) * rng.uniform(40, 80))
    turns = {"alike": (um, um), "every second": (um, None), "turn by turn": (um, -um)}
    by_turn = turns[str(rng.choice(list(turns)))]
    thrown = [(first + k, by_turn[k % 2]) for k in range(length)]
    return NozzleFaults(
        displaced={n: off + 3.0 * float(rng.standard_normal()) for n, off in thrown if off is not None}
    )
