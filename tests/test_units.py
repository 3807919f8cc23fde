"""Typed lengths and conversion factors."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyzer import units
from analyzer.errors import UnitError


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("3' 6-1/2\"", 42.5),
        ("10 1/2 in", 10.5),
        ("3 ft 6 in", 42.0),
        ("3/4 in", 0.75),
        ("12'", 144.0),
        ('4"', 4.0),
        ('4 3/8"', 4.375),
        ("3′ 6½″", 42.5),
        ("0'-6\"", 6.0),
        ("2 ft", 24.0),
        ("1.5 in", 1.5),
        ("½ in", 0.5),
    ],
)
def test_feet_inches_and_fractions(text: str, inches: float) -> None:
    # Worked by hand; 1 in = 25.4 mm exactly (international inch).
    assert units.parse_length(text) == pytest.approx(inches * 25.4, abs=1e-9)


@pytest.mark.parametrize(("text", "mm"), [("250 mm", 250), ("1.25 m", 1250), ("12,5 mm", None), ("3 cm", 30)])
def test_metric(text: str, mm: float | None) -> None:
    if mm is None:
        with pytest.raises(UnitError):
            units.parse_length(text)
    else:
        assert units.parse_length(text) == pytest.approx(mm)


@pytest.mark.parametrize(
    "text",
    [
        "5'13\"",
        "nan",
        "nan mm",
        "inf m",
        "4",
        "4 inn",
        "-4 in",
        "",
        "1/0 in",
        "3 1/2",
        "1e3 mm",
        "4 in 3 ft",
        "2.5 1/2 in",
    ],
)
def test_refused(text: str) -> None:
    with pytest.raises(UnitError, match=r"length|unit|negative|inches|zero|decimals"):
        units.parse_length(text, "station S4, rod")


@pytest.mark.parametrize("text", ["0", "0.0", " 00 ", "-0", "0 in"])
def test_zero_needs_no_unit(text: str) -> None:
    # Zero is the same length in every unit; -0.0 would be written "-0" in a table.
    value = units.parse_length(text, signed=True)
    assert (value, math.copysign(1.0, value)) == (0.0, 1.0)
    assert units.parse_reading("0 +- 1/8 in").u_mm == pytest.approx(25.4 / 8 / math.sqrt(3))
    for wrong in ("0/8", "0 0/8", "0.", "0 0", "00.1"):
        with pytest.raises(UnitError):
            units.parse_length(wrong)


def test_refusal_says_where_and_what_to_do() -> None:
    with pytest.raises(UnitError) as caught:
        units.parse_length("5'13\"", "station S4, rod")
    assert "station S4, rod" in str(caught.value)
    assert "6' 1\"" in str(caught.value)


def test_signed_only_when_asked() -> None:
    assert units.parse_length("-1/2 in", signed=True) == pytest.approx(-12.7)


def test_uncertainty_is_rectangular() -> None:
    # JCGM 100:2008, 4.3.7 (from memory): half-width a gives u = a / sqrt(3).
    reading = units.parse_reading("4 3/8 in +- 1/16 in")
    assert reading.mm == pytest.approx(4.375 * 25.4)
    assert reading.u_mm == pytest.approx(25.4 / 16 / math.sqrt(3))
    assert units.parse_reading("4 in").u_mm is None


@pytest.mark.parametrize(
    ("text", "slope"), [("1/4 in/ft", 1 / 48), ("2 %", 0.02), ("1:48", 1 / 48), ("20 mm/m", 0.02)]
)
def test_slopes(text: str, slope: float) -> None:
    assert units.parse_slope(text) == pytest.approx(slope)


def test_areas() -> None:
    assert units.parse_area("12 ft2") == pytest.approx(12 * 304.8**2)
    assert units.parse_area("12 sq ft") == pytest.approx(12 * 304.8**2)
    with pytest.raises(UnitError):
        units.parse_area("12 ft")


def test_factors() -> None:
    # NIST Handbook 44 appendix C, from memory: 1 yd3 = 0.764555 m3, 1 lb/ft3 = 16.0185 kg/m3.
    assert pytest.approx(0.764555, abs=5e-7) == units.M3_PER_YD3
    assert pytest.approx(16.0185, abs=5e-5) == units.KG_M3_PER_LB_FT3
    assert pytest.approx(2.0833, abs=5e-5) == 0.25 * units.PERCENT_PER_IN_PER_FT


@given(st.integers(min_value=0, max_value=16 * 12 * 400))
def test_format_and_parse_round_trip(sixteenths: int) -> None:
    mm = sixteenths * 25.4 / 16
    assert units.parse_length(units.format_length(mm)) == pytest.approx(mm, abs=1e-6)


@pytest.mark.parametrize(
    ("text", "m3"),
    [("1 yd3", 0.764554857984), ("27 ft3", 0.764554857984), ("0.25 cu yd", 0.191138714496), ("0.1 m³", 0.1)],
)
def test_typed_volumes(text: str, m3: float) -> None:
    # 1 yd = 0.9144 m exactly, so 1 yd3 = 0.764554857984 m3.
    assert units.parse_volume(text) == pytest.approx(m3, rel=1e-12)


@pytest.mark.parametrize("text", ["1", "1 yd", "-1 yd3", "1 gal", "nan m3", 3, ""])
def test_not_a_volume(text: str) -> None:
    with pytest.raises(UnitError):
        units.parse_volume(text)


def test_typed_percentages() -> None:
    assert units.parse_percent("8 %") == pytest.approx(0.08)
    assert units.parse_percent(" 12.5%") == pytest.approx(0.125)
    for text in ("8", "-8 %", "0.08", "nan %", 8):
        with pytest.raises(UnitError):
            units.parse_percent(text)  # type: ignore[arg-type]
