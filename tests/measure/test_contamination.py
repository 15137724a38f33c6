"""Shares of foreign ink from colours an outside model mixes: spectra, Beer-Lambert, broad channels."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from printcheck.colour.difference import delta_e00
from printcheck.colour.lab import lab_to_xyz, xyz_to_lab
from printcheck.colour.linear import srgb_to_linear
from printcheck.colour.published import published
from printcheck.geometry import Box
from printcheck.measure.areas import Area, InkAreas, Strip
from printcheck.measure.colouring import of_black, of_no_number
from printcheck.measure.contamination import house_basis, published_basis, read_contamination, solid_density
from printcheck.measure.result import ContaminationReading
from printcheck.measure.unmix import OwnInk, density
from printcheck.simulate.inks import SURFACE, mixed
from printcheck.simulate.spectra import INK_SETS, SENSORS, absorbance, sensor
from printcheck.simulate.tone import sensor_to_srgb

Floats = NDArray[np.float64]
INK_SET, SENSOR = "dye-b", "scanner-lamp-b"
NAMES = ("C", "M", "Y")


def seen(own: str, foreign: dict[str, float], *, cover: float = 1.0, load: float = 1.0) -> Floats:
    """Light relative to paper (3,) of a solid, through a scanner's broad channels."""
    inks = {name: absorbance(INK_SET, name) for name in "CMYK"}
    light = SURFACE + (1 - SURFACE) * 10.0 ** -(load * mixed(own, foreign, inks))
    return np.asarray(sensor(SENSOR) @ (1 - cover + cover * light))


def areas_of(ink: str, solid: Floats, strip: Floats | None = None) -> InkAreas:
    noise = np.full(3, 0.0005)
    area = Area("solid", (ink,), 1.0, Box(20, 170, 100, 187), solid, np.ones(3), noise)
    if strip is None:
        strip = np.repeat(solid[None], 50, axis=0)
    y = np.linspace(30, 240, len(strip))
    ripple = 1 + 0.002 * np.random.default_rng(4).standard_normal(strip.shape)
    return InkAreas(ink, area, (), Strip(y, strip * ripple, noise))


CLEAN = {name: seen(name, {}) for name in NAMES}
HOUSE = house_basis("bench", CLEAN, same_capture=True)


def judged(ink: str, solid: Floats, strip: Floats | None = None, *, house: bool = True) -> ContaminationReading:
    areas = {name: areas_of(name, CLEAN[name]) for name in NAMES}
    areas[ink] = areas_of(ink, solid, strip)
    basis = HOUSE if house else published_basis(areas, "FOGRA47L")
    return next(r for r in read_contamination(areas, basis, photo=False) if r.ink == ink)


@pytest.mark.parametrize(
    ("own", "foreign", "share"),
    [("Y", "C", 0.04), ("Y", "M", 0.04), ("Y", "C", 0.1), ("M", "C", 0.06), ("M", "Y", 0.08), ("C", "M", 0.08),
     ("C", "Y", 0.06), ("C", "M", 0.2), ("M", "C", 0.3)],
)  # fmt: skip
def test_share_of_foreign_ink(own: str, foreign: str, share: float) -> None:
    reading = judged(own, seen(own, {foreign: share}))
    assert [f.ink for f in reading.foreign] == [foreign]
    found = reading.foreign[0]
    assert found.fraction == pytest.approx(share, abs=0.02 + 0.15 * share)
    assert found.ci95[0] <= share <= found.ci95[1]
    assert reading.trend == "steady"
    assert reading.wrong_ink is None


@pytest.mark.parametrize("own", NAMES)
@pytest.mark.parametrize(
    "change", [{}, {"load": 0.75}, {"load": 1.05}, {"cover": 0.95}, {"load": 0.85, "cover": 0.96}]
)
def test_fade_is_no_contamination(own: str, change: dict[str, float]) -> None:
    reading = judged(own, seen(own, {}, **change))
    assert reading.foreign == ()
    assert reading.trend == "none"


@pytest.mark.parametrize(
    ("low", "high"),
    [((215, 95, 140), (232, 110, 165)), ((50, 165, 215), (80, 185, 235)), ((240, 225, 60), (246, 240, 110))],
)
def test_a_solid_is_known_to_what_jpeg_leaves_of_it(low: tuple[int, ...], high: tuple[int, ...]) -> None:
    """Magentas, cyans and yellows beside white paper through libjpeg, by OpenCV: channels of any light count."""
    rng = np.random.default_rng(3)
    over = []
    for _ in range(60):
        light = []
        for colour in (rng.uniform(low, high), rng.uniform((228, 228, 225), (246, 246, 246))):
            flat = np.clip(np.rint(colour + rng.normal(0, 0.7, (64, 64, 3))), 0, 255).astype(np.uint8)
            _, file = cv2.imencode(".jpg", flat[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(78, 96))])
            seen_as = cv2.imdecode(file, cv2.IMREAD_COLOR)[..., ::-1]
            light += [srgb_to_linear(seen_as / 255.0).mean(axis=(0, 1)), srgb_to_linear(colour / 255.0)]
        area = Area("solid", ("M",), 1.0, Box(20, 170, 100, 187), light[0], light[2], np.full(3, 1e-4))
        seen_density, sd = solid_density(area, OwnInk(density(area.ratio), np.zeros((3, 3))), photo=False)
        over.append((seen_density - density(light[1] / light[3])) / sd)
    assert 0.6 < float(np.sqrt(np.mean(np.square(over)))) < 1.4


def test_fade_down_the_page_is_no_contamination() -> None:
    for own in NAMES:
        strip = np.array([seen(own, {}, cover=1 - 0.08 * t, load=1 - 0.2 * t) for t in np.linspace(0, 1, 50)])
        assert judged(own, strip[36], strip).foreign == ()
        assert judged(own, strip[36], strip, house=False).foreign == ()


def running_dry(lost: float, of_cover: float, clearing: Floats | None = None) -> dict[str, InkAreas]:
    """All inks lose `lost` down the page, this share of it as cover; cyan may clear from the yellow."""
    areas = {}
    for own in NAMES:
        left = 1.0 - lost * np.linspace(0, 1, 50)
        shares = clearing if clearing is not None and own == "Y" else np.zeros(50)
        strip = np.array(
            [
                seen(own, {"C": float(s)} if s else {}, cover=v**of_cover, load=v ** (1.0 - of_cover))
                for v, s in zip(left, shares, strict=True)
            ]
        )
        areas[own] = areas_of(own, strip[36], strip)
    return areas


@pytest.mark.parametrize("photo", [True, False])
@pytest.mark.parametrize("lost", [0.15, 0.3, 0.45])
@pytest.mark.parametrize("of_cover", [0.0, 0.5, 0.9])
def test_a_cartridge_running_dry_holds_nothing_foreign(lost: float, of_cover: float, photo: bool) -> None:
    """Thinner ink after Beer and Lambert, bare paper after Murray and Davies; a head that starves does both."""
    areas = running_dry(lost, of_cover)
    references = house_basis("bench", CLEAN, same_capture=not photo), published_basis(areas, "FOGRA47L")
    for basis in references:
        for reading in read_contamination(areas, basis, photo=photo):
            assert reading.foreign == ()
            assert reading.trend == "none"


@pytest.mark.parametrize("photo", [True, False])
def test_what_clears_while_a_cartridge_runs_dry_is_still_seen(photo: bool) -> None:
    areas = running_dry(0.3, 0.5, 0.2 * np.exp(-(Y_MM - 30) / 100))
    found = {r.ink: r for r in read_contamination(areas, published_basis(areas, "FOGRA47L"), photo=photo)}
    assert [f.ink for f in found["Y"].foreign or ()] == ["C"]
    assert found["Y"].trend == "clearing"
    assert found["C"].foreign == found["M"].foreign == ()


@pytest.mark.parametrize("house", [True, False])
def test_swapped_chambers_are_named(house: bool) -> None:
    for own in NAMES:
        for other in NAMES:
            if own != other:
                assert judged(own, seen(other, {}), house=house).wrong_ink == other


def strip_of(own: str, foreign: str, shares: Floats) -> Floats:
    return np.array([seen(own, {foreign: float(s)}) for s in shares])


Y_MM = np.linspace(30, 240, 50)


@pytest.mark.parametrize(("first", "last", "wrong"), [(0.9, 0.0, None), (0.95, 0.7, "C")])
def test_what_comes_or_goes_down_the_page_is_not_what_the_chamber_holds(
    first: float, last: float, wrong: str | None
) -> None:
    """A chamber of another ink is nothing to clean (a reject); what clears or grows is."""
    shares = np.linspace(first, last, len(Y_MM))
    reading = judged("Y", seen("Y", {"C": float(shares[36])}), strip_of("Y", "C", shares))
    assert reading.foreign
    assert reading.foreign[0].ink == "C"
    assert reading.foreign[0].fraction > 0.8
    assert reading.wrong_ink == wrong


@pytest.mark.parametrize("house", [True, False])
def test_clearing_is_told_from_steady(house: bool) -> None:
    shares = 0.15 * np.exp(-(Y_MM - 30) / 120)
    reading = judged("Y", seen("Y", {"M": float(shares[36])}), strip_of("Y", "M", shares), house=house)
    assert [f.ink for f in reading.foreign] == ["M"]
    assert reading.trend == "clearing"
    if house:
        assert reading.foreign[0].fraction == pytest.approx(0.15, abs=0.03)
        left = 120 * np.log(shares[-1] / 0.015)  # exponential: to 1.5 %
        assert reading.clears_after_mm == pytest.approx(left, abs=40.0)  # a sixth of a page


@pytest.mark.parametrize("house", [True, False])
@pytest.mark.parametrize(("own", "foreign"), [("Y", "M"), ("Y", "C"), ("C", "Y"), ("M", "C")])
@pytest.mark.parametrize("length_mm", [20.0, 30.0, 45.0])
def test_what_clears_within_the_first_centimetres_is_seen(
    own: str, foreign: str, length_mm: float, house: bool
) -> None:
    """Most of the strip is clear then: the part that is not is what counts, and no outlier."""
    shares = 0.2 * np.exp(-(Y_MM - 30) / length_mm)
    reading = judged(own, seen(own, {}), strip_of(own, foreign, shares), house=house)
    assert [f.ink for f in reading.foreign or ()] == [foreign]
    assert reading.trend == "clearing"
    assert reading.clears_after_mm == 0.0
    assert reading.foreign is not None
    assert reading.foreign[0].ci95[0] < 0.2 < reading.foreign[0].ci95[1]


def test_dust_on_the_strip_is_no_ink_that_clears() -> None:
    strip = np.repeat(CLEAN["Y"][None], 50, axis=0)
    strip[[2, 17, 30]] *= np.array([[0.6, 0.6, 0.6], [0.7, 0.7, 0.8], [0.5, 0.5, 0.7]])
    for house in (True, False):
        assert judged("Y", CLEAN["Y"], strip, house=house).foreign == ()


@pytest.mark.parametrize(("first", "count"), [(0, 2), (0, 5), (1, 3), (20, 8), (45, 5)])
def test_air_in_the_strip_is_no_foreign_ink(first: int, count: int) -> None:
    for own in NAMES:
        strip = np.repeat(CLEAN[own][None], 50, axis=0)
        strip[first : first + count] = 1.0
        for house in (True, False):
            assert judged(own, CLEAN[own], strip, house=house).foreign == ()


@pytest.mark.parametrize(("dyes", "least", "most"), [("dye-b", 0.05, 0.25), ("dye-a", 0.1, 0.3)])
def test_magenta_that_grows_in_cyan_is_seen_where_cyan_leaves_no_red(dyes: str, least: float, most: float) -> None:
    """Corrected to sRGB, a scanner shows cyan's red as none or hardly any: green and blue are left to tell."""
    channels = sensor("scanner-lamp-a")
    channels = sensor_to_srgb(channels) @ channels

    def shown(own: str, foreign: dict[str, float]) -> Floats:
        inks = {name: absorbance(dyes, name) for name in "CMYK"}
        light = SURFACE + (1 - SURFACE) * 10.0 ** -mixed(own, foreign, inks)
        return np.clip(channels @ light, 1e-3, None)

    basis = house_basis("bench", {name: shown(name, {}) for name in NAMES}, same_capture=True)
    shares = most - (most - least) * np.exp(-(Y_MM - 30) / 90)
    strip = np.array([shown("C", {"M": float(share)}) for share in shares])
    areas = {name: areas_of(name, shown(name, {})) for name in NAMES}
    steady, growing = (
        next(r for r in read_contamination({**areas, "C": areas_of("C", strip[36], along)}, basis, photo=False))
        for along in (None, strip)
    )
    assert (steady.trend, growing.trend) == ("steady", "growing")
    assert [part.ink for part in growing.foreign] == ["M"]


def test_growing_and_steady() -> None:
    growing = 0.03 * (1 + (Y_MM - 30) / 100)
    assert judged("Y", seen("Y", {"C": float(growing[36])}), strip_of("Y", "C", growing)).trend == "growing"
    level = np.full(50, 0.08)
    assert judged("Y", seen("Y", {"C": 0.08}), strip_of("Y", "C", level)).trend == "steady"


def test_a_head_of_one_ink_claims_nothing_about_others_and_says_so() -> None:
    """Nothing on such a sheet tells what another ink looks like: "could hide none" would be a guess."""
    alone = {"K": areas_of("K", np.full(3, 0.07))}
    (reading,) = read_contamination(alone, published_basis(alone, "FOGRA47L"), photo=False)
    assert (reading.foreign, reading.trend, reading.could_hide) == (None, None, None)
    assert any("not looked for" in note for note in of_black((reading,)))
    assert of_black((judged("M", CLEAN["M"]),)) == []


def test_without_a_reference_a_small_share_is_not_claimed_but_admitted() -> None:
    reading = judged("M", seen("M", {"Y": 0.06}), house=False)
    assert reading.foreign == ()
    assert reading.could_hide >= 0.06


def through(ink_set: str, scanner: str, own: str, foreign: dict[str, float], load: float = 1.0) -> Floats:
    """As `seen`, by any simulated ink set and scanner, its channels left as they are."""
    inks = {name: absorbance(ink_set, name) for name in "CMYK"}
    light = SURFACE + (1 - SURFACE) * 10.0 ** -(load * mixed(own, foreign, inks))
    return np.asarray(np.clip(sensor(scanner) @ light, 0.002, 1.0))


@pytest.mark.parametrize("ink_set", sorted(INK_SETS))
@pytest.mark.parametrize("scanner", sorted(name for name in SENSORS if name.startswith("scanner")))
def test_cyan_in_yellow_shows_without_a_reference_whoever_made_the_inks(ink_set: str, scanner: str) -> None:
    """No yellow takes away red: what does is foreign. Clean inks of any make, thin or strong, name nothing."""
    for load in (0.75, 1.0, 1.1):
        areas = {name: areas_of(name, through(ink_set, scanner, name, {}, load)) for name in NAMES}
        for reading in read_contamination(areas, published_basis(areas, "FOGRA47L"), photo=False):
            assert reading.foreign == ()
    areas = {name: areas_of(name, through(ink_set, scanner, name, {})) for name in NAMES}
    areas["Y"] = areas_of("Y", through(ink_set, scanner, "Y", {"C": 0.12}))
    found = {r.ink: r for r in read_contamination(areas, published_basis(areas, "FOGRA47L"), photo=False)}
    assert [f.ink for f in found["Y"].foreign] == ["C"]
    assert found["Y"].foreign[0].ci95[0] <= 0.12 <= found["Y"].foreign[0].ci95[1]
    assert found["C"].foreign == found["M"].foreign == ()


@pytest.mark.parametrize(
    ("scanner", "ink_set"), [("scanner-led-a", "dye-b"), ("scanner-led-a", "pigment-b"), ("scanner-led-b", "dye-b")]
)
def test_a_greenish_yellow_is_no_yellow_with_cyan_in_it(scanner: str, ink_set: str) -> None:
    """Seven units of a* down, as yellows for refilling go (from memory), cost 0.05 of density in red and more."""
    areas = {name: areas_of(name, through(ink_set, scanner, name, {})) for name in NAMES}
    green = through(ink_set, scanner, "Y", {}) * 10.0 ** -np.array([0.06, 0.0, 0.0])
    areas["Y"] = areas_of("Y", green)
    found = {r.ink: r for r in read_contamination(areas, published_basis(areas, "FOGRA47L"), photo=False)}
    assert found["Y"].foreign == ()
    assert (found["Y"].could_hide or 0.0) > 0.06  # what it leaves open is told


@pytest.mark.parametrize(
    ("own", "both", "size", "turn"),
    # published FOGRA47L and its overprints; a tenth of the area overprinted. Sizes and hue turns computed from the
    # published tints of the same data: 4.7 and +4.4 degrees, 5.5 and -5.5, 3.4 and -4.2, 1.6 and +3.3, 2.8 and +3.4,
    # 3.4 and -8.0; a tenth by area stands in for the 10 % tint, which prints darker
    [("Y", "G", 4.7, 4.4), ("Y", "R", 5.5, -5.5), ("M", "B", 3.4, -4.2), ("M", "R", 1.6, 3.3), ("C", "B", 2.8, 3.4),
     ("C", "G", 3.4, -8.0)],
)  # fmt: skip
def test_sensitivity_of_published_solids(own: str, both: str, size: float, turn: float) -> None:
    aims = published("FOGRA47L").absolute
    tenth = xyz_to_lab(0.9 * lab_to_xyz(aims[own]) + 0.1 * lab_to_xyz(aims[both]))
    pure = np.array(aims[own])
    assert size / 3 < float(delta_e00(tenth, pure)) < 1.5 * size
    hues = [np.degrees(np.arctan2(v[2], v[1])) for v in (tenth, pure)]
    turned = (hues[0] - hues[1] + 180) % 360 - 180
    assert np.sign(turned) == np.sign(turn)
    assert abs(turned) < 1.5 * abs(turn)


@pytest.mark.parametrize(("own", "foreign", "share"), [("C", "M", 0.08), ("M", "Y", 0.08), ("Y", "C", 0.03)])
@pytest.mark.parametrize("turn", [(1.0, 0.994, 1.006), (1.006, 1.0, 0.994), (0.994, 1.006, 1.0), (1.0, 1.006, 0.994)])
def test_light_that_changes_a_little_down_the_strip_turns_no_steady_ink(
    own: str, foreign: str, share: float, turn: tuple[float, float, float]
) -> None:
    """Half a per cent of light, which the paper beside the strip need not show, is no share that comes or goes."""
    solid = seen(own, {foreign: share})
    areas = {name: areas_of(name, CLEAN[name]) for name in NAMES}
    areas[own] = areas_of(own, solid)
    drifting = {**areas, own: under_light(areas, np.array(turn))[own]}
    found = next(r for r in read_contamination(drifting, HOUSE, photo=False) if r.ink == own)
    assert [f.ink for f in found.foreign or ()] == [foreign]
    assert found.trend == "steady"


def under_light(areas: dict[str, InkAreas], turn: Floats) -> dict[str, InkAreas]:
    """The same sheet where the light on its strips changes by the factors `turn` (3,) from top to foot."""
    out = {}
    for ink, reading in areas.items():
        strip = reading.strip
        assert strip is not None
        factor = turn ** np.linspace(0, 1, len(strip.y_mm))[:, None]
        out[ink] = replace(reading, strip=replace(strip, ratio=strip.ratio * factor))
    return out


def in_a_photo(areas: dict[str, InkAreas]) -> dict[str, ContaminationReading]:
    basis = house_basis("bench", CLEAN, same_capture=False, areas=areas, photo=True)
    return {r.ink: r for r in read_contamination(areas, basis, photo=True)}


def shaded(areas: dict[str, InkAreas], depth: float, *, solids: bool = False) -> dict[str, InkAreas]:
    """The same sheet under a shadow with a hard edge: all light below 180 mm falls by `depth`."""
    out = {}
    for ink, reading in areas.items():
        strip, solid = reading.strip, reading.solid
        assert strip is not None
        assert solid is not None
        dark = np.where(strip.y_mm > 180.0, 1.0 - depth, 1.0)[:, None]
        if solids:
            solid = replace(solid, light=solid.light * (1.0 - depth))
        out[ink] = replace(reading, solid=solid, strip=replace(strip, ratio=strip.ratio * dark))
    return out


@pytest.mark.parametrize("photo", [False, True])
@pytest.mark.parametrize("solids", [False, True])
@pytest.mark.parametrize("depth", [0.1, 0.3])
def test_the_edge_of_a_shadow_is_no_black_ink(depth: float, solids: bool, photo: bool) -> None:
    pure = {**CLEAN, "K": seen("K", {})}
    areas = shaded({name: areas_of(name, light) for name, light in pure.items()}, depth, solids=solids)
    for basis in (house_basis("bench", pure, same_capture=True), published_basis(areas, "FOGRA47L")):
        for reading in read_contamination(areas, basis, photo=photo):
            assert reading.foreign == ()
            assert reading.trend == "none"
            assert reading.wrong_ink is None


def test_black_in_one_chamber_is_ink_under_a_shadow_too() -> None:
    pure = {**CLEAN, "K": seen("K", {})}
    areas = {name: areas_of(name, light) for name, light in pure.items()}
    growing = 0.02 + 0.10 * (Y_MM - 30) / 210
    areas["Y"] = areas_of("Y", seen("Y", {"K": float(growing[36])}), strip_of("Y", "K", growing))
    basis = house_basis("bench", pure, same_capture=True)
    for sheet in (areas, shaded(areas, 0.2)):
        found = {r.ink: r for r in read_contamination(sheet, basis, photo=False)}
        assert [f.ink for f in found["Y"].foreign] == ["K"]
        assert found["Y"].trend == "growing"
        assert found["C"].foreign == ()
        assert found["M"].foreign == ()


def test_a_rough_strip_takes_nothing_from_what_the_solid_shows_for_sure() -> None:
    """Where the strip shows no sure change the share told is the solid's, and so is its doubt."""
    told = []
    for rough in (0.002, 0.1):
        areas = {name: areas_of(name, CLEAN[name]) for name in NAMES}
        whole = areas_of("C", seen("C", {"M": 0.08}))
        assert whole.strip is not None
        noise = 1 + rough * np.random.default_rng(1).standard_normal(whole.strip.ratio.shape)
        strip = replace(whole.strip, ratio=whole.strip.ratio * noise, ratio_sd=np.full(3, rough))
        areas["C"] = replace(whole, strip=strip)
        told.append(next(r for r in read_contamination(areas, HOUSE, photo=False) if r.ink == "C").foreign[0])
    assert told[1].ci95 == pytest.approx(told[0].ci95, abs=0.005)
    assert told[1].ci95[0] > 0.03


@pytest.mark.parametrize("photo", [False, True])
def test_a_steady_share_that_the_solid_shows_needs_no_change_along_the_strip(photo: bool) -> None:
    """Without a reference the strip says nothing of what stays, so it must not take away what the solid says."""
    for own, foreign in (("Y", "C"), ("Y", "M"), ("M", "C")):
        areas = {name: areas_of(name, CLEAN[name]) for name in NAMES}
        areas[own] = areas_of(own, seen(own, {foreign: 0.4}))
        found = {r.ink: r for r in read_contamination(areas, published_basis(areas, "FOGRA47L"), photo=photo)}
        assert [f.ink for f in found[own].foreign or ()] == [foreign]
        assert found[own].trend == "steady"
        assert found[own].foreign[0].first == found[own].foreign[0].last


@pytest.mark.parametrize("ink", NAMES)
@pytest.mark.parametrize("depth", [0.1, 0.15])
def test_a_shadow_on_one_strip_alone_is_no_ink_in_a_photo(ink: str, depth: float) -> None:
    """Grey light is the same factor in every channel, whether or not the next strip gets it too."""
    areas = {name: areas_of(name, CLEAN[name]) for name in NAMES}
    strip = areas[ink].strip
    assert strip is not None
    dark = depth / (1.0 + np.exp((strip.y_mm - 90.0) / 15.0))[:, None]
    shady = {**areas, ink: replace(areas[ink], strip=replace(strip, ratio=strip.ratio * (1.0 - dark)))}
    for reading in read_contamination(shady, published_basis(areas, "FOGRA47L"), photo=True):
        assert reading.foreign == ()


@pytest.mark.parametrize("depth", [0.2, 0.3])
def test_a_shadow_that_crosses_the_strips_aslant_is_no_ink_in_a_photo(depth: float) -> None:
    """Its edge lies 20 mm lower on each strip than on the one before, so that no height has all of it in common."""
    areas = {name: areas_of(name, CLEAN[name]) for name in NAMES}
    shady = {}
    for number, (name, reading) in enumerate(areas.items()):
        strip = reading.strip
        assert strip is not None
        dark = depth / (1.0 + np.exp((strip.y_mm - 90.0 - 20.0 * number) / 15.0))[:, None]
        shady[name] = replace(reading, strip=replace(strip, ratio=strip.ratio * (1.0 - dark)))
    for reading in read_contamination(shady, published_basis(areas, "FOGRA47L"), photo=True):
        assert reading.foreign == ()


TINTED = np.array([0.96, 0.99, 1.01])  # what bare paper beside the strips leaves of a coloured wall's light


def test_tinted_light_down_a_photo_is_no_foreign_ink() -> None:
    areas = under_light({name: areas_of(name, CLEAN[name]) for name in NAMES}, TINTED)
    assert {name: reading.foreign for name, reading in in_a_photo(areas).items()} == dict.fromkeys(NAMES, ())
    # the same strips, were they a scan's, would read as cyan growing in magenta or yellow: the test can fail
    found = read_contamination(areas, HOUSE, photo=False)
    assert any(reading.foreign for reading in found)


def test_foreign_ink_in_a_photo_is_told_by_the_strip_under_tinted_light() -> None:
    shares = 0.20 * np.exp(-(Y_MM - 30) / 110)
    areas = {name: areas_of(name, CLEAN[name]) for name in NAMES}
    areas["Y"] = areas_of("Y", seen("Y", {"M": float(shares[36])}), strip_of("Y", "M", shares))
    found = in_a_photo(under_light(areas, TINTED))
    assert [f.ink for f in found["Y"].foreign] == ["M"]
    assert found["Y"].trend == "clearing"
    assert found["Y"].foreign[0].ci95[0] <= 0.20 <= found["Y"].foreign[0].ci95[1]
    assert found["C"].foreign == ()
    assert found["M"].foreign == ()


@pytest.mark.parametrize("ink", NAMES)
@pytest.mark.parametrize("light", [0.85, 0.9, 1.1])
def test_more_or_less_light_on_a_solid_than_on_its_paper_is_no_ink_in_a_photo(ink: str, light: float) -> None:
    """Light is the same factor in every channel: Beer and Lambert's densities all move by one number."""
    areas = {name: areas_of(name, np.minimum(CLEAN[name] * (light if name == ink else 1.0), 1.0)) for name in NAMES}
    # from a reference as exact as the house's, where a scan would take the change for ink
    found = next(r for r in read_contamination(areas, HOUSE, photo=True) if r.ink == ink)
    assert found.foreign == ()


def untagged(areas, power: float):
    """What a reader that takes a file for sRGB makes of light that was written as its power."""

    def as_srgb(light):
        return srgb_to_linear(np.asarray(light) ** (1 / power))

    solid = replace(areas.solid, light=as_srgb(areas.solid.light), paper=as_srgb(areas.solid.paper))
    return replace(areas, solid=solid, strip=replace(areas.strip, ratio=as_srgb(areas.strip.ratio)))


def judged_untagged(power: float | None, **solids: np.ndarray) -> dict[str, ContaminationReading]:
    areas = {name: areas_of(name, solids.get(name, CLEAN[name])) for name in NAMES}
    if power is not None:
        areas = {name: untagged(one, power) for name, one in areas.items()}
    found = read_contamination(areas, published_basis(areas, "FOGRA47L"), photo=False)
    return {reading.ink: reading for reading in found}


@pytest.mark.parametrize("power", [None, 1.8, 2.2, 2.4])
@pytest.mark.parametrize(("ink", "foreign"), [("Y", "C"), ("Y", "M"), ("M", "C")])
def test_much_foreign_ink_is_named_in_any_file(power: float | None, ink: str, foreign: str) -> None:
    share = 0.45
    reading = judged_untagged(power, **{ink: seen(ink, {foreign: share})})[ink]
    assert [one.ink for one in reading.foreign or ()] == [foreign]
    if power is None:
        low, high = reading.foreign[0].ci95
        assert low < share < high


@pytest.mark.parametrize("power", [None, 1.8, 2.0, 2.2, 2.4])
@pytest.mark.parametrize("ink_set", sorted(INK_SETS))
def test_clean_ink_is_clean_in_any_file(power: float | None, ink_set: str) -> None:
    solids = {name: through(ink_set, SENSOR, name, {}) for name in NAMES}
    for reading in judged_untagged(power, **solids).values():
        assert reading.foreign == ()


@pytest.mark.parametrize("power", [None, 1.8, 2.2])
@pytest.mark.parametrize("scanner", sorted(name for name in SENSORS if name != SENSOR))
def test_a_reference_of_another_capture_is_taken_as_this_one_shows_it(scanner: str, power: float | None) -> None:
    """The same inks through other channels and another curve: clean ones stay clean, and much is named."""

    def judged_there(solids: dict[str, Floats]) -> dict[str, ContaminationReading]:
        areas = {name: areas_of(name, light) for name, light in solids.items()}
        if power is not None:
            areas = {name: untagged(one, power) for name, one in areas.items()}
        basis = house_basis("bench", CLEAN, same_capture=False, areas=areas)
        return {reading.ink: reading for reading in read_contamination(areas, basis, photo=False)}

    there = {name: through(INK_SET, scanner, name, {}) for name in NAMES}
    assert all(reading.foreign == () for reading in judged_there(there).values())
    for own, foreign in (("M", "C"), ("C", "Y"), ("Y", "M")):
        found = judged_there({**there, own: through(INK_SET, scanner, own, {foreign: 0.3})})
        assert [one.ink for one in found[own].foreign or ()] == [foreign]


@pytest.mark.parametrize(("share", "load", "named"), [(0.064, 1.0, True), (0.0, 1.05, False), (0.0, 0.85, False)])
def test_what_only_a_much_stronger_ink_could_do_without_is_foreign(share: float, load: float, named: bool) -> None:
    """Densities add by their shares (Beer and Lambert); the cyan leaves a scanner's red hardly any light.

    The red channel then tells next to nothing, and thinner cyan with more magenta explains the others as well: the
    share is uncertain upwards. To do without any, the cyan would have to be 12 % stronger than the reference's.
    """
    pure = {"C": [1.55, 0.35, 0.13], "M": [0.07, 0.86, 0.42], "Y": [0.0, 0.06, 0.84]}
    solids = {name: 10.0 ** -np.array(values) for name, values in pure.items()}
    basis = house_basis("own", solids, same_capture=True)
    mixed = load * (1 - share) * np.array(pure["C"]) + share * np.array(pure["M"])
    mixed[0] -= 0.16 * (share > 0)  # stray light in the dark channel
    areas = {name: areas_of(name, light) for name, light in solids.items()} | {"C": areas_of("C", 10.0**-mixed)}
    found = next(r for r in read_contamination(areas, basis, photo=False) if r.ink == "C").foreign
    assert [one.ink for one in found] == (["M"] if named else [])
    for one in found:
        assert 0.0 < one.ci95[0] < share < one.ci95[1]


@pytest.mark.parametrize(("rounded", "trend"), [(0.0, "growing"), (0.03, "steady")])
def test_what_a_coarse_file_rounds_along_a_strip_is_no_trend(rounded: float, trend: str) -> None:
    """All pieces of an end are rounded alike, so that their number makes the change no surer."""
    growing = 0.03 * (1 + (Y_MM - 30) / 100)
    areas = {name: areas_of(name, CLEAN[name]) for name in NAMES}
    fouled = areas_of("Y", seen("Y", {"C": float(growing[36])}), strip_of("Y", "C", growing))
    areas["Y"] = replace(fouled, strip=replace(fouled.strip, rounded_sd=np.full(3, rounded)))
    found = next(r for r in read_contamination(areas, HOUSE, photo=False) if r.ink == "Y")
    assert found.trend == trend


@pytest.mark.parametrize("same", [True, False])
@pytest.mark.parametrize("what", ["reference", "picture"])
def test_what_is_no_number_is_told_as_unknown(what: str, same: bool) -> None:
    """A density that is no number lies on neither side of a limit, and would look like an ink with nothing in it."""
    areas = {name: areas_of(name, CLEAN[name]) for name in NAMES}
    known = dict(CLEAN)
    if what == "reference":
        known["M"] = np.full(3, np.nan)
    else:
        areas["M"] = areas_of("M", np.full(3, np.nan), CLEAN["M"][None].repeat(50, axis=0))
    read = read_contamination(areas, house_basis("x", known, same_capture=same, areas=areas), photo=False)
    magenta = next(reading for reading in read if reading.ink == "M")
    assert (magenta.foreign, magenta.trend, magenta.could_hide, magenta.no_number) == (None, None, None, True)
    (warning,) = of_no_number(read)
    assert "magenta" in warning
    assert "can't be told: what house x or the picture says" in warning
    sound = read_contamination(areas_of_all(), HOUSE, photo=False)
    assert not any(reading.no_number for reading in sound)
    assert of_no_number(sound) == []


def areas_of_all() -> dict[str, InkAreas]:
    return {name: areas_of(name, CLEAN[name]) for name in NAMES}
