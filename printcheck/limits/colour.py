"""Colour and foreign ink: what is told, and how far captures, papers and overprints are off."""

from __future__ import annotations

from printcheck.limits.limit import Limit

__all__ = ["COLOUR"]

COLOUR = (
    # name                        value  unitbasis
    Limit("foreign_share",        0.015, "", "share of a foreign ink below which none is named: JPEG's chroma steps alone come to a third of it"),
    Limit("foreign_share_black",  0.08,  "", "the same in black, which hides what is in it, and whose own hue varies from batch to batch; no source"),
    Limit("foreign_wrong",        0.60,  "", "share from which a chamber holds the other ink, not a mixture; common practice, no source"),
    Limit("foreign_surely_wrong", 0.40,  "", "that the lower end of its 95 % interval must leave: half of either is mixed, not exchanged"),
    Limit("hidden_told",          0.05,  "", "share of another ink that could go unseen, from which a warning says so: 2 deltaE00 or so"),
    Limit("light_clipped",        0.990, "", "linear light of a channel, 253.9 of 255: there a scanner's noise is cut, and its mean held down by 0.2 L*"),
    Limit("paper_burnt",          0.998, "", "linear light of a channel of bare paper, 254.8 of 255: how much lighter it is can't be told, and all is relative to it"),
    Limit("overprint_weak",       0.50,  "", "of an ink's usual amount in an overprint: the least of the three published printing conditions whose solids are most like; as held against one another, those show 0.75 and more. No source for the half"),
    Limit("overprint_missing",    0.20,  "", "the same, below which an ink is as good as not there; no source"),
)  # fmt: skip
