"""Measured values: charts, calibrations and control strips, and which are refused."""

from __future__ import annotations

from printcheck.limits.limit import Limit

__all__ = ["CALIBRATION"]

CALIBRATION = (
    # name                         value unit      basis
    Limit("values_range",          128,  "CIELAB", "|a*| and |b*| of any measured colour: what the ICC's encoding of CIELAB holds (ISO 15076-1)"),
    Limit("values_lightest",       110,  "L*",     "brightened paper measures up to about 105 where the instrument's lamp holds ultraviolet"),
    Limit("values_repeat",         2.0,  "dE00",   "between two values of one sample: an instrument repeats to 0.3, a print to 1; more is another colour"),
    Limit("values_span",           20,   "CIELAB", "of L*, a*, b* over all samples: four times what an uncalibrated scanner errs by; in less no error shows"),
    Limit("values_agree",          0.70, "",       "correlation of L*, a*, b* as scanned with the values: half their variance; scanners show 0.9 and more, exchanged inks under 0.6"),
    Limit("values_above_paper",    5,    "L*",     "by which a sample may be lighter than paper: inks darken; fluorescence and the instrument's error lighten by 1 or 2"),
    Limit("calibration_residual",  3.0,  "dE00",   "median on patches left out: half of what an uncalibrated scanner errs by; fits of scanners to charts leave 0.3 to 2"),
    Limit("calibration_patch",     10,   "dE00",   "of one patch from where the others put it: no map worth having errs so; a wrong name or a slip in the value does"),
    Limit("calibration_worse",     1.5,  "",       "residual over that of the calibration it would replace: scans of one chart agree to a fifth"),
    Limit("calibration_same",      0.3,  "dE00",   "median, an instrument's own repeatability: fits better than that differ by chance"),
    Limit("strip_values",          0.60, "",       "share of a control strip's patches that must get a value: fewer colours leave too much unknown; common practice, no source"),
    Limit("strip_seen",            0.80, "",       "share of its patches with values that must be seen in a photo; common practice, no source"),
    Limit("strip_residual",        3.0,  "dE00",   "median on its patches left out of the fit; beyond, it is another strip or lies in a shadow, as of a calibration"),
    Limit("strip_left_out",        0.30, "",       "share of its patches that may not fit in: under a shadow's edge, a reflection, a stain; common practice, no source"),
    Limit("strip_light",           0.50, "",       "brightness of the strip's paper over the sheet's, or the reverse, below which they lie in different light; no source"),
    Limit("strip_tint",            0.65, "ln",     "difference in the papers' colour; brightened and cream paper differ by 0.55 in the blue (simulated spectra)"),
    Limit("chart_unclipped",       0.6,  "",       "of a chart's patches that must be within what the scan can show; common practice, no source"),
    Limit("chart_paper_chroma",    12.0, "CIELAB", "most chroma of a patch that may stand in for paper"),
    Limit("chart_paper_lightness", 70.0, "L*",     "least lightness of one; no source"),
    Limit("chart_worst",           12.0, "CIELAB", "rms left by the straight rule from values to light: beyond, it is another chart, or it lies elsewhere"),
    Limit("chart_advantage",       1.25, "",       "of the second-best position's rms over the best's, from which the best is believed; no source"),
    Limit("chart_seen",            0.3,  "",       "of all patches that must be found for themselves; no source"),
)  # fmt: skip
