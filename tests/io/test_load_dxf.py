"""Opening DXF files that break the rules: what comes out, or which sentence."""

from __future__ import annotations

import errno
import gc
from pathlib import Path

import pytest
from ezdxf import recover

from drystone.io import load_dxf, read_guarded
from drystone.io.limits import Budget, Limits
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


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("0\nLINE\n" * 50, "more than 20 entities"),
        ("0\nPOLYLINE\n" + "0\nVERTEX\n" * 50, "more than 30 vertices"),
        ("0\nLWPOLYLINE\n" + "10\n0\n20\n0\n" * 60, "more than 30 vertices"),
        ("999\nx\n" * 200, "more than 150 codes and values"),
    ],
)
def test_what_is_too_much_is_refused_before_the_library_begins(
    body: str, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def begun(*_: object) -> None:
        raise AssertionError("the library was asked")

    path = tmp_path / "a.dxf"
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n")
    for name in ("readfile", "read"):
        monkeypatch.setattr(load_dxf, name, begun)
    limits = Limits(entities=20, vertices=30, pairs=150)
    with pytest.raises(InputError, match=words):
        read_dxf(path, Budget(str(path), limits))


def test_a_line_of_so_many_vertices_is_refused_before_the_library_begins(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def begun(*_: object) -> None:
        raise AssertionError("the library was asked")

    path = tmp_path / "a.dxf"
    body = "0\nLWPOLYLINE\n" + "10\n0\n20\n0\n" * 300_000
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n")
    for name in ("readfile", "read"):
        monkeypatch.setattr(load_dxf, name, begun)
    with pytest.raises(InputError, match="more than 200,000 vertices; split"):
        read_dxf(path, Budget(str(path)))


def test_a_file_that_stops_in_the_middle_keeps_its_encoding(tmp_path: Path) -> None:
    def circle(x: int) -> str:
        return f"0\nCIRCLE\n8\nSäge\n10\n{x}\n20\n0\n40\n5\n"

    for version, encoding in (("AC1015", "cp1252"), ("AC1021", "utf-8")):
        head = f"0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\n{version}\n0\nENDSEC\n"
        text = f"{head}0\nSECTION\n2\nENTITIES\n{circle(0)}{circle(20)}0\nCIR"
        path = tmp_path / "a.dxf"
        path.write_bytes(text.encode(encoding))
        drawing = read_dxf(path, Budget(str(path)))
        assert [stroke.layer for stroke in drawing.strokes] == ["Säge", "Säge"]
        assert [finding.code for finding in drawing.findings] == ["dxf-cut-short"]


def test_the_collector_rests_while_the_library_loads_and_no_longer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[bool] = []

    def broken(*_: object) -> None:
        seen.append(gc.isenabled())
        raise ValueError("not this one")

    path = tmp_path / "a.dxf"
    path.write_bytes(b"0\nSECTION\n2\nENTITIES\nx\nFOO\n0\nENDSEC\n0\nEOF\n")
    monkeypatch.setattr(load_dxf, "readfile", broken)
    with pytest.raises(InputError):
        read_dxf(path, Budget(str(path)))
    assert seen == [False]
    assert gc.isenabled()


def test_the_collector_rests_while_another_process_reads(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    seen: list[bool] = []

    def looked(*_: object, **__: object) -> None:
        seen.append(gc.isenabled())
        raise InputError("a.dxf", "not this one")

    monkeypatch.setattr(read_guarded, "look_at", looked)
    answer = read_guarded._answer(
        lambda *_: None, Limits(), "a.dxf", None, None, None, 8.0, None
    )
    assert isinstance(answer, InputError)
    assert seen == [False]
    assert gc.isenabled()
