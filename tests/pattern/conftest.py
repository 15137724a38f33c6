from __future__ import annotations

import itertools
import re
import zlib
from base64 import a85decode

import pytest
from hypothesis import strategies as st

from printcheck.errors import PatternError
from printcheck.pattern.code import FIRST_INKJET_LAYOUT, INKJET_LAYOUT
from printcheck.pattern.heads import Head, HeadInk, builtin_heads, load_head
from printcheck.pattern.layout import Layout, build_layout
from printcheck.pattern.pages import PAGES

SHEETS = list(itertools.product(builtin_heads(None), PAGES))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A test that asks for `layout` runs on every head that ships, on every page."""
    if "layout" in metafunc.fixturenames:
        metafunc.parametrize("layout", SHEETS, indirect=True, ids=["-".join(pair) for pair in SHEETS])


@pytest.fixture
def layout(request: pytest.FixtureRequest) -> Layout:
    head, page = request.param
    return build_layout(load_head(head), PAGES[page])


def page_operators(pdf: bytes) -> str:
    """The drawing operators of a one-page PDF, unpacked (ISO 32000-1, 7.4: ASCII85Decode, FlateDecode)."""
    found = []
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        packed = stream.strip()
        if packed.endswith(b"~>"):
            packed = a85decode(b"<~" + packed, adobe=True)
        plain = zlib.decompressobj().decompress(packed)
        if b" re f" in plain:
            found.append(plain.decode("latin-1"))
    (operators,) = found
    return operators


@st.composite
def made_layouts(draw: st.DrawFn) -> Layout:
    """A layout of an invented head: any inks and pitches that share a raster and fit the page."""
    raster = draw(st.sampled_from((600, 720)))
    names = draw(st.lists(st.sampled_from("KCMY"), min_size=1, max_size=4, unique=True))
    inks = []
    for name in names:
        rows_per_inch = draw(st.sampled_from([r for r in range(150, raster + 1) if raster % r == 0]))
        passes = draw(st.sampled_from([p for p in (1, 2, 3, 4) if rows_per_inch % p == 0]))
        nozzles = draw(st.integers(-(-8 // passes), rows_per_inch // passes))
        inks.append(HeadInk(name, nozzles, rows_per_inch // passes, rows_per_inch))
    head = Head("made", "Invented head", tuple(inks), tuple(names))
    page = PAGES[draw(st.sampled_from(list(PAGES)))]
    try:
        return build_layout(head, page, draw(st.sampled_from((FIRST_INKJET_LAYOUT, INKJET_LAYOUT))))
    except PatternError:  # too much for the page
        from hypothesis import reject

        reject()
