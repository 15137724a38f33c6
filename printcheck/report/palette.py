"""Colours of pictures and pages.

States take the vermilion and blue of the eight colours that Okabe and Ito chose to be told apart with any colour
vision ("Color Universal Design", 2008) and a dark wine between them; shape says the same again. White text on each
verdict colour has a contrast above 4.5:1 (WCAG 2.1, success criterion 1.4.3).
"""

from __future__ import annotations

from printcheck.pattern.inks import INKS
from printcheck.verdict.result import Action

__all__ = [
    "FAINT", "INK", "MUTED", "PAPER", "RULE", "STATE", "VERDICT", "Rgb", "contrast", "hex_of", "ink_rgb",
    "letters_on",
]  # fmt: skip

Rgb = tuple[int, int, int]

INK: Rgb = (28, 32, 38)  # text
MUTED: Rgb = (88, 95, 105)  # secondary text, 6.6:1 on white
RULE: Rgb = (206, 211, 217)
FAINT: Rgb = (243, 245, 247)
PAPER: Rgb = (255, 255, 255)

STATE: dict[str, Rgb] = {
    "missing": (213, 94, 0),
    "weak": (0, 114, 178),
    "displaced": (136, 34, 85),
    "unreadable": (85, 85, 85),
}

VERDICT: dict[Action, Rgb] = {
    Action.TOP_OFF: (0, 105, 77),
    Action.PURGE: (143, 74, 0),
    Action.REJECT: (142, 27, 46),
    Action.RESCAN: (63, 74, 90),
}


def ink_rgb(ink: str) -> Rgb:
    """A colour that stands for an ink; grey for inks without a primary of their own."""
    return INKS[ink].rgb if ink in INKS else (128, 128, 128)


def letters_on(rgb: Rgb) -> Rgb:
    """Dark or white, whichever reads better on `rgb`."""
    return max((INK, PAPER), key=lambda colour: contrast(colour, rgb))


def hex_of(rgb: Rgb) -> str:
    """``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


def contrast(one: Rgb, other: Rgb) -> float:
    """Contrast ratio of two sRGB colours, 1 to 21 (WCAG 2.1, relative luminance)."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(rgb: Rgb) -> float:
    linear = [c / 255 / 12.92 if c / 255 <= 0.03928 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in rgb]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
