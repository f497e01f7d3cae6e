"""What stands above every table of the benchmarks: machine, versions, date, limits."""

from __future__ import annotations

import os
import platform
import time
from importlib.metadata import version
from pathlib import Path

PACKAGES = ("numba", "numpy", "scipy", "shapely")

CPUINFO = Path("/proc/cpuinfo")


def heading(limits: str) -> str:
    """Return the machine, the versions and the date in one line, the limits in another.

    Parameters
    ----------
    limits : str
        How long, from which seeds, checked by what.
    """
    versions = ", ".join(f"{name} {version(name)}" for name in PACKAGES)
    return (
        f"{processor()}, {platform.machine()}, {os.cpu_count()} cores, "
        f"Python {platform.python_version()}, {versions}; "
        f"{time.strftime('%d %B %Y')}\n{limits}"
    )


def processor() -> str:
    """Return the processor's name as its maker writes it."""
    try:
        lines = CPUINFO.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:  # not Linux
        lines = []
    for line in lines:
        key, _, value = line.partition(":")
        if key.strip() == "model name" and value.strip():
            return " ".join(value.split())
    return platform.processor() or "processor of unknown name"
