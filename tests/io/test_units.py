from __future__ import annotations

import pytest

from drystone.io.units import (
    INSUNITS,
    MM_PER,
    format_length,
    guess_unit,
    header_reading,
    parse_length,
    told,
    unit_name,
)
from drystone.nesting.model.errors import InputError


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("12", 12.0),
        ("12mm", 12.0),
        (" 12 mm ", 12.0),
        ("12,5", 12.5),
        ("0,200", 0.2),
        ("1.200", 1.2),
        (".5", 0.5),
        ("5.", 5.0),
        ("1e2", 100.0),
        ("1/2", 0.5),
        ('1/2"', 12.7),
        ('1 1/2"', 38.1),
        ("1-1/2 in", 38.1),
        ("1½ in", 38.1),
        ("0.5in", 12.7),
        ("2' 3\"", 685.8),
        ("2'3", 685.8),
        ("2'-3-1/2\"", 698.5),
        ("2 ft 3 in", 685.8),
        ("3 feet 2 inches", 965.2),
        ("2\u2032 3\u2033", 685.8),
        ("-5 mm", -5.0),
        ("\u22125", -5.0),
        ("2.44 m", 2440.0),
        ("1,5 cm", 15.0),
    ],
)
def test_lengths_people_write(text: str, mm: float) -> None:
    assert parse_length(text) == mm


def test_the_default_unit_counts_only_without_a_unit() -> None:
    assert parse_length("1/2", "in") == 12.7
    assert parse_length("12 mm", "in") == 12.0


@pytest.mark.parametrize(
    "text",
    [
        "",
        "  ",
        "abc",
        "nan",
        "inf",
        "12 furlongs",
        "1/0",
        "1 2",
        "1 3/2",
        "1.2.3",
        "--5",
        "1e999",
        "5 mm 3 mm",
        "3\" 2'",
        "1,200.5",
        "1.200,5",
        "9" * 5000,
        "=1+1",
        "2' 3\" 4",
    ],
)
def test_what_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        parse_length(text)


def test_a_comma_that_could_be_thousands_is_refused_with_both_readings() -> None:
    with pytest.raises(InputError, match=r"two ways; write 1200 or 1\.200"):
        parse_length("1,200")


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (12.0, "mm", "12 mm"),
        (12.7, "mm", "12.7 mm"),
        (12.7, "in", '1/2"'),
        (38.1, "in", '1-1/2"'),
        (25.4 / 64, "in", '1/64"'),
        (25.4 / 128, "in", "0.0078 in"),
        (12.0, "in", "0.4724 in"),
        (-6.35, "in", '-1/4"'),
        (0.0, "in", '0"'),
        (-0.0001, "mm", "0 mm"),
        (2438.4, "in", '96"'),
        (1500.0, "m", "1.5 m"),
    ],
)
def test_lengths_are_shown_as_people_write_them(
    mm: float, unit: str, text: str
) -> None:
    assert format_length(mm, unit) == text


@pytest.mark.parametrize(
    ("word", "name"),
    [
        ("MM", "mm"),
        ("Inches", "in"),
        ('"', "in"),
        ("feet", "ft"),
        ("thou", "mil"),
        ("metres", "m"),
        ("M", "m"),
        ("px90", "px90"),
    ],
)
def test_unit_words(word: str, name: str) -> None:
    assert unit_name(word) == name


def test_an_unknown_unit_is_named() -> None:
    with pytest.raises(InputError, match="unknown unit 'cubit'"):
        unit_name("cubit")


def test_every_insunits_code_has_a_factor() -> None:
    assert set(INSUNITS) == set(range(1, 25))
    assert set(INSUNITS.values()) <= set(MM_PER)


def test_a_header_that_makes_sense_is_believed() -> None:
    reading = header_reading(1, 12.0)
    assert (reading.unit, reading.factor, reading.sure) == ("in", 25.4, True)


@pytest.mark.parametrize(
    ("code", "longest", "better"),
    [(1, 300.0, "mm"), (4, 11.8, "in"), (4, 0.3, "m"), (6, 300.0, "mm")],
)
def test_a_header_against_the_sizes_is_doubted(
    code: int, longest: float, better: str
) -> None:
    reading = header_reading(code, longest)
    assert not reading.sure
    assert better in [name for name, _ in reading.others]


def test_no_header_is_never_sure() -> None:
    assert not header_reading(None, 300.0).sure
    assert not header_reading(0, 300.0).sure


@pytest.mark.parametrize(
    ("longest", "metric", "unit"),
    [
        (300.0, None, "mm"),
        (12.0, None, "in"),
        (30.0, None, "in"),
        (30.0, True, "mm"),
        (12.0, True, "in"),
        (0.4, None, "m"),
        (11800.0, None, "mil"),
        (0.0, None, "mm"),
        (float("nan"), None, "mm"),
        (1e300, None, "mm"),
    ],
)
def test_guesses(longest: float, metric: bool | None, unit: str) -> None:
    assert guess_unit(longest, metric) == unit


def test_the_users_word_is_final() -> None:
    reading = told("inches")
    assert (reading.unit, reading.factor, reading.sure) == ("in", 25.4, True)
