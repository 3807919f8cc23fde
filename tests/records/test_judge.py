"""Probability that a limit is exceeded, against scipy's normal distribution."""

from __future__ import annotations

import pytest
from scipy import stats

from analyzer.records import Finding, Limit
from analyzer.records.judge import below_upper_probability, exceed_probability, verdict_of
from analyzer.terms import Checked, Grade, Severity, Verdict


@pytest.mark.parametrize("value", [2.0, 2.9, 3.0, 3.05, 6.0])
@pytest.mark.parametrize("u", [0.01, 0.2, 1.5])
def test_against_scipy(value: float, u: float) -> None:
    above = stats.norm.sf(3.0, loc=value, scale=u)
    assert exceed_probability(value, u, ">", 3.0) == pytest.approx(above, abs=1e-12)
    assert exceed_probability(value, u, ">=", 3.0) == pytest.approx(above, abs=1e-12)
    assert exceed_probability(value, u, "<", 3.0) == pytest.approx(1 - above, abs=1e-12)


def test_exact_values_meet_their_limit() -> None:
    # 2 % as a binary number is not 2 %: a planned 2 % slope must still meet "at least 2 %".
    assert exceed_probability(0.1 + 0.2, 0.0, ">", 0.3) == 0.0
    assert exceed_probability(0.1 + 0.2, 0.0, ">=", 0.3) == 1.0
    assert exceed_probability(100 * 0.02, 0.0, "<", 2.0) == 0.0
    assert exceed_probability(4, 0.0, ">=", 4) == 1.0
    assert exceed_probability(3, 0.0, ">=", 4) == 0.0


@pytest.mark.parametrize("upper", [1.0, 4.0, 12.0])
def test_bounded_value_against_scipy(upper: float) -> None:
    above = stats.uniform.sf(3.0, loc=0, scale=upper)
    assert below_upper_probability(upper, ">=", 3.0) == pytest.approx(above, abs=1e-12)
    assert below_upper_probability(upper, "<", 3.0) == pytest.approx(1 - above, abs=1e-12)


@pytest.mark.parametrize(
    ("probability", "verdict"),
    [
        (None, Verdict.NOT_DETERMINED),
        (0.0, Verdict.WITHIN),
        (0.05, Verdict.WITHIN),
        (0.051, Verdict.NOT_DETERMINED),
        (0.5, Verdict.NOT_DETERMINED),
        (0.949, Verdict.NOT_DETERMINED),
        (0.95, Verdict.EXCEEDS),
        (1.0, Verdict.EXCEEDS),
    ],
)
def test_verdict(probability: float | None, verdict: Verdict) -> None:
    assert verdict_of(probability) is verdict


def test_nonsense_is_refused() -> None:
    for value, u in ((1.0, -1.0), (float("nan"), 1.0), (1.0, float("nan"))):
        with pytest.raises(ValueError):
            exceed_probability(value, u, ">", 0.0)
    with pytest.raises(ValueError):
        exceed_probability(1.0, 1.0, "!=", 0.0)
    with pytest.raises(ValueError):
        below_upper_probability(0.0, ">", 1.0)


def test_a_finding_moved_is_judged_anew() -> None:
    limit = Limit(
        "X", "riser", "riser_height", "in", ">", 7.75, Severity.HIGH, ("stairs",), "s", "e", "1", Checked.READ
    )
    finding = Finding(
        "X@r", "r", limit, 7.0, 0.1, "in", 0.0, Verdict.WITHIN, Grade.MEASURED, True, "Step: 7 in."
    )
    assert finding.moved(8.5).verdict is Verdict.EXCEEDS
    assert finding.moved(7.75).probability == pytest.approx(0.5)
    assert finding.moved(7.80, 0.0).verdict is Verdict.EXCEEDS
    assert finding.moved(7.0) == finding.moved(7.0, 0.1)
