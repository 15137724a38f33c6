"""A scanner's map to colour on spectra it was and was not fitted on; CGATS.17 text; house references on disk."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray

from printcheck.colour.calibration import fit_calibration
from printcheck.colour.cgats import read_cgats
from printcheck.colour.difference import delta_e00
from printcheck.colour.house import HouseInk, HouseReference, list_house, load_house, remove_house, save_house
from printcheck.errors import InputError, PrintcheckError
from printcheck.simulate.inks import lab, xyz_weights
from printcheck.simulate.spectra import absorbance, paper, sensor

Floats = NDArray[np.float64]


def prints(loads: Floats) -> tuple[Floats, Floats]:
    """Light relative to paper through a scanner's channels, and media-relative CIELAB, of C, M, Y loads (N, 3)."""
    sheet = paper("natural")
    light = sheet * 10.0 ** -(loads @ np.stack([absorbance("dye-b", n) for n in "CMY"]))
    seen = light @ sensor("scanner-lamp-b").T / (sheet @ sensor("scanner-lamp-b").T)
    weights = xyz_weights()
    return seen, lab(light @ weights.T, sheet @ weights.T)


def test_colours_not_fitted_on_are_read_to_the_stated_error() -> None:
    rng = np.random.default_rng(2)
    fit = fit_calibration(*prints(rng.uniform(0, 1, (60, 3))), "scan", "sRGB assumed")
    seen, true = prints(rng.uniform(0.05, 0.95, (100, 3)))
    read = np.array([fit.lab(one) for one in seen])
    error = delta_e00(read, true)
    assert np.median(error) < 1.0
    assert np.median(error) < 2.5 * fit.delta_e00
    assert np.mean((np.abs(read - true) <= 1.96 * np.array(fit.sd)).all(axis=1)) > 0.8


def test_it_is_refused_elsewhere() -> None:
    fit = fit_calibration(*prints(np.random.default_rng(2).uniform(0, 0.3, (40, 3))), "scan", "sRGB assumed")
    assert fit.refusal("scan", "sRGB assumed") is None
    assert "this is a photo" in str(fit.refusal("photo", "sRGB assumed"))
    assert fit.lab(np.array([0.02, 0.9, 0.02])) is None  # nothing like it was fitted on
    with pytest.raises(PrintcheckError, match="at least 12"):
        fit_calibration(*prints(np.zeros((5, 3))), "scan", "")


CGATS = """CGATS.17
ORIGINATOR "bench"   # a remark
NUMBER_OF_FIELDS 4
BEGIN_DATA_FORMAT
SAMPLE_ID LAB_L LAB_A LAB_B
END_DATA_FORMAT
NUMBER_OF_SETS 2
BEGIN_DATA
"solid C" 60.0 -26.0 -44.0
paper\t95 0 -2
END_DATA
"""


def test_cgats_text(tmp_path: Path) -> None:
    path = tmp_path / "values.txt"
    path.write_text(CGATS, encoding="utf-8")
    rows = read_cgats(path)
    assert rows[0] == {"SAMPLE_ID": "solid C", "LAB_L": "60.0", "LAB_A": "-26.0", "LAB_B": "-44.0"}
    assert [row["SAMPLE_ID"] for row in rows] == ["solid C", "paper"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"hello\n", "no CGATS.17 table"),
        (b"\xff\xfe\x00", "no text"),
        (CGATS.replace("95 0", "95").encode(), "damaged"),
    ],
)
def test_damaged_values_are_refused_in_one_line(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "values.txt"
    path.write_bytes(content)
    with pytest.raises(InputError, match=said) as refusal:
        read_cgats(path)
    assert "\n" not in str(refusal.value)


def test_references_come_back_as_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRINTCHECK_REFERENCES", str(tmp_path / "kept"))
    assert list_house() == ((), ())
    ink = HouseInk((0.1, 0.5, 0.7), (0.001, 0.001, 0.001), (60.0, -26.0, -44.0))
    kept = HouseReference("office, plain".replace(",", ""), "tri-100", "A4", "scan", "sRGB assumed", "ab", {"C": ink})
    kept = replace(kept, paper=(0.8, 0.78, 0.7))
    path = save_house(kept)
    assert list_house() == ((kept,), ())
    assert_allclose(load_house("office plain").inks["C"].lab, ink.lab)
    path.write_text("{}", encoding="utf-8")
    with pytest.raises(PrintcheckError, match="damaged"):
        load_house("office plain")
    sound, faults = list_house()
    assert (sound, len(faults)) == ((), 1)
    save_house(kept)
    remove_house("office plain")
    with pytest.raises(PrintcheckError, match="no reference 'office plain'"):
        load_house("office plain")
    with pytest.raises(PrintcheckError, match="can't name"):
        load_house("../x")


def test_doubt_grows_away_from_what_was_fitted() -> None:
    fit = fit_calibration(*prints(np.random.default_rng(2).uniform(0, 0.6, (40, 3))), "scan", "sRGB assumed")
    patch = fit.fitted[0] ** 3
    near, far = fit.sd_at(patch), fit.sd_at(patch * 0.8)
    assert (far > 1.5 * near).any()
    assert (far >= near).all()


def test_another_device_or_resolution_is_refused() -> None:
    seen = prints(np.random.default_rng(2).uniform(0, 0.3, (40, 3)))
    fit = fit_calibration(*seen, "scan", "sRGB assumed", "600 dots/inch")
    assert fit.refusal("scan", "sRGB assumed", "600 dots/inch") is None
    assert "at 600 dots/inch, this is a scan at 300" in str(fit.refusal("scan", "sRGB assumed", "300 dots/inch"))
    assert "another device" in str(fit.refusal("scan", "sRGB assumed", "0123456789ab"))
