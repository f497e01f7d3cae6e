"""Set-ups kept under names."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from drystone.io.setup_file import read_setup
from drystone.io.setup_library import SetupLibrary
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.machine import Machine, ShopSetup


def test_kept_set_ups_come_back_and_go(tmp_path: Path) -> None:
    library = SetupLibrary(tmp_path)
    assert library.names() == () and library.began_as() == ""
    assert library.read("") == ShopSetup()
    big = replace(ShopSetup(), machines=(Machine("big", bed=(1300.0, 2500.0)),))
    library.keep("big router", big)
    library.keep("A small one", ShopSetup())
    assert library.names() == ("A small one", "big router")
    assert library.read("big router") == big
    library.use("big router", big)
    assert read_setup(library.in_use) == big
    assert library.began_as() == "big router"
    library.remove("big router")
    assert library.names() == ("A small one",)
    assert library.began_as() == "", "what is gone is no beginning"


@pytest.mark.parametrize("name", ["", "../shop", "a/b", ".hidden", "x" * 61, "a\nb"])
def test_names_that_are_no_files_are_refused(tmp_path: Path, name: str) -> None:
    library = SetupLibrary(tmp_path)
    with pytest.raises(InputError, match="name of a file"):
        library.keep(name, ShopSetup())
    assert not list(tmp_path.rglob("*.toml"))


def test_a_set_up_that_is_gone_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is gone"):
        SetupLibrary(tmp_path).read("big router")
