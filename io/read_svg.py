"""SVG files to drawings: strokes in mm, the reading of the size, findings.

The geometry is the path itself, never the outer edge of its line. Nothing outside
the file is ever fetched.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from ..nesting.model.curve import Box, Line
from ..nesting.model.outline import bounds_of
from .affine import Affine
from .drawing import Drawing, Stroke
from .files import read_bytes
from .limits import Budget, Limits
from .notes import Notes, tame
from .svg_curves import to_mm
from .svg_findings import KINDS
from .svg_length import length_px
from .svg_line_outline import line_width
from .svg_names import group_name, own_name, where
from .svg_paint import Look, look, parse_opacity
from .svg_path import SubPath
from .svg_shapes import SHAPES, shape_paths
from .svg_strokes import StrokeMaker, is_cut_off
from .svg_style import Cascade, Style
from .svg_text import read_text
from .svg_transform import individual_transforms, parse_origin, parse_transform
from .svg_use_count import expect_uses
from .svg_viewport import Page, fit, parse_view_box, read_page
from .svg_xml import Node, parse_xml

_GROUPS = frozenset({"g", "a"})
_DEFINITIONS = frozenset(
    "clipPath cursor defs filter font font-face glyph hatch hatchpath linearGradient "
    "marker mask mesh meshgradient pattern radialGradient solidcolor symbol".split()
)
_SILENT = frozenset({"desc", "metadata", "style", "title", "view"})
_ANIMATIONS = frozenset(
    "animate animateColor animateMotion animateTransform discard mpath set".split()
)
_PICTURES = frozenset({"image", "video", "canvas"})
_TEXTS = frozenset({"text", "tspan", "tref", "textPath", "altGlyph"})
_REFERENCE = re.compile(r"""url\(\s*["']?#([^"')]+?)["']?\s*\)""")


@dataclass(frozen=True, slots=True)
class _Surroundings:
    """What an element takes over from those it stands in."""

    affine: Affine
    style: Style
    view: tuple[float, float]
    layer: str = ""
    name: str = ""
    chain: tuple[int, ...] = ()
    effects: frozenset[str] = frozenset()
    clips: tuple[Box, ...] = ()
    """Clipping paths that are upright rectangles, mm; others are effects."""


def read_svg(
    path: str | Path,
    unit: str | None = None,
    limits: Limits | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Drawing:
    """Read an SVG file, packed with gzip or not.

    Parameters
    ----------
    path : str or Path
        The file.
    unit : str, optional
        What one user unit of the page is, where the user knows better than the file:
        ``mm``, ``in``, ``px72`` …
    limits : Limits, optional
        How much it may hold.
    cancelled : callable, optional
        Asked now and then; returning True ends the reading.

    Raises
    ------
    InputError
        If the file cannot be read, is not SVG, is damaged or passes a limit.
    Cancelled
        If `cancelled` returned True.
    """
    limits = limits or Limits()
    data = read_bytes(Path(path), limits.file_bytes)
    return read_svg_data(data, str(path), unit, limits, cancelled)


def read_svg_data(
    data: bytes,
    file: str = "drawing.svg",
    unit: str | None = None,
    limits: Limits | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Drawing:
    """Read an SVG drawing from bytes; see `read_svg`."""
    budget = Budget(file, limits, cancelled)
    notes = Notes(file, KINDS)
    root = parse_xml(read_text(data, budget, notes), budget, notes)
    page = read_page(root, unit, notes)
    reader = _Reader(root, page, budget, notes)
    reader.read()
    if not reader.strokes:
        notes.add("svg-empty", detail=_why_empty(notes))
    return Drawing(file, tuple(reader.strokes), page.units, notes.findings())


def _why_empty(notes: Notes) -> str:
    for code, words in (
        ("svg-bitmap", ": it holds only a picture, which is a bitmap"),
        ("svg-text", ": it holds only text that was not turned into outlines"),
        ("svg-hidden", ": everything in it is hidden"),
        ("svg-unpainted", ": nothing in it has a fill or a line"),
    ):
        if notes.count(code):
            return words
    return ""


class _Reader:
    """Walks the tree in drawing order; every element once for each time it is drawn."""

    def __init__(self, root: Node, page: Page, budget: Budget, notes: Notes) -> None:
        self._root = root
        self._page = page
        self._budget = budget
        self._notes = notes
        self._cascade = Cascade(root, budget, notes)
        self._maker = StrokeMaker(page.size, budget, notes)
        self._waiting: list[tuple[Node, _Surroundings]] = []
        self._parsed: dict[int, list[SubPath]] = {}
        self._drawn: set[int] = set()
        self._kept: list[Node] = []
        self._shapes_in: dict[int, int] = {}
        self._ids: dict[str, Node] = {}
        self.strokes: list[Stroke] = []
        for node in root.walk():
            if node.id and self._ids.setdefault(node.id, node) is not node:
                notes.add("svg-duplicate-id", detail=tame(node.id))
        expect_uses(root, self._ids, _DEFINITIONS, budget)

    def read(self) -> None:
        """Read everything that is drawn."""
        page = self._page
        self._element(self._root, _Surroundings(page.affine, Style(), page.view))
        while self._waiting:
            self._budget.tick()
            node, around = self._waiting.pop()
            if around.chain:
                self._budget.entity()
            self._element(node, around)
        for node in self._kept:
            left = sum(
                n.tag in SHAPES and id(n) not in self._drawn for n in node.walk()
            )
            self._notes.add("svg-not-drawn", detail=node.tag, count=left)

    def _element(self, node: Node, around: _Surroundings) -> None:
        tag = node.tag
        if tag in SHAPES or tag in _GROUPS or tag in ("svg", "use", "switch"):
            inside = self._inside(node, around)
            if inside is None:
                return
            if tag in SHAPES:
                self._shape(node, inside)
            elif tag == "use":
                self._use(node, inside)
            elif tag == "switch":
                chosen = [n for n in node.children if _accepted(n)]
                self._waiting.extend((n, inside) for n in chosen[:1])
            elif node is self._root or tag in _GROUPS:
                self._push(node, inside)
            else:
                self._push(node, self._viewport(node, inside, {}))
        elif tag in _DEFINITIONS:
            self._kept.append(node)
        elif tag in _TEXTS:
            self._left_out(node, around, "svg-text")
        elif tag in _PICTURES:
            self._left_out(node, around, "svg-bitmap")
        elif tag == "script":
            self._notes.add("svg-script")
        elif tag in _ANIMATIONS:
            self._notes.add("svg-animation")
        elif tag == "foreignObject" or (not tag and self._matters(node)):
            self._notes.add("svg-foreign-content", detail=tame(node.kind))
        elif tag and tag not in _SILENT:
            self._notes.add("svg-unknown-element", detail=tame(node.kind))

    def _push(self, node: Node, inside: _Surroundings) -> None:
        """Put an element's children on top of what waits, the first uppermost."""
        for child in reversed(node.children):
            self._waiting.append((child, _for_child(child, inside)))
        for child in node.children:
            if child.tag in _ANIMATIONS and node.tag in SHAPES:
                self._notes.add("svg-animation")

    def _inside(self, node: Node, around: _Surroundings) -> _Surroundings | None:
        """Return an element's own surroundings; None if all of it is hidden."""
        style = self._cascade.style(node, around.style)
        if style.get("display") == "none":
            self._hidden(node, "display: none")
            return None
        opacity = style.get("opacity")
        if opacity is not None and parse_opacity(opacity) == 0.0:
            self._hidden(node, "opacity 0")
            return None
        effects = around.effects
        clips = around.clips
        affine = around.affine @ self._transform(node, style, around.view)
        for name in ("clip-path", "mask", "mask-image", "filter"):
            value = style.get(name)
            if value in (None, "none", ""):
                continue
            box = None
            if name == "clip-path":
                box = self._clip_box(value or "", replace(around, affine=affine))
            if box is not None:
                clips = (*clips, box)
            else:
                effects = effects | {name.split("-")[0]}
        name = own_name(node)
        layer = around.layer
        if node is not self._root and node.tag in ("g", "a", "svg", "symbol"):
            layer = group_name(node) or layer
        return replace(
            around,
            affine=affine,
            style=style,
            layer=layer,
            name=around.name or name,
            effects=effects,
            clips=clips,
        )

    def _clip_box(self, reference: str, around: _Surroundings) -> Box | None:
        """Return the upright rectangle that a clipping path is, mm; None if another.

        Such a path around a whole page or shape is common and cuts nothing off.
        """
        match = _REFERENCE.fullmatch(reference)
        clip = self._ids.get(match[1]) if match else None
        if clip is None or clip.tag != "clipPath":
            return None
        children = [child for child in clip.children if child.tag in SHAPES]
        if (
            len(children) != 1
            or clip.get("clipPathUnits", "userSpaceOnUse") != "userSpaceOnUse"
            or clip.get("clip-path")
        ):
            return None
        affine = around.affine
        for node in (clip, children[0]):
            style = self._cascade.style(node, Style())
            affine = affine @ self._transform(node, style, around.view)
        inside = replace(around, affine=affine, style=style)
        paths, _ = shape_paths(
            children[0],
            style.get("d"),
            lambda name, axis: self._length(children[0], inside, name, axis),
            self._budget,
        )
        if len(paths) != 1 or not 3 <= len(paths[0].segments) <= 5:
            return None
        pieces = [p for s in paths[0].segments for p in to_mm(s, affine)]
        if not all(isinstance(p, Line) and self._maker.usable(p) for p in pieces):
            return None
        pieces.append(Line(pieces[-1].end, pieces[0].start))
        x0, y0, x1, y1 = bounds_of(pieces)
        area = abs(math.fsum(piece.swept_area() for piece in pieces))
        full = (x1 - x0) * (y1 - y0)
        return (x0, y0, x1, y1) if abs(area - full) <= 1e-6 * full else None

    def _transform(self, node: Node, style: Style, view: tuple[float, float]) -> Affine:
        text = style.get("transform")
        move, turn, scale = map(style.get, ("translate", "rotate", "scale"))
        if not (text or move or turn or scale):
            return Affine()
        try:
            left, top, *size = self._transform_box(node, style, view)
            box = (size[0], size[1])
            affine = individual_transforms(move, turn, scale, box) @ parse_transform(
                text or "none", box
            )
            x, y = parse_origin(style.get("transform-origin") or "0 0", box)
            x, y = x + left, y + top
            if x or y:
                affine = Affine.move(x, y) @ affine @ Affine.move(-x, -y)
        except ValueError as error:
            self._notes.add("svg-bad-transform", where(node), tame(str(error), 60))
            return Affine()
        return affine

    def _transform_box(
        self, node: Node, style: Style, view: tuple[float, float]
    ) -> tuple[float, float, float, float]:
        """Return the box a transform refers to: corner and size, user units.

        That is the view, or the shape's own box; a group's own box is not known here.
        """
        kind = (style.get("transform-box") or "view-box").lower()
        if kind in ("view-box", "border-box"):
            return 0.0, 0.0, *view
        if kind in ("fill-box", "content-box") and node.tag in SHAPES:
            inside = _Surroundings(Affine(), style, view)
            paths, _ = shape_paths(
                node,
                style.get("d"),
                lambda name, axis: self._length(node, inside, name, axis),
                self._budget,
            )
            pieces = [p for t in paths for s in t.segments for p in to_mm(s, Affine())]
            if pieces and all(self._maker.usable(piece) for piece in pieces):
                x0, y0, x1, y1 = bounds_of(pieces)
                return x0, y0, x1 - x0, y1 - y0
        self._notes.add("svg-transform-box", where(node), tame(kind))
        return 0.0, 0.0, *view

    def _hidden(self, node: Node, why: str) -> None:
        self._notes.add("svg-hidden", where(node), why, count=self._count_shapes(node))

    def _count_shapes(self, node: Node) -> int:
        known = self._shapes_in.get(id(node))
        if known is None:
            drawing = SHAPES | _TEXTS | _PICTURES | {"use"}
            known = sum(n.tag in drawing for n in node.walk())
            self._shapes_in[id(node)] = known
        return known

    def _left_out(self, node: Node, around: _Surroundings, code: str) -> None:
        style = self._cascade.style(node, around.style)
        if style.get("display") == "none":
            self._hidden(node, "display: none")
            return
        href = node.href
        if href and not href.startswith(("#", "data:")):
            self._notes.add("svg-external", where(node), tame(href))
        self._notes.add(code, where(node))

    @staticmethod
    def _matters(node: Node) -> bool:
        """Return whether foreign content might be something to cut or to read."""
        return any(n.tag in SHAPES or n.text.strip() for n in node.walk())

    def _use(self, node: Node, inside: _Surroundings) -> None:
        href = node.href
        if not href.startswith("#"):
            code = "svg-external" if href else "svg-use-missing"
            self._notes.add(code, where(node), tame(href))
            return
        target = self._ids.get(href[1:])
        if target is None or not target.tag:
            self._notes.add("svg-use-missing", where(node), tame(href))
            return
        if id(target) in inside.chain or _holds(target, node):
            self._notes.add("svg-use-cycle", where(node), tame(href))
            return
        self._budget.depth(len(inside.chain) + 1)
        x = self._length(node, inside, "x", 0)
        y = self._length(node, inside, "y", 1)
        is_shape = target.tag in SHAPES
        placed = replace(
            inside,
            affine=inside.affine @ Affine.move(x or 0.0, y or 0.0),
            chain=(*inside.chain, id(target)),
            name=inside.name if is_shape else "",
            layer=inside.layer if is_shape else group_name(node) or inside.layer,
        )
        if target.tag in ("symbol", "svg"):
            size = {
                name: value
                for name, axis in (("width", 0), ("height", 1))
                if (value := self._length(node, inside, name, axis)) is not None
            }
            own = self._inside(target, placed)
            if own is not None:
                self._push(target, self._viewport(target, own, size))
        elif target.tag in SHAPES or target.tag in _GROUPS | {"use", "switch"}:
            self._waiting.append((target, placed))
        elif target.tag in _TEXTS | _PICTURES:
            self._element(target, placed)
        else:
            self._notes.add("svg-use-missing", where(node), tame(href))

    def _viewport(
        self, node: Node, inside: _Surroundings, size: dict[str, float]
    ) -> _Surroundings:
        """Return the surroundings inside a nested ``svg`` or a ``symbol``."""
        view = inside.view
        box = None
        try:
            box = parse_view_box(node.get("viewBox"))
        except ValueError as error:
            self._notes.add("svg-bad-value", where(node), tame(str(error), 60))
        extent = []
        for name, axis in (("width", 0), ("height", 1)):
            value = size.get(name)
            if value is None:
                value = self._length(node, inside, name, axis)
            extent.append(view[axis] if value is None else value)
        width, height = extent
        x = self._length(node, inside, "x", 0) or 0.0
        y = self._length(node, inside, "y", 1) or 0.0
        affine = inside.affine @ Affine.move(x, y)
        if box is not None:
            affine = affine @ fit(box, width, height, node.get("preserveAspectRatio"))
            width, height = box[2], box[3]
        return replace(inside, affine=affine, view=(width, height), name="")

    def _length(
        self, node: Node, inside: _Surroundings, name: str, axis: int
    ) -> float | None:
        """Return a length of an element; None if it is not given, ``auto`` or wrong.

        Parameters
        ----------
        axis : int
            What percentages refer to: 0 the view's width, 1 its height, 2 neither.
        """
        text = inside.style.get(name)
        if text is None:
            text = node.get(name)
        text = text.strip()
        if text in ("", "auto"):
            return None
        width, height = inside.view
        whole = (width, height, math.hypot(width, height) / math.sqrt(2.0))[axis]
        try:
            return length_px(text, whole, self._font_size(inside.style))
        except ValueError as error:
            self._notes.add("svg-bad-value", where(node), f"{name} {error}"[:60])
            return None

    @staticmethod
    def _font_size(style: Style) -> float:
        try:
            return length_px(style["font-size"], 16.0)
        except ValueError:
            return 16.0

    def _shape(self, node: Node, inside: _Surroundings) -> None:
        style = inside.style
        if style["visibility"].lower() in ("hidden", "collapse"):
            self._notes.add("svg-hidden", where(node), "visibility: hidden")
            return
        painted = look(style)
        if not painted.seen:
            self._notes.add("svg-unpainted", where(node))
            return
        self._drawn.add(id(node))
        paths = self._parsed.get(id(node))
        if paths is None:
            paths, error = shape_paths(
                node,
                style.get("d"),
                lambda name, axis: self._length(node, inside, name, axis),
                self._budget,
            )
            if error:
                self._notes.add("svg-path-error", where(node), error)
            if inside.chain and node.tag in ("path", "polyline", "polygon"):
                self._parsed[id(node)] = paths  # their numbers know no percentages
        self._effects(node, inside, painted)
        for child in node.children:
            if child.tag in _ANIMATIONS:
                self._notes.add("svg-animation")
        strokes = [
            stroke
            for path in paths
            if (stroke := self._stroke(node, path, inside, painted)) is not None
        ]
        self.strokes.extend(strokes)
        if "clip" not in inside.effects and is_cut_off(strokes, inside.clips):
            self._notes.add("svg-clip", where(node))
        if painted.fill.seen and not painted.stroke.seen and len(strokes) <= 2:
            width = line_width(strokes)
            if width is not None:
                place = strokes[0].segments[0].start
                self._notes.add(
                    "svg-line-outline", where(node), f"{width:.2g} mm wide", place
                )

    def _stroke(
        self, node: Node, path: SubPath, inside: _Surroundings, painted: Look
    ) -> Stroke | None:
        self._budget.tick()
        if inside.chain:
            self._budget.vertices(len(path.segments))
        return self._maker.make(
            path, inside.affine, painted, inside.layer, inside.name, where(node)
        )

    def _effects(self, node: Node, inside: _Surroundings, painted: Look) -> None:
        style = inside.style
        for effect in inside.effects:
            self._notes.add(f"svg-{effect}", where(node))
        for paint in (painted.fill, painted.stroke):
            if not paint.seen or not paint.server:
                continue
            if not paint.server.startswith("#"):
                self._notes.add("svg-external", where(node), tame(paint.server))
                continue
            server = self._ids.get(paint.server[1:])
            kind = server.tag if server is not None else ""
            code = "svg-pattern" if kind in ("pattern", "hatch") else "svg-gradient"
            self._notes.add(code, where(node))
        markers = (style["marker-start"], style["marker-mid"], style["marker-end"])
        if any(marker not in ("none", "") for marker in markers):
            self._notes.add("svg-marker", where(node))
        if painted.stroke.seen and style["stroke-dasharray"] not in ("none", "", "0"):
            self._notes.add("svg-dashes", where(node))
        if painted.hairline and not painted.fill.seen:
            self._notes.add("svg-hairline", where(node))


def _for_child(child: Node, inside: _Surroundings) -> _Surroundings:
    """Return the surroundings for a child: it has a name of its own."""
    return replace(inside, name="") if inside.name else inside


def _accepted(node: Node) -> bool:
    """Return whether a child of ``switch`` may be the one that is drawn."""
    if not node.tag or node.tag in _SILENT or node.tag == "foreignObject":
        return False
    if node.get("requiredExtensions").strip():
        return False
    languages = node.attributes.get("systemLanguage")
    return languages is None or any(
        word.strip().lower().startswith("en") for word in languages.split(",")
    )


def _holds(target: Node, node: Node) -> bool:
    above: Node | None = node
    while above is not None:
        if above is target:
            return True
        above = above.parent
    return False
