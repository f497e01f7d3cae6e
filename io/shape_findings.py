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
        _W,
        "{n} gap[|s] between line ends [was|were] closed ({detail})",
        "look at [it|them]",
        True,
    ),
    "gap-left": Kind(
        _W,
        "at {n} place[|s] line ends nearly meet but were left open ({detail})",
        "close them in the drawing",
    ),
    "line-doubled": Kind(
        _I,
        "{n} line[ drawn on top of another was|s drawn on top of others were] "
        "read once",
        "",
        True,
    ),
    "loop-doubled": Kind(
        _W,
        "{n} closed shape[ drawn on top of another was|s drawn on top of others "
        "were] read once",
        "",
        True,
    ),
    "dust": Kind(_I, "{n} bit[|s] without any length [was|were] taken out", "", True),
    "branch": Kind(
        _W,
        "at {n} place[|s] more than two lines meet; the outermost way round was "
        "taken as the edge, the rest as lines to engrave",
        "draw each part with an outline of its own if parts share a line",
    ),
    "lines-crossed": Kind(
        _W,
        "the lines of an outline cross or run on past each other, so they were "
        "cut where they do: {n} cut[|s]",
        "check the outline, and draw it closed",
        True,
    ),
    "overshoot": Kind(
        _I,
        "{n} line end[ that runs past a corner was|s that run past a corner "
        "were] trimmed",
        "",
        True,
    ),
    "lines-enclose": Kind(
        _W,
        "{n} open line[ crosses others and encloses something, but runs on far "
        "beyond it, so it was|s cross and enclose something, but run on far "
        "beyond it, so they were] left open",
        "if this is the edge of a part, trim the lines where they meet",
    ),
    "self-crossing": Kind(
        _E,
        "{n} closed shape[ crosses itself, so that it is not clear what it "
        "encloses, and was|s cross themselves, so that it is not clear what they "
        "enclose, and were] left out",
        "redraw [it|them] without the crossing",
    ),
    "loop-split": Kind(
        _W,
        "{n} closed shape[ touches or crosses itself and was|s touch or cross "
        "themselves and were] taken as several shapes that meet there",
        "check them, and redraw what was meant as one shape",
    ),
    "tail-loop": Kind(
        _W,
        "{n} tiny loop[|s] where a line ran past a join [was|were] taken out",
        "",
        True,
    ),
    "spur": Kind(
        _W,
        "{n} edge[|s] that ran out and back along the same way [was|were] taken out",
        "",
        True,
    ),
    "no-area": Kind(
        _W,
        "{n} closed shape[ that encloses nothing was|s that enclose nothing "
        "were] left out",
        "check whether a line was meant",
    ),
    "loops-cross": Kind(
        _W,
        "at {n} place[|s] closed shapes cross each other; each is taken as drawn",
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
        "{n} small round hole[ was taken as a hole|s were taken as holes] to "
        "drill ({detail})",
        "put [it|them] on a layer called INSIDE to cut [it|them] instead",
    ),
    "layer-meaning": Kind(
        _I,
        "layers or colours say what is done along {n} shape[|s] ({detail})",
        "say otherwise with --layer",
    ),
    "layer-unused": Kind(
        _W,
        "{n} layer[ or colour was|s or colours were] given a meaning, but "
        "nothing is drawn in [it|them] ({detail})",
        "check how [it is|they are] written in the drawing",
    ),
    "colours": Kind(
        _I,
        "shapes are drawn in {n} colour[ that says nothing by itself|s that say "
        "nothing by themselves] ({detail})",
        "say what a colour means with --layer, such as --layer red=engrave",
    ),
    "engrave-guessed": Kind(
        _I,
        "{n} open line[ inside a part was taken as a line|s inside a part were "
        "taken as lines] to engrave",
        "put [it|them] on a layer called GUIDE to leave [it|them] out",
    ),
    "stray-line": Kind(
        _W,
        "{n} open line[|s] outside every part [was|were] left out",
        "close or remove [it|them]",
    ),
    "stray-mark": Kind(
        _W,
        "{n} small circle[ or mark|s or marks] outside every part [was|were] left out",
        "put [it|them] on a layer called OUTSIDE if [it is a part|they are parts]",
    ),
    "not-cut": Kind(
        _W,
        "{n} shape[|s] whose layer or colour is not to be cut [was|were] left "
        "out ({detail})",
        "if [it is a part|they are parts], rename the layer or say what it means "
        "with --layer",
    ),
    "part-in-hole": Kind(
        _I,
        "{n} shape[ lies in the hole of another part and was read as a part|s "
        "lie in the hole of another part and were read as parts]",
        "put [it|them] on a layer called INSIDE if [it is|they are] cut away",
    ),
    "drawing-frame": Kind(
        _W,
        "a frame of the size of a paper, with its border and title block, was left "
        "out: {detail}",
        "put it on a layer called OUTSIDE if it is a part",
    ),
    "speck": Kind(
        _W,
        "{n} closed shape[|s] far too small to cut [was|were] left out",
        "say what [it is by its|they are by their] layer if [it matters|they matter]",
    ),
    "thin-part": Kind(
        _W,
        "{n} part[ is|s are] as thin as a drawn line ({detail})",
        "if lines were turned into shapes, undo that in the drawing program, or "
        "both edges of the line become cuts",
    ),
    "sheet-frame": Kind(
        _W,
        "a plain rectangle round everything was taken as the sheet, not as a part: "
        "{detail}",
        "put it on a layer called OUTSIDE if it is a part",
    ),
}
