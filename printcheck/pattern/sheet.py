"""One sheet to print: a layout with its ticket, ready for any renderer."""

from __future__ import annotations

from dataclasses import dataclass

from printcheck.geometry import Box
from printcheck.pattern.code import check_ticket, encode_announcement
from printcheck.pattern.elements import Text
from printcheck.pattern.layout import Layout

__all__ = ["Sheet", "make_sheet"]

_WRITE_IN = "Ticket ______________________"
_TICKET_MM = 2.8
_WIDE = "MWmw%@"  # wider than 0.86 em in the bold typeface, at most 1.11 em


@dataclass(frozen=True, slots=True)
class Sheet:
    """A layout, the ticket it is made out for, and the modules of its code.

    Attributes
    ----------
    layout : Layout
    ticket : str
        Empty for a sheet to be kept in stock and written on by hand.
    code : tuple of tuple of bool
        QR modules without quiet zone, True where dark, row by row.
    texts : tuple of Text
        The layout's texts and the ticket line.
    """

    layout: Layout
    ticket: str
    code: tuple[tuple[bool, ...], ...]
    texts: tuple[Text, ...]


def make_sheet(layout: Layout, ticket: str = "") -> Sheet:
    """Make out a sheet.

    Raises
    ------
    PatternError
        The ticket doesn't fit the code.
    """
    import segno

    ticket = check_ticket(ticket)
    text = encode_announcement(layout.head, layout.page.name, ticket, layout.version)
    code = None
    for level in ("h", "q", "m"):  # the strongest error correction that keeps the modules large
        try:
            code = segno.make_qr(text, error=level, version=6, boost_error=False)
            break
        except segno.DataOverflowError:
            continue
    if code is None:
        code = segno.make_qr(text, error="m", boost_error=False)
    modules = tuple(tuple(bool(module) for module in row) for row in code.matrix)
    if layout.ticket_box is not None:
        return Sheet(layout, ticket, modules, layout.texts + _in_box(layout.ticket_box, ticket))
    x = layout.page.width_mm / 2 + 7.0
    y = layout.marks[0].box.y0
    ticket_line = f"Ticket {ticket}" if ticket else _WRITE_IN
    room = layout.codes[0].box.x0 - 4 * layout.codes[0].box.width / len(modules) - x
    size = min(_TICKET_MM, room / sum(1.11 if ch in _WIDE else 0.86 for ch in ticket_line)) if ticket else _TICKET_MM
    lines = (
        Text(x, y + 3.2, size, ticket_line, bold=bool(ticket)),
        Text(x, y + 7.6, 2.4, "Date ___________  By _______"),
    )
    return Sheet(layout, ticket, modules, layout.texts + lines)


def _in_box(box: Box, ticket: str) -> tuple[Text, ...]:
    """Ticket, date and name one below the other."""
    step = box.height / 4
    if ticket:
        size = min(_TICKET_MM, box.width / sum(1.11 if ch in _WIDE else 0.86 for ch in ticket))
        said = (Text(box.x0, box.y0 + step, 2.4, "Ticket"), Text(box.x0, box.y0 + 2 * step, size, ticket, bold=True))
    else:
        said = (Text(box.x0, box.y0 + step, 2.4, "Ticket"), Text(box.x0, box.y0 + 2 * step, 2.4, "________________"))
    return (
        *said,
        Text(box.x0, box.y0 + 3 * step, 2.4, "Date ___________"),
        Text(box.x0, box.y0 + 4 * step, 2.4, "By _____________"),
    )
