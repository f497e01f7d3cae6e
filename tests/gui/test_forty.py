"""Which test proves which of the forty checks of the window.

The checks are numbered as in the table in DEVELOPERS.md. A test that is named
``test_check_NN_…`` belongs to number NN; `ELSEWHERE` names those that came with their
part of the window. Each number must have a proof, and each proof must exist.
"""

from __future__ import annotations

import re
from collections import defaultdict
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]

ELSEWHERE = {
    5: ["gui/test_bench.py::test_a_band_selects_what_it_touches_while_it_grows"],
    7: [
        "gui/test_bench_aligning.py::"
        "test_a_drag_brings_an_edge_in_line_and_names_the_neighbour",
        "gui/test_bench_aligning.py::test_ctrl_frees_it",
        "gui/test_bench_turning.py::"
        "test_it_snaps_along_the_edge_of_a_neighbour_and_says_whose",
    ],
    8: [
        "gui/test_bench_aligning.py::"
        "test_figures_tell_place_and_distance_at_the_pointer_and_below"
    ],
    9: [
        "gui/test_bench_drawing.py::test_a_padlock_shows_on_parts_too_small_for_a_name"
    ],
    10: ["gui/test_bench_window.py::test_no_mouse_place_turn_nudge_and_lock"],
    12: [
        "gui/test_bench.py::"
        "test_the_wheel_zooms_at_the_pointer_with_ctrl_and_pans_without"
    ],
    13: [
        "gui/test_checks.py::test_the_zoom_keys_work_and_the_zoom_is_told",
        "gui/test_bench_window.py::test_zoom_and_fit_are_always_in_sight",
    ],
    15: [
        "gui/test_checks.py::test_tab_enters_and_leaves_the_bench",
        "gui/test_bench_window.py::test_tab_enters_and_leaves_the_bench",
        "gui/test_checks.py::test_a_letter_typed_in_a_field_turns_nothing",
        "gui/test_bench_keys.py::test_letters_typed_into_the_plate_turn_nothing",
    ],
    17: [
        "gui/test_nesting_live.py::test_the_strip_tells_of_a_long_search_only",
        "gui/test_taking_in.py::test_a_short_reading_flashes_nothing",
        "gui/test_taking_in.py::"
        "test_a_long_reading_is_told_and_stopped_within_a_second",
    ],
    18: ["gui/test_window.py::test_stop_keeps_and_discard_drops"],
    21: [
        "gui/test_window.py::test_lengths_as_people_write_them",
        "gui/test_book.py::test_lengths_read_alike_however_they_are_written",
    ],
    22: [
        "gui/test_book.py::test_wrong_text_stays_with_the_reason_beside_it",
        "gui/test_book.py::test_the_page_scrolls_until_what_is_wrong_can_be_read",
    ],
    23: ["gui/test_window.py::test_twenty_pasted_rows_are_one_step"],
    24: ["gui/test_book.py::test_tab_goes_left_to_right_and_top_to_bottom"],
    25: [
        "gui/test_book.py::test_a_changed_value_is_marked_and_set_back",
        "gui/test_book.py::test_every_default_is_a_value_that_can_be_typed_again",
    ],
    27: [
        "gui/test_bench_drawing.py::test_touching_parts_are_told_apart_in_grey",
        "gui/test_bench_drawing.py::test_parts_stand_out_from_their_edges_in_grey",
    ],
    28: [
        "gui/test_checks.py::test_words_of_every_level_can_be_read",
        "gui/test_bench_drawing.py::test_words_on_the_bench_can_be_read",
        "gui/test_book.py::test_empty_tick_boxes_are_seen_on_dark_ground",
    ],
    29: [
        "gui/test_checks.py::test_a_dark_evening_recolours_everything",
        "gui/test_bench_drawing.py::test_a_dark_bench_is_repainted",
    ],
    32: [
        "gui/test_checks.py::test_f6_goes_both_ways",
        "gui/test_checks.py::test_f6_reaches_an_empty_tray",
    ],
    33: ["gui/test_window.py::test_every_stop_of_tab_has_a_name"],
    34: ["gui/test_window.py::test_the_table_of_copies_does_what_the_bench_does"],
    35: ["gui/test_window.py::test_save_marks_clean_and_undoing_back_too"],
    36: ["gui/test_files.py::test_work_survives_a_kill_during_autosave"],
    37: ["gui/test_files.py::test_two_outside_changes_are_both_noticed"],
    38: ["gui/test_window.py::test_the_unsaved_question_has_verbs"],
    39: [
        "app/test_cli.py::test_help_has_examples_and_no_escape_codes",
        "app/test_cli.py::test_a_missing_file_is_one_line_and_status_2",
        "app/test_cli.py::test_json_of_look_parses",
    ],
    40: [
        "app/test_desktop.py::test_what_is_written_opens_a_job",
        "app/test_desktop.py::test_the_desktop_knows_jobs",
        "gui/test_checks.py::test_about_copies_versions",
    ],
}
"""By number: proofs that are not named after it."""


def named_after() -> dict[int, list[str]]:
    """Return the tests that carry a number in their name."""
    found = defaultdict(list)
    for path in sorted(Path(__file__).parent.glob("test_forty_*.py")):
        for name in re.findall(
            r"^def (test_check_(?:\d\d)_\w+)", path.read_text(), re.M
        ):
            found[int(name[11:13])].append(f"gui/{path.name}::{name}")
    return found


@pytest.mark.parametrize("number", range(1, 41))
def test_each_check_has_a_proof_that_exists(number: int) -> None:
    proofs = named_after()[number] + ELSEWHERE.get(number, [])
    assert proofs
    for proof in proofs:
        file, name = proof.split("::")
        text = (TESTS / file).read_text()
        assert re.search(rf"^def {name}\(", text, re.M), proof


def test_the_table_for_whoever_takes_over_has_every_number() -> None:
    text = (TESTS.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    section = text.partition("## The window's forty checks")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| (\d+) \|", section, re.M)
    assert rows == [str(number) for number in range(1, 41)]
