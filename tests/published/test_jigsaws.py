"""Sheets cut into jigsaws and put together again.

Irregular bin packing instances of Terashima-Marín, Ross, Farías-Zárate, López-Camacho &
Valenzuela-Rendón 2010, doi:10.1007/s10479-008-0475-2, from the ESICUP collection. They
were cut from full sheets, so the known optimum is the number of sheets.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from drystone.nesting.benchmark import run_instance

DATA = Path(__file__).parent.parent / "data" / "benchmark"


@pytest.mark.parametrize(
    "name", ["TA001", "TB016C20", "TD016", "TQ001", "TX001C8C5", "TI001", "TI016"]
)
def test_every_sheet_is_filled(name: str) -> None:
    instance = json.loads((DATA / f"{name}.json").read_text())
    solution = run_instance(instance, 60.0, seed=1)
    assert solution["bins"] == instance["known_optimum"]["bins"]
    assert len(solution["placements"]) == instance["n_pieces"]
