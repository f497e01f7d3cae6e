"""Menu entry, file type and icon: a double click on a job opens it."""

from __future__ import annotations

import configparser
import json
import os
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from drystone.app import cli
from drystone.app.desktop_entry import MAGIC, MIME_TYPE, entry_text
from drystone.io.job_file import write_job
from drystone.nesting.model.job import Job

pytestmark = pytest.mark.skipif(
    sys.platform in ("win32", "darwin"), reason="no freedesktop.org menus"
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "shared data"))
    return tmp_path / "shared data"


def exec_words(entry: Path) -> list[str]:
    """Return the words of an entry's command, unescaped as the specification says."""
    parser = configparser.RawConfigParser()
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read(entry, encoding="utf-8")
    section = parser["Desktop Entry"]
    assert section["Type"] == "Application" and section["Terminal"] == "false"
    assert section["MimeType"].split(";") == [MIME_TYPE, ""]
    value = section["Exec"].replace("\\\\", "\\")
    words = re.findall(r'"(?:[^"\\]|\\.)*"|[^\s"]+', value)
    plain = [
        re.sub(r'\\(["`$\\])', r"\1", word[1:-1]) if word[0] == '"' else word
        for word in words
    ]
    return [word.replace("%%", "%") for word in plain]


def test_what_is_written_opens_a_job(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["desktop"]) == 0
    said = capsys.readouterr().out
    entry = folder / "applications" / "drystone.desktop"
    assert str(entry) in said
    words = exec_words(entry)
    assert words[-1] == "%f" and os.access(words[0], os.X_OK)
    done = subprocess.run([*words[:-1], "--help"], capture_output=True, text=True)
    assert done.returncode == 0 and "drystone window" in done.stdout
    for size in (48, 128, 256):
        icon = folder / f"icons/hicolor/{size}x{size}/apps/drystone.png"
        head = icon.read_bytes()[:24]
        assert head[:8] == b"\x89PNG\r\n\x1a\n"
        assert head[16:24] == size.to_bytes(4, "big") * 2  # IHDR: width and height
    drawing = ET.parse(folder / "icons/hicolor/scalable/apps/drystone.svg").getroot()
    assert drawing.tag == "{http://www.w3.org/2000/svg}svg" and len(drawing) == 6


def test_jobs_are_known_by_name_and_by_how_they_begin(
    folder: Path, tmp_path: Path
) -> None:
    assert cli.run(["desktop", "--quiet"]) == 0
    job = tmp_path / "shelf.drystone"
    write_job(job, Job("Shelf"))
    assert job.read_text(encoding="utf-8").startswith(MAGIC)
    tree = ET.parse(folder / "mime/packages/drystone.xml").getroot()
    space = "{http://www.freedesktop.org/standards/shared-mime-info}"
    kind = tree[0]
    assert kind.get("type") == MIME_TYPE
    glob, match = kind.find(f"{space}glob"), kind.find(f"{space}magic/{space}match")
    assert glob is not None and glob.get("pattern") == "*.drystone"
    assert match is not None and match.get("value") == MAGIC


@pytest.mark.skipif(
    not (shutil.which("update-mime-database") and shutil.which("gio")),
    reason="asks the desktop's own tools",
)
def test_the_desktop_knows_jobs(folder: Path, tmp_path: Path) -> None:
    assert cli.run(["desktop", "--quiet"]) == 0
    job = tmp_path / "shelf.drystone"
    write_job(job, Job("Shelf"))
    nameless = tmp_path / "shelf"
    nameless.write_bytes(job.read_bytes())
    for path in (job, nameless):
        done = subprocess.run(
            ["gio", "info", "-a", "standard::content-type,standard::icon", str(path)],
            capture_output=True,
            text=True,
            check=True,
        )
        assert MIME_TYPE in done.stdout, done.stdout
        assert "drystone" in done.stdout.partition("standard::icon")[2]


def test_what_was_written_is_taken_away(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run(["desktop", "--json"]) == 0
    written = json.loads(capsys.readouterr().out)["written"]
    assert len(written) == 6 and all(Path(path).is_file() for path in written)
    assert cli.run(["desktop", "--remove", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["removed"] == written
    assert not any(Path(path).exists() for path in written)


def test_a_package_gets_the_plain_command(tmp_path: Path) -> None:
    assert cli.run(["desktop", "--to", str(tmp_path / "usr")]) == 0
    entry = tmp_path / "usr/share/applications/drystone.desktop"
    assert exec_words(entry) == ["drystone", "window", "%f"]


def test_odd_paths_survive_both_ways_of_quoting(tmp_path: Path) -> None:
    odd = ['/home/a b/100 %/it\'s $5 \\ "x"/python', "-m", "drystone.app"]
    path = tmp_path / "odd.desktop"
    path.write_text(entry_text(odd), encoding="utf-8")
    words = exec_words(path)
    assert words[:-1] == odd


def test_where_nobody_may_write_it_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("in the way")
    assert cli.run(["desktop", "--to", str(tmp_path / "file")]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_other_systems_are_told_what_to_do(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "platform", "win32")
    assert cli.run(["desktop"]) == 2
    assert "drystone-window" in capsys.readouterr().err
