"""Ways of the libraries that a hostile file can make endless are not used at all.

ezdxf flattens a circle with a centre that is no number, or a radius of 1e308, without
end, and follows blocks in blocks as deep as they go; svgelements follows uses that lead
back to themselves until the stack is full. What such files come to here is asserted
where each reader is tested and in tests/data/nasty; this keeps the ways barred.
"""

from __future__ import annotations

import ast
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted([*ROOT.glob("io/*.py"), *ROOT.glob("app/**/*.py")])
BARRED = {
    "flattening",
    "approximate",
    "explode",
    "virtual_entities",
    "disassemble",
    "recursive_decompose",
    "make_path",
}


def uses(source: str) -> set[str]:
    """Return names that a source imports from ezdxf or calls on an entity."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add((node.module or "").split(".")[0])
            if (node.module or "").startswith("ezdxf"):
                found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            found.add(node.func.attr)
    return found


def test_the_search_finds_what_it_looks_for() -> None:
    assert "flattening" in uses("for p in entity.flattening(0.1): pass")
    assert "make_path" in uses("from ezdxf.path import make_path")
    assert "svgelements" in uses("import svgelements")


def test_no_source_uses_them() -> None:
    assert any(path.name == "read_dxf.py" for path in SOURCES)
    for path in SOURCES:
        found = uses(path.read_text(encoding="utf-8"))
        assert "svgelements" not in found, path.name
        if "ezdxf" in found:
            assert not found & BARRED, path.name
