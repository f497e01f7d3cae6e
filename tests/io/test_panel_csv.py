"""Panels from tables as spreadsheets save them, and what is wrong with others."""

from __future__ import annotations

from pathlib import Path

import pytest

from drystone.io.panel_csv import Panel, read_panels
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.rules import TurnRule

HEADER = "name,quantity,length,width,material,thickness,turn\n"


def panels(folder: Path, text: str | bytes, units: str = "mm") -> tuple[Panel, ...]:
    path = folder / "panels.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_panels(path, units)


def test_a_plain_table(tmp_path: Path) -> None:
    (shelf, batten) = panels(
        tmp_path,
        HEADER + 'shelf,3,300,180,birch plywood,12,90\n\nbatten,8,1/2",20,,,\n',
    )
    assert (shelf.name, shelf.quantity, shelf.length, shelf.width) == (
        "shelf", 3, 300.0, 180.0,
    )  # fmt: skip
    assert (shelf.material, shelf.thickness) == ("birch plywood", 12.0)
    assert shelf.turn == TurnRule.parse("90")
    assert batten.length == 12.7
    assert (batten.material, batten.thickness) == (None, None)
    assert batten.turn == TurnRule()
    assert batten.place.endswith("panels.csv:4")


@pytest.mark.parametrize(
    "text",
    [
        "name;quantity;length;width\nshelf;3;300,5;180\n",
        "name\tquantity\tlength\twidth\nshelf\t3\t300,5\t180\n",
        'name,quantity,length,width\nshelf,3,"300,5",180\n',
        "\ufeffname,quantity,length,width\r\nshelf,3,300.5,180\r\n",
        " Name , QUANTITY ,length,width,,\n shelf , 3 , 300.5 mm ,180,,\n",
        "\n\nwidth,length,quantity,name\n180,300.5,3,shelf\n",
    ],
)
def test_dialects_of_one_table(tmp_path: Path, text: str) -> None:
    (shelf,) = panels(tmp_path, text)
    assert (shelf.name, shelf.quantity) == ("shelf", 3)
    assert (shelf.length, shelf.width) == (300.5, 180.0)


def test_a_table_in_utf_16_and_in_inches(tmp_path: Path) -> None:
    text = "name,quantity,length,width\nRegal für Töpfe,1,12,0.5\n"
    (shelf,) = panels(tmp_path, text.encode("utf-16"), units="in")
    assert shelf.name == "Regal für Töpfe"
    assert shelf.length == pytest.approx(304.8, abs=1e-12)
    assert shelf.width == 12.7


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty; begin it with quantity,length,width"),
        ("name,length,width\n", "panels.csv:1: the first line lacks quantity"),
        ("quantity,lenght,width\n", "unknown column 'lenght'; did you mean 'length'?"),
        ("quantity,length,width,length\n", "column 'length' is there twice"),
        ("quantity,length,width\n-2,3,4\n",
         "panels.csv:2: quantity is -2; give 0 or a whole number"),
        ("quantity,length,width\n1.5,3,4\n", "quantity is 1.5; give 0 or a whole"),
        ("quantity,length,width\n,3,4\n", "quantity is missing"),
        ("quantity,length,width\n1,,4\n", "length is missing"),
        ("quantity,length,width\n1,0,4\n", "length is 0; give a length above 0"),
        ("quantity,length,width\n1,3 furlongs,4\n", "unknown unit 'furlongs'"),
        ("quantity,length,width\n1,nan,4\n", "cannot read 'nan' as a length"),
        ("quantity,length,width,turn\n1,3,4,often\n", "unknown turn rule 'often'"),
        ("quantity,length,width,flip\n1,3,4,maybe\n", "flip is 'maybe'"),
        ("quantity,length,width\n1,3,4,5\n", "4 cells under 3 columns"),
        ('quantity,length,width\n1,3,"4\n', "cannot be read as CSV"),
        (b"quantity,length,width,name\n1,3,4,T\xfcr\n", "csv:2: the text is not"),
    ],
)  # fmt: skip
def test_mistakes(tmp_path: Path, text: str | bytes, words: str) -> None:
    with pytest.raises(InputError) as caught:
        panels(tmp_path, text)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_all_mistakes_are_said_at_once(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        panels(tmp_path, "quantity,length,width\n-1,0,4\n1,2,3\n1,2,x\n")
    lines = str(caught.value).splitlines()
    assert [line.split("panels.csv:")[1][0] for line in lines] == ["2", "2", "4"]
