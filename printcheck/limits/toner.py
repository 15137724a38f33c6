"""Toner: fog, streaks, cross lines, marks and their repeats."""

from __future__ import annotations

from printcheck.limits.limit import Limit

__all__ = ["TONER"]

TONER = (
    # name                       valueunit      basis
    Limit("toner_block_step",    2.0, "of 255", "between means of a JPEG's blocks, of a toner sheet whose marks are told: ISO/IEC 10918-1's own table K.1, quality 50; coarser, blocks of a halftone differ enough to be seen"),
    Limit("toner_dots_per_inch", 280, "px/in",  "of a scan with more marks than can be told apart: less is a setting below 300, where a halftone's texture may be among them"),
)  # fmt: skip
