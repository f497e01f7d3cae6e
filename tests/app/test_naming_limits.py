"""Only the command line names its option when a drawing is too large."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from drystone.app.progress import progress
from drystone.app.racking import outline_from_drawing
from drystone.app.reading_watch import watched
from drystone.app.reading_words import naming_limits
from drystone.io.limits import Limits, TooLarge
from drystone.io.read_drawing import ReadDrawing
from drystone.nesting.model.errors import InputError


@pytest.mark.parametrize("times", [2, None])
def test_the_command_line_names_its_option(times: int | None) -> None:
    def look_at(path: Path, **options: Any) -> ReadDrawing:
        raise TooLarge(str(path), "not read: it holds too much", times)

    with progress(True) as bar, pytest.raises(InputError) as caught:
        watched(look_at, bar)(Path("a.dxf"))
    words = str(caught.value)
    start = "a.dxf: not read: it holds too much; split or simplify the drawing"
    assert words.startswith(start)
    assert words.endswith("--limits 2" if times else "simplify the drawing")


def test_the_window_does_not(tmp_path: Path) -> None:
    path = tmp_path / "board.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" '
        'viewBox="0 0 90 60">' + '<path d="M 5 5 h 9 v 9 z"/>' * 3 + "</svg>"
    )
    few = Limits(entities=2)
    with pytest.raises(TooLarge) as caught:  # so the page of stock reads
        outline_from_drawing(path, limits=few)
    assert "--limits" not in str(caught.value) and "split" in str(caught.value)
    with pytest.raises(InputError, match=r"--limits 2$"), naming_limits():
        outline_from_drawing(path, limits=few)
