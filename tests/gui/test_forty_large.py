"""The checklist's number 30: at 200 % on 1920 x 1080 nothing is cut off or overlaps.

Once everything is twice as large, as on a fine screen, so that the window has half the
room; once only the words are.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("large_text.py")


@pytest.mark.parametrize("kind", ["everything", "words"])
def test_check_30_nothing_is_cut_off_at_200_percent(kind: str, tmp_path: Path) -> None:
    whole = kind == "everything"
    screen = {
        "name": "screen",
        "x": 0,
        "y": 0,
        "width": 1920,
        "height": 1080,
        "logicalDpi": 96,
        "logicalBaseDpi": 96,
        "dpr": 1,
    }
    screens = tmp_path / "screens.json"
    screens.write_text(json.dumps({"screens": [screen]}))
    environment = {
        **os.environ,
        "QT_QPA_PLATFORM": f"offscreen:configfile={screens}",
        "HOME": str(tmp_path),
        "XDG_CONFIG_HOME": str(tmp_path / "config"),
        "XDG_DATA_HOME": str(tmp_path / "data"),
    }
    if whole:
        environment["QT_FONT_DPI"] = "192"
    words = [sys.executable, str(SCRIPT), *([] if whole else ["--words"])]
    done = subprocess.run(words, capture_output=True, text=True, env=environment)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout.splitlines()[-1])
    assert told["size"] == ([960, 540] if whole else [1920, 1080])
    assert len(told["faults"]) >= 15
    listed = [f"{page}: {f}" for page, faults in told["faults"].items() for f in faults]
    assert listed == [], "\n".join(listed)
