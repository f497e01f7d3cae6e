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
        _W, "{n} control character[|s] that XML forbids [was|were] taken out", "", True
    ),
    "svg-namespace-missing": Kind(
        _I,
        "names that the file does not declare ({detail}) were read all the same",
        "",
        True,
    ),
    "svg-stylesheet-link": Kind(
        _W,
        "{n} style sheet[|s] outside the file [was|were] never fetched",
        "put the styles into the drawing if shapes are missing or should be hidden",
    ),
    # what has no outline
    "svg-text": Kind(
        _W,
        "{n} piece[|s] of text [was|were] left out, as text has no outline",
        "turn it into outlines in the drawing program to engrave it",
    ),
    "svg-bitmap": Kind(
        _W,
        "{n} picture[|s] made of dots instead of lines [was|were] left out",
        "draw or trace the outlines",
    ),
    "svg-foreign-content": Kind(
        _I, "{n} piece[|s] of content that is not SVG [was|were] left out ({detail})"
    ),
    "svg-unknown-element": Kind(
        _I, "{n} element[|s] of an unknown kind [was|were] left out ({detail})"
    ),
    "svg-script": Kind(_I, "{n} script[|s] in the file [was|were] never run"),
    "svg-animation": Kind(
        _I, "{n} animation[|s] [was|were] left out; the shapes were read as at rest"
    ),
    # hidden
    "svg-hidden": Kind(
        _I,
        "{n} hidden shape[|s] [was|were] left out ({detail})",
        "show [it|them] in the drawing program to have [it|them] read",
    ),
    "svg-unpainted": Kind(
        _I,
        "{n} shape[|s] with neither fill nor line [was|were] left out",
        "give [it|them] a line colour to have [it|them] read",
    ),
    "svg-hairline": Kind(
        _I, "{n} line[|s] of width 0, strictly invisible, [was|were] read all the same"
    ),
    "svg-outside-page": Kind(
        _I,
        "{n} shape[ lies|s lie] wholly outside the page and [was|were] read all "
        "the same",
    ),
    "svg-not-drawn": Kind(
        _I,
        "{n} shape[|s] that the file only keeps to be copied, and never draws, "
        "[was|were] left out ({detail})",
    ),
    # effects that change what is seen but not the path
    "svg-clip": Kind(
        _W,
        "{n} shape[|s] cut off by a clipping path [was|were] read whole",
        "apply the clip in the drawing program if only a piece is wanted",
    ),
    "svg-mask": Kind(
        _W,
        "{n} shape[|s] partly hidden by a mask [was|were] read whole",
        "remove the mask, or cut the shape in the drawing program",
    ),
    "svg-pattern": Kind(
        _W,
        "{n} shape[ is|s are] filled with a pattern, whose own lines were left out",
        "turn the pattern into shapes if it should be cut",
    ),
    "svg-marker": Kind(
        _I, "{n} shape[ has|s have] arrow heads or other markers, which were left out"
    ),
    "svg-filter": Kind(
        _I, "{n} shape[ has|s have] shadows or other filters, which were left out"
    ),
    "svg-gradient": Kind(
        _I, "{n} shape[ is|s are] filled with a gradient; the outline was read"
    ),
    "svg-dashes": Kind(
        _I, "{n} dashed line[ was read as a whole line|s were read as whole lines]"
    ),
    # references
    "svg-use-missing": Kind(
        _W,
        "{n} cop[y|ies] of something that is not there [was|were] left out ({detail})",
        "check that nothing is missing",
    ),
    "svg-use-cycle": Kind(
        _W,
        "{n} cop[y contains itself and was|ies contain themselves and were] not "
        "repeated ({detail})",
        "check that nothing is missing",
    ),
    "svg-external": Kind(
        _W,
        "{n} reference[ to another file or address was|s to other files or "
        "addresses were] never fetched ({detail})",
        "put the content into the drawing",
    ),
    "svg-duplicate-id": Kind(
        _I,
        "{n} id[ is|s are] used more than once, of which the first counts ({detail})",
    ),
    # what could not be read
    "svg-path-error": Kind(
        _W,
        "{n} path[ has an error and was|s have an error and were] read up to it "
        "({detail})",
        "compare [this shape|these shapes] with the drawing",
    ),
    "svg-bad-value": Kind(
        _W,
        "{n} value[ makes no sense and was|s make no sense and were] taken as "
        "not given ({detail})",
        "check [this shape|these shapes]",
    ),
    "svg-bad-transform": Kind(
        _W,
        "{n} transform[ makes no sense and was|s make no sense and were] taken "
        "as none ({detail})",
        "check place and size of [this shape|these shapes]",
    ),
    "svg-flat-transform": Kind(
        _W,
        "{n} shape[|s] scaled to nothing [was|were] left out",
        "give [it|them] a scale if [it is|they are] wanted",
    ),
    "svg-out-of-range": Kind(
        _W,
        "{n} shape[|s] beyond any sheet, or with numbers that are none, "
        "[was|were] left out",
        "redraw [it|them] near the page",
    ),
    "svg-empty-shape": Kind(_I, "{n} shape[|s] without any length [was|were] left out"),
    "svg-css": Kind(
        _W,
        "{n} style rule[|s] that could not be read [was|were] left out ({detail})",
        "check that nothing is shown or hidden wrongly",
    ),
    "svg-media": Kind(
        _I, "{n} style[|s] for other media than the screen [was|were] left out"
    ),
    "svg-transform-box": Kind(
        _W,
        "{n} transform[|s] about a box that is not supported [was|were] taken "
        "about the page ({detail})",
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
        "the page is stretched: {detail}",
        "check width and height of one known part",
    ),
    "svg-size-broken": Kind(
        _W,
        "part of the page's size makes no sense, taken as not given ({detail})",
        "check one known dimension",
    ),
    # shapes
    "svg-fill-closed": Kind(
        _I,
        "{n} open filled shape[|s] [was|were] closed by a straight line, as seen",
        "",
        True,
    ),
    "svg-line-outline": Kind(
        _W,
        "{n} line[ seems to have been turned into a thin filled shape|s seem to "
        "have been turned into thin filled shapes] ({detail})",
        "undo that in the drawing program, or both edges of the line become cuts",
    ),
    "svg-empty": Kind(
        _E, "there is no line or shape in the drawing{detail}", "check the file"
    ),
}
