"""Dashes and rows: what is missing, weak, off its place or not to be told, and what sound heads and captures do."""

from __future__ import annotations

from printcheck.limits.limit import Limit

__all__ = ["ROWS"]

ROWS = (
    # name                      value   unit    basis
    Limit("dash_missing",       0.40,   "",     "strength below which a dash counts as missing: under half a sound one, less what blur and dust add"),
    Limit("dash_weak",          0.85,   "",     "a drop of 80 % volume prints a dash of about 0.86, one of 70 % of 0.79 (area grows as volume to the 2/3)"),
    Limit("dash_displaced",     0.020,  "mm",   "half a row at 600 rows/inch; healthy heads aim within a few um"),
    Limit("dash_sd",            0.13,   "",     "3 sd must separate bare paper (0) from the missing limit (0.40)"),
    Limit("feed_error",         0.0015, "",     "by which a printer's advance may be off all along, of the head's height; common practice, no source"),
    Limit("feed_scatter",       0.035,  "mm",   "by which two of its passes may lie apart: three sd where each errs by 8 um; common practice, no source"),
    Limit("photo_weak",         0.25,   "",     "share by which a photo may read too little of what a line lacks: denoising and halved chroma draw pale lines together"),
    Limit("photo_displaced",    0.10,   "",     "the same of how far a line lies off its place"),
    Limit("weight_kept",        0.85,   "",     "share of its lines' weight that a picture must keep to show one missing; inks on paper differ by a tenth"),
    Limit("ink_present",        0.04,   "",     "mean absorptance of the solid below which no ink was laid down: three times a paper's own unevenness"),
    Limit("stride_false_alarm", 1e-3,   "",     "expected number of chance alignments a sheet at which a regular step is believed"),
    Limit("run_rows",           3,      "rows", "neighbours missing together; by chance under 1 in 1000 at ten scattered rows of 416"),
)  # fmt: skip
