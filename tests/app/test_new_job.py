"""What a new job begins with."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings

from drystone.app.window.new_job import UNIT, empty_job
from drystone.io.setup_file import setup_path, write_setup
from drystone.nesting.model.machine import ShopSetup


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> QSettings:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)


def test_the_shop_s_own_gap_and_margin(settings: QSettings) -> None:
    setup = ShopSetup()
    assert empty_job(settings, "New").cutting.margin == setup.practice.margin
    own = replace(
        setup.practice, cut_width=6.1, allowance=2.0, margin=15.0, keep_side=90
    )
    write_setup(replace(setup, practice=own))
    cutting = empty_job(settings, "New").cutting
    assert (cutting.cutter, cutting.allowance, cutting.margin) == (6.1, 2.0, 15.0)
    assert cutting.keep_side == 90.0
    setup_path().write_text("not = [toml")
    assert empty_job(settings, "New").cutting.margin == setup.practice.margin


def test_the_unit_that_was_chosen_last(settings: QSettings) -> None:
    for unit in ("in", "mm"):
        settings.setValue(UNIT, unit)
        assert empty_job(settings, "New").units == unit
    settings.setValue(UNIT, "furlong")
    assert empty_job(settings, "New").units in ("mm", "in")
