"""Line scores against hand-counted cases and scikit-image's and scipy's own measures."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage
from skimage.draw import line as draw_line

from analyzer.training import line_scores as ls


def _picture(*ends: tuple[int, int, int, int], side: int = 80) -> np.ndarray:
    out = np.zeros((side, side), bool)
    for r0, c0, r1, c1 in ends:
        out[draw_line(r0, c0, r1, c1)] = True
    return out


def test_line_shifted_within_the_tolerance_scores_one_and_beyond_it_zero() -> None:
    true = _picture((40, 10, 40, 70))
    for shift, expected in ((0, 1.0), (3, 1.0), (5, 1.0), (6, 0.0)):
        found = np.roll(true, shift, axis=0)
        assert ls.count(found, true, 5).f1 == expected


def test_half_found_line_has_full_precision_and_half_recall() -> None:
    true = _picture((40, 0, 40, 79))
    found = true.copy()
    found[:, 40:] = False
    c = ls.count(found, true, 0)
    assert (c.precision, c.recall) == (1.0, 0.5)
    assert c.f1 == pytest.approx(2 / 3)


def test_nothing_to_find_and_nothing_found_is_perfect() -> None:
    none = np.zeros((20, 20), bool)
    assert ls.count(none, none, 5).f1 == 1.0
    assert ls.count(~none, none, 5).precision == 0.0


def test_ignored_pixels_count_on_neither_side() -> None:
    true = _picture((40, 0, 40, 79))
    found = _picture((10, 0, 10, 79))
    ignore = np.ones_like(true)
    assert ls.count(found, true, 2, ignore) == ls.Counts(0, 0, 0, 0)


def test_distance_agrees_with_scipy() -> None:
    mask = np.random.default_rng(1).random((60, 70)) > 0.99
    expected = ndimage.distance_transform_edt(~mask)
    np.testing.assert_allclose(ls.distance_to(mask), expected, atol=1e-4)


def test_ods_takes_one_threshold_and_ois_one_for_each_picture() -> None:
    true = _picture((40, 10, 40, 70))
    false = _picture((10, 10, 10, 70))
    bright = np.where(true, 240, np.where(false, 150, 0)).astype(np.uint8)
    dim = np.where(true, 100, np.where(false, 60, 0)).astype(np.uint8)
    sweeps = [ls.sweep(p, true, 0) for p in (bright, dim)]
    at, best = ls.ods(sweeps)
    assert ls.ois(sweeps).f1 == 1.0
    assert ls.THRESHOLDS[at] <= 100  # a higher one would lose the whole of the dim line
    assert best.f1 == pytest.approx(0.8)  # 61 false among 183 found: P 2/3, R 1


@pytest.mark.parametrize(("end", "length"), [((10, 70), 60.0), ((70, 10), 60.0), ((70, 70), 60 * 2**0.5)])
def test_length_of_straight_lines(end: tuple[int, int], length: float) -> None:
    assert ls.line_length_px(_picture((10, 10, *end))) == pytest.approx(length, rel=0.03)


def test_longest_part_is_that_of_one_component() -> None:
    mask = _picture((5, 5, 5, 30), (50, 5, 50, 60))
    assert ls.longest_part_px(mask) == pytest.approx(np.hypot(56, 1))
    assert ls.longest_part_px(np.zeros((9, 9), bool)) == 0.0


def test_share_hit_leaves_out_what_runs_beside_a_crack() -> None:
    seam = _picture((20, 0, 20, 79), (60, 0, 60, 79))
    found = seam.copy()
    crack = _picture((20, 0, 20, 79))
    hit, every = ls.share_hit(seam, found, 3, crack)
    assert every == pytest.approx(80, abs=2)
    assert hit == every


def test_calibration_error_is_zero_for_honest_and_known_for_boastful_scores() -> None:
    rng = np.random.default_rng(3)
    p = rng.random(200_000)
    assert ls.calibration_error(p, rng.random(p.size) < p) < 0.01
    boast = np.full(1000, 0.9)
    truth = np.arange(1000) < 600
    assert ls.calibration_error(boast, truth) == pytest.approx(0.3)
