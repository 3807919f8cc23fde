"""Errors say what, where and what to do, in one sentence."""

import pytest

from analyzer import errors


def test_one_sentence_with_subject_problem_and_remedy() -> None:
    error = errors.UnitError("station S4", "has no unit", "write 4 3/8 in", expected="length", found="4")
    assert str(error) == "station S4: has no unit; write 4 3/8 in."
    assert (error.expected, error.found) == ("length", "4")


@pytest.mark.parametrize(
    "kind", [k for k in vars(errors).values() if isinstance(k, type) and k.__name__ != "Sequence"]
)
def test_every_error_has_one_root(kind: type) -> None:
    assert issubclass(kind, errors.SlabError)
    assert kind.__doc__


def test_many_problems_are_raised_together() -> None:
    one = errors.FieldBookError("crack K1", "has no length", "measure it")
    two = errors.FieldBookError("crack K2", "has no panel", "name it")
    many = errors.ManyProblems("book.toml", [one, two])
    assert many.problems == (one, two)
    assert "2 things to correct" in str(many)
    assert "crack K1: has no length; measure it" in str(many)
    assert str(many).count("book.toml") == 1
    with pytest.raises(ValueError, match="at least one"):
        errors.ManyProblems("book.toml", [])


def test_the_line_is_told_and_the_file_named_once() -> None:
    one = errors.FieldBookError("book.toml, crack K1", "has no length", "measure it")
    assert one.told() == str(one)
    one.source, one.line = "book.toml", "line 7"
    assert one.told() == "book.toml, line 7, crack K1: has no length; measure it."
    whole = errors.FieldBookError("book.toml", "has no [job]", "add it")
    whole.source = "book.toml"
    assert whole.told() == "book.toml: has no [job]; add it."
    assert errors.ManyProblems("book.toml", [one, whole]).lines() == (
        "book.toml: 2 things to correct:",
        "  line 7, crack K1: has no length; measure it.",
        "  has no [job]; add it.",
        "Correct them and run again.",
    )
