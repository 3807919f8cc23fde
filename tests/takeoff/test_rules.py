"""The takeoff table: values in their sources' units, refusals."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.errors import RuleError
from analyzer.takeoff.rules import DEFAULT_PATH, load_takeoff_rules, read_density, read_volume


def test_values() -> None:
    rules = load_takeoff_rules()
    assert rules.waste == (0.05, 0.075, 0.10)  # NRMCA CIP 8: 4 to 10 % (read as quoted)
    assert rules.density[1] == pytest.approx(2402.77, abs=0.01)  # 150 lb/ft3
    assert rules.crack_edges_mm == (3.0, 6.0, 13.0)  # LTPP manual ch. 2, from memory
    assert rules.step_m3["imperial"] == pytest.approx(0.764555 / 4, rel=1e-6)
    assert set(rules.sources) >= {"waste", "weight", "bulk"}


def test_typed_volumes_and_densities() -> None:
    assert read_volume("1 yd3", "x") == pytest.approx(0.764555, rel=1e-6)
    assert read_density("2400 kg/m3", "x") == 2400.0
    for wrong in ("1", "1 yd", "1/0 yd3", "-1 m3"):
        with pytest.raises(RuleError, match="not a volume"):
            read_volume(wrong, "x")
    with pytest.raises(RuleError, match="not a density"):
        read_density("150", "x")


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("[waste]", "[wastes]", "waste"),
        ("usual = 0.075", "usual = 0.2", "not in order"),
        ("usual = 0.075", "usal = 0.075", "unknown key"),
        ('below = "4 yd3"', 'below = "4"', "not a volume"),
        ('edges = ["3 mm", "6 mm", "13 mm"]', 'edges = ["3", "6 mm"]', "no unit"),
        ('"house", ', '"houses", ', "houses"),
        ("pieces = 4\n", "", "has no pieces"),
        (
            'source = "UFC-SHATTERED: UFC 3-270-05 ch. 14, four or more pieces (read)"',
            'source = " "',
            "no source",
        ),
    ],
)
def test_a_spoilt_table_is_refused(tmp_path: Path, old: str, new: str, complaint: str) -> None:
    text = DEFAULT_PATH.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "takeoff.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(RuleError, match=complaint):
        load_takeoff_rules(path)
