"""Toner: fog, streaks, cross lines, marks and their repeats."""

from __future__ import annotations

from printcheck.limits.limit import Limit

__all__ = ["TONER"]

TONER = (
    # name                       value  unit        basis
    Limit("toner_block_step",    2.0,   "of 255",   "between means of a JPEG's blocks, of a toner sheet whose marks are told: ISO/IEC 10918-1's own table K.1, quality 50; coarser, blocks of a halftone differ enough to be seen"),
    Limit("toner_dots_per_inch", 280,   "px/in",    "of a scan with more marks than can be told apart: less is a setting below 300, where a halftone's texture may be among them"),
    Limit("toner_scale_sd",      0.12,  "relative", "a capture's tone curve is only known to within this, and with it every difference in lightness"),
    Limit("toner_sampling",      7.4,   "px/mm",    "below this (188 dots/inch) the screen's lattice folds into patterns that look like marks and streaks"),
    Limit("toner_light_sd",      0.35,  "L*",       "what light between a tint and the paper beside it leaves uncertain; common practice, no source"),
    Limit("toner_solid_sd",      0.03,  "density",  "by which solids of a sound page differ (standard deviation), where one alone is seen; common practice, no source"),
    Limit("mark_on_streak",      0.15,  "",         "of the light, from which a mark that lies on a streak is believed; no source"),
    Limit("mark_on_line",        3.0,   "",         "times a line's contrast, from which a mark on it is one of its own"),
    Limit("mark_sure",           6.0,   "sd",       "robust, of the surroundings of a mark"),
    Limit("fog_sd",              0.10,  "L*",       "what paper and capture leave uncertain between two strips so near; common practice, no source"),
    Limit("fog_fall_off_sd",     0.5,   "relative", "of what light falls off at two edges, by which it may be other at the others; no source"),
    Limit("fog_halo_sure",       4.0,   "sd",       "from which light is said to change inwards within a strip of paper; fog is one even step"),
    Limit("fog_apart",           1.5,   "L*",       "between sides, beyond which it is light that differs, not fog"),
    Limit("fog_tile",            15.0,  "L*",       "a tile that differs by more holds the edge of the sheet, or print"),
    Limit("streak_sure",         6.0,   "sd",       "a page has some thousand columns: none reaches so far by chance, with noise's tails"),
    Limit("streak_stands_out",   4.0,   "sd",       "robust, of an area's columns"),
    Limit("streak_least",        0.25,  "L*",       "at the eye's own limit (band_threshold, 0.2 L*); half of it is a capture's own column noise"),
    Limit("streak_length",       0.4,   "of page",  "over which a streak must show; no source"),
    Limit("crossline_sure",      6.0,   "sd",       "robust, of both tints together"),
    Limit("crossline_each",      3.0,   "sd",       "and of each of them"),
    Limit("crossline_contrast",  0.004, "",         "of the light; 0.1 L* on a mid-tint, under what is seen"),
    Limit("crossline_height",    4.0,   "mm",       "a taller one is unevenness"),
    Limit("toner_band_shortest", 12.0,  "mm",       "between bands: shorter than a roller of 4 mm turns in they are the printer's gears"),
    Limit("toner_band_turns",    2.0,   "",         "of a band at least, on the page: of fewer nobody can say that it comes back"),
    Limit("toner_band_turn_sd",  0.002, "relative", "of a band's period or a mark's spacing, what the paper's feed and the map leave: repeats of a part scatter as much"),
    Limit("toner_band_lines",    1.0,   "L*",       "of a band's amplitude, at whose crests lines seem to lie: a line of its own makes a wave of 0.4"),
    Limit("toner_line_spacing",  0.05,  "relative",  "by which lines seen at a band's crests may be spaced off its period: a crest is broad, its middle known to a part of it"),
    Limit("toner_band_alike",    0.7,   "",         "of the tints' amplitudes added up, that is left of them added as waves: they are dark within 45 degrees of one another"),
    Limit("marks_of_field",      600,   "marks",    "of one field; more is texture; no source"),
    Limit("repeat_least",        12.0,  "mm",       "a roller of 4 mm turns once in it"),
    Limit("repeat_marks",        3,     "marks",    "two always have a spacing"),
    Limit("repeat_hidden",       0.4,   "",         "of the places foretold, where no mark is seen, at most (or one): at half the true spacing every second one would be"),
    Limit("repeat_sizes",        3.0,   "",         "marks of one fault differ in diameter by less than this factor; no source"),
    Limit("repeat_scatter",      0.2,   "mm",       "standard deviation of a mark about its place, as the feed and a screen's cell leave it, beside what few marks tell of it; common practice, no source"),
    Limit("repeat_by_chance",    0.005, "a page",   "finds expected by chance, at most"),
    Limit("repeat_crowd",        5,     "marks",    "beside those that repeat, from which on the page is crowded there: fewer come about by chance"),
    Limit("part_tolerance",      0.02,  "relative", "of a turning part's diameter, where the shop's table names none; no source"),
)  # fmt: skip
