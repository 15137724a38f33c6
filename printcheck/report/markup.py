"""Building HTML so that nothing a sheet or file says can become markup: text is escaped unless it is `Markup`."""

from __future__ import annotations

import html
from collections.abc import Iterable, Mapping
from string import Template

__all__ = ["Markup", "fill", "items", "joined", "tag"]


class Markup(str):
    """Text that is HTML already; made by this module's functions only."""

    __slots__ = ()


def tag(name: str, *content: str, **attributes: str) -> Markup:
    """An element; content and attribute values are escaped. ``class_`` stands for ``class``."""
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{html.escape(value)}"' for key, value in attributes.items()
    )
    return Markup(f"<{name}{written}>{joined(content)}</{name}>")


def joined(parts: Iterable[str]) -> Markup:
    """Parts one after the other."""
    return Markup("".join(part if isinstance(part, Markup) else html.escape(part) for part in parts))


def items(name: str, texts: Iterable[str], **attributes: str) -> Markup:
    """A list (``"ul"`` or ``"ol"``) with an item a text; nothing where there are none."""
    entries = [tag("li", text) for text in texts]
    return tag(name, *entries, **attributes) if entries else Markup("")


def fill(template: str, values: Mapping[str, str]) -> str:
    """Put `values`, escaped unless they are markup, in the ``$name`` places of a trusted `template`."""
    return Template(template).substitute({key: joined([value]) for key, value in values.items()})
