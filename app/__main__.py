"""Start of the program: ``drystone`` and ``python -m drystone.app``."""

from __future__ import annotations

import os
import sys

# numpy and scipy each start a thread of linear algebra for every processor, and reserve
# some 8 MB for each: on a large computer that alone would fill what a process that
# reads drawings may take. Nothing here does linear algebra large enough to need them.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


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
