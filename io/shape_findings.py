"""Findings about shapes and units, whatever file they come from, in one table."""

from __future__ import annotations

from .findings import Severity
from .notes import Kind

_I, _W, _E = Severity.INFO, Severity.WARNING, Severity.ERROR

KINDS: dict[str, Kind] = {
    # units
    "units-unknown": Kind(
        _W,
        "the file does not say its unit; {detail}",
        "say it with --units mm or --units in, or give a size you know with "
        "--known-width",
    ),
    "units-doubtful": Kind(
        _W,
        "the file says its unit, but the sizes look odd; {detail}",
        "if that is wrong, say the unit with --units, or give a size you know with "
        "--known-width",
    ),
    "scale-known": Kind(_I, "the scale follows from the size you gave: {detail}"),
    "scale-odd": Kind(
        _W,
        "no usual unit gives the size you said, so the drawing was scaled: {detail}",
        "check one more size",
    ),
    "size-skewed": Kind(
        _W,
        "the width and the height you gave disagree by {detail}; the mean was taken",
        "check both, or give only the surer one",
    ),
    # loops
    "gap-closed": Kind(
        _W, "gaps between line ends, closed: {n} ({detail})", "look at them", True
    ),
    "gap-left": Kind(
        _W,
        "line ends that nearly meet but were left open: {n} ({detail})",
        "close them in the drawing",
    ),
    "line-doubled": Kind(
        _I, "lines drawn on top of each other, read once: {n}", "", True
    ),
    "loop-doubled": Kind(
        _W, "closed shapes drawn on top of each other, read once: {n}", "", True
    ),
    "dust": Kind(_I, "bits without any length, taken out: {n}", "", True),
    "branch": Kind(
        _W,
        "places where more than two lines meet: {n}; the outermost way round was "
        "taken as the edge, the rest as lines to engrave",
        "draw each part with an outline of its own if parts share a line",
    ),
    "lines-crossed": Kind(
        _W,
        "the lines of an outline cross or run on past each other, so they were cut "
        "where they do: {n} cuts",
        "check the outline, and draw it closed",
        True,
    ),
    "overshoot": Kind(_I, "line ends that run past a corner, trimmed: {n}", "", True),
    "lines-enclose": Kind(
        _W,
        "open lines that cross and enclose something, but run on far beyond it, "
        "left open: {n}",
        "if they are the edge of a part, trim them where they meet",
    ),
    "self-crossing": Kind(
        _E,
        "closed shapes that cross themselves, so that it is not clear what they "
        "enclose, left out: {n}",
        "redraw them without the crossing",
    ),
    "loop-split": Kind(
        _W,
        "closed shapes that touch or cross themselves, taken as several shapes that "
        "meet there: {n}",
        "check them, and redraw what was meant as one shape",
    ),
    "tail-loop": Kind(
        _W, "tiny loops where a line ran past a join, taken out: {n}", "", True
    ),
    "spur": Kind(
        _W, "edges that run out and back along the same way, taken out: {n}", "", True
    ),
    "no-area": Kind(
        _W,
        "closed shapes that enclose nothing, left out: {n}",
        "check whether a line was meant",
    ),
    "loops-cross": Kind(
        _W,
        "closed shapes that cross each other: {n}; each is taken as drawn",
        "join or separate them in the drawing",
    ),
    # what is what
    "no-outline": Kind(
        _E,
        "there is no closed outline to cut: {detail}",
        "close the outline in the drawing",
    ),
    "outlines-left-out": Kind(
        _E,
        "there is no outline left to cut: {detail}",
        "mend or show in the drawing what was left out",
    ),
    "nothing-drawn": Kind(
        _E,
        "there is no outline to cut: {detail}",
        "turn what should be cut into outlines, or check that it is the right file",
    ),
    "drill-guessed": Kind(
        _I,
        "small round holes taken as holes to drill: {n} ({detail})",
        "put them on a layer called INSIDE to cut them instead",
    ),
    "layer-meaning": Kind(
        _I,
        "layers or colours say what is done along shapes: {n} ({detail})",
        "say otherwise with --layer",
    ),
    "layer-unused": Kind(
        _W,
        "layers or colours that were given a meaning but that nothing is drawn in: "
        "{n} ({detail})",
        "check how they are written in the drawing",
    ),
    "colours": Kind(
        _I,
        "shapes are drawn in colours that say nothing by themselves: {n} ({detail})",
        "say what a colour means with --layer, such as --layer red=engrave",
    ),
    "engrave-guessed": Kind(
        _I,
        "open lines inside a part, taken as lines to engrave: {n}",
        "put them on a layer called GUIDE to leave them out",
    ),
    "stray-line": Kind(
        _W, "open lines outside every part, left out: {n}", "close or remove them"
    ),
    "stray-mark": Kind(
        _W,
        "small circles or marks outside every part, left out: {n}",
        "put them on a layer called OUTSIDE if they are parts",
    ),
    "not-cut": Kind(
        _W,
        "shapes whose layer or colour is not to be cut, left out: {n} ({detail})",
        "if they are parts, rename the layer or say what it means with --layer",
    ),
    "part-in-hole": Kind(
        _I,
        "shapes that lie in the hole of another part, read as parts: {n}",
        "put them on a layer called INSIDE if they are cut away",
    ),
    "drawing-frame": Kind(
        _W,
        "a frame of the size of a paper, with its border and title block, was left "
        "out: {detail}",
        "put it on a layer called OUTSIDE if it is a part",
    ),
    "speck": Kind(
        _W,
        "closed shapes far too small to cut, left out: {n}",
        "say what they are by their layer if they matter",
    ),
    "thin-part": Kind(
        _W,
        "parts as thin as a drawn line: {n} ({detail})",
        "if lines were turned into shapes, undo that in the drawing program, or both "
        "edges of the line become cuts",
    ),
    "sheet-frame": Kind(
        _W,
        "a plain rectangle round everything was taken as the sheet, not as a part: "
        "{detail}",
        "put it on a layer called OUTSIDE if it is a part",
    ),
}
