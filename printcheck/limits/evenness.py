"""Bands, fade, strokes laid apart, line quality and dirt: what is told, and how far a reading may be off."""

from __future__ import annotations

from printcheck.limits.limit import Limit

__all__ = ["EVENNESS"]

EVENNESS = (
    # name                  value unit  basis
    Limit("shadow_told",    0.10, "",   "change of light on all run-off strips at once, from which a warning is given; what is less is corrected away"),
    Limit("band_by_shadow", 5.0,  "mm", "period of the longest bands told where a shadow's edge crosses an area: a step of light makes longer waves"),
    Limit("speck_large",    0.5,  "mm", "diameter of a speck that counts for the verdict; common practice, no source"),
    Limit("speck_contrast", 0.06, "",   "of the paper's light that a speck takes away at least, and a step of a JPEG's blocks less than; fibres reach half of it"),
    Limit("spray",          0.08, "",   "ink beside a strip's edge, of the strip's own absorption; the softest clean simulated edges show 0.063"),
)  # fmt: skip
