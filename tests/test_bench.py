"""One picture through the bench: what only the bench puts together."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from readings import sheet

import printcheck.bench
from printcheck.bench import BenchSettings, bench_picture, bench_scored
from printcheck.ledger.entry import Notes
from printcheck.ledger.store import open_ledger
from printcheck.measure.result import ContaminationReading, ForeignInk
from printcheck.pipeline import Scored
from printcheck.verdict.colour_rules import colour_reasons
from printcheck.verdict.policy import load_policy
from printcheck.verdict.rules import assess


def test_the_purge_pages_that_were_worked_out_are_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """600 mm of solid are three pages of 250 mm; the text's own default is a word."""
    foreign = (ForeignInk("M", 0.30, (0.27, 0.33), 0.30, 0.12),)
    fouled = ContaminationReading("Y", "house own", foreign, "clearing", 600.0, None, 0.01)
    clear = [ContaminationReading(ink, "house own", (), "none", None, None, 0.01) for ink in "CM"]
    plain = sheet()
    reasons = colour_reasons([fouled], load_policy())
    told = replace(
        plain, contamination=(*clear, fouled), assessment=assess(plain.lines, 0.02, load_policy(), extra=reasons)
    )
    assert "Print three full pages" in told.assessment.next_steps[0]
    # the bench builds the verdict anew from the readings and the ticket's history
    scored = Scored(told, None, None)  # type: ignore[arg-type]
    monkeypatch.setattr(printcheck.bench, "score_image", lambda path, **settings: scored)
    with open_ledger(str(tmp_path / "shop.sqlite3")) as book:
        done = bench_picture(Path("scan.png"), BenchSettings(), book)
        assert "Print 3 full pages of the solid" in done.report["verdict"]["next_steps"][0]
        assert book.report(1)["verdict"] == done.report["verdict"]


def test_a_table_of_the_same_name_that_holds_something_else_is_another_setting(tmp_path: Path) -> None:
    """Else a picture judged by the table as it was would count as judged by what it is now."""
    table = tmp_path / "parts.toml"
    table.write_text("[drum]\nmm = 94.0\n")
    settings = BenchSettings(components=table)
    before = settings.judged_by
    assert settings.judged_by == before
    table.write_text("[drum]\nmm = 76.0\n")
    assert settings.judged_by != before
    assert BenchSettings().judged_by == ()


@pytest.mark.parametrize(("cleanings", "action"), [(None, "purge"), (3, "purge"), (4, "reject")])
def test_steps_tried_are_no_count_of_cleanings(cleanings: int | None, action: str) -> None:
    """Drawing ink, blotting and wiping may all have been one cleaning; how often it was done is said apart.

    Wiping the plate and checking the seal brings no ink back: of so many cleanings it is taken to have been one.
    """
    assert bench_dead(BenchSettings(tried=("draw", "blot", "wipe-seal"), cleanings=cleanings)) == action


@pytest.mark.parametrize(
    ("cleanings", "tried", "cleaning", "action"),
    [
        (3, (), None, "reject"),  # so many, says the user, and nothing speaks against it
        (3, ("align", "wipe-seal", "purge-pages"), None, "purge"),  # none of them was for it
        (9, ("align",), None, "purge"),
        (3, ("prime", "draw", "steam"), None, "reject"),
        (3, ("prime",), None, "reject"),  # one step again and again
        (3, (), "prime", "reject"),  # noted beside this sheet; of the two before nothing is said
        (3, (), "align", "purge"),
        (3, ("wipe-seal",), "prime", "purge"),
        (3, (), "align+prime", "reject"),
    ],
)
def test_an_ink_is_dead_for_good_after_so_many_cleanings_of_it(
    cleanings: int, tried: tuple[str, ...], cleaning: str | None, action: str
) -> None:
    settings = BenchSettings(tried=tried, cleanings=cleanings, notes=Notes(cleaning=cleaning))
    assert bench_dead(settings) == action


def bench_dead(settings: BenchSettings) -> str:
    """The verdict on a sheet whose first ink lays down nothing."""
    plain = sheet()
    lines = (replace(plain.lines[0], absent=True, missing=()), *plain.lines[1:])
    judged = replace(plain, lines=lines, assessment=assess(lines, 0.02, load_policy()))
    told = bench_scored(Scored(judged, None, None), settings)  # type: ignore[arg-type]
    return told.scored.sheet.assessment.action.value
