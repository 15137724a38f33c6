"""The inks a sheet can be made of, and how a desktop driver is asked for each."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["INKS", "Ink", "paint_cmyk", "paint_rgb"]


@dataclass(frozen=True, slots=True)
class Ink:
    """One printable ink.

    Attributes
    ----------
    name : str
        One letter, as in the process colours of ISO 12647-1.
    word : str
        The colour in plain English.
    rgb : tuple of int
        The RGB primary that a desktop driver turns into this ink alone.
    absorbs : str
        The capture channel (``"r"``, ``"g"``, ``"b"``) in which the ink absorbs most.
    """

    name: str
    word: str
    rgb: tuple[int, int, int]
    absorbs: str

    @property
    def bgr(self) -> int:
        """Index of that channel in OpenCV's order: blue, green, red."""
        return "bgr".index(self.absorbs)

    @property
    def pale(self) -> bool:
        """Whether it takes away blue alone, a ninth of luma (ITU-T T.871), which JPEG halves the resolution of."""
        return self.absorbs == "b"


INKS: dict[str, Ink] = {
    ink.name: ink
    for ink in (
        Ink("K", "black", (0, 0, 0), "g"),
        Ink("C", "cyan", (0, 255, 255), "r"),
        Ink("M", "magenta", (255, 0, 255), "g"),
        Ink("Y", "yellow", (255, 255, 0), "b"),
    )
}


def paint_rgb(inks: tuple[str, ...], tones: tuple[float, ...] = ()) -> tuple[int, int, int]:
    """8-bit RGB that asks for `inks` laid over one another, each at its tone (0 paper, 1 solid; solid by default)."""
    out = [255.0, 255.0, 255.0]
    for name, tone in zip(inks, tones or (1.0,) * len(inks), strict=True):
        for channel, full in enumerate(INKS[name].rgb):
            out[channel] *= 1.0 - tone * (1.0 - full / 255.0)
    return round(out[0]), round(out[1]), round(out[2])


def paint_cmyk(inks: tuple[str, ...], tones: tuple[float, ...] = ()) -> tuple[float, float, float, float]:
    """CMYK fractions (0 to 1) for `inks` laid over one another, each at its tone."""
    asked = dict(zip(inks, tones or (1.0,) * len(inks), strict=True))
    c, m, y, k = (asked.get(name, 0.0) for name in "CMYK")
    return c, m, y, k
