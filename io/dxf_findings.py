"""Every finding of the DXF reader: code, severity, cause and cure in one table."""

from __future__ import annotations

from .findings import Severity
from .notes import Kind

_I, _W, _E = Severity.INFO, Severity.WARNING, Severity.ERROR

KINDS: dict[str, Kind] = {
    # the file
    "dxf-mended": Kind(
        _W,
        "the file is damaged; read as far as it makes sense ({detail})",
        "compare with the drawing, or save it anew from the drawing program",
        True,
    ),
    "dxf-cut-short": Kind(
        _W,
        "the file stops in the middle, so shapes may be missing",
        "get the file again",
    ),
    # what has no outline
    "dxf-text": Kind(
        _W,
        "{n} piece[|s] of text [was|were] left out, as text has no outline",
        "turn it into outlines in the drawing program to engrave it",
    ),
    "dxf-dimension": Kind(
        _I, "{n} dimension[ or leader was|s and leaders were] left out"
    ),
    "dxf-fill": Kind(
        _I, "{n} filled area[|s] over drawn shapes [was|were] left out ({detail})"
    ),
    "dxf-fill-read": Kind(
        _W,
        "{n} filled area[ has|s have] no drawn edge, so the edge of the filling "
        "was read",
        "check the [outline|outlines]",
    ),
    "dxf-3d": Kind(
        _W,
        "{n} solid[ or mesh was left out, being no flat outline|s and meshes "
        "were left out, being no flat outlines] ({detail})",
        "draw or project the flat outline",
    ),
    "dxf-bitmap": Kind(
        _W,
        "{n} picture[ or underlay was|s and underlays were] left out ({detail})",
        "draw or trace the outlines",
    ),
    "dxf-point": Kind(
        _W,
        "{n} single point[ was|s were] left out",
        "draw a small circle where a hole is to be drilled",
    ),
    "dxf-endless": Kind(_I, "{n} endless construction line[ was|s were] left out"),
    "dxf-other": Kind(
        _W,
        "{n} entit[y|ies] of another kind [was|were] left out ({detail})",
        "redraw [it|them] as lines, arcs or polylines if [it|they] should be cut",
    ),
    # hidden
    "dxf-layer-off": Kind(
        _W,
        "{n} entit[y|ies] on layers that are off or frozen [was|were] left out "
        "(layer {detail})",
        "switch the layer on to have [it|them] read",
    ),
    "dxf-invisible": Kind(_I, "{n} entit[y|ies] marked invisible [was|were] left out"),
    "dxf-paper-space": Kind(
        _I,
        "{n} entit[y|ies] on print layouts beside the drawing itself [was|were] "
        "left out",
    ),
    "dxf-paper-space-read": Kind(
        _W,
        "the drawing itself is empty, so the print layout was read: {n} entit[y|ies]",
        "check the size: a print layout is often drawn to a scale",
    ),
    # blocks
    "dxf-block-missing": Kind(
        _W,
        "{n} insert[ was|s were] left out, as the block is not in the file ({detail})",
        "save the drawing anew",
    ),
    "dxf-block-cycle": Kind(
        _W,
        "{n} block[ contains itself and was|s contain themselves and were] not "
        "repeated ({detail})",
        "check that nothing is missing",
    ),
    "dxf-external": Kind(
        _W,
        "{n} reference[ to another file was|s to other files were] never opened "
        "({detail})",
        "bind or copy the content into the drawing",
    ),
    "dxf-zero-scale": Kind(
        _W,
        "{n} block[ was|s were] left out, being inserted at scale 0, which "
        "leaves nothing ({detail})",
        "give [it|them] a scale if [it is|they are] wanted",
    ),
    # geometry
    "dxf-elevation": Kind(
        _I, "{n} shape[|s] drawn at a height [was|were] laid flat ({detail})", "", True
    ),
    "dxf-slanted": Kind(
        _W,
        "{n} line[ rises or falls and was|s rise or fall and were] read as seen "
        "from above ({detail})",
        "check the sizes: seen from above, a slanted line is shorter",
    ),
    "dxf-tilted": Kind(
        _W,
        "{n} shape[ in a tilted plane was|s in tilted planes were] left out ({detail})",
        "turn [it|them] flat in the drawing program",
    ),
    "dxf-wide-line": Kind(
        _I, "{n} line[|s] drawn with a width [was|were] read along the middle"
    ),
    "dxf-no-length": Kind(
        _I,
        "{n} entit[y|ies] without any length [was|were] left out ({detail})",
        "",
        True,
    ),
    "dxf-out-of-range": Kind(
        _W,
        "{n} entit[y|ies] beyond any sheet, or with numbers that are none, "
        "[was|were] left out ({detail})",
        "redraw [it|them] near the origin",
    ),
    "dxf-bad-entity": Kind(
        _W,
        "{n} entit[y|ies] whose numbers make no sense [was|were] left out ({detail})",
        "redraw [it|them]",
    ),
}

LEFT_OUT: dict[str, tuple[str, str]] = {
    **dict.fromkeys(("TEXT", "MTEXT", "ATTRIB", "SHAPE"), ("dxf-text", "")),
    **dict.fromkeys(
        (
            "DIMENSION",
            "ARC_DIMENSION",
            "LARGE_RADIAL_DIMENSION",
            "LEADER",
            "MLEADER",
            "MULTILEADER",
            "TOLERANCE",
        ),
        ("dxf-dimension", ""),
    ),
    "HATCH": ("dxf-fill", "hatch"),
    "MPOLYGON": ("dxf-fill", "filled polygon"),
    "SOLID": ("dxf-fill", "filled face"),
    "TRACE": ("dxf-fill", "filled face"),
    "WIPEOUT": ("dxf-fill", "wipe-out"),
    "3DFACE": ("dxf-3d", "3D face"),
    "3DSOLID": ("dxf-3d", "3D solid"),
    "BODY": ("dxf-3d", "3D body"),
    "REGION": ("dxf-3d", "region"),
    "MESH": ("dxf-3d", "mesh"),
    "HELIX": ("dxf-3d", "helix"),
    **dict.fromkeys(
        (
            "SURFACE",
            "EXTRUDEDSURFACE",
            "LOFTEDSURFACE",
            "REVOLVEDSURFACE",
            "SWEPTSURFACE",
            "PLANESURFACE",
        ),
        ("dxf-3d", "surface"),
    ),
    "IMAGE": ("dxf-bitmap", "picture"),
    "OLE2FRAME": ("dxf-bitmap", "embedded object"),
    "PDFUNDERLAY": ("dxf-bitmap", "underlay"),
    "DWFUNDERLAY": ("dxf-bitmap", "underlay"),
    "DGNUNDERLAY": ("dxf-bitmap", "underlay"),
    "POINT": ("dxf-point", ""),
    "RAY": ("dxf-endless", ""),
    "XLINE": ("dxf-endless", ""),
}
"""Which finding an entity that is not read belongs to, and what it is called."""

SILENT = frozenset({"ATTDEF", "VIEWPORT", "LIGHT", "SUN", "GEODATA", "SEQEND"})
"""What draws nothing by itself: the template of a block's text, views, lights."""
