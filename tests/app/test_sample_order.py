"""The sample order, laid out: holes of parts are room worth having."""

from __future__ import annotations

from pathlib import Path

from drystone.app.laying_out import lay_out
from drystone.app.opening import open_job

ORDER = Path(__file__).resolve().parents[2] / "sample_parts" / "order.toml"


class Deaf:
    def update(self, share: float, words: str) -> None:
        pass


def test_parts_in_holes_save_a_sheet_or_leave_more_and_the_verdict_says_so() -> None:
    done = lay_out(open_job([ORDER]).job, Deaf(), seconds=60, passes=12)
    verdict = done.verdict
    assert verdict.complete
    assert verdict.in_holes > 5
    other = verdict.without_holes
    assert other is not None
    assert other.unplaced == 0
    mine = verdict.measures
    blanks, other_blanks = (m.sheets + m.offcuts for m in (mine, other))
    assert (blanks, -mine.kept_area) < (other_blanks, -other.kept_area)
    said = "\n".join(verdict.lines())
    assert "in holes of other parts; " in said
    assert "saves nothing" not in said
