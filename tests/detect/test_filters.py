"""The plain detector on drawn pictures; recall and false marks beside those of skimage.filters.sato."""

import sys

import cv2
import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt
from skimage.filters import sato

from analyzer.detect.filters import score_filters
from analyzer.terms import DetectMethod


def picture(seed=0, shape=(240, 320), noise=5.0):
    rng = np.random.default_rng(seed)
    return 165 + cv2.GaussianBlur(rng.normal(0, noise, shape), (0, 0), 0.8) * 1.5


def as_rgb(gray):
    return np.repeat(np.clip(gray, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)


def crack_of(seed, width, shape=(240, 320)):
    rng = np.random.default_rng(seed)
    x = np.arange(0, shape[1] + 12, 12)
    y = shape[0] / 2 + np.cumsum(rng.normal(0, 5, len(x)))
    mask = np.zeros(shape, np.uint8)
    cv2.polylines(mask, [np.stack([x, np.rint(y)], 1).astype(np.int32)[:, None]], False, 1, width)
    return mask


def test_the_record_says_that_no_network_was_used():
    maps = score_filters(as_rgb(picture()))
    assert maps.method is DetectMethod.FILTERS
    assert maps.weights_sha256 is None
    assert maps.patch is None
    assert maps.slab is None
    assert maps.crack.shape == maps.joint.shape == (240, 320)


@pytest.mark.parametrize("width", [1, 2, 4, 8, 12])
def test_a_dark_crack_is_found_at_every_width(width):
    truth = crack_of(3, width)
    gray = picture() - 55.0 * cv2.GaussianBlur(truth.astype(np.float32), (0, 0), 0.6)
    maps = score_filters(as_rgb(gray))
    found = np.maximum(maps.crack, maps.joint) >= 128
    to_found = distance_transform_edt(~found)
    assert np.mean(to_found[truth > 0] <= 3) > 0.9
    to_truth = distance_transform_edt(truth == 0)
    assert np.mean(to_truth[found] <= 3 + width / 4) > 0.85


def test_an_edge_of_a_stain_answers_less_than_to_sato():
    gray = picture()
    gray[:, 160:] -= 50.0
    maps = score_filters(as_rgb(gray))
    ours = np.maximum(maps.crack, maps.joint)
    assert np.mean(ours[:, 150:170].max(axis=1) >= 128) < 0.1
    # the reference marks the whole edge when a line of the same depth is its measure
    line = picture()
    line[:, 160:163] -= 50.0
    reach = np.median(sato(line, sigmas=range(1, 5))[:, 161])
    edge = sato(gray, sigmas=range(1, 5))[:, 150:170].max(axis=1)
    assert np.mean(edge >= 0.25 * reach) > 0.5


def test_shading_changes_little():
    truth = crack_of(5, 3)
    gray = picture() - 50.0 * cv2.GaussianBlur(truth.astype(np.float32), (0, 0), 0.6)
    shaded = gray * np.linspace(0.5, 1.1, 320)[None, :]
    a, b = score_filters(as_rgb(gray)).crack >= 128, score_filters(as_rgb(shaded)).crack >= 128
    to_b = distance_transform_edt(~b)
    assert np.mean(to_b[a] <= 3) > 0.85


def test_a_long_straight_line_scores_as_joint():
    gray = picture(shape=(480, 640))
    gray[:, 300:304] -= 50.0
    maps = score_filters(as_rgb(gray))
    column = slice(298, 306)
    assert np.mean(maps.joint[40:-40, column].max(axis=1) > maps.crack[40:-40, column].max(axis=1)) > 0.9


def test_noise_alone_scores_little():
    maps = score_filters(as_rgb(picture(noise=9.0)))
    assert np.mean(np.maximum(maps.crack, maps.joint) >= 128) < 0.01


def test_bands_leave_no_seam():
    rng = np.random.default_rng(1)
    gray = rng.normal(160, 8, (1700, 96))
    one = score_filters(as_rgb(gray), threads=1)
    # the same rows with another border between bands
    other = score_filters(as_rgb(gray[200:]), threads=2)
    a, b = one.crack[500:1600].astype(int), other.crack[300:1400].astype(int)
    assert np.mean(np.abs(a - b) > 16) < 0.02


def test_no_engine_is_loaded():
    assert "analyzer.detect.filters" in sys.modules
    source = sys.modules["analyzer.detect.filters"].__dict__
    assert not any("onnx" in name for name in source)
