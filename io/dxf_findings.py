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
        "the file stops in the middle: its end is missing",
        "get the file again; shapes may be missing",
    ),
    # what has no outline
    "dxf-text": Kind(
        _W,
        "pieces of text, which have no outline, left out: {n}",
        "turn text into outlines in the drawing program to engrave it",
    ),
    "dxf-dimension": Kind(_I, "dimensions and leaders, left out: {n}"),
    "dxf-fill": Kind(_I, "filled areas over drawn shapes, left out: {n} ({detail})"),
    "dxf-fill-read": Kind(
        _W,
        "filled areas without a drawn edge, of which the edges were read: {n}",
        "check the outlines",
    ),
    "dxf-3d": Kind(
        _W,
        "solids and meshes, which are not flat outlines, left out: {n} ({detail})",
        "draw or project the flat outline",
    ),
    "dxf-bitmap": Kind(
        _W,
        "pictures and underlays, left out: {n} ({detail})",
        "draw or trace the outlines",
    ),
    "dxf-point": Kind(
        _W,
        "single points, left out: {n}",
        "draw a small circle where a hole is to be drilled",
    ),
    "dxf-endless": Kind(_I, "endless construction lines, left out: {n}"),
    "dxf-other": Kind(
        _W,
        "entities of another kind, left out: {n} ({detail})",
        "redraw them as lines, arcs or polylines if they should be cut",
    ),
    # hidden
    "dxf-layer-off": Kind(
        _W,
        "entities on layers that are off or frozen, left out: {n} (layer {detail})",
        "switch the layer on to have them read",
    ),
    "dxf-invisible": Kind(_I, "entities marked invisible, left out: {n}"),
    "dxf-paper-space": Kind(
        _I, "entities on print layouts beside the drawing itself, left out: {n}"
    ),
    "dxf-paper-space-read": Kind(
        _W,
        "the drawing itself is empty, so the print layout was read: {n} entities",
        "check the size: a print layout is often drawn to a scale",
    ),
    # blocks
    "dxf-block-missing": Kind(
        _W,
        "inserts of a block that is not in the file, left out: {n} ({detail})",
        "save the drawing anew",
    ),
    "dxf-block-cycle": Kind(
        _W,
        "blocks that contain themselves, not repeated: {n} ({detail})",
        "check that nothing is missing",
    ),
    "dxf-external": Kind(
        _W,
        "references to other files, never opened: {n} ({detail})",
        "bind or copy the content into the drawing",
    ),
    "dxf-zero-scale": Kind(
        _W,
        "blocks inserted at scale 0, which leaves nothing, left out: {n} ({detail})",
        "give them a scale if they are wanted",
    ),
    # geometry
    "dxf-elevation": Kind(
        _I, "shapes drawn at a height, laid flat: {n} ({detail})", "", True
    ),
    "dxf-slanted": Kind(
        _W,
        "lines that rise or fall, read as seen from above: {n} ({detail})",
        "check their sizes: seen from above, slanted lines are shorter",
    ),
    "dxf-tilted": Kind(
        _W,
        "shapes in a tilted plane, left out: {n} ({detail})",
        "turn them flat in the drawing program",
    ),
    "dxf-wide-line": Kind(
        _I, "lines drawn with a width, of which the middle was read: {n}"
    ),
    "dxf-no-length": Kind(
        _I, "entities without any length, left out: {n} ({detail})", "", True
    ),
    "dxf-out-of-range": Kind(
        _W,
        "entities beyond any sheet, or with numbers that are none, left out: "
        "{n} ({detail})",
        "redraw them near the origin",
    ),
    "dxf-bad-entity": Kind(
        _W,
        "entities whose numbers make no sense, left out: {n} ({detail})",
        "redraw these",
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
