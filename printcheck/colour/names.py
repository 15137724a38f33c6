"""What a shop may call what is kept for it: one rule for references and calibrations, each a file of that name."""

from __future__ import annotations

from printcheck.errors import PrintcheckError

__all__ = ["check_name"]

_MOST = 60  # characters: in UTF-8, with what is put behind them, less than the 255 bytes that file systems take


def check_name(name: str, what: str) -> str:
    """Return `name` if it may name a `what`, as in "reference"; raises `PrintcheckError` otherwise.

    Letters and digits of any script, so that a shop may call things as it calls them; nothing that a file system, a
    shell or a TOML string reads as something else.
    """
    if not (0 < len(name) <= _MOST and name[0].isalnum() and all(c.isalnum() or c in " ._-" for c in name)):
        raise PrintcheckError(
            f"'{name}' can't name a {what}; use up to {_MOST} letters, digits, spaces, dots, dashes and underscores"
        )
    return name
