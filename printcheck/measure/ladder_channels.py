"""Which channel the printings of one ink's ladder are read in: the ink's own, the picture's luma, or a mix of all."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from printcheck.limits import LIMITS
from printcheck.measure.channels import mix_channels
from printcheck.measure.glare import without_burnt_out, without_veiled
from printcheck.measure.ladder import ALONG_PX_PER_MM, LadderReader, LadderSignal, dashes_inside, ladder_box
from printcheck.pattern.inks import INKS
from printcheck.register.kind import capture_kind
from printcheck.register.view import LUMA, look_at

if TYPE_CHECKING:
    from printcheck.capture.result import Capture
    from printcheck.pattern.elements import Ladder
    from printcheck.register.result import Registration
    from printcheck.register.view import View

__all__ = ["read_ladders"]

_EVEN = LIMITS["channel_even"].value
_TOLD = LIMITS["dash_sd"].value
_BROADER = LIMITS["luma_broader"].value


def read_ladders(
    capture: Capture, registration: Registration, ladders: tuple[Ladder, ...], ink: str
) -> tuple[LadderSignal, ...]:
    """What each of the printings of `ink`'s ladder shows, where it is seen best."""
    channel = INKS[ink].bgr
    photo = capture_kind(capture, registration) == "photo"  # a scanner's lamp makes no reflections

    def view_of(ladder: Ladder, channel: int) -> View:
        return look_at(capture.pixels, registration, ladder_box(ladder), channel, most_x=ALONG_PX_PER_MM, light=True)

    def checked(signal: LadderSignal, view: View, ladder: Ladder) -> LadderSignal:
        return without_burnt_out(signal, view, ladder) if photo else signal

    def finished(signals: list[LadderSignal]) -> tuple[LadderSignal, ...]:
        if not photo:
            return tuple(signals)
        return tuple(without_veiled(signal, ladder) for signal, ladder in zip(signals, ladders, strict=True))

    def read_again(channel: int) -> list[LadderSignal]:
        views = [view_of(ladder, channel) for ladder in ladders]
        return [
            checked(reader.read(view), view, ladder)
            for reader, view, ladder in zip(readers, views, ladders, strict=True)
        ]

    readers: list[LadderReader] = []
    first: list[LadderSignal] = []
    for ladder in ladders:
        view = view_of(ladder, channel)
        whole = view.inside == 1.0
        inside = None if whole else dashes_inside(registration, ladder, *capture.pixels.shape[:2])
        readers.append(LadderReader(view, ladder, inside, first[-1].width_mm if first else None))
        first.append(checked(readers[-1].signal, view, ladder))
    if capture.grey:
        return finished(first)
    pale = INKS[ink].pale
    if pale and photo:  # most files don't tell that they were made of halved chroma
        luma = read_again(LUMA)
        if _shown_by_luma(first, luma):
            return finished(_in_luma(luma))
    if _unevenness(first) < _EVEN:
        return finished(first)
    beside = [c for c in range(3) if c != channel]
    printings = [list(printing) for printing in zip(first, *map(read_again, beside), strict=True)]
    mixed = mix_channels(printings, (channel, *beside))
    if pale and not photo and _unevenness(mixed) > _TOLD:
        # a straight scan's blocks lie alike in both printings, and of so pale lines luma's steps move some in both
        luma = read_again(LUMA)
        if _unevenness(luma) < _unevenness(mixed):
            mixed = _in_luma(luma)
    return finished(mixed)


def _shown_by_luma(own: list[LadderSignal], luma: list[LadderSignal]) -> bool:
    """Whether a photo's luma tells a pale ink's lines better than the ink's own channel.

    The own channel is luma and chroma together, and where a file or a camera kept chroma at half the resolution its
    lines are two: a ninth to a fifth of them as sharp as luma, the rest twice as broad and run into the next. No line
    of one width fits that, and what one lacks its neighbours seem to lack too, so that weak ones read too strong.
    Luma shows them paler and as sharp as any.
    """
    if _unevenness(luma) < _unevenness(own):
        return True
    broader = sum(signal.width_mm for signal in own) > _BROADER * sum(signal.width_mm for signal in luma)
    return broader and _unevenness(luma) < _EVEN


def _in_luma(signals: list[LadderSignal]) -> list[LadderSignal]:
    return [replace(signal, in_luma=True) for signal in signals]


def _unevenness(signals: list[LadderSignal]) -> float:
    return max(signal.unevenness for signal in signals)
