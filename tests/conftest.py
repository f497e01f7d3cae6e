"""What all tests share: windows are drawn without a screen unless one is asked for."""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
