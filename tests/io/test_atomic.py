"""Files and folders are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from drystone.io.atomic import folder_atomically, write_atomically
from drystone.nesting.model.errors import OutputError


def test_a_file_is_written_and_nothing_else_is_left(tmp_path: Path) -> None:
    path = tmp_path / "job"
    write_atomically(path, b"one")
    write_atomically(path, b"two")
    assert path.read_bytes() == b"two"
    assert [entry.name for entry in tmp_path.iterdir()] == ["job"]


def test_a_crash_while_writing_keeps_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "job"
    write_atomically(path, b"old")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OutputError, match="no space left on device"):
        write_atomically(path, b"new")
    assert path.read_bytes() == b"old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["job"]


def test_permissions_and_links_stay(tmp_path: Path) -> None:
    real, link = tmp_path / "real", tmp_path / "link"
    write_atomically(real, b"one")
    real.chmod(0o640)
    link.symlink_to(real)
    write_atomically(link, b"two")
    assert link.is_symlink()
    assert real.read_bytes() == b"two"
    assert real.stat().st_mode & 0o777 == 0o640


def test_a_new_file_gets_the_usual_permissions(tmp_path: Path) -> None:
    plain = tmp_path / "plain"
    plain.write_bytes(b"")
    write_atomically(tmp_path / "ours", b"")
    assert (tmp_path / "ours").stat().st_mode == plain.stat().st_mode


def test_a_directory_is_refused_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="it is a directory") as caught:
        write_atomically(tmp_path, b"x")
    assert str(caught.value).count("\n") == 0


def fill(folder: Path, **files: str) -> None:
    for name, text in files.items():
        (folder / name).write_text(text)


def contents(folder: Path) -> dict[str, str]:
    return {entry.name: entry.read_text() for entry in folder.iterdir()}


def test_a_folder_appears_whole(tmp_path: Path) -> None:
    target = tmp_path / "a" / "cut"
    with folder_atomically(target) as folder:
        fill(folder, one="1", two="2")
        assert not target.exists()
    assert contents(target) == {"one": "1", "two": "2"}
    assert [entry.name for entry in target.parent.iterdir()] == ["cut"]


def test_nothing_is_left_when_the_work_fails(tmp_path: Path) -> None:
    with (
        pytest.raises(ZeroDivisionError),
        folder_atomically(tmp_path / "a" / "cut") as folder,
    ):
        fill(folder, one="1")
        raise ZeroDivisionError
    assert list(tmp_path.iterdir()) == []


def test_files_are_replaced_only_with_leave(tmp_path: Path) -> None:
    fill(tmp_path, one="old", mine="mine")
    with (
        pytest.raises(OutputError, match="one is already there") as caught,
        folder_atomically(tmp_path) as folder,
    ):
        fill(folder, one="new", two="new")
    assert "--force" in str(caught.value)
    assert contents(tmp_path) == {"one": "old", "mine": "mine"}
    with folder_atomically(tmp_path, force=True) as folder:
        fill(folder, one="new", two="new")
    assert contents(tmp_path) == {"one": "new", "two": "new", "mine": "mine"}


def test_an_existing_folder_is_filled_from_within(tmp_path: Path) -> None:
    """It may be a mounted stick, into which nothing can be renamed from outside."""
    target = tmp_path / "stick"
    target.mkdir()
    with folder_atomically(target) as folder:
        assert folder.parent == target
        fill(folder, one="1")
    assert contents(target) == {"one": "1"}


def test_files_out_of_date_go_only_with_leave(tmp_path: Path) -> None:
    fill(tmp_path, **{"blank-2": "old", "mine": "mine"})
    with folder_atomically(tmp_path, replaces=["blank-2"]) as folder:
        fill(folder, other="new")
    assert "blank-2" in contents(tmp_path)
    with folder_atomically(
        tmp_path, force=True, replaces=["blank-2", "absent"]
    ) as folder:
        fill(folder, other="newer")
    assert contents(tmp_path) == {"other": "newer", "mine": "mine"}


def test_a_failed_move_puts_everything_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "cut"
    target.mkdir()
    fill(target, one="old", two="old", three="old")
    rename, calls = os.rename, []

    def fail_late(source: Path, to: Path) -> None:
        calls.append(source)
        if len(calls) == 6:
            raise OSError(5, "Input/output error")
        rename(source, to)

    monkeypatch.setattr(os, "rename", fail_late)
    with (
        pytest.raises(OutputError, match="input/output error"),
        folder_atomically(target, force=True) as folder,
    ):
        fill(folder, one="new", two="new", three="new", four="new")
    assert contents(target) == {"one": "old", "two": "old", "three": "old"}
    assert [entry.name for entry in tmp_path.iterdir()] == ["cut"]


def test_a_file_in_the_folders_place_is_refused(tmp_path: Path) -> None:
    fill(tmp_path, cut="x")
    with (
        pytest.raises(OutputError, match="is a file, not a folder"),
        folder_atomically(tmp_path / "cut"),
    ):
        pass


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_no_permission_is_one_sentence(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="permission denied"):
        write_atomically(tmp_path / "job", b"x")
    with (
        pytest.raises(OutputError, match="permission denied"),
        folder_atomically(tmp_path / "cut"),
    ):
        pass
