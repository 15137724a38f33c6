"""What a sheet printed off its size can still tell.

A driver that scales a page by s leaves out, or doubles, one row in every 1 / (1 - s): lines go missing at a regular
step that no nozzle is to blame for. So missing rows of such a sheet prove nothing, least of all an electrical fault.
Those that it keeps land on the printer's own rows, up to half of one off where the smaller page would have them: more
rows off their places than the limit prove nothing either, while fewer are no matter of size.
"""

from __future__ import annotations

from dataclasses import replace

from printcheck.measure.result import LinesReading
from printcheck.verdict.policy import Policy
from printcheck.verdict.result import Reason
from printcheck.verdict.rules import decide

__all__ = ["off_scale", "without_doubtful_steps"]


def off_scale(lines: tuple[LinesReading, ...], scale: tuple[float, float], policy: Policy) -> list[Reason]:
    """Ask for a fresh sheet where rows are missing from one printed at `scale` (x, y; 1 is true size), or astray."""
    if any(reading.missing or reading.intermittent or reading.weak for reading in lines):
        so = "rows are missing that no nozzle missed"
    elif any(_share(reading.displaced, reading) > policy["displaced_lines"].top_off for reading in lines):
        so = "rows land off their places that no nozzle threw there"
    else:
        return []
    off = 100.0 * max(abs(scale[0] - 1.0), abs(scale[1] - 1.0))
    text = f"the sheet was printed at {100 * scale[1]:.1f} % of its height, so {so}"
    return decide("print_scale", None, off, policy, text)


def _share(rows: tuple[int, ...], reading: LinesReading) -> float:
    """Per cent of an ink's rows that are among `rows`."""
    return 100.0 * len(rows) / reading.rows


def without_doubtful_steps(lines: tuple[LinesReading, ...]) -> tuple[tuple[LinesReading, ...], list[str]]:
    """The readings of a sheet whose print scale isn't known, with steps that scaling may have made called scattered.

    A failed address line takes the same rows of every printing of the ladder. A step that lies elsewhere in the
    second printing can be the driver's scaling just as well.
    """
    out, warnings = [], []
    for reading in lines:
        if reading.arrangement == "stride" and reading.advance_rows is not None:
            warnings.append(
                f"{reading.ink}: rows are missing at a step of {reading.stride} that shifts between the printings; "
                "this can be scaling by the printer driver: print at 100 %, and scan rather than photograph"
            )
            out.append(replace(reading, arrangement="scattered", stride=None))
        else:
            out.append(reading)
    return tuple(out), warnings
