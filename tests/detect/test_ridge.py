"""Checked against scikit-image: thin, apply_hysteresis_threshold; and scipy's exact distances."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import binary_fill_holes, distance_transform_edt
from skimage.filters import apply_hysteresis_threshold
from skimage.measure import label
from skimage.morphology import thin as thin_by_scikit_image

from analyzer.detect.ridge import fill_holes, half_widths, hysteresis, thin, touching


def blobs(seed: int, sigma: float = 3.0, shape: tuple[int, int] = (160, 211)) -> np.ndarray:
    noise = np.random.default_rng(seed).normal(size=shape)
    return (cv2.GaussianBlur(noise, (0, 0), sigma) > 0.02).astype(np.uint8)


@pytest.mark.parametrize("seed", range(4))
def test_thin_equals_that_of_scikit_image(seed):
    mask = blobs(seed, 1.0 + seed)
    assert np.array_equal(thin(mask).astype(bool), thin_by_scikit_image(mask.astype(bool)))


def test_thin_does_not_change_its_input():
    mask = blobs(7)
    before = mask.copy()
    thin(mask)
    assert np.array_equal(mask, before)


def test_hysteresis_equals_that_of_scikit_image_for_lines_far_apart():
    score = np.zeros((90, 120), np.uint8)
    score[20:24, 10:100] = 90
    score[20:24, 40:60] = 200  # strong part
    score[60:64, 10:100] = 90  # never strong
    expected = apply_hysteresis_threshold(score, 79, 149)
    assert np.array_equal(hysteresis(score, 80, 150).astype(bool), expected)
    assert expected.any()


def test_hysteresis_wants_enough_strong_pixels():
    score = np.full((40, 40), 100, np.uint8)
    score[5, 5:9] = 255
    assert hysteresis(score, 80, 200, least_strong_px=4).all()
    assert not hysteresis(score, 80, 200, least_strong_px=5).any()


def test_touching_keeps_the_components_that_hold_a_seed():
    mask = np.zeros((90, 120), np.uint8)
    for k in range(4):
        mask[10 + 20 * k : 20 + 20 * k, 10:100] = 1
    seeds = np.zeros_like(mask)
    seeds[12, 50] = seeds[55, 70] = 1
    labels = label(mask, connectivity=2)
    expected = np.isin(labels, [labels[12, 50], labels[55, 70]])
    assert np.array_equal(touching(mask, seeds).astype(bool), expected)
    assert not touching(mask, seeds, least_px=2).any()


def test_fill_holes_closes_small_holes_only():
    mask = np.zeros((80, 80), np.uint8)
    mask[10:70, 10:70] = 1
    mask[20:24, 20:24] = 0  # 16 px2
    mask[40:60, 40:60] = 0  # 400 px2
    filled = fill_holes(mask, 40)
    assert filled[20:24, 20:24].all()
    assert not filled[45:55, 45:55].any()
    assert binary_fill_holes(mask).sum() > filled.sum()


def test_half_widths_agree_with_exact_distances_across_bands():
    mask = np.zeros((1300, 90), np.uint8)
    cv2.line(mask, (20, 30), (60, 1270), 1, 11)
    points = np.argwhere(thin(mask))
    exact = distance_transform_edt(mask)[points[:, 0], points[:, 1]] - 0.5
    # the 5 x 5 mask of the chamfer distance is within 2 % of the exact one (Borgefors 1986, from memory)
    assert half_widths(mask, points) == pytest.approx(np.maximum(exact, 0.5), rel=0.03, abs=0.02)


def test_an_empty_map_has_no_ridge():
    nothing = np.zeros((50, 60), np.uint8)
    assert not thin(fill_holes(hysteresis(nothing, 10, 20), 30)).any()
    assert half_widths(nothing, np.zeros((0, 2), np.int64)).shape == (0,)
