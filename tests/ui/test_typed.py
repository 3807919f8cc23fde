"""What people type, and what is kept of it."""

from __future__ import annotations

import pytest

from ui.typed import complete_length, length_mm, length_problem, number_or_text


@pytest.mark.parametrize(
    ("typed", "unit", "kept"),
    [
        ("4 3/8", "in", "4 3/8 in"),
        (" 4 3/8 +- 1/16", "in", "4 3/8 in +- 1/16 in"),
        ("4±1/4", "in", "4 in +- 1/4 in"),
        ("3' 6-1/2\"", "in", "3' 6-1/2\""),
        ("95 mm", "in", "95 mm"),
        ("-1 1/2", "in", "-1 1/2 in"),
        ("1.25", "m", "1.25 m"),
        ("20", "ft", "20 ft"),
        ("4 3/", "in", "4 3/"),
        ("", "in", ""),
        ("unknown", "in", "unknown"),
    ],
)
def test_a_length_gets_the_unit_of_the_job_and_nothing_else(typed: str, unit: str, kept: str) -> None:
    assert complete_length(typed, unit) == kept


def test_values_by_hand() -> None:
    # 4 3/8 in = 4.375 x 25.4 mm exactly (international inch)
    assert length_mm("4 3/8 in") == pytest.approx(111.125)
    assert length_mm("4 3/") is None
    assert length_mm(None) is None


def test_what_is_wrong_is_one_sentence() -> None:
    assert length_problem("4 3/8 in", "Thickness") is None
    said = length_problem("4 3/", "Thickness")
    assert said
    assert said.startswith("Thickness: ")
    assert said.endswith(".")
    assert length_problem("-1 in", "Rod reading") is not None
    assert length_problem("-1 in", "Height", signed=True) is None


def test_numbers_stay_as_typed_where_they_are_none() -> None:
    assert number_or_text("38") == 38
    assert number_or_text("38.5") == 38.5
    assert number_or_text("about 40") == "about 40"
