"""Field books as text: read back with the standard library, fractions with the package's own parser."""

from __future__ import annotations

import tomllib

import pytest

from analyzer.training.scenes import book
from analyzer.units import parse_length


def test_tables_read_back_as_they_were_given() -> None:
    tables = (
        book.Table("job", {"id": "a", "invented": True, "age": 12, "turned": 0.5}, many=False),
        book.Table("corner", {"name": "A", "at": ["0 ft", "1 ft 2 in"]}, comment="two\nlines"),
        book.Table("corner", {"name": 'B "east"', "at": ["1 ft", "0 ft"]}),
        book.Table("photo.marks", {"px": [12, 34]}),
    )
    text = book.to_toml(tables, "A head\nof two lines")
    read = tomllib.loads(text)
    assert read["job"] == {"id": "a", "invented": True, "age": 12, "turned": 0.5}
    assert [c["name"] for c in read["corner"]] == ["A", 'B "east"']
    assert read["corner"][0]["at"] == ["0 ft", "1 ft 2 in"]
    assert read["photo"]["marks"] == [{"px": [12, 34]}]
    assert text.startswith("# A head\n# of two lines\n")


@pytest.mark.parametrize(
    ("mm", "text"),
    # 1 in = 25.4 mm exactly (international inch)
    [
        (25.4, "1 in"),
        (25.4 * 41.375, "41 3/8 in"),
        (-38.1, "-1 1/2 in"),
        (9.525, "3/8 in"),
        (0.0, "0 in"),
        (0.5, "0 in"),
    ],
)
def test_inches(mm: float, text: str) -> None:
    assert book.inches(mm) == text


@pytest.mark.parametrize(
    ("mm", "text"),
    [(304.8, "1 ft"), (304.8 * 9 + 25.4 * 5.25, "9 ft 5 1/4 in"), (127.0, "5 in"), (-304.8, "-1 ft")],
)
def test_feet(mm: float, text: str) -> None:
    assert book.feet(mm) == text


@pytest.mark.parametrize("mm", [3.0, 250.3, 1829.0, 12345.6])
def test_what_is_written_is_within_half_a_step(mm: float) -> None:
    assert parse_length(book.inches(mm)) == pytest.approx(mm, abs=25.4 / 32 + 1e-9)
    assert parse_length(book.feet(mm)) == pytest.approx(mm, abs=25.4 / 8 + 1e-9)
    assert parse_length(book.millimetres(mm)) == pytest.approx(mm, abs=0.5 + 1e-9)
    assert parse_length(book.millimetres(mm, 5.0)) == pytest.approx(mm, abs=2.5 + 1e-9)


def test_feet_and_inches_to_millimetres() -> None:
    assert book.ft(6) == pytest.approx(1828.8)
    assert book.ft(1, 6) == pytest.approx(457.2)


def test_a_backslash_is_refused() -> None:
    with pytest.raises(ValueError, match="backslash"):
        book.to_toml((book.Table("job", {"id": "a\\b"}, many=False),), "")
