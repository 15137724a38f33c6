"""Dash ladders made from the closed form: Gaussian lines (scipy's error function) of known weight, place and width.

What comes back is compared with what was put in: bias, spread, and whether the stated deviation is the true one.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import erf

from printcheck.colour.linear import srgb_to_linear
from printcheck.measure.channels import mix_channels
from printcheck.measure.head_swings import head_swings
from printcheck.measure.ladder import LadderReader, LadderSignal, _fitted, ladder_box
from printcheck.pattern.elements import Ladder
from printcheck.pattern.heads import load_head
from printcheck.pattern.layout import build_layout
from printcheck.pattern.pages import page_named
from printcheck.register.view import View

PAPER = 0.78  # linear light
WIDTH_MM = 0.055  # sigma of a line of one row, blurred by print and a 300 dots/inch scan

# noise of a pixel in linear light; most spread of a dash's strength (its weight over that of the others)
BUDGETS = {"clean": (0.0, 0.006), "scan": (0.01, 0.02), "poor photo": (0.04, 0.07)}
GAIN = 0.04  # most that all weights together may be off: strengths divide it out


def ladder_of(head: str = "tri-100", ink: str = "C") -> Ladder:
    return build_layout(load_head(head), page_named("A4")).ladders_of(ink)[0]


def sound(ladder: Ladder) -> float:
    """Line weight of a full row, mm: nine tenths of the light is taken over one pitch."""
    return 0.9 * ladder.pitch_mm


@dataclass
class Made:
    """A view and what is in it."""

    view: View
    ladder: Ladder
    weight: NDArray[np.float64]
    offset: NDArray[np.float64]

    def read(self) -> LadderSignal:
        return LadderReader(self.view, self.ladder).signal

    def gain(self, found: LadderSignal) -> float:
        """Factor common to all weights; bounded here, for every test that uses it."""
        factor = float(np.median(found.amplitude[self.weight > 0] / self.weight[self.weight > 0]))
        assert factor == pytest.approx(1.0, abs=GAIN)
        return factor

    def error(self, found: LadderSignal) -> NDArray[np.float64]:
        """Error of each dash's strength: 1 is a sound dash of this ladder."""
        return (found.amplitude / self.gain(found) - self.weight) / sound(self.ladder)


def encode(light: NDArray[np.float64], deep: bool = True) -> NDArray[np.uint16] | NDArray[np.uint8]:
    """IEC 61966-2-1, clipped as a capture clips."""
    light = np.clip(light, 0, 1)
    value = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(value * 65535).astype(np.uint16) if deep else np.rint(value * 255).astype(np.uint8)


def made(
    ladder: Ladder,
    weight: NDArray[np.float64] | float,
    *,
    rng: np.random.Generator,
    offset: NDArray[np.float64] | float = 0.0,
    noise: float = 0.01,
    width: float = WIDTH_MM,
    dots_per_inch: float = 300.0,
    light: NDArray[np.float64] | float = 1.0,
    touch=None,
    deep: bool = True,
) -> Made:
    """Draw `ladder`: each dash a Gaussian line averaged over the pixels; `touch` paints on the light."""
    box = ladder_box(ladder)
    per_mm = dots_per_inch / 25.4
    height, columns = round(box.height * per_mm), round(box.width * per_mm)
    sx, sy = columns / box.width, height / box.height
    weight = np.broadcast_to(np.asarray(weight, float), ladder.rows).copy()
    offset = np.broadcast_to(np.asarray(offset, float), ladder.rows).copy()
    edges = box.y0 + np.arange(height + 1) / sy
    taken = np.zeros((height, columns))
    x = box.x0 + (np.arange(columns) + 0.5) / sx
    for row in range(ladder.rows):
        dash = ladder.dash(row)
        middle = dash.centre[1] + offset[row]
        area = np.diff(0.5 * (1 + erf((edges - middle) / (np.sqrt(2) * width)))) * sy
        left, right = np.searchsorted(x, [dash.x0, dash.x1])
        taken[:, left:right] += weight[row] * area[:, None]
    shown = PAPER * np.broadcast_to(np.asarray(light, float), taken.shape) * (1 - taken)
    if touch is not None:
        shown = shown.copy()
        touch(shown, x, (edges[1:] + edges[:-1]) / 2)
    shown = shown + noise * rng.standard_normal(shown.shape)
    return Made(View(encode(shown, deep), box, sx, sy, 1.0), ladder, weight, offset)


def healthy(ladder: Ladder, rng: np.random.Generator) -> NDArray[np.float64]:
    """A head whose drops differ by 3 %."""
    return sound(ladder) * (1 + 0.03 * rng.standard_normal(ladder.rows))


@pytest.mark.parametrize("noise", BUDGETS)
@pytest.mark.parametrize(
    ("head", "dots_per_inch"), [("tri-100", 300), ("tri-192", 300), ("tri-192", 600), ("quad-180", 200)]
)
def test_weights_come_back_within_budget(noise: str, head: str, dots_per_inch: int) -> None:
    rng = np.random.default_rng(1)
    ladder = ladder_of(head)
    sigma, spread = BUDGETS[noise]
    drawn = made(ladder, healthy(ladder, rng), rng=rng, noise=sigma, dots_per_inch=dots_per_inch)
    error = drawn.error(drawn.read())
    # a finer row holds less ink against the same noise; a coarser capture has fewer pixels to average
    fine, coarse = sound(ladder_of()) / sound(ladder), max(1, 300 / dots_per_inch)
    assert error.std() < spread * fine * coarse


@pytest.mark.parametrize(("width", "most"), [(0.03, 0.01), (0.055, 0.015), (0.09, 0.05), (0.13, 0.1)])
def test_blur_spreads_a_line_but_does_not_change_its_strength(width: float, most: float) -> None:
    """Without noise: what the fit itself gets wrong, where blurred lines of a column run into one another."""
    rng = np.random.default_rng(2)
    ladder = ladder_of()
    weight = healthy(ladder, rng)
    weight[rng.choice(ladder.rows, 10, replace=False)] = 0.0
    drawn = made(ladder, weight, rng=rng, width=width, noise=0.0)
    found = drawn.read()
    strength = found.amplitude / np.median(found.amplitude[weight > 0])
    assert found.width_mm == pytest.approx(width, rel=0.1)
    assert abs(strength[weight == 0].mean()) < most
    assert strength[weight > 0] == pytest.approx(weight[weight > 0] / np.median(weight[weight > 0]), abs=2 * most)


def test_another_channel_is_read_with_lines_as_wide_as_they_are_there() -> None:
    """JPEG halves chroma (ITU-T T.871): yellow's own channel shows its lines twice as wide as the others do."""
    rng = np.random.default_rng(4)
    ladder = ladder_of("tri-192", "Y")
    weight = healthy(ladder, rng)
    weight[rng.choice(ladder.rows, 10, replace=False)] = 0.0
    offset = np.where(np.arange(ladder.rows) == 77, 0.03, 0.0)
    blurred = made(ladder, weight, rng=rng, width=0.15, offset=offset)
    sharp = made(ladder, weight, rng=rng, width=0.06, offset=offset)
    found = LadderReader(blurred.view, ladder).read(sharp.view)
    assert found.width_mm == pytest.approx(0.06, rel=0.1)
    assert sharp.error(found).std() < 1.1 * sharp.error(sharp.read()).std()
    assert found.offset_mm[77] == pytest.approx(0.03, abs=0.005)


@pytest.mark.parametrize("noise", [0.04, 0.08])
def test_the_stated_deviation_is_the_true_one(noise: float) -> None:
    rng = np.random.default_rng(3)
    ladder = ladder_of()
    standardised = []
    for _ in range(12):
        dead = rng.random(ladder.rows) < 0.1
        drawn = made(ladder, np.where(dead, 0.0, healthy(ladder, rng)), rng=rng, noise=noise)
        found = drawn.read()
        standardised.append(drawn.error(found) * sound(ladder) / (found.sd / drawn.gain(found)))
    error = np.concatenate(standardised)
    assert 0.8 < error.std() < 1.25
    assert np.mean(np.abs(error) > 4) < 0.01  # Student's t of few degrees has more in its tails than a bell


def test_landing_errors_come_back() -> None:
    rng = np.random.default_rng(4)
    ladder = ladder_of()
    offset = np.where(rng.random(ladder.rows) < 0.2, rng.choice([-0.02, 0.02], ladder.rows), 0.0)
    drawn = made(ladder, healthy(ladder, rng), rng=rng, offset=offset, noise=0.005)
    found = drawn.read()
    moved = found.offset_mm + found.shift_mm
    assert np.std(moved - offset) < 0.003
    assert np.polyfit(offset, moved, 1)[0] == pytest.approx(1.0, abs=0.15)  # drawn in a little by its prior


@pytest.mark.parametrize("off", [0.02, 0.035])
def test_a_line_a_little_off_its_place_is_as_strong_as_the_others(off: float) -> None:
    """Fitted at its place by a line and its slope, it would lose off^2 / 4 sigma^2: 2 and 7 %."""
    rng = np.random.default_rng(27)
    ladder = ladder_of("mono-416", "K")
    moved = np.where(rng.random(ladder.rows) < 0.1, rng.choice([-off, off], ladder.rows), 0.0)
    found = made(ladder, sound(ladder), rng=rng, offset=moved, width=0.07, noise=0.003).read()
    strength = found.amplitude / np.median(found.amplitude)
    assert strength[moved != 0].mean() == pytest.approx(1.0, abs=0.01)


def resampled(drawn: Made, known: bool) -> View:
    """`drawn` sampled between its pixels by linear interpolation, which one pixel more over its height shifts."""
    view = drawn.view
    rows, columns = view.values.shape
    at = (np.arange(rows + 1) + 0.5) * rows / (rows + 1) - 0.5
    low = np.clip(np.floor(at).astype(int), 0, rows - 2)
    share = np.clip(at - low, 0, 1)[:, None]
    light = srgb_to_linear(view.values / 65535.0)
    values = ((1 - share) * light[low] + share * light[low + 1]).astype(np.float32)
    nodes = np.stack(np.meshgrid([-0.5, columns - 0.5], [-0.5, rows - 0.5]), axis=-1)
    return View(values, view.box, view.px_per_mm_x, (rows + 1) / view.box.height, 1.0, nodes if known else None)


@pytest.mark.parametrize("width", [0.06, 0.08])
def test_what_interpolating_between_pixels_takes_from_lines_is_given_back(width: float) -> None:
    """Half way between pixels the wave that has the dashes' spacing keeps cos(k p / 2) of its height, here 0.87."""
    ladder = ladder_of()
    drawn = made(ladder, sound(ladder), rng=np.random.default_rng(28), noise=0.0, width=width)
    spread = {}
    for known in (False, True):
        amplitude = LadderReader(resampled(drawn, known), ladder).signal.amplitude
        spread[known] = float(np.ptp(amplitude) / np.median(amplitude))
    assert spread[False] > 0.07
    assert spread[True] < spread[False] / 3


def test_a_dash_knows_how_many_rows_of_pixels_it_crosses() -> None:
    ladder = ladder_of()
    view = made(ladder, sound(ladder), rng=np.random.default_rng(29)).view
    rows, columns = view.values.shape
    nodes = np.stack(np.meshgrid([-0.5, columns - 0.5], [-0.5, rows - 0.5]), axis=-1)
    nodes[:, 1, 1] += 3.0
    found = LadderReader(View(view.values, view.box, view.px_per_mm_x, view.px_per_mm_y, 1.0, nodes), ladder).signal
    length = ladder.columns[0][1] - ladder.columns[0][0]
    assert found.crossed_px == pytest.approx(3.0 * length / view.box.width, rel=0.01)


@pytest.mark.parametrize("width", [0.035, 0.05, 0.08])
@pytest.mark.parametrize("far", [0.06, 0.11, 0.17])
def test_a_line_far_off_its_place_is_sound_all_the_same(width: float, far: float) -> None:
    rng = np.random.default_rng(21)
    ladder = ladder_of()
    off, dead = np.zeros(ladder.rows), rng.random(ladder.rows) < 0.04
    astray = ~dead & (rng.random(ladder.rows) < 0.08)
    off[astray] = rng.choice([-far, far], astray.sum())
    weight = np.where(dead, 0.0, healthy(ladder, rng))
    found = made(ladder, weight, rng=rng, offset=off, width=width, noise=0.01).read()
    assert found.readable.all()
    strength = found.amplitude / np.median(found.amplitude)
    assert strength[astray].min() > 0.85
    assert np.abs(strength[dead]).max() < 0.15
    assert np.abs(found.offset_mm[astray] + found.shift_mm - off[astray]).max() < 0.012


def test_the_stated_deviation_of_a_landing_error_is_the_true_one() -> None:
    rng = np.random.default_rng(15)
    ladder = ladder_of()
    standardised = []
    for _ in range(6):
        found = made(ladder, healthy(ladder, rng), rng=rng, noise=0.08).read()
        standardised.append((found.offset_mm + found.shift_mm) / found.offset_sd_mm)
    assert 0.7 < np.concatenate(standardised).std() < 1.4


@pytest.mark.parametrize("shift", [-0.15, -0.06, 0.08, 0.17])
def test_a_ladder_that_lies_elsewhere_is_followed(shift: float) -> None:
    """Registration may be off by a third of the distance of dashes; the comb finds itself, missing dashes and all."""
    rng = np.random.default_rng(5)
    ladder = ladder_of()
    weight = healthy(ladder, rng)
    weight[rng.choice(ladder.rows, 15, replace=False)] = 0.0
    drawn = made(ladder, weight, rng=rng, offset=shift)
    found = drawn.read()
    assert found.shift_mm == pytest.approx(shift, abs=0.006)
    assert drawn.error(found).std() < 0.03


def places(ladder: Ladder) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middle of each row's dash, -1 to 1 across the ladder and down it."""
    x, y = np.array([ladder.dash(row).centre for row in range(ladder.rows)]).T
    (cx, cy), half_x, half_y = ladder.box.centre, ladder.box.width / 2, ladder.box.height / 2
    return (x - cx) / half_x, (y - cy) / half_y


@pytest.mark.parametrize(("bend", "twist"), [(0.16, 0.0), (-0.16, 0.0), (0.0, 0.08), (0.1, -0.06)])
def test_curled_paper_that_bends_a_ladder_is_followed(bend: float, twist: float) -> None:
    """What the page does across the ladder is no landing error of its dashes: of those, none was put in."""
    rng = np.random.default_rng(16)
    ladder = ladder_of("mono-416", "K")
    x, y = places(ladder)
    weight = healthy(ladder, rng)
    weight[rng.choice(ladder.rows, 20, replace=False)] = 0.0
    drawn = made(ladder, weight, rng=rng, offset=bend * (x**2 - 0.4 * x**4 - 0.3) + twist * x * y, noise=0.005)
    found = drawn.read()
    assert np.abs(found.offset_mm[weight > 0]).max() < 0.012
    assert drawn.error(found).std() < 0.02


@pytest.mark.parametrize(("fold", "told"), [(0.1, True), (-0.15, True), (0.18, False)])
def test_a_column_on_a_fold_is_read_where_it_lies_or_not_at_all(fold: float, told: bool) -> None:
    """A crease shifts one column by itself. It has a clear comb: wherever its dashes are, they are not missing."""
    rng = np.random.default_rng(17)
    ladder = ladder_of("mono-416", "K")
    on_fold = np.isin(np.arange(ladder.rows), list(ladder.rows_in(4)))
    weight = healthy(ladder, rng)
    dead = np.flatnonzero(on_fold)[[3, 15, 24]]
    weight[dead] = 0.0
    drawn = made(ladder, weight, rng=rng, offset=np.where(on_fold, fold, 0.0), noise=0.005)
    found = drawn.read()
    assert found.readable[~on_fold].all()
    if told:
        assert found.readable.all()
        assert np.abs(drawn.error(found)).max() < 0.12
    else:
        assert not found.readable[on_fold].any()


def test_a_column_without_any_dash_is_on_no_fold() -> None:
    """A regular step as long as the columns' number leaves one empty: it has no comb, and its rows are missing."""
    rng = np.random.default_rng(18)
    ladder = ladder_of("mono-416", "K")
    weight = healthy(ladder, rng)
    weight[list(ladder.rows_in(4))] = 0.0
    found = made(ladder, weight, rng=rng).read()
    assert found.readable.all()
    assert np.abs(found.amplitude[weight == 0]).max() < 0.1 * sound(ladder)


def test_a_missing_dash_reads_zero_beside_sound_ones() -> None:
    rng = np.random.default_rng(6)
    ladder = ladder_of()
    errors = []
    for _ in range(4):
        dead = rng.choice(ladder.rows, 20, replace=False)
        weight = healthy(ladder, rng)
        weight[dead] = 0.0
        found = made(ladder, weight, rng=rng).read()
        errors += list(found.amplitude[dead] / sound(ladder))
    assert abs(np.mean(errors)) < 0.01
    assert np.abs(errors).max() < 0.08


def test_nothing_printed_reads_nothing() -> None:
    rng = np.random.default_rng(7)
    ladder = ladder_of()
    found = made(ladder, 0.0, rng=rng).read()
    assert np.abs(found.amplitude).max() < 0.15 * sound(ladder)
    assert found.unevenness > 0.3


@pytest.mark.parametrize("value", [0.05, 0.97], ids=["dark", "light"])
def test_a_speck_on_part_of_a_dash_is_no_matter(value: float) -> None:
    """A speck of 0.8 mm on each of twenty dashes, half of them dead: dark ones don't feign ink, light ones no gap."""
    rng = np.random.default_rng(8)
    ladder = ladder_of()
    hit = rng.choice(ladder.rows, 20, replace=False)
    weight = healthy(ladder, rng)
    weight[hit[:10]] = 0.0
    at = [ladder.dash(int(row)) for row in hit]
    places = [(d.x0 + rng.uniform(1.5, d.width - 1.5), d.centre[1]) for d in at]

    def specks(shown, x, y):
        for cx, cy in places:
            shown[(x[None, :] - cx) ** 2 + (y[:, None] - cy) ** 2 < 0.4**2] = value

    drawn = made(ladder, weight, rng=rng, touch=specks)
    error = drawn.error(drawn.read())[hit]
    assert np.abs(error).max() < 0.3  # a missing dash stays below 0.40, a sound one above
    assert np.median(np.abs(error)) < 0.1


def test_uneven_light_is_no_matter() -> None:
    """Light that falls by 40 % across and by 30 % down the ladder."""
    rng = np.random.default_rng(9)
    ladder = ladder_of("tri-192")
    box = ladder_box(ladder)
    per_mm = 300 / 25.4
    down = np.linspace(1.0, 0.7, round(box.height * per_mm))[:, None]
    across = np.linspace(0.6, 1.0, round(box.width * per_mm))[None, :]
    drawn = made(ladder, healthy(ladder, rng), rng=rng, light=down * across, noise=0.004)
    found = drawn.read()
    assert drawn.error(found).std() < 0.03
    top, bottom = found.paper[:12].mean(), found.paper[-12:].mean()
    assert bottom / top == pytest.approx(0.71, abs=0.05)
    assert found.readable.all()


def test_a_dash_in_deep_shadow_is_not_readable() -> None:
    rng = np.random.default_rng(10)
    ladder = ladder_of("tri-192")
    x0, x1 = ladder.columns[3]

    def shadow(shown, x, y):
        shown[:, (x > x0 - 0.2) & (x < x1 + 0.2)] *= 0.1

    found = made(ladder, healthy(ladder, rng), rng=rng, touch=shadow).read()
    dark = np.zeros(ladder.rows, bool)
    dark[list(ladder.rows_in(3))] = True
    assert not found.readable[dark].any()
    assert found.readable[~dark].all()


def test_eight_bits_are_enough() -> None:
    rng = np.random.default_rng(11)
    ladder = ladder_of()
    weight = healthy(ladder, rng)
    deep = made(ladder, weight, rng=np.random.default_rng(1)).read()
    flat = made(ladder, weight, rng=np.random.default_rng(1), deep=False).read()
    assert np.abs(deep.amplitude - flat.amplitude).max() < 0.02 * sound(ladder)


class EndsOff:
    """A fit whose outermost dashes leave five times what the others do, until the paper may step there."""

    def __init__(self, ladder: Ladder) -> None:
        self.shape = (len(ladder.columns), ladder.rows // len(ladder.columns), 1)
        self.stepped = False

    def read(self, profiles, width, *, steps=False):
        self.stepped |= steps
        misfit = np.full(self.shape, 0.01)
        misfit[:, [0, -1]] = 0.01 if steps else 0.05
        return np.ones(self.shape), np.zeros(self.shape), np.ones(self.shape), misfit


@pytest.mark.parametrize(("share", "stepped"), [(0.10, True), (0.19, True), (0.24, False), (0.33, False)])
def test_paper_may_step_beyond_the_ends_only_where_lines_stand_apart(share: float, stepped: bool) -> None:
    """With lines of a sigma of a quarter of their spacing and more a step would pass for ink of missing dashes."""
    ladder = ladder_of("tri-192", "Y")
    fit = EndsOff(ladder)
    _fitted(np.zeros((1, 1, 1)), fit, ladder, share * ladder.pitch_mm * len(ladder.columns))
    assert fit.stepped is stepped


class TestMixingChannels:
    """One ink seen in three channels: where it absorbs but the capture is bad, where both are fair, and neither."""

    def channels(self, noises, absorbs, weight, ladder, seed=20):
        """Noise that is the same all along a dash, as chroma that was denoised leaves it: unseen between segments."""
        out = []
        for k, (noise, share) in enumerate(zip(noises, absorbs, strict=True)):
            rng = np.random.default_rng(seed + k)
            uneven = share * weight + noise * sound(ladder) * rng.standard_normal(ladder.rows)
            out.append(made(ladder, uneven, rng=rng, noise=0.005).read())
        return out

    def test_the_clean_channel_is_picked(self) -> None:
        rng = np.random.default_rng(12)
        ladder = ladder_of()
        weight = healthy(ladder, rng)
        weight[rng.choice(ladder.rows, 12, replace=False)] = 0.0
        bad, fair, none = self.channels((0.30, 0.02, 0.02), (1.0, 0.6, 0.0), weight, ladder)
        (mixed,) = mix_channels([[bad, fair, none]])
        assert mixed.unevenness < 0.4 * bad.unevenness
        relative = mixed.amplitude / np.median(mixed.amplitude[weight > 0])
        assert np.std(relative - weight / sound(ladder)) < 0.08

    def test_what_a_channel_shows_of_neighbours_is_not_taken_for_a_missing_dash(self) -> None:
        """Half of each dash's chroma in its place and a quarter in either neighbour's, as halving it by two does."""
        rng = np.random.default_rng(15)
        ladder = ladder_of()
        weight = healthy(ladder, rng)
        count = len(ladder.columns)
        dead = rng.choice(np.arange(2 * count, ladder.rows - 2 * count), 6, replace=False)
        weight[dead] = 0.0
        smeared = 0.5 * weight + 0.25 * (np.roll(weight, count) + np.roll(weight, -count))
        own = self.channels((0.08, 0.0, 0.0), (1.0, 0.0, 0.0), weight, ladder)[0]
        _, even, _ = self.channels((0.0, 0.01, 0.0), (0.0, 1.0, 0.0), smeared, ladder, 40)
        (mixed,) = mix_channels([[own, even, even]])
        relative = mixed.amplitude / np.median(mixed.amplitude[weight > 0])
        assert np.abs(relative[dead]).max() < 0.2

    def test_half_blocked_lines_of_one_kind_are_not_bare_paper(self) -> None:
        """All channels show a third of a line, and luma as well: it is ink and not its neighbours' chroma."""
        rng = np.random.default_rng(18)
        ladder = ladder_of()
        weight = healthy(ladder, rng)
        half = rng.choice(ladder.rows, 8, replace=False)
        weight[half] *= 0.35
        green, blue, _ = self.channels((0.12, 0.1, 0.0), (1.0, 0.6, 0.0), weight, ladder)
        (mixed,) = mix_channels([[green, blue]], (1, 0))
        relative = mixed.amplitude / mixed.level
        assert np.median(relative[half]) == pytest.approx(0.35, abs=0.06)

    def test_a_channel_that_hardly_shows_the_ink_is_no_witness_of_a_missing_dash(self) -> None:
        """Yellow in green: a tenth of what blue shows, and most of that its neighbours' where chroma is halved."""
        rng = np.random.default_rng(17)
        ladder = ladder_of()
        weight = healthy(ladder, rng)
        dead = rng.choice(ladder.rows, 12, replace=False)
        weight[dead] = 0.0
        smeared = 0.3 * weight + 0.7 * np.mean(weight[weight > 0])
        blue = self.channels((0.10,), (1.0,), weight, ladder)[0]
        green = self.channels((0.005,), (0.12,), smeared, ladder, 41)[0]
        (mixed,) = mix_channels([[blue, green]])
        relative = mixed.amplitude / np.median(mixed.amplitude[weight > 0])
        assert relative[dead].max() < 0.35
        assert relative[weight > 0].min() > 0.5

    def test_a_line_that_a_mosaic_passes_over_is_not_bare_paper(self) -> None:
        """Red samples two pixels apart catch a thin line or pass beside it; green has twice as many."""
        rng = np.random.default_rng(16)
        ladder = ladder_of()
        weight = healthy(ladder, rng)
        dead = rng.choice(ladder.rows, 6, replace=False)
        weight[dead] = 0.0
        caught = np.where(np.arange(ladder.rows) // len(ladder.columns) % 2, 0.3, 1.2)
        own = self.channels((0.1, 0.0, 0.0), (1.0, 0.0, 0.0), weight * caught, ladder)[0]
        _, green, blue = self.channels((0.0, 0.05, 0.05), (0.0, 1.0, 0.5), weight, ladder, 40)
        (mixed,) = mix_channels([[own, green, blue]])
        relative = mixed.amplitude / np.median(mixed.amplitude[weight > 0])
        assert np.abs(relative[dead]).max() < 0.25
        assert relative[weight > 0].min() > 0.6

    def test_a_channel_without_the_ink_adds_nothing(self) -> None:
        rng = np.random.default_rng(13)
        ladder = ladder_of()
        weight = healthy(ladder, rng)
        own, none, other = self.channels((0.03, 0.3, 0.3), (1.0, 0.0, 0.0), weight, ladder)
        (mixed,) = mix_channels([[own, none, other]])
        assert np.corrcoef(mixed.amplitude, own.amplitude)[0, 1] > 0.9

    @pytest.mark.parametrize(("noise", "read"), [(0.08, 1.0), (0.3, 0.4)], ids=["own will do", "own is too uneven"])
    def test_a_burnt_out_channel_takes_no_dashes_along_that_the_inks_own_can_tell(
        self, noise: float, read: float
    ) -> None:
        """A lamp's red reaches the ceiling over most of the sheet, while yellow's blue is far from it."""
        rng = np.random.default_rng(17)
        ladder = ladder_of()
        weight = healthy(ladder, rng)
        own, red, _ = self.channels((noise, 0.02, 0.0), (1.0, 0.4, 0.0), weight, ladder)
        burnt = np.arange(ladder.rows) % 5 < 3
        parts, amplitude = red.parts.copy(), red.amplitude.copy()
        parts[burnt], amplitude[burnt] = np.nan, np.nan
        red = replace(red, parts=parts, amplitude=amplitude, readable=red.readable & ~burnt)
        (mixed,) = mix_channels([[own, red]])
        assert mixed.readable.mean() == pytest.approx(read, abs=0.02)

    def test_printings_are_mixed_alike(self) -> None:
        """Both repeats by the same weights, or their strengths could not be compared."""
        rng = np.random.default_rng(14)
        ladder = ladder_of()
        weight = healthy(ladder, rng)
        both = [self.channels((0.2, 0.03, 0.03), (1.0, 0.5, 0.2), weight, ladder, seed) for seed in (20, 30)]
        a, b = mix_channels(both)
        assert np.median(a.amplitude) == pytest.approx(np.median(b.amplitude), rel=0.03)


class TestHeadSwings:
    """How the lines' own weights swing over the head's height."""

    def read(self, profiles, seed=40):
        """Printings of heads whose rows print by `profiles` of what is usual."""
        rng = np.random.default_rng(seed)
        ladder = ladder_of("tri-192")
        return [made(ladder, healthy(ladder, rng) * profile, rng=rng).read() for profile in profiles]

    def test_a_head_weaker_towards_one_end_swings_however_its_printings_begin(self) -> None:
        slope = np.linspace(1.0, 0.6, 192)
        once, twice = head_swings(self.read([slope, np.roll(slope, 70)]))
        # of a straight slope by s the wave of order n has s / (pi n), of the mean
        assert once == pytest.approx(0.4 / np.pi / 0.8, rel=0.15)
        assert twice == pytest.approx(0.4 / (2 * np.pi) / 0.8, rel=0.25)

    def test_what_one_printing_alone_shows_is_none_of_the_heads(self) -> None:
        assert head_swings(self.read([np.linspace(1.0, 0.6, 192), np.ones(192)])) == (0.0, 0.0)
