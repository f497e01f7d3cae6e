"""What a desktop has to know to open jobs: a menu entry, a file type, an icon.

Everything is laid out as freedesktop.org's Desktop Entry, Shared MIME Info and Icon
Theme specifications say, below a folder such as ``~/.local/share``.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path

from ..io.atomic import write_atomically
from ..io.job_file import SUFFIX

NAME = "drystone"
"""Of the entry and the icon; the window gives the same name to the desktop."""

MIME_TYPE = "application/vnd.drystone.job+json"

MAGIC = '{"format":"drystone job"'
"""How every job file begins."""

ICON_SIZES = (48, 128, 256)


def entry_text(command: Sequence[str]) -> str:
    """Return the menu entry.

    Parameters
    ----------
    command : sequence of str
        The words that open the window; the file comes behind them.
    """
    return f"""\
[Desktop Entry]
Type=Application
Version=1.0
Name=Drystone
GenericName=Layout of parts on sheets
Comment=Lay flat parts out on sheet goods for a small CNC router
Exec={" ".join(_quoted(word) for word in command)} %f
Icon={NAME}
Terminal=false
StartupNotify=true
StartupWMClass={NAME}
Categories=Graphics;2DGraphics;VectorGraphics;
Keywords=plywood;board;router;offcut;parts;
MimeType={MIME_TYPE};
"""


def _quoted(word: str) -> str:
    """Return a word of a command as the value of ``Exec`` wants it."""
    word = word.replace("%", "%%")
    if word and not set(word) & set(" \t\n\"'\\><~|&;$*?#()`"):
        return word
    for sign in ("\\", '"', "`", "$"):
        word = word.replace(sign, f"\\{sign}")
    # Once more, because all values of an entry are unescaped first.
    return '"' + word.replace("\\", "\\\\") + '"'


def type_text() -> str:
    """Return the description of the file type of jobs."""
    magic = MAGIC.replace('"', "&quot;")
    return f"""\
<?xml version="1.0" encoding="UTF-8"?>
<mime-info xmlns="http://www.freedesktop.org/standards/shared-mime-info">
  <mime-type type="{MIME_TYPE}">
    <comment>Drystone job</comment>
    <sub-class-of type="application/json"/>
    <icon name="{NAME}"/>
    <magic priority="60">
      <match type="string" offset="0" value="{magic}"/>
    </magic>
    <glob pattern="*{SUFFIX}"/>
  </mime-type>
</mime-info>
"""


def desktop_files(command: Sequence[str]) -> dict[str, bytes]:
    """Return what is to be written, by its path below the folder of shared data."""
    from .window.icon import icon_png, icon_svg

    files = {
        f"applications/{NAME}.desktop": entry_text(command).encode(),
        f"mime/packages/{NAME}.xml": type_text().encode(),
        f"icons/hicolor/scalable/apps/{NAME}.svg": icon_svg().encode(),
    }
    for size in ICON_SIZES:
        files[f"icons/hicolor/{size}x{size}/apps/{NAME}.png"] = icon_png(size)
    return files


def write_files(folder: Path, files: Mapping[str, bytes]) -> list[Path]:
    """Write files below a folder; return where they are.

    Raises
    ------
    OutputError
        If one cannot be written.
    """
    written = []
    for name, data in files.items():
        path = folder / name
        make_folder(path.parent)
        write_atomically(path, data)
        written.append(path)
    return written


def make_folder(folder: Path) -> None:
    """Make a folder and those above it.

    Raises
    ------
    OutputError
        If it cannot be made.
    """
    from ..io.atomic import system_words
    from ..nesting.model.errors import OutputError

    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            str(folder), f"cannot be made: {system_words(error)}"
        ) from None


def remove_files(folder: Path, names: Sequence[str]) -> list[Path]:
    """Take files below a folder away; return those that were there."""
    gone = []
    for name in names:
        path = folder / name
        if path.exists():
            path.unlink()
            gone.append(path)
    return gone


def tell_desktop(folder: Path) -> list[str]:
    """Have the desktop look at its folders again; return what is not installed."""
    missing = []
    for words in (
        ["update-mime-database", str(folder / "mime")],
        ["update-desktop-database", str(folder / "applications")],
    ):
        if shutil.which(words[0]) is None:
            missing.append(words[0])
        else:
            subprocess.run(words, capture_output=True, check=False)
    return missing
