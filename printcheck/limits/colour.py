"""Colour and foreign ink: what is told, and how far captures, papers and overprints are off."""

from __future__ import annotations

from printcheck.limits.limit import Limit

__all__ = ["COLOUR"]

COLOUR = (
    # name                          value  unit        basis
    Limit("foreign_share",          0.015, "",         "share of a foreign ink below which none is named: JPEG's chroma steps alone come to a third of it"),
    Limit("foreign_share_black",    0.08,  "",         "the same in black, which hides what is in it, and whose own hue varies from batch to batch; no source"),
    Limit("foreign_wrong",          0.60,  "",         "share from which a chamber holds the other ink, not a mixture; common practice, no source"),
    Limit("foreign_surely_wrong",   0.40,  "",         "that the lower end of its 95 % interval must leave: half of either is mixed, not exchanged"),
    Limit("foreign_evidence",       5.0,   "chi2",     "drop that a further ink must bring: about 97.5 % for one more unknown"),
    Limit("foreign_evidence_black", 1.0,   "chi2",     "and black on top of it: a quarter of all leaks would be its against three eighths of each colour's"),
    Limit("foreign_rival",          3.84,  "chi2",     "more than the best, with which another ink still explains as much: 95 %, one degree of freedom"),
    Limit("foreign_density",        1.25,  "density",  "that a foreign ink adds at most: what a channel reads beyond is its matrix and clipping"),
    Limit("hidden_told",            0.05,  "",         "share of another ink that could go unseen, from which a warning says so: 2 deltaE00 or so"),
    Limit("light_clipped",          0.990, "",         "linear light of a channel, 253.9 of 255: there a scanner's noise is cut, and its mean held down by 0.2 L*"),
    Limit("light_on_solid",         0.05,  "relative", "sd of the light that a solid in a photo gets against what the paper about it tells: a fall of light by a third over the sheet is 2 % over a solid's height, and most of that is told"),
    Limit("paper_burnt",            0.998, "",         "linear light of a channel of bare paper, 254.8 of 255: how much lighter it is can't be told, and all is relative to it"),
    Limit("overprint_weak",         0.50,  "",         "of an ink's usual amount in an overprint: the least of the three published printing conditions whose solids are most like; as held against one another, those show 0.75 and more. No source for the half"),
    Limit("overprint_missing",      0.20,  "",         "the same, below which an ink is as good as not there; no source"),
    Limit("overprint_density",      1.5,   "density",  "beyond which channels no longer add: flare and clipping"),
    Limit("overprint_read_sd",      0.03,  "density",  "sd of a patch's reading"),
    Limit("overprint_model_sd",     0.1,   "relative", "sd of what adding densities leaves out"),
    Limit("overprint_no_ink",       0.1,   "density",  "of a solid below which its ink is not there to compare with"),
    Limit("capture_sd_lightness",   2.8,   "L*",       "sd of an uncalibrated capture of prints; together with the next two a distance of 7 (above 7 for generic scanners: abstract of US patent 7,719,716)"),
    Limit("capture_sd_chroma",      6.1,   "CIELAB",   "the same along chroma: tone curve, stray light and matrix make all colours more or less vivid"),
    Limit("capture_sd_hue",         3.6,   "CIELAB",   "the same across chroma, about six tenths as far: hue turns only where channels err unlike each other"),
    Limit("capture_turn_photo",     0.67,  "",         "of that turn of hue, in a photo: phones' broad channels turn hues by a quarter to four tenths as far as chroma errs"),
    Limit("usual_chroma",           37.0,  "CIELAB",   "of the prints that those errors are means over: all mixtures of cyan, magenta and yellow alike, from the published solids after Demichel and Yule and Nielsen (n = 1.7); 26 to 41 from condition to condition"),
    Limit("tint_density_sd",        0.04,  "density",  "by which a solid's density relative to paper differs for each unit of tint between two papers: 0.01 to 0.07 on simulated spectra"),
    Limit("stray_light",            0.01,  "",         "of full light, that a scanner's glass and lid add everywhere; common practice, no source"),
    Limit("density_told",           2.2,   "density",  "from which a channel says nothing more: flare, clipping and 8 bits"),
    Limit("drift_sure",             4.0,   "sd",       "a drift must reach to be believed on its own: a sheet has a dozen pairs of inks"),
    Limit("drift_sure_named",       2.5,   "sd",       "the same where the solid shows the same ink"),
    Limit("drift_least",            0.025, "share",    "that must come or go for a drift to be believed on its own; no source"),
    Limit("drift_cleared",          0.015, "share",    "below which a foreign ink counts as cleared: as foreign_share"),
    Limit("drift_other_ink",        12.0,  "chi2",     "by which another ink must fit better than the one the solid shows; no source"),
    Limit("drift_black",            6.0,   "chi2",     "by which black must fit better: two colours together look like it, and leak more often than it"),
    Limit("drift_shade_sd",         0.04,  "density",  "sd of light that all channels of one strip have in common in a photo: the edge of a shadow, a tenth deep, crosses one strip and not the next nor the paper between them"),
    Limit("drift_shade_left",       0.03,  "density",  "what of it may have passed for ink where an ink leaves too few channels to set it aside: 7 %"),
    Limit("drift_shadow_tint",      0.15,  "",         "of a shadow taken out of all strips, the part that each channel may have kept or lost: a shadow is lit by other things than the lamp, and its edge has a slant. No source"),
)  # fmt: skip
