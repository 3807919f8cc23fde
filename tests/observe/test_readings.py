"""The table of reading uncertainties: shipped values and refusals."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from analyzer.errors import RuleError
from analyzer.observe.readings import DEFAULT_PATH, load_readings
from analyzer.units import Reading, parse_reading


def test_a_typed_uncertainty_wins_over_the_default() -> None:
    rules = load_readings()
    assert rules.u_mm(Reading(10.0, 0.3, "t"), "rod") == 0.3
    # 1/8 in half-width, rectangular: u = a / sqrt(3), JCGM 100:2008 4.3.7, from memory
    assert rules.u_mm(Reading(10.0, None, "t"), "rod") == pytest.approx(3.175 / math.sqrt(3))
    typed = parse_reading("41 in +- 1/8 in")
    assert rules.u_mm(typed, "rod") == pytest.approx(rules.u_mm(Reading(1.0, None, "t"), "rod"))


def test_every_entry_names_a_source() -> None:
    rules = load_readings()
    assert all(r.source for r in rules.readings.values())
    assert rules.readings["step"].u_mm == pytest.approx(
        1.0 / math.sqrt(3)
    )  # LTPP: nearest 1 mm, read as quoted
    assert rules.straightedge_mm == pytest.approx(3048.0)  # 10 ft exactly
    assert rules.area_u_mm2(1e6) == pytest.approx(1e5)


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ('half_width = "1/8 in"', 'halfwidth = "1/8 in"', "unknown key"),
        ('half_width = "1/8 in"', 'half_width = "1/8 inn"', "unknown unit"),
        ('kind = "height"', 'kind = "rod"', "given twice"),
        ('straightedge = "10 ft"\n', "", "missing"),
        ("relative = 0.10", 'relative = 0.10\nhalf_width = "1 in"', "exactly one"),
        ("[method]", "[methods]", "unknown key"),
    ],
)
def test_a_spoilt_table_is_refused(tmp_path: Path, old: str, new: str, complaint: str) -> None:
    text = DEFAULT_PATH.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "readings.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(RuleError, match=complaint):
        load_readings(path)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="cannot be read"):
        load_readings(tmp_path / "none.toml")
