"""Reading whole files: each failure is one sentence, said once."""

from __future__ import annotations

from pathlib import Path

import pytest

from drystone.io.files import read_bytes, read_text
from drystone.nesting.model.errors import InputError


def sentence(path: Path, limit: int = 100) -> str:
    with pytest.raises(InputError) as caught:
        read_text(path, limit)
    return str(caught.value)


def test_a_folder_is_called_one_once(tmp_path: Path) -> None:
    assert sentence(tmp_path) == f"{tmp_path}: is a directory; name a file in it"


def test_what_is_wrong_with_a_file(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    assert sentence(path) == f"{path}: there is no such file; check the name"
    path.write_bytes(b"x" * 101)
    assert "is larger than" in sentence(path)
    path.write_bytes(b"a\nb\xff")
    assert sentence(path).startswith(f"{path}:2: the text is not UTF-8")
    assert "is not a file name" in sentence(Path("a\x00b"))


def test_a_file_as_large_as_allowed(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"x" * 100)
    assert read_bytes(path, 100) == b"x" * 100


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16"])
def test_codings_of_text(tmp_path: Path, coding: str) -> None:
    path = tmp_path / "a.toml"
    path.write_text("Bö", encoding=coding)
    assert read_text(path, 100) == "Bö"
