"""How boards and parts look: wood, the cutter's channel, fills, hatches, names.

Parts are drawn like stones in a wall. The channel the cutter clears runs round every
part like the joint round a stone; what is left between two channels is wood.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QFontMetricsF,
    QPainter,
    QPainterPath,
    QPen,
    QTransform,
)

from ...nesting.model.holding import ReliefKind
from ...nesting.model.job import Cutting, Datum, Job
from ...nesting.model.motion import Motion, Point
from ...nesting.model.outline import Outline
from ...nesting.model.part import Mark, Operation, Part
from ...nesting.model.placement import Placement
from ...nesting.model.rules import Grain
from ...nesting.model.stock import Stock
from ...nesting.shop.relief import as_cut, relief_of
from .arrange import box_of
from .colours import FILLS, Theme, mixed
from .copies import Key, key_of
from .paths import (
    PathStore,
    add_segments,
    marks_path,
    outline_path,
    polygon_of,
    polygon_path,
)
from .shapes import flat

SMALL = 22.0
"""Parts smaller than this on screen, in pixels, are drawn in the plainest way."""

LEAST_TEXT = 11.0
"""Names hide below this height on screen, in pixels; they never shrink."""


@dataclass(frozen=True)
class Look:
    """How one copy is to be drawn.

    Attributes
    ----------
    placement : Placement
        Where.
    part : Part
        What.
    colour : int
        Place of the part in the order, which picks its fill.
    name : str
        What stands on it.
    box : tuple of float
        Bounding box on the blank, mm.
    cut : Outline
        The outline as it is cut: with relief in its inside corners, if asked for.
    """

    placement: Placement
    part: Part
    colour: int
    name: str
    box: tuple[float, float, float, float]
    cut: Outline


def transform_of(motion: Motion) -> QTransform:
    """Return a rigid motion as a Qt transform."""
    a, b, c, d = motion.matrix()
    return QTransform(a, c, b, d, motion.x, motion.y)


def pixels(painter: QPainter) -> float:
    """Return how many pixels a millimetre takes."""
    t = painter.worldTransform()
    return math.hypot(t.m11(), t.m12())


def cosmetic(
    colour: QColor, width: float, style: Qt.PenStyle = Qt.PenStyle.SolidLine
) -> QPen:
    """Return a pen as wide on screen at every zoom, in pixels."""
    pen = QPen(colour, width, style)
    pen.setCosmetic(True)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    return pen


def text_on_screen(
    painter: QPainter,
    at: Point,
    text: str,
    font: QFont,
    ink: QColor,
    align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignCenter,
    plate: QColor | None = None,
    offset: Point = (0.0, 0.0),
) -> QRectF:
    """Write upright text of a screen size at a point given in millimetres.

    Returns
    -------
    QRectF
        What it covers, in pixels.
    """
    here = painter.worldTransform().map(QPointF(*at)) + QPointF(*offset)
    box = _text_box(text, font)
    box.moveCenter(here)
    if align & Qt.AlignmentFlag.AlignLeft:
        box.moveLeft(here.x())
    if align & Qt.AlignmentFlag.AlignRight:
        box.moveRight(here.x())
    if align & Qt.AlignmentFlag.AlignBottom:
        box.moveBottom(here.y())
    if align & Qt.AlignmentFlag.AlignTop:
        box.moveTop(here.y())
    painter.save()
    painter.resetTransform()
    if plate is not None:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(plate)
        painter.drawRoundedRect(box, 4, 4)
    painter.setFont(font)
    painter.setPen(ink)
    painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), text)
    painter.restore()
    return box


_boxes: dict[tuple[str, str], QRectF] = {}


def _text_box(text: str, font: QFont) -> QRectF:
    """Return what a text takes with a little room, in pixels, from (0, 0) on."""
    key = (text, font.key())
    found = _boxes.get(key)
    if found is None:
        if len(_boxes) > 8192:
            _boxes.clear()
        box = QFontMetricsF(font).boundingRect(QRectF(0, 0, 9999, 9999), 0, text)
        found = _boxes[key] = QRectF(0, 0, box.width() + 8, box.height() + 4)
    return QRectF(found)


# ------------------------------------------------------------------ boards


def grain_lines(stock: Stock, seed: int) -> QPainterPath:
    """Return gently waving lines along the face grain, always the same for a board."""
    path = QPainterPath()
    if stock.grain is Grain.NONE:
        return path
    x0, y0, x1, y1 = stock.outline.bounds
    along_x = stock.grain is Grain.LENGTH
    start, end = (x0, x1) if along_x else (y0, y1)
    low, high = (y0, y1) if along_x else (x0, x1)
    rng = np.random.default_rng(seed)
    at = low + rng.uniform(4, 18)
    while at < high:
        waves = rng.normal(0.0, 5.0, 4)
        third = (end - start) / 3.0
        # Most lines run the whole board, some only a part of it.
        begin = start + (rng.uniform(0, third) if rng.random() < 0.3 else 0.0)
        stop = end - (rng.uniform(0, third) if rng.random() < 0.3 else 0.0)
        points = [
            (begin, at + waves[0]),
            (begin + (stop - begin) / 3, at + waves[1]),
            (begin + 2 * (stop - begin) / 3, at + waves[2]),
            (stop, at + waves[3]),
        ]
        points = [(x, min(max(y, low), high)) for x, y in points]
        q = [QPointF(x, y) if along_x else QPointF(y, x) for x, y in points]
        path.moveTo(q[0])
        path.cubicTo(q[1], q[2], q[3])
        at += rng.choice([7.0, 11.0, 16.0, 34.0]) * rng.uniform(0.8, 1.3)
    return path


def datum_point(stock: Stock, datum: Datum) -> Point:
    """Return the datum on a blank of this stock, mm."""
    x0, y0, x1, y1 = stock.outline.bounds
    if datum is Datum.CENTRE:
        return (x0 + x1) / 2.0, (y0 + y1) / 2.0
    x = x0 if datum in (Datum.LOWER_LEFT, Datum.UPPER_LEFT) else x1
    y = y0 if datum in (Datum.LOWER_LEFT, Datum.LOWER_RIGHT) else y1
    return x, y


def paint_board(
    painter: QPainter,
    stock: Stock,
    cutting: Cutting,
    theme: Theme,
    grain: QPainterPath,
) -> None:
    """Paint the wood, the margin and the keep-outs, in the blank's coordinates."""
    scale = pixels(painter)
    outline = outline_path(stock.outline)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(theme.board)
    painter.drawPath(outline)
    if scale > 0.12 and not grain.isEmpty():
        painter.save()
        painter.setClipPath(outline, Qt.ClipOperation.IntersectClip)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(cosmetic(theme.grain, 1.0))
        painter.drawPath(grain)
        painter.restore()
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if cutting.margin > 0 and stock.is_rectangle:
        x0, y0, x1, y1 = stock.outline.bounds
        m = cutting.margin
        pen = cosmetic(theme.board_edge, 1.0, Qt.PenStyle.DotLine)
        painter.setPen(pen)
        painter.drawRect(QRectF(x0 + m, y0 + m, x1 - x0 - 2 * m, y1 - y0 - 2 * m))
    elif cutting.margin > 0:
        inner = flat(stock.outline).polygon.buffer(-cutting.margin)
        painter.setPen(cosmetic(theme.board_edge, 1.0, Qt.PenStyle.DotLine))
        for piece in getattr(inner, "geoms", [inner]):
            if not piece.is_empty:
                painter.drawPolygon(polygon_of(np.array(piece.exterior.coords)))
    painter.setPen(cosmetic(theme.board_edge, 1.5))
    painter.drawPath(outline)


def paint_keep_outs(
    painter: QPainter, stock: Stock, theme: Theme, font: QFont, chosen: int = -1
) -> None:
    """Paint the areas no cut may touch: hatched, outlined and named."""
    scale = pixels(painter)
    for i, keep_out in enumerate(stock.keep_outs):
        path = QPainterPath()
        add_segments(path, keep_out.loop.segments)
        path.closeSubpath()
        painter.setPen(cosmetic(theme.keep_out, 3.0 if i == chosen else 1.5))
        painter.setBrush(QBrush(theme.keep_out, Qt.BrushStyle.BDiagPattern))
        painter.drawPath(path)
        x0, y0, x1, y1 = keep_out.loop.bounds
        if keep_out.label and (x1 - x0) * scale > 40 and (y1 - y0) * scale > 18:
            text_on_screen(
                painter,
                ((x0 + x1) / 2, (y0 + y1) / 2),
                keep_out.label,
                font,
                theme.keep_out,
                plate=theme.board,
            )


def paint_datum(painter: QPainter, stock: Stock, datum: Datum, theme: Theme) -> None:
    """Paint the datum: a ring quartered black and white, as on a survey mark."""
    at = painter.worldTransform().map(QPointF(*datum_point(stock, datum)))
    # Far away it is smaller, or it would hide parts and reach its neighbours.
    r = min(max(30.0 * pixels(painter), 3.5), 7.0)
    painter.save()
    painter.resetTransform()
    box = QRectF(at.x() - r, at.y() - r, 2 * r, 2 * r)
    painter.setPen(QPen(theme.halo, 3.0))
    painter.setBrush(theme.halo)
    painter.drawEllipse(box)
    painter.setPen(QPen(theme.ink, 1.5))
    painter.drawEllipse(box)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(theme.ink)
    painter.drawPie(box, 0, 90 * 16)
    painter.drawPie(box, 180 * 16, 90 * 16)
    painter.restore()


@dataclass(frozen=True)
class Ruler:
    """Ticks and numbers along the lower and left edge of a blank.

    Attributes
    ----------
    ticks : list of QLineF
        In the blank's coordinates, mm.
    numbers : list of tuple
        Where each stands, what it says, and whether it stands below.
    """

    ticks: list[QLineF]
    numbers: list[tuple[Point, str, bool]]


APART = 44.0
"""From one number of a ruler to the next, at the usual size of words, pixels."""


def ruler_of(
    stock: Stock,
    scale: float,
    units: str,
    seen: QRectF | None = None,
    apart: float = APART,
) -> Ruler:
    """Return ticks and numbers as fine as there is room for.

    Parameters
    ----------
    scale : float
        Pixels a millimetre.
    units : str
        "mm" or "in".
    seen : QRectF or None
        What is seen of the blank, mm; None for all of it.
    apart : float
        Pixels from one number to the next, at least.
    """
    x0, y0, x1, y1 = stock.outline.bounds
    unit = 25.4 if units == "in" else 1.0
    steps = (1, 5, 10, 50, 100, 500, 1000) if units == "mm" else (0.25, 1, 6, 12, 48)
    fine = next((s for s in steps if s * unit * scale >= 6), steps[-1])
    named = next((s for s in steps if s * unit * scale >= apart), steps[-1])
    short, long = 4.0 / scale, 9.0 / scale
    every = max(round(named / fine), 1)
    ruler = Ruler([], [])
    for axis, (start, end) in enumerate(((x0, x1), (y0, y1))):
        first, last = 0, int((end - start) / (fine * unit) + 1e-9)
        if seen is not None:
            low, high = (
                (seen.left(), seen.right())
                if axis == 0
                else (seen.top(), seen.bottom())
            )
            first = max(first, int((low - start) / (fine * unit)) - 1)
            last = min(last, int((high - start) / (fine * unit)) + 1)
        for k in range(first, last + 1):
            at = start + k * fine * unit
            tick = long if k % every == 0 else short
            if axis == 0:
                ruler.ticks.append(QLineF(at, y0, at, y0 - tick))
            else:
                ruler.ticks.append(QLineF(x0, at, x0 - tick, at))
            if k % every == 0 and k:
                place = (at, y0) if axis == 0 else (x0, at)
                ruler.numbers.append((place, f"{k * fine:g}", axis == 0))
    return ruler


def paint_ruler(painter: QPainter, ruler: Ruler, theme: Theme, font: QFont) -> None:
    """Paint ticks and numbers, in the blank's coordinates."""
    painter.setPen(cosmetic(theme.faint, 1.0))
    painter.drawLines(ruler.ticks)
    world = painter.worldTransform()
    painter.save()
    painter.resetTransform()
    painter.setFont(font)
    painter.setPen(theme.faint)
    centre = int(Qt.AlignmentFlag.AlignCenter)
    for place, text, below in ruler.numbers:
        box = _text_box(text, font)
        at = world.map(QPointF(*place))
        if below:
            box.moveCenter(at)
            box.moveTop(at.y() + 9.0)
        else:
            box.moveCenter(at)
            box.moveRight(at.x() - 9.0)
        painter.drawText(box, centre, text)
    painter.restore()


# ------------------------------------------------------------------ parts


def paint_channels(
    painter: QPainter, looks: Sequence[Look], cutter: float, theme: Theme
) -> None:
    """Paint what the cutter clears: a channel as wide as the cutter round each part."""
    scale = pixels(painter)
    if cutter * scale < 1.5:
        return
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(theme.channel)
    for look in looks:
        painter.save()
        painter.setTransform(transform_of(look.placement.motion), True)
        painter.drawPath(STORE.grown(look.part.outline, cutter, 0.5 / scale))
        painter.restore()


STORE = PathStore()


def paint_parts(
    painter: QPainter, looks: Sequence[Look], theme: Theme, font: QFont
) -> None:
    """Paint parts in the blank's coordinates: exact when large, plainer when small."""
    scale = pixels(painter)
    small: dict[int, list[Look]] = {}
    for look in looks:
        x0, y0, x1, y1 = look.box
        if max(x1 - x0, y1 - y0) * scale < SMALL:
            small.setdefault(look.colour, []).append(look)
        else:
            _paint_part(painter, look, theme, font, scale)
    for colour, group in small.items():
        _paint_small(painter, colour, group, theme, 1.0 / scale)
        for look in group:
            if look.placement.locked:
                fill, ink, _ = theme.part_fill(colour)
                _paint_name(painter, look, fill, ink, font, scale)


def _paint_small(
    painter: QPainter, colour: int, looks: Sequence[Look], theme: Theme, pixel: float
) -> None:
    fill, _, _ = theme.part_fill(colour)
    painter.setPen(cosmetic(theme.outline, 1.0))
    painter.setBrush(body(fill, theme))
    for look in looks:
        motion = look.placement.motion
        rings = STORE.coarse(look.part.outline, pixel)
        if len(rings) > 1:
            painter.drawPath(polygon_path(motion.points(ring) for ring in rings))
        else:
            painter.drawPolygon(polygon_of(motion.points(rings[0])))


def plain_paths(
    looks: Sequence[Look], pixel: float, until: float = math.inf
) -> tuple[list[tuple[int, QPainterPath]], bool]:
    """Return one coarse path for all parts of a colour, in the blank's coordinates.

    Parameters
    ----------
    pixel : float
        Size of a pixel, mm.
    until : float
        When this time (`time.perf_counter`) has come, parts that were never drawn at
        such a zoom are boxes.

    Returns
    -------
    tuple of list and bool
        Each colour's number and its path, and whether no part had to be a box.
    """
    paths: dict[int, QPainterPath] = {}
    whole = True
    for look in looks:
        path = paths.setdefault(look.colour % len(FILLS), QPainterPath())
        if not has_coarse_path(look.cut, 2.0 * pixel) and time.perf_counter() >= until:
            whole = False
            x0, y0, x1, y1 = look.box
            path.addRect(x0, y0, x1 - x0, y1 - y0)
            continue
        coarse = coarse_path(look.cut, 2.0 * pixel)
        path.addPath(transform_of(look.placement.motion).map(coarse))
    return list(paths.items()), whole


def paint_plainly(
    painter: QPainter,
    stock: Stock,
    paths: Sequence[tuple[int, QPainterPath]],
    theme: Theme,
) -> None:
    """Paint a board and its parts in the plainest and quickest way."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.setPen(cosmetic(theme.board_edge, 1.5))
    painter.setBrush(theme.board)
    painter.drawPath(outline_path(stock.outline))
    painter.setPen(cosmetic(theme.outline, 0.0))
    for colour, path in paths:
        fill, _, _ = theme.part_fill(colour)
        painter.setBrush(body(fill, theme))
        painter.drawPath(path)


def body(fill: QColor, theme: Theme) -> QColor:
    """Return a part's body colour: its fill, softened towards the board."""
    return mixed(fill, theme.board, 0.12 if theme.dark else 0.30)


def _paint_part(
    painter: QPainter, look: Look, theme: Theme, font: QFont, scale: float
) -> None:
    fill, ink, hatch = theme.part_fill(look.colour)
    x0, y0, x1, y1 = look.box
    large = max(x1 - x0, y1 - y0) * scale
    origin = painter.worldTransform().map(QPointF(0.0, 0.0))
    painter.save()
    painter.setTransform(transform_of(look.placement.motion), True)
    path = _path_at(look, scale)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(body(fill, theme))
    painter.drawPath(path)
    if hatch is not Qt.BrushStyle.NoBrush and large > 60:
        line = mixed(fill, QColor("#000000"), 0.30)
        line.setAlphaF(0.38)
        # In pixels from the blank's (0, 0), or hatches painted one beside another, as
        # after scrolling, would not meet.
        shown = painter.worldTransform().map(path)
        painter.save()
        painter.resetTransform()
        painter.setBrushOrigin(round(origin.x()), round(origin.y()))
        painter.setBrush(QBrush(line, hatch))
        painter.drawPath(shown)
        painter.restore()
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(cosmetic(theme.outline, 1.5))
    painter.drawPath(path)
    if look.part.marks and large > 60:
        _paint_marks(painter, look.part)
    painter.restore()
    if large > 40 or look.placement.locked:
        _paint_name(painter, look, fill, ink, font, scale)


def paint_names(
    painter: QPainter, looks: Sequence[Look], theme: Theme, font: QFont
) -> None:
    """Paint names once more, over what covers them, in the blank's coordinates."""
    scale = pixels(painter)
    for look in looks:
        x0, y0, x1, y1 = look.box
        if max(x1 - x0, y1 - y0) * scale > 40 or look.placement.locked:
            fill, ink, _ = theme.part_fill(look.colour)
            _paint_name(painter, look, fill, ink, font, scale)


def _paint_marks(painter: QPainter, part: Part) -> None:
    """Paint what is cut in a part: drilled holes whole, tabs as bars, others dashed."""
    marks: dict[Operation, list[Mark]] = {}
    for mark in part.marks:
        marks.setdefault(mark.operation, []).append(mark)
    tabs = marks_path(marks.pop(Operation.TAB, []))
    # Holes to drill are small: dashes would leave bits of them only.
    drilled = marks_path(marks.pop(Operation.DRILL, []))
    painter.setPen(cosmetic(QColor("#111111"), 1.0))
    painter.drawPath(drilled)
    painter.setPen(cosmetic(QColor("#111111"), 1.0, Qt.PenStyle.DashLine))
    painter.drawPath(marks_path(m for group in marks.values() for m in group))
    for colour, width in ((QColor("#111111"), 7.0), (QColor("#FFFFFF"), 3.5)):
        pen = cosmetic(colour, width)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(pen)
        painter.drawPath(tabs)


def paint_screws(
    painter: QPainter, spots: Sequence[Point], theme: Theme, blank: Point = (0.0, 0.0)
) -> None:
    """Paint where a screw may go: a ring with a cross, at a screen size."""
    for x, y in spots:
        at = painter.worldTransform().map(QPointF(x + blank[0], y + blank[1]))
        painter.save()
        painter.resetTransform()
        painter.setPen(QPen(theme.halo, 4.0))
        painter.setBrush(theme.halo)
        painter.drawEllipse(at, 6.0, 6.0)
        painter.setPen(QPen(theme.ink, 1.6))
        painter.drawEllipse(at, 6.0, 6.0)
        for dx, dy in ((4.2, 4.2), (4.2, -4.2)):
            painter.drawLine(at - QPointF(dx, dy), at + QPointF(dx, dy))
        painter.restore()


def _path_at(look: Look, scale: float) -> QPainterPath:
    """Return a part's path: true curves when it is large on screen."""
    x0, y0, x1, y1 = look.box
    if max(x1 - x0, y1 - y0) * scale > 200.0:
        return STORE.exact(look.cut)
    return coarse_path(look.cut, 0.5 / scale)


_coarse_paths: dict[tuple[int, int], tuple[Outline, QPainterPath]] = {}


def has_coarse_path(outline: Outline, pixel: float) -> bool:
    """Return whether `coarse_path` has its answer in memory."""
    found = _coarse_paths.get((id(outline), math.floor(math.log2(pixel))))
    return found is not None and found[0] is outline


def coarse_path(outline: Outline, pixel: float) -> QPainterPath:
    """Return an outline as a path that looks the same at `pixel` mm a pixel."""
    level = math.floor(math.log2(pixel))
    found = _coarse_paths.get((id(outline), level))
    if found is None or found[0] is not outline:
        if len(_coarse_paths) > 8192:
            _coarse_paths.clear()
        found = (outline, polygon_path(STORE.coarse(outline, pixel)))
        _coarse_paths[id(outline), level] = found
    return found[1]


_widths: dict[tuple[str, str], float] = {}


def _text_width(text: str, font: QFont) -> float:
    key = (text, font.key())
    width = _widths.get(key)
    if width is None:
        if len(_widths) > 8192:
            _widths.clear()
        width = _widths[key] = QFontMetricsF(font).horizontalAdvance(text)
    return width


def _paint_name(
    painter: QPainter,
    look: Look,
    fill: QColor,
    ink: QColor,
    font: QFont,
    scale: float,
) -> None:
    height = QFontMetricsF(font).height()
    names = (look.name, str(look.placement.copy))
    x0, y0, x1, y1 = look.box
    # Words do best beside what is engraved or drilled, then anywhere on the part.
    for spot, radius in label_spots(look.part):
        # They may be wider than the round spot they stand on, but not much.
        room = radius * scale
        fit = [t for t in names if _text_width(t, font) + 8 <= 2.6 * room]
        place = look.placement.motion.point(spot)
        at = painter.worldTransform().map(QPointF(*place))
        if fit and height >= LEAST_TEXT and room >= height * 0.55:
            box = text_on_screen(painter, place, fit[0], font, ink, plate=fill)
            if x1 - x0 > y1 - y0:
                at = QPointF(box.left() - 13.0, box.center().y())
            else:
                at = QPointF(at.x(), box.top() - 13.0)
            break
    if look.placement.locked:
        _paint_padlock(painter, at.x(), at.y(), fill, ink)


_spots: dict[int, tuple[Part, tuple[tuple[Point, float], ...]]] = {}


def label_spots(part: Part) -> tuple[tuple[Point, float], ...]:
    """Return where a part's name may stand, the best place first, from memory.

    Returns
    -------
    tuple of tuple
        Places in the part's own coordinates and the radius of the material round each,
        mm: one clear of all marks if there are any, and one that minds the edges only.
    """
    found = _spots.get(id(part))
    if found is None or found[0] is not part:
        if len(_spots) > 4096:
            _spots.clear()
        shape = flat(part.outline)
        spots = [(shape.label_point, shape.label_radius)]
        if part.marks:
            marks = shapely.union_all([shapely.box(*m.bounds) for m in part.marks])
            clear = shape.polygon.difference(marks)
            if not clear.is_empty:
                circle = shapely.maximum_inscribed_circle(clear, tolerance=1.0)
                (x, y), rim = circle.coords[0], circle.coords[-1]
                spots.insert(0, ((x, y), math.dist((x, y), rim)))
        found = _spots[id(part)] = (part, tuple(spots))
    return found[1]


def _paint_padlock(
    painter: QPainter, x: float, y: float, fill: QColor, ink: QColor
) -> None:
    """Paint a padlock at a place given in pixels."""
    painter.save()
    painter.resetTransform()
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(fill)
    painter.drawEllipse(QPointF(x, y), 11.0, 11.0)
    painter.setPen(QPen(ink, 1.8))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawArc(QRectF(x - 3.5, y - 7.0, 7.0, 9.0), 0, 180 * 16)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ink)
    painter.drawRoundedRect(QRectF(x - 5.5, y - 2.0, 11.0, 8.0), 1.5, 1.5)
    painter.restore()


_cut: dict[int, tuple[Part, object, Outline]] = {}


def cut_outline(job: Job, part: Part) -> Outline:
    """Return a part's outline with the relief that is asked for, from memory."""
    kind = relief_of(job, part)
    if kind is ReliefKind.NONE:
        return part.outline
    asked = (kind, job.cutting.cutter)
    found = _cut.get(id(part))
    if found is None or found[0] is not part or found[1] != asked:
        if len(_cut) > 4096:
            _cut.clear()
        found = _cut[id(part)] = (part, asked, as_cut(job, part).part.outline)
    return found[2]


_places: tuple[tuple[Part, ...], dict[str, int]] = ((), {})


def _place_of(job: Job) -> dict[str, int]:
    """Return each part's place in the order; from memory for blank after blank."""
    global _places
    if _places[0] is not job.parts:
        _places = (job.parts, {part.id: i for i, part in enumerate(job.parts)})
    return _places[1]


def looks_of(job: Job, blank: int, names: dict[Key, str]) -> list[Look]:
    """Return how everything on a blank is to be drawn."""
    place = _place_of(job)
    return [
        Look(
            p,
            job.part(p.part_id),
            place[p.part_id],
            names.get(key_of(p), p.part_id),
            box_of(job, p),
            cut_outline(job, job.part(p.part_id)),
        )
        for p in job.layout.placements
        if p.blank == blank
    ]
