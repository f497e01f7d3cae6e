"""What layer names say about the work: a table of words, and how they are read."""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import StrEnum


class Meaning(StrEnum):
    """What a layer says is done along its curves."""

    OUTSIDE = "outside"
    INSIDE = "inside"
    POCKET = "pocket"
    ENGRAVE = "engrave"
    DRILL = "drill"
    TAB = "tab"
    NOT_CUT = "not cut"


WORDS: dict[Meaning, tuple[str, ...]] = {
    Meaning.NOT_CUT: (
        "defpoints",
        "dim",
        "dimension",
        "construction",
        "guide",
        "reference",
        "centreline",
        "centerline",
        "axis",
        "frame",
        "border",
        "title",
        "titleblock",
        "sheet",
        "stock",
        "blank",
        "keep",
        "keepout",
        "hidden",
        "note",
        "comment",
    ),
    Meaning.DRILL: ("drill", "drilling", "bore", "pilot", "screw", "peg", "dowel"),
    Meaning.POCKET: (
        "pocket",
        "recess",
        "rebate",
        "rabbet",
        "dado",
        "groove",
        "counterbore",
    ),
    Meaning.ENGRAVE: ("engrave", "engraving", "etch", "score", "scribe", "text"),
    Meaning.TAB: ("tab", "bridge"),
    Meaning.INSIDE: ("inside", "inner", "internal", "cutout", "window"),
    Meaning.OUTSIDE: ("outside", "outer", "external"),
}
"""Words in layer names, singular; the first meaning whose word is found counts.
Names such as CUT, PROFILE or 0 say nothing: containment decides."""


def meaning_of(
    layer: str, told: Mapping[str, Meaning | None] | None = None
) -> Meaning | None:
    """Return what a layer's name says; None when it says nothing.

    Parameters
    ----------
    layer : str
        Name of the layer or group.
    told : mapping, optional
        The user's word for layers by name; None there means: says nothing.
    """
    if told and layer in told:
        return told[layer]
    tokens = set(re.split(r"[^a-z]+", layer.casefold()))
    tokens |= {token.removesuffix("s") for token in tokens}
    for meaning, words in WORDS.items():
        if not tokens.isdisjoint(words):
            return meaning
    return None
