"""From what is named on the command line to a job."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from drystone.app.book.importing import read_whole
from drystone.app.opening import Wishes, open_job
from drystone.io.known_size import KnownSize
from drystone.io.limits import Cancelled, Limits
from drystone.io.operations import Meaning
from drystone.io.read_guarded import GuardedReader
from drystone.io.setup_file import setup_path, write_setup
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.machine import ShopSetup


@pytest.fixture
def plate(tmp_path: Path) -> Path:
    """A plate of 240 x 160 units without a size, with a red loop in it."""
    path = tmp_path / "plate.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" fill="none" stroke="black">'
        '<rect width="240" height="160"/><rect x="20" y="20" width="60" height="40" '
        'stroke="red"/></svg>'
    )
    return path


def test_drawings_with_a_known_width_and_a_colour(plate: Path) -> None:
    wishes = Wishes(
        sheet="1000x500",
        known=KnownSize(width=120.0),
        layers={"red": Meaning.POCKET, "black": None},
    )
    job = open_job([plate], wishes).job
    (part,) = job.parts
    assert part.outline.size == pytest.approx((120.0, 80.0))
    assert [m.operation.value for m in part.marks] == ["POCKET"]
    assert job.layers == (("red", "pocket"), ("black", "nothing"))


def test_they_are_for_drawings_only(tmp_path: Path) -> None:
    order = tmp_path / "order.toml"
    order.write_text("")
    for wishes, word in (
        (Wishes(known=KnownSize(width=1.0)), "--known-width"),
        (Wishes(layers={"A": None}), "--layer"),
    ):
        with pytest.raises(InputError, match=word):
            open_job([order], wishes)


def test_a_drawing_without_a_part_is_refused_with_the_reason(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_text('<svg xmlns="http://www.w3.org/2000/svg"><text>a</text></svg>')
    with pytest.raises(InputError, match="only text"):
        open_job([path], Wishes(sheet="1000x500"))


def test_a_drawing_that_takes_too_long_spoils_no_other(
    plate: Path, tmp_path: Path
) -> None:
    bad = tmp_path / "bad.dxf"
    bad.write_text("no drawing")
    with GuardedReader() as reader:
        first = reader.look_at(plate, "mm")
        with pytest.raises(InputError, match="neither"):
            reader.look_at(bad)
        with pytest.raises(Cancelled):  # ends the process
            reader.look_at(plate, cancelled=lambda: True)
        assert reader.look_at(plate, "mm").parts == first.parts
    with GuardedReader(Limits(seconds=-20.0)) as hasty:
        for _ in range(2):
            with pytest.raises(InputError, match="longer than"):
                hasty.look_at(plate)


def test_orders_begin_with_the_cutting_of_the_set_up(
    plate: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What an order does not say the shop has said; what it says counts."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    setup = ShopSetup()
    own = replace(
        setup.practice, cut_width=3.1, allowance=0.7, margin=21.0, keep_side=80.0
    )
    order = tmp_path / "order.toml"
    order.write_text(
        '[cutting]\nmargin = 9\n[[stock]]\nsize = [1000, 500]\ncount = "as needed"\n'
        '[[part]]\ndrawing = "plate.svg"\nunits = "mm"\n'
    )
    plain = open_job([order]).job.cutting
    assert (plain.cutter, plain.margin, plain.keep_side) == (6.35, 9.0, 150.0)
    write_setup(replace(setup, practice=own))
    by_window = read_whole(order).job
    assert by_window is not None
    for cutting in (
        open_job([order]).job.cutting,
        open_job([order], usual=own.cutting()).job.cutting,
        by_window.cutting,
    ):
        assert (cutting.cutter, cutting.allowance) == (3.1, 0.7)
        assert (cutting.margin, cutting.keep_side) == (9.0, 80.0)
    said = Wishes(sheet="1000x500", cutter="4 mm", units="mm")
    cutting = open_job([plate], said).job.cutting
    assert (cutting.cutter, cutting.margin) == (4.0, 21.0)
    setup_path().write_text("broken [")
    assert open_job([order]).job.cutting == plain
