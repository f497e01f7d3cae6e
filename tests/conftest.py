"""What all tests share: no screen unless one is asked for, fresh kernels, no habits."""

from __future__ import annotations

import os
import tempfile

from hypothesis import settings

from drystone.app import kernel_cache

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
# Before anything imports numba: kernels kept beside the sources may be outdated.
kernel_cache.set_up()
# What the person at this machine has set up for the program must change no test.
_habits = tempfile.TemporaryDirectory(prefix="drystone-tests-")
os.environ["XDG_CONFIG_HOME"] = _habits.name
# The same code gives the same verdict; fresh examples: --hypothesis-profile fresh.
settings.register_profile("repeated", derandomize=True, database=None, deadline=None)
settings.register_profile("fresh", derandomize=False, deadline=None)
settings.load_profile("repeated")
