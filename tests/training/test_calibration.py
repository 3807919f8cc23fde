"""The logistic fit against drawn and hand-worked cases, and the writing of the companion file."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from analyzer.detect.network import WEIGHTS, load_weights
from analyzer.detect.scales import CLASSES, PLANS
from analyzer.training import calibration as cal


def _drawn(offset: float, slope: float, count: int = 40_000) -> cal.Sample:
    rng = np.random.default_rng(6)
    logit = rng.normal(-1, 3, count)
    truth = rng.random(count) < 1 / (1 + np.exp(-(offset + slope * logit)))
    return cal.Sample(logit, truth, np.ones(count))


@pytest.mark.parametrize(("offset", "slope"), [(0.0, 1.0), (-0.8, 0.6), (0.5, 1.4)])
def test_known_logistic_is_found_again(offset: float, slope: float) -> None:
    s = _drawn(offset, slope)
    found = cal.fit_logistic(s.logit, s.truth, s.weight)
    assert found == pytest.approx((offset, slope), abs=0.06)


def test_weights_count_like_repeated_pixels() -> None:
    """Textbook case: all logits 0, so the offset is the log odds of the weighted share."""
    truth = np.array([True, False])
    offset, _ = cal.fit_logistic(np.zeros(2), truth, np.array([3.0, 1.0]))
    assert offset == pytest.approx(np.log(3), abs=1e-3)


def test_picked_pixels_stand_for_all() -> None:
    rng = np.random.default_rng(2)
    logit = np.full((100, 100), -9.0)
    truth = np.zeros((100, 100), bool)
    truth[40:43] = True
    logit[truth] = 2.0
    parts = [cal.pick(rng, logit, truth, np.ones_like(truth)) for _ in range(20)]
    s = cal.Sample.joined(parts)
    share = (s.weight * s.truth).sum() / s.weight.sum()
    assert share == pytest.approx(0.03, rel=0.1)
    assert s.truth.mean() > 0.2  # lines are drawn far more often than they occur
    assert len(cal.pick(rng, logit, truth, np.zeros_like(truth)).logit) == 0


def test_fit_gives_each_class_a_pair_and_errors_near_zero_for_honest_samples() -> None:
    samples = [dict.fromkeys(CLASSES, _drawn(-0.5, 0.8, 20_000)) for _ in range(4)]
    table, errors = cal.fit(samples, [])
    for name in CLASSES:
        assert table[name] == pytest.approx([-0.5, 0.8], abs=0.08)
        assert max(errors[name]) < 0.03


def test_photographs_pull_only_the_crack_class() -> None:
    samples = [dict.fromkeys(CLASSES, _drawn(0.0, 1.0, 20_000)) for _ in range(2)]
    table, _ = cal.fit(samples, [_drawn(-3.0, 1.0, 20_000)])
    assert table["crack"][0] < -0.2 < table["joint"][0]


@pytest.mark.slow
def test_companion_file_is_written_for_both_plans(tmp_path: Path) -> None:
    for suffix in (".onnx", ".json"):
        shutil.copy(WEIGHTS.with_suffix(suffix), tmp_path)
    cal.calibrate(tmp_path, None, 2)
    about = json.loads((tmp_path / "slab_lines.json").read_text())
    assert set(about["calibration"]) == set(PLANS)
    assert about["sha256"] == json.loads(WEIGHTS.with_suffix(".json").read_text())["sha256"]
    slopes = load_weights(1, tmp_path / "slab_lines.onnx").fusion.slope
    assert slopes["native"]["crack"] == about["calibration"]["native"]["crack"][1]
