"""Head files: those that ship, and every way a user's own can be wrong, named with its key."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from printcheck.errors import PatternError
from printcheck.pattern.heads import RASTERS, builtin_heads, load_head, parse_head

INK = {"ink": "K", "nozzles": 128, "nozzles_per_inch": 300, "rows_per_inch": 600}


def head(**changes: Any) -> dict[str, Any]:
    return {"name": "own-128", "title": "My head", "inks": [dict(INK)], **changes}


def ink(**changes: Any) -> dict[str, Any]:
    return head(inks=[{**INK, **changes}])


@pytest.mark.parametrize(
    ("name", "inks"),
    [
        ("mono-416", {"K": (416, 600, 600)}),
        ("tri-100", dict.fromkeys("CMY", (100, 300, 300))),
        ("tri-192", dict.fromkeys("CMY", (192, 600, 600))),
        ("quad-416-192", {"K": (416, 600, 600), **dict.fromkeys("CMY", (192, 600, 600))}),
        ("quad-180", dict.fromkeys("KCMY", (180, 180, 360))),
    ],
)
def test_heads_that_ship_are_what_their_names_say(name: str, inks: dict[str, tuple[int, int, int]]) -> None:
    made = load_head(name)
    assert {i.ink: (i.nozzles, i.nozzles_per_inch, i.rows_per_inch) for i in made.inks} == inks
    assert made.text == (("K",) if "K" in inks else tuple(inks))


def test_every_head_file_is_named_after_its_head() -> None:
    for name, path in builtin_heads().items():
        assert load_head(name).name == path.stem


def test_an_interlaced_head_has_more_rows_than_nozzles() -> None:
    (made,) = parse_head(head(), "test").inks
    assert (made.rows, made.passes) == (256, 2)
    assert made.pitch_mm == pytest.approx(25.4 / 600)
    assert made.swath_mm == pytest.approx(256 * 25.4 / 600)


@pytest.mark.parametrize(("rows", "raster"), [((600,), 600), ((360,), 720), ((300, 150), 600), ((720, 360), 720)])
def test_the_raster_is_the_one_the_rows_divide(rows: tuple[int, ...], raster: int) -> None:
    inks = [
        {"ink": k, "nozzles": 100, "nozzles_per_inch": r, "rows_per_inch": r}
        for k, r in zip("KC", rows, strict=False)
    ]
    assert parse_head(head(inks=inks), "test").raster == raster


@pytest.mark.parametrize(
    ("data", "key"),
    [
        (head(colour="K"), "'colour'"),
        (head(name="Upper"), "'name'"),
        (head(name="seventeen-letters"), "'name'"),
        (head(name=7), "'name'"),
        (head(title=7), "'title'"),
        (head(title=""), "'title'"),
        (head(title="two\nlines"), "'title'"),
        (head(title="x" * 73), "'title'"),
        (head(inks=[]), "'inks'"),
        (head(inks={"ink": "K"}), "'inks'"),
        (head(inks=["K"]), "'inks[0]'"),
        (head(inks=[INK, INK]), "'inks[1].ink'"),
        (head(text=[]), "'text'"),
        (head(text="K"), "'text'"),
        (head(text=["Z"]), "'text'"),
        (head(text=["K", "K"]), "'text'"),
        (ink(ink="Z"), "'inks[0].ink'"),
        (ink(nozzles=0), "'inks[0].nozzles'"),
        (ink(nozzles=-4), "'inks[0].nozzles'"),
        (ink(nozzles=True), "'inks[0].nozzles'"),
        (ink(nozzles="128"), "'inks[0].nozzles'"),
        (ink(nozzles=128.0), "'inks[0].nozzles'"),
        (ink(nozzles=3), "'inks[0].nozzles'"),
        (ink(nozzles=5000), "'inks[0].nozzles'"),
        (ink(nozzles_per_inch=None), "'inks[0].nozzles_per_inch'"),
        (ink(nozzles_per_inch=400), "'inks[0].rows_per_inch'"),
        (ink(nozzles_per_inch=350, rows_per_inch=350), "'rows_per_inch'"),
        (ink(pitch=2), "'inks[0].pitch'"),
        (head(inks=[INK, {**INK, "ink": "C", "nozzles_per_inch": 360, "rows_per_inch": 360}]), "'rows_per_inch'"),
    ],
)
def test_a_fault_is_named_with_its_key_in_one_line(data: dict[str, Any], key: str) -> None:
    with pytest.raises(PatternError) as refusal:
        parse_head(data, "own.toml")
    message = str(refusal.value)
    assert message.startswith("own.toml: ")
    assert key in message
    assert "\n" not in message


@pytest.mark.parametrize("key", ["name", "inks"])
def test_a_key_left_out_is_named(key: str) -> None:
    data = head()
    del data[key]
    with pytest.raises(PatternError, match=f"'{key}'"):
        parse_head(data, "own.toml")


def test_every_fault_is_named_at_once() -> None:
    data = head(name="", text=["Q"], inks=[{**INK, "nozzles": 0, "ink": "Z"}])
    with pytest.raises(PatternError) as refusal:
        parse_head(data, "own.toml")
    assert all(key in str(refusal.value) for key in ("'name'", "'text'", "'inks[0].nozzles'", "'inks[0].ink'"))


JSONISH = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.sampled_from("KCMY"),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from([*INK, "x"]), inner, max_size=5),
    max_leaves=8,
)


@given(st.dictionaries(st.sampled_from(["name", "title", "text", "inks", "note", "x"]), JSONISH))
def test_whatever_a_file_holds_it_makes_a_head_or_a_refusal(data: dict[str, Any]) -> None:
    try:
        made = parse_head(data, "own.toml")
    except PatternError as refusal:
        message = str(refusal)
    else:
        assert made.raster in RASTERS
        return
    assert "\n" not in message


@given(st.integers(1, 1500), st.sampled_from([75, 100, 150, 180, 200, 300, 360, 600, 720]), st.integers(1, 4))
def test_rows_are_nozzles_times_passes_and_bounded(nozzles: int, per_inch: int, passes: int) -> None:
    data = ink(nozzles=nozzles, nozzles_per_inch=per_inch, rows_per_inch=per_inch * passes)
    fits = 8 <= nozzles * passes <= 1200
    divides = any(raster % (per_inch * passes) == 0 for raster in RASTERS)
    if fits and divides:
        assert parse_head(data, "test").inks[0].rows == nozzles * passes
    else:
        with pytest.raises(PatternError, match="nozzles" if not fits else "rows_per_inch"):
            parse_head(data, "test")


def test_a_file_is_taken_by_its_path(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text('name = "own"\n[[inks]]\nink = "C"\nnozzles = 64\nnozzles_per_inch = 150\nrows_per_inch = 150\n')
    made = load_head(str(path))
    assert (made.name, made.title, made.text) == ("own", "own", ("C",))


@pytest.mark.parametrize(
    ("content", "says"),
    [(b"name = ", "not valid TOML"), (b"\xff\xfe\x00", "not UTF-8 text"), (None, "No such file")],
)
def test_a_file_that_is_no_head_is_refused_in_one_line(tmp_path: Path, content: bytes | None, says: str) -> None:
    path = tmp_path / "own.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(PatternError, match=says) as refusal:
        load_head(str(path))
    assert str(path) in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_an_unknown_name_lists_the_known_ones() -> None:
    with pytest.raises(PatternError, match="mono-416, quad-180"):
        load_head("penta-9")


def test_a_toner_cartridge_has_no_nozzles() -> None:
    head = load_head("toner-mono")
    assert head.toner
    assert head.inks == ()
    assert head.raster == 600
    assert "toner-mono" not in builtin_heads()
    assert list(builtin_heads("toner")) == ["toner-mono"]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"technology": "wax"}, "'technology' must be inkjet or toner"),
        ({"dots_per_inch": 610}, "'dots_per_inch' must be 600 or 720"),
        ({"inks": []}, "'inks' is not a key of a head file of a toner cartridge"),
        ({"name": "Ä"}, "'name' must be"),
    ],
)
def test_each_fault_of_a_toner_head_is_named(change: dict, fault: str) -> None:
    data = {"name": "t", "technology": "toner", "dots_per_inch": 600, **change}
    with pytest.raises(PatternError, match=fault):
        parse_head(data, "my.toml")
