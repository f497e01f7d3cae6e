"""Viewports: the page's true size, ``viewBox`` and ``preserveAspectRatio``."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from .affine import Affine
from .drawing import UnitReading
from .notes import Notes, tame
from .svg_length import PHYSICAL, split_length
from .svg_xml import Node
from .units import MM_PER, SCALED, told

MM_PER_PX = 25.4 / 96.0
_MM = {
    "": MM_PER_PX,
    "px": MM_PER_PX,
    "in": 25.4,
    "cm": 10.0,
    "mm": 1.0,
    "q": 0.25,
    "pt": 25.4 / 72.0,
    "pc": 25.4 / 6.0,
}
_ALIGN = re.compile(r"x(Min|Mid|Max)Y(Min|Mid|Max)")
_SHARE = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}

Box = tuple[float, float, float, float]
"""Least x, least y, width, height, user units."""


def parse_view_box(text: str) -> Box | None:
    """Return a ``viewBox``; None where the text is empty.

    Raises
    ------
    ValueError
        If it is not four numbers, or its size is not above 0.
    """
    words = text.replace(",", " ").split()
    if not words:
        return None
    if len(words) != 4:
        raise ValueError(f"viewBox {tame(text)!r} has {len(words)} numbers")
    x, y, width, height = (split_length(word)[0] for word in words)
    if not (width > 0.0 and height > 0.0):
        raise ValueError(f"viewBox {tame(text)!r} has no size")
    return x, y, width, height


def fit(box: Box, width: float, height: float, aspect: str = "") -> Affine:
    """Return the map from a ``viewBox`` into a viewport of the given size.

    Parameters
    ----------
    box : Box
        The view box, user units inside.
    width, height : float
        The viewport's size, user units outside.
    aspect : str
        ``preserveAspectRatio``; ``xMidYMid meet`` where it is empty or wrong.
    """
    x, y, w, h = box
    sx, sy = width / w, height / h
    words = [word for word in aspect.split() if word != "defer"]
    if words[:1] == ["none"]:
        return Affine(sx, 0.0, 0.0, sy, -x * sx, -y * sy)
    align = _ALIGN.fullmatch(words[0]) if words else None
    share_x, share_y = (_SHARE[align[1]], _SHARE[align[2]]) if align else (0.5, 0.5)
    scale = max(sx, sy) if words[1:] == ["slice"] else min(sx, sy)
    dx = share_x * (width - w * scale)
    dy = share_y * (height - h * scale)
    return Affine(scale, 0.0, 0.0, scale, dx - x * scale, dy - y * scale)


@dataclass(frozen=True, slots=True)
class Page:
    """The outermost viewport.

    Parameters
    ----------
    affine : Affine
        User units to mm, y up: the one place where y is turned round.
    units : UnitReading
        How the size was found.
    view : tuple of float
        Width and height that percentages refer to, user units.
    size : tuple of float or None
        Width and height of the page, mm; None where nothing states it.
    """

    affine: Affine
    units: UnitReading
    view: tuple[float, float]
    size: tuple[float, float] | None


def read_page(root: Node, unit: str | None, notes: Notes) -> Page:
    """Return the page of a drawing.

    Parameters
    ----------
    root : Node
        The outermost element.
    unit : str or None
        What the user says one user unit is, such as ``mm``; None to read the file.
    notes : Notes
        Where to note a missing, stretched or broken size.
    """
    width, width_true = _extent(root, "width", notes)
    height, height_true = _extent(root, "height", notes)
    try:
        box = parse_view_box(root.get("viewBox"))
    except ValueError as error:
        notes.add("svg-size-broken", "svg", str(error))
        box = None
    reading = told(unit) if unit is not None else None
    if reading is not None:
        return _told_page(reading, box, width, height)
    true = width_true or height_true
    if box is None:
        return _plain_page(width, height, true, notes)
    _, _, w, h = box
    if width is None and height is None:
        width, height = w * MM_PER_PX, h * MM_PER_PX
    elif width is None and height is not None:
        width = height * w / h
    elif height is None and width is not None:
        height = width * h / w
    assert width is not None and height is not None
    inner = fit(box, width, height, root.get("preserveAspectRatio"))
    if abs(inner.a - inner.d) > 1e-6 * inner.a:
        detail = f"one unit is {inner.a:g} by {inner.d:g} mm"
        notes.add("svg-size-stretched", "svg", detail)
    return Page(
        _flipped(inner, height),
        _reading(inner.a, true, (w, h), notes),
        (w, h),
        (width, height),
    )


def _plain_page(
    width: float | None, height: float | None, true: bool, notes: Notes
) -> Page:
    view = ((width or 79.375) / MM_PER_PX, (height or 39.6875) / MM_PER_PX)
    inner = Affine.scale(MM_PER_PX, MM_PER_PX)
    extent = view if width and height else None
    return Page(
        _flipped(inner, height or 0.0),
        _reading(MM_PER_PX, true, extent, notes),
        view,
        (width, height) if width and height else None,
    )


def _told_page(
    reading: UnitReading, box: Box | None, width: float | None, height: float | None
) -> Page:
    """Return the page where one user unit is what the user says."""
    k = reading.factor
    if box is not None:
        x, y, w, h = box
        inner = Affine(k, 0.0, 0.0, k, -x * k, -y * k)
        return Page(_flipped(inner, h * k), reading, (w, h), (w * k, h * k))
    view = ((width or 79.375) / MM_PER_PX, (height or 39.6875) / MM_PER_PX)
    size = (view[0] * k, view[1] * k) if width and height else None
    shift = view[1] * k if height else 0.0
    return Page(_flipped(Affine.scale(k, k), shift), reading, view, size)


def _flipped(inner: Affine, height: float) -> Affine:
    return Affine(1.0, 0.0, 0.0, -1.0, 0.0, height) @ inner


def _extent(root: Node, name: str, notes: Notes) -> tuple[float | None, bool]:
    """Return the width or height in mm, and whether a physical unit states it."""
    text = root.get(name).strip()
    if text in ("", "auto"):
        return None, False
    try:
        value, unit = split_length(text)
    except ValueError:
        notes.add("svg-size-broken", "svg", f"{name} {tame(text)!r}")
        return None, False
    if unit not in _MM:
        if unit not in ("%", "em", "rem", "ex", "vw", "vh"):
            notes.add("svg-size-broken", "svg", f"{name} {tame(text)!r}")
        return None, False
    mm = value * _MM[unit]
    if not (mm > 0.0 and math.isfinite(mm)):
        notes.add("svg-size-broken", "svg", f"{name} {tame(text)!r}")
        return None, False
    return mm, unit in PHYSICAL


def _reading(
    factor: float, true: bool, extent: tuple[float, float] | None, notes: Notes
) -> UnitReading:
    name = next(
        (
            unit
            for unit in ("mm", "in", "px", "px90", "px72", "cm")
            if abs(MM_PER[unit] / factor - 1.0) < 1e-6
        ),
        SCALED,
    )
    others = tuple(
        (unit, MM_PER[unit])
        for unit in ("px90", "px72", "mm", "in", "px")
        if abs(MM_PER[unit] / factor - 1.0) > 1e-3
    )
    if true:
        return UnitReading(name, factor, "page size", True, others)
    shown = f"{factor:.6g} mm was taken for one unit"
    if name == "px":
        shown = "1/96 inch was taken for one unit"
    if extent is not None:
        sizes = [("", factor)]
        sizes += [
            (f" at 1/{int(unit[2:])} inch", mm)
            for unit, mm in others
            if unit in ("px90", "px72")
        ]
        sizes += [(" at 1 mm", 1.0)] if abs(factor - 1.0) > 1e-3 else []
        shown += "; the page is then " + ", or ".join(
            f"{extent[0] * mm:.4g} by {extent[1] * mm:.4g} mm{words}"
            for words, mm in sizes
        )
    notes.add("svg-no-size", "svg", shown)
    return UnitReading(name, factor, "guess", False, others)
