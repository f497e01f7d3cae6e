"""Where compiled kernels are kept: once per installation, in the user's own cache.

Call `set_up` before anything imports numba, and `warm` before the engine is asked for
something that a person waits for. A cache that is stale or comes from another processor
is passed over by numba itself; one that is damaged is cleared and made again; where
none can be written, kernels are compiled into a private folder that ends with the
program. Whoever waits for compiling is told so: that all was compiled, and for which
sources and processor, is noted beside the kernels.
"""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import os
import shutil
import signal
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from importlib.metadata import version
from pathlib import Path
from types import FrameType

import platformdirs

VARIABLE = "NUMBA_CACHE_DIR"

KEPT = 3
"""Folders of other sets of kernels that are kept."""

READY = "ready-"
"""Begin of the name of a note that all kernels are there; see `_note`."""

COMPILING = "Compiling the engine, once for this installation: up to a minute ..."


def set_up() -> Path:
    """Choose the folder for compiled kernels and tell numba; return it.

    A folder that the environment already names is left as it is, if it can be written.
    """
    named = os.environ.get(VARIABLE)
    folder = Path(named) if named else default_folder()
    if not _writable(folder):
        folder = Path(tempfile.mkdtemp(prefix="drystone-kernels-"))
        atexit.register(shutil.rmtree, folder, ignore_errors=True)
    os.environ[VARIABLE] = str(folder)
    _remove_outdated(folder)
    return folder


def default_folder() -> Path:
    """Return the folder in the user's cache: one for each Python and set of kernels.

    numba compares a kept kernel with the file it stands in only. A kernel that calls
    one of another file would go on with the old one after an update, and compute with
    arrays that mean something else: so the folder's name tells all sources.
    """
    version = f"python-{sys.version_info.major}.{sys.version_info.minor}"
    return _kernels_folder() / f"{version}-{_source_digest()}"


def _kernels_folder() -> Path:
    return platformdirs.user_cache_path("drystone", appauthor=False) / "kernels"


def _source_digest() -> str:
    """Return a short digest of all kernel sources, the same wherever they lie."""
    digest = hashlib.sha256()
    for path in _kernel_sources():
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def _kernel_sources() -> list[Path]:
    return sorted((Path(__file__).parents[1] / "nesting").glob("kernels*.py"))


def _remove_outdated(current: Path) -> None:
    """Remove folders of earlier sets of kernels; a few are kept for other installs."""
    if current.parent != _kernels_folder():
        return
    with contextlib.suppress(OSError):
        others = [p for p in current.parent.iterdir() if p.is_dir() and p != current]
        others.sort(key=lambda path: path.stat().st_mtime, reverse=True)
        for outdated in others[KEPT:]:
            shutil.rmtree(outdated, ignore_errors=True)


def is_filled(folder: Path) -> bool:
    """Return whether kernels were kept there before."""
    return any(folder.rglob("*.nbi"))


def warm(say: Callable[[str], None]) -> bool:
    """Have every kernel ready; return whether any was compiled.

    Where the note says that all are there, those of construction alone are loaded; the
    others are when they are first used.

    Parameters
    ----------
    say : callable
        Told once, with one sentence, when compiling will make the user wait.
    """
    folder = Path(os.environ.get(VARIABLE) or set_up())
    note = _note(folder)
    noted = note.exists() and is_filled(folder)
    if not noted:
        say(COMPILING)
    from ..nesting.model.errors import DrystoneError
    from ..nesting.warmup import warm_up

    with _heeding_interrupts():
        try:
            anew = warm_up(whole=not noted)
        except DrystoneError:
            raise
        except Exception:  # whatever a damaged file makes of unpickling
            if not is_filled(folder):
                raise
            clear(folder)
            say(COMPILING)
            anew = warm_up()
    with contextlib.suppress(OSError):  # then it is said once more
        note.touch()
    return anew


@contextlib.contextmanager
def _heeding_interrupts() -> Iterator[None]:
    """Raise an interrupt again, at the next kernel, if compiling swallowed it.

    Python drops what is raised in a function that the compiler calls back.
    """
    if threading.current_thread() is not threading.main_thread():
        yield  # interrupts go to the main thread
        return
    from numba.core import event

    interrupted = False

    def interrupt(number: int, frame: FrameType | None) -> None:
        nonlocal interrupted
        interrupted = True
        raise KeyboardInterrupt

    class Reminder(event.Listener):
        def on_start(self, found: object) -> None:
            if interrupted:
                raise KeyboardInterrupt

        def on_end(self, found: object) -> None:
            pass

    before = signal.signal(signal.SIGINT, interrupt)
    try:
        with event.install_listener("numba:compile", Reminder()):
            yield
        if interrupted:
            raise KeyboardInterrupt
    finally:
        signal.signal(signal.SIGINT, before)


def _note(folder: Path) -> Path:
    """Return the note that kernels of these sources were compiled whole, for here.

    Where numba would pass over what is kept (other sources, another processor, another
    version of it), or was ended in the middle, there is no such note.
    """
    import llvmlite.binding

    told = [version("numba"), version("llvmlite"), sys.version]
    told += [os.environ.get(f"NUMBA_CPU_{name}", "") for name in ("NAME", "FEATURES")]
    told.append(llvmlite.binding.get_host_cpu_name())
    told.append(llvmlite.binding.get_host_cpu_features().flatten())
    for path in _kernel_sources():
        status = path.stat()  # numba goes by these
        told.append(f"{path}:{status.st_size}:{status.st_mtime_ns}")
    return folder / (READY + hashlib.sha256("\n".join(told).encode()).hexdigest()[:16])


def saying(quiet: bool) -> Callable[[str], None]:
    """Return what tells a person at the command line that compiling takes a while."""

    def say(words: str) -> None:
        if not quiet:
            print(words, file=sys.stderr, flush=True)

    return say


def clear(folder: Path) -> None:
    """Remove the kernels kept in a folder, and nothing else."""
    for pattern in ("*.nbi", "*.nbc", READY + "*"):
        for path in folder.rglob(pattern):
            path.unlink(missing_ok=True)


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False
