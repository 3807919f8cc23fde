"""Values: what is read, what is refused, and that the schema's pattern says the same."""

import datetime as dt
import math
import re

import pytest
from hypothesis import example as case
from hypothesis import given
from hypothesis import strategies as st

from analyzer.acquire import kinds
from analyzer.errors import FieldBookError, SlabError, UnitError
from analyzer.terms import Answer, Distress, Use
from analyzer.units import Reading


def accepts(kind: kinds.Kind, raw: object) -> bool:
    try:
        kind.read(raw, "here")
    except SlabError:
        return False
    return True


def test_lengths_with_and_without_uncertainty() -> None:
    reading = kinds.Length().read("4 3/8 in +- 1/16 in", "here")
    assert isinstance(reading, Reading)
    assert reading.mm == pytest.approx(4.375 * 25.4)
    # Rectangular distribution: half-width / sqrt(3) (JCGM 100:2008, 4.3.7, from memory).
    assert reading.u_mm == pytest.approx(25.4 / 16 / math.sqrt(3))
    assert kinds.Length(plain=True).read("3' 6-1/2\"", "here") == pytest.approx(42.5 * 25.4)
    assert kinds.Length(signed=True, plain=True).read("-1 ft 6 in", "here") == pytest.approx(-457.2)


@pytest.mark.parametrize(
    ("kind", "raw"),
    [
        (kinds.Length(), 4),
        (kinds.Length(), True),
        (kinds.Length(), "4"),
        (kinds.Length(), "-4 in"),
        (kinds.Length(), "5'13\""),
        (kinds.Length(), "nan in"),
        (kinds.Length(), "4 inn"),
        (kinds.Length(), "9" * 70 + " m"),
        (kinds.Length(), "2 km"),
        (kinds.Length(), "1001 m"),
        (kinds.Length(positive=True), "0 in"),
        (kinds.Length(plain=True), "4 in +- 1 in"),
    ],
)
def test_lengths_that_are_none(kind: kinds.Length, raw: object) -> None:
    with pytest.raises((UnitError, FieldBookError)) as caught:
        kind.read(raw, "station S1, rod")
    assert str(caught.value).startswith("station S1, rod: ")


@pytest.mark.parametrize("raw", [0, 0.0, "0", "0.0"])
def test_a_bare_zero_is_a_length(raw: object) -> None:
    reading = kinds.Length().read(raw, "here")
    assert isinstance(reading, Reading)
    assert (reading.mm, reading.u_mm) == (0.0, None)
    assert kinds.POINT.read([raw, "3 ft"], "here") == (0.0, pytest.approx(914.4))
    # A thickness or a distance of zero makes no sense: not measured is left out.
    with pytest.raises(SlabError, match="is zero; leave it out"):
        kinds.Length(positive=True).read(raw, "here")


def test_pixels_come_as_seen_and_go_as_row_and_column() -> None:
    # Column (from the left) first in the file, (row, col) inside.
    assert kinds.PicturePoint().read([812.5, 1440], "here") == (1440.0, 812.5)


@pytest.mark.parametrize(
    ("raw", "answer"),
    [
        ("Yes", Answer.YES),
        ("YES", Answer.YES),
        ("No", Answer.NO),
        ("don't know", Answer.UNKNOWN),
        ("Don’t know", Answer.UNKNOWN),
        ("dont know", Answer.UNKNOWN),
        ("Unknown", Answer.UNKNOWN),
    ],
)
def test_answers_as_people_write_them(raw: str, answer: Answer) -> None:
    kind = kinds.Word(tuple(Answer))
    assert kind.read(raw, "here") is answer
    assert re.search(kind.schema()["pattern"], raw)
    # Other lists keep their own spelling.
    assert not accepts(kinds.Word(tuple(Use)), "Foot")


@pytest.mark.parametrize("raw", ["yes and no", "maybe", "", "y", "nope", "yes\n", "not"])
def test_answers_that_are_none(raw: str) -> None:
    kind = kinds.Word(tuple(Answer))
    assert not accepts(kind, raw)


@pytest.mark.parametrize("raw", [["none"], "none", ["None"], "no", [""]])
def test_none_of_a_list_is_an_empty_list(raw: object) -> None:
    panels = kinds.ListOf(kinds.Pattern("^P[1-9]$", "name a panel"))
    with pytest.raises(FieldBookError, match=re.escape("write [] if you looked and found none")):
        panels.read(raw, "[slab], rocking_panels")
    assert panels.read([], "here") == ()
    # A line of two points cannot be empty.
    with pytest.raises(FieldBookError, match="write for example"):
        kinds.ListOf(kinds.POINT, 2, example="[...]").read("none", "here")


def test_words_numbers_days_and_flags() -> None:
    assert kinds.Word(tuple(Answer)).read("yes", "here") is Answer.YES
    assert kinds.Number(0, 10).read(3, "here") == 3.0
    assert kinds.Number(0, 10, whole=True).read(3.0, "here") == 3
    assert kinds.Day().read("2025-04-12", "here") == dt.date(2025, 4, 12)
    assert kinds.Flag().read(False, "here") is False
    assert kinds.Text().read("  dry  ", "here") == "dry"


@pytest.mark.parametrize(
    ("kind", "raw", "words"),
    [
        (kinds.Word(tuple(Use)), "trcuk", 'did you mean "truck"'),
        (kinds.Word(tuple(Distress)), "hollow spot", 'did you mean "hollow-sounding area"'),
        (kinds.Day(), "11/20/2026", "write year-month-day"),
        (kinds.Word(tuple(Use)), 3, 'write one of "foot"'),
        (kinds.Word(tuple(Answer)), True, "true is not a word"),
        (kinds.Number(0, 10), math.nan, "nan"),
        (kinds.Number(0, 10), math.inf, "inf"),
        (kinds.Number(0, 10), "3", "not a number"),
        (kinds.Number(0, 10), True, "not a number"),
        (kinds.Number(0, 10), -0.1, "from 0 to 10"),
        (kinds.Number(0, 10, whole=True), 2.5, "whole number"),
        (kinds.Number(1, 1, whole=True), 2, "write 1"),
        (kinds.Day(), "2025-02-30", "day of the calendar"),
        (kinds.Day(), "12.4.2025", "year-month-day"),
        (kinds.Day(), "2025-04-12T08:00:00", "year-month-day"),
        (kinds.Flag(), "true", "without quotation marks"),
        (kinds.Flag(), 1, "without quotation marks"),
        (kinds.Text(), " ", "empty"),
        (kinds.Text(), 3, "quotation marks"),
        (kinds.Text(10), "x" * 11, "shorten"),
        (kinds.POINT, ["1 ft"], "has 1 values instead of 2"),
        (kinds.POINT, "1 ft, 2 ft", "not a list"),
        (kinds.CORNER_NAME, "A\n", "cannot be used"),
        (kinds.Place(), "A\n", "neither a point"),
        (kinds.Day(), "2025-04-12\n", "year-month-day"),
        (kinds.Place(), "not a corner", "neither a point nor a corner"),
        (kinds.PicturePoint(), [-1, 5], "out of range"),
        (kinds.Quantity("an area"), "6 ft", "12 ft2"),
        (kinds.Quantity("a percentage"), 0.08, "8 %"),
        (kinds.Quantity("a volume"), "1 gallon", "0.25 yd3"),
        (kinds.Quantity("a slope"), "2", "1:48"),
    ],
)
def test_refused_with_what_to_do(kind: kinds.Kind, raw: object, words: str) -> None:
    with pytest.raises(SlabError, match=re.escape(words)):
        kind.read(raw, "here")


# ---- pattern and reader, on the same texts ----------------------------------------------------

NUMBERS = st.sampled_from(
    ["0", "0.0", "00", "3", "11", "12", "007", "2.5", ".5", "11.9", "12.1", "", "-1", "1e3", "nan"]
)
FRACTIONS = st.sampled_from(["", "1/2", "3/ 4", "1/0", "0/8", "½", "⅜", "1/"])
UNITS = st.sampled_from(
    [
        "in",
        '"',
        "″",
        "''",
        "'",
        "′",
        "ft",
        "FT",
        "feet",
        "mm",
        "MM",
        "m",
        "cm",
        "yd",
        "inn",
        "",
        "km",
        "Inches",
    ]
)
GAPS = st.sampled_from(["", " ", "-", " - ", "–", "\u00a0"])
PIECES = st.tuples(NUMBERS, GAPS, FRACTIONS, GAPS, UNITS).map("".join)
LENGTHS = st.one_of(
    PIECES,
    st.tuples(st.sampled_from(["-", "−", " ", ""]), PIECES).map("".join),
    st.tuples(st.sampled_from(["3'", "3 ft", "0′", "3.5'", "3 FT", "x'"]), GAPS, PIECES).map("".join),
    st.tuples(PIECES, st.sampled_from(["+-", " ± ", "+/-", "~", " +- +- "]), PIECES).map("".join),
)


@pytest.mark.parametrize(
    "kind",
    [kinds.Length(), kinds.Length(signed=True), kinds.Length(plain=True), kinds.COORDINATE],
    ids=["reading", "signed", "plain", "coordinate"],
)
@given(text=LENGTHS)
@case(text="3' 6-1/2\" +- 1/16 in")
@case(text="5'13\"")
@case(text="6½ in")
def test_the_pattern_of_a_length_is_what_the_reader_takes(kind: kinds.Length, text: str) -> None:
    matches = re.search(kind.schema()["pattern"], text) is not None
    try:
        kind.read(text, "here")
        taken = True
    except SlabError as problem:
        taken = False
        # The one thing that the pattern cannot count: an improper fraction, 3' 31/2 in.
        matches = matches and not ("12 or more inches" in problem.problem and "/" in text)
    assert matches == taken, text


QUANTITIES = st.tuples(
    NUMBERS,
    GAPS,
    st.sampled_from(
        ["ft2", "ft²", "ft^2", "sq ft", "sq. m", "m2", "in 2", "yd2", "yd3", "cu yd", "cu.ft", "m³", "%",
         ": 48", ":0.5", "in/ft", "mm per m", "in/yd", "ft3", "m"]
    ),
).map("".join)  # fmt: skip


@pytest.mark.parametrize("what", ["an area", "a slope", "a volume", "a percentage"])
@given(text=QUANTITIES)
@case(text="1/4 in/ft")
@case(text="2 %")
def test_the_pattern_of_a_quantity_is_what_the_reader_takes(what: str, text: str) -> None:
    kind = kinds.Quantity(what)
    assert kind.example
    assert accepts(kind, kind.example)
    matches = re.search(kind.schema()["pattern"], text) is not None
    assert matches == accepts(kind, text), text


def test_suggestions() -> None:
    assert kinds.suggestion("thicknes", ("thickness", "age_years")) == "thickness"
    assert kinds.suggestion("qqq", ("thickness", "age_years")) is None
