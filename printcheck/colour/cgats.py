"""CGATS.17 text files: the exchange format of colour measurements (also ISO 12641 and ISO 28178 data)."""

from __future__ import annotations

import re
from pathlib import Path

from printcheck.errors import InputError

__all__ = ["read_cgats"]

_TOKEN = re.compile(r'"([^"]*)"|(\S+)')
_MOST_BYTES = 20_000_000


def read_cgats(path: Path) -> list[dict[str, str]]:
    """Read the first table of a CGATS.17 file.

    Returns
    -------
    list of dict
        One a sample: field name, upper case, to value as written.

    Raises
    ------
    InputError
        The file can't be read or holds no table.
    """
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise InputError(f"{path} is too large for a table of measurements; name a CGATS.17 text file")
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise InputError(f"{path} can't be read: {error.strerror}; name a CGATS.17 text file") from error
    except UnicodeDecodeError:
        raise InputError(f"{path} is no text; name a CGATS.17 text file") from None
    fields: list[str] = []
    values: list[str] = []
    where = ""
    for line in text.splitlines():
        tokens = [a if a or not b else b for a, b in _TOKEN.findall(line.split("#", 1)[0])]
        if not tokens:
            continue
        if tokens[0] in ("BEGIN_DATA_FORMAT", "BEGIN_DATA"):
            where = tokens[0]
            tokens = tokens[1:]
        if "END_DATA_FORMAT" in tokens:
            fields += tokens[: tokens.index("END_DATA_FORMAT")]
            where = ""
        elif "END_DATA" in tokens:
            values += tokens[: tokens.index("END_DATA")]
            break
        elif where == "BEGIN_DATA_FORMAT":
            fields += tokens
        elif where == "BEGIN_DATA":
            values += tokens
    if not fields or not values:
        raise InputError(f"{path} holds no CGATS.17 table (BEGIN_DATA_FORMAT ... BEGIN_DATA ... END_DATA)")
    if len(values) % len(fields):
        raise InputError(f"{path}: {len(values)} values don't fill rows of {len(fields)} fields; it is damaged")
    names = [field.upper() for field in fields]
    width = len(names)
    return [dict(zip(names, values[k : k + width], strict=True)) for k in range(0, len(values), width)]
