"""Choice of scales and fusion of two looks."""

from __future__ import annotations

import numpy as np
import pytest
from skimage import data

from analyzer.detect.scales import CLASSES, Fusion, choose_scales, detail, fuse, read_fusion
from analyzer.errors import RuleError

STEP, ZERO = 1 / 16, 128


def _fusion(double: tuple[float, float, float, float, float]) -> Fusion:
    return Fusion(dict.fromkeys(CLASSES, (0.0, 1.0)), dict.fromkeys(CLASSES, double), STEP, ZERO)


def _logistic(x: float) -> float:
    return float(1 / (1 + np.exp(-x)))


def test_one_look_gives_the_logistic_of_its_logits() -> None:
    logits = np.broadcast_to(np.arange(256, dtype=np.uint8), (4, 8, 256)).copy()
    crack = fuse([logits], (1.0,), (8, 256), _fusion((0, 1, 0, 0, 0)))[0]
    expected = [255 * _logistic((v - ZERO) * STEP) for v in range(256)]
    np.testing.assert_allclose(crack[0], expected, atol=0.51)


@pytest.mark.parametrize(
    "weights", [(0.0, 1.0, 0.0, 0.0, 0.0), (-0.5, 0.4, 0.4, 0.0, 0.0), (0.3, 0.2, 0.1, 0.6, 0.0)]
)
def test_two_looks_follow_the_formula(weights: tuple[float, float, float, float, float]) -> None:
    fine, coarse = 20, -12  # steps of 1/16 from zero
    levels = [
        np.full((4, 16, 16), ZERO + fine, np.uint8),
        np.full((4, 8, 8), ZERO + coarse, np.uint8),
    ]
    crack = fuse(levels, (1.0, 0.5), (16, 16), _fusion(weights))[0]
    o, wf, wc, wg, wl = weights
    f, c = fine * STEP, coarse * STEP
    expected = 255 * _logistic(o + wf * f + wc * c + wg * max(f, c) + wl * min(f, c))
    assert crack.min() == crack.max()
    assert int(crack[0, 0]) == pytest.approx(expected, abs=6)  # three roundings of 1/16


def test_a_hairline_only_the_fine_look_sees_survives_when_the_greater_counts() -> None:
    fine = np.full((4, 32, 32), ZERO - 80, np.uint8)
    fine[:, 16] = ZERO + 60
    coarse = np.full((4, 16, 16), ZERO - 80, np.uint8)
    greater = fuse([fine, coarse], (1.0, 0.5), (32, 32), _fusion((0, 0, 0, 1, 0)))[0]
    mean = fuse([fine, coarse], (1.0, 0.5), (32, 32), _fusion((0, 0.5, 0.5, 0, 0)))[0]
    assert greater[16, 16] > 200 > 128 > mean[16, 16]


def test_maps_come_at_the_pictures_size() -> None:
    levels = [np.zeros((4, 30, 41), np.uint8), np.zeros((4, 15, 20), np.uint8)]
    for m in fuse(levels, (0.5, 0.25), (61, 83), _fusion((0, 1, 0, 0, 0))):
        assert m.shape == (61, 83)
        assert m.dtype == np.uint8


def test_close_ups_are_reduced_to_the_finest_useful_pixel() -> None:
    rgb = np.zeros((2000, 2000, 3), np.uint8)
    assert choose_scales(rgb, mm_per_px=0.125) == (0.5, 0.25)
    assert choose_scales(rgb, mm_per_px=1.0) == (1.0, 0.5)
    assert choose_scales(rgb[:200], mm_per_px=1.0) == (1.0,)


def test_detail_is_low_for_an_enlarged_photograph() -> None:
    """Photograph: skimage.data.gravel (CC0)."""
    import cv2

    gravel = np.dstack([data.gravel()] * 3).astype(np.uint8)
    enlarged = cv2.resize(gravel, None, fx=4, fy=4, interpolation=cv2.INTER_CUBIC)
    assert detail(enlarged) < 0.1 < detail(gravel)
    assert choose_scales(np.asarray(enlarged, np.uint8))[0] == 0.5


def test_companion_without_fusion_means_plain_probabilities_and_a_wrong_one_is_refused() -> None:
    about = {"logit_step": STEP, "logit_zero": ZERO}
    assert read_fusion(about).single["crack"] == (0.0, 1.0)
    with pytest.raises(RuleError, match="coefficients"):
        read_fusion({**about, "fusion": {"single": {"crack": [1.0]}}})
