"""What the sheet says of itself: the text in its QR codes (ISO/IEC 18004), written and read here only.

``PC:3:A4:QUAD-416-192:K416.600.600+C.M.Y192.600.600:K:TICKET``

colon-separated: mark of this program, layout version, page, head name, inks, text inks, ticket. Neighbouring
inks of the same build share an entry: their names, then nozzles, nozzles per inch and rows per inch; the order of
the inks is kept, for the layout follows it. Sheets of ink heads were layout 1 at first; their codes read alike. The
sheet of a toner cartridge is layout 2, and its inks field says what it is composed at::

    PC:2:A4:TONER-MONO:TONER.K.600:K:TICKET

so that a copy of the program from before a layout asks to be updated. Without a lower-case ticket the text
stays within the QR code's alphanumeric set, which packs closest. A reader needs nothing else to rebuild the layout.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass

from printcheck.errors import PatternError
from printcheck.pattern.heads import Head, HeadInk, parse_head

__all__ = [
    "FIRST_INKJET_LAYOUT",
    "INKJET_LAYOUT",
    "LAYOUT_VERSION",
    "MAX_TICKET",
    "TONER_LAYOUT",
    "Announcement",
    "check_ticket",
    "decode_announcement",
    "encode_announcement",
]

LAYOUT_VERSION = 3
"""The newest layout this program knows."""

FIRST_INKJET_LAYOUT, TONER_LAYOUT, INKJET_LAYOUT = 1, 2, 3
MAX_TICKET = 24  # characters; what still leaves good error correction in the code
_PREFIX = "PC"
_TONER = re.compile(r"TONER\.K\.(\d{1,5})")
_ENTRY = re.compile(r"([A-Z]+(?:\.[A-Z]+)*)(\d{1,5})\.(\d{1,5})\.(\d{1,5})")


@dataclass(frozen=True, slots=True)
class Announcement:
    """What a code says: `head` is none where the layout is newer than this program knows."""

    version: int
    page: str
    head: Head | None
    ticket: str


def check_ticket(ticket: str) -> str:
    """Return the ticket, stripped; raises `PatternError` where it does not fit the code."""
    ticket = ticket.strip()
    if len(ticket) > MAX_TICKET:
        raise PatternError(f"ticket has {len(ticket)} characters; at most {MAX_TICKET} fit the sheet's code")
    if any(ord(ch) < 32 or ord(ch) > 126 for ch in ticket):
        raise PatternError("ticket has characters outside plain ASCII; use letters, digits and punctuation")
    return ticket


def encode_announcement(head: Head, page: str, ticket: str, version: int = INKJET_LAYOUT) -> str:
    """Text of the code for one sheet; `version` is that of an ink head's, toner sheets have one only."""
    builds = itertools.groupby(head.inks, lambda ink: (ink.nozzles, ink.nozzles_per_inch, ink.rows_per_inch))
    inks = "+".join(f"{'.'.join(ink.ink for ink in group)}{n}.{npi}.{rpi}" for (n, npi, rpi), group in builds)
    if head.toner:
        inks = f"TONER.K.{head.raster}"
    version = TONER_LAYOUT if head.toner else version
    fields = [_PREFIX, str(version), page.upper(), head.name.upper(), inks, ".".join(head.text)]
    return ":".join([*fields, check_ticket(ticket)])


def decode_announcement(text: str) -> Announcement | None:
    """Read a code's text.

    Returns
    -------
    Announcement or None
        None where the code is none of ours. A layout newer than `LAYOUT_VERSION` has ``head`` None.

    Raises
    ------
    PatternError
        A code of ours whose head description is damaged.
    """
    parts = text.split(":", 6)
    if len(parts) < 3 or parts[0] != _PREFIX or not parts[1].isdigit():
        return None
    version = int(parts[1])
    if version not in (FIRST_INKJET_LAYOUT, TONER_LAYOUT, INKJET_LAYOUT):
        return Announcement(version, parts[2], None, parts[-1] if len(parts) == 7 else "")
    if len(parts) != 7:
        raise PatternError("the sheet's code is incomplete")
    _, _, page, name, inks, text_inks, ticket = parts
    if version == TONER_LAYOUT:
        said = _TONER.fullmatch(inks)
        if said is None:
            raise PatternError("the sheet's code does not describe a toner cartridge")
        toner = {"name": name.lower(), "technology": "toner", "dots_per_inch": int(said[1])}
        return Announcement(version, page, parse_head(toner, "the sheet's code"), ticket)
    entries: list[HeadInk] = []
    for group in inks.split("+"):
        found = _ENTRY.fullmatch(group)
        if found is None:
            raise PatternError("the sheet's code does not describe a head")
        sizes = [int(found[k]) for k in (2, 3, 4)]
        entries += [HeadInk(ink, *sizes) for ink in found[1].split(".")]
    data = {
        "name": name.lower(),
        "text": text_inks.split("."),
        "inks": [
            {
                "ink": e.ink,
                "nozzles": e.nozzles,
                "nozzles_per_inch": e.nozzles_per_inch,
                "rows_per_inch": e.rows_per_inch,
            }
            for e in entries
        ],
    }
    return Announcement(version, page, parse_head(data, "the sheet's code"), ticket)
