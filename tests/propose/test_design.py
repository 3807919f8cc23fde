"""The design table: values in their sources' own units, refusals."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.errors import RuleError
from analyzer.propose.design import DEFAULT_PATH, load_design
from analyzer.units import MM_PER_IN


def test_values_in_their_own_units() -> None:
    rules = load_design()
    # Guide to Concrete Overlay Solutions (2007) p. 4, bonded 2 in (read); IRC R703.7.2.1, 2 in (read)
    assert rules["bonded_min"] == pytest.approx(2 * MM_PER_IN)
    assert rules["weep_min"] == pytest.approx(2 * MM_PER_IN)
    # IRC R311.7.5.1: 7 3/4 in is 196.85 mm, printed as 196 mm (read as quoted): compared in inches
    assert rules["riser_max"] == pytest.approx(196.85)
    assert rules["fall_house"] == pytest.approx(0.02)  # IRC R401.3, 2 % (read as quoted)
    assert rules["landing_slope"] == pytest.approx(0.25 / 12)  # IRC R311.3, 1/4 in per ft (from memory)
    assert rules["cross_slope"] == pytest.approx(1 / 48)  # 2010 ADA 403.3, 1:48 (read as quoted)
    assert rules.written("riser_max") == "7 3/4 in"
    assert all(limit.source for limit in rules.limits.values())


def test_other_values_are_said_to_be_changed() -> None:
    rules = load_design().with_values(sill_min=10.0)
    assert rules["sill_min"] == 10.0
    assert "changed" in rules.source("sill_min")
    with pytest.raises(RuleError, match="unknown id"):
        load_design().with_values(sil_min=1.0)


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ('id = "bonded_min"', 'id = "bonded_least"', "is not known"),
        ('id = "unbonded_min"', 'id = "bonded_min"', "given twice"),
        ('value = "2 in"', 'valu = "2 in"', "unknown key"),
        ('value = "2 in"', 'value = "2 inn"', "unknown unit"),
        ('value = "2 in"', "value = 2", "no unit|not a length"),
        ("value = 2.0", 'value = "two"', "not a number"),
        ('checked = "read"', 'checked = "surely"', "how the source was checked"),
        ('source = "ADA-405-2', 'source = ""\n# "ADA-405-2', "has no source"),
    ],
)
def test_a_spoilt_table_is_refused(tmp_path: Path, old: str, new: str, complaint: str) -> None:
    text = DEFAULT_PATH.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "design.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(RuleError, match=complaint):
        load_design(path)


def test_a_missing_id_is_refused(tmp_path: Path) -> None:
    text = DEFAULT_PATH.read_text(encoding="utf-8")
    start = text.index('[[limit]]\nid = "weep_min"')
    path = tmp_path / "design.toml"
    path.write_text(text[:start] + text[text.index("[[limit]]", start + 5) :], encoding="utf-8")
    with pytest.raises(RuleError, match=r"weep_min.*missing"):
        load_design(path)
