"""The sheet in the picture: what is found, what is a scan, what a picture must show to be judged."""

from __future__ import annotations

from printcheck.limits.limit import Limit

__all__ = ["SHEET"]

SHEET = (
    # name                           value   unit       basis
    Limit("marks_needed",            4,      "",        "a homography has 8 unknowns; four marks give it 32 equations, and a check"),
    Limit("marks_stray",             2,      "",        "marks that may be another document's by chance"),
    Limit("print_scale",             0.005,  "",        "beyond 0.5 % a 17.6 mm head gains or loses two rows: dashes no longer stand one to a row"),
    Limit("sheet_inside",            0.99,   "",        "share of ladders, strips and patches that must lie in the picture; a hundredth is 2 mm of their length"),
    Limit("sheet_dots_per_inch",     140,    "px/in",   "dashes stand 0.5 mm apart: 2.8 pixels, above the 2 that sampling needs"),
    Limit("sheet_sharpness",         1.3,    "c/mm",    "50 % contrast; such a blur leaves a tenth of the contrast at the dashes' 2 cycles/mm"),
    Limit("sheet_flat",              0.10,   "mm",      "doubt of where the page lies, from which the advice is to lay it flat: half of what is refused"),
    Limit("sheet_scaled",            0.04,   "",        "what drivers make a sheet smaller or larger by, to fit it on the page; from memory"),
    Limit("photo_dots_per_inch",     300,    "px/in",   "of a photo in which dashes can't be read, below which the advice is to go nearer: a camera has red and blue at every other pixel, 2.8 to a dash"),
    Limit("scan_dots_per_inch",      250,    "px/in",   "the same of a scan, below which the advice is to scan at 300: between the steps that scanners offer, 240 and 300"),
    Limit("sampled_dots_per_inch",   100,    "px/in",   "dashes stand 0.48 mm apart: fewer than 2 pixels (Nyquist), and none can be told from its neighbour"),
    Limit("paper_light",             0.10,   "",        "linear light of the paper; darker, the shadows drown in noise; common practice, no source"),
    Limit("paper_brightest",         1.5,    "",        "lightest 2 % of the paper over its median, from which a lamp mirrored in it is told; twice what a lens's fall-off or a window to one side gives; common practice, no source"),
    Limit("scan_uneven",             0.25,   "",        "of the light, by which the bare paper of a scan differs at most: a lid left open or a fold takes a tenth, a shadow over a sheet on the bench a third and more; common practice, no source"),
    Limit("pdf_cover",               1.1,    "pages",   "that a PDF page's pictures cover together at most, strips of one scan and a stamp or logo over it included; more is a page in layers; no source"),
    Limit("samples_lost",            0.0001, "",        "share of a float picture's samples that hold no number (IEEE 754), read as white; of an A4 page a spot of 2.5 mm; no source"),
    Limit("paper_whitened",          0.5,    "",        "share of the paper at the ceiling from which it may be a program's or an exposure's doing as well as a lamp's; no source"),
    Limit("paper_clipped",           0.02,   "",        "share of the paper at the capture's ceiling; common practice, no source"),
    Limit("paper_apart",             6.0,    "sd",      "of a bench's own shades, by which paper is lighter"),
    Limit("paper_ceiling",           0.985,  "",        "linear light from which paper counts as clipped: a sensor's or a scanner's ceiling"),
    Limit("perspective",             0.90,   "",        "the near edge shows almost twice as large as the far one: about 35 degrees of tilt from 30 cm"),
    Limit("picture_long_side",       1100,   "px",      "an A4 page that fills such a picture shows at 94 dots/inch"),
    Limit("picture_short_side",      20,     "px",      "a mark's own width where the detector still knows it"),
    Limit("picture_aspect",          25,     "",        "long side over short: a sheet's sides are as 1.4 to 1, and of a longer sliver the reduced image shows nothing"),
    Limit("picture_paper",           0.22,   "",        "largest light area's share of the picture: an A4 page at 140 dots/inch fills so much of one of 8 megapixels"),
    Limit("picture_slope",           0.25,   "",        "edges in the most blurred direction, share of the contrast in one reduced pixel: a sharp page shows 0.38 and more"),
    Limit("picture_dark",            40,     "of 255",  "middle of a picture in which nothing can be found for want of light; common practice, no source"),
    Limit("picture_contrast",        40.0,   "of 255",  "a picture with less contrast shows nothing that could be sharp; no source"),
    Limit("picture_blank",           0.1,    "%",       "of the picture that dust may darken on a blank page: a sheet's marks alone darken ten times as much"),
    Limit("picture_filled",          0.88,   "",        "of the picture that the sheet fills, above which the advice isn't to go nearer: by hand a corner soon lies outside"),
    Limit("scan_perspective",        0.004,  "",        "change of scale over the page; a flatbed stays within 0.001, a careful photo rarely within 0.01"),
    Limit("scan_perspective_unsaid", 0.0015, "",        "the same where the file doesn't say what resolution it was scanned at"),
    Limit("scan_square",             0.06,   "",        "difference between the two scales of a flat scan, the sheet's own scaling included"),
    Limit("mark_correlation",        0.85,   "",        "with its template, below which a mark is covered, smeared or another thing altogether; no source"),
    Limit("mark_printed",            0.5,    "of rows", "of a mark that must be printed for it to count; no source"),
    Limit("edge_contrast",           0.15,   "",        "least difference of light between paper and ink, of the paper's, for an area's edge to be measured; no source"),
    Limit("rail_contrast",           0.15,   "",        "the same for a strip that serves as a ruler"),
    Limit("comb_coherent",           0.35,   "",        "share of a ladder's variation that must lie at the dashes' spacing for it to serve as a ruler; no source"),
    Limit("display_line",            25.0,   "",        "power of a line of a display's pixels over the mean of its surroundings; of 2000 bins of noise the highest reaches 8"),
    Limit("display_amplitude",       0.002,  "",        "of the paper's encoded value, from which such a line counts: half of one of 255"),
    Limit("display_share",           0.35,   "",        "of the windows that must agree; the rest of a displayed page may be too blurred; no source"),
    Limit("unread_few",              0.02,   "",        "of an ink's dashes unread: fewer say nothing of how to take the picture; no source"),
)  # fmt: skip
