"""Set everything up on a machine that has only Python, then run one thing.

``python3 app/set_up.py sample`` lays out the sample order into ``out/``;
``python3 app/set_up.py tests`` passes the tests. Both make ``.venv`` beside the
sources if it is not there. This file uses the standard library alone and is run as
a file, before the package is installed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
ENVIRONMENT = ROOT / ".venv"

QT_LIBRARIES = (
    "libegl1",
    "libgl1",
    "libopengl0",
    "libglib2.0-0",
    "libdbus-1-3",
    "libfontconfig1",
    "libfreetype6",
    "libxkbcommon0",
    "fonts-dejavu-core",
)
"""Debian's names of what Qt needs to draw without a screen."""

SCREEN_LIBRARIES = (
    "libxkbcommon-x11-0",
    "libxcb-cursor0",
    "libxcb-icccm4",
    "libxcb-image0",
    "libxcb-keysyms1",
    "libxcb-render-util0",
    "libxcb-shape0",
    "libxcb-xinerama0",
)
"""Debian's names of what Qt needs besides for a window on a screen."""

PROBE = "from PySide6 import QtGui, QtWidgets"


def environment_python() -> Path:
    """Return the path of the environment's Python."""
    if os.name == "nt":
        return ENVIRONMENT / "Scripts" / "python.exe"
    return ENVIRONMENT / "bin" / "python"


def stop(message: str) -> None:
    """Say one line and leave with status 2."""
    print(f"set_up: {message}", file=sys.stderr)
    raise SystemExit(2)


def run(command: list[str], why: str, env: dict[str, str] | None = None) -> None:
    """Run a command in the project's folder; leave with one line if it fails."""
    status = subprocess.run(command, cwd=ROOT, env=env).returncode
    if status:
        stop(f"{why} failed (status {status}); what it printed stands above")


def as_administrator() -> list[str] | None:
    """Return what to put before a command that installs packages; None if barred."""
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        return []
    if shutil.which("sudo"):
        quiet = subprocess.run(["sudo", "-n", "true"], capture_output=True)
        if quiet.returncode == 0:
            return ["sudo", "-n"]
    return None


def install_packages(names: tuple[str, ...]) -> bool:
    """Install Debian packages where that is possible; return whether it was."""
    prefix = as_administrator()
    if prefix is None or not shutil.which("apt-get"):
        return False
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run([*prefix, "apt-get", "update", "-q"], env=quiet)
    # One by one where all at once fails: a release may lack one name.
    together = [*prefix, "apt-get", "install", "-y", "-q", "--no-install-recommends"]
    if subprocess.run([*together, *names], env=quiet).returncode == 0:
        return True
    results = [
        subprocess.run([*together, name], env=quiet).returncode for name in names
    ]
    return any(status == 0 for status in results)


def make_environment(with_tests: bool) -> Path:
    """Make the environment, install the program in it, and return its Python."""
    python = environment_python()
    if not python.exists():
        made = subprocess.run([sys.executable, "-m", "venv", str(ENVIRONMENT)])
        if made.returncode and install_packages(("python3-venv",)):
            made = subprocess.run([sys.executable, "-m", "venv", str(ENVIRONMENT)])
        if made.returncode:
            shutil.rmtree(ENVIRONMENT, ignore_errors=True)
            stop(
                "this Python cannot make a virtual environment; "
                "install your system's python3-venv package and run again"
            )
    install = [str(python), "-m", "pip", "install", "-q", "--disable-pip-version-check"]
    # Groups of development packages need pip 25.1.
    run([*install, "--upgrade", "pip>=25.1"], "upgrading pip")
    group = ["--group", "dev"] if with_tests else []
    # What packaging warns itself of would stand above the program's own words.
    still = {**os.environ, "PYTHONWARNINGS": "ignore"}
    run([*install, "-e", ".", *group], "installing Drystone", still)
    return python


def provide_qt_libraries(python: Path) -> None:
    """See that Qt loads; install its system libraries, or name them one by one."""

    def loads() -> bool:
        tried = subprocess.run([str(python), "-c", PROBE], capture_output=True)
        return tried.returncode == 0

    if loads():
        return
    print("set_up: installing the system libraries that Qt needs", flush=True)
    if install_packages(QT_LIBRARIES) and loads():
        return
    tried = subprocess.run(
        [str(python), "-c", PROBE], capture_output=True, text=True, errors="replace"
    )
    reason = (tried.stderr.strip().splitlines() or ["no reason given"])[-1]
    stop(
        f"Qt does not load ({reason}); install these packages (Debian's names) and "
        f"run again: {' '.join(QT_LIBRARIES)}; for a window on a screen also: "
        f"{' '.join(SCREEN_LIBRARIES)}"
    )


def main(words: list[str]) -> int:
    """Set up and run ``sample`` or ``tests``; return the exit status."""
    if sys.version_info < (3, 11):  # noqa: UP036 - run before anything is installed
        stop(f"Python 3.11 or newer is needed; this is {sys.version.split()[0]}")
    if not words or words[0] not in ("sample", "tests"):
        stop("say what to run: sample or tests")
    what, more = words[0], words[1:]
    python = make_environment(with_tests=what == "tests")
    if what == "tests":
        provide_qt_libraries(python)
        command = [str(python), "-m", "pytest", *more]
    else:
        order = str(Path("sample_parts") / "order.toml")
        command = [str(python), "-m", "drystone.app", "nest", order]
        command += ["--out", "out", "--force", *more]
    return subprocess.run(command, cwd=ROOT).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
