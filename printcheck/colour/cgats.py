"""CGATS.17 text files: the exchange format of colour measurements (also ISO 12641 and ISO 28178 data)."""

from __future__ import annotations

import codecs
import re
from pathlib import Path

from printcheck.errors import InputError
from printcheck.regular import read_regular

__all__ = ["read_cgats"]

_TOKEN = re.compile(r'"([^"]*)"|(\S+)')
_COMMENT = re.compile(r'("[^"]*"|[^\s#]+)|#.*')  # a # in quotation marks begins none
_COMMA = re.compile(r"[-+]?\d*,\d+")
_COLOUR = ("LAB_", "XYZ_")
_NO_TEXT = re.compile(r"[\x00-\x08\x0e-\x1f]")  # control characters other than those that move the carriage
_WHAT = "a CGATS.17 text file"


def read_cgats(path: Path) -> list[dict[str, str]]:
    """Read the first table of a CGATS.17 file.

    Returns
    -------
    list of dict
        One a sample: field name, upper case, to value as written.

    Raises
    ------
    InputError
        The file can't be read, holds no table, or holds one that contradicts itself.
    """
    fields: list[str] = []
    values: list[tuple[str, int]] = []  # with the line they stand on
    sets: str | None = None
    where = ""
    for number, line in enumerate(_text(path).splitlines(), start=1):
        tokens = [a if a or not b else b for a, b in _TOKEN.findall(_COMMENT.sub(r"\1", line))]
        if not tokens:
            continue
        if tokens[0] in ("BEGIN_DATA_FORMAT", "BEGIN_DATA"):
            where = tokens[0]
            tokens = tokens[1:]
        if "END_DATA_FORMAT" in tokens:
            fields += tokens[: tokens.index("END_DATA_FORMAT")]
            where = ""
        elif "END_DATA" in tokens:
            values += [(token, number) for token in tokens[: tokens.index("END_DATA")]]
            break
        elif where == "BEGIN_DATA_FORMAT":
            fields += tokens
        elif where == "BEGIN_DATA":
            values += [(token, number) for token in tokens]
        elif tokens[0] == "NUMBER_OF_SETS" and len(tokens) > 1:
            sets = tokens[1]
    if not fields or not values:
        raise InputError(f"{path} holds no CGATS.17 table (BEGIN_DATA_FORMAT ... BEGIN_DATA ... END_DATA)")
    width = len(fields)
    if len(values) % width:
        raise InputError(f"{path}: {_unfilled(values, width)}")
    if sets is not None and sets != str(len(values) // width):
        raise InputError(
            f"{path} announces {sets} samples (NUMBER_OF_SETS) and holds {len(values) // width}; it was cut or "
            "edited: export it again, or put the number right"
        )
    names = [field.upper() for field in fields]
    for k, (value, number) in enumerate(values):
        if _COMMA.fullmatch(value) and names[k % width].startswith(_COLOUR):
            raise InputError(f"{path}, line {number}: '{value}' has a decimal comma; write decimals with a point")
    rows = [[value for value, _ in values[k : k + width]] for k in range(0, len(values), width)]
    return [dict(zip(names, row, strict=True)) for row in rows]


def _text(path: Path) -> str:
    """Its text: UTF-8, or UTF-16 where it says so; else Latin-1, in which every byte is a character."""
    data = read_regular(path, _WHAT)
    wide = data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError:
        text = "\0" if wide else data.decode("latin-1")
    if _NO_TEXT.search(text):
        raise InputError(f"{path} is no text; name {_WHAT}, saved as UTF-8")
    return text


def _unfilled(values: list[tuple[str, int]], width: int) -> str:
    """Why the values don't fill rows of `width` fields, by the first line that is to blame."""
    lines: dict[int, int] = {}
    for _, number in values:
        lines[number] = lines.get(number, 0) + 1
    odd = next((n for n, count in lines.items() if count % width), None)
    if odd is None or len(lines) < len(values) / (2 * width):  # samples are not a line each
        return f"{len(values)} values don't fill rows of {width} fields; it is damaged"
    return (
        f"line {odd} holds {lines[odd]} values for {width} fields; it is damaged, or a name of several words lacks "
        "its quotation marks"
    )
