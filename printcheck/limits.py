"""Every limit in one table: what it bounds, its value, its unit and what it rests on.

``LIMITS`` are the fixed limits of reading: what makes a dash missing, what makes a picture unfit. What a shop may
set differently (when to top off, purge or reject) is the policy in ``printcheck/verdict/policy.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["LIMITS", "Limit"]


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit: `value` in `unit`, and the `basis` for it."""

    name: str
    value: float
    unit: str
    basis: str


_TABLE = (
    # name                          value   unit    basis
    Limit("marks_needed",           4,      "",     "a homography has 8 unknowns; four marks give it 32 equations, and a check"),
    Limit("dash_missing",           0.40,   "",     "strength below which a dash counts as missing: under half a sound one, less what blur and dust add"),
    Limit("dash_weak",              0.85,   "",     "a drop of 80 % volume prints a dash of about 0.86, one of 70 % of 0.79 (area grows as volume to the 2/3)"),
    Limit("dash_displaced",         0.020,  "mm",   "half a row at 600 rows/inch; healthy heads aim within a few um"),
    Limit("feed_error",             0.0015, "",     "by which a printer's advance may be off all along, of the head's height; common practice, no source"),
    Limit("feed_scatter",           0.035,  "mm",   "by which two of its passes may lie apart: three sd where each errs by 8 um; common practice, no source"),
    Limit("photo_weak",             0.25,   "",     "share by which a photo may read too little of what a line lacks: denoising and halved chroma draw pale lines together"),
    Limit("photo_displaced",        0.10,   "",     "the same of how far a line lies off its place"),
    Limit("dash_sd",                0.13,   "",     "3 sd must separate bare paper (0) from the missing limit (0.40)"),
    Limit("weight_kept",            0.85,   "",     "share of its lines' weight that a picture must keep to show one missing; inks on paper differ by a tenth"),
    Limit("ink_present",            0.04,   "",     "mean absorptance of the solid below which no ink was laid down: three times a paper's own unevenness"),
    Limit("print_scale",            0.005,  "",     "beyond 0.5 % a 17.6 mm head gains or loses two rows: dashes no longer stand one to a row"),
    Limit("sheet_inside",           0.99,   "",     "share of ladders, strips and patches that must lie in the picture; a hundredth is 2 mm of their length"),
    Limit("sheet_dots_per_inch",    140,    "px/in","dashes stand 0.5 mm apart: 2.8 pixels, above the 2 that sampling needs"),
    Limit("toner_block_step",       2.0,    "of 255","between means of a JPEG's blocks, of a toner sheet whose marks are told: ISO/IEC 10918-1's own table K.1, quality 50; coarser, blocks of a halftone differ enough to be seen"),
    Limit("photo_dots_per_inch",    300,    "px/in","of a photo in which dashes can't be read, below which the advice is to go nearer: a camera has red and blue at every other pixel, 2.8 to a dash"),
    Limit("scan_dots_per_inch",     250,    "px/in","the same of a scan, below which the advice is to scan at 300: between the steps that scanners offer, 240 and 300"),
    Limit("toner_dots_per_inch",    280,    "px/in","of a scan with more marks than can be told apart: less is a setting below 300, where a halftone's texture may be among them"),
    Limit("sampled_dots_per_inch",  100,    "px/in","dashes stand 0.48 mm apart: fewer than 2 pixels (Nyquist), and none can be told from its neighbour"),
    Limit("sheet_sharpness",        1.3,    "c/mm", "50 % contrast; such a blur leaves a tenth of the contrast at the dashes' 2 cycles/mm"),
    Limit("paper_light",            0.10,   "",     "linear light of the paper; darker, the shadows drown in noise; common practice, no source"),
    Limit("paper_brightest",        1.5,    "",     "lightest 2 % of the paper over its median, from which a lamp mirrored in it is told; twice what a lens's fall-off or a window to one side gives; common practice, no source"),
    Limit("paper_clipped",          0.02,   "",     "share of the paper at the capture's ceiling; common practice, no source"),
    Limit("perspective",            0.90,   "",     "the near edge shows almost twice as large as the far one: about 35 degrees of tilt from 30 cm"),
    Limit("sheet_flat",             0.10,   "mm",   "doubt of where the page lies, from which the advice is to lay it flat: half of what is refused"),
    Limit("picture_long_side",      1100,   "px",   "an A4 page that fills such a picture shows at 94 dots/inch"),
    Limit("picture_short_side",     20,     "px",   "a mark's own width where the detector still knows it"),
    Limit("picture_aspect",         25,     "",     "long side over short: a sheet's sides are as 1.4 to 1, and of a longer sliver the reduced image shows nothing"),
    Limit("picture_paper",          0.22,   "",     "largest light area's share of the picture: an A4 page at 140 dots/inch fills so much of one of 8 megapixels"),
    Limit("picture_slope",          0.25,   "",     "edges in the most blurred direction, share of the contrast in one reduced pixel: a sharp page shows 0.38 and more"),
    Limit("picture_dark",           40,     "of 255","middle of a picture in which nothing can be found for want of light; common practice, no source"),
    Limit("shadow_told",            0.10,   "",     "change of light on all run-off strips at once, from which a warning is given; what is less is corrected away"),
    Limit("band_by_shadow",         5.0,    "mm",   "period of the longest bands told where a shadow's edge crosses an area: a step of light makes longer waves"),
    Limit("foreign_share",          0.015,  "",     "share of a foreign ink below which none is named: JPEG's chroma steps alone come to a third of it"),
    Limit("foreign_share_black",    0.08,   "",     "the same in black, which hides what is in it, and whose own hue varies from batch to batch; no source"),
    Limit("foreign_wrong",          0.60,   "",     "share from which a chamber holds the other ink, not a mixture; common practice, no source"),
    Limit("foreign_surely_wrong",   0.40,   "",     "that the lower end of its 95 % interval must leave: half of either is mixed, not exchanged"),
    Limit("hidden_told",            0.05,   "",     "share of another ink that could go unseen, from which a warning says so: 2 deltaE00 or so"),
    Limit("values_range",           128,    "CIELAB","|a*| and |b*| of any measured colour: what the ICC's encoding of CIELAB holds (ISO 15076-1)"),
    Limit("values_lightest",        110,    "L*",   "brightened paper measures up to about 105 where the instrument's lamp holds ultraviolet"),
    Limit("values_repeat",          2.0,    "dE00", "between two values of one sample: an instrument repeats to 0.3, a print to 1; more is another colour"),
    Limit("values_span",            20,     "CIELAB","of L*, a*, b* over all samples: four times what an uncalibrated scanner errs by; in less no error shows"),
    Limit("values_agree",           0.70,   "",     "correlation of L*, a*, b* as scanned with the values: half their variance; scanners show 0.9 and more, exchanged inks under 0.6"),
    Limit("values_above_paper",     5,      "L*",   "by which a sample may be lighter than paper: inks darken; fluorescence and the instrument's error lighten by 1 or 2"),
    Limit("calibration_residual",   3.0,    "dE00", "median on patches left out: half of what an uncalibrated scanner errs by; fits of scanners to charts leave 0.3 to 2"),
    Limit("calibration_patch",      10,     "dE00", "of one patch from where the others put it: no map worth having errs so; a wrong name or a slip in the value does"),
    Limit("calibration_worse",      1.5,    "",     "residual over that of the calibration it would replace: scans of one chart agree to a fifth"),
    Limit("strip_values",           0.60,   "",     "share of a control strip's patches that must get a value: fewer colours leave too much unknown; common practice, no source"),
    Limit("strip_seen",             0.80,   "",     "share of its patches with values that must be seen in a photo; common practice, no source"),
    Limit("strip_residual",         3.0,    "dE00", "median on its patches left out of the fit; beyond, it is another strip or lies in a shadow, as of a calibration"),
    Limit("strip_left_out",         0.30,   "",     "share of its patches that may not fit in: under a shadow's edge, a reflection, a stain; common practice, no source"),
    Limit("strip_light",            0.50,   "",     "brightness of the strip's paper over the sheet's, or the reverse, below which they lie in different light; no source"),
    Limit("strip_tint",             0.65,   "ln",   "difference in the papers' colour; brightened and cream paper differ by 0.55 in the blue (simulated spectra)"),
    Limit("light_clipped",          0.990,  "",     "linear light of a channel, 253.9 of 255: there a scanner's noise is cut, and its mean held down by 0.2 L*"),
    Limit("paper_burnt",            0.998,  "",     "linear light of a channel of bare paper, 254.8 of 255: how much lighter it is can't be told, and all is relative to it"),
    Limit("speck_large",            0.5,    "mm",   "diameter of a speck that counts for the verdict; common practice, no source"),
    Limit("speck_contrast",         0.06,   "",     "of the paper's light that a speck takes away at least, and a step of a JPEG's blocks less than; fibres reach half of it"),
    Limit("spray",                  0.08,   "",     "ink beside a strip's edge, of the strip's own absorption; the softest clean simulated edges show 0.063"),
    Limit("overprint_weak",         0.50,   "",     "of an ink's usual amount in an overprint: the least of the three published printing conditions whose solids are most like; as held against one another, those show 0.75 and more. No source for the half"),
    Limit("overprint_missing",      0.20,   "",     "the same, below which an ink is as good as not there; no source"),
    Limit("stride_false_alarm",     1e-3,   "",     "expected number of chance alignments a sheet at which a regular step is believed"),
    Limit("run_rows",               3,      "rows", "neighbours missing together; by chance under 1 in 1000 at ten scattered rows of 416"),
)  # fmt: skip

LIMITS: dict[str, Limit] = {limit.name: limit for limit in _TABLE}
