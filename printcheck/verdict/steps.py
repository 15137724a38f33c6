"""What to do next, gentlest first, and the cautions each step needs.

The cautions follow the general guidance named beside each; the maker's instructions and local rules come first.
"""

from __future__ import annotations

__all__ = ["CAUTIONS", "STEPS", "cautions_for"]

STEPS: dict[str, tuple[str, tuple[str, ...]]] = {
    # name: (what to do, cautions it needs)
    "fill": ("Fill to full weight, seal and pack.", ("waste",)),
    "draw": (
        "Draw ink through the head until it runs without bubbles, then blot on lint-free paper; print a fresh sheet.",
        ("waste",),
    ),
    "blot": (
        "Wipe the head along its rows with a lint-free cloth and blot it until every row marks the paper; "
        "print a fresh sheet.",
        ("waste",),
    ),
    "ultrasonic": (
        "If that does not cure it: seconds in the ultrasonic bath, plate only just wetted, then blot; "
        "print a fresh sheet.",
        ("ultrasonic", "solvent"),
    ),
    "steam": ("If that does not cure it: a short breath of low steam at the plate, then blot.", ("steam",)),
    "prime": (
        "Check that the cartridge sits right and its contacts are clean, then draw ink through the head and blot; "
        "print a fresh sheet.",
        ("waste",),
    ),
    "recycle": ("Recycle the cartridge: the fault is electrical, cleaning can't cure it.", ("waste",)),
}

CAUTIONS: dict[str, str] = {
    # general guidance; sources: 29 CFR 1910.242 and 40 CFR 261.21 (US), NIOSH Pocket Guide (isopropyl alcohol),
    # a university's safe-work sheet on ultrasonic baths; steam: common practice, no source
    "waste": "Ink stains and may irritate: wear gloves and eye protection, collect it and dispose of it by local rules; "
    "nothing down the drain unless the local authority allows it.",
    "ultrasonic": "Ultrasonic bath: lid on, no fingers in a running bath, and no flammable liquid unless the bath is "
    "rated for it.",
    "solvent": "Alcohol and solvents burn: good ventilation, no flame or spark, and soaked cloths into a closed metal bin.",
    "steam": "Steam burns: keep hands and face out of the jet, and let the head cool before it goes back.",
}

GENERAL = "The cartridge maker's and equipment maker's instructions and local rules come first."


def cautions_for(steps: list[str]) -> tuple[str, ...]:
    """Cautions of `steps`, each once, in the order they are needed."""
    needed = [name for step in steps for name in STEPS[step][1]]
    once = list(dict.fromkeys(needed))
    return (*[CAUTIONS[name] for name in once], GENERAL) if once else ()
