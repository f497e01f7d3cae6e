"""The ``transform`` attribute and property: text to an affine map."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from functools import lru_cache

from .affine import Affine
from .svg_length import length_px, split_length

_FUNCTION = re.compile(r"[\s,]*+([A-Za-z][A-Za-z0-9]*+)\s*+\(([^()]*+)\)\s*+", re.ASCII)
_SEPARATOR = re.compile(r"\s*+,\s*+|\s++", re.ASCII)
_NUMBER = re.compile(
    r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?(?:[A-Za-z]+|%)?", re.ASCII
)
_DEGREES = {"": 1.0, "deg": 1.0, "rad": 180.0 / math.pi, "grad": 0.9, "turn": 360.0}

Size = tuple[float, float]
"""Width and height of the box that percentages refer to, user units."""


def _angle(text: str) -> float:
    value, unit = split_length(text)
    if unit not in _DEGREES:
        raise ValueError(f"{text!r} is no angle")
    return value * _DEGREES[unit]


def _number(text: str) -> float:
    value, unit = split_length(text)
    if unit == "%":
        return value / 100.0
    if unit:
        raise ValueError(f"{text!r} is no plain number")
    return value


def _matrix(args: list[str], box: Size) -> Affine:
    a, b, c, d = map(_number, args[:4])
    return Affine(a, b, c, d, length_px(args[4], box[0]), length_px(args[5], box[1]))


def _translate(args: list[str], box: Size) -> Affine:
    x = length_px(args[0], box[0])
    return Affine.move(x, length_px(args[1], box[1]) if len(args) > 1 else 0.0)


def _scale(args: list[str], box: Size) -> Affine:
    return Affine.scale(_number(args[0]), _number(args[-1]))


def _rotate(args: list[str], box: Size) -> Affine:
    turn = Affine.turn(_angle(args[0]))
    if len(args) == 1:
        return turn
    x, y = length_px(args[1], box[0]), length_px(args[2], box[1])
    return Affine.move(x, y) @ turn @ Affine.move(-x, -y)


def _skew(args: list[str], box: Size) -> Affine:
    return Affine.skew(_angle(args[0]), _angle(args[1]) if len(args) > 1 else 0.0)


_FUNCTIONS: dict[str, tuple[set[int], Callable[[list[str], Size], Affine]]] = {
    "matrix": ({6}, _matrix),
    "translate": ({1, 2}, _translate),
    "translatex": ({1}, _translate),
    "translatey": ({1}, lambda a, box: Affine.move(0.0, length_px(a[0], box[1]))),
    "scale": ({1, 2}, _scale),
    "scalex": ({1}, lambda a, box: Affine.scale(_number(a[0]), 1.0)),
    "scaley": ({1}, lambda a, box: Affine.scale(1.0, _number(a[0]))),
    "rotate": ({1, 3}, _rotate),
    "skewx": ({1}, _skew),
    "skewy": ({1}, lambda a, box: Affine.skew(0.0, _angle(a[0]))),
    "skew": ({1, 2}, _skew),
}


def _arguments(text: str) -> list[str]:
    """Split arguments at commas, spaces, and where a sign begins a new number."""
    args: list[str] = []
    at = 0
    text = text.strip()
    while at < len(text):
        match = _NUMBER.match(text, at)
        if match is None:
            raise ValueError(f"cannot read {text[at : at + 20]!r}")
        args.append(match[0])
        at = match.end()
        gap = _SEPARATOR.match(text, at)
        if gap is not None:
            at = gap.end()
            if at == len(text):
                raise ValueError("it ends with a comma")
    return args


@lru_cache(maxsize=4096)
def parse_transform(text: str, box: Size = (0.0, 0.0)) -> Affine:
    """Return the map that a transform list states; the leftmost acts last.

    Parameters
    ----------
    text : str
        ``none``, or a list of matrix, translate, scale, rotate, skewX, skewY in the
        attribute's or in CSS's writing.
    box : tuple of float
        Width and height that percentages refer to, user units.

    Raises
    ------
    ValueError
        If the text is no transform list, or a number in it is not finite.
    """
    total = Affine()
    at = 0
    text = text.strip()
    if text == "none":
        return total
    while at < len(text):
        match = _FUNCTION.match(text, at)
        if match is None:
            raise ValueError(f"cannot read {text[at : at + 20]!r}")
        counts, make = _FUNCTIONS.get(match[1].lower(), (set(), None))
        if make is None:
            raise ValueError(f"{match[1][:20]}() is not known in the plane")
        args = _arguments(match[2])
        if len(args) not in counts:
            raise ValueError(f"{match[1]}() has {len(args)} numbers")
        total = total @ make(args, box)
        at = match.end()
    if not total.is_finite:
        raise ValueError("its numbers are too large")
    return total


_KEYWORDS = {"left": 0.0, "right": 1.0, "top": 0.0, "bottom": 1.0, "center": 0.5}


def parse_origin(text: str, box: Size) -> tuple[float, float]:
    """Return the point of a ``transform-origin``, user units from the box's corner.

    Raises
    ------
    ValueError
        If the text is no position.
    """
    words = text.lower().split()
    if not 1 <= len(words) <= 3:
        raise ValueError(f"{text[:40]!r} is no transform-origin")
    words = words[:2]
    if len(words) == 1:
        words = (
            ["center", *words] if words[0] in ("top", "bottom") else [*words, "center"]
        )
    if words[0] in ("top", "bottom") or words[1] in ("left", "right"):
        words.reverse()
    x, y = (
        _KEYWORDS[word] * whole if word in _KEYWORDS else length_px(word, whole)
        for word, whole in zip(words, box, strict=True)
    )
    return x, y


def individual_transforms(
    translate: str | None, rotate: str | None, scale: str | None, box: Size
) -> Affine:
    """Return the map of CSS's translate, rotate and scale properties, in that order.

    Raises
    ------
    ValueError
        If one of them cannot be read in the plane.
    """
    total = Affine()
    if translate and translate != "none":
        total = total @ _translate(translate.split()[:2], box)
    if rotate and rotate != "none":
        words = rotate.split()
        if words[0] == "z" or words[:3] == ["0", "0", "1"]:
            words = words[-1:]
        if len(words) != 1:
            raise ValueError(f"rotate {rotate[:30]!r} leaves the plane")
        total = total @ Affine.turn(_angle(words[0]))
    if scale and scale != "none":
        total = total @ _scale(scale.split()[:2], box)
    return total
