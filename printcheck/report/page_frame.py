"""What every page has in common: its head, style and landmarks, and the picture in it. The template is ``page.html``.

A page is header, two columns and footer; what stands in the columns is the page's own affair, so a new section is one
entry where its page is put together.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from PIL import Image

from printcheck.report.markup import Markup, fill, items, joined, tag
from printcheck.report.palette import FAINT, INK, MUTED, RULE, Rgb, hex_of

__all__ = ["Picture", "page_of", "section", "table"]

_JPEG_QUALITY = 82


@dataclass(frozen=True, slots=True)
class Picture:
    """The picture of a page.

    Attributes
    ----------
    image : PIL.Image.Image
    most_px : int
        Width it is made smaller to, where it is wider.
    alt : str
        What it shows, for who can't see it.
    caption : str
    """

    image: Image.Image
    most_px: int
    alt: str
    caption: str


def page_of(
    *,
    title: str,
    colour: Rgb,
    word: str,
    meaning: str,
    identity: str,
    reasons: Sequence[str],
    picture: Picture,
    below: Sequence[Markup],
    beside: Sequence[Markup],
    footer: str,
) -> str:
    """One HTML document: no script, nothing fetched.

    Parameters
    ----------
    title, word, meaning : str
        Of the window; the verdict in a word, and what it means.
    colour : Rgb
        Behind the verdict; white text must be readable on it.
    identity : str
        Which sheet this is.
    reasons : sequence of str
    picture : Picture
    below, beside : sequence of Markup
        What follows the picture in its column, and what fills the other.
    footer : str
    """
    address, width, height = _data_url(picture)
    return fill(
        _template(),
        {
            "title": title,
            "ink": hex_of(INK),
            "muted": hex_of(MUTED),
            "rule": hex_of(RULE),
            "faint": hex_of(FAINT),
            "verdict": hex_of(colour),
            "word": word,
            "meaning": meaning,
            "identity": identity,
            "reasons": items("ul", reasons),
            "picture": address,
            "picture_width": str(width),
            "picture_height": str(height),
            "picture_alt": picture.alt,
            "caption": picture.caption,
            "below": joined(below),
            "beside": joined(beside),
            "footer": footer,
        },
    )


def section(title: str, content: Markup) -> Markup:
    """A section under its heading; nothing where there is no content."""
    return tag("section", tag("h2", title), content) if content else Markup("")


def table(caption: str, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Markup:
    """A table whose first column names its rows; nothing where there are none."""
    if not rows:
        return Markup("")
    head = tag("tr", *(tag("th", text, scope="col") for text in heads))
    body = [tag("tr", tag("th", row[0], scope="row"), *(tag("td", cell) for cell in row[1:])) for row in rows]
    return tag("table", tag("caption", caption), tag("thead", head), tag("tbody", *body))


@lru_cache(maxsize=1)
def _template() -> str:
    return (Path(__file__).parent / "page.html").read_text(encoding="utf-8")


def _data_url(picture: Picture) -> tuple[str, int, int]:
    image = picture.image
    if image.width > picture.most_px:
        height = round(image.height * picture.most_px / image.width)
        image = image.resize((picture.most_px, height), reducing_gap=2)
    out = io.BytesIO()
    # colour at full resolution: thin coloured lines are what the picture is about
    image.save(out, "JPEG", quality=_JPEG_QUALITY, subsampling=0, optimize=True)
    return "data:image/jpeg;base64," + base64.b64encode(out.getvalue()).decode(), image.width, image.height
