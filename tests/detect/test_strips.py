"""Paths against skimage.graph.route_through_array on the same costs; reads against map_coordinates."""

import numpy as np
import pytest
from scipy.ndimage import map_coordinates
from skimage.graph import route_through_array

from analyzer.detect.strips import best_paths, read_strip


def test_a_strip_reads_the_nearest_pixels():
    rng = np.random.default_rng(0)
    score = rng.integers(0, 256, (60, 80)).astype(np.uint8)
    line = np.stack([np.full(50, 30.0), np.arange(10.0, 60.0)], axis=1)
    strip = read_strip(score, line, 3)
    offsets = np.arange(-3, 4)
    at_r = 30.0 + offsets[None, :] * np.ones((50, 1))
    expected = map_coordinates(score, [at_r, line[:, 1:2] * np.ones((1, 7))], order=0)
    assert np.array_equal(strip, expected) or np.array_equal(strip[:, ::-1], expected)


def test_a_strip_is_zero_outside():
    line = np.array([[0.0, 0.0], [0.0, 1.0], [0.0, 2.0]])
    assert read_strip(np.full((5, 5), 9, np.uint8), line, 2).min() == 0


@pytest.mark.parametrize("seed", range(5))
def test_best_path_follows_a_bent_ridge_as_route_through_array_does(seed):
    rng = np.random.default_rng(seed)
    score = rng.integers(0, 30, (80, 120)).astype(np.uint8)
    cols = np.arange(20, 101)
    rows = np.rint(40 + 7 * np.sin((cols - 20) / 80 * np.pi) * rng.choice([-1, 1])).astype(int)
    score[rows, cols] = 220
    a, z = (int(rows[0]), 20), (int(rows[-1]), 100)
    ((points, mean),) = best_paths(score, np.array([a], float), np.array([z], float), 200.0)
    route, _ = route_through_array(1.05 - np.minimum(score / 200.0, 1.0), a, z, geometric=False)
    route = np.array(route)
    assert tuple(points[0]) == a
    assert tuple(points[-1]) == z
    away = np.abs(points[:, None] - route[None]).max(2).min(1)
    assert np.mean(away <= 1) > 0.95
    assert mean > 0.9


def test_a_path_along_the_border_stays_inside():
    rng = np.random.default_rng(0)
    score = rng.integers(0, 255, (60, 200)).astype(np.uint8)
    starts = np.array([[0.0, 10.0], [59.0, 20.0]])
    ends = np.array([[1.0, 70.0], [58.0, 90.0]])
    for points, _ in best_paths(score, starts, ends, 250.0):
        assert points.min() >= 0
        assert points[:, 0].max() < 60


def test_an_empty_gap_scores_nothing():
    ((_, mean),) = best_paths(
        np.zeros((40, 60), np.uint8), np.array([[20.0, 5]]), np.array([[20.0, 50]]), 128.0
    )
    assert mean == 0.0
