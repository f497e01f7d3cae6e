"""Cautions for the bench, in our own words.

They rest on 29 CFR 1910.213 (woodworking machinery; guards and controls), NIOSH and
OSHA limits for noise and wood dust, ANSI/ISEA Z87.1 (eye protection), NFPA 660
(combustible dust), 40 CFR 770 (formaldehyde) and common practice. They replace no
manual, no local rule and no training.
"""

from __future__ import annotations

from collections.abc import Iterable

GENERAL = (
    "The machine's manual, local rules and trained practice come first: this sheet "
    "does not know your machine.",
    "Never reach in while the spindle turns. Cut the power before changing the "
    "cutter. Know where the stop is. Never leave a running cut alone.",
    "Wear marked eye protection (such as Z87.1) and hearing protection: routers and "
    "extractors commonly pass 85 dBA.",
    "Extract at the cutter and wear a fitted dust respirator. A spark, a dull edge or "
    "a dwell can start a smoulder in the dust bag: look into it after cutting.",
    "Check every screw and clamp against the path, with collet nut and dust shoe. "
    "Parts that come loose are thrown: leave tabs or a skin.",
    "Measure the board before cutting fitted slots. Run the program in the air "
    "first. Times, costs and weights are estimates.",
)
"""What holds for every job."""

BY_WORD = (
    (
        ("mdf", "fibreboard", "fiberboard", "particleboard", "chipboard"),
        "Fibreboard dust is very fine. Use board labelled for low formaldehyde and "
        "air the room.",
    ),
    (
        ("acrylic", "pmma"),
        "Hot acrylic chips melt and weld again: sharp cutter, no dwell. Do not burn "
        "it or breathe its fumes.",
    ),
    (
        ("pvc", "vinyl", "plastic"),
        "Cut no plastic whose kind you do not know, and never PVC: its fumes are "
        "poisonous and corrode.",
    ),
)
"""What a material's name adds."""


def cautions(materials: Iterable[str]) -> tuple[str, ...]:
    """Return the cautions for a job in these materials."""
    words = " ".join(materials).casefold()
    extra = [text for keys, text in BY_WORD if any(key in words for key in keys)]
    return (*GENERAL, *extra)
