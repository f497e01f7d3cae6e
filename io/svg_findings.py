"""Every finding of the SVG reader: code, severity, cause and cure in one table."""

from __future__ import annotations

from .findings import Severity
from .notes import Kind

_I, _W, _E = Severity.INFO, Severity.WARNING, Severity.ERROR

KINDS: dict[str, Kind] = {
    # the file as text
    "svg-encoding-mended": Kind(
        _W, "the file's letters are not what it says: {detail}", "check names", True
    ),
    "svg-control-characters": Kind(
        _W, "control characters that XML forbids, taken out: {n}", "", True
    ),
    "svg-namespace-missing": Kind(
        _I, "names the file does not declare: {detail}; read all the same", "", True
    ),
    "svg-stylesheet-link": Kind(
        _W,
        "style sheets outside the file, never fetched: {n}",
        "put the styles into the drawing if shapes are missing or should be hidden",
    ),
    # what has no outline
    "svg-text": Kind(
        _W,
        "pieces of text, which have no outline, left out: {n}",
        "turn text into outlines in the drawing program",
    ),
    "svg-bitmap": Kind(
        _W,
        "pictures made of dots instead of lines, left out: {n}",
        "draw or trace the outlines",
    ),
    "svg-foreign-content": Kind(
        _I, "content that is not SVG, left out: {n} ({detail})"
    ),
    "svg-unknown-element": Kind(
        _I, "elements of an unknown kind, left out: {n} ({detail})"
    ),
    "svg-script": Kind(_I, "scripts, never run: {n}"),
    "svg-animation": Kind(_I, "animations, left out, shapes read as at rest: {n}"),
    # hidden
    "svg-hidden": Kind(
        _I,
        "hidden shapes, left out: {n} ({detail})",
        "show them in the drawing program to have them read",
    ),
    "svg-unpainted": Kind(
        _I,
        "shapes with neither fill nor line, left out: {n}",
        "give them a line colour to have them read",
    ),
    "svg-hairline": Kind(
        _I, "lines of width 0, strictly invisible, read all the same: {n}"
    ),
    "svg-outside-page": Kind(_I, "shapes that lie wholly outside the page: {n}"),
    "svg-not-drawn": Kind(
        _I,
        "shapes kept as definitions and not drawn by themselves, left out: {n} "
        "({detail})",
    ),
    # effects that change what is seen but not the path
    "svg-clip": Kind(
        _W,
        "shapes cut off by a clipping path, read whole: {n}",
        "apply the clip in the drawing program if only a piece is wanted",
    ),
    "svg-mask": Kind(
        _W,
        "shapes partly hidden by a mask, read whole: {n}",
        "remove the mask, or cut the shape in the drawing program",
    ),
    "svg-pattern": Kind(
        _W,
        "shapes filled with a pattern, whose own lines were left out: {n}",
        "turn the pattern into shapes if it should be cut",
    ),
    "svg-marker": Kind(
        _I, "shapes with arrow heads or other markers, which were left out: {n}"
    ),
    "svg-filter": Kind(
        _I, "shapes with shadows or other filters, which were left out: {n}"
    ),
    "svg-gradient": Kind(_I, "shapes filled with a gradient, outline read: {n}"),
    "svg-dashes": Kind(_I, "dashed lines, read as whole lines: {n}"),
    # references
    "svg-use-missing": Kind(
        _W,
        "copies of something that is not there, left out: {n} ({detail})",
        "check that nothing is missing",
    ),
    "svg-use-cycle": Kind(
        _W,
        "copies that contain themselves, not repeated: {n} ({detail})",
        "check that nothing is missing",
    ),
    "svg-external": Kind(
        _W,
        "references to other files or addresses, never fetched: {n} ({detail})",
        "put the content into the drawing",
    ),
    "svg-duplicate-id": Kind(
        _I, "ids used more than once, of which the first counts: {n} ({detail})"
    ),
    # what could not be read
    "svg-path-error": Kind(
        _W,
        "paths with an error, read up to it: {n} ({detail})",
        "compare these shapes with the drawing",
    ),
    "svg-bad-value": Kind(
        _W,
        "values that make no sense, taken as not given: {n} ({detail})",
        "check these shapes",
    ),
    "svg-bad-transform": Kind(
        _W,
        "transforms that make no sense, taken as none: {n} ({detail})",
        "check place and size of these shapes",
    ),
    "svg-flat-transform": Kind(
        _W,
        "shapes scaled to nothing, left out: {n}",
        "give them a scale if they are wanted",
    ),
    "svg-out-of-range": Kind(
        _W,
        "shapes beyond any sheet, or with numbers that are none, left out: {n}",
        "redraw them near the page",
    ),
    "svg-empty-shape": Kind(_I, "shapes without any length, left out: {n}"),
    "svg-css": Kind(
        _W,
        "style rules that could not be read, left out: {n} ({detail})",
        "check that nothing is shown or hidden wrongly",
    ),
    "svg-media": Kind(_I, "styles for other media than the screen, left out: {n}"),
    "svg-transform-box": Kind(
        _W,
        "transforms about a box that is not supported, taken about the page: {n} "
        "({detail})",
        "apply the transform in the drawing program",
    ),
    # size
    "svg-no-size": Kind(
        _W,
        "the page states no true size; {detail}",
        "say it with --units, or give a size you know with --known-width",
    ),
    "svg-size-stretched": Kind(
        _W,
        "the page is stretched: one unit is {detail}",
        "check width and height of one known part",
    ),
    "svg-size-broken": Kind(
        _W,
        "part of the page's size makes no sense, taken as not given ({detail})",
        "check one known dimension",
    ),
    # shapes
    "svg-fill-closed": Kind(
        _I, "open filled shapes, closed by a straight line as seen: {n}", "", True
    ),
    "svg-line-outline": Kind(
        _W,
        "lines that seem to have been turned into thin filled shapes: {n} ({detail})",
        "undo that in the drawing program, or both edges of the line become cuts",
    ),
    "svg-empty": Kind(
        _E, "there is no line or shape in the drawing{detail}", "check the file"
    ),
}
