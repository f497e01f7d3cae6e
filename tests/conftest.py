"""What all tests share: no screen unless one is asked for, and fresh kernels."""

from __future__ import annotations

import os

from drystone.app import kernel_cache

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
# Before anything imports numba: kernels kept beside the sources may be outdated.
kernel_cache.set_up()
