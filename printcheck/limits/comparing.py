"""Two sheets of one cartridge, a ticket's trend, and the bench's scales."""

from __future__ import annotations

from printcheck.limits.limit import Limit

__all__ = ["COMPARING"]

COMPARING = (
    # name                           value unit        basis
    Limit("compare_significance",    0.05, "",         "of McNemar's test on rows that changed; the usual level"),
    Limit("compare_sure",            4.0,  "sd",       "of both readings together, from which a row's change is beyond doubt: a sheet has hundreds of rows"),
    Limit("compare_likely",          1.96, "sd",       "the same for rows that are counted, which McNemar's test then judges together: 95 %"),
    Limit("compare_shift_by_chance", 1e-3, "",         "expected number of shifts between two sheets' rows that would agree as well by chance"),
    Limit("compare_spacing",         0.02, "relative", "between two repeats' spacings or bands' periods, within which they are the same"),
    Limit("compare_across",          3.0,  "mm",       "that paper may lie aside of where it lay"),
    Limit("compare_streak",          0.5,  "L*",       "lower end of a streak's interval; fainter ones come and go with the capture"),
    Limit("pair_levels",             0.02, "of white", "by which bare paper or black may differ in two scans that count as taken alike: a scanner repeats itself to a hundredth, automatic levels move by more; common practice, no source"),
    Limit("pair_foreign",            0.10, "",         "of foreign ink by the other sheet's colours, at the least, that is a change: less is what two prints and scans of one cartridge may differ by; no source"),
    Limit("pair_bare",               0.25, "of rows",  "missing, up to which an ink's solid shows the ink: it is read clear of bare rows as long as these are few; no source"),
    Limit("pair_tone",               1.5,  "",         "times the light of an ink's solid in one picture over that in the other, from which L* of the two are not of one size: automatic levels made 4.6 L* of bands in black 10.6 at 2.5"),
    Limit("row_far_off",             1.5,  "",         "times the limit's own distance from sound: a dash so far off needs no second witness; no source"),
    Limit("printings_differ",        0.10,   "",          "chance by which counts of one rate may lie as far apart in two printings, one of them then spoilt: four and none (0.06) are; no source"),
    Limit("trend_density_sd",        0.01, "density",  "what two scans of one sheet differ by; common practice, no source"),
    Limit("weight_lightest",         0.93, "of empty", "below which a cartridge's weight is a slip; shells of one kind differ by a few %, common practice"),
    Limit("weight_heaviest",         1.03, "of full",  "above which a weight is a slip; as above"),
)  # fmt: skip
