"""TOML and JSON that somebody may have edited, or written to do harm: read to plain values, or refused in words."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from printcheck.errors import PrintcheckError
from printcheck.regular import regular_bytes

__all__ = ["load_toml", "parse_json", "parse_toml"]

_MOST_TOML_BYTES = 200_000  # ten times the shipped tables
_MOST_WHOLE = 2**63  # TOML 1.0, Integer: 64 bits; of more no floating-point number need be left
_MOST_DEPTH = 50  # ten times the deepest of our own: what is walked or shown later is walked by recursion


def load_toml(path: Path, called: str) -> dict[str, Any]:
    """Read a shop's own TOML file; `called` is what messages call it, as in "policy".

    Raises
    ------
    PrintcheckError
        It can't be read, or is no TOML.
    """
    try:
        return parse_toml(regular_bytes(path, _MOST_TOML_BYTES))
    except ValueError as error:
        raise PrintcheckError(f"{called} {path} can't be read: {error}; mend it, or name another file") from error


def parse_toml(data: bytes) -> dict[str, Any]:
    """Read TOML; raises `ValueError` with a message like "it is not valid TOML: ..."."""
    table: dict[str, Any] = _parsed(data, tomllib.loads, "TOML")
    return table


def parse_json(data: bytes) -> Any:
    """Read JSON; raises `ValueError` with a message like "it is not valid JSON: ...".

    What is no number crosses no limit, and would pass unseen: Python's own reader takes NaN and Infinity, which JSON
    does not have (RFC 8259, section 6), and makes an infinity of a number that is too large.
    """
    return _parsed(data, _json, "JSON")


def _json(text: str) -> Any:
    return json.loads(text, parse_constant=_no_number, parse_float=_finite)


def _no_number(text: str) -> float:
    raise ValueError(f"{text} is no number")


def _finite(text: str) -> float:
    value = float(text)
    if math.isinf(value):
        raise ValueError(f"{text[:20]} is too large a number")
    return value


def _parsed(data: bytes, loads: Callable[[str], Any], form: str) -> Any:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ValueError("it is not UTF-8 text") from error
    try:
        value = loads(text)
    except RecursionError as error:
        raise ValueError("its values are nested too deeply") from error
    except ValueError as error:
        raise ValueError(f"it is not valid {form}: {error}") from error
    _check(value)
    return value


def _check(value: Any) -> None:
    """Refuse what is sound in form, and breaks whatever works with it: depth, and whole numbers of any length."""
    level = [value]
    for _ in range(_MOST_DEPTH):
        if any(isinstance(one, int) and abs(one) >= _MOST_WHOLE for one in level):
            raise ValueError("a number in it is too large")
        inner = (one.values() if isinstance(one, dict) else one for one in level if isinstance(one, dict | list))
        level = [one for many in inner for one in many]
        if not level:
            return
    raise ValueError("its values are nested too deeply")
