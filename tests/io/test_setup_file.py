"""The set-up file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from drystone.io.setup_file import (
    parse_setup,
    read_setup,
    setup_path,
    setup_text,
    write_setup,
)
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.machine import Cutter, CutterKind, Machine, Saw, ShopSetup


def test_no_file_means_the_defaults(tmp_path: Path) -> None:
    assert read_setup(tmp_path / "none.toml") == ShopSetup()


def test_a_setup_comes_back_as_it_was_written(tmp_path: Path) -> None:
    setup = replace(
        ShopSetup(),
        machines=(Machine('the "big" one\\ö', actual_over_estimated=(1.1, 1.25)),),
        cutters=(Cutter("x", CutterKind.COMPRESSION, 6.35, up_cut_length=0.1 + 0.2),),
        saw=Saw(2.2, 5.0),
    )
    path = write_setup(setup, tmp_path / "deep" / "shop.toml")
    assert read_setup(path) == setup
    assert parse_setup(setup_text(ShopSetup())) == ShopSetup()


def test_every_default_can_be_seen_in_the_file() -> None:
    text = setup_text(ShopSetup())
    for word in ("chip_factor = 0.4", "tab_width = 8", "density = 680", "kerf = 3"):
        assert word in text


def test_the_user_has_one_in_the_configuration_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert setup_path().name == "shop.toml"
    assert setup_path().parent.name == "drystone"


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("format = 2", "newer than this program"),
        ("[[machine]]", "unknown key 'machine'; did you mean 'machines'"),
        ("[saw]\nkerv = 3", r"\[saw\]: unknown key 'kerv'; did you mean 'kerf'"),
        ("[saw]\nkerf = -3", "kerf is -3"),
        ('[[cutters]]\nname = "a"\nflutes = 1.5', "flutes"),
        ('[[cutters]]\nname = "a"\nkind = "round"', "kind"),
        ("[[cutters]]\ndiameter = 3", "name"),
        ("machines = []", "no machine"),
        ("saw = 3", "saw"),
        ("machines = 3", "machines is no list"),
        ("[saw", "is not TOML"),
    ],
)
def test_mistakes_are_named(text: str, what: str) -> None:
    with pytest.raises(InputError, match=what):
        parse_setup(text, "shop.toml")


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match=r"shop\.toml: cannot be read"):
        read_setup(path)
