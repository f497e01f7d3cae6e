"""What layers and colours say about the work: told by the user, or by common words."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from ..nesting.model.errors import InputError


class Meaning(StrEnum):
    """What is done along the curves of a layer or of a colour."""

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


_AROUND = frozenset(
    "contour contours cut cuts cutting edge edges hole holes layer line lines mm path "
    "paths profile profiles".split()
)
"""What a word may be written together with, as in ``insidecut``."""

_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")

NOTHING = "nothing"
"""The word by which a user says that a layer or colour says nothing."""

INDEXED = re.compile(r"colou?r\s*(\d{1,3})", re.IGNORECASE)
"""A colour by its number, as DXF drawings name them."""

Told = Mapping[str, Meaning | None]
"""The user's word by layer or colour; None there means: says nothing."""


def meaning_of(layer: str) -> Meaning | None:
    """Return what a layer's name says; None when it says nothing.

    Parameters
    ----------
    layer : str
        Name of the layer or group, in any of the usual ways to join words.
    """
    tokens = set(re.split(r"[^a-z]+", _CAMEL.sub(" ", layer).casefold()))
    tokens |= {token.removesuffix("s") for token in tokens}
    for meaning, words in WORDS.items():
        if not tokens.isdisjoint(words) or any(
            (token.startswith(word) and token[len(word) :] in _AROUND)
            or (token.endswith(word) and token[: -len(word)] in _AROUND)
            for token in tokens
            for word in words
        ):
            return meaning
    return None


def meaning_from(word: str) -> Meaning | None:
    """Return the meaning a person wrote; None for ``nothing``.

    Raises
    ------
    InputError
        If it is neither.
    """
    plain = " ".join(word.replace("_", " ").casefold().split())
    if plain == NOTHING:
        return None
    try:
        return Meaning(plain)
    except ValueError:
        known = ", ".join(repr(meaning.value) for meaning in Meaning)
        raise InputError(
            "", f"unknown work {word!r}", f"use {known} or {NOTHING!r}"
        ) from None


def told_from(pairs: Iterable[tuple[str, str]]) -> dict[str, Meaning | None]:
    """Return what a job says of layers and colours (`Job.layers`), for `look_at`.

    Raises
    ------
    InputError
        If a word is none.
    """
    return {name: meaning_from(word) for name, word in pairs}


def colour_of(text: str) -> str:
    """Return a colour that a person wrote as ``#rrggbb``; empty if it is none.

    Parameters
    ----------
    text : str
        Such as ``red``, ``#f00``, ``rgb(255, 0, 0)`` or, as DXF drawings number
        them, ``colour 1``.
    """
    from .svg_paint import parse_paint

    indexed = INDEXED.fullmatch(text.strip())
    if indexed:
        from ezdxf import colors

        index = int(indexed[1])
        if index == 7:
            return BLACK
        return str(colors.aci2rgb(index).to_hex()) if 1 <= index <= 255 else ""
    if text.strip().casefold() in ("none", "currentcolor", "transparent"):
        return ""
    return parse_paint(text).colour


BLACK = "#000000"
"""Also the DXF colour 7, which is black on paper and white on a dark screen."""


@dataclass(frozen=True, slots=True)
class Said:
    """What is known about the work along a curve.

    Parameters
    ----------
    meaning : Meaning or None
        None: nothing; containment decides.
    by : str
        What says so: a layer's name or a colour; empty when nothing does.
    told : bool
        Whether the user said it; else it is read from the layer's name.
    """

    meaning: Meaning | None = None
    by: str = ""
    told: bool = False


class Works:
    """Tells what is done along curves from their layer and colours.

    The user's word on a layer comes first, then the user's word on a colour, then
    what the layer's name says.

    Parameters
    ----------
    told : mapping, optional
        The user's word. A key is a layer's name, whichever way its letters are
        written, or a colour as `colour_of` understands it; one that is both counts
        as both.
    """

    def __init__(self, told: Told | None = None) -> None:
        told = told or {}
        self._layers = {key.casefold(): key for key in told}
        self._colours = {c: key for key in told if (c := colour_of(key))}
        self._told = told
        self._known: dict[tuple[str, str, str], Said] = {}

    def said(self, layer: str, colour: str = "", fill: str = "") -> Said:
        """Return what is done along a curve.

        Parameters
        ----------
        layer : str
            Its layer or group.
        colour, fill : str
            The colour of its line, and of its inside, ``#rrggbb`` or empty.
        """
        key = (layer, colour, fill)
        if key not in self._known:
            self._known[key] = self._say(*key)
        return self._known[key]

    def _say(self, layer: str, colour: str, fill: str) -> Said:
        keys = [self._layers.get(layer.casefold())]
        keys += [self._colours.get(c) if c else None for c in (colour, fill)]
        found = [key for key in keys if key is not None]
        for key in found:
            if self._told[key] is not None:
                return Said(self._told[key], key, True)
        if found:
            return Said(None, found[0], True)
        meaning = meaning_of(layer)
        return Said(meaning, layer if meaning else "")


@dataclass(frozen=True, slots=True)
class LayerUse:
    """Curves of one layer and colour, and what is done along them.

    Parameters
    ----------
    layer : str
        Layer or group; may be empty.
    colour, fill : str
        ``#rrggbb`` of the line and of the inside; may be empty.
    count : int
        How many curves, joined.
    meaning : Meaning or None
        None: containment decides.
    told : bool
        Whether the user said so; else it is guessed from the layer's name.
    """

    layer: str
    colour: str
    fill: str
    count: int
    meaning: Meaning | None = None
    told: bool = False

    def has(self, key: str) -> bool:
        """Return whether a user who says `key` speaks of this layer or colour."""
        colour = colour_of(key)
        return self.layer.casefold() == key.casefold() or (
            bool(colour) and colour in (self.colour, self.fill)
        )
