"""Opening DXF files that break the rules: what comes out, or which sentence."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest
from ezdxf import recover

from drystone.io import load_dxf
from drystone.io.limits import Budget
from drystone.io.read_dxf import read_dxf
from drystone.nesting.model.errors import InputError


def test_what_the_library_calls_no_dxf_goes_to_the_second_reader(
    tmp_path: Path,
) -> None:
    path = tmp_path / "a.dxf"
    path.write_bytes(b"0\nSPLINE\n5\n60\n0\nEOF\n")
    drawing = read_dxf(path, Budget(str(path)))
    assert not drawing.strokes


def test_a_hopeless_file_ends_in_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    path.write_bytes(b"0\nSECTION\n2\nENTITIES\nx\nFOO\n0\nENDSEC\n0\nEOF\n")
    with pytest.raises(InputError, match=r"damaged: .*[^.]; save the drawing anew"):
        read_dxf(path, Budget(str(path)))


def test_what_the_disk_refuses_is_told_in_its_words(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(path: Path) -> None:
        raise OSError(errno.EIO, "Input/output error")

    path = tmp_path / "a.dxf"
    path.write_bytes(b"0\nSECTION\n0\nENDSEC\n0\nEOF\n")
    monkeypatch.setattr(load_dxf, "readfile", broken)
    monkeypatch.setattr(recover, "readfile", broken)
    with pytest.raises(InputError, match="cannot be read: input/output error"):
        read_dxf(path, Budget(str(path)))
