"""Topping off by weight: the shop's own table of full and empty weights, and what a cartridge on the scale needs.

A table is TOML, one entry a cartridge kind, grams throughout::

    [black-small]        # any name the bench uses
    empty_g = 22.0       # run dry, as it goes back to the bench
    full_g = 36.5        # as it should leave
    lightest_g = 20.5    # below this it is another cartridge, or the scale is off; default 93 % of empty
    heaviest_g = 37.5    # above this likewise; default 103 % of full
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from printcheck.errors import PrintcheckError
from printcheck.limits import LIMITS
from printcheck.parse import load_toml
from printcheck.verdict.result import Action, Assessment

__all__ = ["CartridgeWeights", "Weighing", "load_weights", "weigh", "with_weighing"]

_LIGHTEST, _HEAVIEST = LIMITS["weight_lightest"].value, LIMITS["weight_heaviest"].value
_KEYS = ("empty_g", "full_g", "lightest_g", "heaviest_g")


@dataclass(frozen=True, slots=True)
class CartridgeWeights:
    """Weights of one cartridge kind in grams; weights outside `lightest_g` to `heaviest_g` are not believed."""

    name: str
    empty_g: float
    full_g: float
    lightest_g: float
    heaviest_g: float


@dataclass(frozen=True, slots=True)
class Weighing:
    """What the scale said of one cartridge; `add_g` is the ink to add, 0 where it is full."""

    cartridge: CartridgeWeights
    weight_g: float
    add_g: float
    warning: str | None


def load_weights(path: Path) -> dict[str, CartridgeWeights]:
    """Read a table of weights.

    Raises
    ------
    PrintcheckError
        The file can't be read, or an entry makes no sense; the message names it.
    """
    return {name: _entry(name, entry, path) for name, entry in load_toml(path, "weights").items()}


def weigh(table: dict[str, CartridgeWeights], cartridge: str, weight_g: float) -> Weighing:
    """Work out what a cartridge needs.

    Raises
    ------
    PrintcheckError
        The cartridge is not in the table, or the weight outside its range.
    """
    entry = table.get(cartridge)
    if entry is None:
        raise PrintcheckError(f"cartridge '{cartridge}' is not in the table of weights; it has {', '.join(table)}")
    if not entry.lightest_g <= weight_g <= entry.heaviest_g:
        raise PrintcheckError(
            f"{weight_g:g} g can't be a {cartridge}: it weighs {entry.lightest_g:.4g} to {entry.heaviest_g:.4g} g; "
            "check the scale and the name"
        )
    warning = None
    if weight_g < entry.empty_g:
        warning = (
            f"{weight_g:g} g is less than an empty {cartridge} ({entry.empty_g:g} g): a part is missing, or the foam "
            "has dried out; check it before filling"
        )
    return Weighing(entry, weight_g, max(0.0, entry.full_g - weight_g), warning)


def with_weighing(assessment: Assessment, weighing: Weighing, what: str = "ink") -> Assessment:
    """Say in the verdict how much to add, and what is odd about the weight; only a top-off is told to fill."""
    steps, cautions = assessment.next_steps, assessment.cautions
    if assessment.action is Action.TOP_OFF:
        full = weighing.cartridge.full_g
        add = (
            f"Add {weighing.add_g:.1f} g of {what} ({weighing.weight_g:g} g now, {full:g} g full), seal and pack."
            if weighing.add_g >= 0.05
            else f"It is full ({weighing.weight_g:g} g): seal and pack."
        )
        steps = (add, *steps[1:])
    if weighing.warning:
        cautions = (weighing.warning[0].upper() + weighing.warning[1:] + ".", *cautions)
    return replace(assessment, next_steps=steps, cautions=cautions)


def _entry(name: str, entry: object, path: Path) -> CartridgeWeights:
    where = f"weights {path}: '{name}'"
    if not isinstance(entry, dict):
        raise PrintcheckError(f"{where} must be a table with empty_g and full_g")
    for key, value in entry.items():
        if key not in _KEYS:
            raise PrintcheckError(f"{where} has no key '{key}'; known are {', '.join(_KEYS)}")
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < math.inf:
            raise PrintcheckError(f"{where}: {key} must be a weight in grams")
    if not {"empty_g", "full_g"} <= entry.keys():
        raise PrintcheckError(f"{where} needs empty_g and full_g")
    given: dict[str, Any] = entry
    empty, full = float(given["empty_g"]), float(given["full_g"])
    lightest = float(given.get("lightest_g", _LIGHTEST * empty))
    heaviest = float(given.get("heaviest_g", _HEAVIEST * full))
    if not lightest <= empty < full <= heaviest:
        raise PrintcheckError(f"{where}: must be lightest_g <= empty_g < full_g <= heaviest_g")
    return CartridgeWeights(name, empty, full, lightest, heaviest)
