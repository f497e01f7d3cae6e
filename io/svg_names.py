"""What elements are called: names for parts and layers, words to find them again."""

from __future__ import annotations

import re

from .notes import tame
from .svg_shapes import SHAPES
from .svg_xml import Node

_AUTOMATIC = re.compile(r"(g|group|svg|use|symbol|layer_?)?[-_]?[0-9][0-9._-]*")
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{2}|[0-9A-Fa-f]{4})_")


def _label(node: Node) -> str:
    for name, value in node.attributes.items():
        if value.strip() and (name == "data-name" or name.endswith("}label")):
            return tame(value, 120)
    return ""


def own_name(node: Node) -> str:
    """Return the label or id of a shape or a use; empty for anything else."""
    if node.tag not in SHAPES and node.tag != "use":
        return ""
    return _label(node) or _plain_id(node)


def group_name(node: Node) -> str:
    """Return a group's label, or its id unless a program made that up."""
    name = _label(node)
    if name or _AUTOMATIC.fullmatch(node.id):
        return name
    return _plain_id(node)


def _plain_id(node: Node) -> str:
    """Return the id, with escapes such as ``_x20_`` undone."""
    return tame(_ESCAPED.sub(lambda m: chr(int(m[1], 16)), node.id), 120)


def where(node: Node) -> str:
    """Return words by which a person finds an element again."""
    if node.id:
        return f'<{node.tag or node.kind} id="{tame(node.id)}">'
    return f"<{tame(node.tag or node.kind)}> in line {node.line}"
