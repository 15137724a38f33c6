"""Check values of the sRGB transformation, shared by what reads pixels and what makes colours of light."""

SRGB_LAB_D50 = [
    ((255, 255, 255), (100.0, 0.0, 0.0)),
    ((255, 0, 0), (54.2896, 80.8144, 69.8897)),
    ((0, 255, 0), (87.8194, -79.2749, 80.9927)),
    ((0, 0, 255), (29.5659, 68.2862, -112.0329)),
    ((0, 255, 255), (90.6664, -50.6631, -14.9610)),
    ((255, 0, 255), (60.1673, 93.5467, -60.5027)),
    ((255, 255, 0), (97.6074, -15.7479, 93.3913)),
    ((128, 128, 128), (53.5850, 0.0, 0.0)),
]
"""8-bit sRGB to CIELAB under D50, Bradford adaptation: IEC 61966-2-1 and ICC.1, computed with outside packages."""
