"""Start of the program: ``drystone`` and ``python -m drystone.app``."""

from __future__ import annotations

import sys


def main() -> int:
    """Run the command line; return its exit status."""
    from .cli import run

    return run(sys.argv[1:])


def window_main() -> int:
    """Open the window, with any job files named on the command line."""
    from .cli import run

    return run(["window", *sys.argv[1:]])


if __name__ == "__main__":
    sys.exit(main())
