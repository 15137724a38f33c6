"""Every limit in one table, a file a subject: what it bounds, its value, its unit and what it rests on.

Two kinds of numbers stand here: limits of reading (from when on something is told, believed, or refused as not to be
told), and what a method assumes of heads, inks, papers and captures (a healthy head's scatter, how far a scanner's
colours are off). ``printcheck limits`` prints them all. They are fixed; what a shop may set differently (when to top
off, purge or reject) is the policy in ``printcheck/verdict/policy.toml``.

Windows, steps, sample spacings, iterations and the sheet's own geometry are no limits: they stand at the top of the
module that uses them. So do arrays, and numbers of a published formula.
"""

from __future__ import annotations

from printcheck.limits.calibration import CALIBRATION
from printcheck.limits.colour import COLOUR
from printcheck.limits.comparing import COMPARING
from printcheck.limits.evenness import EVENNESS
from printcheck.limits.limit import Limit
from printcheck.limits.rows import ROWS
from printcheck.limits.sheet import SHEET
from printcheck.limits.toner import TONER

__all__ = ["LIMITS", "SUBJECTS", "Limit"]

SUBJECTS: dict[str, tuple[Limit, ...]] = {
    "the sheet in the picture": SHEET,
    "dashes and rows": ROWS,
    "bands, fade and dirt": EVENNESS,
    "colour and foreign ink": COLOUR,
    "toner": TONER,
    "measured values": CALIBRATION,
    "sheets compared, and the scales": COMPARING,
}
"""The table by subject, in the order that it is printed."""

LIMITS: dict[str, Limit] = {limit.name: limit for rows in SUBJECTS.values() for limit in rows}
"""Each limit by its name: ``LIMITS["dash_missing"].value``. Modules look theirs up once, when they are imported."""
