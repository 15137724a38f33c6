"""Topping off by weight."""

from __future__ import annotations

import pytest

from printcheck.errors import PrintcheckError
from printcheck.verdict.result import Action, Assessment
from printcheck.weights import load_weights, weigh, with_weighing

TABLE = """
[black-small]
empty_g = 22.0
full_g = 36.5
lightest_g = 20.5
heaviest_g = 37.5
[colour-small]
empty_g = 30
full_g = 42
"""


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "weights.toml"
    path.write_text(TABLE)
    return load_weights(path)


def test_what_is_lacking_to_full_is_added(table):
    found = weigh(table, "black-small", 31.2)
    assert found.add_g == pytest.approx(36.5 - 31.2)
    assert found.warning is None


def test_a_full_one_gets_nothing(table):
    assert weigh(table, "black-small", 36.9).add_g == 0


def test_lighter_than_empty_is_warned_about(table):
    found = weigh(table, "black-small", 21.0)
    assert found.add_g == pytest.approx(15.5)
    assert "less than an empty black-small" in found.warning


@pytest.mark.parametrize("grams", [20.4, 37.6, 0, -3, float("nan"), 312])
def test_weights_outside_the_range_are_refused(table, grams):
    with pytest.raises(PrintcheckError, match=r"can't be a black-small: it weighs 20.5 to 37.5 g"):
        weigh(table, "black-small", grams)


def test_a_cartridge_not_in_the_table_is_refused(table):
    with pytest.raises(PrintcheckError, match="it has black-small, colour-small"):
        weigh(table, "blue", 30)


def test_only_a_top_off_is_told_to_fill(table):
    weighing = weigh(table, "black-small", 31.2)
    good = with_weighing(Assessment(Action.TOP_OFF, (), ("Fill.",), ("Gloves.",)), weighing)
    assert good.next_steps == ("Add 5.3 g of ink (31.2 g now, 36.5 g full), seal and pack.",)
    bad = Assessment(Action.PURGE, (), ("Blot.",), ("Gloves.",))
    assert with_weighing(bad, weighing) == bad


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[a]\nempty_g = 5", "needs empty_g and full_g"),
        ("[a]\nempty_g = 5\nfull_g = 4", "lightest_g <= empty_g < full_g"),
        ("[a]\nempty_g = 5\nfull_g = 9\nlightest_g = 6", "lightest_g <= empty_g"),
        ('[a]\nempty_g = "5"\nfull_g = 9', "weight in grams"),
        ("[a]\nempty_g = -5\nfull_g = 9", "weight in grams"),
        ("[a]\nempty = 5", "no key 'empty'"),
        ("a = 3", "must be a table"),
        ("[a", "can't be read"),
    ],
)
def test_a_faulty_table_is_one_clear_line(tmp_path, text, said):
    path = tmp_path / "weights.toml"
    path.write_text(text)
    with pytest.raises(PrintcheckError, match="weights") as told:
        load_weights(path)
    assert said in str(told.value)
    assert "\n" not in str(told.value)
