"""The sample scans say what their notes say is on them. The notes are the simulator's truth, not our own reading."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
NOTES = {path.stem: path for path in sorted((ROOT / "sample_scans").glob("*.toml"))}
MOST_BYTES = 25_000_000


def note(name: str) -> dict:
    return tomllib.loads(NOTES[name].read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", NOTES)
def test_a_sample_is_judged_as_its_note_says(name: str, scored_samples) -> None:
    told, report = note(name), scored_samples[name].report
    assert report["verdict"]["action"] == told["verdict"]
    if told["verdict"] == "rescan":
        assert report["inks"] == [] or all(ink["lines"] is None for ink in report["inks"])
        return
    assert report["sheet"]["head"] == told["head"]
    assert report["sheet"]["page"] == told["page"]
    assert report["sheet"]["ticket"] == told["ticket"]
    assert report["capture"]["kind"] == ("photo" if "photo" in told["capture"] else "scan")
    if "repeats" in told:
        (found,) = report["toner"]["repeats"]
        assert found["spacing_mm"] == pytest.approx(told["repeats"]["spacing_mm"], rel=0.01)
        assert found["x_mm"] == pytest.approx(told["repeats"]["x_mm"], abs=0.5)
        assert found["y_mm"] == pytest.approx(told["repeats"]["y_mm"], abs=0.5)
        return
    assert {ink["ink"]: ink["lines"]["missing"] for ink in report["inks"]} == told["missing"]
    assert all(ink["lines"]["intermittent"] == [] for ink in report["inks"])


def test_every_verdict_and_both_captures_are_shown() -> None:
    told = [note(name) for name in NOTES]
    assert {t["verdict"] for t in told} == {"top-off", "purge", "reject", "rescan"}
    assert {t["capture"].split()[0] for t in told} == {"flatbed", "phone"}
    assert len(NOTES) >= 6


@pytest.mark.parametrize("name", NOTES)
def test_a_sample_says_that_it_is_simulated_and_how(name: str) -> None:
    told = note(name)
    assert told["simulated"] is True
    assert told["made_by"]
    assert told["story"]
    assert isinstance(told["seed"], int)


def test_every_picture_has_a_note_and_the_folder_stays_small(samples: Path) -> None:
    files = [path for path in samples.rglob("*") if path.is_file() and "__pycache__" not in path.parts]
    assert sum(path.stat().st_size for path in files) < MOST_BYTES
    captures = {path.stem for path in files if path.suffix in (".jpg", ".png", ".tif", ".heic", ".webp")}
    drawn = {stem for stem in captures if stem.startswith("marked")}  # results, shown in the README
    assert captures - drawn == set(NOTES)


def test_the_cleaned_cartridge_is_the_clogged_one() -> None:
    """What is missing after the cleaning was missing before it: the two are the same cartridge."""
    before, after = (note(name)["missing"]["K"] for name in ("black-clogged", "black-cleaned"))
    assert set(after) < set(before)
