"""What the sheet says of itself, through an independent QR reader."""

from __future__ import annotations

import numpy as np
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from printcheck.errors import PatternError
from printcheck.pattern.code import (
    FIRST_INKJET_LAYOUT,
    LAYOUT_VERSION,
    MAX_TICKET,
    TONER_LAYOUT,
    check_ticket,
    decode_announcement,
    encode_announcement,
)
from printcheck.pattern.heads import Head, load_head
from printcheck.pattern.layout import Layout
from printcheck.pattern.render.raster import compose_rgb
from printcheck.pattern.sheet import make_sheet
from printcheck.units import mm_to_dots

from .conftest import made_layouts

TICKETS = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=MAX_TICKET)


def picture_of(code: tuple[tuple[bool, ...], ...]) -> np.ndarray:
    dark = np.pad(np.array(code), 4).repeat(4, 0).repeat(4, 1)
    return np.where(dark, 0, 255).astype(np.uint8)


@settings(max_examples=25, deadline=None)
@given(layout_=made_layouts(), ticket=TICKETS)
def test_any_head_and_ticket_come_back_through_a_qr_reader(layout_: Layout, ticket: str) -> None:
    sheet = make_sheet(layout_, ticket)
    (symbol,) = zxingcpp.read_barcodes(picture_of(sheet.code))
    said = decode_announcement(symbol.text)
    assert said is not None
    assert said.head == layout_.head
    assert (said.version, said.page, said.ticket) == (layout_.version, layout_.page.name.upper(), ticket.strip())


def test_both_codes_of_a_drawn_sheet_can_be_read_where_they_stand(layout: Layout) -> None:
    sheet = make_sheet(layout, "R-20391")
    picture = compose_rgb(sheet)
    scale = layout.raster // 200  # a 200 dots/inch scan
    found = zxingcpp.read_barcodes(np.ascontiguousarray(picture[::scale, ::scale]))
    assert {symbol.text for symbol in found} == {encode_announcement(layout.head, layout.page.name, "R-20391")}
    places = sorted((symbol.position.top_left.x * scale, symbol.position.top_left.y * scale) for symbol in found)
    wanted = sorted(tuple(mm_to_dots(v, layout.raster) for v in (c.box.x0, c.box.y0)) for c in layout.codes)
    np.testing.assert_allclose(places, wanted, atol=layout.raster / 25.4)  # within 1 mm


def test_a_code_survives_a_fifth_of_the_rows_dead(layout: Layout) -> None:
    """Every fifth row blank, as with a fifth of the nozzles gone."""
    sheet = make_sheet(layout, "R-20391")
    picture = np.where(np.pad(np.array(sheet.code), 4).repeat(10, 0).repeat(10, 1), 0, 255).astype(np.uint8)
    picture[::5] = 255
    soft = np.array(picture, float).reshape(-1, 5, picture.shape[1] // 5, 5).mean((1, 3)).astype(np.uint8)
    (symbol,) = zxingcpp.read_barcodes(soft)
    assert symbol.text == encode_announcement(layout.head, layout.page.name, "R-20391")


def test_codes_stand_far_apart(layout: Layout) -> None:
    upper, lower = (code.box.centre for code in layout.codes)
    assert np.hypot(upper[0] - lower[0], upper[1] - lower[1]) > 0.6 * layout.page.height_mm


@given(TICKETS)
def test_a_ticket_of_plain_characters_is_kept(ticket: str) -> None:
    assert check_ticket(ticket) == ticket.strip()


@pytest.mark.parametrize(
    ("ticket", "says"),
    [
        ("x" * 25, "25 characters; at most 24"),
        ("Überholt", "plain ASCII"),
        ("a\tb", "plain ASCII"),
        ("a\x7f", "plain"),
    ],
)
def test_a_ticket_that_does_not_fit_is_refused(ticket: str, says: str) -> None:
    with pytest.raises(PatternError, match=says):
        check_ticket(ticket)


def test_a_ticket_may_hold_the_separator() -> None:
    head = load_head("tri-100")
    said = decode_announcement(encode_announcement(head, "A4", "A:B:C"))
    assert said is not None
    assert said.ticket == "A:B:C"


def test_a_head_never_seen_is_rebuilt_from_the_code() -> None:
    said = decode_announcement("PC:1:A4:SHOP-7:K128.300.600+C.M64.150.150:K.C:T 1")
    assert said is not None
    assert isinstance(said.head, Head)
    assert [(i.ink, i.rows) for i in said.head.inks] == [("K", 256), ("C", 64), ("M", 64)]
    assert said.head.text == ("K", "C")


def test_a_newer_layout_is_told_from_a_strange_code() -> None:
    newer = decode_announcement(f"PC:{LAYOUT_VERSION + 1}:A4:WHAT:EVER")
    assert newer is not None
    assert (newer.version, newer.head) == (LAYOUT_VERSION + 1, None)
    for strange in ("", "https://example.org", "PC", "PC:x:A4", "WIFI:S:net;;"):
        assert decode_announcement(strange) is None


@pytest.mark.parametrize(
    "text",
    [
        "PC:1:A4:N:K416.600.600:K",
        "PC:1:A4:N:K416:K:T",
        "PC:1:A4:N::K:T",
        "PC:1:A4:N:K416.600.601:K:T",
        "PC:1:A4:N:Q9.6.6:K:",
    ],
)
def test_a_damaged_head_is_refused(text: str) -> None:
    with pytest.raises(PatternError):
        decode_announcement(text)


@given(st.text(max_size=60))
def test_no_text_crashes_the_decoder(tail: str) -> None:
    for text in (tail, "PC:1:" + tail, "PC:1:A4:N:" + tail):
        try:
            decode_announcement(text)
        except PatternError as refusal:
            message = str(refusal)
        else:
            continue
        assert "\n" not in message


def test_a_toner_sheet_says_so_and_an_older_copy_asks_to_be_updated() -> None:
    head = load_head("toner-mono")
    text = encode_announcement(head, "A4", "T-1")
    said = decode_announcement(text)
    assert said is not None
    assert (said.version, said.head, said.ticket) == (TONER_LAYOUT, head, "T-1")
    # what a copy that knows the first layout alone goes by: the number, and nothing behind the page
    assert text.startswith(f"PC:{FIRST_INKJET_LAYOUT + 1}:A4:")


@pytest.mark.parametrize("field", ["TONER.C.600", "TONER.K", "TONER.K.601", "K416.600.600"])
def test_a_damaged_toner_code_is_refused(field: str) -> None:
    with pytest.raises(PatternError, match=r"toner cartridge|dots_per_inch"):
        decode_announcement(f"PC:2:A4:TONER-MONO:{field}:K:T")
