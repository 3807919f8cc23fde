"""Plain words for slips of syntax; lines of entries, counted here in the text itself."""

import tomllib
from collections.abc import Callable

import pytest

from analyzer.acquire import parse_field_book
from analyzer.acquire.syntax import syntax_error
from analyzer.errors import ManyProblems, SlabError


def told(text: str) -> str:
    with pytest.raises(tomllib.TOMLDecodeError) as caught:
        tomllib.loads(text)
    return str(syntax_error("book.toml", text, caught.value))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("use = foot", 'line 2: foot needs quotation marks; write use = "foot".'),
        ("use = foot # or car", 'line 2: foot needs quotation marks; write use = "foot".'),
        ("rod = 4 3/8 in", '4 3/8 in needs quotation marks; write rod = "4 3/8 in".'),
        ("public_route = Yes", 'write public_route = "Yes".'),
        ("date = 11/20/2026", "11/20/2026 is not a date that can be read; write year-month-day"),
        ("date = 2026-11-3", "2026-11-3 is not a date that can be read; write year-month-day"),
        ("rod = 5' 6\"", "line 2 cannot be read"),
        ('x = "5\' 6""', "more behind the value"),
        ("x =", "the value is missing"),
        ("[slab", "a bracket is not closed"),
        ('x = "open', "a quotation mark is wrong"),
        ("schema = 2", "the same key is there twice"),
        ("[job]\n[job]", "the heading [job] is there twice"),
        ("just words", "there is no = after the name"),
    ],
)  # fmt: skip
def test_slips_in_plain_words(line: str, words: str) -> None:
    sentence = told(f"schema = 1\n{line}\n")
    assert words.replace("line 2 cannot", "line 2: cannot") in sentence
    assert sentence.startswith("book.toml, line ")
    assert "TOML" not in sentence.replace("book.toml", "")


def one_line(text: str, words: str) -> int:
    """The only line with these words, counted from 1."""
    found = [i for i, line in enumerate(text.splitlines(), start=1) if words in line]
    assert len(found) == 1, found
    return found[0]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('age_years = 38', 'age_years = "old"'),
        ('step = "3/16 in +- 1/32 in"', 'step = "3/17 inn"'),
        ('px = [412.5, 2630]', 'px = [-7, 2630]'),
        ('says = "', 'tells = "'),
        ('thickness = "4 in +- 1/4 in"', 'thickness = "4 in +- 7 quarters"'),
        ('check_of = "S1"', 'check_of = "S77"'),
        ('[design]', '[designs]'),
    ],
)  # fmt: skip
def test_the_line_of_a_problem(edited: Callable[..., str], old: str, new: str) -> None:
    text = edited(old, new)
    with pytest.raises(SlabError) as caught:
        parse_field_book(text, "book.toml")
    problems = caught.value.problems if isinstance(caught.value, ManyProblems) else (caught.value,)
    assert f"line {one_line(text, new)}" in [problem.line for problem in problems]


def test_what_is_missing_is_told_at_its_heading(edited: Callable[..., str]) -> None:
    text = edited('straightedge = "10 ft"', "")
    with pytest.raises(SlabError) as caught:
        parse_field_book(text, "book.toml")
    assert caught.value.told().startswith(f"book.toml, line {one_line(text, '[[gap]]')}, gap no. 1: has no")


def test_entries_of_the_same_name_give_both_lines(edited: Callable[..., str]) -> None:
    text = edited('name = "S3"', 'name = "S2"')
    with pytest.raises(SlabError) as caught:
        parse_field_book(text, "book.toml")
    numbers = [i for i, line in enumerate(text.splitlines(), start=1) if line == 'name = "S2"']
    # The heading stands one line above the name.
    assert caught.value.line == f"line {numbers[0] - 1} or {numbers[1] - 1}"


def test_no_line_rather_than_a_wrong_one(edited: Callable[..., str]) -> None:
    # A heading inside a text of several lines: one more than there are entries.
    text = edited('weather = "', 'weather = """\n[[gap]]\n""" # "')
    text = text.replace('straightedge = "10 ft"', "")
    with pytest.raises(SlabError) as caught:
        parse_field_book(text, "book.toml")
    assert "gap no. 1" in str(caught.value)
    assert caught.value.line == ""
