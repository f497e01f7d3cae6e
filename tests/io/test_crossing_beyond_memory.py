"""A shape that crosses itself more often than memory can hold."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely

from drystone.io import classify
from drystone.io.read_drawing import look_at


def test_it_is_left_out_as_self_crossing_and_the_rest_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_memory(*_: object) -> None:
        raise shapely.errors.GEOSException("std::bad_alloc")

    bow = "".join(f"10\n{x}\n20\n{y}\n" for x, y in ((0, 0), (9, 9), (9, 0), (0, 5)))
    body = f"0\nLWPOLYLINE\n90\n4\n70\n1\n{bow}0\nCIRCLE\n10\n50\n20\n0\n40\n10\n"
    path = tmp_path / "a.dxf"
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n")
    monkeypatch.setattr(shapely, "make_valid", no_memory)
    monkeypatch.setattr(classify, "_apart", lambda *_: None)
    read = look_at(path, "mm")
    assert len(read.parts) == 1
    assert "self-crossing" in {finding.code for finding in read.findings}
